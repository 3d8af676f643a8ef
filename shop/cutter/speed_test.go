package cutter

import (
	"math"
	"testing"
)

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if math.Abs(got-want) > tol {
		t.Errorf("%s: got %.7g, want %.7g ± %.2g", what, got, want, tol)
	}
}

func TestSpeeds(t *testing.T) {
	// Mitsubishi Materials, cutting power for face milling, worked problem: printed 101.91 with π = 3.14.
	near(t, "n at 80 m/min, Ø250", RPM(80, 250), 101.86, 0.005)
	near(t, "the same with their π", RPM(80, 250)*math.Pi/3.14, 101.91, 0.005)
	// The same problem: 280 mm/min with 12 teeth, printed 0.228.
	near(t, "tooth load", ToothLoad(280.0/60, RPM(80, 250), 12), 0.229, 0.0005)
	// WIDIA, solid carbide technical information p. 78: printed 510 /min and 816 mm/min.
	near(t, "n at 200 m/min, Ø125", RPM(200, 125), 509.3, 0.05)
	near(t, "vf", 60*Feed(RPM(200, 125), 8, 0.2), 814.9, 0.05)
	// Computed from n = 1000·vc/(π·D).
	near(t, "n at 200 m/min, Ø3", RPM(200, 3), 21220.7, 0.05)
	near(t, "n at 300 m/min, Ø0.5", RPM(300, 0.5), 190985.9, 0.05)
	for d, vc := range map[float64]float64{0.5: 37.70, 1: 75.40, 2: 150.80, 3: 226.19, 4: 301.59, 6: 452.39} {
		near(t, "vc at 24000 /min", SurfaceSpeed(24000, d), vc, 0.005)
	}
	// Common practice, no source: a 1/32 in ball at 10 000 /min and 40 in/min with two flutes makes 0.002 in a tooth.
	near(t, "1/32 in ball", ToothLoad(40*25.4/60, 10000, 2), 0.002*25.4, 1e-12)
}

// FANAR 2021 p. 328; DIJET F007; Kyocera p. R43 give Deff = 2·√(ap(D − ap)); the last row is Dapra table 1.
func TestBallDiameter(t *testing.T) {
	for _, c := range [][3]float64{{1, 0.05, 0.436}, {2, 0.02, 0.398}, {3, 0.1, 1.077}, {6, 0.1, 1.536}, {6, 0.5, 3.317},
		{6, 1.0, 4.472}, {10, 0.2, 2.800}, {12, 0.5, 4.796}, {20, 0.1, 2.821}, {12.7, 1.27, 7.62}} {
		near(t, "Deff", BallDiameter(c[0], c[1]), c[2], 0.0005)
	}
	near(t, "at the equator", BallDiameter(6, 3), 6, 0)
	near(t, "past the equator", BallDiameter(6, 5), 6, 0)
	near(t, "touching", BallDiameter(6, 0), 0, 0)
	// Formula from memory, values computed: Ø6 at 0.1 deep, tilted 0, 15, 30, 45 degrees.
	for deg, want := range map[float64]float64{0: 1.536, 15: 2.985, 30: 4.230, 45: 5.188} {
		near(t, "tilted", TiltedBallDiameter(6, 0.1, deg*math.Pi/180), want, 0.0006)
	}
	for ap := 0.0; ap < 3; ap += 0.1 {
		near(t, "tilt of nothing", TiltedBallDiameter(6, ap, 0), BallDiameter(6, ap), 1e-12)
	}
	near(t, "tilted past the equator", TiltedBallDiameter(6, 2, 1.5), 6, 0)
}

// The feed-correction column of Dormer Pramet 2021–22 p. 114, to its two printed digits.
func TestThinning(t *testing.T) {
	for ae, want := range map[float64]float64{0.05: 2.29, 0.10: 1.67, 0.15: 1.40, 0.20: 1.25, 0.25: 1.15, 0.30: 1.09, 0.40: 1.02, 0.50: 1, 0.80: 1} {
		near(t, "thinning", Thinning(10, 10*ae), want, 0.0051)
	}
	near(t, "3 %, computed", Thinning(1, 0.03), 2.931, 0.0005)
	for ae := 0.01; ae < 1; ae += 0.01 { // thinning undoes the thickest chip, from the definition of both
		near(t, "thinned", ThickestChip(0.03*Thinning(6, 6*ae), 6, 6*ae), 0.03, 1e-12)
	}
}

func TestChips(t *testing.T) {
	// Computed from φ = acos(1 − 2ae/D), hm = 2·fz·ae/(D·φ): D 6, ae 0.6, fz 0.03.
	near(t, "φ", Engagement(6, 0.6)*180/math.Pi, 36.870, 0.0005)
	near(t, "hm", MeanChip(0.03, 6, 0.6), 0.009324, 5e-7)
	near(t, "hmax", ThickestChip(0.03, 6, 0.6), 0.0180, 5e-7)
	// Stellram p. 87 gives hm ≈ fz·√(ae/D) below half the diameter: 0.009487, 2 % away.
	near(t, "hm against the approximation", MeanChip(0.03, 6, 0.6)/(0.03*math.Sqrt(0.1)), 1, 0.02)
	near(t, "slot", MeanChip(0.03, 6, 6), 0.019099, 5e-7) // 2·fz/π
	near(t, "half", MeanChip(0.03, 6, 3), 0.019099, 5e-7)
	near(t, "case B", MeanChip(0.012, 3, 0.3), 0.00373, 5e-6)
	near(t, "slot engagement", Engagement(6, 6), math.Pi, 1e-12)
	near(t, "wider than the cutter", Engagement(6, 9), math.Pi, 1e-12)

	// The slow twin: the mean of fz·sin φ over the engagement, summed.
	for _, ae := range []float64{0.1, 0.7, 2, 3, 4.5} {
		const n = 100000
		phi, sum := Engagement(6, ae), 0.0
		for i := range n {
			sum += 0.05 * math.Sin(phi*(float64(i)+0.5)/n) / n
		}
		near(t, "mean of the chip", MeanChip(0.05, 6, ae), sum, 1e-9)
	}
}
