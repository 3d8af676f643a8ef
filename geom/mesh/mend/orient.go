package mend

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"barwise/geom"
)

// orient makes neighbours face the same way, the smaller part of each piece's area turning, and then
// pieces outward: closed ones by their volume, nearly closed ones by the volume with their holes capped,
// others as most of their area faces. A piece inside another one keeps its facing, unless the outer one
// had to be turned: then it faces inward, as a cavity. A one-sided piece stays as it is.
func (w *work) orient() error {
	if !w.p.Orient || len(w.t) == 0 {
		return nil
	}
	e := w.edges()
	p := newParity(len(w.t))
	oneSided := w.agree(e, p)
	ps := w.pieces(e, p)
	for _, t := range oneSided {
		r, _ := p.find(t)
		ps.of(r).oneSided = true
	}
	if err := w.ctx.Err(); err != nil {
		return err
	}
	w.measure(e, p, ps)
	if err := w.outward(ps); err != nil {
		return err
	}
	w.turn(p, ps)
	return nil
}

// piece is triangles that must face together.
type piece struct {
	tris     []int32
	box      geom.Box3
	flip     bool // the majority faces against the root: all parities are read the other way round
	against  int  // triangles that face against the majority
	oneSided bool
	closed   bool
	area     float64
	volume   float64 // signed, holes capped, as the majority faces
	cap      float64 // area of the caps
	over     bool    // the whole is to be turned
	parent   int     // the smallest closed piece around it, −1 for none
	depth    int     // closed pieces around it
}

type pieces struct {
	list  []piece
	index []int32 // of every triangle that is a root: its piece + 1
}

func (ps *pieces) of(root int32) *piece { return &ps.list[ps.index[root]-1] }

// agree joins the triangles across edges and returns one of every contradiction: a one-sided piece.
func (w *work) agree(e *edges, p *parity) (oneSided []int32) {
	var crowded [][]half
	e.each(func(a, b int32, hs []half) {
		switch {
		case len(hs) == 2:
			x, _ := w.ends(hs[0].h)
			y, _ := w.ends(hs[1].h)
			if !p.join(hs[0].h/3, hs[1].h/3, x == y) {
				oneSided = append(oneSided, hs[0].h/3)
			}
		case len(hs)%2 == 0:
			crowded = append(crowded, hs)
		}
	})
	// around an edge of solids the triangles run along it and against it by turns
	for _, hs := range crowded {
		r := w.round(hs)
		for i := range len(r) - 1 {
			x, _ := w.ends(r[i])
			y, _ := w.ends(r[i+1])
			p.join(r[i]/3, r[i+1]/3, x == y) // a contradiction leaves the edge crowded, and told as that
		}
	}
	return oneSided
}

// round sorts the half-edges of an edge by their triangles' angle about it, those that lie on one
// another by their order in the mesh: two walls back to back then take turns the same way at every edge.
func (w *work) round(hs []half) []int32 {
	from, to := w.ends(hs[0].h)
	o := w.v[from]
	axis := w.v[to].Sub(o).Unit()
	type leaf struct {
		angle float64
		h     int32
	}
	leaves := make([]leaf, len(hs))
	var u geom.Vec3
	for i, h := range hs {
		_, tip := w.ends(h.h/3*3 + (h.h+1)%3)
		d := w.v[tip].Sub(o)
		d = d.Sub(axis.Mul(d.Dot(axis)))
		if i == 0 {
			u = d.Unit()
		}
		a := math.Atan2(d.Dot(axis.Cross(u)), d.Dot(u))
		if a < -1e-9 {
			a += 2 * math.Pi
		}
		leaves[i] = leaf{a, h.h}
	}
	slices.SortFunc(leaves, func(x, y leaf) int { return cmp.Or(cmp.Compare(x.angle, y.angle), cmp.Compare(x.h, y.h)) })
	out := make([]int32, len(leaves))
	for i := 0; i < len(leaves); {
		j := i
		for ; j < len(leaves) && leaves[j].angle-leaves[i].angle <= 1e-9; j++ {
			out[j] = leaves[j].h
		}
		slices.Sort(out[i:j])
		i = j
	}
	return out
}

// pieces gathers the triangles by root, in the order of their first triangle.
func (w *work) pieces(e *edges, p *parity) *pieces {
	ps := &pieces{index: make([]int32, len(w.t))}
	for i, t := range w.t {
		r, _ := p.find(int32(i))
		if ps.index[r] == 0 {
			ps.list = append(ps.list, piece{closed: true, parent: -1, box: geom.EmptyBox()})
			ps.index[r] = int32(len(ps.list))
		}
		x := ps.of(r)
		x.tris = append(x.tris, int32(i))
		for _, v := range t {
			x.box = x.box.Grow(w.v[v])
		}
	}
	return ps
}

// measure finds which way the majority faces, the volume with holes capped, and what is closed.
func (w *work) measure(e *edges, p *parity, ps *pieces) {
	for i := range ps.list {
		x := &ps.list[i]
		o := x.box.Centre()
		var area, volume [2]float64
		n := 0
		for _, t := range x.tris {
			_, f := p.find(t)
			k := 0
			if f {
				k, n = 1, n+1
			}
			area[k] += w.area(w.t[t])
			volume[k] += w.v[w.t[t][0]].Sub(o).Dot(w.normal(w.t[t])) / 6
		}
		// of equal areas the first triangle's side stays
		_, first := p.find(x.tris[0])
		x.flip = area[1] > area[0] || area[1] == area[0] && first
		x.against = n
		x.volume = volume[0] - volume[1]
		if x.flip {
			x.against = len(x.tris) - n
			x.volume = -x.volume
		}
		x.area = area[0] + area[1]
	}
	w.caps(e, p, ps)
}

// caps closes every border with a fan about its middle, in thought, and adds up area and volume.
func (w *work) caps(e *edges, p *parity, ps *pieces) {
	type rim struct{ from, to, piece int32 }
	var rims []rim
	e.each(func(a, b int32, hs []half) {
		sum := 0
		for _, h := range hs {
			root, f := p.find(h.h / 3)
			from, _ := w.ends(h.h)
			if (from == a) != (f != ps.of(root).flip) {
				sum++
			} else {
				sum--
			}
		}
		if sum == 0 {
			return
		}
		for _, h := range hs {
			root, f := p.find(h.h / 3)
			x := ps.of(root)
			x.closed = false
			if len(hs) > 1 {
				continue
			}
			from, to := w.ends(h.h)
			if f != x.flip {
				from, to = to, from
			}
			rims = append(rims, rim{from, to, ps.index[root] - 1})
		}
	})
	if len(rims) == 0 {
		return
	}
	join := newParity(len(w.v))
	for _, r := range rims {
		join.join(r.from, r.to, false)
	}
	type sum struct {
		p geom.Vec3
		n float64
	}
	mid := map[int32]sum{}
	for _, r := range rims {
		k, _ := join.find(r.from)
		s := mid[k]
		mid[k] = sum{s.p.Add(w.v[r.from].Sub(w.box.Centre())), s.n + 1}
	}
	for _, r := range rims {
		k, _ := join.find(r.from)
		x := &ps.list[r.piece]
		o := x.box.Centre()
		c := mid[k].p.Mul(1 / mid[k].n).Add(w.box.Centre()).Sub(o)
		a, b := w.v[r.to].Sub(o), w.v[r.from].Sub(o)
		n := b.Sub(a).Cross(c.Sub(a))
		x.cap += n.Len() / 2
		x.volume += a.Dot(n) / 6
	}
}

// nearlyClosed is the most that the caps of a piece's holes may measure, in parts of its own area, for
// the volume to say which way is out.
const nearlyClosed = 0.25

// outward decides which pieces are turned as a whole.
func (w *work) outward(ps *pieces) error {
	if err := w.nest(ps); err != nil {
		return err
	}
	order := make([]int, len(ps.list))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return ps.list[a].depth - ps.list[b].depth })
	turned := make([]bool, len(ps.list)) // it, or one around it
	for _, i := range order {
		x := &ps.list[i]
		flat := math.Abs(x.volume) <= 1e-9*math.Pow(x.area, 1.5)
		switch {
		case x.oneSided || flat || !x.closed && x.cap > nearlyClosed*x.area:
		case x.parent < 0:
			x.over = x.volume < 0
		case turned[x.parent]:
			x.over = (x.volume < 0) == (x.depth%2 == 0)
		case x.closed && (x.volume > 0) == (ps.list[x.parent].volume > 0) && !ps.list[x.parent].oneSided:
			q := patch{count: len(x.tris), at: w.v[w.t[x.tris[0]][0]], box: x.box}
			w.leave(q.left("nested", fmt.Sprintf("a shell of %s within another faces as that one does: a solid in a solid, or a cavity turned wrong; left as it was", many(q.count, "triangle"))))
		}
		turned[i] = x.over || x.parent >= 0 && turned[x.parent]
	}
	return nil
}

// nest finds for every piece the closed ones around it: all of a few of its triangles' middles lie inside.
func (w *work) nest(ps *pieces) error {
	for j := range ps.list {
		y := &ps.list[j]
		if !y.closed || y.oneSided {
			continue
		}
		var c *caster
		for i := range ps.list {
			x := &ps.list[i]
			if i == j || !holds(y.box, x.box) {
				continue
			}
			if c == nil {
				if err := w.ctx.Err(); err != nil {
					return err
				}
				c = newCaster(w, y.tris)
			}
			if !w.within(c, x) {
				continue
			}
			x.depth++
			if x.parent < 0 || y.area < ps.list[x.parent].area {
				x.parent = j
			}
		}
	}
	return nil
}

func holds(outer, inner geom.Box3) bool {
	return inner.Min.X >= outer.Min.X && inner.Min.Y >= outer.Min.Y && inner.Min.Z >= outer.Min.Z &&
		inner.Max.X <= outer.Max.X && inner.Max.Y <= outer.Max.Y && inner.Max.Z <= outer.Max.Z
}

// within looks at up to nine triangles of x spread over its list; those on an edge or surface are no
// witness.
func (w *work) within(c *caster, x *piece) bool {
	seen := 0
	for k := range min(9, len(x.tris)) {
		t := w.t[x.tris[k*len(x.tris)/min(9, len(x.tris))]]
		p := w.v[t[0]].Add(w.v[t[1]]).Add(w.v[t[2]]).Mul(1.0 / 3)
		in, ok := c.inside(p)
		if ok && !in {
			return false
		}
		if ok {
			seen++
		}
	}
	return seen > 0
}

// turn turns what is to be turned and tells of it piece by piece.
func (w *work) turn(p *parity, ps *pieces) {
	n := 0
	var rest patch
	for i := range ps.list {
		x := &ps.list[i]
		if x.oneSided {
			q := patch{count: len(x.tris), at: w.v[w.t[x.tris[0]][0]], box: x.box}
			w.leave(q.left("one-sided", fmt.Sprintf("a shell of %s has only one side, as a Möbius strip: its facing cannot be mended", many(q.count, "triangle"))))
			continue
		}
		if x.against == 0 && !x.over {
			continue
		}
		w.own()
		var q patch
		for _, t := range x.tris {
			if _, f := p.find(t); f == x.flip != x.over {
				continue
			}
			w.t[t][1], w.t[t][2] = w.t[t][2], w.t[t][1]
			w.turned[t] = !w.turned[t]
			w.triangle(&q, w.t[t])
		}
		if n++; n <= listed {
			w.change(q.change(Turn, x.words(q.count)))
			continue
		}
		rest.point(q.at)
		rest.count, rest.area, rest.box = rest.count+q.count, rest.area+q.area, rest.box.Union(q.box)
	}
	if rest.count > 0 {
		w.change(rest.change(Turn, fmt.Sprintf("%s of %d more shells turned over", many(rest.count, "triangle"), n-listed)))
	}
}

func (x *piece) words(n int) string {
	s := fmt.Sprintf("%d of %s turned over", n, many(len(x.tris), "triangle"))
	switch {
	case !x.over:
		return s + " so that neighbours agree"
	case x.depth%2 == 1:
		return s + " so that the shell faces into the cavity it bounds"
	}
	return s + " so that the shell faces outward"
}
