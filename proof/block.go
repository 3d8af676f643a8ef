package proof

import (
	"math"

	"barwise/geom"
)

// beside is the distance, seen from above, of p from a box; 0 inside.
func beside(b *geom.Box3, p geom.Vec3) float64 {
	dx := max(0, b.Min.X-p.X, p.X-b.Max.X)
	dy := max(0, b.Min.Y-p.Y, p.Y-b.Max.Y)
	return math.Sqrt(float64(dx*dx) + float64(dy*dy))
}

// overBox returns the lowest that the profile comes over a box while its tip moves straight from p to
// q: the least of z + h(distance), which is convex along the way, where the distance is at most R;
// +Inf where it never is.
func (f *form) overBox(b *geom.Box3, p, q geom.Vec3) float64 {
	away := func(s float64) float64 { return beside(b, p.Lerp(q, s)) }
	near := 0.0
	if p.X != q.X || p.Y != q.Y {
		near = leastAt(away, 0, 1)
	}
	if away(near) >= f.R {
		return math.Inf(1)
	}
	edge := func(out float64) float64 {
		in := near
		if away(out) < f.R {
			return out
		}
		for range 50 {
			if m := (in + out) / 2; away(m) < f.R {
				in = m
			} else {
				out = m
			}
		}
		return in
	}
	low := func(s float64) float64 {
		c := p.Lerp(q, s)
		return c.Z + f.height(beside(b, c))
	}
	a, c := edge(0), edge(1)
	return min(low(leastAt(low, a, c)), low(a), low(c))
}

// leastAt returns where in [a, b] a convex function is least, to 1e-9 of the span.
func leastAt(f func(float64) float64, a, b float64) float64 {
	for range 52 {
		s, t := a+(b-a)/3, b-(b-a)/3
		if f(s) <= f(t) {
			b = t
		} else {
			a = s
		}
	}
	return (a + b) / 2
}
