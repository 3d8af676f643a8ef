package pose

import (
	"cmp"
	"context"
	"math"
	"slices"

	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/shop/bar"
)

const (
	climbFace   = 0.0087 // 0.5°: so much a wall may lean to the back
	distinctDeg = 8
	triedNear   = 10 // starts judged in full, of which the best are followed
)

// fine is how finely is looked: pixels across the ball that holds the model, and samples.
type fine struct {
	lookDirs, lookPixels      int // directions of half the sphere
	climbSamples, climbPixels int
	finalSamples, finalPixels int
}

// usual are 5.6° between directions, and a noise of a tenth of a point in the climb.
var usual = fine{lookDirs: 560, lookPixels: 104, climbSamples: 5000, climbPixels: 152, finalSamples: 16000, finalPixels: 448}

// Search finds how m, in mm, lies best. Its cost grows with the number of sets compared and hardly with the
// model: maps are drawn from points no denser than 0.7 of a pixel. Errors of the model and of Params
// are *finding.InputError.
//
// A first look along 1120 directions and the model's own axes tells which samples each touches; every axis with every
// turn of 3° is judged by the union of its sides'. The best distinct ones are judged again with the
// sides where they are, turned downhill by ever smaller angles, put in the middle of the range
// of poses that are within Margin as good and, where that costs no more than Margin, square with the
// model's own axes.
func Search(ctx context.Context, m *mesh.Mesh, p Params) (*Found, error) {
	s, err := newSearch(ctx, m, p, usual)
	if err != nil {
		return nil, err
	}
	if err := s.prepare(s.b.axes); err != nil {
		return nil, err
	}
	return s.run()
}

func newSearch(ctx context.Context, m *mesh.Mesh, p Params, f fine) (*search, error) {
	p, err := p.checked()
	if err != nil {
		return nil, err
	}
	b, err := newBody(m)
	if err != nil {
		return nil, err
	}
	return &search{ctx: ctx, p: &p, b: b, fine: f}, nil
}

type search struct {
	fine
	ctx   context.Context
	p     *Params
	b     *body
	own   []axis
	first *scan
	quick ruler // of the starts: the first look's, without its tolerance
	near  ruler // of the climb
	last  ruler // of the figures
}

// ruler makes the ruler for a pixel.
func (s *search) ruler(n, pixels int, face float64) (ruler, error) {
	// a cutter many pixels wide needs no finer ones
	px := max(2*s.b.radius/float64(pixels), s.p.Cutter.R/6)
	pts, err := s.b.cloud(s.ctx, px)
	if err != nil {
		return ruler{}, err
	}
	r := ruler{body: s.b, p: s.p, pts: pts, smp: s.b.sample(n), cut: newShape(s.p.Cutter.Profile, px, face)}
	r.collars, r.cut.limits, r.cut.need = collars(s.p.Cutter)
	for _, q := range r.smp.at {
		r.middle = r.middle.Add(q.Mul(1 / float64(n)))
	}
	r.steep = float32(math.Cos(s.p.SteepFrom * math.Pi / 180))
	return r, nil
}

// with is the ruler for a set of sides.
func (r ruler) with(set Set, shape bar.Shape) *ruler {
	r.set, r.shape = set, shape
	return &r
}

// prepare takes the first look; axes finds the model's own.
func (s *search) prepare(axes func(*samples) []axis) error {
	first, err := s.ruler(lookSamples, s.lookPixels, lookFace)
	if err != nil {
		return err
	}
	s.own = axes(first.smp)
	if s.p.Dir != nil {
		s.own = append([]axis{{s.b.turn.to(s.p.Dir.Unit()), "", 2}}, s.own...)
	}
	if s.p.Turn != nil { // nothing to look for
		s.first = &scan{hull: s.all()}
	} else if s.first, err = first.look(s.ctx, s.own, s.lookDirs); err != nil {
		return err
	}
	s.quick = first
	s.quick.hull, s.quick.few = s.first.hull, s.first.hull
	s.quick.cut = newShape(s.p.Cutter.Profile, first.pts.px, climbFace)
	_, s.quick.cut.limits, s.quick.cut.need = collars(s.p.Cutter)
	if s.near, err = s.ruler(s.climbSamples, s.climbPixels, climbFace); err != nil {
		return err
	}
	if s.last, err = s.ruler(s.finalSamples, s.finalPixels, climbFace); err != nil {
		return err
	}
	s.near.hull, s.last.hull = s.first.hull, s.all()
	s.near.few, s.last.few = s.first.hull, s.first.hull
	return nil
}

// all is every vertex.
func (s *search) all() []geom.Vec3 {
	out := make([]geom.Vec3, len(s.b.used))
	for i, v := range s.b.used {
		out[i] = s.b.m.Vertices[v].Sub(s.b.centre)
	}
	return out
}

// task is one set with the starts to be followed.
type task struct {
	set     Set
	rough   *ruler // for many starts
	r, last *ruler
	starts  []start
	most    int // followed
	out     []Candidate
	tried   int
}

func (s *search) run() (*Found, error) {
	tasks := []*task{{set: s.p.Set, most: s.p.Most + 1}}
	compared := make([]*task, len(s.p.Compare))
	for i, set := range s.p.Compare {
		if set.same(s.p.Set) {
			compared[i] = tasks[0]
			continue
		}
		compared[i] = &task{set: set, most: 2}
		tasks = append(tasks, compared[i])
	}
	for _, t := range tasks {
		shape := s.p.section(t.set)
		t.rough, t.r, t.last = s.quick.with(t.set, shape), s.near.with(t.set, shape), s.last.with(t.set, shape)
		if err := s.seed(t); err != nil {
			return nil, err
		}
	}
	s.judgeStarts(tasks)
	s.follow(tasks)
	if err := s.ctx.Err(); err != nil {
		return nil, err
	}
	f := &Found{}
	for _, t := range tasks {
		f.Tried += t.tried
	}
	f.Best = tasks[0].best(s.p.Most)
	if s.p.Turn == nil {
		plain := s.plain(tasks[0])
		f.Best = first(plain, f.Best, s.p.Most, tasks[0].r.set.period(tasks[0].r.shape))
		f.Tried += len(plain)
	}
	if err := s.ctx.Err(); err != nil {
		return nil, err
	}
	for _, t := range compared {
		if t == tasks[0] {
			f.Compare = append(f.Compare, f.Best[:min(1, len(f.Best))]...)
		} else {
			f.Compare = append(f.Compare, t.best(1)...)
		}
	}
	if g := s.p.Given; g != nil {
		t := tasks[0]
		c := t.final(t.last.newBench(), s.b.in(rows(g.Motion())))
		c.Pose = *g
		f.Given = &c
		f.Tried++
	}
	return f, nil
}

// Plain is how many points more a pose along the file's own axes, not turned, may cost and still be told
// first: for so little a maker rather has a lie that he can read off his model (our own judgement).
const Plain = 0.5

// plain judges the poses along the file's own axes, or the pinned direction, without a turn.
func (s *search) plain(t *task) []Candidate {
	dirs := []geom.Vec3{{X: 1}, {X: -1}, {Y: 1}, {Y: -1}, {Z: 1}, {Z: -1}}
	if s.p.Dir != nil {
		dirs = []geom.Vec3{*s.p.Dir}
	}
	out := make([]Candidate, len(dirs))
	mesh.Parallel(len(dirs), func(k int) {
		if s.ctx.Err() != nil {
			return
		}
		p := Pose{Dir: dirs[k]}
		out[k] = t.final(t.last.newBench(), s.b.in(rows(p.Motion())))
		out[k].Pose, out[k].On = p, "as the file has it"
	})
	return out
}

// first puts the cheapest plain pose before all, where it is good enough.
func first(plain, best []Candidate, most int, period float64) []Candidate {
	a := slices.MinFunc(plain, func(a, b Candidate) int { return cmp.Compare(a.Cost, b.Cost) })
	if len(best) > 0 && !(a.Cost <= best[0].Cost+Plain) {
		return best
	}
	out := []Candidate{a}
	for _, b := range best {
		if len(out) < most && apart(rows(a.Motion()), rows(b.Motion()), period) >= distinctDeg && !a.like(b.Parts, 0.01) {
			out = append(out, b)
		}
	}
	return out
}

// seed finds the starts of a task: the best of the first look, and the poses square with the model's axes.
func (s *search) seed(t *task) error {
	if s.p.Turn != nil {
		t.starts = []start{{t: s.b.in(rows(Pose{*s.p.Dir, *s.p.Turn}.Motion()))}}
		return nil
	}
	look := s.first.r.with(t.r.set, t.r.shape)
	look.hull, look.few = s.first.hull, s.first.hull
	all, tried, err := s.first.starts(s.ctx, look, 3)
	if err != nil {
		return err
	}
	t.tried += tried
	period := t.r.set.period(t.r.shape)
	take := func(st start, within float64) {
		for _, o := range t.starts {
			if apart(o.t, st.t, period) < within {
				return
			}
		}
		t.starts = append(t.starts, st)
	}
	for _, st := range all {
		if take(st, distinctDeg); len(t.starts) == triedNear {
			break
		}
	}
	// and some that are not a symmetry's copies of these
	for _, st := range all {
		if len(t.starts) == 2*triedNear {
			break
		}
		if !slices.ContainsFunc(t.starts, func(o start) bool { return o.like(st.Parts, 0.02) }) {
			take(st, distinctDeg)
		}
	}
	for _, st := range s.squares(t.r) {
		take(st, 1)
	}
	return nil
}

// squares are the poses square with two of the model's own axes.
func (s *search) squares(r *ruler) []start {
	var out []start
	half := r.set.period(r.shape) / 2
	for i, a := range s.own {
		if i > 0 && s.p.Dir != nil {
			break
		}
		for _, b := range s.own {
			if math.Abs(a.v.Dot(b.v)) > 0.02 {
				continue
			}
			for _, sign := range [...]float64{1, -1} {
				y := a.v.Mul(sign)
				z := b.v.Sub(y.Mul(b.v.Dot(y))).Unit()
				t := turned{y.Cross(z), y, z}
				out = append(out, start{t: t}, start{t: t.side(half)})
				if sign == 1 && s.p.Dir != nil {
					break
				}
			}
		}
	}
	return out
}

// judgeStarts judges every task's starts in full and orders them.
func (s *search) judgeStarts(tasks []*task) {
	for n, t := range tasks {
		const lot = 4
		mesh.Parallel((len(t.starts)+lot-1)/lot, func(k int) {
			w := t.rough.newBench()
			for i := k * lot; i < min(len(t.starts), (k+1)*lot) && s.ctx.Err() == nil; i++ {
				st := &t.starts[i]
				st.Parts = t.rough.judge(w, st.t)
				st.cost = s.p.Weights.Cost(st.Parts, s.p.Fit)
			}
		})
		t.tried += len(t.starts)
		sortStarts(t.starts)
		period := t.r.set.period(t.r.shape)
		var kept []start
		for _, st := range t.starts {
			far := true
			for _, o := range kept {
				far = far && apart(o.t, st.t, period) >= distinctDeg && !o.like(st.Parts, 0.01)
			}
			if far {
				kept = append(kept, st)
			}
		}
		kept = kept[:min(len(kept), t.most)]
		// where one is wanted, what is far behind here does not come first later
		for n > 0 && len(kept) > 1 && kept[len(kept)-1].cost > kept[0].cost+2 {
			kept = kept[:len(kept)-1]
		}
		t.starts = kept
	}
}

// follow climbs from every start that is left.
func (s *search) follow(tasks []*task) {
	type one struct {
		t *task
		i int
	}
	var all []one
	for _, t := range tasks {
		t.out = make([]Candidate, len(t.starts))
		for i := range t.starts {
			all = append(all, one{t, i})
		}
	}
	tried := make([]int, len(all))
	mesh.Parallel(len(all), func(k int) {
		t := all[k].t
		c := &climber{ctx: s.ctx, r: t.r, w: t.r.newBench(), only: s.p.Dir != nil, fixed: s.p.Turn != nil}
		// the long steps by the first look's maps, the short ones by finer ones
		quick := &climber{ctx: s.ctx, r: t.rough, w: t.rough.newBench(), only: c.only, fixed: c.fixed}
		st := quick.climb(t.starts[all[k].i], 3, 1.5)
		st.cost = c.cost(st.t)
		st = c.climb(st, 0.75, 0.3)
		st, slack := c.settle(st)
		st, on := c.snap(st, s.own)
		if s.ctx.Err() != nil {
			return
		}
		cand := t.final(t.last.newBench(), st.t)
		cand.On, cand.Slack = on, slack
		t.out[all[k].i] = cand
		tried[k] = c.tried + quick.tried
	})
	for k, n := range tried {
		all[k].t.tried += n
	}
}

// final judges a pose for its figures.
func (t *task) final(w *bench, at turned) Candidate {
	r := t.last
	c := Candidate{Pose: r.out(at).pose(r.set.period(r.shape)), Set: r.set, Shape: r.shape, Parts: r.judge(w, at)}
	c.Cost = r.p.Weights.Cost(c.Parts, r.p.Fit)
	return c
}

// best orders what was found and drops what came out twice: within distinctDeg of a better one, or the
// same in every part, as poses are that a symmetry of the model takes into each other.
func (t *task) best(most int) []Candidate {
	slices.SortStableFunc(t.out, func(a, b Candidate) int { return cmp.Compare(a.Cost, b.Cost) })
	period := t.r.set.period(t.r.shape)
	var out []Candidate
	for _, a := range t.out {
		other := func(b Candidate) bool {
			return apart(rows(a.Motion()), rows(b.Motion()), period) < distinctDeg || a.like(b.Parts, 0.01)
		}
		if len(out) < most && !slices.ContainsFunc(out, other) {
			out = append(out, a)
		}
	}
	return out
}

// like reports whether all parts are the same within tol, a share of the area and of the size; what is steep
// within twice that, for facets lie on one side of the limit or the other.
func (p Parts) like(o Parts, tol float64) bool {
	near := func(a, b, of float64) bool { return math.Abs(a-b) <= tol*of }
	return near(p.Missed, o.Missed, p.Area) && near(p.Held, o.Held, p.Area) && near(p.Steep, o.Steep, 2*p.Area) &&
		near(p.Contact, o.Contact, p.Area) && near(p.StickOut, o.StickOut, 4*p.Size) && near(p.Across, o.Across, 2*p.Size) &&
		near(p.High, o.High, 2*p.Size) && near(p.Length, o.Length, 2*p.Size) && near(p.Lever, o.Lever, 2)
}
