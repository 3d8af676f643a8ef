package finish

import (
	"barwise/geom"
	"barwise/geom/mesh"
)

// The solids are made here from closed forms; vertices lie on the exact surface.

// prism pushes a counter-clockwise outline in (y, z) from x = −half to half.
func prism(half float64, outline []geom.Vec2) *mesh.Mesh {
	m := &mesh.Mesh{}
	n := len(outline)
	for _, x := range [2]float64{-half, half} {
		for _, p := range outline {
			m.Vertices = append(m.Vertices, geom.Vec3{X: x, Y: p.X, Z: p.Y})
		}
	}
	for i := range n {
		j := (i + 1) % n
		a, b, c, d := int32(i), int32(j), int32(n+j), int32(n+i)
		m.Triangles = append(m.Triangles, [3]int32{a, b, c}, [3]int32{a, c, d})
	}
	// caps by ear clipping
	idx := make([]int, n)
	for i := range idx {
		idx[i] = i
	}
	for len(idx) > 2 {
		for k := range idx {
			a, b, c := idx[(k+len(idx)-1)%len(idx)], idx[k], idx[(k+1)%len(idx)]
			if ear(outline, idx, a, b, c) {
				m.Triangles = append(m.Triangles, [3]int32{int32(n + a), int32(n + b), int32(n + c)}, [3]int32{int32(a), int32(c), int32(b)})
				idx = append(idx[:k], idx[k+1:]...)
				break
			}
		}
	}
	return m
}

func ear(p []geom.Vec2, idx []int, a, b, c int) bool {
	if p[b].Sub(p[a]).Cross(p[c].Sub(p[b])) <= 0 {
		return false
	}
	for _, k := range idx {
		if k == a || k == b || k == c {
			continue
		}
		if p[b].Sub(p[a]).Cross(p[k].Sub(p[a])) >= 0 && p[c].Sub(p[b]).Cross(p[k].Sub(p[b])) >= 0 && p[a].Sub(p[c]).Cross(p[k].Sub(p[c])) >= 0 {
			return false
		}
	}
	return true
}

// slope is a large plate through the origin of slope ga along y and gc along x.
func slope(half, ga, gc float64) *mesh.Mesh {
	at := func(x, y float64) geom.Vec3 { return geom.Vec3{X: x, Y: y, Z: ga*y + gc*x} }
	return &mesh.Mesh{
		Vertices:  []geom.Vec3{at(-half, -half), at(half, -half), at(half, half), at(-half, half)},
		Triangles: [][3]int32{{0, 1, 2}, {0, 2, 3}},
	}
}

// moved shifts a mesh.
func moved(m *mesh.Mesh, d geom.Vec3) *mesh.Mesh {
	return m.Map(func(p geom.Vec3) geom.Vec3 { return p.Add(d) })
}
