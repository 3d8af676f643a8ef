package mend

import (
	"math"

	"barwise/geom"
)

// grid finds points near a place: cells of one size, hashed.
type grid struct {
	v     []geom.Vec3
	ids   []int32 // the points in the grid
	size  float64
	head  []int32 // first entry of each bucket, −1 where there is none
	next  []int32
	shift uint
}

func newGrid(v []geom.Vec3, ids []int32, size float64) *grid {
	g := &grid{v: v, ids: ids, size: size, next: make([]int32, len(ids)), shift: 58}
	for 1<<(64-g.shift) < len(ids) {
		g.shift--
	}
	g.head = make([]int32, 1<<(64-g.shift))
	for i := range g.head {
		g.head[i] = -1
	}
	for i := len(ids) - 1; i >= 0; i-- { // so that a bucket lists them ascending
		b := g.bucket(g.cell(v[ids[i]]))
		g.next[i], g.head[b] = g.head[b], int32(i)
	}
	return g
}

// cell is kept as float64: a coordinate over a small size may not fit an int64.
func (g *grid) cell(p geom.Vec3) geom.Vec3 {
	return geom.Vec3{X: math.Floor(p.X / g.size), Y: math.Floor(p.Y / g.size), Z: math.Floor(p.Z / g.size)}
}

func (g *grid) bucket(c geom.Vec3) uint64 {
	h := math.Float64bits(c.X+0)*0x9e3779b97f4a7c15 ^ math.Float64bits(c.Y+0)*0xc2b2ae3d27d4eb4f ^
		math.Float64bits(c.Z+0)*0x165667b19e3779f9
	h ^= h >> 32
	return h * 0xd6e8feb86659fd93 >> g.shift
}

// near hands the points of the cells within r of p, in each direction, to f until it returns false: all
// points within r of p, and more.
func (g *grid) near(p geom.Vec3, r float64, f func(id int32) bool) {
	r += float64(1e-3 * g.size) // more than rounding takes away
	d := geom.Vec3{X: r, Y: r, Z: r}
	lo, hi := g.cell(p.Sub(d)), g.cell(p.Add(d))
	for x := lo.X; x <= hi.X; x++ {
		for y := lo.Y; y <= hi.Y; y++ {
			for z := lo.Z; z <= hi.Z; z++ {
				o := geom.Vec3{X: x, Y: y, Z: z}
				for i := g.head[g.bucket(o)]; i >= 0; i = g.next[i] {
					if g.cell(g.v[g.ids[i]]) == o && !f(g.ids[i]) {
						return
					}
				}
			}
		}
	}
}
