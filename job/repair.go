package job

import "barwise/unit"

// What is done to the mesh and what the survey goes by; typical values without a source.
const (
	stdMostTriangles = 5_000_000
	stdCrease        = 40 // degrees
	stdRefineMost    = 2_000_000
)

// onMesh resolves mending, refining and what the survey goes by.
func (r *resolver) onMesh() error {
	if r.MostTriangles = stdMostTriangles; r.file.MostTriangles != nil {
		r.MostTriangles = *r.file.MostTriangles
	} else {
		r.note("most_triangles", "5000000", "what this trade's machines hold in memory with ease")
	}
	if f := r.file.Mend; f != nil {
		m := &Mend{Orient: f.Orient != nil && *f.Orient, Twins: f.Twins != nil && *f.Twins}
		for _, x := range []struct {
			from *unit.Length
			to   *float64
		}{{f.Weld, &m.Weld}, {f.Fill, &m.Fill}, {f.Specks, &m.Specks}} {
			if x.from != nil {
				*x.to = float64(*x.from)
			}
		}
		if *m == (Mend{}) {
			return r.Bad("missing", "mend", "mend: nothing is asked for, allowed are weld, orient, twins, fill, specks", "say what to mend, or leave mend out")
		}
		r.Mend = m
	}
	s := r.file.Survey
	r.Survey.CreaseDeg = or(r, s.Crease, "survey.crease", stdCrease, "typical, no source")
	r.Survey.Shiny = s.Shiny != nil && *s.Shiny
	if s.Thinnest != nil {
		r.Survey.Thinnest = float64(*s.Thinnest)
	}
	if f := r.file.Refine; f != nil {
		m := &Refine{Chord: or(r, f.Chord, "refine.chord", unit.Length(r.Tolerance/10), "a tenth of the tolerance"), Most: stdRefineMost}
		if f.Kink != nil {
			m.KinkDeg = float64(*f.Kink)
		}
		if f.Most != nil {
			m.Most = *f.Most
		} else {
			r.note("refine.most", "2000000", "what this trade's machines hold in memory with ease")
		}
		r.Refine = m
	}
	return nil
}
