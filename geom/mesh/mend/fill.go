package mend

import (
	"fmt"
	"slices"

	"barwise/geom"
	"barwise/geom/mesh"
)

// hole is a boundary loop without a vertex twice.
type hole struct {
	path   []int32     // in the order in which triangles that close it run
	edge   []int32     // half-edge from path[i+1] to path[i], of the triangle beside
	normal []geom.Vec3 // unit normal of that triangle, zero where it is flat
	mesh.Loop
	mixed bool // triangles along it face both ways
	wide  bool // wider than asked as it lies, but it may be a crack that winds
	why   string
	tris  [][3]int32
	apex  geom.Vec3 // vertex −1 of tris
	way   string
	// a ring-shaped hole has inner borders; these are closed with the one around them
	inner  []*hole
	within *hole
}

// fill closes the boundary loops that are at most as wide as asked and tells which are left and why. The
// width of a hole is mesh.Loop.Across; that of a bent one is 4·area/length of what closes it where that
// is less, which is the diameter of a round hole and twice the gap of a long crack, however it winds. New triangles run against the border, so they face as their neighbours do.
func (w *work) fill() error {
	if w.p.Fill == 0 {
		return nil
	}
	holes := w.holes()
	if len(holes) == 0 {
		return nil
	}
	e := w.edges()
	w.rings(holes)
	mesh.Parallel(len(holes), func(k int) {
		h := &holes[k]
		switch {
		case w.ctx.Err() != nil || h.within != nil || h.tris != nil:
		case h.why == "":
			w.close(e, h)
		case h.wide:
			w.closeCrack(e, h)
		}
	})
	if err := w.ctx.Err(); err != nil {
		return err
	}
	fresh := map[[2]int32]bool{}
	filled := false
	for i := range holes {
		h := &holes[i]
		if h.within != nil {
			continue
		}
		if h.why != "" {
			w.leaveHole(h)
			continue
		}
		w.put(e, h, fresh)
		filled = true
	}
	if filled && w.p.Orient {
		// what was open could not be told inside from outside for sure
		w.leftOver = slices.DeleteFunc(w.leftOver, func(l Left) bool { return l.Kind == "nested" || l.Kind == "one-sided" })
		return w.orient()
	}
	return nil
}

// holes walks the boundary and takes it apart where it touches itself.
func (w *work) holes() []hole {
	m := w.mesh()
	e := m.Edges()
	if e.Open == 0 {
		return nil
	}
	var out []hole
	seen := make([]bool, len(e.Mate))
	for i := range int32(len(seen)) {
		if seen[i] || e.Mate[i] != mesh.Border || repeats(w.t[i/3]) {
			continue
		}
		var path, edge []int32
		_, end := e.Ends(i)
		for at := i; !seen[at]; {
			seen[at] = true
			path, edge = append(path, end), append(edge, at)
			at = across(e, at, end)
			if a, b := e.Ends(at); a == end {
				end = b
			} else {
				end = a
			}
		}
		// edge[i] runs to path[i]; turned round, edge[i] runs from path[i+1] to path[i]
		slices.Reverse(path)
		slices.Reverse(edge)
		out = w.apart(out, path, edge)
	}
	for i := range out {
		w.look(&out[i])
	}
	return out
}

// across walks about vertex end, away from half-edge h, to the border it comes to.
func across(e *mesh.Edges, h, end int32) int32 {
	for {
		if from, _ := e.Ends(h); from == end {
			h = mesh.Prev(h)
		} else {
			h = mesh.Next(h)
		}
		if e.Mate[h] == mesh.Border {
			return h
		}
		h = e.Mate[h]
	}
}

// apart splits a loop at vertices that occur twice.
func (w *work) apart(out []hole, path, edge []int32) []hole {
	at := make(map[int32]int, len(path))
	var p, d []int32
	for i, v := range path {
		if k, twice := at[v]; twice {
			out = append(out, hole{path: slices.Clone(p[k:]), edge: slices.Clone(d[k:])})
			for _, x := range p[k:] {
				delete(at, x)
			}
			p, d = p[:k], d[:k]
		}
		at[v] = len(p)
		p, d = append(p, v), append(d, edge[i])
	}
	return append(out, hole{path: p, edge: d})
}

// look measures a hole and decides whether it may be closed.
func (w *work) look(h *hole) {
	n := len(h.path)
	fan := &mesh.Mesh{Vertices: make([]geom.Vec3, n+1)}
	var middle geom.Vec3
	for i, v := range h.path {
		fan.Vertices[i] = w.v[v]
		middle = middle.Add(w.v[v].Sub(w.v[h.path[0]]))
		fan.Triangles = append(fan.Triangles, [3]int32{int32((i + 1) % n), int32(i), int32(n)})
		t := w.t[h.edge[i]/3]
		if h.normal = append(h.normal, geom.Vec3{}); !w.flat(t) {
			h.normal[i] = w.normal(t).Unit()
		}
		from, _ := w.ends(h.edge[i])
		h.mixed = h.mixed || from != h.path[(i+1)%n]
	}
	fan.Vertices[n] = w.v[h.path[0]].Add(middle.Mul(1 / float64(n)))
	if n < 3 {
		h.Box = geom.EmptyBox().Grow(w.v[h.path[0]]).Grow(w.v[h.path[n-1]])
		h.Centre = h.Box.Centre()
		h.why = "its two edges lie on each other at a crowded edge"
		return
	}
	if loops := fan.Health().Loops; len(loops) == 1 {
		h.Loop = loops[0]
	}
	switch {
	case h.Across > w.p.Fill:
		h.wide = h.Flat > flatEnough*h.Across && !h.mixed && n <= mostCrack
		h.why = fmt.Sprintf("it is %s across, at most %s was asked for", w.long(h.Across), w.long(w.p.Fill))
	case h.mixed:
		h.why = "the triangles along it face both ways: orient the mesh first"
	case h.Flat <= flatEnough*h.Across && w.backs(h):
		h.why = sheet
	}
}

const sheet = "it is the border of a sheet: closing it would only lay a skin on the sheet's back"

// folded is the cosine between triangles that lie on each other's backs.
const folded = -0.99999

// backs reports whether most of a flat loop has the triangles beside it in its own plane and within it.
func (w *work) backs(h *hole) bool {
	back := 0.0
	for i, n := range h.normal {
		if n.Dot(h.Normal) < folded {
			back += w.v[h.path[(i+1)%len(h.path)]].Sub(w.v[h.path[i]]).Len()
		}
	}
	return back > h.Length/2
}

// close finds triangles for a hole.
func (w *work) close(e *edges, h *hole) {
	taken := func(a, b int32) bool { return len(e.at(a, b)) > 0 }
	if h.Flat <= flatEnough*h.Across {
		p := newFrame(h.Centre, h.Normal).lay(w, h.path)
		if tris, ok := ears(h.path, p, w.stopped); ok && w.free(e, nil, tris) {
			h.tris, h.way = tris, "flat"
			return
		}
	}
	path := h.path
	var tris [][3]int32
	if len(path) > mostOptimal {
		tris, path = w.shrink(path, h.normal, mostOptimal, taken)
	}
	if path != nil {
		if rest, ok := w.optimal(path, taken); ok {
			h.tris, h.way = append(tris, rest...), "bent"
			return
		}
	}
	w.fan(h)
}

// mostCrack is the most edges of a bent hole that is closed in thought to see how wide it gapes.
const mostCrack = 20_000

// closeCrack closes a hole that is wide as it lies, if it turns out narrow.
func (w *work) closeCrack(e *edges, h *hole) {
	w.close(e, h)
	area := 0.0
	for _, t := range h.tris {
		if min(t[0], t[1], t[2]) < 0 {
			return // closed as a fan it is not narrow
		}
		area += w.area(t)
	}
	if 4*area <= w.p.Fill*h.Length {
		h.why = ""
	}
}

// flatEnough is the distance of a loop from its plane, in parts of its width, up to which it is closed
// as a polygon in that plane.
const flatEnough = 1e-3

// mostOptimal is the most edges of a loop for which all triangulations are compared; the work grows
// with the cube.
const mostOptimal = 200

// fan closes a hole with triangles to a new vertex in its middle, which no edge there can be in the way of.
func (w *work) fan(h *hole) {
	h.tris, h.way, h.apex = nil, "fanned", h.Centre
	n := len(h.path)
	for i := range n {
		h.tris = append(h.tris, [3]int32{h.path[i], h.path[(i+1)%n], -1})
	}
}

// free reports whether no inner edge of the triangles is an edge already, which would crowd it.
func (w *work) free(e *edges, fresh map[[2]int32]bool, tris [][3]int32) bool {
	count := map[[2]int32]int{}
	for _, t := range tris {
		for c := range 3 {
			count[edgeKey(t[c], t[(c+1)%3])]++
		}
	}
	for k, n := range count {
		if k[0] >= 0 && (n > 2 || n == 2 && len(e.at(k[0], k[1])) > 0 || n == 2 && fresh[k]) {
			return false
		}
	}
	return true
}

func edgeKey(a, b int32) [2]int32 { return [2]int32{min(a, b), max(a, b)} }

// put adds the triangles of a hole to the mesh and tells of it. Triangles that would crowd an edge which
// the filling of another hole drew give way to a fan.
func (w *work) put(e *edges, h *hole, fresh map[[2]int32]bool) {
	parts := append([]*hole{h}, h.inner...)
	if !w.free(e, fresh, h.tris) {
		h.inner = nil
		for _, x := range parts {
			w.fan(x)
			w.lay(x, fresh)
		}
		return
	}
	w.lay(h, fresh)
	for _, x := range parts[1:] {
		w.change(Change{Kind: Fill, At: x.Centre, Box: x.Box, Loop: w.places(x), Text: fmt.Sprintf("the inner border of that hole, of %s", many(len(x.path), "edge"))})
	}
}

func (w *work) lay(h *hole, fresh map[[2]int32]bool) {
	n := int32(-1)
	var q patch
	for _, t := range h.tris {
		for c, v := range t {
			if v < 0 {
				if n < 0 {
					n = int32(len(w.v))
					w.v = append(slices.Clip(w.v), h.apex)
				}
				t[c] = n
			}
		}
		w.add(t)
		w.triangle(&q, t)
		for c := range 3 {
			fresh[edgeKey(t[c], t[(c+1)%3])] = true
		}
	}
	c := q.change(Fill, fmt.Sprintf("a %s hole of %s, %s by %s, closed with %s", h.way, many(len(h.path), "edge"), w.long(h.Along), w.long(h.Across), many(len(h.tris), "triangle")))
	c.At, c.Loop = h.Centre, w.places(h)
	w.change(c)
}

// places is the loop as the mesh runs along it.
func (w *work) places(h *hole) []geom.Vec3 {
	out := make([]geom.Vec3, len(h.path))
	for i, v := range h.path {
		out[len(out)-1-i] = w.v[v]
	}
	return out
}

func (w *work) leaveHole(h *hole) {
	w.leave(Left{Kind: "hole", Count: len(h.path), At: h.Centre, Box: h.Box, Loop: w.places(h),
		Text: fmt.Sprintf("a hole of %s near %s stays open: %s", many(len(h.path), "edge"), w.place(h.Centre), h.why)})
}
