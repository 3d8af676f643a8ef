package gcode

import (
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"barwise/finding"
	"barwise/geom"
	"barwise/path"
	"barwise/shop/machine"
)

// Params says how a program is written. The zero value writes millimetres with three decimals, chords
// for arcs, LF line ends, no tool change and M30 at the end.
type Params struct {
	Frame        Frame
	Inch         bool     // G20 and inches instead of G21 and millimetres
	Decimals     int      // digits after the point of a coordinate, in the unit written; 0: 3 in mm, 4 in inches
	Arcs         bool     // write G2 and G3; otherwise arcs become chords
	ArcTolerance float64  // farthest a chord may lie from its arc, mm; 0: 0.002
	LineEnd      string   // "lf" or "crlf"; "" is "lf"
	ToolChange   string   // "m6": T and M6; "stop": M0 with a comment; "": the cutter is in already
	Numbers      bool     // N words
	SpindleDwell float64  // seconds between M3 and the first motion
	Header       []string // comment lines above the rest; long ones are wrapped
	End          string   // "m30" or "m2"; "" is "m30"
}

const (
	mmPerInch     = 25.4
	flushAt       = 1 << 16
	maxCoordinate = 1e5 // mm; keeps a coordinate of maxDecimals exact
	maxDecimals   = 6
	maxTool       = 99999
	maxNumber     = 99999 // greatest line number: five digits (NISTIR 6556 §3.3.1)
	dwellDecimals = 3
	speedDecimals = 2
	radiusLimit   = 0.002 // mm between an arc's two radii (NISTIR 6556 §3.5.3.2)
)

func (o Params) decimals() int {
	switch {
	case o.Decimals > 0:
		return o.Decimals
	case o.Inch:
		return 4
	}
	return 3
}

// feedDecimals: to 0.01 mm/min or 0.001 in/min.
func (o Params) feedDecimals() int {
	if o.Inch {
		return 3
	}
	return 2
}

func (o Params) unit() float64 {
	if o.Inch {
		return mmPerInch
	}
	return 1
}

// Rounding returns the farthest a written coordinate lies from the planned one, mm on each axis: half
// of the last digit written. The ends of all moves keep to it. A point between the ends of a straight
// move keeps to it too; between the ends of an arc its distance from the planned circle is at most
// 3·√2 times as much, for the centre and both radii are rounded as well.
func (o Params) Rounding() float64 {
	return 0.5 * o.unit() / pow10[o.decimals()]
}

func (o Params) check() error {
	switch {
	case o.decimals() > maxDecimals || o.decimals() < 1:
		return fmt.Errorf("gcode: %d decimals, 1 to %d can be written", o.Decimals, maxDecimals)
	case o.LineEnd != "" && o.LineEnd != "lf" && o.LineEnd != "crlf":
		return fmt.Errorf("gcode: line end %q is neither lf nor crlf", o.LineEnd)
	case o.ToolChange != "" && o.ToolChange != "m6" && o.ToolChange != "stop":
		return fmt.Errorf("gcode: tool change %q is none of m6, stop and empty", o.ToolChange)
	case o.End != "" && o.End != "m30" && o.End != "m2":
		return fmt.Errorf("gcode: end %q is neither m30 nor m2", o.End)
	case o.Frame.Along != "" && o.Frame.Along != machine.AlongX && o.Frame.Along != machine.AlongY:
		return fmt.Errorf("gcode: the bar cannot lie along %q", o.Frame.Along)
	case !(math.Abs(o.Frame.ZeroZ) < maxCoordinate) || !(o.SpindleDwell >= 0) || !(o.ArcTolerance >= 0):
		return errors.New("gcode: the frame's zero, spindle dwell or arc tolerance is out of range")
	}
	return nil
}

// Write writes p as program text. Words that repeat what is in force are left out; so is a move whose
// end, rounded, is where it began. An arc whose rounded numbers break the radius rule, or turn another
// way than planned, is written as chords.
//
// The text begins by rapids to p.Start, Z first and then X with Y, so p.Start must be clear of
// everything. Read gives the moves back within Params.Rounding, and writing what was read with the
// same Params gives the same bytes.
func Write(w io.Writer, p path.Program, o Params) error {
	if err := o.check(); err != nil {
		return err
	}
	o.Frame = o.Frame.Of(p.SideDeg)
	wr := writer{
		w: w, o: o, buf: make([]byte, 0, flushAt+4*maxLine),
		decimals:  o.decimals(),
		scale:     pow10[o.decimals()] / o.unit(),
		feedScale: 60 * pow10[o.feedDecimals()] / o.unit(),
		motion:    -1,
		tolerance: o.ArcTolerance,
		eol:       "\n",
	}
	if wr.tolerance == 0 {
		wr.tolerance = 0.002
	}
	if o.LineEnd == "crlf" {
		wr.eol = "\r\n"
	}
	if err := wr.head(p); err != nil {
		return err
	}
	if err := wr.moves(p); err != nil {
		return err
	}
	wr.tail(p)
	wr.flush()
	return wr.err
}

type writer struct {
	w         io.Writer
	o         Params
	buf       []byte
	err       error
	eol       string
	decimals  int
	scale     float64 // last digits per mm
	feedScale float64 // last digits of F per mm/s
	tolerance float64

	pos    [3]int64 // last digits
	feed   int64
	motion int // 0 to 3, −1 none yet
	plane  path.Plane
	line   int // last N
	pts    []geom.Vec3
}

func (w *writer) flush() {
	if w.err == nil && len(w.buf) > 0 {
		_, w.err = w.w.Write(w.buf)
	}
	w.buf = w.buf[:0]
}

// begin starts a block and returns the length of the buffer at which it is still empty.
func (w *writer) begin() int {
	if len(w.buf) >= flushAt {
		w.flush()
	}
	if w.o.Numbers {
		w.line = w.line%maxNumber + 1
		w.buf = append(w.buf, 'N')
		w.buf = appendUint(w.buf, uint64(w.line))
		w.buf = append(w.buf, ' ')
	}
	return len(w.buf)
}

func (w *writer) block(s string) {
	w.begin()
	w.buf = append(append(w.buf, s...), w.eol...)
}

func (w *writer) comment(s string) {
	w.buf = append(append(w.buf, '('), s...)
	w.buf = append(append(w.buf, ')'), w.eol...)
}

func (w *writer) head(p path.Program) error {
	for _, h := range w.o.Header {
		for _, l := range wrap(plain(h)) {
			if s, ok := parseStatement(l); ok {
				return fmt.Errorf("gcode: header line %q would be read as a statement of the %s", h, s.key)
			}
			w.comment(l)
		}
	}
	if err := w.statements(p); err != nil {
		return err
	}
	unit := " G21"
	if w.o.Inch {
		unit = " G20"
	}
	w.block("G17" + unit + " G90 G94 G40 G49 G54 G80")
	switch w.o.ToolChange {
	case "m6":
		w.block("T" + strconv.Itoa(p.Tool) + " M6")
	case "stop":
		w.comment("put in cutter " + p.Cutter + ", touch off its length, then start again")
		w.block("M0")
	}
	if p.SpindleRPM != 0 {
		n := fixed(p.SpindleRPM, pow10[speedDecimals])
		if !(p.SpindleRPM > 0) || p.SpindleRPM > 1e7 || n == 0 {
			return fmt.Errorf("gcode: a spindle speed of %g rev/min cannot be written", p.SpindleRPM)
		}
		w.block("S" + string(appendFixed(nil, n, speedDecimals)) + " M3")
		if d := fixed(w.o.SpindleDwell, pow10[dwellDecimals]); d > 0 {
			w.block("G4 P" + string(appendFixed(nil, d, dwellDecimals)))
		}
	}
	return nil
}

func (w *writer) statements(p path.Program) error {
	for _, s := range []struct{ key, value string }{{"program", p.Name}, {"cutter", p.Cutter}} {
		if !isPlain(s.value) || strings.HasPrefix(s.value, ":") {
			return finding.Bad("program-name", s.key+" "+strconv.Quote(s.value),
				"the name cannot stand in a comment of program text", "use printable ASCII without parentheses or a colon in front, at most 232 characters")
		}
	}
	if p.Name != "" {
		w.comment("program " + p.Name)
	}
	if t := strings.TrimLeft(plain(p.Title), ": "); t != "" {
		w.comment("title " + t)
	}
	if geom.IsEnd(p.SideDeg) {
		w.comment("side " + endWord)
	} else if !(math.Abs(p.SideDeg) < 1e6) {
		return fmt.Errorf("gcode: a side at %g deg", p.SideDeg)
	} else {
		w.comment("side " + strconv.FormatFloat(p.SideDeg, 'f', -1, 64) + " deg")
	}
	if p.Cutter != "" {
		w.comment("cutter " + p.Cutter)
	}
	if p.Tool < 0 || p.Tool > maxTool {
		return fmt.Errorf("gcode: tool number %d, 0 to %d can be written", p.Tool, maxTool)
	}
	if p.Tool > 0 && w.o.ToolChange != "m6" {
		w.comment("tool " + strconv.Itoa(p.Tool))
	}
	w.frame()
	return nil
}

// frame states how the program's axes lie.
func (w *writer) frame() {
	along, on, above := "along "+string(machine.AlongY), "on axis", "axis"
	switch {
	case w.o.Frame.Standing:
		along, on, above = standing, "at "+atStop, atStop
	case w.o.Frame.alongX():
		along = "along " + string(machine.AlongX)
	}
	w.comment("bar " + along)
	if z := w.o.Frame.ZeroZ; z == 0 {
		w.comment("zero " + on)
	} else {
		w.comment("zero " + strconv.FormatFloat(z, 'f', -1, 64) + " mm above " + above)
	}
}

// wrap breaks a comment at blanks into lines that fit; later lines begin with two points.
func wrap(s string) []string {
	var out []string
	for len(s) > maxComment/2 {
		cut := strings.LastIndexByte(s[:maxComment/2], ' ')
		if cut < 4 {
			cut = maxComment / 2
		}
		out = append(out, s[:cut])
		s = ".. " + strings.TrimLeft(s[cut:], " ")
	}
	return append(out, s)
}

func (w *writer) moves(p path.Program) error {
	if len(p.Moves) == 0 {
		return w.err
	}
	from := w.o.Frame.ToProgram(p.Start)
	if err := w.inRange(from, -1); err != nil {
		return err
	}
	w.pos = w.round(from)
	for i := range p.Moves {
		m := w.o.Frame.moveToProgram(p.Moves[i])
		if err := w.move(from, m, i); err != nil {
			return err
		}
		if m.Mode != path.Dwell {
			from = m.To
		}
		if w.err != nil {
			return w.err
		}
	}
	return nil
}

func (w *writer) inRange(p geom.Vec3, i int) error {
	if math.Abs(p.X) < maxCoordinate && math.Abs(p.Y) < maxCoordinate && math.Abs(p.Z) < maxCoordinate {
		return nil
	}
	return fmt.Errorf("gcode: move %d reaches %v, beyond %g mm or not a number", i, p, float64(maxCoordinate))
}

// approach brings the tip to the start. It is called before anything is done there, so that a program
// in which nothing moves does not.
func (w *writer) approach() {
	if w.motion >= 0 {
		return
	}
	w.motion = 0
	w.begin()
	w.buf = append(w.buf, "G0"...)
	w.axis('Z', w.pos[2])
	w.buf = append(w.buf, w.eol...)
	w.begin()
	w.buf = append(w.buf, 'X')
	w.buf = appendFixed(w.buf, w.pos[0], w.decimals)
	w.axis('Y', w.pos[1])
	w.buf = append(w.buf, w.eol...)
}

func (w *writer) round(p geom.Vec3) [3]int64 {
	return [3]int64{fixed(p.X, w.scale), fixed(p.Y, w.scale), fixed(p.Z, w.scale)}
}

func (w *writer) unround(n [3]int64) geom.Vec3 {
	return geom.Vec3{X: float64(n[0]) / w.scale, Y: float64(n[1]) / w.scale, Z: float64(n[2]) / w.scale}
}

func (w *writer) axis(letter byte, n int64) {
	w.buf = append(w.buf, ' ', letter)
	w.buf = appendFixed(w.buf, n, w.decimals)
}

func (w *writer) move(from geom.Vec3, m path.Move, i int) error {
	if m.Mode == path.Dwell {
		return w.dwell(m, i)
	}
	if err := w.inRange(m.To, i); err != nil {
		return err
	}
	feed := int64(0)
	if m.Mode != path.Rapid {
		if feed = fixed(m.Feed, w.feedScale); !(m.Feed > 0) || m.Feed > maxCoordinate || feed == 0 {
			return fmt.Errorf("gcode: move %d has a feed of %g mm/s, which cannot be written", i, m.Feed)
		}
	}
	switch m.Mode {
	case path.Rapid:
		w.straight(0, m.To, 0)
	case path.Line:
		w.straight(1, m.To, feed)
	case path.ArcCW, path.ArcCCW:
		if err := w.inRange(m.Centre, i); err != nil {
			return err
		}
		a := m.Arc(from)
		if a.Undecided(noise) {
			return fmt.Errorf("gcode: move %d is an arc whose ends lie apart but in one direction from its centre: a full turn or none", i)
		}
		if w.o.Arcs && w.arc(a, m, feed) {
			return nil
		}
		w.pts = path.Flatten(w.pts[:0], from, m, w.tolerance)
		for _, p := range w.pts {
			w.straight(1, p, feed)
		}
	default:
		return fmt.Errorf("gcode: move %d is of no known kind %d", i, m.Mode)
	}
	return nil
}

func (w *writer) dwell(m path.Move, i int) error {
	if !(m.Seconds >= 0) || m.Seconds > maxCoordinate {
		return fmt.Errorf("gcode: move %d dwells %g s", i, m.Seconds)
	}
	if d := fixed(m.Seconds, pow10[dwellDecimals]); d > 0 {
		w.approach()
		w.begin()
		w.buf = append(w.buf, "G4 P"...)
		w.buf = appendFixed(w.buf, d, dwellDecimals)
		w.buf = append(w.buf, w.eol...)
	}
	return nil
}

func (w *writer) straight(motion int, to geom.Vec3, feed int64) {
	n := w.round(to)
	if n == w.pos {
		return
	}
	w.approach()
	at := w.begin()
	if w.motion != motion {
		w.motion = motion
		w.buf = append(w.buf, ' ', 'G', byte('0'+motion))
	}
	for k, letter := range [3]byte{'X', 'Y', 'Z'} {
		if n[k] != w.pos[k] {
			w.axis(letter, n[k])
		}
	}
	w.pos = n
	w.end(at, feed)
}

// end writes the feed word if it is new, takes away the blank before the first word and closes the line.
func (w *writer) end(at int, feed int64) {
	if feed != 0 && feed != w.feed {
		w.feed = feed
		w.buf = append(w.buf, ' ', 'F')
		w.buf = appendFixed(w.buf, feed, w.o.feedDecimals())
	}
	w.buf = append(w.buf[:at], w.buf[at+1:]...)
	w.buf = append(w.buf, w.eol...)
}

func (w *writer) tail(p path.Program) {
	if p.SpindleRPM != 0 {
		w.block("M5")
	}
	if w.o.End == "m2" {
		w.block("M2")
	} else {
		w.block("M30")
	}
}
