package cross

import (
	"barwise/geom"
	"barwise/geom/mesh"
)

// Two surfaces that pass through one another along an edge of one of them have no two triangles that
// do: each pair only touches along the edge. across finds these, and makes the pairs Through.

// across makes Through of the pairs that touch along an edge beyond which the surface goes on, on the
// other side.
func across(m *mesh.Mesh, list []Pair) {
	var e *mesh.Edges
	for i := range list {
		x := &list[i]
		if x.Kind != Touch {
			continue
		}
		p, q := corners(m, x.A), corners(m, x.B)
		sp, sq := side(&q, &p, 0), side(&p, &q, 0)
		ep, eq := lying(sp), lying(sq)
		if ep < 0 && eq < 0 {
			continue
		}
		if e == nil {
			e = m.Edges()
		}
		through := false
		switch {
		case eq < 0:
			through = sq.spread && beyond(m, e, &p, ep, x.A, &q, sp)
		case ep < 0:
			through = sp.spread && beyond(m, e, &q, eq, x.B, &p, sq)
		default:
			through = cleaves(m, e, &p, ep, x.A, &q, eq, x.B)
		}
		if through {
			x.Kind = Through
		}
	}
}

// lying returns the corner from which the edge runs that lies in the plane, −1 where none does or all do.
func lying(s shape) int {
	if s.plane {
		return -1
	}
	for i := range 3 {
		if s.sign[i] == 0 && s.sign[(i+1)%3] == 0 {
			return i
		}
	}
	return -1
}

// apex returns the corner of the triangle across edge i of triangle t that is not on the edge.
func apex(m *mesh.Mesh, e *mesh.Edges, t int32, i int) (geom.Vec3, bool) {
	g := e.Mate[3*t+int32(i)]
	if g == mesh.Border {
		return geom.Vec3{}, false
	}
	return m.Vertices[m.Triangles[g/3][mesh.Prev(g)%3]], true
}

// beyond reports whether edge i of p, which is triangle t, runs over the inside of q and has triangles
// strictly on both sides of q's plane.
func beyond(m *mesh.Mesh, e *mesh.Edges, p *tri, i int, t int32, q *tri, s shape) bool {
	far, ok := apex(m, e, t, i)
	if !ok || geom.Orient3D(q[0], q[1], q[2], far)*int(s.sign[(i+2)%3]) >= 0 {
		return false
	}
	v := facing(q)
	a, b := p[i], p[(i+1)%3]
	for k := range 3 {
		c, d := q[k], q[(k+1)%3]
		if v.orient(c, d, a)*v.sign <= 0 && v.orient(c, d, b)*v.sign <= 0 {
			return false
		}
	}
	return true
}

// cleaves reports whether edge i of p and edge j of q have a length in common about which the triangles
// of p lie one inside and one outside of the wedge of those of q.
func cleaves(m *mesh.Mesh, e *mesh.Edges, p *tri, i int, tp int32, q *tri, j int, tq int32) bool {
	a, b := p[i], p[(i+1)%3]
	if !share(a, b, q[j], q[(j+1)%3]) {
		return false
	}
	p2, ok := apex(m, e, tp, i)
	q2, ok2 := apex(m, e, tq, j)
	if !ok || !ok2 {
		return false
	}
	q1 := q[(j+2)%3]
	x, y := sector(a, b, q1, q2, p[(i+2)%3]), sector(a, b, q1, q2, p2)
	return x*y < 0
}

// share reports whether two segments of one line have a length in common.
func share(a, b, c, d geom.Vec3) bool {
	switch {
	case a.X != b.X:
		return max(min(a.X, b.X), min(c.X, d.X)) < min(max(a.X, b.X), max(c.X, d.X))
	case a.Y != b.Y:
		return max(min(a.Y, b.Y), min(c.Y, d.Y)) < min(max(a.Y, b.Y), max(c.Y, d.Y))
	}
	return max(min(a.Z, b.Z), min(c.Z, d.Z)) < min(max(a.Z, b.Z), max(c.Z, d.Z))
}

// sector is 1 where x, turning about line ab, lies strictly between u and w on the way counter-clockwise
// from u to w, −1 strictly on the way back, 0 on one of the two, or where these coincide.
func sector(a, b, u, w, x geom.Vec3) int {
	ux, xw, uw := geom.Orient3D(a, b, u, x), geom.Orient3D(a, b, x, w), geom.Orient3D(a, b, u, w)
	if ux == 0 && alike(a, b, u, x) || xw == 0 && alike(a, b, x, w) {
		return 0
	}
	in := false
	switch {
	case uw > 0:
		in = ux > 0 && xw > 0
	case uw < 0:
		in = ux > 0 || xw > 0 || ux == 0 || xw == 0
	case alike(a, b, u, w):
		return 0
	default:
		in = ux > 0
	}
	if in {
		return 1
	}
	return -1
}

// alike reports whether u and x, in one plane with line ab, lie on one side of it.
func alike(a, b, u, x geom.Vec3) bool {
	v := facing(&tri{a, b, u})
	return v.orient(a, b, x) == v.sign
}
