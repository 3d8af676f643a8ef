package cusp

import (
	"cmp"
	"math"
	"slices"

	"barwise/geom"
	"barwise/geom/mesh"
)

// what became of a place.
type what uint8

const (
	judged what = iota
	untouched
	rim
	hollow
	skipped
)

type verdict struct {
	Place
	what what
}

// hit is the sweep nearest to a point of the surface.
type hit struct {
	d    float64
	k    int     // in the worker's list
	way  float64 // of the program, at the nearest part
	prog int16
}

// cand is a sweep that may be nearest about the place at hand.
type cand struct {
	d    float64 // at the place itself
	prog int16
	id   int32
}

// worker judges places one after another.
type worker struct {
	*scene
	list  []cand
	from  geom.Vec3   // the place that the list is for
	local []geom.Vec3 // a point in the frame of each program
	seen  [][]int32   // of each program's moves, the number of the place that last met it
	count int32
	sides [2]section
	round []int32 // triangles about the place
	mark  map[int32]bool
	near  []int32
	pos   [2]int // where in the sections was looked last
}

func (s *scene) worker() *worker {
	w := &worker{scene: s, mark: map[int32]bool{}}
	for _, p := range s.progs {
		w.seen = append(w.seen, make([]int32, len(p.list)))
	}
	w.local = make([]geom.Vec3, len(s.progs))
	return w
}

// spacing is how far apart on a plane the passes of a ball may be: h = R − √(R² − w²/4).
func spacing(r, h float64) float64 {
	if h >= r {
		return 2 * r
	}
	return 2 * math.Sqrt(float64(2*r*h)-float64(h*h))
}

// steps is in how many steps the spacing asked for is gone through.
const steps = 8

// place judges one place.
func (w *worker) place(s spot) verdict {
	v := verdict{Place: Place{Point: s.p}, what: skipped}
	if w.q.Skip != nil && w.q.Skip(s.p) {
		return v
	}
	v.what = untouched
	if len(w.progs) == 0 {
		return v
	}
	least := math.Inf(1)
	for _, p := range w.progs {
		least = min(least, spacing(p.round(), w.q.Cusp))
	}
	n := w.normal(s, least/2)
	v.Normal = n
	w.gather(s.p, n)
	if len(w.list) == 0 {
		return v
	}
	slices.SortFunc(w.list, func(a, b cand) int {
		return cmp.Or(cmp.Compare(a.d, b.d), cmp.Compare(a.prog, b.prog), cmp.Compare(a.id, b.id))
	})
	o := w.nearest(s.p)
	c := w.list[o.k]
	p := w.progs[c.prog]
	v.Program = int(c.prog)
	span := spacing(p.round(), w.q.Cusp)
	reach := w.reach(p.round())
	u := p.turn.ToPart(p.list[c.id].u)
	u = u.Sub(n.Mul(u.Dot(n)))
	if u.Len() < 1e-9 {
		u = perpendicular(n)
	}
	u = u.Unit()
	across := n.Cross(u)
	for k, dir := range [2]geom.Vec3{across, across.Mul(-1)} {
		w.walk(&w.sides[k], s.p, s.tri, u, dir, reach)
	}
	return w.judge(v, o, span, reach)
}

// round is the radius that a pass's ridges are judged by.
func (p *swept) round() float64 {
	if p.ball {
		return p.prof.R
	}
	return max(p.prof.Round, p.prof.R/4)
}

func (w *worker) reach(r float64) float64 {
	if w.q.Reach > 0 {
		return w.q.Reach
	}
	return 2.5 * spacing(r, w.q.Cusp)
}

func perpendicular(n geom.Vec3) geom.Vec3 {
	if math.Abs(n.X) < 0.6 {
		return n.Cross(geom.Vec3{X: 1}).Unit()
	}
	return n.Cross(geom.Vec3{Y: 1}).Unit()
}

// normal is the mean direction of the surface within r of a place, by area; of triangles connected to its own.
func (w *worker) normal(s spot, r float64) geom.Vec3 {
	w.about(s, r, 400)
	own := w.cross(s.tri).Unit()
	sum := geom.Vec3{}
	for _, t := range w.round {
		// a large triangle counts for no more than the part about the place
		if c := w.cross(t); c.Dot(own) > 0.5*c.Len() {
			if l := c.Len(); l > 2*r*r {
				c = c.Mul(2 * r * r / l)
			}
			sum = sum.Add(c)
		}
	}
	if sum.Dot(own) <= 0 || w.cross(s.tri).Len() > 2*r*r {
		return own
	}
	return sum.Unit()
}

// about lists the triangles connected to a spot's that come within r of it, most at most.
func (w *worker) about(s spot, r float64, most int) {
	clear(w.mark)
	w.round = append(w.round[:0], s.tri)
	w.mark[s.tri] = true
	for k := 0; k < len(w.round) && len(w.round) < most; k++ {
		for c := range int32(3) {
			h := 3*w.round[k] + c
			g := w.edges.Mate[h]
			if g == mesh.Border || w.mark[g/3] {
				continue
			}
			a, b := w.edges.Ends(h)
			if segment(s.p, w.m.Vertices[a], w.m.Vertices[b]) <= r {
				w.mark[g/3] = true
				w.round = append(w.round, g/3)
			}
		}
	}
}

func segment(p, a, b geom.Vec3) float64 {
	u := b.Sub(a)
	t, l := 0.0, u.Dot(u)
	if l > 0 {
		t = min(max(p.Sub(a).Dot(u)/l, 0), 1)
	}
	return p.Sub(a.Add(u.Mul(t))).Len()
}

// gather lists the sweeps that may be nearest to the surface within reach of a place: those whose axis
// passes near where it stands while the cutter touches the place. A sweep that touches the surface at x from
// the place lies no farther than x from the place itself.
func (w *worker) gather(p, n geom.Vec3) {
	w.list = w.list[:0]
	w.from = p
	w.count++
	for k, sw := range w.progs {
		if len(sw.list) == 0 {
			continue
		}
		ns := sw.turn.ToSide(n)
		if ns.Z < -0.2 {
			continue
		}
		q := sw.turn.ToSide(p)
		nxy := math.Hypot(ns.X, ns.Y)
		r := sw.prof.R
		if ns.Z > 0 {
			r, _ = sw.prof.Contact(nxy / ns.Z)
		}
		reach := w.reach(sw.round())
		margin := reach + 0.25*sw.round() + sw.prof.Flat
		x, y := q.X, q.Y
		if nxy > 1e-9 {
			x, y = x+ns.X/nxy*r, y+ns.Y/nxy*r
		}
		i0, j0, i1, j1 := sw.bins.About(geom.Vec2{X: x, Y: y}, margin)
		top := q.Z + reach
		if sw.ball {
			top += sw.prof.R
		}
		for j := j0; j <= j1; j++ {
			for i := i0; i <= i1; i++ {
				for _, id := range sw.bins.In(j*sw.bins.NX + i) {
					if w.seen[k][id] == w.count {
						continue
					}
					w.seen[k][id] = w.count
					m := &sw.list[id]
					if m.a.Z > top && m.a.Z+m.u.Z > top {
						continue
					}
					if d, _ := sw.distance(m, q, reach); d <= reach {
						w.list = append(w.list, cand{d, int16(k), id})
					}
				}
			}
		}
	}
}

// nearest returns the listed sweep nearest to a point of the part frame. The list is in the order of the
// distances from the place at hand, and a distance changes by no more than the way from there: so it need not be
// gone through to its end.
func (w *worker) nearest(p geom.Vec3) hit {
	far := p.Sub(w.from).Len()
	for k := range w.progs {
		w.local[k] = w.progs[k].turn.ToSide(p)
	}
	o := hit{d: math.Inf(1)}
	for k := range w.list {
		c := &w.list[k]
		if c.d-far > o.d {
			break
		}
		sw := w.progs[c.prog]
		m := &sw.list[c.id]
		if d, t := sw.distance(m, w.local[c.prog], o.d); d < o.d {
			o = hit{d: d, k: k, way: t, prog: c.prog}
		}
	}
	if c := o.k; !math.IsInf(o.d, 1) {
		m := &w.progs[o.prog].list[w.list[c].id]
		o.way = m.along + float64(o.way*m.u.Len())
	}
	return o
}

// same reports whether two hits, their points apart by step, are of one pass: near each other by the
// program's own way.
func (a hit) same(b hit, step, span float64) bool {
	return a.prog == b.prog && math.Abs(a.way-b.way) <= float64(0.8*span)+2*step
}

// sample is one point of the section: x runs from the place, positive to side 0, negative to side 1.
type sample struct {
	x   float64
	p   geom.Vec3
	tri int32
	hit
}

// at looks at one point of the section.
func (w *worker) at(x float64) (sample, bool) {
	k := 0
	if x < 0 {
		k = 1
	}
	p, t, ok := w.sides[k].at(math.Abs(x), &w.pos[k])
	if !ok {
		return sample{}, false
	}
	return sample{x: x, p: p, tri: t, hit: w.nearest(p)}, true
}

// flank is what one side of the place shows.
type flank struct {
	in, out sample // the nearest pass changes between them
	beyond  sample // lowest of the next pass
	found   bool
	passed  bool // the surface has been seen to rise again behind beyond
}

// judge finds the place's ridge from the section to both sides.
func (w *worker) judge(v verdict, o hit, span, reach float64) verdict {
	low := sample{p: v.Point, tri: w.sides[0].tri[0], hit: o}
	w.pos = [2]int{}
	f := [2]flank{w.flank(1, &low, span, reach), w.flank(-1, &low, span, reach)}
	low, whole := w.settle(low, span)
	side := 0
	switch {
	case low.d > w.q.Touched:
		return v
	case low.x > 0:
		side = 1
	case low.x == 0 && (!f[0].found || f[1].found && -f[1].in.x < f[0].in.x):
		side = 1
	}
	r := &f[side]
	if v.what = rim; !whole || !r.passed {
		return v
	}
	beyond, whole := w.settle(r.beyond, span)
	if !whole || beyond.d > w.q.Touched {
		return v
	}
	v.what = judged
	sw := w.progs[o.prog]
	crest := w.crest(r.in, r.out, span)
	top := spot{crest.p, crest.tri}
	n := w.normal(top, span/4)
	rise := w.rise(crest.p, n)
	if !sw.ball {
		rise = max(rise, w.highest(low.x, beyond.x, n))
	}
	v.Height = max(0, rise-(low.d+beyond.d)/2)
	v.Spacing = math.Abs(low.x - beyond.x)
	if sw.ball {
		v.Pair = w.pair(low, beyond, v.Normal, sw.prof.R)
		if v.Height > w.q.Cusp {
			best := w.best(top, n, sw.prof.R)
			v.Height = max(0, v.Height-best)
			if best > 2*w.q.Cusp {
				v.what = hollow
			}
		}
	}
	return v
}

// flank goes along one side of the section until it has passed the next pass; low is the lowest point of the
// place's own so far.
func (w *worker) flank(sign float64, low *sample, span, reach float64) flank {
	var f flank
	step := span / steps
	prev := sample{p: low.p, tri: low.tri, hit: low.hit}
	if low.x != 0 { // the other side has been that way
		prev, _ = w.at(0)
	}
	for k := 1; ; k++ {
		s, ok := w.at(sign * step * float64(k))
		if !ok || math.Abs(s.x) > reach {
			return f
		}
		one := s.same(prev.hit, step, span)
		switch {
		case f.found:
			if s.d >= f.beyond.d || !one {
				f.passed = true
				return f
			}
			f.beyond = s
		case one:
			if s.d < low.d {
				*low = s
			}
		default:
			f.found, f.in, f.out, f.beyond = true, prev, s, s
		}
		prev = s
	}
}

// settle brings a valley from the sample to where it is: the vertex of the parabola through a step to
// either side, twice. It reports false where the section ends within a step.
func (w *worker) settle(s sample, span float64) (sample, bool) {
	for h := span / steps; h > span/(4*steps); h /= 2 {
		a, ok := w.at(s.x - h)
		b, too := w.at(s.x + h)
		if !ok || !too {
			return s, false
		}
		if !a.same(s.hit, h, span) || !b.same(s.hit, h, span) {
			continue
		}
		if bend := a.d + b.d - 2*s.d; bend > 0 {
			x := s.x + min(max((a.d-b.d)/(2*bend), -1), 1)*h
			if e, ok := w.at(x); ok && e.d < s.d {
				s = e
			}
		}
	}
	if w.progs[s.prog].ball {
		return s, true
	}
	for h := span / 16; h > span/4000; h /= 2 { // valleys of other cutters have corners
		for _, x := range [2]float64{s.x - h, s.x + h} {
			if e, ok := w.at(x); ok && e.d < s.d {
				s = e
			}
		}
	}
	return s, true
}

// crest finds where the nearest pass changes between two samples.
func (w *worker) crest(in, out sample, span float64) sample {
	gap := math.Abs(out.x - in.x)
	for math.Abs(out.x-in.x) > span*1e-5 {
		m, ok := w.at((in.x + out.x) / 2)
		if !ok {
			break
		}
		if m.same(in.hit, gap, span) {
			in = m
		} else {
			out = m
		}
	}
	if in.d > out.d {
		return in
	}
	return out
}

// rise is how far along the normal from a point of the surface the nearest sweep begins: by going as far
// each time as nothing can be nearer.
func (w *worker) rise(p, n geom.Vec3) float64 {
	h := 0.0
	for range 30 {
		d := w.nearest(p.Add(n.Mul(h))).d
		h += d
		if d < 1e-6 {
			break
		}
	}
	return h
}

// highest is the greatest rise between two valleys, found at even steps and about the best of them: the steps
// of a cutter that is no ball are highest where the surface is not farthest from it.
func (w *worker) highest(a, b float64, n geom.Vec3) float64 {
	best, at := 0.0, a
	for lo, hi, k := a, b, 0; k < 4; k++ {
		h := (hi - lo) / 16
		for i := range 17 {
			x := lo + float64(h*float64(i))
			if s, ok := w.at(x); ok {
				if r := w.rise(s.p, n); r > best {
					best, at = r, x
				}
			}
		}
		lo, hi = at-h, at+h
	}
	return best
}

// pair is the ridge that two valleys w apart on a section of curvature κ ask for.
func (w *worker) pair(low, beyond sample, n geom.Vec3, r float64) float64 {
	width := math.Abs(low.x - beyond.x)
	if width >= 2*r {
		return r
	}
	m, ok := w.at((low.x + beyond.x) / 2)
	if !ok {
		return 0
	}
	sagitta := m.p.Sub(low.p.Add(beyond.p).Mul(0.5)).Dot(n) // κ·w²/8
	return max(0, r-math.Sqrt(float64(r*r)-float64(width*width)/4)+sagitta)
}
