package barwise

import (
	"fmt"
	"math"
	"path/filepath"
	"strings"

	"barwise/finding"
	"barwise/proof"
	"barwise/report"
	"barwise/shop/bar"
	"barwise/shop/cutter"
	"barwise/shop/machine"
)

// facts gathers what the report says.
func (r *run) facts(progs []replayed, res *proof.Result) *report.Facts {
	j := r.job
	f := &report.Facts{
		Title: title(j.Name), Job: fileName(j.File),
		Gouge:           report.Bounded{Max: round(res.Gouge.MaxUM, 3), Bound: ceil(res.Gouge.BoundUM, 3), Where: where(res.Gouge.Where)},
		AreaInTolerance: math.Floor(res.AreaInTolerance*1e6) / 1e6,
		Moves:           res.Moves,
		Model:           r.modelFacts(), Bar: r.barFacts(res),
		Machine:  report.Machine{ID: j.Machine.ID, Title: j.Machine.Title},
		Material: report.Material{ID: j.Material.ID, Title: j.Material.Title, MassG: round(j.Bar.Area()*j.Bar.Length*j.Material.Density.Value/1000, 1), Density: density(j.Material.Density.Value, j.Material.Density.Estimate)},
		Tolerance: report.Tolerances{
			Surface: um(j.Tolerance), Gouge: um(gougeTolerance(j)), Path: um(j.PathTolerance),
		},
		Basis: report.Basis{Moves: res.Moves, Samples: int(res.Samples), PitchMM: res.Pitch, SpacingMM: res.Spacing},
		Area:  report.Areas{Judged: round(res.Area.Judged, 2), Unreachable: round(res.Area.Unreachable, 3), Excluded: round(res.Area.Excluded, 2)},
	}
	for _, c := range j.Finish {
		f.Tolerance.Cusp = um(c.Cusp)
	}
	f.Leftover = report.Spread{
		P50: round(res.Leftover.P50UM, 3), P99: round(res.Leftover.P99UM, 3), Max: round(res.Leftover.MaxUM, 3), Bound: ceil(res.Leftover.BoundUM, 3),
		Where: point(res.Leftover.Where.X, res.Leftover.Where.Y, res.Leftover.Where.Z),
	}
	f.Findings = append(append([]finding.Finding{}, r.findings...), res.Findings...)
	finding.Sort(f.Findings)
	f.Verdict = verdict(f.Findings)
	if r.seen != nil && r.seen.left != nil && r.stays != nil {
		f.Stays = &report.Stays{Off: round(r.stays.Off[0], 3), Predicted: round(r.beyond(r.seen.left), 3), Proved: round(r.stays.Volume[0], 3)}
	}
	f.Survey, f.Choice = r.surveyVerdict, r.choice
	r.programFacts(f, progs, res)
	for _, c := range j.Material.AllCautions() {
		f.Cautions = append(f.Cautions, report.Caution{Text: c.Text, Source: c.Source})
	}
	for _, d := range j.Defaults {
		f.Defaults = append(f.Defaults, report.Default{Key: d.Path, Value: d.Value, Why: d.Why})
	}
	return f
}

// verdict counts every finding of the run, the planner's and the survey's too.
func verdict(fs []finding.Finding) string {
	worst, _ := finding.Worst(fs)
	return string([...]proof.Verdict{proof.Proven, proof.ProvenWithWarnings, proof.NotProven}[worst])
}

func (r *run) programFacts(f *report.Facts, progs []replayed, res *proof.Result) {
	t := &f.Time
	t.ByProgram = map[string]float64{}
	seen := map[string]bool{}
	for i, p := range progs {
		pf := report.Program{
			File: p.Name, Title: p.Title, SideDeg: p.SideDeg, Cutter: p.Text.Cutter, Lines: p.Lines, Moves: len(p.Moves),
			Seconds: round(p.time.Total(), 2), FeedAsked: feedAsked(p), SpindleRPM: p.SpindleRPM,
		}
		pf.FeedHeld = round(pf.FeedAsked*p.time.FeedRatio(), 1)
		if n := float64(p.cutter.Edges) * p.SpindleRPM; n > 0 {
			pf.ChipLoad = round(pf.FeedAsked/n, 5)
		}
		g := res.Programs[i]
		cut, air := r.way(i, g)
		pf.CutLength, pf.AirLength, pf.FullWidth = round(cut, 1), round(air, 1), round(g.FullLength, 1)
		pf.MaxDepth, pf.Clearance = round(g.MaxDepth, 3), finite(g.MinClearance)
		if i < len(r.cuts) {
			pf.Stepover, pf.StepoverMin, pf.Stepdown = round(r.cuts[i].stepover, 4), round(r.cuts[i].finest, 4), round(r.cuts[i].stepdown, 4)
		}
		f.Programs = append(f.Programs, pf)
		f.Basis.Lines += p.Lines
		f.CutLength += cut + air
		t.Cutting += p.time.Cutting
		t.Travel += p.time.Travel + p.time.Dwell + p.time.Spindle
		t.ByProgram[p.Name] = pf.Seconds
		if !seen[p.Text.Cutter] {
			seen[p.Text.Cutter] = true
			f.Cutters = append(f.Cutters, cutterFacts(p.cutter, p.Tool))
		}
	}
	f.Order, f.Shares = r.orderFacts(progs), r.shareFacts()
	f.Roughing, f.Finishing = r.roughingFacts(progs), r.finishingFacts(progs, res)
	t.Handling = f.Order.Handling
	t.Cutting, t.Travel, t.Handling = round(t.Cutting, 1), round(t.Travel, 1), round(t.Handling, 1)
	t.Total = round(t.Cutting+t.Travel+t.Handling, 1)
	f.CutLength = round(f.CutLength, 1)
}

// feedAsked is the feed most of the program's length is cut at, mm/min.
func feedAsked(p replayed) float64 {
	byFeed := map[float64]float64{}
	best := 0.0
	at := p.Start
	for _, m := range p.Moves {
		if m.Feed > 0 {
			byFeed[m.Feed] += m.To.Sub(at).Len()
			if l := byFeed[m.Feed]; l > byFeed[best] || l == byFeed[best] && m.Feed > best {
				best = m.Feed
			}
		}
		at = m.To
	}
	return round(best*60, 2)
}

func cutterFacts(c cutter.Cutter, tool int) report.Cutter {
	out := report.Cutter{ID: c.ID, Number: tool, Title: c.Title, DC: c.DC(), LCF: c.LCF, DMM: c.DMM, StickOut: c.StickOut}
	for i := range 33 {
		r := c.R * float64(i) / 32
		out.Outline = append(out.Outline, [2]float64{r, c.Height(r)})
	}
	r := c.R
	for _, k := range c.Collars() {
		out.Outline = append(out.Outline, [2]float64{r, k.Z}, [2]float64{k.R, k.Z})
		r = k.R
	}
	top := c.StickOut + 6
	if n := len(c.Holder); n > 0 {
		top = c.StickOut + c.Holder[n-1].Z + 8
	}
	out.Outline = append(out.Outline, [2]float64{r, top})
	return out
}

func (r *run) modelFacts() report.Model {
	p, h := r.placed, r.look.Health
	s := p.Box.Size()
	k := p.Scale / r.look.UnitMM // Health is in mm before the job's own scale
	m := report.Model{
		File: fileName(r.job.Model), Triangles: p.ModelTriangles, Closed: r.look.Closed(), Shells: len(h.Shells),
		Size: [3]float64{round(s.X, 3), round(s.Y, 3), round(s.Z, 3)}, Scale: round(k, 6),
		AreaMM2: round(h.Area*k*k, 2), VolumeMM3: round(h.Volume*k*k*k, 2),
		Y0: round(p.Y0, 3), Y1: round(p.Y1, 3), Clearance: round(p.LeastClear, 3),
	}
	if p.Spigot != nil {
		m.Spigot = 2 * p.Spigot.Radius
	}
	return m
}

func (r *run) barFacts(res *proof.Result) report.Bar {
	j := r.job
	whole := float64(j.Bar.Area() * j.Bar.Length)
	left := res.Stack.Volume()
	out := report.Bar{
		Text: barText(j.Bar), Shape: string(j.Bar.Shape), Width: j.Bar.Width, Height: j.Bar.Height, Length: j.Bar.Length, Grip: j.Bar.Grip,
		Stub: round(r.placed.StubY, 3), Sides: j.Sides, JawTop: round(j.JawTop(0), 3),
		Zero: "on the bar's axis (X0 Z0) and at the stop (Y0)", Along: strings.ToUpper(string(j.Hold.BarAlong)) + " axis",
		Volume: round(whole, 1), Left: round(left, 1), Removed: round(whole-left, 1),
	}
	if j.Hold.Zero == "top" {
		out.Zero = "on the bar's axis (X0), at the stop (Y0), on the top face (Z0)"
	}
	if j.Hold.BarAlong == machine.AlongX {
		out.Zero = strings.NewReplacer("X0", "Y0", "Y0", "X0").Replace(out.Zero)
	}
	return out
}

func barText(b bar.Bar) string {
	size := fmt.Sprintf("%g mm square", b.Width)
	switch b.Shape {
	case bar.Rect:
		size = fmt.Sprintf("%g × %g mm rectangular", b.Width, b.Height)
	case bar.Hex:
		size = fmt.Sprintf("%g mm hexagonal", b.Width)
	case bar.Round:
		size = fmt.Sprintf("Ø%g mm round in a %s block", b.Width, b.Block)
	}
	return fmt.Sprintf("%s bar, %g mm long, held over %g mm", size, round(b.Length, 3), round(b.Grip, 3))
}

func title(name string) string {
	s := strings.NewReplacer("-", " ", "_", " ").Replace(name)
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

func where(p proof.Place) string {
	if p.Program == "" {
		return ""
	}
	return fmt.Sprintf("%s line %d, at %s", p.Program, p.Line, point(p.Point.X, p.Point.Y, p.Point.Z))
}

func point(x, y, z float64) string { return fmt.Sprintf("X%.3f Y%.3f Z%.3f of the part", x, y, z) }

func density(v float64, estimate bool) string {
	s := fmt.Sprintf("%.2f g/cm³", v)
	if estimate {
		s += " (an estimate)"
	}
	return s
}

func fileName(p string) string { return filepath.Base(p) }

func um(mm float64) float64 { return round(mm*1000, 4) }

func round(v float64, digits int) float64 {
	k := math.Pow(10, float64(digits))
	if r := math.Round(v*k) / k; !math.IsInf(r, 0) && !math.IsNaN(r) {
		return r
	}
	return v
}

// ceil rounds a bound up, so that it stays one.
func ceil(v float64, digits int) float64 {
	k := math.Pow(10, float64(digits))
	return math.Ceil(float64(v*k)-1e-9) / k
}

// finite keeps JSON sound: a clearance from nothing is left at 0.
func finite(v float64) float64 {
	if math.IsInf(v, 0) || math.IsNaN(v) {
		return 0
	}
	return round(v, 3)
}
