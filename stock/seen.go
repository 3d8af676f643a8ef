package stock

import (
	"context"

	"barwise/geom/field"
)

// top is the top of what is left in column i of row j below z; field.Empty for nothing.
func (w *walker) top(ln *line, i, j int, z float64) float32 {
	c := &w.at.cols[i]
	if c.w == 0 || w.s.rows[j] <= 0 {
		return field.Empty
	}
	lo := w.floor(i, j)
	if z-lo <= thin {
		return field.Empty
	}
	return float32(w.topmost(ln, c, z, lo))
}

// Seen returns the top of what is left in every column of a side, field.Empty where nothing is left,
// for the solid of prisms of the package's head: of sides straight across, the top of anything in the
// column's cell; of oblique ones, what its middle meets. The prisms of an oblique side being flat-topped
// steps, the top may there be lower than the true one by up to half a pitch times the slope at which
// the column meets its surface; of sides across by up to half a pitch where their surface is a wall.
// From the end side, too, it is the top of anything in the column's cell, rows being as thick as the pitch.
func (s *Stack) Seen(side int) *field.Field {
	if s.sides[side].turn.End {
		return s.seenFromEnd(side)
	}
	out := field.New(s.sides[side].h.Grid, field.Empty)
	_ = eachBand(context.Background(), 0, out.NY-1, func(j0, j1 int) error {
		w := s.newWalker(side)
		ln := w.newLine()
		for j := j0; j <= j1; j++ {
			w.fill(ln, j)
			row := out.Row(j)
			for i := range row {
				row[i] = w.top(ln, i, j, w.ceiling(i, j))
			}
		}
		return nil
	})
	return out
}
