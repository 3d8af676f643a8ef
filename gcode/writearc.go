package gcode

import (
	"math"

	"barwise/path"
)

// sweepSlack is how far, in radians, the rounded arc may turn more or less than the planned one before
// it is held for another arc: rounding may turn a short arc into a full circle or the other way.
const sweepSlack = 0.2

// The ends of an arc within this angle, in radians, lie in one direction from its centre: as written,
// where a digit more or less must not decide, and as planned, where only noise must not.
const (
	sameDirection = 1e-6
	noise         = 1e-10
)

// arc writes a move as G2 or G3 and reports whether it could. All is judged on the rounded numbers, so
// that what was read back is judged alike.
func (w *writer) arc(planned path.Arc, m path.Move, feed int64) bool {
	to, centre := w.round(m.To), w.round(m.Centre)
	rounded := path.Move{To: w.unround(to), Centre: w.unround(centre), Mode: m.Mode, Plane: m.Plane}
	written := rounded.Arc(w.unround(w.pos))
	switch {
	case math.Abs(planned.R0-planned.R1) > radiusLimit,
		// A little tighter, so that what was read back is never turned down by the line above.
		math.Abs(written.R0-written.R1) > radiusLimit-1e-6,
		written.Undecided(sameDirection),
		written.R0 == 0 || written.R1 == 0,
		math.Abs(written.Sweep-planned.Sweep) > sweepSlack:
		return false
	}
	w.writeArc(m, to, centre, feed)
	return true
}

// planeAxes lists, by plane, the two axes in it in the order they are written.
var planeAxes = [...][2]int{path.PlaneXY: {0, 1}, path.PlaneXZ: {0, 2}, path.PlaneYZ: {1, 2}}

func (w *writer) writeArc(m path.Move, to, centre [3]int64, feed int64) {
	w.approach()
	at := w.begin()
	if w.plane != m.Plane {
		w.plane = m.Plane
		w.buf = append(w.buf, " G1"...)
		w.buf = append(w.buf, byte('7'+m.Plane))
	}
	motion := 2
	if m.Mode == path.ArcCCW {
		motion = 3
	}
	if w.motion != motion {
		w.motion = motion
		w.buf = append(w.buf, ' ', 'G', byte('0'+motion))
	}
	in := planeAxes[m.Plane]
	for k, letter := range [3]byte{'X', 'Y', 'Z'} {
		if k == in[0] || k == in[1] || to[k] != w.pos[k] {
			w.axis(letter, to[k])
		}
	}
	for _, k := range in {
		w.axis("IJK"[k], centre[k]-w.pos[k])
	}
	w.pos = to
	w.end(at, feed)
}
