package mesh

import (
	"cmp"
	"math"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"

	"barwise/geom"
)

// Border is the mate of a half-edge that has none.
const Border int32 = -1

// Edges says which triangles meet at which edges. Half-edge 3t + c runs from corner c of triangle t to
// the corner after it.
type Edges struct {
	m *Mesh
	// Mate of every half-edge: the half-edge of the triangle that carries the surface on, or Border.
	// Where more than two triangles meet at an edge they are paired around it so that the solid lies
	// between the two of a pair. A triangle with a repeated corner has no mates.
	Mate []int32
	// Crowded counts the edges at which more than two triangles meet, Flipped those whose two
	// triangles run along them the same way, Open the half-edges without a mate.
	Crowded, Flipped, Open int
	// Edges counts the distinct edges.
	Edges int
	// CrowdedAt and FlippedAt are half-edges of the first of each, −1 where there is none.
	CrowdedAt, FlippedAt int32

	suspects []int32 // triangles that may have a twin on the same three corners
}

// Ends returns the vertices a half-edge runs from and to.
func (e *Edges) Ends(h int32) (from, to int32) { return e.m.ends(h) }

// Next returns the half-edge after h in its triangle.
func Next(h int32) int32 {
	if h%3 == 2 {
		return h - 2
	}
	return h + 1
}

// Prev returns the half-edge before h in its triangle.
func Prev(h int32) int32 {
	if h%3 == 0 {
		return h + 2
	}
	return h - 1
}

func (m *Mesh) ends(h int32) (from, to int32) {
	t := &m.Triangles[h/3]
	c := h % 3
	if c == 2 {
		return t[2], t[0]
	}
	return t[c], t[c+1]
}

func repeats(t *[3]int32) bool { return t[0] == t[1] || t[1] == t[2] || t[2] == t[0] }

// Edges pairs the half-edges of the mesh, in time that grows with their number: each edge is looked
// for at that end which has fewer triangles.
func (m *Mesh) Edges() *Edges {
	e := &Edges{m: m, Mate: make([]int32, 3*len(m.Triangles)), CrowdedAt: -1, FlippedAt: -1}
	for i := range m.Triangles {
		if repeats(&m.Triangles[i]) {
			e.Mate[3*i], e.Mate[3*i+1], e.Mate[3*i+2] = Border, Border, Border
		}
	}
	start, slot := m.homes()
	n := len(m.Vertices)
	parts := make([]part, (n+homeBlock-1)/homeBlock)
	Parallel(len(parts), func(k int) {
		p := &parts[k]
		p.crowdedAt, p.flippedAt = math.MaxInt32, math.MaxInt32
		for v := k * homeBlock; v < min(n, (k+1)*homeBlock); v++ {
			e.pairHome(int32(v), slot[start[v]:start[v+1]], p)
		}
	})
	first := part{crowdedAt: math.MaxInt32, flippedAt: math.MaxInt32}
	for i := range parts {
		p := &parts[i]
		e.Crowded += p.crowded
		e.Flipped += p.flipped
		e.Open += p.open
		e.Edges += p.edges
		e.suspects = append(e.suspects, p.suspects...)
		first.crowdedAt = min(first.crowdedAt, p.crowdedAt)
		first.flippedAt = min(first.flippedAt, p.flippedAt)
	}
	if e.Crowded > 0 {
		e.CrowdedAt = first.crowdedAt
	}
	if e.Flipped > 0 {
		e.FlippedAt = first.flippedAt
	}
	return e
}

// part is what one block of vertices found.
type part struct {
	crowded, flipped, open, edges int
	crowdedAt, flippedAt          int32
	suspects                      []int32
}

// half is a half-edge with the end of it that is not its home.
type half struct{ other, h int32 }

const homeBlock = 4096

// homes sorts the half-edges by home vertex: start[v] to start[v+1] are those of v in slot.
func (m *Mesh) homes() (start []int32, slot []half) {
	degree := make([]int32, len(m.Vertices))
	for i := range m.Triangles {
		for _, v := range m.Triangles[i] {
			degree[v]++
		}
	}
	home := func(a, b int32) (int32, int32) {
		if degree[a] < degree[b] || degree[a] == degree[b] && a < b {
			return a, b
		}
		return b, a
	}
	start = make([]int32, len(m.Vertices)+1)
	for i := range m.Triangles {
		t := &m.Triangles[i]
		if repeats(t) {
			continue
		}
		for c := range t {
			v, _ := home(t[c], t[(c+1)%3])
			start[v+1]++
		}
	}
	for v := range m.Vertices {
		start[v+1] += start[v]
	}
	slot = make([]half, start[len(m.Vertices)])
	at := slices.Clone(start)
	for i := range m.Triangles {
		t := &m.Triangles[i]
		if repeats(t) {
			continue
		}
		for c := range t {
			v, o := home(t[c], t[(c+1)%3])
			slot[at[v]] = half{o, int32(3*i + c)}
			at[v]++
		}
	}
	return start, slot
}

// pairHome pairs the half-edges whose home is v.
func (e *Edges) pairHome(v int32, hs []half, p *part) {
	sortHalves(hs)
	for i := 0; i < len(hs); {
		j := i + 1
		for j < len(hs) && hs[j].other == hs[i].other {
			j++
		}
		p.edges++
		switch j - i {
		case 1:
			e.Mate[hs[i].h] = Border
			p.open++
		case 2:
			a, b := hs[i].h, hs[i+1].h
			e.Mate[a], e.Mate[b] = b, a
			fa, _ := e.Ends(a)
			if fb, _ := e.Ends(b); fa == fb {
				p.flipped++
				p.flippedAt = min(p.flippedAt, a)
			}
			_, ta := e.Ends(Next(a))
			if _, tb := e.Ends(Next(b)); ta == tb {
				p.suspects = append(p.suspects, a/3, b/3)
			}
		default:
			p.crowded++
			p.crowdedAt = min(p.crowdedAt, hs[i].h)
			p.open += e.pairRound(v, hs[i:j])
			for _, x := range hs[i:j] {
				p.suspects = append(p.suspects, x.h/3)
			}
		}
		i = j
	}
}

// sortHalves sorts by other end, then half-edge: by insertion where there are few, as there mostly are.
func sortHalves(hs []half) {
	if len(hs) > 24 {
		slices.SortFunc(hs, func(a, b half) int { return cmp.Or(cmp.Compare(a.other, b.other), cmp.Compare(a.h, b.h)) })
		return
	}
	for i := 1; i < len(hs); i++ {
		x := hs[i]
		j := i
		for ; j > 0 && (hs[j-1].other > x.other || hs[j-1].other == x.other && hs[j-1].h > x.h); j-- {
			hs[j] = hs[j-1]
		}
		hs[j] = x
	}
}

// pairRound pairs the triangles around a crowded edge and returns how many stay without a mate.
// Turning counter-clockwise about the edge's direction, a triangle that runs along the edge has the
// solid before it and one that runs against it has the solid behind it; so each of the first kind goes
// with the one of the second kind just before it.
func (e *Edges) pairRound(v int32, hs []half) (open int) {
	type leaf struct {
		angle float64
		h     int32
		along bool
	}
	o := e.m.Vertices[v]
	axis := e.m.Vertices[hs[0].other].Sub(o).Unit()
	u := perpendicular(axis)
	w := axis.Cross(u)
	leaves := make([]leaf, len(hs))
	for i, x := range hs {
		from, _ := e.Ends(x.h)
		_, tip := e.Ends(Next(x.h))
		d := e.m.Vertices[tip].Sub(o)
		leaves[i] = leaf{math.Atan2(d.Dot(w), d.Dot(u)), x.h, from == v}
		e.Mate[x.h] = Border
	}
	slices.SortFunc(leaves, func(a, b leaf) int {
		// of two leaves on one another the one that ends a solid comes first: two that touch, not a skin
		return cmp.Or(cmp.Compare(a.angle, b.angle), cmp.Compare(btoi(b.along), btoi(a.along)), cmp.Compare(a.h, b.h))
	})
	// matching brackets round the circle, twice round so that a pair may span the start
	var stack []int
	left := len(leaves)
	for k := range 2 * len(leaves) {
		l := &leaves[k%len(leaves)]
		if e.Mate[l.h] != Border {
			continue
		}
		if !l.along {
			if k < len(leaves) {
				stack = append(stack, k)
			}
			continue
		}
		if n := len(stack); n > 0 {
			a := leaves[stack[n-1]].h
			stack = stack[:n-1]
			e.Mate[a], e.Mate[l.h] = l.h, a
			left -= 2
		}
	}
	return left
}

func btoi(b bool) int {
	if b {
		return 1
	}
	return 0
}

// perpendicular returns a unit vector across a.
func perpendicular(a geom.Vec3) geom.Vec3 {
	x := geom.Vec3{X: 1}
	if math.Abs(a.X) > math.Abs(a.Y) {
		x = geom.Vec3{Y: 1}
	}
	return a.Cross(x).Unit()
}

// turnAround walks from half-edge h about the vertex end, away from h's own edge, across mates, and
// returns the border half-edge it comes to. ok is false where it comes back to h.
func (e *Edges) turnAround(h, end int32) (border int32, ok bool) {
	at := h
	for {
		// the other edge of this triangle at the vertex
		if from, _ := e.Ends(at); from == end {
			at = Prev(at)
		} else {
			at = Next(at)
		}
		if e.Mate[at] == Border {
			return at, true
		}
		if at = e.Mate[at]; at == h {
			return h, false
		}
	}
}

// Parallel runs f for 0 to n−1 on all processors, in any order: f must keep to its own part of what is
// written.
func Parallel(n int, f func(k int)) {
	var next atomic.Int64
	var wg sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), n) {
		wg.Go(func() {
			for k := int(next.Add(1)) - 1; k < n; k = int(next.Add(1)) - 1 {
				f(k)
			}
		})
	}
	wg.Wait()
}
