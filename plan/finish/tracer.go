package finish

import (
	"math"

	"barwise/geom"
	"barwise/plan/share"
)

// tracer walks one raster line.
type tracer struct {
	*work
	v        *share.View
	ly       *layer
	cross    int
	u0, step int       // first sample and spacing, units
	z        []float32 // exact heights, sample by sample
	asked    int
	spare    trace
	lo, hi   []float64
}

// slack is how far below the nodes around it a place of the share may lie before it counts as a drop
// that nobody asked to be followed, in pitches: room for creases between nodes.
const slack = 4

// floorAt is the lowest height wanted at a place: +Inf where the share does not reach.
func (c *tracer) floorAt(x, y float64) float64 {
	f, v := c.v.Field, c.v
	i, j := int(math.Floor((x-f.X0)/f.DX)), int(math.Floor((y-f.Y0)/f.DY))
	low := math.Inf(1)
	if i < 0 || j < 0 || i+1 >= f.NX || j+1 >= f.NY {
		return low
	}
	for _, k := range [4]int{j*f.NX + i, j*f.NX + i + 1, (j+1)*f.NX + i, (j+1)*f.NX + i + 1} {
		switch v.State[k] {
		case share.Own, share.Margin:
			low = min(low, float64(v.E[k])-float64(slack*c.pitch))
		case share.Wall, share.Hanging:
			low = min(low, float64(v.E[k]))
		}
	}
	return low
}

// sample returns the height at sample k, lifted to floor and to what the reach allows; air where it was.
func (c *tracer) sample(k int, floor float64) (z float64, air bool) {
	x, y := c.place(c.ly.dir, c.cross, c.u0+k*c.step)
	low := max(floor, c.set.Limit(c.v, x, y))
	if z = float64(c.z[k]); z <= low {
		return low, true
	}
	return z, false
}

// run turns the wanted stretches into segments. Stretches parted by little are joined by following the
// surface between them.
func (c *tracer) run(spans [][2]int) []segment {
	var out []segment
	var t trace
	flush := func() {
		c.trim(&t)
		if t.len() >= 2 {
			c.refine(&t)
			out = c.emit(out, &t)
		}
		t.reset()
	}
	for _, s := range spans {
		for k := floorDiv(s[0]-c.u0+c.step-1, c.step); k*c.step+c.u0 <= s[1] && k < len(c.z); {
			var next trace
			k = c.stretch(&next, k, s[1])
			c.trim(&next)
			if next.len() == 0 {
				continue
			}
			if t.len() > 0 && !c.bridge(&t, &next) {
				flush()
			}
			t.u, t.z, t.air = append(t.u, next.u...), append(t.z, next.z...), append(t.air, next.air...)
		}
	}
	flush()
	return out
}

// stretch appends samples from k on, up to u = end or to where the share ends, and returns the sample
// after.
func (c *tracer) stretch(t *trace, k, end int) int {
	for ; k*c.step+c.u0 <= end && k < len(c.z); k++ {
		x, y := c.place(c.ly.dir, c.cross, c.u0+k*c.step)
		floor := c.floorAt(x, y)
		if math.IsInf(floor, 1) {
			return k + 1
		}
		z, air := c.sample(k, floor)
		t.add(c.u0+k*c.step, z, air)
	}
	return k
}

// parts says whether a line is better parted at a wall between two samples, of heights za and zb: it
// drops far, and in between is no wall that the side is answerable for. Then hang is how far down the
// upper part is to go, and climb how far up the lower one.
func (c *tracer) parts(ua, ub int, za, zb float64) (hang, climb float64, ok bool) {
	hang, climb = max(za, zb), min(za, zb)
	if hang-climb < share.LeastDrop*c.p.Overlap {
		return 0, 0, false
	}
	f, v := c.v.Field, c.v
	top, low := hang, climb
	for _, u := range [2]int{ua, ub} {
		x, y := c.place(c.ly.dir, c.cross, u)
		i, j := int(math.Floor((x-f.X0)/f.DX)), int(math.Floor((y-f.Y0)/f.DY))
		if i < 0 || j < 0 || i+1 >= f.NX || j+1 >= f.NY {
			continue
		}
		for _, k := range [4]int{j*f.NX + i, j*f.NX + i + 1, (j+1)*f.NX + i, (j+1)*f.NX + i + 1} {
			if !v.Foot[k] {
				continue
			}
			hang = min(hang, float64(v.Hang[k]))
			if float64(v.Field.Z[k]) <= low+float64(slack*c.pitch) {
				climb = max(climb, float64(v.Climb[k]))
			}
		}
	}
	hang, climb = max(hang, low), min(climb, top)
	return hang, climb, hang > climb
}

// trim takes off what hangs in the air at both ends, but for one sample.
func (c *tracer) trim(t *trace) {
	a, b := 0, t.len()
	for a+1 < b && t.air[a] && t.air[a+1] {
		a++
	}
	for b-2 >= a && t.air[b-1] && t.air[b-2] {
		b--
	}
	if b-a == 1 && t.air[a] {
		b = a
	}
	t.u, t.z, t.air = t.u[a:b], t.z[a:b], t.air[a:b]
}

// longestBridge is how far, mm, two stretches of a line may be apart to be joined.
func (w *work) longestBridge() float64 { return min(3*w.p.Overlap, liftCost) }

// bridge joins t to next by samples that follow the surface, not below the lower of both ends, where
// that is shorter than about three overlaps.
func (c *tracer) bridge(t, next *trace) bool {
	n := t.len()
	from, to := t.u[n-1], next.u[0]
	most := c.longestBridge()
	if float64(to-from)*c.unit > most {
		return false
	}
	floor := min(t.z[n-1], next.z[0])
	length, last := 0.0, t.z[n-1]
	for u := from + c.step; u < to; u += c.step {
		z, _ := c.sample((u-c.u0)/c.step, floor)
		length += math.Hypot(float64(c.step)*c.unit, z-last)
		last = z
	}
	if length+math.Abs(next.z[0]-last) > most {
		return false
	}
	for u := from + c.step; u < to; u += c.step {
		z, air := c.sample((u-c.u0)/c.step, floor)
		t.add(u, z, air)
	}
	return true
}

// exact asks the height between two samples of which the lower is air or not.
func (c *tracer) exact(u int) (float64, bool) {
	c.asked++
	x, y := c.place(c.ly.dir, c.cross, u)
	z, air := c.set.Height(c.v, x, y)
	if floor := c.floorAt(x, y); !math.IsInf(floor, 1) && z <= floor {
		return floor, true
	}
	return z, air
}

// mostSag is how far, in tolerances, the surface may rise above the chord between two exact heights, square
// to it. With the tenth that a chord may pass below a sample this is the half that Plan promises.
const mostSag = 0.4

// refine adds exact heights where the chord between two samples could miss the surface: first wherever
// the path is so steep that a ball over a point could rise above the chord by more than mostSag, p²/(8 R
// cos²θ), down to the last decimal, which is how a wall is met; then where the slope changes, so that
// the chord would stand too high over a crease.
func (c *tracer) refine(t *trace) {
	r := &c.spare
	r.reset()
	r.add(t.u[0], t.z[0], t.air[0])
	for i := 1; i < t.len(); i++ {
		c.halve(r, t.u[i-1], t.u[i], t.z[i-1], t.z[i], t.air[i-1], t.air[i])
	}
	*t, c.spare = c.spare, *t
	for range 3 {
		if !c.bend(t) {
			break
		}
	}
}

// halve appends to r what follows a up to b.
func (c *tracer) halve(r *trace, ua, ub int, za, zb float64, aa, ab bool) {
	h := float64(ub-ua) * c.unit
	m := (zb - za) / h
	// between two heights that the same limit holds up nothing can stand out; between two limits a wall can
	held := aa && ab && za == zb
	if ub-ua > 1 && !held && h*h*(1+float64(m*m)) > mostSag*8*c.round()*c.p.Tolerance && !c.blank(ua, ub, za, zb) {
		um := (ua + ub) / 2
		zm, am := c.exact(um)
		c.halve(r, ua, um, za, zm, aa, am)
		c.halve(r, um, ub, zm, zb, am, ab)
		return
	}
	r.add(ub, zb, ab)
}

// blank reports whether nothing is wanted of a wall between two samples: where it stands need not be
// known.
func (c *tracer) blank(ua, ub int, za, zb float64) bool {
	hang, climb, ok := c.parts(ua, ub, za, zb)
	return ok && hang == max(za, zb) && climb == min(za, zb)
}

// bend halves the cells beside which the slope changes too much. Over a cell of width h a change of
// slope Δ means h·Δ/8 upright between chord and a smooth curve.
func (c *tracer) bend(t *trace) bool {
	r := &c.spare
	r.reset()
	n := t.len()
	slope := func(i int) float64 { return (t.z[i+1] - t.z[i]) / (float64(t.u[i+1]-t.u[i]) * c.unit) }
	pointed := c.in.Cutter.Round == 0 // the path surface can have a ridge within a cell
	added := false
	r.add(t.u[0], t.z[0], t.air[0])
	for i := 0; i+1 < n; i++ {
		ua, ub := t.u[i], t.u[i+1]
		if ub-ua > 1 && !(t.air[i] && t.air[i+1]) && !c.jump(t, i) {
			m := slope(i)
			down, up := 0.0, 0.0
			for _, k := range [2]int{i - 1, i + 1} {
				if k < 0 || k+1 >= n || c.jump(t, k) {
					continue
				}
				d := slope(k) - m
				if k < i {
					d = -d
				}
				down, up = max(down, -d), max(up, d)
			}
			e := float64(ub-ua) * c.unit / 8 / math.Sqrt(1+float64(m*m))
			if pointed && 4*e*down > mostSag*c.p.Tolerance || e*up > 0.5*c.p.Tolerance {
				um := (ua + ub) / 2
				z, air := c.exact(um)
				r.add(um, z, air)
				added = true
			}
		}
		r.add(ub, t.z[i+1], t.air[i+1])
	}
	*t, c.spare = c.spare, *t
	return added
}

// jump reports whether a wall stands between two samples: known to the last decimal, or a blank one.
func (w *work) jump(t *trace, i int) bool {
	d := math.Abs(t.z[i+1] - t.z[i])
	return t.u[i+1]-t.u[i] == 1 && d > steepWindow*w.unit || d >= share.LeastDrop*w.p.Overlap
}

// emit simplifies a trace and appends it to out as points of the program. At a wall, which is known to
// the last decimal only, the way goes level on the wall's upper side and straight up or down on its free
// side, or ends and begins again.
func (c *tracer) emit(out []segment, t *trace) []segment {
	c.lo, c.hi = c.windows(t, c.lo, c.hi)
	s := segment{cross: c.cross}
	for a := 0; a < t.len(); {
		b := a + 1
		for b < t.len() && !c.jump(t, b-1) {
			b++
		}
		piece := trace{t.u[a:b], t.z[a:b], t.air[a:b]}
		at, z := c.simplify(&piece, c.lo[a:b], c.hi[a:b])
		for k, i := range at {
			x, y := c.place(c.ly.dir, c.cross, piece.u[i])
			q := geom.Vec3{X: x, Y: y, Z: float64(z[k]) / c.inv}
			if k == 0 && a > 0 {
				p := s.pts[len(s.pts)-1]
				if hang, climb, ok := c.parts(t.u[a-1], t.u[a], p.Z, q.Z); ok {
					out, s = c.part(out, s, q, hang, climb)
				} else {
					s.pts = append(s.pts, knee(p, q))
				}
			}
			s.pts = append(s.pts, q)
		}
		a = b
	}
	if len(s.pts) > 1 {
		out = append(out, s)
	}
	return out
}

// part ends segment s at a wall and begins the next at q, each with its piece of the wall.
func (c *tracer) part(out []segment, s segment, q geom.Vec3, hang, climb float64) ([]segment, segment) {
	p := s.pts[len(s.pts)-1]
	next := segment{cross: c.cross}
	upper, lower := &s, &next
	if q.Z > p.Z {
		upper, lower = &next, &s
	}
	free := geom.Vec3{X: q.X, Y: q.Y} // the lower of both stands in the free
	top := p.Z
	if q.Z > p.Z {
		free, top = geom.Vec3{X: p.X, Y: p.Y}, q.Z
	}
	at := func(z float64) geom.Vec3 { return geom.Vec3{X: free.X, Y: free.Y, Z: float64(c.up(z)) / c.inv} }
	if hang < top {
		// from the upper piece: level to the free side, then down; the other way round where it begins
		way := []geom.Vec3{at(top), at(hang)}
		if upper == &next {
			way[0], way[1] = way[1], way[0]
		}
		upper.pts = append(upper.pts, way...)
	}
	if climb > min(p.Z, q.Z) {
		lower.pts = append(lower.pts, at(climb))
	}
	if len(s.pts) > 1 {
		out = append(out, s)
	}
	return out, next
}

// knee is the corner between p and q: over the lower of both, at the height of the higher.
func knee(p, q geom.Vec3) geom.Vec3 {
	if q.Z > p.Z {
		return geom.Vec3{X: p.X, Y: p.Y, Z: q.Z}
	}
	return geom.Vec3{X: q.X, Y: q.Y, Z: p.Z}
}
