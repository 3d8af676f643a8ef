package cutter

import (
	"fmt"
	"math"

	"barwise/finding"
)

// Shape names a kind of cutter.
type Shape string

// The five kinds.
const (
	ShapeFlat        Shape = "flat"
	ShapeBall        Shape = "ball"
	ShapeBull        Shape = "bull"
	ShapeCone        Shape = "cone"
	ShapeTaperedBall Shape = "tapered-ball"
)

// Depth is the greatest depth of cut along the axis: APMX, or LCF where none is stated.
func (c Cutter) Depth() float64 {
	if c.APMX > 0 {
		return c.APMX
	}
	return c.LCF
}

// Reach is how far below the nearest wider thing the tip lies, for a wall no wider than the cutter: up
// to the neck's end, or the flutes' where the shank is wider than the cutter, or the holder's face.
func (c Cutter) Reach() float64 {
	reach := c.StickOut
	for _, k := range c.Collars() {
		if k.R > c.R {
			reach = min(reach, k.Z)
		}
	}
	return reach
}

// small is what two lengths written to a micrometre may differ by.
const small = 1e-6

// Check returns what is wrong with the cutter's dimensions, Where being the ISO 13399 symbol. It is
// empty for a cutter that can exist: LU ≥ APMX, LCF ≥ APMX, OAL > LU, RE ≤ DC/2, DN ≤ DC and no neck
// without a place for it (ISO 13399 gives the terms; the relations follow from them).
func (c Cutter) Check() []finding.Finding {
	var out []finding.Finding
	bad := func(is bool, symbol, hint, format string, a ...any) {
		if is {
			out = append(out, finding.Finding{Code: "cutter-size", Severity: finding.Blocking, Where: symbol,
				Text: fmt.Sprintf(format, a...), Hint: hint})
		}
	}
	bad(!(c.R > 0), "DC", "", "cutting diameter %g mm, allowed is more than 0", c.DC())
	bad(c.Edges < 1, "ZEFP", "", "%d effective edges, allowed is at least 1", c.Edges)
	bad(!(c.LCF > 0), "LCF", "", "flute length %g mm, allowed is more than 0", c.LCF)
	bad(c.Round > c.R+small, "RE", "", "corner radius %g mm, allowed is at most half the cutting diameter, %g", c.Round, c.R)
	bad(c.Flat < 0 || c.Flat > c.R+small, "DC", "", "flat of %g mm radius at the tip, allowed is 0 to %g", c.Flat, c.R)
	bad(c.Half < 0 || c.Half >= math.Pi/2, "SIG", "", "flank leaning %g degrees from the axis, allowed is 0 to less than 90", c.Half*180/math.Pi)
	bad(c.Rim() > c.LCF+small, "LCF", "make LCF longer or DC smaller", "the cutting shape is %.4g mm tall, the flutes only %g", c.Rim(), c.LCF)
	bad(c.APMX > c.LCF+small, "APMX", "", "largest depth of cut %g mm, allowed is at most the flute length LCF, %g", c.APMX, c.LCF)
	bad(c.LU > 0 && c.LU < c.Depth()-small, "LU", "", "usable reach %g mm, allowed is at least the depth of cut, %g", c.LU, c.Depth())
	bad(c.LU > 0 && c.LU < c.LCF-small, "LU", "", "usable reach %g mm, allowed is at least the flute length LCF, %g", c.LU, c.LCF)
	bad(c.DN > c.DC()+small, "DN", "", "neck diameter %g mm, allowed is at most the cutting diameter, %g", c.DN, c.DC())
	bad(c.DN > 0 && !(c.LU > c.LCF), "LU", "say how far the neck reaches, or leave DN out", "a neck of %g mm needs LU above the flute length %g, found %g", c.DN, c.LCF, c.LU)
	bad(c.OAL > 0 && c.OAL <= max(c.LU, c.LCF), "OAL", "", "overall length %g mm, allowed is more than %g", c.OAL, max(c.LU, c.LCF))
	bad(!(c.StickOut > 0), "stick_out", "", "stick-out %g mm, allowed is more than 0", c.StickOut)
	bad(c.StickOut > 0 && c.StickOut < c.LCF-small, "stick_out", "flutes do not belong inside the holder", "stick-out %g mm, allowed is at least the flute length LCF, %g", c.StickOut, c.LCF)
	bad(c.OAL > 0 && c.StickOut >= c.OAL, "stick_out", "", "stick-out %g mm, allowed is less than the overall length, %g", c.StickOut, c.OAL)
	bad(c.RampDeg < 0 || c.RampDeg > 90, "ramp", "", "ramp of %g degrees, allowed is 0 to 90", c.RampDeg)
	for i, h := range c.Holder {
		bad(h.R <= 0 || h.Z < 0 || i > 0 && h.Z <= c.Holder[i-1].Z, "holder", "list the steps from the holder's face up",
			"step %d begins at %g mm with diameter %g", i+1, h.Z, 2*h.R)
	}
	return out
}
