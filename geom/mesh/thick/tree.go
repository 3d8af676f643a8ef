package thick

import (
	"context"
	"math"
	"runtime"
	"sync"

	"barwise/geom"
	"barwise/geom/mesh"
)

// slack is how far a cosine out of float32 bounds may be off.
const slack = 1e-5

// leaf is the most triangles of a node without children.
const leaf = 4

// tri is a triangle with its unit normal, turned over where the air is measured.
type tri struct{ a, b, c, m geom.Vec3 }

// node is a box of triangles with the box of their normals, both rounded outward, and a half-space
// m·x ≥ h about them. The first child is the next node, the second the node first; a leaf has count
// triangles from first on.
type node struct {
	lo, hi   [3]float32
	nlo, nhi [3]float32
	m        [3]float32
	h        float32
	first    int32
	count    int32
}

type tree struct {
	nodes []node
	tris  []tri
}

// faces is the least cosine between n and a normal in the node.
func (d *node) faces(n geom.Vec3) float64 {
	return min(n.X*float64(d.nlo[0]), n.X*float64(d.nhi[0])) +
		min(n.Y*float64(d.nlo[1]), n.Y*float64(d.nhi[1])) +
		min(n.Z*float64(d.nlo[2]), n.Z*float64(d.nhi[2]))
}

// beyond reports whether the ball of diameter d at p, away from n, stays out of the half-space. On
// something round, which a ball inside meets everywhere at once, this tells apart what boxes cannot.
func (d *node) beyond(p, n geom.Vec3, diam float64) bool {
	m := geom.Vec3{X: float64(d.m[0]), Y: float64(d.m[1]), Z: float64(d.m[2])}
	return diam/2*(1+slack/10-m.Dot(n)) < float64(d.h)-m.Dot(p)
}

// dist2 is the squared distance from p to the box.
func (d *node) dist2(p geom.Vec3) float64 {
	x := max(float64(d.lo[0])-p.X, p.X-float64(d.hi[0]), 0)
	y := max(float64(d.lo[1])-p.Y, p.Y-float64(d.hi[1]), 0)
	z := max(float64(d.lo[2])-p.Z, p.Z-float64(d.hi[2]), 0)
	return float64(x*x) + float64(y*y) + float64(z*z)
}

// grow builds the tree over the first n triangles that have an area, halved at the median of the
// longest side. What is measured does not depend on it.
func grow(ctx context.Context, m *mesh.Mesh, n int, facing float64) (*tree, error) {
	t := &tree{tris: make([]tri, 0, n)}
	for i := range n {
		a, b, c := m.Corners(i)
		if nm := b.Sub(a).Cross(c.Sub(a)).Unit(); nm != (geom.Vec3{}) && nm.Finite() && a.Finite() {
			if facing < 0 {
				b, c, nm = c, b, nm.Mul(-1)
			}
			t.tris = append(t.tris, tri{a, b, c, nm})
		}
		if i&0xffff == 0 && ctx.Err() != nil {
			return nil, ctx.Err()
		}
	}
	if len(t.tris) == 0 {
		return t, ctx.Err()
	}
	g := &grower{tree: t, sizes: map[int]int32{}, order: make([]item, len(t.tris))}
	for i, q := range t.tris {
		c := q.a.Add(q.b).Add(q.c)
		g.order[i] = item{[3]float64{c.X, c.Y, c.Z}, int32(i)}
	}
	t.nodes = make([]node, g.size(len(g.order)))
	g.split(ctx, 0, 0, len(g.order), runtime.GOMAXPROCS(0) > 1)
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	g.settle()
	return t, nil
}

type item struct {
	c [3]float64
	i int32
}

type grower struct {
	*tree
	sizes map[int]int32
	order []item
}

// size is how many nodes n triangles make.
func (g *grower) size(n int) int32 {
	if n <= leaf {
		return 1
	}
	if s, ok := g.sizes[n]; ok {
		return s
	}
	s := 1 + g.size(n/2) + g.size(n-n/2)
	g.sizes[n] = s
	return s
}

func (g *grower) split(ctx context.Context, at int32, lo, hi int, fork bool) {
	n := hi - lo
	if n <= leaf {
		g.nodes[at] = node{first: int32(lo), count: int32(n)}
		return
	}
	if n > 1<<12 && ctx.Err() != nil {
		return
	}
	mid := lo + n/2
	part(g.order[lo:hi], n/2, longest(g.order[lo:hi]))
	left := int32(1)
	if n/2 > leaf {
		left = g.sizes[n/2]
	}
	right := at + 1 + left
	g.nodes[at].first = right
	if !fork || n < 1<<12 {
		g.split(ctx, at+1, lo, mid, false)
		g.split(ctx, right, mid, hi, false)
		return
	}
	var wg sync.WaitGroup
	wg.Go(func() { g.split(ctx, at+1, lo, mid, n > 1<<15) })
	g.split(ctx, right, mid, hi, n > 1<<15)
	wg.Wait()
}

func longest(p []item) int {
	lo, hi := p[0].c, p[0].c
	for i := range p {
		for k, v := range p[i].c {
			lo[k], hi[k] = min(lo[k], v), max(hi[k], v)
		}
	}
	axis := 0
	for k := 1; k < 3; k++ {
		if hi[k]-lo[k] > hi[axis]-lo[axis] {
			axis = k
		}
	}
	return axis
}

// part moves the k smallest along the axis to the front (Hoare's selection).
func part(p []item, k, axis int) {
	lo, hi := 0, len(p)-1
	for lo < hi {
		// the middle of three guards against sorted input
		a, b, c := p[lo].c[axis], p[(lo+hi)/2].c[axis], p[hi].c[axis]
		pivot := max(min(a, b), min(max(a, b), c))
		i, j := lo, hi
		for i <= j {
			for p[i].c[axis] < pivot {
				i++
			}
			for p[j].c[axis] > pivot {
				j--
			}
			if i <= j {
				p[i], p[j] = p[j], p[i]
				i++
				j--
			}
		}
		switch {
		case k <= j:
			hi = j
		case k >= i:
			lo = i
		default:
			return
		}
	}
}

// settle puts the triangles into the tree's order, then gives every node its bounds, children first.
func (g *grower) settle() {
	tris := make([]tri, len(g.tris))
	for k, it := range g.order {
		tris[k] = g.tris[it.i]
	}
	g.tris = tris
	ends := make([][2]int32, len(g.nodes))
	for i := len(g.nodes) - 1; i >= 0; i-- {
		d := &g.nodes[i]
		if d.count == 0 {
			d.join(&g.nodes[i+1], &g.nodes[d.first])
			ends[i] = [2]int32{ends[i+1][0], ends[d.first][1]}
		} else {
			d.empty()
			ends[i] = [2]int32{d.first, d.first + d.count}
			for _, t := range g.tris[d.first : d.first+d.count] {
				for _, v := range [3]geom.Vec3{t.a, t.b, t.c} {
					hold(&d.lo, &d.hi, v)
				}
				hold(&d.nlo, &d.nhi, t.m)
			}
		}
	}
	mesh.Parallel(len(g.nodes), func(i int) { g.nodes[i].lean(g.tris[ends[i][0]:ends[i][1]]) })
}

// leanMost is how many triangles get a half-space: more face too many ways for it to be of use.
const leanMost = 1 << 12

// lean sets the half-space: along the middle of the normals, from the lowest corner on.
func (d *node) lean(tris []tri) {
	d.m, d.h = [3]float32{}, float32(math.Inf(-1))
	m := geom.Vec3{X: float64(d.nlo[0] + d.nhi[0]), Y: float64(d.nlo[1] + d.nhi[1]), Z: float64(d.nlo[2] + d.nhi[2])}
	if len(tris) > leanMost || m.Len() < 0.5 {
		return
	}
	m = m.Unit()
	d.m = [3]float32{float32(m.X), float32(m.Y), float32(m.Z)}
	m = geom.Vec3{X: float64(d.m[0]), Y: float64(d.m[1]), Z: float64(d.m[2])}
	h := math.Inf(1)
	for i := range tris {
		t := &tris[i]
		h = min(h, m.Dot(t.a), m.Dot(t.b), m.Dot(t.c))
	}
	if d.h = float32(h); float64(d.h) > h {
		d.h = math.Nextafter32(d.h, float32(math.Inf(-1)))
	}
}

func (d *node) empty() {
	inf := float32(math.Inf(1))
	for k := range 3 {
		d.lo[k], d.hi[k], d.nlo[k], d.nhi[k] = inf, -inf, inf, -inf
	}
}

func (d *node) join(l, r *node) {
	for k := range 3 {
		d.lo[k], d.hi[k] = min(l.lo[k], r.lo[k]), max(l.hi[k], r.hi[k])
		d.nlo[k], d.nhi[k] = min(l.nlo[k], r.nlo[k]), max(l.nhi[k], r.nhi[k])
	}
}

// hold grows a box to hold v, rounded outward.
func hold(lo, hi *[3]float32, v geom.Vec3) {
	for k, x := range [3]float64{v.X, v.Y, v.Z} {
		f := float32(x)
		l, h := f, f
		if float64(f) > x {
			l = math.Nextafter32(f, float32(math.Inf(-1)))
		} else if float64(f) < x {
			h = math.Nextafter32(f, float32(math.Inf(1)))
		}
		lo[k], hi[k] = min(lo[k], l), max(hi[k], h)
	}
}
