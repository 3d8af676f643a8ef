package mend

import (
	"cmp"
	"slices"

	"barwise/geom"
)

// mostRings is the most flat loops that are compared with each other, and mostBridges the most pairs
// of vertices between which a way from one loop to another is looked for.
const (
	mostRings   = 5000
	mostBridges = 4_000_000
)

// rings finds flat loops that lie in one another and face opposite ways: the two rims of a missing
// ring, as at the end of a tube. They are closed together, by the ring.
func (w *work) rings(holes []hole) {
	var flat []int
	for i := range holes {
		if h := &holes[i]; h.why == "" && h.Flat <= flatEnough*h.Across {
			flat = append(flat, i)
		}
	}
	if len(flat) > mostRings {
		return
	}
	inner := map[int][]int{}
	for _, i := range flat {
		best := -1
		for _, o := range flat {
			if o != i && w.rims(&holes[o], &holes[i]) && (best < 0 || holes[o].Area < holes[best].Area) {
				best = o
			}
		}
		if best >= 0 {
			inner[best] = append(inner[best], i)
		}
	}
	for _, o := range flat {
		if len(inner[o]) > 0 {
			w.ring(holes, o, inner[o])
		}
	}
}

// rims reports whether loop i lies in the plane of o and in it, running the other way round.
func (w *work) rims(o, i *hole) bool {
	tol := float64(flatEnough * o.Across)
	lap := geom.Vec3{X: tol, Y: tol, Z: tol}
	if o.Normal.Dot(i.Normal) > -0.99 || i.Area >= o.Area || !holds(geom.Box3{Min: o.Box.Min.Sub(lap), Max: o.Box.Max.Add(lap)}, i.Box) {
		return false
	}
	for _, v := range i.path {
		if d := w.v[v].Sub(o.Centre).Dot(o.Normal); max(d, -d) > tol {
			return false
		}
	}
	frame := newFrame(o.Centre, o.Normal)
	p := frame.lay(w, o.path)
	in := false
	q := frame.flat(w.v[i.path[0]])
	for k := range p {
		a, b := p[k], p[(k+1)%len(p)]
		if (a.Y > q.Y) != (b.Y > q.Y) && (geom.Orient2D(a, b, q) > 0) == (b.Y > a.Y) {
			in = !in
		}
	}
	return in
}

// ring closes hole o together with those in it, where that works out.
func (w *work) ring(holes []hole, o int, inner []int) {
	h := &holes[o]
	frame := newFrame(h.Centre, h.Normal)
	ids := slices.Clone(h.path)
	slices.SortStableFunc(inner, func(a, b int) int { return cmp.Compare(holes[b].Area, holes[a].Area) })
	for n, i := range inner {
		var others [][]geom.Vec2
		for _, k := range inner[n:] {
			others = append(others, frame.lay(w, holes[k].path))
		}
		a, b, ok := bridge(frame.lay(w, ids), others)
		if !ok {
			return
		}
		ids = sew(ids, holes[i].path, a, b)
	}
	tris, ok := ears(ids, frame.lay(w, ids), w.stopped)
	if !ok {
		return
	}
	h.tris, h.way = tris, "ring-shaped"
	for _, i := range inner {
		holes[i].within = h
		h.inner = append(h.inner, &holes[i])
	}
}

// sew goes round a polygon to corner a, over to corner b of an inner one, round that and back.
func sew(outer, inner []int32, a, b int) []int32 {
	out := slices.Clone(outer[:a+1])
	out = append(out, inner[b:]...)
	out = append(out, inner[:b+1]...)
	return append(out, outer[a:]...)
}

// bridge returns the shortest way from a corner a of a polygon to a corner b of the first of the inner
// ones that meets none of them on its way.
func bridge(outer []geom.Vec2, inner [][]geom.Vec2) (a, b int, ok bool) {
	type way struct {
		d    float64
		a, b int
	}
	if len(outer)*len(inner[0]) > mostBridges {
		return 0, 0, false
	}
	var ways []way
	for i, p := range outer {
		for k, q := range inner[0] {
			ways = append(ways, way{p.Sub(q).Len(), i, k})
		}
	}
	slices.SortFunc(ways, func(x, y way) int {
		return cmp.Or(cmp.Compare(x.d, y.d), cmp.Compare(x.a, y.a), cmp.Compare(x.b, y.b))
	})
	for _, x := range ways[:min(len(ways), 5000)] {
		p, q := outer[x.a], inner[0][x.b]
		if !inCorner(outer, x.a, q) || !inCorner(inner[0], x.b, p) || meets(p, q, outer) {
			continue
		}
		free := true
		for _, r := range inner {
			free = free && !meets(p, q, r)
		}
		if free {
			return x.a, x.b, true
		}
	}
	return 0, 0, false
}

// inCorner reports whether q is seen from corner i within its angle, the polygon lying to the left of
// its edges.
func inCorner(p []geom.Vec2, i int, q geom.Vec2) bool {
	n := len(p)
	a, b, c := p[(i+n-1)%n], p[i], p[(i+1)%n]
	left, right := geom.Orient2D(b, c, q) > 0, geom.Orient2D(a, b, q) > 0
	if geom.Orient2D(a, b, c) >= 0 {
		return left && right
	}
	return left || right
}

// meets reports whether the way from p to q meets an edge of a polygon that does not end there.
func meets(p, q geom.Vec2, poly []geom.Vec2) bool {
	for i, a := range poly {
		b := poly[(i+1)%len(poly)]
		if a == p || a == q || b == p || b == q {
			continue
		}
		if geom.Orient2D(a, b, p)*geom.Orient2D(a, b, q) <= 0 && geom.Orient2D(p, q, a)*geom.Orient2D(p, q, b) <= 0 {
			return true
		}
	}
	return false
}

// frame is a plane with axes: seen along the normal, turns keep their sense.
type frame struct{ o, u, v geom.Vec3 }

func newFrame(o, normal geom.Vec3) frame {
	x := geom.Vec3{X: 1}
	if max(normal.X, -normal.X) > max(normal.Y, -normal.Y) {
		x = geom.Vec3{Y: 1}
	}
	u := normal.Cross(x).Unit()
	return frame{o, u, normal.Cross(u)}
}

func (f frame) flat(p geom.Vec3) geom.Vec2 {
	q := p.Sub(f.o)
	return geom.Vec2{X: q.Dot(f.u), Y: q.Dot(f.v)}
}

func (f frame) lay(w *work, path []int32) []geom.Vec2 {
	out := make([]geom.Vec2, len(path))
	for i, v := range path {
		out[i] = f.flat(w.v[v])
	}
	return out
}
