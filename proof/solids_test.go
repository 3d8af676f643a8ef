package proof

import (
	"math"

	"barwise/geom"
	"barwise/geom/mesh"
)

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
