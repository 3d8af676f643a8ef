// Package motion tells how long moves take on a machine that has limits.
//
// The model is a planner with trapezoids of speed: no axis runs faster or accelerates harder than it
// can, a corner is rounded by at most the permitted deviation, a block takes at least its time in the
// control, and the machine can always stop within the blocks it knows. Speeds at the junctions follow
// from one pass backward and one forward, in time proportional to the number of moves.
package motion

import (
	"math"

	"barwise/geom"
	"barwise/path"
	"barwise/shop/machine"
)

// Timeline is how moves run. Speeds are along the path, mm/s.
type Timeline struct {
	Seconds []float64 // per move
	Speed   []float64 // Speed[i] where move i begins, Speed[i+1] where it ends; one longer than the moves
	Peak    []float64 // greatest speed within each move

	Cutting float64 // seconds at a feed
	Travel  float64 // seconds in rapids
	Dwell   float64 // seconds standing: the dwells among the moves
	Spindle float64 // seconds for the spindle to come to speed, once, where anything is cut

	CutLength    float64 // mm at a feed
	TravelLength float64 // mm in rapids
	Commanded    float64 // seconds the cutting would take at the feeds alone
}

// Total returns all seconds.
func (t *Timeline) Total() float64 { return t.Cutting + t.Travel + t.Dwell + t.Spindle }

// FeedRatio returns the achieved mean feed over the commanded one, for cutting moves; 1 where nothing
// is cut.
func (t *Timeline) FeedRatio() float64 {
	if t.Cutting == 0 {
		return 1
	}
	return t.Commanded / t.Cutting
}

// Bounds that stand for 'not limited': a rate or an acceleration of zero in a Machine.
const (
	noRate  = 1e6
	noAccel = 1e9
)

// straight is the sine of half a change of direction below which there is no corner: less than the
// rounding of coordinates can tell.
const straight = 1e-9

// Plan returns the timeline of moves that begin at rest at start and end at rest, in the side frame.
//
// The machine's limits are taken along its own axes, by how its bar lies. Tangential acceleration and
// that across the path are each held to the limits, not their sum, as is usual in controls. Along an
// arc the limits of both axes of its plane hold all the way, which errs on the slow side where it
// does not point along the slower one. Machine.Lookahead 0 means all moves are known.
func Plan(start geom.Vec3, moves []path.Move, m machine.Machine) *Timeline {
	p := newPlanner(len(moves), m)
	p.measure(start, moves)
	p.solve()
	if m.Jerk > 0 {
		p.smooth(m.Jerk)
	}
	return p.timeline(start, moves, m.SpindleStart)
}

// planner works in three arrays by move and one by junction; a limit on jerk wants three more and one more.
type planner struct {
	rate, accel [3]float64 // along the side frame's axes
	deviation   float64
	blockRate   float64 // 0: not limited
	window      int     // blocks; 0: not limited

	length []float64
	top    []float64 // greatest speed in the move
	a      []float64 // acceleration along the path
	up, dn []float64 // what ramps up and down really use; both are a where jerk is not limited
	cap    []float64 // squares of the greatest speeds at the junctions
	v      []float64 // speeds at the junctions
}

func newPlanner(n int, m machine.Machine) *planner {
	p := &planner{
		rate: m.Rate, accel: m.Accel, deviation: m.CornerDeviation, blockRate: m.BlockRate, window: m.Lookahead,
		length: make([]float64, n), top: make([]float64, n), a: make([]float64, n),
		cap: make([]float64, n+1),
	}
	p.up, p.dn = p.a, p.a
	if m.Jerk > 0 {
		p.v = make([]float64, n+1) // the caps are needed again
	} else {
		p.v = p.cap
	}
	for k := range 3 {
		if p.rate[k] <= 0 {
			p.rate[k] = noRate
		}
		if p.accel[k] <= 0 {
			p.accel[k] = noAccel
		}
	}
	if m.BarAlong == machine.AlongX {
		// The side's y runs along machine X then, and its x along machine Y.
		p.rate[0], p.rate[1] = p.rate[1], p.rate[0]
		p.accel[0], p.accel[1] = p.accel[1], p.accel[0]
	}
	return p
}

// along returns min limit_i/|u_i|: the most a motion in direction u may have.
func along(limit *[3]float64, u geom.Vec3) float64 {
	// 1/most is the answer; the quotient is never zero, for u is a unit vector.
	return 1 / max(math.Abs(u.X)/limit[0], math.Abs(u.Y)/limit[1], math.Abs(u.Z)/limit[2])
}

// measure fills in length, top, a and cap.
func (p *planner) measure(from geom.Vec3, moves []path.Move) {
	var out geom.Vec3 // direction in which the last move of any length ended
	prev := 0.0       // its length
	prevTop := 0.0    // its greatest speed; 0 when the tip stands
	for i := range moves {
		m := &moves[i]
		p.cap[i] = math.Inf(1)
		p.a[i] = 1
		if m.Mode == path.Dwell {
			prevTop = 0
			p.cap[i] = 0
			continue
		}
		d := m.To.Sub(from)
		l := d.Len()
		in, end := d, d
		if m.IsArc() {
			arc := m.Arc(from)
			l = arc.Length()
			in, end = arc.Tangents()
			p.arc(i, arc)
		} else if l > 0 {
			in = d.Mul(1 / l)
			end = in
			p.top[i] = along(&p.rate, in)
			p.a[i] = along(&p.accel, in)
		}
		from = m.To
		if l == 0 {
			continue
		}
		p.length[i] = l
		if m.Mode != path.Rapid {
			p.top[i] = min(p.top[i], m.Feed)
		}
		if p.blockRate > 0 {
			p.top[i] = min(p.top[i], p.blockRate*l)
		}
		v := min(prevTop, p.top[i])
		p.cap[i] = min(float64(v*v), p.corner(out, in, min(prev, l)))
		out, prev, prevTop = end, l, p.top[i]
	}
	p.cap[0] = 0
	p.cap[len(moves)] = 0
}

// arc sets the limits of a circular or helical move: the axes of its plane, its own axis, and v ≤ √(a·r)
// across the path.
func (p *planner) arc(i int, a path.Arc) {
	l := a.Length()
	if l == 0 {
		return
	}
	ax := [...][3]int{path.PlaneXY: {0, 1, 2}, path.PlaneXZ: {0, 2, 1}, path.PlaneYZ: {1, 2, 0}}[a.Plane]
	flat := math.Abs(float64(a.Radius()*a.Sweep)) / l
	rise := math.Abs(a.Rise) / l
	rate := min(p.rate[ax[0]], p.rate[ax[1]])
	accel := min(p.accel[ax[0]], p.accel[ax[1]])
	p.top[i] = 1 / max(flat/rate, rise/p.rate[ax[2]])
	p.a[i] = 1 / max(flat/accel, rise/p.accel[ax[2]])
	if r := min(a.R0, a.R1); flat > 0 {
		p.top[i] = min(p.top[i], math.Sqrt(accel*r)/flat)
	}
}

// corner returns the square of the greatest speed through a change of direction from u to w: on the
// circle tangent to both legs that strays from the corner by the permitted deviation δ,
// r = δ·cos(ψ/2)/(1 − cos(ψ/2)), and that takes at most half of the shorter leg, r·tan(ψ/2) ≤ l/2.
// The acceleration is what every axis can give in any direction of the corner's plane.
func (p *planner) corner(u, w geom.Vec3, shorter float64) float64 {
	sin := w.Sub(u).Len() / 2 // of ψ/2
	cos := w.Add(u).Len() / 2
	if sin < straight {
		return math.Inf(1)
	}
	// 1 − cos = sin²/(1 + cos) keeps its digits where ψ is small.
	r := p.deviation * cos * (1 + float64(cos)) / float64(sin*sin)
	r = min(r, shorter/2*cos/sin)
	// With e = (u+w)/2cos and f = (w−u)/2sin an orthonormal base of the plane, axis k projects to
	// √(e_k² + f_k²). Where the legs turn right back there is no plane and no speed.
	if cos < straight {
		return 0
	}
	e, f := w.Add(u).Mul(0.5/cos), w.Sub(u).Mul(0.5/sin)
	a := 1 / math.Sqrt(max(
		(float64(e.X*e.X)+float64(f.X*f.X))/float64(p.accel[0]*p.accel[0]),
		(float64(e.Y*e.Y)+float64(f.Y*f.Y))/float64(p.accel[1]*p.accel[1]),
		(float64(e.Z*e.Z)+float64(f.Z*f.Z))/float64(p.accel[2]*p.accel[2])))
	return float64(a * r)
}

// solve finds the greatest speeds at the junctions under all caps. Within a window of N blocks the
// machine can stop: v² ≤ Σ 2·a·l over the N blocks ahead.
func (p *planner) solve() {
	n := len(p.length)
	ahead := 0.0
	next := 0.0
	for i := n - 1; i >= 0; i-- {
		reach := float64(2 * p.dn[i] * p.length[i])
		v := min(p.cap[i], next+reach)
		if p.window > 0 {
			ahead += reach
			if k := i + p.window; k < n {
				ahead = max(0, ahead-float64(2*p.dn[k]*p.length[k]))
			}
			v = min(v, max(ahead, 0))
		}
		p.v[i] = v
		next = v
	}
	p.v[n] = 0
	last := 0.0
	for i := range n {
		last = min(p.v[i+1], last+float64(2*p.up[i]*p.length[i]))
		p.v[i+1] = last
	}
	for i := range p.v {
		p.v[i] = math.Sqrt(p.v[i])
	}
}

// run is one move between its junctions: up, level, down.
type run struct{ peak, up, level, down float64 } // mm/s and seconds

func (p *planner) run(i int) run {
	l := p.length[i]
	if l == 0 {
		return run{peak: p.v[i]}
	}
	v0, v1, up, dn := p.v[i], p.v[i+1], p.up[i], p.dn[i]
	reach := (2*l + float64(v0*v0)/up + float64(v1*v1)/dn) / (1/up + 1/dn)
	top := p.top[i]
	r := run{peak: top}
	if reach < float64(top*top) {
		r.peak = max(math.Sqrt(reach), v0, v1)
	} else {
		r.level = max(0, l-(float64(top*top)-float64(v0*v0))/(2*up)-(float64(top*top)-float64(v1*v1))/(2*dn)) / top
	}
	r.up = (r.peak - v0) / up
	r.down = (r.peak - v1) / dn
	return r
}

func (p *planner) timeline(from geom.Vec3, moves []path.Move, spindle float64) *Timeline {
	t := &Timeline{Speed: p.v}
	for i := range moves {
		m := &moves[i]
		l := p.length[i]
		r := p.run(i)
		s := r.up + r.level + r.down
		switch {
		case m.Mode == path.Dwell:
			s = m.Seconds
			t.Dwell += s
		case m.Mode == path.Rapid:
			t.Travel += s
			t.TravelLength += l
		default:
			t.Cutting += s
			t.CutLength += l
			if l > 0 {
				t.Commanded += l / m.Feed
			}
			t.Spindle = spindle
		}
		// The inputs are not needed any more: their room takes the answers.
		p.length[i], p.top[i] = s, r.peak
	}
	t.Seconds, t.Peak = p.length, p.top
	return t
}
