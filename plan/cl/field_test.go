package cl

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"barwise/geom"
	"barwise/geom/field"
	"barwise/geom/mesh"
	"barwise/shop/cutter"
)

func mustField(t testing.TB, m *mesh.Mesh, turn geom.Turn, p cutter.Profile, allowance float64, g field.Grid) *field.Field {
	t.Helper()
	f, err := NewSurface(m).Field(context.Background(), turn, p, allowance, g)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// twin is the slow obvious answer: every triangle, no tree, no patches.
func twin(m *mesh.Mesh, turn geom.Turn, p cutter.Profile, x, y float64) float64 {
	s := newShape(p)
	best := math.Inf(-1)
	for i := range m.Triangles {
		a, b, c := m.Corners(i)
		best = max(best, s.triangle(turn.ToSide(a), turn.ToSide(b), turn.ToSide(c), x, y).z)
	}
	return best
}

func TestFieldEqualsTwin(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	for round, turn := range []geom.Turn{geom.TurnDeg(0), geom.TurnDeg(137)} {
		for mname, m := range sampleMeshes(r) {
			for pname, p := range cutters() {
				g := field.Grid{X0: -4.5137, Y0: -1.0229, DX: 0.61, DY: 0.297, NX: 17, NY: 21}
				f := mustField(t, m, turn, p, 0, g)
				bad := 0
				for j := range g.NY {
					for i := range g.NX {
						want := twin(m, turn, p, g.X(i), g.Y(j))
						got := float64(f.At(i, j))
						if math.Abs(got-want) <= 1e-6 || got == want {
							continue
						}
						if bad++; bad <= 3 {
							t.Errorf("%s on %s, round %d at (%v, %v): field %v, twin %v", pname, mname, round, g.X(i), g.Y(j), got, want)
						}
					}
				}
				if bad > 0 {
					t.Errorf("%s on %s, round %d: %d of %d differ", pname, mname, round, bad, g.Len())
				}
			}
		}
	}
}
