package sample

import (
	"math"

	"barwise/geom"
	"barwise/geom/mesh"
)

// Torus is n × k quads cut in two, facing outward, about the Z axis.
func Torus(big, small float64, n, k int) *mesh.Mesh {
	m := &mesh.Mesh{}
	for i := range n {
		si, ci := math.Sincos(2 * math.Pi * float64(i) / float64(n))
		for j := range k {
			sj, cj := math.Sincos(2 * math.Pi * float64(j) / float64(k))
			r := big + float64(small*cj)
			m.Vertices = append(m.Vertices, geom.Vec3{X: r * ci, Y: r * si, Z: small * sj})
		}
	}
	at := func(i, j int) int32 { return int32(i%n*k + j%k) }
	for i := range n {
		for j := range k {
			a, b, c, d := at(i, j), at(i+1, j), at(i+1, j+1), at(i, j+1)
			m.Triangles = append(m.Triangles, [3]int32{a, b, c}, [3]int32{a, c, d})
		}
	}
	return m
}

// Sphere is a ball of radius r about c, of n meridians and n/2 bands between poles on the Y axis through
// c; its vertices lie on it.
func Sphere(c geom.Vec3, r float64, n int) *mesh.Mesh {
	m := &mesh.Mesh{Vertices: []geom.Vec3{c.Sub(geom.Vec3{Y: r}), c.Add(geom.Vec3{Y: r})}}
	bands := n / 2
	at := func(i, k int) int32 { return int32(2 + (i-1)*n + k%n) }
	for i := 1; i < bands; i++ {
		si, ci := math.Sincos(math.Pi * float64(i) / float64(bands))
		for k := range n {
			sk, ck := math.Sincos(2 * math.Pi * float64(k) / float64(n))
			m.Vertices = append(m.Vertices, c.Add(geom.Vec3{X: float64(r * si * ck), Y: -float64(r * ci), Z: -float64(r * si * sk)}))
		}
	}
	for k := range n {
		m.Triangles = append(m.Triangles, [3]int32{0, at(1, k+1), at(1, k)}, [3]int32{1, at(bands-1, k), at(bands-1, k+1)})
		for i := 1; i < bands-1; i++ {
			m.Triangles = append(m.Triangles, [3]int32{at(i, k), at(i, k+1), at(i+1, k+1)}, [3]int32{at(i, k), at(i+1, k+1), at(i+1, k)})
		}
	}
	return m
}

// Icosphere is an icosahedron whose edges are halved k times, its corners on the sphere of radius r about
// the origin: 20·4^k triangles.
func Icosphere(r float64, k int) *mesh.Mesh {
	m := icosahedron()
	for range k {
		middle := map[[2]int32]int32{}
		half := func(a, b int32) int32 {
			key := [2]int32{min(a, b), max(a, b)}
			i, ok := middle[key]
			if !ok {
				i = int32(len(m.Vertices))
				m.Vertices = append(m.Vertices, m.Vertices[a].Unit().Add(m.Vertices[b].Unit()))
				middle[key] = i
			}
			return i
		}
		var out [][3]int32
		for _, t := range m.Triangles {
			a, b, c := half(t[0], t[1]), half(t[1], t[2]), half(t[2], t[0])
			out = append(out, [3]int32{t[0], a, c}, [3]int32{a, t[1], b}, [3]int32{c, b, t[2]}, [3]int32{a, b, c})
		}
		m.Triangles = out
	}
	for i, p := range m.Vertices {
		m.Vertices[i] = p.Unit().Mul(r)
	}
	return m
}

func icosahedron() *mesh.Mesh {
	g := (1 + math.Sqrt(5)) / 2
	return &mesh.Mesh{Vertices: []geom.Vec3{
		{X: -1, Y: g}, {X: 1, Y: g}, {X: -1, Y: -g}, {X: 1, Y: -g}, {Y: -1, Z: g}, {Y: 1, Z: g},
		{Y: -1, Z: -g}, {Y: 1, Z: -g}, {X: g, Z: -1}, {X: g, Z: 1}, {X: -g, Z: -1}, {X: -g, Z: 1},
	}, Triangles: [][3]int32{
		{0, 11, 5}, {0, 5, 1}, {0, 1, 7}, {0, 7, 10}, {0, 10, 11}, {1, 5, 9}, {5, 11, 4}, {11, 10, 2}, {10, 7, 6}, {7, 1, 8},
		{3, 9, 4}, {3, 4, 2}, {3, 2, 6}, {3, 6, 8}, {3, 8, 9}, {4, 9, 5}, {2, 4, 11}, {6, 2, 10}, {8, 6, 7}, {9, 8, 1},
	}}
}
