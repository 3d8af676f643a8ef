package geom

import (
	"math"
	"strconv"
)

// EndDeg stands for the end side wherever a side is named by its index angle: the side that looks along
// the axis, with the bar standing on its stop end. It is no angle, and far from any that a job holds.
const EndDeg float64 = -1e6

// IsEnd reports whether a side is the end side.
func IsEnd(deg float64) bool { return deg == EndDeg }

// SideName is how a side is called in a text: 'end', or its index angle: '90°'.
func SideName(deg float64) string {
	if IsEnd(deg) {
		return "end"
	}
	return strconv.FormatFloat(deg, 'g', -1, 64) + "°"
}

// Turn takes the part frame to the frame of a side. For the side of index angle φ it is a rotation about
// Y by −φ, so that the direction (sin φ, 0, cos φ) of the part comes to face +Z:
//
//	x' = x cos φ − z sin φ,   y' = y,   z' = x sin φ + z cos φ
//
// For the end side it is a rotation about X by 90°, so that the free end, +Y of the part, faces +Z:
//
//	x' = x,   y' = −z,   z' = y
//
// There the stop is z' = 0 and the axis stands on x' = y' = 0. The face of side 0° looks toward −y', the
// face of side 90° toward +x': from lying at index angle 0 the bar was stood up by lifting its free end.
//
// The signs are stated here and in docs/frames.md, and nowhere else.
type Turn struct {
	Cos, Sin float64 // of the index angle; 1 and 0 for the end side
	End      bool    // whether it is along the axis; Cos then is 1 for the end side and −1 for its opposite
}

// TurnDeg returns the turn of index angle deg, or of the end side for EndDeg. Multiples of 90° are exact.
func TurnDeg(deg float64) Turn {
	if IsEnd(deg) {
		return Turn{Cos: 1, End: true}
	}
	d := math.Mod(deg, 360)
	if d < 0 {
		d += 360
	}
	switch d {
	case 0:
		return Turn{Cos: 1}
	case 90:
		return Turn{Sin: 1}
	case 180:
		return Turn{Cos: -1}
	case 270:
		return Turn{Sin: -1}
	}
	s, c := math.Sincos(d * math.Pi / 180)
	return Turn{Cos: c, Sin: s}
}

// ToSide takes a part-frame point or direction to the side frame.
func (t Turn) ToSide(p Vec3) Vec3 {
	if t.End {
		return Vec3{float64(p.X * t.Cos), 0 - p.Z, float64(p.Y * t.Cos)} // 0 − z: no negative zeros
	}
	return Vec3{float64(p.X*t.Cos) - float64(p.Z*t.Sin), p.Y, float64(p.X*t.Sin) + float64(p.Z*t.Cos)}
}

// ToPart takes a side-frame point or direction back to the part frame.
func (t Turn) ToPart(p Vec3) Vec3 {
	if t.End {
		return Vec3{float64(p.X * t.Cos), float64(p.Z * t.Cos), 0 - p.Y}
	}
	return Vec3{float64(p.X*t.Cos) + float64(p.Z*t.Sin), p.Y, float64(p.Z*t.Cos) - float64(p.X*t.Sin)}
}

// Facing is the part-frame direction that faces the spindle on this side.
func (t Turn) Facing() Vec3 {
	if t.End {
		return Vec3{Y: t.Cos}
	}
	return Vec3{t.Sin, 0, t.Cos}
}

// Opposite is the turn that looks from below: its frame is this one's turned by 180° about y', x and z
// reversed. Of the end side it looks from the stop, where no cutter comes.
func (t Turn) Opposite() Turn { return Turn{Cos: 0 - t.Cos, Sin: 0 - t.Sin, End: t.End} }
