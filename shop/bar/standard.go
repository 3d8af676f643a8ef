package bar

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"

	"barwise/unit"
)

// Standard is a size of bar as stock lists have it.
type Standard struct {
	Shape  Shape
	System unit.System
	Width  float64 // mm across flats, or the diameter
	Height float64 // mm; less than Width for a rectangular bar, else equal to it
	Name   string  // as a stock list writes it: '25 mm', '1-1/8 in', '30 × 20 mm'
	Source string  // where the size is from; 'common practice, no source' where it has none
}

// Bar returns a bar of the size.
func (s Standard) Bar(length, grip float64, block Shape) Bar {
	b := Bar{Shape: s.Shape, Width: s.Width, Height: s.Height, Length: length, Grip: grip}
	if s.Shape == Round {
		b.Block = block
	}
	return b
}

// CutLength is the step in which bars are commonly sawn to length, mm: 5 mm, or 1/4 in (common
// practice, no source).
func CutLength(s unit.System) float64 {
	if s == unit.Inch {
		return mmPerInch / 4
	}
	return 5
}

const mmPerInch = 25.4

// Standards returns the sizes of a shape, the least area first; none for a shape without a list. Which
// of them a material is sold in differs: the lists are a choice to look for, not a stock.
func Standards(shape Shape, system unit.System) []Standard {
	out := []Standard{}
	for _, l := range lists {
		if l.shape == shape && l.system == system {
			out = l.add(out)
		}
	}
	slices.SortFunc(out, func(a, b Standard) int {
		return cmp.Or(cmp.Compare(a.Width*a.Height, b.Width*b.Height), cmp.Compare(a.Width, b.Width))
	})
	return out
}

func (l list) add(out []Standard) []Standard {
	mm := func(n int) float64 {
		if l.system == unit.Inch {
			return float64(n) * mmPerInch / 16
		}
		return float64(n)
	}
	for _, n := range l.sizes {
		out = append(out, Standard{l.shape, l.system, mm(n), mm(n), l.name(n) + " " + l.system.String(), l.source})
	}
	for _, p := range l.pairs {
		out = append(out, Standard{l.shape, l.system, mm(p[0]), mm(p[1]),
			l.name(p[0]) + " × " + l.name(p[1]) + " " + l.system.String(), l.source})
	}
	return out
}

// name writes a size without its unit: '25', '1-1/8'.
func (l list) name(n int) string {
	if l.system != unit.Inch {
		return strconv.Itoa(n)
	}
	whole, part, den := n/16, n%16, 16
	for part > 0 && part%2 == 0 {
		part, den = part/2, den/2
	}
	switch {
	case part == 0:
		return strconv.Itoa(whole)
	case whole == 0:
		return fmt.Sprintf("%d/%d", part, den)
	}
	return fmt.Sprintf("%d-%d/%d", whole, part, den)
}
