package barwise

import (
	"context"
	"fmt"

	"barwise/cusp"
	"barwise/finding"
	"barwise/geom"
	"barwise/plan/share"
	"barwise/proof"
	"barwise/report"
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

// finishingFacts gathers what the finishing programs take and leave; nil where there are none.
func (r *run) finishingFacts(progs []replayed, res *proof.Result) *report.Finishing {
	out := &report.Finishing{}
	air := 0.0
	for i, p := range progs {
		if r.isRough(p) {
			continue
		}
		g := res.Programs[i]
		out.Length += g.CutLength + g.AirLength
		out.Seconds += p.time.Total()
		air += g.AirLength
		f := report.FinishFacts{File: p.Name, Seconds: round(p.time.Total(), 1)}
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
