package mesh_test

import (
	"math"

	"barwise/geom"
	"barwise/geom/mesh"
)

func v(x, y, z float64) geom.Vec3 { return geom.Vec3{X: x, Y: y, Z: z} }

// box is an axis-aligned box of 12 triangles facing outward.
func box(lo, hi geom.Vec3) *mesh.Mesh {
	m := &mesh.Mesh{}
	for i := range 8 {
		p := lo
		if i&1 != 0 {
			p.X = hi.X
		}
		if i&2 != 0 {
			p.Y = hi.Y
		}
		if i&4 != 0 {
			p.Z = hi.Z
		}
		m.Vertices = append(m.Vertices, p)
	}
	for _, q := range [][4]int32{{0, 2, 3, 1}, {4, 5, 7, 6}, {0, 1, 5, 4}, {2, 6, 7, 3}, {0, 4, 6, 2}, {1, 3, 7, 5}} {
		m.Triangles = append(m.Triangles, [3]int32{q[0], q[1], q[2]}, [3]int32{q[0], q[2], q[3]})
	}
	return m
}

// torus is n × k quads cut in two, facing outward, about the Z axis.
func torus(big, small float64, n, k int) *mesh.Mesh {
	m := &mesh.Mesh{}
	for i := range n {
		si, ci := math.Sincos(2 * math.Pi * float64(i) / float64(n))
		for j := range k {
			sj, cj := math.Sincos(2 * math.Pi * float64(j) / float64(k))
			r := big + small*cj
			m.Vertices = append(m.Vertices, v(r*ci, r*si, small*sj))
		}
	}
	at := func(i, j int) int32 { return int32(i%n*k + j%k) }
	for i := range n {
		for j := range k {
			a, b, c, d := at(i, j), at(i+1, j), at(i+1, j+1), at(i, j+1)
			m.Triangles = append(m.Triangles, [3]int32{a, b, c}, [3]int32{a, c, d})
		}
	}
	return m
}

func join(ms ...*mesh.Mesh) *mesh.Mesh {
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

func inverted(m *mesh.Mesh) *mesh.Mesh {
	out := &mesh.Mesh{Vertices: m.Vertices}
	for _, t := range m.Triangles {
		out.Triangles = append(out.Triangles, [3]int32{t[0], t[2], t[1]})
	}
	return out
}

// without returns m lacking some triangles.
func without(m *mesh.Mesh, drop ...int) *mesh.Mesh {
	out := &mesh.Mesh{Vertices: m.Vertices}
next:
	for i, t := range m.Triangles {
		for _, d := range drop {
			if i == d {
				continue next
			}
		}
		out.Triangles = append(out.Triangles, t)
	}
	return out
}
