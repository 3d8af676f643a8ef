package cutter

import (
	"math"
	"testing"
)

var family = map[string]Profile{
	"flat":         FlatEnd(1.5),
	"ball":         Ball(0.5),
	"bull":         Bull(1.5, 0.5),
	"cone":         Cone(1.5, 15*math.Pi/180, 0.05),
	"point":        Cone(1.5, 30*math.Pi/180, 0),
	"tapered ball": TaperedBall(1.5, 0.5, 5*math.Pi/180),
}

// Closed forms of each cutter's own shape.
func TestHeights(t *testing.T) {
	b := 5 * math.Pi / 180
	for _, c := range []struct {
		p       Profile
		r, want float64
	}{
		{family["flat"], 1.5, 0},
		{family["ball"], 0.3, 0.1}, // 3-4-5: 0.5 − 0.4
		{family["ball"], 0.5, 0.5},
		{family["bull"], 1.0, 0},
		{family["bull"], 1.3, 0.1},
		{family["bull"], 1.5, 0.5},
		{family["cone"], 0.05, 0},
		{family["cone"], 1.05, 1 / math.Tan(15*math.Pi/180)},
		{family["point"], 1, math.Sqrt(3)},
		{family["tapered ball"], 0.3, 0.1},
		// the knee: ρ cos β out, ρ(1 − sin β) up, then cot β
		{family["tapered ball"], 0.5*math.Cos(b) + 0.4, 0.5*(1-math.Sin(b)) + 0.4/math.Tan(b)},
	} {
		if got := c.p.Height(c.r); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("%+v: h(%g) = %.15g, want %.15g", c.p, c.r, got, c.want)
		}
	}
}

// The law everything stands on: h is convex and non-decreasing.
func TestConvexAndRising(t *testing.T) {
	for name, p := range family {
		const n = 2000
		for i := 1; i < n; i++ {
			r, d := p.R*float64(i)/n, p.R/n
			a, b, c := p.Height(r-d), p.Height(r), p.Height(min(r+d, p.R))
			if b < a-1e-12 || c < b-1e-12 || a+c < 2*b-1e-12 {
				t.Fatalf("%s at r = %g: %g, %g, %g", name, r, a, b, c)
			}
		}
	}
}

// Contact(m) is where m·r − h(r) is greatest: the support of a convex profile, found here by search.
func TestContactIsTheSupport(t *testing.T) {
	for name, p := range family {
		for _, m := range []float64{0, 0.1, 0.5, 1, 2, 3.7, 5, 11, 40, 1e6} {
			r, h := p.Contact(m)
			if math.Abs(h-p.Height(r)) > 1e-9 {
				t.Errorf("%s, slope %g: contact (%g, %g) is off the profile by %g", name, m, r, h, h-p.Height(r))
			}
			best := math.Inf(-1)
			for i := 0; i <= 20000; i++ {
				q := p.R * float64(i) / 20000
				best = max(best, m*q-p.Height(q))
			}
			if got := m*r - h; got < best-1e-9 || got > best+m*p.R/20000 {
				t.Errorf("%s, slope %g: support %g, found by search %g", name, m, got, best)
			}
		}
	}
}

// Growing by d puts the profile at distance d: every point of the grown surface lies d from the old
// body. The twin measures the distance to a dense drawing of the old profile, its stem included.
func TestGrownIsParallel(t *testing.T) {
	for name, p := range family {
		for _, d := range []float64{0.2, 0.01, -0.01, -0.04} {
			g, rise, ok := p.Grown(d)
			if !ok {
				t.Fatalf("%s grown by %g: nothing left", name, d)
			}
			for i := 0; i <= 60; i++ {
				r := g.R * float64(i) / 60
				z := g.Height(r) + rise
				if d < 0 { // the small body's points lie |d| inside the large one's surface
					if dist := depthInside(p, r, z); math.Abs(dist+d) > 2e-4 {
						t.Errorf("%s shrunk by %g: the point at r = %g lies %g inside", name, -d, r, dist)
					}
					continue
				}
				// at the rim of a cone the mitre stands out by d·(1/cos(half the turn) − 1)
				mitre := 0.0
				if p.Half > 0 && r > p.R {
					mitre = d * (1/math.Cos(p.Half/2) - 1)
				}
				if dist := distanceTo(p, r, z); dist < d-2e-4 || dist > d+mitre+2e-4 {
					t.Errorf("%s grown by %g: the point at r = %g lies %g away", name, d, r, dist)
				}
			}
		}
	}
}

// There and back is the identity as long as nothing is worn off.
func TestGrownAndBack(t *testing.T) {
	for name, p := range family {
		g, up, _ := p.Grown(0.125)
		back, down, ok := g.Grown(-0.125)
		if !ok || math.Abs(up+down) > 1e-15 || math.Abs(back.R-p.R) > 1e-15 || math.Abs(back.Round-p.Round) > 1e-15 || math.Abs(back.Flat-p.Flat) > 1e-15 {
			t.Errorf("%s: %+v came back as %+v (%g, %g)", name, p, back, up, down)
		}
	}
}

// outline draws the profile densely: tip to rim, then the stem straight up.
func outline(p Profile) [][2]float64 {
	var out [][2]float64
	for i := 0; i <= 20000; i++ {
		r := p.R * float64(i) / 20000
		out = append(out, [2]float64{r, p.Height(r)})
	}
	for i := 0; i <= 20000; i++ {
		out = append(out, [2]float64{p.R, p.Rim() + 4*float64(i)/20000})
	}
	return out
}

func distanceTo(p Profile, r, z float64) float64 {
	best := math.Inf(1)
	for _, q := range outline(p) {
		best = min(best, math.Hypot(q[0]-r, q[1]-z))
	}
	return best
}

func depthInside(p Profile, r, z float64) float64 {
	if z < p.Height(r) {
		return -1
	}
	return distanceTo(p, r, z)
}
