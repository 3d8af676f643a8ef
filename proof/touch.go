package proof

import (
	"math"

	"barwise/geom"
	"barwise/shop/cutter"
)

// form is a cutter's profile with what the formulas ask of it again and again.
type form struct {
	cutter.Profile
	k      float64 // slope of the flank, +Inf for a cylinder
	kr, kh float64 // where the flank begins
	rim    float64
	ball   bool
}

func newForm(p cutter.Profile) form {
	f := form{Profile: p, k: p.Slope()}
	f.kr, f.kh = p.Knee()
	f.rim = p.Rim()
	f.ball = p.Flat == 0 && p.Half == 0 && p.Round == p.R
	return f
}

// height is h(r) with r beyond R by rounding alone taken as R.
func (f *form) height(r float64) float64 {
	switch {
	case r <= f.Flat:
		return 0
	case r > f.kr:
		if f.kr >= f.R {
			return f.rim
		}
		return f.kh + float64((min(r, f.R)-f.kr)*f.k)
	}
	d := r - f.Flat
	return float64(d*d) / (f.Round + math.Sqrt(max(0, float64(f.Round*f.Round)-float64(d*d))))
}

// foot returns the s that maximises m·s − h(√(d² + s²)) for d ≤ R: where an edge of slope m whose line
// passes the axis at distance d is touched. The condition h'(r)·s/r = |m| is monotone in s.
func (f *form) foot(d, m float64) float64 {
	switch {
	case m == 0:
		return 0
	case m < 0:
		return -f.foot(d, -m)
	}
	sR := math.Sqrt(max(0, float64(f.R*f.R)-float64(d*d)))
	if !math.IsInf(f.k, 1) {
		if m >= f.k {
			return sR
		}
		s := m * d / math.Sqrt(float64(f.k*f.k)-float64(m*m))
		if float64(d*d)+float64(s*s) >= float64(f.kr*f.kr) {
			return min(s, sR)
		}
	}
	if f.Round == 0 {
		return math.Sqrt(max(0, float64(f.Flat*f.Flat)-float64(d*d)))
	}
	w2 := 1 + float64(m*m)
	if f.Flat == 0 {
		c2 := max(0, float64(f.Round*f.Round)-float64(d*d))
		return min(m*math.Sqrt(c2/w2), sR)
	}
	// the contact's normal has S across the edge: S·(c + a·√(1+m²)/√(m²+S²)) = d
	a, c, w := f.Flat, f.Round, math.Sqrt(w2)
	lo, hi, S := 0.0, 1.0, min(1, d/f.R)
	for range 60 {
		q := float64(m*m) + float64(S*S)
		g := float64(S*(c+a*w/math.Sqrt(q))) - d
		if g > 0 {
			hi = S
		} else {
			lo = S
		}
		next := S - g/(c+a*w*m*m/(q*math.Sqrt(q)))
		if !(next > lo && next < hi) {
			next = (lo + hi) / 2
		}
		if math.Abs(next-S) < 1e-14 {
			S = next
			break
		}
		S = next
	}
	s := m * math.Sqrt(max(0, 1-float64(S*S))/w2) * (c + a*w/math.Sqrt(float64(m*m)+float64(S*S)))
	return min(s, sR)
}

// rimSlack is how far beyond R, mm, a point still counts as under the rim: where the way ends at the
// very place at which the rim arrives, rounding must not lose it.
const rimSlack = 1e-9

// tri is a triangle of the side frame.
type tri struct{ a, b, c geom.Vec3 }

// over returns the greatest height at which the tip, on the axis (x, y), touches the triangle from
// above; −Inf where the cutter misses it.
func (f *form) over(t *tri, x, y float64) float64 {
	a := geom.Vec3{X: t.a.X - x, Y: t.a.Y - y, Z: t.a.Z}
	b := geom.Vec3{X: t.b.X - x, Y: t.b.Y - y, Z: t.b.Z}
	c := geom.Vec3{X: t.c.X - x, Y: t.c.Y - y, Z: t.c.Z}
	z := max(f.overEdge(a, b), f.overEdge(b, c), f.overEdge(c, a))
	return max(z, f.overFacet(a, b, c))
}

func (f *form) overEdge(p, q geom.Vec3) float64 {
	ex, ey := q.X-p.X, q.Y-p.Y
	l := math.Sqrt(float64(ex*ex) + float64(ey*ey))
	if l < 1e-12 {
		r := math.Sqrt(float64(p.X*p.X) + float64(p.Y*p.Y))
		if r > f.R+rimSlack {
			return math.Inf(-1)
		}
		return max(p.Z, q.Z) - f.height(r)
	}
	ux, uy := ex/l, ey/l
	d := math.Abs(float64(p.X*uy) - float64(p.Y*ux))
	if d > f.R+rimSlack {
		return math.Inf(-1)
	}
	s0 := float64(p.X*ux) + float64(p.Y*uy) // of p, from the foot of the axis
	sR := math.Sqrt(max(0, float64(f.R*f.R)-float64(d*d)))
	lo, hi := max(s0, -sR), min(s0+l, sR)
	if lo > hi {
		end, z := s0, p.Z
		if s0 < 0 {
			end, z = s0+l, q.Z
		}
		if math.Hypot(d, end) > f.R+rimSlack {
			return math.Inf(-1)
		}
		return z - f.rim
	}
	m := (q.Z - p.Z) / l
	s := min(max(f.foot(d, m), lo), hi)
	// from the nearer end, so that a clamped optimum is the vertex itself
	z := p.Z + float64(m*(s-s0))
	if s == s0+l {
		z = q.Z
	}
	return z - f.height(math.Sqrt(float64(d*d)+float64(s*s)))
}

func (f *form) overFacet(a, b, c geom.Vec3) float64 {
	n := b.Sub(a).Cross(c.Sub(a))
	if n.Z < 0 {
		n = n.Mul(-1)
	}
	nxy := math.Sqrt(float64(n.X*n.X) + float64(n.Y*n.Y))
	if n.Z <= 1e-12*nxy || n.Z == 0 {
		return math.Inf(-1)
	}
	m := nxy / n.Z
	r, h := f.Contact(m)
	x, y := 0.0, 0.0
	if nxy > 0 {
		x, y = -n.X/nxy*r, -n.Y/nxy*r
	}
	if !inside2(a, b, c, x, y) {
		return math.Inf(-1)
	}
	// height of the plane over the contact
	z := a.Z - (float64(n.X*(x-a.X))+float64(n.Y*(y-a.Y)))/n.Z
	return z - h
}

func inside2(a, b, c geom.Vec3, x, y float64) bool {
	s0 := float64((b.X-a.X)*(y-a.Y)) - float64((b.Y-a.Y)*(x-a.X))
	s1 := float64((c.X-b.X)*(y-b.Y)) - float64((c.Y-b.Y)*(x-b.X))
	s2 := float64((a.X-c.X)*(y-c.Y)) - float64((a.Y-c.Y)*(x-c.X))
	return s0 >= 0 && s1 >= 0 && s2 >= 0 || s0 <= 0 && s1 <= 0 && s2 <= 0
}

// touches reports whether the cutter, its tip moved straight from p to q, enters the triangle: whether
// the concave function Z_T(x, y) − z exceeds 0 anywhere on the way. Upper bounds by chords end the
// search; what is left open is 1e-7 mm of the way.
func (f *form) touches(t *tri, p, q geom.Vec3) bool {
	if p.X == q.X && p.Y == q.Y {
		return f.over(t, p.X, p.Y) > min(p.Z, q.Z)
	}
	at := func(s float64) float64 {
		c := p.Lerp(q, s)
		return f.over(t, c.X, c.Y) - c.Z
	}
	t0, t1 := 0.0, 1.0
	fa, fb := at(0), at(1)
	if fa > 0 || fb > 0 {
		return true
	}
	l := q.Sub(p).Len()
	if math.IsInf(fa, -1) || math.IsInf(fb, -1) {
		var ok bool
		if t0, t1, ok = f.within(t, p, q); !ok {
			return false
		}
		if fa = at(t0); fa > 0 {
			return true
		}
		if fb = at(t1); fb > 0 {
			return true
		}
		if (t1-t0)*l < 1e-9 {
			return false
		}
	}
	a, b := t0, t1
	m := (a + b) / 2
	fm := at(m)
	for range 100 {
		if fm > 0 {
			return true
		}
		left, right := fm, fm
		if fm > fb {
			left = fm + float64((fm-fb)/(b-m)*(m-a))
		}
		if fm > fa {
			right = fm + float64((fm-fa)/(m-a)*(b-m))
		}
		left, right = max(left, fa), max(right, fb)
		if left <= 0 && right <= 0 || (b-a)*l < 1e-7 {
			return false
		}
		// look into the half that may still rise above 0; the one that promises more first
		if left >= right {
			s := (a + m) / 2
			fs := at(s)
			if fs > fm {
				b, fb, m, fm = m, fm, s, fs
			} else {
				a, fa = s, fs
			}
		} else {
			s := (m + b) / 2
			fs := at(s)
			if fs > fm {
				a, fa, m, fm = m, fm, s, fs
			} else {
				b, fb = s, fs
			}
		}
	}
	return false
}

// within returns the part of the way on which the axis is no farther than R, seen from above, from the
// triangle. The distance is convex along the way.
func (f *form) within(t *tri, p, q geom.Vec3) (t0, t1 float64, ok bool) {
	u := q.Sub(p)
	at := func(s float64) (e, slope float64) {
		c := p.Lerp(q, s)
		e, gx, gy := dist2(t, c.X, c.Y)
		return e, float64(gx*u.X) + float64(gy*u.Y)
	}
	e0, d0 := at(0)
	e1, d1 := at(1)
	if e0 <= f.R && e1 <= f.R {
		return 0, 1, true
	}
	mid, em := 0.0, e0
	if e1 < e0 {
		mid, em = 1, e1
	}
	if em > f.R {
		// neither end is near: the least distance lies between, or there is none
		a, b := 0.0, 1.0
		for i := 0; em > f.R; i++ {
			if d0 >= 0 || d1 <= 0 || i == 100 {
				return 0, 0, false
			}
			s := min(max((e1-e0+float64(d0*a)-float64(d1*b))/(d0-d1), a), b)
			if e0+float64(d0*(s-a)) > f.R {
				return 0, 0, false
			}
			e, d := at(s)
			if e < em {
				mid, em = s, e
			}
			if d < 0 {
				a, e0, d0 = s, e, d
			} else {
				b, e1, d1 = s, e, d
			}
		}
	}
	edge := func(in, out float64) float64 {
		if e, _ := at(out); e <= f.R {
			return out
		}
		for range 50 {
			s := (in + out) / 2
			if e, _ := at(s); e <= f.R {
				in = s
			} else {
				out = s
			}
		}
		return in
	}
	return edge(mid, 0), edge(mid, 1), true
}

// dist2 is the distance from (x, y) to the triangle seen from above, with its gradient; 0 inside.
func dist2(t *tri, x, y float64) (d, gx, gy float64) {
	if inside2(t.a, t.b, t.c, x, y) && area2(t) != 0 {
		return 0, 0, 0
	}
	best, bx, by := math.Inf(1), 0.0, 0.0
	for _, e := range [3][2]*geom.Vec3{{&t.a, &t.b}, {&t.b, &t.c}, {&t.c, &t.a}} {
		p, q := e[0], e[1]
		ux, uy := q.X-p.X, q.Y-p.Y
		w, l := 0.0, float64(ux*ux)+float64(uy*uy)
		if l > 0 {
			w = min(max((float64((x-p.X)*ux)+float64((y-p.Y)*uy))/l, 0), 1)
		}
		dx, dy := x-p.X-float64(w*ux), y-p.Y-float64(w*uy)
		if dd := float64(dx*dx) + float64(dy*dy); dd < best {
			best, bx, by = dd, dx, dy
		}
	}
	d = math.Sqrt(best)
	if d == 0 {
		return 0, 0, 0
	}
	return d, bx / d, by / d
}

func area2(t *tri) float64 {
	return float64((t.b.X-t.a.X)*(t.c.Y-t.a.Y)) - float64((t.b.Y-t.a.Y)*(t.c.X-t.a.X))
}
