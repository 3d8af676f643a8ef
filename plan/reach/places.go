package reach

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"barwise/geom"
	"barwise/geom/mesh/patch"
	"barwise/shop/cutter"
)

// placeCell is how near two patches are that belong to one place, mm: those of neighbouring cells.
const placeCell = 0.6

type cellKey [3]int32

func cellOf(p geom.Vec3) cellKey {
	f := func(v float64) int32 { return int32(math.Floor(v / placeCell)) }
	return cellKey{f(p.X), f(p.Y), f(p.Z)}
}

// gathered are the patches on which something stays, cell by cell, joined to places.
type gathered struct {
	cells map[cellKey]int // index of the cell
	list  [][]int         // patches of each
	keys  []cellKey
	up    []int // each cell's parent in its tree
}

func gather(set *patch.Set, stays func(i int) bool) *gathered {
	g := &gathered{cells: map[cellKey]int{}}
	for i := range set.Len() {
		if !stays(i) {
			continue
		}
		k := cellOf(set.Centre(i))
		c, ok := g.cells[k]
		if !ok {
			c = len(g.list)
			g.cells[k] = c
			g.list, g.keys, g.up = append(g.list, nil), append(g.keys, k), append(g.up, c)
		}
		g.list[c] = append(g.list[c], i)
	}
	for c, k := range g.keys {
		g.around(k, func(o int) { g.join(c, o) })
	}
	return g
}

// around visits the cells next to a key, itself too, in a fixed order.
func (g *gathered) around(k cellKey, visit func(cell int)) {
	for n := range int32(27) {
		if c, ok := g.cells[cellKey{k[0] + n%3 - 1, k[1] + n/3%3 - 1, k[2] + n/9 - 1}]; ok {
			visit(c)
		}
	}
}

func (g *gathered) root(c int) int {
	for g.up[c] != c {
		g.up[c] = g.up[g.up[c]]
		c = g.up[c]
	}
	return c
}

func (g *gathered) join(a, b int) {
	a, b = g.root(a), g.root(b)
	g.up[max(a, b)] = min(a, b)
}

// places gathers the patches that carry more than the tolerance and that no cutter touches.
func (w *predictor) places(set *patch.Set, p *Prediction) []Place {
	g := gather(set, func(i int) bool {
		return p.Class[i] != Reached && p.Class[i] != Spared && float64(p.Left[i]) > w.Tolerance
	})
	index := map[int]int{}
	var out []Place
	var areas [][classes]float64
	var worst []int
	for c, list := range g.list {
		r := g.root(c)
		n, ok := index[r]
		if !ok {
			n = len(out)
			index[r] = n
			out, areas, worst = append(out, Place{Box: geom.EmptyBox(), Side: -1}), append(areas, [classes]float64{}), append(worst, list[0])
		}
		for _, i := range list {
			q := set.Centre(i)
			a := set.Area(i)
			out[n].Box = out[n].Box.Grow(q)
			out[n].Area += a
			areas[n][p.Class[i]] += a
			if p.Left[i] > p.Left[worst[n]] {
				worst[n] = i
			}
			out[n].StickOut, out[n].Reach = max(out[n].StickOut, float64(p.StickOut[i])), max(out[n].Reach, float64(p.Reach[i]))
		}
	}
	w.deal(set, p, g, index, out)
	for n := range out {
		q := &out[n]
		for c, a := range areas[n] {
			if a > areas[n][q.Class] {
				q.Class = Class(c)
			}
		}
		i := worst[n]
		q.At, q.Depth, q.Side = set.Centre(i), float64(p.Left[i]), int(p.Side[i])
		if q.Class != Held {
			q.StickOut, q.Reach = 0, 0
		}
		q.Advice = w.advice(q, set.Normal(i))
	}
	slices.SortStableFunc(out, func(a, b Place) int {
		if c := cmp.Compare(b.Volume, a.Volume); c != 0 {
			return c
		}
		return cmp.Compare(b.Area, a.Area)
	})
	return out
}

// deal gives the volume of every spot to the place of the nearest of its patches, where one is near.
func (w *predictor) deal(set *patch.Set, p *Prediction, g *gathered, index map[int]int, out []Place) {
	for i := range p.Stays.Spots {
		s := &p.Stays.Spots[i]
		if s.Off < p.Stays.Off[1] {
			continue
		}
		best, at := math.Inf(1), -1
		for _, k := range [3]float64{0, 1.5, 3} { // farther out where nothing is near: the middle of a pocket
			if at >= 0 {
				break
			}
			for d := range 6 {
				q := s.At
				step := float64(placeCell * k * float64(1-2*(d&1)))
				switch d / 2 {
				case 0:
					q.X += step
				case 1:
					q.Y += step
				default:
					q.Z += step
				}
				g.around(cellOf(q), func(c int) {
					for _, i := range g.list[c] {
						if v := set.Centre(i).Sub(s.At); v.Dot(v) < best {
							best, at = v.Dot(v), c
						}
					}
				})
				if k == 0 {
					break
				}
			}
		}
		if at >= 0 {
			out[index[g.root(at)]].Volume += s.Volume
		}
	}
}

// advice says what would take a place away.
func (w *predictor) advice(p *Place, n geom.Vec3) string {
	switch p.Class {
	case Undercut:
		return "no side looks here: add a side, turn the model in the bar, or finish it by hand"
	case Held:
		switch {
		case p.StickOut > 0 && p.Reach > 0:
			return fmt.Sprintf("let the cutter stick out at least %.1f mm, with a neck that reaches %.1f mm", p.StickOut, p.Reach)
		case p.StickOut > 0:
			return fmt.Sprintf("let the cutter stick out at least %.1f mm", p.StickOut)
		}
		return fmt.Sprintf("take a cutter whose neck reaches at least %.1f mm", p.Reach)
	case Deep:
		return "roughing leaves stock here deeper than the flutes of the cutters that follow: rough with a smaller cutter first"
	case Low:
		return "it lies below the lowest tip or beside the stub: lay the model farther from the stub, or higher in the bar"
	}
	if r := w.fitting(p, n); r > 0 {
		return fmt.Sprintf("too narrow for the cutters given: a ball of Ø%.2g would touch it", 2*r)
	}
	return "too narrow for any ball worth asking: leave it, or finish it by hand"
}

// fitting is the radius of the largest ball, of a few smaller than the cutters given, that touches a place
// from the side that sees it; 0 for none.
func (w *predictor) fitting(p *Place, n geom.Vec3) float64 {
	if p.Side < 0 {
		return 0
	}
	least := math.Inf(1)
	for _, c := range w.Cuts {
		least = min(least, c.Cutter.R)
	}
	ns, q := w.turns[p.Side].ToSide(n), w.turns[p.Side].ToSide(p.At)
	for _, k := range [7]float64{0.75, 0.6, 0.5, 0.35, 0.25, 0.15, 0.1} {
		r := float64(k * least)
		slack := min(max(1e-3, w.Tolerance/3), r/4)
		tip := q.Add(ns.Mul(r)).Sub(geom.Vec3{Z: r - slack})
		if w.ix[p.Side].Height(cutter.Ball(r-slack), tip.X, tip.Y) <= tip.Z+1e-6 {
			return r
		}
	}
	return 0
}
