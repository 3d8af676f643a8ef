package finish

import (
	"math"

	"barwise/geom"
)

// near finds unused ends of segments by place.
type near struct {
	segs []segment
	used []bool
	x, y float64 // corner of the cells
	n, m int
	cell [][]int32 // 2·segment + 1 for its last point
	tmp  []candidate
}

type candidate struct {
	id   int32
	dist float64
}

const cellSize = 0.5 // mm

func newNear(segs []segment) *near {
	b := geom.EmptyBox()
	for _, s := range segs {
		b = b.Grow(s.pts[0]).Grow(s.pts[len(s.pts)-1])
	}
	g := &near{segs: segs, used: make([]bool, len(segs)), x: b.Min.X, y: b.Min.Y}
	if len(segs) == 0 {
		return g
	}
	g.n, g.m = int(b.Size().X/cellSize)+1, int(b.Size().Y/cellSize)+1
	g.cell = make([][]int32, g.n*g.m)
	for k, s := range segs {
		for e, p := range [2]geom.Vec3{s.pts[0], s.pts[len(s.pts)-1]} {
			if e == 1 && s.oneWay {
				continue
			}
			c := g.at(p)
			g.cell[c] = append(g.cell[c], int32(2*k+e))
		}
	}
	return g
}

func (g *near) at(p geom.Vec3) int {
	return int((p.Y-g.y)/cellSize)*g.n + int((p.X-g.x)/cellSize)
}

func (g *near) point(id int32) geom.Vec3 {
	p := g.segs[id/2].pts
	if id%2 == 0 {
		return p[0]
	}
	return p[len(p)-1]
}

func (g *near) use(seg int) {
	g.used[seg] = true
	for _, id := range [2]int32{int32(2 * seg), int32(2*seg + 1)} {
		c := g.at(g.point(id))
		list := g.cell[c]
		for k, x := range list {
			if x == id {
				g.cell[c] = append(list[:k], list[k+1:]...)
				break
			}
		}
	}
}

// nearest returns the unused segment that can be reached from p at the least cost, at most most,
// entered at its near end. Costs are asked only of the few nearest ends, ring after ring.
func (g *near) nearest(p geom.Vec3, cost func(geom.Vec3) float64, most float64) (link, bool) {
	const tries = 6
	ci, cj := int((p.X-g.x)/cellSize), int((p.Y-g.y)/cellSize)
	reach := min(farthest, most)
	rings := int(reach/cellSize) + 1
	best, found := link{follow: true}, false
	least := most
	tried := 0
	for r := 0; r <= rings && tried < tries; r++ {
		if found && float64(r-1)*cellSize > least {
			break
		}
		g.tmp = g.tmp[:0]
		for j := max(0, cj-r); j <= min(g.m-1, cj+r); j++ {
			step := 1
			if j != cj-r && j != cj+r {
				step = max(1, 2*r)
			}
			for i := ci - r; i <= ci+r; i += step {
				if i < 0 || i >= g.n {
					continue
				}
				for _, id := range g.cell[j*g.n+i] {
					if d := g.point(id).Sub(p).Len(); d < least {
						g.tmp = append(g.tmp, candidate{id, d})
					}
				}
			}
		}
		for tried < tries {
			k := g.closest()
			if k < 0 || g.tmp[k].dist >= least {
				break
			}
			c := g.tmp[k]
			g.tmp[k].dist = math.Inf(1)
			tried++
			if f := cost(g.point(c.id)); f < least {
				least, found = f, true
				best.seg, best.reverse = int(c.id/2), c.id%2 == 1
			}
		}
	}
	return best, found
}

// closest picks the candidate of least distance, the lowest id among equals; −1 where none is left.
func (g *near) closest() int {
	k := -1
	for i, c := range g.tmp {
		if math.IsInf(c.dist, 1) {
			continue
		}
		if k < 0 || c.dist < g.tmp[k].dist || c.dist == g.tmp[k].dist && c.id < g.tmp[k].id {
			k = i
		}
	}
	return k
}
