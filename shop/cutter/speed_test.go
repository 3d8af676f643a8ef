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
