package cl

import (
	"math"

	"barwise/shop/cutter"
)

// shape is a cutter.Profile with its constants worked out once: a disc of radius flat, an arc of
// radius round up to radius knee, a flank of rise slope per radius up to rad.
type shape struct {
	profile          cutter.Profile
	rad, flat, round float64
	slope            float64 // rise of the flank per radius; 0 where there is no flank below rad
	knee, kneeH      float64 // where the flank begins, and the height there
	rim              float64 // height at rad
	rimSlope         float64 // h' just inside rad, +Inf for an arc that ends upright
	flank            bool    // the flank has some length
	ball             bool    // an arc alone that ends upright: a ball end
}

func newShape(p cutter.Profile) shape {
	s := shape{profile: p, rad: p.R, flat: min(p.Flat, p.R), round: p.Round}
	s.knee, s.kneeH = p.Knee()
	k := p.Slope()
	s.flank = s.knee < p.R && !math.IsInf(k, 1)
	if s.flank {
		s.slope, s.rimSlope = k, k
	} else {
		s.knee = p.R
		s.rimSlope = s.arcSlope(p.R)
	}
	s.rim = s.height(p.R)
	s.ball = s.flat == 0 && !s.flank && s.round == s.rad
	return s
}

// arcSlope is h' at radius r ≤ knee, from the left.
func (s *shape) arcSlope(r float64) float64 {
	d := r - s.flat
	if d <= 0 || s.round <= 0 {
		return 0
	}
	q := float64(s.round*s.round) - float64(d*d)
	if q <= 0 {
		return math.Inf(1)
	}
	return d / math.Sqrt(q)
}

// slopeAt is h' at r, the lesser one where the profile has a corner.
func (s *shape) slopeAt(r float64) float64 {
	if r <= s.flat {
		return 0
	}
	if r <= s.knee {
		return s.arcSlope(r)
	}
	return s.slope
}

// height is h(r) for 0 ≤ r ≤ rad.
func (s *shape) height(r float64) float64 {
	if r <= s.flat {
		return 0
	}
	if r <= s.knee {
		d := r - s.flat
		// c − √(c² − d²) written so that small d does not cancel
		return float64(d*d) / (s.round + math.Sqrt(max(0, float64(s.round*s.round)-float64(d*d))))
	}
	return s.kneeH + float64((r-s.knee)*s.slope)
}

// along returns how far from the foot, up an infinite line that rises m ≥ 0 per horizontal length and
// passes at horizontal distance 0 ≤ d ≤ rad from the axis, the line first meets the falling cutter:
// the s ≥ 0 that maximises m·s − h(√(d² + s²)). That function is concave, so clamping s to a segment
// gives the segment's own optimum. An error δ in s costs only O(δ²) in height where h is smooth there.
func (s *shape) along(m, d float64) float64 {
	if m == 0 {
		return 0
	}
	d2 := float64(d * d)
	edge := math.Sqrt(max(0, float64(s.rad*s.rad)-d2))
	if float64(s.rimSlope*edge) <= float64(m*s.rad) {
		return edge
	}
	if s.flank && m < s.slope {
		w := math.Sqrt(float64((s.slope - m) * (s.slope + m)))
		if float64(d*s.slope) >= float64(s.knee*w) {
			return min(float64(m*d)/w, edge)
		}
	}
	if s.round == 0 { // the corner between the disc and the flank
		return math.Sqrt(max(0, float64(s.flat*s.flat)-d2))
	}
	if s.flat == 0 {
		return m * math.Sqrt(max(0, float64(s.round*s.round)-d2)/(1+float64(m*m)))
	}
	return s.alongArc(m, d)
}

// alongArc solves S·(c + a·√(1+m²)/√(m²+S²)) = d for S in [0, 1] by Newton's method; the left side is
// concave and grows with S, so that the iterates rise to the root after the first. S is the sine of the
// contact normal's lean across the line.
func (s *shape) alongArc(m, d float64) float64 {
	a, c := s.flat, s.round
	m2 := float64(m * m)
	w1 := math.Sqrt(1 + m2)
	low := d / (c + float64(a*w1)/m)
	x := d / (a + c)
	for range 40 {
		q := m2 + float64(x*x)
		t := float64(a*w1) / math.Sqrt(q)
		f := float64(x*(c+t)) - d
		step := f / (c + float64(t*m2)/q)
		next := min(max(x-step, low), 1)
		done := math.Abs(next-x) <= 1e-8*next // the step after is quadratically smaller
		x = next
		if done {
			break
		}
	}
	w := math.Sqrt(max(0, 1-float64(x*x))) / w1
	return m * w * (c + float64(a*w1)/math.Sqrt(m2+float64(x*x)))
}
