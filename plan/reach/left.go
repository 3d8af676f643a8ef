package reach

import (
	"math"

	"barwise/geom"
	"barwise/geom/field"
)

// left is how far the air is from a place on the surface, mm: on its normal, or straight up from a side
// where that is nearer. It errs upward by what a slanting way would spare, and by the grain of the fields
// beside walls.
func (w *predictor) left(q, n geom.Vec3) float64 {
	best := math.Inf(1)
	for s, t := range w.turns {
		p := t.ToSide(q)
		gap := w.over(s, p)
		if gap <= 0 {
			return 0
		}
		if c := n.Dot(t.Facing()); c > 0.1 {
			gap *= c
		}
		best = min(best, gap)
	}
	step := w.Pitch / 2
	for d := step; d < best; d += step {
		if w.air(q.Add(n.Mul(d))) {
			return d - step/2
		}
	}
	return best
}

// over is how much stock side s leaves over a point of its frame, by its own field and the bar.
func (w *predictor) over(s int, p geom.Vec3) float64 {
	_, hi, ok := w.Bar.Column(w.Sides[s], p.X)
	if !ok {
		return 0
	}
	if w.turns[s].End {
		if y0, y1, ok := w.Bar.Chord(w.Sides[s], p.X); !ok || p.Y < y0 || p.Y > y1 {
			return 0
		}
	}
	return min(hi, bilinear(w.stack.Field(s), p.X, p.Y)) - p.Z
}

func (w *predictor) air(q geom.Vec3) bool {
	if q.Y < 0 || q.Y > w.Bar.Length {
		return true
	}
	for s, t := range w.turns {
		if w.over(s, t.ToSide(q)) <= 0 {
			return true
		}
	}
	return false
}

// bilinear reads a field between its nodes; where a node of the cell is infinite, at the nearest.
func bilinear(f *field.Field, x, y float64) float64 {
	a, b := (x-f.X0)/f.DX, (y-f.Y0)/f.DY
	i, j := max(0, min(f.NX-2, int(math.Floor(a)))), max(0, min(f.NY-2, int(math.Floor(b))))
	a, b = max(0, min(1, a-float64(i))), max(0, min(1, b-float64(j)))
	k := j*f.NX + i
	lo := float64(float64(f.Z[k])*(1-a)) + float64(float64(f.Z[k+1])*a)
	hi := float64(float64(f.Z[k+f.NX])*(1-a)) + float64(float64(f.Z[k+f.NX+1])*a)
	if z := float64(lo*(1-b)) + float64(hi*b); !math.IsInf(z, 0) && !math.IsNaN(z) {
		return z
	}
	i, j = f.Nearest(geom.Vec2{X: x, Y: y})
	return float64(f.Z[max(0, min(f.NY-1, j))*f.NX+max(0, min(f.NX-1, i))])
}
