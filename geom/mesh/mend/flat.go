package mend

import (
	"slices"
)

// slim is the height of a triangle, in parts of its longest edge, below which it counts as flat: as
// mesh.Health counts it.
const slim = 1e-7

// flats takes out flat triangles and joins their neighbours: a needle by drawing its shortest edge
// together, one with a corner on the edge across from it by splitting what lies beyond that edge at the
// corner. Neither moves the surface by more than slim of the triangle's length, and neither opens it.
func (w *work) flats() (changed bool, err error) {
	var queue []int32
	for i, t := range w.t {
		if !repeats(t) && w.flat(t) {
			queue = append(queue, int32(i))
		}
	}
	if len(queue) == 0 {
		return false, nil
	}
	w.own()
	var done, kept patch
	s := newStar(w)
	most := 100 + 20*len(queue) // each step shortens or drops a flat triangle, so this is not met but for rounding
	for n := 0; n < len(queue); n++ {
		if n%1024 == 0 && w.ctx.Err() != nil {
			return false, w.ctx.Err()
		}
		t := queue[n]
		if s.dead[t] || !w.flat(w.t[t]) {
			continue
		}
		was := w.t[t]
		touched, ok := s.flatten(t)
		if !ok || n > most {
			continue
		}
		w.triangle(&done, was)
		for _, o := range touched {
			if !s.dead[o] && w.flat(w.t[o]) {
				queue = append(queue, o)
			}
		}
	}
	w.keep(func(i int) bool { return !s.dead[i] || repeats(w.t[i]) })
	if done.count > 0 {
		w.change(done.change(Flat, many(done.count, "triangle")+" without area dropped and the neighbours stitched"))
	}
	for _, t := range w.t {
		if !repeats(t) && w.flat(t) {
			w.triangle(&kept, t)
		}
	}
	if kept.count > 0 {
		w.leave(kept.left("flat", many(kept.count, "triangle")+" without area left: taking them out would fold or pinch the surface"))
	}
	return done.count > 0, nil
}

// sides returns the corners of a triangle turned so that the longest edge runs from the first to the
// second, with the lengths of that edge and of the shortest.
func (w *work) sides(t [3]int32) (r [3]int32, longest, shortest float64) {
	long := 0
	for c := range 3 {
		l := w.v[t[(c+1)%3]].Sub(w.v[t[c]]).Len()
		if c == 0 || l > longest {
			long, longest = c, l
		}
		if c == 0 || l < shortest {
			shortest = l
		}
	}
	return [3]int32{t[long], t[(long+1)%3], t[(long+2)%3]}, longest, shortest
}

func (w *work) flat(t [3]int32) bool {
	_, longest, _ := w.sides(t)
	return 2*w.area(t) <= slim*longest*longest
}

// flatten takes triangle t out and returns the triangles that changed.
func (s *star) flatten(t int32) (touched []int32, ok bool) {
	r, longest, shortest := s.w.sides(s.w.t[t])
	a, b, c := r[0], r[1], r[2]
	if shortest <= 4*slim*longest {
		p, q := b, c
		if s.w.v[a].Sub(s.w.v[c]).Len() <= s.w.v[b].Sub(s.w.v[c]).Len() {
			p, q = a, c
		}
		if longest == 0 {
			p, q = a, b
		}
		p, q = min(p, q), max(p, q)
		if touched, ok = s.collapse(p, q); ok {
			return touched, true
		}
		return s.collapse(q, p)
	}
	return s.splitAcross(t, a, b, c)
}

// collapse draws q into p. It refuses where that would pinch the surface (the link condition of Dey,
// Edelsbrunner, Guha and Nekhayev, 1999) or turn a triangle over.
func (s *star) collapse(p, q int32) (touched []int32, ok bool) {
	die := s.edge(p, q)
	ringP, ringQ := s.ring(p), s.ring(q)
	common, tips := 0, map[int32]bool{}
	for v := range ringP {
		if ringQ[v] > 0 {
			common++
		}
	}
	for _, t := range die {
		for _, v := range s.w.t[t] {
			if v != p && v != q {
				tips[v] = true
			}
		}
	}
	if common > len(tips) || len(die) != 1 && open(ringP) && open(ringQ) {
		return nil, false
	}
	for _, t := range s.at(q) {
		if slices.Contains(die, t) {
			continue
		}
		was := s.w.t[t]
		is := replaced(was, q, p)
		if !s.w.flat(was) && (s.w.flat(is) || s.w.normal(was).Dot(s.w.normal(is)) <= 0) {
			return nil, false
		}
	}
	for _, t := range die {
		s.drop(t)
	}
	for _, t := range s.at(q) {
		is := replaced(s.w.t[t], q, p)
		s.drop(t)
		s.dead[t] = false
		s.w.t[t] = is
		s.link(t)
		touched = append(touched, t)
	}
	return touched, true
}

// open reports whether a vertex with this ring lies on a border.
func open(ring map[int32]int) bool {
	for _, n := range ring {
		if n == 1 {
			return true
		}
	}
	return false
}

func replaced(t [3]int32, from, to int32) [3]int32 {
	for c, v := range t {
		if v == from {
			t[c] = to
		}
	}
	return t
}

// splitAcross drops flat triangle t with corner c on the edge from a to b, and splits the triangles
// beyond that edge at c. A half that would lie on a triangle that is there, back to back, goes with it.
func (s *star) splitAcross(t, a, b, c int32) (touched []int32, ok bool) {
	var halves [][3]int32
	var beyond, both []int32
	for _, o := range s.edge(a, b) {
		if o == t {
			continue
		}
		for _, d := range s.w.t[o] {
			if d == a || d == b {
				continue
			}
			if d == c {
				return nil, false
			}
			beyond = append(beyond, o)
			halves = append(halves, replaced(s.w.t[o], b, c), replaced(s.w.t[o], a, c))
		}
	}
	left := map[int32]int{} // triangles that will be at the edge from c to each far corner
	fresh := halves[:0]
	for _, h := range halves {
		if o := s.on(h); o >= 0 {
			if along(s.w.t[o]) == along(h) || slices.Contains(both, o) || slices.Contains(beyond, o) {
				return nil, false
			}
			both = append(both, o)
			continue
		}
		fresh = append(fresh, h)
		for _, d := range h {
			if d != a && d != b && d != c {
				left[d]++
			}
		}
	}
	for d, n := range left {
		for _, o := range s.edge(c, d) {
			if !slices.Contains(both, o) && !slices.Contains(beyond, o) {
				n++
			}
		}
		if n > 2 {
			return nil, false
		}
	}
	s.drop(t)
	for _, o := range append(beyond, both...) {
		s.drop(o)
	}
	for _, h := range fresh {
		touched = append(touched, s.add(h))
	}
	return touched, true
}
