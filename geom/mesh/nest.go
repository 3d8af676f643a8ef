package mesh

import (
	"cmp"
	"math"
	"slices"

	"barwise/geom"
)

// nest finds for every shell the smallest one that it lies inside. For closed shells around it winding
// numbers are counted along a ray straight up, exactly: the point is taken to lie at (x + ε, y + ε²,
// z + ε³), which no edge and no plane holds. For open ones the winding number is a sum of solid angles.
func (h *Health) nest(m *Mesh) {
	for i := range h.Shells {
		h.Shells[i].Inside = -1
	}
	if len(h.Shells) < 2 {
		return
	}
	around, open := h.candidates()
	if around != nil {
		probes := h.probes(m)
		c := newColumns(m, h.ShellOf, around, h.Box)
		const block = 64
		Parallel((len(h.Shells)+block-1)/block, func(k int) {
			for s := k * block; s < min(len(h.Shells), (k+1)*block); s++ {
				h.Shells[s].Inside = h.holder(c, s, &probes[s])
			}
		})
	}
	h.nestInOpen(m, open)
}

// mostCompared bounds the boxes that are compared before the search; shells that are left then count as
// ones that may lie around others, and open ones as ones that do not.
const mostCompared = 50_000_000

// candidates returns which closed shells may lie around another one, nil where none may, and the open
// ones whose box has other shells in it, with those. A box in another one begins no farther along X than
// the other ends, so that only these are compared.
func (h *Health) candidates() (around []bool, open map[int][]int) {
	n := len(h.Shells)
	byX := make([]int, n)
	for i := range byX {
		byX[i] = i
	}
	slices.SortStableFunc(byX, func(a, b int) int { return cmp.Compare(h.Shells[a].Box.Min.X, h.Shells[b].Box.Min.X) })
	around, open = make([]bool, n), map[int][]int{}
	some := false
	left := mostCompared
	for i := range h.Shells {
		t := &h.Shells[i]
		at, _ := slices.BinarySearchFunc(byX, t.Box.Min.X, func(k int, x float64) int { return cmp.Compare(h.Shells[k].Box.Min.X, x) })
		for ; at < n && h.Shells[byX[at]].Box.Min.X <= t.Box.Max.X && left > 0; at++ {
			left--
			j := byX[at]
			if i == j || !within(h.Shells[j].Box, t.Box) {
				continue
			}
			if t.Closed {
				around[i], some = true, true
				break
			}
			open[i] = append(open[i], j)
		}
		if left <= 0 && t.Closed {
			around[i], some = true, true
		}
	}
	if !some {
		return nil, open
	}
	return around, open
}

// within reports whether a lies in b.
func within(a, b geom.Box3) bool {
	return a.Min.X >= b.Min.X && a.Min.Y >= b.Min.Y && a.Min.Z >= b.Min.Z &&
		a.Max.X <= b.Max.X && a.Max.Y <= b.Max.Y && a.Max.Z <= b.Max.Z
}

// probes are places of a shell: the six vertices that reach farthest along the axes, and the middles of
// six triangles spread over its list, for a shell that touches another one may have all its outermost
// vertices on it.
const probesPerShell = 12

func (h *Health) probes(m *Mesh) [][probesPerShell]geom.Vec3 {
	out := make([][probesPerShell]geom.Vec3, len(h.Shells))
	for s := range out {
		a, _, _ := m.Corners(h.Shells[s].First)
		for k := range out[s] {
			out[s][k] = a
		}
	}
	count := make([]int, len(h.Shells))
	for i, t := range m.Triangles {
		s := h.ShellOf[i]
		o := &out[s]
		for _, k := range t {
			outermost(o, m.Vertices[k])
		}
		if k := 6 * count[s] / h.Shells[s].Triangles; count[s] == 0 || k != 6*(count[s]-1)/h.Shells[s].Triangles {
			a, b, c := m.Corners(i)
			o[6+k] = a.Add(b).Add(c).Mul(1.0 / 3)
		}
		count[s]++
	}
	return out
}

func outermost(o *[probesPerShell]geom.Vec3, v geom.Vec3) {
	if v.X < o[0].X {
		o[0] = v
	}
	if v.X > o[1].X {
		o[1] = v
	}
	if v.Y < o[2].Y {
		o[2] = v
	}
	if v.Y > o[3].Y {
		o[3] = v
	}
	if v.Z < o[4].Z {
		o[4] = v
	}
	if v.Z > o[5].Z {
		o[5] = v
	}
}

// holder returns the smallest closed shell around shell s, −1 where there is none.
func (h *Health) holder(c *columns, s int, probes *[probesPerShell]geom.Vec3) int {
	type tally struct{ shell, in, out, winding, on int32 }
	var seen []tally
	var hits []crossing
	for k := range probes {
		hits = c.up(hits[:0], probes[k])
		for i := range seen {
			seen[i].winding, seen[i].on = 0, 0
		}
		for _, x := range hits {
			if int(x.shell) == s {
				continue
			}
			at := -1
			for i := range seen {
				if seen[i].shell == x.shell {
					at = i
				}
			}
			if at < 0 {
				// the probes before this one met nothing of it
				at = len(seen)
				seen = append(seen, tally{shell: x.shell, out: int32(k)})
			}
			seen[at].winding += int32(x.turns)
			if x.on {
				seen[at].on = 1
			}
		}
		for i := range seen {
			switch y := &seen[i]; {
			case y.on != 0:
			case y.winding != 0:
				y.in++
			default:
				y.out++
			}
		}
	}
	best, size := -1, math.Inf(1)
	for _, y := range seen {
		b := h.Shells[y.shell].Box
		if y.in == 0 || y.out > 0 || !within(h.Shells[s].Box, b) {
			continue
		}
		d := b.Size()
		if l := d.Dot(d); l < size || l == size && int(y.shell) > best {
			best, size = int(y.shell), l
		}
	}
	return best
}

// crossing is a triangle of a shell over a point: +1 where it faces up, −1 where it faces down; on says
// that the point may lie in the triangle.
type crossing struct {
	shell int32
	turns int8
	on    bool
}

// columns are the triangles of some shells by the cells of a grid over x and y that their boxes meet.
type columns struct {
	m        *Mesh
	shell    []int32
	min      geom.Vec3
	inv      float64 // cells a unit of length
	nx, ny   int
	start    []int32
	triangle []int32
}

func newColumns(m *Mesh, shell []int32, take []bool, box geom.Box3) *columns {
	n := 0
	for i := range m.Triangles {
		if take[shell[i]] {
			n++
		}
	}
	size := box.Size()
	c := &columns{m: m, shell: shell, min: box.Min}
	// about as many cells as triangles, then fewer until a triangle is in eight of them at most on the whole
	for cells := max(1, math.Sqrt(float64(n))); ; cells /= 2 {
		c.inv = cells / max(size.X, size.Y, math.SmallestNonzeroFloat64)
		if cells < 1 || math.IsInf(c.inv, 0) {
			c.inv = 0
		}
		c.nx, c.ny = int(size.X*c.inv)+1, int(size.Y*c.inv)+1
		refs := 0
		for i := range m.Triangles {
			if take[shell[i]] {
				x0, y0, x1, y1 := c.span(i)
				refs += (x1 - x0 + 1) * (y1 - y0 + 1)
			}
		}
		if refs <= 8*n+64 || c.inv == 0 {
			c.fill(take, refs)
			return c
		}
	}
}

func (c *columns) cell(p geom.Vec3) (x, y int) {
	x, y = int((p.X-c.min.X)*c.inv), int((p.Y-c.min.Y)*c.inv)
	return min(max(x, 0), c.nx-1), min(max(y, 0), c.ny-1)
}

// span is the cells of a triangle's box. The same function places points, so that a point in the box
// has its cell among them.
func (c *columns) span(i int) (x0, y0, x1, y1 int) {
	a, b, d := c.m.Corners(i)
	x0, y0 = c.cell(geom.Vec3{X: min(a.X, b.X, d.X), Y: min(a.Y, b.Y, d.Y)})
	x1, y1 = c.cell(geom.Vec3{X: max(a.X, b.X, d.X), Y: max(a.Y, b.Y, d.Y)})
	return x0, y0, x1, y1
}

func (c *columns) fill(take []bool, refs int) {
	c.start = make([]int32, c.nx*c.ny+1)
	c.triangle = make([]int32, refs)
	each := func(f func(cell, i int)) {
		for i := range c.m.Triangles {
			if !take[c.shell[i]] {
				continue
			}
			x0, y0, x1, y1 := c.span(i)
			for y := y0; y <= y1; y++ {
				for x := x0; x <= x1; x++ {
					f(y*c.nx+x, i)
				}
			}
		}
	}
	each(func(cell, i int) { c.start[cell+1]++ })
	for k := range c.nx * c.ny {
		c.start[k+1] += c.start[k]
	}
	at := append([]int32(nil), c.start...)
	each(func(cell, i int) {
		c.triangle[at[cell]] = int32(i)
		at[cell]++
	})
}

// up appends the triangles that the ray straight up from p crosses, and those that p may lie in.
func (c *columns) up(hits []crossing, p geom.Vec3) []crossing {
	x, y := c.cell(p)
	k := y*c.nx + x
	for _, i := range c.triangle[c.start[k]:c.start[k+1]] {
		a, b, d := c.m.Corners(int(i))
		if p.Z > max(a.Z, b.Z, d.Z) || p.X < min(a.X, b.X, d.X) || p.X > max(a.X, b.X, d.X) ||
			p.Y < min(a.Y, b.Y, d.Y) || p.Y > max(a.Y, b.Y, d.Y) {
			continue
		}
		if turns, on := over(a, b, d, p); turns != 0 || on {
			hits = append(hits, crossing{c.shell[i], turns, on})
		}
	}
	return hits
}

// over tells how triangle abc lies over p moved by (ε, ε², ε³).
func over(a, b, c, p geom.Vec3) (turns int8, on bool) {
	q := p.XY()
	s1, n1 := nudged(a.XY(), b.XY(), q)
	s2, n2 := nudged(b.XY(), c.XY(), q)
	s3, n3 := nudged(c.XY(), a.XY(), q)
	if max(s1, s2, s3) > 0 && min(s1, s2, s3) < 0 {
		return 0, false // outside of the closed triangle seen from above
	}
	side := geom.Orient3D(a, b, c, p)
	on = side == 0 && p.Z >= min(a.Z, b.Z, c.Z)
	if n1 != n2 || n2 != n3 {
		return 0, on
	}
	if side == 0 {
		side = tilt(a, b, c)
	}
	if side*n1 < 0 { // below the plane: n1 is the sign of the normal's z
		return int8(n1), on
	}
	return 0, on
}

// nudged is the orientation of a, b, p, and that with p moved by (ε, ε²); the second is 0 only where a
// and b are one point.
func nudged(a, b, p geom.Vec2) (plain, moved int) {
	plain = geom.Orient2D(a, b, p)
	switch {
	case plain != 0:
		return plain, plain
	case a.Y != b.Y:
		if a.Y > b.Y {
			return 0, 1
		}
		return 0, -1
	case a.X < b.X:
		return 0, 1
	case a.X > b.X:
		return 0, -1
	}
	return 0, 0
}

// tilt is the side of the plane of a, b, c on which a point of it comes to lie when it is moved by
// (ε, ε², ε³): the sign of the first part of the normal that is not 0.
func tilt(a, b, c geom.Vec3) int {
	if s := geom.Orient2D(geom.Vec2{X: a.Y, Y: a.Z}, geom.Vec2{X: b.Y, Y: b.Z}, geom.Vec2{X: c.Y, Y: c.Z}); s != 0 {
		return s
	}
	if s := geom.Orient2D(geom.Vec2{X: a.Z, Y: a.X}, geom.Vec2{X: b.Z, Y: b.X}, geom.Vec2{X: c.Z, Y: c.X}); s != 0 {
		return s
	}
	return geom.Orient2D(a.XY(), b.XY(), c.XY())
}

// mostAngles bounds the solid angles summed for shells inside open ones: a tenth of a second or so.
const mostAngles = 4_000_000

// nestInOpen looks whether open shells wind around others by more than half. Shells are taken in order,
// the largest first, until the work is used up.
func (h *Health) nestInOpen(m *Mesh, open map[int][]int) {
	left := mostAngles
	for t := range h.Shells {
		inner := open[t]
		if left -= len(inner) * h.Shells[t].Triangles; left < 0 {
			return
		}
		if len(inner) == 0 {
			continue
		}
		part := &Mesh{Vertices: m.Vertices}
		for i, s := range h.ShellOf {
			if int(s) == t {
				part.Triangles = append(part.Triangles, m.Triangles[i])
			}
		}
		d := h.Shells[t].Box.Size()
		for _, s := range inner {
			a, b, c := m.Corners(h.Shells[s].First)
			if math.Abs(part.Winding(a.Add(b).Add(c).Mul(1.0/3))) <= 0.5 {
				continue
			}
			if at := h.Shells[s].Inside; at >= 0 {
				if e := h.Shells[at].Box.Size(); e.Dot(e) <= d.Dot(d) {
					continue
				}
			}
			h.Shells[s].Inside = t
		}
	}
}
