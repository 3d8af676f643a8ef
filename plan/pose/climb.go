package pose

import (
	"context"
	"math"

	"barwise/geom"
)

// Margin is by how many points two poses must differ to count as different: less is the noise of samples
// and pixels.
const Margin = 0.15

// by turns a pose by deg about its X (axis 0), Y (1) or Z (2).
func (t turned) by(axis int, deg float64) turned {
	s, c := math.Sincos(deg * math.Pi / 180)
	mix := func(u, v geom.Vec3) (geom.Vec3, geom.Vec3) {
		return u.Mul(c).Sub(v.Mul(s)), u.Mul(s).Add(v.Mul(c))
	}
	switch axis {
	case 0:
		t.y, t.z = mix(t.y, t.z)
	case 1:
		t.z, t.x = mix(t.z, t.x)
	default:
		t.x, t.y = mix(t.x, t.y)
	}
	return t.square()
}

// square takes rounding out of a rotation.
func (t turned) square() turned {
	y := t.y.Unit()
	x := t.x.Sub(y.Mul(t.x.Dot(y))).Unit()
	return turned{x, y, x.Cross(y)}
}

// climber looks for the best pose near one.
type climber struct {
	ctx   context.Context
	r     *ruler
	w     *bench
	tried int
	only  bool // the turn alone may change
	fixed bool // nothing may
}

func (c *climber) cost(t turned) float64 {
	if c.ctx.Err() != nil {
		return math.Inf(1)
	}
	c.tried++
	return c.r.p.Weights.Cost(c.r.judge(c.w, t), c.r.p.Fit)
}

func (c *climber) turnsAbout() []int {
	switch {
	case c.fixed:
		return nil
	case c.only:
		return []int{1}
	}
	return []int{0, 2, 1}
}

// climb goes downhill by ever smaller turns about each axis.
func (c *climber) climb(s start, from, to float64) start {
	for step := from; step >= to; step /= 2 {
		for moved := true; moved; {
			moved = false
			for _, a := range c.turnsAbout() {
				for _, d := range [...]float64{step, -step} {
					for {
						t := s.t.by(a, d)
						cost := c.cost(t)
						if !(cost < s.cost-1e-9) {
							break
						}
						s.t, s.cost, moved = t, cost, true
					}
				}
			}
			if step == from {
				break
			}
		}
	}
	return s
}

// slack finds how far the pose may turn about an axis either way before it costs Margin more, up to most
// degrees, and how far the middle of that range is off.
func (c *climber) slack(s start, axis int, most float64) (width, off float64) {
	var end [2]float64
	for k, sign := range [...]float64{-1, 1} {
		good, bad := 0.0, -1.0
		for d := 0.35; ; d *= 2 {
			d = min(d, most)
			if c.cost(s.t.by(axis, sign*d)) > s.cost+Margin {
				bad = d
				break
			}
			good = d
			if d == most {
				break
			}
		}
		for bad > 0 && bad-good > 0.3 {
			m := (good + bad) / 2
			if c.cost(s.t.by(axis, sign*m)) > s.cost+Margin {
				bad = m
			} else {
				good = m
			}
		}
		if bad > 0 {
			good = (good + bad) / 2
		}
		end[k] = sign * good
	}
	return (end[1] - end[0]) / 2, (end[1] + end[0]) / 2
}

// settle moves to the middle of the range of poses that are as good.
func (c *climber) settle(s start) (start, [3]float64) {
	var width [3]float64
	for round := range 2 {
		far := 0.0
		for _, a := range c.turnsAbout() {
			w, off := c.slack(s, a, 8)
			width[a] = w
			if math.Abs(off) < 0.1 {
				continue
			}
			t := s.t.by(a, off)
			if cost := c.cost(t); cost <= s.cost+Margin {
				far = max(far, math.Abs(off))
				s.t, s.cost = t, min(cost, s.cost+Margin/2)
			}
		}
		if round == 0 && far < 1 {
			break
		}
	}
	return s, width
}

// snapDeg is how far a pose may be turned to be square with an axis of the model.
const snapDeg = 5

// snap puts the pose square with the model's own axes where that costs no more than Margin above it: all
// of it, or the axis alone, or a side alone; axes that show in the surface before those of the file.
func (c *climber) snap(s start, own []axis) (start, string) {
	if c.fixed {
		return s, ""
	}
	type try struct {
		t    turned
		rank int
		on   string
	}
	var tries []try
	add := func(t turned, rank int, on string) {
		if angle(s.t, t) <= snapDeg {
			tries = append(tries, try{t, rank, on})
		}
	}
	if !c.only {
		for _, a := range own {
			t, ok := s.t.align(s.t.y, a.v)
			if !ok {
				continue
			}
			add(t, 10+a.rank, "lies along "+a.kind)
			for _, b := range own {
				if math.Abs(a.v.Dot(b.v)) > 0.02 {
					continue
				}
				if u, ok := c.face(t, b.v); ok {
					add(u, a.rank+b.rank, "square with "+worse(a, b))
				}
			}
		}
		for _, d := range c.r.set.Sides {
			for _, b := range own {
				if t, ok := s.t.align(s.t.side(d).z, b.v); ok {
					add(t, 20+b.rank, "a side faces "+b.kind)
				}
			}
		}
	} else {
		for _, b := range own {
			if u, ok := c.face(s.t, b.v); ok {
				add(u, b.rank, "a side faces "+b.kind)
			}
		}
	}
	limit, best, on := s.cost+Margin, -1, ""
	out := s
	for _, t := range tries {
		if best >= 0 && t.rank > best {
			continue
		}
		cost := c.cost(t.t)
		switch {
		case cost > limit:
		case best < 0 || t.rank < best || cost < out.cost:
			out.t, out.cost, best, on = t.t, cost, t.rank, t.on
		}
	}
	return out, on
}

// worse is the kind of the less telling of two axes.
func worse(a, b axis) string {
	if a.rank < b.rank || a.rank == b.rank && a.kind == ownAxes {
		return b.kind
	}
	return a.kind
}

// align turns the pose the least so that the model direction `from` of it comes to where to, or −to, is.
func (t turned) align(from, to geom.Vec3) (turned, bool) {
	if from.Dot(to) < 0 {
		to = to.Mul(-1)
	}
	if from.Dot(to) < math.Cos(snapDeg*math.Pi/180) {
		return t, false
	}
	// the rotation R of model space with R·from = to, applied to the rows
	return turned{carry(t.x, from, to), carry(t.y, from, to), carry(t.z, from, to)}.square(), true
}

// carry turns p by the least rotation that takes a to b, unit vectors not opposite.
func carry(p, a, b geom.Vec3) geom.Vec3 {
	v, c := a.Cross(b), a.Dot(b)
	return p.Mul(c).Add(v.Cross(p)).Add(v.Mul(v.Dot(p) / (1 + c)))
}

// face turns the pose about its axis so that b, square to it, faces or lies half way between two of its
// flats, whichever is nearer.
func (c *climber) face(t turned, b geom.Vec3) (turned, bool) {
	x, z := b.Dot(t.x), b.Dot(t.z)
	if math.Hypot(x, z) < 0.9 {
		return t, false
	}
	half := c.r.set.period(c.r.shape) / 2
	off := remainder(math.Atan2(x, z)*180/math.Pi, half)
	return t.side(off), math.Abs(off) <= snapDeg
}

// angle is the angle between two poses, in degrees.
func angle(a, b turned) float64 {
	tr := a.x.Dot(b.x) + a.y.Dot(b.y) + a.z.Dot(b.z)
	return math.Acos(max(-1, min(1, (tr-1)/2))) * 180 / math.Pi
}

// apart is the least angle between two poses, in degrees, over the turns by period.
func apart(a, b turned, period float64) float64 {
	best := math.Inf(1)
	for k := range int(math.Round(360 / period)) {
		best = min(best, angle(a.side(float64(k)*period), b))
	}
	return best
}
