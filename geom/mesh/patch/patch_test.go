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

// Of two boxes that overlap, what of each lies in the other is buried; of a box in a box all of the inner.
// The areas are those of the closed form.
func TestBuried(t *testing.T) {
	a := sample.Box(geom.Vec3{}, geom.Vec3{X: 10, Y: 10, Z: 10})
	for _, c := range []struct {
		lo, hi geom.Vec3
		want   float64 // mm² of both
	}{
		{geom.Vec3{X: 7, Y: 2, Z: 3}, geom.Vec3{X: 15, Y: 8, Z: 9}, 6*6 + 3*6*4 + 6*6}, // the face at x 7, four walls 3 long, the window in the first
		{geom.Vec3{X: 2, Y: 2, Z: 2}, geom.Vec3{X: 8, Y: 8, Z: 8}, 6 * 36},
		{geom.Vec3{X: 11, Y: 2, Z: 2}, geom.Vec3{X: 18, Y: 8, Z: 8}, 0},
	} {
		m := mesh.Join(a, sample.Box(c.lo, c.hi))
		for turn := range 3 {
			m := m.Map(func(p geom.Vec3) geom.Vec3 {
				for range turn {
					p = geom.Vec3{X: p.Y, Y: p.Z, Z: p.X}
				}
				return p
			})
			s := Cut(m, 0.2, 1<<30)
			area := 0.0
			for i, b := range s.Buried(m) {
				if b {
					area += s.Area(i)
				}
			}
			if math.Abs(area-c.want) > 0.04*c.want {
				t.Errorf("box from %v to %v, turned %d times: %g mm² are buried, want %g", c.lo, c.hi, turn, area, c.want)
			}
		}
	}
}
