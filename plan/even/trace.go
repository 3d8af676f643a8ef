package even

import (
	"context"
	"math"
	"slices"
	"sync/atomic"

	"barwise/geom"
	"barwise/path"
	"barwise/plan/cl"
	"barwise/plan/share"
)

const (
	// mostSag is how far, in tolerances, the surface may rise above the chord between two exact heights,
	// square to it; lowest how far below an exact height a chord may pass. Together they are the half that
	// Plan promises.
	mostSag = 0.4
	lowest  = 0.1
	// steepWindow bounds how far a tolerance square to the surface may be stretched upright.
	steepWindow = 10
	// stray is how far a line may be moved sideways to make it straighter, in stepovers on the level.
	stray = 0.03
)

// sample is a place on a line whose exact height is known: x and y in units of the last decimal.
type sample struct {
	x, y int
	s    float64 // mm along the line in plan
	z    float64
	air  bool // held up by the reach of the cutter
	bend bool // a corner of the line in plan
}

// tracer puts lines on the exact surface. It is not safe for concurrent use.
type tracer struct {
	*work
	probe  *cl.Probe
	asked  int
	t, r   []sample
	lo, hi []float64
}

// trace puts all lines on the surface, each as a pass; a line of less than two places is none.
func (w *work) trace(ctx context.Context, lines []line) ([]path.Pass, error) {
	found := make([][]geom.Vec3, len(lines))
	var asked atomic.Int64
	err := share.Rows(ctx, len(lines), func(k int) {
		t := &tracer{work: w, probe: w.v.Index.Probe(w.set.Prof)}
		found[k] = t.run(lines[k])
		asked.Add(int64(t.asked))
	})
	if err != nil {
		return nil, err
	}
	var out []path.Pass
	for _, pts := range found {
		if pts != nil {
			out = append(out, path.Pass{Points: slices.Compact(pts)})
		}
	}
	w.out.ExactHeights += int(asked.Load())
	return out, nil
}

// sampleStep is the spacing of samples, mm: so fine that on ground sloped by 30° the surface does not rise
// above a chord by more than mostSag, p²/(8 R cos²θ).
func (w *work) sampleStep() float64 {
	return math.Sqrt(mostSag * 8 * w.round * w.p.Tolerance * 0.75)
}

// exact asks the height at a representable place.
func (t *tracer) exact(x, y int) (z float64, air bool) {
	t.asked++
	a, b := float64(x)/t.inv, float64(y)/t.inv
	low := t.limit(a, b)
	if z = t.probe.Height(a, b) - t.set.Rise; z <= low {
		return low, true
	}
	return z, false
}

// limit is Set.Limit, with all nodes counted that a move to the next sample could come near.
func (w *work) limit(x, y float64) float64 {
	f := w.v.Floor
	if f == nil {
		return w.v.ZMin
	}
	near := max(w.set.Near, w.sampleStep()/2)
	dx, dy := f.DX/2+near, f.DY/2+near
	return max(w.v.ZMin, float64(f.MaxAround(x-dx, x+dx, y-dy, y+dy)))
}

// run samples a line and writes it in as few points as the tolerance allows.
func (t *tracer) run(l line) []geom.Vec3 {
	t.t = t.t[:0]
	corners := t.corners(l)
	for k, q := range corners {
		if k == 0 {
			t.t = t.add(t.t, q[0], q[1], true)
			continue
		}
		p := corners[k-1]
		dx, dy := float64(q[0]-p[0]), float64(q[1]-p[1])
		n := int(math.Hypot(dx, dy)*t.unit/t.sampleStep()) + 1
		for m := 1; m < n; m++ {
			u := float64(m) / float64(n)
			t.t = t.add(t.t, p[0]+int(math.Round(float64(dx*u))), p[1]+int(math.Round(float64(dy*u))), false)
		}
		t.t = t.add(t.t, q[0], q[1], true)
	}
	if len(t.t) < 2 {
		return nil
	}
	t.refine()
	return t.emit()
}

func (t *tracer) add(to []sample, x, y int, bend bool) []sample {
	s := 0.0
	if n := len(to); n > 0 {
		p := to[n-1]
		if p.x == x && p.y == y {
			to[n-1].bend = p.bend || bend
			return to
		}
		s = p.s + math.Hypot(float64(x-p.x), float64(y-p.y))*t.unit
	}
	z, air := t.exact(x, y)
	return append(to, sample{x: x, y: y, s: s, z: z, air: air, bend: bend})
}

// corners returns the fewest corners, greedily, of a polyline in plan that strays from the line's columns
// by no more than stray, in units.
func (t *tracer) corners(l line) [][2]int {
	unit := func(c float64) int { return int(math.Round(c * t.inv)) }
	at := func(k int) (c, r int) { return unit(l.c[k]), unit(t.g.row(l.j + k)) }
	xy := func(c, r int) [2]int {
		if t.g.swap {
			return [2]int{r, c}
		}
		return [2]int{c, r}
	}
	tol := max(stray*t.level*t.inv, 0.5)
	c, r := at(0)
	out := [][2]int{xy(c, r)}
	for k := 0; k+1 < len(l.c); {
		low, high := math.Inf(-1), math.Inf(1)
		end, endC := k+1, 0
		for m := k + 1; m < len(l.c); m++ {
			cm, rm := l.c[m]*t.inv, unit(t.g.row(l.j+m))
			d := float64(rm - r)
			low, high = max(low, (cm-tol-float64(c))/d), min(high, (cm+tol-float64(c))/d)
			if low > high {
				break
			}
			v := int(math.Round(min(max(cm, float64(c)+float64(low*d)), float64(c)+float64(high*d))))
			end, endC = m, v
		}
		k, c = end, endC
		_, r = at(k)
		out = append(out, xy(c, r))
	}
	return out
}

// refine adds exact heights where the chord between two samples could miss the surface: first wherever it
// is so steep that a ball over a point could rise above it by more than mostSag, down to the last decimal,
// which is how a wall is met; then where the slope changes, so that the chord would stand too high over a
// crease.
func (t *tracer) refine() {
	t.r = append(t.r[:0], t.t[0])
	for i := 1; i < len(t.t); i++ {
		t.halve(t.t[i-1], t.t[i])
	}
	t.t, t.r = t.r, t.t
	for range 3 {
		if !t.bent() {
			break
		}
	}
}

// mid is the sample half way between two; ok is false where there is none.
func (t *tracer) mid(a, b sample) (m sample, ok bool) {
	if max(abs(a.x-b.x), abs(a.y-b.y)) <= 1 {
		return m, false
	}
	m.x, m.y, m.s = a.x+(b.x-a.x)/2, a.y+(b.y-a.y)/2, (a.s+b.s)/2
	m.z, m.air = t.exact(m.x, m.y)
	return m, true
}

func abs(x int) int { return max(x, -x) }

func (t *tracer) halve(a, b sample) {
	d, dz := b.s-a.s, b.z-a.z
	if !(a.air && b.air) && float64(d*d)+float64(dz*dz) > mostSag*8*t.round*t.p.Tolerance {
		if m, ok := t.mid(a, b); ok {
			t.halve(a, m)
			t.halve(m, b)
			return
		}
	}
	t.r = append(t.r, b)
}

// bent halves the cells beside which the slope grows too much. Over a cell of width h a change of slope Δ
// means h·Δ/8 upright between chord and a smooth curve.
func (t *tracer) bent() bool {
	in, n := t.t, len(t.t)
	slope := func(i int) float64 { return (in[i+1].z - in[i].z) / (in[i+1].s - in[i].s) }
	t.r = append(t.r[:0], in[0])
	added := false
	for i := 0; i+1 < n; i++ {
		if !(in[i].air && in[i+1].air) && !t.jump(in[i], in[i+1]) {
			m, grows := slope(i), 0.0
			if i > 0 && !t.jump(in[i-1], in[i]) {
				grows = max(grows, m-slope(i-1))
			}
			if i+2 < n && !t.jump(in[i+1], in[i+2]) {
				grows = max(grows, slope(i+1)-m)
			}
			if (in[i+1].s-in[i].s)/8/math.Sqrt(1+float64(m*m))*grows > 0.5*t.p.Tolerance {
				if q, ok := t.mid(in[i], in[i+1]); ok {
					t.r = append(t.r, q)
					added = true
				}
			}
		}
		t.r = append(t.r, in[i+1])
	}
	t.t, t.r = t.r, t.t
	return added
}

// jump reports whether a wall stands between two samples, known to the last decimal.
func (t *tracer) jump(a, b sample) bool {
	return max(abs(a.x-b.x), abs(a.y-b.y)) <= 1 && math.Abs(a.z-b.z) > steepWindow*t.unit
}

// windows sets the heights between which the path may pass at every sample: from lowest below the exact
// height to the tolerance above, square to the surface along the line. A sample that is skipped lies up to
// a unit aside of the chord, so there the path stands higher by what the ground may rise in a unit. A
// window always holds a representable height.
func (t *tracer) windows() {
	t.lo, t.hi = t.lo[:0], t.hi[:0]
	n := len(t.t)
	slope := func(a, b sample) float64 { return math.Abs(b.z-a.z) / (b.s - a.s) }
	for i, q := range t.t {
		m := math.Inf(1)
		if i > 0 {
			m = slope(t.t[i-1], q)
		}
		if i+1 < n {
			m = min(m, slope(q, t.t[i+1]))
		}
		m = min(m, steepWindow)
		sec := math.Sqrt(1 + float64(m*m))
		l := q.z - float64(lowest*t.p.Tolerance*sec)
		h := q.z + float64(t.p.Tolerance*sec)
		if q.air {
			l, h = q.z, q.z+float64(20*t.p.Tolerance)
		}
		if !q.bend {
			l += float64(t.aside(q) * t.unit)
		}
		t.lo, t.hi = append(t.lo, l), append(t.hi, max(h, float64(t.up(l))/t.inv))
	}
}

// aside bounds the slope of the ground about a sample.
func (t *tracer) aside(q sample) float64 {
	f := t.v.Field
	i := min(max(int((float64(q.x)/t.inv-f.X0)/f.DX), 0), f.NX-2)
	j := min(max(int((float64(q.y)/t.inv-f.Y0)/f.DY), 0), f.NY-2)
	k := j*f.NX + i
	a, b, c, d := f.Z[k], f.Z[k+1], f.Z[k+f.NX], f.Z[k+f.NX+1]
	return min(float64(max(a, b, c, d)-min(a, b, c, d))/f.DX, wallRise)
}

// simplify appends to pts the fewest points, greedily, of a path from sample a to sample b that passes
// through every window; start is the height at a in units. It returns the height at b.
func (t *tracer) simplify(pts []geom.Vec3, a, b, start int) ([]geom.Vec3, int) {
	z := start
	for i := a; i < b; {
		z0 := float64(z) / t.inv
		low, high := math.Inf(-1), math.Inf(1)
		end, endZ := i+1, t.up(t.t[i+1].z)
		for k := i + 1; k <= b; k++ {
			dt := t.t[k].s - t.t[i].s
			lo, hi := t.lo[k], t.hi[k]
			low, high = max(low, (lo-z0)/dt), min(high, (hi-z0)/dt)
			if low > high {
				break
			}
			p, q := z0+float64(low*dt), z0+float64(high*dt)
			if v := t.up(max(p, min(t.t[k].z, q))); float64(v)/t.inv <= q+1e-10 {
				end, endZ = k, v
			} else if v = t.down(q); float64(v)/t.inv >= p-1e-10 {
				end, endZ = k, v
			}
		}
		i, z = end, endZ
		pts = append(pts, t.point(i, z))
	}
	return pts, z
}

func (t *tracer) point(i, z int) geom.Vec3 {
	return geom.Vec3{X: float64(t.t[i].x) / t.inv, Y: float64(t.t[i].y) / t.inv, Z: float64(z) / t.inv}
}

// emit writes the points between the corners of the line. At a wall the way goes level on its upper side
// and straight on its free side.
func (t *tracer) emit() []geom.Vec3 {
	t.windows()
	z := t.start(0)
	pts := []geom.Vec3{t.point(0, z)}
	for a := 0; a+1 < len(t.t); {
		if t.jump(t.t[a], t.t[a+1]) {
			z = t.start(a + 1)
			q := t.point(a+1, z)
			pts = append(pts, knee(pts[len(pts)-1], q), q)
			a++
			continue
		}
		b := a + 1
		for b+1 < len(t.t) && !t.t[b].bend && !t.jump(t.t[b], t.t[b+1]) {
			b++
		}
		pts, z = t.simplify(pts, a, b, z)
		a = b
	}
	return pts
}

// start is the height at which a path begins at sample i, in units.
func (t *tracer) start(i int) int {
	if z := t.up(t.t[i].z); float64(z)/t.inv <= t.hi[i] {
		return z
	}
	return t.up(t.lo[i])
}

// knee is the corner between p and q: over the lower of both, at the height of the higher.
func knee(p, q geom.Vec3) geom.Vec3 {
	if q.Z > p.Z {
		return geom.Vec3{X: p.X, Y: p.Y, Z: q.Z}
	}
	return geom.Vec3{X: q.X, Y: q.Y, Z: p.Z}
}
