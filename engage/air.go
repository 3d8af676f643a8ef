package engage

import (
	"context"
	"math"

	"barwise/geom"
	"barwise/geom/field"
	"barwise/path"
	"barwise/path/sweep"
	"barwise/shop/cutter"
	"barwise/stock"
)

// Run is one program, in the frame of its side, and its cutter.
type Run struct {
	path.Program
	Cutter cutter.Cutter
}

// Way says how much of a program's way at a feed takes anything.
type Way struct {
	Cut, Air   float64
	Down       float64 // of Air, steeper down than 45°: the last stretches before a pass
	LongAir    float64 // of Air, in ways longer than R
	LongestAir float64 // unbroken by a rapid
}

// AirShare is the share of the feed's way that takes nothing, 0..1.
func (w Way) AirShare() float64 {
	if w.Cut+w.Air > 0 {
		return w.Air / (w.Cut + w.Air)
	}
	return 0
}

const (
	// skin is how far within the cutter a point must lie to be taken, mm, and so the thickest that may be taken
	// of what counts as air.
	skin = 5e-4
	// airStep is the way between two looks, as a share of the radius.
	airStep = 0.5
)

// Ways says of each of a row of programs, on any sides, how much of its way takes nothing: for passes that
// lie closer together than any grid can tell apart. st is the bar before the first of them, only read.
//
// At each look points of the cutter's surface are asked, all around the line along which it bounds what it
// sweeps, whether one is in stock: below what the side shows of the bar before all the programs, by the grid,
// and outside the sweeps of all earlier moves of all of them, exactly. A cut narrower than the points' spacing,
// 4° of a ball, between two earlier passes may pass for air; where a grid's height is off, skin that other
// programs than these have taken may pass for stock.
func Ways(ctx context.Context, st *stock.Stack, runs []Run) ([]Way, error) {
	tracks := make([]*track, len(runs))
	err := field.EachRow(ctx, len(runs), func(k int) { tracks[k] = newTrack(&runs[k]) })
	if err != nil {
		return nil, err
	}
	seen := make([]*field.Field, st.Sides())
	out := make([]Way, len(runs))
	for k, t := range tracks {
		side := -1
		for i := range st.Sides() {
			if st.Deg(i) == runs[k].SideDeg {
				side = i
			}
		}
		if side < 0 {
			continue
		}
		if seen[side] == nil {
			seen[side] = st.Seen(side)
		}
		if out[k], err = (&airing{before: tracks[:k], t: t, seen: seen[side]}).all(ctx); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// leg is one straight piece at a feed: from a, lifted to the centre of a ball, by u.
type leg struct {
	a, u  geom.Vec3
	along float32 // way at a feed from the last rapid to its start
	strip int32   // how many rapids went before
}

// track is one program's pieces, found by the place of their axis.
type track struct {
	turn   geom.Turn
	prof   cutter.Profile
	ball   bool
	legs   []leg
	bins   *sweep.Bins
	low    []float32 // of each bin, the lowest that any leg in it goes, of the tip or the ball's centre
	points []point
}

// point is a place on the cutter asked at each look: across and along the motion, up.
type point struct{ across, along, up float64 }

func newTrack(r *Run) *track {
	t := &track{turn: geom.TurnDeg(r.SideDeg), prof: r.Cutter.Profile}
	t.ball = t.prof.Flat == 0 && t.prof.Round == t.prof.R && t.prof.Half == 0
	t.points = touching(t.prof, t.ball)
	lift := geom.Vec3{}
	if t.ball {
		lift.Z = t.prof.R
	}
	t.legs = make([]leg, 0, len(r.Moves))
	at := r.Start
	var pts []geom.Vec3
	along, strip := 0.0, int32(0)
	for i := range r.Moves {
		m := &r.Moves[i]
		if m.Mode == path.Dwell {
			continue
		}
		if !m.Cuts() || !at.Finite() || !m.To.Finite() {
			at, along = m.To, 0
			strip++
			continue
		}
		pts = path.Flatten(pts[:0], at, *m, sagitta)
		for _, b := range pts {
			if u := b.Sub(at); u != (geom.Vec3{}) {
				t.legs = append(t.legs, leg{at.Add(lift), u, float32(along), strip})
				along += u.Len()
			}
			at = b
		}
	}
	t.bin()
	return t
}

// touching are points just within the cutter: of a ball on the half circle across the motion, of others on
// the profile to both sides and on the rim ahead.
func touching(p cutter.Profile, ball bool) []point {
	var out []point
	if ball {
		const n = 48
		for i := range n {
			s, c := math.Sincos((float64(i)+0.5)*math.Pi/n - math.Pi/2)
			out = append(out, point{(p.R - skin) * s, 0, -(p.R - skin) * c})
		}
		return out
	}
	for i := -12; i <= 12; i++ {
		r := (p.R - skin) * float64(i) / 12
		out = append(out, point{r, 0, p.Height(math.Abs(r)) + skin})
	}
	for i := -5; i <= 5; i++ {
		s, c := math.Sincos(float64(i) * math.Pi / 12)
		out = append(out, point{(p.R - skin) * s, (p.R - skin) * c, p.Rim() + skin})
	}
	return out
}

// bin sorts the legs by their place.
func (t *track) bin() {
	t.bins = sweep.New(len(t.legs), func(i int) (a, u geom.Vec3) { return t.legs[i].a, t.legs[i].u }, t.prof.R/8)
	t.low = make([]float32, t.bins.Len())
	for b := range t.low {
		t.low[b] = float32(math.Inf(1))
		for _, id := range t.bins.In(b) {
			l := &t.legs[id]
			t.low[b] = min(t.low[b], math.Nextafter32(float32(l.a.Z+min(0, l.u.Z)), float32(math.Inf(-1))))
		}
	}
}

// has reports whether the sweep of a leg holds p, in the side frame. Of a sloping leg of a cutter that is no
// ball it asks the nearest place seen from above, and may miss a little.
func (t *track) has(l *leg, p geom.Vec3) bool {
	e := p.Sub(l.a)
	level := float64(e.X*l.u.X) + float64(e.Y*l.u.Y)
	xy := float64(l.u.X*l.u.X) + float64(l.u.Y*l.u.Y)
	r2 := t.prof.R * t.prof.R
	if t.ball {
		s := 0.0
		if n := xy + float64(l.u.Z*l.u.Z); n > 0 {
			s = min(max((level+float64(e.Z*l.u.Z))/n, 0), 1)
		}
		if z := e.Z - float64(l.u.Z*s); z <= 0 {
			x, y := e.X-float64(l.u.X*s), e.Y-float64(l.u.Y*s)
			return float64(x*x)+float64(y*y)+float64(z*z) < r2
		}
	}
	s := 0.0
	if xy > 0 {
		s = min(max(level/xy, 0), 1)
	}
	x, y := e.X-float64(l.u.X*s), e.Y-float64(l.u.Y*s)
	d2 := float64(x*x) + float64(y*y)
	if d2 >= r2 {
		return false
	}
	if t.ball {
		return true
	}
	return e.Z-float64(l.u.Z*s) > t.prof.Height(math.Sqrt(d2))
}

// just reports whether a leg is of the stretch that has just been passed.
func (t *track) just(id, me int32, along, gap float64) bool {
	l := &t.legs[id]
	return l.strip == t.legs[me].strip && along-float64(l.along) < gap+l.u.Len()
}

// holds returns a leg before me that holds p, in the side frame, but for those just passed; me < 0: any
// leg. −1: none.
func (t *track) holds(p geom.Vec3, me int32, along, gap float64) int32 {
	if len(t.legs) == 0 {
		return -1
	}
	g := t.bins
	r := t.prof.R
	i0, j0, i1, j1 := g.About(p.XY(), r)
	for j := j0; j <= j1; j++ {
		dy := max(0, math.Abs(p.Y-g.Y(j))-g.DY/2)
		for i := i0; i <= i1; i++ {
			b := j*g.NX + i
			up := float64(t.low[b]) - p.Z
			if up >= r || up > 0 && !t.ball {
				continue
			}
			dx := max(0, math.Abs(p.X-g.X(i))-g.DX/2)
			d2 := float64(dx*dx) + float64(dy*dy)
			if up > 0 {
				d2 += float64(up * up)
			}
			if d2 >= r*r {
				continue
			}
			for _, id := range g.In(b) {
				if me >= 0 {
					if id >= me {
						break
					}
					if t.just(id, me, along, gap) {
						continue
					}
				}
				if t.has(&t.legs[id], p) {
					return id
				}
			}
		}
	}
	return -1
}

// airing is one program looked at.
type airing struct {
	before []*track
	t      *track
	seen   *field.Field
	last   []int32 // of each point, the leg of this program that held it last
}

// glance is one look: how far it stands for, and whether anything is taken.
type glance struct {
	leg int32
	len float64
	cut bool
}

func (a *airing) all(ctx context.Context) (Way, error) {
	const chunk = 1024
	n := len(a.t.legs)
	parts := make([][]glance, (n+chunk-1)/chunk)
	err := field.EachRow(ctx, len(parts), func(k int) {
		w := *a
		parts[k] = w.chunk(k*chunk, min(n, (k+1)*chunk))
	})
	if err != nil {
		return Way{}, err
	}
	var w Way
	idle, strip := 0.0, int32(-1)
	shut := func() {
		w.LongestAir = max(w.LongestAir, idle)
		if idle > a.t.prof.R {
			w.LongAir += idle
		}
		idle = 0
	}
	for _, p := range parts {
		for _, g := range p {
			if s := a.t.legs[g.leg].strip; s != strip {
				shut()
				strip = s
			}
			if g.cut {
				shut()
				w.Cut += g.len
				continue
			}
			w.Air += g.len
			idle += g.len
			if u := a.t.legs[g.leg].u; u.Z < 0 && -u.Z > u.XY().Len() {
				w.Down += g.len
			}
		}
	}
	shut()
	return w, nil
}

// chunk looks along legs: at the end of each step, and where a strip ends.
func (a *airing) chunk(from, to int) []glance {
	var out []glance
	step := airStep * a.t.prof.R
	hint, wait := 0, 0.0
	a.last = make([]int32, len(a.t.points))
	for k := from; k < to; k++ {
		l := &a.t.legs[k]
		n := l.u.Len()
		last := k+1 == to || a.t.legs[k+1].strip != l.strip
		if wait+n < step && !last {
			wait += n
			continue
		}
		m := max(1, int(math.Ceil(n/step-1e-9)))
		for i := range m {
			s := float64(i+1) / float64(m)
			out = append(out, glance{int32(k), wait + n/float64(m), a.takes(int32(k), s, &hint)})
			wait = 0
		}
	}
	return out
}

// takes reports whether the cutter, at part s of a leg, takes anything; hint is the point that last did.
func (a *airing) takes(k int32, s float64, hint *int) bool {
	t := a.t
	l := &t.legs[k]
	c := l.a.Add(l.u.Mul(s))
	f := l.u.XY()
	if n := f.Len(); n > 1e-9 {
		f = f.Mul(1 / n)
	} else {
		f = geom.Vec2{X: 1}
	}
	d := l.u.Unit()
	across := geom.Vec3{X: -f.Y, Y: f.X}
	ahead, up := geom.Vec3{X: f.X, Y: f.Y}, geom.Vec3{Z: 1}
	if t.ball && d.Z > -0.7 { // going down it is the end that cuts
		ahead = d
		if up = d.Cross(across); up.Z < 0 {
			up = up.Mul(-1)
		}
	}
	along := float64(l.along) + float64(s*l.u.Len())
	gap := 3 * math.Sqrt(2*t.prof.R*skin) // nearer ones of its own hold what it has just passed
	n := len(t.points)
	for i := range n {
		// from the hint outward to both sides
		j := *hint + (i+1)/2
		if i&1 == 1 {
			j = *hint - (i+1)/2
		}
		j = ((j % n) + n) % n
		q := &t.points[j]
		p := c.Add(across.Mul(q.across)).Add(ahead.Mul(q.along)).Add(up.Mul(q.up))
		x, y := a.seen.Nearest(p.XY())
		if float64(a.seen.At(x, y)) <= p.Z || a.own(p, k, j, along, gap) || a.earlier(p) {
			continue
		}
		*hint = j
		return true
	}
	return false
}

// lookBack is how many legs to either side of the one that held a point last are asked first.
const lookBack = 8

// own reports whether an earlier leg of the program holds point j, at p.
func (a *airing) own(p geom.Vec3, me int32, j int, along, gap float64) bool {
	t := a.t
	last := a.last[j]
	for d := range int32(2*lookBack + 1) {
		id := last + (d+1)/2
		if d&1 == 1 {
			id = last - (d+1)/2
		}
		if id >= 0 && id < me && !t.just(id, me, along, gap) && t.has(&t.legs[id], p) {
			a.last[j] = id
			return true
		}
	}
	id := t.holds(p, me, along, gap)
	if id >= 0 {
		a.last[j] = id
	}
	return id >= 0
}

// earlier reports whether a program before this one has taken p.
func (a *airing) earlier(p geom.Vec3) bool {
	if len(a.before) == 0 {
		return false
	}
	q := a.t.turn.ToPart(p)
	for k := len(a.before) - 1; k >= 0; k-- {
		if b := a.before[k]; b.holds(b.turn.ToSide(q), -1, 0, 0) >= 0 {
			return true
		}
	}
	return false
}
