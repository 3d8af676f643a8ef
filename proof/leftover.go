package proof

import (
	"context"
	"math"
	"sync"
	"sync/atomic"

	"barwise/geom"
)

// What is left on the surface is certified patch by patch: no point of a patch is farther from the
// sweep of one given move than the farthest corner is, for any move. Moves not looked at could only
// make it less. Patches are halved until they are in tolerance or small.

const (
	// areaUnit is the grain that areas are summed in, mm²: whole numbers add up alike in any order.
	areaUnit = 1e-9
	// histStep is the width of the bins that percentiles come from, mm.
	histStep   = 2e-5
	histLen    = 20000
	coarseStep = 0.01 // beyond histStep·histLen
	coarseLen  = 10000
	// deepLeft times the tolerance is what is left beyond which it does not matter whether the moves kept
	// for a patch are the nearest to each of its corners.
	deepLeft = 3
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
	seen    atomic.Uint64 // bits of the greatest sample so far, to save work only
	bounds  []float32     // of each triangle, in tree order: what is certified so far
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

// room makes room for n elements in an empty map.
func (m *Map) room(n int) {
	m.Point, m.Normal = make([][3]float32, 0, n), make([][3]float32, 0, n)
	m.Deviation, m.Area = make([]float32, 0, n), make([]float32, 0, n)
	m.Side, m.Class = make([]int16, 0, n), make([]Class, 0, n)
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
			if i > histLen {
				return min(float64(i-histLen)*coarseStep, t.max)
			}
			return min(float64(i)*histStep, t.max)
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
	if v < histStep*histLen {
		w.hist[min(int(v/histStep)+1, histLen)] += weight
		return
	}
	w.hist[histLen+int(min(v/coarseStep+1, coarseLen))] += weight
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

// enter takes a patch into account.
func (w *worker) enter(c *cands, p *patch, o *view, cls Class) {
	if cls == Unreachable || cls == Excluded {
		if cls == Unreachable && !math.IsInf(o.high, 0) && o.high > w.t.deepest {
			w.t.deepest, w.t.deepAt = o.high, p.centre()
		}
	} else {
		w.bound = max(w.bound, o.bound)
		for k, v := range o.val {
			known := w.t.max
			if !w.final {
				// what another stretch has found already cannot be the greatest: no need to settle it
				known = max(known, math.Nextafter(math.Float64frombits(w.seen.Load()), 0))
			}
			if v > known {
				if v = w.exact(p.p[k], known); v > known {
					w.t.max, w.t.where = v, p.p[k]
					w.saw(v)
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

// saw raises the greatest sample of all stretches so far.
func (s *surface) saw(v float64) {
	for old := s.seen.Load(); v > math.Float64frombits(old); old = s.seen.Load() {
		if s.seen.CompareAndSwap(old, math.Float64bits(v)) {
			return
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
		w.hist = make([]int64, histLen+coarseLen+1)
		lock.Lock()
		hists = append(hists, w.hist)
		lock.Unlock()
		return func(k int) error {
			w.t = &tally{}
			if !final {
				w.t.m.room(chunk + chunk/8)
			}
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
	total.hist = make([]int64, histLen+coarseLen+1)
	for _, h := range hists {
		for i, v := range h {
			total.hist[i] += v
		}
	}
	elements := 0
	for _, p := range parts {
		elements += len(p.m.Point)
	}
	total.m.room(elements)
	for k, p := range parts {
		total.join(p)
		parts[k] = nil
	}
	return nil
}
