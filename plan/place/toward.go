package place

import (
	"math"

	"barwise/geom"
)

// Motion turns, scales and shifts: p' = Scale·(p·X, p·Y, p·Z) + Shift, rows of a rotation.
type Motion struct {
	X, Y, Z geom.Vec3
	Scale   float64
	Shift   geom.Vec3
}

// Apply moves a point.
func (t Motion) Apply(p geom.Vec3) geom.Vec3 {
	return geom.Vec3{
		X: float64(t.Scale*p.Dot(t.X)) + t.Shift.X,
		Y: float64(t.Scale*p.Dot(t.Y)) + t.Shift.Y,
		Z: float64(t.Scale*p.Dot(t.Z)) + t.Shift.Z,
	}
}

// axes are the directions that Along names.
var axes = map[string]geom.Vec3{
	"+x": {X: 1}, "-x": {X: -1}, "+y": {Y: 1}, "-y": {Y: -1}, "+z": {Z: 1}, "-z": {Z: -1},
}

// Axes are the values Along may have.
func Axes() []string { return []string{"+x", "-x", "+y", "-y", "+z", "-z"} }

// opposite is the angle to −Y, rad, below which a direction is taken for −Y itself: there the least
// rotation is not one but many, and rounding would choose among them.
const opposite = 1e-9

// Toward returns the turn, of scale 1 and without a shift, that brings the model direction dir to +Y by
// the least rotation, then turns by turnDeg about Y: what faced side 0 comes to face the side of that
// index angle. With u = dir/|dir| the least rotation is
//
//	R v = v − (u + Y)((u + Y)·v)/(1 + u·Y) + 2 Y (u·v)
//
// and for u = −Y half a turn about Z. The zero direction counts as +Y. dir must be finite.
func Toward(dir geom.Vec3, turnDeg float64) Motion {
	to, t := least(dir), geom.TurnDeg(turnDeg)
	to.X, to.Z = row(t.Cos, to.X, t.Sin, to.Z), row(-t.Sin, to.X, t.Cos, to.Z)
	return to
}

func row(a float64, u geom.Vec3, b float64, v geom.Vec3) geom.Vec3 { return u.Mul(a).Add(v.Mul(b)) }

func least(dir geom.Vec3) Motion {
	big := max(math.Abs(dir.X), math.Abs(dir.Y), math.Abs(dir.Z))
	if big == 0 {
		dir, big = geom.Vec3{Y: 1}, 1
	}
	// by the greatest first: no square overflows, and an axis comes out as exactly that; 0 takes the
	// sign off a zero
	u := geom.Vec3{X: dir.X/big + 0, Y: dir.Y/big + 0, Z: dir.Z/big + 0}
	l := u.Len()
	u = geom.Vec3{X: u.X / l, Y: u.Y / l, Z: u.Z / l}
	off := float64(u.X*u.X) + float64(u.Z*u.Z)
	if u.Y < 0 && off < opposite*opposite {
		return Motion{X: geom.Vec3{X: -1}, Y: geom.Vec3{Y: -1}, Z: geom.Vec3{Z: 1}, Scale: 1}
	}
	k := 1 + u.Y
	if u.Y < 0 {
		k = off / (1 - u.Y) // the same, without the cancellation
	}
	skew := 0 - float64(u.X*u.Z)/k
	return Motion{
		X:     geom.Vec3{X: 1 - float64(u.X*u.X)/k, Y: 0 - u.X, Z: skew},
		Y:     u,
		Z:     geom.Vec3{X: skew, Y: 0 - u.Z, Z: 1 - float64(u.Z*u.Z)/k},
		Scale: 1,
	}
}
