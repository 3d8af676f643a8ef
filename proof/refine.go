package proof

import (
	"math"

	"barwise/geom"
)

// narrow looks at the moves about where the cutter would touch the patch, side by side, until the patch
// is certified.
func (w *worker) narrow(c *cands, p *patch) view {
	o := view{bound: math.Inf(1), low: math.Inf(1), high: math.Inf(1)}
	for _, s := range w.order {
		if w.cos[s] < 0.02 && c.n > 0 {
			break
		}
		for _, sw := range w.bySide[s] {
			if w.balls[s] && !sw.f.ball {
				continue // roughing by another shape: when the patch is looked at again
			}
			if !c.gather(sw, &p.p, w.n, sw.grid.DX/2) {
				continue
			}
			for k := range 3 {
				c.corner(p, k)
			}
			if o = c.look(p); o.bound <= w.goal {
				return o
			}
		}
	}
	return o
}

// widen looks at every move that can reach the patch from any side that faces it at all.
func (w *worker) widen(c *cands, p *patch) view {
	c.wide = true
	for _, s := range w.order {
		if w.cos[s] < -0.2 && c.n > 0 {
			break
		}
		for _, sw := range w.bySide[s] {
			c.gather(sw, &p.p, geom.Vec3{}, 1.05*sw.f.R)
		}
	}
	if c.n == 0 {
		for _, s := range w.order {
			for _, sw := range w.bySide[s] {
				c.fallback(sw, &p.p)
			}
		}
		if c.n == 0 { // nothing is cut at all: what is left is less than the bar is long
			d := w.set.Bar.Length + w.set.Bar.Width + w.set.Bar.Height
			return view{bound: d, low: d, high: d, val: [3]float64{d, d, d}}
		}
	}
	for k := range 3 {
		c.corner(p, k)
	}
	return c.look(p)
}

// farther looks at the moves that may come nearer than the best so far though they cannot touch.
func (w *worker) farther(c *cands, p *patch) view {
	c.far = true
	for _, s := range w.order {
		for _, sw := range w.bySide[s] {
			if c.n > 0 {
				c.gather(sw, &p.p, geom.Vec3{}, sw.f.R+min(max(c.list[0].d, 0), 4*sw.f.R))
			}
		}
	}
	for k := range 3 {
		c.corner(p, k)
	}
	return c.look(p)
}

// target is what a patch must be certified to: in the second round, near the greatest sample known.
func (w *worker) target() float64 {
	if w.final {
		return max(w.goal, float64(w.t.max*sureFactor)+sureExtra)
	}
	return w.goal
}

// sharpen replaces the corners' values by those of the moves nearest to each corner itself.
func (w *worker) sharpen(p *patch, o *view) {
	for k := range 3 {
		o.val[k] = min(o.val[k], w.exact(p.p[k], 0))
	}
	o.low = min(o.val[0], o.val[1], o.val[2])
	o.high = max(o.val[0], o.val[1], o.val[2])
}

// exact is what is left at a single point, or anything not above enough.
func (w *worker) exact(q geom.Vec3, enough float64) float64 {
	pa := patch{p: [3]geom.Vec3{q, q, q}}
	var c cands
	for _, s := range w.order {
		if w.cos[s] < 0.02 && c.n > 0 {
			break
		}
		for _, sw := range w.bySide[s] {
			c.gather(sw, &pa.p, w.n, sw.grid.DX/2)
		}
		if c.n > 0 && c.list[0].d <= enough {
			return c.list[0].d
		}
	}
	o := w.widen(&c, &pa)
	if o.low > 0 && c.n > 0 {
		o = w.farther(&c, &pa)
	}
	return o.low
}

// refine halves a patch until its parts are certified or too small.
func (w *worker) refine(c *cands, p *patch, o view) {
	if w.stop {
		return
	}
	if o.bound <= w.target() {
		w.enter(c, p, &o, InTolerance)
		return
	}
	if l := p.longest(); l < 0.6*c.size && c.dropped {
		// the moves kept are those about a larger patch
		cn := cands{wide: c.wide, far: c.far, size: l}
		if c.wide {
			o = w.widen(&cn, p)
		} else {
			o = w.narrow(&cn, p)
		}
		if c.far {
			o = w.farther(&cn, p)
		}
		w.refine(&cn, p, o)
		return
	}
	tol := w.set.Tolerance
	l := p.longest()
	if !c.wide && (o.high > tol && l <= w.spacing/2 || o.low > tol || l < w.spacing/8 || c.n == 0) {
		// before anything is said against it
		cw := *c
		o = w.widen(&cw, p)
		w.refine(&cw, p, o)
		return
	}
	if o.high > tol && o.low <= tol && c.wide && l <= w.spacing/2 {
		// at the rim of what cannot be reached there is no use in halving
		if cls := w.reach.class(p.centre(), w.n); cls != Left {
			w.enter(c, p, &o, cls)
			return
		}
	}
	if o.low > tol && c.wide {
		cls := w.reach.class(p.centre(), w.n)
		if cls == Left && w.final && !c.far {
			cf := *c
			o = w.farther(&cf, p)
			w.refine(&cf, p, o)
			return
		}
		if cls == Left && o.low < deepLeft*tol {
			w.sharpen(p, &o)
		}
		if cls != Left || o.low > tol && !w.final {
			w.enter(c, p, &o, cls)
			return
		}
	}
	floor := min(w.spacing/64, w.finest/8)
	if mixed := o.high > tol && o.low <= tol; mixed && !w.final {
		floor = w.spacing / 16
	}
	// halving a needle's mixed edges need not make it shorter: the longest edge then
	even := o.high > tol && o.low <= tol && !w.final || p.area() < 0.05*floor*floor
	a, b, edge := c.halve(p, &o, even)
	if edge/2 < floor {
		if !c.wide {
			cw := *c
			o = w.widen(&cw, p)
			w.refine(&cw, p, o)
			return
		}
		w.small(c, p, &o)
		return
	}
	if w.steps++; w.steps&255 == 0 && w.ctx.Err() != nil {
		w.stop = true
		return
	}
	w.refine(c, &a, c.look(&a))
	w.refine(c, &b, c.look(&b))
}

// small settles a patch that is too small to halve and still not certified.
func (w *worker) small(c *cands, p *patch, o *view) {
	switch cls := w.reach.class(p.centre(), w.n); {
	case cls == Excluded || cls == Unreachable && o.high > w.set.Tolerance:
		w.enter(c, p, o, cls)
	case cls == Unreachable:
		w.done(p, Uncertain) // at the rim of what cannot be reached: no bound is claimed for it
	case (o.val[0]+o.val[1]+o.val[2])/3 > w.set.Tolerance:
		w.enter(c, p, o, Left)
	default:
		w.enter(c, p, o, Uncertain)
	}
}
