// Package corner finds what larger cutters left of the surface where a smaller one can take it.
//
// Everything is in millimetres, in the frame of the side, of the tip of the cutter.
package corner

import (
	"context"
	"fmt"
	"math"

	"barwise/finding"
	"barwise/geom"
	"barwise/plan/share"
	"barwise/shop/cutter"
)

// Earlier is a finishing cutter that went before, with the limits it had. Its sides stand in the order
// of the set's; it is taken to have cut all that it can touch from any of them.
type Earlier struct {
	Cutter     cutter.Profile
	Allowance  float64 // mm it left on the surface
	Sides      []share.Side
	YMin, YMax float64 // where its tip could be along the bar, mm
}

// Params says what is worth a cut. Lengths in mm.
type Params struct {
	Cusp      float64 // cusp height asked for, square to the surface
	Tolerance float64 // of the path, square to the surface
	Worth     float64 // depth from which what is left is worth cutting; 0: the greater of Cusp and Tolerance/4
	Overlap   float64 // how far, along the path surface, a region reaches beyond what is left; 0: one stepover
	Decimals  int     // digits after the point in the program: every coordinate is representable; 0: 3
}

// Figures describes what is left. A depth is the distance from the surface that the small cutter makes to
// the nearest air; it errs by the grain of the grid, upward on slopes.
type Figures struct {
	AreaMM2   float64 // of that surface, where the depth is worth a cut
	VolumeMM3 float64 // standing on it
	DepthMax  float64 // greatest depth, mm
	Regions   int     // that hang together
	Dropped   int     // specks that were not worth going to
}

// Region is what one side's small cutter is to follow up. Slices are by node of the side's View.Field.
type Region struct {
	Mask  []bool    // to be cut, overlap included
	Depth []float32 // at nodes where something is left: how far the touched place is from the air, mm; else 0
	Climb []float32 // at feet of walls in Mask: up to which tip height there is something to cut; −Inf: nothing
	Figures
}

// Left is what larger cutters left, for every side of the set.
type Left struct {
	Sides []Region

	set    *share.Set
	params Params
	large  []*earlier
}

// Find looks, for every place that the small cutter of set s touches, whether an earlier cutter touched it
// too, from any side. s must be decided; large must not be empty.
//
// A place counts as touched when the large cutter fits over it, lifted off square to the surface by the
// worth: that is asked of the exact surface. Where it does not fit, the air may still be near, for another
// stand of it: the closing of the model by the large cutter tells, on the sharing grid. So a node is left
// out only where at most the worth is left; one is kept in error only where the grid is too coarse for
// the closing, beside walls and on slopes steep to all sides, and the worth is just missed.
func Find(ctx context.Context, s *share.Set, large []Earlier, p Params) (*Left, error) {
	p = p.defaults(s.Cutter)
	if err := check(s, large, p); err != nil {
		return nil, err
	}
	l := &Left{set: s, params: p}
	for _, e := range large {
		w, err := newEarlier(ctx, s, e)
		if err != nil {
			return nil, err
		}
		l.large = append(l.large, w)
	}
	for i := range s.Views {
		r, err := l.region(ctx, i)
		if err != nil {
			return nil, err
		}
		l.Sides = append(l.Sides, *r)
	}
	return l, ctx.Err()
}

// Restrict takes out of a side's share what is not left, walls by height too. It is called after Decide and
// before Spread.
func (l *Left) Restrict(i int) {
	v, r := l.set.Views[i], &l.Sides[i]
	v.Restrict(func(k int) bool { return r.Mask[k] })
	for k, foot := range v.Foot {
		if !foot {
			continue
		}
		top := max(r.Climb[k], v.Field.Z[k])
		if top < v.Hang[k] {
			v.Hang[k] = float32(math.Inf(1)) // the wall above has been cut
		}
		v.Climb[k] = min(v.Climb[k], top)
	}
}

func (p Params) defaults(c cutter.Profile) Params {
	if p.Worth == 0 {
		p.Worth = max(p.Cusp, p.Tolerance/4)
	}
	if p.Overlap == 0 {
		p.Overlap = spacing(c, p.Cusp)
	}
	if p.Decimals == 0 {
		p.Decimals = 3
	}
	return p
}

// spacing is how far apart, on the path surface, passes leave a cusp of h on a plane; for a cutter without
// an arc a sixth of its radius.
func spacing(c cutter.Profile, h float64) float64 {
	if r := c.Round; r > 0 && h < r {
		return 2 * math.Sqrt(float64(2*r*h)-float64(h*h))
	}
	return c.R / 6
}

func check(s *share.Set, large []Earlier, p Params) error {
	bad := func(text, hint string) error { return finding.Bad("corner-input", "corners", text, hint) }
	switch {
	case len(large) == 0:
		return bad("no earlier cutter", "corners follow a larger cutter: put one before")
	case !(p.Cusp > 0):
		return bad(fmt.Sprintf("cusp height %g mm", p.Cusp), "ask for a cusp above 0")
	case !(p.Tolerance > 0):
		return bad(fmt.Sprintf("path tolerance %g mm", p.Tolerance), "ask for a tolerance above 0")
	case p.Decimals < 1 || p.Decimals > 6:
		return bad(fmt.Sprintf("%d decimals", p.Decimals), "1 to 6 are possible")
	}
	for _, e := range large {
		if len(e.Sides) != len(s.Views) {
			return fmt.Errorf("corners: an earlier cutter with %d sides, the share has %d", len(e.Sides), len(s.Views))
		}
		for i, d := range e.Sides {
			if d.Deg != s.Views[i].Deg {
				return fmt.Errorf("corners: side %d of an earlier cutter is %s, that of the share %s", i, geom.SideName(d.Deg), geom.SideName(s.Views[i].Deg))
			}
		}
		if !(e.Cutter.R > 0) {
			return bad(fmt.Sprintf("earlier cutter of radius %g mm", e.Cutter.R), "give a cutter with a diameter")
		}
	}
	for _, v := range s.Views {
		if v.Field == nil || v.Index == nil {
			return fmt.Errorf("corners: side %s is not decided", geom.SideName(v.Deg))
		}
	}
	return nil
}
