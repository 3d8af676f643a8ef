// Package force says what a cut asks of its cutter.
//
// Lengths are mm, angles radians, forces N, stresses and specific cutting forces N/mm², moduli GPa where
// the name says so. The figures of most soft materials are orders of magnitude; who shows a result says so.
package force

import (
	"math"

	"barwise/shop/cutter"
)

// Arc is the engagement angle of a straight cut of width ae by a cutter of diameter dc:
// cos φ = 1 − 2ae/dc.
func Arc(ae, dc float64) float64 { return math.Acos(1 - 2*min(max(ae/dc, 0), 1)) }

// Width is the inverse of Arc: the width of a straight cut at engagement phi.
func Width(phi, dc float64) float64 { return dc * (1 - math.Cos(phi)) / 2 }

// PeakChip is the thickest chip at engagement phi and a load of fz a tooth: fz·sin φ, and fz where the arc
// reaches past the middle.
func PeakChip(fz, phi float64) float64 {
	if phi >= math.Pi/2 {
		return fz
	}
	return fz * math.Sin(phi)
}

// Kept is the share of the feed at engagement phi that makes the peak chip no thicker than all of it makes
// at cap.
func Kept(phi, cap float64) float64 {
	if phi <= cap {
		return 1
	}
	return PeakChip(1, cap) / PeakChip(1, phi)
}

// MeanChip is the mean chip thickness over the arc of a side cut: 2·fz·ae/(dc·φ), which is
// fz·(1 − cos φ)/φ.
func MeanChip(fz, phi float64) float64 {
	if phi < 1e-6 {
		return fz * phi / 2
	}
	return fz * (1 - math.Cos(phi)) / phi
}

// Thinned is the load a tooth that makes the peak chip of a cut at phi as thick as fz is in a full slot:
// the handbooks' correction for radial chip thinning, 1/(2√(x(1−x))) with x = ae/dc.
func Thinned(fz, phi float64) float64 {
	if phi >= math.Pi/2 {
		return fz
	}
	return fz / math.Sin(phi)
}

// Specific is the specific cutting force after Kienzle, kc1·h^−mc, at a mean chip h.
func Specific(kc1, mc, h float64) float64 { return kc1 * math.Pow(h, -mc) }

// Cut is a cut by the side of a cutter.
type Cut struct {
	Kc1, Mc float64 // Kienzle figures of the material
	Tooth   float64 // load a tooth, mm
	Depth   float64 // along the axis, mm
	Arc     float64 // engagement angle
	Edges   int
}

// Side is the mean force of the cut along its arc, N: specific force times chip section times the edges in
// cut, of which at least one counts, since a single edge takes its whole chip.
func (c Cut) Side() float64 {
	h := MeanChip(c.Tooth, c.Arc)
	if !(h > 0) {
		return 0
	}
	edges := max(1, float64(c.Edges)*c.Arc/(2*math.Pi))
	return Specific(c.Kc1, c.Mc, h) * h * c.Depth * edges
}

// Section is a length of a round rod, mm.
type Section struct{ Length, Diameter float64 }

// Rod is a cutter as a beam clamped at the holder's face, from the tip up.
type Rod struct {
	Sections []Section
	Modulus  float64 // GPa
}

// Carbide's modulus, GPa; 560 to 650 with the binder's share (makers' tables, Co 630, Ni 600).
const Carbide = 600

// fluted is the part of its diameter that a fluted length is as stiff as: about 0.8 (Kops and Vo, CIRP
// Annals 39(1), 1990).
const fluted = 0.8

// RodOf is the cutter as a carbide rod: flutes, neck, shank. The flutes of a taper count with the width of
// its round end, which errs on the yielding side.
func RodOf(c cutter.Cutter) Rod {
	r := Rod{Modulus: Carbide}
	add := func(to, d float64) {
		at := 0.0
		for _, s := range r.Sections {
			at += s.Length
		}
		if to = min(to, c.StickOut); to > at && d > 0 {
			r.Sections = append(r.Sections, Section{to - at, d})
		}
	}
	d := c.DC()
	if c.Shape == cutter.ShapeTaperedBall || c.Shape == cutter.ShapeCone {
		d = 2 * max(c.Round, c.Flat)
	}
	add(c.LCF, fluted*d)
	if c.DN > 0 {
		add(c.LU, c.DN)
	}
	shank := c.DMM
	if shank <= 0 {
		shank = c.DC()
	}
	add(c.StickOut, shank)
	return r
}

// Bend is how far the tip gives way, mm, under a force of f N that acts at mm above it: Castigliano's
// theorem, δ = ∫ F(x−at)·x/(E·I) dx from the force to the clamp, x from the tip, I = πd⁴/64.
func (r Rod) Bend(f, at float64) float64 {
	sum, x0 := 0.0, 0.0
	for _, s := range r.Sections {
		x1 := x0 + s.Length
		if a := max(x0, at); a < x1 {
			inertia := math.Pi * math.Pow(s.Diameter, 4) / 64
			prim := func(x float64) float64 { return x*x*x/3 - at*x*x/2 }
			sum += (prim(x1) - prim(a)) / inertia
		}
		x0 = x1
	}
	return f * sum / (1000 * r.Modulus)
}

// Stress is the greatest bending stress, N/mm², under a force of f N that acts at mm above the tip:
// 32·M/(πd³) at the upper end of each section.
func (r Rod) Stress(f, at float64) float64 {
	most, x := 0.0, 0.0
	for _, s := range r.Sections {
		x += s.Length
		if x > at {
			most = max(most, 32*f*(x-at)/(math.Pi*math.Pow(s.Diameter, 3)))
		}
	}
	return most
}

// safe is the bending stress a small carbide cutter is let carry, N/mm²: about a third of its bending
// strength (value from memory, low confidence).
const safe = 1000

// Deepest is the greatest depth along the axis, at most most, at which a cut bends the tip by no more than
// give mm and the rod by no more than it safely carries, and which of the two stopped it. The force acts
// in the middle of the depth.
func Deepest(rod Rod, c Cut, give, most float64) (depth float64, why string) {
	over := func(depth float64) string {
		c.Depth = depth
		f := c.Side()
		switch {
		case rod.Bend(f, depth/2) > give:
			return "bend"
		case rod.Stress(f, depth/2) > safe:
			return "break"
		}
		return ""
	}
	if why = over(most); why == "" {
		return most, ""
	}
	lo, hi := 0.0, most
	for range 40 {
		if m := (lo + hi) / 2; over(m) == "" {
			lo = m
		} else {
			hi, why = m, over(m)
		}
	}
	return lo, why
}
