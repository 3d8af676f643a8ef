package proof

import (
	"math"

	"barwise/geom"
)

// keepers is how many moves nearest to a patch are followed into its parts.
const keepers = 12

// cand is one move that may clear a patch.
type cand struct {
	w  *sweeps
	id int32
	d  float64 // at the middle of the patch it was gathered for
}

// patch is a triangle of the surface with the distance of each corner from each candidate's sweep.
type patch struct {
	p [3]geom.Vec3 // part frame
	v [3][keepers]float64
}

// cands are the nearest moves found so far, nearest first.
type cands struct {
	n       int
	list    [keepers]cand
	added   int     // how many were taken in so far
	dropped bool    // there were more
	size    float64 // of the patch they were gathered for
	wide    bool    // every move that can touch was looked at
	far     bool    // and those farther off
}

func (c *cands) add(w *sweeps, id int32, d float64) {
	n := c.n
	if n == keepers && d >= c.list[n-1].d {
		c.dropped = true
		return
	}
	i := n
	for k := range n {
		if c.list[k].id == id && c.list[k].w == w {
			return
		}
	}
	if n == keepers {
		i, c.dropped = n-1, true
	}
	for i > 0 && c.list[i-1].d > d {
		c.list[i] = c.list[i-1]
		i--
	}
	c.list[i] = cand{w, id, d}
	c.added++
	c.n = min(n+1, keepers)
}

// gather adds the moves whose axis passes within margin of where it stands while the cutter touches
// the patch, and reports whether any of them was of use.
func (c *cands) gather(w *sweeps, p *[3]geom.Vec3, n geom.Vec3, margin float64) bool {
	if len(w.segs) == 0 {
		return false
	}
	before := c.added
	ns := w.turn.ToSide(n)
	nxy := math.Sqrt(float64(ns.X*ns.X) + float64(ns.Y*ns.Y))
	ox, oy := 0.0, 0.0
	if nxy > 1e-9 {
		r := w.f.R
		if ns.Z > 0 {
			r, _ = w.f.Contact(nxy / ns.Z)
		}
		if !w.f.ball && nxy < 0.1 && w.f.Flat > 0 {
			r = w.f.Flat // a flat end leaves it open where under it the patch is
		}
		ox, oy = ns.X/nxy*r, ns.Y/nxy*r
	}
	if w.f.Flat > 0 {
		margin += w.f.Flat
	}
	a, b, d := w.turn.ToSide(p[0]), w.turn.ToSide(p[1]), w.turn.ToSide(p[2])
	mid := a.Add(b).Add(d).Mul(1. / 3)
	g := &w.grid
	i0, j0 := g.Nearest(geom.Vec2{X: min(a.X, b.X, d.X) + ox - margin, Y: min(a.Y, b.Y, d.Y) + oy - margin})
	i1, j1 := g.Nearest(geom.Vec2{X: max(a.X, b.X, d.X) + ox + margin, Y: max(a.Y, b.Y, d.Y) + oy + margin})
	i0, j0, i1, j1 = max(i0, 0), max(j0, 0), min(i1, g.NX-1), min(j1, g.NY-1)
	size := max(b.Sub(a).Len(), d.Sub(b).Len(), a.Sub(d).Len())
	visit := func(i, j int) {
		bin := j*g.NX + i
		ids := w.ids[w.start[bin]:w.start[bin+1]]
		switch {
		case len(ids) == 0 || w.binAtLeast(bin, i, j, mid) >= c.enough(size):
		case w.f.ball:
			c.balls(w, ids, mid, size)
		default:
			e := c.enough(size)
			for _, id := range ids {
				if c.n > 0 && w.stays(id, mid, e) {
					continue // not exact at no cost, and no help
				}
				c.add(w, id, w.distance(id, mid))
				e = c.enough(size)
			}
		}
	}
	// the middle first: what is near spares a look at the rest
	im, jm := (i0+i1)/2, (j0+j1)/2
	if i0 <= i1 && j0 <= j1 {
		visit(im, jm)
	}
	for bj := j0 >> blockBits; bj <= j1>>blockBits; bj++ {
		for bi := i0 >> blockBits; bi <= i1>>blockBits; bi++ {
			if w.blockAtLeast(bi, bj, mid) >= c.enough(size) {
				continue
			}
			for j := max(j0, bj<<blockBits); j <= min(j1, bj<<blockBits+blockBins-1); j++ {
				for i := max(i0, bi<<blockBits); i <= min(i1, bi<<blockBits+blockBins-1); i++ {
					if i != im || j != jm {
						visit(i, j)
					}
				}
			}
		}
	}
	return c.added > before
}

// balls adds moves of a ball, without a root for those of no use: farther than all kept, or so far
// behind the best that nowhere on a patch of the given size do they come before it. Two distances change
// against each other by no more than twice the way from the middle, which is 2/3 of the size at most.
func (c *cands) balls(w *sweeps, ids []int32, q geom.Vec3, size float64) {
	limit := func() float64 {
		e := math.Inf(1)
		if c.n > 0 {
			e = c.list[0].d + float64(4./3*size)
		}
		if c.n == keepers {
			e = min(e, c.list[keepers-1].d)
		}
		e = max(0, e+w.f.R)
		return float64(e * e)
	}
	l2 := limit()
	for _, id := range ids {
		s := &w.segs[id]
		dx, dy, dz := q.X-s.a.X, q.Y-s.a.Y, q.Z-s.a.Z
		level := float64(dx*s.u.X) + float64(dy*s.u.Y)
		t := min(max((level+float64(dz*s.u.Z))*s.inv, 0), 1)
		d2 := 0.0
		if ez := dz - float64(s.u.Z*t); ez <= 0 {
			ex, ey := dx-float64(s.u.X*t), dy-float64(s.u.Y*t)
			d2 = float64(ex*ex) + float64(ey*ey) + float64(ez*ez)
		} else { // beside or under what rises from the way
			t = min(max(level*s.invXY, 0), 1)
			ex, ey := dx-float64(s.u.X*t), dy-float64(s.u.Y*t)
			d2 = float64(ex*ex) + float64(ey*ey)
		}
		if d2 >= l2 {
			c.dropped = c.dropped || c.n == keepers
			continue
		}
		c.add(w, id, math.Sqrt(d2)-w.f.R)
		l2 = limit()
	}
}

// binAtLeast is a lower bound of the distance of q from the sweeps of the moves in a bin, as far as these
// run in the bin: from above, and for a ball from the nearest and lowest centre the bin has room for.
func (w *sweeps) binAtLeast(bin, i, j int, q geom.Vec3) float64 {
	g := &w.grid
	return w.lowAtLeast(float64(w.low[bin])-q.Z, math.Abs(q.X-g.X(i))-g.DX/2, math.Abs(q.Y-g.Y(j))-g.DY/2)
}

// blockAtLeast is binAtLeast for a block of bins.
func (w *sweeps) blockAtLeast(bi, bj int, q geom.Vec3) float64 {
	const middle, half = float64(blockBins-1) / 2, float64(blockBins) / 2
	g := &w.grid
	x, y := g.X0+float64((float64(bi<<blockBits)+middle)*g.DX), g.Y0+float64((float64(bj<<blockBits)+middle)*g.DY)
	return w.lowAtLeast(float64(w.blocks[bj*w.bx+bi])-q.Z, math.Abs(q.X-x)-half*g.DX, math.Abs(q.Y-y)-half*g.DY)
}

// lowAtLeast is how near a sweep can come whose tip is at least up above a point and whose axis at least
// dx and dy beside it.
func (w *sweeps) lowAtLeast(up, dx, dy float64) float64 {
	if !w.f.ball || up+w.f.R <= 0 {
		return up
	}
	dx, dy = max(0, dx), max(0, dy)
	return math.Sqrt(float64(dx*dx)+float64(dy*dy)+float64((up+w.f.R)*(up+w.f.R))) - w.f.R
}

// enough is how far from the middle of a patch of the given size a move may stay to be of no use: beyond
// those kept, or so far behind the best that no corner gains.
func (c *cands) enough(size float64) float64 {
	if c.n == 0 {
		return math.Inf(1)
	}
	e := max(c.list[0].d, 0) + float64(0.7*size)
	if c.n == keepers {
		e = min(e, c.list[keepers-1].d)
	}
	return e
}

// fallback adds the moves of the bin nearest to the patch that has any.
func (c *cands) fallback(w *sweeps, p *[3]geom.Vec3) {
	if len(w.segs) == 0 {
		return
	}
	mid := w.turn.ToSide(p[0].Add(p[1]).Add(p[2]).Mul(1. / 3))
	g := &w.grid
	i, j := g.Nearest(mid.XY())
	b := w.near[min(max(j, 0), g.NY-1)*g.NX+min(max(i, 0), g.NX-1)]
	if b < 0 { // all of them are elsewhere
		c.add(w, 0, w.distance(0, mid))
		return
	}
	for _, id := range w.ids[w.start[b]:w.start[b+1]] {
		c.add(w, id, w.distance(id, mid))
	}
}

// corner fills in the distances of corner k.
func (c *cands) corner(p *patch, k int) {
	var last *sweeps
	var q geom.Vec3
	for i := range c.n {
		cd := &c.list[i]
		if cd.w != last {
			last, q = cd.w, cd.w.turn.ToSide(p.p[k])
		}
		p.v[k][i] = cd.w.distance(cd.id, q)
	}
}

// view is what the candidates say of a patch.
type view struct {
	bound  float64    // one sweep leaves no point of the patch farther
	low    float64    // least of the corners' nearest
	high   float64    // greatest of them
	val    [3]float64 // nearest of each corner
	best   [3]int8    // which candidate
	choice int8       // the candidate of the bound
}

func (c *cands) look(p *patch) view {
	inf := math.Inf(1)
	o := view{bound: inf, low: inf, high: math.Inf(-1), val: [3]float64{inf, inf, inf}}
	for i := range c.n {
		if m := max(p.v[0][i], p.v[1][i], p.v[2][i]); m < o.bound {
			o.bound, o.choice = m, int8(i)
		}
		for k := range 3 {
			if p.v[k][i] < o.val[k] {
				o.val[k], o.best[k] = p.v[k][i], int8(i)
			}
		}
	}
	o.low = min(o.val[0], o.val[1], o.val[2])
	o.high = max(o.val[0], o.val[1], o.val[2])
	return o
}

// halve splits a patch at the middle of an edge whose ends are best cleared by different moves, the
// longest of these: along a cusp the parts become narrow across it and stay long along it.
func (c *cands) halve(p *patch, o *view, even bool) (a, b patch, edge float64) {
	pick, mixed := 0, false
	best := -1.0
	for k := range 3 {
		l := p.p[(k+1)%3].Sub(p.p[k]).Len()
		m := !even && o.best[k] != o.best[(k+1)%3]
		if m && !mixed || m == mixed && l > best {
			pick, best, mixed = k, l, m
		}
	}
	i, j := pick, (pick+1)%3
	a, b = *p, *p
	a.p[j] = p.p[i].Lerp(p.p[j], 0.5)
	b.p[i] = a.p[j]
	c.corner(&a, j)
	b.v[i] = a.v[j]
	return a, b, best
}

func (p *patch) area() float64 {
	return p.p[1].Sub(p.p[0]).Cross(p.p[2].Sub(p.p[0])).Len() / 2
}

func (p *patch) centre() geom.Vec3 { return p.p[0].Add(p.p[1]).Add(p.p[2]).Mul(1. / 3) }

func (p *patch) longest() float64 {
	return max(p.p[1].Sub(p.p[0]).Len(), p.p[2].Sub(p.p[1]).Len(), p.p[0].Sub(p.p[2]).Len())
}
