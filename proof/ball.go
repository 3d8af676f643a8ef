package proof

import (
	"math"

	"barwise/geom"
)

// A ball with everything above its centre is the half-line that rises from the centre, grown by R. So
// how deep a triangle lies in it is R less the distance of the triangle from that half-line, a convex
// function of the place of the centre, and the nearest the two come on a straight way is a
// one-dimensional convex minimum.

// shaft returns the distance from the half-line rising from c to the triangle, with the unit vector
// from the triangle to it. Let q be the triangle's point nearest to c. Where q is no higher than c,
// lifting c takes it away, and |c − q| is the distance. Where q is higher, the nearest place of the
// whole vertical line lies above c, so the distance is that seen from above.
func shaft(t *tri, c geom.Vec3) (d float64, g geom.Vec3) {
	q := nearest(t, c)
	if q.Z <= c.Z {
		g = c.Sub(q)
		d = g.Len()
		if d > 0 {
			g = g.Mul(1 / d)
		}
		return d, g
	}
	d, gx, gy := dist2(t, c.X, c.Y)
	return d, geom.Vec3{X: gx, Y: gy}
}

// approach returns how near the half-line comes to the triangle while its foot moves straight from p to
// q, where that is less than need, and at what part of the way; otherwise ok is false, proved by
// tangents from both ends.
func approach(t *tri, p, q geom.Vec3, need float64) (best, at float64, ok bool) {
	u := q.Sub(p)
	eval := func(s float64) (d, slope float64) {
		d, g := shaft(t, p.Lerp(q, s))
		return d, g.Dot(u)
	}
	d0, s0 := eval(0)
	best, at = d0, 0
	if s0 >= 0 || d0 == 0 {
		return best, at, best < need
	}
	if d0+s0 >= need {
		return 0, 0, false
	}
	d1, s1 := eval(1)
	if d1 < best {
		best, at = d1, 1
	}
	if s1 <= 0 || d1 == 0 {
		return best, at, best < need
	}
	a, b := 0.0, 1.0
	for range 100 {
		s := min(max((d1-d0+float64(s0*a)-float64(s1*b))/(s0-s1), a), b)
		lower := d0 + float64(s0*(s-a))
		if lower >= need {
			return 0, 0, false
		}
		if best-lower < 1e-9 {
			break
		}
		d, sl := eval(s)
		if d < best {
			best, at = d, s
		}
		if d == 0 || sl == 0 {
			break
		}
		if sl < 0 {
			a, d0, s0 = s, d, sl
		} else {
			b, d1, s1 = s, d, sl
		}
	}
	return best, at, best < need
}

// nearest is the point of the triangle nearest to p, by the regions of Voronoi (Ericson, Real-Time
// Collision Detection, §5.1.5). A triangle without area is taken as its edges.
func nearest(t *tri, p geom.Vec3) geom.Vec3 {
	ab, ac, ap := t.b.Sub(t.a), t.c.Sub(t.a), p.Sub(t.a)
	d1, d2 := ab.Dot(ap), ac.Dot(ap)
	if d1 <= 0 && d2 <= 0 {
		return t.a
	}
	bp := p.Sub(t.b)
	d3, d4 := ab.Dot(bp), ac.Dot(bp)
	if d3 >= 0 && d4 <= d3 {
		return t.b
	}
	vc := float64(d1*d4) - float64(d3*d2)
	if vc <= 0 && d1 >= 0 && d3 <= 0 && d1 > d3 {
		return t.a.Add(ab.Mul(d1 / (d1 - d3)))
	}
	cp := p.Sub(t.c)
	d5, d6 := ab.Dot(cp), ac.Dot(cp)
	if d6 >= 0 && d5 <= d6 {
		return t.c
	}
	vb := float64(d5*d2) - float64(d1*d6)
	if vb <= 0 && d2 >= 0 && d6 <= 0 && d2 > d6 {
		return t.a.Add(ac.Mul(d2 / (d2 - d6)))
	}
	va := float64(d3*d6) - float64(d5*d4)
	if va <= 0 && d4-d3 >= 0 && d5-d6 >= 0 && d4-d3+(d5-d6) > 0 {
		return t.b.Add(t.c.Sub(t.b).Mul((d4 - d3) / (d4 - d3 + (d5 - d6))))
	}
	// va + vb + vc is (2·area)²: below a sine of 1e-6 the edges say the same within a millionth of them
	if sum := va + vb + vc; sum > 1e-12*float64(ab.Dot(ab)*ac.Dot(ac)) {
		return t.a.Add(ab.Mul(vb / sum)).Add(ac.Mul(vc / sum))
	}
	return nearestEdge(t, p)
}

func nearestEdge(t *tri, p geom.Vec3) geom.Vec3 {
	best, out := math.Inf(1), t.a
	for _, e := range [3][2]geom.Vec3{{t.a, t.b}, {t.b, t.c}, {t.c, t.a}} {
		u := e[1].Sub(e[0])
		w, l := 0.0, u.Dot(u)
		if l > 0 {
			w = min(max(p.Sub(e[0]).Dot(u)/l, 0), 1)
		}
		q := e[0].Add(u.Mul(w))
		if d := p.Sub(q); d.Dot(d) < best {
			best, out = d.Dot(d), q
		}
	}
	return out
}
