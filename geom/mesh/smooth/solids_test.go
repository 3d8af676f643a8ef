package smooth

import (
	"math"
	"math/rand/v2"

	"barwise/geom"
	"barwise/geom/mesh"
)

func v(x, y, z float64) geom.Vec3 { return geom.Vec3{X: x, Y: y, Z: z} }

// lathe turns a line of (radius, height) about the Z axis in n steps, closed with flats at both ends where
// the radius is not 0. The flats are fans from one corner, without a middle.
func lathe(line []geom.Vec2, n int) *mesh.Mesh {
	m := &mesh.Mesh{}
	var rings [][]int32
	for _, p := range line {
		var ring []int32
		for i := range n {
			if p.X == 0 && i > 0 {
				ring = append(ring, ring[0])
				continue
			}
			s, c := math.Sincos(2 * math.Pi * float64(i) / float64(n))
			ring = append(ring, int32(len(m.Vertices)))
			m.Vertices = append(m.Vertices, v(p.X*c, p.X*s, p.Y))
		}
		rings = append(rings, ring)
	}
	add := func(a, b, c int32) {
		if a != b && b != c && c != a {
			m.Triangles = append(m.Triangles, [3]int32{a, b, c})
		}
	}
	for k := 0; k+1 < len(rings); k++ {
		for i := range n {
			j := (i + 1) % n
			add(rings[k][i], rings[k][j], rings[k+1][j])
			add(rings[k][i], rings[k+1][j], rings[k+1][i])
		}
	}
	low, high := rings[0], rings[len(rings)-1]
	for i := 1; i+1 < n; i++ {
		add(low[0], low[i+1], low[i])
		add(high[0], high[i], high[i+1])
	}
	return m
}

func cylinder(r, h float64, n int) *mesh.Mesh {
	return lathe([]geom.Vec2{{X: r}, {X: r, Y: h}}, n)
}

// scattered is the hull of n points without order on the unit sphere.
func scattered(n int, seed uint64) *mesh.Mesh {
	r := rand.New(rand.NewPCG(seed, 1))
	var ps []geom.Vec3
	for len(ps) < n {
		p := v(r.Float64()*2-1, r.Float64()*2-1, r.Float64()*2-1)
		if l := p.Len(); l > 0.1 && l < 1 {
			ps = append(ps, p.Unit())
		}
	}
	return hull(ps)
}

// hull adds points on a sphere one by one: facets that see a point give way to a fan from it.
func hull(ps []geom.Vec3) *mesh.Mesh {
	ts := [][3]int32{{0, 1, 2}, {0, 2, 1}}
	for i := 3; i < len(ps); i++ {
		border := map[[2]int32]bool{}
		var keep [][3]int32
		for _, t := range ts {
			a, b, c := ps[t[0]], ps[t[1]], ps[t[2]]
			if b.Sub(a).Cross(c.Sub(a)).Dot(ps[i].Sub(a)) <= 0 {
				keep = append(keep, t)
				continue
			}
			for k := range 3 {
				e := [2]int32{t[k], t[(k+1)%3]}
				if back := [2]int32{e[1], e[0]}; border[back] {
					delete(border, back)
				} else {
					border[e] = true
				}
			}
		}
		ts = keep
		for e := range border {
			ts = append(ts, [3]int32{e[0], e[1], int32(i)})
		}
	}
	// a map gave the order: make it one of their own
	sortTriangles(ts)
	return &mesh.Mesh{Vertices: ps, Triangles: ts}
}

func scaled(m *mesh.Mesh, x, y, z float64) *mesh.Mesh {
	return m.Map(func(p geom.Vec3) geom.Vec3 { return v(p.X*x, p.Y*y, p.Z*z) })
}
