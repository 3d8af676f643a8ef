package bar

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"barwise/finding"
	"barwise/geom"
)

// Check returns what is wrong with the bar, Where being the key in a job.
func (b Bar) Check() []finding.Finding {
	var out []finding.Finding
	bad := func(is bool, where, format string, a ...any) {
		if is {
			out = append(out, finding.Finding{Code: "bar-size", Severity: finding.Blocking, Where: where, Text: fmt.Sprintf(format, a...)})
		}
	}
	switch b.Shape {
	case Square, Rect, Hex:
		bad(b.Block != "", "block", "a %s bar is held by its own flats, a collet block is for a round one", b.Shape)
	case Round:
		bad(b.Block != Square && b.Block != Hex, "block", "collet block %q, allowed are square, hexagonal", b.Block)
	default:
		bad(true, "shape", "shape %q, allowed are square, rectangular, hexagonal, round", b.Shape)
	}
	bad(!(b.Width > 0) || math.IsInf(b.Width, 0), "width", "width %g mm, allowed is more than 0", b.Width)
	bad(!(b.Height > 0) || math.IsInf(b.Height, 0), "height", "height %g mm, allowed is more than 0", b.Height)
	bad(b.Shape != Rect && b.Shape != "" && b.Width != b.Height, "height", "height %g mm differs from width %g, allowed for a rectangular bar only", b.Height, b.Width)
	bad(!(b.Length > 0) || math.IsInf(b.Length, 0), "length", "length %g mm, allowed is more than 0", b.Length)
	bad(!(b.Grip > 0), "grip", "grip %g mm, allowed is more than 0", b.Grip)
	bad(b.Grip >= b.Length, "grip", "grip %g mm leaves nothing of a length of %g, allowed is less", b.Grip, b.Length)
	return out
}

// Holds reports whether the bar can be held with index angle deg facing up; any bar can stand on its end.
func (b Bar) Holds(deg float64) bool { return geom.IsEnd(deg) || slices.Contains(b.Angles(), deg) }

// AnglesText lists the index angles for a message: '0, 90, 180, 270'.
func (b Bar) AnglesText() string {
	var s []string
	for _, a := range b.Angles() {
		s = append(s, strconv.FormatFloat(a, 'f', -1, 64))
	}
	return strings.Join(s, ", ")
}
