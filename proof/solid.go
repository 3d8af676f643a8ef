package proof

import (
	"math"
	"slices"
	"sync"

	"barwise/geom"
	"barwise/geom/mesh"
)

// leafSize is the most triangles a leaf holds.
const leafSize = 4

// node is a box of the tree. Boxes are rounded outward to float32. The left child follows its parent;
// a leaf has right = −count and holds the triangles from first.
type node struct {
	lo, hi [3]float32
	right  int32
	first  int32
}

// tree is a bounding-volume tree over a mesh, built once in the part frame. Its shape serves every
// side: solid refits the boxes.
type tree struct {
	mesh  *mesh.Mesh
	order []int32 // triangle of the mesh at each place of the tree
	verts []geom.Vec3
	tris  [][3]int32 // in tree order, into verts
	shape []node     // part frame
	coins []coin     // of each node, part frame
}

// solid is the tree turned to one side.
type solid struct {
	*tree
	turn  geom.Turn
	v     []geom.Vec3 // side frame
	nodes []node
	box   geom.Box3
}

// nodeCounts returns nodesFor for every size that halving n meets, which are few.
func nodeCounts(n int) map[int]int32 {
	m := map[int]int32{}
	var f func(n int) int32
	f = func(n int) int32 {
		if v, ok := m[n]; ok {
			return v
		}
		v := int32(1)
		if n > leafSize {
			v += f(n/2) + f(n-n/2)
		}
		m[n] = v
		return v
	}
	f(n)
	return m
}

func newTree(m *mesh.Mesh) *tree {
	n := len(m.Triangles)
	t := &tree{mesh: m, order: make([]int32, n)}
	items := make([]buildItem, n)
	for i := range items {
		a, b, c := m.Corners(i)
		s := a.Add(b).Add(c)
		items[i] = buildItem{[3]float32{float32(s.X), float32(s.Y), float32(s.Z)}, int32(i)}
	}
	if n == 0 {
		t.verts = m.Vertices
		return t
	}
	counts := nodeCounts(n)
	t.shape = make([]node, counts[n])
	t.split(items, 0, 0, counts, 3)
	t.renumber(items)
	t.refit(t.shape, t.verts, 0)
	t.coins = make([]coin, len(t.shape))
	t.mint(0, 3)
	return t
}

type buildItem struct {
	c  [3]float32
	id int32
}

// split halves items by the longest axis of their centres; the shape of the tree depends on the count
// alone, so branches may be built at the same time.
func (t *tree) split(items []buildItem, at, first int32, counts map[int]int32, fork int) {
	n := len(items)
	if n <= leafSize {
		t.shape[at] = node{right: -int32(n), first: first}
		return
	}
	lo, hi := items[0].c, items[0].c
	for i := range items {
		for k, v := range items[i].c {
			lo[k], hi[k] = min(lo[k], v), max(hi[k], v)
		}
	}
	axis := 0
	for k := 1; k < 3; k++ {
		if hi[k]-lo[k] > hi[axis]-lo[axis] {
			axis = k
		}
	}
	mid := n / 2
	selectNth(items, mid, axis)
	left := at + 1
	right := left + counts[mid]
	t.shape[at] = node{right: right, first: first}
	if fork > 0 {
		var wg sync.WaitGroup
		wg.Add(1)
		go func() {
			defer wg.Done()
			t.split(items[:mid], left, first, counts, fork-1)
		}()
		t.split(items[mid:], right, first+int32(mid), counts, fork-1)
		wg.Wait()
		return
	}
	t.split(items[:mid], left, first, counts, 0)
	t.split(items[mid:], right, first+int32(mid), counts, 0)
}

// selectNth orders items so that those before k are not greater on the axis than those from k on.
// Equal keys are told apart by the triangle's number, so the outcome is one and the same always.
func selectNth(a []buildItem, k, axis int) {
	less := func(x, y *buildItem) bool {
		if x.c[axis] != y.c[axis] {
			return x.c[axis] < y.c[axis]
		}
		return x.id < y.id
	}
	for len(a) > 12 {
		// median of three to the front
		m, l := len(a)/2, len(a)-1
		if less(&a[m], &a[0]) {
			a[m], a[0] = a[0], a[m]
		}
		if less(&a[l], &a[0]) {
			a[l], a[0] = a[0], a[l]
		}
		if less(&a[l], &a[m]) {
			a[l], a[m] = a[m], a[l]
		}
		pivot := a[m]
		i, j := 0, l
		for i <= j {
			for less(&a[i], &pivot) {
				i++
			}
			for less(&pivot, &a[j]) {
				j--
			}
			if i <= j {
				a[i], a[j] = a[j], a[i]
				i, j = i+1, j-1
			}
		}
		switch {
		case k <= j:
			a = a[:j+1]
		case k >= i:
			a, k = a[i:], k-i
		default:
			return
		}
	}
	slices.SortFunc(a, func(x, y buildItem) int {
		if less(&x, &y) {
			return -1
		}
		if less(&y, &x) {
			return 1
		}
		return 0
	})
}

// renumber lays vertices out in the order the tree meets them, so that neighbours lie close in memory.
func (t *tree) renumber(items []buildItem) {
	m := t.mesh
	at := make([]int32, len(m.Vertices))
	for i := range at {
		at[i] = -1
	}
	t.tris = make([][3]int32, len(items))
	t.verts = make([]geom.Vec3, 0, len(m.Vertices))
	for i := range items {
		t.order[i] = items[i].id
		for k, v := range m.Triangles[items[i].id] {
			if at[v] < 0 {
				at[v] = int32(len(t.verts))
				t.verts = append(t.verts, m.Vertices[v])
			}
			t.tris[i][k] = at[v]
		}
	}
}

// refit sets the boxes of the branch at i from the vertices.
func (t *tree) refit(nodes []node, v []geom.Vec3, i int32) {
	nd := &nodes[i]
	if nd.right > 0 {
		t.refit(nodes, v, i+1)
		t.refit(nodes, v, nd.right)
		a, b := &nodes[i+1], &nodes[nd.right]
		for k := range 3 {
			nd.lo[k], nd.hi[k] = min(a.lo[k], b.lo[k]), max(a.hi[k], b.hi[k])
		}
		return
	}
	b := geom.EmptyBox()
	for j := nd.first; j < nd.first-nd.right; j++ {
		tr := t.tris[j]
		b = b.Grow(v[tr[0]]).Grow(v[tr[1]]).Grow(v[tr[2]])
	}
	nd.lo = [3]float32{below(b.Min.X), below(b.Min.Y), below(b.Min.Z)}
	nd.hi = [3]float32{above(b.Max.X), above(b.Max.Y), above(b.Max.Z)}
}

func below(x float64) float32 {
	f := float32(x)
	if float64(f) > x {
		f = math.Nextafter32(f, float32(math.Inf(-1)))
	}
	return f
}

func above(x float64) float32 {
	f := float32(x)
	if float64(f) < x {
		f = math.Nextafter32(f, float32(math.Inf(1)))
	}
	return f
}

// facing returns the tree refitted for a side.
func (t *tree) facing(turn geom.Turn) *solid {
	s := &solid{tree: t, turn: turn, v: make([]geom.Vec3, len(t.verts)), box: geom.EmptyBox()}
	for i, p := range t.verts {
		s.v[i] = turn.ToSide(p)
		s.box = s.box.Grow(s.v[i])
	}
	s.nodes = slices.Clone(t.shape)
	if len(s.nodes) > 0 {
		t.refit(s.nodes, s.v, 0)
	}
	return s
}

// winding counts how often the closed surface goes round p, by the crossings of a ray from p: positive
// where p is inside. The ray may pass through an edge; ask again with another direction.
func (s *solid) winding(p, dir geom.Vec3) int {
	if len(s.nodes) == 0 {
		return 0
	}
	inv := geom.Vec3{X: 1 / dir.X, Y: 1 / dir.Y, Z: 1 / dir.Z}
	var stack [64]int32
	n, count := 1, 0
	for n > 0 {
		n--
		i := stack[n]
		nd := &s.nodes[i]
		if !rayHitsBox(nd, p, inv) {
			continue
		}
		if nd.right > 0 {
			stack[n], stack[n+1] = nd.right, i+1
			n += 2
			continue
		}
		for j := nd.first; j < nd.first-nd.right; j++ {
			tr := s.tris[j]
			count += rayCrosses(s.v[tr[0]], s.v[tr[1]], s.v[tr[2]], p, dir)
		}
	}
	return count
}

func rayHitsBox(nd *node, p, inv geom.Vec3) bool {
	x0, x1 := (float64(nd.lo[0])-p.X)*inv.X, (float64(nd.hi[0])-p.X)*inv.X
	y0, y1 := (float64(nd.lo[1])-p.Y)*inv.Y, (float64(nd.hi[1])-p.Y)*inv.Y
	z0, z1 := (float64(nd.lo[2])-p.Z)*inv.Z, (float64(nd.hi[2])-p.Z)*inv.Z
	near := max(min(x0, x1), min(y0, y1), min(z0, z1), 0)
	far := min(max(x0, x1), max(y0, y1), max(z0, z1))
	return near <= far
}

// rayCrosses is +1 where the ray leaves through the triangle, −1 where it enters, 0 where it misses.
func rayCrosses(a, b, c, p, dir geom.Vec3) int {
	e1, e2 := b.Sub(a), c.Sub(a)
	h := dir.Cross(e2)
	det := e1.Dot(h)
	if det == 0 {
		return 0
	}
	s := p.Sub(a)
	u := s.Dot(h) / det
	if u < 0 || u > 1 {
		return 0
	}
	q := s.Cross(e1)
	v := dir.Dot(q) / det
	if v < 0 || u+v > 1 || e2.Dot(q)/det <= 0 {
		return 0
	}
	if det < 0 { // the normal e1 × e2 looks along the ray
		return 1
	}
	return -1
}
