package barwise

import (
	"context"
	"math"

	"barwise/geom"
	"barwise/geom/mesh/patch"
	"barwise/plan/place"
	"barwise/plan/pose"
	"barwise/plan/reach"
	"barwise/plan/survey"
	"barwise/report"
	"barwise/shop/bar"
)

// drawSurvey draws the maps and the ways to lie.
func (r *run) drawSurvey(ctx context.Context, page *report.SurveyPage) error {
	s, set := page.Survey, r.seen.set
	sides := r.job.Sides
	u, err := report.Unroll(ctx, set, sides, true)
	if err != nil || u == nil {
		return err
	}
	if len(r.look.Holes) > 0 || s.Crossings != nil || len(s.Mends) > 0 {
		page.Maps.Sound = u.Paint(report.Paint{Scale: report.SoundScale(), Value: r.soundValue(), Outlines: s.HoleOutlines(r.holeLines()), Marks: s.CrossingMarks()})
	}
	perTriangle := func(v []float32) func(i int) float64 {
		return func(i int) float64 {
			if t := int(set.Of[i]); t < len(v) {
				return float64(v[t])
			}
			return math.NaN()
		}
	}
	page.Maps.Facets = u.Paint(report.Paint{Scale: report.FacetScale(), Value: perTriangle(r.seen.facets.Stand)})
	if r.seen.before != nil {
		old := report.Paint{Scale: report.FacetScale()}
		if page.Maps.Before, err = r.paintCoarse(ctx, old); err != nil {
			return err
		}
	}
	page.Maps.Thickness = u.Paint(report.Paint{Scale: report.ThicknessScale(r.seen.frail.Limit.Value), Marks: s.ThinMarks(), Value: func(i int) float64 {
		if int(set.Of[i]) >= r.placed.ModelTriangles {
			return math.NaN()
		}
		return float64(r.seen.thick[i])
	}})
	if l := r.seen.left; l != nil {
		page.Maps.Reach = u.Paint(report.Paint{Scale: r.reachScale(), Value: r.reachValue, Marks: s.LeftMarks()})
		page.Maps.Left = u.Paint(report.Paint{Scale: report.LeftScale(r.grain()), Marks: s.LeftMarks(), Value: func(i int) float64 {
			if l.Class[i] == reach.Spared {
				return math.NaN()
			}
			return float64(l.Left[i])
		}})
	}
	return r.drawLies(ctx, page)
}

// soundValue is 1 on what mending made.
func (r *run) soundValue() func(i int) float64 {
	if r.mended == nil || r.coarse != nil {
		return func(int) float64 { return 0 }
	}
	return func(i int) float64 {
		if t := int(r.seen.set.Of[i]); t < len(r.mended.New) && (r.mended.New[t] || r.mended.Turned[t]) {
			return 1
		}
		return 0
	}
}

// holeLines are the holes' outlines in the order of the facts.
func (r *run) holeLines() [][]geom.Vec3 {
	var out [][]geom.Vec3
	for _, h := range append(append([]survey.Hole{}, r.look.Holes...), r.filledHoles()...) {
		line := make([]geom.Vec3, len(h.Line))
		for i, p := range h.Line {
			line[i] = r.toPart(p)
		}
		out = append(out, line)
	}
	return out
}

// paintCoarse paints the facets as they were before refining.
func (r *run) paintCoarse(ctx context.Context, p report.Paint) (*report.Map, error) {
	set := patch.Cut(r.coarse.Mesh, patchEdge, mostPatches)
	stand := r.seen.before.Stand
	p.Value = func(i int) float64 {
		if t := int(set.Of[i]); t < len(stand) {
			return float64(stand[t])
		}
		return math.NaN()
	}
	return report.SurfaceMap(ctx, set, r.job.Sides, true, p)
}

func (r *run) reachScale() report.Scale {
	var words []string
	for _, w := range whys {
		words = append(words, w.words)
	}
	return report.ReachScale(r.job.Sides, false, words...)
}

// reachValue is the number of a patch's swatch in reachScale.
func (r *run) reachValue(i int) float64 {
	l := r.seen.left
	if l.Class[i] == reach.Reached {
		return float64(l.Side[i])
	}
	for k, w := range whys {
		if w.class == l.Class[i] {
			return float64(len(r.job.Sides) + k)
		}
	}
	return math.NaN()
}

// drawLies draws the ways the model may lie in its bar.
func (r *run) drawLies(ctx context.Context, page *report.SurveyPage) error {
	if r.loose {
		return nil
	}
	now := lieOf(r.placed, r.job.Bar, pose.Set{Sides: r.job.Sides})
	now.Spigot = page.Spigot
	page.Lie = &now
	lies := []report.Lie{now}
	given, best := -1, []int{}
	if f := r.found; f != nil {
		if f.Given != nil {
			if l, ok := r.lieAt(ctx, *f.Given); ok {
				given, lies = len(lies), append(lies, l)
			}
		}
		for _, c := range f.Best {
			at := -1
			if l, ok := r.lieAt(ctx, c); ok {
				at, lies = len(lies), append(lies, l)
			}
			best = append(best, at)
		}
	}
	pics, err := report.PosePictures(ctx, lies, 300)
	if err != nil {
		return err
	}
	page.Piece = pics[0]
	if given >= 0 {
		page.ByGiven = pics[given]
	}
	for _, at := range best {
		if at < 0 {
			page.ByPose = append(page.ByPose, nil)
		} else {
			page.ByPose = append(page.ByPose, pics[at])
		}
	}
	return ctx.Err()
}

func lieOf(p *place.Placed, b bar.Bar, s pose.Set) report.Lie {
	l := report.Lie{Mesh: p.Mesh, Bar: b, StubY: p.StubY, Sides: s.Sides, End: s.End, Y0: p.Y0, Y1: p.Y1}
	for _, c := range p.Clear {
		l.Clear = append(l.Clear, report.Clearance{Deg: c.Deg, MM: c.MM})
	}
	return l
}

// lieAt lays the model as a candidate has it, into the job's bar or, where it does not fit that, into the
// smallest standard one.
func (r *run) lieAt(ctx context.Context, c pose.Candidate) (report.Lie, bool) {
	p := r.placeParams()
	p.Along, p.Dir, p.TurnDeg = "", c.Dir, c.TurnDeg
	p.ShiftX, p.ShiftZ = 0, 0
	if o, err := place.Place(ctx, r.model, p); err == nil {
		return lieOf(o, p.Bar, c.Set), true
	}
	p.Fit = false
	p.Bar = bar.Bar{Grip: r.job.Bar.Grip, Block: r.job.Bar.Block}
	fits, err := place.Smallest(ctx, r.model, p, place.SmallestParams{Shapes: []bar.Shape{c.Shape}})
	if err != nil || len(fits) == 0 {
		return report.Lie{}, false
	}
	o, err := place.Place(ctx, r.model, fits[0].Params)
	if err != nil {
		return report.Lie{}, false
	}
	return lieOf(o, fits[0].Params.Bar, c.Set), true
}
