package patch

import (
	"math"

	"barwise/geom"
	"barwise/geom/mesh"
)

// off is how far before a patch it is looked whether the place is inside another shell, mm.
const off = 1e-3

// Buried reports of each patch whether it lies inside the solid of another shell of m, the mesh that s was
// cut from: m is wound about the place just before it. Where shells overlap that is surface which is none
// of the whole. Shells must be closed and face outward; of others the answer means little.
func (s *Set) Buried(m *mesh.Mesh) []bool {
	c := newColumns(m)
	out := make([]bool, s.Len())
	const lot = 4096
	mesh.Parallel((len(out)+lot-1)/lot, func(k int) {
		for i := k * lot; i < min(len(out), (k+1)*lot); i++ {
			out[i] = c.winding(s.Centre(i).Add(s.Normal(i).Mul(off))) > 0
		}
	})
	return out
}

// columns are the triangles by the cells of a grid over x and y that their boxes touch.
type columns struct {
	m      *mesh.Mesh
	x0, y0 float64
	size   float64
	nx, ny int
	start  []int32
	list   []int32
}

func newColumns(m *mesh.Mesh) *columns {
	b := m.Box()
	d := b.Size()
	// about two triangles a cell
	size := math.Sqrt(max(d.X*d.Y, 1e-12) / float64(max(len(m.Triangles)/2, 1)))
	size = max(size, max(d.X, d.Y)/4000, 1e-9)
	c := &columns{m: m, x0: b.Min.X, y0: b.Min.Y, size: size, nx: int(d.X/size) + 1, ny: int(d.Y/size) + 1}
	c.start = make([]int32, c.nx*c.ny+1)
	each := func(f func(cell int, t int32)) {
		for t := range m.Triangles {
			p, q, r := m.Corners(t)
			i0, i1 := c.at(min(p.X, q.X, r.X)-c.x0, c.nx), c.at(max(p.X, q.X, r.X)-c.x0, c.nx)
			j0, j1 := c.at(min(p.Y, q.Y, r.Y)-c.y0, c.ny), c.at(max(p.Y, q.Y, r.Y)-c.y0, c.ny)
			for j := j0; j <= j1; j++ {
				for i := i0; i <= i1; i++ {
					f(j*c.nx+i, int32(t))
				}
			}
		}
	}
	each(func(cell int, _ int32) { c.start[cell+1]++ })
	for i := range c.nx * c.ny {
		c.start[i+1] += c.start[i]
	}
	c.list = make([]int32, c.start[c.nx*c.ny])
	next := append([]int32(nil), c.start...)
	each(func(cell int, t int32) { c.list[next[cell]] = t; next[cell]++ })
	return c
}

func (c *columns) at(v float64, n int) int { return min(max(int(v/c.size), 0), n-1) }

// winding counts how often the mesh goes round p: triangles above it that face up less those that face
// down. The line up from p stands a little aside, for edges of models like to lie one above another.
func (c *columns) winding(p geom.Vec3) int {
	p.X, p.Y = p.X+1.37e-7, p.Y+0.71e-7
	if p.X < c.x0 || p.Y < c.y0 {
		return 0
	}
	i, j := int((p.X-c.x0)/c.size), int((p.Y-c.y0)/c.size)
	if i >= c.nx || j >= c.ny {
		return 0
	}
	n := 0
	cell := j*c.nx + i
	for _, t := range c.list[c.start[cell]:c.start[cell+1]] {
		a, b, d := c.m.Corners(int(t))
		n += over(a.Sub(p), b.Sub(p), d.Sub(p))
	}
	return n
}

// over is 1 or −1 where a triangle that faces up or down is met by the line up from the origin, else 0.
func over(a, b, c geom.Vec3) int {
	if max(a.Z, b.Z, c.Z) < 0 {
		return 0
	}
	ab := float64(a.X*b.Y) - float64(a.Y*b.X)
	bc := float64(b.X*c.Y) - float64(b.Y*c.X)
	ca := float64(c.X*a.Y) - float64(c.Y*a.X)
	up := ab > 0 && bc > 0 && ca > 0
	if !up && !(ab < 0 && bc < 0 && ca < 0) {
		return 0
	}
	// the height of the meeting point is the mean of the corners', weighted by the areas opposite to them
	if float64(bc*a.Z)+float64(ca*b.Z)+float64(ab*c.Z) > 0 != up {
		return 0
	}
	if up {
		return 1
	}
	return -1
}
