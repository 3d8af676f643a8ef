// Package finish plans the last cut of a side: passes over its share of the surface, by the way that suits it.
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
	"barwise/path"
	"barwise/plan/corner"
	"barwise/plan/share"
	"barwise/shop/cutter"
	"barwise/shop/machine"
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
type Side = share.Side

// Input is what is to be finished, with what.
type Input struct {
	share.Input
	// Flutes, where above 0, is how high the cutter cuts, mm: lines are not joined beside walls that rise
	// higher above the tip. It matters where more stands on the walls than the neck stands back.
	Flutes float64
	// Seen, where set, is the top of what is left on each side, in the order of Sides. With Flutes, tall
	// walls are then freed of what stands on them before the passes, and lines are not joined only where
	// more than the flutes can take still stands beside the way. The fields are not changed.
	Seen []*field.Field
	// Earlier are the finishing cutters that went before: where there are any, only what they left is cut,
	// creases first.
	Earlier []corner.Earlier
}

// Params says how.
type Params struct {
	Cusp      float64         // cusp height asked for, mm, measured square to the surface
	Tolerance float64         // how far a chord may stand above the exact path, mm, square to the surface
	Overlap   float64         // how far a share reaches into its neighbours', mm on the path; 0: 0.6 R
	Rule      share.Rule      // by what a place is given to a side
	Direction Direction       // of the passes
	Passes    Strategy        // how they run
	Machine   machine.Machine // by which ways are timed; zero: a machine without limits
	Feed      float64         // at which they are timed and shares compared, mm/s; 0: 10
	Decimals  int             // digits after the point in the program, mm: every coordinate is representable
	// Done, where set, is told after each side how many of all are done.
	Done func(sides, of int)
}

// Figures describes one side's passes.
type Figures struct {
	CutLength    float64 // mm of passes
	WayLength    float64 // mm of them that only lead from one line to the next
	WallLength   float64 // mm of them that free tall walls of what stands on them
	Passes       int
	Points       int
	Lines        int     // stretches before they were joined to passes
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
	Deg     float64
	Passes  []path.Pass
	Way     Way     // how they run
	Seconds float64 // what they take at the machine, lifts at a guess
	Tried   []Trial // what the ways tried would take, where Best was asked for
	Figures
}

// Output holds the sides in the order of Input.Sides.
type Output struct {
	Sides  []SideOutput
	Shares share.Comparison // what sharing comes to against the fixed wedge
	Left   []corner.Figures // what earlier cutters left, by side; nil where there were none
}

// Plan shares the surface among the sides and lays passes over each share, the way Params asks for. With
// Earlier only what those cutters left is cut, creases first.
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
	n := len(w.set.Views)
	if err := w.set.All(ctx); err != nil {
		return nil, err
	}
	creases, left, err := w.corners(ctx)
	if err != nil {
		return nil, err
	}
	o := &Output{Sides: make([]SideOutput, n), Shares: w.set.Compare(), Left: left}
	err = share.RowsErr(ctx, n, func(i int) error {
		s, err := w.side(ctx, i, creases[i])
		if err != nil {
			return fmt.Errorf("finish side %s: %w", geom.SideName(in.Sides[i].Deg), err)
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
		own := s.YMin != 0 || s.YMax != 0
		if !(s.XMin < s.XMax) || math.IsInf(s.ZMin, 0) || math.IsNaN(s.ZMin) || own && !(s.YMin < s.YMax) {
			return bad(fmt.Sprintf("side %s: x range %g to %g mm, y range %g to %g mm, lowest tip %g mm", geom.SideName(s.Deg), s.XMin, s.XMax, s.YMin, s.YMax, s.ZMin), "give finite limits")
		}
	}
	return nil
}

// work is what all sides share while planning.
type work struct {
	in    Input
	p     Params
	set   *share.Set
	unit  float64 // the last decimal of the program, mm
	inv   float64 // 1/unit, exact
	pitch float64 // of the sharing grid
}

func newWork(in Input, p Params) *work {
	w := &work{in: in, p: p, inv: math.Pow10(p.Decimals)}
	w.unit = 1 / w.inv
	w.set = share.New(in.Input, share.Params{Rule: p.Rule, Cusp: p.Cusp, Feed: p.Feed, Overlap: p.Overlap, Near: float64(w.sampleStep()) * w.unit})
	w.pitch = w.set.Pitch
	return w
}
