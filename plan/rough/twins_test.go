package rough

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"barwise/geom"
	"barwise/geom/field"
)

func TestDistancesAgainstAllPairs(t *testing.T) {
	rnd := rand.New(rand.NewPCG(1, 2))
	for trial := range 60 {
		g := field.Grid{DX: 0.3, DY: 0.2, NX: 1 + rnd.IntN(18), NY: 1 + rnd.IntN(18)}
		if trial%10 == 0 {
			g.NX, g.NY = 70, 66 // large enough to be shared out
		}
		d := newDistances(g)
		set := make([]bool, g.Len())
		weight := make([]float64, g.Len())
		for k := range set {
			set[k] = rnd.IntN(12) == 0
			weight[k] = math.Inf(1)
			if rnd.IntN(4) == 0 {
				weight[k] = -rnd.Float64() * 3
			}
		}
		slow := func(f func(c int) float64) []float64 {
			out := make([]float64, g.Len())
			for k := range out {
				out[k] = math.Inf(1)
				for c := range out {
					x, y := float64(k%g.NX-c%g.NX)*g.DX, float64(k/g.NX-c/g.NX)*g.DY
					out[k] = min(out[k], x*x+y*y+f(c))
				}
			}
			return out
		}
		check := func(name string, want []float64, f func(c int) float64) {
			for k := range want {
				if math.IsInf(want[k], 1) != math.IsInf(d.d2[k], 1) || math.Abs(want[k]-d.d2[k]) > 1e-9 {
					t.Fatalf("trial %d, %s: node %d is %g, all pairs give %g", trial, name, k, d.d2[k], want[k])
				}
				if c := int(d.arg[k]); !math.IsInf(want[k], 1) {
					x, y := float64(k%g.NX-c%g.NX)*g.DX, float64(k/g.NX-c/g.NX)*g.DY
					if math.Abs(x*x+y*y+f(c)-want[k]) > 1e-9 {
						t.Fatalf("trial %d, %s: node %d names node %d, which gives %g", trial, name, k, c, x*x+y*y+f(c))
					}
				}
			}
		}
		member := func(c int) float64 {
			if set[c] {
				return 0
			}
			return math.Inf(1)
		}
		d.toSet(func(k int) bool { return set[k] })
		check("set", slow(member), member)
		weighted := func(c int) float64 { return weight[c] }
		d.power(weight)
		check("power", slow(weighted), weighted)
	}
}

// The upwind step on two neighbours of a plane wave gives the wave's own value.
func TestUpwind(t *testing.T) {
	for _, deg := range []float64{1, 20, 45, 70, 89} {
		s, c := math.Sincos(deg * math.Pi / 180)
		for _, d := range [][2]float64{{0.1, 0.1}, {0.1, 0.17}, {0.2, 0.1}} {
			if got := upwind(1-c*d[0], 1-s*d[1], d[0], d[1]); math.Abs(got-1) > 1e-12 {
				t.Errorf("%g° at %v: %g, want 1", deg, d, got)
			}
		}
	}
	if got := upwind(2, math.Inf(1), 0.1, 0.2); got != 2.1 {
		t.Errorf("one neighbour: %g", got)
	}
}

// The front's way round a corner is the closed form, to the first-order scheme's few per cent.
func TestFrontGoesRoundACorner(t *testing.T) {
	// a block to y = 20 over half of the bar; the way to the shadowed side leads round its corner
	g := field.Grid{X0: 0, Y0: 0, DX: 0.1, DY: 0.1, NX: 101, NY: 101}
	w := &work{grid: g, n: g.Len(), ok: make([]bool, g.Len())}
	w.arrival.init(g)
	corner := geom.Vec2{X: 5, Y: 5}
	for k := range w.ok {
		x, y := g.X(k%g.NX), g.Y(k/g.NX)
		w.ok[k] = !(x < corner.X-1e-9 && math.Abs(y-corner.Y) < 0.15)
		w.arrival.t[k] = math.Inf(1)
	}
	src := make([]bool, g.Len())
	for i := range 50 {
		src[i], w.arrival.done[i], w.arrival.t[i] = true, true, 0 // the row y = 0, x < 4.95
	}
	w.runFront(func(k int) bool { return src[k] })
	for k := range w.ok {
		if !w.ok[k] {
			continue
		}
		p := geom.Vec2{X: g.X(k % g.NX), Y: g.Y(k / g.NX)}
		want := p.Y
		if p.X > 4.9 {
			want = gap(p, geom.Vec2{X: 4.9})
		}
		if p.Y > corner.Y && p.X < 4.9 {
			tip := geom.Vec2{X: 5, Y: 4.8}
			want = gap(tip, geom.Vec2{X: 4.9}) + gap(p, geom.Vec2{X: 5, Y: 5.2}) + 0.4
		}
		if got := w.arrival.t[k]; math.Abs(got-want) > 0.05*want+0.15 {
			t.Fatalf("way to %v is %g, want %g", p, got, want)
		}
	}
}

// The zones are those of a flood fill by neighbours across edges.
func TestZonesAgainstFloodFill(t *testing.T) {
	rnd := rand.New(rand.NewPCG(7, 8))
	for trial := range 40 {
		g := field.Grid{DX: 1, DY: 1, NX: 1 + rnd.IntN(30), NY: 1 + rnd.IntN(30)}
		w := &work{grid: g, n: g.Len(), ok: make([]bool, g.Len())}
		w.wall.g = make([]float32, g.Len())
		for k := range w.wall.g {
			w.wall.g[k] = float32(rnd.IntN(5)) - 1.5 // 2 of 5 shut
		}
		label, zones := w.zones()
		want := make([]int32, g.Len())
		n := int32(0)
		var fill func(i, j int)
		fill = func(i, j int) {
			if !g.Inside(i, j) || w.wall.g[j*g.NX+i] < 0 || want[j*g.NX+i] != 0 {
				return
			}
			want[j*g.NX+i] = n
			fill(i+1, j)
			fill(i-1, j)
			fill(i, j+1)
			fill(i, j-1)
		}
		for k := range want {
			if w.wall.g[k] >= 0 && want[k] == 0 {
				n++
				fill(k%g.NX, k/g.NX)
			}
		}
		if !slices.Equal(label, want) || len(zones) != int(n) {
			t.Fatalf("trial %d: %d zones, flood fill finds %d", trial, len(zones), n)
		}
	}
}
