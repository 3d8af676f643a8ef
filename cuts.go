package barwise

import (
	"context"
	"errors"
	"fmt"
	"math"
	"sync"

	"barwise/finding"
	"barwise/geom"
	"barwise/geom/field"
	"barwise/geom/mesh"
	"barwise/job"
	"barwise/path"
	"barwise/plan/corner"
	"barwise/plan/finish"
	"barwise/plan/link"
	"barwise/plan/order"
	"barwise/plan/place"
	"barwise/plan/reach"
	"barwise/plan/rough"
	"barwise/plan/share"
	"barwise/report"
	"barwise/shop/cutter"
)

// stackPitch keeps a side's field near a million cells: 0.1 mm on bars of this trade.
func stackPitch(j *job.Job) float64 {
	cells := max(j.Bar.Width, j.Bar.Height) * j.Bar.Length / 1e6
	return max(0.1, math.Ceil(math.Sqrt(cells)*100)/100)
}

// placeParams are the job's lay and bar as placing takes them.
func (r *run) placeParams() place.Params {
	l := r.job.Lay
	p := place.Params{
		Bar: r.job.Bar, UnitMM: r.look.UnitMM,
		Along: l.Along, TurnDeg: l.TurnDeg, Height: l.Height, Fit: l.Fit,
		Margin: l.Margin, ShiftX: l.ShiftX, ShiftZ: l.ShiftZ,
		Gap: l.Gap, EndAllowance: l.End, Stand: r.job.Hold.Stub,
	}
	if l.Dir != nil {
		p.Dir = geom.Vec3{X: l.Dir[0], Y: l.Dir[1], Z: l.Dir[2]}
	}
	if l.Height == 0 && !l.Fit {
		p.Scale = l.Scale
	}
	if l.Spigot.Diameter > 0 {
		p.Spigot = &place.Spigot{Radius: l.Spigot.Diameter / 2, Square: l.Spigot.Square, Fillet: l.Spigot.Fillet}
	} else {
		p.Gap = 0
	}
	return p
}

// place lays the model in the bar.
func (r *run) place(ctx context.Context, m *mesh.Mesh) error {
	p := r.placeParams()
	var err error
	if r.placed, err = place.Place(ctx, m, p); err != nil {
		var e *finding.InputError
		if errors.As(err, &e) && e.Code == "model-too-large" {
			return r.located("bar", err)
		}
		return r.located("lay", err)
	}
	return nil
}

// located puts the place in the job file before an error about a value in it.
func (r *run) located(path string, err error) error {
	var e *finding.InputError
	if !errors.As(err, &e) {
		return err
	}
	c := *e
	c.Where = r.job.Place(path)
	if e.Where != "" {
		c.Where += ": " + e.Where
	}
	return &c
}

// over is how far beyond bar and model the tip goes, so that their edges are cut clean.
func over(c cutter.Cutter) float64 { return c.R + 0.5 }

// lowest is the lowest height a cutter's tip may have on a side: above the floor the bar lies on, on the end
// side as deep as it reaches.
func (r *run) lowest(deg float64, c cutter.Cutter) float64 {
	if geom.IsEnd(deg) {
		return r.endLowest(c)
	}
	return r.job.Floor(deg) + r.job.Hold.Clearance
}

// walls are what shank and holder must stay clear of beside the model on a side.
func (r *run) walls(deg float64) []reach.Wall {
	if geom.IsEnd(deg) {
		return r.endWalls()
	}
	return []reach.Wall{
		{Y: r.placed.StubY, Top: r.job.Bar.Top(deg)},
		{Y: r.job.Bar.Grip, Top: r.job.JawTop(deg)},
	}
}

// safe is the plane of the full retract on a side.
func (r *run) safe(deg float64) float64 {
	return max(r.job.Bar.Top(deg), r.job.JawTop(deg)) + r.job.Retract
}

// roughAll roughs every side with one cutter before the next cutter comes.
func (r *run) roughAll(ctx context.Context) error {
	total := len(r.job.Rough) * len(r.job.Sides)
	done := 0
	gentle := r.newEaser(ctx)
	defer gentle.stop()
	for _, s := range r.steps {
		if s.kind != order.Rough {
			continue
		}
		c := r.job.Rough[s.cut]
		r.say(fmt.Sprintf("roughing with %s", c.Cutter.ID), done, total)
		if err := r.roughSide(ctx, c, s.side); err != nil {
			return r.located(fmt.Sprintf("rough[%d].cutter", s.cut), fmt.Errorf("side %s: %w", geom.SideName(r.job.Sides[s.side]), err))
		}
		for k := gentle.given; k < len(r.cuts); k++ {
			gentle.give(r.cuts[k], c)
		}
		done++
	}
	return gentle.take(r.cuts)
}

func (r *run) roughSide(ctx context.Context, c job.Rough, side int) error {
	deg, b := r.job.Sides[side], r.job.Bar
	half, pitch := b.Half(deg), c.Cutter.DC()/24
	far := half + over(c.Cutter)
	reg := rough.Region{XMin: -far, XMax: far, YMin: r.placed.StubY + c.Cutter.R + c.Allowance, YMax: b.Length + over(c.Cutter)}
	bottom := max(-c.PastAxis, r.lowest(deg, c.Cutter))
	if geom.IsEnd(deg) {
		reg, bottom = r.endRegion(c.Cutter)
	}
	grid := field.Cover(reg.XMin-2*pitch, reg.XMax+2*pitch, reg.YMin-2*pitch, reg.YMax+2*pitch, pitch, pitch)
	target, err := r.surface.Field(ctx, r.turns[side], c.Cutter.Profile, c.Allowance, grid)
	if err != nil {
		return err
	}
	floor, err := r.floor(ctx, side, c.Cutter)
	if err != nil {
		return err
	}
	reach.RaiseTo(target, floor)
	seen := r.stack.Seen(side)
	out, err := rough.Plan(ctx, rough.Input{Target: target, Seen: seen, Region: reg, Bottom: bottom},
		roughParams(c))
	if err != nil {
		return err
	}
	if len(out.Passes) == 0 {
		return nil
	}
	moves := r.link(out.Passes, seen, c.Cutter, deg, c.Feed, c.EntryFeed, nil)
	r.add(cut{cutter: c.Cutter, stepover: c.Stepover, stepdown: c.Stepdown, allowance: c.Allowance, rough: true, sideIndex: side}, "rough", c.SpindleRPM, moves)
	return r.take(ctx, 1)
}

// roughParams are a roughing cut's as its plan takes them.
func roughParams(c job.Rough) rough.Params {
	p := rough.Params{Cutter: c.Cutter, Stepdown: c.Stepdown, Stepover: c.Stepover, Climb: true}
	if c.Engage < math.Pi {
		p.Engage, p.Deepest = c.Engage, c.Deepest
	}
	return p
}

// standing is how much stock may stand on the model beside a cutter at work: the greatest allowance.
func (r *run) standing() float64 {
	s := 0.0
	for _, q := range r.job.Rough {
		s = max(s, q.Allowance)
	}
	return s
}

// floor is how low this cutter's tip may go on a side; the view of the side is kept for other cutters.
func (r *run) floor(ctx context.Context, side int, c cutter.Cutter) (*field.Field, error) {
	deg, b := r.job.Sides[side], r.job.Bar
	if r.views == nil {
		r.views = make([]*reach.View, len(r.job.Sides))
	}
	if r.views[side] == nil {
		w := reach.Sight(b, deg, r.placed.StubY, r.widest())
		v, err := reach.See(ctx, r.surface, r.turns[side], w.X0, w.X1, w.Y0, w.Y1)
		if err != nil {
			return nil, err
		}
		r.views[side] = v
	}
	f := r.views[side].Floor(reach.Params{Cutter: c, Clear: r.job.Hold.Clearance, Skin: r.standing(), Walls: r.walls(deg)})
	low := float32(r.lowest(deg, c))
	for i := range f.Z {
		f.Z[i] = max(f.Z[i], low)
	}
	return f, nil
}

// widest is how far beyond the bar any cutter's tip may go.
func (r *run) widest() float64 {
	w := 0.0
	for _, c := range r.job.Rough {
		w = max(w, over(c.Cutter))
	}
	for _, c := range r.job.Finish {
		w = max(w, over(c.Cutter))
	}
	return w + 1
}

// rampDeg is the steepest way down into stock; 90 for a cutter that plunges. A little less than the cutter
// bears, for a program's numbers are rounded.
func rampDeg(c cutter.Cutter) float64 {
	if c.Plunges {
		return 90
	}
	return 0.98 * c.RampDeg
}

// leastMove is the shortest stretch of a pass that is worth a block, mm; common practice, no source.
const leastMove = 1e-3

// approachGap is how far above its pass, or what stands there, a rapid ends at most, mm; common practice, no source.
const approachGap = 0.5

// link makes one program's moves of passes, over what is left of the bar. keep, where it is given, is the lowest
// height of the tip at a place: passes then begin and end in arcs above it.
func (r *run) link(passes []path.Pass, seen *field.Field, c cutter.Cutter, deg, feed, entry float64, keep func(geom.Vec2) float64) []path.Move {
	o := link.NewObstacle(seen, c, r.job.Hold.Clearance)
	return link.Link(passes, o.Free, link.Params{
		Safe: r.safe(deg), Clear: r.job.Hold.Clearance, ApproachGap: min(r.job.Hold.Clearance, approachGap),
		CutFeed: feed, EntryFeed: entry, Done: o.Cut,
		Least: min(leastMove, r.job.PathTolerance), Keep: keep, Roll: c.R / 2,
		Under: func(p geom.Vec2) float64 { return o.Under(p, c.R-2*seen.DX) }, RampDeg: rampDeg(c),
	})
}

// keep is the lowest height of the tip that the model and the cutter's reach allow at a place of a side; +Inf
// beyond where the tip may be.
func (r *run) keep(in share.Input, side int) func(geom.Vec2) float64 {
	s := in.Sides[side]
	y0, y1 := s.YMin, s.YMax
	if y0 == 0 && y1 == 0 {
		y0, y1 = in.YMin, in.YMax
	}
	grown, rise, ok := in.Cutter.Grown(in.Allowance)
	if !ok {
		return nil
	}
	probe := in.Surface.Index(r.turns[side]).Probe(grown)
	return func(p geom.Vec2) float64 {
		if p.X < s.XMin || p.X > s.XMax || p.Y < y0 || p.Y > y1 {
			return math.Inf(1)
		}
		z := max(s.ZMin, probe.Height(p.X, p.Y)-rise)
		if f := s.Floor; f != nil {
			z = max(z, float64(f.MaxAround(p.X-f.DX/2, p.X+f.DX/2, p.Y-f.DY/2, p.Y+f.DY/2)))
		}
		return z
	}
}

// start is where a program takes the tip over: in the safe plane, over its first move.
func (r *run) start(deg float64, moves []path.Move) geom.Vec3 {
	p := moves[0].To
	p.Z = max(p.Z, r.safe(deg))
	return p
}

// fedRuns returns the stretches of moves at a feed, each with the point it begins at.
func fedRuns(start geom.Vec3, moves []path.Move) [][]geom.Vec3 {
	var out [][]geom.Vec3
	at, open := start, false
	for _, m := range moves {
		switch {
		case m.Mode == path.Dwell:
			continue
		case m.Mode == path.Rapid:
			open = false
		default:
			if !open {
				out = append(out, []geom.Vec3{at})
				open = true
			}
			out[len(out)-1] = append(out[len(out)-1], m.To)
		}
		at = m.To
	}
	return out
}

func (r *run) add(c cut, kind string, rpm float64, moves []path.Move) {
	deg := r.job.Sides[c.sideIndex]
	c.Program = path.Program{
		Title:   fmt.Sprintf("%s %s with %s", kind, sideWords(deg), c.cutter.ID),
		SideDeg: deg, Cutter: c.cutter.ID, Tool: c.cutter.Number, SpindleRPM: rpm,
		Start: r.start(deg, moves), Moves: moves,
	}
	r.cuts = append(r.cuts, c)
}

// finishAll finishes every side, cutter by cutter. Sides are linked at once, for each looks at the
// bar as roughing left it: what other sides finish only takes more away.
func (r *run) finishAll(ctx context.Context) error {
	skin := r.standing()
	for _, c := range r.job.Rough {
		skin = min(skin, c.Allowance)
	}
	for k, c := range r.job.Finish {
		r.say("finishing with "+c.Cutter.ID, 0, 0)
		done := len(r.cuts)
		if err := r.finishCut(ctx, k, skin); err != nil {
			return fmt.Errorf("finish with %s: %w", c.Cutter.ID, err)
		}
		skin = min(skin, c.Allowance)
		if k == len(r.job.Finish)-1 {
			break // nobody looks at the bar after this
		}
		if err := r.take(ctx, len(r.cuts)-done); err != nil {
			return err
		}
	}
	return nil
}

// finishFrom is the least y of any finishing tip: the stub's end still carries what roughing left on it,
// and the cutter stays clear of that. A smaller cutter begins no nearer to the stub than the largest:
// there it would meet what the larger one could not take.
func (r *run) finishFrom() float64 {
	largest := 0.0
	for _, c := range r.job.Finish {
		largest = max(largest, c.Cutter.R)
	}
	return r.placed.StubY + largest + r.standing() + r.job.Hold.Clearance/4
}

// tallest is how tall a wall a side can meet: from the top of the bar to its axis.
func (r *run) tallest() float64 {
	t := 0.0
	for _, d := range r.job.Sides {
		if geom.IsEnd(d) {
			t = max(t, r.endTallest())
		} else {
			t = max(t, r.job.Bar.Top(d))
		}
	}
	return t
}

// take lowers the stack by the last n cuts.
func (r *run) take(ctx context.Context, n int) error {
	for _, c := range r.cuts[len(r.cuts)-n:] {
		for _, run := range fedRuns(c.Start, c.Moves) {
			if err := r.stack.CutMoves(ctx, c.sideIndex, c.cutter.Profile, run); err != nil {
				return err
			}
		}
	}
	return nil
}

// thinSkin is what may stand on a wall beside a neck without harm, mm; common practice, no source.
const thinSkin = 0.06

// finishCut finishes all sides with one cutter, which meets a skin of the given thickness on the walls.
func (r *run) finishCut(ctx context.Context, k int, skin float64) error {
	c := r.job.Finish[k]
	in := finish.Input{Input: share.Input{
		Surface: r.surface, Mesh: r.placed.Mesh, Cutter: c.Cutter.Profile, Allowance: c.Allowance,
		Whole: &c.Cutter, YMin: r.finishFrom(), YMax: min(r.placed.Y1+over(c.Cutter), r.job.Bar.Length+over(c.Cutter)),
	}}
	if skin > thinSkin && c.Cutter.LCF < r.tallest() {
		in.Flutes = c.Cutter.LCF
		r.findings = append(r.findings, finding.Finding{Code: "finish-skin", Severity: finding.Note, Where: c.Cutter.ID,
			Text: fmt.Sprintf("its flutes are %.3g mm long and a skin of %.3g mm stands on walls up to %.3g mm tall, so those are freed of it first, from the top down", c.Cutter.LCF, skin, r.tallest()),
			Hint: fmt.Sprintf("finish first with a longer cutter at an allowance of %g mm or less: 'finish' takes a list", thinSkin)})
	}
	for i, deg := range r.job.Sides {
		far := r.job.Bar.Half(deg) + over(c.Cutter)
		floor, err := r.floor(ctx, i, c.Cutter)
		if err != nil {
			return err
		}
		if in.Flutes > 0 {
			in.Seen = append(in.Seen, r.stack.Seen(i))
		}
		// what roughing could not enter is not for a finishing cutter to dig out
		reach.KeepOutOfDepth(floor, r.stack.Seen(i), c.Cutter, skin+2*r.stack.Pitch, c.Cutter.LCF)
		s := share.Side{Deg: deg, XMin: -far, XMax: far, ZMin: r.lowest(deg, c.Cutter), Floor: floor}
		if geom.IsEnd(deg) {
			s = r.endShare(c.Cutter, floor)
		}
		in.Sides = append(in.Sides, s)
	}
	if c.Corners {
		for _, e := range r.finished {
			if e.Allowance <= c.Allowance {
				in.Earlier = append(in.Earlier, e)
			}
		}
	}
	out, err := finish.Plan(ctx, in, finish.Params{
		Cusp: c.Cusp, Tolerance: max(r.job.PathTolerance, c.Allowance/10), Overlap: c.Overlap,
		Rule: rules[r.job.Shares], Passes: strategies[c.Passes], Machine: r.held(), Feed: c.Feed,
		Direction: directions[c.Direction], Decimals: r.job.Machine.Dialect.Decimals,
		Done: func(sides, of int) { r.say("finishing with "+c.Cutter.ID, sides, of) },
	})
	if err != nil {
		return err
	}
	r.finished = append(r.finished, corner.Earlier{Cutter: in.Cutter, Allowance: c.Allowance, Sides: in.Sides, YMin: in.YMin, YMax: in.YMax})
	if c.Allowance == 0 {
		r.shares = &out.Shares
	}
	moves := make([][]path.Move, len(out.Sides))
	var wg sync.WaitGroup
	gate := make(chan struct{}, cores())
	for i, s := range out.Sides {
		wg.Go(func() {
			gate <- struct{}{}
			defer func() { <-gate }()
			if len(s.Passes) == 0 || ctx.Err() != nil {
				return
			}
			moves[i] = r.link(s.Passes, r.stack.Seen(i), c.Cutter, s.Deg, c.Feed, c.EntryFeed, r.keep(in.Input, i))
		})
	}
	wg.Wait()
	if ctx.Err() != nil {
		return ctx.Err()
	}
	for _, i := range r.sidesOf(order.Finish, k) {
		s := out.Sides[i]
		if len(moves[i]) == 0 {
			continue
		}
		done := cut{cutter: c.Cutter, stepover: s.StepoverMax, finest: s.StepoverMin, allowance: c.Allowance, passes: wayText(s.Way), corners: len(in.Earlier) > 0, sideIndex: i}
		for _, o := range s.Tried {
			if o.Way == s.Way {
				done.trial = o.Seconds
			} else {
				done.others = append(done.others, report.OtherSecond{Passes: wayText(o.Way), Seconds: round(o.Seconds, 0)})
			}
		}
		r.add(done, "finish", c.SpindleRPM, moves[i])
		if s.UnmetArea > 0.5 {
			r.findings = append(r.findings, finding.Finding{Code: "cusp-steep", Severity: finding.Note,
				Where: fmt.Sprintf("side %s, %s", geom.SideName(s.Deg), c.Cutter.ID),
				Text:  fmt.Sprintf("%.1f mm² of the path are steeper than the finest stepover serves: cusps there are higher than asked", s.UnmetArea),
				Hint:  "finish in both directions, or add a side"})
		}
	}
	return nil
}

var rules = map[string]share.Rule{"merit": share.ByMerit, "wedge": share.ByWedge}

var strategies = map[string]finish.Strategy{"raster": finish.Raster, "constant-cusp": finish.ConstantCusp, "best": finish.Best}

// wayText is how passes run, for a reader.
func wayText(w finish.Way) string {
	along := map[finish.Direction]string{finish.Along: "along the bar", finish.Across: "across the bar", finish.Either: "along and across"}[w.Direction]
	if w.Strategy == finish.ConstantCusp {
		return "constant cusp, " + along
	}
	return "raster " + along
}

var directions = map[string]finish.Direction{"along": finish.Along, "across": finish.Across, "both": finish.Either}
