package mend

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"sync/atomic"

	"barwise/finding"
	"barwise/geom/mesh"
)

// mostNear is how many border vertices on average may lie within the weld distance of one: beyond it
// the distance is wider than the mesh is fine, and welding would eat the mesh.
const mostNear = 40

// weld makes border vertices within the weld distance of one another one, nearest first. All of a
// group lie within that distance of each other, no triangle loses a corner, and the place is that of the
// member that comes first in the mesh, so that the file's own points stay. Inner vertices are left
// alone: they have nothing to be joined to.
func (w *work) weld() error {
	if w.p.Weld == 0 {
		return nil
	}
	e := w.edges()
	ids := ends(w, e.borders())
	if len(ids) == 0 {
		return nil
	}
	pairs, err := w.pairs(ids)
	if err != nil || len(pairs) == 0 {
		return err
	}
	g := newGroups(w, ids)
	var p patch
	far := 0.0
	for i, x := range pairs {
		if i%4096 == 0 && w.ctx.Err() != nil {
			return w.ctx.Err()
		}
		if g.join(x.a, x.b) {
			p.count++
			p.point(w.v[x.a])
			far = max(far, x.d)
		}
	}
	if p.count == 0 {
		return nil
	}
	w.own()
	for i := range w.t {
		for c, v := range w.t[i] {
			w.t[i][c] = g.find(v)
		}
	}
	w.change(p.change(Weld, fmt.Sprintf("%s on borders made one with another, the farthest %s away", many(p.count, "vertex"), w.long(far))))
	return nil
}

// ends returns the vertices of half-edges, ascending, each once.
func ends(w *work, hs []int32) []int32 {
	var ids []int32
	for _, h := range hs {
		a, b := w.ends(h)
		ids = append(ids, a, b)
	}
	slices.Sort(ids)
	return slices.Compact(ids)
}

type pair struct {
	d    float64
	a, b int32
}

// pairs lists the pairs within the weld distance, nearest first.
func (w *work) pairs(ids []int32) ([]pair, error) {
	g := newGrid(w.v, ids, w.cellSize(4*w.p.Weld))
	const block = 1 << 13
	found := make([][]pair, (len(ids)+block-1)/block)
	var sum atomic.Int64
	mesh.Parallel(len(found), func(k int) {
		var out []pair
		for i := k * block; i < min(len(ids), (k+1)*block) && w.ctx.Err() == nil && sum.Load() <= mostNear*int64(len(ids)); i++ {
			a, from := ids[i], len(out)
			g.near(w.v[a], w.p.Weld, func(b int32) bool {
				if b > a {
					if d := w.v[b].Sub(w.v[a]).Len(); d <= w.p.Weld {
						out = append(out, pair{d, a, b})
					}
				}
				return len(out) <= mostNear*len(ids)
			})
			slices.SortFunc(out[from:], func(x, y pair) int { return cmp.Compare(x.b, y.b) })
		}
		sum.Add(int64(len(out)))
		found[k] = out
	})
	if err := w.ctx.Err(); err != nil {
		return nil, err
	}
	if sum.Load() > mostNear*int64(len(ids)) {
		return nil, finding.Bad("mend-weld", "", fmt.Sprintf("a weld distance of %s joins more than %d border vertices to each on average", w.long(w.p.Weld), mostNear),
			"give a distance well below the length of the mesh's edges")
	}
	out := slices.Concat(found...)
	return nearestFirst(out), nil
}

// nearestFirst sorts pairs that stand in order of their vertices by distance, in time that grows with
// their number: by the digits of the distance's bits, which grow as it does.
func nearestFirst(ps []pair) []pair {
	if len(ps) < 1<<12 {
		slices.SortStableFunc(ps, func(x, y pair) int { return cmp.Compare(x.d, y.d) })
		return ps
	}
	const bits = 16
	to := make([]pair, len(ps))
	count := make([]int, 1<<bits+1)
	for shift := 0; shift < 64; shift += bits {
		clear(count)
		digit := func(d float64) uint64 { return math.Float64bits(d) >> shift & (1<<bits - 1) }
		for _, p := range ps {
			count[digit(p.d)+1]++
		}
		for i := range 1 << bits {
			count[i+1] += count[i]
		}
		for _, p := range ps {
			k := digit(p.d)
			to[count[k]] = p
			count[k]++
		}
		ps, to = to, ps
	}
	return ps
}

// cellSize keeps cells above the rounding of coordinates.
func (w *work) cellSize(want float64) float64 {
	b := w.box
	for _, x := range [...]float64{b.Min.X, b.Min.Y, b.Min.Z, b.Max.X, b.Max.Y, b.Max.Z} {
		want = max(want, x*1e-14, -x*1e-14)
	}
	return want
}

// groups are the vertices that are to become one, each with its first member as root.
type groups struct {
	w     *work
	root  []int32 // of every vertex of the mesh
	next  []int32 // the following member of the group, round to the first
	start []int32 // of vertex v: triangles start[v] to start[v+1] of tri; border vertices only
	tri   []int32
	ring  []int32 // scratch
}

func newGroups(w *work, ids []int32) *groups {
	n := len(w.v)
	g := &groups{w: w, root: make([]int32, n), next: make([]int32, n), start: make([]int32, n+1)}
	border := make([]bool, n)
	for _, v := range ids {
		border[v] = true
	}
	for v := range int32(n) {
		g.root[v], g.next[v] = v, v
	}
	for _, t := range w.t {
		for _, v := range t {
			if border[v] {
				g.start[v+1]++
			}
		}
	}
	for v := range n {
		g.start[v+1] += g.start[v]
	}
	g.tri = make([]int32, g.start[n])
	at := slices.Clone(g.start)
	for i, t := range w.t {
		for _, v := range t {
			if border[v] {
				g.tri[at[v]] = int32(i)
				at[v]++
			}
		}
	}
	return g
}

func (g *groups) find(v int32) int32 {
	for g.root[v] != v {
		g.root[v] = g.root[g.root[v]]
		v = g.root[v]
	}
	return v
}

// join makes the groups of a and b one, unless they would spread too far or eat a triangle.
func (g *groups) join(a, b int32) bool {
	a, b = g.find(a), g.find(b)
	if a == b || !g.together(a, b) || !g.apart(a, b) {
		return false
	}
	if b < a {
		a, b = b, a
	}
	g.root[b] = a
	g.next[a], g.next[b] = g.next[b], g.next[a]
	return true
}

// together reports whether all of both groups lie within the weld distance.
func (g *groups) together(a, b int32) bool {
	return g.all(a, func(x int32) bool {
		return g.all(b, func(y int32) bool { return g.w.v[x].Sub(g.w.v[y]).Len() <= g.w.p.Weld })
	})
}

func (g *groups) all(a int32, f func(int32) bool) bool {
	for x := a; ; {
		if !f(x) {
			return false
		}
		if x = g.next[x]; x == a {
			return true
		}
	}
}

// apart reports whether no triangle has a corner in both groups, and where the two have a neighbour in
// common, whether they are nearer to each other than half as far as to it: the two lips of a slit then,
// not two steps along one border.
func (g *groups) apart(a, b int32) bool {
	g.ring = g.ring[:0]
	for x := a; ; {
		for _, t := range g.tri[g.start[x]:g.start[x+1]] {
			for _, v := range g.w.t[t] {
				switch r := g.find(v); r {
				case a:
				case b:
					return false
				default:
					g.ring = append(g.ring, r)
				}
			}
		}
		if x = g.next[x]; x == a {
			break
		}
	}
	v := g.w.v
	d := v[a].Sub(v[b]).Len()
	for x := b; ; {
		for _, t := range g.tri[g.start[x]:g.start[x+1]] {
			for _, o := range g.w.t[t] {
				if r := g.find(o); r != b && slices.Contains(g.ring, r) && 2*d > min(v[r].Sub(v[x]).Len(), v[r].Sub(v[a]).Len()) {
					return false
				}
			}
		}
		if x = g.next[x]; x == b {
			return true
		}
	}
}
