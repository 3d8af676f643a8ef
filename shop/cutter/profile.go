// Package cutter describes a rotating cutter as a profile of revolution with what stands above it.
//
// Symbols are those of ISO 13399: DC cutting diameter, RE corner radius, SIG point angle, LCF length
// of the flutes, LU usable reach, DN neck diameter, DMM shank diameter, OAL overall length, ZEFP
// effective edges, RPMX highest speed.
package cutter

import "math"

// Profile is the cutting shape: the height h(r) of the surface above the tip at radius r ≤ R, made of
// a flat disc of radius Flat, then an arc of radius Round tangent to it, then a straight flank that
// leans Half from the axis (0: a cylinder), cut off at R. It is convex and non-decreasing, and covers
// all five cutters:
//
//	flat           Flat = R
//	ball           Round = R
//	bull           Flat = R − c, Round = c
//	cone           Half = β, Flat = radius of the flat tip, which may be 0
//	tapered ball   Round = ρ, Half = β
type Profile struct {
	R     float64 // greatest cutting radius, mm
	Flat  float64 // radius of the flat disc at the tip, mm
	Round float64 // radius of the arc, mm
	Half  float64 // lean of the flank from the axis, radians, 0 ≤ Half < π/2
}

// FlatEnd returns a flat end mill.
func FlatEnd(r float64) Profile { return Profile{R: r, Flat: r} }

// Ball returns a ball end.
func Ball(r float64) Profile { return Profile{R: r, Round: r} }

// Bull returns a flat end with corner radius c.
func Bull(r, c float64) Profile { return Profile{R: r, Flat: r - c, Round: c} }

// Cone returns a cone of half angle β with a flat tip of radius t.
func Cone(r, half, t float64) Profile { return Profile{R: r, Flat: t, Half: half} }

// TaperedBall returns a ball of radius ρ that runs into a cone of half angle β, up to radius r.
func TaperedBall(r, ball, half float64) Profile { return Profile{R: r, Round: ball, Half: half} }

// Slope is k = cot β, the flank's rise per radius; +Inf for a cylinder.
func (p Profile) Slope() float64 {
	if p.Half == 0 {
		return math.Inf(1)
	}
	return math.Cos(p.Half) / math.Sin(p.Half)
}

// Knee returns the radius and height where the arc (or the flat) passes into the flank.
func (p Profile) Knee() (r, h float64) {
	s, c := math.Sincos(p.Half)
	return min(p.Flat+float64(p.Round*c), p.R), p.Round * (1 - s)
}

// Height is h(r), mm above the tip. Beyond R it is +Inf.
func (p Profile) Height(r float64) float64 {
	if r > p.R {
		return math.Inf(1)
	}
	if r <= p.Flat {
		return 0
	}
	kr, kh := p.Knee()
	if r <= kr {
		d := r - p.Flat
		// c − √(c² − d²) written so that small d does not cancel
		return float64(d*d) / (p.Round + math.Sqrt(max(0, float64(p.Round*p.Round)-float64(d*d))))
	}
	if p.Half == 0 {
		return kh // only rounding of kr against R comes here
	}
	return kh + float64((r-kr)*p.Slope())
}

// Rim is the height at R: above it the cutter is a cylinder as far as the flutes go.
func (p Profile) Rim() float64 { return p.Height(p.R) }

// Contact returns the radius at which a plane of slope m ≥ 0 (rise over run) touches: the largest r
// with h'(r) ≤ m, and h there. m = +Inf gives the rim.
func (p Profile) Contact(m float64) (r, h float64) {
	if m >= p.Slope() {
		return p.R, p.Rim()
	}
	if p.Round > 0 {
		// tan θ = m: r = a + c sin θ, h = c(1 − cos θ)
		if math.IsInf(m, 1) {
			return p.R, p.Rim()
		}
		w := math.Sqrt(1 + float64(m*m))
		r = p.Flat + float64(p.Round*m)/w
		if r >= p.R {
			return p.R, p.Rim()
		}
		return r, p.Round * float64(m*m) / (w * (w + 1))
	}
	return p.Flat, 0
}

// Grown returns the parallel profile at distance d outward (inward where d < 0), with the rise of its
// tip: the grown cutter's tip lies at the old tip's height + rise (rise = −d but where a cone's point
// is worn off). The family is closed under both, so an allowance, and a gouge of a given depth, are
// asked with the same exact surfaces: 'a cutter moved along this path cuts no deeper than d into the
// model' is 'the cutter shrunk by d does not touch it'. ok is false where nothing is left.
//
// Shrinking is exact. Growing is exact but at the rim of a cone or a tapered ball, where the true
// parallel rounds the corner between flank and cylinder: the grown profile keeps the corner, and is too
// large there by d·(1/cos(Half/2) − 1), 4 % of d at a half angle of 30°: more is left on, never less.
func (p Profile) Grown(d float64) (out Profile, rise float64, ok bool) {
	out = Profile{R: p.R + d, Flat: p.Flat, Round: p.Round + d, Half: p.Half}
	if out.R <= 0 {
		return Profile{}, 0, false
	}
	if out.Round >= 0 {
		if out.Flat > out.R {
			out.Flat = out.R
		}
		return out, -d, true
	}
	e := -out.Round // shrink left once the arc is used up: the corner of a disc and a flank moves in
	out.Round = 0
	s, c := math.Sincos(p.Half)
	out.Flat = p.Flat - e*(1-s)/c
	if out.Flat >= 0 {
		return out, -d, true
	}
	if p.Half == 0 {
		return Profile{}, 0, false
	}
	// the disc is gone: the flank's own point stands higher than the disc would
	rise = -d - float64(out.Flat*p.Slope())
	out.Flat = 0
	return out, rise, true
}
