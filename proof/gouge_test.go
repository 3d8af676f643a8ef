package proof

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/sample"
	"barwise/path"
	"barwise/shop/cutter"
)

var fiveCutters = []struct {
	name string
	p    cutter.Profile
}{
	{"flat", cutter.FlatEnd(1.5)},
	{"ball", cutter.Ball(0.5)},
	{"bull", cutter.Bull(2, 0.5)},
	{"cone", cutter.Cone(1.5, 30*math.Pi/180, 0)},
	{"cone with a flat tip", cutter.Cone(1.5, 15*math.Pi/180, 0.1)},
	{"tapered ball", cutter.TaperedBall(1.5, 0.4, 10*math.Pi/180)},
}

// depthOf returns the gouge of a polyline of the tip, mm.
func depthOf(m *mesh.Mesh, p cutter.Profile, pts ...geom.Vec3) float64 {
	s := newTree(m).facing(geom.TurnDeg(0))
	c := &chain{prog: &Program{}, pts: pts, of: make([]int32, len(pts))}
	for i := range c.of {
		c.of[i] = int32(i)
	}
	c.prog.Moves = make([]path.Move, len(pts))
	g, err := newProber(s, p, 0).gouge(context.Background(), c, 0, len(pts)-1, 1)
	if err != nil {
		panic(err)
	}
	return g.depth
}

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.6f, want %.6f ± %g", what, got, want, tol)
	}
}

// A level path lowered by 7 µm into a level face gouges 7 µm. Only a pointed cone has the face less deep
// inside it: 7 µm · sin β, for its flank is the way out (closed forms).
func TestGougeIntoPlane(t *testing.T) {
	m := sample.Box(v3(-10, -10, -5), v3(10, 10, 0))
	for _, c := range fiveCutters {
		want := 0.007
		if c.p.Flat == 0 && c.p.Round == 0 {
			want *= math.Sin(c.p.Half)
		}
		near(t, c.name+" lowered", depthOf(m, c.p, v3(-3, 1, -0.007), v3(4, 2, -0.007)), want, 5e-5)
		near(t, c.name+" touching", depthOf(m, c.p, v3(-3, 1, 0), v3(4, 2, 0)), 0, 5e-5)
		near(t, c.name+" one end lowered", depthOf(m, c.p, v3(-3, 1, 0), v3(4, 2, -0.007)), want, 5e-5)
	}
}

// A wall entered sideways by 3 µm is a gouge of 3 µm, though the wall stands 20 mm above the tip.
func TestGougeIntoWall(t *testing.T) {
	m := sample.Box(v3(0, -10, -10), v3(10, 10, 10))
	for _, c := range fiveCutters {
		x := -c.p.R + 0.003
		z := -10 - c.p.Rim() // the rim at the foot of the wall
		near(t, c.name+" along", depthOf(m, c.p, v3(x, -5, z), v3(x, 5, z)), 0.003, 5e-5)
		near(t, c.name+" into", depthOf(m, c.p, v3(x-3, 2, z), v3(x, 2, z)), 0.003, 5e-5)
		near(t, c.name+" deep", depthOf(m, c.p, v3(x, -5, -9.5-c.p.Rim()), v3(x, 5, -9.5-c.p.Rim())), 0.003, 5e-5)
	}
}

// A ball at distance e from a vertex has it R − e deep; over a single spike of three steep facets.
func TestGougeOnVertex(t *testing.T) {
	m := &mesh.Mesh{Vertices: []geom.Vec3{v3(0, 0, 0), v3(0.01, 0, -9), v3(-0.01, 0.01, -9), v3(-0.01, -0.01, -9)},
		Triangles: [][3]int32{{0, 1, 2}, {0, 2, 3}, {0, 3, 1}}}
	for _, d := range []float64{0, 0.1, 0.3} {
		z := -(0.5 - math.Sqrt(0.25-d*d)) - 0.004
		want := 0.5 - math.Hypot(d, z+0.5)
		near(t, fmt.Sprint("ball at ", d), depthOf(m, cutter.Ball(0.5), v3(-4, d, z), v3(4, d, z)), want, 2e-6)
	}
	near(t, "flat", depthOf(m, cutter.FlatEnd(1), v3(-4, 0.2, -0.006), v3(4, 0.2, -0.006)), 0.006, 5e-6)
	near(t, "flat, beside", depthOf(m, cutter.FlatEnd(1), v3(-4, 0.998, -3), v3(4, 0.998, -3)), 0.002+0.01/3, 1e-5)
}

// The ball's centre runs on a chord of the offset sphere: it sags by the chord's sagitta (closed form).
func TestGougeChordOverSphere(t *testing.T) {
	const rho, R = 5, 1
	const bands = 150
	m := sphereMesh(v3(0, 0, 0), rho, bands)
	for _, half := range []float64{0.02, 0.05, 0.1} {
		s, c := math.Sincos(half)
		y := (rho + R) * s
		z := (rho+R)*c - R
		want := (rho + R) * (1 - c)
		facets := rho * (1 - math.Cos(math.Pi/bands)) // the mesh lies inside the sphere by up to this
		got := depthOf(m, cutter.Ball(R), v3(0, -y, z), v3(0, y, z))
		if got > want+1e-9 || got < want-2*facets-1e-6 {
			t.Errorf("half angle %g: got %.6f, want %.6f less up to %.6f", half, got, want, 2*facets)
		}
	}
}

// slowDepth samples time and triangle, and measures how deep each point lies in the profile's section by
// looking along its whole outline.
func slowDepth(p cutter.Profile, t tri, a, b geom.Vec3, outline []geom.Vec2) float64 {
	const nt, ns = 16, 16
	deep := 0.0
	for k := 0; k <= nt; k++ {
		c := a.Lerp(b, float64(k)/nt)
		for i := 0; i <= ns; i++ {
			for j := 0; i+j <= ns; j++ {
				q := t.a.Add(t.b.Sub(t.a).Mul(float64(i) / ns)).Add(t.c.Sub(t.a).Mul(float64(j) / ns))
				r, z := math.Hypot(q.X-c.X, q.Y-c.Y), q.Z-c.Z
				if r > p.R || z < p.Height(r) {
					continue
				}
				d := p.R - r
				for _, o := range outline {
					d = min(d, math.Hypot(r-o.X, z-o.Y), math.Hypot(r+o.X, z-o.Y))
				}
				deep = max(deep, d)
			}
		}
	}
	return deep
}

func outlineOf(p cutter.Profile) []geom.Vec2 {
	var out []geom.Vec2
	const n = 200
	for i := 0; i <= n; i++ {
		// denser toward R, where an arc stands up
		r := p.R * math.Sin(math.Pi/2*float64(i)/n)
		if r > p.R {
			r = p.R
		}
		out = append(out, geom.Vec2{X: r, Y: p.Height(r)})
	}
	return out
}

// The search against sampling: never below it, and above it by no more than its grain.
func TestGougeAgainstSampling(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for _, c := range fiveCutters {
		outline := outlineOf(c.p)
		hits := 0
		for n := 0; n < 80; n++ {
			pt := func(s float64) geom.Vec3 {
				return v3((rng.Float64()-0.5)*s, (rng.Float64()-0.5)*s, (rng.Float64()-0.5)*s)
			}
			q := pt(c.p.R).Add(v3(0, 0, c.p.Rim()*rng.Float64()))
			tr := tri{q.Add(pt(c.p.R)), q.Add(pt(c.p.R)), q.Add(pt(c.p.R))}
			a := pt(c.p.R).Add(v3(0, 0, -c.p.R*0.3))
			b := a.Add(pt(c.p.R))
			m := &mesh.Mesh{Vertices: []geom.Vec3{tr.a, tr.b, tr.c}, Triangles: [][3]int32{{0, 1, 2}}}
			got := depthOf(m, c.p, a, b)
			slow := slowDepth(c.p, tr, a, b, outline)
			if slow > 0 {
				hits++
			}
			grain := (b.Sub(a).Len() + 2*c.p.R) / 16
			if got < slow-c.p.R/100 || got > slow+grain {
				t.Fatalf("%s case %d: got %.5f, sampled %.5f, grain %.3f\n%v\n%v %v", c.name, n, got, slow, grain, tr, a, b)
			}
		}
		if hits < 20 {
			t.Errorf("%s: only %d cases touch", c.name, hits)
		}
	}
}

// Turning model and side together, mirroring, shifting and adding triangles.
func TestGougeSymmetries(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	m := sphereMesh(v3(0.3, 0.2, -0.1), 2, 12)
	more := mesh.Join(m, sample.Box(v3(1, 1, 0), v3(2, 2, 2.2)))
	for _, c := range fiveCutters {
		for range 20 {
			a := v3(rng.Float64()*4-2, rng.Float64()*4-2, 1.4+rng.Float64()*0.5)
			b := a.Add(v3(rng.Float64()-0.5, rng.Float64()-0.5, (rng.Float64()-0.5)*0.3))
			want := depthOf(m, c.p, a, b)
			quarter := func(p geom.Vec3) geom.Vec3 { return v3(-p.Y, p.X, p.Z) }
			mirror := func(p geom.Vec3) geom.Vec3 { return v3(-p.X, p.Y, p.Z) }
			shift := func(p geom.Vec3) geom.Vec3 { return p.Add(v3(8, -16, 4)) }
			for name, f := range map[string]func(geom.Vec3) geom.Vec3{"quarter": quarter, "mirror": mirror, "shift": shift} {
				near(t, c.name+" "+name, depthOf(m.Map(f), c.p, f(a), f(b)), want, 6e-6)
			}
			near(t, c.name+" back", depthOf(m, c.p, b, a), want, 6e-6)
			if got := depthOf(more, c.p, a, b); got < want-4e-6 {
				t.Errorf("%s: more triangles, less gouge: %g after %g", c.name, got, want)
			}
		}
	}
}

// The approach of a ball is the distance of two convex sets: here against points on both.
func TestApproachAgainstSampling(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	pt := func() geom.Vec3 { return v3(rng.Float64()*2-1, rng.Float64()*2-1, rng.Float64()*2-1) }
	for range 200 {
		tr := tri{pt(), pt(), pt()}
		p, q := pt(), pt()
		got, at, ok := approach(&tr, p, q, 10)
		if !ok || at < 0 || at > 1 {
			t.Fatal("no approach")
		}
		slow := math.Inf(1)
		for k := 0; k <= 40; k++ {
			c := p.Lerp(q, float64(k)/40)
			for i := 0; i <= 40; i++ {
				for j := 0; i+j <= 40; j++ {
					x := tr.a.Add(tr.b.Sub(tr.a).Mul(float64(i) / 40)).Add(tr.c.Sub(tr.a).Mul(float64(j) / 40))
					d := x.Sub(c)
					d.Z = min(d.Z, 0) // anything above the centre is beside the half-line
					slow = min(slow, d.Len())
				}
			}
		}
		if got > slow+1e-9 || got < slow-0.1 {
			t.Fatalf("approach %g, sampled %g", got, slow)
		}
	}
}

// What a coin calls clear is clear: the triangles in it stay off the half-lines, by the search that knows
// nothing of coins.
func TestCoinsKeepTheirWord(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 8))
	m := sphereMesh(v3(0, 20, 0), 8, 24)
	for i := range m.Vertices {
		m.Vertices[i] = m.Vertices[i].Add(v3(rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()).Mul(0.1))
	}
	tr := newTree(m)
	clear, close := 0, 0
	for _, deg := range []float64{0, 90, 211} {
		turn := geom.TurnDeg(deg)
		for range 20000 {
			i := int32(rng.IntN(len(tr.shape)))
			nd := &tr.shape[i]
			first, n := tr.branch(i)
			if n > coinTris {
				continue
			}
			at := m.Vertices[rng.IntN(len(m.Vertices))]
			if rng.IntN(2) == 0 {
				at = tr.coins[i].m
			}
			p := turn.ToSide(at).Add(v3(rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()).Mul(2))
			q := p.Add(v3(rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()))
			need := 3 * rng.Float64()
			top := math.Inf(-1)
			for _, v := range tr.tris[first : first+n] {
				for _, k := range v {
					top = max(top, turn.ToSide(tr.verts[k]).Z)
				}
			}
			if !tr.coins[i].clearOf(turn.ToPart(p), turn.ToPart(q), turn.Facing(), need, top > min(p.Z, q.Z)) {
				close++
				continue
			}
			clear++
			for _, v := range tr.tris[first : first+n] {
				c := tri{turn.ToSide(tr.verts[v[0]]), turn.ToSide(tr.verts[v[1]]), turn.ToSide(tr.verts[v[2]])}
				if d, _, ok := approach(&c, p, q, need); ok && d < need-1e-12 {
					t.Fatalf("side %g, branch %d: %g from a triangle, called clear of %g (%v)", deg, i, d, need, nd)
				}
			}
		}
	}
	if clear < 1000 || close < 1000 {
		t.Errorf("%d clear, %d not: the test says little", clear, close)
	}
}

// branch returns the triangles below a node.
func (t *tree) branch(i int32) (first, n int32) {
	nd := &t.shape[i]
	if nd.right < 0 {
		return nd.first, -nd.right
	}
	f, a := t.branch(i + 1)
	_, b := t.branch(nd.right)
	return f, a + b
}
