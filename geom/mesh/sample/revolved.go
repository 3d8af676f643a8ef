package sample

import (
	"math"

	"barwise/geom"
	"barwise/geom/mesh"
)

// Revolved turns an outline of points (radius, y) about the y axis, in n parts round. An outline that goes from
// the axis to the axis, outside first, upward, makes a closed mesh that faces outward.
func Revolved(outline []geom.Vec2, n int) *mesh.Mesh {
	m := &mesh.Mesh{}
	first := make([]int32, len(outline))
	for k, p := range outline {
		first[k] = int32(len(m.Vertices))
		if p.X == 0 {
			m.Vertices = append(m.Vertices, geom.Vec3{Y: p.Y})
			continue
		}
		for a := range n {
			s, c := math.Sincos(2 * math.Pi * float64(a) / float64(n))
			m.Vertices = append(m.Vertices, geom.Vec3{X: p.X * s, Y: p.Y, Z: p.X * c})
		}
	}
	at := func(k, a int) int32 {
		if outline[k].X == 0 {
			return first[k]
		}
		return first[k] + int32(a%n)
	}
	for k := 0; k+1 < len(outline); k++ {
		for a := range n {
			p, q, r, s := at(k, a), at(k, a+1), at(k+1, a), at(k+1, a+1)
			if p != q {
				m.Triangles = append(m.Triangles, [3]int32{p, q, r})
			}
			if r != s {
				m.Triangles = append(m.Triangles, [3]int32{q, s, r})
			}
		}
	}
	return m
}

// Cup stands at y = y0, is 15 mm wide and 18 mm tall with a round rim, and has a well of radius 4.6 with a round
// bottom, 7 mm deep, that nothing across the axis can look into.
func Cup(y0 float64, n int) *mesh.Mesh {
	top := y0 + 18
	o := []geom.Vec2{{X: 0, Y: y0}, {X: 7.5, Y: y0}}
	o = arc(o, geom.Vec2{X: 6.05, Y: top - 1.45}, 1.45, 0, 180, 16)
	o = arc(o, geom.Vec2{X: 0, Y: top - 2.4}, 4.6, 0, -90, 24)
	return Revolved(o, n)
}

// arc appends the points of an arc about c, degrees from the +radius direction toward +y; a point that comes to
// the axis lies on it.
func arc(out []geom.Vec2, c geom.Vec2, r, from, to float64, n int) []geom.Vec2 {
	for k := range n + 1 {
		s, co := math.Sincos((from + (to-from)*float64(k)/float64(n)) * math.Pi / 180)
		p := geom.Vec2{X: c.X + float64(r*co), Y: c.Y + float64(r*s)}
		if math.Abs(p.X) < 1e-9 {
			p.X = 0
		}
		out = append(out, p)
	}
	return out
}
