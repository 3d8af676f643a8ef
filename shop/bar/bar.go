// Package bar describes the stock: its section, its length, and the ways it can lie in the vise.
package bar

import (
	"math"

	"barwise/geom"
)

// Shape is the section of a bar.
type Shape string

// Sections of a bar.
const (
	Square Shape = "square"
	Rect   Shape = "rectangular"
	Hex    Shape = "hexagonal"
	Round  Shape = "round"
)

// Bar is a length of stock along Y of the part frame, its axis on X = Z = 0. At index angle 0 its
// width lies along X and its height along Z.
type Bar struct {
	Shape  Shape
	Width  float64 // mm across flats along X at index 0; the diameter of a round bar
	Height float64 // mm across flats along Z at index 0; equal to Width but for a rectangular bar
	Length float64 // mm, from the stop at Y = 0
	Grip   float64 // mm of it held, from the stop
	Block  Shape   // Square or Hex: the collet block that holds a round bar
}

// Flat is one flat of the section: the half-plane { p : p·(sin φ, cos φ) ≤ D } over (x, z).
type Flat struct {
	Deg float64
	D   float64
}

// Flats returns the flats of the section; none for a round bar, whose section is the disc of Width/2.
func (b Bar) Flats() []Flat {
	switch b.Shape {
	case Round:
		return nil
	case Hex:
		out := make([]Flat, 6)
		for i := range out {
			out[i] = Flat{float64(60 * i), b.Width / 2}
		}
		return out
	}
	return []Flat{{0, b.Height / 2}, {90, b.Width / 2}, {180, b.Height / 2}, {270, b.Width / 2}}
}

// Angles returns the index angles, in degrees, at which the bar can be held.
func (b Bar) Angles() []float64 {
	if b.Shape == Hex || b.Shape == Round && b.Block == Hex {
		return []float64{0, 60, 120, 180, 240, 300}
	}
	return []float64{0, 90, 180, 270}
}

// Top returns the greatest height of the bar above program zero with index angle deg facing up, mm: of
// the section above the axis, of the end side the length.
func (b Bar) Top(deg float64) float64 {
	if geom.IsEnd(deg) {
		return b.Length
	}
	if b.Shape == Round {
		return b.Width / 2
	}
	t, best := geom.TurnDeg(deg), math.Inf(-1)
	for _, c := range b.corners() {
		best = max(best, t.ToSide(c).Z)
	}
	return best
}

// Half returns half the width of the section across the view with index angle deg facing up, mm. The end
// side is as wide as side 0°.
func (b Bar) Half(deg float64) float64 {
	if geom.IsEnd(deg) {
		deg = 0
	}
	return b.Top(deg + 90)
}

// Window is the rectangle a bar fills in the view of a side, mm of the side frame.
type Window struct{ X0, X1, Y0, Y1 float64 }

// Window returns what the bar fills in the view with index angle deg facing up: its length from the stop,
// or for the end side its section.
func (b Bar) Window(deg float64) Window {
	half := b.Half(deg)
	if geom.IsEnd(deg) {
		return Window{-half, half, -b.Top(0), b.Top(0)}
	}
	return Window{-half, half, 0, b.Length}
}

// Below returns how low the bar reaches under program zero with index angle deg facing up, mm: 0 for the
// end side, which stands on the stop.
func (b Bar) Below(deg float64) float64 {
	if geom.IsEnd(deg) {
		return 0
	}
	return b.Top(deg + 180)
}

// Has reports whether a point of the part frame lies within the section, whatever its y.
func (b Bar) Has(x, z float64) bool {
	lo, hi, ok := b.Column(0, x)
	return ok && z >= lo && z <= hi
}

func (b Bar) corners() []geom.Vec3 {
	fs := b.Flats()
	out := make([]geom.Vec3, len(fs))
	for i, f := range fs {
		g := fs[(i+1)%len(fs)]
		s0, c0 := geom.TurnDeg(f.Deg).Sin, geom.TurnDeg(f.Deg).Cos
		s1, c1 := geom.TurnDeg(g.Deg).Sin, geom.TurnDeg(g.Deg).Cos
		det := float64(s0*c1) - float64(s1*c0)
		out[i] = geom.Vec3{X: (float64(f.D*c1) - float64(g.D*c0)) / det, Z: (float64(s0*g.D) - float64(s1*f.D)) / det}
	}
	return out
}

// Column returns the interval of heights that the section fills above x, in the frame of the side of
// index angle deg. ok is false outside the section. The end side's columns depend on y' too: there it is
// the whole length over the points within Chord.
func (b Bar) Column(deg, x float64) (lo, hi float64, ok bool) {
	if geom.IsEnd(deg) {
		return 0, b.Length, math.Abs(x) <= b.Half(deg)
	}
	if b.Shape == Round {
		r := b.Width / 2
		if math.Abs(x) > r {
			return 0, 0, false
		}
		h := math.Sqrt(float64(r*r) - float64(x*x))
		return -h, h, true
	}
	lo, hi = math.Inf(-1), math.Inf(1)
	for _, f := range b.Flats() {
		// in the side frame the flat faces (sin, cos) of f.Deg − deg
		t := geom.TurnDeg(f.Deg - deg)
		switch rest := f.D - float64(x*t.Sin); {
		case math.Abs(t.Cos) < 1e-12:
			if rest < 0 {
				return 0, 0, false
			}
		case t.Cos > 0:
			hi = min(hi, rest/t.Cos)
		default:
			lo = max(lo, rest/t.Cos)
		}
	}
	return lo, hi, lo <= hi
}

// Chord returns the interval of y' that the bar fills over x in the frame of the side of index angle deg:
// its length, or for the end side the section's chord there. ok is false outside.
func (b Bar) Chord(deg, x float64) (lo, hi float64, ok bool) {
	if geom.IsEnd(deg) {
		lo, hi, ok = b.Column(0, x)
		return -hi, -lo, ok
	}
	_, _, ok = b.Column(deg, x)
	return 0, b.Length, ok
}

// Area returns the area of the section, mm².
func (b Bar) Area() float64 {
	if b.Shape == Round {
		return math.Pi * b.Width * b.Width / 4
	}
	c, sum := b.corners(), 0.0
	for i := range c {
		d := c[(i+1)%len(c)]
		sum += float64(c[i].X*d.Z) - float64(c[i].Z*d.X)
	}
	return math.Abs(sum) / 2
}
