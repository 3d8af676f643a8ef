package smooth

import "math"

// levels are the numbers of pieces an edge may be cut into: few, so that neighbours mostly agree.
var levels = func() []int32 {
	l := []int32{1, 2, 3, 4, 5, 6, 7, 8}
	for step := int32(2); len(l) < 40; step *= 2 {
		for range 4 {
			l = append(l, l[len(l)-1]+step)
		}
	}
	return l
}()

// level is the least of the levels that is no less than x.
func level(x float64) int32 {
	for _, l := range levels {
		if float64(l) >= x {
			return l
		}
	}
	return levels[len(levels)-1]
}

// shape says how a triangle is cut: its edges into so many pieces, its inside by a grid of n pieces a
// side, or with no point inside where n is 0.
type shape struct {
	n    int32
	edge [3]int32
}

// cutting is a triangle cut up. Points are numbered from the three corners on, then those on each edge
// in its own order, then those inside.
type cutting struct {
	shape
	triangles [][3]int32
	pairs     [][2]int32 // triangles that share an edge
	rim       [3][]int32 // the triangle at each piece of each edge
}

// inside is the number of points inside a grid of n pieces a side.
func inside(n int32) int32 { return max(0, (n-1)*(n-2)/2) }

// shapeOf settles how a triangle with so many pieces on its edges is cut.
func shapeOf(e [3]int32) shape {
	if min(e[0], e[1], e[2]) == 1 {
		return shape{0, e}
	}
	return shape{max(e[0], e[1], e[2]), e}
}

// size is the number of triangles.
func (s shape) size() int64 {
	n, e := int64(s.n), s.edge
	switch all := int64(e[0]) + int64(e[1]) + int64(e[2]); {
	case s.n == 0:
		return all - 2
	case s.regular():
		return n * n
	default:
		// Euler: the border of the inner grid and the outer border bound the strips
		return (n-3)*(n-3) + all + 3*(n-3)
	}
}

func (s shape) regular() bool { return s.edge == [3]int32{s.n, s.n, s.n} }

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

// border is the number of points that are not inside.
func (s shape) border() int32 { return s.edge[0] + s.edge[1] + s.edge[2] }

// onGrid is the number of the point inside at (i, j, k) with i + j + k = n and none of them 0: rows of
// constant k, in each from corner 0 to corner 1.
func (s shape) onGrid(_, j, k int32) int32 {
	// rows k = 1, 2, …: n − k − 1 points each
	before := (k-1)*(s.n-1) - k*(k-1)/2
	return s.border() + before + j - 1
}

func newCutting(s shape) *cutting {
	c := &cutting{shape: s}
	switch {
	case s.n == 0:
		c.ladder()
	case s.regular():
		c.grid(0, func(i, j, k int32) int32 {
			switch {
			case k == 0:
				return s.onEdge(0, j)
			case i == 0:
				return s.onEdge(1, k)
			case j == 0:
				return s.onEdge(2, i)
			}
			return s.onGrid(i, j, k)
		})
	default:
		c.grid(1, s.onGrid)
		for k := range 3 {
			c.strip(c.edgePoints(k), c.innerRow(k))
		}
	}
	c.join()
	return c
}

// grid emits the triangles of the grid that lies so many pieces inside all edges.
func (c *cutting) grid(in int32, at func(i, j, k int32) int32) {
	for k := in; k < c.n-2*in; k++ {
		for j := in; c.n-j-k > in; j++ {
			i := c.n - j - k
			c.triangles = append(c.triangles, [3]int32{at(i, j, k), at(i-1, j+1, k), at(i-1, j, k+1)})
			if i-2 >= in {
				c.triangles = append(c.triangles, [3]int32{at(i-1, j+1, k), at(i-2, j+1, k+1), at(i-1, j, k+1)})
			}
		}
	}
}

// spot is a point with how far along its line it is, in parts of the whole.
type spot struct {
	id int32
	s  float64
}

func (c *cutting) edgePoints(k int) []spot {
	var l []spot
	for i := range c.edge[k] + 1 {
		l = append(l, spot{c.onEdge(k, i), float64(i) / float64(c.edge[k])})
	}
	return l
}

// innerRow is the row of inner points next to edge k.
func (c *cutting) innerRow(k int) []spot {
	var l []spot
	for i := int32(1); i <= c.n-2; i++ {
		g := [3]int32{}
		g[k], g[(k+1)%3], g[(k+2)%3] = c.n-1-i, i, 1
		l = append(l, spot{c.onGrid(g[0], g[1], g[2]), (float64(i) + 0.5) / float64(c.n)})
	}
	return l
}

// strip fills between two lines, b to the left of a: each triangle takes the shorter way across.
func (c *cutting) strip(a, b []spot) {
	for i, j := 0, 0; i+1 < len(a) || j+1 < len(b); {
		var onA bool
		switch {
		case i+1 == len(a):
		case j+1 == len(b):
			onA = true
		default:
			x, y := math.Abs(a[i+1].s-b[j].s), math.Abs(b[j+1].s-a[i].s)
			// the same seen from either end: in the middle of the line the tie turns
			onA = x < y-1e-12 || x <= y+1e-12 && a[i].s+b[j].s < 1
		}
		if onA {
			c.triangles = append(c.triangles, [3]int32{a[i].id, a[i+1].id, b[j].id})
			i++
		} else {
			c.triangles = append(c.triangles, [3]int32{a[i].id, b[j+1].id, b[j].id})
			j++
		}
	}
}

// ladder cuts a triangle with one edge whole into rungs along that edge, which nothing curves along. With
// two edges whole it is a fan.
func (c *cutting) ladder() {
	k := 0 // the whole edge; with two, that whose opposite corner is on the third edge
	for k < 2 && c.edge[k] != 1 {
		k++
	}
	if c.edge[(k+1)%3] == 1 && c.edge[(k+2)%3] == 1 {
		k = 0
	}
	// from the corner opposite, k + 2, to corner k and to corner k + 1
	a := c.edgePoints((k + 2) % 3)
	b := c.edgePoints((k + 1) % 3)
	for i := range b {
		b[i].s = 1 - b[i].s
	}
	for i, j := 0, len(b)-1; i < j; i, j = i+1, j-1 {
		b[i], b[j] = b[j], b[i]
	}
	c.triangles = append(c.triangles, [3]int32{a[0].id, a[1].id, b[1].id})
	c.strip(a[1:], b[1:])
}

// join finds which triangles share an edge, and which lie at the pieces of the edges.
func (c *cutting) join() {
	by := make(map[[2]int32]int32, 3*len(c.triangles))
	for t, tr := range c.triangles {
		for k := range 3 {
			a, b := tr[k], tr[(k+1)%3]
			if o, ok := by[[2]int32{b, a}]; ok {
				c.pairs = append(c.pairs, [2]int32{o, int32(t)})
			}
			by[[2]int32{a, b}] = int32(t)
		}
	}
	for k := range 3 {
		c.rim[k] = make([]int32, c.edge[k])
		for i := range c.edge[k] {
			c.rim[k][i] = by[[2]int32{c.onEdge(k, i), c.onEdge(k, i+1)}]
		}
	}
}
