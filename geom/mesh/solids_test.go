package mesh_test

import (
	"barwise/geom"
	"barwise/geom/mesh"
)

func v(x, y, z float64) geom.Vec3 { return geom.Vec3{X: x, Y: y, Z: z} }

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
