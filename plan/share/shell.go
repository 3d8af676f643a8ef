package share

import (
	"math"

	"barwise/geom"
	"barwise/geom/mesh"
)

// shell tells whether the model comes near a point: its triangles in cells.
type shell struct {
	mesh  *mesh.Mesh
	box   geom.Box3
	size  float64
	n     [3]int
	start []int32 // triangles of cell k: ids[start[k]:start[k+1]]
	ids   []int32
}

// newShell sorts a mesh into cells of the given size, mm, or larger where there would be too many.
func newShell(m *mesh.Mesh, size float64) *shell {
	s := &shell{mesh: m, box: m.Box()}
	e := s.box.Size()
	const most = 16e6
	size = max(size, math.Cbrt((e.X+size)*(e.Y+size)*(e.Z+size)/most))
	s.size = size
	for k, x := range [3]float64{e.X, e.Y, e.Z} {
		s.n[k] = int(x/size) + 1
	}
	s.start = make([]int32, s.n[0]*s.n[1]*s.n[2]+1)
	for pass := range 2 {
		for i := range m.Triangles {
			a, b, c := m.Corners(i)
			s.cells(geom.EmptyBox().Grow(a).Grow(b).Grow(c), func(k int) bool {
				if pass == 0 {
					s.start[k]++
				} else {
					s.start[k]--
					s.ids[s.start[k]] = int32(i)
				}
				return true
			})
		}
		if pass == 0 {
			sum := int32(0)
			for k := range s.start {
				sum += s.start[k]
				s.start[k] = sum
			}
			s.ids = make([]int32, sum)
		}
	}
	return s
}

// cells calls f for the cells that meet b, in order, while it returns true.
func (s *shell) cells(b geom.Box3, f func(k int) bool) {
	lo, hi := b.Min.Sub(s.box.Min), b.Max.Sub(s.box.Min)
	at := func(x float64, k int) int { return min(max(int(math.Floor(x/s.size)), 0), s.n[k]-1) }
	for z := at(lo.Z, 2); z <= at(hi.Z, 2); z++ {
		for y := at(lo.Y, 1); y <= at(hi.Y, 1); y++ {
			for x := at(lo.X, 0); x <= at(hi.X, 0); x++ {
				if !f((z*s.n[1]+y)*s.n[0] + x) {
					return
				}
			}
		}
	}
}

// near reports whether the model comes within d of p on the side that u, a unit vector, points to: not
// more than about 70° from it.
func (s *shell) near(p, u geom.Vec3, d float64) bool {
	found := false
	s.cells(cone(p, u, d), func(k int) bool {
		if s.start[k] == s.start[k+1] || s.apart(k, p) > d {
			return true
		}
		for _, i := range s.ids[s.start[k]:s.start[k+1]] {
			a, b, c := s.mesh.Corners(int(i))
			q := closest(p, a, b, c).Sub(p)
			if l := q.Len(); l <= d && q.Dot(u) >= leastCos*l {
				found = true
				return false
			}
		}
		return true
	})
	return found
}

const leastCos = 0.35

// cone is the box round the points within d of p whose direction from p leaves u by an angle of a
// cosine of at least leastCos.
func cone(p, u geom.Vec3, d float64) geom.Box3 {
	wide := math.Acos(leastCos)
	far := func(x float64) float64 { // how far such a point can lie in a direction of cosine x to u
		return d * math.Cos(min(max(math.Acos(min(max(x, -1), 1))-wide, 0), math.Pi/2))
	}
	return geom.Box3{
		Min: p.Sub(geom.Vec3{X: far(-u.X), Y: far(-u.Y), Z: far(-u.Z)}),
		Max: p.Add(geom.Vec3{X: far(u.X), Y: far(u.Y), Z: far(u.Z)}),
	}
}

// apart is the distance of p from cell k.
func (s *shell) apart(k int, p geom.Vec3) float64 {
	i := [3]int{k % s.n[0], k / s.n[0] % s.n[1], k / (s.n[0] * s.n[1])}
	q := p.Sub(s.box.Min)
	sum := 0.0
	for a, x := range [3]float64{q.X, q.Y, q.Z} {
		lo := float64(i[a]) * s.size
		d := max(lo-x, x-lo-s.size, 0)
		sum += float64(d * d)
	}
	return math.Sqrt(sum)
}

// closest is the point of a triangle nearest to p: the foot on its plane where that lies inside, else
// the nearest on its edges.
func closest(p, a, b, c geom.Vec3) geom.Vec3 {
	n := b.Sub(a).Cross(c.Sub(a))
	nn := n.Dot(n)
	if nn > 0 && n.Dot(b.Sub(a).Cross(p.Sub(a))) >= 0 && n.Dot(c.Sub(b).Cross(p.Sub(b))) >= 0 && n.Dot(a.Sub(c).Cross(p.Sub(c))) >= 0 {
		return p.Sub(n.Mul(p.Sub(a).Dot(n) / nn))
	}
	best, least := a, math.Inf(1)
	for _, e := range [3][2]geom.Vec3{{a, b}, {b, c}, {c, a}} {
		d, t := e[1].Sub(e[0]), 0.0
		if l := d.Dot(d); l > 0 {
			t = min(max(p.Sub(e[0]).Dot(d)/l, 0), 1)
		}
		q := e[0].Lerp(e[1], t)
		if r := q.Sub(p); r.Dot(r) < least {
			best, least = q, r.Dot(r)
		}
	}
	return best
}
