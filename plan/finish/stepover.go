package finish

import (
	"math"

	"barwise/shop/cutter"
)

// Bounds on what curvature may do to the stepover: at a sharp edge neighbouring passes touch the same
// edge and leave no cusp, in a fillet of nearly the cutter's own radius they leave many times a plane's.
const (
	leastCurve = 1.0 / 4
	mostCurve  = 4.0
)

// stepover returns the greatest spacing, in plan, of straight passes that leaves a cusp of at most h on
// a surface of slope ga along the passes and gc across them.
//
// Round part, radius r: two circles of radius r at surface spacing w leave h = r − √(r² − w²/4). Plan
// spacing s gives w = s·√(1+|g|²)/√(1+ga²).
//
// Flat disc of radius a: the stair of a flat end, s·sin θ across; along, its trailing edge is an ellipse
// of least radius a/sin θ. Half of h is given to each.
//
// Flank of slope K, to a sharp point: vees at spacing s meet s·(K²−t²)/(2K) above a plane of slope t,
// upright.
//
// The cutter is each of these at once, so the widest spacing counts.
func stepover(c cutter.Profile, h, ga, gc float64) float64 {
	g2 := float64(ga*ga) + float64(gc*gc)
	sec := math.Sqrt(1 + g2)
	s := 0.0
	if c.Round > 0 {
		w := 2 * c.Round
		if h < c.Round {
			w = 2 * math.Sqrt(float64(2*c.Round*h)-float64(h*h))
		}
		s = w * math.Sqrt(1+float64(ga*ga)) / sec
	}
	if c.Flat > 0 {
		across, along := math.Abs(gc)/sec, math.Abs(ga)/sec
		f := 1.6 * c.Flat
		f = min(f, h/2/max(across, 1e-12), math.Sqrt(4*c.Flat*h/max(along, 1e-12)))
		s = max(s, f)
	}
	if q := c.Slope(); !math.IsInf(q, 1) && c.Round == 0 {
		if t := math.Sqrt(g2); t < 0.9*q {
			s = max(s, 2*q*h*sec/(float64(q*q)-float64(t*t)))
		}
	}
	return min(s, 1.6*c.R)
}

// bent is the factor by which curvature k of the path surface across the passes, 1/mm, positive where it
// is convex upward, changes the spacing: on a surface of radius ρ the path surface has ρ' = ρ + r, and
// the cusp is (w²/8r)·ρ/ρ', a plane's times 1 − r·k.
func bent(c cutter.Profile, k float64) float64 {
	return 1 / math.Sqrt(min(max(1-float64(c.Round*k), leastCurve), mostCurve))
}
