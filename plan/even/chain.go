package even

import (
	"context"
	"math"

	"barwise/geom"
	"barwise/path"
	"barwise/plan/share"
)

// farthest is how far apart, in plan, the ends of two segments may lie to be joined by following the
// surface, mm; highWay how far above its exact heights such a way may run, in tolerances: it need not touch.
const (
	farthest = 4.0
	highWay  = 5
)

// link is a step from the end of one segment to the start of the next.
type link struct {
	seg     int
	reverse bool
	follow  bool // joined to the segment before it
}

func (l link) ends(segs []segment) (start, end geom.Vec3) {
	p := segs[l.seg].pts
	if l.reverse {
		return p[len(p)-1], p[0]
	}
	return p[0], p[len(p)-1]
}

// join orders segments into passes: from the end of one to the nearest end of another, following the
// surface where that is shorter than a lift.
func (w *work) join(ctx context.Context, segs []segment) ([]path.Pass, error) {
	order := w.order(ctx, segs)
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	ways, asked := make([][]geom.Vec3, len(order)), make([]int, len(order))
	err := share.Rows(ctx, len(order), func(k int) {
		if order[k].follow {
			_, a := order[k-1].ends(segs)
			b, _ := order[k].ends(segs)
			t := &tracer{work: w, probe: w.v.Index.Probe(w.set.Prof)}
			ways[k] = t.follow(a, b)
			asked[k] = t.asked
		}
	})
	if err != nil {
		return nil, err
	}
	var passes []path.Pass
	for k, l := range order {
		w.out.ExactHeights += asked[k]
		if !l.follow {
			passes = append(passes, path.Pass{})
		}
		p := &passes[len(passes)-1]
		from := len(p.Points)
		p.Points = append(p.Points, ways[k]...)
		pts := segs[l.seg].pts
		for m := range pts {
			q := pts[m]
			if l.reverse {
				q = pts[len(pts)-1-m]
			}
			if m == 0 && l.follow {
				last := p.Points[from-1]
				for _, u := range append(ways[k], q) {
					w.out.WayLength += u.Sub(last).Len()
					last = u
				}
			}
			if n := len(p.Points); n > 0 && p.Points[n-1] == q {
				continue
			}
			p.Points = append(p.Points, q)
		}
	}
	return passes, nil
}

// order chains segments greedily. A new chain starts with the first segment that is left, in the order the
// lines were laid.
func (w *work) order(ctx context.Context, segs []segment) []link {
	near := newNear(segs)
	out := make([]link, 0, len(segs))
	first := 0
	for len(out) < len(segs) && ctx.Err() == nil {
		for near.used[first] {
			first++
		}
		// down a tall wall rather than up: its foot is then reached by the cut itself and not by a plunge
		l := link{seg: first}
		a, b := l.ends(segs)
		l.reverse = w.tallBeside(a) && !w.tallBeside(b)
		for {
			near.use(l.seg)
			out = append(out, l)
			_, end := l.ends(segs)
			next, ok := near.nearest(end, func(q geom.Vec3) float64 { return w.followCost(end, q) }, w.p.LiftCost)
			if !ok {
				break
			}
			l = next
		}
	}
	return out
}

// tallBeside reports whether a wall beside p rises higher above the tip than the flutes reach. A step
// aside there would meet the skin on it along its whole height; coming down from above meets it bit by bit.
func (w *work) tallBeside(p geom.Vec3) bool {
	if w.p.Flutes <= 0 {
		return false
	}
	r := w.set.Cutter.R + w.set.Pitch
	return float64(w.v.Field.MaxAround(p.X-r, p.X+r, p.Y-r, p.Y+r))-p.Z > w.p.Flutes
}

// followCost estimates the length of following the surface from a to b, on the sharing grid.
func (w *work) followCost(a, b geom.Vec3) float64 {
	if w.tallBeside(a) || w.tallBeside(b) {
		return math.Inf(1)
	}
	plan := b.XY().Sub(a.XY()).Len()
	n := int(plan/w.set.Pitch) + 1
	floor := min(a.Z, b.Z)
	length, last := 0.0, a.Z
	for k := 1; k <= n; k++ {
		z := b.Z
		if k < n {
			p := a.Lerp(b, float64(k)/float64(n))
			i, j := w.v.Field.Nearest(p.XY())
			z = max(float64(w.v.Field.At(i, j)), floor)
		}
		length += math.Hypot(plan/float64(n), z-last)
		last = z
	}
	return length
}

// follow returns the points between a and b, along the straight way in plan, on the exact surface but not
// below the lower of both ends.
func (t *tracer) follow(a, b geom.Vec3) []geom.Vec3 {
	unit := func(p geom.Vec3) (x, y int) { return int(math.Round(p.X * t.inv)), int(math.Round(p.Y * t.inv)) }
	ax, ay := unit(a)
	bx, by := unit(b)
	d := math.Hypot(float64(bx-ax), float64(by-ay)) * t.unit
	floor := min(a.Z, b.Z)
	n := int(d/t.sampleStep()) + 1
	t.t = append(t.t[:0], sample{x: ax, y: ay, z: a.Z})
	for k := 1; k < n; k++ {
		u := float64(k) / float64(n)
		t.t = t.add(t.t, ax+int(math.Round(float64(float64(bx-ax)*u))), ay+int(math.Round(float64(float64(by-ay)*u))), false)
	}
	t.t = append(t.t, sample{x: bx, y: by, s: d, z: b.Z})
	t.r = append(t.r[:0], t.t[0])
	for i := 1; i < len(t.t); i++ {
		t.halve(t.t[i-1], t.t[i])
	}
	t.t, t.r = t.r, t.t
	last := len(t.t) - 1
	t.lo, t.hi = t.lo[:0], t.hi[:0]
	for i := range t.t {
		q := &t.t[i]
		if i > 0 && i < last {
			q.z = max(q.z, floor) + t.p.Tolerance/4 + float64(t.aside(*q)*t.unit)
		}
		t.lo, t.hi = append(t.lo, q.z), append(t.hi, q.z+float64(highWay*t.p.Tolerance)+t.unit)
	}
	t.lo[last], t.hi[last] = b.Z-t.unit/2, b.Z+t.unit/2
	return t.way(int(math.Round(a.Z*t.inv)), b)
}

// way writes the inner points of what follow has sampled. At a wall it goes up first, then over.
func (t *tracer) way(z int, b geom.Vec3) []geom.Vec3 {
	pts := []geom.Vec3{t.point(0, z)}
	last := len(t.t) - 1
	for a := 0; a < last; {
		if t.jump(t.t[a], t.t[a+1]) {
			q := b
			if a+1 < last {
				z = t.up(t.t[a+1].z)
				q = t.point(a+1, z)
			}
			pts = append(pts, knee(pts[len(pts)-1], q), q)
			a++
			continue
		}
		e := a + 1
		for e < last && !t.jump(t.t[e], t.t[e+1]) {
			e++
		}
		pts, z = t.simplify(pts, a, e, z)
		a = e
	}
	if len(pts) > 1 && pts[len(pts)-1].XY() == b.XY() {
		pts = pts[:len(pts)-1]
	}
	return pts[1:]
}
