package proof

import (
	"math"

	"barwise/geom"
)

// A ball with everything above its centre is the half-line that rises from the centre, grown by R. So
// how deep a triangle lies in it is R less the distance of the triangle from that half-line, a convex
// function of the place of the centre, and the nearest the two come on a straight way is a
// one-dimensional convex minimum.

// ballWay is a ball's centre on a straight way, with everything above it, held against a solid.
type ballWay struct {
	s              *solid
	p, q           geom.Vec3 // side frame
	pp, pq, up     geom.Vec3 // part frame
	x0, x1, y0, y1 float64
	z0             float64 // the lowest centre
	need           float64 // how near a triangle must come to count
	at             geom.Vec3
	found          bool
}

func newBallWay(s *solid, p, q geom.Vec3, need float64) ballWay {
	return ballWay{s: s, p: p, q: q, pp: s.turn.ToPart(p), pq: s.turn.ToPart(q), up: s.turn.Facing(), need: need,
		x0: min(p.X, q.X), x1: max(p.X, q.X), y0: min(p.Y, q.Y), y1: max(p.Y, q.Y), z0: min(p.Z, q.Z)}
}

// gap is how near a box comes to the half-lines that rise from the way, squared.
func (w *ballWay) gap(nd *node) float64 {
	dx := max(0, float64(nd.lo[0])-w.x1, w.x0-float64(nd.hi[0]))
	dy := max(0, float64(nd.lo[1])-w.y1, w.y0-float64(nd.hi[1]))
	dz := max(0, w.z0-float64(nd.hi[2]))
	return float64(dx*dx) + float64(dy*dy) + float64(dz*dz)
}

// off reports whether the coin of branch i shows it to be out of reach.
func (w *ballWay) off(i int32, nd *node) bool {
	return nd.right < i+coinSpan && w.s.coins[i].clearOf(w.pp, w.pq, w.up, w.need, float64(nd.hi[2]) > w.z0)
}

// search looks for the triangle that comes nearest, or with any for one that is near enough, in the
// branches given: no more than aheadMost.
func (w *ballWay) search(from []int32, any bool) {
	s := w.s
	var stack [64 + aheadMost]int32
	n := 0
	for _, i := range from {
		if w.gap(&s.nodes[i]) < float64(w.need*w.need) {
			stack[n] = i
			n++
		}
	}
	for n > 0 {
		n--
		i := stack[n]
		nd := &s.nodes[i]
		if w.off(i, nd) {
			continue
		}
		if nd.right < 0 {
			if w.leaf(nd); any && w.found {
				return
			}
			continue
		}
		a, b := i+1, nd.right
		ga, gb := w.gap(&s.nodes[a]), w.gap(&s.nodes[b])
		if ga > gb { // the nearer one first
			a, b, ga, gb = b, a, gb, ga
		}
		if gb < float64(w.need*w.need) {
			stack[n] = b
			n++
		}
		if ga < float64(w.need*w.need) {
			stack[n] = a
			n++
		}
	}
}

const (
	aheadPieces = 16 // the most pieces that are looked ahead
	aheadMost   = 32 // the most branches that they may meet
)

// root is the whole tree, as branches to search.
var root = []int32{0}

// ahead is the branches that the pieces up to one may meet, found in one go so that each need not come
// down the whole tree.
type ahead struct {
	to       int
	branches []int32
}

// look finds the branches for the pieces of a ball from the given one on, of which the centre's way is
// lift above the tip's. The box about the whole way stands for it.
func (h *ahead) look(s *solid, c *chain, from, end int, lift, need float64) {
	h.to, h.branches = min(from+aheadPieces, end), h.branches[:0]
	w := newBallWay(s, c.pts[from], c.pts[from], need)
	for _, p := range c.pts[from+1 : h.to+1] {
		w.x0, w.x1, w.y0, w.y1, w.z0 = min(w.x0, p.X), max(w.x1, p.X), min(w.y0, p.Y), max(w.y1, p.Y), min(w.z0, p.Z)
	}
	w.z0 += lift
	var stack [64]int32
	n := 1
	for n > 0 {
		n--
		i := stack[n]
		nd := &s.nodes[i]
		if w.gap(nd) >= float64(need*need) {
			continue
		}
		if nd.right < i+coinSpan {
			if len(h.branches) == aheadMost {
				h.branches = append(h.branches[:0], root...)
				return
			}
			h.branches = append(h.branches, i)
			continue
		}
		stack[n], stack[n+1] = nd.right, i+1
		n += 2
	}
}

func (w *ballWay) leaf(nd *node) {
	s := w.s
	for j := nd.first; j < nd.first-nd.right; j++ {
		v := s.tris[j]
		t := tri{s.v[v[0]], s.v[v[1]], s.v[v[2]]}
		dx := max(0, min(t.a.X, t.b.X, t.c.X)-w.x1, w.x0-max(t.a.X, t.b.X, t.c.X))
		dy := max(0, min(t.a.Y, t.b.Y, t.c.Y)-w.y1, w.y0-max(t.a.Y, t.b.Y, t.c.Y))
		dz := max(0, w.z0-max(t.a.Z, t.b.Z, t.c.Z))
		if float64(dx*dx)+float64(dy*dy)+float64(dz*dz) >= float64(w.need*w.need) {
			continue
		}
		if beyond(&t, w.p, w.q, w.need) {
			continue
		}
		w.meet(&t)
	}
}

// meet holds the way against one triangle.
func (w *ballWay) meet(t *tri) {
	if d, u, ok := approach(t, w.p, w.q, w.need); ok && d < w.need {
		w.need, w.found = d, true
		w.at = nearest(t, w.p.Lerp(w.q, u))
	}
}

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
