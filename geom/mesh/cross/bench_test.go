package cross

import (
	"math"
	"testing"

	"barwise/geom"
	"barwise/geom/mesh"
)

// BenchmarkFindFlat is a disc of two sides whose faces are fans from a corner on the rim, as flat faces
// of machine parts come: 4 000 triangles, nearly all pairs of which share a corner and a plane.
func BenchmarkFindFlat(b *testing.B) {
	const n = 2000
	m := &mesh.Mesh{}
	for _, z := range []float64{0, 1} {
		for i := range n {
			s, c := math.Sincos(2 * math.Pi * float64(i) / n)
			m.Vertices = append(m.Vertices, geom.Vec3{X: c, Y: s, Z: z})
		}
	}
	for i := int32(1); i < n-1; i++ {
		m.Triangles = append(m.Triangles, [3]int32{0, i + 1, i}, [3]int32{n, n + i, n + i + 1})
	}
	for i := range int32(n) {
		j := (i + 1) % n
		m.Triangles = append(m.Triangles, [3]int32{i, j, n + j}, [3]int32{i, n + j, n + i})
	}
	for b.Loop() {
		if find(b, m).Pairs != 0 {
			b.Fatal("a disc meets itself")
		}
	}
}
