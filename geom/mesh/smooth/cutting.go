package smooth

import (
	"math"
	"slices"

	"barwise/geom"
)

// shape says how a triangle is cut: its edges into so many pieces, its inside by an even grid of n pieces
// a side. Each edge has a multiple of n. With n = 0 there is no point inside and some edge stays whole;
// with n = 1 there is one, in the middle.
type shape struct {
	n    int32
	edge [3]int32
}

// shapeOf settles how a triangle is cut that needs n pieces a side.
func shapeOf(n int32, e [3]int32) shape {
	if min(e[0], e[1], e[2]) == 1 {
		return shape{0, e}
	}
	return shape{n, e}
}

// size is the number of triangles.
func (s shape) size() int64 {
	n, all := int64(s.n), int64(s.border())
	switch n {
	case 0:
		return all - 2
	case 1:
		return all
	}
	return n*n + all - 3*n
}

// inside is the number of points inside.
func (s shape) inside() int32 {
	switch s.n {
	case 0:
		return 0
	case 1:
		return 1
	}
	return (s.n - 1) * (s.n - 2) / 2
}

// even reports whether the grid does without the edges' being cut finer.
func (s shape) even() bool { return s.n > 1 && s.edge == [3]int32{s.n, s.n, s.n} }

// border is the number of points that are not inside. Points are numbered from the three corners on, then
// those on each edge in its own order, then those inside.
func (s shape) border() int32 { return s.edge[0] + s.edge[1] + s.edge[2] }

// onEdge is the number of point i of edge k, from 0 at corner k to edge[k] at the next.
func (s shape) onEdge(k int, i int32) int32 {
	switch i {
	case 0:
		return int32(k)
	case s.edge[k]:
		return int32((k + 1) % 3)
	}
	base := int32(3)
	for j := range k {
		base += s.edge[j] - 1
	}
	return base + i - 1
}

// onGrid is the number of the point inside at (i, j, k) with i + j + k = n and none of them 0: rows of
// constant k, in each from corner 0 to corner 1.
func (s shape) onGrid(j, k int32) int32 {
	// rows k = 1, 2, …: n − k − 1 points each
	before := (k-1)*(s.n-1) - k*(k-1)/2
	return s.border() + before + j - 1
}

// cutting is a triangle cut up.
type cutting struct {
	triangles [][3]int32
	pairs     [][2]int32 // triangles that share an edge
	rim       [3][]int32 // the triangle at each piece of each edge
}

// grid is a triangle cut evenly.
type grid struct {
	cutting
	n    int32
	mate []int32  // per half-edge: the other one, −1 on the edges
	spot []gridAt // per point: where it is
	edge []int8   // per half-edge: the edge it is a piece of, −1 inside
}

// gridAt is a point of a grid: point i of edge k, or with k = −1 point i inside.
type gridAt struct {
	k int8
	i int32
}

func newGrid(n int32) *grid {
	g := &grid{n: n}
	s := shape{n, [3]int32{n, n, n}}
	g.spot = make([]gridAt, s.border()+s.inside())
	at := func(i, j, k int32) int32 {
		switch {
		case k == 0:
			return s.onEdge(0, j)
		case i == 0:
			return s.onEdge(1, k)
		case j == 0:
			return s.onEdge(2, i)
		}
		return s.onGrid(j, k)
	}
	for k := range int32(3) {
		for i := range n {
			g.spot[s.onEdge(int(k), i)] = gridAt{int8(k), i}
		}
	}
	for i := range s.inside() {
		g.spot[s.border()+i] = gridAt{-1, i}
	}
	for k := range n {
		for j := int32(0); n-j-k > 0; j++ {
			i := n - j - k
			g.triangles = append(g.triangles, [3]int32{at(i, j, k), at(i-1, j+1, k), at(i-1, j, k+1)})
			if i > 1 {
				g.triangles = append(g.triangles, [3]int32{at(i-1, j+1, k), at(i-2, j+1, k+1), at(i-1, j, k+1)})
			}
		}
	}
	g.join(s)
	return g
}

// join finds which triangles share an edge, and which lie at the edges of the whole.
func (g *grid) join(s shape) {
	by := make(map[[2]int32]int32, 3*len(g.triangles))
	for t, tr := range g.triangles {
		for k := range 3 {
			h := int32(3*t + k)
			a, b := tr[k], tr[(k+1)%3]
			g.mate, g.edge = append(g.mate, -1), append(g.edge, -1)
			if o, ok := by[[2]int32{b, a}]; ok {
				g.mate[h], g.mate[o] = o, h
				g.pairs = append(g.pairs, [2]int32{o / 3, h / 3})
			}
			by[[2]int32{a, b}] = h
		}
	}
	for k := range 3 {
		for i := range s.n {
			h := by[[2]int32{s.onEdge(k, i), s.onEdge(k, i+1)}]
			g.edge[h] = int8(k)
			g.rim[k] = append(g.rim[k], h/3)
		}
	}
}

// cutter cuts triangles that are not cut evenly.
type cutter struct {
	cutting
	shape
	p    []geom.Vec3 // the points
	n    geom.Vec3   // normal of the whole
	own  []int32     // per half-edge of the grid: the triangle that has it
	a, b []int32
}

func (c *cutter) reset(s shape, n geom.Vec3) {
	c.shape, c.n = s, n
	c.triangles, c.pairs = c.triangles[:0], c.pairs[:0]
	for k := range c.rim {
		c.rim[k] = slices.Grow(c.rim[k][:0], int(s.edge[k]))[:s.edge[k]]
	}
}

func (c *cutter) add(a, b, d int32) int32 {
	c.triangles = append(c.triangles, [3]int32{a, b, d})
	return int32(len(c.triangles)) - 1
}

// number is the number of a point of the grid.
func (c *cutter) number(p gridAt) int32 {
	if p.k < 0 {
		return c.border() + p.i
	}
	return c.onEdge(int(p.k), p.i*(c.edge[p.k]/c.shape.n))
}

// within cuts along the grid, and its triangles further where edges have more pieces than the grid.
func (c *cutter) within(g *grid) {
	c.own = slices.Grow(c.own[:0], len(g.mate))[:len(g.mate)]
	for t, tr := range g.triangles {
		v := [3]int32{c.number(g.spot[tr[0]]), c.number(g.spot[tr[1]]), c.number(g.spot[tr[2]])}
		cut, at := 0, 0
		for s := range 3 {
			if k := g.edge[3*t+s]; k >= 0 && c.edge[k] > c.shape.n {
				cut, at = cut+1, s
			}
		}
		switch cut {
		case 0:
			i := c.add(v[0], v[1], v[2])
			c.own[3*t], c.own[3*t+1], c.own[3*t+2] = i, i, i
			for s := range 3 {
				if k := g.edge[3*t+s]; k >= 0 {
					c.rim[k][g.piece(tr[s], k)] = i
				}
			}
		case 1:
			c.fan(g, t, at, v[(at+2)%3])
		default:
			c.corner(g, t)
		}
	}
	for h, o := range g.mate {
		if o > int32(h) {
			c.pairs = append(c.pairs, [2]int32{c.own[h], c.own[o]})
		}
	}
}

// piece is the piece of edge k that starts at a point of the grid.
func (g *grid) piece(p int32, k int8) int32 {
	if at := g.spot[p]; at.k == k {
		return at.i
	}
	return 0 // not reached: each edge's points before its end are its own
}

// fan cuts triangle t of the grid from one corner to the pieces of the side s opposite.
func (c *cutter) fan(g *grid, t, s int, apex int32) {
	k := g.edge[3*t+s]
	m := c.edge[k] / c.shape.n
	from := g.piece(g.triangles[t][s], k) * m
	first := int32(len(c.triangles))
	for j := range m {
		i := c.add(c.onEdge(int(k), from+j), c.onEdge(int(k), from+j+1), apex)
		c.rim[k][from+j] = i
		if j > 0 {
			c.pairs = append(c.pairs, [2]int32{i - 1, i})
		}
	}
	c.own[3*t+(s+1)%3], c.own[3*t+(s+2)%3] = int32(len(c.triangles))-1, first
	for _, o := range []int{(s + 1) % 3, (s + 2) % 3} {
		if k := g.edge[3*t+o]; k >= 0 {
			c.rim[k][g.piece(g.triangles[t][o], k)*(c.edge[k]/c.shape.n)] = c.own[3*t+o]
		}
	}
}

// corner cuts triangle t of the grid, at a corner of the whole and with pieces on both sides there.
func (c *cutter) corner(g *grid, t int) {
	s := 0 // the side that leaves the corner
	for g.edge[3*t+s] < 0 || g.edge[3*t+(s+2)%3] < 0 {
		s++
	}
	in := (s + 2) % 3
	ka, kb := int(g.edge[3*t+s]), int(g.edge[3*t+in])
	ma, mb := c.edge[ka]/c.shape.n, c.edge[kb]/c.shape.n
	c.a, c.b = c.a[:0], c.b[:0]
	for j := range ma + 1 {
		c.a = append(c.a, c.onEdge(ka, j))
	}
	for j := range mb + 1 {
		c.b = append(c.b, c.onEdge(kb, c.edge[kb]-j))
	}
	c.rungs(c.rim[ka][:ma], c.rim[kb][c.edge[kb]-mb:], c.better)
	c.own[3*t+(s+1)%3] = int32(len(c.triangles)) - 1
}

// ladder cuts a triangle with one edge whole into rungs along that edge, which nothing curves along. With
// two edges whole it is a fan.
func (c *cutter) ladder() {
	if c.border() == 3 {
		c.add(0, 1, 2)
		c.rim[0][0], c.rim[1][0], c.rim[2][0] = 0, 0, 0
		return
	}
	k := 0
	for c.edge[k] != 1 {
		k++
	}
	// from the corner opposite, k + 2, to corner k and to corner k + 1
	ka, kb := (k+2)%3, (k+1)%3
	c.a, c.b = c.a[:0], c.b[:0]
	for i := range c.edge[ka] + 1 {
		c.a = append(c.a, c.onEdge(ka, i))
	}
	for i := range c.edge[kb] + 1 {
		c.b = append(c.b, c.onEdge(kb, c.edge[kb]-i))
	}
	c.rungs(c.rim[ka], c.rim[kb], c.level)
	c.rim[k][0] = int32(len(c.triangles)) - 1
}

// rungs fills between the lines a and b, which start in one point, b to the left of a. The triangles at
// their pieces go to the rims: that of b is in the other order. onA tells whether of the four-sided place
// between piece i of a and piece j of b the triangle on a's comes first.
func (c *cutter) rungs(rimA, rimB []int32, onA func(i, j int) bool) {
	a, b := c.a, c.b
	t := c.add(a[0], a[1], b[1])
	rimA[0], rimB[len(rimB)-1] = t, t
	for i, j := 1, 1; i+1 < len(a) || j+1 < len(b); {
		t++
		c.pairs = append(c.pairs, [2]int32{t - 1, t})
		if j+1 == len(b) || i+1 < len(a) && onA(i, j) {
			c.add(a[i], a[i+1], b[j])
			rimA[i] = t
			i++
		} else {
			c.add(a[i], b[j+1], b[j])
			rimB[len(rimB)-1-j] = t
			j++
		}
	}
}

// level keeps rungs between points that are equally far along.
func (c *cutter) level(i, j int) bool {
	la, lb := len(c.a)-1, len(c.b)-1
	x, y := (i+1)*lb-j*la, (j+1)*la-i*lb
	if x, y = max(x, -x), max(y, -y); x != y {
		return x < y
	}
	return 2*i < la
}

// better takes the better of the two ways to cut, in the sense of Delaunay.
func (c *cutter) better(i, j int) bool {
	p, q, r, s := c.p[c.a[i]], c.p[c.a[i+1]], c.p[c.b[j]], c.p[c.b[j+1]]
	pq, pr, ps := q.Sub(p), r.Sub(p), s.Sub(p)
	if !(ps.Cross(pr).Dot(c.n) > 0) {
		return true
	}
	if !(pq.Cross(pr).Dot(c.n) > 0) {
		return false
	}
	sq, sr := q.Sub(s), r.Sub(s)
	// the sine of the sum of the angles at p and s, which face the diagonal from q to r
	sin := float64(pq.Cross(pr).Dot(c.n)*sq.Dot(sr)) + float64(sr.Cross(sq).Dot(c.n)*pq.Dot(pr))
	if math.Abs(sin) <= 1e-6*(pq.Len()*pr.Len()*sq.Len()*sr.Len()) {
		// alike: whichever is behind
		return float64(i)*float64(len(c.b)-1) <= float64(j)*float64(len(c.a)-1)
	}
	return sin > 0
}

// star cuts from the middle to all pieces.
func (c *cutter) star() {
	middle := c.border()
	n := int32(0)
	for k := range 3 {
		for i := range c.edge[k] {
			c.rim[k][i] = c.add(c.onEdge(k, i), c.onEdge(k, i+1), middle)
			n++
		}
	}
	for t := range n {
		c.pairs = append(c.pairs, [2]int32{t, (t + 1) % n})
	}
}
