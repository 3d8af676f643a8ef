package gcode

import (
	"barwise/geom"
	"barwise/path"
	"barwise/shop/machine"
)

// Frame says how a program's axes lie to the side frame: x across the bar, y along it from the stop,
// z up, zero on the bar's axis.
//
// With the bar along machine Y the axes are the same. With the bar along machine X they are the side
// frame turned about Z by −90°: X = y, Y = −x, Z = z. The turn keeps the axes right-handed (ISO 841);
// the stop is then at the left, and x grows toward the operator.
//
// On the end side the bar stands: the axes are those of the side frame, X across it to the face of side
// 90°, Z up along the bar, whichever way it lies on the other sides. Zero is on the bar's axis and at the
// stop.
//
// The zero Frame has the bar along Y and Z0 on the bar's axis.
type Frame struct {
	Along    machine.Axis // "" is AlongY; of no account where the bar stands
	Standing bool         // the end side
	ZeroZ    float64      // height of program Z0 above the bar's axis, mm: 0 on the axis, half the bar's height on its top face; of the end side above the stop
}

// Of returns the frame for a side: standing for the end side and no other.
func (f Frame) Of(sideDeg float64) Frame {
	f.Standing = geom.IsEnd(sideDeg)
	if f.Standing {
		f.Along = ""
	}
	return f
}

func (f Frame) alongX() bool { return f.Along == machine.AlongX && !f.Standing }

// ToProgram takes a side-frame point to program coordinates, mm.
func (f Frame) ToProgram(p geom.Vec3) geom.Vec3 {
	if f.alongX() {
		return geom.Vec3{X: p.Y, Y: 0 - p.X, Z: p.Z - f.ZeroZ}
	}
	return geom.Vec3{X: p.X, Y: p.Y, Z: p.Z - f.ZeroZ}
}

// ToSide takes program coordinates, mm, to the side frame.
func (f Frame) ToSide(p geom.Vec3) geom.Vec3 {
	if f.alongX() {
		return geom.Vec3{X: 0 - p.Y, Y: p.X, Z: p.Z + f.ZeroZ}
	}
	return geom.Vec3{X: p.X, Y: p.Y, Z: p.Z + f.ZeroZ}
}

// arc takes an arc's plane and sense from one frame to the other; it is its own inverse but for the
// plane. With the bar along X the side's XZ plane is the program's YZ plane with the same axis
// direction, and the side's YZ plane is the program's XZ plane with its axis reversed, so that
// clockwise and counter-clockwise change places.
func (f Frame) arc(pl path.Plane, m path.Mode, toSide bool) (path.Plane, path.Mode) {
	if !f.alongX() || pl == path.PlaneXY {
		return pl, m
	}
	side := pl
	if toSide {
		side = path.PlaneXZ + path.PlaneYZ - pl
	}
	if side == path.PlaneYZ {
		m = path.ArcCW + path.ArcCCW - m
	}
	return path.PlaneXZ + path.PlaneYZ - pl, m
}

// moveToProgram takes a planned move to program coordinates.
func (f Frame) moveToProgram(m path.Move) path.Move {
	m.To = f.ToProgram(m.To)
	if m.IsArc() {
		m.Centre = f.ToProgram(m.Centre)
		m.Plane, m.Mode = f.arc(m.Plane, m.Mode, false)
	}
	return m
}

// moveToSide takes a move in program coordinates to the side frame.
func (f Frame) moveToSide(m path.Move) path.Move {
	m.To = f.ToSide(m.To)
	if m.IsArc() {
		m.Centre = f.ToSide(m.Centre)
		m.Plane, m.Mode = f.arc(m.Plane, m.Mode, true)
	}
	return m
}
