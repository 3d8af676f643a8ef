package even_test

import (
	"math"

	"barwise/geom"
	"barwise/geom/mesh"
)

// plate is a surface z = f(x, y) over a square of half width, by triangles d wide, vertices on the surface.
func plate(half, d float64, f func(x, y float64) float64) *mesh.Mesh {
	m := &mesh.Mesh{}
	n := int(math.Ceil(2*half/d)) + 1
	at := func(i int) float64 { return -half + 2*half*float64(i)/float64(n-1) }
	for j := range n {
		for i := range n {
			x, y := at(i), at(j)
			m.Vertices = append(m.Vertices, geom.Vec3{X: x, Y: y, Z: f(x, y)})
		}
	}
	for j := range n - 1 {
		for i := range n - 1 {
			a, b, c, d := int32(j*n+i), int32(j*n+i+1), int32((j+1)*n+i+1), int32((j+1)*n+i)
			m.Triangles = append(m.Triangles, [3]int32{a, b, c}, [3]int32{a, c, d})
		}
	}
	return m
}

// torus of tube r round the Y axis at radius big.
func torus(big, r float64, n int) *mesh.Mesh {
	m := &mesh.Mesh{}
	nu, nv := 2*n, n
	for v := range nv {
		for u := range nu {
			a, b := math.Pi*float64(u)/float64(n), 2*math.Pi*float64(v)/float64(n)
			d := big - r*math.Cos(b)
			m.Vertices = append(m.Vertices, geom.Vec3{X: d * math.Sin(a), Y: -r * math.Sin(b), Z: d * math.Cos(a)})
		}
	}
	id := func(u, v int) int32 { return int32((v%nv)*nu + u%nu) }
	for v := range nv {
		for u := range nu {
			m.Triangles = append(m.Triangles,
				[3]int32{id(u, v), id(u+1, v), id(u+1, v+1)},
				[3]int32{id(u, v), id(u+1, v+1), id(u, v+1)})
		}
	}
	return m
}
