package stock

import (
	"context"
	"math"
	"sync"

	"barwise/geom/field"
)

// The end side looks along the rows' y, so it bounds no column of another side by a height: seen from
// there it is a set of square cells of the section, each filled up to some y. Over one row it leaves of
// every cell the whole, a lower part of the row's thickness, or nothing.

// endRow is what the end side leaves of one row, asked along the columns of another side.
type endRow struct {
	h        *field.Field // nil where there is no end side
	low      float64      // least height of h
	cos, sin float64      // of the side whose columns ask
	cut      bool         // whether it takes anything of the row at hand
	y0, y1   float64      // lower and upper end of the row at hand
	node     float64      // y of its nodes
}

func (s *Stack) newEndRow(at *side) endRow {
	e := endRow{cos: at.turn.Cos, sin: at.turn.Sin}
	for k := range s.sides {
		if !s.sides[k].turn.End {
			continue
		}
		if e.h == nil {
			e.h = s.sides[k].h
			continue
		}
		e.h = e.h.Clone()
		for n, z := range s.sides[k].h.Z {
			e.h.Z[n] = min(e.h.Z[n], z)
		}
	}
	if e.h == nil {
		return e
	}
	least := uncut
	for _, z := range e.h.Z {
		least = min(least, z)
	}
	e.low = float64(least)
	return e
}

// set turns it to row j of the stack.
func (e *endRow) set(s *Stack, j int) {
	if e.h == nil {
		return
	}
	e.node = float64(j) * s.Pitch
	e.y0, e.y1 = max(0, e.node-s.Pitch/2), min(s.Bar.Length, e.node+s.Pitch/2)
	e.cut = e.low < e.y1
}

// cell is where a column passes the end side's grid: the cell that it is in just below height z.
type cell struct{ i, k int }

func (e *endRow) at(x, z float64) cell {
	z -= thin
	g := &e.h.Grid
	px, py := float64(x*e.cos)+float64(z*e.sin), float64(x*e.sin)-float64(z*e.cos)
	in := func(v float64, n int) int { return max(0, min(n-1, int(math.Floor(v+0.5)))) }
	return cell{in((px-g.X0)/g.DX, g.NX), in((py-g.Y0)/g.DY, g.NY)}
}

// leave returns the z at which the column at x leaves a cell going down, and the cell it comes to; the
// outermost have no end.
func (e *endRow) leave(x float64, c cell) (float64, cell) {
	g := &e.h.Grid
	zi, zk := math.Inf(-1), math.Inf(-1)
	next := c
	if di := -step(e.sin); di != 0 && c.i+di >= 0 && c.i+di < g.NX {
		zi = (g.X0 + float64((float64(c.i)+0.5*float64(di))*g.DX) - float64(x*e.cos)) / e.sin
		next.i += di
	}
	if dk := step(e.cos); dk != 0 && c.k+dk >= 0 && c.k+dk < g.NY {
		zk = (float64(x*e.sin) - g.Y0 - float64((float64(c.k)+0.5*float64(dk))*g.DY)) / e.cos
		next.k += dk
	}
	switch {
	case zi > zk:
		next.k = c.k
	case zk > zi:
		next.i = c.i
	}
	return max(zi, zk), next
}

func step(v float64) int {
	switch {
	case v > 1e-12:
		return 1
	case v < -1e-12:
		return -1
	}
	return 0
}

// height is how far up a cell is filled.
func (e *endRow) height(c cell) float64 { return float64(e.h.Z[c.k*e.h.NX+c.i]) }

// share is how much of the row's thickness a cell keeps; 0 where that is no more than thin.
func (e *endRow) share(c cell) float64 {
	left := min(e.height(c), e.y1) - e.y0
	if left <= thin {
		return 0
	}
	return left / (e.y1 - e.y0)
}

// down returns the greatest z' in [floor, z] at which the end side leaves any of the row, −Inf for none.
func (e *endRow) down(x, z, floor float64) float64 {
	if !e.cut {
		return z
	}
	for c := e.at(x, z); z >= floor; {
		if e.share(c) > 0 {
			return z
		}
		var exit float64
		exit, c = e.leave(x, c)
		z = min(z, exit)
	}
	return math.Inf(-1)
}

// along returns a stack whose side 0 is one across the axis, at a quarter turn where upright is asked
// for: s itself, the same with its sides in another order, or with one more that has cut nothing.
func (s *Stack) along(upright bool) *Stack {
	for k := range s.sides {
		t := s.sides[k].turn
		if t.End || upright && t.Cos != 0 && t.Sin != 0 {
			continue
		}
		if k == 0 {
			return s
		}
		c := *s
		c.sides = append([]side{s.sides[k]}, s.sides[:k]...)
		c.sides = append(c.sides, s.sides[k+1:]...)
		return &c
	}
	c := New(s.Bar, []float64{0}, s.Pitch)
	c.sides = append(c.sides, s.sides...)
	return c
}

// seenFromEnd is Seen for the end side: row by row from the free end down, what is left of a row hides all
// below it.
func (s *Stack) seenFromEnd(end int) *field.Field {
	own := s.sides[end].h
	out := field.New(own.Grid, field.Empty)
	b := s.along(true)
	var lock sync.Mutex
	_ = eachBand(context.Background(), 0, len(b.rows)-1, func(j0, j1 int) error {
		v := &endView{slicer: b.newSlicer(0), out: field.New(own.Grid, field.Empty), open: make([]int, own.NX)}
		for i := range v.open {
			v.open[i] = own.NY
		}
		for j := j1; j >= j0; j-- {
			v.row(j)
		}
		lock.Lock()
		defer lock.Unlock()
		for n, z := range v.out.Z {
			out.Z[n] = max(out.Z[n], z)
		}
		return nil
	})
	return out
}

// endView marks what is seen of a band of rows.
type endView struct {
	*slicer
	out  *field.Field
	open []int // nodes of each column of out that still show nothing
}

func (v *endView) row(j int) {
	v.setRow(j)
	t, g := v.at.turn, &v.out.Grid
	for i := range v.at.cols {
		if t.Cos != 0 { // the columns of both stand over each other
			if n := g.NX - 1 - i; v.open[n] == 0 && t.Cos < 0 || v.open[i] == 0 && t.Cos > 0 {
				continue
			}
		}
		for _, r := range v.column(i, j) {
			v.mark(r)
		}
	}
}

// mark enters a rectangle of the row at hand.
func (v *endView) mark(r rect) {
	t, g := v.at.turn, &v.out.Grid
	// of the four products in each sum two are 0: the base side is at a quarter turn
	xa, xb := float64(r.xa*t.Cos)+float64(r.za*t.Sin), float64(r.xb*t.Cos)+float64(r.zb*t.Sin)
	ya, yb := float64(r.xa*t.Sin)-float64(r.za*t.Cos), float64(r.xb*t.Sin)-float64(r.zb*t.Cos)
	span := func(a, b, first, pitch float64, n int) (int, int) {
		lo, hi := min(a, b)+thin, max(a, b)-thin
		return max(0, min(n-1, int(math.Floor((lo-first)/pitch+0.5)))), max(0, min(n-1, int(math.Floor((hi-first)/pitch+0.5))))
	}
	i0, i1 := span(xa, xb, g.X0, g.DX, g.NX)
	k0, k1 := span(ya, yb, g.Y0, g.DY, g.NY)
	for k := k0; k <= k1; k++ {
		for i := i0; i <= i1; i++ {
			if n := k*g.NX + i; v.out.Z[n] == field.Empty {
				y := v.line.end.y1
				if v.line.end.cut {
					y = min(y, v.line.end.height(cell{i, k}))
				}
				v.out.Z[n] = float32(y)
				v.open[i]--
			}
		}
	}
}

// stands reports whether the end side leaves the point (x, z) of the row at hand, at its nodes' y: exact
// where that stands over a node, else read from the four nodes about it, or the nearest where one of them
// was never cut.
func (e *endRow) stands(x, z float64) bool {
	g := &e.h.Grid
	px := (float64(x*e.cos) + float64(z*e.sin) - g.X0) / g.DX
	py := (float64(x*e.sin) - float64(z*e.cos) - g.Y0) / g.DY
	i, k := max(0, min(g.NX-1, int(math.Floor(px+1e-6)))), max(0, min(g.NY-1, int(math.Floor(py+1e-6))))
	a, b := max(0, min(1, px-float64(i))), max(0, min(1, py-float64(k)))
	if a < 1e-5 {
		a = 0
	}
	if b < 1e-5 {
		b = 0
	}
	read := func(i, k int) float64 { return e.height(cell{min(i, g.NX-1), min(k, g.NY-1)}) }
	lo := float64(read(i, k)*(1-a)) + float64(read(i+1, k)*a)
	hi := float64(read(i, k+1)*(1-a)) + float64(read(i+1, k+1)*a)
	h := float64(lo*(1-b)) + float64(hi*b)
	if math.IsNaN(h) || math.IsInf(h, 0) { // 0·∞, or a neighbour that was never cut
		h = read(i+int(math.Floor(a+0.5)), k+int(math.Floor(b+0.5)))
	}
	return e.node < h-thin
}
