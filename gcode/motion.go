package gcode

import (
	"fmt"
	"math"

	"barwise/finding"
	"barwise/geom"
	"barwise/path"
)

const radiusLimitInch = 0.0002 * mmPerInch // as the rule has it; 2.54 times the metric limit

// slack lets a distance that is just what a rule allows pass in spite of its last binary digit.
const slack = 1e-9

// move does the motion of a block, if it has any.
func (in *interpreter) move() *finding.InputError {
	b := &in.b
	mode := in.motion
	if b.in(groupMotion) {
		mode = b.code[groupMotion] / 10
	}
	g53 := b.in(groupOnce) && b.code[groupOnce] == 530
	if b.has&axisWords == 0 {
		return in.noAxis(mode, g53)
	}
	switch {
	case mode == 80:
		return in.fault("motion", in.axisColumn(), "a coordinate, but no motion is in force", "put G0, G1, G2, G3 or G81 on the line")
	case in.unit == 0:
		return in.fault("units", in.axisColumn(), "a coordinate before the unit is stated", "put G21 for millimetres or G20 for inches near the top")
	case g53 && mode > 1:
		return in.fault("motion", b.at[groupOnce], "G53 with a motion that is neither G0 nor G1", "put G0 or G1 on the line")
	}
	if err := in.checkUsed(mode); err != nil {
		return err
	}
	if !in.moved {
		in.place()
	}
	if mode == 81 {
		return in.drill()
	}
	in.motion = mode
	to, err := in.target(g53)
	if err != nil {
		return err
	}
	if mode == 0 {
		return in.rapid(to)
	}
	if err := in.canCut(); err != nil {
		return err
	}
	m := path.Move{To: to, Mode: path.Line, Feed: in.feed}
	if mode >= 2 {
		if m, err = in.arc(to, mode); err != nil {
			return err
		}
	}
	if in.inverse {
		// F turns a minute; it holds for the whole length, along the helix (§2.1.2.6).
		l := m.Length(in.pos)
		if l == 0 {
			return nil
		}
		m.Feed = l * in.perMinute / 60
	}
	return in.add(m)
}

func (in *interpreter) axisColumn() int {
	col := math.MaxInt
	for _, l := range []byte("XYZ") {
		if in.b.set(l) {
			col = min(col, in.b.c(l))
		}
	}
	return col
}

func (in *interpreter) noAxis(mode int, g53 bool) *finding.InputError {
	b := &in.b
	switch {
	case g53:
		return in.fault("motion", b.at[groupOnce], "G53 without a coordinate", "add X, Y or Z")
	case b.in(groupMotion) && mode != 80:
		return in.fault("motion", b.at[groupMotion], fmt.Sprintf("G%d without a coordinate", mode), "add X, Y or Z, or take the word away")
	}
	if b.in(groupMotion) {
		in.motion = mode
	}
	return in.checkUsed(80)
}

// checkUsed refuses words that the motion does not use.
func (in *interpreter) checkUsed(mode int) *finding.InputError {
	b := &in.b
	if b.has&(bit('I')|bit('J')|bit('K')|bit('R')|bit('L')) == 0 {
		return nil
	}
	arc := mode == 2 || mode == 3
	for _, w := range []struct {
		letter byte
		used   bool
	}{{'I', arc}, {'J', arc}, {'K', arc}, {'R', arc || mode == 81}, {'L', mode == 81}} {
		if b.set(w.letter) && !w.used {
			return in.unused(w.letter)
		}
	}
	return nil
}

// target returns where the axis words lead.
func (in *interpreter) target(g53 bool) (geom.Vec3, *finding.InputError) {
	b := &in.b
	from, base := in.pos, in.offset
	if g53 {
		switch {
		case !in.absolute:
			return from, in.fault("motion", b.at[groupOnce], "G53 while distances are incremental", "put G90 above")
		case in.o.MachineZero == nil:
			e := in.fault("offsets", b.at[groupOnce], "G53 moves in machine coordinates, and where the machine's zero lies is not known", "write the move in program coordinates")
			e.Unsupported = true
			return from, e
		}
		base = *in.o.MachineZero
	}
	if !in.absolute {
		for k, l := range [3]byte{'X', 'Y', 'Z'} {
			if b.set(l) && !in.known[k] {
				return from, in.fault("start", b.c(l), fmt.Sprintf("a step along %c from an unknown place", l), "bring every axis to a stated place by G90 G0 first")
			}
		}
		base = from
	}
	to := from
	if b.set('X') {
		to.X = base.X + float64(b.v('X')*in.unit)
	}
	if b.set('Y') {
		to.Y = base.Y + float64(b.v('Y')*in.unit)
	}
	if b.set('Z') {
		to.Z = base.Z + float64(b.v('Z')*in.unit)
	}
	return to, nil
}

// rapid adds a G0 move, or learns where the tip is.
func (in *interpreter) rapid(to geom.Vec3) *finding.InputError {
	if in.located() {
		return in.add(path.Move{To: to, Mode: path.Rapid})
	}
	for k, l := range [3]byte{'X', 'Y', 'Z'} {
		in.known[k] = in.known[k] || in.b.set(l)
	}
	in.pos = to
	if in.located() {
		in.text.Start = in.text.Frame.ToSide(to)
		in.text.Extent = in.text.Extent.Grow(in.text.Start)
	}
	return nil
}

// canCut refuses a feed move from an unknown place or without a feed.
func (in *interpreter) canCut() *finding.InputError {
	if in.located() && (in.perMinute != 0 || !in.inverse && in.feed != 0) {
		return nil
	}
	col := in.axisColumn()
	for k, l := range [3]byte{'X', 'Y', 'Z'} {
		if !in.known[k] {
			return in.fault("start", col, fmt.Sprintf("a move at a feed, but nothing above says where %c is", l), "bring every axis to a stated place by G0 first")
		}
	}
	switch {
	case in.inverse && in.perMinute == 0:
		return in.fault("feed", col, "under G93 every move at a feed needs its own F above zero", "add F in turns a minute, or go back to G94")
	case !in.inverse && in.feed == 0:
		return in.fault("feed", col, "a move at a feed while the feed is zero or not set", "add F; it must be stated again after a change of unit or after G93")
	}
	return nil
}

// add takes a move in program coordinates.
func (in *interpreter) add(m path.Move) *finding.InputError {
	t := in.text
	if len(t.Moves) >= in.o.MaxMoves {
		return in.fault("size", 1, fmt.Sprintf("the program has more than %d moves", in.o.MaxMoves), "split it")
	}
	if m.IsArc() {
		box := m.Arc(in.pos).Box()
		t.Extent = t.Extent.Grow(t.Frame.ToSide(box.Min)).Grow(t.Frame.ToSide(box.Max))
	}
	in.pos = m.To
	m = t.Frame.moveToSide(m)
	m.Line = int32(t.Lines)
	t.Extent = t.Extent.Grow(m.To)
	t.Moves = append(t.Moves, m)
	return nil
}

// arc makes a G2 or G3 move from the block (NISTIR 6556 §3.5.3).
func (in *interpreter) arc(to geom.Vec3, mode int) (path.Move, *finding.InputError) {
	b := &in.b
	m := path.Move{To: to, Mode: path.ArcCW, Plane: in.plane, Feed: in.feed}
	if mode == 3 {
		m.Mode = path.ArcCCW
	}
	pa := planeAxes[in.plane]
	if !b.set("XYZ"[pa[0]]) && !b.set("XYZ"[pa[1]]) {
		return m, in.fault("arc", in.axisColumn(), fmt.Sprintf("an arc in the %c%c plane without %c or %c", "XYZ"[pa[0]], "XYZ"[pa[1]], "XYZ"[pa[0]], "XYZ"[pa[1]]),
			"give the end in the plane, or choose another plane by G17, G18 or G19")
	}
	if b.set('R') {
		return in.arcByRadius(m)
	}
	out := 3 - pa[0] - pa[1]
	switch {
	case b.set("IJK"[out]):
		return m, in.fault("arc", b.c("IJK"[out]), fmt.Sprintf("%c lies across the plane of the arc", "IJK"[out]), "take it away, or choose another plane by G17, G18 or G19")
	case !b.set("IJK"[pa[0]]) && !b.set("IJK"[pa[1]]):
		return m, in.fault("arc", in.axisColumn(), "an arc with neither a centre nor a radius", fmt.Sprintf("add %c and %c, from the start to the centre, or R", "IJK"[pa[0]], "IJK"[pa[1]]))
	}
	off := [3]float64{}
	for _, k := range pa {
		if b.set("IJK"[k]) {
			off[k] = float64(b.v("IJK"[k]) * in.unit)
		}
	}
	m.Centre = in.pos.Add(geom.Vec3{X: off[0], Y: off[1], Z: off[2]})
	a := m.Arc(in.pos)
	limit := radiusLimit
	if in.unit != 1 {
		limit = radiusLimitInch
	}
	col := b.c("IJK"[pa[0]])
	if !b.set("IJK"[pa[0]]) {
		col = b.c("IJK"[pa[1]])
	}
	switch {
	case !(math.Abs(a.R0-a.R1) <= limit+slack):
		return m, in.fault("arc", col, fmt.Sprintf("the arc's radius is %.4f mm at its start and %.4f mm at its end, at most %.4g mm apart is allowed", a.R0, a.R1, limit), "mend the end or the centre")
	case a.R0 == 0 || a.R1 == 0:
		return m, in.fault("arc", col, "the arc's radius is zero", "mend the end or the centre")
	case a.Undecided(sameDirection):
		return m, in.fault("arc", col, "the arc's start and end lie apart but in one direction from its centre: a full turn or none", "mend the end or the centre")
	}
	return m, nil
}

// arcByRadius finds the centre: R above zero turns at most half a turn, below zero more (§3.5.3.1).
func (in *interpreter) arcByRadius(m path.Move) (path.Move, *finding.InputError) {
	b := &in.b
	for _, l := range []byte("IJK") {
		if b.set(l) {
			return m, in.fault("arc", b.c(l), "an arc with a centre and a radius", "keep one of the two")
		}
	}
	r := float64(b.v('R') * in.unit)
	su, sv, w := m.Plane.Split(in.pos)
	eu, ev, _ := m.Plane.Split(m.To)
	du, dv := eu-su, ev-sv
	d := math.Hypot(du, dv)
	switch {
	case d == 0:
		return m, in.fault("arc", b.c('R'), "an arc by radius that ends where it begins", "give a full circle by its centre")
	case math.Abs(r) < d/2-radiusLimit/2-slack:
		// Half the limit on each side of the middle keeps the two radii within it.
		return m, in.fault("arc", b.c('R'), fmt.Sprintf("a radius of %.4f mm does not reach over %.4f mm from start to end", math.Abs(r), d), fmt.Sprintf("at least %.4f mm is needed", d/2))
	}
	h := math.Sqrt(max(0, float64(r*r)-float64(d*d)/4)) / d
	if (r < 0) != (m.Mode == path.ArcCW) {
		h = -h
	}
	// To the left of the way from start to end for a short counter-clockwise arc.
	m.Centre = m.Plane.Join(su+du/2-float64(h*dv), sv+dv/2+float64(h*du), w)
	return m, nil
}
