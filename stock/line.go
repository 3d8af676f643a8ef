package stock

import "math"

// line is what the other sides make of one row of a side: sides straight across as the width they
// leave of every cell of height, oblique ones as probes.
type line struct {
	upper, lower []float32 // greatest and least x left in each cell of z, upward; upper −Inf where nothing is
	minU, maxU   []float32 // of blocks of upper
	minL, maxL   []float32
	oblique      []probe
	end          endRow
}

// walker walks down the columns of one side through the fields of the others.
type walker struct {
	s       *Stack
	at      *side
	facing  []int // sides that look the other way along the column
	same    []int // sides that look along it from the same end, other than at
	across  []int // sides straight across
	oblique []int // all others
	probes  []probe
	end     endRow
	cells   int     // cells of z that sides across have
	z0, p   float64 // height of cell 0, pitch
}

func (s *Stack) newWalker(i int) *walker {
	w := &walker{s: s, at: &s.sides[i], p: s.Pitch}
	for k := range s.sides {
		if k == i || s.sides[k].turn.End {
			continue
		}
		q := newProbe(w.at, &s.sides[k])
		switch {
		case q.level() && q.cos < 0:
			w.facing = append(w.facing, k)
		case q.level():
			w.same = append(w.same, k)
		case q.across():
			w.across = append(w.across, k)
			w.cells, w.z0 = s.sides[k].h.NX, s.sides[k].h.X0
		default:
			w.oblique = append(w.oblique, k)
			w.probes = append(w.probes, q)
		}
	}
	w.end = s.newEndRow(w.at)
	return w
}

func (w *walker) newLine() *line {
	ln := &line{oblique: append([]probe(nil), w.probes...), end: w.end}
	if w.cells > 0 {
		ln.upper, ln.lower = make([]float32, w.cells), make([]float32, w.cells)
	}
	return ln
}

// fill turns a line to row j.
func (w *walker) fill(ln *line, j int) {
	ln.end.set(w.s, j)
	for n, k := range w.oblique {
		ln.oblique[n].row = w.s.sides[k].h.Row(j)
		ln.oblique[n].blocks()
	}
	if w.cells == 0 {
		return
	}
	for i := range ln.upper {
		ln.upper[i], ln.lower[i] = uncut, -uncut
	}
	last := w.cells - 1
	for _, k := range w.across {
		row := w.s.sides[k].h.Row(j)
		if q := newProbe(w.at, &w.s.sides[k]); q.sin > 0 { // faces +x, its own x runs down z
			for i, h := range row {
				ln.upper[last-i] = min(ln.upper[last-i], h)
			}
		} else {
			for i, h := range row {
				ln.lower[i] = max(ln.lower[i], -h)
			}
		}
	}
	for i, u := range ln.upper {
		if u-ln.lower[i] <= thin {
			ln.upper[i] = -uncut
		}
	}
	ln.minU, ln.maxU = blocksOf(ln.upper, ln.minU, ln.maxU)
	ln.minL, ln.maxL = blocksOf(ln.lower, ln.minL, ln.maxL)
}

// floor is the lower end of column i of row j by the section and the facing sides.
func (w *walker) floor(i, j int) float64 {
	lo := w.at.cols[i].lo
	for _, k := range w.facing {
		f := w.s.sides[k].h
		lo = max(lo, -float64(f.Z[j*f.NX+f.NX-1-i]))
	}
	return lo
}

// ceiling is the upper end of column i of row j by the section and the side's own height.
func (w *walker) ceiling(i, j int) float64 {
	hi := min(w.at.cols[i].hi, float64(w.at.h.Z[j*w.at.h.NX+i]))
	for _, k := range w.same {
		f := w.s.sides[k].h
		hi = min(hi, float64(f.Z[j*f.NX+i]))
	}
	return hi
}

// cell is the cell of height that z lies in.
func (w *walker) cell(z float64) int {
	return max(0, min(w.cells-1, int(math.Floor((z-w.z0)/w.p+0.5))))
}

// bottom is the lower end of cell k; the lowest reaches on.
func (w *walker) bottom(k int) float64 {
	if k == 0 {
		return math.Inf(-1)
	}
	return w.z0 + float64((float64(k)-0.5)*w.p)
}

// width is the stretch of a column's width that the sides across leave in cell k.
func (ln *line) width(c *column, k int) (l, r float64) {
	return max(c.l, float64(ln.lower[k])), min(c.r, float64(ln.upper[k]))
}

// gone reports whether nothing of the column's width is left in all of block b, whole whether all is.
func (ln *line) gone(c *column, b int) bool {
	return float64(ln.maxU[b]) <= c.l+thin || float64(ln.minL[b]) >= c.r-thin
}

func (ln *line) whole(c *column, b int) bool {
	return float64(ln.minU[b]) >= c.r && float64(ln.maxL[b]) <= c.l
}

// downAcross returns the greatest z' in [floor, z] at which any of the column's width is left, −Inf for
// none.
func (w *walker) downAcross(ln *line, c *column, z, floor float64) float64 {
	if w.cells == 0 {
		return z
	}
	for k := w.cell(z); ; {
		if b := k / blockCells; k == min(b*blockCells+blockCells, w.cells)-1 && ln.gone(c, b) {
			k = b * blockCells
		} else if l, r := ln.width(c, k); r-l > thin {
			return z
		}
		z = w.bottom(k)
		k--
		if z < floor {
			return math.Inf(-1)
		}
	}
}

// topmost returns the top of what the other sides leave of a column in [floor, z], −Inf for nothing.
// What is no thicker than thin counts as nothing: steps of oblique sides often meet in a point.
func (w *walker) topmost(ln *line, c *column, z, floor float64) float64 {
	for {
		n := w.topmostAcross(ln, c, z, floor)
		if n < floor || !ln.end.cut {
			return n
		}
		if z = ln.end.down(c.x, n, floor); z == n || z < floor {
			return z
		}
		z -= thin // the edge of a cell: what the sides across leave is asked of the cell below it
	}
}

// topmostAcross is topmost without the end side.
func (w *walker) topmostAcross(ln *line, c *column, z, floor float64) float64 {
	if len(ln.oblique) == 0 {
		return w.downAcross(ln, c, z, floor)
	}
	for {
		n := w.downAcross(ln, c, topmost(ln.oblique, c.x, z, floor), floor)
		if n < floor {
			return n
		}
		if n == z {
			bottom := ln.solid(c.x, n, max(floor, n-2*thin))
			if n-bottom > thin {
				return n
			}
			n = bottom - thin
		}
		z = n
	}
}

// solid returns the least z' ≥ floor down to which the oblique sides leave all below z.
func (ln *line) solid(x, z, floor float64) float64 {
	bottom := floor
	for n := range ln.oblique {
		bottom = max(bottom, ln.oblique[n].solid(x, z, floor))
	}
	return bottom
}
