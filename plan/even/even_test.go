package even_test

import (
	"context"
	"math"
	"testing"

	"barwise/geom/mesh"
	"barwise/plan/cl"
	"barwise/plan/even"
	"barwise/plan/share"
	"barwise/shop/cutter"
)

// one looks at a mesh from one side within limits and decides its share.
func one(t testing.TB, m *mesh.Mesh, c cutter.Profile, deg, half, low float64) (*share.Set, *share.View) {
	t.Helper()
	in := share.Input{Surface: cl.NewSurface(m), Mesh: m, Cutter: c, YMin: -half, YMax: half,
		Sides: []share.Side{{Deg: deg, XMin: -half, XMax: half, ZMin: low}}}
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

var shapes = []struct {
	name string
	f    func(x, y float64) float64
}{
	{"level", func(x, y float64) float64 { return 0 }},
	{"30° across", func(x, y float64) float64 { return x * math.Tan(math.Pi/6) }},
	{"30° along", func(x, y float64) float64 { return y * math.Tan(math.Pi/6) }},
	{"45° aslant", func(x, y float64) float64 { return (x + y) / math.Sqrt2 }},
	{"dome", func(x, y float64) float64 { return math.Sqrt(200 - x*x - y*y) }},
	{"bowl", func(x, y float64) float64 { return -math.Sqrt(200 - x*x - y*y) }},
	{"cone", func(x, y float64) float64 { return -0.8 * math.Hypot(x, y) }},
	{"wavy", func(x, y float64) float64 { return 0.5 * math.Sin(0.8*x) * math.Cos(0.8*y) }},
	{"saddle", func(x, y float64) float64 { return (x*x - y*y) / 15 }},
}

// The plan's own account: half of all pairs are near the cusp asked, 99 % within a tenth over it.
func TestCuspByOwnAccount(t *testing.T) {
	for _, c := range shapes {
		s, v := one(t, plate(5, 0.1, c.f), cutter.Ball(0.5), 0, 3.5, -20)
		o := mustPlan(t, s, v, even.Params{Cusp: 0.002, Tolerance: 0.002, Decimals: 3})
		if o.CuspP99 > 0.0022 || o.CuspP50 < 0.0017 || o.Pairs < 500 {
			t.Errorf("%s: %+v", c.name, o.Figures)
		}
	}
}
