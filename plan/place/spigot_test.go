package place

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"barwise/finding"
	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/sample"
	"barwise/shop/bar"
)

// shellOf is the spigot alone.
func shellOf(p *Placed) *mesh.Mesh {
	return &mesh.Mesh{Vertices: p.Mesh.Vertices, Triangles: p.Mesh.Triangles[p.ModelTriangles:]}
}

// fillets is a spigot with hollow fillets at both ends in closed form.
type fillets struct {
	h    *Held
	stub float64
}

// out is by how much the section is grown at y: the quarter circles about (Radius + f, stub + f) and
// (Radius + f, Meets − f).
func (s fillets) out(y float64) float64 {
	a, b := s.h.StubFillet, s.h.PieceFillet
	switch {
	case y < s.stub:
		return a
	case y < s.stub+a:
		d := s.stub + a - y
		return a - math.Sqrt(a*a-d*d)
	case y > s.h.Meets:
		return b
	case y > s.h.Meets-b:
		d := y - (s.h.Meets - b)
		return b - math.Sqrt(b*b-d*d)
	}
	return 0
}

// grown is the area of the section grown by d: π(r + d)², and by Steiner's formula 4r² + 8rd + πd².
func (s fillets) grown(d float64) float64 {
	r := s.h.Radius
	if s.h.Square {
		return 4*r*r + 8*r*d + math.Pi*d*d
	}
	return math.Pi * (r + d) * (r + d)
}

// volume: a fillet's own section is f²(1 − π/4), its moment about the spigot's wall f³(5/6 − π/4): the
// square f × f less a quarter disc. By Pappus the ring around a cylinder is 2π(r·area + moment), along
// a square's sides 8r·area and at its corners once around 2π·moment.
func (s fillets) volume() float64 {
	r, h := s.h.Radius, s.h
	v := s.grown(0) * (h.To - h.From)
	for _, e := range [...]struct{ f, plain float64 }{{h.StubFillet, s.stub - h.From}, {h.PieceFillet, h.To - h.Meets}} {
		area, moment := e.f*e.f*(1-math.Pi/4), e.f*e.f*e.f*(5./6-math.Pi/4)
		v += (s.grown(e.f) - s.grown(0)) * e.plain
		if h.Square {
			v += 8*r*area + 2*math.Pi*moment
		} else {
			v += 2 * math.Pi * (r*area + moment)
		}
	}
	return v
}

// inside of spigot and box together.
func (s fillets) inside(p geom.Vec3) bool {
	if p.Y < s.h.From || p.Y > s.h.To {
		return false
	}
	d := math.Hypot(p.X, p.Z) - s.h.Radius
	if s.h.Square {
		x, z := math.Abs(p.X)-s.h.Radius, math.Abs(p.Z)-s.h.Radius
		d = math.Hypot(max(x, 0), max(z, 0)) + min(max(x, z), 0)
	}
	return d <= s.out(p.Y)
}

// Round and square spigots, with and without fillets, hold the volume and the sections of their closed
// form within what their facets may be off, and together with the model the space of both.
func TestSpigotAgainstClosedForm(t *testing.T) {
	m := sample.Box(v(-5, 0, -5), v(5, 20, 5))
	r := rand.New(rand.NewPCG(5, 5))
	for _, s := range []Spigot{{Radius: 3}, {Radius: 3, Fillet: 1}, {Radius: 2.5, Fillet: 2}, {Radius: 0.5, Fillet: 0.25},
		{Radius: 3, Square: true}, {Radius: 3, Square: true, Fillet: 1}, {Radius: 2.5, Square: true, Fillet: 2}} {
		p, err := Place(context.Background(), m, Params{Bar: square(12, 60, 20), Gap: 6, EndAllowance: 2, Spigot: &s})
		if err != nil {
			t.Fatal(err)
		}
		if p.Y1 != 58 || p.Y0 != 38 || p.StubY != 32 || p.ModelTriangles != 12 || len(p.Findings) != 0 {
			t.Errorf("y %g to %g, stub %g, %d triangles, %v", p.Y0, p.Y1, p.StubY, p.ModelTriangles, p.Findings)
		}
		h := p.Spigot
		near(t, "from", h.From, 31, 1e-12)
		near(t, "meets", h.Meets, 38, 1e-12)
		near(t, "to", h.To, 38.3, 1e-12)
		near(t, "stub fillet", h.StubFillet, s.Fillet, 0)
		near(t, "piece fillet", h.PieceFillet, s.Fillet, 0)
		near(t, "share", h.Share, 1, 0)
		if h.Facet > facetSag*1.0001 {
			t.Errorf("%+v: facets are %g mm off", s, h.Facet)
		}
		want := fillets{h, 32}
		near(t, "contact", p.Contact, want.grown(0), 1e-9)
		health := shellOf(p).Health()
		if !health.Closed || len(health.Shells) != 1 || health.Shells[0].Euler != 2 || health.Degenerate+health.Crowded+health.Pinched > 0 {
			t.Errorf("%+v: %+v", s, health)
		}
		near(t, "volume", health.Volume, want.volume(), h.Facet*health.Area+1e-9)
		near(t, "volume of both", p.Mesh.Health().Volume, want.volume()+2000, h.Facet*health.Area+1e-6)
		for range 300 {
			y := h.From + (h.To-h.From)*r.Float64()
			tol := h.Facet*(8*(s.Radius+s.Fillet)) + 1e-9
			// where the fillet runs flat a facet is as much off across as the section grows in its height
			steep := math.Abs(want.grown(want.out(y+2*h.Facet)) - want.grown(want.out(y-2*h.Facet)))
			near(t, "section", Section(shellOf(p), len(shellOf(p).Triangles), y), want.grown(want.out(y)), tol+steep)
		}
		for range 100 {
			q := v(14*r.Float64()-7, 30.5+9*r.Float64(), 14*r.Float64()-7)
			in := want.inside(q) || q.Y > 38 && max(math.Abs(q.X), math.Abs(q.Z)) < 5
			around := false // of the surface: not told apart there
			for _, d := range []geom.Vec3{v(1, 0, 0), v(-1, 0, 0), v(0, 1, 0), v(0, -1, 0), v(0, 0, 1), v(0, 0, -1)} {
				around = around || want.inside(q.Add(d.Mul(2e-3))) != want.inside(q)
			}
			if !around && (p.Mesh.Winding(q) > 0.5) != in {
				t.Errorf("%+v: %v: winding %g, inside is %v", s, q, p.Mesh.Winding(q), in)
			}
		}
	}
}

// A finer grid of facets would come closer: what is stated as their error is what is measured.
func TestFacetErrorIsWhatIsStated(t *testing.T) {
	for _, s := range []Spigot{{Radius: 3, Fillet: 1}, {Radius: 2.5, Square: true, Fillet: 2}, {Radius: 0.3, Fillet: 0.1}} {
		h := &Held{Spigot: s, From: 0, To: 10.3, Meets: 10, StubFillet: s.Fillet, PieceFillet: s.Fillet}
		m, want := h.mesh(1), fillets{h, 1}
		most := 0.0
		for i := range m.Triangles {
			a, b, c := m.Corners(i)
			for _, q := range []geom.Vec3{a, a.Lerp(b, 0.5), b.Lerp(c, 0.5), c.Lerp(a, 0.5), a.Add(b).Add(c).Mul(1. / 3)} {
				if q.Y > 1+1e-9 && q.Y < 10-1e-9 { // between the flat ends
					most = max(most, want.off(q))
				}
			}
		}
		if most > h.facet()*2.01 || most < h.facet()*0.5 {
			t.Errorf("%+v: facets are %g mm off, %g is stated", s, most, h.facet())
		}
	}
}

// off is how far a point between the ends lies off the surface of its closed form, at most.
func (s fillets) off(p geom.Vec3) float64 {
	d := math.Hypot(p.X, p.Z) - s.h.Radius
	if s.h.Square {
		d = math.Hypot(max(math.Abs(p.X)-s.h.Radius, 0), max(math.Abs(p.Z)-s.h.Radius, 0))
		d += min(max(math.Abs(p.X), math.Abs(p.Z))-s.h.Radius, 0)
	}
	for _, e := range [...]struct{ f, y float64 }{{s.h.StubFillet, s.stub + s.h.StubFillet}, {s.h.PieceFillet, s.h.Meets - s.h.PieceFillet}} {
		if math.Abs(p.Y-e.y) <= e.f && (p.Y < e.y) == (e.y < 5) {
			return math.Abs(math.Hypot(d-e.f, p.Y-e.y) - e.f)
		}
	}
	return math.Abs(d)
}

func TestSquareSpigotIsABox(t *testing.T) {
	m := sample.Box(v(-4, 0, -4), v(4, 20, 4))
	p, err := Place(context.Background(), m, Params{Bar: square(12, 60, 20), Gap: 6, Spigot: &Spigot{Radius: 3, Square: true}})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "volume", shellOf(p).Health().Volume, 36*7.3, 1e-9)
	near(t, "contact", p.Contact, 36, 1e-12)
	if n := len(shellOf(p).Triangles); n != 16 || p.Spigot.Facet != 0 {
		t.Errorf("%d triangles, %g mm off", n, p.Spigot.Facet)
	}
}

// stands reports a vertex of the spigot above Meets that is outside the model by more than tol.
func stands(t *testing.T, what string, p *Placed, tol float64) {
	t.Helper()
	model := &mesh.Mesh{Vertices: p.Mesh.Vertices, Triangles: p.Mesh.Triangles[:p.ModelTriangles]}
	s := shellOf(p)
	for k := 0; k < len(s.Triangles); k += 5 {
		for _, i := range s.Triangles[k] {
			if q := s.Vertices[i]; q.Y >= p.Spigot.Meets && !model.Inside(q.Add(v(-1e-6*q.X, tol, -1e-6*q.Z))) {
				t.Errorf("%s: %v stands out of the model", what, q)
				return
			}
		}
	}
}

// Where the base is narrower than the foot of the fillet, a smaller one is made: as wide as the base
// less at most a step of the sizes tried, and it does not stand out. On a dome the foot is where the
// dome is as wide: R − √(R² − (r + f)²) above its lowest point.
func TestFilletOnANarrowBase(t *testing.T) {
	ball := sample.Sphere(geom.Vec3{}, 10, 128)
	for _, c := range []struct {
		name  string
		m     *mesh.Mesh
		s     Spigot
		want  float64
		meets float64 // above Y0
	}{
		{"wide", sample.Box(v(-4.2, 0, -4.2), v(4.2, 20, 4.2)), Spigot{Radius: 3, Fillet: 1}, 1, 0},
		{"slab", sample.Box(v(-4.2, 0, -3.3), v(4.2, 20, 3.3)), Spigot{Radius: 3, Fillet: 1}, 0.3, 0},
		{"slab and a square", sample.Box(v(-4.2, 0, -3.3), v(4.2, 20, 3.3)), Spigot{Radius: 3, Square: true, Fillet: 1}, 0.3, 0},
		{"column", prism(360, 3.5, 20, 3, geom.Vec3{}), Spigot{Radius: 3, Fillet: 1}, 0.5, 0},
		{"column and a square", prism(360, 4.5, 20, 3, geom.Vec3{}), Spigot{Radius: 3, Square: true, Fillet: 1}, 4.5 - 3*math.Sqrt2, 0},
		{"as thick as the base", sample.Box(v(-3, 0, -3), v(3, 20, 3)), Spigot{Radius: 2.999, Fillet: 1}, 0, 0},
		{"dome", ball, Spigot{Radius: 2, Fillet: 1}, 1, 10 - math.Sqrt(100-9)},
	} {
		p, err := Place(context.Background(), c.m, Params{Bar: square(24, 60, 20), Gap: 6, Spigot: &c.s})
		if err != nil {
			t.Fatal(c.name, err)
		}
		h := p.Spigot
		if h.PieceFillet > c.want+1e-9 || h.PieceFillet < c.want-c.s.Fillet/flareSteps-1e-3 {
			t.Errorf("%s: a fillet of %g, want %g or one step less", c.name, h.PieceFillet, c.want)
		}
		near(t, c.name+" meets", h.Meets-p.Y0, c.meets, 0.01)
		near(t, c.name+" to", h.To, h.Meets+meet, 1e-12)
		stands(t, c.name, p, 1e-6+c.meets*3e-3) // between the points looked at a facetted dome is a little higher
		if told := len(p.Findings) == 1 && p.Findings[0].Code == "spigot-fillet"; told != (h.PieceFillet < c.s.Fillet) {
			t.Errorf("%s: %v", c.name, p.Findings)
		}
		if !p.Mesh.Health().Closed {
			t.Errorf("%s: not closed", c.name)
		}
		want := fillets{h, p.StubY}
		near(t, c.name+" volume", shellOf(p).Health().Volume, want.volume(), h.Facet*shellOf(p).Health().Area+1e-9)
	}
}

// The bar bounds the fillet at the stub: of a square 2r wide with a corner towards a flat by
// r(sin 60° + cos 60°), of a round bar by r√2.
func TestSpigotWithinTheBar(t *testing.T) {
	m := sample.Box(v(-2, 0, -2), v(2, 20, 2))
	of := func(sh bar.Shape, w float64) bar.Bar {
		return bar.Bar{Shape: sh, Width: w, Height: w, Length: 60, Grip: 20}
	}
	for _, c := range []struct {
		b    bar.Bar
		s    Spigot
		want float64 // below 0: refused
	}{
		{of(bar.Square, 7), Spigot{Radius: 1, Fillet: 1}, 1},
		{of(bar.Square, 7), Spigot{Radius: 3, Fillet: 1}, 0.5},
		{of(bar.Square, 7), Spigot{Radius: 3, Fillet: 1, Square: true}, 0.5},
		{of(bar.Square, 7), Spigot{Radius: 3.5, Fillet: 1, Square: true}, 0},
		{of(bar.Square, 7), Spigot{Radius: 3.6, Fillet: 1}, -1},
		{of(bar.Round, 7), Spigot{Radius: 3, Fillet: 1}, 0.5},
		{of(bar.Round, 9), Spigot{Radius: 3, Fillet: 1, Square: true}, 4.5 - 3*math.Sqrt2},
		{of(bar.Round, 8), Spigot{Radius: 3, Square: true}, -1},
		{of(bar.Hex, 8.5), Spigot{Radius: 3, Fillet: 1, Square: true}, 4.25 - 3*(math.Sqrt(3)+1)/2},
		{of(bar.Hex, 7), Spigot{Radius: 3, Fillet: 1}, 0.5},
		{of(bar.Hex, 8.1), Spigot{Radius: 3, Square: true}, -1},
	} {
		p, err := Place(context.Background(), m, Params{Bar: c.b, Gap: 6, Spigot: &c.s})
		if c.want < 0 {
			if e, ok := err.(*finding.InputError); !ok || e.Code != "spigot-wide" {
				t.Errorf("%+v in %+v: %v", c.s, c.b, err)
			}
			continue
		}
		if err != nil {
			t.Errorf("%+v in %+v: %v", c.s, c.b, err)
			continue
		}
		near(t, "stub fillet", p.Spigot.StubFillet, c.want, 1e-12)
		s, least := shellOf(p), math.Inf(1)
		for _, tr := range s.Triangles {
			for _, i := range tr {
				q := s.Vertices[i]
				for _, f := range c.b.Flats() {
					least = min(least, f.D-geom.TurnDeg(f.Deg).ToSide(q).Z)
				}
				if c.b.Shape == bar.Round {
					least = min(least, c.b.Width/2-math.Hypot(q.X, q.Z))
				}
			}
		}
		if least < -1e-9 || c.want < c.s.Fillet && least > facetSag {
			t.Errorf("%+v in %+v: %g mm to the bar's face", c.s, c.b, least)
		}
	}
}

// Turned by quarters with its base off centre a model gets the same spigot; mirrored the same but for a
// step of the sizes tried.
func TestSpigotTurnedAndMirrored(t *testing.T) {
	m := mesh.Join(sample.Box(v(-3.4, 0, -5), v(5, 6, 4.4)), sample.Box(v(-6, 5, -6), v(6, 20, 6)))
	flip := m.Map(func(p geom.Vec3) geom.Vec3 { return v(-p.X, p.Y, p.Z) })
	flip = sample.Inverted(flip)
	for _, s := range []Spigot{{Radius: 3, Fillet: 1}, {Radius: 3, Fillet: 1, Square: true}} {
		for _, deg := range []float64{0, 90, 180, 270} {
			p, err := Place(context.Background(), m, Params{Bar: square(24, 60, 20), TurnDeg: deg, Gap: 6, Spigot: &s})
			if err != nil {
				t.Fatal(err)
			}
			q, err := Place(context.Background(), flip, Params{Bar: square(24, 60, 20), TurnDeg: deg, Gap: 6, Spigot: &s})
			if err != nil {
				t.Fatal(err)
			}
			near(t, "fillet", p.Spigot.PieceFillet, 12./32, 0) // the base is 0.4 mm wider than the spigot
			near(t, "fillet of the mirrored", q.Spigot.PieceFillet, 12./32, 1./32)
			near(t, "volume", shellOf(p).Health().Volume, shellOf(q).Health().Volume, 1)
		}
	}
}

// A model whose lowest end is a small foot beside the axis: the spigot goes on until it is inside.
func TestSpigotGoesDeeper(t *testing.T) {
	foot, body := sample.Box(v(3, 0, -1), v(5, 5.01, 1)), sample.Box(v(-6, 5, -6), v(6, 20, 6))
	m := mesh.Join(foot, body)
	p, err := Place(context.Background(), m, Params{Bar: square(14, 60, 10), Gap: 6, Spigot: &Spigot{Radius: 2}})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "to", p.Spigot.To, p.Y0+5+meet, 1e-9)
	near(t, "bare", p.Spigot.Bare, 5, 1e-9)
	near(t, "share", p.Spigot.Share, 1, 0)
	if len(p.Findings) != 1 || p.Findings[0].Code != "spigot-bare" {
		t.Errorf("%v", p.Findings)
	}
	// half of the section only
	p, err = Place(context.Background(), sample.Box(v(0, 0, -6), v(6, 20, 6)), Params{Bar: square(14, 60, 10), Gap: 6, ShiftX: 3, Spigot: &Spigot{Radius: 2}})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "half", p.Spigot.Share, 0.5, 0.02)
	near(t, "half contact", p.Contact, 2*math.Pi, 0.3)
	if len(p.Findings) != 1 || p.Findings[0].Code != "spigot-weak" {
		t.Errorf("%v", p.Findings)
	}
}
