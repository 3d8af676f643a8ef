package barwise

import (
	"fmt"
	"math"
	"slices"

	"barwise/finding"
	"barwise/geom"
	"barwise/plan/facet"
	"barwise/plan/place"
	"barwise/plan/pose"
	"barwise/plan/reach"
	"barwise/plan/survey"
	"barwise/report"
	"barwise/shop/bar"
	"barwise/unit"
)

// surveyFacts gathers what the survey page says.
func (r *run) surveyFacts(fits []place.Fit, trials []trial) *report.Survey {
	s := &report.Survey{Title: title(r.job.Name), Model: r.surveyModel(), Holes: r.holeFacts(), Crossings: r.crossingFacts(), Mends: r.mendFacts()}
	s.Facets = r.facetFacts(r.seen.facets)
	if r.seen.before != nil {
		s.Facets.Before = r.facetFacts(r.seen.before)
	}
	s.Thickness, s.Slender = r.thicknessFacts(), r.slenderFacts()
	if r.seen.left != nil {
		s.Reach = r.reachFacts()
	}
	s.Poses = r.poseFacts()
	s.Bars = r.barChoices(fits)
	s.Spigot = r.spigotFacts()
	s.Findings = append(append(append([]finding.Finding{}, r.findings...), r.seen.facets.Findings...), r.seen.frail.Findings...)
	finding.Sort(s.Findings)
	s.Changes = r.changes(s, fits, trials)
	s.Verdict = r.worth(s)
	s.First = r.first(s)
	return s
}

// bareFacts are what can be said of a mesh that is no body.
func (r *run) bareFacts() *report.Survey {
	h := r.look.Health
	size := h.Box.Size()
	s := &report.Survey{Title: title(r.job.Name), Verdict: report.NotAsItIs, First: []string{}, Holes: []report.Hole{}, Changes: []report.Change{}, Findings: append([]finding.Finding{}, r.findings...),
		Model: report.SurveyModel{File: fileName(r.job.Model), Format: r.look.Format, Unit: r.look.Unit, UnitFrom: unitFrom(r.look.UnitFrom), UnitMM: r.look.UnitMM,
			Triangles: h.Triangles, Vertices: h.Vertices, Closed: h.Closed, Shells: len(h.Shells), Genus: -1, Scale: 1, ReadSize: xyz(size), Size: xyz(size), AreaMM2: round(h.Area, 2)}}
	finding.Sort(s.Findings)
	for _, f := range s.Findings {
		if f.Severity == finding.Blocking {
			s.First = append(s.First, f.Text)
		}
	}
	return s
}

func (r *run) surveyModel() report.SurveyModel {
	h, p := r.look.Health, r.placed
	k := p.Scale / r.look.UnitMM
	read, laid := h.Box.Size(), p.Box.Size()
	m := report.SurveyModel{
		File: fileName(r.job.Model), Format: r.look.Format, Unit: r.look.Unit, UnitFrom: unitFrom(r.look.UnitFrom), UnitMM: r.look.UnitMM,
		Triangles: p.ModelTriangles, Vertices: h.Vertices, MeanEdge: round(h.MeanEdge*k, 4), Closed: h.Closed, Shells: len(h.Shells), Genus: -1,
		ReadSize: [3]float64{round(read.X, 3), round(read.Y, 3), round(read.Z, 3)}, Size: [3]float64{round(laid.X, 3), round(laid.Y, 3), round(laid.Z, 3)},
		Scale: round(k, 6), AreaMM2: round(h.Area*k*k, 2), VolumeMM3: round(h.Volume*k*k*k, 2),
	}
	if r.coarse != nil {
		m.Vertices, m.MeanEdge = 0, 0 // those looked at were refined since
	}
	if h.Closed {
		m.Genus = 0
	}
	for _, q := range h.Shells {
		if q.Inside >= 0 {
			m.Inside++
		}
		if h.Closed {
			m.Genus += q.Genus()
		}
	}
	return m
}

// area is the model's as it lies, mm².
func (r *run) area() float64 {
	k := r.placed.Scale / r.look.UnitMM
	return r.look.Health.Area * k * k
}

func unitFrom(s string) string {
	return map[string]string{"given": "as given", "file": "from the file", "guess": "a guess by size"}[s]
}

func placeText(p geom.Vec3) string {
	return fmt.Sprintf("(%s, %s, %s) mm", unit.Number(p.X, 3), unit.Number(p.Y, 3), unit.Number(p.Z, 3))
}

func xyz(p geom.Vec3) [3]float64 { return [3]float64{round(p.X, 3), round(p.Y, 3), round(p.Z, 3)} }

// holeFacts are the holes as the mesh was read, those that mending closed marked so.
func (r *run) holeFacts() []report.Hole {
	out := []report.Hole{}
	add := func(hs []survey.Hole, filled bool) {
		for _, h := range hs {
			k := r.placed.Scale / r.look.UnitMM
			out = append(out, report.Hole{At: xyz(r.toPart(h.At)), Across: round(h.Across*k, 3), Length: round(h.Length*k, 3), Edges: h.Edges,
				Flat: h.Flat <= flatHole*h.Across, OffMM: round(h.Flat*k, 4), Filled: filled})
		}
	}
	add(r.look.Holes, false)
	add(r.filledHoles(), true)
	return out
}

// filledHoles are the holes that were there before mending and are no more.
func (r *run) filledHoles() []survey.Hole {
	if r.unmended == nil {
		return nil
	}
	var out []survey.Hole
	for _, h := range r.unmended.Holes {
		if !slices.ContainsFunc(r.look.Holes, func(o survey.Hole) bool { return o.At.Sub(h.At).Len() < 1e-3*h.Length }) {
			out = append(out, h)
		}
	}
	return out
}

// flatHole is the part of its width by which a hole that counts as flat may leave a plane.
const flatHole = 0.01

func (r *run) crossingFacts() *report.Crossings {
	c := r.look.Cross
	if c == nil || c.Through+c.Over == 0 {
		return nil
	}
	out := &report.Crossings{Pairs: c.Through + c.Over, Spots: []report.CrossingSpot{}}
	k := r.placed.Scale / r.look.UnitMM
	for _, q := range r.look.Crossings {
		size := q.Box.Size().Mul(k)
		out.Spots = append(out.Spots, report.CrossingSpot{At: xyz(r.toPart(q.At)), Size: xyz(size), Pairs: q.Pairs})
		if len(out.Spots) == mostMarks {
			break
		}
	}
	return out
}

// mostMarks is how many places of one kind are numbered on a map.
const mostMarks = 12

func (r *run) mendFacts() []report.MendChange {
	if r.mended == nil {
		return nil
	}
	var out []report.MendChange
	for _, c := range r.mended.Changes {
		out = append(out, report.MendChange{Kind: string(c.Kind), Text: c.Text, Count: c.Count, At: xyz(r.placed.To.Apply(c.At))})
	}
	return out
}

func (r *run) facetFacts(f *facet.Result) *report.Facets {
	p := r.facetParams(0)
	out := &report.Facets{
		Verdict: f.Verdict, Share: round(f.KinkShare, 4), Times: round(f.Needed, 2),
		ChordUM:    report.Percentiles{P50: um(f.ChordMM.Median), P99: um(f.ChordMM.P99), Max: um(f.ChordMM.Most)},
		KinkDeg:    report.Percentiles{P50: round(f.KinkDeg.Median, 3), P99: round(f.KinkDeg.P99, 3), Max: round(f.KinkDeg.Most, 3)},
		ChordLimit: um(f.ChordAsk), KinkLimit: f.KinkLimit, CuspUM: um(p.Cusp), CreaseDeg: p.CreaseDeg, Triangles: f.Triangles, Shine: "matt", WidthLimit: round(f.Hidden, 4),
	}
	if p.Shiny {
		out.Shine = "shiny"
	}
	return out
}

func (r *run) thicknessFacts() *report.Thickness {
	f := r.seen.frail
	out := &report.Thickness{
		Least: round(f.Least, 3), AtLeast: f.Least >= r.thickMost(), LeastAt: xyz(f.LeastAt), Limit: round(f.Limit.Value, 3), Source: f.Limit.Source, Material: r.job.Material.Title,
		Below: round(f.Below, 2), Places: []report.ThinPlace{},
	}
	area := 0.0
	for i, t := range r.seen.set.Of {
		if int(t) < r.placed.ModelTriangles {
			area += r.seen.set.Area(i)
		}
	}
	if area > 0 {
		out.Share = round(f.Below/area, 5)
	}
	for i, t := range f.Thin {
		if i == mostMarks {
			break
		}
		out.Places = append(out.Places, report.ThinPlace{At: xyz(t.At), Least: round(t.Least, 3), Area: round(t.Area, 2), What: t.What})
	}
	return out
}

func (r *run) slenderFacts() []report.Slender {
	var out []report.Slender
	for i, s := range r.seen.frail.Slender {
		if i == mostMarks {
			break
		}
		out = append(out, report.Slender{At: xyz(s.Tip), Length: round(s.Length, 2), Width: round(s.Thick, 3), Bends: um(s.Bends), Force: round(r.seen.frail.Force.Value, 3), What: s.What})
	}
	return out
}

// steepDeg is the slope from which a surface counts as steep for the side that cuts it, degrees.
const steepDeg = 70

// whys are the words for surface that stays, by class, in the order of the map's key.
var whys = []struct {
	class reach.Class
	code  string
	words string
}{
	{reach.Held, "held", "only shank or holder are in the way"},
	{reach.Deep, "deep", "deeper in stock than the flutes are long"},
	{reach.Low, "low", "below the lowest tip or beside the stub"},
	{reach.Narrow, "narrow", "in sight, but no cutter fits"},
	{reach.Undercut, "undercut", "in sight of no side"},
}

func (r *run) reachFacts() *report.Reach {
	l, j := r.seen.left, r.job
	out := &report.Reach{Sides: j.Sides, Limit: r.grain(), PitchMM: r.seen.params.Pitch, SteepDeg: steepDeg, LeftMM3: round(r.beyond(l), 2), Worst: []report.LeftPlace{}}
	for c, a := range l.Area {
		if reach.Class(c) != reach.Spared {
			out.Judged += a
		}
	}
	class := func(code, name string, a float64) {
		out.Classes = append(out.Classes, report.ReachClass{Code: code, Name: name, Area: round(a, 2), Share: portion(a, out.Judged)})
	}
	class("reached", "reached", l.Area[reach.Reached])
	for _, w := range whys {
		class(w.code, w.words, l.Area[w.class])
	}
	best := r.bestBySide(out)
	for _, q := range l.By {
		c := r.seen.params.Cuts[q.Cut]
		need := 0.0
		if q.Held >= worthTrying {
			need = q.StickOut
		}
		out.Cuts = append(out.Cuts, report.ReachCut{Side: geom.SideName(j.Sides[q.Side]), Cutter: c.Cutter.ID,
			Seen: round(q.Seen, 2), Touched: round(q.Touched, 2), Best: round(best[q.Side], 2), Forbidden: round(q.Held, 2), StickOut: c.Cutter.StickOut, Needed: round(need, 2)})
		if l.Area[reach.Held] >= worthTrying {
			out.StickOut = max(out.StickOut, need)
		}
	}
	out.Judged = round(out.Judged, 2)
	for i, p := range l.Places {
		if i == mostMarks {
			break
		}
		out.Worst = append(out.Worst, report.LeftPlace{At: xyz(p.At), Area: round(p.Area, 3), Volume: round(p.Volume, 3), Left: round(p.Depth, 3), Why: why(p.Class), Needs: p.Advice})
	}
	out.Check = fmt.Sprintf("Computed at %.2g mm: less than %g mm of stock does not count as uncut, less than %.2g mm not as volume that stays. A plan computes finer, and its proof measures what the programs leave.", out.PitchMM, out.Limit, l.Stays.Off[1])
	if !r.look.Closed() {
		out.Check += " How much stock stays is not counted, for the mesh is open."
	}
	return out
}

// bestBySide sums what each side reaches most squarely, and notes how high stock stands and how steep
// what is reached lies.
func (r *run) bestBySide(out *report.Reach) []float64 {
	l, set := r.seen.left, r.seen.set
	best := make([]float64, len(r.job.Sides))
	sin := math.Sin((90 - steepDeg) * math.Pi / 180)
	for i := range set.Len() {
		switch {
		case l.Class[i] == reach.Reached && l.Side[i] >= 0:
			a := set.Area(i)
			best[l.Side[i]] += a
			t := geom.TurnDeg(r.job.Sides[l.Side[i]])
			if t.ToSide(set.Normal(i)).Z < sin {
				out.Steep += a
			}
		case l.Class[i] != reach.Spared:
			out.Deepest = max(out.Deepest, float64(l.Left[i]))
		}
	}
	out.Steep, out.Deepest = round(out.Steep, 2), round(out.Deepest, 3)
	return best
}

func why(c reach.Class) string {
	for _, w := range whys {
		if w.class == c {
			return w.words
		}
	}
	return c.String()
}

// beyond is the volume that stays, mm³, from as far off the model as a prediction counts it.
func (r *run) beyond(l *reach.Prediction) float64 {
	if len(l.Stays.Volume) < 2 || !r.look.Closed() {
		return 0 // of an open mesh inside and outside cannot be told
	}
	return l.Stays.Volume[1]
}

// missed is the area that no cutter reaches, mm².
func missed(l *reach.Prediction) float64 {
	a := 0.0
	for _, w := range whys {
		a += l.Area[w.class]
	}
	return a
}

func portion(a, of float64) float64 {
	if of <= 0 {
		return 0
	}
	return round(a/of, 5)
}

func (r *run) spigotFacts() *report.SpigotFacts {
	h := r.placed.Spigot
	if h == nil {
		return nil
	}
	out := &report.SpigotFacts{Shape: "round", Across: 2 * h.Radius, Length: round(r.placed.Y0-r.placed.StubY, 3), Fillet: round(h.PieceFillet, 3),
		Contact: round(r.placed.Contact, 2), Share: round(h.Share, 4)}
	if h.Square {
		out.Shape = "square"
	}
	return out
}

func (r *run) poseFacts() *report.Poses {
	if r.found == nil {
		return nil
	}
	f, j := r.found, r.job
	out := &report.Poses{Tried: f.Tried, Chosen: -1, Bar: barText(j.Bar), Material: j.Material.Title, Best: []report.PoseFacts{}, Compare: []report.PoseFacts{}}
	if n := len(j.Finish); n > 0 {
		out.Cutter = j.Finish[n-1].Cutter.ID
	}
	if f.Given != nil {
		name := "as given"
		if r.unasked {
			name = "as the file stands"
		}
		p := r.poseFact(name, *f.Given)
		out.Given = &p
	}
	now := givenPose(j.Lay)
	for i, c := range f.Best {
		out.Best = append(out.Best, r.poseFact(string(rune('A'+i)), c))
		if samePose(c.Pose, now) {
			out.Chosen = i
		}
	}
	if g := f.Given; g != nil && out.Chosen >= 0 && samePose(g.Pose, f.Best[out.Chosen].Pose) {
		out.Given = nil // told once
	}
	for _, c := range f.Compare {
		out.Compare = append(out.Compare, r.poseFact(setName(c.Set), c))
	}
	return out
}

// samePose allows for the digits with which a pose is written into a job.
func samePose(a, b pose.Pose) bool {
	return a.Dir.Unit().Sub(b.Dir.Unit()).Len() < 2e-5 && math.Abs(a.TurnDeg-b.TurnDeg) < 1e-3
}

func setName(s pose.Set) string {
	name := fmt.Sprintf("%d sides", len(s.Sides))
	if s.End {
		name += " + end"
	}
	return name
}

func (r *run) poseFact(name string, c pose.Candidate) report.PoseFacts {
	out := report.PoseFacts{
		Name: name, Dir: [3]float64{c.Dir.X, c.Dir.Y, c.Dir.Z}, TurnDeg: round(c.TurnDeg, 3), Words: poseWords(c),
		Sides: c.Sides, End: c.End, NotTouch: round(c.Missed, 2), Share: round(c.MissedShare(), 5), Steep: round(c.Steep, 2), StickOut: round(c.StickOut, 2),
		Seconds: round(60*c.Minutes(), 0), Scale: 1, Bar: smallestStandard(c.Shape, c.Across, c.High), BarLength: round(c.Bar, 1), Score: round(c.Cost, 3),
		Job: r.layLine(c.Pose, 1),
	}
	if c.Scale > 0 && r.job.Lay.Fit {
		out.Scale = round(c.Scale, 4)
	}
	return out
}

func poseWords(c pose.Candidate) string {
	w := "the model's " + dirText(c.Dir) + " toward the free end"
	if c.TurnDeg != 0 {
		w += fmt.Sprintf(", turned %.4g°", c.TurnDeg)
	}
	if c.On != "" && axisOf(c.Dir) == "" {
		w += " (" + c.On + ")"
	}
	return w
}

func (r *run) barChoices(fits []place.Fit) []report.BarChoice {
	var out []report.BarChoice
	for _, f := range fits {
		out = append(out, barChoice(f, r.job.Bar))
	}
	return out
}

func sameSection(a, b bar.Bar) bool {
	return a.Shape == b.Shape && math.Abs(a.Width-b.Width) < 1e-6 && math.Abs(a.Height-b.Height) < 1e-6
}
