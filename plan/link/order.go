package link

import (
	"math"
	"slices"

	"barwise/geom"
	"barwise/path"
)

// OrderParams says how far Order may go.
type OrderParams struct {
	From    geom.Vec2 // where the tip comes from
	Reverse bool      // a pass without a lead may be cut from its other end
	Effort  int       // rounds of improvement; 0: a default
}

// Order returns the passes in an order with short travel between them. group[i] is the group of pass
// i: groups are run in the order in which they first appear, and only passes within one are
// exchanged; nil means one group. A pass marked Follow stays behind the one before it. The total
// level travel is never longer than in the order given. Same input, same order.
//
// A greedy walk to the nearest end is improved by bounded exchanges; the order is good, not shortest.
func Order(passes []path.Pass, group []int, p OrderParams) []path.Pass {
	if p.Effort == 0 {
		p.Effort = 4
	}
	var given, found []unit
	at := p.From
	for _, us := range units(passes, group) {
		given = append(given, us...)
		us = arrange(us, at, p)
		found = append(found, us...)
		at = us[len(us)-1].b
	}
	// groups are arranged one by one, so the way from one to the next may have grown
	if travel(given, p.From) < travel(found, p.From) {
		found = given
	}
	out := make([]path.Pass, 0, len(passes))
	for _, u := range found {
		out = u.emit(out)
	}
	return out
}

// unit is a chain of passes that stay together.
type unit struct {
	chain   []path.Pass
	a, b    geom.Vec2
	id      int
	turns   bool // may be run backward
	flipped bool
}

func (u unit) emit(out []path.Pass) []path.Pass {
	if !u.flipped {
		return append(out, u.chain...)
	}
	for i := len(u.chain) - 1; i >= 0; i-- {
		p := u.chain[i]
		p.Points = slices.Clone(p.Points)
		slices.Reverse(p.Points)
		p.Follow = i < len(u.chain)-1 && u.chain[i+1].Follow
		out = append(out, p)
	}
	return out
}

func (u unit) flip() unit {
	u.a, u.b, u.flipped = u.b, u.a, !u.flipped
	return u
}

func units(passes []path.Pass, group []int) [][]unit {
	place := map[int]int{}
	var out [][]unit
	in := -1
	for i, p := range passes {
		if len(p.Points) == 0 {
			continue
		}
		g := 0
		if group != nil {
			g = group[i]
		}
		at, known := place[g]
		if !known {
			at = len(out)
			place[g] = at
			out = append(out, nil)
		}
		end := p.End()
		if p.Closed {
			end = p.Points[0]
		}
		turns := len(p.Lead) == 0 && !p.Closed
		if n := len(out[at]); p.Follow && n > 0 && at == in {
			u := &out[at][n-1]
			u.chain, u.b, u.turns = append(u.chain, p), end.XY(), u.turns && turns
			continue
		}
		in = at
		out[at] = append(out[at], unit{chain: []path.Pass{p}, a: p.Start().XY(), b: end.XY(), id: len(out[at]), turns: turns})
	}
	return out
}

func travel(us []unit, at geom.Vec2) float64 {
	sum := 0.0
	for _, u := range us {
		sum += gap(at, u.a)
		at = u.b
	}
	return sum
}

func arrange(us []unit, at geom.Vec2, p OrderParams) []unit {
	if len(us) < 2 && !p.Reverse {
		return us
	}
	best := greedy(us, at, p.Reverse)
	if travel(us, at) < travel(best, at) {
		best = slices.Clone(us)
	}
	improve(best, at, p)
	return best
}

// greedy goes on to the nearest start, or end where turning round is allowed, found by a grid of ends.
func greedy(us []unit, at geom.Vec2, reverse bool) []unit {
	ix := newEnds(us, reverse)
	out := make([]unit, 0, len(us))
	for len(out) < len(us) {
		e := ix.take(at)
		u := us[e.unit]
		if e.back {
			u = u.flip()
		}
		out = append(out, u)
		at = u.b
	}
	return out
}

type end struct {
	at   geom.Vec2
	unit int
	back bool
}

// ends is a grid of the places where a unit can begin.
type ends struct {
	x0, y0, size float64
	nx, ny       int
	cells        [][]end
	done         []bool
	left         []int // ends still open in each row of cells
}

func newEnds(us []unit, reverse bool) *ends {
	lo := geom.Vec2{X: math.Inf(1), Y: math.Inf(1)}
	hi := geom.Vec2{X: math.Inf(-1), Y: math.Inf(-1)}
	for _, u := range us {
		for _, q := range [2]geom.Vec2{u.a, u.b} {
			lo.X, lo.Y, hi.X, hi.Y = min(lo.X, q.X), min(lo.Y, q.Y), max(hi.X, q.X), max(hi.Y, q.Y)
		}
	}
	w, h := hi.X-lo.X, hi.Y-lo.Y
	// about two ends a cell, however long and thin the box is
	size := max(math.Sqrt(w*h/float64(len(us))), max(w, h)/float64(len(us)), 1e-6)
	g := &ends{x0: lo.X, y0: lo.Y, size: size, nx: int(w/size) + 1, ny: int(h/size) + 1, done: make([]bool, len(us))}
	g.cells = make([][]end, g.nx*g.ny)
	g.left = make([]int, g.ny)
	for i, u := range us {
		g.put(end{u.a, i, false})
		if reverse && u.turns {
			g.put(end{u.b, i, true})
		}
	}
	return g
}

func (g *ends) cell(p geom.Vec2) (i, j int) {
	return min(max(int((p.X-g.x0)/g.size), 0), g.nx-1), min(max(int((p.Y-g.y0)/g.size), 0), g.ny-1)
}

func (g *ends) put(e end) {
	i, j := g.cell(e.at)
	g.cells[j*g.nx+i] = append(g.cells[j*g.nx+i], e)
	g.left[j]++
}

// take removes and returns the open end nearest to p; of equals the one of the lowest number.
func (g *ends) take(p geom.Vec2) end {
	ci, cj := g.cell(p)
	best, dist := end{unit: -1}, math.Inf(1)
	for r := 0; r < max(g.nx, g.ny); r++ {
		// every cell of ring r is at least (r−1) cells from p's own
		if best.unit >= 0 && dist < float64(r-1)*g.size {
			break
		}
		g.ring(ci, cj, r, func(c int) {
			open := g.cells[c][:0]
			for _, e := range g.cells[c] {
				if g.done[e.unit] {
					g.left[c/g.nx]--
					continue
				}
				open = append(open, e)
				d := gap(p, e.at)
				if d < dist || d == dist && (e.unit < best.unit || e.unit == best.unit && !e.back) {
					best, dist = e, d
				}
			}
			g.cells[c] = open
		})
	}
	g.done[best.unit] = true
	return best
}

// ring visits the cells at Chebyshev distance r from (ci, cj) in rows that still hold ends.
func (g *ends) ring(ci, cj, r int, visit func(c int)) {
	for j := max(cj-r, 0); j <= min(cj+r, g.ny-1); j++ {
		if g.left[j] == 0 {
			continue
		}
		if j == cj-r || j == cj+r {
			for i := max(ci-r, 0); i <= min(ci+r, g.nx-1); i++ {
				visit(j*g.nx + i)
			}
			continue
		}
		if ci-r >= 0 {
			visit(j*g.nx + ci - r)
		}
		if ci+r < g.nx {
			visit(j*g.nx + ci + r)
		}
	}
}
