package finish

import (
	"context"
	"math"

	"barwise/geom"
	"barwise/path"
	"barwise/plan/share"
)

// side makes one side's passes.
func (w *work) side(ctx context.Context, i int, creases []path.Pass) (*SideOutput, error) {
	v := w.set.Views[i]
	out := &SideOutput{Deg: v.Deg}
	w.set.Spread(v)
	w.shareFigures(v, &out.Figures)
	var st *standing
	if i < len(w.in.Seen) && w.in.Seen[i] != nil && w.in.Flutes > 0 {
		st = newStanding(w.in.Seen[i], w.in.Cutter)
	}
	var err error
	if out.Passes, err = w.relieve(ctx, v, st, &out.Figures); err != nil {
		return nil, err
	}
	out.Passes = append(out.Passes, creases...)
	if err := w.lay(ctx, v, st, out); err != nil {
		return nil, err
	}
	out.DeepestTip = math.Inf(1)
	for _, p := range out.Passes {
		out.Figures.Passes++
		out.Points += len(p.Points)
		out.CutLength += along(p.Points)
		for _, q := range p.Points {
			out.DeepestTip = min(out.DeepestTip, q.Z)
		}
	}
	if len(out.Passes) == 0 {
		out.DeepestTip = 0
	}
	v.Free()
	return out, nil
}

func (w *work) shareFigures(v *share.View, fig *Figures) {
	for j := 1; j+1 < v.Field.NY; j++ {
		for i := 1; i+1 < v.Field.NX; i++ {
			if v.State[j*v.Field.NX+i] != share.Own {
				continue
			}
			gx, gy := v.Field.Slope(i, j)
			sec := math.Sqrt(1 + float64(gx*gx) + float64(gy*gy))
			fig.ShareArea += float64(w.pitch*w.pitch) * sec
			fig.SteepestDeg = max(fig.SteepestDeg, math.Acos(1/sec)*180/math.Pi)
		}
	}
}

// farthest is how far apart, in plan, the ends of two segments may lie to be joined by following the
// surface, mm.
const farthest = 4.0

// liftCost is the length of cut that takes as long as a lift and return, mm.
const liftCost = 10.0

// link is a step from the end of one segment to the start of the next.
type link struct {
	seg     int
	reverse bool
	follow  bool // joined to the segment before it
}

// join orders segments into passes: from the end of one to the nearest end of another, following the
// surface where that is shorter than a lift.
func (w *work) join(ctx context.Context, v *share.View, segs []segment, st *standing, fig *Figures) ([]path.Pass, error) {
	fig.Lines += len(segs)
	order := w.order(ctx, v, segs, st)
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	ways := make([][]geom.Vec3, len(order))
	asked := make([]int, len(order))
	err := share.Rows(ctx, len(order), func(k int) {
		if order[k].follow {
			_, a := ends(segs, order[k-1])
			b, _ := ends(segs, order[k])
			ways[k], asked[k] = w.follow(v, a, b)
		}
	})
	if err != nil {
		return nil, err
	}
	var passes []path.Pass
	for k, l := range order {
		fig.ExactHeights += asked[k]
		if !l.follow {
			passes = append(passes, path.Pass{})
		}
		p := &passes[len(passes)-1]
		if l.follow {
			fig.WayLength += length(p.Points[len(p.Points)-1], ways[k], segs[l.seg], l.reverse)
		}
		p.Points = append(p.Points, ways[k]...)
		pts := segs[l.seg].pts
		for m := range pts {
			q := pts[m]
			if l.reverse {
				q = pts[len(pts)-1-m]
			}
			if n := len(p.Points); n > 0 && p.Points[n-1] == q {
				continue
			}
			p.Points = append(p.Points, q)
		}
	}
	return passes, nil
}

// length is that of the way from p over pts to the segment's start.
func length(p geom.Vec3, pts []geom.Vec3, s segment, reverse bool) float64 {
	l := 0.0
	for _, q := range pts {
		l += q.Sub(p).Len()
		p = q
	}
	if reverse {
		return l + s.pts[len(s.pts)-1].Sub(p).Len()
	}
	return l + s.pts[0].Sub(p).Len()
}

func ends(segs []segment, l link) (start, end geom.Vec3) {
	p := segs[l.seg].pts
	if l.reverse {
		return p[len(p)-1], p[0]
	}
	return p[0], p[len(p)-1]
}

// order chains segments greedily. A new chain starts with the first segment that is left, in the order
// they were cut: coarse lines first, from one edge to the other.
func (w *work) order(ctx context.Context, v *share.View, segs []segment, st *standing) []link {
	near := newNear(segs)
	out := make([]link, 0, len(segs))
	first := 0
	for len(out) < len(segs) && ctx.Err() == nil {
		for near.used[first] {
			first++
		}
		// down a tall wall rather than up: its foot is then reached by the cut itself and not by a plunge
		a, b := ends(segs, link{seg: first})
		l := link{seg: first, reverse: !segs[first].oneWay && w.tallBeside(v, a) && !w.tallBeside(v, b)}
		for {
			near.use(l.seg)
			out = append(out, l)
			if st != nil {
				segs[l.seg].pts = w.overStock(st, segs[l.seg].pts, l.reverse)
			}
			_, end := ends(segs, l)
			next, ok := near.nearest(end, func(q geom.Vec3) float64 { return w.followCost(v, st, end, q) }, liftCost)
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
func (w *work) tallBeside(v *share.View, p geom.Vec3) bool {
	if w.in.Flutes <= 0 {
		return false
	}
	r := w.in.Cutter.R + w.pitch
	return float64(v.Field.MaxAround(p.X-r, p.X+r, p.Y-r, p.Y+r))-p.Z > w.in.Flutes
}

// followCost estimates the length of following the surface from a to b, on the sharing grid.
func (w *work) followCost(v *share.View, st *standing, a, b geom.Vec3) float64 {
	if st == nil && (w.tallBeside(v, a) || w.tallBeside(v, b)) {
		return math.Inf(1)
	}
	plan := b.XY().Sub(a.XY()).Len()
	n := int(plan/w.pitch) + 1
	floor := min(a.Z, b.Z)
	length, last := 0.0, a.Z
	for k := 1; k <= n; k++ {
		z := b.Z
		if k < n {
			p := a.Lerp(b, float64(k)/float64(n))
			i, j := v.Field.Nearest(p.XY())
			z = max(float64(v.Field.At(i, j)), floor)
		}
		if q := a.Lerp(b, float64(k)/float64(n)); st != nil && st.above(geom.Vec3{X: q.X, Y: q.Y, Z: z}) > w.in.Flutes {
			return math.Inf(1)
		}
		length += math.Hypot(plan/float64(n), z-last)
		last = z
	}
	return length
}

// along is the length of a polyline.
func along(pts []geom.Vec3) float64 {
	l := 0.0
	for k := 1; k < len(pts); k++ {
		l += pts[k].Sub(pts[k-1]).Len()
	}
	return l
}

// follow returns the points between a and b, along the straight way in plan, on the exact surface but
// not below the lower of both ends: this is a way, so it stands a little above what it need not touch.
func (w *work) follow(v *share.View, a, b geom.Vec3) (pts []geom.Vec3, asked int) {
	plan := b.XY().Sub(a.XY())
	d := plan.Len()
	n := int(d/(2*float64(w.sampleStep())*w.unit)) + 1
	if n == 1 && !w.steepWay(d, b.Z-a.Z) {
		return nil, 0
	}
	floor := min(a.Z, b.Z)
	way := make([]geom.Vec3, n+1)
	t := trace{}
	for k := range way {
		way[k] = a
		if k == n {
			way[k] = b
		} else if k > 0 {
			q := a.XY().Add(plan.Mul(float64(k) / float64(n)))
			q = geom.Vec2{X: math.Round(q.X*w.inv) / w.inv, Y: math.Round(q.Y*w.inv) / w.inv}
			z, _ := w.set.Height(v, q.X, q.Y)
			way[k] = geom.Vec3{X: q.X, Y: q.Y, Z: float64(w.up(max(z, floor)+w.p.Tolerance/4)) / w.inv}
			asked++
		}
		t.add(k*2*w.sampleStep(), way[k].Z, false)
	}
	return w.thin(way, &t), asked
}

// steepWay reports whether the surface could rise above a step of d in plan and dz upright.
func (w *work) steepWay(d, dz float64) bool {
	return float64(d*d)+float64(dz*dz) > mostSag*8*w.round()*w.p.Tolerance
}

// highWay is how far above its samples a way may run, in tolerances: it need not touch.
const highWay = 5

// thin returns what is needed of the inner points of a way. At a steep step it goes up first, then
// over at the height of the higher, which nothing between exceeds.
func (w *work) thin(way []geom.Vec3, t *trace) []geom.Vec3 {
	var pts []geom.Vec3
	lo, hi := make([]float64, t.len()), make([]float64, t.len())
	for k, z := range t.z {
		lo[k], hi[k] = z, z+float64(highWay*w.p.Tolerance)
	}
	hi[0], hi[len(hi)-1] = lo[0], lo[len(lo)-1]
	for a := 0; a < len(way); {
		b := a + 1
		for b < len(way) && !w.steepWay(way[b].XY().Sub(way[b-1].XY()).Len(), way[b].Z-way[b-1].Z) {
			b++
		}
		piece := trace{t.u[a:b], t.z[a:b], t.air[a:b]}
		at, z := w.simplify(&piece, lo[a:b], hi[a:b])
		for k, i := range at {
			q := way[a+i]
			q.Z = float64(z[k]) / w.inv
			if k == 0 && a > 0 {
				e := knee(pts[len(pts)-1], q)
				e.Z = float64(w.up(e.Z+w.p.Tolerance/4)) / w.inv
				pts = append(pts, e)
			}
			pts = append(pts, q)
		}
		a = b
	}
	return pts[1 : len(pts)-1]
}
