package reach

import (
	"context"
	"math"

	"barwise/geom/field"
	"barwise/plan/share"
)

// A finishing cut is shared: what stands farther from the surface, where roughing did not come, is cut only
// on the way; so it matters who has a place. It is told by the rule of the plan itself, on the nodes where
// tips are.

// betweenSamples is how far along its way a finishing pass looks at the floor beside it, about, mm.
const betweenSamples = 0.01

// share returns for every side the lowest tip at every node that the side is to cut with cut k,
// field.Forbidden elsewhere.
func (w *predictor) share(ctx context.Context, k int) ([]*field.Field, error) {
	c := &w.Cuts[k]
	in := share.Input{Surface: w.surface, Mesh: w.Mesh, Cutter: c.Cutter.Profile, Whole: &c.Cutter, Allowance: c.allowance(), YMin: c.YMin, YMax: c.YMax}
	for i, d := range w.Sides {
		r := w.rooms[k][i]
		in.Sides = append(in.Sides, share.Side{Deg: d, XMin: r.X0, XMax: r.X1, YMin: r.Y0, YMax: r.Y1, ZMin: c.Lowest[i], Floor: w.cuts[k][i].low()})
	}
	s := share.New(in, share.Params{Overlap: c.Overlap, Pitch: w.tipPitch(c), Near: betweenSamples, Cusp: c.Cusp, Rule: w.Rule, Quick: !w.Exact})
	for i, v := range s.Views {
		v.Index = w.index(i)
	}
	if err := s.All(ctx); err != nil {
		return nil, err
	}
	out := make([]*field.Field, len(s.Views))
	for i, v := range s.Views {
		s.Spread(v)
		out[i] = lowest(v, w.cuts[k][i].exact.Grid)
		v.Free()
	}
	return out, ctx.Err()
}

// lowest is the lowest tip of a share on the nodes of g, which are some of those it was decided on.
func lowest(v *share.View, g field.Grid) *field.Field {
	out := field.New(g, field.Forbidden)
	f := v.Field
	i0, j0 := int(math.Round((g.X0-f.X0)/g.DX)), int(math.Round((g.Y0-f.Y0)/g.DY))
	for j := range g.NY {
		row := out.Row(j)
		for i := range row {
			if a, b := i+i0, j+j0; f.Inside(a, b) && v.State[b*f.NX+a] != share.Out {
				row[i] = v.E[b*f.NX+a]
			}
		}
	}
	return out
}
