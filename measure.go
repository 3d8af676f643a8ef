package barwise

import (
	"context"
	"slices"

	"barwise/finding"
	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/patch"
	"barwise/geom/mesh/thick"
	"barwise/plan/cl"
	"barwise/plan/facet"
	"barwise/plan/fragile"
	"barwise/plan/reach"
)

// measured is what the survey finds of the model as it lies. Slices by patch run parallel to set, those by
// triangle to the placed mesh.
type measured struct {
	set    *patch.Set
	facets *facet.Result
	before *facet.Result // before refining; nil where nothing was refined
	thick  []float32     // mm, at most run.thickMost
	frail  *fragile.Result
	params reach.PredictParams
	left   *reach.Prediction
}

// thickEnough is where a wall is thick enough not to be looked at, mm, unless thicker ones are asked for.
const thickEnough = 4

// thickMost is up to where thickness is measured, mm.
func (r *run) thickMost() float64 { return max(thickEnough, 1.5*r.job.Survey.Thinnest) }

// slim lets go of all that is measured place by place: a plan only needs the sums.
func (s *measured) slim() {
	s.set, s.thick = nil, nil
	s.facets.Kink, s.facets.Chord, s.facets.Shows, s.facets.Stand = nil, nil, nil, nil
	if l := s.left; l != nil {
		l.Stack, l.Left, l.Side, l.Class, l.StickOut, l.Reach = nil, nil, nil, nil, nil, nil
	}
}

// surveyPitch is that of the fields behind a first answer, mm. It shares no multiple with the lengths that
// models are made of: on a lattice whose planes hold a model's flats the thinnest skin counts for half a
// pitch or for nothing. surveyGrain is what such fields tell apart: less does not count as left.
const (
	surveyPitch = 0.1471
	surveyGrain = 0.02
)

// grain is from what height on stock counts as left in a survey, mm.
func (r *run) grain() float64 { return max(r.job.Tolerance, surveyGrain) }

// measure looks at facets, thickness and reach of the placed model.
func (r *run) measure(ctx context.Context) error {
	if !r.loose {
		if err := r.clock.time("choose", func() error {
			if err := r.chooseCutters(ctx); err != nil {
				return err
			}
			return r.semiFinish(ctx)
		}); err != nil {
			return err
		}
	}
	s := &measured{set: r.patches()}
	if err := r.clock.time("facets", func() (err error) {
		r.say("looking at facets", 0, 0)
		if s.facets, err = facet.Measure(ctx, r.placed.Mesh, r.facetParams(r.placed.ModelTriangles)); err != nil || r.coarse == nil {
			return err
		}
		s.before, err = facet.Measure(ctx, r.coarse.Mesh, r.facetParams(r.coarse.ModelTriangles))
		return err
	}); err != nil {
		return err
	}
	if err := r.clock.time("thickness", func() (err error) {
		r.say("measuring thickness", 0, 0)
		if s.thick, err = r.thickness(ctx, s.set); err != nil {
			return err
		}
		s.frail, err = fragile.Judge(ctx, r.placed.Mesh, s.thick, s.set, r.fragileParams())
		return err
	}); err != nil {
		return err
	}
	if !r.loose {
		if err := r.clock.time("reach", func() (err error) {
			r.say("looking at reach", 0, 0)
			if r.surface == nil {
				r.surface = cl.NewSurface(r.placed.Mesh)
			}
			s.params = r.predictParams(surveyPitch)
			s.params.Tolerance = r.grain()
			if len(r.look.Health.Shells) > 1 || r.placed.Spigot != nil {
				s.params.Buried = s.set.Buried(r.placed.Mesh)
			}
			s.left, err = reach.Predict(ctx, r.surface, s.params, s.set)
			return err
		}); err != nil {
			return err
		}
	}
	r.seen = s
	return nil
}

// thickness measures the model's walls. Where its shells overlap, what lies inside another shell is no
// wall of the whole, and has none.
func (r *run) thickness(ctx context.Context, set *patch.Set) ([]float32, error) {
	m, n := r.placed.Mesh, r.placed.ModelTriangles
	p := thick.Params{Most: r.thickMost(), Triangles: n}
	if len(r.look.Health.Shells) == 1 {
		return thick.Measure(ctx, m, set, p)
	}
	buried := set.Buried(&mesh.Mesh{Vertices: m.Vertices, Triangles: m.Triangles[:n]})
	whole := &mesh.Mesh{Vertices: m.Vertices, Triangles: slices.Clone(m.Triangles)}
	inside := make([]bool, len(m.Triangles)) // all of a triangle's patches
	for i, t := range set.Of {
		first := i == 0 || set.Of[i-1] != t
		inside[t] = buried[i] && (first || inside[t])
	}
	for t, in := range inside {
		if in {
			whole.Triangles[t] = [3]int32{} // no wall for the others
		}
	}
	out, err := thick.Measure(ctx, whole, set, p)
	for i := range out {
		if buried[i] {
			out[i] = float32(p.Most)
		}
	}
	return out, err
}

func (r *run) facetParams(triangles int) facet.Params {
	p := facet.Params{Triangles: triangles, Tolerance: r.job.Tolerance, CreaseDeg: r.job.Survey.CreaseDeg, Shiny: r.job.Survey.Shiny}
	if n := len(r.job.Finish); n > 0 {
		c := r.job.Finish[n-1]
		p.Cusp, p.Stepover = c.Cusp, stepoverFor(c.Cutter.Profile.Round, c.Cusp)
	}
	return p
}

func (r *run) fragileParams() fragile.Params {
	return fragile.Params{
		Material: r.job.Material, StubY: r.placed.StubY, Triangles: r.placed.ModelTriangles,
		Limit: r.job.Survey.Thinnest, Tolerance: r.job.Tolerance,
	}
}

// toPart takes a place of the mesh, in mm of its own frame, to the part frame.
func (r *run) toPart(p geom.Vec3) geom.Vec3 { return r.placed.To.Apply(p.Mul(1 / r.look.UnitMM)) }

// surveyed are the survey's findings for the report of a plan, the worst of each kind: survey.html has all.
// Whether a piece is worth cutting is another question than whether its programs are proven, so none of
// them counts for more than a note there.
func (r *run) surveyed() []finding.Finding {
	var out []finding.Finding
	all := append(append([]finding.Finding{}, r.seen.facets.Findings...), r.seen.frail.Findings...)
	finding.Sort(all)
	told := map[string]bool{}
	for _, f := range all {
		if told[f.Code] {
			continue
		}
		told[f.Code] = true
		f.Severity = finding.Note
		out = append(out, f)
	}
	return out
}

func (r *run) note(code, text, hint string) {
	r.findings = append(r.findings, finding.Finding{Code: code, Severity: finding.Note, Text: text, Hint: hint})
}
