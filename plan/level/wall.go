package level

import (
	"context"
	"math"

	"barwise/geom"
	"barwise/geom/field"
	"barwise/geom/field/iso"
	"barwise/plan/share"
)

// Walls says how tall walls are freed of the skin that roughing left on them.
type Walls struct {
	Flutes float64 // how high the cutter cuts, mm
	Leave  float64 // what stays on the wall, mm: for the passes that finish it
	Skin   float64 // what may stand on it, mm
}

// step is how far apart levels may lie: what stands beside the tip is then no higher than the flutes, for
// the level before left the wall free down to its rim.
func (w Walls) step(radius float64) float64 { return w.Flutes - radius - w.Skin - stair }

// stair is the most that roughing's own steps add to the height of what stands beside a tip, mm.
const stair = 0.2

// Levels returns the ways that free the walls of a side of their skin wherever they rise higher than the
// flutes above ground that the side cuts: levels from the top down, a slice for each. They may be cut with
// the flank of the cutter, one level after the other; where no level is wanted no wall is too tall.
// Lines stand off the surface and leave at most about Leave and a few hundredths on it.
func (w Walls) Levels(ctx context.Context, s *share.Set, v *share.View) ([][]Line, error) {
	radius := s.Cutter.R
	step := w.step(radius)
	if step < radius {
		return nil, nil
	}
	low, top := extremes(v, radius+2*s.Pitch)
	high, deep := math.Inf(-1), math.Inf(1)
	for k, z := range low.Z {
		if float64(top.Z[k]-z) > w.Flutes {
			deep, high = min(deep, float64(z)), max(high, float64(top.Z[k]))
		}
	}
	n := int(math.Ceil((high - deep) / step))
	g, ok := newGround(s, v, w.Leave)
	if !(high > deep) || !ok {
		return nil, nil
	}
	f, err := s.Surface.Field(ctx, v.Turn, s.Cutter, s.Allowance+w.Leave, low.Grid)
	if err != nil {
		return nil, err
	}
	for j := range f.NY {
		for i := range f.NX {
			k := j*f.NX + i
			f.Z[k] = max(f.Z[k], float32(s.Limit(v, f.X(i), f.Y(j))))
		}
	}
	first := high - float64(float64(n)*step)
	tall := func(p geom.Vec2, z float64) bool {
		i, j := low.Nearest(p)
		k := j*low.NX + i
		return low.Inside(i, j) && z > float64(low.Z[k]) && float64(top.Z[k]-low.Z[k]) > w.Flutes
	}
	lines := iso.NewTracer(f.Grid).Lines(func(k int) float64 { return float64(f.Z[k]) }, nil, first, step)
	lines = lines[:min(n, len(lines))] // the top itself wants none
	out := make([][]Line, len(lines))
	err = share.Rows(ctx, len(lines), func(k int) {
		z := first + float64(float64(k)*step)
		for _, l := range lines[k] {
			out[len(lines)-1-k] = append(out[len(lines)-1-k], parts(l, z, func(i int) (geom.Vec2, bool) {
				if !tall(l.Pts[i], z) {
					return geom.Vec2{}, false
				}
				return g.settle(f, l.Pts[i], z)
			})...)
		}
	})
	return out, err
}

// extremes returns, on a grid of twice the pitch, the lowest tip height that the side's share has within
// reach of a node in either direction, +Inf where it has none, and the highest of any there.
func extremes(v *share.View, reach float64) (low, top *field.Field) {
	f := v.Field
	g := f.Grid
	g.DX, g.DY, g.NX, g.NY = 2*f.DX, 2*f.DY, (f.NX+1)/2, (f.NY+1)/2
	r := int(math.Ceil(reach / f.DX))
	none := float32(math.Inf(1))
	least, most := make([]float32, g.NX*f.NY), make([]float32, g.NX*f.NY)
	for j := range f.NY {
		for i := range g.NX {
			m, n := none, -none
			for k := max(0, 2*i-r); k <= min(f.NX-1, 2*i+r); k++ {
				q := j*f.NX + k
				n = max(n, f.Z[q])
				if v.State[q] != share.Out {
					m = min(m, f.Z[q])
				}
			}
			least[j*g.NX+i], most[j*g.NX+i] = m, n
		}
	}
	low, top = field.New(g, none), field.New(g, -none)
	for j := range g.NY {
		for k := max(0, 2*j-r); k <= min(f.NY-1, 2*j+r); k++ {
			for i := range g.NX {
				low.Z[j*g.NX+i] = min(low.Z[j*g.NX+i], least[k*g.NX+i])
				top.Z[j*g.NX+i] = max(top.Z[j*g.NX+i], most[k*g.NX+i])
			}
		}
	}
	return low, top
}
