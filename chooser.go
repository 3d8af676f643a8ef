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

// chooseCutters makes the job's open cuts with the cutters of the shop that reach everything in the least
// time. A job that names all of its cutters stays as it is.
func (r *run) chooseCutters(ctx context.Context) error {
	open := r.job.Choose
	if open == nil {
		return nil
	}
	r.say("choosing cutters", 0, 0)
	p := choose.Params{PredictParams: r.predictParams(surveyPitch), Machine: r.held(), PathTolerance: r.job.PathTolerance}
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
		return err
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
		if r.job.Choose.Rough && max(c.Flat, c.Round) > 0 {
			if x, err := r.job.RoughWith(c.ID); err == nil {
				asRough(x)
			} else {
				why = append(why, shortly(c.ID, err))
			}
		}
		if r.job.Choose.Finish && c.Round > 0 {
			if x, err := r.job.FinishWith(c.ID); err == nil {
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
