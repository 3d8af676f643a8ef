package finish

import (
	"math"
	"math/rand"
	"testing"

	"barwise/geom"
)

// The simplified line passes every window, and is no longer than a plain search finds: from each point
// the farthest sample that some representable height reaches.
func TestSimplifyKeepsWindows(t *testing.T) {
	r := rand.New(rand.NewSource(1))
	w := &work{p: Params{Tolerance: 0.002, Decimals: 3}, inv: 1000, unit: 0.001}
	for range 200 {
		var tr trace
		z, u := 0.0, 0
		for range 60 {
			u += 1 + r.Intn(30)
			z += 0.02 * (r.Float64() - 0.5)
			tr.add(u, z, false)
		}
		lo, hi := w.windows(&tr, nil, nil)
		at, zs := w.simplify(&tr, lo, hi)
		if at[0] != 0 || at[len(at)-1] != tr.len()-1 {
			t.Fatalf("ends at %v of %d", at, tr.len())
		}
		through := func(a, b int, za, zb float64) bool {
			for k := a; k <= b; k++ {
				s := float64(tr.u[k]-tr.u[a]) / float64(tr.u[b]-tr.u[a])
				if z := za + s*(zb-za); z < lo[k]-1e-9 || z > hi[k]+1e-9 {
					return false
				}
			}
			return true
		}
		for k := 1; k < len(at); k++ {
			a, b, za := at[k-1], at[k], float64(zs[k-1])/1000
			if !through(a, b, za, float64(zs[k])/1000) {
				t.Fatalf("chord %d–%d leaves a window", a, b)
			}
			for far := tr.len() - 1; far > b; far-- {
				for q := w.up(lo[far]); float64(q)/1000 <= hi[far]; q++ {
					if through(a, far, za, float64(q)/1000) {
						t.Fatalf("chord from %d ends at %d, %d can be reached", a, b, far)
					}
				}
			}
		}
	}
}

func abs(x int) int { return max(x, -x) }

func TestBlurAgainstAllPairs(t *testing.T) {
	r := rand.New(rand.NewSource(3))
	const nx, ny, d = 14, 11, 3
	a := make([]float64, nx*ny)
	for k := range a {
		a[k] = r.Float64()
	}
	for k, got := range blur(a, nx, d) {
		want := 0.0
		for q := range a {
			if max(abs(k%nx-q%nx), abs(k/nx-q/nx)) <= d {
				want += a[q]
			}
		}
		if math.Abs(got-want) > 1e-9 {
			t.Fatalf("node %d: %g, want %g", k, got, want)
		}
	}
}

func TestNearestAgainstAll(t *testing.T) {
	r := rand.New(rand.NewSource(4))
	var segs []segment
	for range 300 {
		p := geom.Vec3{X: 8 * r.Float64(), Y: 8 * r.Float64(), Z: r.Float64()}
		segs = append(segs, segment{pts: []geom.Vec3{p, p.Add(geom.Vec3{X: r.Float64(), Y: r.Float64()})}})
	}
	g := newNear(segs)
	for k := range segs {
		if k%2 == 0 {
			g.use(k)
			continue
		}
		p := segs[k-1].pts[1]
		cost := func(q geom.Vec3) float64 { return q.Sub(p).Len() }
		best := 3.0
		for j := range segs {
			if !g.used[j] {
				best = min(best, cost(segs[j].pts[0]), cost(segs[j].pts[1]))
			}
		}
		l, ok := g.nearest(p, cost, 3)
		if ok != (best < 3) {
			t.Fatalf("found %v, best is %g", ok, best)
		}
		if a, _ := ends(segs, l); ok && cost(a) != best {
			t.Fatalf("cost %g, best is %g", cost(a), best)
		}
	}
}
