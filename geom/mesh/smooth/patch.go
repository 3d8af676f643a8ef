package smooth

import (
	"barwise/geom"
	"barwise/geom/mesh"
)

// patch is one triangle's piece of the curved surface, as how far it stands off the flat triangle: the
// control points of a quartic in Bernstein form, less those of the flat. The corners stand off by
// nothing. Three on each edge come from the edge's cubic; each of the three inner ones is a blend of two, one
// for each edge that meets at its corner, so that along every edge the tangent plane is that of the edge's
// own two fields and does not depend on which of its triangles is asked: the surface has no kink
// there. After D. J. Walton and D. S. Meek, A triangular G1 patch from boundary curves, Computer-Aided
// Design 28(2), 1996.
type patch struct {
	edge  [3][3]geom.Vec3 // off the edge from corner k, in its order
	inner [3][2]geom.Vec3 // row next to edge k, the one near corner k and the one near corner k + 1
	flat  bool
}

// patch makes the patch of triangle t.
func (s *surface) patch(t int32) (p patch) {
	var d0, d1, e, n [3]geom.Vec3
	p.flat = true
	for k := range 3 {
		h := 3*t + int32(k)
		d0[k], d1[k] = s.along(h)
		a, b := s.E.Ends(h)
		e[k] = s.M.Vertices[b].Sub(s.M.Vertices[a])
		n[k] = s.normal[s.sectors.of[h]]
		p.flat = p.flat && s.curves[s.of[h]].rise == 0
	}
	if p.flat {
		return p
	}
	most := 0.0
	for k := range 3 {
		x1, x2 := d0[k].Sub(e[k]).Mul(1.0/3), e[k].Sub(d1[k]).Mul(1.0/3)
		p.edge[k] = [3]geom.Vec3{x1.Mul(0.75), x1.Add(x2).Mul(0.5), x2.Mul(0.75)}
		most = max(most, s.curves[s.of[3*t+int32(k)]].rise)
	}
	for k := range 3 {
		i, j := (k+1)%3, (k+2)%3
		// in the direction from the edge to the third corner
		from := d1[j].Mul(-0.25).Sub(d0[k].Mul(0.125))
		to := d0[i].Mul(0.25).Add(d1[k].Mul(0.125))
		level := e[j].Mul(-0.25).Sub(e[k].Mul(0.125))
		r1, r2 := rows(d0[k], e[k], d1[k], n[k], n[i], from, to)
		p.inner[k][0] = hold(p.edge[k][0].Add(p.edge[k][1]).Mul(0.5).Add(r1.Sub(level)), most)
		p.inner[k][1] = hold(p.edge[k][1].Add(p.edge[k][2]).Mul(0.5).Add(r2.Sub(level)), most)
	}
	return p
}

// rows returns the two middle control vectors of the derivative across an edge with the derivatives from
// and to at its ends. The derivative is λ·W + μ·A with λ and μ linear, W that along the edge and A a
// field square to it at the ends.
func rows(w0, e, w2, n0, n1, from, to geom.Vec3) (r1, r2 geom.Vec3) {
	w1 := e.Mul(3).Sub(w0).Sub(w2)
	a0, a2 := n0.Cross(w0).Unit(), n1.Cross(w2).Unit()
	a1 := a0.Add(a2).Unit()
	l0, l1 := from.Dot(w0)/w0.Dot(w0), to.Dot(w2)/w2.Dot(w2)
	m0, m1 := from.Dot(a0), to.Dot(a2)
	r1 = w1.Mul(2 * l0).Add(w0.Mul(l1)).Add(a1.Mul(2 * m0)).Add(a0.Mul(m1)).Mul(1.0 / 3)
	r2 = w1.Mul(2 * l1).Add(w2.Mul(l0)).Add(a1.Mul(2 * m1)).Add(a2.Mul(m0)).Mul(1.0 / 3)
	return r1, r2
}

// hold keeps an inner control point as near to the flat as the edges are to theirs. On a sphere its
// height is 5/3 of an edge's.
func hold(v geom.Vec3, most float64) geom.Vec3 {
	if l := v.Len(); l > 3*most {
		return v.Mul(3 * most / l)
	}
	return v
}

// weights are those of the fifteen control points at barycentric (u, v, w), in the order of controls.
func weights(u, v, w float64) (b [15]float64) {
	at := [3]float64{u, v, w}
	for k := range 3 {
		x, y := at[k], at[(k+1)%3]
		xy := x * y
		b[3*k], b[3*k+1], b[3*k+2] = 4*xy*x*x, 6*xy*xy, 4*xy*y*y
	}
	for k := range 3 {
		x, y, z := at[k], at[(k+1)%3], at[(k+2)%3]
		xyz := 12 * x * y * z
		if xyz == 0 {
			continue
		}
		// near corner k this edge, from k to k+1, has z = 0; the other one, from k+2 to k, has y = 0
		b[9+2*k] = xyz * x * y / (y + z)
		// near corner k + 1 the other edge, from k+1 to k+2, has x = 0
		b[10+2*k] = xyz * y * x / (x + z)
	}
	return b
}

// controls lists the fifteen.
func (p *patch) controls() (c [15]geom.Vec3) {
	for k := range 3 {
		copy(c[3*k:], p.edge[k][:])
		copy(c[9+2*k:], p.inner[k][:])
	}
	return c
}

// off is how far the patch stands off the flat at (u, v, w).
func (p *patch) off(u, v, w float64) geom.Vec3 {
	b := weights(u, v, w)
	c := p.controls()
	return blend(&b, &c)
}

func blend(b *[15]float64, c *[15]geom.Vec3) (r geom.Vec3) {
	for i := range b {
		r.X += float64(b[i] * c[i].X)
		r.Y += float64(b[i] * c[i].Y)
		r.Z += float64(b[i] * c[i].Z)
	}
	return r
}

// straight reports whether nothing curves along half-edge h as its triangle sees it: it may stay whole
// while the other two edges are cut.
func (s *surface) straight(h int32, chord, kink float64) bool {
	c := &s.curves[s.of[h]]
	a, b := s.E.Ends(h)
	l := s.M.Vertices[b].Sub(s.M.Vertices[a]).Len()
	over := s.bend[mesh.Next(h)] + s.bend[mesh.Prev(h)]
	return max(c.rise, over/8) <= 0.1*chord && (kink == 0 || over <= 0.1*kink*l)
}
