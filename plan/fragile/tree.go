package fragile

import (
	"cmp"
	"context"
	"slices"

	"barwise/geom"
)

// piece is the whole cut across one direction: its parts, plane after plane, and the tree they make from
// where the piece is held.
type piece struct {
	*slicer
	parts  []region
	first  []int // where the parts of a plane begin
	links  [][]int32
	parent []int32 // −1: the root; −2: not joined to it
	root   int32
	open   int // outlines that had to be closed
}

// cut cuts the piece into parts and finds which of neighbouring planes are joined.
func (s *slicer) cut(ctx context.Context) (*piece, error) {
	b := &piece{slicer: s, first: make([]int, s.n+1)}
	per, open := make([][]region, s.n), make([]int, s.n)
	err := each(ctx, s.n, func(k int) {
		var ls []loop
		ls, open[k] = s.loops(k)
		per[k] = regions(k, ls)
	})
	if err != nil {
		return nil, err
	}
	for k, rs := range per {
		b.first[k] = len(b.parts)
		b.parts = append(b.parts, rs...)
		b.open += open[k]
	}
	b.first[s.n] = len(b.parts)
	up := make([][][2]int32, s.n)
	err = each(ctx, s.n-1, func(k int) {
		var buf [2][]float64
		for i := b.first[k]; i < b.first[k+1]; i++ {
			for j := b.first[k+1]; j < b.first[k+2]; j++ {
				if b.parts[i].over(&b.parts[j], &buf) {
					up[k] = append(up[k], [2]int32{int32(i), int32(j)})
				}
			}
		}
	})
	if err != nil {
		return nil, err
	}
	b.links = make([][]int32, len(b.parts))
	for _, ls := range up {
		for _, l := range ls {
			b.links[l[0]] = append(b.links[l[0]], l[1])
			b.links[l[1]] = append(b.links[l[1]], l[0])
		}
	}
	for i := range b.parts {
		b.parts[i].loops = nil
	}
	return b, nil
}

// hang makes the tree from root: every part hangs on the one through which its way to the root is
// stiffest, measured by the least second moment on the way. A ring is so cut where it is weakest,
// which errs on the weak side: in truth it is held from both ends.
func (b *piece) hang(root int32) {
	b.root = root
	b.parent = make([]int32, len(b.parts))
	for i := range b.parent {
		b.parent[i] = -2
	}
	h := heap{{stiff: b.parts[root].least(), at: root, from: -1}}
	for len(h) > 0 {
		s := h.pop()
		if b.parent[s.at] != -2 {
			continue
		}
		b.parent[s.at] = s.from
		for _, j := range b.links[s.at] {
			if b.parent[j] == -2 {
				h.push(way{min(s.stiff, b.parts[j].least()), j, s.at})
			}
		}
	}
}

// way is a step to a part, with the least second moment on the way to it.
type way struct {
	stiff    float64
	at, from int32
}

func (a way) before(b way) bool {
	return cmp.Or(-cmp.Compare(a.stiff, b.stiff), cmp.Compare(a.at, b.at), cmp.Compare(a.from, b.from)) < 0
}

type heap []way

func (h *heap) push(w way) {
	*h = append(*h, w)
	q := *h
	for i := len(q) - 1; i > 0; {
		p := (i - 1) / 2
		if !q[i].before(q[p]) {
			return
		}
		q[i], q[p] = q[p], q[i]
		i = p
	}
}

func (h *heap) pop() way {
	q := *h
	out := q[0]
	n := len(q) - 1
	q[0] = q[n]
	q = q[:n]
	for i := 0; ; {
		c := 2*i + 1
		if c >= n {
			break
		}
		if c+1 < n && q[c+1].before(q[c]) {
			c++
		}
		if !q[c].before(q[i]) {
			break
		}
		q[i], q[c] = q[c], q[i]
		i = c
	}
	*h = q
	return out
}

// branch is a way down the tree: parts from its tip to the root, of which the first own are its own and
// the others those of what it stands on.
type branch struct {
	way []int32
	own int
}

// branches takes the tree apart: at every fork the longest way goes on, the others begin a branch of
// their own. The first is the longest from the root.
func (b *piece) branches() []branch {
	n := len(b.parts)
	order, kids := b.order()
	long := make([]int, n)
	var out []branch
	for i := len(order) - 1; i >= 0; i-- {
		if p := b.parent[order[i]]; p >= 0 {
			long[p] = max(long[p], long[order[i]]+1)
		}
	}
	begin := []int32{b.root}
	for len(begin) > 0 {
		at := begin[0]
		begin = begin[1:]
		var way []int32
		for at >= 0 {
			way = append(way, at)
			next := int32(-1)
			for _, c := range kids[at] {
				if next < 0 || long[c] > long[next] || long[c] == long[next] && b.parts[c].area > b.parts[next].area {
					next = c
				}
			}
			for _, c := range kids[at] {
				if c != next {
					begin = append(begin, c)
				}
			}
			at = next
		}
		own := len(way)
		slices.Reverse(way)
		for p := b.parent[way[own-1]]; p >= 0; p = b.parent[p] {
			way = append(way, p)
		}
		out = append(out, branch{way, own})
	}
	return out
}

// order lists the parts joined to the root, parents before children, with the children of each.
func (b *piece) order() ([]int32, [][]int32) {
	kids := make([][]int32, len(b.parts))
	for i, p := range b.parent {
		if p >= 0 {
			kids[p] = append(kids[p], int32(i))
		}
	}
	order := []int32{b.root}
	for i := 0; i < len(order); i++ {
		order = append(order, kids[order[i]]...)
	}
	return order, kids
}

// centre is the centroid of a part in space.
func (b *piece) centre(i int32) geom.Vec3 {
	p := &b.parts[i]
	return b.out(p.c.X, p.c.Y, b.at(p.k))
}
