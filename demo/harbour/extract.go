package main

import (
	"math"

	"barwise/geom"
	"barwise/geom/mesh"
)

// grid is a lattice of nodes on which the sign of a shape is known near its surface.
type grid struct {
	f          func(geom.Vec3) float64
	o          geom.Vec3
	h          float64
	nx, ny, nz int // nodes
	v          []float32
}

func (g *grid) at(i, j, k int) int { return (j*g.nz+k)*g.nx + i }

func (g *grid) node(i, j, k int) geom.Vec3 {
	return g.o.Add(geom.Vec3{X: float64(i), Y: float64(j), Z: float64(k)}.Mul(g.h))
}

// block is the edge of the cubes of cells that are passed over where the surface is too far to reach.
const block = 8

// extract returns the surface f = 0 within box, facing outward: one vertex for each cell that the
// surface passes, four for each lattice edge it crosses, then moved onto the surface (Gibson,
// Constrained Elastic Surface Nets, 1998, with the surface itself in place of the elastic).
func extract(f func(geom.Vec3) float64, box geom.Box3, h float64) *mesh.Mesh {
	s := box.Size()
	up := func(l float64) int { return block*int(math.Ceil(l/(h*block))) + 1 }
	g := &grid{f: f, o: box.Min, h: h, nx: up(s.X), ny: up(s.Y), nz: up(s.Z)}
	g.sample()
	index, m := g.vertices()
	g.quads(index, m)
	settle(f, m, h)
	split(f, m)
	return m
}

// sample fills the nodes, block by block. In a block far from the surface all nodes get the sign of its
// middle.
func (g *grid) sample() {
	g.v = make([]float32, g.nx*g.ny*g.nz)
	bx, by, bz := (g.nx-1)/block, (g.ny-1)/block, (g.nz-1)/block
	far := float64(block) * g.h * math.Sqrt(3) / 2 * 1.3
	mesh.Parallel(by, func(b int) {
		for c := range bz {
			for a := range bx {
				i0, j0, k0 := a*block, b*block, c*block
				mid := g.f(g.node(i0, j0, k0).Add(geom.Vec3{X: 1, Y: 1, Z: 1}.Mul(block * g.h / 2)))
				// the far faces belong to the next block, but for the last one
				i1, j1, k1 := i0+block, j0+block, k0+block
				if a == bx-1 {
					i1++
				}
				if b == by-1 {
					j1++
				}
				if c == bz-1 {
					k1++
				}
				for j := j0; j < j1; j++ {
					for k := k0; k < k1; k++ {
						for i := i0; i < i1; i++ {
							d := mid
							if math.Abs(mid) < far {
								d = g.f(g.node(i, j, k))
							}
							if d == 0 {
								d = 1e-9
							}
							g.v[g.at(i, j, k)] = float32(d)
						}
					}
				}
			}
		}
	})
}

// vertices puts one vertex into each cell with nodes on both sides, at the mean of where its edges are
// crossed.
func (g *grid) vertices() (index []int32, m *mesh.Mesh) {
	index = make([]int32, len(g.v))
	m = &mesh.Mesh{}
	for j := range g.ny - 1 {
		for k := range g.nz - 1 {
			for i := range g.nx - 1 {
				in := 0
				for c := range 8 {
					if g.v[g.at(i+c&1, j+c>>1&1, k+c>>2)] < 0 {
						in++
					}
				}
				if in == 0 || in == 8 {
					continue
				}
				index[g.at(i, j, k)] = int32(len(m.Vertices))
				m.Vertices = append(m.Vertices, g.mean(i, j, k))
			}
		}
	}
	return index, m
}

func (g *grid) mean(i, j, k int) geom.Vec3 {
	var sum geom.Vec3
	n := 0.0
	for c := range 8 {
		for axis := range 3 {
			if c>>axis&1 == 1 {
				continue
			}
			e := c | 1<<axis
			a, b := float64(g.v[g.at(i+c&1, j+c>>1&1, k+c>>2)]), float64(g.v[g.at(i+e&1, j+e>>1&1, k+e>>2)])
			if (a < 0) == (b < 0) {
				continue
			}
			p, q := g.node(i+c&1, j+c>>1&1, k+c>>2), g.node(i+e&1, j+e>>1&1, k+e>>2)
			sum = sum.Add(p.Lerp(q, a/(a-b)))
			n++
		}
	}
	return sum.Mul(1 / n)
}

// quads joins the four cells about every lattice edge that is crossed, as two triangles each.
func (g *grid) quads(index []int32, m *mesh.Mesh) {
	for j := 1; j < g.ny-1; j++ {
		for k := 1; k < g.nz-1; k++ {
			for i := 1; i < g.nx-1; i++ {
				in := g.v[g.at(i, j, k)] < 0
				if in != (g.v[g.at(i+1, j, k)] < 0) {
					quad(m, in, index[g.at(i, j-1, k-1)], index[g.at(i, j, k-1)], index[g.at(i, j, k)], index[g.at(i, j-1, k)])
				}
				if in != (g.v[g.at(i, j+1, k)] < 0) {
					quad(m, in, index[g.at(i-1, j, k-1)], index[g.at(i-1, j, k)], index[g.at(i, j, k)], index[g.at(i, j, k-1)])
				}
				if in != (g.v[g.at(i, j, k+1)] < 0) {
					quad(m, in, index[g.at(i-1, j-1, k)], index[g.at(i, j-1, k)], index[g.at(i, j, k)], index[g.at(i-1, j, k)])
				}
			}
		}
	}
}

// quad adds a, b, c, d, counter-clockwise seen from the far end of the lattice edge, turned over where
// that end is inside.
func quad(m *mesh.Mesh, out bool, a, b, c, d int32) {
	if !out {
		b, d = d, b
	}
	m.Triangles = append(m.Triangles, [3]int32{a, b, c}, [3]int32{a, c, d})
}

// settle evens the vertices out along the surface and puts them onto it.
func settle(f func(geom.Vec3) float64, m *mesh.Mesh, h float64) {
	const chunk = 1024
	n := len(m.Vertices)
	each := func(do func(v int)) {
		mesh.Parallel((n+chunk-1)/chunk, func(c int) {
			for v := c * chunk; v < min(n, (c+1)*chunk); v++ {
				do(v)
			}
		})
	}
	each(func(v int) { m.Vertices[v] = onto(f, m.Vertices[v], h) })
	sum, count := make([]geom.Vec3, n), make([]float64, n)
	for range 3 {
		clear(sum)
		clear(count)
		for _, t := range m.Triangles {
			for c := range 3 {
				a, b := t[c], t[(c+1)%3]
				sum[a] = sum[a].Add(m.Vertices[b])
				count[a]++
			}
		}
		each(func(v int) {
			m.Vertices[v] = onto(f, m.Vertices[v].Lerp(sum[v].Mul(1/count[v]), 0.5), h)
		})
	}
}

// onto moves p to the surface by Newton's steps along the gradient, never further than a cell.
func onto(f func(geom.Vec3) float64, p geom.Vec3, h float64) geom.Vec3 {
	q := p
	for range 6 {
		d := f(q)
		if math.Abs(d) < 1e-7 {
			break
		}
		g := gradient(f, q)
		gg := g.Dot(g)
		if gg < 1e-6 {
			return p
		}
		if q = q.Sub(g.Mul(d / gg)); q.Sub(p).Len() > h {
			return p
		}
	}
	return q
}

// gradient is the central difference over the corners of a tetrahedron.
func gradient(f func(geom.Vec3) float64, p geom.Vec3) geom.Vec3 {
	const e = 1e-4
	var g geom.Vec3
	for _, k := range [...]geom.Vec3{{X: 1, Y: -1, Z: -1}, {X: -1, Y: -1, Z: 1}, {X: -1, Y: 1, Z: -1}, {X: 1, Y: 1, Z: 1}} {
		g = g.Add(k.Mul(f(p.Add(k.Mul(e)))))
	}
	return g.Mul(1 / (4 * e))
}

// split turns the diagonal of each pair of triangles to where it lies nearer to the surface. Where only
// three pairs meet at a vertex the diagonal goes through it: two of them with a diagonal past it would
// have the same one.
func split(f func(geom.Vec3) float64, m *mesh.Mesh) {
	const chunk = 1024
	n := len(m.Triangles) / 2
	meet := make([]uint8, len(m.Vertices))
	for i := range n {
		for _, v := range [...]int32{m.Triangles[2*i][0], m.Triangles[2*i][1], m.Triangles[2*i][2], m.Triangles[2*i+1][2]} {
			meet[v]++
		}
	}
	mesh.Parallel((n+chunk-1)/chunk, func(c int) {
		for i := c * chunk; i < min(n, (c+1)*chunk); i++ {
			s, t := &m.Triangles[2*i], &m.Triangles[2*i+1]
			a, b, c, d := s[0], s[1], s[2], t[2]
			ac := math.Abs(f(m.Vertices[a].Lerp(m.Vertices[c], 0.5)))
			bd := math.Abs(f(m.Vertices[b].Lerp(m.Vertices[d], 0.5)))
			if meet[a] <= 3 || meet[c] <= 3 {
				continue
			}
			if bd < ac || meet[b] <= 3 || meet[d] <= 3 {
				*s, *t = [3]int32{b, c, d}, [3]int32{b, d, a}
			}
		}
	})
}
