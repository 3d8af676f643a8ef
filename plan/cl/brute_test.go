package cl

import (
	"math"
	"math/rand/v2"
	"testing"

	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/shop/cutter"
)

// cutters are the five of the shop, each also in an odd shape that the allowance can lead to.
func cutters() map[string]cutter.Profile {
	deg := math.Pi / 180
	return map[string]cutter.Profile{
		"flat":         cutter.FlatEnd(1),
		"ball":         cutter.Ball(1),
		"bull":         cutter.Bull(1, 0.3),
		"cone":         cutter.Cone(1, 30*deg, 0),
		"cone tipped":  cutter.Cone(1, 20*deg, 0.2),
		"tapered ball": cutter.TaperedBall(1, 0.4, 15*deg),
		"lens":         {R: 1, Round: 3},
		"rounded cone": {R: 1, Flat: 0.2, Round: 0.3, Half: 25 * deg},
	}
}

// sampled is the bound by brute force: the mesh sampled at points, each standing alone. It is never above the
// exact height.
func sampled(m *mesh.Mesh, p cutter.Profile, x, y float64, n int) float64 {
	best := math.Inf(-1)
	for i := range m.Triangles {
		a, b, c := m.Corners(i)
		for j := 0; j <= n; j++ {
			for k := 0; j+k <= n; k++ {
				u, v := float64(j)/float64(n), float64(k)/float64(n)
				q := a.Mul(1 - u - v).Add(b.Mul(u)).Add(c.Mul(v))
				if d := math.Hypot(q.X-x, q.Y-y); d <= p.R {
					best = max(best, q.Z-p.Height(d))
				}
			}
		}
	}
	return best
}

func randomSoup(r *rand.Rand, n int) *mesh.Mesh {
	m := &mesh.Mesh{}
	for i := range n {
		c := geom.Vec3{X: 4 * r.Float64(), Y: 4 * r.Float64(), Z: r.Float64()}
		for range 3 {
			m.Vertices = append(m.Vertices, c.Add(geom.Vec3{X: r.Float64(), Y: r.Float64(), Z: 2 * r.Float64()}))
		}
		m.Triangles = append(m.Triangles, [3]int32{int32(3 * i), int32(3*i + 1), int32(3*i + 2)})
	}
	return m
}

func TestIndexAgainstSamples(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for name, p := range cutters() {
		worst := 0.0
		for range 30 {
			m := randomSoup(r, 6)
			ix := NewSurface(m).Index(geom.TurnDeg(0))
			for range 20 {
				x, y := 5*r.Float64(), 5*r.Float64()
				got, want := ix.Height(p, x, y), sampled(m, p, x, y, 60)
				if got < want-1e-12 {
					t.Fatalf("%s: height %v below the sampled bound %v", name, got, want)
				}
				if !math.IsInf(want, -1) {
					worst = max(worst, got-want)
				}
			}
		}
		if worst > 0.3 {
			t.Errorf("%s: height up to %v above the samples", name, worst)
		}
		t.Logf("%s: at most %.4f above the samples", name, worst)
	}
}
