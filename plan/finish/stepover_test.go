package finish

import (
	"context"
	"fmt"
	"math"
	"testing"

	"barwise/geom/mesh/sample"
	"barwise/plan/cl"
	"barwise/plan/share"
	"barwise/shop/cutter"
)

// Spacing of a ball's passes on the level: s = 2√(2Rh − h²), computed with the formula to four digits.
func TestStepoverOnTheLevel(t *testing.T) {
	for _, c := range []struct{ r, um, s float64 }{
		{0.5, 0.625, 0.05}, {0.5, 2.506, 0.1}, {1, 1.251, 0.1}, {1.5, 3.337, 0.2}, {3, 3.752, 0.3}, {3, 41.960, 1.0},
		{0.5, 1, 0.0632}, {1, 2, 0.1264}, {1.5, 2, 0.1549}, {3, 5, 0.3463}, {3, 10, 0.4895}, {6, 8, 0.6195},
	} {
		if s := stepover(cutter.Ball(c.r), c.um/1e3, 0, 0); math.Abs(s-c.s) > 0.001*c.s {
			t.Errorf("R %g, %g µm: %.5f mm, want %.4f", c.r, c.um, s, c.s)
		}
	}
}

// Line offset by ball diameter and cusp height in µm as printed by Dormer Pramet, catalogue 2021–22
// p. 114, two decimals.
func TestStepoverCatalogue(t *testing.T) {
	um := []float64{2, 4, 8, 16, 32, 63, 125, 250}
	for d, row := range map[float64][]float64{
		2:  {0.13, 0.18, 0.25, 0.36, 0.50, 0.70, 0.97, 1.32},
		3:  {0.15, 0.22, 0.31, 0.44, 0.62, 0.86, 1.20, 1.66},
		4:  {0.18, 0.25, 0.36, 0.50, 0.71, 1.00, 1.39, 1.94},
		6:  {0.22, 0.31, 0.44, 0.62, 0.87, 1.22, 1.71, 2.40},
		8:  {0.25, 0.36, 0.51, 0.71, 1.01, 1.41, 1.98, 2.78},
		10: {0.28, 0.40, 0.57, 0.80, 1.13, 1.58, 2.22, 3.12},
		12: {0.31, 0.44, 0.62, 0.88, 1.24, 1.73, 2.44, 3.43},
	} {
		for k, want := range row {
			if s := stepover(cutter.Ball(d/2), um[k]/1e3, 0, 0); math.Abs(s-want) > 0.00501 {
				t.Errorf("Ø%g, %g µm: %.4f mm, printed %.2f", d, um[k], s, want)
			}
		}
	}
}

// Slopes: R 3 at 0.3 mm leaves 3.752, 5.004, 7.509 and 15.038 µm across slopes of 0, 30, 45 and 60°,
// from the surface step s/cos θ in the circle's formula; along a slope it leaves what it does on the
// level. A flat end at 0.2 mm across 10, 30 and 45° leaves stairs of s·sin θ = 34.73, 100.0, 141.42 µm.
func TestStepoverOnSlopes(t *testing.T) {
	for deg, um := range map[float64]float64{0: 3.752, 30: 5.004, 45: 7.509, 60: 15.038} {
		g := math.Tan(deg * math.Pi / 180)
		if s := stepover(cutter.Ball(3), um/1e3, 0, g); math.Abs(s-0.3) > 0.0002 {
			t.Errorf("across %g°: %.5f mm", deg, s)
		}
		if s := stepover(cutter.Ball(3), 3.752e-3, g, 0); math.Abs(s-0.3) > 0.0002 {
			t.Errorf("along %g°: %.5f mm", deg, s)
		}
	}
	for deg, um := range map[float64]float64{10: 34.73, 30: 100.0, 45: 141.42} {
		g := math.Tan(deg * math.Pi / 180)
		if s := stepover(cutter.FlatEnd(3), um/1e3, 0, g); s > 0.2001 || s < 0.099 {
			t.Errorf("flat across %g°: %.5f mm, at most 0.2, not under half", deg, s)
		}
	}
}

// A cylinder of radius ρ: passes along it whose path surface steps by w leave (w²/8r)·ρ/(ρ+r), here
// against the intersection of the two circles itself.
func TestCurvatureAgainstCircles(t *testing.T) {
	const r, w = 0.5, 0.05
	for _, rho := range []float64{0.3, 1, 5, -2, -0.8} {
		// centres on a circle of radius |ρ+r| about the axis, apart by w along it
		big := rho + r
		half := w / 2 / big
		// the ball surfaces meet on the middle ray
		y := math.Sqrt(r*r - big*big*math.Sin(half)*math.Sin(half))
		cusp := math.Abs(big)*math.Cos(half) - math.Copysign(y, rho) - math.Abs(rho)
		if rho < 0 {
			cusp = math.Abs(rho) - (math.Abs(big)*math.Cos(half) + y)
		}
		plane := r - math.Sqrt(r*r-w*w/4)
		got := 1 / math.Pow(bent(cutter.Ball(r), 1/big), 2)
		want := min(max(cusp/plane, leastCurve), mostCurve)
		if math.Abs(got-want) > 0.01*want {
			t.Errorf("ρ %g: factor %.4f, circles %.4f", rho, got, want)
		}
	}
}

// The other cutters, on planes: what the passes leave, from the profile at dense places along them, is
// at most the cusp asked for.
func TestOtherCuttersOnPlanes(t *testing.T) {
	for name, c := range map[string]cutter.Profile{
		"flat": cutter.FlatEnd(1.5), "bull": cutter.Bull(1.5, 0.5), "tapered ball": cutter.TaperedBall(1.5, 0.5, 10*math.Pi/180),
		"cone": cutter.Cone(1.5, 30*math.Pi/180, 0.1),
	} {
		for _, g := range [][2]float64{{0, 0}, {0.4, 0}, {0, 0.4}, {0.5, 0.5}} {
			t.Run(fmt.Sprintf("%s %g %g", name, g[0], g[1]), func(t *testing.T) {
				m := slope(20, g[0], g[1])
				in := Input{Input: share.Input{Surface: cl.NewSurface(m), Mesh: m, Cutter: c, YMin: -2, YMax: 2, Sides: []Side{{XMin: -2, XMax: 2, ZMin: -30}}}}
				p := Params{Cusp: 0.03, Tolerance: 0.001, Decimals: 4}
				out := mustPlan(t, in, p)
				nz := 1 / math.Sqrt(1+g[0]*g[0]+g[1]*g[1])
				worst, least := 0.0, 1.0
				for i := range 40 {
					x, y := -0.2+0.4*math.Mod(float64(i)*0.618034, 1), -0.2+0.4*math.Mod(float64(i)*0.754878, 1)
					z := math.Inf(1)
					for _, ps := range out.Sides[0].Passes {
						for k := 1; k < len(ps.Points); k++ {
							a, b := ps.Points[k-1], ps.Points[k]
							n := int(b.Sub(a).Len()/0.01) + 1
							for s := range n + 1 {
								at := a.Lerp(b, float64(s)/float64(n))
								if d := math.Hypot(at.X-x, at.Y-y); d <= c.R {
									z = min(z, at.Z+c.Height(d))
								}
							}
						}
					}
					l := (z - g[0]*y - g[1]*x) * nz
					worst, least = max(worst, l), min(least, l)
				}
				if worst > 1.05*p.Cusp+p.Tolerance || least < -p.Tolerance {
					t.Errorf("%.2f to %.2f µm left, %.1f asked, stepover %.3f", least*1e3, worst*1e3, p.Cusp*1e3, out.Sides[0].StepoverMax)
				}
			})
		}
	}
}

func TestCancelStopsSoon(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	in := Input{Input: share.Input{Surface: cl.NewSurface(sample.Ring(4, 1.6, 60)), Cutter: cutter.Ball(0.2), Sides: fourSides(7, -7), YMin: -3, YMax: 3}}
	done := make(chan error)
	go func() {
		_, err := Plan(ctx, in, Params{Cusp: 1e-5, Tolerance: 1e-4, Decimals: 5})
		done <- err
	}()
	cancel()
	if err := <-done; err == nil {
		t.Error("a cancelled plan came to an end")
	}
}
