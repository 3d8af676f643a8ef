package even_test

import (
	"math"

	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/sample"
)

// plate is a surface z = f(x, y) over a square of half width, by triangles d wide, vertices on the surface.
func plate(half, d float64, f func(x, y float64) float64) *mesh.Mesh {
	n := int(math.Ceil(2*half/d)) + 1
	at := func(i int) float64 { return -half + 2*half*float64(i)/float64(n-1) }
	return sample.Grid(n, n, false, false, func(i, j int) geom.Vec3 {
		x, y := at(i), at(j)
		return geom.Vec3{X: x, Y: y, Z: f(x, y)}
	})
}
