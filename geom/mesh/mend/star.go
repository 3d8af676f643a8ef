package mend

// star lists the triangles at every vertex, while triangles come, go and change corners. A corner is
// 3·triangle + its place.
type star struct {
	w    *work
	head []int32 // of every vertex: a corner, −1 for none
	next []int32 // of every corner: the next at the same vertex
	dead []bool
}

func newStar(w *work) *star {
	s := &star{w: w, head: make([]int32, len(w.v)), next: make([]int32, 3*len(w.t)), dead: make([]bool, len(w.t))}
	for i := range s.head {
		s.head[i] = -1
	}
	for i := len(w.t) - 1; i >= 0; i-- {
		s.link(int32(i))
	}
	return s
}

func (s *star) link(t int32) {
	if repeats(s.w.t[t]) {
		s.dead[t] = true
		return
	}
	for c := int32(2); c >= 0; c-- {
		v := s.w.t[t][c]
		s.next[3*t+c], s.head[v] = s.head[v], 3*t+c
	}
}

func (s *star) drop(t int32) {
	for c, v := range s.w.t[t] {
		at := &s.head[v]
		for *at != 3*t+int32(c) {
			at = &s.next[*at]
		}
		*at = s.next[*at]
	}
	s.dead[t] = true
}

func (s *star) add(t [3]int32) int32 {
	s.w.add(t)
	s.next, s.dead = append(s.next, -1, -1, -1), append(s.dead, false)
	i := int32(len(s.w.t) - 1)
	s.link(i)
	return i
}

// at lists the triangles at v.
func (s *star) at(v int32) []int32 {
	var out []int32
	for c := s.head[v]; c >= 0; c = s.next[c] {
		out = append(out, c/3)
	}
	return out
}

// edge lists the triangles at the edge between a and b.
func (s *star) edge(a, b int32) []int32 {
	var out []int32
	for c := s.head[a]; c >= 0; c = s.next[c] {
		if t := s.w.t[c/3]; t[0] == b || t[1] == b || t[2] == b {
			out = append(out, c/3)
		}
	}
	return out
}

// on returns the triangle on three corners, −1 for none.
func (s *star) on(t [3]int32) int32 {
	k := key(t)
	for c := s.head[t[0]]; c >= 0; c = s.next[c] {
		if key(s.w.t[c/3]) == k {
			return c / 3
		}
	}
	return -1
}

// ring lists the neighbours of v, each once.
func (s *star) ring(v int32) map[int32]int {
	out := map[int32]int{}
	for c := s.head[v]; c >= 0; c = s.next[c] {
		for _, o := range s.w.t[c/3] {
			if o != v {
				out[o]++
			}
		}
	}
	return out
}
