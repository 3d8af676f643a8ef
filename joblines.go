package barwise

import (
	"fmt"
	"math"
	"reflect"
	"slices"
	"strings"

	"barwise/job"
	"barwise/plan/pose"
	"barwise/shop/bar"
	"barwise/shop/catalog"
	"barwise/shop/cutter"
	"barwise/unit"
)

// Lines for a job, each whole: it may take the place of the line with its key.

func mmText(v float64) string { return unit.Number(v, 4) + " mm" }

// barLine is the content of the key bar.
func barLine(b bar.Bar) string {
	size := "size: " + mmText(b.Width)
	if b.Shape == bar.Rect {
		size = "width: " + mmText(b.Width) + ", height: " + mmText(b.Height)
	}
	s := fmt.Sprintf("{shape: %s, %s, length: %s, grip: %s", b.Shape, size, mmText(b.Length), mmText(b.Grip))
	if b.Shape == bar.Round {
		s += ", block: " + string(b.Block)
	}
	return s + "}"
}

// layLine is the job's lay with another pose, the model larger times k.
func (r *run) layLine(p pose.Pose, k float64) string {
	l := r.job.Lay
	parts := []string{layText(p)}
	add := func(key, v string) { parts = append(parts, key+": "+v) }
	switch {
	case l.Fit:
		add("fit", "true")
	case l.Height > 0:
		add("height", mmText(math.Ceil(l.Height*k*1e3)/1e3))
	case l.Scale*k != 1:
		add("scale", unit.Number(math.Ceil(l.Scale*k*1e4-1e-6)/1e4, 4))
	}
	if l.Margin > 0 {
		add("margin", mmText(l.Margin))
	}
	if s := r.spigotLine(); s != "" {
		add("spigot", s)
	}
	return "lay: {" + strings.Join(parts, ", ") + "}"
}

// spigotLine is the job's spigot as it is written, "" where it is the one that follows from the bar.
func (r *run) spigotLine() string {
	s, b := r.job.Lay.Spigot, r.job.Bar
	switch {
	case s.Diameter == 0:
		return "none"
	case s.Square:
		return "{diameter: " + mmText(s.Diameter) + ", shape: square}"
	case math.Abs(s.Diameter-stdSpigotPart*min(b.Width, b.Height)) > 1e-3:
		return "{diameter: " + mmText(s.Diameter) + "}"
	}
	return ""
}

// cutterName is the name under which a job can ask for a cutter like c; "" where it has none: it was
// written into its cut.
func cutterName(c cutter.Cutter) string {
	if !strings.HasPrefix(c.ID, job.OwnCutter) {
		return c.ID
	}
	for _, q := range catalog.Builtin().Cutters {
		same := c
		same.ID, same.Number, same.Title, same.StickOut, same.LU = q.ID, q.Number, q.Title, q.StickOut, q.LU
		if reflect.DeepEqual(same, q) {
			return q.ID
		}
	}
	return ""
}

// cutterWords names a cutter to a reader.
func cutterWords(c cutter.Cutter) string {
	if name := cutterName(c); name != "" {
		return name
	}
	return c.Title
}

// cutterLine is a cutter as it is written in a cut; "" where it cannot be.
func cutterLine(c cutter.Cutter) string {
	name := cutterName(c)
	q, ok := catalog.Builtin().Cutter(name)
	switch {
	case name == "" || ok && q.StickOut == c.StickOut && q.LU == c.LU:
		return name
	case ok && q.LU == c.LU:
		return fmt.Sprintf("{like: %s, stick_out: %s}", name, mmText(c.StickOut))
	}
	return fmt.Sprintf("{like: %s, LU: %s, stick_out: %s}", name, mmText(c.LU), mmText(c.StickOut))
}

// roughLine is the key rough with the given cutters; those beyond the job's own come after them with
// nothing but their names. "" where one of them cannot be written.
func (r *run) roughLine(cs []cutter.Cutter) string {
	return cutLines("rough", cs, func(i int) string {
		if i >= len(r.job.Rough) {
			return ""
		}
		c := r.job.Rough[i]
		return fmt.Sprintf(", stepover: %s, stepdown: %s, allowance: %s%s", mmText(c.Stepover), mmText(c.Stepdown), mmText(c.Allowance), unbounded(c))
	})
}

// finishLine is roughLine for the key finish; a cutter beyond the job's own leaves the same cusp.
func (r *run) finishLine(cs []cutter.Cutter) string {
	return cutLines("finish", cs, func(i int) string {
		n := len(r.job.Finish)
		c := r.job.Finish[min(i, n-1)]
		s := fmt.Sprintf(", cusp: %s um", unit.Number(1000*c.Cusp, 3))
		if c.Stepover > 0 && i < n {
			s = ", stepover: " + mmText(c.Stepover)
		}
		if c.Direction != "along" {
			s += ", direction: " + c.Direction
		}
		if i < n && c.Overlap != c.Cutter.R {
			s += ", overlap: " + mmText(c.Overlap)
		}
		if c.Allowance > 0 {
			s += ", allowance: " + mmText(c.Allowance)
		}
		return s
	})
}

func cutLines(key string, cs []cutter.Cutter, rest func(i int) string) string {
	var parts []string
	for i, c := range cs {
		line := cutterLine(c)
		if line == "" {
			return ""
		}
		parts = append(parts, "{cutter: "+line+rest(i)+"}")
	}
	return key + ": [" + strings.Join(parts, ", ") + "]"
}

// cutters are the job's, in the order in which they cut: roughing, then finishing.
func (r *run) cutters() (rough, finish []cutter.Cutter) {
	for _, c := range r.job.Rough {
		rough = append(rough, c.Cutter)
	}
	for _, c := range r.job.Finish {
		finish = append(finish, c.Cutter)
	}
	return rough, finish
}

// sidesLine asks for a candidate's number of sides: with its bar and its sides, and its pose where that is
// another one. "" where a job cannot ask for it: looking along the axis is a set-up of its own.
func (r *run) sidesLine(c pose.Candidate) string {
	if c.End {
		return ""
	}
	var lines []string
	b := r.job.Bar
	if c.Shape != b.Shape {
		s, ok := smallestSize(c.Shape, c.Across, c.High)
		if !ok {
			return ""
		}
		b = s.Bar(math.Ceil(c.Bar), b.Grip, b.Block)
		lines = append(lines, "bar: "+barLine(b))
	}
	if !slices.Equal(c.Sides, b.Angles()) || !slices.Equal(r.job.Sides, r.job.Bar.Angles()) {
		var as []string
		for _, a := range c.Sides {
			as = append(as, unit.Number(a, 4))
		}
		lines = append(lines, "sides: ["+strings.Join(as, ", ")+"]")
	}
	if !samePose(c.Pose, givenPose(r.job.Lay)) {
		lines = append(lines, r.layLine(c.Pose, 1))
	}
	return strings.Join(lines, "\n")
}

// unbounded is what a line must say of a roughing cut whose engagement is not bounded.
func unbounded(c job.Rough) string {
	if c.Engage < math.Pi {
		return ""
	}
	return ", engage: 180 deg"
}
