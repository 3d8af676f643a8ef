package mend

import (
	"cmp"
	"fmt"
	"slices"

	"barwise/geom"
)

// split cuts border edges at border vertices that lie on them within the weld distance, where the
// vertex has a border edge along this one: the two sides of a seam with different vertices then meet
// edge to edge.
func (w *work) split() error {
	if w.p.Weld == 0 {
		return nil
	}
	e := w.edges()
	bs := e.borders()
	if len(bs) == 0 {
		return nil
	}
	on, err := w.onEdges(e, bs)
	if err != nil || len(on) == 0 {
		return err
	}
	var p patch
	far := 0.0
	for _, s := range on {
		p.count++
		p.point(w.v[s.v])
		far = max(far, s.off)
	}
	w.cut(on)
	w.change(p.change(Split, fmt.Sprintf("edges split at %s that lie on them, the farthest %s off", many(p.count, "vertex"), w.long(far))))
	return nil
}

// onEdge is a vertex that lies on a half-edge, at t from its start to its end.
type onEdge struct {
	h, v   int32
	t, off float64
}

func (w *work) onEdges(e *edges, bs []int32) ([]onEdge, error) {
	ids := ends(w, bs)
	length := 0.0
	for _, h := range bs {
		a, b := w.ends(h)
		length += w.v[b].Sub(w.v[a]).Len()
	}
	g := newGrid(w.v, ids, max(w.cellSize(2*w.p.Weld), length/float64(len(bs))))
	along := neighbours(w, bs)
	var out, here []onEdge
	for i, h := range bs {
		if i%1024 == 0 && w.ctx.Err() != nil {
			return nil, w.ctx.Err()
		}
		here = w.onEdge(g, h, here[:0])
		out = append(out, linked(w, h, here, along)...)
	}
	return out, nil
}

// onEdge lists the border vertices on half-edge h, from its start on.
func (w *work) onEdge(g *grid, h int32, out []onEdge) []onEdge {
	a, b := w.ends(h)
	_, c := w.ends(h/3*3 + (h+1)%3)
	pa := w.v[a]
	d := w.v[b].Sub(pa)
	l := d.Len()
	if l <= 2*w.p.Weld {
		return out
	}
	steps := int(l/(g.size/2)) + 1
	for k := range steps + 1 {
		g.near(pa.Add(d.Mul(float64(k)/float64(steps))), g.size/4+w.p.Weld, func(v int32) bool {
			if v == a || v == b || v == c {
				return true
			}
			q := w.v[v].Sub(pa)
			t := q.Dot(d) / float64(l*l)
			off := q.Sub(d.Mul(t)).Len()
			if off <= w.p.Weld && float64(t*l) > w.p.Weld && float64((1-t)*l) > w.p.Weld {
				out = append(out, onEdge{h, v, t, off})
			}
			return true
		})
	}
	slices.SortFunc(out, func(x, y onEdge) int { return cmp.Or(cmp.Compare(x.t, y.t), cmp.Compare(x.v, y.v)) })
	return slices.CompactFunc(out, func(x, y onEdge) bool { return x.v == y.v })
}

// neighbours lists for every border vertex those at the other ends of its border edges.
func neighbours(w *work, bs []int32) map[int32][]int32 {
	out := make(map[int32][]int32, len(bs))
	for _, h := range bs {
		a, b := w.ends(h)
		out[a], out[b] = append(out[a], b), append(out[b], a)
	}
	return out
}

// linked keeps of the vertices on h those with a border edge that runs along it.
func linked(w *work, h int32, on []onEdge, along map[int32][]int32) []onEdge {
	a, b := w.ends(h)
	pa, pb := w.v[a], w.v[b]
	return slices.DeleteFunc(on, func(s onEdge) bool {
		p := w.v[s.v]
		return !slices.ContainsFunc(along[s.v], func(o int32) bool {
			q := w.v[o]
			near := func(a, b, p geom.Vec3) bool { return offSegment(a, b, p) <= w.p.Weld }
			// the two run along each other to the nearer end
			return near(pa, pb, q) || near(p, q, pa) || near(p, q, pb)
		})
	})
}

// offSegment is the distance of p from the segment from a to b.
func offSegment(a, b, p geom.Vec3) float64 {
	d, q := b.Sub(a), p.Sub(a)
	t := 0.0
	if l := d.Dot(d); l > 0 {
		t = min(max(q.Dot(d)/l, 0), 1)
	}
	return q.Sub(d.Mul(t)).Len()
}

// cut replaces every triangle with vertices on its edges by triangles on all of them.
func (w *work) cut(on []onEdge) {
	slices.SortStableFunc(on, func(x, y onEdge) int { return cmp.Compare(x.h, y.h) })
	gone := map[int32]bool{}
	for i := 0; i < len(on); {
		j := i
		t := on[i].h / 3
		var c []onSide
		for k := range int32(3) {
			c = append(c, onSide{w.t[t][k], 1<<k | 1<<((k+2)%3)})
			for ; j < len(on) && on[j].h == 3*t+k; j++ {
				if !slices.ContainsFunc(c, func(o onSide) bool { return o.v == on[j].v }) {
					c = append(c, onSide{on[j].v, 1 << k})
				}
			}
		}
		i = j
		gone[t] = true
		w.slice(c, w.normal(w.t[t]))
	}
	w.keep(func(i int) bool { return !gone[int32(i)] })
}

// onSide is a vertex with the sides of a triangle that it lies on, one bit each.
type onSide struct {
	v     int32
	sides uint8
}

// slice adds triangles on the corners of a triangle and the vertices on its sides, the roundest first,
// none of them flat on one side.
func (w *work) slice(c []onSide, normal geom.Vec3) {
	for len(c) > 3 {
		best, most := -1, 0.0
		for i := range c {
			p, q := c[(i+len(c)-1)%len(c)], c[(i+1)%len(c)]
			rest := uint8(7)
			for k, o := range c {
				if k != i {
					rest &= o.sides
				}
			}
			if p.sides&c[i].sides&q.sides != 0 || rest != 0 {
				continue
			}
			if r := w.shape([3]int32{p.v, c[i].v, q.v}, normal); best < 0 || r > most {
				best, most = i, r
			}
		}
		w.add([3]int32{c[(best+len(c)-1)%len(c)].v, c[best].v, c[(best+1)%len(c)].v})
		c = slices.Delete(c, best, best+1)
	}
	w.add([3]int32{c[0].v, c[1].v, c[2].v})
}

func (w *work) normal(t [3]int32) geom.Vec3 {
	a := w.v[t[0]]
	return w.v[t[1]].Sub(a).Cross(w.v[t[2]].Sub(a))
}

// shape is that of a triangle: its area over the sum of the squares of its sides, negative where
// it faces against normal, √3/12 for an equilateral one.
func (w *work) shape(t [3]int32, normal geom.Vec3) float64 {
	a, b, c := w.v[t[0]], w.v[t[1]], w.v[t[2]]
	u, v, x := b.Sub(a), c.Sub(a), c.Sub(b)
	n := u.Cross(v)
	s := u.Dot(u) + v.Dot(v) + x.Dot(x)
	if s == 0 {
		return 0
	}
	q := n.Len() / 2 / s
	if n.Dot(normal) < 0 {
		return -q
	}
	return q
}
