package sample

import (
	"math"

	"barwise/geom"
	"barwise/geom/mesh"
)

// Grid is a surface over nu × nv places, its quads cut in two; a wrap joins its last column or row to the
// first. It faces along ∂u × ∂v.
func Grid(nu, nv int, wrapU, wrapV bool, at func(u, v int) geom.Vec3) *mesh.Mesh {
	m := &mesh.Mesh{}
	for v := range nv {
		for u := range nu {
			m.Vertices = append(m.Vertices, at(u, v))
		}
	}
	id := func(u, v int) int32 { return int32((v%nv)*nu + u%nu) }
	eu, ev := nu, nv
	if !wrapU {
		eu--
	}
	if !wrapV {
		ev--
	}
	for v := range ev {
		for u := range eu {
			a, b, c, d := id(u, v), id(u+1, v), id(u+1, v+1), id(u, v+1)
			m.Triangles = append(m.Triangles, [3]int32{a, b, c}, [3]int32{a, c, d})
		}
	}
	return m
}

// Ellipsoid of half axes r about the origin, of 2n meridians and n bands between poles on the Y axis; its
// vertices lie on it.
func Ellipsoid(r geom.Vec3, n int) *mesh.Mesh {
	return Grid(2*n, n+1, true, false, func(u, v int) geom.Vec3 {
		a, b := math.Pi*float64(u)/float64(n), math.Pi*float64(v)/float64(n)
		return geom.Vec3{X: r.X * math.Sin(b) * math.Sin(a), Y: -r.Y * math.Cos(b), Z: r.Z * math.Sin(b) * math.Cos(a)}
	})
}

// Ring is a torus of tube r about the Y axis at radius big, of 2n × n quads.
func Ring(big, r float64, n int) *mesh.Mesh {
	return Grid(2*n, n, true, true, func(u, v int) geom.Vec3 {
		a, b := math.Pi*float64(u)/float64(n), 2*math.Pi*float64(v)/float64(n)
		d := big - r*math.Cos(b)
		return geom.Vec3{X: d * math.Sin(a), Y: -r * math.Sin(b), Z: d * math.Cos(a)}
	})
}
