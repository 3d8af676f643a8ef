// Package even lays passes of constant cusp height over one side's share of the surface.
//
// Passes lead along the bar, bend gently, and stand everywhere as far apart as the cusp allows; where they
// would come too close some end, and where they would gape others begin. They are single lines: whoever
// asked for them joins them. Everything is in millimetres, in
// the frame of the side, of the tip of the cutter. The grid of the share decides where passes run; heights
// that are emitted come from the exact cutter-location surface.
package even

import (
	"context"
	"fmt"
	"math"

	"barwise/finding"
	"barwise/path"
	"barwise/plan/share"
)

// Params says how. Lengths in mm.
type Params struct {
	Cusp      float64 // cusp height asked for, square to the surface
	Tolerance float64 // how far a chord may stand above the exact path, square to the surface
	Decimals  int     // digits after the point in the program, mm: every coordinate is representable
	Across    bool    // passes lead across the bar
	Steepest  float64 // radians from level; what is steeper is left to another strategy; 0: 60°
	// Keep, where set, says which nodes of the share are wanted; k numbers them in View.Field.
	Keep func(k int) bool
}

// steepest is the slope from which constant heights serve better, unless Params says otherwise.
const steepest = 60 * math.Pi / 180

// overlap is how far passes reach into what is left to another strategy, in stepovers on the level.
const overlap = 2.5

// Figures describes what was planned.
type Figures struct {
	CutLength    float64 // mm of passes
	Passes       int
	Points       int
	StepoverMin  float64 // finest spacing of neighbouring lines used, mm in plan, square to the bar's axis
	StepoverMax  float64 // widest
	CuspP50      float64 // mm, of pairs of neighbouring lines on the exact surface, one for each
	CuspP99      float64 // stretch of checkStep; creases that no spacing serves are left out of both
	Pairs        int     // how many were looked at
	Tightened    int     // how many of them stood closer after the first look
	Unmet        int     // how many lie over a crease that even half the spacing on the level does not serve
	ExactHeights int     // heights asked one by one
}

// Output is the work on one share.
type Output struct {
	Passes []path.Pass // one for each line, in the order they were laid
	// Covered says, by node of View.Field, what of the share these passes answer for: but for the feet of
	// walls, nodes of the share no steeper than Steepest that Keep wants, and gaps between them narrower
	// than twice the overlap. The passes reach overlap stepovers farther. What is not covered is left to
	// another strategy.
	Covered []bool
	Figures
}

// Plan lays passes over the share of view v of set s; call it after Decide and Spread.
//
// Guarantee: passes never run below the exact surface by more than Tolerance/2, measured square to it, nor
// below what the reach of the cutter allows. Spacing follows the cusp on the grid of the share, and is
// checked on the exact surface every checkStep along each pair of neighbours.
func Plan(ctx context.Context, s *share.Set, v *share.View, p Params) (*Output, error) {
	if p.Steepest == 0 {
		p.Steepest = steepest
	}
	if err := check(s, p); err != nil {
		return nil, err
	}
	w := newWork(s, v, p)
	lines, err := w.lay(ctx)
	if err != nil {
		return nil, err
	}
	if w.out.Passes, err = w.trace(ctx, lines); err != nil {
		return nil, err
	}
	w.count()
	return w.out, nil
}

func check(s *share.Set, p Params) error {
	bad := func(text, hint string) error { return finding.Bad("even-input", "even passes", text, hint) }
	switch c := s.Cutter; {
	case c.Flat > 0 || !(c.Round > 0):
		return bad(fmt.Sprintf("a cutter with a tip arc of %g mm and a flat of %g mm", c.Round, c.Flat), "even passes want a ball or a tapered ball; cut by a raster")
	case !(p.Cusp > 0) || p.Cusp > c.Round/2:
		return bad(fmt.Sprintf("cusp height %g mm", p.Cusp), "ask for a cusp above 0 and below half the tip's radius")
	case !(p.Tolerance > 0):
		return bad(fmt.Sprintf("path tolerance %g mm", p.Tolerance), "ask for a tolerance above 0")
	case p.Decimals < 1 || p.Decimals > 6:
		return bad(fmt.Sprintf("%d decimals", p.Decimals), "1 to 6 are possible")
	case !(p.Steepest > 0) || p.Steepest > 80*math.Pi/180:
		return bad(fmt.Sprintf("steepest slope %.1f°", p.Steepest*180/math.Pi), "choose a slope above 0 and up to 80°")
	}
	return nil
}

// work is one plan while it is made. c counts columns across the passes, r rows along them.
type work struct {
	set   *share.Set
	v     *share.View
	p     Params
	out   *Output
	g     *ground
	unit  float64 // the last decimal of the program, mm
	inv   float64 // 1/unit, exact
	round float64 // radius of the tip's arc
	level float64 // stepover on level ground
}

func newWork(s *share.Set, v *share.View, p Params) *work {
	w := &work{set: s, v: v, p: p, out: &Output{}, inv: math.Pow10(p.Decimals), round: s.Cutter.Round}
	w.unit = 1 / w.inv
	w.level = 2 * math.Sqrt(float64(2*w.round*p.Cusp)-float64(p.Cusp*p.Cusp))
	w.g = newGround(w)
	return w
}

func (w *work) count() {
	f := &w.out.Figures
	for _, p := range w.out.Passes {
		f.Passes++
		f.Points += len(p.Points)
		for k := 1; k < len(p.Points); k++ {
			f.CutLength += p.Points[k].Sub(p.Points[k-1]).Len()
		}
	}
}

// up is the lowest representable coordinate not below z, in units.
func (w *work) up(z float64) int { return int(math.Ceil(float64(z*w.inv) - 1e-7)) }

// down is the highest representable coordinate not above z, in units.
func (w *work) down(z float64) int { return int(math.Floor(float64(z*w.inv) + 1e-7)) }
