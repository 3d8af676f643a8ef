package barwise

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"barwise/finding"
	"barwise/gcode"
	"barwise/job"
	"barwise/plan/choose"
	"barwise/plan/cl"
	"barwise/report"
)

// worthOfArea is how many seconds at the machine a mm² more within reach is worth; common practice, no source:
// a minute's cutting for a place that else wants a file.
const worthOfArea = 60

// chooseCutters makes the job's open cuts with the cutters of the shop that reach everything in the least
// time. A job that names all of its cutters stays as it is.
func (r *run) chooseCutters(ctx context.Context) error {
	open := r.job.Choose
	if open == nil {
		return nil
	}
	r.say("choosing cutters", 0, 0)
	p := choose.Params{PredictParams: r.predictParams(surveyPitch), Machine: r.held(), PathTolerance: r.job.PathTolerance, PerArea: worthOfArea}
	p.Tolerance = r.grain()
	why := r.candidates(&p)
	if len(p.Candidates) == 0 {
		return r.job.Bad("cutters", "cutters", "cutters: none of them can be used here: "+strings.Join(why, "; "), "name other cutters, or make the cut with one of your own")
	}
	if r.surface == nil {
		r.surface = cl.NewSurface(r.placed.Mesh)
	}
	got, err := choose.Choose(ctx, r.surface, p, r.patches())
	if err != nil {
		return r.located("cutters", err)
	}
	var rough, finish []string
	for _, k := range got.Rough {
		rough = append(rough, p.Candidates[k].Rough.Cutter.ID)
	}
	for _, k := range got.Finish {
		finish = append(finish, p.Candidates[k].Finish.Cutter.ID)
	}
	if open.Rough && len(rough) == 0 || open.Finish && len(finish) == 0 {
		return r.job.Bad("cutters", "cutters", "cutters: none of them does for every cut: "+strings.Join(why, "; "), "name the cutters by hand")
	}
	found := r.job.Findings
	if r.job, err = r.job.Chosen(rough, finish, nil); err != nil {
		return err
	}
	for _, f := range r.job.Findings {
		if !slices.Contains(found, f) {
			r.findings = append(r.findings, f)
		}
	}
	r.findings = append(r.findings, got.Findings...)
	r.choice = choiceFacts(got, p.Candidates)
	r.note("cutters-chosen", strings.Join(append(rough, finish...), ", ")+" were chosen from "+fmt.Sprint(len(open.From))+" cutters", "the report says why; name cutters in the job to keep them")
	return nil
}

// wallsFreed is the part of those lifts that finishing does without by itself, for it frees tall walls of their
// skin first: on a dragon nine in ten of 11 500 s.
const wallsFreed = 0.9

// semiFinish puts a cut before the first finishing one where the skin that roughing leaves would make that one
// lift at every wall, and the cut saves more than it takes. It is made with a cutter that is at hand; another of
// the shop's that would save more is told.
func (r *run) semiFinish(ctx context.Context) error {
	j := r.job
	if !j.SemiFinish || len(j.Rough) == 0 || len(j.Finish) == 0 || j.Finish[0].Allowance > 0 {
		return nil
	}
	last := j.Rough[len(j.Rough)-1]
	small := j.Finish[0]
	if last.Allowance <= thinSkin || small.Cutter.LCF >= r.tallest() {
		return nil
	}
	r.say("weighing a semi-finishing cut", 0, 0)
	p := choose.SemiParams{PredictParams: r.predictParams(surveyPitch), Finish: *r.finishUse(small), Skin: last.Allowance, Machine: r.held(), PathTolerance: j.PathTolerance}
	p.Tolerance = r.grain()
	var all, mine []choose.Allowed
	in := map[string]bool{}
	add := func(c job.Finish, inJob bool) {
		if c.Cutter.Round != c.Cutter.R || c.Cutter.R < small.Cutter.R || in[c.Cutter.ID] {
			return
		}
		in[c.Cutter.ID] = true
		a := choose.Allowed{Use: *r.finishUse(c), InJob: inJob}
		if all = append(all, a); j.Owned(c.Cutter.ID) {
			mine = append(mine, a)
		}
	}
	for _, c := range j.Finish {
		add(c, true)
	}
	for _, c := range j.ShopCutters() {
		if x, err := j.FinishWith(c.ID); err == nil {
			add(x, c.ID == last.Cutter.ID)
		}
	}
	if r.surface == nil {
		r.surface = cl.NewSurface(r.placed.Mesh)
	}
	set := r.patches()
	ask := func(allowed []choose.Allowed) (*choose.SemiAdvice, error) {
		p.Allowed = allowed
		a, err := choose.Semi(ctx, r.surface, p, set)
		if err == nil && a.Pays {
			a.Bought -= wallsFreed * a.LiftTime
			a.Pays = a.Bought > 0
		}
		return a, err
	}
	if len(all) == 0 {
		return nil
	}
	best, err := ask(all)
	if err != nil {
		return err
	}
	got := best
	if best.Pays && !j.Owned(best.Cutter) {
		if got = (&choose.SemiAdvice{}); len(mine) > 0 {
			if got, err = ask(mine); err != nil {
				return err
			}
		}
		if best.Bought > got.Bought+60 {
			r.note("semi-finish-better", fmt.Sprintf("a semi-finishing cut with %s at an allowance of %g mm would save about %s", best.Cutter, best.Allowance, report.Duration(best.Bought)),
				"where you have that cutter, name it under cutters, or put the cut before the finishing one")
		}
	}
	if !got.Pays {
		return nil
	}
	if r.job, err = j.Chosen(nil, nil, &job.Semi{Cutter: got.Cutter, Allowance: got.Allowance, Cusp: got.Cusp}); err != nil {
		return err
	}
	r.note("semi-finish", fmt.Sprintf("a semi-finishing cut with %s at an allowance of %g mm was put before %s: it saves about %s of lifts at walls taller than its flutes", got.Cutter, got.Allowance, small.Cutter.ID, report.Duration(got.Bought)),
		"semi_finish: none leaves it out")
	return nil
}

// candidates fills in the cutters that can be tried, each as the job would run it, and says why others cannot.
// What the job names is tried alone for its kind of cut.
func (r *run) candidates(p *choose.Params) (why []string) {
	use := map[string]*choose.Candidate{}
	var order []string
	at := func(id string) *choose.Candidate {
		if use[id] == nil {
			use[id] = &choose.Candidate{}
			order = append(order, id)
		}
		return use[id]
	}
	asRough := func(c job.Rough) { at(c.Cutter.ID).Rough = r.roughUse(c) }
	asFinish := func(c job.Finish) { at(c.Cutter.ID).Finish = r.finishUse(c) }
	for _, c := range r.job.Rough {
		asRough(c)
	}
	for _, c := range r.job.Finish {
		asFinish(c)
	}
	for _, c := range r.job.Choose.From {
		// a way into solid stock is a ramp
		if r.job.Choose.Rough {
			if max(c.Flat, c.Round) <= 0 || !(c.RampDeg > 0 && c.RampDeg < 90) {
				why = append(why, c.ID+" is not for roughing")
			} else if x, err := r.job.RoughWith(c.ID); err == nil {
				asRough(x)
			} else {
				why = append(why, shortly(c.ID, err))
			}
		}
		// finishing goes straight down onto what it cuts
		if r.job.Choose.Finish {
			if c.Round <= 0 || !c.Plunges {
				why = append(why, c.ID+" is not for finishing")
			} else if x, err := r.job.FinishWith(c.ID); err == nil {
				asFinish(x)
			} else {
				why = append(why, shortly(c.ID, err))
			}
		}
	}
	for _, id := range order {
		p.Candidates = append(p.Candidates, *use[id])
	}
	return why
}

func shortly(id string, err error) string {
	if e, ok := err.(*finding.InputError); ok {
		return id + ": " + e.Text
	}
	return id + ": " + err.Error()
}

func (r *run) roughUse(c job.Rough) *choose.Use {
	u := &choose.Use{Cut: r.roughCut(c), Feed: c.Feed, Stepover: c.Stepover}
	if c.Engage < math.Pi {
		u.Cap = c.Engage
		u.Stepdown = c.Deepest
	}
	return u
}

func (r *run) finishUse(c job.Finish) *choose.Use {
	return &choose.Use{Cut: r.finishedCut(c), Feed: c.Feed}
}

// choiceFacts says why these cutters.
func choiceFacts(c *choose.Chosen, from []choose.Candidate) *report.Choice {
	names := func(s choose.Sequence) string {
		var out []string
		for _, k := range s.Rough {
			out = append(out, from[k].Rough.Cutter.ID)
		}
		for _, k := range s.Finish {
			out = append(out, from[k].Finish.Cutter.ID)
		}
		return strings.Join(out, ", ")
	}
	out := &report.Choice{}
	for i, p := range c.Picks {
		f := report.Pick{Cutter: p.Cutter, For: "finishing", Seconds: round(p.Seconds, 1), Only: round(p.Only, 2), StickOut: round(p.StickOut, 2), Needed: round(p.Needed, 2)}
		switch {
		case i < len(c.Rough):
			f.For = "roughing"
			f.Why = fmt.Sprintf("takes %.0f mm³, %.0f %% of the time", p.Volume, 100*p.Share)
		default:
			f.Why = fmt.Sprintf("finishes %.0f mm² from %d sides, %.0f %% of the time", p.Area, p.Sides, 100*p.Share)
		}
		if p.Stiffer > 1.05 {
			f.Why += fmt.Sprintf("; mounted shorter it would be %.1f times as stiff", p.Stiffer)
		}
		if p.Held > 0.5 && p.Longer > 0 {
			f.Why += fmt.Sprintf("; %.1f mm longer it would reach %.1f mm² more", p.Longer, p.Held)
		}
		out.Picks = append(out.Picks, f)
	}
	for _, s := range c.Alternatives {
		out.Others = append(out.Others, report.OtherSet{Cutters: names(s), Seconds: round(s.Seconds, 0), Left: round(s.Left, 2)})
	}
	for _, m := range c.OneMore {
		name := m.Cutter
		if m.Candidate < 0 {
			name = fmt.Sprintf("a ball Ø%g, reaching %.1f mm", m.Diameter, m.Neck)
		}
		out.OneMore = append(out.OneMore, report.OneMore{Cutter: name, Seconds: round(max(m.Seconds, 0), 0), Area: round(m.Area, 2)})
	}
	return out
}

// used is the job with its open cuts made with the cutters that the texts name, so that what was planned with
// chosen cutters can be proved again without choosing.
func (r *run) used(texts []*gcode.Text) error {
	if r.job.Choose == nil {
		return nil
	}
	var rough, finish []string
	add := func(to *[]string, id string) {
		if !slices.Contains(*to, id) {
			*to = append(*to, id)
		}
	}
	for _, t := range texts {
		if strings.HasPrefix(t.Title, "rough") {
			add(&rough, t.Cutter)
		} else {
			add(&finish, t.Cutter)
		}
	}
	j, err := r.job.Chosen(rough, finish, nil)
	if err != nil {
		return err
	}
	r.job = j
	return nil
}
