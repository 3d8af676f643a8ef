package gcode

import (
	"fmt"
	"math"

	"barwise/finding"
	"barwise/geom"
	"barwise/path"
)

// maxRepeats keeps one line from becoming a million moves.
const maxRepeats = 9999

// drill does G81 (NISTIR 6556 §3.5.16.2): over to X Y, down to R, at a feed to Z, back up. Z and R hold
// until the motion changes. It works in the XY plane alone.
func (in *interpreter) drill() *finding.InputError {
	b := &in.b
	col := in.axisColumn()
	again := in.motion == 81
	in.motion = 81
	switch {
	case in.plane != path.PlaneXY:
		e := in.fault("cycle", col, "G81 in another plane than XY", "put G17 above")
		e.Unsupported = true
		return e
	case in.inverse:
		return in.fault("cycle", col, "G81 under G93", "put G94 above")
	case in.backTo == 0:
		return in.fault("cycle", col, "G81 before it is stated how far to come back up", "put G98 for where it came from or G99 for R near the top")
	case !again && !b.set('Z'):
		return in.fault("cycle", col, "G81 without Z", "add the depth")
	case !again && !b.set('R'):
		return in.fault("cycle", col, "G81 without R", "add the height above the hole")
	}
	if err := in.canCut(); err != nil {
		return err
	}
	if b.set('Z') {
		in.cycleZ = float64(b.v('Z') * in.unit)
	}
	if b.set('R') {
		in.cycleR = float64(b.v('R') * in.unit)
	}
	times := 1
	if b.set('L') {
		l := b.v('L')
		if l < 1 || l > maxRepeats || l != math.Trunc(l) {
			return in.fault("cycle", b.c('L'), fmt.Sprintf("L%g", l), fmt.Sprintf("a whole number from 1 to %d is allowed", maxRepeats))
		}
		times = int(l)
	}
	return in.holes(col, times)
}

func (in *interpreter) holes(col, times int) *finding.InputError {
	b := &in.b
	r, z := in.offset.Z+in.cycleR, in.offset.Z+in.cycleZ
	if !in.absolute {
		r = in.pos.Z + in.cycleR
		z = r + in.cycleZ
	}
	if r < z {
		return in.fault("cycle", col, fmt.Sprintf("R lies %.4f mm below the bottom of the hole", z-r), "R must be at or above Z")
	}
	back := r
	if in.backTo == 98 {
		back = max(r, in.pos.Z)
	}
	at := in.pos
	if at.Z < r {
		at.Z = r
		if err := in.add(path.Move{To: at, Mode: path.Rapid}); err != nil {
			return err
		}
	}
	for range times {
		next := at
		if b.set('X') {
			next.X = in.offset.X + float64(b.v('X')*in.unit)
			if !in.absolute {
				next.X = at.X + float64(b.v('X')*in.unit)
			}
		}
		if b.set('Y') {
			next.Y = in.offset.Y + float64(b.v('Y')*in.unit)
			if !in.absolute {
				next.Y = at.Y + float64(b.v('Y')*in.unit)
			}
		}
		if err := in.hole(next, r, z, back); err != nil {
			return err
		}
		at = in.pos
	}
	return nil
}

func (in *interpreter) hole(over geom.Vec3, r, z, back float64) *finding.InputError {
	level := func(z float64) geom.Vec3 { return geom.Vec3{X: over.X, Y: over.Y, Z: z} }
	for _, m := range []path.Move{
		{To: over, Mode: path.Rapid},
		{To: level(r), Mode: path.Rapid},
		{To: level(z), Mode: path.Line, Feed: in.feed},
		{To: level(back), Mode: path.Rapid},
	} {
		if m.To == in.pos {
			continue
		}
		if err := in.add(m); err != nil {
			return err
		}
	}
	return nil
}
