package cutter

import "math"

// RPM is the spindle speed, rev/min, at which an edge at diameter d mm moves at vc m/min:
// n = 1000·vc/(π·d).
func RPM(vc, d float64) float64 { return 1000 * vc / (math.Pi * d) }

// SurfaceSpeed is the speed of an edge at diameter d mm, m/min: vc = π·d·n/1000.
func SurfaceSpeed(rpm, d float64) float64 { return math.Pi * d * rpm / 1000 }

// Feed is the feed, mm/s, of z edges that take fz mm each: vf = n·z·fz, divided by 60 for seconds.
func Feed(rpm float64, z int, fz float64) float64 { return rpm * float64(z) * fz / 60 }

// ToothLoad is fz, mm a tooth, at a feed in mm/s.
func ToothLoad(feed, rpm float64, z int) float64 { return 60 * feed / (rpm * float64(z)) }

// BallDiameter is the effective diameter of a ball of diameter d at depth ap, mm:
// 2·√(ap·(d − ap)) up to the equator, d beyond it (one catalogue applies the formula past the equator,
// where it falls again; an edge does not).
func BallDiameter(d, ap float64) float64 {
	switch {
	case ap <= 0:
		return 0
	case ap >= d/2:
		return d
	}
	return 2 * math.Sqrt(ap*(d-ap))
}

// TiltedBallDiameter is the effective diameter of a ball of diameter d at depth ap on a surface tilted
// by β radians: d·sin(β + acos((d − 2·ap)/d)), d once the sum passes 90°.
func TiltedBallDiameter(d, ap, tilt float64) float64 {
	a := tilt + math.Acos(max(-1, min(1, (d-2*ap)/d)))
	if a >= math.Pi/2 {
		return d
	}
	return d * math.Sin(a)
}

// Engagement is the angle, radians, over which an edge is in the work when side milling ae mm wide
// with diameter d: acos(1 − 2·ae/d); π for a full slot.
func Engagement(d, ae float64) float64 { return math.Acos(max(-1, 1-2*ae/d)) }

// ThickestChip is the greatest chip thickness, mm, at tooth load fz: fz·sin of the engagement, fz from
// half the diameter on.
func ThickestChip(fz, d, ae float64) float64 {
	if ae >= d/2 {
		return fz
	}
	x := ae / d
	return 2 * fz * math.Sqrt(x*(1-x))
}

// MeanChip is the mean chip thickness, mm, when side milling: 2·fz·ae/(d·φ) with φ the engagement.
// (The arcsine form in some catalogues is for a centred face cutter.)
func MeanChip(fz, d, ae float64) float64 {
	if ae >= d {
		return 2 * fz / math.Pi
	}
	return 2 * fz * ae / (d * Engagement(d, ae))
}

// Thinning is the factor by which the tooth load may rise so that the thickest chip is as thick as in
// a cut of half the diameter: 1/(2·√(x(1 − x))), x = ae/d; 1 from half the diameter on.
func Thinning(d, ae float64) float64 {
	if ae >= d/2 {
		return 1
	}
	x := ae / d
	return 1 / (2 * math.Sqrt(x*(1-x)))
}
