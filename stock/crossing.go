package stock

import (
	"math"
	"slices"

	"barwise/geom"
	"barwise/geom/field"
	"barwise/geom/mesh"
	"barwise/geom/mesh/patch"
)

// crossing is where the upright line through a node passes the surface of a mesh; up where the surface
// faces up.
type crossing struct {
	z  float64
	up bool
}

// piercings holds the crossings of every node of a grid, from the top down.
type piercings struct {
	nx    int
	start []int32
	list  []crossing
}

func (c *piercings) of(i, j int) []crossing {
	k := j*c.nx + i
	return c.list[c.start[k]:c.start[k+1]]
}

// crossings finds where the lines through the nodes of side 0 pass the mesh. A line that meets an edge or
// a vertex counts as if it stood a hair to +x, and a hair of a hair to +y, so that a closed mesh is left as
// often as it is entered.
func crossings(s *Stack, m *mesh.Mesh) *piercings {
	g, turn := &s.sides[0].h.Grid, s.sides[0].turn
	verts := make([]geom.Vec3, len(m.Vertices))
	for i, v := range m.Vertices {
		verts[i] = turn.ToSide(v)
	}
	c := &piercings{nx: g.NX, start: make([]int32, g.Len()+1)}
	each := func(put func(node int, x crossing)) {
		for _, t := range m.Triangles {
			pass(g, verts[t[0]], verts[t[1]], verts[t[2]], put)
		}
	}
	each(func(node int, _ crossing) { c.start[node+1]++ })
	for k := range g.Len() {
		c.start[k+1] += c.start[k]
	}
	c.list = make([]crossing, c.start[g.Len()])
	at := slices.Clone(c.start)
	each(func(node int, x crossing) {
		c.list[at[node]] = x
		at[node]++
	})
	for k := range g.Len() {
		slices.SortFunc(c.list[c.start[k]:c.start[k+1]], func(a, b crossing) int {
			switch {
			case a.z > b.z:
				return -1
			case a.z < b.z:
				return 1
			case a.up == b.up:
				return 0
			case a.up: // shells that touch: in before out
				return -1
			}
			return 1
		})
	}
	return c
}

// pass puts the crossings of one triangle.
func pass(g *field.Grid, a, b, c geom.Vec3, put func(int, crossing)) {
	x0, x1 := min(a.X, b.X, c.X), max(a.X, b.X, c.X)
	y0, y1 := min(a.Y, b.Y, c.Y), max(a.Y, b.Y, c.Y)
	i0, i1 := max(0, int(math.Ceil((x0-g.X0)/g.DX-1e-6))), min(g.NX-1, int(math.Floor((x1-g.X0)/g.DX+1e-6)))
	j0, j1 := max(0, int(math.Ceil((y0-g.Y0)/g.DY-1e-6))), min(g.NY-1, int(math.Floor((y1-g.Y0)/g.DY+1e-6)))
	if i0 > i1 || j0 > j1 {
		return
	}
	n := b.Sub(a).Cross(c.Sub(a))
	for j := j0; j <= j1; j++ {
		for i := i0; i <= i1; i++ {
			p := geom.Vec2{X: g.X(i), Y: g.Y(j)}
			s := leftOf(a, b, p)
			if s == 0 || leftOf(b, c, p) != s || leftOf(c, a, p) != s {
				continue
			}
			z := a.Z
			if n.Z != 0 {
				z -= (float64(n.X*(p.X-a.X)) + float64(n.Y*(p.Y-a.Y))) / n.Z
			}
			z = max(min(a.Z, b.Z, c.Z), min(max(a.Z, b.Z, c.Z), z))
			put(j*g.NX+i, crossing{z, s > 0})
		}
	}
}

// leftOf is 1 where p, moved by a hair, lies left of a→b seen from above, −1 where right, 0 where a and b
// are one point. Both triangles at an edge work it out from the same end.
func leftOf(a, b geom.Vec3, p geom.Vec2) int {
	sign := 1
	if a.X > b.X || a.X == b.X && a.Y > b.Y {
		a, b, sign = b, a, -1
	}
	dx, dy := b.X-a.X, b.Y-a.Y
	v := float64(dx*(p.Y-a.Y)) - float64(dy*(p.X-a.X))
	if v == 0 {
		if v = -dy; v == 0 {
			v = dx
		}
	}
	switch {
	case v > 0:
		return sign
	case v < 0:
		return -sign
	}
	return 0
}

// inside reports whether the mesh winds about the point at z, and if so the crossing below it by which it
// is left.
func inside(list []crossing, z float64) (out int, in bool) {
	w := 0
	for n, c := range list {
		if in = w > 0; c.z < z && in {
			// the way out
			for k := n; k < len(list); k++ {
				if list[k].up {
					w++
				} else {
					w--
				}
				if w <= 0 {
					return k, true
				}
			}
			return len(list) - 1, true
		}
		if c.z < z {
			return 0, false
		}
		if c.up {
			w++
		} else {
			w--
		}
	}
	return 0, false
}

// vicinity finds how far a surface is, where it is not far.
type vicinity struct {
	set        *patch.Set
	box        geom.Box3
	size       float64 // edge of a bin
	nx, ny, nz int
	start      []int32
	ids        []int32
}

// newVicinity sorts the surface into bins such that all of it within far of a point is in the point's bin.
func newVicinity(m *mesh.Mesh, far float64) *vicinity {
	n := &vicinity{set: patch.Cut(m, max(0.5, 4*far), 1<<22), box: m.Box()}
	sz := n.box.Size()
	n.size = max(4*far, 0.25, math.Cbrt(sz.X*sz.Y*sz.Z/4e6))
	n.box.Min = n.box.Min.Sub(geom.Vec3{X: far, Y: far, Z: far})
	n.box.Max = n.box.Max.Add(geom.Vec3{X: far, Y: far, Z: far})
	sz = n.box.Size()
	n.nx, n.ny, n.nz = int(sz.X/n.size)+1, int(sz.Y/n.size)+1, int(sz.Z/n.size)+1
	n.start = make([]int32, n.nx*n.ny*n.nz+1)
	each := func(put func(bin, id int)) {
		for id := range n.set.Len() {
			a, b, c := n.set.Corners(id)
			lo := n.cell(geom.Vec3{X: min(a.X, b.X, c.X) - far, Y: min(a.Y, b.Y, c.Y) - far, Z: min(a.Z, b.Z, c.Z) - far})
			hi := n.cell(geom.Vec3{X: max(a.X, b.X, c.X) + far, Y: max(a.Y, b.Y, c.Y) + far, Z: max(a.Z, b.Z, c.Z) + far})
			for z := lo[2]; z <= hi[2]; z++ {
				for y := lo[1]; y <= hi[1]; y++ {
					for x := lo[0]; x <= hi[0]; x++ {
						put((z*n.ny+y)*n.nx+x, id)
					}
				}
			}
		}
	}
	each(func(bin, _ int) { n.start[bin+1]++ })
	for k := range n.nx * n.ny * n.nz {
		n.start[k+1] += n.start[k]
	}
	n.ids = make([]int32, n.start[len(n.start)-1])
	at := slices.Clone(n.start)
	each(func(bin, id int) {
		n.ids[at[bin]] = int32(id)
		at[bin]++
	})
	return n
}

func (n *vicinity) cell(p geom.Vec3) [3]int {
	f := func(v, lo float64, m int) int { return max(0, min(m-1, int((v-lo)/n.size))) }
	return [3]int{f(p.X, n.box.Min.X, n.nx), f(p.Y, n.box.Min.Y, n.ny), f(p.Z, n.box.Min.Z, n.nz)}
}

// within returns the distance of p from the surface, far where it is farther.
func (n *vicinity) within(p geom.Vec3, far float64) float64 {
	b := &n.box
	if p.X < b.Min.X || p.Y < b.Min.Y || p.Z < b.Min.Z || p.X > b.Max.X || p.Y > b.Max.Y || p.Z > b.Max.Z {
		return far
	}
	c := n.cell(p)
	bin := (c[2]*n.ny+c[1])*n.nx + c[0]
	d2 := far * far
	for _, id := range n.ids[n.start[bin]:n.start[bin+1]] {
		x, y, z := n.set.Corners(int(id))
		q := p.Sub(closest(p, x, y, z))
		d2 = min(d2, q.Dot(q))
	}
	if d2 == far*far {
		return far
	}
	return math.Sqrt(d2)
}

// closest returns the point of a triangle nearest to p, by the region of the triangle's plane it lies over.
func closest(p, a, b, c geom.Vec3) geom.Vec3 {
	ab, ac, ap := b.Sub(a), c.Sub(a), p.Sub(a)
	d1, d2 := ab.Dot(ap), ac.Dot(ap)
	if d1 <= 0 && d2 <= 0 {
		return a
	}
	bp := p.Sub(b)
	d3, d4 := ab.Dot(bp), ac.Dot(bp)
	if d3 >= 0 && d4 <= d3 {
		return b
	}
	vc := float64(d1*d4) - float64(d3*d2)
	if vc <= 0 && d1 >= 0 && d3 <= 0 {
		return a.Lerp(b, d1/(d1-d3))
	}
	cp := p.Sub(c)
	d5, d6 := ab.Dot(cp), ac.Dot(cp)
	if d6 >= 0 && d5 <= d6 {
		return c
	}
	vb := float64(d5*d2) - float64(d1*d6)
	if vb <= 0 && d2 >= 0 && d6 <= 0 {
		return a.Lerp(c, d2/(d2-d6))
	}
	va := float64(d3*d6) - float64(d5*d4)
	if va <= 0 && d4-d3 >= 0 && d5-d6 >= 0 {
		return b.Lerp(c, (d4-d3)/((d4-d3)+(d5-d6)))
	}
	k := 1 / (va + vb + vc)
	return a.Add(ab.Mul(vb * k)).Add(ac.Mul(vc * k))
}
