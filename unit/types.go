package unit

import (
	"math"
	"strings"
)

// LengthOrPart is a length, or a part of another length: '0.8 mm' or '45 %'.
type LengthOrPart struct {
	Length Length
	Part   float64 // 0.45 for 45 %; 0 where a length was written
	IsPart bool
}

// ParseLengthOrPart reads a length, or a number with %.
func ParseLengthOrPart(text string, s System) (LengthOrPart, error) {
	if strings.Contains(text, "%") {
		v, err := Ratios.Parse(text, s)
		return LengthOrPart{Part: v, IsPart: true}, err
	}
	v, err := Lengths.Parse(text, s)
	if e, ok := err.(*Error); ok {
		e.Allowed += ", or a part such as 45 %"
	}
	return LengthOrPart{Length: Length(v)}, err
}

// Of returns the length meant where whole is what a part is taken of.
func (p LengthOrPart) Of(whole Length) Length {
	if p.IsPart {
		return Length(p.Part * float64(whole))
	}
	return p.Length
}

func (p LengthOrPart) String() string {
	if p.IsPart {
		return Number(100*p.Part, 4) + " %"
	}
	return p.Length.String()
}

// String writes the length in mm, or in µm below a tenth of a millimetre.
func (l Length) String() string {
	if a := math.Abs(float64(l)); a > 0 && a < 0.1 {
		return Number(1000*float64(l), 3) + " um"
	}
	return Number(float64(l), 4) + " mm"
}

// In writes the length in the system's unit.
func (l Length) In(s System) string {
	if s == Inch {
		return Number(float64(l)/25.4, 5) + " in"
	}
	return l.String()
}

// String writes the feed in mm/min.
func (f Feed) String() string { return Number(60*float64(f), 2) + " mm/min" }

// In writes the feed in the system's unit.
func (f Feed) In(s System) string {
	if s == Inch {
		return Number(60*float64(f)/25.4, 3) + " in/min"
	}
	return f.String()
}

// String writes the angle in degrees.
func (a Angle) String() string { return Number(float64(a), 4) + " deg" }

// Radians returns the angle in radians.
func (a Angle) Radians() float64 { return float64(a) * math.Pi / 180 }

// String writes the speed in rev/min.
func (n Speed) String() string { return Number(float64(n), 1) + " rpm" }

// String writes the time in seconds.
func (t Time) String() string { return Number(float64(t), 3) + " s" }

// String writes the acceleration in mm/s².
func (a Accel) String() string { return Number(float64(a), 3) + " mm/s2" }

// String writes the surface speed in m/min.
func (v Surface) String() string { return Number(float64(v), 2) + " m/min" }

// String writes the ratio in per cent.
func (r Ratio) String() string { return Number(100*float64(r), 4) + " %" }
