// Package reach says how low a tip may go before what stands above its flutes meets the model, the
// stub or the vise.
package reach

import (
	"context"
	"math"

	"barwise/geom"
	"barwise/geom/field"
	"barwise/plan/cl"
	"barwise/shop/cutter"
)

// Wall is something with a level top that fills the view from below up to y = Y: the stub of the bar
// that is never cut, or the jaws. Y = +Inf is everywhere, as beside a bar that stands. Side frame, mm.
type Wall struct{ Y, Top float64 }

// Params says what must stay clear.
type Params struct {
	Cutter cutter.Cutter
	Clear  float64 // mm kept between neck, shank, holder and anything
	Skin   float64 // mm of stock that may still stand on the model
	Walls  []Wall
}

// pitch is that of the view, mm.
const pitch = 0.2

// View is the model as a side sees it: at every node the greatest height within half a cell's diagonal
// of it, so that no point of the model is missed between nodes.
type View struct{ *field.Field }

// See returns the view of a side over [x0,x1]×[y0,y1].
func See(ctx context.Context, s *cl.Surface, t geom.Turn, x0, x1, y0, y1 float64) (*View, error) {
	g := field.Cover(x0, x1, y0, y1, pitch, pitch)
	f, err := s.Field(ctx, t, cutter.FlatEnd(halfCell), 0, g)
	if err != nil {
		return nil, err
	}
	return &View{f}, nil
}

// halfCell is half a cell's diagonal.
const halfCell = pitch * math.Sqrt2 / 2

// Floor returns the lowest tip height at every node of the view so that neck, shank and holder stay
// clear of the model under its skin and of the walls; field.Empty where nothing is in the way. Collars
// no wider than the cutting diameter are left out against the model: the cutter itself keeps them off.
//
// A collar is a flat disc raised by its height. It is laid on the view's samples with its radius grown
// by half a cell's diagonal for the place between nodes; the samples have another half in them. So the
// floor errs upward only, as if the collar were up to 0.3 mm wider.
func (v *View) Floor(p Params) *field.Field { return v.floor(p, v.tops(p)) }

// tops returns for every collar the greatest height of the model under it, where its tip stands at a node;
// nil for collars no wider than the cutting diameter.
func (v *View) tops(p Params) []*field.Field {
	var out []*field.Field
	for _, c := range p.Cutter.Collars() {
		if c.R <= p.Cutter.R {
			out = append(out, nil)
			continue
		}
		out = append(out, field.DiscMax(v.Field, c.R+p.Skin+p.Clear+halfCell))
	}
	return out
}

func (v *View) floor(p Params, tops []*field.Field) *field.Field {
	out := field.New(v.Grid, field.Empty)
	for k, c := range p.Cutter.Collars() {
		raise(out, c, p)
		if tops[k] == nil {
			continue
		}
		lift := float32(p.Skin + p.Clear - c.Z)
		for i, z := range tops[k].Z {
			out.Z[i] = max(out.Z[i], z+lift)
		}
	}
	return out
}

// raise lifts the floor near the walls.
func raise(out *field.Field, c cutter.Collar, p Params) {
	for _, w := range p.Walls {
		z := float32(w.Top - c.Z + p.Clear)
		for j := range out.NY {
			if out.Y(j)-c.R-p.Clear-pitch > w.Y {
				break
			}
			row := out.Row(j)
			for i := range row {
				row[i] = max(row[i], z)
			}
		}
	}
}

// RaiseTo lifts a target to a floor on another grid: every node to the greatest of the floor's nodes
// about it.
func RaiseTo(target, floor *field.Field) {
	for j := range target.NY {
		y, row := target.Y(j), target.Row(j)
		for i := range row {
			x := target.X(i)
			row[i] = max(row[i], floor.MaxAround(x-floor.DX/2, x+floor.DX/2, y-floor.DY/2, y+floor.DY/2))
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
