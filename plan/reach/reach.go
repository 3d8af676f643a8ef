// Package reach says how low a tip may go before what stands above its flutes meets the model, the
// stub or the vise.
package reach

import (
	"context"

	"barwise/geom"
	"barwise/geom/field"
	"barwise/plan/cl"
	"barwise/shop/cutter"
)

// Wall is something with a level top that fills the view from below up to y = Y: the stub of the bar
// that is never cut, or the jaws. Side frame, mm.
type Wall struct{ Y, Top float64 }

// Params says what must stay clear.
type Params struct {
	Cutter cutter.Cutter
	Clear  float64 // mm kept between neck, shank, holder and anything
	Skin   float64 // mm of stock that may still stand on the model
	Walls  []Wall
}

// Floor returns the lowest tip height at every node so that neck, shank and holder stay clear of the
// model under its skin and of the walls; field.Empty where nothing is in the way. Collars no wider
// than the cutting diameter are left out against the model: the cutter itself keeps them off.
//
// A collar is a flat disc of its own radius raised by its height, so its floor is the exact surface of
// a flat cutter of that radius. Between nodes the floor is as exact as its grid.
func Floor(ctx context.Context, s *cl.Surface, t geom.Turn, g field.Grid, p Params) (*field.Field, error) {
	out := field.New(g, field.Empty)
	for _, c := range p.Cutter.Collars() {
		raise(out, c, p)
		if c.R <= p.Cutter.R {
			continue
		}
		f, err := s.Field(ctx, t, cutter.FlatEnd(c.R+p.Clear), p.Skin, g)
		if err != nil {
			return nil, err
		}
		lift := float32(p.Clear - c.Z)
		for i, z := range f.Z {
			out.Z[i] = max(out.Z[i], z+lift)
		}
	}
	return out, nil
}

// raise lifts the floor near the walls.
func raise(out *field.Field, c cutter.Collar, p Params) {
	for _, w := range p.Walls {
		z := float32(w.Top - c.Z + p.Clear)
		for j := range out.NY {
			if out.Y(j)-c.R-p.Clear > w.Y {
				break
			}
			row := out.Row(j)
			for i := range row {
				row[i] = max(row[i], z)
			}
		}
	}
}

// KeepOutOfDepth raises floor where the middle of the cutter would stand in stock deeper than depth:
// a cutter enters no deeper than its flutes reach. seen is the top of what is left on the side. The
// middle is what lies within R less side of the axis, so that a skin of that thickness on a wall beside
// the cutter, which its flutes take on the way down, does not count.
func KeepOutOfDepth(floor, seen *field.Field, c cutter.Cutter, side, depth float64) {
	r := max(0, c.R-side)
	for j := range floor.NY {
		y, row := floor.Y(j), floor.Row(j)
		for i := range row {
			x := floor.X(i)
			row[i] = max(row[i], seen.MaxAround(x-r, x+r, y-r, y+r)-float32(depth))
		}
	}
}
