package gcode

import (
	"fmt"
	"math"

	"barwise/finding"
	"barwise/geom"
	"barwise/path"
)

// interpreter holds what is in force. Positions are G54 program coordinates, mm; feeds mm/s.
type interpreter struct {
	name string
	o    ReadParams
	text *Text
	b    block

	first, percentOpen, ended, done bool

	stated     map[string]statement
	statedLine map[string]int

	pos       geom.Vec3
	known     [3]bool
	moved     bool // a coordinate was read
	motion    int  // G word in force; 80 none
	plane     path.Plane
	unit      float64 // mm; 0: not stated yet
	absolute  bool
	inverse   bool    // G93
	perMinute float64 // F of the line under G93, 1/min; 0: none
	feed      float64 // 0: none in force
	offset    geom.Vec3
	backTo    int // 98, 99; 0: not stated
	cycleZ    float64
	cycleR    float64

	spindle  Kind // SpindleOff, SpindleOn, SpindleReverse
	speed    float64
	selected int // T; −1: none
}

func newInterpreter(name string, o ReadParams) *interpreter {
	in := &interpreter{
		name: name, o: o, first: true,
		text:   &Text{Extent: geom.EmptyBox()},
		stated: map[string]statement{}, statedLine: map[string]int{},
		motion: 80, absolute: true, spindle: SpindleOff, selected: -1,
	}
	if o.Frame != nil {
		in.text.Frame = *o.Frame
	}
	if o.MaxMoves == 0 {
		in.o.MaxMoves = 100_000_000
	}
	if o.Start != nil {
		in.known = [3]bool{true, true, true}
	}
	return in
}

// place puts the tip at the start that was given, once the frame is settled.
func (in *interpreter) place() {
	in.moved = true
	if in.o.Start != nil {
		in.pos = in.text.Frame.ToProgram(*in.o.Start)
		in.text.Start = *in.o.Start
		in.text.Extent = in.text.Extent.Grow(*in.o.Start)
	}
}

// execute does what the block says, in the order of NISTIR 6556 table 8.
func (in *interpreter) execute() *finding.InputError {
	b := &in.b
	if b.has == 0 && b.groups == 0 {
		return nil
	}
	if err := in.setFeed(); err != nil {
		return err
	}
	if b.groups&^(1<<groupMotion) != 0 || b.has&^(axisWords|bit('F')) != 0 {
		if err := in.switches(); err != nil {
			return err
		}
	}
	if err := in.move(); err != nil {
		return err
	}
	if b.in(groupStop) {
		in.stop(b.code[groupStop])
	}
	return nil
}

func (in *interpreter) setFeed() *finding.InputError {
	b := &in.b
	if b.in(groupFeedMode) {
		inverse := b.code[groupFeedMode] == 930
		if in.inverse && !inverse {
			in.feed = 0
		}
		in.inverse = inverse
	}
	in.perMinute = 0
	if !b.set('F') {
		return nil
	}
	f := b.v('F')
	switch {
	case f < 0:
		return in.fault("feed", b.c('F'), fmt.Sprintf("a feed of %g", f), "a feed is zero or more")
	case in.inverse:
		in.perMinute = f
		return nil
	case in.unit == 0:
		return in.fault("units", b.c('F'), "a feed before the unit is stated: F is read before G20 or G21 on its line", "put G21 or G20 on a line above")
	case b.in(groupUnit) && in.unit != unitOf(b.code[groupUnit]):
		return in.fault("units", b.c('F'), "a feed on a line that changes the unit is read in the old one", "put F on the next line")
	}
	in.feed = f * in.unit / 60
	return nil
}

func unitOf(code int) float64 {
	if code == 200 {
		return mmPerInch
	}
	return 1
}

// switches does all of a block that is neither feed nor motion nor stop.
func (in *interpreter) switches() *finding.InputError {
	b := &in.b
	if err := in.spindleAndTool(); err != nil {
		return err
	}
	if b.in(groupCoolant) {
		in.event([...]Kind{Mist, Flood, CoolantOff}[b.code[groupCoolant]-7], 0)
	}
	if b.in(groupOverride) {
		in.event([...]Kind{OverridesOn, OverridesOff}[b.code[groupOverride]-48], 0)
	}
	if err := in.dwell(); err != nil {
		return err
	}
	if b.in(groupPlane) {
		in.plane = path.Plane(b.code[groupPlane]/10 - 17)
	}
	if b.in(groupUnit) {
		u := unitOf(b.code[groupUnit])
		if in.unit == 0 {
			in.text.Inch = u != 1
		} else if in.unit != u {
			in.feed = 0
		}
		in.unit = u
	}
	if b.in(groupCoordinate) {
		if err := in.coordinates(b.code[groupCoordinate] / 10); err != nil {
			return err
		}
	}
	if b.in(groupDistance) {
		in.absolute = b.code[groupDistance] == 900
	}
	if b.in(groupReturn) {
		in.backTo = b.code[groupReturn] / 10
	}
	return nil
}

func (in *interpreter) event(k Kind, v float64) {
	in.text.Events = append(in.text.Events, Event{Move: len(in.text.Moves), Line: int32(in.text.Lines), Kind: k, Value: v})
}

func (in *interpreter) spindleAndTool() *finding.InputError {
	b, t := &in.b, in.text
	newSpeed := false
	if b.set('S') {
		if b.v('S') < 0 {
			return in.fault("spindle", b.c('S'), fmt.Sprintf("a spindle speed of %g", b.v('S')), "a speed is zero or more")
		}
		newSpeed = in.speed != b.v('S')
		in.speed = b.v('S')
	}
	if b.set('T') {
		v := b.v('T')
		if v < 0 || v != math.Trunc(v) || v > maxTool {
			return in.fault("tool", b.c('T'), fmt.Sprintf("tool %g", v), fmt.Sprintf("a tool number is a whole number from 0 to %d", maxTool))
		}
		in.selected = int(v)
	}
	if b.in(groupTool) {
		if err := in.changeTool(); err != nil {
			return err
		}
	}
	next := in.spindle
	if b.in(groupSpindle) {
		next = [...]Kind{SpindleOn, SpindleReverse, SpindleOff}[b.code[groupSpindle]-3]
	}
	if next != in.spindle || newSpeed && next != SpindleOff {
		in.turn(next)
	}
	if next == SpindleOn && t.SpindleRPM == 0 {
		t.SpindleRPM = in.speed
	}
	return nil
}

func (in *interpreter) turn(k Kind) {
	in.spindle = k
	v := in.speed
	if k == SpindleOff {
		v = 0
	}
	in.event(k, v)
}

// changeTool leaves the spindle stopped (NISTIR 6556 §3.6.3).
func (in *interpreter) changeTool() *finding.InputError {
	t, col := in.text, in.b.at[groupTool]
	switch {
	case in.selected < 0:
		return in.fault("tool", col, "M6 with no tool called", "call one by T, on this line or above")
	case t.Tool != 0 && t.Tool != in.selected && len(t.Moves) > 0:
		return in.fault("tool", col, fmt.Sprintf("a change from tool %d to %d after the first move", t.Tool, in.selected), "one program runs one cutter: make it two")
	case t.Tool != 0 && t.Tool != in.selected:
		return in.fault("tool", col, fmt.Sprintf("tool %d is put in, but tool %d is stated or called above", in.selected, t.Tool), "keep one of the two")
	}
	t.Tool = in.selected
	if in.spindle != SpindleOff {
		in.turn(SpindleOff)
	}
	in.event(ToolChange, float64(in.selected))
	return nil
}

func (in *interpreter) dwell() *finding.InputError {
	b := &in.b
	if !b.in(groupOnce) || b.code[groupOnce] != 40 {
		if b.set('P') {
			return in.unused('P')
		}
		return nil
	}
	if !b.set('P') {
		return in.fault("dwell", b.at[groupOnce], "G4 without P", "give the seconds by P")
	}
	if b.v('P') < 0 {
		return in.fault("dwell", b.c('P'), fmt.Sprintf("a dwell of %g s", b.v('P')), "a dwell is zero or more")
	}
	if in.located() {
		if !in.moved {
			in.place()
		}
		return in.add(path.Move{To: in.pos, Mode: path.Dwell, Seconds: b.v('P')})
	}
	return nil
}

func (in *interpreter) located() bool { return in.known[0] && in.known[1] && in.known[2] }

func (in *interpreter) unused(letter byte) *finding.InputError {
	return in.fault("word", in.b.c(letter), fmt.Sprintf("nothing on this line uses the word %c", letter),
		"I J K go with G2 and G3, R with G2, G3 and G81, P with G4, L with G81")
}

func (in *interpreter) coordinates(system int) *finding.InputError {
	if system == 54 {
		in.offset = geom.Vec3{}
		return nil
	}
	o, ok := in.o.Offsets[system]
	if !ok {
		e := in.fault("offsets", in.b.at[groupCoordinate], fmt.Sprintf("where the zero of G%d lies is not known", system), "write the program for G54")
		e.Unsupported = true
		return e
	}
	in.offset = o
	return nil
}

func (in *interpreter) stop(code int) {
	t := in.text
	switch code {
	case 0, 1:
		in.event([...]Kind{Stop, OptionalStop}[code], 0)
		t.Stops++
		return
	}
	// M2 and M30 also reset the modes (§3.6.1), which nothing is left to see.
	if in.spindle != SpindleOff {
		in.turn(SpindleOff)
	}
	t.End = fmt.Sprintf("m%d", code)
	in.ended = true
}
