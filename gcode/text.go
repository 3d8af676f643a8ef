// Package gcode is program text: a writer of a plain RS274/NGC subset with the strict reader of it.
//
// The reader goes by the rules of NISTIR 6556 (Kramer, Proctor, Messina: The NIST RS274NGC Interpreter,
// version 3, 2000) for the words it accepts and refuses the rest, naming line, column and word. Text
// describes itself: comment lines at its head say which side the bar lies on and which cutter runs, so
// that it can be judged with nothing beside it.
package gcode

import (
	"barwise/geom"
	"barwise/path"
)

// Kind says what an Event is.
type Kind uint8

// Kinds of events. SpindleOn and SpindleReverse carry rev/min in Value, ToolChange the T number; the
// rest carry nothing.
const (
	SpindleOn      Kind = iota // M3, or a new speed while running: clockwise
	SpindleReverse             // M4, likewise: counter-clockwise
	SpindleOff                 // M5, M6, M2, M30
	ToolChange                 // M6
	Stop                       // M0
	OptionalStop               // M1
	Mist                       // M7
	Flood                      // M8
	CoolantOff                 // M9
	OverridesOn                // M48
	OverridesOff               // M49
)

func (k Kind) String() string {
	return [...]string{"spindle on", "spindle in reverse", "spindle off", "tool change", "stop",
		"optional stop", "mist", "flood", "coolant off", "overrides on", "overrides off"}[k]
}

// Event is something other than motion. It happens before Moves[Move] and after the move before it.
type Event struct {
	Move  int
	Line  int32
	Kind  Kind
	Value float64
}

// Note is a comment that stands before the first motion. Key is the lower-case name of a statement the
// reader knows (program, title, side, cutter, tool, bar, zero), or empty.
type Note struct {
	Line  int32
	Key   string
	Value string // of a statement; the whole comment where Key is empty
}

// Text is a program as read.
//
// Program.Start is the tip where all three axes are first known; the rapids that brought it there
// begin at an unknown place and are not in Moves, so whoever judges the text must also hold the start
// itself, with the column above it, clear of stock. A move of no length is kept.
type Text struct {
	path.Program           // Moves in the side frame, mm and mm/s, each with its line
	Header       []Note    // comments before the first motion, in order
	Events       []Event   // in order
	Frame        Frame     // how the program's axes lie
	Inch         bool      // the first unit stated was G20
	Lines        int       // lines in the file, comments included
	Stops        int       // M0 and M1
	Slashed      int       // lines that begin with a slash
	End          string    // "m2", "m30" or "%"
	Extent       geom.Box3 // of Start and all moves, side frame; empty where nothing moves
}

// Span is a run of moves with one spindle state.
type Span struct {
	From, To int     // Moves[From:To]
	RPM      float64 // 0: standing; negative: in reverse
}

// Spindle returns the spindle's state over all moves, as runs in order without gaps.
func (t *Text) Spindle() []Span {
	var out []Span
	from, rpm := 0, 0.0
	for _, e := range t.Events {
		next := rpm
		switch e.Kind {
		case SpindleOn:
			next = e.Value
		case SpindleReverse:
			next = -e.Value
		case SpindleOff:
			next = 0
		}
		if next != rpm && e.Move > from {
			out = append(out, Span{from, e.Move, rpm})
			from = e.Move
		}
		rpm = next
	}
	if from < len(t.Moves) {
		out = append(out, Span{from, len(t.Moves), rpm})
	}
	return out
}
