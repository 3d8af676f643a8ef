package barwise

import (
	"context"
	"fmt"
	"math"

	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/job"
	"barwise/plan/pose"
	"barwise/shop/bar"
	"barwise/unit"
)

// lieBest looks for the way the model lies best and takes it into the job.
func (r *run) lieBest(ctx context.Context) error {
	found, err := r.searchPoses(ctx, nil)
	if err != nil {
		return err
	}
	if len(found.Best) == 0 {
		return fmt.Errorf("no way for the model to lie was found among %d", found.Tried)
	}
	r.found = found
	r.lieAs(found.Best[0].Pose)
	r.note("lay-found", fmt.Sprintf("of %d ways to lie the best one was taken: %s", found.Tried, layText(found.Best[0].Pose)),
		"write it into the job to keep it and to save the search")
	return nil
}

// lieAs writes a pose into the run's own copy of the job.
func (r *run) lieAs(p pose.Pose) {
	j := *r.job
	j.Lay.Best, j.Lay.Along = false, ""
	j.Lay.Dir, j.Lay.TurnDeg = &[3]float64{p.Dir.X, p.Dir.Y, p.Dir.Z}, p.TurnDeg
	r.job = &j
}

// layText is a pose as it is written in a job's lay.
func layText(p pose.Pose) string {
	return fmt.Sprintf("along: %s, turn: %s", dirText(p.Dir), unit.Number(p.TurnDeg, 3))
}

// axisDirs are the model's axes by the names a job has for them.
var axisDirs = []struct {
	name string
	dir  geom.Vec3
}{{"+x", geom.Vec3{X: 1}}, {"-x", geom.Vec3{X: -1}}, {"+y", geom.Vec3{Y: 1}}, {"-y", geom.Vec3{Y: -1}}, {"+z", geom.Vec3{Z: 1}}, {"-z", geom.Vec3{Z: -1}}}

// axisOf names the model axis that a direction is, or "".
func axisOf(d geom.Vec3) string {
	for _, a := range axisDirs {
		if d.Unit().Sub(a.dir).Len() < 1e-9 {
			return a.name
		}
	}
	return ""
}

func dirText(d geom.Vec3) string {
	if a := axisOf(d); a != "" {
		return a
	}
	d = d.Unit()
	return fmt.Sprintf("[%s, %s, %s]", unit.Number(d.X, 5), unit.Number(d.Y, 5), unit.Number(d.Z, 5))
}

// givenPose is how the job has the model lie.
func givenPose(l job.Lay) pose.Pose {
	if l.Dir != nil {
		return pose.Pose{Dir: geom.Vec3{X: l.Dir[0], Y: l.Dir[1], Z: l.Dir[2]}, TurnDeg: l.TurnDeg}
	}
	for _, a := range axisDirs {
		if a.name == l.Along {
			return pose.Pose{Dir: a.dir, TurnDeg: l.TurnDeg}
		}
	}
	return pose.Pose{Dir: geom.Vec3{Z: 1}, TurnDeg: l.TurnDeg}
}

// searchPoses looks for better ways for the model to lie in the job's bar, at the job's scale, with its
// last cutter. given is judged beside them.
func (r *run) searchPoses(ctx context.Context, given *pose.Pose) (*pose.Found, error) {
	r.say("looking for the best way to lie", 0, 0)
	j := r.job
	k := r.look.UnitMM
	if j.Lay.Height == 0 && !j.Lay.Fit {
		k *= j.Lay.Scale
	} else if r.placed != nil {
		k = r.placed.Scale
	} else if s := r.look.Health.Box.Size(); j.Lay.Height > 0 {
		// its length along the bar depends on the way it lies: the longest measure is taken for it
		k *= j.Lay.Height / max(s.X, s.Y, s.Z)
	}
	p := pose.Params{
		Bar: j.Bar, Set: pose.Set{Sides: j.Sides}, Margin: j.Lay.Margin, Fit: j.Lay.Fit,
		Extra: j.Bar.Grip + j.Hold.Stub + j.Lay.Gap + j.Lay.End, Spigot: j.Lay.Spigot.Diameter / 2,
		TurnTime: j.Machine.Turn, Given: given, Most: 4,
	}
	if n := len(j.Finish); n > 0 {
		c := j.Finish[n-1]
		p.Cutter, p.Cusp, p.Feed = c.Cutter, c.Cusp, r.finishFeed()
	}
	if len(j.Rough) > 0 {
		// half of the time a rougher is on its way between passes or in corners (estimate, no source)
		c := j.Rough[0]
		p.Rate = 0.5 * c.Stepover * c.Stepdown * c.Feed
	}
	return pose.Search(ctx, scaled(r.model, k), p)
}

// finishFeed is the feed at which the last cut alone, without overlaps, would take the time that all
// finishing takes: overlaps, slopes and the way through air double it (measured on the demo).
func (r *run) finishFeed() float64 {
	perArea, last := 0.0, 0.0
	for _, c := range r.job.Finish {
		last = stepoverFor(c.Cutter.Profile.Round, c.Cusp)
		if last == 0 {
			return 0
		}
		perArea += 1 / (last * c.Feed)
	}
	return 0.5 / (perArea * last)
}

// stepoverFor is the stepover on level ground that leaves a cusp of height h with a ball of radius R:
// s²/4 = R² − (R − h)². 0 where there is none.
func stepoverFor(radius, h float64) float64 { return 2 * math.Sqrt(max(0, h*(2*radius-h))) }

func scaled(m *mesh.Mesh, k float64) *mesh.Mesh {
	if k == 1 {
		return m
	}
	return m.Map(func(p geom.Vec3) geom.Vec3 { return p.Mul(k) })
}

// smallestStandard names the least standard size of a shape that a section of the given measures needs.
func smallestStandard(shape bar.Shape, across, high float64) string {
	if s, ok := smallestSize(shape, across, high); ok {
		return s.Name + " " + string(shape)
	}
	return "larger than any standard size"
}

func smallestSize(shape bar.Shape, across, high float64) (best bar.Standard, ok bool) {
	area := math.Inf(1)
	for _, sys := range []unit.System{unit.MM, unit.Inch} {
		for _, s := range bar.Standards(shape, sys) {
			b := s.Bar(1, 0, bar.Square)
			if s.Width >= across && s.Height >= high && b.Area() < area {
				best, area, ok = s, b.Area(), true
			}
		}
	}
	return best, ok
}
