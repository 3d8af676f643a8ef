package stock

// rect is a piece of a section: x in [xa, xb], z in [za, zb] of the base side's frame, and how much of the
// row's thickness it fills, from below.
type rect struct{ xa, xb, za, zb, share float64 }

// slicer cuts the solid of prisms at a row into rectangles, column by column of one side's grid. Sides
// straight across bound a column's width cell by cell, which keeps sections of turned square bars
// exact; sides at other angles bound its height at its middle. The end side bounds the thickness of what
// is left of the row, cell by cell; to a column that is oblique to its cells, along the column's middle.
type slicer struct {
	*walker
	*line
	out   []rect
	nodes bool // take a row as it is at its nodes: all of its thickness, or nothing
}

func (s *Stack) newSlicer(base int) *slicer {
	w := s.newWalker(base)
	return &slicer{walker: w, line: w.newLine()}
}

func (c *slicer) setRow(j int) { c.fill(c.line, j) }

// column returns the rectangles that are left of column i of row j, from the top down. The slice is
// used again by the next call.
func (c *slicer) column(i, j int) []rect {
	c.out = c.out[:0]
	col := &c.at.cols[i]
	if col.w == 0 || c.s.rows[j] <= 0 {
		return c.out
	}
	floor, z := c.floor(i, j), c.ceiling(i, j)
	for z-floor > thin {
		top := topmost(c.line.oblique, col.x, z, floor)
		if top-floor <= thin {
			break
		}
		bottom := c.line.solid(col.x, top, floor)
		if top-bottom > thin {
			a, b := bottom, top
			if a == col.lo {
				a = col.loMean
			}
			if b == col.hi {
				b = col.hiMean
			}
			if b > a {
				c.trim(col, a, b)
			}
		}
		z = bottom - thin
	}
	return c.out
}

// trim appends what the sides across leave of [za, zb] of a column.
func (c *slicer) trim(col *column, za, zb float64) {
	if c.cells == 0 {
		c.put(col, col.l, col.r, za, zb)
		return
	}
	for z, k := zb, c.cell(zb); z > za; k-- {
		top := k
		if b := k / blockCells; k == min(b*blockCells+blockCells, c.cells)-1 && (c.whole(col, b) || c.gone(col, b)) {
			k = b * blockCells
		}
		bottom := max(za, c.bottom(k))
		if l, r := c.width(col, top); r-l > thin && z > bottom {
			c.put(col, l, r, bottom, z)
		}
		z = bottom
	}
}

// put appends what the end side leaves of a rectangle.
func (c *slicer) put(col *column, l, r, za, zb float64) {
	e := &c.line.end
	if !e.cut {
		c.add(rect{l, r, za, zb, 1})
		return
	}
	for at, z := e.at(col.x, zb), zb; z > za; {
		share := e.share(at)
		if c.nodes {
			share = 0
			if e.height(at) >= e.node {
				share = 1
			}
		}
		var exit float64
		exit, at = e.leave(col.x, at)
		bottom := max(za, min(exit, z))
		if share > 0 && z > bottom {
			c.add(rect{l, r, bottom, z, share})
		}
		z = bottom
	}
}

// add appends a rectangle, or grows the last one down where both have the same width.
func (c *slicer) add(r rect) {
	if n := len(c.out); n > 0 {
		if q := &c.out[n-1]; q.za == r.zb && q.xa == r.xa && q.xb == r.xb && q.share == r.share {
			q.za = r.za
			return
		}
	}
	c.out = append(c.out, r)
}
