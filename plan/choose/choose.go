// Package choose says which of the shop's cutters a piece wants.
package choose

import (
	"context"
	"fmt"
	"math"
	"slices"

	"barwise/finding"
	"barwise/geom/mesh/patch"
	"barwise/plan/cl"
	"barwise/plan/reach"
	"barwise/shop/machine"
)

// Use is a cutter at one kind of work: how it would be run here. Cut.Rough tells roughing from finishing.
type Use struct {
	reach.Cut
	Feed      float64 // mm/s
	EntryFeed float64 // straight down, mm/s; 0: a third of Feed
	Stepover  float64 // of roughing, mm
	Cap       float64 // of roughing, radians: greatest engagement angle; 0: what Stepover comes to
}

// Candidate is a cutter of the shop with what it may be used for.
type Candidate struct {
	Rough  *Use // nil: not for roughing
	Finish *Use // nil: not for finishing
}

// Params is the piece, the cutters to choose from and what time costs. Lengths are mm.
type Params struct {
	reach.PredictParams             // Cuts do not count
	Candidates          []Candidate // in any order
	Machine             machine.Machine
	PathTolerance       float64 // how far a straight move may leave the exact path; 0: a tenth of the tolerance

	MostRough  int       // cutters for roughing, 1 or 2; 0: 2
	MostFinish int       // cutters for finishing; 0: 3
	Worth      float64   // mm² below which surface more or less does not count; 0: 0.3
	PerArea    float64   // seconds that a mm² more is worth; 0: any reach comes before any time
	Samples    int       // places at which the surface is judged, about; 0: 40 000
	Diameters  []float64 // of balls, thinner than 3 mm, that are tried beside the shop's; nil: Diameters
}

// Diameters are balls that are commonly made thinner than their shank, mm (common practice, no source).
var Diameters = []float64{0.2, 0.3, 0.4, 0.5, 0.6, 0.8, 1, 1.2, 1.5, 2, 2.5}

// Shares of the time that go into the cutting itself: of roughing, whose other part are entries, corners and
// ways through what is cut already (estimate, no source), and of finishing, beside the overlaps of shares, where
// finer lines on slopes and the way through air leave a third (measured on a dragon; on a rook it is half).
const (
	roughPart  = 0.4
	finishPart = 0.3
)

// Pick is one cutter of a sequence and why it is in it.
type Pick struct {
	Candidate int     // index into Params.Candidates
	Cutter    string  // its ID
	Radius    float64 // mm
	Area      float64 // mm² that it finishes; 0 for roughing
	Only      float64 // mm² that no other cutter of the sequence reaches
	Volume    float64 // mm³ that it roughs away; 0 for finishing
	Seconds   float64 // at work, by the simple model
	Share     float64 // of the time of all picks
	Sides     int     // that it works on
	StickOut  float64 // mm, as it is mounted
	Needed    float64 // mm that would do for what it is to cut, at least what its flutes, neck and shank ask for
	Stiffer   float64 // how much stiffer it would be mounted so, (StickOut/Needed)³; 1 where nothing is gained
	Longer    float64 // mm of stick-out that would free Held from the holder; 0: none, or more than the shank has
	Held      float64 // mm² that no cutter of the sequence reaches and this one would but for its holder
}

// Sequence is a set of cutters in the order they are run, with what it comes to.
type Sequence struct {
	Rough, Finish []int   // candidates, large to small
	Seconds       float64 // of cutting, changes and turns
	Handling      float64 // of that: changes and turns
	Left          float64 // mm² that none of its finishing cutters reaches
}

// More is what one more cutter would buy.
type More struct {
	Candidate int     // index, −1 for a ball that is not in the shop
	Cutter    string  // its ID; for a ball that is not in the shop its diameter
	Diameter  float64 // mm
	Area      float64 // mm² more reached
	Seconds   float64 // saved; below 0: more taken; 0 where not in the shop
	Neck      float64 // mm of usable reach it would want; 0 where in the shop
}

// Chosen is the sequence chosen and why.
type Chosen struct {
	Sequence
	Picks        []Pick     // roughing, then finishing, in the order they are run
	Alternatives []Sequence // best first, without the chosen one: the best for each other set of finishing cutters, at most 8
	OneMore      []More     // what reaches most first, then what saves most
	Area         float64    // mm² judged
	Looked       int        // sequences that were compared
	Findings     []finding.Finding
}

// Choose picks, of all sequences of up to MostRough roughing and MostFinish finishing cutters, the one that
// leaves least of the surface unreached, counted in steps of Worth; of those the one that takes the least
// time, in steps of about 1 %; of those the stiffest. With PerArea what is left is reckoned as time instead.
// Every sequence is looked at, so one cutter more in the shop never makes the choice worse by that measure.
//
// Where a cutter reaches is asked at samples of the surface: put to a place square to it, its cutting end must
// clear the model, by the exact surface, neck, shank and holder what is wider than it, and where roughing left
// more over its middle than its flutes are long it does not go. A place is finished by the first of the
// sequence that reaches it, from the side it is most square to.
//
// Times are simple: finishing takes area/(w·v), w the stepover that leaves the cusp on a plane and v the feed
// held: no more than the block rate times the chord that the path tolerance allows on a path as bent as the
// tip's there, nor than the acceleration lets it bend; overlaps of the sides' shares are measured and added;
// where more stands over the tip than the round end is high it takes as many layers. Roughing takes
// volume/(ae·ap·feed), ae by the engagement allowed, of what no cutter before it took. Both are divided by the
// share of time that is spent cutting. They are for comparing cutters; what a plan takes is known when it is
// planned.
//
// What is wrong with a job's numbers or cutters is a finding.InputError; what does not fit together is not.
func Choose(ctx context.Context, s *cl.Surface, p Params, set *patch.Set) (*Chosen, error) {
	if err := p.check(); err != nil {
		return nil, err
	}
	w, err := newWork(ctx, s, p, set)
	if err != nil {
		return nil, err
	}
	t, err := w.table(ctx)
	if err != nil {
		return nil, err
	}
	all, err := t.search(ctx, p.MostRough, p.MostFinish)
	if err != nil {
		return nil, err
	}
	return w.tell(ctx, t, all)
}

func (p *Params) check() error {
	or := func(v *float64, std float64) {
		if *v == 0 {
			*v = std
		}
	}
	or(&p.Tolerance, 0.01)
	or(&p.Pitch, 0.3)
	or(&p.PathTolerance, p.Tolerance/10)
	or(&p.Worth, 0.3)
	orInt := func(v *int, std int) {
		if *v == 0 {
			*v = std
		}
	}
	orInt(&p.MostRough, 2)
	orInt(&p.MostFinish, 3)
	orInt(&p.Samples, 40_000)
	if p.Diameters == nil {
		p.Diameters = Diameters
	}
	p.Diameters = slices.Sorted(slices.Values(p.Diameters))
	if err := p.sound(); err != nil {
		return err
	}
	finishers := 0
	for i, c := range p.Candidates {
		for _, u := range [...]*Use{c.Rough, c.Finish} {
			if u == nil {
				continue
			}
			if err := u.check(i, len(p.Sides), u == c.Rough); err != nil {
				return err
			}
		}
		if c.Finish != nil {
			finishers++
		}
	}
	if finishers == 0 {
		return bad("none of the cutters is for finishing", "add a ball or a tapered ball to the cutters to choose from")
	}
	return nil
}

func bad(text, hint string) error { return finding.Bad("choose-input", "choosing cutters", text, hint) }

// sound checks everything but the candidates.
func (p *Params) sound() error {
	switch {
	case len(p.Sides) == 0:
		return bad("no side to cut from", "name at least one side")
	case len(p.Sides) > 64:
		return bad(fmt.Sprintf("%d sides, at most 64 are told apart", len(p.Sides)), "name fewer sides")
	case len(p.Walls) != len(p.Sides):
		return fmt.Errorf("choose: walls of %d sides, there are %d", len(p.Walls), len(p.Sides))
	case p.MostRough < 1 || p.MostRough > 2 || p.MostFinish < 1:
		return bad(fmt.Sprintf("%d cutters for roughing, %d for finishing", p.MostRough, p.MostFinish), "1 or 2 are allowed for roughing, 1 or more for finishing")
	case !(p.Pitch > 0) || !(p.Tolerance > 0) || !(p.PathTolerance > 0) || !(p.Worth > 0) || p.Samples < 1:
		return bad(fmt.Sprintf("pitch %g, tolerance %g, path tolerance %g mm, worth %g mm², %d samples", p.Pitch, p.Tolerance, p.PathTolerance, p.Worth, p.Samples), "all must be above 0")
	}
	return nil
}

// check looks at what candidate number i is used for.
func (u *Use) check(i, sides int, rough bool) error {
	mixed := func(text string) error { return fmt.Errorf("choose: candidate %d, %s: %s", i, u.Cutter.ID, text) }
	bad := func(text, hint string) error { return bad(u.Cutter.ID+": "+text, hint) }
	switch {
	case u.Rough != rough:
		return mixed("roughing and finishing are mixed up")
	case len(u.Lowest) != sides:
		return mixed(fmt.Sprintf("lowest tips for %d sides, there are %d", len(u.Lowest), sides))
	case !(u.Feed > 0) || math.IsInf(u.Feed, 1):
		return bad(fmt.Sprintf("a feed of %g mm/s", u.Feed), "give a finite feed above 0")
	case !(u.Cutter.R > 0):
		return bad("no radius", "give the cutter a diameter")
	case rough && !(u.Stepdown > 0 && u.ae() > 0):
		return bad(fmt.Sprintf("a stepdown of %g and a stepover of %g mm", u.Stepdown, u.ae()), "both must be above 0")
	case !rough && !(u.Cusp > 0 && u.Cutter.Round > 0):
		return bad(fmt.Sprintf("a cusp of %g mm on a round end of %g mm", u.Cusp, u.Cutter.Round), "finish with a ball or a tapered ball and a cusp above 0")
	}
	return nil
}

// ae is the width of cut that roughing is at: no more than the engagement allows, cos φ = 1 − ae/R.
func (u *Use) ae() float64 {
	if u.Cap <= 0 {
		return u.Stepover
	}
	ae := u.Cutter.R * (1 - math.Cos(min(u.Cap, math.Pi)))
	if u.Stepover > 0 {
		ae = min(ae, u.Stepover)
	}
	return ae
}
