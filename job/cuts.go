package job

import (
	"fmt"
	"math"

	"barwise/finding"
	"barwise/force"
	"barwise/form"
	"barwise/geom"
	"barwise/shop/catalog"
	"barwise/shop/cutter"
	"barwise/unit"
)

// Cutting: common practice, no source.
const (
	leastEngageDeg   = 25.0    // what the grid that roughing is planned on tells apart, a 24th of DC
	stdEngageDeg     = 50.0    // where the material says nothing
	stdFullStepover  = 0.45    // of DC
	stdStepdown      = 1.0 / 3 // of DC
	stdStepdownMetal = 0.1     // of DC
	stdAllowance     = 0.2     // mm
	stdPastAxis      = 0.5     // mm
	stdEntryPart     = 1.0 / 3 // of the feed
	metalKc1         = 500     // N/mm², from here on a material is cut like a metal
)

func (r *resolver) cuts() error {
	if len(r.file.Rough)+len(r.file.Finish) == 0 {
		return finding.Bad("job-missing", r.File, "no cut is asked for, allowed are rough and finish", "add rough: {cutter: ...} or finish: {cutter: ...}")
	}
	for i, f := range r.file.Rough {
		if isBest(f.Cutter) {
			if err := r.choose(fmt.Sprintf("rough[%d]", i), true, len(r.file.Rough)); err != nil {
				return err
			}
			continue
		}
		if err := r.rough(fmt.Sprintf("rough[%d]", i), f); err != nil {
			return err
		}
	}
	for i, f := range r.file.Finish {
		if isBest(f.Cutter) {
			if err := r.choose(fmt.Sprintf("finish[%d]", i), false, len(r.file.Finish)); err != nil {
				return err
			}
			continue
		}
		if err := r.finish(fmt.Sprintf("finish[%d]", i), f); err != nil {
			return err
		}
	}
	return nil
}

// OwnCutter begins the name of a cutter that is written into its cut.
const OwnCutter = "own-"

func (r *resolver) cutter(path string, x form.NameOr[catalog.CutterForm]) (cutter.Cutter, error) {
	if x.Inline == nil {
		return named(r, x.Name, path, r.shop.Cutter, r.shop.CutterNames())
	}
	return x.Inline.Resolve(r.doc, path, ownName(path), r.shop.Cutter)
}

func (r *resolver) rough(path string, f RoughForm) error {
	c, err := r.cutter(path+".cutter", f.Cutter)
	if err != nil {
		return err
	}
	o := Rough{Cutter: c}
	if err := r.engage(path, &o, f); err != nil {
		return err
	}
	part, why := stdStepdown, "a third of DC (common practice, no source)"
	if r.Material.Kc1.Value >= metalKc1 {
		part, why = stdStepdownMetal, "a tenth of DC in metal (common practice, no source)"
	}
	o.Stepdown = or(r, f.Stepdown, path+".stepdown", unit.Length(min(part*c.DC(), c.Depth())), why)
	if o.Stepdown > c.Depth() {
		return r.Bad("range", path+".stepdown", fmt.Sprintf("%s.stepdown: found %s, the cutter %s allows a depth of cut of at most %s",
			path, r.show(unit.Length(o.Stepdown)), c.ID, r.show(unit.Length(c.Depth()))), "")
	}
	if len(r.file.Finish) > 0 {
		o.Allowance = or(r, f.Allowance, path+".allowance", unit.Length(stdAllowance), "left for finishing (common practice, no source)")
	} else {
		o.Allowance = or(r, f.Allowance, path+".allowance", unit.Length(0), "no finish cut follows")
	}
	o.PastAxis = or(r, f.PastAxis, path+".past_axis", unit.Length(stdPastAxis), "so that opposite sides meet (common practice, no source)")
	level := min(r.Machine.Rate[0], r.Machine.Rate[1])
	o.SpindleRPM, o.Feed, o.EntryFeed, err = r.speeds(path, c, level, force.Thinned(1, o.Engage), f.Spindle, f.Feed, f.EntryFeed)
	if err != nil {
		return err
	}
	err = r.deepest(path, &o, f)
	r.Rough = append(r.Rough, o)
	return err
}

// engage resolves how much of the rim may be in stock: as an angle, as the width of a straight cut, or by
// the material. cos φ = 1 − 2·ae/DC.
func (r *resolver) engage(path string, o *Rough, f RoughForm) (err error) {
	c := o.Cutter
	if o.Stepover, err = r.stepover(path, c, f.Stepover); err != nil {
		return err
	}
	switch {
	case f.Engage != nil && float64(*f.Engage) >= 180:
		o.Engage = math.Pi
		if f.Stepover == nil {
			o.Stepover = stdFullStepover * c.DC()
			r.note(path+".stepover", "45 %, "+r.show(unit.Length(o.Stepover)), "common practice, no source")
		}
		return nil
	case f.Engage != nil && f.Stepover != nil:
		return r.Bad("size", path+".stepover", path+".stepover: found beside engage, allowed is one of them", "keep one of them")
	case f.Engage != nil:
		o.Engage = float64(*f.Engage) * math.Pi / 180
	case f.Stepover != nil:
		o.Engage = force.Arc(o.Stepover, c.DC())
		return r.wideEnough(path+".stepover", *o)
	default:
		deg, why := r.Material.Engage.Value, r.Material.Engage.Source
		if deg <= 0 {
			deg, why = stdEngageDeg, "the material says nothing (common practice, no source)"
		}
		o.Engage = deg * math.Pi / 180
		r.note(path+".engage", unit.Number(deg, 1)+"°", "for "+r.Material.ID+": "+why)
	}
	o.Stepover = force.Width(o.Engage, c.DC())
	return r.wideEnough(path+".engage", *o)
}

// wideEnough refuses a sliver of a cut.
func (r *resolver) wideEnough(path string, o Rough) error {
	if o.Engage >= leastEngageDeg*math.Pi/180-1e-9 {
		return nil
	}
	return r.Bad("range", path, fmt.Sprintf("%s: found %.3g° of the rim in stock, allowed is at least %g°: a cut so narrow is less than the plan tells apart", path, o.Engage*180/math.Pi, leastEngageDeg), "a wider cut")
}

// deepest resolves how deep a cut at bounded engagement may go: as the flutes reach, less where the force
// would bend the cutter by a quarter of what it leaves.
func (r *resolver) deepest(path string, o *Rough, f RoughForm) error {
	c := o.Cutter
	most := c.Depth()
	if f.Deepest != nil && float64(*f.Deepest) > most {
		return r.Bad("range", path+".deepest", fmt.Sprintf("%s.deepest: found %s, the cutter %s allows a depth of cut of at most %s",
			path, r.show(unit.Length(*f.Deepest)), c.ID, r.show(unit.Length(most))), "")
	}
	std, why := o.Stepdown, "no cutting force is known of "+r.Material.ID
	if k := r.Material.Kc1.Value; k > 0 {
		give := max(o.Allowance, stdAllowance) / 4
		cut := force.Cut{Kc1: k, Mc: r.Material.Mc.Value, Tooth: cutter.ToothLoad(o.Feed, o.SpindleRPM, c.Edges), Arc: o.Engage, Edges: c.Edges}
		var stop string
		std, stop = force.Deepest(force.RodOf(c), cut, give, most)
		switch why = "as long as its flutes"; stop {
		case "bend":
			why = "deeper, the cut would bend the cutter by more than " + r.show(unit.Length(give)) + " (estimate)"
		case "break":
			why = "deeper, the cut would load the cutter more than it safely bears (estimate)"
		}
		std = max(math.Floor(20*std)/20, min(o.Stepdown, most))
	}
	if o.Engage == math.Pi {
		o.Deepest = o.Stepdown
		return nil
	}
	o.Deepest = or(r, f.Deepest, path+".deepest", unit.Length(std), why)
	return nil
}

// stepover resolves a written stepover: at most the cutting diameter.
func (r *resolver) stepover(path string, c cutter.Cutter, p *unit.LengthOrPart) (float64, error) {
	if p == nil {
		return 0, nil
	}
	s := float64(p.Of(unit.Length(c.DC())))
	if s > c.DC() {
		return 0, r.Bad("range", path+".stepover", fmt.Sprintf("%s.stepover: found %s, allowed is at most the cutting diameter of %s, %s",
			path, p, c.ID, r.show(unit.Length(c.DC()))), "")
	}
	return s, nil
}

func (r *resolver) finish(path string, f FinishForm) error {
	c, err := r.cutter(path+".cutter", f.Cutter)
	if err != nil {
		return err
	}
	o := Finish{Cutter: c}
	if err := r.ridges(path, &o, f); err != nil {
		return err
	}
	o.Direction = r.orWord(f.Direction, path+".direction", "along", "long passes keep the feed up")
	o.Passes = r.orWord(f.Passes, path+".passes", "best", "on every side what takes the least time")
	o.Overlap = or(r, f.Overlap, path+".overlap", unit.Length(c.R), "half of DC")
	o.Allowance = or(r, f.Allowance, path+".allowance", unit.Length(0), "the finished surface is the model's")
	if o.Corners, err = r.corners(path, o, f); err != nil {
		return err
	}
	// the ridges of a cut that leaves something for a later one are not on the finished surface
	if o.Allowance == 0 && o.Cusp >= r.Tolerance {
		r.warn(finding.Warning, "cusp", path+".cusp", fmt.Sprintf("a cusp of %s uses up the tolerance of %s",
			r.show(unit.Length(o.Cusp)), r.show(unit.Length(r.Tolerance))), "ask for a cusp of half the tolerance")
	}
	// passes climb the model's walls at the same feed, so the slowest axis says how fast
	level := min(r.Machine.Rate[0], r.Machine.Rate[1], r.Machine.Rate[2])
	o.SpindleRPM, o.Feed, o.EntryFeed, err = r.speeds(path, c, level, 1, f.Spindle, f.Feed, f.EntryFeed)
	r.Finish = append(r.Finish, o)
	return err
}

// corners reports whether a finishing cut only cleans up after the ones before it.
func (r *resolver) corners(path string, o Finish, f FinishForm) (bool, error) {
	larger := ""
	for _, p := range r.Finish {
		if p.Allowance <= o.Allowance && p.Cutter.R > o.Cutter.R {
			larger = p.Cutter.ID
			break
		}
	}
	switch {
	case f.Corners == nil && larger != "":
		r.note(path+".corners", "true", larger+" finishes before it")
		return true, nil
	case f.Corners == nil || !*f.Corners:
		return false, nil
	case larger == "":
		return false, r.Bad("size", path+".corners", fmt.Sprintf("%s.corners: found true, and no finishing cut with a larger cutter comes before it that leaves no more", path), "put one before it, or leave corners out")
	}
	return true, nil
}

// ridges resolves cusp or stepover. A ball of radius R that steps over by s leaves ridges of height
// h = R − √(R² − s²/4) on level ground.
func (r *resolver) ridges(path string, o *Finish, f FinishForm) (err error) {
	c := o.Cutter
	switch {
	case c.Round == 0:
		return r.Bad("shape", path+".cutter", fmt.Sprintf("%s.cutter: found %s, a %s cutter, allowed for finishing are ball, bull and tapered-ball", path, c.ID, c.Shape), "")
	case f.Cusp != nil && f.Stepover != nil:
		return r.Bad("size", path+".stepover", path+".stepover: found beside cusp, allowed is one of them", "keep one of them")
	case f.Stepover != nil:
		if o.Stepover, err = r.stepover(path, c, f.Stepover); err != nil {
			return err
		}
		if o.Stepover >= 2*c.Round {
			return r.Bad("range", path+".stepover", fmt.Sprintf("%s.stepover: found %s, allowed is less than the round end's width, %s",
				path, f.Stepover, r.show(unit.Length(2*c.Round))), "")
		}
		half := o.Stepover / 2
		o.Cusp = half * half / (c.Round + math.Sqrt(c.Round*c.Round-half*half)) // without cancelling
	default:
		o.Cusp = or(r, f.Cusp, path+".cusp", unit.Length(r.Tolerance/2), "half the tolerance")
	}
	if o.Cusp >= c.Round {
		return r.Bad("range", path+".cusp", fmt.Sprintf("%s.cusp: found %s, allowed is less than the radius of the cutter's end, %s",
			path, r.show(unit.Length(o.Cusp)), r.show(unit.Length(c.Round))), r.unitHint())
	}
	return nil
}

// working is the diameter that speeds and chip loads are taken at, with words for it: DC, but for a
// tapered ball that of its ball, and for a cone half of DC, for it never cuts with its full width.
func working(c cutter.Cutter) (float64, string) {
	switch c.Shape {
	case cutter.ShapeTaperedBall:
		return 2 * c.Round, "the ball"
	case cutter.ShapeCone:
		return c.R, "half of DC"
	}
	return c.DC(), "DC"
}

// speeds resolves spindle speed and feeds, the default one no faster than level, mm/s. thin is how many times
// the load a tooth may be because the chip is thin at a bounded engagement; the way in has no part in it.
func (r *resolver) speeds(path string, c cutter.Cutter, level, thin float64, n *unit.Speed, feed, entry *unit.Feed) (rpm, vf, ve float64, err error) {
	if rpm, err = r.spindle(path, c, n); err != nil {
		return
	}
	d, where := working(c)
	fz := r.Material.ChipPerMM.Value * d
	std := wholePerMinute(min(thin*cutter.Feed(rpm, c.Edges, fz), level))
	why := fmt.Sprintf("%s x %d edges x %s a tooth (%s for each mm of %s in %s)", unit.Speed(rpm), c.Edges, r.show(unit.Length(fz)),
		unit.Number(r.Material.ChipPerMM.Value, 4), where, r.Material.ID)
	if thin > 1.005 {
		why += fmt.Sprintf(", %s times for thin chips", unit.Number(thin, 2))
	}
	if thin*cutter.Feed(rpm, c.Edges, fz) > level {
		why += ", capped by the machine's rate"
	}
	vf = or(r, feed, path+".feed", unit.Feed(std), why)
	fastest := min(r.Machine.Rate[0], r.Machine.Rate[1])
	if err = r.fast(path+".feed", vf, fastest); err != nil {
		return
	}
	down := min(stdEntryPart*vf/thin, r.Machine.Rate[2])
	ve = or(r, entry, path+".entry_feed", unit.Feed(wholePerMinute(down)), "a third of the feed (common practice, no source)")
	if err = r.fast(path+".entry_feed", ve, fastest); err != nil {
		return
	}
	r.toothLoad(path, cutter.ToothLoad(vf, rpm, c.Edges), fz)
	return
}

func (r *resolver) fast(path string, v, limit float64) error {
	if v <= limit*(1+1e-12) {
		return nil
	}
	return r.Bad("feed", path, fmt.Sprintf("%s: found %s, the machine %s allows at most %s", path, r.show(unit.Feed(v)), r.Machine.ID, r.show(unit.Feed(limit))),
		"a slower feed, or another machine")
}

func (r *resolver) spindle(path string, c cutter.Cutter, n *unit.Speed) (float64, error) {
	lo, hi, whose := r.Machine.SpindleMin, r.Machine.SpindleMax, "the machine "+r.Machine.ID
	if c.MaxRPM > 0 && c.MaxRPM < hi {
		hi, whose = c.MaxRPM, "the cutter "+c.ID
	}
	if lo > hi {
		return 0, r.Bad("spindle", path+".cutter", fmt.Sprintf("%s: the cutter %s may turn at most %s, the machine %s at least %s", path, c.ID, unit.Speed(hi), r.Machine.ID, unit.Speed(lo)), "another cutter or machine")
	}
	if n != nil {
		if v := float64(*n); v < lo || v > hi {
			if v < lo {
				whose = "the machine " + r.Machine.ID
			}
			return 0, r.Bad("spindle", path+".spindle", fmt.Sprintf("%s.spindle: found %s, %s allows %s to %s", path, *n, whose, unit.Number(lo, 1), unit.Speed(hi)), "")
		}
		return float64(*n), nil
	}
	d, where := working(c)
	vc := r.Material.Speed.Mid()
	want := cutter.RPM(vc, d)
	rpm := math.Floor(want/10) * 10
	why := fmt.Sprintf("%s in %s at %s, Ø%s", unit.Surface(vc), r.Material.ID, where, r.show(unit.Length(d)))
	switch {
	case want > hi:
		rpm, why = hi, why+fmt.Sprintf(" would be %s, capped by %s", unit.Number(want, 0), whose)
	case rpm < lo:
		rpm, why = lo, why+fmt.Sprintf(" would be %s, raised to the machine's lowest", unit.Number(want, 0))
	}
	r.note(path+".spindle", unit.Speed(rpm).String(), why)
	return rpm, nil
}

// A tooth load more than ToothHigh times the material's, or less than ToothLow times, is worth a word: a
// cutter breaks on one side and rubs on the other. Common practice, no source.
const (
	ToothHigh = 6
	ToothLow  = 0.1
)

func (r *resolver) toothLoad(path string, fz, std float64) {
	text := func(word string) string {
		return fmt.Sprintf("a tooth load of %s is %s the %s usual in %s", r.show(unit.Length(fz)), word, r.show(unit.Length(std)), r.Material.ID)
	}
	switch {
	case fz > ToothHigh*std:
		r.warn(finding.Warning, "tooth-load", path+".feed", text("far above"), "a slower feed or a faster spindle, or the cutter may break")
	case fz < ToothLow*std:
		r.warn(finding.Warning, "tooth-load", path+".feed", text("far below"), "a faster feed or a slower spindle, or the cutter rubs")
	}
}

// numbers gives a T number to every cutter that has none: the lowest free one, in order of use.
func (r *resolver) numbers() error {
	var all []*cutter.Cutter
	path := map[*cutter.Cutter]string{}
	for i := range r.Rough {
		all = append(all, &r.Rough[i].Cutter)
		path[&r.Rough[i].Cutter] = fmt.Sprintf("rough[%d].cutter", i)
	}
	for i := range r.Finish {
		all = append(all, &r.Finish[i].Cutter)
		path[&r.Finish[i].Cutter] = fmt.Sprintf("finish[%d].cutter", i)
	}
	of, taken := map[string]int{}, map[int]string{}
	for _, c := range all {
		if c.Number == 0 {
			continue
		}
		if other, ok := taken[c.Number]; ok && other != c.ID {
			return r.Bad("number", path[c], fmt.Sprintf("%s: the cutter %s has the number %d, which %s has too", path[c], c.ID, c.Number, other), "give them different numbers")
		}
		taken[c.Number], of[c.ID] = c.ID, c.Number
	}
	next := 1
	for _, c := range all {
		if n, ok := of[c.ID]; ok {
			c.Number = n
			continue
		}
		for taken[next] != "" {
			next++
		}
		c.Number = next
		taken[next], of[c.ID] = c.ID, next
	}
	return nil
}

// reach checks that the cutters are long enough for the bar, before anything is placed: a rougher
// goes past the axis beside the full height of the stub, so the holder must stay above it.
func (r *resolver) reach() error {
	top := 0.0
	for _, a := range r.Sides {
		if !geom.IsEnd(a) { // the end goes only as deep as its cutters reach
			top = max(top, r.Bar.Top(a))
		}
	}
	for i, o := range r.Rough {
		path, need := fmt.Sprintf("rough[%d].cutter", i), top+o.PastAxis+r.Hold.Clearance
		if o.Cutter.StickOut < need {
			return r.Bad("reach", path, fmt.Sprintf("%s: %s sticks out %s, needed is %s: half the bar, %s past the axis and the clearance",
				path, o.Cutter.ID, r.show(unit.Length(o.Cutter.StickOut)), r.show(unit.Length(need)), r.show(unit.Length(o.PastAxis))),
				"a longer cutter, more stick_out, or a smaller bar")
		}
		r.shankNote(path, o.Cutter, top+o.PastAxis)
	}
	for i, o := range r.Finish {
		path, need := fmt.Sprintf("finish[%d].cutter", i), top+r.Hold.Clearance
		if o.Cutter.StickOut < need {
			r.warn(finding.Warning, "reach", path, fmt.Sprintf("%s sticks out %s, %s would be needed to reach the axis beside the stub",
				o.Cutter.ID, r.show(unit.Length(o.Cutter.StickOut)), r.show(unit.Length(need))), "a longer cutter or more stick_out, unless the proof shows that it clears")
		}
		r.shankNote(path, o.Cutter, top)
	}
	return nil
}

func (r *resolver) shankNote(path string, c cutter.Cutter, depth float64) {
	if have := c.Reach(); have < depth {
		r.warn(finding.Note, "shank", path, fmt.Sprintf("%s reaches %s before its shank is wider than its edges, the axis lies %s deep",
			c.ID, r.show(unit.Length(have)), r.show(unit.Length(depth))), "the proof checks the shank")
	}
}

// wholePerMinute rounds a feed in mm/s down to whole mm/min.
func wholePerMinute(v float64) float64 { return math.Floor(60*v+1e-6) / 60 }
