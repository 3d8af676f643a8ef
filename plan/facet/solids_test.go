package facet

import (
	"math"

	"barwise/geom"
	"barwise/geom/mesh"
)

func v(x, y, z float64) geom.Vec3 { return geom.Vec3{X: x, Y: y, Z: z} }

// octasphere is an octahedron of n² triangles a face, put on the sphere of radius r: 8n² triangles, of which
// those at the corners are half as large as those in the middle of the faces.
func octasphere(r float64, n int) *mesh.Mesh {
	b := mesh.NewBuilder(8 * n * n)
	for s := range 8 {
		x, y, z := float64(1-s&1*2), float64(1-s>>1&1*2), float64(1-s>>2&1*2)
		at := func(i, j int) int32 {
			k := n - i - j
			return b.Vertex(v(x*float64(i), y*float64(j), z*float64(k)).Unit().Mul(r))
		}
		tri := func(a, c, d int32) {
			if x*y*z < 0 {
				c, d = d, c
			}
			b.Triangle(a, c, d)
		}
		for i := range n {
			for j := range n - i {
				tri(at(i, j), at(i+1, j), at(i, j+1))
				if i+j+2 <= n {
					tri(at(i+1, j), at(i+1, j+1), at(i, j+1))
				}
			}
		}
	}
	m, _ := b.Mesh()
	return m
}

// grid is n × k quads cut in two over the unit square, put through f, closed in either direction where the
// ends come to one place.
func grid(n, k int, f func(x, y float64) geom.Vec3) *mesh.Mesh {
	b := mesh.NewBuilder(2 * n * k)
	at := func(i, j int) int32 {
		// so that the last is the first to the bit
		return b.Vertex(f(float64(i%n)/float64(n)+float64(i/n), float64(j%k)/float64(k)+float64(j/k)))
	}
	for i := range n {
		for j := range k {
			b.Triangle(at(i, j), at(i+1, j), at(i+1, j+1))
			b.Triangle(at(i, j), at(i+1, j+1), at(i, j+1))
		}
	}
	m, _ := b.Mesh()
	return m
}

func turn(x float64) (sin, cos float64) { return math.Sincos(2 * math.Pi * (x - math.Floor(x))) }

// tube is a cylinder's wall without ends, of n × k rectangles.
func tube(r, h float64, n, k int) *mesh.Mesh {
	return grid(n, k, func(x, y float64) geom.Vec3 {
		s, c := turn(x)
		return v(r*c, r*s, h*y)
	})
}
