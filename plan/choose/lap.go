package choose

import (
	"context"
	"math"

	"barwise/geom"
	"barwise/geom/field"
)

// steepest is the slope at which a node of a grid counts as no more of the surface: about a wall.
const steepest = 3

// measureLap finds how much a cutter goes over because sides reach into each other's shares, as a factor of
// the surface: of what a side is the most square to, spread by the overlap, over what it was. Whether another
// side reaches a place is not asked here.
func (w *work) measureLap(ctx context.Context, t *tool) error {
	over := t.Overlap
	if over == 0 {
		over = 0.6 * t.Cutter.R
	}
	own, all := 0.0, 0.0
	for side := range w.Sides {
		f := t.sides[side].exact
		mine, size := field.New(f.Grid, 0), field.New(f.Grid, 0)
		if err := field.EachRow(ctx, f.NY, func(j int) {
			for i := range f.NX {
				k := j*f.NX + i
				x, y := f.X(i), f.Y(j)
				if w.outside(t, side, x, y) || float64(f.Z[k]) <= w.floor(t, side, x, y) {
					continue
				}
				gx, gy := f.Slope(i, j)
				g := math.Sqrt(1 + float64(gx*gx) + float64(gy*gy))
				size.Z[k] = float32(min(g, steepest)) // NaN at an edge counts as nothing below
				n := geom.Vec3{X: -gx / g, Y: -gy / g, Z: 1 / g}
				if w.best(t, side, geom.Vec3{X: x, Y: y, Z: float64(f.Z[k])}, n) {
					mine.Z[k] = 1
				}
			}
		}); err != nil {
			return err
		}
		wide := field.DiscMax(mine, over)
		for k, s := range size.Z {
			if !(s > 0) {
				continue
			}
			if mine.Z[k] > 0 {
				own += float64(s)
			}
			if wide.Z[k] > 0 {
				all += float64(s)
			}
		}
	}
	t.lap = 1
	if own > 0 {
		t.lap = all / own
	}
	return ctx.Err()
}

// best reports whether no other side is more square to what a tip touches.
func (w *work) best(t *tool, side int, tip, n geom.Vec3) bool {
	l := n.XY().Len()
	r, h := t.Cutter.Contact(l / n.Z)
	q := tip.Add(geom.Vec3{Z: h})
	if l > 1e-9 {
		q = q.Sub(geom.Vec3{X: float64(n.X*r) / l, Y: float64(n.Y*r) / l})
	}
	q, n = w.turns[side].ToPart(q), w.turns[side].ToPart(n)
	mine := w.score(w.turns[side], q, n)
	for o, turn := range w.turns {
		if o != side && w.score(turn, q, n) > mine {
			return false
		}
	}
	return true
}
