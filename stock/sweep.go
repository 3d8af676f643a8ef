package stock

import (
	"math"

	"barwise/geom"
	"barwise/geom/field"
	"barwise/shop/cutter"
)

// touch is added to a cutter's radius, mm: a node on the rim counts as cut whatever way its
// coordinates were rounded.
const touch = 1e-9

type form uint8

const (
	formFlat form = iota
	formBall
	formCone  // disc and flank
	formTaper // arc from the axis and flank
	formBull  // disc, arc and perhaps a flank
)

func formOf(p cutter.Profile) form {
	switch {
	case p.Flat >= p.R:
		return formFlat
	case p.Round == 0:
		return formCone
	case p.Flat == 0 && p.Round == p.R && p.Half == 0:
		return formBall
	case p.Flat == 0:
		return formTaper
	}
	return formBull
}

// sweep is one straight move of a cutter's tip. A node at u along the way and v across it is lowered to
//
//	min over s in [0, l], |s − u| ≤ √(R² − v²), of az + m·s + h(√((s−u)² + v²)),
//
// which is convex in s. The optimum on an endless way lies s − u = −sign(m)·lead(v) off the node; it is
// moved to the nearest end where it lies outside, which is exact for a convex function.
type sweep struct {
	p          cutter.Profile
	form       form
	ax, ay, az float64
	ux, uy     float64 // direction of the move in XY; (1, 0) for a vertical one
	l, m       float64 // length in XY, rise over run
	am, sm     float64 // |m| and √(1+m²)
	r, r2, q2  float64 // R, R², (R+touch)²
	reach      float64 // lead(v) is never more
	low        float64 // lowest tip
	vertical   bool    // the way has no length in XY but changes height
	slope      float64 // of the flank
	kneeR      float64
}

func newSweep(p cutter.Profile, a, b geom.Vec3) sweep {
	w := sweep{p: p, form: formOf(p), ax: a.X, ay: a.Y, az: a.Z, ux: 1, low: min(a.Z, b.Z), r: p.R, r2: float64(p.R * p.R)}
	w.q2 = float64((p.R + touch) * (p.R + touch))
	d := b.XY().Sub(a.XY())
	w.sm = 1
	if l := d.Len(); l > 1e-12 {
		w.l, w.ux, w.uy = l, d.X/l, d.Y/l
		w.m = (b.Z - a.Z) / l
		w.am = math.Abs(w.m)
		w.sm = math.Sqrt(1 + float64(w.m*w.m))
	} else {
		w.az, w.vertical = w.low, a.Z != b.Z
	}
	switch {
	case w.m == 0:
	case w.form == formBall:
		w.reach = w.r * w.am / w.sm
	default:
		w.reach = w.r
	}
	if w.form == formCone || w.form == formTaper || w.form == formBull {
		w.slope = p.Slope()
		w.kneeR, _ = p.Knee()
	}
	return w
}

// at returns the height to which a node at (u, v) is lowered, +Inf out of reach.
func (w *sweep) at(u, v float64) float64 {
	if w.form == formBall {
		return w.ballAt(u, v)
	}
	q := w.q2 - float64(v*v)
	if q < 0 {
		return math.Inf(1)
	}
	half := math.Sqrt(q)
	lo, hi := max(0, u-half), min(w.l, u+half)
	if lo > hi {
		return math.Inf(1)
	}
	s := u
	if w.m > 0 {
		s -= w.lead(math.Abs(v), half)
	} else if w.m < 0 {
		s += w.lead(math.Abs(v), half)
	}
	s = max(lo, min(hi, s))
	d := s - u
	r2 := float64(d*d) + float64(v*v)
	z := w.az + float64(w.m*s)
	if w.form == formFlat {
		return z
	}
	return z + w.p.Height(min(math.Sqrt(r2), w.r))
}

// ballAt is at for a ball: within the move az + R + m·u − √(1+m²)·√(R²−v²), else the ball at an end.
func (w *sweep) ballAt(u, v float64) float64 {
	v2 := float64(v * v)
	root := math.Sqrt(max(0, w.r2-v2))
	s, z := u-float64(w.m*root)/w.sm, w.az+w.r
	if s > 0 && s < w.l && v2 <= w.q2 {
		return z + float64(w.m*u) - float64(w.sm*root)
	}
	if s > 0 {
		z += float64(w.m * w.l)
		u -= w.l
	}
	q := w.r2 - float64(u*u) - v2
	if q < w.r2-w.q2 {
		return math.Inf(1)
	}
	return z - math.Sqrt(max(0, q))
}

// lead is how far the touching point runs ahead of (behind, where the way rises) the node: the e ≥ 0
// with h'(r)·e/r = |m|, r = √(e² + v²), or the half chord where the rim cuts.
func (w *sweep) lead(v, half float64) float64 {
	switch w.form {
	case formFlat:
		return half
	case formCone:
		f := math.Sqrt(max(0, float64(w.p.Flat*w.p.Flat)-float64(v*v)))
		return min(half, max(f, w.flank(v, half)))
	case formTaper:
		rho := w.p.Round
		if v < rho {
			e := w.am / w.sm * math.Sqrt(float64(rho*rho)-float64(v*v))
			if float64(e*e)+float64(v*v) <= float64(w.kneeR*w.kneeR) {
				return min(half, e)
			}
		}
		if w.kneeR >= w.r { // the arc is cut off before it meets a flank
			return half
		}
		return min(half, w.flank(v, half))
	}
	return min(half, w.bullLead(v, half))
}

// flank is lead on a cone: k·e/√(e²+v²) = |m|.
func (w *sweep) flank(v, half float64) float64 {
	if w.am >= w.slope {
		return half
	}
	return w.am * v / math.Sqrt(float64(w.slope*w.slope)-float64(w.am*w.am))
}

// bullLead solves S·(c + a√(1+m²)/√(m²+S²)) = v for S in [0, 1], the sine of the touching normal's
// angle across the way: rising and concave in S, so Newton's steps from below stay below; halving
// keeps them honest.
func (w *sweep) bullLead(v, half float64) float64 {
	a, c := w.p.Flat, w.p.Round
	if v >= a+c {
		return w.flank(v, half)
	}
	m2 := float64(w.m * w.m)
	lo, hi, s := 0.0, 1.0, v/(a+c)
	var g float64
	for range 60 {
		t := m2 + float64(s*s)
		g = c + a*w.sm/math.Sqrt(t)
		f := float64(s*g) - v
		if f > 0 {
			hi = s
		} else {
			lo = s
		}
		n := s - f/(c+float64(a*w.sm*m2)/(t*math.Sqrt(t)))
		if !(n > lo && n < hi) {
			n = (lo + hi) / 2
		}
		if math.Abs(n-s) < 1e-10 { // heights err by the square of it
			break
		}
		s = n
	}
	e := w.am * math.Sqrt(max(0, 1-float64(s*s))) / w.sm * g
	if r2 := float64(e*e) + float64(v*v); r2 > float64(w.kneeR*w.kneeR) {
		knee := math.Sqrt(max(0, float64(w.kneeR*w.kneeR)-float64(v*v)))
		return max(knee, w.flank(v, half))
	}
	return e
}

// yRange returns the rows a sweep may reach; j0 > j1 where it misses the grid.
func yRange(g *field.Grid, r float64, a, b geom.Vec3) (j0, j1 int) {
	j0 = int(math.Ceil((min(a.Y, b.Y)-r-touch-g.Y0)/g.DY - touch))
	j1 = int(math.Floor((max(a.Y, b.Y)+r+touch-g.Y0)/g.DY + touch))
	return max(j0, 0), min(j1, g.NY-1)
}
