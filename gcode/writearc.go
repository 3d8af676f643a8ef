package gcode

import (
	"math"

	"barwise/geom"
	"barwise/path"
)

// sweepSlack is how far, in radians, the rounded arc may turn more or less than the planned one before
// it is held for another arc: rounding may turn a short arc into a full circle or the other way.
const sweepSlack = 0.2

// sameDirection is the angle, in radians, below which the ends of an arc count as lying in one
// direction from its centre: were they apart by their radii alone, no one could tell a full turn from none.
const sameDirection = 1e-6

// undecided reports whether a's ends differ and yet lie in one direction from the centre.
func undecided(a path.Arc, from, to geom.Vec3) bool {
	u0, v0, _ := a.Plane.Split(from)
	u1, v1, _ := a.Plane.Split(to)
	turn := math.Abs(a.Sweep)
	return (u0 != u1 || v0 != v1) && (turn < sameDirection || turn > 2*math.Pi-sameDirection)
}

// arc writes a move as G2 or G3 and reports whether it could. All is judged on the rounded numbers, so
// that what was read back is judged alike.
func (w *writer) arc(from geom.Vec3, m path.Move, feed int64) bool {
	to, centre := w.round(m.To), w.round(m.Centre)
	planned := m.Arc(from)
	rounded := path.Move{To: w.unround(to), Centre: w.unround(centre), Mode: m.Mode, Plane: m.Plane}
	start := w.unround(w.pos)
	written := rounded.Arc(start)
	switch {
	case math.Abs(planned.R0-planned.R1) > radiusLimit,
		// A little tighter, so that what was read back is never turned down by the line above.
		math.Abs(written.R0-written.R1) > radiusLimit-1e-6,
		undecided(written, start, rounded.To),
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
