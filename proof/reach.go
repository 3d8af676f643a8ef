package proof

import (
	"cmp"
	"math"
	"slices"

	"barwise/geom"
	"barwise/shop/cutter"
)

// reach knows where the cutters of the programs could be put.
type reach struct {
	set    *Setup
	solids []*solid // by side
	tools  [][]cutter.Cutter
	tops   []float64 // of the bar, by side
	tol    float64
}

// reacher is reach for one worker.
type reacher struct {
	*reach
	probes [][]toolProbe
}

type toolProbe struct {
	cut     *prober
	collars []*prober
}

// newReach collects the different cutters that each side is worked with.
func newReach(set *Setup, solids []*solid, chains []*chain) *reach {
	r := &reach{set: set, solids: solids, tools: make([][]cutter.Cutter, len(solids))}
	// Placed to touch a point in a corner the cutter runs into the other wall by more than it must leave
	// standing, so a third of the tolerance tells a place that cannot be cleared from one that can.
	r.tol = max(1e-3, set.Tolerance/3)
	for _, d := range set.Sides {
		r.tops = append(r.tops, set.Bar.Top(d))
	}
	for _, c := range chains {
		known := false
		for _, t := range r.tools[c.side] {
			known = known || t.ID == c.prog.Cutter.ID && t.Profile == c.prog.Cutter.Profile && t.StickOut == c.prog.Cutter.StickOut
		}
		if !known {
			r.tools[c.side] = append(r.tools[c.side], c.prog.Cutter)
		}
	}
	for _, t := range r.tools {
		slices.SortStableFunc(t, func(a, b cutter.Cutter) int {
			rank := func(c *cutter.Cutter) float64 {
				if newForm(c.Profile).ball {
					return c.R // balls first, the smallest before all
				}
				return 1e6 + c.R
			}
			return cmp.Compare(rank(&a), rank(&b))
		})
	}
	return r
}

func (r *reach) worker() *reacher {
	w := &reacher{reach: r, probes: make([][]toolProbe, len(r.solids))}
	for s, tools := range r.tools {
		for _, t := range tools {
			p := toolProbe{cut: newProber(r.solids[s], t.Profile, 0)}
			p.cut.shrink(r.tol)
			for _, c := range t.Collars() {
				b := newProber(r.solids[s], cutter.FlatEnd(c.R), c.Z)
				b.shrink(r.tol)
				p.collars = append(p.collars, b)
			}
			w.probes[s] = append(w.probes[s], p)
		}
	}
	return w
}

// class says what to call a patch that carries too much, by its middle q and normal n in the part
// frame: inside another shell, beyond every cutter's reach, or left.
func (w *reacher) class(q, n geom.Vec3) Class {
	for s := range w.solids {
		for k := range w.probes[s] {
			if w.fits(s, k, q, n) {
				return Left // and so not inside: a cutter comes from above
			}
		}
	}
	if w.inner(q, n) {
		return Excluded
	}
	return Unreachable
}

// inner reports whether the surface at q lies inside another shell of the target: two of three rays
// from just outside it find themselves enclosed.
func (w *reacher) inner(q, n geom.Vec3) bool {
	if len(w.solids) == 0 {
		return false
	}
	s := w.solids[0]
	p := s.turn.ToSide(q.Add(n.Mul(1e-4)))
	votes := 0
	for k, d := range [3]geom.Vec3{{X: 0.8131, Y: 0.3917, Z: 0.4303}, {X: -0.5077, Y: 0.6139, Z: 0.6046}, {X: 0.1237, Y: -0.7411, Z: 0.6599}} {
		if s.winding(p, d) > 0 {
			votes++
		}
		if votes == 0 && k == 0 {
			return false // the usual case: one ray that gets out is enough
		}
	}
	return votes >= 2
}

// fits reports whether cutter k of side s can be put to touch q without running into the model, the
// stub or the vise.
func (w *reacher) fits(s, k int, q, n geom.Vec3) bool {
	sd, pr := w.solids[s], &w.probes[s][k]
	ns := sd.turn.ToSide(n)
	if ns.Z < -1e-3 {
		return false
	}
	qs := sd.turn.ToSide(q)
	f := &pr.cut.full
	nxy := math.Sqrt(float64(ns.X*ns.X) + float64(ns.Y*ns.Y))
	if !f.ball && k > 0 && nxy > 0.05 && ns.Z > 0.05 {
		return false // what a ball cannot touch on a slope, another shape as large cannot either
	}
	r, h := f.R, f.rim
	if ns.Z > 1e-9 {
		r, h = f.Contact(nxy / ns.Z)
	}
	ux, uy := 0.0, 0.0
	if nxy > 1e-9 {
		ux, uy = ns.X/nxy, ns.Y/nxy
	}
	if w.free(s, pr, geom.Vec3{X: qs.X + float64(ux*r), Y: qs.Y + float64(uy*r), Z: qs.Z - h}) {
		return true
	}
	if f.Flat == 0 || nxy > 1e-3 {
		return false
	}
	// a level place lies anywhere under a flat end
	for a := range 8 {
		sn, cs := math.Sincos(float64(a) * math.Pi / 4)
		if w.free(s, pr, geom.Vec3{X: qs.X + float64(f.Flat*cs), Y: qs.Y + float64(f.Flat*sn), Z: qs.Z}) {
			return true
		}
	}
	return w.free(s, pr, qs)
}

func (w *reacher) free(s int, pr *toolProbe, tip geom.Vec3) bool {
	R := pr.cut.p.R
	if w.solids[s].turn.End {
		if tip.Z < w.set.StubY-w.tol {
			return false
		}
	} else if tip.Y-R < w.set.StubY-w.tol && tip.Z < w.tops[s] {
		return false
	}
	if s < len(w.set.Vise) {
		for _, b := range w.set.Vise[s] {
			if tip.Z < b.Box.Max.Z && beside(&b.Box, tip) < R-w.tol {
				return false
			}
		}
	}
	if pr.cut.touched(tip, tip) {
		return false
	}
	for _, c := range pr.collars {
		up := tip.Add(geom.Vec3{Z: c.lift})
		if up.Z >= c.s.box.Max.Z {
			continue
		}
		if c.touched(up, up) {
			return false
		}
	}
	return true
}
