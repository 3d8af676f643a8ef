package proof

import (
	"context"
	"math"
	"sync"

	"barwise/geom"
)

// What is left on the surface is certified patch by patch: no point of a patch is farther from the
// sweep of one given move than the farthest corner is, for any move. Moves not looked at could only
// make it less. Patches are halved until they are in tolerance or small.

const (
	// areaUnit is the grain that areas are summed in, mm²: whole numbers add up alike in any order.
	areaUnit = 1e-9
	// histStep is the width of the bins that percentiles come from, mm.
	histStep = 2e-5
	histLen  = 20000
	// deepLeft is what is left, mm, beyond which it does not matter whether the moves kept for a patch are
	// the nearest to each of its corners.
	deepLeft = 0.1
	// sureFactor and sureExtra say how close the bound is brought to the greatest sample.
	sureFactor, sureExtra = 1.1, 3e-4
)

// surface judges what is left on the target.
type surface struct {
	set     *Setup
	tree    *tree
	turns   []geom.Turn
	bySide  [][]*sweeps // balls first, then the last program's first
	balls   []bool      // a ball works on the side
	reach   *reach
	spacing float64
	finest  float64 // half a bin
	base0   float64 // longest edge of a patch to begin with
	chunk   int
	bounds  []float32 // of each triangle, in tree order: what is certified so far
}

// tally is what one stretch of triangles shows. The weights of samples by their value are kept apart,
// one array a worker: whole numbers, so it does not matter who met which.
type tally struct {
	hist    []int64 // of the whole only
	samples int64
	area    [5]int64 // by Class
	max     float64
	where   geom.Vec3
	deepest float64 // unreachable
	deepAt  geom.Vec3
	bound   float64
	m       Map
}

func (t *tally) join(o *tally) {
	t.samples += o.samples
	for i, v := range o.area {
		t.area[i] += v
	}
	if o.max > t.max {
		t.max, t.where = o.max, o.where
	}
	if o.deepest > t.deepest {
		t.deepest, t.deepAt = o.deepest, o.deepAt
	}
	t.bound = max(t.bound, o.bound)
	t.m.Point = append(t.m.Point, o.m.Point...)
	t.m.Normal = append(t.m.Normal, o.m.Normal...)
	t.m.Deviation = append(t.m.Deviation, o.m.Deviation...)
	t.m.Area = append(t.m.Area, o.m.Area...)
	t.m.Side = append(t.m.Side, o.m.Side...)
	t.m.Class = append(t.m.Class, o.m.Class...)
}

// percentile returns the value, mm, that share of the weight does not exceed: the upper end of its bin.
func (t *tally) percentile(share float64) float64 {
	sum := int64(0)
	for _, v := range t.hist {
		sum += v
	}
	want := int64(math.Ceil(share * float64(sum)))
	acc := int64(0)
	for i, v := range t.hist {
		acc += v
		if acc >= want && acc > 0 {
			if i == 0 {
				return 0
			}
			if i == histLen {
				return t.max
			}
			return float64(i) * histStep
		}
	}
	return 0
}

func (w *worker) sample(v float64, weight int64) {
	w.t.samples++
	if v <= 0 {
		w.hist[0] += weight
		return
	}
	w.hist[int(min(v/histStep+1, histLen))] += weight
}

// worker judges triangles one after another.
type worker struct {
	*surface
	ctx   context.Context
	goal  float64 // patches certified to this are done with
	final bool    // second round: bounds only
	t     *tally
	hist  []int64
	reach *reacher
	n     geom.Vec3
	order []int // sides, the one that faces the patch most first
	cos   []float64
	steps int
	// of the element of the map at hand
	dev  float64
	side int16
	cls  [5]float64
	// bound of the triangle at hand
	bound float64
	stop  bool
}

func (w *worker) triangle(i int) {
	tr := w.tree.tris[i]
	p := [3]geom.Vec3{w.tree.verts[tr[0]], w.tree.verts[tr[1]], w.tree.verts[tr[2]]}
	n := p[1].Sub(p[0]).Cross(p[2].Sub(p[0]))
	// less than a millionth as high as it is long: its points are its neighbours' too, its normal is noise
	l2 := max(p[1].Sub(p[0]).Dot(p[1].Sub(p[0])), p[2].Sub(p[1]).Dot(p[2].Sub(p[1])), p[0].Sub(p[2]).Dot(p[0].Sub(p[2])))
	if n.Dot(n) <= 1e-12*float64(l2*l2) {
		w.bounds[i] = 0
		return
	}
	w.n = n.Unit()
	w.order = w.order[:0]
	for s, t := range w.turns {
		w.cos[s] = w.n.Dot(t.Facing())
		w.order = append(w.order, s)
	}
	for a := 1; a < len(w.order); a++ {
		for b := a; b > 0 && w.cos[w.order[b]] > w.cos[w.order[b-1]]; b-- {
			w.order[b], w.order[b-1] = w.order[b-1], w.order[b]
		}
	}
	w.bound = 0
	w.base(p)
	w.bounds[i] = above(w.bound)
}

// base splits a triangle until its edges are no longer than the spacing, and judges the parts.
func (w *worker) base(p [3]geom.Vec3) {
	if w.stop {
		return
	}
	pick, best := 0, 0.0
	for k := range 3 {
		if l := p[(k+1)%3].Sub(p[k]).Len(); l > best {
			pick, best = k, l
		}
	}
	if best > w.base0 {
		i, j := pick, (pick+1)%3
		a, b := p, p
		a[j] = p[i].Lerp(p[j], 0.5)
		b[i] = a[j]
		w.base(a)
		w.base(b)
		return
	}
	if w.steps++; w.steps&63 == 0 && w.ctx.Err() != nil {
		w.stop = true
		return
	}
	w.element(p)
}

// element judges one patch and, in the first round, enters it in the map.
func (w *worker) element(p [3]geom.Vec3) {
	pa := patch{p: p}
	w.dev, w.side, w.cls = math.Inf(-1), -1, [5]float64{}
	if w.kept(&p) {
		w.done(&pa, Excluded)
		w.dev = 0
	} else {
		c := cands{size: pa.longest()}
		o := w.narrow(&c, &pa)
		w.refine(&c, &pa, o)
	}
	if w.final {
		return
	}
	c, m := pa.centre(), &w.t.m
	m.Point = append(m.Point, [3]float32{float32(c.X), float32(c.Y), float32(c.Z)})
	m.Normal = append(m.Normal, [3]float32{float32(w.n.X), float32(w.n.Y), float32(w.n.Z)})
	m.Deviation = append(m.Deviation, float32(w.dev))
	m.Area = append(m.Area, float32(pa.area()))
	m.Side = append(m.Side, w.side)
	cls := InTolerance
	for k, a := range w.cls {
		if a > w.cls[cls] {
			cls = Class(k)
		}
	}
	m.Class = append(m.Class, cls)
}

// kept reports whether the set-up says not to judge a patch.
func (w *worker) kept(p *[3]geom.Vec3) bool {
	const slack = 1e-3
	lo, hi := min(p[0].Y, p[1].Y, p[2].Y), max(p[0].Y, p[1].Y, p[2].Y)
	r := 0.0
	for _, q := range p {
		r = max(r, math.Hypot(q.X, q.Z))
	}
	k := &w.set.Keep
	if hi <= w.set.StubY+slack {
		return true
	}
	for _, y := range k.Y {
		if lo >= y[0]-slack && hi <= y[1]+slack {
			return true
		}
	}
	for _, s := range k.Spigots {
		if lo >= s.Y0-slack && hi <= s.Y1+slack && r <= s.Radius+slack {
			return true
		}
	}
	return false
}

// narrow looks at the moves about where the cutter would touch the patch, side by side, until the patch
// is certified.
func (w *worker) narrow(c *cands, p *patch) view {
	o := view{bound: math.Inf(1), low: math.Inf(1), high: math.Inf(1)}
	for _, s := range w.order {
		if w.cos[s] < 0.02 && c.n > 0 {
			break
		}
		for _, sw := range w.bySide[s] {
			if w.balls[s] && !sw.f.ball {
				continue // roughing by another shape: when the patch is looked at again
			}
			c.gather(sw, &p.p, w.n, sw.grid.DX/2)
		}
		if c.n == 0 {
			continue
		}
		for k := range 3 {
			c.corner(p, k)
		}
		if o = c.look(p); o.bound <= w.goal {
			break
		}
	}
	return o
}

// widen looks at every move that can reach the patch from any side that faces it at all.
func (w *worker) widen(c *cands, p *patch) view {
	c.wide = true
	for _, s := range w.order {
		if w.cos[s] < -0.2 && c.n > 0 {
			break
		}
		for _, sw := range w.bySide[s] {
			c.gather(sw, &p.p, geom.Vec3{}, 1.05*sw.f.R)
		}
	}
	if c.n == 0 {
		for _, s := range w.order {
			for _, sw := range w.bySide[s] {
				c.fallback(sw, &p.p)
			}
		}
		if c.n == 0 { // nothing is cut at all: what is left is less than the bar is long
			d := w.set.Bar.Length + w.set.Bar.Width + w.set.Bar.Height
			return view{bound: d, low: d, high: d, val: [3]float64{d, d, d}}
		}
	}
	for k := range 3 {
		c.corner(p, k)
	}
	return c.look(p)
}

// farther looks at the moves that may come nearer than the best so far though they cannot touch.
func (w *worker) farther(c *cands, p *patch) view {
	c.far = true
	for _, s := range w.order {
		for _, sw := range w.bySide[s] {
			if c.n > 0 {
				c.gather(sw, &p.p, geom.Vec3{}, sw.f.R+min(max(c.list[0].d, 0), 4*sw.f.R))
			}
		}
	}
	for k := range 3 {
		c.corner(p, k)
	}
	return c.look(p)
}

// target is what a patch must be certified to: in the second round, near the greatest sample known.
func (w *worker) target() float64 {
	if w.final {
		return max(w.goal, float64(w.t.max*sureFactor)+sureExtra)
	}
	return w.goal
}

// sharpen replaces the corners' values by those of the moves nearest to each corner itself.
func (w *worker) sharpen(p *patch, o *view) {
	for k := range 3 {
		o.val[k] = min(o.val[k], w.exact(p.p[k], 0))
	}
	o.low = min(o.val[0], o.val[1], o.val[2])
	o.high = max(o.val[0], o.val[1], o.val[2])
}

// exact is what is left at a single point, or anything not above enough.
func (w *worker) exact(q geom.Vec3, enough float64) float64 {
	pa := patch{p: [3]geom.Vec3{q, q, q}}
	var c cands
	for _, s := range w.order {
		if w.cos[s] < 0.02 && c.n > 0 {
			break
		}
		for _, sw := range w.bySide[s] {
			c.gather(sw, &pa.p, w.n, sw.grid.DX/2)
		}
		if c.n > 0 && c.list[0].d <= enough {
			return c.list[0].d
		}
	}
	o := w.widen(&c, &pa)
	if o.low > 0 && c.n > 0 {
		o = w.farther(&c, &pa)
	}
	return o.low
}

// refine halves a patch until its parts are certified or too small.
func (w *worker) refine(c *cands, p *patch, o view) {
	if w.stop {
		return
	}
	if o.bound <= w.target() {
		w.enter(c, p, &o, InTolerance)
		return
	}
	if l := p.longest(); l < 0.6*c.size && c.dropped {
		// the moves kept are those about a larger patch
		cn := cands{wide: c.wide, far: c.far, size: l}
		if c.wide {
			o = w.widen(&cn, p)
		} else {
			o = w.narrow(&cn, p)
		}
		if c.far {
			o = w.farther(&cn, p)
		}
		w.refine(&cn, p, o)
		return
	}
	tol := w.set.Tolerance
	l := p.longest()
	if !c.wide && (o.high > tol && l <= w.spacing/2 || o.low > tol || l < w.spacing/8 || c.n == 0) {
		// before anything is said against it
		cw := *c
		o = w.widen(&cw, p)
		w.refine(&cw, p, o)
		return
	}
	if o.high > tol && o.low <= tol && c.wide && l <= w.spacing/2 {
		// at the rim of what cannot be reached there is no use in halving
		if cls := w.reach.class(p.centre(), w.n); cls != Left {
			w.enter(c, p, &o, cls)
			return
		}
	}
	if o.low > tol && c.wide {
		cls := w.reach.class(p.centre(), w.n)
		if cls == Left && w.final && !c.far {
			cf := *c
			o = w.farther(&cf, p)
			w.refine(&cf, p, o)
			return
		}
		if cls == Left && o.low < deepLeft {
			w.sharpen(p, &o)
		}
		if cls != Left || o.low > tol && !w.final {
			w.enter(c, p, &o, cls)
			return
		}
	}
	floor := min(w.spacing/64, w.finest/8)
	if mixed := o.high > tol && o.low <= tol; mixed && !w.final {
		floor = w.spacing / 16
	}
	// halving a needle's mixed edges need not make it shorter: the longest edge then
	even := o.high > tol && o.low <= tol && !w.final || p.area() < 0.05*floor*floor
	a, b, edge := c.halve(p, &o, even)
	if edge/2 < floor {
		if !c.wide {
			cw := *c
			o = w.widen(&cw, p)
			w.refine(&cw, p, o)
			return
		}
		w.small(c, p, &o)
		return
	}
	if w.steps++; w.steps&255 == 0 && w.ctx.Err() != nil {
		w.stop = true
		return
	}
	w.refine(c, &a, c.look(&a))
	w.refine(c, &b, c.look(&b))
}

// small settles a patch that is too small to halve and still not certified.
func (w *worker) small(c *cands, p *patch, o *view) {
	switch cls := w.reach.class(p.centre(), w.n); {
	case cls == Excluded || cls == Unreachable && o.high > w.set.Tolerance:
		w.enter(c, p, o, cls)
	case cls == Unreachable:
		w.done(p, Uncertain) // at the rim of what cannot be reached: no bound is claimed for it
	case (o.val[0]+o.val[1]+o.val[2])/3 > w.set.Tolerance:
		w.enter(c, p, o, Left)
	default:
		w.enter(c, p, o, Uncertain)
	}
}

// enter takes a patch into account.
func (w *worker) enter(c *cands, p *patch, o *view, cls Class) {
	if cls == Unreachable || cls == Excluded {
		if cls == Unreachable && !math.IsInf(o.high, 0) && o.high > w.t.deepest {
			w.t.deepest, w.t.deepAt = o.high, p.centre()
		}
	} else {
		w.bound = max(w.bound, o.bound)
		for k, v := range o.val {
			if v > w.t.max {
				if v = w.exact(p.p[k], w.t.max); v > w.t.max {
					w.t.max, w.t.where = v, p.p[k]
				}
			}
		}
	}
	if w.final {
		return
	}
	w.done(p, cls)
	weight := int64(math.Round(p.area() / 3 / areaUnit))
	for k, v := range o.val {
		if cls != Unreachable && cls != Excluded {
			w.sample(v, weight)
		}
		if v > w.dev {
			w.dev = v
			if c.n > 0 {
				w.side = int16(c.list[o.best[k]].w.side)
			}
		}
	}
}

func (w *worker) done(p *patch, cls Class) {
	if w.final {
		return
	}
	a := p.area()
	w.t.area[cls] += int64(math.Round(a / areaUnit))
	w.cls[cls] += a
}

// index sorts the moves of each cutter on each side into bins.
func (s *surface) index(ctx context.Context, chains []*chain, solids []*solid) error {
	type job struct {
		side   int
		chains []*chain
	}
	var jobs []job
	for k := len(chains) - 1; k >= 0; k-- {
		c := chains[k]
		found := false
		for i := range jobs {
			if jobs[i].side == c.side && jobs[i].chains[0].prog.Cutter.Profile == c.prog.Cutter.Profile {
				jobs[i].chains, found = append(jobs[i].chains, c), true
			}
		}
		if !found {
			jobs = append(jobs, job{c.side, []*chain{c}})
		}
	}
	made := make([]*sweeps, len(jobs))
	err := inParallel(ctx, len(jobs), func() func(int) error {
		return func(k int) error {
			j := &jobs[k]
			made[k] = newSweeps(j.side, s.turns[j.side], j.chains[0].prog.Cutter.Profile, j.chains, solids[j.side].box)
			return nil
		}
	})
	if err != nil {
		return err
	}
	s.finest = math.Inf(1)
	for _, m := range made {
		s.finest = min(s.finest, m.grid.DX/2)
	}
	// a patch lies under as many passes as moves are kept for it, or fewer
	s.base0 = min(s.spacing, max(4*s.finest, s.spacing/8))
	s.balls = make([]bool, len(s.bySide))
	for _, ball := range [2]bool{true, false} {
		for k, m := range made {
			if m.f.ball == ball {
				s.bySide[jobs[k].side] = append(s.bySide[jobs[k].side], m)
				s.balls[jobs[k].side] = s.balls[jobs[k].side] || ball
			}
		}
	}
	return nil
}

// judge goes over all triangles twice: first to the tolerance, then only where the bound is not yet
// close to the greatest sample.
func (s *surface) judge(ctx context.Context, step func(n int)) (*tally, error) {
	n := len(s.tree.tris)
	s.bounds = make([]float32, n)
	s.chunk = min(max(n/512, 1), 1024)
	total := &tally{}
	if err := s.round(ctx, s.set.Tolerance, false, nil, total, step); err != nil {
		return nil, err
	}
	goal := float64(total.max*sureFactor) + sureExtra
	var todo []int32
	for i, b := range s.bounds {
		if float64(b) > goal {
			todo = append(todo, int32(i))
		}
	}
	again := &tally{}
	if len(todo) > 0 {
		if err := s.round(ctx, goal, true, todo, again, func(int) {}); err != nil {
			return nil, err
		}
	}
	if again.max > total.max {
		total.max, total.where = again.max, again.where
	}
	for _, b := range s.bounds {
		total.bound = max(total.bound, float64(b))
	}
	return total, nil
}

// round judges all triangles, or those of todo, in chunks joined in order.
func (s *surface) round(ctx context.Context, goal float64, final bool, todo []int32, total *tally, step func(int)) error {
	n := len(s.tree.tris)
	chunk := s.chunk
	if todo != nil {
		n = len(todo)
		chunk = min(max(n/512, 1), 256)
	}
	parts := make([]*tally, (n+chunk-1)/chunk)
	var hists [][]int64
	var lock sync.Mutex
	err := inParallel(ctx, len(parts), func() func(int) error {
		w := &worker{surface: s, ctx: ctx, goal: goal, final: final, reach: s.reach.worker(), cos: make([]float64, len(s.turns))}
		w.hist = make([]int64, histLen+1)
		lock.Lock()
		hists = append(hists, w.hist)
		lock.Unlock()
		return func(k int) error {
			w.t = &tally{}
			for i := k * chunk; i < min(n, (k+1)*chunk) && !w.stop; i++ {
				if todo != nil {
					w.triangle(int(todo[i]))
				} else {
					w.triangle(i)
				}
			}
			parts[k] = w.t
			step(min(n, (k+1)*chunk) - k*chunk)
			return ctx.Err()
		}
	})
	if err != nil {
		return err
	}
	total.hist = make([]int64, histLen+1)
	for _, h := range hists {
		for i, v := range h {
			total.hist[i] += v
		}
	}
	for _, p := range parts {
		total.join(p)
	}
	return nil
}
