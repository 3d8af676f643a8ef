package patch

import (
	"math"
	"testing"

	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/sample"
)

// Cutting keeps the area, the parents and the facing, and no edge is longer than asked.
func TestCutConserves(t *testing.T) {
	m := sample.Box(geom.Vec3{}, geom.Vec3{X: 10, Y: 3, Z: 0.02})
	s := Cut(m, 0.5, 1<<30)
	want := 2 * (10*3 + 10*0.02 + 3*0.02)
	area := 0.0
	for i := range s.Len() {
		a, b, c := s.Corners(i)
		if l := max(b.Sub(a).Len(), c.Sub(b).Len(), a.Sub(c).Len()); l > 0.5 {
			t.Fatalf("patch %d has an edge of %g", i, l)
		}
		p, q, r := m.Corners(int(s.Of[i]))
		n := q.Sub(p).Cross(r.Sub(p)).Unit()
		if s.Normal(i).Dot(n) < 1-1e-9 {
			t.Fatalf("patch %d faces %v, its triangle %v", i, s.Normal(i), n)
		}
		area += s.Area(i)
	}
	if math.Abs(area-want) > 1e-9 {
		t.Errorf("area %g, want %g", area, want)
	}
}

// A sound mesh finer than asked stays as it is; too many patches make the edge longer.
func TestCutKeepsToMost(t *testing.T) {
	m := sample.Box(geom.Vec3{}, geom.Vec3{X: 10, Y: 10, Z: 10})
	if s := Cut(m, 20, 5); s.Len() != len(m.Triangles) {
		t.Errorf("%d patches of %d triangles", s.Len(), len(m.Triangles))
	}
	s := Cut(m, 0.1, 5000)
	if s.Len() > 5000 || s.Len() < 1000 || s.Edge <= 0.1 {
		t.Errorf("%d patches of edge %g, at most 5000 were asked", s.Len(), s.Edge)
	}
	flat := &mesh.Mesh{Vertices: make([]geom.Vec3, 3), Triangles: [][3]int32{{0, 1, 2}}}
	if s := Cut(flat, 1, 10); s.Len() != 1 || s.Normal(0) != (geom.Vec3{}) {
		t.Errorf("a triangle in one point gave %d patches of normal %v", s.Len(), s.Normal(0))
	}
}
