package pose

import (
	"context"
	"math"
	"math/bits"
	"slices"

	"barwise/geom"
	"barwise/geom/mesh"
)

// The first look: directions all round, each with the samples it touches as bits, so that what a set of
// sides touches is the union of its directions' bits. A side is taken for the nearest direction looked
// along, up to some 3° off.
const (
	lookSamples = 3072 // a multiple of 64
	lookWords   = lookSamples / 64
	lookFace    = 0.05 // 3°: what a direction is off its side, a wall may lean to the back
	slots       = 60   // turns tried in half a turn
	classes     = 5    // of slope
	needs       = 8    // of stick-out
)

// lookCos are the least cosines of the classes of slope; the last holds all.
var lookCos = [classes]float32{0.94, 0.77, 0.5, 0, 0}

// looked is what is seen along one direction: bits of samples touched at a slope class or a kinder one,
// and of those touched with a need of class k or less.
type looked struct {
	slope [classes][lookWords]uint64
	need  [needs][lookWords]uint64
	held  [lookWords]uint64 // lost if this is what points to the stop
	reach float64           // how far the model reaches this way, mm
	touch float64           // mm² near its foremost point as seen from here: the contact if held here
	cover float64           // mm², all that faces this way, as seen from here
}

// scan is the first look as a whole: 2·len(axes) directions, that of odd index the opposite of the one before.
type scan struct {
	r    *ruler
	dirs []geom.Vec3
	seen []looked
	hull []geom.Vec3
	step float64 // mm of need in a class
	cos  [classes]float32
}

func (r *ruler) look(ctx context.Context, own []axis, dirs int) (*scan, error) {
	s := &scan{r: r, step: 2 * r.radius / needs, cos: lookCos}
	s.cos[3] = r.steep
	slices.SortFunc(s.cos[:], func(a, b float32) int {
		if a > b {
			return -1
		}
		return 1
	})
	for _, a := range own {
		s.dirs = append(s.dirs, a.v, a.v.Mul(-1))
	}
	for _, d := range spread(dirs) {
		s.dirs = append(s.dirs, d, d.Mul(-1))
	}
	s.seen = make([]looked, len(s.dirs))
	far := make([]int, len(s.dirs))
	// a few directions to a worker's turn, so that its maps are made rarely
	const lot = 8
	n := len(s.dirs) / 2
	mesh.Parallel((n+lot-1)/lot, func(k int) {
		w := r.newBench()
		for i := k * lot; i < min(n, (k+1)*lot) && ctx.Err() == nil; i++ {
			// with the axis held, of the rest only what can be a side
			if a := r.p.Dir; a != nil && i > 0 && math.Abs(s.dirs[2*i].Dot(s.dirs[0])) > ringSin {
				continue
			}
			f := anyFrame(s.dirs[2*i])
			w.v.draw(r.pts, f)
			s.along(&s.seen[2*i], w, f, 0)
			s.along(&s.seen[2*i+1], w, f.back(), 1)
			far[2*i], far[2*i+1] = w.v.far[0], w.v.far[1]
		}
	})
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	order := slices.Clone(far)
	slices.Sort(order)
	for _, i := range slices.Compact(order) {
		s.hull = append(s.hull, geom.Vec3{X: float64(r.pts.x[i]), Y: float64(r.pts.y[i]), Z: float64(r.pts.z[i])})
	}
	return s, nil
}

// along fills what is seen along one direction.
func (s *scan) along(l *looked, w *bench, f frame, m int) {
	r, v := s.r, w.v
	front := float32(none)
	for _, z := range v.top[m] {
		front = max(front, z)
	}
	l.reach = float64(front)
	zone := l.reach - max(nearEnd*2*r.radius, v.px)
	in, cover := 0.0, 0.0
	for i, p := range r.smp.at {
		n := f.to(r.smp.n[i])
		if n.Z < -r.cut.face {
			continue
		}
		q := f.to(p)
		if n.Z > 0 {
			cover += n.Z
			if q.Z >= zone {
				in += n.Z
			}
		}
		word, bit := i/64, uint64(1)<<(i%64)
		if n.Z > heldFacing && q.Z > float64(front)-v.px && r.p.Spigot == 0 {
			l.held[word] |= bit
		}
		t, ok := v.touched(m, r.cut, q, n)
		if !ok {
			continue
		}
		for c, least := range s.cos {
			if t.cos >= least {
				l.slope[c][word] |= bit
			}
		}
		for k := min(int(float64(t.need)/s.step), needs-1); k < needs; k++ {
			l.need[k][word] |= bit
		}
	}
	l.touch = in * r.smp.unit
	l.cover = cover * r.smp.unit
}

// start is where the search goes on from.
type start struct {
	t    turned
	cost float64
	Parts
}

// union is what a set of directions touches together.
type union struct {
	slope [classes][lookWords]uint64
	need  [needs][lookWords]uint64
}

func (u *union) add(l *looked) {
	for c := range u.slope {
		for i, w := range l.slope[c] {
			u.slope[c][i] |= w
		}
	}
	for c := range u.need {
		for i, w := range l.need[c] {
			u.need[c][i] |= w
		}
	}
}

// starts judges every axis with every turn by the bits and returns the best of each axis.
func (s *scan) starts(ctx context.Context, r *ruler, per int) ([]start, int, error) {
	n := len(s.dirs) / 2
	if r.p.Dir != nil {
		n = 1
	}
	found, tried := make([][]start, n), make([]int, n)
	mesh.Parallel(n, func(a int) {
		if ctx.Err() == nil {
			found[a], tried[a] = s.about(r, a, per)
		}
	})
	if err := ctx.Err(); err != nil {
		return nil, 0, err
	}
	var out []start
	sum := 0
	for a, f := range found {
		out = append(out, f...)
		sum += tried[a]
	}
	sortStarts(out)
	return out, sum, nil
}

func sortStarts(s []start) {
	slices.SortStableFunc(s, func(a, b start) int {
		switch {
		case a.cost < b.cost:
			return -1
		case a.cost > b.cost:
			return 1
		}
		return 0
	})
}

// about judges the turns about one axis, both ends held.
func (s *scan) about(r *ruler, a, per int) (best []start, tried int) {
	base := anyFrame(s.dirs[2*a])
	// part frame: y the axis
	t0 := turned{x: base.x, y: base.z, z: base.x.Cross(base.z)}
	ring := s.ring(t0)
	period := r.set.period(r.shape)
	turns := int(math.Ceil(period / 180 * slots))
	mirrored := r.set.mirrored()
	var u, v union
	for k := range turns {
		deg := period * float64(k) / float64(turns)
		t := t0.side(deg)
		u = union{}
		for _, d := range r.set.Sides {
			u.add(&s.seen[s.nearest(t.side(d).z, ring)])
		}
		var sec Parts
		lo, hi := r.section(t)
		r.fit(t, lo, hi, &sec)
		for e := range 2 {
			if e == 1 && r.p.Dir != nil {
				break
			}
			free, stop := 2*a+e, 2*a+1-e
			tt, w := t, &u
			if e == 1 { // end for end: half a turn about z, which the sides see as their mirror image
				tt = turned{t.x.Mul(-1), t.y.Mul(-1), t.z}
			}
			if e == 1 && !mirrored {
				v, w = union{}, &v
				for _, d := range r.set.Sides {
					v.add(&s.seen[s.nearest(tt.side(d).z, ring)])
				}
			} else if r.set.End {
				v, w = u, &v
			}
			if r.set.End {
				w.add(&s.seen[free])
			}
			p := sec
			p.Area, p.Size = r.area, r.size
			p.Lever = (r.middle.Dot(tt.y) + s.seen[stop].reach) / p.Length
			s.parts(r, w, &s.seen[stop], &p)
			p.Contact = s.seen[stop].touch
			if sp := r.p.Spigot; sp > 0 {
				p.Contact = min(p.Contact, math.Pi*sp*sp)
			}
			p.Hold = min(1, p.Contact/r.heldBy(s.seen[stop].cover))
			r.time(&p)
			tried++
			best = append(best, start{tt, r.p.Weights.Cost(p, r.p.Fit), p})
		}
	}
	sortStarts(best)
	return best[:min(per, len(best))], tried
}

// parts adds up the bits.
func (s *scan) parts(r *ruler, u *union, stop *looked, p *Parts) {
	unit := s.r.smp.unit
	var touched [classes]int
	held, total := 0, 0
	for i, h := range stop.held {
		held += bits.OnesCount64(h)
		for c := range touched {
			touched[c] += bits.OnesCount64(u.slope[c][i] &^ h)
		}
	}
	total = len(s.r.smp.at) - held
	all := touched[classes-1]
	p.Held, p.Missed = float64(held)*unit, float64(total-all)*unit
	before := 0
	for c, n := range touched {
		mean := float64(s.cos[c])
		if c > 0 {
			mean = (mean + float64(s.cos[c-1])) / 2
		} else {
			mean = (mean + 1) / 2
		}
		p.Finish += float64(n-before) * unit * slowness(mean) / r.perMinute()
		if s.cos[c] < r.steep {
			p.Steep += float64(float64(n-before) * unit)
		}
		before = n
	}
	for k := range u.need {
		n := 0
		for i, h := range stop.held {
			n += bits.OnesCount64(u.need[k][i] &^ h)
		}
		if n*200 >= all*199 {
			p.StickOut = (float64(k) + 0.5) * s.step
			break
		}
	}
}

// ringSin is the sine of 5°.
const ringSin = 0.087

// ring returns the directions within 5° of square to the axis of t.
func (s *scan) ring(t turned) []int32 {
	var out []int32
	for i, d := range s.dirs {
		if math.Abs(d.Dot(t.y)) < ringSin {
			out = append(out, int32(i))
		}
	}
	return out
}

func (s *scan) nearest(z geom.Vec3, ring []int32) int {
	best, at := -2.0, 0
	for _, i := range ring {
		if c := s.dirs[i].Dot(z); c > best {
			best, at = c, int(i)
		}
	}
	return at
}
