package geom

import "math"

// Turn takes the part frame to the frame of the side of index angle φ: a rotation about Y by −φ, so
// that the direction (sin φ, 0, cos φ) of the part comes to face +Z.
//
//	x' = x cos φ − z sin φ,   y' = y,   z' = x sin φ + z cos φ
//
// The sign is stated here and in docs/frames.md, and nowhere else.
type Turn struct{ Cos, Sin float64 }

// TurnDeg returns the turn of index angle deg. Multiples of 30° are exact where the values are.
func TurnDeg(deg float64) Turn {
	d := math.Mod(deg, 360)
	if d < 0 {
		d += 360
	}
	switch d {
	case 0:
		return Turn{1, 0}
	case 90:
		return Turn{0, 1}
	case 180:
		return Turn{-1, 0}
	case 270:
		return Turn{0, -1}
	}
	s, c := math.Sincos(d * math.Pi / 180)
	return Turn{c, s}
}

// ToSide takes a part-frame point or direction to the side frame.
func (t Turn) ToSide(p Vec3) Vec3 {
	return Vec3{float64(p.X*t.Cos) - float64(p.Z*t.Sin), p.Y, float64(p.X*t.Sin) + float64(p.Z*t.Cos)}
}

// ToPart takes a side-frame point or direction back to the part frame.
func (t Turn) ToPart(p Vec3) Vec3 {
	return Vec3{float64(p.X*t.Cos) + float64(p.Z*t.Sin), p.Y, float64(p.Z*t.Cos) - float64(p.X*t.Sin)}
}

// Facing is the part-frame direction that faces the spindle on this side.
func (t Turn) Facing() Vec3 { return Vec3{t.Sin, 0, t.Cos} }
