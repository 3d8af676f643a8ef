package cl

import (
	"math"
	"runtime"
	"slices"
	"sync/atomic"

	"barwise/geom"
	"barwise/geom/mesh"
)

// Surface is a mesh made ready to be asked for cutter locations from any side with any cutter. It is
// safe for concurrent use.
//
// The facets round a vertex are its star. A regular star is a closed fan of sound, consistently wound
// facets that is a graph over some plane; of it the order of its facets and the bend of its edges are
// kept. All others are loose: drawn with no bound on their normals.
type Surface struct {
	mesh    *mesh.Mesh
	normals []geom.Vec3 // unit, outward by the winding; zero for a facet with no area, NaN for one to skip
	start   []int32     // the star of vertex v is fans[start[v]:start[v+1]]
	fans    []corner
	stars   []star
}

// corner is one facet of a star. In a regular star the facet lies between the edges to next and to the
// following corner's next, counter-clockwise seen from outside; in a loose star only facet is set.
type corner struct {
	next  int32 // neighbour, and in bit 31 whether the edge to it bends outward
	facet int32
}

const bendBit = 1 << 31

func (c corner) vertex() int32 { return int32(uint32(c.next) &^ bendBit) }
func (c corner) convex() bool  { return c.next < 0 }

// star bounds what lies round a vertex: all within radius, all normals within the angle of sine sin of
// the axis.
type star struct {
	axis        [3]float32
	sin, radius float32
	kind        kind
}

// kind is what may be touched at a vertex itself.
type kind uint8

const (
	peak  kind = 1 << iota // it may stand out from outside: three or more edges bend outward
	pit                    // the same from within the material
	loose                  // not a regular star
)

// flatBend is the sine of a bend that counts as none, and so as either.
const flatBend = 1e-9

// NewSurface works out once what all sides and cutters need of m, in the part frame. The mesh may be
// open, not manifold or degenerate; every triangle counts, from both of its faces.
func NewSurface(m *mesh.Mesh) *Surface {
	s := &Surface{mesh: m,
		normals: make([]geom.Vec3, len(m.Triangles)),
		start:   make([]int32, len(m.Vertices)+1),
		stars:   make([]star, len(m.Vertices)),
	}
	var doubt atomic.Bool
	inChunks(len(m.Triangles), 8192, func(lo, hi int) {
		if s.facetNormals(lo, hi) {
			doubt.Store(true)
		}
	})
	if doubt.Load() {
		s.markLoose()
	}
	s.gather()
	inChunks(len(m.Vertices), 4096, func(lo, hi int) {
		var w fanSorter
		for v := lo; v < hi; v++ {
			s.arrange(int32(v), &w)
		}
	})
	return s
}

// facetNormals reports whether there was a facet with no normal.
func (s *Surface) facetNormals(lo, hi int) (doubt bool) {
	for i := lo; i < hi; i++ {
		a, b, c := s.mesh.Corners(i)
		u, v := b.Sub(a), c.Sub(a)
		n := u.Cross(v)
		l2, longest := n.Dot(n), max(u.Dot(u), v.Dot(v))
		// the height over the longest side must be well above what rounding moves it by
		if l2 > 1e-20*float64(longest*longest) && l2 < math.Inf(1) {
			s.normals[i] = n.Mul(1 / math.Sqrt(l2))
			continue
		}
		doubt = true
		if !a.Finite() || !b.Finite() || !c.Finite() {
			s.normals[i].X = math.NaN() // as if it were not there
		}
	}
	return doubt
}

// markLoose makes loose the stars of all facets that have no normal.
func (s *Surface) markLoose() {
	for i := range s.normals {
		if n := s.normals[i]; n == (geom.Vec3{}) || n.X != n.X {
			for _, v := range s.mesh.Triangles[i] {
				s.stars[v].kind = loose
			}
		}
	}
}

// gather sorts the facets by their vertices, by counting, every core its own share of the vertices.
func (s *Surface) gather() {
	n := len(s.mesh.Vertices)
	parts := min(runtime.GOMAXPROCS(0), 8)
	share := (n + parts - 1) / max(parts, 1)
	if share == 0 {
		return
	}
	inChunks(n, share, func(lo, hi int) {
		s.eachCorner(lo, hi, func(v, _ int32) { s.start[v]++ })
	})
	sum := int32(0)
	for v := range s.start {
		s.start[v], sum = sum, sum+s.start[v]
	}
	s.fans = make([]corner, sum)
	inChunks(n, share, func(lo, hi int) {
		at := append([]int32(nil), s.start[lo:hi]...)
		s.eachCorner(lo, hi, func(v, facet int32) {
			s.fans[at[int(v)-lo]].facet = facet
			at[int(v)-lo]++
		})
	})
}

// eachCorner calls f for every corner of a facet at a vertex from lo to below hi.
func (s *Surface) eachCorner(lo, hi int, f func(v, facet int32)) {
	for i := range s.mesh.Triangles {
		t := &s.mesh.Triangles[i]
		in0, in1, in2 := uint(t[0])-uint(lo) < uint(hi-lo), uint(t[1])-uint(lo) < uint(hi-lo), uint(t[2])-uint(lo) < uint(hi-lo)
		if !in0 && !in1 && !in2 {
			continue
		}
		if n := s.normals[i].X; n != n {
			continue
		}
		if in0 {
			f(t[0], int32(i))
		}
		if in1 {
			f(t[1], int32(i))
		}
		if in2 {
			f(t[2], int32(i))
		}
	}
}

// fanSorter is a worker's scratch.
type fanSorter struct {
	spokes []spoke
	order  []corner
	edges  []geom.Vec3
	faces  []geom.Vec3
}

type spoke struct{ from, to, facet int32 }

// arrange puts the star of v in order and says what it is.
func (s *Surface) arrange(v int32, w *fanSorter) {
	fan := s.fans[s.start[v]:s.start[v+1]]
	st := &s.stars[v]
	if len(fan) < 3 || st.kind == loose || !s.linkFan(v, fan, w) || !s.bound(v, st, w) {
		s.boundLoose(v, fan, st)
		return
	}
	copy(fan, w.order)
	st.kind = bends(fan, w)
}

// boundLoose bounds a star of which nothing is known.
func (s *Surface) boundLoose(v int32, fan []corner, st *star) {
	at := s.mesh.Vertices[v]
	r2 := 0.0
	for _, c := range fan {
		for _, p := range s.mesh.Triangles[c.facet] {
			e := s.mesh.Vertices[p].Sub(at)
			r2 = max(r2, e.Dot(e))
		}
	}
	*st = star{sin: 2, radius: roundUp(math.Sqrt(r2)), kind: loose}
}

func roundUp(x float64) float32 { return float32(x * (1 + 1e-6)) }

// linkFan follows the facets round v into w.order; false where they do not form one closed fan.
func (s *Surface) linkFan(v int32, fan []corner, w *fanSorter) bool {
	w.spokes, w.order = w.spokes[:0], w.order[:0]
	for _, c := range fan {
		t := &s.mesh.Triangles[c.facet]
		switch v {
		case t[0]:
			w.spokes = append(w.spokes, spoke{t[1], t[2], c.facet})
		case t[1]:
			w.spokes = append(w.spokes, spoke{t[2], t[0], c.facet})
		default:
			w.spokes = append(w.spokes, spoke{t[0], t[1], c.facet})
		}
	}
	if len(w.spokes) > 24 {
		slices.SortFunc(w.spokes, func(a, b spoke) int { return int(a.from) - int(b.from) })
	}
	at := 0
	first := w.spokes[0].from
	for n := range w.spokes {
		sp := &w.spokes[at]
		w.order = append(w.order, corner{sp.from, sp.facet})
		if sp.to == first {
			return n == len(w.spokes)-1
		}
		if at = findSpoke(w.spokes, sp.to); at < 0 {
			return false
		}
	}
	return false
}

func findSpoke(spokes []spoke, from int32) int {
	if len(spokes) > 24 {
		i, ok := slices.BinarySearchFunc(spokes, from, func(s spoke, f int32) int { return int(s.from) - int(f) })
		if !ok {
			return -1
		}
		return i
	}
	for i := range spokes {
		if spokes[i].from == from {
			return i
		}
	}
	return -1
}

// bound bounds the ordered fan in w and reports whether it is a graph: whether, seen along the mean of its
// normals, it shows every facet's outside and goes round once. Then the normals of all planes that rest on
// the star at v lie in the cone spanned by the facets' normals: smooth the star's height over that plane a
// little, and where it exceeds the resting plane most its gradient is that plane's, while being a mean of
// the facets' gradients.
func (s *Surface) bound(v int32, st *star, w *fanSorter) bool {
	at := s.mesh.Vertices[v]
	w.edges, w.faces = w.edges[:0], w.faces[:0]
	var mean geom.Vec3
	r2 := 0.0
	for _, c := range w.order {
		e, n := s.mesh.Vertices[c.next].Sub(at), s.normals[c.facet]
		w.edges, w.faces = append(w.edges, e), append(w.faces, n)
		mean.X += n.X
		mean.Y += n.Y
		mean.Z += n.Z
		r2 = max(r2, e.Dot(e))
	}
	mean = mean.Unit()
	side := sideways(mean)
	least, rounds := 1.0, 0
	before := w.edges[len(w.edges)-1].Dot(side) >= 0
	for i := range w.edges {
		least = min(least, w.faces[i].Dot(mean))
		now := w.edges[i].Dot(side) >= 0
		if now && !before {
			rounds++
		}
		before = now
	}
	if least < 1e-3 || rounds != 1 {
		return false
	}
	st.axis = [3]float32{float32(mean.X), float32(mean.Y), float32(mean.Z)}
	st.sin = roundUp(math.Sqrt(max(0, 1-float64(least*least)))) + 1e-6
	st.radius = roundUp(math.Sqrt(r2))
	return true
}

// sideways returns some direction square to n.
func sideways(n geom.Vec3) geom.Vec3 {
	if math.Abs(n.X) < 0.7 {
		return geom.Vec3{Y: n.Z, Z: -n.Y}
	}
	return geom.Vec3{X: -n.Z, Z: n.X}
}

// bends marks the edges of the fan that bend outward and counts both kinds. A plane can rest on the
// star at its vertex alone, with room to rock, only if three or more of its edges bend away from it.
func bends(fan []corner, w *fanSorter) (k kind) {
	before := w.faces[len(fan)-1]
	out, in := 0, 0
	for i := range fan {
		n, e := w.faces[i], w.edges[i]
		b := e.Dot(before.Cross(n))
		tol := flatBend * (math.Abs(e.X) + math.Abs(e.Y) + math.Abs(e.Z))
		if b <= tol {
			fan[i].next = int32(uint32(fan[i].next) | bendBit)
			out++
		}
		if b >= -tol {
			in++
		}
		before = n
	}
	if out >= 3 {
		k |= peak
	}
	if in >= 3 {
		k |= pit
	}
	return k
}
