package cusp

import (
	"math"

	"barwise/geom"
)

// pushes is how often a ball is pushed out of the surface at most.
const pushes = 12

// best is how near, at best, a ball of radius r comes to a point of the surface without entering it: 0 but in
// hollows narrower than the ball. The ball begins where it would touch the point and is pushed out of what it
// enters most, time and again. It may end somewhat farther off than it need: what is told is no less than
// the least.
func (w *worker) best(s spot, n geom.Vec3, r float64) float64 {
	w.about(s, 2*r, 6000)
	c := s.p.Add(n.Mul(r))
	start := c
	w.near = w.near[:0]
	for _, t := range w.round {
		a, b, d := w.m.Corners(int(t))
		if closest(start, a, b, d).Sub(start).Len() < 1.3*r {
			w.near = append(w.near, t)
		}
	}
	for range pushes {
		deep, to := 1e-5, c
		for _, t := range w.near {
			a, b, d := w.m.Corners(int(t))
			e := c.Sub(closest(c, a, b, d))
			l := e.Len()
			if l >= r-deep || l < 1e-9 {
				continue
			}
			f := w.cross(t)
			if e.Dot(f) <= 0 {
				continue // from behind: another sheet
			}
			deep = r - l
			to = c.Add(e.Mul(deep / l))
		}
		if to == c {
			break
		}
		c = to
	}
	return max(0, c.Sub(s.p).Len()-r)
}

// closest is the point of a triangle nearest to p, by the regions of Voronoi (Ericson, Real-Time
// Collision Detection, §5.1.5).
func closest(p, a, b, c geom.Vec3) geom.Vec3 {
	ab, ac, ap := b.Sub(a), c.Sub(a), p.Sub(a)
	d1, d2 := ab.Dot(ap), ac.Dot(ap)
	if d1 <= 0 && d2 <= 0 {
		return a
	}
	bp := p.Sub(b)
	d3, d4 := ab.Dot(bp), ac.Dot(bp)
	if d3 >= 0 && d4 <= d3 {
		return b
	}
	vc := float64(d1*d4) - float64(d3*d2)
	if vc <= 0 && d1 >= 0 && d3 <= 0 {
		return a.Lerp(b, ratio(d1, d1-d3))
	}
	cp := p.Sub(c)
	d5, d6 := ab.Dot(cp), ac.Dot(cp)
	if d6 >= 0 && d5 <= d6 {
		return c
	}
	vb := float64(d5*d2) - float64(d1*d6)
	if vb <= 0 && d2 >= 0 && d6 <= 0 {
		return a.Lerp(c, ratio(d2, d2-d6))
	}
	va := float64(d3*d6) - float64(d5*d4)
	if va <= 0 && d4 >= d3 && d5 >= d6 {
		return b.Lerp(c, ratio(d4-d3, d4-d3+d5-d6))
	}
	k := 1 / (va + vb + vc)
	return a.Add(ab.Mul(vb * k)).Add(ac.Mul(vc * k))
}

func ratio(a, b float64) float64 {
	if !(math.Abs(b) > 0) {
		return 0
	}
	return a / b
}
