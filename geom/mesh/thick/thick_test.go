package thick

import (
	"context"
	"math"
	"math/rand"
	"runtime"
	"testing"
	"time"

	"barwise/finding"
	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/patch"
	"barwise/geom/mesh/ply"
	"barwise/geom/mesh/sample"
)

func v(x, y, z float64) geom.Vec3 { return geom.Vec3{X: x, Y: y, Z: z} }

// turned is the closed solid of revolution about Y of a closed outline of (radius, y), walked with the
// solid on its left when radius points right and y up; a radius of 0 is on the axis.
func turned(outline []geom.Vec2, n int) *mesh.Mesh {
	m := &mesh.Mesh{}
	at := make([][]int32, len(outline))
	for i, p := range outline {
		k := n
		if p.X == 0 {
			k = 1
		}
		for j := range k {
			s, c := math.Sincos(2 * math.Pi * float64(j) / float64(n))
			at[i] = append(at[i], int32(len(m.Vertices)))
			m.Vertices = append(m.Vertices, v(p.X*c, p.Y, -p.X*s))
		}
	}
	for i := range outline {
		a, b := at[i], at[(i+1)%len(at)]
		for j := range n {
			p, q, r, s := a[j%len(a)], a[(j+1)%len(a)], b[(j+1)%len(b)], b[j%len(b)]
			if p != q {
				m.Triangles = append(m.Triangles, [3]int32{p, q, s})
			}
			if r != s {
				m.Triangles = append(m.Triangles, [3]int32{q, r, s})
			}
		}
	}
	return m
}

func run(t testing.TB, f func(context.Context, *mesh.Mesh, *patch.Set, Params) ([]float32, error), m *mesh.Mesh, edge float64, p Params) (*patch.Set, []float32) {
	t.Helper()
	s := patch.Cut(m, edge, 1<<20)
	got, err := f(context.Background(), m, s, p)
	if err != nil {
		t.Fatal(err)
	}
	if len(got) != s.Len() {
		t.Fatalf("%d values for %d patches", len(got), s.Len())
	}
	return s, got
}

func near(t *testing.T, what string, got float32, want, tol float64) {
	t.Helper()
	if math.Abs(float64(got)-want) > tol {
		t.Fatalf("%s: %v, want %v ± %v", what, got, want, tol)
	}
}

// A box is as thick as it is across, to the very edge: its corners are no walls.
func TestBox(t *testing.T) {
	m := sample.Box(v(1, 2, 3), v(11, 10, 4.5))
	s, got := run(t, Measure, m, 0.7, Params{Most: 50})
	for i, g := range got {
		n := s.Normal(i)
		near(t, "box", g, math.Abs(n.X)*10+math.Abs(n.Y)*8+math.Abs(n.Z)*1.5, 1e-5)
	}
	_, got = run(t, Measure, m, 0.7, Params{Most: 4})
	for i, g := range got {
		near(t, "box, no more than 4", g, map[bool]float64{true: 1.5, false: 4}[math.Abs(s.Normal(i).Z) > 0.5], 1e-6)
	}
	_, got = run(t, Gap, m, 0.7, Params{Most: 4})
	for _, g := range got {
		near(t, "air about a box", g, 4, 0)
	}
}

// A ball is 2R thick everywhere. The middle of a facet's half lies a sixth of a facet's width and height
// from where its plane touches the round, so its normal leans by that angle δ and the ball that fits is
// less by a part δ; the facets' sag is of second order.
func TestBall(t *testing.T) {
	for _, n := range []float64{36, 90} {
		const r = 5.0
		_, got := run(t, Measure, sample.Sphere(geom.Vec3{}, r, int(n)), 10, Params{Most: 50})
		for _, g := range got {
			near(t, "ball", g, 2*r, 2*r*(2*math.Pi/n/6*math.Sqrt2+10/(n*n)))
		}
	}
}

// A tube's wall is R − r, its bore 2r wide, both to the facets' error; flat ends see the other end.
func TestTube(t *testing.T) {
	const big, small, long, n = 6.0, 4.5, 30.0, 96
	m := turned([]geom.Vec2{{X: small, Y: 0}, {X: big, Y: 0}, {X: big, Y: long}, {X: small, Y: long}}, n)
	tol := 2 * big * (1 - math.Cos(math.Pi/n))
	lean := math.Pi / n // a normal's error at a facet's rim: of first order for a round that is seen from inside
	s, got := run(t, Measure, m, 1, Params{Most: 40})
	_, gap := run(t, Gap, m, 1, Params{Most: 40})
	for i := range got {
		c := s.Centre(i)
		switch {
		case math.Abs(s.Normal(i).Y) > 0.5:
			near(t, "end", got[i], long, 1e-4)
			near(t, "air beyond the end", gap[i], 40, 0)
		case math.Hypot(c.X, c.Z) > (big+small)/2:
			near(t, "wall from outside", got[i], big-small, tol)
			near(t, "air outside", gap[i], 40, 0)
		default:
			near(t, "wall from inside", got[i], big-small, tol)
			near(t, "bore", gap[i], 2*small, 2*small*lean+tol)
		}
	}
}

// The ball that touches a cone at the distance s from its tip has its centre on the axis: its diameter
// is 2 s tan γ.
func TestCone(t *testing.T) {
	for _, deg := range []float64{5, 15, 30} {
		const long, n = 20.0, 180
		tan := math.Tan(deg * math.Pi / 180)
		m := turned([]geom.Vec2{{}, {X: long * tan, Y: long}, {X: 0, Y: long}}, n)
		s, got := run(t, Measure, m, 1, Params{Most: 100})
		seen := 0
		for i := range got {
			c := s.Centre(i)
			from := c.Len()
			// the ball reaches up to y = s(1/cos γ)(1 + tan γ …); near the base it is cut off
			if s.Normal(i).Y > 0.9 || from > 0.4*long || from < 0.5 {
				continue
			}
			seen++
			near(t, "cone", got[i], 2*from*tan, 2*from*tan*1.1*math.Pi/n)
		}
		if seen < 20 {
			t.Errorf("%v°: %d patches looked at", deg, seen)
		}
	}
}

// wedge is a prism along Z whose faces meet at angle deg in the edge x = y = 0.
func wedge(deg, long float64) *mesh.Mesh {
	s, c := math.Sincos(deg / 2 * math.Pi / 180)
	m := &mesh.Mesh{}
	for _, z := range [2]float64{0, 8} {
		m.Vertices = append(m.Vertices, v(0, 0, z), v(long*c, -long*s, z), v(long*c, long*s, z))
	}
	m.Triangles = [][3]int32{{0, 2, 1}, {3, 4, 5}, {0, 1, 4}, {0, 4, 3}, {1, 2, 5}, {1, 5, 4}, {2, 0, 3}, {2, 3, 5}}
	return m
}

// The ball that touches both faces of a wedge at the distance d from its edge is 2 d tan(α/2) across.
// From DefaultWedgeDeg on the two faces are a corner and no wall.
func TestWedge(t *testing.T) {
	for _, deg := range []float64{3, 20, 45, 60, 74} {
		m := wedge(deg, 30)
		s, got := run(t, Measure, m, 0.8, Params{Most: 100})
		for i := range got {
			c := s.Centre(i)
			d := math.Hypot(c.X, c.Y)
			if math.Abs(s.Normal(i).Z) > 0.5 || s.Normal(i).X > 0.5 || d > 10 || c.Z < 2 || c.Z > 6 {
				continue
			}
			// the ends of the prism and its back are farther than the ball
			want := 2 * d * math.Tan(deg/2*math.Pi/180)
			near(t, "wedge", got[i], want, 1e-5)
		}
	}
	s, got := run(t, Measure, wedge(76, 30), 0.8, Params{Most: 6})
	for i := range got {
		if math.Abs(s.Normal(i).Z) < 0.5 && s.Normal(i).X < 0.5 && s.Centre(i).X < 10 {
			near(t, "corner of 76°", got[i], 6, 0)
		}
	}
}

// A slot between two boxes is as wide as it is, and only over their common height.
func TestSlot(t *testing.T) {
	m := mesh.Join(sample.Box(v(0, 0, 0), v(10, 10, 10)), sample.Box(v(10.8, 0, 0), v(20, 10, 10)))
	s, got := run(t, Gap, m, 0.6, Params{Most: 4})
	for i := range got {
		n, c := s.Normal(i), s.Centre(i)
		want := 4.0
		if n.X > 0.5 && c.X < 10.5 || n.X < -0.5 && c.X > 10.5 {
			want = 0.8
		}
		near(t, "slot", got[i], want, 1e-5)
	}
}

// What is beyond Triangles is neither a wall nor measured.
func TestOnlyTheFirstTriangles(t *testing.T) {
	a, b := sample.Box(v(0, 0, 0), v(10, 10, 10)), sample.Box(v(2, -4, 2), v(8, 3, 8))
	m := mesh.Join(a, b)
	s, got := run(t, Measure, m, 0.9, Params{Most: 40, Triangles: len(a.Triangles)})
	for i := range got {
		want := 10.0
		if int(s.Of[i]) >= len(a.Triangles) {
			want = 40
		}
		near(t, "box with a stub in it", got[i], want, 1e-5)
	}
}

// What is said of meshes that are no solid: a sheet is thick, an open tube keeps its wall, a doubled
// sheet is a wall of nothing, an inverted box is measured as air.
func TestNoSolid(t *testing.T) {
	box := sample.Box(v(0, 0, 0), v(10, 10, 2))
	sheet := &mesh.Mesh{Vertices: box.Vertices, Triangles: box.Triangles[:2]}
	_, got := run(t, Measure, sheet, 1, Params{Most: 7})
	for _, g := range got {
		near(t, "sheet", g, 7, 0)
	}
	open := &mesh.Mesh{Vertices: box.Vertices, Triangles: box.Triangles[:4]}
	_, got = run(t, Measure, open, 1, Params{Most: 7})
	for _, g := range got {
		near(t, "two faces of a box", g, 2, 1e-6)
	}
	double := mesh.Join(sheet, sample.Inverted(sheet))
	_, got = run(t, Measure, double, 1, Params{Most: 7})
	for _, g := range got {
		near(t, "doubled sheet", g, 0, 1e-7)
	}
	s, got := run(t, Gap, sample.Inverted(box), 1, Params{Most: 70})
	for i, g := range got {
		n := s.Normal(i)
		near(t, "inverted box", g, 10*math.Abs(n.X)+10*math.Abs(n.Y)+2*math.Abs(n.Z), 1e-5)
	}
	bad := &mesh.Mesh{Vertices: []geom.Vec3{{}, {X: 1}, {X: 2}, {X: math.NaN()}}, Triangles: [][3]int32{{0, 1, 2}, {0, 0, 0}, {0, 1, 3}}}
	at := &patch.Set{Of: []int32{0, 1, 2}}
	for i := range bad.Triangles {
		a, b, c := bad.Corners(i)
		at.Corner = append(at.Corner, a, b, c)
	}
	got, err := Measure(context.Background(), bad, at, Params{Most: 3})
	if err != nil || got[0] != 3 || got[1] != 3 || got[2] != 3 {
		t.Errorf("triangles without area: %v, %v", got, err)
	}
	if got, err := Measure(context.Background(), &mesh.Mesh{}, &patch.Set{}, Params{Most: 3}); err != nil || len(got) != 0 {
		t.Errorf("nothing: %v, %v", got, err)
	}
}

func TestBadParams(t *testing.T) {
	for _, p := range []Params{{}, {Most: math.NaN()}, {Most: -1}, {Most: math.Inf(1)}, {Most: 1, WedgeDeg: 180}, {Most: 1, WedgeDeg: -3}} {
		if _, err := Measure(context.Background(), &mesh.Mesh{}, &patch.Set{}, p); !finding.IsInput(err) {
			t.Errorf("%+v: %v", p, err)
		}
	}
}

// lump is a closed body of random waves with thin and thick places.
func lump(seed int64, n int) *mesh.Mesh {
	rng := rand.New(rand.NewSource(seed))
	m := sample.Sphere(geom.Vec3{}, 1, n)
	a, b := rng.Float64()*6, rng.Float64()*6
	return m.Map(func(p geom.Vec3) geom.Vec3 {
		k := 3 + math.Sin(3*p.X+a)*math.Cos(2*p.Y+b) + 0.7*math.Sin(5*p.Z)
		return v(k*p.X, 1.5*k*p.Y, 0.3*k*p.Z)
	})
}

// The slow twins: every triangle for every patch, to the bit; and the definition itself on points
// sown over the opposite triangles, which can only be larger, and not by much.
func TestTwins(t *testing.T) {
	m := lump(3, 32)
	p := Params{Most: 3, WedgeDeg: DefaultWedgeDeg}
	for _, facing := range []float64{1, -1} {
		s := patch.Cut(m, 1, 1<<20)
		got, err := measure(context.Background(), m, s, p, facing)
		if err != nil {
			t.Fatal(err)
		}
		tree, _ := grow(context.Background(), m, len(m.Triangles), facing)
		q := newQuery(tree, p)
		under, below := 0, 0
		for i := range s.Len() {
			c, n := s.Centre(i), s.Normal(i).Mul(facing)
			best := p.Most
			for k := range tree.tris {
				best = min(best, touch(&tree.tris[k], c, n, q.facing, q.cone, math.Inf(1)))
			}
			if float32(best) != got[i] {
				t.Fatalf("patch %d: %v by the tree, %v by all triangles", i, got[i], best)
			}
			if best < p.Most {
				below++
			}
			if i%7 != 0 {
				continue
			}
			sown := sow(m, c, n, facing, p)
			if sown < best-1e-9 {
				t.Fatalf("patch %d: %v, a point of the surface allows only %v", i, best, sown)
			}
			if sown > best+0.02 {
				t.Errorf("patch %d: %v, though points of the surface allow %v", i, best, sown)
			}
			if best < p.Most {
				under++
			}
		}
		if facing > 0 && (under < 30 || below < 500) {
			t.Errorf("only %d and %d patches met anything", under, below)
		}
	}
}

// sow is the definition of thickness over points of the triangles.
func sow(m *mesh.Mesh, p, n geom.Vec3, facing float64, par Params) float64 {
	const k = 24
	best := par.Most
	w := par.WedgeDeg * math.Pi / 180
	for i := range m.Triangles {
		a, b, c := m.Corners(i)
		o := b.Sub(a).Cross(c.Sub(a)).Unit().Mul(facing)
		// the angle between the outward normals is π less the angle in the solid
		if math.Acos(max(-1, min(1, o.Dot(n)))) < math.Pi-w || o.Dot(a.Sub(p)) < 0 {
			continue
		}
		for x := range k + 1 {
			for y := range k + 1 - x {
				q := a.Add(b.Sub(a).Mul(float64(x) / k)).Add(c.Sub(a).Mul(float64(y) / k)).Sub(p)
				if deep := -n.Dot(q); deep > 0 && math.Acos(min(1, deep/q.Len())) <= w/2 {
					best = min(best, q.Dot(q)/deep)
				}
			}
		}
	}
	return best
}

// Mirrors, quarter turns and shifts of the body change nothing; nor do the order of its triangles and
// the number of cores.
func TestSymmetry(t *testing.T) {
	m := lump(5, 36)
	p := Params{Most: 4}
	s, want := run(t, Measure, m, 1, p)
	for name, f := range map[string]func(geom.Vec3) geom.Vec3{
		"quarter turn": func(q geom.Vec3) geom.Vec3 { return v(q.Z, q.Y, -q.X) },
		"other turn":   func(q geom.Vec3) geom.Vec3 { return v(q.Y, q.Z, q.X) },
		"shift":        func(q geom.Vec3) geom.Vec3 { return q.Add(v(64, -32, 128)) },
	} {
		check(t, name, m.Map(f), place(s, f, false), p, want, 2e-5)
	}
	mirror := func(q geom.Vec3) geom.Vec3 { return v(-q.X, q.Y, q.Z) }
	check(t, "mirror", sample.Inverted(m.Map(mirror)), place(s, mirror, true), p, want, 2e-6)

	back := &mesh.Mesh{Vertices: m.Vertices}
	for i := range m.Triangles {
		back.Triangles = append(back.Triangles, m.Triangles[len(m.Triangles)-1-i])
	}
	check(t, "other order", back, s, p, want, 0)
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	check(t, "one core", m, s, p, want, 0)
}

func place(s *patch.Set, f func(geom.Vec3) geom.Vec3, flip bool) *patch.Set {
	out := &patch.Set{Of: s.Of, Edge: s.Edge}
	for i := range s.Len() {
		a, b, c := s.Corners(i)
		if flip {
			b, c = c, b
		}
		out.Corner = append(out.Corner, f(a), f(b), f(c))
	}
	return out
}

func check(t *testing.T, name string, m *mesh.Mesh, s *patch.Set, p Params, want []float32, tol float64) {
	t.Helper()
	got, err := Measure(context.Background(), m, s, p)
	if err != nil {
		t.Fatal(err)
	}
	for i := range got {
		if math.Abs(float64(got[i]-want[i])) > tol {
			t.Fatalf("%s: patch %d: %v, was %v", name, i, got[i], want[i])
		}
	}
}

func TestCancel(t *testing.T) {
	ctx, stop := context.WithCancel(context.Background())
	m := sample.Sphere(geom.Vec3{}, 5, 400)
	s := patch.Cut(m, 0.2, 1<<20)
	go func() { time.Sleep(20 * time.Millisecond); stop() }()
	from := time.Now()
	if _, err := Measure(ctx, m, s, Params{Most: 12}); err != context.Canceled {
		t.Errorf("error %v", err)
	}
	if d := time.Since(from); d > 2*time.Second {
		t.Errorf("stopped after %v", d)
	}
}

// The tree against all triangles on the dragon, which cuts through itself in places.
func TestDragon(t *testing.T) {
	m := sample.Dragon(t, ply.Read)
	k := 80 / m.Box().Size().Y
	m = m.Map(func(q geom.Vec3) geom.Vec3 { return q.Mul(k) })
	p := Params{Most: 4, WedgeDeg: DefaultWedgeDeg}
	for _, facing := range []float64{1, -1} {
		s := patch.Cut(m, 0.4, 400_000)
		got, err := measure(context.Background(), m, s, p, facing)
		if err != nil {
			t.Fatal(err)
		}
		tree, _ := grow(context.Background(), m, len(m.Triangles), facing)
		q := newQuery(tree, p)
		for i := 0; i < s.Len(); i += 9973 {
			c, n := s.Centre(i), s.Normal(i).Mul(facing)
			best := p.Most
			for k := range tree.tris {
				best = min(best, touch(&tree.tris[k], c, n, q.facing, q.cone, math.Inf(1)))
			}
			if float32(best) != got[i] {
				t.Fatalf("patch %d: %v by the tree, %v by all triangles", i, got[i], best)
			}
		}
	}
}

func BenchmarkMeasure(b *testing.B) {
	m := lump(3, 450)
	m = m.Map(func(p geom.Vec3) geom.Vec3 { return p.Mul(5) })
	s := patch.Cut(m, 0.4, 200_000)
	b.Logf("%d triangles, %d patches", len(m.Triangles), s.Len())
	for b.Loop() {
		if _, err := Measure(context.Background(), m, s, Params{Most: 4}); err != nil {
			b.Fatal(err)
		}
	}
}

// A dense bead thinner than Most is the worst there is: the largest ball meets all of it at once.
func BenchmarkBead(b *testing.B) {
	m := sample.Sphere(geom.Vec3{}, 1.9, 120)
	s := patch.Cut(m, 0.4, 200_000)
	b.Logf("%d triangles, %d patches", len(m.Triangles), s.Len())
	for b.Loop() {
		if _, err := Measure(context.Background(), m, s, Params{Most: 4}); err != nil {
			b.Fatal(err)
		}
	}
}
