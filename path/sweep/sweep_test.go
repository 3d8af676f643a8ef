package sweep

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"barwise/geom"
)

// Every place of every move is in a bin that lists it, and no bin lists a move that stays off its square.
func TestEveryPlace(t *testing.T) {
	rnd := rand.New(rand.NewPCG(21, 22))
	any := func(l float64) float64 { return l * (2*rnd.Float64() - 1) }
	var moves [][2]geom.Vec3
	for n := range 400 {
		l := [3]float64{0.02, 0.7, 9}[n%3]
		m := [2]geom.Vec3{{X: any(10), Y: any(6), Z: any(3)}, {X: any(l), Y: any(l), Z: any(1)}}
		switch n % 7 {
		case 0:
			m[1].X = 0
		case 1:
			m[1].Y = 0
		case 2:
			m[1] = geom.Vec3{Z: 1}
		}
		moves = append(moves, m)
	}
	for _, least := range []float64{0.05, 0.3, 1.7} {
		b := New(len(moves), func(i int) (a, u geom.Vec3) { return moves[i][0], moves[i][1] }, least)
		if b.DX < least || b.DX != b.DY {
			t.Fatalf("pitches %g and %g, no less than %g", b.DX, b.DY, least)
		}
		listed := 0
		for bin := range b.Len() {
			ids := b.In(bin)
			listed += len(ids)
			if !slices.IsSorted(ids) || len(slices.Compact(slices.Clone(ids))) != len(ids) {
				t.Fatalf("bin %d lists %v", bin, ids)
			}
			for _, id := range ids {
				// a circle about the square bounds it from outside
				c := geom.Vec2{X: b.X(bin % b.NX), Y: b.Y(bin / b.NX)}
				a, u := moves[id][0].XY(), moves[id][1].XY()
				s := 0.0
				if l := u.Dot(u); l > 0 {
					s = min(max(c.Sub(a).Dot(u)/l, 0), 1)
				}
				if d := a.Add(u.Mul(s)).Sub(c).Len(); d > b.DX*math.Sqrt2/2+1e-9 {
					t.Fatalf("bin %d lists move %d, %g off its middle", bin, id, d)
				}
			}
		}
		if listed < len(moves) {
			t.Errorf("%d entries for %d moves", listed, len(moves))
		}
		for id, m := range moves {
			for k := range 101 {
				p := m[0].Add(m[1].Mul(float64(k) / 100)).XY()
				i, j := b.Nearest(p)
				// on an edge between two bins either will do
				x, y := math.Abs(math.Abs(p.X-b.X(i))-b.DX/2), math.Abs(math.Abs(p.Y-b.Y(j))-b.DY/2)
				if x < 1e-9 || y < 1e-9 {
					continue
				}
				if !b.Inside(i, j) || !slices.Contains(b.In(j*b.NX+i), int32(id)) {
					t.Fatalf("pitch %g: move %d at %v is not in its bin", b.DX, id, p)
				}
				if i0, j0, i1, j1 := b.About(p, 1e-6); i < i0 || i > i1 || j < j0 || j > j1 {
					t.Fatalf("its bin is not about %v", p)
				}
			}
		}
	}
}

func TestNoMoves(t *testing.T) {
	if b := New(0, nil, 1); b.Len() != 0 {
		t.Errorf("%d bins for no moves", b.Len())
	}
}
