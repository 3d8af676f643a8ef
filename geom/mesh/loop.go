package mesh

import (
	"cmp"
	"math"
	"slices"

	"barwise/geom"
)

// Loop is one closed line of edges that have a triangle on one side only: the edge of a hole, or of an
// open sheet. Lengths are in the mesh's unit.
type Loop struct {
	Edges  int
	Length float64
	Box    geom.Box3
	At     geom.Vec3 // a vertex of it
	// Path has its vertices in order: taken as the corners of a polygon it closes the hole with a face
	// that faces as the triangles beside it do. A vertex at which the loop touches itself occurs again.
	Path []int32
	// Centre is the middle of the line, every piece of it counting by its length. It need not lie on
	// the line.
	Centre geom.Vec3
	// Normal is the unit normal of the plane with the least squares distance from the line, on the side
	// that a face over the hole would face; (0, 0, 1) where the loop is a straight line there and back.
	Normal geom.Vec3
	Flat   float64 // greatest distance of a vertex from that plane
	// Across and Along are the sides of a rectangle in that plane around the line, seen along Normal:
	// Across is the least distance of two parallel lines that the loop fits between, Along its measure
	// the other way. A round hole has its diameter for both, a slot its width and its length.
	Across, Along float64
	Area          float64 // that the line goes round in that plane, where it does not cross itself
	Outline       float64 // area of the convex outline of the line there
	Shell         int     // the shell it bounds
}

func (l *Loop) scale(k float64) {
	l.Length, l.Box, l.At, l.Centre = l.Length*k, scaled(l.Box, k), l.At.Mul(k), l.Centre.Mul(k)
	l.Flat, l.Across, l.Along, l.Area, l.Outline = l.Flat*k, l.Across*k, l.Along*k, l.Area*k*k, l.Outline*k*k
}

// loops walks the boundary.
func (h *Health) loops(m *Mesh, e *Edges, label []int32) {
	if e.Open == 0 {
		return
	}
	seen := make([]bool, len(e.Mate))
	for i := range int32(len(seen)) {
		if seen[i] || e.Mate[i] != Border || repeats(&m.Triangles[i/3]) {
			continue
		}
		from, end := e.Ends(i)
		l := Loop{Box: geom.EmptyBox(), At: m.Vertices[from], Shell: int(label[i/3])}
		for at := i; !seen[at]; {
			seen[at] = true
			a, b := e.Ends(at)
			l.Edges++
			l.Length += m.Vertices[b].Sub(m.Vertices[a]).Len()
			l.Box = l.Box.Grow(m.Vertices[a]).Grow(m.Vertices[b])
			l.Path = append(l.Path, end)
			at, _ = e.turnAround(at, end)
			if a, b := e.Ends(at); a == end {
				end = b
			} else {
				end = a
			}
		}
		slices.Reverse(l.Path) // the triangles run along the line the other way
		l.measure(m)
		h.Loops = append(h.Loops, l)
		h.Shells[label[i/3]].Loops++
	}
	slices.SortStableFunc(h.Loops, func(a, b Loop) int { return cmp.Compare(b.Length, a.Length) })
}

// measure lays a plane through the line and measures it there.
func (l *Loop) measure(m *Mesh) {
	o := l.Box.Centre()
	n := len(l.Path)
	point := func(i int) geom.Vec3 { return m.Vertices[l.Path[i%n]].Sub(o) }
	var middle, area geom.Vec3
	for i := range n {
		a, b := point(i), point(i+1)
		middle = middle.Add(a.Add(b).Mul(b.Sub(a).Len() / 2))
		area = area.Add(a.Cross(b).Mul(0.5))
	}
	if l.Length > 0 {
		middle = middle.Mul(1 / l.Length)
	}
	l.Centre = middle.Add(o)
	// the integral of x·xᵀ over the line: over one piece of length s it is s/6·(2aaᵀ + 2bbᵀ + abᵀ + baᵀ)
	var q [3][3]float64
	for i := range n {
		a, b := point(i).Sub(middle), point(i+1).Sub(middle)
		s := b.Sub(a).Len() / 6
		x, y := [3]float64{a.X, a.Y, a.Z}, [3]float64{b.X, b.Y, b.Z}
		for j := range 3 {
			for k := range 3 {
				q[j][k] += float64(s * (float64(2*x[j]*x[k]) + float64(2*y[j]*y[k]) + float64(x[j]*y[k]) + float64(y[j]*x[k])))
			}
		}
	}
	values, axes := geom.Eigen(q)
	// two small axes leave the plane open: then the one the line goes round
	l.Normal = axes[0]
	if values[1] <= 1e-12*values[2] {
		if l.Normal = (geom.Vec3{Z: 1}); area.Len() > 1e-9*l.Length*l.Length {
			l.Normal = area.Unit()
		}
	}
	if l.Normal.Dot(area) < 0 {
		l.Normal = l.Normal.Mul(-1)
	}
	l.Area = math.Abs(area.Dot(l.Normal))
	u := perpendicular(l.Normal)
	w := l.Normal.Cross(u)
	flat := make([]geom.Vec2, n)
	for i := range n {
		p := point(i).Sub(middle)
		l.Flat = max(l.Flat, math.Abs(p.Dot(l.Normal)))
		flat[i] = geom.Vec2{X: p.Dot(u), Y: p.Dot(w)}
	}
	outline := hull(flat)
	for i := range outline {
		l.Outline += outline[i].Cross(outline[(i+1)%len(outline)]) / 2
	}
	l.Across, l.Along = strip(outline)
}

// hull returns the convex hull, counter-clockwise (Andrew's monotone chain).
func hull(p []geom.Vec2) []geom.Vec2 {
	slices.SortFunc(p, func(a, b geom.Vec2) int { return cmp.Or(cmp.Compare(a.X, b.X), cmp.Compare(a.Y, b.Y)) })
	p = slices.Compact(p)
	if len(p) < 3 {
		return p
	}
	chain := func(dst []geom.Vec2, from int, step int) []geom.Vec2 {
		low := len(dst)
		for i := from; i >= 0 && i < len(p); i += step {
			for len(dst) >= low+2 && geom.Orient2D(dst[len(dst)-2], dst[len(dst)-1], p[i]) <= 0 {
				dst = dst[:len(dst)-1]
			}
			dst = append(dst, p[i])
		}
		return dst[:len(dst)-1]
	}
	return chain(chain(nil, 0, 1), len(p)-1, -1)
}

// strip returns the least distance of two parallels that a convex polygon fits between, and its measure
// along them. One of the parallels lies on an edge.
func strip(h []geom.Vec2) (across, along float64) {
	if len(h) < 2 {
		return 0, 0
	}
	if len(h) == 2 {
		return 0, h[1].Sub(h[0]).Len()
	}
	n := len(h)
	across = math.Inf(1)
	far := 1
	for i := range n {
		e := h[(i+1)%n].Sub(h[i])
		l := e.Len()
		// the corner farthest from the edge only moves on as the edge does
		for e.Cross(h[(far+1)%n].Sub(h[i])) > e.Cross(h[far%n].Sub(h[i])) {
			far++
		}
		if d := e.Cross(h[far%n].Sub(h[i])) / l; d < across {
			across = d
			lo, hi := math.Inf(1), math.Inf(-1)
			for _, p := range h {
				s := p.Sub(h[i]).Dot(e) / l
				lo, hi = min(lo, s), max(hi, s)
			}
			along = hi - lo
		}
	}
	return across, along
}
