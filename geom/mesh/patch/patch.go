// Package patch cuts a mesh's surface into small triangles, on which what is measured over the surface is
// summed and drawn.
package patch

import (
	"math"

	"barwise/geom"
	"barwise/geom/mesh"
)

// Set is a surface in patches. They do not share corners and need not meet edge to edge: a set is for
// sums and pictures, not for topology.
type Set struct {
	Corner []geom.Vec3 // three a patch, counter-clockwise seen from outside
	Of     []int32     // the mesh's triangle that a patch is part of; in ascending order
	Edge   float64     // mm, no patch has a longer edge
}

// Len is the number of patches.
func (s *Set) Len() int { return len(s.Of) }

// Corners returns the corners of patch i.
func (s *Set) Corners(i int) (a, b, c geom.Vec3) {
	return s.Corner[3*i], s.Corner[3*i+1], s.Corner[3*i+2]
}

// Centre returns the middle of patch i.
func (s *Set) Centre(i int) geom.Vec3 {
	a, b, c := s.Corners(i)
	return a.Add(b).Add(c).Mul(1.0 / 3)
}

// twice is the normal of patch i, as long as twice its area.
func (s *Set) twice(i int) geom.Vec3 {
	a, b, c := s.Corners(i)
	return b.Sub(a).Cross(c.Sub(a))
}

// Area returns the area of patch i, mm².
func (s *Set) Area(i int) float64 { return s.twice(i).Len() / 2 }

// Normal returns the outward unit normal of patch i, zero where it has no area.
func (s *Set) Normal(i int) geom.Vec3 {
	n := s.twice(i)
	if n.Len() == 0 {
		return geom.Vec3{}
	}
	return n.Unit()
}

// Cut halves the mesh's triangles at their longest edge until no edge is longer than edge mm. Where that
// would make more than most patches the edge is doubled until it does not, or until no triangle is cut;
// Set.Edge says what it came to.
func Cut(m *mesh.Mesh, edge float64, most int) *Set {
	n := count(m, edge)
	for n > max(most, len(m.Triangles)) {
		edge *= 2
		n = count(m, edge)
	}
	s := &Set{Corner: make([]geom.Vec3, 0, 3*n), Of: make([]int32, 0, n), Edge: edge}
	for i := range m.Triangles {
		a, b, c := m.Corners(i)
		Halve(a, b, c, edge, func(a, b, c geom.Vec3) {
			s.Corner = append(s.Corner, a, b, c)
			s.Of = append(s.Of, int32(i))
		})
	}
	return s
}

// count is how many patches there will be; math.MaxInt stands for too many to count.
func count(m *mesh.Mesh, edge float64) int {
	const lot = 4096
	sums := make([]int, (len(m.Triangles)+lot-1)/lot)
	mesh.Parallel(len(sums), func(k int) {
		n := 0
		for i := k * lot; i < min(len(m.Triangles), (k+1)*lot); i++ {
			a, b, c := m.Corners(i)
			// halving leaves at least this many
			if area := b.Sub(a).Cross(c.Sub(a)).Len() / 2; area/(edge*edge) > math.MaxInt32 {
				n = math.MaxInt
				break
			}
			Halve(a, b, c, edge, func(_, _, _ geom.Vec3) { n++ })
		}
		sums[k] = n
	})
	n := 0
	for _, k := range sums {
		if k == math.MaxInt {
			return k
		}
		n += k
	}
	return n
}

// Halve cuts one triangle as Cut does and hands on the pieces.
func Halve(a, b, c geom.Vec3, edge float64, emit func(a, b, c geom.Vec3)) {
	halve(a, b, c, edge*edge, emit)
}

func halve(a, b, c geom.Vec3, edge2 float64, emit func(a, b, c geom.Vec3)) {
	ab, bc, ca := b.Sub(a), c.Sub(b), a.Sub(c)
	la, lb, lc := ab.Dot(ab), bc.Dot(bc), ca.Dot(ca)
	switch l := max(la, lb, lc); {
	case !(l > edge2):
		emit(a, b, c)
	case l == la:
		m := a.Lerp(b, 0.5)
		halve(a, m, c, edge2, emit)
		halve(m, b, c, edge2, emit)
	case l == lb:
		m := b.Lerp(c, 0.5)
		halve(a, b, m, edge2, emit)
		halve(a, m, c, edge2, emit)
	default:
		m := c.Lerp(a, 0.5)
		halve(a, b, m, edge2, emit)
		halve(m, b, c, edge2, emit)
	}
}
