package stl

import (
	"encoding/binary"
	"fmt"
	"io"
	"math"

	"barwise/geom"
	"barwise/geom/mesh"
)

// Write writes m as binary STL: exactly 84 + 50·n bytes, normals by the right-hand rule. Coordinates
// are rounded to float32, see Rounding; title goes into the header.
func Write(w io.Writer, m *mesh.Mesh, title string) error {
	buf := make([]byte, head, 64<<10)
	// a header that begins with 'solid' misleads readers that go by it
	copy(buf[:80], "binary stl "+title)
	if int64(len(m.Triangles)) > math.MaxUint32 {
		return fmt.Errorf("writing stl: %d triangles do not fit its 32-bit count", len(m.Triangles))
	}
	for i, v := range m.Vertices {
		if !(max(math.Abs(v.X), math.Abs(v.Y), math.Abs(v.Z)) <= math.MaxFloat32) {
			return fmt.Errorf("writing stl: vertex %d (%g, %g, %g) does not fit float32", i+1, v.X, v.Y, v.Z)
		}
	}
	binary.LittleEndian.PutUint32(buf[80:], uint32(len(m.Triangles)))
	for i := range m.Triangles {
		buf = appendFacet(buf, m, i)
		if len(buf)+facet > cap(buf) {
			if _, err := w.Write(buf); err != nil {
				return fmt.Errorf("writing stl: %w", err)
			}
			buf = buf[:0]
		}
	}
	if _, err := w.Write(buf); err != nil {
		return fmt.Errorf("writing stl: %w", err)
	}
	return nil
}

func appendFacet(buf []byte, m *mesh.Mesh, i int) []byte {
	a, b, c := m.Corners(i)
	n := b.Sub(a).Cross(c.Sub(a)).Unit()
	for _, v := range [...]geom.Vec3{n, a, b, c} {
		for _, x := range [...]float64{v.X, v.Y, v.Z} {
			buf = binary.LittleEndian.AppendUint32(buf, math.Float32bits(float32(x)))
		}
	}
	return append(buf, 0, 0)
}

// Loss is what rounding to float32 does to a mesh.
type Loss struct {
	Shift    float64   // the farthest a vertex moves, in the mesh's unit
	Merged   int       // vertices that fall onto another one
	Lost     int       // triangles that lose a corner by it
	MergedAt geom.Vec3 // the first such vertex
}

// Rounding tells what Write loses, so that one who writes can say it. A file in which vertices merge
// reads back with other neighbours than the mesh had: write 3MF instead, or move the model to the origin.
func Rounding(m *mesh.Mesh) Loss {
	var l Loss
	b := mesh.NewBuilder(len(m.Triangles))
	to := make([]int32, len(m.Vertices))
	used := make([]bool, len(m.Vertices))
	for _, t := range m.Triangles {
		for _, v := range t {
			used[v] = true
		}
	}
	last := int32(-1)
	for i, v := range m.Vertices {
		if !used[i] {
			continue
		}
		r := geom.Vec3{X: float64(float32(v.X)), Y: float64(float32(v.Y)), Z: float64(float32(v.Z))}
		l.Shift = max(l.Shift, r.Sub(v).Len())
		to[i] = b.Vertex(r)
		if to[i] > last {
			last = to[i]
			continue
		}
		if l.Merged++; l.Merged == 1 {
			l.MergedAt = v
		}
	}
	for _, t := range m.Triangles {
		x, y, z := to[t[0]], to[t[1]], to[t[2]]
		if x == y || y == z || z == x {
			l.Lost++
		}
	}
	return l
}
