package mend

import (
	"cmp"
	"math"
	"slices"

	"barwise/geom"
)

// ears cuts a polygon, counter-clockwise, into triangles, the roundest ear first. ok is false where the
// polygon crosses itself or cannot be cut without flat triangles, or where stop says so.
func ears(ids []int32, p []geom.Vec2, stop func() bool) (tris [][3]int32, ok bool) {
	if crosses(p) {
		return nil, false
	}
	n := len(p)
	size := 0.0
	for _, q := range p {
		size = max(size, q.Dot(q))
	}
	c := &clipper{p: p, next: make([]int, n), prev: make([]int, n), block: make([]int, n), q: make([]float64, n), eps: 1e-12 * size, near: 1e-6 * math.Sqrt(size)}
	for i := range n {
		c.next[i], c.prev[i] = (i+1)%n, (i+n-1)%n
	}
	for i := range n {
		c.look(i)
	}
	at := 0
	for left := n; left > 3; left-- {
		best := -1
		if left%64 == 0 && stop() {
			return nil, false
		}
		for i, k := at, 0; k < left; i, k = c.next[i], k+1 {
			if c.q[i] > 0 && (best < 0 || c.q[i] > c.q[best]) {
				best = i
				if n > 10_000 { // the search for the best would take too long
					break
				}
			}
		}
		if best < 0 {
			return nil, false
		}
		i := best
		a, b := c.prev[i], c.next[i]
		tris = append(tris, [3]int32{ids[a], ids[i], ids[b]})
		c.next[a], c.prev[b] = b, a
		c.q[i] = 0
		at = b
		c.look(a)
		c.look(b)
		for k, j := 0, b; k < left-1; k, j = k+1, c.next[j] {
			if c.block[j] == i {
				c.look(j)
			}
		}
	}
	a, b := c.prev[at], c.next[at]
	if c.shape(a, at, b) <= 0 {
		return nil, false
	}
	return append(tris, [3]int32{ids[a], ids[at], ids[b]}), true
}

type clipper struct {
	p          []geom.Vec2
	next, prev []int
	block      []int     // the corner that keeps this one from being cut, −1
	q          []float64 // shape of the ear here, 0 where there is none
	eps        float64   // an area below which a triangle is flat
	near       float64   // a length far below any edge's
}

// shape is the area of a triangle over the sum of the squares of its sides, 0 where it is flat or turns
// clockwise.
func (c *clipper) shape(i, j, k int) float64 {
	u, v := c.p[j].Sub(c.p[i]), c.p[k].Sub(c.p[i])
	area := u.Cross(v) / 2
	if area <= c.eps {
		return 0
	}
	x := v.Sub(u)
	return area / (u.Dot(u) + v.Dot(v) + x.Dot(x))
}

// look finds whether corner i can be cut.
func (c *clipper) look(i int) {
	a, b := c.prev[i], c.next[i]
	c.block[i] = -1
	if c.q[i] = c.shape(a, i, b); c.q[i] == 0 {
		return
	}
	t := [3]geom.Vec2{c.p[a], c.p[i], c.p[b]}
	box := [2]geom.Vec2{
		{X: min(t[0].X, t[1].X, t[2].X), Y: min(t[0].Y, t[1].Y, t[2].Y)},
		{X: max(t[0].X, t[1].X, t[2].X), Y: max(t[0].Y, t[1].Y, t[2].Y)},
	}
	for j := c.next[b]; j != a; j = c.next[j] {
		q := c.p[j]
		if q.X < box[0].X-c.near || q.X > box[1].X+c.near || q.Y < box[0].Y-c.near || q.Y > box[1].Y+c.near {
			continue
		}
		if q == t[0] || q == t[1] || q == t[2] {
			continue // the other side of a bridge to an inner ring
		}
		in := true
		for k := range t {
			d := t[(k+1)%3].Sub(t[k])
			in = in && d.Cross(q.Sub(t[k])) >= -c.eps
		}
		if in {
			c.q[i], c.block[i] = 0, j
			return
		}
	}
}

// crosses reports whether two edges of a polygon cross, by a sweep over their extents along x.
func crosses(p []geom.Vec2) bool {
	n := len(p)
	order := make([]int, n)
	lo := make([]float64, n)
	hi := make([]float64, n)
	for i := range n {
		a, b := p[i], p[(i+1)%n]
		order[i], lo[i], hi[i] = i, min(a.X, b.X), max(a.X, b.X)
	}
	slices.SortFunc(order, func(i, j int) int { return cmp.Or(cmp.Compare(lo[i], lo[j]), cmp.Compare(i, j)) })
	for k, i := range order {
		a, b := p[i], p[(i+1)%n]
		for _, j := range order[k+1:] {
			if lo[j] > hi[i] {
				break
			}
			c, d := p[j], p[(j+1)%n]
			if max(a.Y, b.Y) < min(c.Y, d.Y) || max(c.Y, d.Y) < min(a.Y, b.Y) {
				continue
			}
			if geom.Orient2D(a, b, c)*geom.Orient2D(a, b, d) < 0 && geom.Orient2D(c, d, a)*geom.Orient2D(c, d, b) < 0 {
				return true
			}
		}
	}
	return false
}
