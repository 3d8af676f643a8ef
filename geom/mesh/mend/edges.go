package mend

import (
	"cmp"
	"slices"
	"sort"

	"barwise/geom/mesh"
)

// half is a half-edge at its lower vertex: the other vertex, and 3·triangle + corner where it starts.
type half struct{ other, h int32 }

// edges lists the half-edges of the triangles by edge; triangles with a repeated corner have none.
type edges struct {
	start []int32
	slot  []half // of lower vertex v: start[v] to start[v+1], by other vertex, then half-edge
}

func (w *work) edges() *edges {
	e := &edges{start: make([]int32, len(w.v)+1)}
	for i := range w.t {
		t := &w.t[i]
		if !repeats(*t) {
			e.start[min(t[0], t[1])+1]++
			e.start[min(t[1], t[2])+1]++
			e.start[min(t[2], t[0])+1]++
		}
	}
	for v := range w.v {
		e.start[v+1] += e.start[v]
	}
	e.slot = make([]half, e.start[len(w.v)])
	at := slices.Clone(e.start)
	for i := range w.t {
		t := &w.t[i]
		if repeats(*t) {
			continue
		}
		for c := range 3 {
			a, b := t[c], t[(c+1)%3]
			if b < a {
				a, b = b, a
			}
			e.slot[at[a]] = half{b, int32(3*i + c)}
			at[a]++
		}
	}
	const block = 1 << 13
	mesh.Parallel((len(w.v)+block-1)/block, func(k int) {
		for v := k * block; v < min(len(w.v), (k+1)*block); v++ {
			sortHalves(e.slot[e.start[v]:e.start[v+1]])
		}
	})
	return e
}

// sortHalves sorts by other end, then half-edge: by insertion where there are few, as there mostly are.
func sortHalves(hs []half) {
	if len(hs) > 24 {
		slices.SortFunc(hs, func(a, b half) int { return cmp.Or(cmp.Compare(a.other, b.other), cmp.Compare(a.h, b.h)) })
		return
	}
	for i := 1; i < len(hs); i++ {
		x := hs[i]
		j := i
		for ; j > 0 && (hs[j-1].other > x.other || hs[j-1].other == x.other && hs[j-1].h > x.h); j-- {
			hs[j] = hs[j-1]
		}
		hs[j] = x
	}
}

// at returns the half-edges between a and b.
func (e *edges) at(a, b int32) []half {
	if b < a {
		a, b = b, a
	}
	hs := e.slot[e.start[a]:e.start[a+1]]
	i := sort.Search(len(hs), func(i int) bool { return hs[i].other >= b })
	j := i
	for j < len(hs) && hs[j].other == b {
		j++
	}
	return hs[i:j]
}

// each hands every edge to f, the lower vertex first, in order.
func (e *edges) each(f func(a, b int32, hs []half)) {
	for a := range len(e.start) - 1 {
		hs := e.slot[e.start[a]:e.start[a+1]]
		for i := 0; i < len(hs); {
			j := i + 1
			for j < len(hs) && hs[j].other == hs[i].other {
				j++
			}
			f(int32(a), hs[i].other, hs[i:j])
			i = j
		}
	}
}

// ends returns the vertices half-edge h runs from and to.
func (w *work) ends(h int32) (from, to int32) {
	t, c := &w.t[h/3], h%3
	return t[c], t[(c+1)%3]
}

// borders returns the half-edges that no other triangle shares, ascending by their lower vertex.
func (e *edges) borders() []int32 {
	var out []int32
	e.each(func(_, _ int32, hs []half) {
		if len(hs) == 1 {
			out = append(out, hs[0].h)
		}
	})
	return out
}
