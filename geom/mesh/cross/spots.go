package cross

import (
	"cmp"
	"slices"

	"barwise/geom"
	"barwise/geom/mesh"
)

// Spots puts together pairs of the list whose triangles share corners, directly or by way of others,
// most pairs first. The list must be in ascending order of A, then B.
func Spots(m *mesh.Mesh, list []Pair) []Spot {
	if len(list) == 0 {
		return nil
	}
	root := map[int32]int32{} // of the vertices that occur
	find := func(v int32) int32 {
		r, ok := root[v]
		if !ok {
			root[v] = v
			return v
		}
		for r != v {
			g := root[r]
			root[v] = g
			v, r = r, g
		}
		return v
	}
	for i := range list {
		first := find(m.Triangles[list[i].A][0])
		for _, t := range [2]int32{list[i].A, list[i].B} {
			for _, v := range m.Triangles[t] {
				if r := find(v); r != first {
					// the smaller index leads, which no order can change
					first, r = min(first, r), max(first, r)
					root[r] = first
				}
			}
		}
	}
	index := map[int32]int{}
	var spots []Spot
	of := make([]int, len(list))
	for i := range list {
		r := find(m.Triangles[list[i].A][0])
		k, ok := index[r]
		if !ok {
			k = len(spots)
			index[r] = k
			spots = append(spots, Spot{Box: geom.EmptyBox(), Triangles: [2]int32{-1, -1}})
		}
		of[i] = k
		spots[k].count(i, &list[i])
	}
	best := make([]float64, len(spots))
	for i := range list {
		s, b := &spots[of[i]], &best[of[i]]
		at := list[i].P.Lerp(list[i].Q, 0.5)
		d := at.Sub(s.Box.Centre())
		if away := d.Dot(d); s.Triangles[0] < 0 || away < *b {
			*b = away
			s.At, s.Triangles = at, [2]int32{list[i].A, list[i].B}
		}
	}
	slices.SortStableFunc(spots, func(a, b Spot) int { return cmp.Compare(b.Pairs, a.Pairs) })
	return spots
}

func (s *Spot) count(i int, p *Pair) {
	s.Pairs++
	s.List = append(s.List, int32(i))
	switch p.Kind {
	case Through:
		s.Through++
	case Over:
		s.Over++
	case Touch:
		s.Touch++
	}
	s.Box = s.Box.Grow(p.P).Grow(p.Q)
}

// common gives what two triangles have in common: the ends of a piece of line, or a box.
func common(m *mesh.Mesh, x *Pair) (geom.Vec3, geom.Vec3) {
	p, q, shared := align(m, x.A, x.B)
	if shared < 3 {
		sp, sq := side(&q, &p, shared), side(&p, &q, shared)
		if !sp.plane {
			return overlap(&p, &q, sp, sq)
		}
	}
	a, b := tight(&p), tight(&q)
	lo := geom.Vec3{X: max(a.Min.X, b.Min.X), Y: max(a.Min.Y, b.Min.Y), Z: max(a.Min.Z, b.Min.Z)}
	hi := geom.Vec3{X: min(a.Max.X, b.Max.X), Y: min(a.Max.Y, b.Max.Y), Z: min(a.Max.Z, b.Max.Z)}
	return lo, hi
}

// overlap is what two pieces of one line have in common: of their four ends the middle two.
func overlap(p, q *tri, sp, sq shape) (geom.Vec3, geom.Vec3) {
	var ends [4]geom.Vec3
	ends[0], ends[1] = piece(p, sp, q)
	ends[2], ends[3] = piece(q, sq, p)
	dir := ends[1].Sub(ends[0])
	if d := ends[3].Sub(ends[2]); d.Dot(d) > dir.Dot(dir) {
		dir = d
	}
	slices.SortStableFunc(ends[:], func(a, b geom.Vec3) int { return cmp.Compare(a.Dot(dir), b.Dot(dir)) })
	return ends[1], ends[2]
}

func tight(p *tri) geom.Box3 { return geom.EmptyBox().Grow(p[0]).Grow(p[1]).Grow(p[2]) }

// piece is what p has in common with the plane of q, to rounding: between the edges from its lone corner,
// or an edge or a corner that lies in it.
func piece(p *tri, s shape, q *tri) (a, b geom.Vec3) {
	if i := lying(s); i >= 0 {
		return p[i], p[(i+1)%3]
	}
	if !s.spread {
		for i := range 3 {
			if s.sign[i] == 0 {
				return p[i], p[i]
			}
		}
	}
	l, _ := lone(p, s)
	n := q[1].Sub(q[0]).Cross(q[2].Sub(q[0]))
	at := func(to geom.Vec3) geom.Vec3 {
		x, y := abs(l[0].Sub(q[0]).Dot(n)), abs(to.Sub(q[0]).Dot(n))
		if x+y == 0 {
			return l[0]
		}
		return l[0].Lerp(to, x/(x+y))
	}
	return at(l[1]), at(l[2])
}
