// Package mesh holds a triangle mesh, with what can be said of it without knowing what it is for.
package mesh

import "barwise/geom"

// Mesh is an indexed triangle mesh. A triangle's vertices run counter-clockwise seen from outside.
// Meshes are not changed after they are built; a stage that needs another one makes it.
type Mesh struct {
	Vertices  []geom.Vec3 // mm once a unit has been settled; the file's own unit before
	Triangles [][3]int32  // indices into Vertices
}

// Box returns the smallest box around the vertices that triangles use.
func (m *Mesh) Box() geom.Box3 {
	b := geom.EmptyBox()
	for _, t := range m.Triangles {
		for _, v := range t {
			b = b.Grow(m.Vertices[v])
		}
	}
	return b
}

// Corners returns the three vertices of triangle i.
func (m *Mesh) Corners(i int) (a, b, c geom.Vec3) {
	t := m.Triangles[i]
	return m.Vertices[t[0]], m.Vertices[t[1]], m.Vertices[t[2]]
}

// Map returns the mesh with every vertex moved by f. f must keep the handedness; triangles are shared
// with the original.
func (m *Mesh) Map(f func(geom.Vec3) geom.Vec3) *Mesh {
	out := &Mesh{Vertices: make([]geom.Vec3, len(m.Vertices)), Triangles: m.Triangles}
	for i, v := range m.Vertices {
		out.Vertices[i] = f(v)
	}
	return out
}

// Join puts meshes into one, each behind the one before it, as shells that share no vertex.
func Join(ms ...*Mesh) *Mesh {
	out := &Mesh{}
	for _, m := range ms {
		shift := int32(len(out.Vertices))
		out.Vertices = append(out.Vertices, m.Vertices...)
		for _, t := range m.Triangles {
			out.Triangles = append(out.Triangles, [3]int32{t[0] + shift, t[1] + shift, t[2] + shift})
		}
	}
	return out
}
