// Package finish plans the last cut of a side: raster passes over the side's share of the surface.
//
// Everything is in millimetres, in the frame of the side, of the tip of the cutter. Heights that are
// emitted come from the exact cutter-location surface; grids only decide where to cut and how finely.
package finish

import (
	"context"
	"fmt"
	"math"

	"barwise/finding"
	"barwise/geom"
	"barwise/geom/field"
	"barwise/geom/mesh"
	"barwise/path"
	"barwise/plan/cl"
	"barwise/shop/cutter"
)

// Direction says which way the passes run.
type Direction uint8

// Along runs along the bar (y), Across across it (x). In both, walls too steep for the direction are
// cut in the other one. Either cuts every region in the direction that allows the wider stepover.
const (
	Along Direction = iota
	Across
	Either
)

// Side is one side to finish from.
type Side struct {
	Deg        float64 // index angle
	XMin, XMax float64 // where the tip may be, mm of the side frame
	ZMin       float64 // lowest tip the cutter's reach allows, mm

	// Floor is the lowest tip height that neck, shank and holder allow at a place, on any grid; nil: none
	// but ZMin. The greatest of the nodes around a place counts. What lies lower goes to a side that
	// reaches it, and no point is emitted below.
	Floor *field.Field
}

// Input is what is to be finished, with what.
type Input struct {
	Surface    *cl.Surface
	Mesh       *mesh.Mesh // what Surface was made of; nil: every drop of the view counts as a wall
	Sides      []Side
	Cutter     cutter.Profile
	Allowance  float64 // mm left on the surface
	YMin, YMax float64 // where the tip may be along the bar, mm
	// Flutes, where above 0, is how high the cutter cuts, mm: lines are not joined beside walls that rise
	// higher above the tip. It matters where more stands on the walls than the neck stands back.
	Flutes float64
}

// Params says how.
type Params struct {
	Cusp      float64   // cusp height asked for, mm, measured square to the surface
	Tolerance float64   // how far a chord may stand above the exact path, mm, square to the surface
	Overlap   float64   // how far a share reaches into its neighbours', mm on the path; 0: 0.6 R
	Direction Direction // of the passes
	Decimals  int       // digits after the point in the program, mm: every coordinate is representable
	LiftCost  float64   // length of cut that takes as long as a lift and return, mm; 0: 10 mm
	Pitch     float64   // of the grid on which shares are decided, mm; 0: R/10, coarser on a large job
	// Done, where set, is told after each side how many of all are done.
	Done func(sides, of int)
}

// Figures describes one side's passes.
type Figures struct {
	CutLength    float64 // mm of passes
	WayLength    float64 // mm of them that only lead from one raster line to the next
	Passes       int
	Points       int
	Lines        int     // stretches of raster line before they were joined to passes
	ShareArea    float64 // mm² of path surface the side is answerable for, without overlap
	SteepestDeg  float64 // steepest slope in the share, from level
	DeepestTip   float64 // lowest tip, mm
	StepoverMin  float64 // finest spacing of neighbouring lines used, mm in plan
	StepoverMax  float64 // widest
	UnmetArea    float64 // mm² of path surface steeper than the finest stepover serves: its cusp is larger
	ExactHeights int     // heights asked one by one, beyond those of the grids
}

// SideOutput is one side's work.
type SideOutput struct {
	Deg    float64
	Passes []path.Pass
	Figures
}

// Output holds the sides in the order of Input.Sides.
type Output struct {
	Sides []SideOutput
}

// Plan shares the surface among the sides and lays raster passes over each share.
//
// Guarantee, to the pitch of the sharing grid: a place that some side's cutter can touch within its
// limits is cut from at least one side. Passes never run below the exact surface by more than
// Tolerance/2, measured square to it, and by not more than Tolerance/10 at the samples they are made of.
func Plan(ctx context.Context, in Input, p Params) (*Output, error) {
	p = p.defaults(in.Cutter)
	if err := check(in, p); err != nil {
		return nil, err
	}
	w := newWork(in, p)
	n := len(w.views)
	if err := rowsErr(ctx, n, func(i int) error { return w.look(ctx, i) }); err != nil {
		return nil, err
	}
	for i := range n {
		if err := w.decide(ctx, i); err != nil {
			return nil, err
		}
	}
	o := &Output{Sides: make([]SideOutput, n)}
	err := rowsErr(ctx, n, func(i int) error {
		s, err := w.side(ctx, i)
		if err != nil {
			return fmt.Errorf("finish side %g°: %w", in.Sides[i].Deg, err)
		}
		o.Sides[i] = *s
		return nil
	})
	if err != nil {
		return nil, err
	}
	return o, nil
}

func (p Params) defaults(c cutter.Profile) Params {
	if p.Overlap == 0 {
		p.Overlap = 0.6 * c.R
	}
	if p.LiftCost == 0 {
		p.LiftCost = 10
	}
	return p
}

func check(in Input, p Params) error {
	bad := func(text, hint string) error {
		return finding.Bad("finish-input", "finish", text, hint)
	}
	switch c := in.Cutter; {
	case len(in.Sides) == 0:
		return bad("no side to finish from", "name at least one side")
	case !(c.R > 0):
		return bad(fmt.Sprintf("cutter radius %g mm", c.R), "give a cutter with a diameter")
	case !(p.Cusp > 0):
		return bad(fmt.Sprintf("cusp height %g mm", p.Cusp), "ask for a cusp above 0")
	case !(p.Tolerance > 0):
		return bad(fmt.Sprintf("path tolerance %g mm", p.Tolerance), "ask for a tolerance above 0")
	case p.Decimals < 1 || p.Decimals > 6:
		return bad(fmt.Sprintf("%d decimals", p.Decimals), "1 to 6 are possible")
	case !(in.YMin < in.YMax):
		return bad(fmt.Sprintf("y range %g to %g mm is empty", in.YMin, in.YMax), "lengthen the bar or shorten the stub")
	}
	for _, s := range in.Sides {
		if !(s.XMin < s.XMax) || math.IsInf(s.ZMin, 0) || math.IsNaN(s.ZMin) {
			return bad(fmt.Sprintf("side %g°: x range %g to %g mm, lowest tip %g mm", s.Deg, s.XMin, s.XMax, s.ZMin), "give finite limits")
		}
	}
	return nil
}

// work is what all sides share while planning.
type work struct {
	in    Input
	p     Params
	prof  cutter.Profile // what the exact heights are asked with: the cutter grown by the allowance
	rise  float64        // its tip above the real cutter's
	unit  float64        // the last decimal of the program, mm
	inv   float64        // 1/unit, exact
	pitch float64        // of the sharing grid
	ref   float64        // half the work's width: the scale of depth in the score
	views []*view
	shell *shell // nil: unknown
}

// view is the work as one side sees it, on the sharing grid.
type view struct {
	Side
	turn   geom.Turn
	facing geom.Vec3
	ix     *cl.Index
	f      *field.Field // exact tip heights, not below what the reach allows
	beyond []bool       // the exact height lies below what the reach allows
	state  []state
	foot   []bool    // a wall the side is answerable for rises beside the node
	e      []float32 // lowest tip height wanted at nodes of a share
	hang   []float32 // at a foot: how far down the wall is wanted without a break from its top
	climb  []float32 // and how far up from its foot
}

// state is what a node of the sharing grid is to its side.
type state uint8

const (
	out     state = iota
	own           // the side is answerable for the touched place
	wall          // beside a wall the side is answerable for, down to e
	margin        // overlap, down to the exact surface
	hanging       // overlap down a wall, down to e
)

func newWork(in Input, p Params) *work {
	w := &work{in: in, p: p, inv: math.Pow10(p.Decimals)}
	w.unit = 1 / w.inv
	w.prof, w.rise = in.Cutter, 0
	if in.Allowance != 0 {
		if g, rise, ok := in.Cutter.Grown(in.Allowance); ok {
			w.prof, w.rise = g, rise
		}
	}
	area := 0.0
	for _, s := range in.Sides {
		area = max(area, (s.XMax-s.XMin)*(in.YMax-in.YMin))
		w.ref = max(w.ref, math.Abs(s.XMin), math.Abs(s.XMax))
	}
	w.pitch = p.Pitch
	if w.pitch == 0 {
		w.pitch = max(in.Cutter.R/10, math.Sqrt(area/6e6))
	}
	if in.Mesh != nil {
		w.shell = newShell(in.Mesh, in.Cutter.R/2)
	}
	for _, s := range in.Sides {
		t := geom.TurnDeg(s.Deg)
		w.views = append(w.views, &view{Side: s, turn: t, facing: t.Facing()})
	}
	return w
}

// look draws the side's cutter-location field.
func (w *work) look(ctx context.Context, i int) error {
	v := w.views[i]
	n := 4 * w.pitch // beyond the limits, so that a wall at a limit is seen as one
	g := field.Cover(v.XMin-n, v.XMax+n, w.in.YMin-n, w.in.YMax+n, w.pitch, w.pitch)
	f, err := w.in.Surface.Field(ctx, v.turn, w.in.Cutter, w.in.Allowance, g)
	if err != nil {
		return err
	}
	v.beyond = make([]bool, g.Len())
	err = rows(ctx, g.NY, func(j int) {
		for i := range g.NX {
			k := j*g.NX + i
			if low := float32(w.limit(v, g.X(i), g.Y(j))); f.Z[k] <= low {
				f.Z[k], v.beyond[k] = low, true
			}
		}
	})
	v.f, v.ix = f, w.in.Surface.Index(v.turn)
	v.state = make([]state, g.Len())
	v.foot = make([]bool, g.Len())
	v.e = make([]float32, g.Len())
	v.hang, v.climb = make([]float32, g.Len()), make([]float32, g.Len())
	return err
}

// limit is the lowest tip height that the reach of the cutter allows at a place. The nodes of Floor
// within a sample of it count too, so that a move between two samples keeps to it.
func (w *work) limit(v *view, x, y float64) float64 {
	f := v.Floor
	if f == nil {
		return v.ZMin
	}
	s := float64(w.sampleStep()) * w.unit
	dx, dy := f.DX/2+s, f.DY/2+s
	return max(v.ZMin, float64(f.MaxAround(x-dx, x+dx, y-dy, y+dy)))
}

// height is the exact lowest tip height at a place of side v, not below what the reach allows, and
// whether that is what held it up.
func (w *work) height(v *view, x, y float64) (z float64, air bool) {
	low := w.limit(v, x, y)
	if z = v.ix.Height(w.prof, x, y) - w.rise; z <= low {
		return low, true
	}
	return z, false
}
