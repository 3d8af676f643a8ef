package fragile

import (
	"math"
	"testing"

	"barwise/geom"
	"barwise/geom/mesh"
)

// bend judges a rod held at y = 0 and returns how far it bends, mm.
func bend(t *testing.T, m *mesh.Mesh, force, e float64) float64 {
	t.Helper()
	r := judge(t, m, Params{Material: stuff(e), ForceN: force, Limit: 0.01, Tolerance: 1e-9})
	if len(r.Slender) == 0 {
		t.Fatal("no slender part")
	}
	return r.Slender[0].Bends
}

// The cantilever δ = F L³/(3 E I), I = π d⁴/64: rows computed from the formula.
func TestRoundCantilever(t *testing.T) {
	for _, c := range []struct{ d, l, f, e, um float64 }{
		{3, 12, 10, 600, 2.4144}, {3, 24, 10, 600, 19.3155}, {1, 5, 2, 600, 2.8294}, {6, 20, 50, 600, 3.4931},
	} {
		got := bend(t, rod(-1, c.l, ngon(c.d/2, 400)), c.f, c.e)
		near(t, "round", got*1000, c.um, 3e-4)
	}
}

// Two steps: δ = F/(3E)·[L1³/I1 + ((L1+L2)³ − L1³)/I2]; F 5 N, tip Ø2×6, shank Ø3×9, E 600 GPa give
// 2.971 µm (computed from the formula).
func TestSteppedCantilever(t *testing.T) {
	a, b := ngon(1.5, 400), ngon(1, 400)
	m := loft([]float64{-1, 9, 9, 15}, [][]geom.Vec2{a, a, b, b})
	near(t, "stepped", bend(t, m, 5, 600)*1000, 2.971, 2e-3)
}

// A round taper from d1 at the tip to d2 at the foot: δ = 64 F L³/(3 π E d1 d2³), which is the integral
// of s²/(E I(s)) for d(s) = d1 + (d2 − d1) s/L.
func TestTaperedCantilever(t *testing.T) {
	for _, c := range [][2]float64{{1, 3}, {2, 2.5}, {3, 1.5}} {
		const l, f, e = 20.0, 4.0, 70.0
		m := loft([]float64{0, l}, [][]geom.Vec2{ngon(c[1]/2, 300), ngon(c[0]/2, 300)})
		want := 64 * f * l * l * l / (3 * math.Pi * e * 1000 * c[0] * math.Pow(c[1], 3))
		near(t, "tapered", bend(t, m, f, e), want, 2e-3)
	}
}

// A rectangle bends about its weak axis, whichever way it is turned about Y.
func TestRectangularCantilever(t *testing.T) {
	for _, deg := range []float64{0, 17, 45, 90, 133} {
		s, c := math.Sincos(deg * math.Pi / 180)
		q := quad(4, 1.5)
		for i, p := range q {
			q[i] = geom.Vec2{X: p.X*c - p.Y*s, Y: p.X*s + p.Y*c}
		}
		want := 3 * math.Pow(18, 3) / (3 * 2500 * 4 * math.Pow(1.5, 3) / 12)
		near(t, "rectangular", bend(t, rod(-2, 18, q), 3, 2.5), want, 1e-4)
	}
}

// A rod that leans is as long as it is and as thick as it is across itself, not across the bar.
func TestLeaningCantilever(t *testing.T) {
	for _, deg := range []float64{15, 30, 45} {
		sn, cs := math.Sincos(deg * math.Pi / 180)
		const d, l = 2.0, 30.0
		// the level section of a leaning round rod is an ellipse
		p := ngon(d/2, 200)
		for i := range p {
			p[i].X /= cs
		}
		m := loft([]float64{0, l * cs}, [][]geom.Vec2{p, moved(p, geom.Vec2{X: l * sn})})
		want := 64 * 2 * l * l * l / (3 * math.Pi * 10000 * math.Pow(d, 4))
		near(t, "leaning", bend(t, m, 2, 10), want, 5e-3)
	}
}

// A square arm from a stout body bends by F L³/(3 E I) from the body's face, whichever side it is on,
// and not at all more than the body's own give.
func TestArms(t *testing.T) {
	body := block{[3]int{-8, 0, -8}, [3]int{8, 24, 8}}
	want := 1.0 * 10 * 10 * 10 / (3 * 1000 / 12.0)
	for _, a := range []struct {
		what string
		b    block
		tip  geom.Vec3
	}{
		{"arm", block{[3]int{8, 14, 0}, [3]int{28, 16, 2}}, v(14, 7.5, 0.5)},
		{"arm", block{[3]int{-28, 14, 0}, [3]int{-8, 16, 2}}, v(-14, 7.5, 0.5)},
		{"arm", block{[3]int{0, 14, 8}, [3]int{2, 16, 28}}, v(0.5, 7.5, 14)},
		{"arm", block{[3]int{0, 14, -28}, [3]int{2, 16, -8}}, v(0.5, 7.5, -14)},
		{"mast", block{[3]int{0, 24, 0}, [3]int{2, 44, 2}}, v(0.5, 22, 0.5)},
	} {
		r := judge(t, union(0.5, body, a.b), Params{Material: stuff(1), ForceN: 1, Limit: 0.5, Tolerance: 0.5})
		if len(r.Slender) != 1 {
			t.Fatalf("%d slender parts: %+v", len(r.Slender), r.Slender)
		}
		s := r.Slender[0]
		near(t, a.what+" own", s.Own, want, 0.03)
		near(t, a.what+" length", s.Length, 10, 0.06)
		near(t, a.what+" thickness", s.Thick, 1, 1e-6)
		if s.What != a.what || s.Tip.Sub(a.tip).Len() > 0.1 {
			t.Errorf("%s at %v, want a %s at %v", s.What, s.Tip, a.what, a.tip)
		}
	}
}

// A part that hangs from an arm, beside the body and not joined to it below.
func TestHanging(t *testing.T) {
	m := union(0.5, block{[3]int{-8, 0, -8}, [3]int{8, 40, 8}}, block{[3]int{8, 30, -8}, [3]int{24, 40, 8}},
		block{[3]int{16, 10, 0}, [3]int{18, 30, 2}})
	r := judge(t, m, Params{Material: stuff(1), ForceN: 1, Limit: 0.5, Tolerance: 0.5})
	if len(r.Slender) != 1 {
		t.Fatalf("%d slender parts: %+v", len(r.Slender), r.Slender)
	}
	s := r.Slender[0]
	near(t, "hanging", s.Own, 1.0*1000/(3*1000/12.0), 0.03)
	if s.What != "hanging" || s.Tip.Sub(v(8.5, 5, 0.5)).Len() > 0.1 {
		t.Errorf("%s with its tip at %v", s.What, s.Tip)
	}
	if s.Bends < s.Own {
		t.Errorf("bends by %v in all, by itself %v", s.Bends, s.Own)
	}
}

// Two round rods of length h at right angles, in a plane with the bar: a force across the plane at the
// end bends both and twists the lower one: F h³ (2/(3EI) + 1/(GJ)), G = E/2.6, J = π d⁴/32. In the plane
// the worst is less, F h³/(EI)·(5/6 + 1/√2), the greater eigenvalue of (4/3 1/2; 1/2 1/3).
func TestCrook(t *testing.T) {
	// each leans by 45°: up and out, then up and back
	p := ngon(0.8, 120)
	for i := range p {
		p[i].X *= math.Sqrt2
	}
	const d, half = 1.6, 10.0
	k := half / math.Sqrt2
	m := loft([]float64{0, k, 2 * k}, [][]geom.Vec2{p, moved(p, geom.Vec2{X: k}), p})
	ei := 10000 * math.Pi * math.Pow(d, 4) / 64
	gj := 10000 / 2.6 * math.Pi * math.Pow(d, 4) / 32
	out := (half*half*half/3)*2/ei + half*half*half/gj
	near(t, "crook", bend(t, m, 1, 10), out, 0.03)
}

// The greatest eigenvalue against the power method.
func TestLargest(t *testing.T) {
	for _, m := range []mat{
		{v(2, 0, 0), v(0, 2, 0), v(0, 0, 0)}, {v(1, 2, 3), v(2, 5, 1), v(3, 1, 9)}, {v(4, 0, 0), v(0, 1, 0), v(0, 0, 2)}, {v(1, 1, 1), v(1, 1, 1), v(1, 1, 1)}, {},
	} {
		x := v(1, 0.7, 0.3)
		for range 2000 {
			if y := v(m[0].Dot(x), m[1].Dot(x), m[2].Dot(x)); y.Len() > 0 {
				x = y.Unit()
			}
		}
		want := x.Unit().Dot(v(m[0].Dot(x), m[1].Dot(x), m[2].Dot(x)))
		if got := m.largest(); math.Abs(got-want) > 1e-12*(1+want) {
			t.Errorf("%v: %v, want %v", m, got, want)
		}
	}
}
