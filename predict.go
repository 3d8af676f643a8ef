package barwise

import (
	"barwise/geom/mesh/patch"
	"barwise/job"
	"barwise/plan/reach"
	"barwise/stock"
)

// surfacePatches is about how fine the maps over a surface are: patches no longer than this, mm, and not
// more than so many.
const (
	patchEdge   = 0.4
	mostPatches = 400_000
)

// patches cuts the placed model, its spigot with it, into pieces for maps.
func (r *run) patches() *patch.Set { return patch.Cut(r.placed.Mesh, patchEdge, mostPatches) }

// predictParams are the job's cuts as a prediction of what stays takes them: each with the same limits that
// its planning has. pitch is the stack's, mm.
func (r *run) predictParams(pitch float64) reach.PredictParams {
	j := r.job
	p := reach.PredictParams{
		Mesh: r.placed.Mesh, Bar: j.Bar, Sides: j.Sides, Clear: j.Hold.Clearance, StubY: r.placed.StubY,
		Rule: rules[j.Shares], Zone: r.zone(), Tolerance: j.Tolerance, Pitch: pitch,
	}
	for _, d := range j.Sides {
		p.Walls = append(p.Walls, r.walls(d))
	}
	for _, c := range j.Rough {
		p.Cuts = append(p.Cuts, r.roughCut(c))
	}
	for _, c := range j.Finish {
		p.Cuts = append(p.Cuts, r.finishedCut(c))
	}
	return p
}

// roughCut is a roughing cut as a prediction takes it.
func (r *run) roughCut(c job.Rough) reach.Cut {
	q := reach.Cut{Cutter: c.Cutter, Allowance: c.Allowance, Rough: true, Stepdown: c.Stepdown,
		Over: over(c.Cutter), YMin: r.placed.StubY + c.Cutter.R + c.Allowance, YMax: r.job.Bar.Length + over(c.Cutter)}
	for _, d := range r.job.Sides {
		q.Lowest = append(q.Lowest, r.lowestLevel(c, d))
	}
	return q
}

// finishedCut is a finishing cut as a prediction takes it.
func (r *run) finishedCut(c job.Finish) reach.Cut {
	q := reach.Cut{Cutter: c.Cutter, Allowance: c.Allowance, Cusp: c.Cusp, Overlap: c.Overlap,
		Over: over(c.Cutter), YMin: max(r.finishFrom(), r.placed.StubY+c.Cutter.R), YMax: min(r.placed.Y1, r.job.Bar.Length) + over(c.Cutter)}
	for _, d := range r.job.Sides {
		q.Lowest = append(q.Lowest, r.lowest(d, c.Cutter))
	}
	return q
}

// zone is where the proof judges what is left, as a part of the bar: beyond the stub's end and the foot
// that stands on it, outside the spigot and its fillet.
func (r *run) zone() stock.Zone {
	z := stock.Zone{Y0: r.placed.Y0}
	if h := r.placed.Spigot; h != nil {
		z.Rods = append(z.Rods, stock.Rod{R: r.aroundSpigot(h), Y0: h.From, Y1: h.To})
	} else {
		z.Y0 = r.placed.StubY + r.foot()
	}
	return z
}
