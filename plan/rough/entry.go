package rough

import (
	"math"

	"barwise/geom"
	"barwise/geom/field/iso"
	"barwise/path"
)

// enter finds the way into a line: from air or cleared room beside the stock, else down a ramp. It
// returns the lead, the line (a closed one may begin elsewhere), whether the lead's first point may be
// reached from the last pass by a straight feed, and false where the line is too short to ramp along.
func (w *work) enter(l iso.Line, back bool) (lead []geom.Vec3, out iso.Line, follow, ok bool) {
	starts := 1
	if l.Closed {
		starts = min(len(l.Pts), 16)
	}
	for s := range starts {
		m := l
		if s > 0 {
			m = l.From(s * len(l.Pts) / starts)
		}
		if from, found := w.beside(m, back); found {
			if from != m.Pts[0] {
				lead = []geom.Vec3{{X: from.X, Y: from.Y, Z: w.z}}
			}
			return lead, m, w.on && w.follows(from), true
		}
	}
	lead, ok = w.ramp(l)
	if ok && len(lead) > 0 {
		w.lv.Entries++
	}
	return lead, l, false, ok
}

// beside looks for a place clear of the stock by R + margin from which a short straight feed, slanting
// forward where there is room, leads onto the start of the line.
func (w *work) beside(l iso.Line, back bool) (geom.Vec2, bool) {
	p := l.Pts[0]
	if w.airy(p) {
		return p, true
	}
	d := direction(l)
	n := geom.Vec2{X: -d.Y, Y: d.X} // the clear side: left of the motion when climbing
	if w.p.Climb == back {
		n = n.Mul(-1)
	}
	r, s := w.p.Cutter.R, w.p.Stepover
	for _, off := range [4]float64{s + w.margin + w.slack, s + 2*w.margin + w.slack, 2*s + w.margin, r + 2*w.margin} {
		for _, behind := range [4]float64{r, r / 2, 0, -r / 2} {
			q := plus(plus(p, n, off), d, -behind)
			if w.airy(q) && w.clearWay(q, p) {
				return q, true
			}
		}
	}
	for _, behind := range [2]float64{r + w.margin, 2 * r} {
		q := plus(p, d, -behind)
		if w.airy(q) && w.clearWay(q, p) {
			return q, true
		}
	}
	return geom.Vec2{}, false
}

// airy reports that the tip may be at p with no stock above the level within R + margin.
func (w *work) airy(p geom.Vec2) bool {
	return w.wallAt(p) >= 0 && !w.touches(p, w.p.Cutter.R+w.margin)
}

func direction(l iso.Line) geom.Vec2 {
	p := l.Pts[0]
	for _, q := range l.Pts[1:] {
		if d := q.Sub(p); d.Len() > 1e-9 {
			return d.Mul(1 / d.Len())
		}
	}
	return geom.Vec2{X: 1}
}

// close is the reach at which the planner's own account of the stock, exact at its nodes, says touch.
func (w *work) close() float64 { return w.re - float64(0.5*min(w.grid.DX, w.grid.DY)) }

// follows reports that a straight feed on the level from the last pass to p meets neither wall nor
// stock and is shorter than a lift is worth.
func (w *work) follows(p geom.Vec2) bool {
	d := gap(w.tip, p)
	if d > w.p.FollowMax || !w.clearWay(w.tip, p) {
		return false
	}
	n := int(d/(w.p.Cutter.R/4)) + 1
	for i := 1; i <= n; i++ {
		if w.touches(plus(w.tip, p.Sub(w.tip), float64(i)/float64(n)), w.close()) {
			return false
		}
	}
	return true
}

// shortest is the least length of line, in cutter diameters, that is worth a ramp.
const shortest = 0.1

// ramp goes down along the line at the cutter's ramp angle, from just above what stands there: round
// and round a closed line, to and fro on the first stretch of an open one, and ends at its start. A
// line too short is entered straight down by a cutter that plunges, else left.
func (w *work) ramp(l iso.Line) ([]geom.Vec3, bool) {
	pts := l.Pts
	slope := math.Tan(w.p.Cutter.RampDeg * math.Pi / 180)
	if l.Closed {
		pts = append(append(make([]geom.Vec2, 0, len(pts)+1), pts...), pts[0])
	}
	top := math.Inf(-1)
	for i, p := range pts {
		q := pts[max(i-1, 0)]
		n := int(gap(p, q)/(w.p.Cutter.R/2)) + 1
		for k := range n {
			top = max(top, float64(w.highest(plus(p, q.Sub(p), float64(k)/float64(n)), w.p.Cutter.R)))
		}
	}
	top += w.p.Tolerance
	if !(top > w.z+w.cusp) {
		return nil, true // nothing is in the way down
	}
	length := (top - w.z) / slope
	if !l.Closed {
		pts = head(pts, max(length/2, w.p.Cutter.DC()))
		back := iso.Line{Pts: pts}.Reversed().Pts
		pts = append(append(make([]geom.Vec2, 0, 2*len(pts)), pts...), back[1:]...)
	}
	round := iso.Line{Pts: pts}.Length()
	if round < shortest*w.p.Cutter.DC() {
		return nil, w.p.Cutter.Plunges
	}
	turns := math.Ceil(length/round - 1e-9)
	return w.descend(pts, top, (top-w.z)/(turns*round), int(turns)), true
}

// descend repeats a loop while it sinks by slope for each mm, and ends at the level.
func (w *work) descend(loop []geom.Vec2, top, slope float64, turns int) []geom.Vec3 {
	out := []geom.Vec3{{X: loop[0].X, Y: loop[0].Y, Z: top}}
	at, z := loop[0], top
	for range turns {
		for _, p := range loop[1:] {
			z -= float64(slope * gap(at, p))
			out = append(out, geom.Vec3{X: p.X, Y: p.Y, Z: max(z, w.z)})
			at = p
		}
	}
	out[len(out)-1].Z = w.z
	return out
}

// head returns the beginning of a polyline, of the given length where it is long enough.
func head(pts []geom.Vec2, length float64) []geom.Vec2 {
	out := []geom.Vec2{pts[0]}
	for i := 1; i < len(pts); i++ {
		l := gap(pts[i-1], pts[i])
		if l >= length {
			return append(out, plus(pts[i-1], pts[i].Sub(pts[i-1]), length/l))
		}
		out = append(out, pts[i])
		length -= l
	}
	return out
}

// helix goes down round a circle and once round it on the level.
func (w *work) helix(c iso.Line) {
	if !w.p.Climb {
		c = c.Reversed()
	}
	lead, ok := w.ramp(c)
	if !ok {
		return
	}
	p := path.Pass{Lead: lead, Closed: true}
	for _, q := range c.Pts {
		p.Points = append(p.Points, geom.Vec3{X: q.X, Y: q.Y, Z: w.z})
	}
	p.Points = append(p.Points, p.Points[0])
	if len(lead) > 0 {
		w.lv.Entries++
	}
	w.put(p)
}
