package cross

import (
	"barwise/geom"
)

// Kind is how two triangles meet beyond a corner or an edge that they share.
type Kind uint8

// The three kinds, told apart exactly.
const (
	// Through: the surface passes through itself there. Each triangle has points strictly on both sides
	// of the other's plane, and a piece of their common line lies inside both; or an edge of one or both
	// runs along such a piece, and the surface goes on beyond it on the other side.
	Through Kind = 1 + iota
	// Over: they lie in one plane and have an area in common: a fold, a duplicate, faces of two solids
	// on one another.
	Over
	// Touch: all other ways to meet: a corner or an edge of one on the other and the surface turns back,
	// or edges that meet in a point.
	Touch
)

func (k Kind) String() string { return [...]string{"apart", "through", "over", "touch"}[k] }

type tri [3]geom.Vec3

// shape is how a triangle lies to another one's plane.
type shape struct {
	sign          [3]int8
	above, below  bool // some corner is
	plane, spread bool // all corners are in it; there are corners strictly on both sides
}

func side(of, p *tri, known int) shape {
	var s shape
	for i := range p {
		if i < known {
			continue // shared corners lie in the plane
		}
		s.sign[i] = int8(geom.Orient3D(of[0], of[1], of[2], p[i]))
		s.above = s.above || s.sign[i] > 0
		s.below = s.below || s.sign[i] < 0
	}
	s.plane = !s.above && !s.below
	s.spread = s.above && s.below
	return s
}

// meet tells how triangles p and q meet beyond the first shared corners of both, which are the same
// points in the same order; 0 where they do not. Neither may be degenerate.
func meet(p, q *tri, shared int) Kind {
	switch shared {
	case 0:
		if parted(p, q) {
			return 0
		}
	case 3:
		return Over
	case 2:
		return acrossEdge(p, q)
	case 1:
		// they meet beyond the corner, if at all, where the edge opposite to it of one meets the other:
		// what they have in common is convex and a ray from the corner leaves one of the two first
		if apart(p[1], p[2], q) && apart(q[1], q[2], p) || fanned(p, q) {
			return 0
		}
	}
	sq := side(p, q, shared)
	if !sq.spread && (shared == 0 && oneSide(sq) || shared == 1 && sq.sign[1]*sq.sign[2] > 0) {
		return 0
	}
	if sq.plane {
		return inPlane(p, q, shared)
	}
	sp := side(q, p, shared)
	if !sp.spread && (shared == 0 && oneSide(sp) || shared == 1 && sp.sign[1]*sp.sign[2] > 0) {
		return 0
	}
	if sp.spread && sq.spread && lace(p, q, sp, sq) {
		return Through
	}
	if touches(p, q, sp, shared) || touches(q, p, sq, shared) {
		return Touch
	}
	return 0
}

// oneSide reports whether all three corners are strictly on one side.
func oneSide(s shape) bool {
	n := s.sign[0] + s.sign[1] + s.sign[2]
	return n == 3 || n == -3
}

// apart reports that the boxes of a segment and a triangle do not meet.
func apart(a, b geom.Vec3, t *tri) bool {
	return max(a.X, b.X) < min(t[0].X, t[1].X, t[2].X) || min(a.X, b.X) > max(t[0].X, t[1].X, t[2].X) ||
		max(a.Y, b.Y) < min(t[0].Y, t[1].Y, t[2].Y) || min(a.Y, b.Y) > max(t[0].Y, t[1].Y, t[2].Y) ||
		max(a.Z, b.Z) < min(t[0].Z, t[1].Z, t[2].Z) || min(a.Z, b.Z) > max(t[0].Z, t[1].Z, t[2].Z)
}

// parted reports whether an edge of p, seen as in fanned, has all of q strictly on its outer side.
func parted(p, q *tri) bool {
	v := facing(p)
	for i := range 3 {
		a, b := p[i], p[(i+1)%3]
		if v.orient(a, b, q[0])*v.sign < 0 && v.orient(a, b, q[1])*v.sign < 0 && v.orient(a, b, q[2])*v.sign < 0 {
			return true
		}
	}
	return false
}

// fanned reports whether a line through the shared corner, along an edge of one of two triangles, parts
// them as they are seen along an axis from which the first is not edge-on: one on one side of it or on
// it, the other but for the corner strictly on the other. Then they have only the corner in common. It
// settles most neighbours in flat faces, which the planes do not.
func fanned(p, q *tri) bool {
	v := facing(p)
	o := p[0]
	p1q1, p1q2 := v.orient(o, p[1], q[1])*v.sign, v.orient(o, p[1], q[2])*v.sign
	if p1q1 < 0 && p1q2 < 0 {
		return true
	}
	p2q1, p2q2 := v.orient(o, p[2], q[1])*v.sign, v.orient(o, p[2], q[2])*v.sign
	if p2q1 > 0 && p2q2 > 0 {
		return true
	}
	// of q's edges: orient(o, q, p) is −orient(o, p, q)
	s := v.orient(o, q[1], q[2]) * v.sign
	return s > 0 && (p1q1 > 0 && p2q1 > 0 || p1q2 < 0 && p2q2 < 0) || s < 0 && (p1q1 < 0 && p2q1 < 0 || p1q2 > 0 && p2q2 > 0)
}

// acrossEdge judges triangles on one edge: they meet beyond it only where they lie in one plane with
// their third corners on one side of the edge. Seen along an axis from which the first is not edge-on,
// third corners on two sides settle it without a look at the planes.
func acrossEdge(p, q *tri) Kind {
	v := facing(p)
	if v.orient(q[0], q[1], q[2]) != v.sign {
		return 0
	}
	if geom.Orient3D(p[0], p[1], p[2], q[2]) != 0 {
		return 0
	}
	return Over
}

// view drops the coordinate along which a triangle is seen with an area.
type view struct {
	axis int
	sign int // of the triangle in the view
}

func drop(p geom.Vec3, axis int) geom.Vec2 {
	switch axis {
	case 0:
		return geom.Vec2{X: p.Y, Y: p.Z}
	case 1:
		return geom.Vec2{X: p.Z, Y: p.X}
	}
	return geom.Vec2{X: p.X, Y: p.Y}
}

func (v view) orient(a, b, c geom.Vec3) int {
	return geom.Orient2D(drop(a, v.axis), drop(b, v.axis), drop(c, v.axis))
}

// facing finds the view, beginning with the axis the triangle faces most; sign is 0 where it is
// degenerate, for then its corners are on one line along every axis.
func facing(p *tri) view {
	n := p[1].Sub(p[0]).Cross(p[2].Sub(p[0]))
	ax, ay, az := abs(n.X), abs(n.Y), abs(n.Z)
	first := 2
	if ax >= ay && ax >= az {
		first = 0
	} else if ay >= az {
		first = 1
	}
	for k := range 3 {
		v := view{axis: (first + k) % 3}
		if v.sign = v.orient(p[0], p[1], p[2]); v.sign != 0 {
			return v
		}
	}
	return view{}
}

func abs(x float64) float64 {
	if x < 0 {
		return -x
	}
	return x
}

// inPlane judges triangles of one plane.
func inPlane(p, q *tri, shared int) Kind {
	v := facing(p)
	w := view{v.axis, v.orient(q[0], q[1], q[2])}
	if !split(v, p, q) && !split(w, q, p) {
		return Over
	}
	for i := range 3 {
		if shared == 1 && i != 1 {
			continue // only the edge opposite to the shared corner
		}
		if v.reaches(p[i], p[(i+1)%3], q, w.sign) || w.reaches(q[i], q[(i+1)%3], p, v.sign) {
			return Touch
		}
	}
	return 0
}

// split reports whether some edge of p has q on its outer side, or on it: the insides of two convex
// shapes are apart exactly where an edge of one of them does so.
func split(v view, p, q *tri) bool {
	for i := range 3 {
		a, b := p[i], p[(i+1)%3]
		if v.orient(a, b, q[0])*v.sign <= 0 && v.orient(a, b, q[1])*v.sign <= 0 && v.orient(a, b, q[2])*v.sign <= 0 {
			return true
		}
	}
	return false
}

// holds reports whether the closed triangle t, of the given sign in the view, holds a of its plane.
func (v view) holds(a geom.Vec3, t *tri, sign int) bool {
	for i := range 3 {
		if v.orient(t[i], t[(i+1)%3], a)*sign < 0 {
			return false
		}
	}
	return true
}

// reaches reports whether segment ab meets the closed triangle t of the same plane: an end lies in t or
// the segment meets an edge.
func (v view) reaches(a, b geom.Vec3, t *tri, sign int) bool {
	if v.holds(a, t, sign) || v.holds(b, t, sign) {
		return true
	}
	for i := range 3 {
		if v.cut(a, b, t[i], t[(i+1)%3]) {
			return true
		}
	}
	return false
}

// cut reports whether closed segments ab and cd meet, given that neither end of ab lies on cd.
func (v view) cut(a, b, c, d geom.Vec3) bool {
	sa, sb := v.orient(c, d, a), v.orient(c, d, b)
	if sa*sb >= 0 {
		return false // an end on the line but not on the segment leaves no way to meet it, or both do
	}
	return v.orient(a, b, c)*v.orient(a, b, d) <= 0
}

// touches reports whether an edge of p meets the closed triangle q, s being how p lies to q's plane. Of
// triangles with a shared corner only the edge opposite to it counts.
func touches(p, q *tri, s shape, shared int) bool {
	for i := range 3 {
		if shared == 1 && i != 1 {
			continue
		}
		j := (i + 1) % 3
		a, b := p[i], p[j]
		sa, sb := s.sign[i], s.sign[j]
		switch {
		case sa*sb > 0:
		case sa == 0 && sb == 0:
			v := facing(q)
			if v.reaches(a, b, q, v.sign) {
				return true
			}
		case sa == 0 || sb == 0:
			if sb == 0 {
				a = b
			}
			v := facing(q)
			if v.holds(a, q, v.sign) {
				return true
			}
		default:
			x := geom.Orient3D(a, b, q[0], q[1])
			y := geom.Orient3D(a, b, q[1], q[2])
			z := geom.Orient3D(a, b, q[2], q[0])
			if x >= 0 && y >= 0 && z >= 0 || x <= 0 && y <= 0 && z <= 0 {
				return true
			}
		}
	}
	return false
}

// lace reports whether the open pieces that two triangles cut out of their common line overlap, each
// lying strictly on both sides of the other. The ends of the pieces are compared by orientations of two
// edges each, as in Guigue and Devillers, J. Graphics Tools 8 (2003).
func lace(p, q *tri, sp, sq shape) bool {
	a, pUp := lone(p, sp)
	b, qUp := lone(q, sq)
	// with the lone corner of each above the plane of the other both pieces run the same way
	if !pUp {
		b[1], b[2] = b[2], b[1]
	}
	if !qUp {
		a[1], a[2] = a[2], a[1]
	}
	return geom.Orient3D(a[0], a[1], b[0], b[1]) < 0 && geom.Orient3D(a[0], a[2], b[2], b[0]) < 0
}

// lone turns a triangle so that its first corner is the only one strictly on its side of the plane, and
// says whether that side is above. The order of the corners round the triangle stays.
func lone(p *tri, s shape) (tri, bool) {
	ups, downs := 0, 0
	for _, k := range s.sign {
		if k > 0 {
			ups++
		} else if k < 0 {
			downs++
		}
	}
	want := int8(1)
	if ups != 1 {
		want = -1
	}
	for i, k := range s.sign {
		if k == want {
			return tri{p[i], p[(i+1)%3], p[(i+2)%3]}, want > 0
		}
	}
	return *p, true
}
