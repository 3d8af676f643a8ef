package cl

import (
	"math"

	"barwise/geom"
)

var noHeight = math.Inf(-1)

// touch is where a cutter that comes down stops: its tip's height, the touched point, and the facet's
// upward normal where the contact lies inside the facet (zero on an edge or at a vertex).
type touch struct {
	z      float64
	point  geom.Vec3
	normal geom.Vec3
}

// triangle returns Z(x, y) = max over the triangle's points q of z(q) − h(|xy − q|), −Inf where the
// triangle lies outside the cutter's reach. It looks at the facet's own contact, which is the maximum
// if it falls inside, else at the three edges with their ends.
func (s *shape) triangle(a, b, c geom.Vec3, x, y float64) touch {
	best := touch{z: noHeight}
	if s.facet(a, b, c, x, y, &best) {
		return best
	}
	s.edge(a, b, x, y, &best)
	s.edge(b, c, x, y, &best)
	s.edge(c, a, x, y, &best)
	return best
}

// facet raises best to the facet's own contact and reports whether that lies inside the triangle.
func (s *shape) facet(a, b, c geom.Vec3, x, y float64, best *touch) bool {
	u, v := b.Sub(a), c.Sub(a)
	n := u.Cross(v)
	if n.Z == 0 {
		return false
	}
	if n.Z < 0 {
		n = n.Mul(-1)
		b, c = c, b
	}
	h := math.Sqrt(float64(n.X*n.X) + float64(n.Y*n.Y))
	r, drop := s.profile.Contact(h / n.Z)
	qx, qy := x, y
	if h > 0 {
		qx -= float64(r * (n.X / h))
		qy -= float64(r * (n.Y / h))
	} else {
		drop = 0
	}
	q := geom.Vec2{X: qx, Y: qy}
	if !insideCCW(a.XY(), b.XY(), c.XY(), q) {
		return false
	}
	// the plane's height, between the triangle's own so that a steep plane cannot run away
	z := a.Z - (float64(n.X*(qx-a.X))+float64(n.Y*(qy-a.Y)))/n.Z
	z = min(max(z, min(a.Z, b.Z, c.Z)), max(a.Z, b.Z, c.Z))
	if z-drop > best.z {
		*best = touch{z: z - drop, point: geom.Vec3{X: qx, Y: qy, Z: z}, normal: n.Unit()}
	}
	return true
}

func insideCCW(a, b, c, q geom.Vec2) bool {
	return b.Sub(a).Cross(q.Sub(a)) >= 0 && c.Sub(b).Cross(q.Sub(b)) >= 0 && a.Sub(c).Cross(q.Sub(c)) >= 0
}

// edge raises best to what the segment from a to b allows, ends included.
func (s *shape) edge(a, b geom.Vec3, x, y float64, best *touch) {
	ex, ey := b.X-a.X, b.Y-a.Y
	l := math.Sqrt(float64(ex*ex) + float64(ey*ey))
	if l <= 1e-13*(math.Abs(a.X)+math.Abs(a.Y)) || l < 1e-150 {
		// upright or a point: the axis is equally far from all of it, so its top decides
		s.vertex(a, x, y, best)
		s.vertex(b, x, y, best)
		return
	}
	ex /= l
	ey /= l
	dx, dy := x-a.X, y-a.Y
	foot := float64(dx*ex) + float64(dy*ey)
	d := math.Abs(float64(dy*ex) - float64(dx*ey))
	if !(d <= s.rad) {
		return
	}
	reach := math.Sqrt(float64((s.rad - d) * (s.rad + d)))
	lo, hi := max(0, foot-reach), min(l, foot+reach)
	if !(lo <= hi) {
		return
	}
	m := (b.Z - a.Z) / l
	at := foot + math.Copysign(s.along(math.Abs(m), d), m)
	at = min(max(at, lo), hi)
	off := at - foot
	r := min(math.Sqrt(float64(d*d)+float64(off*off)), s.rad)
	t := at / l
	q := geom.Vec3{X: a.X + float64(ex*at), Y: a.Y + float64(ey*at), Z: a.Z + float64((b.Z-a.Z)*t)}
	if t == 1 {
		q = b
	}
	if z := q.Z - s.height(r); z > best.z {
		*best = touch{z: z, point: q}
	}
}

// vertex raises best to what the point allows.
func (s *shape) vertex(v geom.Vec3, x, y float64, best *touch) {
	dx, dy := x-v.X, y-v.Y
	r := math.Sqrt(float64(dx*dx) + float64(dy*dy))
	if !(r <= s.rad) {
		return
	}
	if z := v.Z - s.height(r); z > best.z {
		*best = touch{z: z, point: v}
	}
}
