package proof

import (
	"context"
	"math"

	"barwise/geom"
	"barwise/shop/cutter"
)

const (
	// gougeFrom is the depth below which a gouge is not looked for, mm.
	gougeFrom = 5e-5
	// gougeStep is how closely the depth of a gouge is settled for a cutter other than a ball, mm.
	gougeStep = 2e-6
)

// gouged is the deepest gouge of a stretch of moves.
type gouged struct {
	depth float64 // mm; 0: none deeper than gougeFrom
	piece int
	at    geom.Vec3 // side frame: on the model
	moves int       // moves deeper than the tolerance
}

// prober holds a cutter, or one collar of it, against a solid.
type prober struct {
	s    *solid
	p    cutter.Profile
	lift float64 // of the profile's tip above the cutter's, for collars
	full form    // of p itself
	// the profile shrunk by tau
	tau  float64
	f    form
	rise float64
	gone bool
	// what the next pieces of a ball may meet
	ahead ahead
}

func newProber(s *solid, p cutter.Profile, lift float64) *prober {
	b := &prober{s: s, p: p, lift: lift, full: newForm(p), tau: -1}
	b.shrink(gougeFrom)
	return b
}

func (b *prober) shrink(tau float64) {
	if tau == b.tau {
		return
	}
	p, rise, ok := b.p.Grown(-tau)
	b.tau, b.f, b.rise, b.gone = tau, newForm(p), rise, !ok
}

// gouge replays pieces [from, to) of a chain. The depth of a gouge is the greatest d such that the
// cutter shrunk by d still touches the model on the way: so a cutter shrunk by the deepest gouge so far
// is all that has to be tried.
func (b *prober) gouge(ctx context.Context, c *chain, from, to int, tol float64) (gouged, error) {
	var out gouged
	last := int32(-1) // the last move counted
	top := b.s.box.Max.Z
	counter := newProber(b.s, b.p, b.lift)
	counter.shrink(tol)
	for i := from; i < to; i++ {
		if i&255 == 0 && ctx.Err() != nil {
			return out, ctx.Err()
		}
		if c.of[i+1] < 0 {
			continue
		}
		p, q := c.pts[i], c.pts[i+1]
		p.Z += b.lift
		q.Z += b.lift
		if min(p.Z, q.Z) >= top {
			continue
		}
		if out.depth > tol && !counter.touched(p, q) {
			continue
		}
		b.shrink(max(gougeFrom, out.depth))
		if b.full.ball && i >= b.ahead.to && len(b.s.nodes) > 0 {
			b.ahead.look(b.s, c, i, to, b.lift+b.p.R, b.p.R-b.tau)
		}
		if d, at := b.deepest(p, q); d > b.tau {
			out.depth, out.piece, out.at = d, i, at
		}
		if out.depth > tol && c.of[i+1] != last {
			last = c.of[i+1]
			out.moves++
		}
	}
	return out, nil
}

// touched reports whether the way of the tip has any triangle deeper than tau.
func (b *prober) touched(p, q geom.Vec3) bool {
	_, _, hit := b.search(p, q, true)
	return hit
}

// deepest returns the greatest depth over a straight way of the tip, where it is more than tau, with
// the model's point; otherwise something not above tau.
func (b *prober) deepest(p, q geom.Vec3) (float64, geom.Vec3) {
	d, at, _ := b.search(p, q, false)
	return d, at
}

// search is deepest, or stops at the first triangle deeper than tau.
func (b *prober) search(p, q geom.Vec3, any bool) (float64, geom.Vec3, bool) {
	if b.gone || len(b.s.nodes) == 0 {
		return 0, geom.Vec3{}, false
	}
	if b.full.ball {
		p.Z += b.p.R
		q.Z += b.p.R
		w := newBallWay(b.s, p, q, b.p.R-b.tau)
		from := root
		if b.ahead.to > 0 && !any {
			from = b.ahead.branches
		}
		w.search(from, any)
		if !w.found { // R − (R − tau) need not be tau
			return b.tau, w.at, false
		}
		return b.p.R - w.need, w.at, true
	}
	return b.searchForm(p, q, any)
}

// beyond reports whether the half-lines rising from p to q stay need or more off the triangle's plane,
// on its upper side. A needle's plane is not to be trusted.
func beyond(t *tri, p, q geom.Vec3, need float64) bool {
	ab, ac := t.b.Sub(t.a), t.c.Sub(t.a)
	n := ab.Cross(ac)
	if n.Dot(n) <= 1e-12*float64(ab.Dot(ab)*ac.Dot(ac)) {
		return false
	}
	if n.Z < 0 {
		n = n.Mul(-1)
	}
	d := min(p.Sub(t.a).Dot(n), q.Sub(t.a).Dot(n))
	return d > 0 && float64(d*d) >= float64(need*need)*n.Dot(n)*(1+1e-9)
}

func (b *prober) searchForm(p, q geom.Vec3, any bool) (float64, geom.Vec3, bool) {
	s := b.s
	f, rise := b.f, b.rise
	deepest := b.tau
	var at geom.Vec3
	x0, x1 := min(p.X, q.X), max(p.X, q.X)
	y0, y1 := min(p.Y, q.Y), max(p.Y, q.Y)
	z0 := min(p.Z, q.Z)
	long := q.Sub(p).XY().Len() > 2*b.p.R
	var stack [64]int32
	n := 1
	for n > 0 {
		n--
		i := stack[n]
		nd := &s.nodes[i]
		dx := max(0, float64(nd.lo[0])-x1, x0-float64(nd.hi[0]))
		dy := max(0, float64(nd.lo[1])-y1, y0-float64(nd.hi[1]))
		d2 := float64(dx*dx) + float64(dy*dy)
		if d2 > float64(f.R*f.R) {
			continue
		}
		if float64(nd.hi[2])-f.height(math.Sqrt(d2)) <= z0+rise {
			continue
		}
		if long && f.clear(nd, p, q, rise) {
			continue
		}
		if nd.right > 0 {
			stack[n], stack[n+1] = nd.right, i+1
			n += 2
			continue
		}
		for j := nd.first; j < nd.first-nd.right; j++ {
			v := s.tris[j]
			t := tri{s.v[v[0]], s.v[v[1]], s.v[v[2]]}
			up := geom.Vec3{Z: rise}
			if !f.touches(&t, p.Add(up), q.Add(up)) {
				continue
			}
			if any {
				return deepest, at, true
			}
			deepest = b.settle(&t, p, q, deepest)
			at = t.a.Add(t.b).Add(t.c).Mul(1. / 3)
			if g, r, ok := b.p.Grown(-deepest); ok {
				f, rise = newForm(g), r
			}
		}
	}
	return deepest, at, deepest > b.tau
}

// clear reports whether a long way passes above or beside a box, looking only at the part of it that is
// within R of the box.
func (f *form) clear(nd *node, p, q geom.Vec3, rise float64) bool {
	lo, hi := 0.0, 1.0
	u := q.Sub(p)
	cut := func(p, u, a, b float64) {
		switch {
		case u > 0:
			lo, hi = max(lo, (a-p)/u), min(hi, (b-p)/u)
		case u < 0:
			lo, hi = max(lo, (b-p)/u), min(hi, (a-p)/u)
		}
	}
	cut(p.X, u.X, float64(nd.lo[0])-f.R, float64(nd.hi[0])+f.R)
	cut(p.Y, u.Y, float64(nd.lo[1])-f.R, float64(nd.hi[1])+f.R)
	const slack = 1e-9 // of the rounding of lo and hi
	if lo > hi+slack {
		return true
	}
	z := min(p.Z+float64(u.Z*lo), p.Z+float64(u.Z*hi)) - float64(slack*math.Abs(u.Z))
	return float64(nd.hi[2]) <= z+rise-slack
}

// settle returns the depth of a triangle known to lie deeper than tau, from below, to gougeStep.
func (b *prober) settle(t *tri, p, q geom.Vec3, tau float64) float64 {
	touches := func(d float64) bool {
		g, rise, ok := b.p.Grown(-d)
		if !ok {
			return false
		}
		f := newForm(g)
		up := geom.Vec3{Z: rise}
		return f.touches(t, p.Add(up), q.Add(up))
	}
	lo, step := tau, 1e-4
	hi := lo + step
	for touches(hi) {
		lo, step = hi, 4*step
		hi = lo + step
	}
	for hi-lo > gougeStep {
		if m := (lo + hi) / 2; touches(m) {
			lo = m
		} else {
			hi = m
		}
	}
	return max(lo, math.Nextafter(tau, math.Inf(1)))
}
