package barwise

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"barwise/finding"
	"barwise/plan/place"
	"barwise/plan/reach"
	"barwise/report"
	"barwise/shop/bar"
	"barwise/shop/cutter"
	"barwise/unit"
)

// advised is a change with what it is worth, in mm² of surface or its like.
type advised struct {
	report.Change
	worth float64
}

// First of all comes what cannot be cut round.
const beforeAll = 1e9

// changes lists what to change and what it would gain, most gain first.
func (r *run) changes(s *report.Survey, fits []place.Fit, trials []trial) []report.Change {
	var all []advised
	all = append(all, r.adviseMesh()...)
	all = append(all, r.adviseTrials(trials)...)
	all = append(all, r.advisePose(s.Poses)...)
	all = append(all, r.adviseFacets(s.Facets)...)
	all = append(all, r.adviseThickness()...)
	all = append(all, r.adviseBar(fits)...)
	slices.SortStableFunc(all, func(a, b advised) int { return cmp.Compare(b.worth, a.worth) })
	out := []report.Change{}
	for _, a := range all {
		out = append(out, a.Change)
	}
	return out
}

func count(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// adviseTrials are the changes that were reckoned through.
func (r *run) adviseTrials(trials []trial) []advised {
	var out []advised
	for _, t := range trials {
		base := r.seen.left
		area, volume := missed(base)-missed(t.left), r.beyond(base)-r.beyond(t.left)
		if area < worthTrying && volume < worthTrying {
			continue
		}
		out = append(out, advised{report.Change{Code: "cutter", What: t.what, Gain: fmt.Sprintf("frees %.3g mm² and %.3g mm³", max(area, 0), max(volume, 0)),
			Now: r.tellStays(base), Then: r.tellStays(t.left), Job: t.job}, max(area, volume)})
	}
	if !slices.ContainsFunc(out, func(a advised) bool { return a.Code == "cutter" }) {
		out = append(out, r.adviseNeck()...)
	}
	return out
}

// longestNeck is the longest neck that is made, in cutting diameters (common practice, no source).
const longestNeck = 15

// pastNeck is how far beyond its neck a cutter is mounted (common practice, no source).
const pastNeck = 5 // mm

// adviseNeck asks for a longer neck where only the shank is in the way, and such a neck is made.
func (r *run) adviseNeck() []advised {
	l := r.seen.left
	if l == nil || l.Area[reach.Held] < worthTrying {
		return nil
	}
	need, cut := 0.0, 0
	for _, q := range l.By {
		c := r.seen.params.Cuts[q.Cut].Cutter
		if q.Reach > max(need, c.LU) && q.Reach <= longestNeck*c.DC() {
			need, cut = q.Reach, q.Cut
		}
	}
	if need == 0 {
		return nil
	}
	need = math.Ceil(need*2) / 2
	rough, finish := r.cutters()
	line, of := "", cutterWords(r.seen.params.Cuts[cut].Cutter)
	longer := func(c *cutter.Cutter) { c.LU, c.StickOut = need, max(c.StickOut, need+pastNeck) }
	if n := len(rough); cut < n {
		longer(&rough[cut])
		line = r.roughLine(rough)
	} else {
		longer(&finish[cut-n])
		line = r.finishLine(finish)
	}
	if c := r.seen.params.Cuts[cut].Cutter; c.OAL > 0 && need+pastNeck > c.OAL-mostHeld*c.DMM {
		line = "" // no cutter as long as that one
	}
	return []advised{{report.Change{Code: "neck", What: fmt.Sprintf("take %s with a neck of at least %g mm", of, need), Gain: fmt.Sprintf("frees up to %.3g mm² that only the shank keeps it from", l.Area[reach.Held]),
		Now: r.tellStays(l), Then: "not reckoned", Job: line}, l.Area[reach.Held]}}
}

func (r *run) tellStays(l *reach.Prediction) string {
	return fmt.Sprintf("%.3g mm² not reached, %.3g mm³ stay", missed(l), r.beyond(l))
}

// advisePose compares the way the model lies with the best that was found, and numbers of sides.
func (r *run) advisePose(p *report.Poses) []advised {
	var now report.PoseFacts
	switch {
	case p == nil:
		return nil
	case p.Chosen >= 0:
		now = p.Best[p.Chosen]
	case p.Given != nil:
		now = *p.Given
	default:
		return nil
	}
	var out []advised
	tell := func(q report.PoseFacts) string {
		return fmt.Sprintf("%.3g mm² not reached, %.3g mm² steep, %s", q.NotTouch, q.Steep, report.About(q.Seconds))
	}
	if p.Chosen < 0 && len(p.Best) > 0 {
		if b := p.Best[0]; b.Score < now.Score-0.5 {
			out = append(out, advised{report.Change{Code: "lie", What: "lay it otherwise: " + b.Words, Gain: poseGain(now, b),
				Now: tell(now), Then: tell(b), Job: b.Job}, max(now.NotTouch-b.NotTouch, now.Score-b.Score)})
		}
	}
	taken := 0
	for i, c := range p.Compare {
		gain := now.NotTouch - c.NotTouch
		if gain < max(worthTrying, 0.002*r.area()) || taken == 2 || len(c.Sides) == len(now.Sides) && !c.End {
			continue
		}
		taken++
		out = append(out, advised{report.Change{Code: "sides", What: "cut it from " + c.Name, Gain: fmt.Sprintf("%.3g mm² more within reach", gain), Now: tell(now), Then: tell(c), Job: r.sidesLine(r.found.Compare[i])}, gain / 2})
	}
	return out
}

// poseGain is what one way to lie has over another, the weightiest of it.
func poseGain(now, then report.PoseFacts) string {
	switch {
	case now.NotTouch-then.NotTouch >= worthTrying:
		return fmt.Sprintf("%.3g mm² more within reach", now.NotTouch-then.NotTouch)
	case now.Steep-then.Steep >= 10*worthTrying:
		return fmt.Sprintf("%.3g mm² less that is steep", now.Steep-then.Steep)
	case now.StickOut-then.StickOut >= 1:
		return fmt.Sprintf("%.3g mm less stick-out", now.StickOut-then.StickOut)
	case now.Seconds-then.Seconds >= 60:
		return report.About(now.Seconds-then.Seconds) + " less"
	}
	return "a smaller bar, or a better hold"
}

// facetsMatter is the part of the surface from which facets that show are worth a word.
const facetsMatter = 0.01

// moreTriangles says how many are needed. Where it is hardly more than there are, they lie in the wrong
// places.
func moreTriangles(f *report.Facets) string {
	switch {
	case f.Times < 1.2:
		return "a few more triangles where it bends most"
	case f.Times < 9.5:
		return fmt.Sprintf("about %.2g times the triangles", f.Times)
	}
	return fmt.Sprintf("about %.0f times the triangles", f.Times)
}

func (r *run) adviseFacets(f *report.Facets) []advised {
	if f == nil || f.Share < facetsMatter || r.job.Refine != nil {
		return nil
	}
	return []advised{{report.Change{Code: "refine", What: "export the model finer, or have it refined", Gain: "facets no longer show",
		Now: fmt.Sprintf("facets show on %.0f %% of the surface", 100*f.Share), Then: moreTriangles(f), Job: "refine: {}"}, f.Share * r.area() / 4}}
}

func (r *run) adviseThickness() []advised {
	f := r.seen.frail
	if f.Below <= 0 || f.Least <= 0 || f.Least >= f.Limit.Value {
		return nil
	}
	k := f.Limit.Value / f.Least
	what := "make the thin places thicker in the model"
	job := ""
	if k < 2 {
		what = fmt.Sprintf("make it %.2f times as large, or its thin places thicker", math.Ceil(k*100)/100)
		if r.hasRoom(k) {
			job = r.layLine(givenPose(r.job.Lay), k)
		} else {
			what += "; so large it needs a larger bar"
		}
	}
	return []advised{{report.Change{Code: "thin", What: what, Gain: "walls that bear the cutter", Now: fmt.Sprintf("%s mm at the thinnest, %.3g mm² under %.3g mm", unit.Number(f.Least, 3), f.Below, f.Limit.Value),
		Then: fmt.Sprintf("nothing under %.3g mm", f.Limit.Value), Job: job}, f.Below}}
}

// hasRoom reports whether the bar holds the model k times as large as it lies.
func (r *run) hasRoom(k float64) bool {
	p, j := r.placed, r.job
	if r.loose || j.Lay.Fit || len(p.Clear) == 0 {
		return false
	}
	m := p.Box
	grows := (k - 1) * max(m.Max.X, -m.Min.X, m.Max.Z, -m.Min.Z)
	return grows <= p.LeastClear-j.Lay.Margin && k*(p.Y1-p.Y0) <= j.Bar.Length-j.Lay.End-j.StubY()-j.Lay.Gap
}

// adviseBar is about a bar that is larger than it has to be.
func (r *run) adviseBar(fits []place.Fit) []advised {
	b := r.job.Bar
	whole := float64(b.Area() * b.Length)
	for _, f := range fits {
		if f.Standard.Shape != b.Shape || f.Standard.System != r.job.Units || f.Volume > 0.8*whole {
			continue
		}
		return []advised{{report.Change{Code: "bar", What: fmt.Sprintf("take a bar of %s %s, %.4g mm long", f.Standard.Name, f.Standard.Shape, f.Length.Total), Gain: fmt.Sprintf("%.3g cm³ less to cut away", (whole-f.Volume)/1000),
			Now: barText(b), Then: fmt.Sprintf("%s %s, %.4g mm long", f.Standard.Name, f.Standard.Shape, f.Length.Total)}, 0.01}}
	}
	return nil
}

func barChoice(f place.Fit, now bar.Bar) report.BarChoice {
	s := f.Standard
	c := report.BarChoice{Shape: string(s.Shape), Title: s.Name + " " + string(s.Shape), Unit: s.System.String(), Width: round(s.Width, 4), Height: round(s.Height, 4), Length: round(f.Length.Total, 3),
		Clearance: round(f.LeastClear, 3), Volume: round(f.Volume, 1), TurnDeg: round(f.Params.TurnDeg, 3), Source: s.Source, Chosen: sameSection(f.Params.Bar, now)}
	if f.Next != nil {
		c.Lacks = fmt.Sprintf("%s lacks %.3g mm", f.Next.Name, f.Lacks)
	}
	return c
}

// Limits between the answers, our own judgement: the part of the surface that may stay, be thin or show
// facets before something should be changed first.
const mayMiss = 0.005

// worth answers whether the model is worth cutting.
func (r *run) worth(s *report.Survey) report.Verdict {
	if w, ok := finding.Worst(s.Findings); ok && w == finding.Blocking {
		return report.NotAsItIs
	}
	missing := 0.0
	if s.Reach != nil {
		missing = portion(missed(r.seen.left), s.Reach.Judged)
	}
	switch {
	case missing > mayMiss, s.Thickness != nil && s.Thickness.Share > mayMiss, s.Facets != nil && s.Facets.Share > 10*mayMiss:
		return report.ChangeFirst
	}
	return report.WorthCutting
}

// first are the most important things, most important first.
func (r *run) first(s *report.Survey) []string {
	out := []string{}
	for _, f := range s.Findings {
		if f.Severity == finding.Blocking && len(out) < 3 {
			t := f.Text
			if f.Where != "" {
				t = f.Where + ": " + t
			}
			out = append(out, t)
		}
	}
	if s.Reach != nil {
		out = append(out, r.reachWords(s.Reach))
	}
	if s.Facets != nil {
		out = append(out, s.Facets.Verdict)
	}
	out = append(out, thinWords(s.Thickness))
	if n := len(s.Slender); n > 0 {
		q := s.Slender[0]
		out = append(out, fmt.Sprintf("%s more than the tolerance, the worst by %.3g µm at its tip under %.3g N", count(n, "one part bends", "parts bend"), q.Bends, q.Force))
	}
	return out
}

func (r *run) reachWords(f *report.Reach) string {
	m := missed(r.seen.left)
	if m < 0.005 {
		return fmt.Sprintf("the cutters reach all of the %.0f mm² that are judged", f.Judged)
	}
	if m < worthTrying {
		return fmt.Sprintf("the cutters reach all but %.2g mm² of %.0f mm²", m, f.Judged)
	}
	worst, area := "", 0.0
	for _, w := range whys {
		if a := r.seen.left.Area[w.class]; a > area {
			worst, area = w.words, a
		}
	}
	stock := ""
	if f.LeftMM3 >= 0.05 {
		stock = fmt.Sprintf(", and %.3g mm³ on them", f.LeftMM3)
	}
	return fmt.Sprintf("%.3g mm² (%.2g %%) of the surface stay uncut%s; most of it: %s", m, 100*m/max(f.Judged, 1e-9), stock, worst)
}

func thinWords(t *report.Thickness) string {
	if t == nil || t.Below <= 0 {
		return "no wall is too thin for the material"
	}
	return fmt.Sprintf("%.3g mm² are thinner than %.3g mm, the least %.3g mm", t.Below, t.Limit, t.Least)
}
