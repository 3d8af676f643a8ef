package mesh

import (
	"math"
	"slices"

	"barwise/geom"
)

// Builder makes a mesh out of triangles given by places or by indices, welding vertices that are equal
// to the bit (after −0 is made 0). Vertices keep the order of their first use.
type Builder struct {
	m         Mesh
	table     []uint64 // open addressing: hash in the high half, vertex + 1 in the low
	collapsed int
}

// NewBuilder returns a builder with room for about n triangles.
func NewBuilder(n int) *Builder {
	b := &Builder{}
	b.m.Triangles = make([][3]int32, 0, n)
	b.m.Vertices = make([]geom.Vec3, 0, n/2+3)
	size := 64
	for size < n+n/2 {
		size *= 2
	}
	b.table = make([]uint64, size)
	return b
}

// Vertex returns the index of the vertex at v.
func (b *Builder) Vertex(v geom.Vec3) int32 {
	v = geom.Vec3{X: v.X + 0, Y: v.Y + 0, Z: v.Z + 0}
	h := hash(v)
	mask := uint64(len(b.table) - 1)
	for i := h & mask; ; i = (i + 1) & mask {
		e := b.table[i]
		if e == 0 {
			b.m.Vertices = append(b.m.Vertices, v)
			b.table[i] = h&^math.MaxUint32 | uint64(len(b.m.Vertices))
			if 2*len(b.m.Vertices) > len(b.table) {
				b.grow()
			}
			return int32(len(b.m.Vertices) - 1)
		}
		if (e^h)>>32 == 0 {
			if k := int32(uint32(e)) - 1; b.m.Vertices[k] == v {
				return k
			}
		}
	}
}

func hash(v geom.Vec3) uint64 {
	h := math.Float64bits(v.X)*0x9e3779b97f4a7c15 ^ math.Float64bits(v.Y)*0xc2b2ae3d27d4eb4f ^
		math.Float64bits(v.Z)*0x165667b19e3779f9
	h ^= h >> 32
	h *= 0xd6e8feb86659fd93
	return h ^ h>>29
}

func (b *Builder) grow() {
	b.table = make([]uint64, 2*len(b.table))
	mask := uint64(len(b.table) - 1)
	for k, v := range b.m.Vertices {
		h := hash(v)
		i := h & mask
		for b.table[i] != 0 {
			i = (i + 1) & mask
		}
		b.table[i] = h&^math.MaxUint32 | uint64(k+1)
	}
}

// Triangle adds one triangle by vertex index; one whose corners are not three different points is
// counted and left out, which leaves a closed mesh closed.
func (b *Builder) Triangle(i, j, k int32) {
	if i == j || j == k || k == i {
		b.collapsed++
		return
	}
	b.m.Triangles = append(b.m.Triangles, [3]int32{i, j, k})
}

// Polygon adds a face of any number of corners; see Split.
func (b *Builder) Polygon(corners []int32) {
	if len(corners) == 3 {
		b.Triangle(corners[0], corners[1], corners[2])
		return
	}
	Split(b.m.Vertices, corners, b.Triangle)
}

// Len is the number of triangles so far, with those left out.
func (b *Builder) Len() int { return len(b.m.Triangles) + b.collapsed }

// Mesh returns what was built, without vertices that no triangle uses, and how many triangles were
// left out; the builder is done with.
func (b *Builder) Mesh() (m *Mesh, collapsed int) {
	b.table = nil
	b.prune()
	return &b.m, b.collapsed
}

func (b *Builder) prune() {
	used := make([]bool, len(b.m.Vertices))
	for i := range b.m.Triangles {
		for _, v := range b.m.Triangles[i] {
			used[v] = true
		}
	}
	if !slices.Contains(used, false) {
		return
	}
	index := make([]int32, len(used))
	kept := b.m.Vertices[:0]
	for v, p := range b.m.Vertices {
		if used[v] {
			index[v] = int32(len(kept))
			kept = append(kept, p)
		}
	}
	b.m.Vertices = kept
	for i := range b.m.Triangles {
		for c, v := range b.m.Triangles[i] {
			b.m.Triangles[i][c] = index[v]
		}
	}
}

// Weld returns the mesh with vertices equal to the bit made one, unused vertices dropped, and the
// number of triangles that collapsed.
func (m *Mesh) Weld() (*Mesh, int) {
	b := NewBuilder(len(m.Triangles))
	for _, t := range m.Triangles {
		b.Triangle(b.Vertex(m.Vertices[t[0]]), b.Vertex(m.Vertices[t[1]]), b.Vertex(m.Vertices[t[2]]))
	}
	return b.Mesh()
}
