package barwise

import (
	"context"
	"fmt"

	"barwise/cusp"
	"barwise/engage"
	"barwise/finding"
	"barwise/geom"
	"barwise/plan/share"
	"barwise/proof"
	"barwise/report"
	"barwise/stock"
)

// measureCusps measures the ridges that the finishing programs leave, from their text.
func (r *run) measureCusps(ctx context.Context, progs []replayed) error {
	asked := 0.0
	for _, c := range r.job.Finish {
		if c.Allowance == 0 {
			asked = max(asked, c.Cusp)
		}
	}
	var ps []cusp.Program
	for _, p := range progs {
		if !r.isRough(p) {
			ps = append(ps, cusp.Program{Program: p.Program, Cutter: p.cutter})
		}
	}
	if asked == 0 || len(ps) == 0 {
		return nil
	}
	r.say("measuring the ridges", 0, 0)
	zone := r.zone()
	var err error
	r.cusps, err = cusp.Measure(ctx, r.placed.Mesh, ps, cusp.Params{Cusp: asked, Skip: func(p geom.Vec3) bool { return !zone.Has(p) }})
	return err
}

// waysOfFinishing looks how much of the finishing programs' way takes anything.
func (r *run) waysOfFinishing(ctx context.Context, progs []replayed) error {
	st := r.roughed
	if st == nil {
		st = stock.New(r.job.Bar, r.job.Sides, stackPitch(r.job))
	}
	var runs []engage.Run
	for _, p := range progs[r.lastRough+1:] {
		runs = append(runs, engage.Run{Program: p.Program, Cutter: p.cutter})
	}
	var err error
	r.air, err = engage.Ways(ctx, st, runs)
	r.roughed = nil
	return err
}

// way is how much of a program's way takes something and how much nothing, mm: of the programs that rough and
// of those after them as they were replayed, else by the proof's grid.
func (r *run) way(i int, grid proof.Figures) (cut, air float64) {
	if k := i - r.lastRough - 1; k >= 0 && k < len(r.air) {
		return r.air[k].Cut, r.air[k].Air
	}
	for _, e := range r.engaged {
		if e.program == i {
			return e.CutLength + e.EntryLength, e.AirLength
		}
	}
	return grid.CutLength, grid.AirLength
}

// finishingFacts gathers what the finishing programs take and leave; nil where there are none.
func (r *run) finishingFacts(progs []replayed, res *proof.Result) *report.Finishing {
	out := &report.Finishing{}
	air := 0.0
	for i, p := range progs {
		if r.isRough(p) {
			continue
		}
		cut, idle := r.way(i, res.Programs[i])
		out.Length += cut + idle
		out.Seconds += p.time.Total()
		air += idle
		f := report.FinishFacts{File: p.Name, Seconds: round(p.time.Total(), 1), AirShare: round(idle/max(cut+idle, 1e-9), 4)}
		if i < len(r.cuts) {
			c := &r.cuts[i]
			f.Passes, f.Corners = c.passes, c.corners
			for _, o := range c.others {
				if c.trial > 0 { // trials are of a part of the share: their ratio is what they tell
					o.Seconds = round(o.Seconds*f.Seconds/c.trial, 0)
				}
				f.Others = append(f.Others, o)
			}
		}
		out.Sides = append(out.Sides, f)
	}
	if len(out.Sides) == 0 {
		return nil
	}
	out.AirShare = round(air/max(out.Length, 1e-9), 4)
	out.Length, out.Seconds = round(out.Length, 1), round(out.Seconds, 1)
	if c := r.cusps; c != nil {
		out.Cusp = report.Cusp{P50: um3(c.P50), P99: um3(c.P99), Max: um3(c.Max), Asked: um(c.Asked), Places: len(c.Places)}
	}
	return out
}

func um3(mm float64) float64 { return round(mm*1000, 3) }

// mostCusp is how far the ridges' hundredth may be over what was asked, in parts of it.
const mostCusp = 1.1

// cuspFinding says where ridges are higher than asked.
func (r *run) cuspFinding() {
	c := r.cusps
	if c == nil || c.P99 <= mostCusp*c.Asked {
		return
	}
	r.findings = append(r.findings, finding.Finding{Code: "cusp-over", Severity: finding.Note, Where: point(c.Where.X, c.Where.Y, c.Where.Z),
		Text: "a hundredth of the ridges between passes is higher than " + micron(c.P99) + ", the highest " + micron(c.Max) + "; " + micron(c.Asked) + " were asked",
		Hint: "they count in what is left on the surface; the report's map shows where"})
}

func micron(mm float64) string { return fmt.Sprintf("%.3g µm", 1000*mm) }

// shareFacts is how the surface was shared; nil for programs that were only read.
func (r *run) shareFacts() *report.Shares {
	if r.shares == nil || r.shares.Merit.Area == 0 {
		return nil
	}
	sums := func(e share.Estimate) report.ShareSums {
		return report.ShareSums{Seconds: round(e.Time, 0), SlopeDeg: round(e.Steepest, 1), StickOut: round(e.StickOut, 1)}
	}
	out := &report.Shares{Rule: "merit", Merit: sums(r.shares.Merit), Wedge: sums(r.shares.Wedge)}
	if r.shares.Taken == share.ByWedge {
		out.Rule = "wedge"
	}
	return out
}
