package choose

import (
	"context"
	"fmt"

	"barwise/finding"
	"barwise/geom/field"
	"barwise/geom/mesh/patch"
	"barwise/plan/cl"
	"barwise/plan/reach"
	"barwise/shop/machine"
)

// ThinSkin is what may stand on a wall beside a neck without harm, mm (common practice, no source).
const ThinSkin = 0.06

// What a semi-finishing pass is like where nothing is said.
const (
	semiAllowance = 0.05 // mm, less than ThinSkin
	semiCusps     = 10   // times the cusp of finishing
)

// inJobPart is how much of the most that can be bought has to be bought by a cutter of the job to be taken
// before one that would have to be put in for this alone.
const inJobPart = 0.9

// Allowed is a cutter that semi-finishing may be done with, as it would be run; its cusp and allowance do not
// count.
type Allowed struct {
	Use
	InJob bool // it is in the spindle some time anyway
}

// SemiParams is the piece and the cut that finishes it. Lengths are mm.
type SemiParams struct {
	reach.PredictParams     // Cuts do not count
	Finish              Use // the cut with the small ball
	Skin                float64
	Allowed             []Allowed // the ball that finishes may be among them
	Machine             machine.Machine
	PathTolerance       float64 // 0: a tenth of the tolerance
	Allowance           float64 // of semi-finishing; 0: 0.05
	Cusp                float64 // of semi-finishing; 0: ten times the finishing one's
	Samples             int     // 0: 10 000
}

// SemiAdvice says whether a semi-finishing pass pays. Seconds are estimates.
type SemiAdvice struct {
	Pays      bool
	Allowed   int // index; −1 where none helps
	Cutter    string
	Allowance float64 // mm
	Cusp      float64 // mm
	Lifts     float64 // of finishing without it, at walls taller than the flutes
	LiftTime  float64 // seconds for those
	Seconds   float64 // that it takes: its own cutting, its own lifts, changes and turns
	Bought    float64 // seconds saved in all; below 0: lost
	Findings  []finding.Finding
}

// Semi says whether the skin that roughing left had better be taken first by a semi-finishing pass. Where the
// skin is thicker than ThinSkin and walls are taller than the small ball's flutes, a line that ends at the foot
// of such a wall cannot be joined to the next one: its neck would rub. Every such end costs a lift. A pass
// of a coarse cusp that leaves less than ThinSkin does away with them, at the price of its own time; where its
// own flutes are short it lifts too, but has fewer lines.
//
// Lines are taken to run along the bar. Walls at the outline count down to the axis, from where the side
// opposite goes on. On a dragon in a bar of 40 mm it finds 5 300 lifts in 7 300 s where the plan had 8 400 in
// 10 500, and that a ball of 3 mm would save 4 900 s where planning with it saved 4 600.
func Semi(ctx context.Context, s *cl.Surface, p SemiParams, set *patch.Set) (*SemiAdvice, error) {
	out := &SemiAdvice{Allowed: -1, Allowance: p.Allowance, Cusp: p.Cusp}
	if out.Allowance == 0 {
		out.Allowance = semiAllowance
	}
	if out.Cusp == 0 {
		out.Cusp = semiCusps * p.Finish.Cusp
	}
	if p.Samples == 0 {
		p.Samples = 10_000
	}
	uses := make([]Use, len(p.Allowed))
	q := Params{PredictParams: p.PredictParams, Machine: p.Machine, PathTolerance: p.PathTolerance, Samples: p.Samples}
	q.Candidates = []Candidate{{Finish: &p.Finish}}
	for i, a := range p.Allowed {
		uses[i] = a.Use
		uses[i].Allowance, uses[i].Cusp, uses[i].Rough = out.Allowance, out.Cusp, false
		q.Candidates = append(q.Candidates, Candidate{Finish: &uses[i]})
	}
	if err := q.check(); err != nil {
		return nil, err
	}
	if p.Skin <= ThinSkin {
		return out, nil
	}
	w := &work{Params: q, surface: s, slack: max(1e-3, q.Tolerance), skin: p.Skin}
	for i, c := range q.Candidates {
		w.finish = append(w.finish, tool{Use: c.Finish, candidate: i, rank: -1})
	}
	w.sample(set)
	if err := w.see(ctx); err != nil {
		return nil, err
	}
	var err error
	if err = w.ready(ctx, &w.finish[0]); err != nil {
		return nil, err
	}
	if out.Lifts, out.LiftTime, err = w.lifts(ctx, &w.finish[0]); err != nil || out.Lifts == 0 {
		return out, err
	}
	for i := range p.Allowed {
		if err := w.trySemi(ctx, &w.finish[1+i], p.Allowed[i], i, out); err != nil {
			return nil, err
		}
	}
	out.Pays = out.Allowed >= 0 && out.Bought > 0
	out.tell(&p)
	return out, ctx.Err()
}

// trySemi reckons one cutter through and keeps it where it is better than what was found.
func (w *work) trySemi(ctx context.Context, t *tool, a Allowed, i int, out *SemiAdvice) error {
	if err := w.ready(ctx, t); err != nil {
		return err
	}
	if err := w.measureLap(ctx, t); err != nil {
		return err
	}
	secs, err := w.cutting(ctx, t)
	if err != nil {
		return err
	}
	_, lift, err := w.lifts(ctx, t)
	if err != nil {
		return err
	}
	all := w.handling(1<<len(w.Sides) - 1)
	if t.Cutter.ID == w.finish[0].Cutter.ID || a.InJob {
		all -= w.Machine.ToolChange
	}
	secs += lift + all
	bought := out.LiftTime - secs
	take := out.Allowed < 0 || bought > out.Bought
	if out.Allowed >= 0 && a.InJob {
		take = take || bought > 0 && bought >= inJobPart*out.Bought
	}
	if take {
		out.Allowed, out.Cutter, out.Seconds, out.Bought = i, t.Cutter.ID, secs, bought
	}
	return nil
}

// cutting is the seconds that a cutter takes for all that it reaches.
func (w *work) cutting(ctx context.Context, t *tool) (float64, error) {
	const lot = 256
	n := len(w.rows)
	sums := make([]float64, (n+lot-1)/lot)
	err := field.EachRow(ctx, len(sums), func(b int) {
		for i := b * lot; i < min(n, (b+1)*lot); i++ {
			if s := w.spots(t, i, &judged{})[0]; s.side >= 0 {
				sums[b] += w.seconds(t, i, &s)
			}
		}
	})
	sum := 0.0
	for _, s := range sums {
		sum += s
	}
	return sum, err
}

// lifts is how often a cutter that must not rub on a skin lifts at walls, and in what time.
func (w *work) lifts(ctx context.Context, t *tool) (n, secs float64, err error) {
	for side := range w.Sides {
		f := t.sides[side].exact
		ns, ss := make([]float64, f.NY), make([]float64, f.NY)
		across := f.DX / t.stepover(1)
		if err := field.EachRow(ctx, f.NY, func(j int) {
			if j == 0 || j+1 == f.NY {
				return
			}
			for i := range f.NX {
				if h := w.foot(t, side, i, j); h > t.Cutter.LCF {
					ns[j] += across
					ss[j] += float64(across * w.lift(t, h))
				}
			}
		}); err != nil {
			return 0, 0, err
		}
		for j := range ns {
			n, secs = n+ns[j], secs+ss[j]
		}
	}
	return n, secs, nil
}

// foot is how tall the wall is at whose foot a line along y ends at a node; 0 where none does.
func (w *work) foot(t *tool, side, i, j int) float64 {
	f := t.sides[side].exact
	k := j*f.NX + i
	top := float64(max(f.Z[k-f.NX], f.Z[k+f.NX]))
	z := max(float64(f.Z[k]), t.Lowest[side])
	if !w.turns[side].End {
		z = max(z, 0)
	}
	if top-z < steepRise*f.DY {
		return 0
	}
	x, y := f.X(i), f.Y(j)
	if w.outside(t, side, x, y) {
		return 0
	}
	low := w.floor(t, side, x, y)
	if w.turns[side].End && float64(f.Z[k]) <= low {
		return 0 // its outline is the other sides'
	}
	h := around(f, x, y, t.Cutter.R) - z
	if h <= t.Cutter.LCF {
		return 0
	}
	return h - max(0, low-z)
}

// steepRise is the rise over run from which a wall stands between neighbouring nodes.
const steepRise = 3

// lift is the seconds to go up a wall of height h, over, and down on the other side. The last stretch down is
// fed, for there the skin may stand: the length of the flutes and the clearance (measured on a dragon).
func (w *work) lift(t *tool, h float64) float64 {
	v, a := w.Machine.Rate[2], w.Machine.Accel[2]
	s := 2 * (h + w.Clear) / v
	if a > 0 {
		s += 2 * v / a
	}
	entry := t.EntryFeed
	if entry == 0 {
		entry = t.Feed / 3
	}
	return s + (t.Cutter.LCF+w.Clear)/entry
}

func (o *SemiAdvice) tell(p *SemiParams) {
	f := finding.Finding{Code: "semi-finish", Severity: finding.Note, Where: p.Finish.Cutter.ID,
		Text: fmt.Sprintf("its flutes are %.3g mm long and a skin of %.3g mm stands on taller walls: about %.2g lifts cost some %.2g h", p.Finish.Cutter.LCF, p.Skin, o.Lifts, o.LiftTime/3600)}
	if o.Pays {
		f.Hint = fmt.Sprintf("finish first with %s at an allowance of %g mm and a cusp of %.3g mm: that takes some %.2g h and saves %.2g h", o.Cutter, o.Allowance, o.Cusp, o.Seconds/3600, o.Bought/3600)
	}
	o.Findings = append(o.Findings, f)
}
