package barwise

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"strings"

	"barwise/geom/mesh"
	"barwise/geom/mesh/mend"
	"barwise/job"
	"barwise/report"
	"barwise/unit"
)

// cure is the least mending that was found to help, and what it comes to.
type cure struct {
	ask    job.Mend // what the job asks for already included
	after  *mesh.Health
	turned int // triangles turned over
}

// seamPart is the part of the model's diagonal by which corners that belong together may lie apart: a
// hundred times what float32 rounds.
const seamPart = 1e-5

// tryMends mends a copy of an unsound mesh, asking for more each time until it is closed and faces outward.
func (r *run) tryMends(ctx context.Context) error {
	if sound(r.look.Health) {
		return nil
	}
	return r.clock.time("trials", func() error {
		r.say("trying to mend", 0, 0)
		base := job.Mend{}
		from := r.model
		if r.job.Mend != nil {
			base, from = *r.job.Mend, r.unmendedMesh
		}
		seam := base
		seam.Weld = max(base.Weld, seamPart*r.look.Health.Box.Size().Len())
		seam.Weld = math.Ceil(seam.Weld*1e4) / 1e4
		last, mm := r.look.Health, 1.0 // of its unit
		for _, ask := range []func() job.Mend{
			func() job.Mend { a := base; a.Orient = true; return a },
			func() job.Mend { return seam },
			func() job.Mend { a := seam; a.Orient = true; return a },
			func() job.Mend { a := base; a.Fill = widestHole(r.look.Health, 1); return a },
			func() job.Mend { a := base; a.Fill, a.Orient = widestHole(r.look.Health, 1), true; return a },
			func() job.Mend { a := seam; a.Fill, a.Orient, a.Twins = widestHole(last, mm), true, true; return a },
		} {
			c, err := r.tryMend(ctx, from, ask())
			if err != nil {
				return err
			}
			last, mm = c.after, r.look.UnitMM
			if len(last.Loops) < len(r.look.Health.Loops) || len(last.Loops) == 0 {
				r.cure = &c
			}
			if sound(last) {
				return nil
			}
		}
		return nil
	})
}

func (r *run) tryMend(ctx context.Context, m *mesh.Mesh, ask job.Mend) (cure, error) {
	out, err := mend.Mend(ctx, m, mendParams(&ask, r.look.UnitMM))
	if err != nil {
		return cure{}, err
	}
	c := cure{ask: ask, after: out.After}
	for _, t := range out.Turned {
		if t {
			c.turned++
		}
	}
	return c, nil
}

// widestHole is a length, in mm of the file, that every hole is narrower than; unitMM is that of h.
func widestHole(h *mesh.Health, unitMM float64) float64 {
	w := 0.0
	for _, l := range h.Loops {
		w = max(w, l.Across)
	}
	return math.Ceil(w*unitMM*10.5) / 10
}

// sound reports whether a mesh has an inside that its triangles agree about.
func sound(h *mesh.Health) bool { return h.Closed && h.Turned == 0 && h.Volume > 0 }

// adviseMesh is about what is not sound: the mending that was tried, and what it came to.
func (r *run) adviseMesh() []advised {
	c := r.cure
	if c == nil {
		return nil
	}
	h := r.look.Health
	ch := report.Change{Code: "mend", What: "have the mesh mended", Gain: "some of the holes are closed", Job: mendLine(c.ask)}
	var now, then []string
	if n := len(h.Loops); n > 0 {
		now = append(now, count(n, "one hole", "holes"))
		then = append(then, count(len(c.after.Loops), "one hole stays", "holes stay"))
		if len(c.after.Loops) == 0 {
			ch.What, ch.Code, ch.Gain = "close "+count(n, "the hole", "holes"), "fill", "gives the model an inside, so that it can be cut from all sides"
			then = []string{"closed"}
			if c.ask.Fill == 0 || r.job.Mend != nil && c.ask.Fill == r.job.Mend.Fill {
				ch.What, ch.Code = "join the seams that were not joined", "weld"
			}
		}
	}
	switch {
	case h.Closed && h.Volume < 0:
		now = append(now, "all triangles face inward")
	case h.Turned > 0:
		now = append(now, count(h.Turned, "one triangle faces the other way", "triangles face the other way"))
	}
	if h.Closed {
		ch.Code, ch.What, ch.Gain = "orient", "turn triangles to face outward", "inside and outside can be told apart"
	}
	if c.turned > 0 {
		if sound(c.after) {
			then = append(then, "all face outward")
		} else {
			then = append(then, count(c.turned, "one triangle turned over", "triangles turned over"))
		}
	}
	ch.Now, ch.Then = strings.Join(now, ", "), cmp.Or(strings.Join(then, ", "), "no better")
	return []advised{{ch, beforeAll}}
}

// mendLine is mending as it is written in a job.
func mendLine(m job.Mend) string {
	var parts []string
	length := func(key string, v float64) {
		if v > 0 {
			parts = append(parts, fmt.Sprintf("%s: %s mm", key, unit.Number(v, 4)))
		}
	}
	word := func(key string, yes bool) {
		if yes {
			parts = append(parts, key+": true")
		}
	}
	length("weld", m.Weld)
	word("orient", m.Orient)
	word("twins", m.Twins)
	length("fill", m.Fill)
	length("specks", m.Specks)
	return "mend: {" + strings.Join(parts, ", ") + "}"
}
