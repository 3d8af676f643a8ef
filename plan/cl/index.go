package cl

import (
	"math"

	"barwise/geom"
	"barwise/shop/cutter"
)

// leafSize is the most triangles a leaf holds.
const leafSize = 4

// node is a box seen from above with the greatest height in it. left is the first child, its sibling
// follows; a leaf has count > 0 triangles from left on.
type node struct {
	x0, x1, y0, y1, top float64
	left, count         int32
}

// Index is a bounding-volume tree of a mesh turned to one side. It answers for single points anywhere,
// by the closed formulas of the elements, and shares none of the patches of Surface.Field: each is the
// other's second opinion. It is safe for concurrent use.
type Index struct {
	nodes []node
	tris  [][3]geom.Vec3
}

// Index builds the tree of the mesh as side t sees it.
func (s *Surface) Index(t geom.Turn) *Index {
	verts := make([]geom.Vec3, len(s.mesh.Vertices))
	inChunks(len(verts), 16384, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			verts[i] = t.ToSide(s.mesh.Vertices[i])
		}
	})
	corners := func(i int32) [3]geom.Vec3 {
		tr := &s.mesh.Triangles[i]
		return [3]geom.Vec3{verts[tr[0]], verts[tr[1]], verts[tr[2]]}
	}
	items := make([]item, 0, len(s.mesh.Triangles))
	for i := range s.mesh.Triangles {
		if p := corners(int32(i)); p[0].Finite() && p[1].Finite() && p[2].Finite() {
			items = append(items, newItem(p, int32(i)))
		}
	}
	if len(items) == 0 {
		return &Index{}
	}
	ix := &Index{nodes: grow(items), tris: make([][3]geom.Vec3, len(items))}
	inChunks(len(items), 16384, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			ix.tris[i] = corners(items[i].id)
		}
	})
	return ix
}

// item is a triangle while the tree grows.
type item struct {
	x0, x1, y0, y1, low, top float64
	id                       int32
}

func newItem(p [3]geom.Vec3, id int32) item {
	return item{
		x0: min(p[0].X, p[1].X, p[2].X), x1: max(p[0].X, p[1].X, p[2].X),
		y0: min(p[0].Y, p[1].Y, p[2].Y), y1: max(p[0].Y, p[1].Y, p[2].Y),
		low: min(p[0].Z, p[1].Z, p[2].Z), top: max(p[0].Z, p[1].Z, p[2].Z), id: id}
}

// grow orders the items and returns the tree over them. Branches below boughDepth grow at the same time
// and are put together in order, so that the tree is the same on any number of cores.
func grow(items []item) []node {
	b := builder{items: items, nodes: make([]node, 1, len(items))}
	b.split(0, 0, len(items), 0)
	boughs := make([]builder, len(b.boughs))
	inChunks(len(boughs), 1, func(k, _ int) {
		g := b.boughs[k]
		boughs[k] = builder{items: items, nodes: make([]node, 1, g.hi-g.lo), inBough: true}
		boughs[k].split(0, g.lo, g.hi, boughDepth)
	})
	for k, g := range b.boughs {
		// a bough's root takes the place kept for it, the others follow what is there; children of
		// node i of the bough move by shift
		shift := int32(len(b.nodes)) - 1
		for i, n := range boughs[k].nodes {
			if n.count == 0 {
				n.left += shift
			}
			if i == 0 {
				b.nodes[g.node] = n
			} else {
				b.nodes = append(b.nodes, n)
			}
		}
	}
	return b.nodes
}

type builder struct {
	items   []item
	nodes   []node
	boughs  []bough
	inBough bool
}

// bough is a branch left for later: items[lo:hi] under a node.
type bough struct{ node, lo, hi int }

const boughDepth = 4

// maxHalvings bounds the depth: below it a node's items are halved by number, whatever their places, so
// that a descent's stack has a fixed size.
const maxHalvings = 64

// split fills node n with items[lo:hi], halving the widest extent of the middles.
func (b *builder) split(n, lo, hi, depth int) {
	items := b.items[lo:hi]
	if depth == boughDepth && !b.inBough && len(items) > leafSize {
		b.boughs = append(b.boughs, bough{n, lo, hi})
		return
	}
	inf := math.Inf(1)
	box := node{x0: inf, x1: -inf, y0: inf, y1: -inf, top: -inf}
	cx0, cx1, cy0, cy1, cz0, cz1 := inf, -inf, inf, -inf, inf, -inf
	for i := range items {
		it := &items[i]
		box.x0, box.x1 = min(box.x0, it.x0), max(box.x1, it.x1)
		box.y0, box.y1 = min(box.y0, it.y0), max(box.y1, it.y1)
		box.top = max(box.top, it.top)
		x, y, z := it.x0+it.x1, it.y0+it.y1, it.low+it.top
		cx0, cx1 = min(cx0, x), max(cx1, x)
		cy0, cy1 = min(cy0, y), max(cy1, y)
		cz0, cz1 = min(cz0, z), max(cz1, z)
	}
	if len(items) <= leafSize {
		box.left, box.count = int32(lo), int32(len(items))
		b.nodes[n] = box
		return
	}
	axis, mid := 0, (cx0+cx1)/2
	if cy1-cy0 > cx1-cx0 {
		axis, mid = 1, (cy0+cy1)/2
	}
	if cz1-cz0 > max(cx1-cx0, cy1-cy0) {
		axis, mid = 2, (cz0+cz1)/2
	}
	k := partition(items, axis, mid)
	if k == 0 || k == len(items) || depth > maxHalvings {
		k = len(items) / 2 // all middles in one place: any half will do
	}
	box.left = int32(len(b.nodes))
	b.nodes = append(b.nodes, node{}, node{})
	b.nodes[n] = box
	b.split(int(box.left), lo, lo+k, depth+1)
	b.split(int(box.left)+1, lo+k, hi, depth+1)
}

func partition(items []item, axis int, mid float64) int {
	k := 0
	for i := range items {
		it := &items[i]
		var v float64
		switch axis {
		case 0:
			v = it.x0 + it.x1
		case 1:
			v = it.y0 + it.y1
		default:
			v = it.low + it.top
		}
		if v < mid {
			items[i], items[k] = items[k], items[i]
			k++
		}
	}
	return k
}

// bound is the greatest height any of the node's triangles can hold the tip at, −Inf out of reach.
func (s *shape) bound(n *node, x, y float64) float64 {
	dx := max(n.x0-x, x-n.x1, 0)
	dy := max(n.y0-y, y-n.y1, 0)
	d := math.Sqrt(float64(dx*dx) + float64(dy*dy))
	if d > s.rad {
		return noHeight
	}
	return n.top - s.height(d)
}

// over is the like bound of one triangle.
func (s *shape) over(t *[3]geom.Vec3, x, y float64) float64 {
	dx := max(min(t[0].X, t[1].X, t[2].X)-x, x-max(t[0].X, t[1].X, t[2].X), 0)
	dy := max(min(t[0].Y, t[1].Y, t[2].Y)-y, y-max(t[0].Y, t[1].Y, t[2].Y), 0)
	d2 := float64(dx*dx) + float64(dy*dy)
	if d2 > float64(s.rad*s.rad) {
		return noHeight
	}
	return max(t[0].Z, t[1].Z, t[2].Z) - s.height(min(math.Sqrt(d2), s.rad))
}

// Height returns the lowest height in mm to which the tip of a cutter of profile p may come down at
// (x, y) of the side frame, −Inf where it meets nothing.
func (ix *Index) Height(p cutter.Profile, x, y float64) float64 {
	s := newShape(p)
	best, _ := ix.descend(&s, x, y, -1)
	return best.z
}

// Contact returns also the touched point q and the unit normal n there: the facet's upward normal where
// a facet is touched, else the normal of the cutter's surface, reversed (at a corner of the profile that
// of the side nearer the axis). ok is false where the cutter meets nothing.
func (ix *Index) Contact(p cutter.Profile, x, y float64) (z float64, q, n geom.Vec3, ok bool) {
	s := newShape(p)
	best, id := ix.descend(&s, x, y, -1)
	if id < 0 {
		return noHeight, q, n, false
	}
	n = best.normal
	if n == (geom.Vec3{}) {
		n = s.normal(best.point, x, y)
	}
	return best.z, best.point, n, true
}

// normal is the reversed normal of the cutter standing over (x, y) where it touches q.
func (s *shape) normal(q geom.Vec3, x, y float64) geom.Vec3 {
	dx, dy := x-q.X, y-q.Y
	r := math.Sqrt(float64(dx*dx) + float64(dy*dy))
	if r == 0 {
		return geom.Vec3{Z: 1}
	}
	m := s.slopeAt(min(r, s.rad))
	if math.IsInf(m, 1) {
		return geom.Vec3{X: dx / r, Y: dy / r}
	}
	w := math.Sqrt(1 + float64(m*m))
	return geom.Vec3{X: m / w * (dx / r), Y: m / w * (dy / r), Z: 1 / w}
}

// descend walks the tree, the more promising child first. A triangle may be named to start from, such
// as the one a neighbouring point touches; −1 for none. It returns the touch and the triangle.
func (ix *Index) descend(s *shape, x, y float64, seed int32) (touch, int32) {
	best, id := touch{z: noHeight}, int32(-1)
	if len(ix.nodes) == 0 || !(s.rad > 0) || math.IsNaN(x) || math.IsNaN(y) {
		return best, id
	}
	if seed >= 0 {
		t := &ix.tris[seed]
		if best = s.triangle(t[0], t[1], t[2], x, y); best.z > noHeight {
			id = seed
		}
	}
	type entry struct {
		node  int32
		bound float64
	}
	var stack [128]entry
	top := 0
	cur := entry{0, s.bound(&ix.nodes[0], x, y)}
	for {
		if cur.bound > best.z {
			n := &ix.nodes[cur.node]
			if n.count > 0 {
				for i := n.left; i < n.left+n.count; i++ {
					t := &ix.tris[i]
					if s.over(t, x, y) <= best.z {
						continue
					}
					if b := s.triangle(t[0], t[1], t[2], x, y); b.z > best.z {
						best, id = b, i
					}
				}
			} else {
				l := entry{n.left, s.bound(&ix.nodes[n.left], x, y)}
				r := entry{n.left + 1, s.bound(&ix.nodes[n.left+1], x, y)}
				if r.bound > l.bound {
					l, r = r, l
				}
				if r.bound > best.z {
					stack[top] = r
					top++
				}
				cur = l
				continue
			}
		}
		if top == 0 {
			return best, id
		}
		top--
		cur = stack[top]
	}
}
