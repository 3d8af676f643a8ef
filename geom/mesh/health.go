package mesh

import (
	"cmp"
	"math"
	"slices"

	"barwise/geom"
)

// Health is what can be said of a mesh as the surface of a solid. Lengths are in the mesh's unit.
type Health struct {
	Triangles int
	Vertices  int // that triangles use
	Edges     int
	Box       geom.Box3
	Area      float64
	Volume    float64 // signed, positive where triangles face outward; means little where the mesh is open
	MeanEdge  float64
	Closed    bool // every edge has as many triangles along it as against it, so that there is an inside

	Loops []Loop // boundary loops, longest first

	Crowded   int       // edges at which more than two triangles meet
	CrowdedAt geom.Vec3 // the middle of the first
	Flipped   int       // edges whose two triangles run along them the same way
	FlippedAt geom.Vec3
	Turned    int       // triangles to turn over so that neighbours agree; the fewer of each shell
	OneSided  bool      // some shell has no two sides, as a Möbius strip
	Pinched   int       // vertices at which two or more fans of triangles touch
	PinchedAt geom.Vec3 // the first

	Duplicates   int // triangles on the three corners of another one
	DuplicateAt  geom.Vec3
	Degenerate   int // triangles lower than a ten-millionth of their longest edge, or with a repeated corner
	DegenerateAt geom.Vec3

	Shells  []Shell // pieces joined across edges, largest area first
	ShellOf []int32 // the shell of every triangle
}

// Shell is one piece of surface, joined across edges.
type Shell struct {
	Triangles int
	First     int // its first triangle
	Box       geom.Box3
	Area      float64
	Volume    float64 // signed
	Euler     int     // vertices − edges + triangles, vertices counted once for each fan
	Loops     int     // boundary loops
	Closed    bool
	// Inside is the smallest shell this one lies inside, −1 where there is none: its box lies in the
	// other's, and a dozen places of it, its outermost vertices among them, have a winding number there
	// that is not 0, but for those exactly on the other's surface.
	Inside int
}

// Genus is the number of handles of a closed shell: (2 − χ)/2.
func (s Shell) Genus() int { return (2 - s.Euler) / 2 }

// slim is the height of a triangle, in parts of its longest edge, below which it counts as degenerate:
// about what is left of the direction of its normal in float32 coordinates.
const slim = 1e-7

// Health looks the mesh over, in time that grows with its size.
func (m *Mesh) Health() *Health { return m.HealthWith(m.Edges()) }

// HealthWith is Health for one who has the edges already.
func (m *Mesh) HealthWith(e *Edges) *Health {
	h := &Health{Triangles: len(m.Triangles), Edges: e.Edges, Box: m.Box(), Crowded: e.Crowded, Flipped: e.Flipped,
		Closed: e.Open == 0 && e.Flipped == 0 && len(m.Triangles) > 0}
	if e.CrowdedAt >= 0 {
		h.CrowdedAt = e.middle(e.CrowdedAt)
	}
	if e.FlippedAt >= 0 {
		h.FlippedAt = e.middle(e.FlippedAt)
	}
	label := h.shells(m, e)
	h.measure(m, label)
	h.corners(m, e, label)
	h.loops(m, e, label)
	h.duplicates(m, e)
	h.rank(label)
	h.nest(m)
	return h
}

func (e *Edges) middle(h int32) geom.Vec3 {
	a, b := e.Ends(h)
	return e.m.Vertices[a].Lerp(e.m.Vertices[b], 0.5)
}

// shells labels the triangles by piece and compares the facing of neighbours.
func (h *Health) shells(m *Mesh, e *Edges) (label []int32) {
	label = make([]int32, len(m.Triangles))
	for i := range label {
		label[i] = -1
	}
	turned := make([]bool, len(m.Triangles))
	var stack []int32
	for i := range label {
		if label[i] >= 0 {
			continue
		}
		k := int32(len(h.Shells))
		s := Shell{First: i, Closed: true, Box: geom.EmptyBox()}
		over := 0
		label[i] = k
		for stack = append(stack[:0], int32(i)); len(stack) > 0; {
			t := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			s.Triangles++
			if turned[t] {
				over++
			}
			for c := range int32(3) {
				g := e.Mate[3*t+c]
				if g == Border {
					s.Closed = false
					s.Euler -= 2
					continue
				}
				s.Euler--
				a, _ := e.Ends(3*t + c)
				b, _ := e.Ends(g)
				same := a == b
				if same {
					s.Closed = false
				}
				o := g / 3
				if label[o] < 0 {
					label[o] = k
					turned[o] = turned[t] != same
					stack = append(stack, o)
				} else if turned[o] != (turned[t] != same) {
					h.OneSided = true
				}
			}
		}
		// so far minus twice the edges, a triangle of a repeated corner apart
		s.Euler = s.Euler/2 + s.Triangles
		h.Turned += min(over, s.Triangles-over)
		h.Shells = append(h.Shells, s)
	}
	return label
}

// measure sums areas, volumes and edge lengths. Volumes are taken about the middle of the box, which
// keeps what cancels small.
func (h *Health) measure(m *Mesh, label []int32) {
	if len(m.Triangles) == 0 {
		return
	}
	o := h.Box.Centre()
	length, first := 0.0, -1
	for i := range m.Triangles {
		a, b, c := m.Corners(i)
		a, b, c = a.Sub(o), b.Sub(o), c.Sub(o)
		n := b.Sub(a).Cross(c.Sub(a))
		twice := n.Len()
		s := &h.Shells[label[i]]
		s.Area += twice / 2
		s.Volume += a.Dot(n) / 6
		s.Box = s.Box.Grow(a.Add(o)).Grow(b.Add(o)).Grow(c.Add(o))
		la, lb, lc := b.Sub(a).Len(), c.Sub(b).Len(), a.Sub(c).Len()
		length += la + lb + lc
		longest := max(la, lb, lc)
		if twice <= slim*longest*longest {
			h.Degenerate++
			if first < 0 {
				first = i
			}
		}
	}
	if first >= 0 {
		h.DegenerateAt = m.Vertices[m.Triangles[first][0]]
	}
	h.MeanEdge = length / float64(3*len(m.Triangles))
	for i := range h.Shells {
		h.Area += h.Shells[i].Area
		h.Volume += h.Shells[i].Volume
	}
}

// corners counts the fans of triangles around every vertex.
func (h *Health) corners(m *Mesh, e *Edges, label []int32) {
	seen := make([]bool, len(e.Mate))
	fans := make([]uint8, len(m.Vertices))
	first := int32(math.MaxInt32)
	for c := range int32(len(seen)) {
		if seen[c] || repeats(&m.Triangles[c/3]) {
			continue
		}
		seen[c] = true
		v, _ := e.Ends(c)
		if !e.fan(seen, v, c) {
			e.fan(seen, v, Prev(c))
		}
		h.Shells[label[c/3]].Euler++
		switch fans[v] {
		case 0:
			h.Vertices++
		case 1:
			h.Pinched++
			first = min(first, v)
		}
		fans[v] = min(fans[v]+1, 2)
	}
	if h.Pinched > 0 {
		h.PinchedAt = m.Vertices[first]
	}
}

// fan marks the corners at v that are reached across edge at, and reports whether it came full circle.
func (e *Edges) fan(seen []bool, v, at int32) bool {
	for {
		g := e.Mate[at]
		if g == Border {
			return false
		}
		c := g
		if from, _ := e.Ends(g); from == v {
			at = Prev(c)
		} else {
			c = Next(g)
			at = c
		}
		if seen[c] {
			return true
		}
		seen[c] = true
	}
}

// rank puts the shells in order of area, largest first.
func (h *Health) rank(label []int32) {
	order := make([]int, len(h.Shells))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(h.Shells[b].Area, h.Shells[a].Area) })
	old, rank := h.Shells, make([]int32, len(order))
	h.Shells = make([]Shell, len(order))
	for i, k := range order {
		h.Shells[i], rank[k] = old[k], int32(i)
	}
	for i, k := range label {
		label[i] = rank[k]
	}
	h.ShellOf = label
}

func (h *Health) duplicates(m *Mesh, e *Edges) {
	ts := slices.Clone(e.suspects)
	slices.Sort(ts)
	seen := map[[3]int32]bool{}
	for _, t := range slices.Compact(ts) {
		k := m.Triangles[t]
		slices.Sort(k[:])
		if !seen[k] {
			seen[k] = true
			continue
		}
		if h.Duplicates++; h.Duplicates == 1 {
			h.DuplicateAt = m.Vertices[m.Triangles[t][0]]
		}
	}
}

// Scale puts all lengths, areas and volumes into a unit k times smaller.
func (h *Health) Scale(k float64) {
	if k == 1 {
		return
	}
	h.Box = scaled(h.Box, k)
	h.Area, h.Volume, h.MeanEdge = h.Area*k*k, h.Volume*k*k*k, h.MeanEdge*k
	for _, p := range [...]*geom.Vec3{&h.CrowdedAt, &h.FlippedAt, &h.PinchedAt, &h.DuplicateAt, &h.DegenerateAt} {
		*p = p.Mul(k)
	}
	for i := range h.Loops {
		h.Loops[i].scale(k)
	}
	for i := range h.Shells {
		s := &h.Shells[i]
		s.Box, s.Area, s.Volume = scaled(s.Box, k), s.Area*k*k, s.Volume*k*k*k
	}
}

func scaled(b geom.Box3, k float64) geom.Box3 { return geom.Box3{Min: b.Min.Mul(k), Max: b.Max.Mul(k)} }
