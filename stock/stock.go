// Package stock is the bar as it is now: what one height field a side leaves of the bar's section.
//
// Every side cuts straight down its own z, so after any number of sides the solid is
//
//	{ p in the bar : z_i(p) ≤ H_i(x_i(p), y(p)) for every side i }
//
// with one field a side; the end side's is one like the others, over the section. A field is exact at its nodes: it holds the least height that any tip swept
// there has reached, +Inf where nothing was cut, so that an uncut bar is bounded by its own section
// alone and is exact. Between nodes the solid is read as prisms: a height holds over the square cell
// around its node, cut off at the bar's sides and ends. Against the true solid a wall may therefore
// stand up to half a pitch to either side of where it is, and a surface of slope g is up to
// g·pitch/√2 higher or lower between its nodes; in areas and volumes these errors mostly cancel.
//
// Lengths are millimetres. Fields and moves are in the frame of their side, sections, pieces and rays
// in the part frame.
package stock

import (
	"math"

	"barwise/geom"
	"barwise/geom/field"
	"barwise/shop/bar"
)

// thin is the thickness, mm, up to which what is left of a column counts as nothing.
const thin = 1e-6

// uncut is the height of a node that no cutter has reached.
var uncut = float32(math.Inf(1))

// Stack is a bar and one field a side.
type Stack struct {
	Bar   bar.Bar
	Pitch float64 // mm, both ways

	sides []side
	rows  []float64 // length along y of the cells of each row, cut off at the bar's ends, mm
	view  *View     // for Ray; nil or stale after a cut
}

// side is one field with the bar's section as seen from there.
type side struct {
	deg  float64
	turn geom.Turn
	h    *field.Field
	cols []column
	gen  int // counts the cuts
}

// column is the bar's section over one column of cells, in the frame of the side; of the end side, the
// bar's length.
type column struct {
	x, w, l, r     float64 // middle, width, left and right of the cell, cut off at the bar's sides; w = 0 outside
	lo, hi         float64 // interval of the section at x
	loMean, hiMean float64 // the same, averaged over the cell
}

// New returns the uncut bar with one field for each of the index angles degs. Cells are squares of
// pitch mm around the nodes, which lie at whole multiples of pitch; a grid covers the bar as seen from its
// side: its width, and y from 0 to Bar.Length; the end side's covers the section.
func New(b bar.Bar, degs []float64, pitch float64) *Stack {
	s := &Stack{Bar: b, Pitch: pitch}
	for _, d := range degs {
		w := b.Window(d)
		g := field.Cover(w.X0, w.X1, w.Y0, w.Y1, pitch, pitch)
		s.sides = append(s.sides, side{deg: d, turn: geom.TurnDeg(d), h: field.New(g, uncut), cols: columns(b, d, g)})
	}
	g := field.Cover(0, 0, 0, b.Length, pitch, pitch)
	s.rows = make([]float64, g.NY)
	for j := range s.rows {
		s.rows[j] = max(0, min(g.Y(j)+pitch/2, b.Length)-max(g.Y(j)-pitch/2, 0))
	}
	return s
}

func columns(b bar.Bar, deg float64, g field.Grid) []column {
	half := b.Half(deg)
	out := make([]column, g.NX)
	for i := range out {
		l, r := max(g.X(i)-g.DX/2, -half), min(g.X(i)+g.DX/2, half)
		if r-l <= thin {
			continue
		}
		c := &out[i]
		c.x, c.w, c.l, c.r = (l+r)/2, r-l, l, r
		c.lo, c.hi, _ = b.Column(deg, c.x)
		c.loMean, c.hiMean = means(b, deg, l, r)
	}
	return out
}

// means averages the section's lower and upper edge over [l, r]: exact where they are straight and for
// round bars; a corner within the cell costs at most a 64th of the cell's width times the edge's slope.
func means(b bar.Bar, deg, l, r float64) (lo, hi float64) {
	if geom.IsEnd(deg) {
		return 0, b.Length
	}
	if b.Shape == bar.Round {
		q := b.Width / 2
		// ∫ √(q²−x²) dx = (x√(q²−x²) + q² asin(x/q))/2
		f := func(x float64) float64 {
			x = max(-q, min(q, x))
			return (float64(x*math.Sqrt(max(0, float64(q*q)-float64(x*x)))) + float64(float64(q*q)*math.Asin(x/q))) / 2
		}
		h := (f(r) - f(l)) / (r - l)
		return -h, h
	}
	la, ha, _ := b.Column(deg, l+float64(thin*(r-l)))
	lb, hb, _ := b.Column(deg, r-float64(thin*(r-l)))
	if lm, hm, _ := b.Column(deg, (l+r)/2); math.Abs(la+lb-2*lm)+math.Abs(ha+hb-2*hm) < 1e-12 {
		return lm, hm
	}
	const n = 64
	for k := range n {
		a, z, _ := b.Column(deg, l+float64((r-l)*(float64(k)+0.5))/n)
		lo += a / n
		hi += z / n
	}
	return lo, hi
}

// Sides returns the number of sides.
func (s *Stack) Sides() int { return len(s.sides) }

// Deg returns the index angle of a side, degrees; geom.EndDeg of the end side.
func (s *Stack) Deg(side int) float64 { return s.sides[side].deg }

// Field returns the field of a side: at every node the least height cut, +Inf where nothing was. It is
// live; whoever writes to it calls Changed afterwards.
func (s *Stack) Field(side int) *field.Field { return s.sides[side].h }

// Changed drops what is remembered of a side after its field was written to from outside.
func (s *Stack) Changed(side int) { s.sides[side].gen++ }

// Clone returns a stack that shares nothing that changes.
func (s *Stack) Clone() *Stack {
	c := &Stack{Bar: s.Bar, Pitch: s.Pitch, rows: s.rows, sides: append([]side(nil), s.sides...)}
	for i := range c.sides {
		c.sides[i].h = s.sides[i].h.Clone()
	}
	return c
}

// gens returns the number of cuts of every side, to know later whether anything changed.
func (s *Stack) gens() []int {
	out := make([]int, len(s.sides))
	for i := range s.sides {
		out[i] = s.sides[i].gen
	}
	return out
}
