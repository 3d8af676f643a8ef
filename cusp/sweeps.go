package cusp

import (
	"context"
	"math"
	"runtime"
	"sync"
	"sync/atomic"

	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/path"
	"barwise/path/sweep"
	"barwise/shop/cutter"
)

// sagitta is how far a chord may stand off the arc that it stands for, mm.
const sagitta = 5e-5

// apart is the way counted for a rapid, mm: passes on either side of it are not one.
const apart = 1e6

// stretch is one straight move at a feed: from a, lifted to the centre of a ball, by u.
type stretch struct {
	a, u  geom.Vec3
	along float64 // way of the program before it
}

// swept are one program's moves, found by the place of their axis.
type swept struct {
	turn geom.Turn
	prof cutter.Profile
	ball bool
	form form
	list []stretch
	bins *sweep.Bins
}

// scene is everything that is looked at.
type scene struct {
	q     Params
	m     *mesh.Mesh
	edges *mesh.Edges
	area  float64
	progs []*swept
}

func (s *scene) index(ctx context.Context, programs []Program) error {
	s.progs = make([]*swept, len(programs))
	return eachChunk(ctx, len(programs), 1, func() func(int) {
		return func(i int) { s.progs[i] = newSwept(&programs[i]) }
	})
}

func newSwept(p *Program) *swept {
	w := &swept{turn: geom.TurnDeg(p.SideDeg), prof: p.Cutter.Profile}
	w.form = newForm(w.prof)
	w.ball = w.prof.Flat == 0 && w.prof.Round == w.prof.R && w.prof.Half == 0
	lift := geom.Vec3{}
	if w.ball {
		lift.Z = w.prof.R
	}
	w.list = make([]stretch, 0, len(p.Moves))
	var pts []geom.Vec3
	at, along := p.Start, 0.0
	for i := range p.Moves {
		m := &p.Moves[i]
		switch {
		case m.Mode == path.Dwell:
			continue
		case !m.Cuts() || !at.Finite() || !m.To.Finite():
			along += apart
		default:
			pts = path.Flatten(pts[:0], at, *m, sagitta)
			for _, b := range pts {
				u := b.Sub(at)
				w.list = append(w.list, stretch{at.Add(lift), u, along})
				along += u.Len()
				at = b
			}
		}
		at = m.To
	}
	w.bins = sweep.New(len(w.list), func(i int) (a, u geom.Vec3) { return w.list[i].a, w.list[i].u }, 0.05)
	return w
}

// distance is how far q, in the side frame, lies from the sweep of a move with everything above it,
// negative inside, and the part of the move that is nearest. It is exact for balls and for level moves; for
// other cutters on sloping moves within a thousandth of the move's length. Where it is farther than most, it
// may say no more than that: +Inf.
func (w *swept) distance(s *stretch, q geom.Vec3, most float64) (d, t float64) {
	e := q.Sub(s.a)
	level := float64(e.X*s.u.X) + float64(e.Y*s.u.Y)
	xy := float64(s.u.X*s.u.X) + float64(s.u.Y*s.u.Y)
	flatT := func() float64 {
		if xy > 0 {
			return min(max(level/xy, 0), 1)
		}
		return 0
	}
	if w.ball {
		far := float64((most + w.prof.R) * (most + w.prof.R))
		if l := xy + float64(s.u.Z*s.u.Z); l > 0 {
			t = min(max((level+float64(e.Z*s.u.Z))/l, 0), 1)
		}
		if z := e.Z - float64(s.u.Z*t); z <= 0 {
			x, y := e.X-float64(s.u.X*t), e.Y-float64(s.u.Y*t)
			d2 := float64(x*x) + float64(y*y) + float64(z*z)
			if d2 > far {
				return math.Inf(1), t
			}
			return math.Sqrt(d2) - w.prof.R, t
		}
		t = flatT()
		x, y := e.X-float64(s.u.X*t), e.Y-float64(s.u.Y*t)
		return math.Sqrt(float64(x*x)+float64(y*y)) - w.prof.R, t
	}
	at := func(t float64) float64 {
		v := e.Sub(s.u.Mul(t))
		return w.form.off(math.Sqrt(float64(v.X*v.X)+float64(v.Y*v.Y)), v.Z)
	}
	t = flatT()
	v := e.Sub(s.u.Mul(t)) // nowhere nearer seen from above, and no lower than the lower end
	if max(v.XY().Len()-w.prof.R, min(0, s.u.Z)-e.Z) > most {
		return math.Inf(1), t
	}
	d = at(t)
	if s.u.Z == 0 {
		return d, t
	}
	return w.sloping(at, d, t, s.u.Len(), most)
}

// sloping is the least of a distance along a move of the given length, from its value d at part t on. Outside
// of the cutter it changes by no more than the way made, so the search ends where it must stay above most; inside,
// where it is no true distance, it does not.
func (w *swept) sloping(at func(float64) float64, d, t, length, most float64) (float64, float64) {
	most = max(most, 0)
	if d-length > most {
		return math.Inf(1), t
	}
	try := func(u float64) float64 {
		v := at(u)
		if v < d {
			d, t = v, u
		}
		return v
	}
	try(0)
	try(1)
	// golden section: the distance is convex along the move
	const g = 0.6180339887498949
	a, b := 0.0, 1.0
	t0, t1 := 1-g, g
	f0, f1 := try(t0), try(t1)
	for range 14 {
		if d-float64((b-a)*length) > most {
			return math.Inf(1), t
		}
		if f0 < f1 {
			b, t1, f1 = t1, t0, f0
			t0 = b - float64(g*(b-a))
			f0 = try(t0)
		} else {
			a, t0, f0 = t0, t1, f1
			t1 = a + float64(g*(b-a))
			f1 = try(t1)
		}
	}
	return d, t
}

// form is a profile with what a distance from it asks for each time.
type form struct {
	cutter.Profile
	kr, kh, rim, sin, cos float64
}

func newForm(p cutter.Profile) form {
	f := form{Profile: p, rim: p.Rim()}
	f.kr, f.kh = p.Knee()
	f.sin, f.cos = math.Sincos(p.Half)
	return f
}

// off is how far a point at radius r, z above the tip, lies from the profile turned about its axis with
// everything above it; inside it is the lesser of the ways out sideways and straight down, negative.
func (f *form) off(r, z float64) float64 {
	if r <= f.R {
		if h := f.Height(r); z >= h {
			return -min(f.R-r, z-h)
		}
	}
	d := math.Hypot(max(0, r-f.Flat), z)
	if z >= f.rim {
		d = min(d, r-f.R)
	} else {
		d = min(d, math.Hypot(r-f.R, z-f.rim))
	}
	if f.Round > 0 {
		x, y := r-f.Flat, z-f.Round
		// in the arc's sector, and before the arc is cut off at R
		if l := math.Hypot(x, y); x >= 0 && y <= 0 && float64(y*f.cos)+float64(x*f.sin) <= 0 && f.Flat+float64(f.Round*x)/l <= f.kr+1e-12 {
			d = min(d, l-f.Round)
		}
	}
	if f.kr < f.R {
		ux, uy := f.R-f.kr, f.rim-f.kh
		t := min(max((float64((r-f.kr)*ux)+float64((z-f.kh)*uy))/(float64(ux*ux)+float64(uy*uy)), 0), 1)
		d = min(d, math.Hypot(r-f.kr-float64(t*ux), z-f.kh-float64(t*uy)))
	}
	return d
}

// eachChunk calls do(0) … do(n−1) on all cores, each core with its own from maker, chunk by chunk.
func eachChunk(ctx context.Context, n, chunk int, maker func() func(int)) error {
	var next atomic.Int64
	var wg sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), (n+chunk-1)/chunk) {
		wg.Go(func() {
			do := maker()
			for ctx.Err() == nil {
				k := (int(next.Add(1)) - 1) * chunk
				if k >= n {
					return
				}
				for i := k; i < min(n, k+chunk); i++ {
					do(i)
				}
			}
		})
	}
	wg.Wait()
	return ctx.Err()
}
