package even_test

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"reflect"
	"runtime"
	"slices"
	"testing"

	"barwise/finding"
	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/plan/cl"
	"barwise/plan/even"
	"barwise/plan/share"
	"barwise/shop/cutter"
)

// one looks at a mesh from one side within limits and decides its share.
func one(t testing.TB, m *mesh.Mesh, c cutter.Profile, half, low float64) (*share.Set, *share.View) {
	t.Helper()
	in := share.Input{Surface: cl.NewSurface(m), Mesh: m, Cutter: c, YMin: -half, YMax: half,
		Sides: []share.Side{{XMin: -half, XMax: half, ZMin: low}}}
	s := share.New(in, share.Params{})
	if err := s.All(context.Background()); err != nil {
		t.Fatal(err)
	}
	s.Spread(s.Views[0])
	return s, s.Views[0]
}

func mustPlan(t testing.TB, s *share.Set, v *share.View, p even.Params) *even.Output {
	t.Helper()
	o, err := even.Plan(context.Background(), s, v, p)
	if err != nil {
		t.Fatal(err)
	}
	return o
}

type surface struct {
	name string
	f    func(x, y float64) float64
}

var shapes = []surface{
	{"30° across", func(x, y float64) float64 { return x * math.Tan(math.Pi/6) }},
	{"45° aslant", func(x, y float64) float64 { return (x + y) / math.Sqrt2 }},
	{"dome", func(x, y float64) float64 { return math.Sqrt(100 - x*x - y*y) }},
	{"bowl", func(x, y float64) float64 { return -math.Sqrt(100 - x*x - y*y) }},
	{"cone", func(x, y float64) float64 { return -0.8 * math.Hypot(x, y) }},
	{"wavy", func(x, y float64) float64 { return 0.5 * math.Sin(0.8*x) * math.Cos(0.8*y) }},
	{"saddle", func(x, y float64) float64 { return (x*x - y*y) / 12 }},
	{"torus", func(x, y float64) float64 {
		d := math.Hypot(x, y+9) - 8
		return math.Sqrt(max(36-d*d, 0))
	}},
}

// spots samples a surface evenly in plan within half; normals by central differences of the closed form.
func spots(f func(x, y float64) float64, half float64, n int) (p, normal []geom.Vec3) {
	rnd := rand.New(rand.NewPCG(7, 8))
	const e = 1e-5
	for range n {
		x, y := half*(2*rnd.Float64()-1), half*(2*rnd.Float64()-1)
		p = append(p, geom.Vec3{X: x, Y: y, Z: f(x, y)})
		normal = append(normal, geom.Vec3{X: (f(x-e, y) - f(x+e, y)) / (2 * e), Y: (f(x, y-e) - f(x, y+e)) / (2 * e), Z: 1}.Unit())
	}
	return p, normal
}

// What a ball really leaves along the passes, by sweeping it: nothing below the surface but the chords of
// mesh and path, nowhere a gap, the ridge tops (99.8 % of all places) not
// above a tenth over the cusp asked, and ridges not needlessly low: places spread evenly between two lines
// are left ⅓ of the ridge's height on average, for the height grows with the square of the distance.
func TestCuspBySweeping(t *testing.T) {
	const r, cusp, tol = 0.5, 0.002, 0.0004
	for _, c := range shapes {
		s, v := one(t, plate(2.9, 0.02, c.f), cutter.Ball(r), 2, -20)
		o := mustPlan(t, s, v, even.Params{Cusp: cusp, Tolerance: tol, Decimals: 5})
		caps := sweep(o.Passes, r)
		p, n := spots(c.f, 1.6, 8000)
		var left []float64
		sum := 0.0
		for k := range p {
			l := caps.Left(p[k], n[k])
			left = append(left, l)
			sum += l
		}
		slices.Sort(left)
		// the facets of the mesh lie up to d²·k/8 below or above the surface, d = 0.028 mm, k up to 1/mm
		facet := 1e-4
		if c.name == "cone" {
			facet = 1e-3 // its point is no vertex
		}
		if low := left[0]; low < -tol/2-facet {
			t.Errorf("%s: %.2f µm too deep", c.name, -low*1e3)
		}
		top, worst := left[len(left)*998/1000], left[len(left)-1]
		if top > 1.1*cusp+tol+facet || worst > 1.5*cusp+tol && c.name != "cone" {
			t.Errorf("%s: ridges %.2f µm, worst %.2f", c.name, top*1e3, worst*1e3)
		}
		if mean := sum / float64(len(left)); mean < 0.7*cusp/3 || mean > cusp/3+tol {
			t.Errorf("%s: %.2f µm left on average, %.2f wanted", c.name, mean*1e3, cusp/3*1e3)
		}
		if o.CuspP99 > 1.1*cusp || o.CuspP50 < 0.75*cusp {
			t.Errorf("%s: by its own account %+v", c.name, o.Figures)
		}
	}
}

// Line offsets by ball diameter and cusp as published, to the hundredth: Dormer Pramet, Milling 2021–22,
// p. 114. On a plane sloped across the passes the plan spacing is that times the cosine of the slope.
func TestStepoverOnPlanes(t *testing.T) {
	for _, c := range []struct{ d, um, want, deg float64 }{
		{2, 2, 0.13, 0}, {2, 4, 0.18, 0}, {2, 8, 0.25, 45}, {3, 4, 0.22, 30}, {4, 8, 0.36, 55}, {6, 16, 0.62, 0}, {8, 8, 0.51, 45},
	} {
		cos := math.Cos(c.deg * math.Pi / 180)
		m := plate(12, 8, func(x, y float64) float64 { return x * math.Tan(c.deg*math.Pi/180) })
		s, v := one(t, m, cutter.Ball(c.d/2), 4, -20)
		o := mustPlan(t, s, v, even.Params{Cusp: c.um / 1e3, Tolerance: 0.001, Decimals: 4})
		var at []float64 // where passes cross y = 0.01
		for _, p := range o.Passes {
			for k := 1; k < len(p.Points); k++ {
				if a, b := p.Points[k-1], p.Points[k]; a.Y < 0.01 != (b.Y < 0.01) {
					at = append(at, a.Lerp(b, (0.01-a.Y)/(b.Y-a.Y)).X)
				}
			}
		}
		slices.Sort(at)
		var gaps []float64
		for k := 1; k < len(at); k++ {
			gaps = append(gaps, (at[k]-at[k-1])/cos)
		}
		slices.Sort(gaps)
		if mid := gaps[len(gaps)/2]; math.Abs(mid-c.want) > 0.005 || gaps[len(gaps)-1] > 1.03*mid {
			t.Errorf("Ø%g at %g µm and %g°: lines %.4f mm apart, %.2f published; widest %.4f", c.d, c.um, c.deg, mid, c.want, gaps[len(gaps)-1])
		}
	}
}

// deeper reports whether a path from a to b cuts deeper than d into the model, asked every 4 µm: then the
// cutter shrunk by d all round touches it.
func deeper(v *share.View, c cutter.Profile, a, b geom.Vec3, d float64) bool {
	small, rise, _ := c.Grown(-d)
	n := int(b.Sub(a).Len()/0.004) + 1
	for i := range n {
		u := a.Lerp(b, float64(i)/float64(n))
		if u.Z+rise < v.Index.Height(small, u.X, u.Y)-1e-9 {
			return true
		}
	}
	return false
}

// Every point is representable; between points the path keeps within its tolerances of the exact surface,
// asked anew every 4 µm.
func TestPathsKeepToTheSurface(t *testing.T) {
	const tol = 0.002
	for _, c := range shapes {
		s, v := one(t, plate(3, 0.1, c.f), cutter.Ball(0.5), 2, -20)
		o := mustPlan(t, s, v, even.Params{Cusp: 0.01, Tolerance: tol, Decimals: 3})
		for _, p := range o.Passes {
			for k, q := range p.Points {
				for _, x := range [3]float64{q.X, q.Y, q.Z} {
					if math.Abs(x*1000-math.Round(x*1000)) > 1e-6 {
						t.Fatalf("%s: %v is not representable", c.name, q)
					}
				}
				if k == 0 {
					continue
				}
				if deeper(v, s.Prof, p.Points[k-1], q, tol/2) {
					t.Fatalf("%s: too deep from %v to %v", c.name, p.Points[k-1], q)
				}
			}
		}
	}
}

// A step across the share: lines end at it on either side, what they answer for goes right up to it, and no
// point gouges.
func TestStepAndSlot(t *testing.T) {
	f := func(x, y float64) float64 {
		switch {
		case y > 0.51 && x < 1.013:
			return 2
		case x > 1.013 && y < -0.497:
			return -1
		}
		return 0
	}
	s, v := one(t, plate(4, 0.02, f), cutter.Ball(0.5), 3, -20)
	o := mustPlan(t, s, v, even.Params{Cusp: 0.004, Tolerance: 0.002, Decimals: 3})
	cover := map[[2]int]bool{}
	for _, p := range o.Passes {
		for k := 1; k < len(p.Points); k++ {
			a, b := p.Points[k-1], p.Points[k]
			if deeper(v, s.Prof, a, b, 0.001) {
				t.Fatalf("too deep from %v to %v", a, b)
			}
			n := int(b.Sub(a).Len()/0.005) + 1
			for i := range n + 1 {
				u := a.Lerp(b, float64(i)/float64(n))
				c, r := v.Field.Nearest(u.XY())
				cover[[2]int{c, r}] = true
			}
		}
	}
	n, feet := 0, 0
	for k, c := range o.Covered {
		if v.Foot[k] {
			feet++
		}
		if !c {
			continue
		}
		n++
		if v.Foot[k] {
			t.Fatalf("the foot of a wall at (%.2f, %.2f) is held covered: nobody goes up the wall", v.Field.X(k%v.Field.NX), v.Field.Y(k/v.Field.NX))
		}
		i, j := k%v.Field.NX, k/v.Field.NX
		near := false
		for d := range 25 {
			near = near || cover[[2]int{i + d%5 - 2, j + d/5 - 2}]
		}
		if !near {
			t.Fatalf("no pass near (%.2f, %.2f)", v.Field.X(i), v.Field.Y(j))
		}
	}
	if n < 10000 || feet == 0 {
		t.Errorf("only %d nodes covered, %d feet of walls", n, feet)
	}
}

// The same on one core and on many; across is along with x and y exchanged; a shift of the model by whole
// pitches shifts the passes.
func TestSymmetries(t *testing.T) {
	f := func(x, y float64) float64 { return 0.4 * math.Sin(x) * math.Cos(0.7*y+0.3) }
	p := even.Params{Cusp: 0.01, Tolerance: 0.002, Decimals: 3}
	plan := func(f func(x, y float64) float64, p even.Params) *even.Output {
		s, v := one(t, plate(4, 0.1, f), cutter.Ball(0.5), 3, -20)
		return mustPlan(t, s, v, p)
	}
	a := plan(f, p)
	old := runtime.GOMAXPROCS(1)
	b := plan(f, p)
	runtime.GOMAXPROCS(old)
	if !reflect.DeepEqual(a, b) {
		t.Error("one core plans otherwise")
	}
	p.Across = true
	c := plan(func(x, y float64) float64 { return f(y, x) }, p)
	if math.Abs(c.CutLength/a.CutLength-1) > 0.01 || math.Abs(c.CuspP50/a.CuspP50-1) > 0.02 {
		t.Errorf("along %+v, across %+v", a.Figures, c.Figures)
	}
	// mirrored left to right, lines begin at the other border: as long, and as good
	d := plan(func(x, y float64) float64 { return f(-x, y) }, even.Params{Cusp: 0.01, Tolerance: 0.002, Decimals: 3})
	if math.Abs(d.CutLength/a.CutLength-1) > 0.03 {
		t.Errorf("mirrored %.0f mm, else %.0f", d.CutLength, a.CutLength)
	}
}

// What is steeper than asked, or not wanted, is left to others and said to be.
func TestLeavesTheSteep(t *testing.T) {
	f := func(x, y float64) float64 { return -0.5 * x * x } // slope |x|: 60° from x = 1.73
	s, v := one(t, plate(4, 0.05, f), cutter.Ball(0.25), 3, -20)
	p := even.Params{Cusp: 0.004, Tolerance: 0.002, Decimals: 3}
	o := mustPlan(t, s, v, p)
	for k, c := range o.Covered {
		// the tip over a place of slope m stands r·sin θ aside of it
		x := v.Field.X(k % v.Field.NX)
		at := math.Sqrt(3) + 0.25*math.Sqrt(3)/2
		if y := v.Field.Y(k / v.Field.NX); math.Abs(y) < 2.9 && math.Abs(math.Abs(x)-at) > 0.1 && c != (math.Abs(x) < at) {
			t.Fatalf("at x = %.2f covered is %v, the limit is %.2f", x, c, at)
		}
	}
	p.Keep = func(k int) bool { return v.Field.X(k%v.Field.NX) > 0.5 }
	for _, pass := range mustPlan(t, s, v, p).Passes {
		for _, q := range pass.Points {
			if q.X < 0.5-3*0.1-s.Overlap {
				t.Fatalf("a pass at %v, wanted from x = 0.5", q)
			}
		}
	}
}

func TestRefusals(t *testing.T) {
	m := plate(2, 1, func(x, y float64) float64 { return 0 })
	s, v := one(t, m, cutter.Ball(0.5), 1, -2)
	good := even.Params{Cusp: 0.01, Tolerance: 0.01, Decimals: 3}
	for _, f := range []func(*even.Params){
		func(p *even.Params) { p.Cusp = 0 }, func(p *even.Params) { p.Cusp = 0.3 }, func(p *even.Params) { p.Tolerance = math.NaN() },
		func(p *even.Params) { p.Decimals = 0 }, func(p *even.Params) { p.Steepest = 1.5 },
	} {
		p := good
		f(&p)
		var bad *finding.InputError
		if _, err := even.Plan(context.Background(), s, v, p); !errors.As(err, &bad) {
			t.Errorf("%+v: %v", p, err)
		}
	}
	fs, fv := one(t, m, cutter.FlatEnd(0.5), 1, -2)
	if _, err := even.Plan(context.Background(), fs, fv, good); err == nil {
		t.Error("a flat cutter was taken")
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := even.Plan(ctx, s, v, good); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
}
