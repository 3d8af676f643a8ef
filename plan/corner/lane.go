package corner

import (
	"context"
	"math"

	"barwise/geom"
	"barwise/path"
	"barwise/plan/cl"
	"barwise/plan/share"
)

// run is one stretch of a lane, as points of the program.
type run struct {
	pts    []geom.Vec3
	closed bool
}

// lanes are the stretches cut along one crease.
type lanes struct {
	*scout
	runs   []run
	inv    float64 // units of the last decimal in a mm
	less   *cl.Probe
	more   *cl.Probe
	lessUp float64 // rise of the tip of less over that of the real cutter
	moreUp float64
	step   float64 // of samples, mm
	gap    float64
}

const (
	// deepest and highest are the parts of the tolerance that a chord may cut into the surface and stand off it.
	deepest = 0.4
	highest = 0.75
	// aside is how far, in spacings, a chord may leave its lane.
	aside = 0.08
)

// lanes turns a ribbon into stretches, from the outermost lane of one flank over the crease to that of the other.
func (l *Left) lanes(ctx context.Context, v *share.View, b *ribbon) *lanes {
	s, p := l.set, l.params
	w := &lanes{scout: l.scout(v), inv: math.Pow10(p.Decimals), gap: spacing(s.Cutter, p.Cusp)}
	round := s.Cutter.Round
	if round == 0 {
		round = s.Cutter.R / 4
	}
	w.step = math.Sqrt(round * p.Tolerance / 4)
	grown := func(d float64) (*cl.Probe, float64) {
		q, up, ok := s.Prof.Grown(d)
		if !ok {
			q, up = s.Prof, 0
		}
		return v.Index.Probe(q), s.Rise + up
	}
	w.less, w.lessUp = grown(-deepest * p.Tolerance)
	w.more, w.moreUp = grown(highest * p.Tolerance)
	most := [2]int{}
	for k := range b.lanes {
		for side := range 2 {
			most[side] = max(most[side], len(b.lanes[k][side]))
		}
	}
	for j := most[0] - 1; j >= 0 && ctx.Err() == nil; j-- {
		w.lane(b, func(k int) stop { return b.stop(k, 0, j) })
	}
	w.lane(b, func(k int) stop { return b.middle[k] })
	for j := range most[1] {
		if ctx.Err() != nil {
			break
		}
		w.lane(b, func(k int) stop { return b.stop(k, 1, j) })
	}
	return w
}

// longEnough is how long, in spacings, the lanes of a crease must be on average to be worth following.
const longEnough = 12

func (w *lanes) worth() bool {
	sum := 0.0
	for _, r := range w.runs {
		sum += long(r.pts)
	}
	return sum >= float64(longEnough*float64(len(w.runs)))*w.gap && sum > 0
}

// skips is how many rays without a stop a lane goes on over.
const skips = 3

// lane cuts one lane into runs of points.
func (w *lanes) lane(b *ribbon, at func(k int) stop) {
	n := len(b.rays)
	first := 0
	if b.closed { // begin after a gap, if there is one
		for k := range n {
			if !at(k).ok {
				first = k
				break
			}
		}
	}
	var pts []geom.Vec3
	missing := 0
	whole := b.closed && at(first).ok
	flush := func(closed bool) {
		w.put(pts, closed)
		pts = nil
	}
	for q := range n {
		k := (first + q) % n
		s := at(k)
		p, ok := geom.Vec3{}, false
		if s.ok {
			p, ok = w.exact(s)
		}
		if !ok {
			whole = false
			if missing++; missing > skips && len(pts) > 0 {
				flush(false)
			}
			continue
		}
		missing = 0
		if m := len(pts); m > 0 {
			far := p.Sub(pts[m-1]).Len()
			if far > 6*w.set.Pitch+2*w.gap { // the lane jumps
				whole = false
				flush(false)
			} else if far < w.set.Pitch/3 {
				continue
			}
		}
		pts = append(pts, p)
	}
	if len(pts) > 0 {
		flush(whole)
	}
}

// exact puts a stop on the program's grid, not below the exact surface.
func (w *lanes) exact(s stop) (geom.Vec3, bool) {
	var p geom.Vec3
	var z float64
	var air bool
	if s.deep {
		p, z, air = w.lowest(s.tip)
	} else {
		p = geom.Vec3{X: math.Round(s.tip.X*w.inv) / w.inv, Y: math.Round(s.tip.Y*w.inv) / w.inv}
		z, air = w.limited(p.X, p.Y)
	}
	if !s.wall {
		p.Z = w.up(z)
		return p, !air
	}
	p.Z = w.up(s.tip.Z)
	for k := 1; z > p.Z && k < 4; k++ { // rounded into the wall: back into the free
		p.X = math.Round((s.tip.X+float64(float64(k)*s.free.X)/w.inv)*w.inv) / w.inv
		p.Y = math.Round((s.tip.Y+float64(float64(k)*s.free.Y)/w.inv)*w.inv) / w.inv
		z, _ = w.limited(p.X, p.Y)
	}
	return p, z <= p.Z
}

// lowest is the lowest of the four places of the program's grid about a tip: rounding to the nearest may lift
// it up the steeper flank.
func (w *lanes) lowest(tip geom.Vec3) (at geom.Vec3, z float64, air bool) {
	z = math.Inf(1)
	x, y := math.Floor(tip.X*w.inv), math.Floor(tip.Y*w.inv)
	for k := range 4 {
		p := geom.Vec3{X: (x + float64(k%2)) / w.inv, Y: (y + float64(k/2)) / w.inv}
		if h, a := w.limited(p.X, p.Y); h < z {
			at, z, air = p, h, a
		}
	}
	return at, z, air
}

// up rounds a height up to the last decimal.
func (w *lanes) up(z float64) float64 { return math.Ceil(float64(z*w.inv)-1e-7) / w.inv }

// put adds the fewest points of pts, greedily, whose chords keep to the surface and to the lane; where two
// neighbours cannot be joined the run is parted.
func (w *lanes) put(pts []geom.Vec3, closed bool) {
	if closed {
		pts = append(pts, pts[0])
	}
	var out []geom.Vec3
	flush := func(closed bool) {
		if long(out) >= fewSpacings*w.gap {
			w.runs = append(w.runs, run{out, closed})
		}
		out = nil
	}
	whole := closed
	for i := 0; i < len(pts); {
		out = append(out, pts[i])
		if i == len(pts)-1 {
			break
		}
		if !w.chord(pts, i, i+1) {
			whole = false
			flush(false)
			i++
			continue
		}
		good, n := i+1, 2
		for i+n < len(pts) && w.chord(pts, i, i+n) {
			good, n = i+n, 2*n
		}
		for bad := min(i+n, len(pts)); bad-good > 1; {
			if m := (good + bad) / 2; w.chord(pts, i, m) {
				good = m
			} else {
				bad = m
			}
		}
		i = good
	}
	flush(whole)
}

func long(p []geom.Vec3) float64 {
	sum := 0.0
	for k := 1; k < len(p); k++ {
		sum += p[k].Sub(p[k-1]).Len()
	}
	return sum
}

// chord reports whether the straight way from pts[i] to pts[j] keeps to the lane and to the tolerance.
func (w *lanes) chord(pts []geom.Vec3, i, j int) bool {
	a, b := pts[i], pts[j]
	d := b.Sub(a)
	l2 := d.Dot(d)
	for _, p := range pts[i+1 : j] {
		e := p.Sub(a)
		t := 0.0
		if l2 > 0 {
			t = min(max(e.Dot(d)/l2, 0), 1)
		}
		if e.Sub(d.Mul(t)).Len() > aside*w.gap {
			return false
		}
	}
	n := int(math.Sqrt(l2)/w.step) + 2
	for k := 1; k < n; k++ {
		p := a.Lerp(b, float64(k)/float64(n))
		if !w.clear(p) || w.more.Height(p.X, p.Y)-w.moreUp < p.Z {
			return false
		}
	}
	return true
}

// clear reports whether the tip at p cuts less than deepest of the tolerance into the surface, and keeps to
// the limits.
func (w *lanes) clear(p geom.Vec3) bool {
	return w.set.Inside(w.v, p.X, p.Y) && p.Z >= w.set.Limit(w.v, p.X, p.Y) && w.less.Height(p.X, p.Y)-w.lessUp <= p.Z
}

// join puts runs together to passes, to and fro: after a run comes the one that begins nearest, where a
// step leads to it.
func (w *lanes) join(ctx context.Context) []path.Pass {
	used := make([]bool, len(w.runs))
	var out []path.Pass
	var cur []geom.Vec3
	for left := len(w.runs); left > 0 && ctx.Err() == nil; left-- {
		best, pts := -1, []geom.Vec3(nil)
		if len(cur) > 0 {
			best, pts = w.next(used, cur[len(cur)-1])
		}
		if best < 0 {
			if len(cur) > 0 {
				out = append(out, path.Pass{Points: cur})
			}
			for best = 0; used[best]; best++ {
			}
			cur, pts = nil, w.runs[best].pts
		}
		used[best] = true
		cur = append(cur, pts...)
	}
	if len(cur) > 0 {
		out = append(out, path.Pass{Points: cur})
	}
	return out
}

// farthest is how far, in spacings, a step from one run to the next may be.
const farthest = 4

// next finds the run nearest to p and its points, the way to it included.
func (w *lanes) next(used []bool, p geom.Vec3) (int, []geom.Vec3) {
	best, least := -1, farthest*w.gap
	var pts []geom.Vec3
	for k, r := range w.runs {
		if used[k] {
			continue
		}
		n := len(r.pts)
		try := func(d float64, of func() []geom.Vec3) {
			if d >= least {
				return
			}
			q := of()
			if way, ok := w.way(p, q[0]); ok {
				best, least, pts = k, d, append(way, q...)
			}
		}
		if r.closed {
			at, near := 0, math.Inf(1)
			for i, q := range r.pts {
				if d := q.Sub(p).Len(); d < near {
					at, near = i, d
				}
			}
			try(near, func() []geom.Vec3 {
				q := append(append([]geom.Vec3(nil), r.pts[at:n-1]...), r.pts[:at]...)
				return append(q, r.pts[at])
			})
			continue
		}
		try(r.pts[0].Sub(p).Len(), func() []geom.Vec3 { return r.pts })
		try(r.pts[n-1].Sub(p).Len(), func() []geom.Vec3 { return reversed(r.pts) })
	}
	return best, pts
}

// way returns what lies between a and b: nothing where a straight step is clear, else a corner over the
// lower of both, where that is.
func (w *lanes) way(a, b geom.Vec3) ([]geom.Vec3, bool) {
	if w.free(a, b) {
		return nil, true
	}
	c := geom.Vec3{X: a.X, Y: a.Y, Z: b.Z}
	if a.Z > b.Z {
		c = geom.Vec3{X: b.X, Y: b.Y, Z: a.Z}
	}
	return []geom.Vec3{c}, w.free(a, c) && w.free(c, b)
}

func (w *lanes) free(a, b geom.Vec3) bool {
	n := int(b.Sub(a).Len()/w.step) + 2
	for k := 1; k < n; k++ {
		if !w.clear(a.Lerp(b, float64(k)/float64(n))) {
			return false
		}
	}
	return true
}

// cover marks the nodes within half a spacing of the runs.
func (w *lanes) cover(m []bool, gap float64) {
	f := w.v.Field
	r := max(1.5*f.DX, 0.6*gap)
	n := int(math.Ceil(r / f.DX))
	for _, q := range w.runs {
		for k := 1; k < len(q.pts); k++ {
			a, b := q.pts[k-1], q.pts[k]
			steps := int(b.XY().Sub(a.XY()).Len()/f.DX) + 1
			for t := 0; t <= steps; t++ {
				p := a.Lerp(b, float64(t)/float64(steps)).XY()
				i, j := f.Nearest(p)
				for y := j - n; y <= j+n; y++ {
					for x := i - n; x <= i+n; x++ {
						if f.Inside(x, y) && math.Hypot(f.X(x)-p.X, f.Y(y)-p.Y) <= r {
							m[y*f.NX+x] = true
						}
					}
				}
			}
		}
	}
}
