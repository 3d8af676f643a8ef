// Package cross finds where a mesh meets itself other than in the corners and edges its triangles share.
//
// Every decision is exact: the sign of a determinant of the coordinates as they are. A pair of triangles
// that meets is one of three Kinds. Two triangles that share one corner meet where they have more than
// it in common, two that share an edge where they are folded flat on one another, two with the same
// three corners always. Corners are shared where they have one index: weld a soup of triangles first.
package cross

import (
	"cmp"
	"context"
	"slices"

	"barwise/geom"
	"barwise/geom/mesh"
)

// Pair is two triangles that meet.
type Pair struct {
	A, B int32 // A < B
	Kind Kind
	// P and Q are the ends of what they have in common, rounded; for two in one plane opposite corners of
	// a box around it.
	P, Q geom.Vec3
}

// Found is where a mesh meets itself. Lengths are in the mesh's unit.
type Found struct {
	Pairs                int // pairs that meet: the sum of the next three
	Through, Over, Touch int
	// List has every pair, in ascending order of A, then B.
	List  []Pair
	Spots []Spot // pairs that hang together, largest first
	// Full says that the search was broken off at so many pairs that no list of them would be of use;
	// the numbers are then lower bounds.
	Full bool
	// Skipped counts degenerate triangles, those whose corners lie on one line exactly or coincide: they
	// have no inside, and what they touch belongs to their neighbours.
	Skipped int
}

// Spot is pairs that hang together by corners of their triangles.
type Spot struct {
	Pairs, Through, Over, Touch int
	At                          geom.Vec3 // a place where two triangles meet, near the middle of the box
	Box                         geom.Box3 // around all that the pairs have in common
	Triangles                   [2]int32  // those that meet at At
	List                        []int32   // its pairs, as indices into the list they are from
}

// DefaultMost is the number of pairs at which a search is broken off.
const DefaultMost = 300_000

// Find looks at all pairs of triangles; the search is broken off, at a point that depends on the mesh
// alone, some way after most pairs were found (0: DefaultMost). The error is ctx's or nil.
func Find(ctx context.Context, m *mesh.Mesh, most int) (*Found, error) {
	if most <= 0 {
		most = DefaultMost
	}
	f := &Found{}
	skip := make([]bool, len(m.Triangles))
	f.Skipped = degenerate(ctx, m, skip)
	if len(m.Triangles)-f.Skipped < 2 {
		return f, ctx.Err()
	}
	t := newTree(ctx, m, skip)
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	if err := f.search(ctx, m, t, most); err != nil {
		return nil, err
	}
	slices.SortFunc(f.List, func(a, b Pair) int { return cmp.Or(cmp.Compare(a.A, b.A), cmp.Compare(a.B, b.B)) })
	across(m, f.List)
	for i := range f.List {
		f.List[i].P, f.List[i].Q = common(m, &f.List[i])
		switch f.List[i].Kind {
		case Through:
			f.Through++
		case Over:
			f.Over++
		case Touch:
			f.Touch++
		}
	}
	f.Pairs = len(f.List)
	f.Spots = Spots(m, f.List)
	return f, nil
}

func degenerate(ctx context.Context, m *mesh.Mesh, skip []bool) (n int) {
	const block = 1 << 13
	counts := make([]int, (len(skip)+block-1)/block)
	mesh.Parallel(len(counts), func(k int) {
		if ctx.Err() != nil {
			return
		}
		for i := k * block; i < min(len(skip), (k+1)*block); i++ {
			t := corners(m, int32(i))
			if facing(&t).sign == 0 {
				skip[i] = true
				counts[k]++
			}
		}
	})
	for _, c := range counts {
		n += c
	}
	return n
}

func corners(m *mesh.Mesh, i int32) tri {
	a, b, c := m.Corners(int(i))
	return tri{a, b, c}
}

// Leaves are searched in blocks, blocks in rounds. What is found is a matter of blocks in their order
// alone, not of how many are searched at once: a block that finds more than its share ends the round,
// and is searched again by itself.
const (
	blockLeaves = 32
	mostBlocks  = 256
	shareBlock  = 8192 // pairs
)

// search asks the tree for every leaf in turn.
func (f *Found) search(ctx context.Context, m *mesh.Mesh, t *tree, most int) error {
	blocks := (len(t.levels[0]) + blockLeaves - 1) / blockLeaves
	round := mostBlocks
	for start := 0; start < blocks && !f.Full; {
		lists := make([][]Pair, min(round, blocks-start))
		mesh.Parallel(len(lists), func(k int) { lists[k] = t.block(ctx, m, start+k, shareBlock) })
		round = min(2*round, mostBlocks)
		for k, l := range lists {
			if len(l) > shareBlock {
				l = t.block(ctx, m, start+k, most-len(f.List))
				f.Full = len(l) > most-len(f.List)
				lists = lists[:k+1]
				round = max(len(lists)/4, 2)
			}
			f.List = append(f.List, l...)
			if len(lists) == k+1 {
				break
			}
		}
		if err := ctx.Err(); err != nil {
			return err
		}
		start += len(lists)
		f.Full = f.Full || len(f.List) > most
	}
	return nil
}

// block returns the pairs of one block of leaves, or more than most where there are more.
func (t *tree) block(ctx context.Context, m *mesh.Mesh, k, most int) []Pair {
	s := searcher{m: m, t: t, most: most}
	for l := k * blockLeaves; l < min(len(t.levels[0]), (k+1)*blockLeaves) && len(s.list) <= most; l++ {
		if ctx.Err() != nil {
			return nil
		}
		s.leaf(ctx, l)
	}
	return s.list
}

type searcher struct {
	m    *mesh.Mesh
	t    *tree
	most int
	list []Pair
	near []int32 // places of the triangles of the other leaf that meet this leaf's box
}

// leaf finds the pairs of leaf l with itself and with the leaves after it.
func (s *searcher) leaf(ctx context.Context, l int) {
	t := s.t
	lo, hi := l*leafSize, min(len(t.order), (l+1)*leafSize)
	own := &t.levels[0][l]
	count := 0
	t.each(own, l, func(other int) {
		if len(s.list) > s.most {
			return
		}
		if count++; count%4096 == 0 && ctx.Err() != nil {
			s.most = -1
			return
		}
		if other == l {
			for i := lo; i < hi; i++ {
				for j := i + 1; j < hi; j++ {
					s.pair(i, j)
				}
			}
			return
		}
		box := &t.levels[0][other]
		s.near = s.near[:0]
		for j := other * leafSize; j < min(len(t.order), (other+1)*leafSize); j++ {
			if t.boxes[j].meets(own) {
				s.near = append(s.near, int32(j))
			}
		}
		for i := lo; i < hi && len(s.near) > 0; i++ {
			if !t.boxes[i].meets(box) {
				continue
			}
			for _, j := range s.near {
				s.pair(i, int(j))
			}
		}
	})
}

// pair judges the triangles at two places of the order.
func (s *searcher) pair(i, j int) {
	t := s.t
	if !t.boxes[i].meets(&t.boxes[j]) {
		return
	}
	a, b := t.order[i], t.order[j]
	if a > b {
		a, b = b, a
	}
	p, q, shared := align(s.m, a, b)
	if k := meet(&p, &q, shared); k != 0 {
		s.list = append(s.list, Pair{A: a, B: b, Kind: k})
	}
}

// align returns the corners of two triangles, the shared ones first and in the same order in both.
func align(m *mesh.Mesh, a, b int32) (p, q tri, shared int) {
	x, y := m.Triangles[a], m.Triangles[b]
	for i := 0; i < 3; i++ {
		for j := shared; j < 3; j++ {
			if x[i] == y[j] {
				x[shared], x[i] = x[i], x[shared]
				y[shared], y[j] = y[j], y[shared]
				shared++
				break
			}
		}
	}
	for i := range 3 {
		p[i], q[i] = m.Vertices[x[i]], m.Vertices[y[i]]
	}
	return p, q, shared
}
