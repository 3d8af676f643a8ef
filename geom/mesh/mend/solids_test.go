package mend

import (
	"math"
	"math/rand/v2"

	"barwise/geom"
	"barwise/geom/mesh"
)

// wall is the side of a prism of height h over a polygon, counter-clockwise, cut across k times; its
// two ends are open.
func wall(poly []geom.Vec2, h float64, k int) *mesh.Mesh {
	m := &mesh.Mesh{}
	n := len(poly)
	for j := range k + 1 {
		for _, p := range poly {
			m.Vertices = append(m.Vertices, v(p.X, p.Y, h*float64(j)/float64(k)))
		}
	}
	for j := range k {
		for i := range n {
			a, b := int32(j*n+i), int32(j*n+(i+1)%n)
			c, d := b+int32(n), a+int32(n)
			m.Triangles = append(m.Triangles, [3]int32{a, b, c}, [3]int32{a, c, d})
		}
	}
	return m
}

// gear is the outline of a wheel with n square teeth between two radii, counter-clockwise, with points
// in the middle of its edges too: concave, with corners in one line.
func gear(n int, low, high float64) []geom.Vec2 {
	var p []geom.Vec2
	for i := range 4 * n {
		r := low
		if i%4 >= 2 {
			r = high
		}
		s, c := math.Sincos(2 * math.Pi * float64(i) / float64(4*n))
		p = append(p, geom.Vec2{X: r * c, Y: r * s})
	}
	var out []geom.Vec2
	for i, a := range p {
		out = append(out, a, a.Add(p[(i+1)%len(p)]).Mul(0.5))
	}
	return out
}

// shoelace is the area of a polygon.
func shoelace(p []geom.Vec2) float64 {
	a := 0.0
	for i := range p {
		a += p[i].Cross(p[(i+1)%len(p)]) / 2
	}
	return a
}

// without returns m lacking the triangles that drop names.
func without(m *mesh.Mesh, drop func(i int) bool) *mesh.Mesh {
	out := &mesh.Mesh{Vertices: m.Vertices}
	for i, t := range m.Triangles {
		if !drop(i) {
			out.Triangles = append(out.Triangles, t)
		}
	}
	return out
}

// exploded gives every triangle vertices of its own, shifted by up to d along each axis.
func exploded(m *mesh.Mesh, d float64, r *rand.Rand) *mesh.Mesh {
	out := &mesh.Mesh{}
	for i := range m.Triangles {
		a, b, c := m.Corners(i)
		n := int32(len(out.Vertices))
		for _, p := range []geom.Vec3{a, b, c} {
			x := func() float64 { return d * (2*r.Float64() - 1) }
			out.Vertices = append(out.Vertices, p.Add(v(x(), x(), x())))
		}
		out.Triangles = append(out.Triangles, [3]int32{n, n + 1, n + 2})
	}
	return out
}

// census counts the triangles of a mesh by the places of their corners, whichever corner is first.
func census(m *mesh.Mesh) map[[3]geom.Vec3]int {
	out := map[[3]geom.Vec3]int{}
	less := func(a, b geom.Vec3) bool {
		if a.X != b.X {
			return a.X < b.X
		}
		if a.Y != b.Y {
			return a.Y < b.Y
		}
		return a.Z < b.Z
	}
	for i := range m.Triangles {
		a, b, c := m.Corners(i)
		for less(b, a) || less(c, a) {
			a, b, c = b, c, a
		}
		out[[3]geom.Vec3{a, b, c}]++
	}
	return out
}

func same(a, b *mesh.Mesh) bool {
	x, y := census(a), census(b)
	if len(x) != len(y) {
		return false
	}
	for k, n := range x {
		if y[k] != n {
			return false
		}
	}
	return true
}
