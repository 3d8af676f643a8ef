package proof

import (
	"math"

	"barwise/geom"
	"barwise/geom/mesh"
)

// boxMesh is a closed box.
func boxMesh(lo, hi geom.Vec3) *mesh.Mesh {
	m := &mesh.Mesh{}
	for k := range 8 {
		p := lo
		if k&1 != 0 {
			p.X = hi.X
		}
		if k&2 != 0 {
			p.Y = hi.Y
		}
		if k&4 != 0 {
			p.Z = hi.Z
		}
		m.Vertices = append(m.Vertices, p)
	}
	for _, q := range [6][4]int32{{0, 2, 3, 1}, {4, 5, 7, 6}, {0, 1, 5, 4}, {2, 6, 7, 3}, {0, 4, 6, 2}, {1, 3, 7, 5}} {
		m.Triangles = append(m.Triangles, [3]int32{q[0], q[1], q[2]}, [3]int32{q[0], q[2], q[3]})
	}
	return m
}

// sphereMesh is a sphere of n bands and 2n sectors; its vertices lie on it.
func sphereMesh(c geom.Vec3, r float64, n int) *mesh.Mesh {
	m := &mesh.Mesh{}
	at := func(i, j int) int32 { return int32(i*2*n + j%(2*n)) }
	for i := range n + 1 {
		for j := range 2 * n {
			st, ct := math.Sincos(math.Pi * float64(i) / float64(n))
			sp, cp := math.Sincos(math.Pi * float64(j) / float64(n))
			m.Vertices = append(m.Vertices, c.Add(geom.Vec3{X: r * st * cp, Y: r * st * sp, Z: r * ct}))
		}
	}
	for i := range n {
		for j := range 2 * n {
			if i > 0 {
				m.Triangles = append(m.Triangles, [3]int32{at(i, j), at(i+1, j), at(i, j+1)})
			}
			if i < n-1 {
				m.Triangles = append(m.Triangles, [3]int32{at(i, j+1), at(i+1, j), at(i+1, j+1)})
			}
		}
	}
	return m
}

// merge is several meshes as shells of one.
func merge(ms ...*mesh.Mesh) *mesh.Mesh {
	out := &mesh.Mesh{}
	for _, m := range ms {
		n := int32(len(out.Vertices))
		out.Vertices = append(out.Vertices, m.Vertices...)
		for _, t := range m.Triangles {
			out.Triangles = append(out.Triangles, [3]int32{t[0] + n, t[1] + n, t[2] + n})
		}
	}
	return out
}
