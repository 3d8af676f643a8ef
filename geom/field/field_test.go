package field

import (
	"math"
	"math/rand/v2"
	"testing"

	"barwise/geom"
)

// The twin asks every node within r.
func discMaxTwin(f *Field, r float64) *Field {
	out := New(f.Grid, Empty)
	for j := range f.NY {
		for i := range f.NX {
			for q := range f.NY {
				for p := range f.NX {
					dx, dy := float64(p-i)*f.DX, float64(q-j)*f.DY
					if dx*dx+dy*dy <= r*r+1e-12 {
						k := j*f.NX + i
						out.Z[k] = max(out.Z[k], f.Z[q*f.NX+p])
					}
				}
			}
		}
	}
	return out
}

func TestDiscMaxIsItsTwin(t *testing.T) {
	rnd := rand.New(rand.NewPCG(1, 2))
	for _, c := range []struct {
		nx, ny int
		dx, r  float64
	}{{1, 1, 1, 3}, {7, 5, 0.25, 0.6}, {23, 17, 0.1, 0.55}, {9, 30, 0.2, 5}, {31, 4, 0.5, 2.1}, {12, 12, 0.3, 0}} {
		f := New(Grid{DX: c.dx, DY: c.dx, NX: c.nx, NY: c.ny}, Empty)
		for i := range f.Z {
			if rnd.IntN(4) > 0 {
				f.Z[i] = rnd.Float32()
			}
		}
		fast, slow := DiscMax(f, c.r), discMaxTwin(f, c.r)
		for i := range slow.Z {
			if fast.Z[i] != slow.Z[i] {
				t.Fatalf("%+v: node %d is %g, by the twin %g", c, i, fast.Z[i], slow.Z[i])
			}
		}
	}
}

func TestCoverHoldsItsBounds(t *testing.T) {
	g := Cover(-3.21, 4.99, 0.3, 7.05, 0.25, 0.5)
	if g.X(0) > -3.21 || g.X(g.NX-1) < 4.99 || g.Y(0) > 0.3 || g.Y(g.NY-1) < 7.05 {
		t.Errorf("grid %+v does not cover", g)
	}
	if r := math.Remainder(g.X0, 0.25); r != 0 {
		t.Errorf("nodes are %g off whole multiples of the pitch", r)
	}
	i, j := g.Nearest(geom.Vec2{X: g.X(3) + 0.1, Y: g.Y(2) - 0.2})
	if i != 3 || j != 2 {
		t.Errorf("nearest node (%d, %d), want (3, 2)", i, j)
	}
}

func TestMaxAround(t *testing.T) {
	f := New(Grid{DX: 1, DY: 1, NX: 5, NY: 5}, 0)
	f.Z[2*5+3] = 7 // node (3, 2)
	for _, c := range []struct {
		x0, x1, y0, y1 float64
		want           float32
	}{{0, 4, 0, 4, 7}, {2.6, 2.7, 2, 2, 7}, {0, 2.4, 0, 4, 0}, {9, 12, 0, 4, Empty}} {
		if got := f.MaxAround(c.x0, c.x1, c.y0, c.y1); got != c.want {
			t.Errorf("%+v: got %g", c, got)
		}
	}
}

func BenchmarkDiscMax(b *testing.B) {
	f := New(Grid{DX: 0.2, DY: 0.2, NX: 250, NY: 400}, 0)
	for b.Loop() {
		DiscMax(f, 10)
	}
}
