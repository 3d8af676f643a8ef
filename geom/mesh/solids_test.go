package mesh_test

import (
	"math"

	"barwise/geom"
	"barwise/geom/mesh"
)

func v(x, y, z float64) geom.Vec3 { return geom.Vec3{X: x, Y: y, Z: z} }

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
