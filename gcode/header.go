package gcode

import (
	"math"
	"strconv"
	"strings"

	"barwise/geom"
	"barwise/shop/machine"
)

// maxLine is the most characters a line may have (NISTIR 6556 §3.3), its end not counted.
const maxLine = 256

// maxComment leaves room for the parentheses and a line number.
const maxComment = 240

// statement is what a comment at the head says, where it says something the reader knows. The form is
// a key, an optional colon and a value:
//
//	(program rook-090-ball-1.nc)
//	(title finish side 90 with ball-1)
//	(side 90 deg)    (side end)
//	(cutter ball-1)
//	(tool 2)
//	(bar along x)    (bar standing)
//	(zero on axis)   (zero 14 mm above axis)
//	(zero at stop)   (zero 80 mm above stop)
//
// Of the last three the end side has the words that speak of a bar that stands, the others the rest.
type statement struct {
	key   string
	value string
	num   float64 // side in degrees or geom.EndDeg, tool, zero in mm above axis or stop
}

// parseStatement returns ok = false for an ordinary comment. A comment that begins like a statement
// but does not go on like one is ordinary too.
func parseStatement(comment string) (s statement, ok bool) {
	comment = strings.TrimSpace(comment)
	i := strings.IndexAny(comment, " \t:")
	if i < 0 {
		return s, false
	}
	s.key = strings.ToLower(comment[:i])
	s.value = strings.TrimSpace(strings.TrimPrefix(strings.TrimSpace(comment[i:]), ":"))
	if s.value == "" {
		return s, false
	}
	f := strings.Fields(strings.ToLower(s.value))
	switch s.key {
	case "program", "title", "cutter":
		return s, true
	case "side":
		if len(f) == 1 && f[0] == endWord {
			s.num = geom.EndDeg
			return s, true
		}
		s.num, ok = number(f[0])
		unit := len(f) == 1 || len(f) == 2 && (f[1] == "deg" || f[1] == "degrees")
		return s, ok && unit
	case "tool":
		s.num, ok = number(f[0])
		return s, ok && len(f) == 1 && s.num >= 0 && s.num == math.Trunc(s.num) && s.num <= maxTool
	case "bar":
		s.value = f[len(f)-1]
		if len(f) == 1 {
			return s, f[0] == standing
		}
		return s, len(f) == 2 && f[0] == "along" && (f[1] == string(machine.AlongX) || f[1] == string(machine.AlongY))
	case "zero":
		if len(f) == 2 && (f[0] == "on" && f[1] == "axis" || f[0] == "at" && f[1] == "stop") {
			return s, true
		}
		s.num, ok = number(f[0])
		return s, ok && len(f) == 4 && f[1] == "mm" && f[2] == "above" && (f[3] == "axis" || f[3] == "stop")
	}
	return s, false
}

// Words of the end side's head.
const (
	endWord  = "end"
	standing = "standing"
	atStop   = "stop"
)

func number(s string) (float64, bool) {
	v, err := strconv.ParseFloat(s, 64)
	return v, err == nil && math.Abs(v) < 1e6
}

// plain makes text fit for a comment: printable ASCII without parentheses (NISTIR 6556 §3.3.4), no
// blanks at either end, cut at maxComment. Doing it twice changes nothing more.
func plain(s string) string {
	var b strings.Builder
	for _, r := range s {
		switch {
		case r == '(':
			b.WriteByte('[')
		case r == ')':
			b.WriteByte(']')
		case r < ' ' || r == 0x7f:
			b.WriteByte(' ')
		case r < 0x7f:
			b.WriteRune(r)
		case r == '°':
			b.WriteString(" deg")
		case r == 'Ø' || r == '⌀':
			b.WriteString("dia ")
		case r == 'µ' || r == 'μ':
			b.WriteByte('u')
		case r == '–' || r == '—' || r == '−':
			b.WriteByte('-')
		case r == '×':
			b.WriteByte('x')
		default:
			b.WriteByte('?')
		}
	}
	out := strings.TrimSpace(b.String())
	if len(out) > maxComment-8 {
		out = strings.TrimSpace(out[:maxComment-8])
	}
	return out
}

// isPlain reports whether s survives plain unchanged.
func isPlain(s string) bool { return plain(s) == s }
