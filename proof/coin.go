package proof

import (
	"math"
	"sync"

	"barwise/geom"
)

// coin is a short cylinder that holds a branch of the tree: as good as flat where the surface is smooth,
// whichever way it leans. Part frame; it serves every side.
type coin struct {
	m, n geom.Vec3 // middle, axis
	rho  float64   // radius
	half float64   // of its height
}

const (
	// coinTris is the most triangles that a coin is made for: larger branches curve too much.
	coinTris = 64
	// coinSpan is the most nodes of a left branch that has a coin's worth of triangles at most.
	coinSpan = coinTris / leafSize * 2
	// coinSlack is added to radius and height, mm: far more than rounding, far less than gougeFrom.
	coinSlack = 1e-7
)

// mint makes the coins of the branch at i, which is worked on by at most 2^fork goroutines, and returns
// the number of triangles in it.
func (t *tree) mint(i int32, fork int) (first, n int32) {
	nd := &t.shape[i]
	if nd.right < 0 {
		first, n = nd.first, -nd.right
	} else {
		var fa, na, nb int32
		if fork > 0 {
			var wg sync.WaitGroup
			wg.Go(func() { fa, na = t.mint(i+1, fork-1) })
			_, nb = t.mint(nd.right, fork-1)
			wg.Wait()
		} else {
			fa, na = t.mint(i+1, 0)
			_, nb = t.mint(nd.right, 0)
		}
		first, n = fa, na+nb
	}
	if n <= coinTris {
		t.coins[i] = t.coin(nd, first, n)
	} else {
		t.coins[i] = coin{rho: math.Inf(1), half: math.Inf(1)}
	}
	return first, n
}

// coin is the coin about triangles [first, first+n), its axis their mean normal by area.
func (t *tree) coin(nd *node, first, n int32) coin {
	var sum geom.Vec3
	for _, v := range t.tris[first : first+n] {
		a := t.verts[v[0]]
		sum = sum.Add(t.verts[v[1]].Sub(a).Cross(t.verts[v[2]].Sub(a)))
	}
	c := coin{n: geom.Vec3{Z: 1}}
	if l := sum.Len(); l > 0 && !math.IsInf(l, 0) {
		c.n = sum.Mul(1 / l)
		// again: the first product may have lost digits
		c.n = c.n.Mul(1 / c.n.Len())
	}
	mid := func(k int) float64 { return (float64(nd.lo[k]) + float64(nd.hi[k])) / 2 }
	c.m = geom.Vec3{X: mid(0), Y: mid(1), Z: mid(2)}
	lo, hi, r2 := math.Inf(1), math.Inf(-1), 0.0
	for _, v := range t.tris[first : first+n] {
		for _, k := range v {
			e := t.verts[k].Sub(c.m)
			h := e.Dot(c.n)
			lo, hi = min(lo, h), max(hi, h)
			r2 = max(r2, e.Dot(e)-float64(h*h))
		}
	}
	c.m = c.m.Add(c.n.Mul((lo + hi) / 2))
	c.rho = math.Sqrt(max(0, r2)) + coinSlack
	c.half = (hi-lo)/2 + coinSlack
	return c
}

// clearOf reports whether the straight way from p to q, and where rising all above it too, surely stays
// need or more off the coin: by the least height over its face, or under it, and the least distance
// across, each taken by itself.
func (c *coin) clearOf(p, q, up geom.Vec3, need float64, rising bool) bool {
	a, b := p.Sub(c.m), q.Sub(c.m)
	ha, hb := a.Dot(c.n), b.Dot(c.n)
	if rising {
		return c.clearOfRising(a, b, ha, hb, up, need)
	}
	h := max(0, max(min(ha, hb), -max(ha, hb))-c.half)
	a = a.Sub(c.n.Mul(ha))
	d := b.Sub(c.n.Mul(hb)).Sub(a)
	if dd := d.Dot(d); dd > 0 {
		a = a.Add(d.Mul(min(max(-a.Dot(d)/dd, 0), 1)))
	}
	l := max(0, math.Sqrt(a.Dot(a))-c.rho)
	return float64(h*h)+float64(l*l) >= float64(need*need)
}

// clearOfRising is clearOf for half-lines: rising, they gain height over the face that looks up, and
// their distance along the level line of the face stays as it is.
func (c *coin) clearOfRising(a, b geom.Vec3, ha, hb float64, up geom.Vec3, need float64) bool {
	nz := c.n.Dot(up)
	if nz < 0 {
		ha, hb = -ha, -hb
	}
	h := max(0, min(ha, hb)-c.half)
	w := c.n.Cross(up)
	l := 0.0
	if ww := w.Dot(w); ww > 1e-6 {
		wa, wb := a.Dot(w), b.Dot(w)
		l = max(0, max(min(wa, wb), -max(wa, wb))/math.Sqrt(ww)-c.rho)
	}
	return float64(h*h)+float64(l*l) >= float64(need*need)
}
