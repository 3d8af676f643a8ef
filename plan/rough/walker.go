package rough

import (
	"math"

	"barwise/geom"
)

// walker takes the cutter along the stock: at every step it turns toward the stock as far as the
// engagement allows, and only where it can still turn away in time. The stock is on the right of the
// motion when climbing.
type walker struct {
	w     *work
	s     *slab
	c, u  geom.Vec2 // tip; unit vector of the motion
	off   float64   // kept from the wall
	step  float64   // mm
	turn  float64   // most change of direction a step, radians
	most  float64   // engagement aimed at
	hard  float64   // engagement never passed
	sense float64   // +1: the clear side is on the left
	last  float64   // engagement of the last step
}

// The walker's stride: a ninth of the radius a step, 10° of turn: round a radius of 0.64 R.
const (
	stride   = 1.0 / 9
	sharpest = 10 * math.Pi / 180
	prudent  = 0.85 // share of the sharpest turn that is counted on
	foresee  = 5    // double steps looked ahead while turning away: 100°
)

func (w *work) newWalker() *walker {
	k := &walker{w: w, s: w.slab, off: w.aloof(), step: w.p.Cutter.R * stride, turn: sharpest, most: w.aim, hard: w.hard, sense: 1}
	if !w.p.Climb {
		k.sense = -1
	}
	return k
}

// turned is the direction after a turn by d away from the stock.
func (k *walker) turned(u geom.Vec2, d float64) geom.Vec2 {
	sin, cos := math.Sincos(d * k.sense)
	return geom.Vec2{X: float64(u.X*cos) - float64(u.Y*sin), Y: float64(u.X*sin) + float64(u.Y*cos)}
}

// may reports that the step to p along u keeps off the wall and under the cap.
func (k *walker) may(p, u geom.Vec2) bool {
	return k.w.wallAt(p) >= k.off && k.s.arc(p, u) <= k.hard
}

// wise reports that a step is allowed and leaves a way out: no wall met at less than 40° that it cannot
// turn along, no stock that it cannot turn away from.
func (k *walker) wise(d float64) bool {
	u := k.turned(k.u, d)
	p := plus(k.c, u, k.step)
	a := k.w.wallAt(p) - k.off
	if a < 0 || k.s.arc(p, u) > k.most {
		return false
	}
	radius := k.step / k.turn
	if a < 0.3*radius { // the way a turn from 40° takes toward the wall is 0.23 radii
		if into := -k.w.wallSlope(p).Dot(u); into > 0 && into < 0.64 && a+0.002 < 1.1*radius*(1-math.Sqrt(max(0, 1-into*into))) {
			return false
		}
	}
	for range foresee {
		u = k.turned(u, 2*prudent*k.turn)
		p = plus(p, u, 2*k.step)
		if k.w.wallAt(p) < k.off {
			return true
		}
		if k.s.arc(p, u) > k.most {
			return false
		}
	}
	return true
}

// advance makes one step; false where there is none.
func (k *walker) advance() bool {
	lo, hi := -k.turn, k.turn // hi is wise or the last resort
	switch {
	case k.wise(lo):
		hi = lo
	case k.wise(hi):
		for range 7 {
			if m := (lo + hi) / 2; k.wise(m) {
				hi = m
			} else {
				lo = m
			}
		}
	default:
		u := k.turned(k.u, hi)
		if !k.may(plus(k.c, u, k.step), u) {
			return false
		}
	}
	k.u = k.turned(k.u, hi)
	k.c = plus(k.c, k.u, k.step)
	k.last = k.s.arc(k.c, k.u)
	return true
}

// wallSlope is the gradient of the distance from the wall, a unit vector where the wall is near.
func (w *work) wallSlope(p geom.Vec2) geom.Vec2 {
	h := 0.5 * min(w.grid.DX, w.grid.DY)
	g := geom.Vec2{
		X: w.wallAt(geom.Vec2{X: p.X + h, Y: p.Y}) - w.wallAt(geom.Vec2{X: p.X - h, Y: p.Y}),
		Y: w.wallAt(geom.Vec2{X: p.X, Y: p.Y + h}) - w.wallAt(geom.Vec2{X: p.X, Y: p.Y - h}),
	}
	if l := g.Len(); l > 0 {
		return g.Mul(1 / l)
	}
	return g
}
