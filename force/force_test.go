package force

import (
	"math"
	"testing"

	"barwise/shop/cutter"
)

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.6g, want %.6g ± %g", what, got, want, tol)
	}
}

// Radial chip thinning, Dormer Pramet 2021–22 p. 114: feed correction by width of cut.
func TestThinnedAgainstCatalogue(t *testing.T) {
	for _, c := range []struct{ part, want float64 }{{0.05, 2.29}, {0.10, 1.67}, {0.15, 1.40}, {0.20, 1.25}, {0.25, 1.15}, {0.30, 1.09}, {0.40, 1.02}, {0.5, 1}, {0.8, 1}} {
		near(t, "factor", Thinned(1, Arc(c.part*6, 6)), c.want, 0.006)
	}
}

// Worked: Ø6, ae 0.6, fz 0.03: φ 36.870°, mean 0.009324, peak 0.0180; slot: 2·fz/π. Side-milling formula
// from memory; Stellram p. 87 gives the mean as about fz·√(ae/D), 0.009487.
func TestChips(t *testing.T) {
	phi := Arc(0.6, 6)
	near(t, "arc", phi*180/math.Pi, 36.870, 5e-4)
	near(t, "width", Width(phi, 6), 0.6, 1e-12)
	near(t, "mean chip", MeanChip(0.03, phi), 0.009324, 1e-6)
	near(t, "mean chip, rule of thumb", MeanChip(0.03, phi), 0.03*math.Sqrt(0.1), 2e-4)
	near(t, "peak chip", PeakChip(0.03, phi), 0.0180, 1e-6)
	near(t, "slot", MeanChip(0.03, math.Pi), 0.019099, 1e-6)
	near(t, "narrow", MeanChip(0.03, 1e-7), MeanChip(0.03, 2e-6)/20, 1e-9)
}

// Chips of 30 and 90° are as sin 30° = ½ to 1, and no thicker beyond.
func TestKept(t *testing.T) {
	const deg = math.Pi / 180
	for _, c := range []struct{ phi, cap, want float64 }{{30, 30, 1}, {20, 30, 1}, {90, 30, 0.5}, {180, 30, 0.5}, {45, 30, math.Sqrt2 / 2}, {180, 90, 1}, {180, 120, 1}} {
		near(t, "share of the feed", Kept(c.phi*deg, c.cap*deg), c.want, 1e-12)
	}
}

// DIJET F007, kc = kc1·hm^−mc.
func TestSpecific(t *testing.T) {
	for _, c := range []struct{ kc1, mc, h, want float64 }{{700, 0.25, 0.01, 2213.6}, {700, 0.25, 0.02, 1861.4}, {700, 0.25, 0.05, 1480.3}, {700, 0.25, 1, 700}, {700, 0.27, 0.02, 2012.9}, {1350, 0.21, 0.1, 2189.4}} {
		near(t, "kc", Specific(c.kc1, c.mc, c.h), c.want, 0.06)
	}
}

// δ = FL³/(3EI) and σ = 32FL/(πd³), worked; doubling the overhang gives 8 times (Mitsubishi Materials,
// end-milling course); a fluted length at 0.8 d bends 1/0.8⁴ times as far (Kops and Vo, CIRP Annals 39(1),
// 1990); a stepped rod δ = F/(3E)·[L1³/I1 + ((L1+L2)³ − L1³)/I2].
func TestBend(t *testing.T) {
	for _, c := range []struct{ d, l, f, um, mpa float64 }{{3, 12, 10, 2.4144, 45.27}, {3, 24, 10, 19.3155, 90.54}, {1, 5, 2, 2.8294, 101.86}, {6, 20, 50, 3.4931, 47.16}} {
		r := Rod{[]Section{{c.l, c.d}}, 600}
		near(t, "bend µm", 1000*r.Bend(c.f, 0), c.um, 1e-4)
		near(t, "stress", r.Stress(c.f, 0), c.mpa, 0.01)
		thin := Rod{[]Section{{c.l, 0.8 * c.d}}, 600}
		near(t, "fluted", thin.Bend(c.f, 0)/r.Bend(c.f, 0), 2.4414, 1e-4)
	}
	step := Rod{[]Section{{6, 2}, {9, 3}}, 600}
	near(t, "stepped µm", 1000*step.Bend(5, 0), 2.971, 1e-3)
	// a force at a above the tip: F(L−a)²(2L+a)/(6EI), handbook beam table, from memory
	r := Rod{[]Section{{20, 3}}, 600}
	inertia := math.Pi * 81 / 64
	near(t, "force above the tip", r.Bend(10, 8), 10*12*12*(2*20+8)/(6*600e3*inertia), 1e-12)
}

// What Deepest allows is allowed, a little more is not; a softer limit never gives less.
func TestDeepest(t *testing.T) {
	c := cutter.Cutter{Profile: cutter.FlatEnd(1.5), LCF: 17, DMM: 3, StickOut: 24}
	rod := RodOf(c)
	cut := Cut{Kc1: 800, Mc: 0.25, Tooth: 0.02, Arc: 0.8, Edges: 2}
	last := 0.0
	for _, give := range []float64{0.005, 0.02, 0.05, 0.5} {
		d, why := Deepest(rod, cut, give, 17)
		if d < last {
			t.Errorf("give %g: %g, less than %g before", give, d, last)
		}
		last = d
		within := func(depth float64) bool {
			cut := cut
			cut.Depth = depth
			return rod.Bend(cut.Side(), depth/2) <= give && rod.Stress(cut.Side(), depth/2) <= safe
		}
		if !within(d-1e-6) || d < 17 && within(d+1e-3) || (why == "") != (d == 17) {
			t.Errorf("give %g: depth %g (%q) is not the limit", give, d, why)
		}
	}
	if d, why := Deepest(rod, Cut{Kc1: 30, Mc: 0.25, Tooth: 0.06, Arc: 0.6, Edges: 2}, 0.05, 17); d != 17 || why != "" {
		t.Errorf("board: %g, %s", d, why)
	}
}
