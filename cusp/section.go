package cusp

import (
	"math"

	"barwise/geom"
	"barwise/geom/mesh"
)

// section is one side of the cut of the surface by a plane, from a place on.
type section struct {
	pts []geom.Vec3
	len []float64 // way along it of each point
	tri []int32   // the triangle before each point
}

// longestWalk is the most triangles that a section passes.
const longestWalk = 20000

// walk fills in the section from p on triangle t, in the plane through p square to along, that sets out in
// direction dir, until it is reach long or the surface ends. A corner in the plane counts as if it stood a
// hair to the side that along points to.
func (s *scene) walk(out *section, p geom.Vec3, t int32, along, dir geom.Vec3, reach float64) {
	out.pts, out.len, out.tri = append(out.pts[:0], p), append(out.len[:0], 0), append(out.tri[:0], t)
	side := func(v int32) float64 { return s.m.Vertices[v].Sub(p).Dot(along) }
	from := mesh.Border // half-edge of t that it came in by
	length := 0.0
	for range longestWalk {
		exit, at, best := mesh.Border, geom.Vec3{}, math.Inf(-1)
		for c := range int32(3) {
			h := 3*t + c
			if h == from {
				continue
			}
			a, b := s.edges.Ends(h)
			da, db := side(a), side(b)
			if (da >= 0) == (db >= 0) {
				continue
			}
			q := s.m.Vertices[a].Lerp(s.m.Vertices[b], da/(da-db))
			// of the two ends in the first triangle the one ahead; later there is but one
			if ahead := q.Sub(p).Dot(dir); from != mesh.Border || ahead > best {
				exit, at, best = h, q, ahead
			}
		}
		if exit == mesh.Border {
			return
		}
		length += at.Sub(out.pts[len(out.pts)-1]).Len()
		out.pts, out.len, out.tri = append(out.pts, at), append(out.len, length), append(out.tri, t)
		from = s.edges.Mate[exit]
		if length >= reach || from == mesh.Border {
			return
		}
		t = from / 3
	}
}

// at is the point x along the section, and its triangle; ok is false beyond its end. k is where to look
// from; it is moved on.
func (c *section) at(x float64, k *int) (geom.Vec3, int32, bool) {
	for *k > 0 && c.len[*k] > x {
		*k--
	}
	for *k+1 < len(c.len) && c.len[*k+1] < x {
		*k++
	}
	if *k+1 >= len(c.len) {
		return geom.Vec3{}, 0, false
	}
	a, b := c.len[*k], c.len[*k+1]
	if b <= a {
		return c.pts[*k], c.tri[*k+1], true
	}
	return c.pts[*k].Lerp(c.pts[*k+1], (x-a)/(b-a)), c.tri[*k+1], true
}
