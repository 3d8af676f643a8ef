package fragile

import (
	"cmp"
	"context"
	"math"
	"slices"

	"barwise/geom"
	"barwise/geom/mesh"
)

// each calls f(0) … f(n−1) on all cores; it stops early when ctx is done.
func each(ctx context.Context, n int, f func(i int)) error {
	mesh.Parallel(n, func(i int) {
		if ctx.Err() == nil {
			f(i)
		}
	})
	return ctx.Err()
}

// frame is one of the three cyclic orders of the coordinates: w along the cut's direction, u and v
// across, so that u × v points along w.
type frame int

const (
	alongX frame = iota
	alongY
	alongZ
)

func (f frame) in(p geom.Vec3) (u, v, w float64) {
	switch f {
	case alongX:
		return p.Y, p.Z, p.X
	case alongY:
		return p.Z, p.X, p.Y
	}
	return p.X, p.Y, p.Z
}

func (f frame) out(u, v, w float64) geom.Vec3 {
	switch f {
	case alongX:
		return geom.Vec3{X: w, Y: u, Z: v}
	case alongY:
		return geom.Vec3{X: v, Y: w, Z: u}
	}
	return geom.Vec3{X: u, Y: v, Z: w}
}

// loop is a closed outline of a section in u and v, with the solid on its left: an outer one has a
// positive area, a hole a negative one.
type loop struct {
	p      []geom.Vec2
	area   float64
	lo, hi geom.Vec2
	spigot bool
}

// slicer cuts a mesh across w at n planes, in the middle of steps from lo on.
type slicer struct {
	frame
	m     *mesh.Mesh
	own   int // triangles of the model; those behind are the spigot's
	lo    float64
	step  float64
	n     int
	first []int32 // where the triangles of a plane begin in list
	list  []int32
}

func (s *slicer) at(k int) float64 { return s.lo + float64(s.step*(float64(k)+0.5)) }

// newSlicer lists for every plane the triangles that cross it.
func newSlicer(ctx context.Context, m *mesh.Mesh, f frame, own int, lo, hi, step float64) (*slicer, error) {
	n := max(1, int(math.Ceil((hi-lo)/step-1e-9)))
	s := &slicer{frame: f, m: m, own: own, lo: lo, step: (hi - lo) / float64(n), n: n}
	s.first = make([]int32, n+1)
	planes := func(i int) (int, int) {
		t := m.Triangles[i]
		_, _, a := f.in(m.Vertices[t[0]])
		_, _, b := f.in(m.Vertices[t[1]])
		_, _, c := f.in(m.Vertices[t[2]])
		// one more on either side than rounding could lose: cross looks closely
		k0 := math.Floor((min(a, b, c)-lo)/s.step - 0.5)
		k1 := math.Ceil((max(a, b, c)-lo)/s.step - 0.5)
		if !(k1 >= 0 && k0 < float64(n)) {
			return 0, 0
		}
		return int(max(k0, 0)), int(min(k1+1, float64(n)))
	}
	for i := range m.Triangles {
		if i&0xffff == 0 && ctx.Err() != nil {
			return nil, ctx.Err()
		}
		for k, end := planes(i); k < end; k++ {
			s.first[k+1]++
		}
	}
	for k := range n {
		s.first[k+1] += s.first[k]
	}
	s.list = make([]int32, s.first[n])
	fill := slices.Clone(s.first[:n])
	for i := range m.Triangles {
		if i&0xffff == 0 && ctx.Err() != nil {
			return nil, ctx.Err()
		}
		for k, end := planes(i); k < end; k++ {
			s.list[fill[k]] = int32(i)
			fill[k]++
		}
	}
	return s, nil
}

// chord is where a triangle crosses the plane: from the edge that falls through it to the one that
// rises through it, which has the solid on its left.
type chord struct {
	from, to uint64 // the edges' keys
	p, q     geom.Vec2
	tri      int32
}

// cross cuts triangle i at w. Vertices at w count as below, so that every edge of a closed mesh is
// crossed by both of its triangles or by neither.
func (s *slicer) cross(i int32, w float64) (chord, bool) {
	t := s.m.Triangles[i]
	out := chord{tri: i}
	got := 0
	for k := range 3 {
		a, b := t[k], t[(k+1)%3]
		_, _, wa := s.in(s.m.Vertices[a])
		_, _, wb := s.in(s.m.Vertices[b])
		if (wa > w) == (wb > w) {
			continue
		}
		got++
		// the same place whichever triangle asks
		c, d := min(a, b), max(a, b)
		u0, v0, w0 := s.in(s.m.Vertices[c])
		u1, v1, w1 := s.in(s.m.Vertices[d])
		f := (w - w0) / (w1 - w0)
		p := geom.Vec2{X: u0 + float64((u1-u0)*f), Y: v0 + float64((v1-v0)*f)}
		if key := uint64(c)<<32 | uint64(d); wa > w {
			out.from, out.p = key, p
		} else {
			out.to, out.q = key, p
		}
	}
	return out, got == 2
}

// loops returns the outlines of the section at plane k, and how many of them had to be closed by a
// straight line because the mesh is open there.
func (s *slicer) loops(k int) (out []loop, open int) {
	var ps []chord
	for _, i := range s.list[s.first[k]:s.first[k+1]] {
		if c, ok := s.cross(i, s.at(k)); ok {
			ps = append(ps, c)
		}
	}
	slices.SortFunc(ps, func(a, b chord) int { return cmp.Or(cmp.Compare(a.from, b.from), cmp.Compare(a.tri, b.tri)) })
	used := make([]bool, len(ps))
	next := func(key uint64) int {
		j, _ := slices.BinarySearchFunc(ps, key, func(a chord, key uint64) int { return cmp.Compare(a.from, key) })
		for ; j < len(ps) && ps[j].from == key; j++ {
			if !used[j] {
				return j
			}
		}
		return -1
	}
	// an open chain is walked from its start: a chord that no other leads to
	for _, i := range append(starts(ps), order(len(ps))...) {
		if used[i] {
			continue
		}
		l := loop{spigot: int(ps[i].tri) >= s.own}
		j := i
		for j >= 0 {
			used[j] = true
			l.p = append(l.p, ps[j].p)
			last := j
			if j = next(ps[j].to); j < 0 && ps[last].to != ps[i].from {
				l.p = append(l.p, ps[last].q)
				open++
			}
		}
		if l.measure(); l.area != 0 {
			out = append(out, l)
		}
	}
	return out, open
}

func order(n int) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = i
	}
	return out
}

func starts(ps []chord) []int {
	to := make([]uint64, len(ps))
	for i := range ps {
		to[i] = ps[i].to
	}
	slices.Sort(to)
	var out []int
	for i := range ps {
		if _, found := slices.BinarySearch(to, ps[i].from); !found {
			out = append(out, i)
		}
	}
	return out
}

// measure sets area and box.
func (l *loop) measure() {
	l.lo, l.hi = l.p[0], l.p[0]
	sum := 0.0
	o := l.p[0]
	for i, a := range l.p {
		b := l.p[(i+1)%len(l.p)]
		sum += a.Sub(o).Cross(b.Sub(o))
		l.lo = geom.Vec2{X: min(l.lo.X, a.X), Y: min(l.lo.Y, a.Y)}
		l.hi = geom.Vec2{X: max(l.hi.X, a.X), Y: max(l.hi.Y, a.Y)}
	}
	l.area = sum / 2
}

// holds reports whether q is inside the outline, by the parity of crossings.
func (l *loop) holds(q geom.Vec2) bool {
	if q.X < l.lo.X || q.X > l.hi.X || q.Y < l.lo.Y || q.Y > l.hi.Y {
		return false
	}
	in := false
	for i, a := range l.p {
		b := l.p[(i+1)%len(l.p)]
		if (a.Y > q.Y) != (b.Y > q.Y) && q.X < a.X+float64((b.X-a.X)*((q.Y-a.Y)/(b.Y-a.Y))) {
			in = !in
		}
	}
	return in
}
