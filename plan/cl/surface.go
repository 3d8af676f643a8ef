package cl

import (
	"math"
	"slices"

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
	normals []geom.Vec3 // unit, outward by the winding; zero for a facet with no area
	start   []int32     // the star of vertex v is fans[start[v]:start[v+1]]
	fans    []corner
	kinds   []kind
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
		kinds:   make([]kind, len(m.Vertices)),
	}
	inChunks(len(m.Triangles), 8192, s.facetNormals)
	s.gather()
	inChunks(len(m.Vertices), 4096, func(lo, hi int) {
		var w fanSorter
		for v := lo; v < hi; v++ {
			s.kinds[v] = s.arrange(int32(v), &w)
		}
	})
	return s
}

// sound reports whether a triangle's corners are numbers; one that has none is as if it were not there.
func sound(a, b, c geom.Vec3) bool { return a.Finite() && b.Finite() && c.Finite() }

func (s *Surface) facetNormals(lo, hi int) {
	for i := lo; i < hi; i++ {
		a, b, c := s.mesh.Corners(i)
		u, v := b.Sub(a), c.Sub(a)
		n := u.Cross(v)
		l2, longest := n.Dot(n), max(u.Dot(u), v.Dot(v))
		// the height over the longest side must be well above what rounding moves it by
		if l2 > 1e-20*float64(longest*longest) && l2 < math.Inf(1) {
			s.normals[i] = n.Mul(1 / math.Sqrt(l2))
		}
	}
}

// gather sorts the facets by their vertices, by counting.
func (s *Surface) gather() {
	tris := s.mesh.Triangles
	for i := range tris {
		t := &tris[i]
		s.start[t[0]]++
		s.start[t[1]]++
		s.start[t[2]]++
	}
	sum := int32(0)
	for v := range s.start {
		sum += s.start[v]
		s.start[v] = sum
	}
	s.fans = make([]corner, sum)
	for i := len(tris) - 1; i >= 0; i-- {
		for _, v := range tris[i] {
			s.start[v]--
			s.fans[s.start[v]].facet = int32(i)
		}
	}
}

// fanSorter is a worker's scratch.
type fanSorter struct {
	spokes []spoke
	order  []corner
}

type spoke struct{ from, to, facet int32 }

// arrange puts the star of v in order and says what it is.
func (s *Surface) arrange(v int32, w *fanSorter) kind {
	fan := s.fans[s.start[v]:s.start[v+1]]
	if len(fan) < 3 || !s.linkFan(v, fan, w) {
		return loose
	}
	copy(fan, w.order)
	if !s.isGraph(v, fan) {
		return loose
	}
	return s.bends(v, fan)
}

// linkFan follows the facets round v into w.order; false where they do not form one closed fan of
// sound facets.
func (s *Surface) linkFan(v int32, fan []corner, w *fanSorter) bool {
	w.spokes, w.order = w.spokes[:0], w.order[:0]
	for _, c := range fan {
		t := &s.mesh.Triangles[c.facet]
		if s.normals[c.facet] == (geom.Vec3{}) {
			return false
		}
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

// isGraph reports whether the fan, seen along the mean of its normals, shows every facet's outside and
// goes round once. Then the normals of all planes that rest on the star at v lie in the cone spanned by
// the facets' normals: smooth the star's height over that plane a little, and where it exceeds the
// resting plane most its gradient is that plane's, while being a mean of the facets' gradients.
func (s *Surface) isGraph(v int32, fan []corner) bool {
	var mean geom.Vec3
	for _, c := range fan {
		mean = mean.Add(s.normals[c.facet])
	}
	mean = mean.Unit()
	for _, c := range fan {
		if s.normals[c.facet].Dot(mean) < 1e-3 {
			return false
		}
	}
	side := sideways(mean)
	at := s.mesh.Vertices[v]
	rounds := 0
	before := s.mesh.Vertices[fan[len(fan)-1].next].Sub(at).Dot(side) >= 0
	for _, c := range fan {
		now := s.mesh.Vertices[c.next].Sub(at).Dot(side) >= 0
		if now && !before {
			rounds++
		}
		before = now
	}
	return rounds == 1
}

// sideways returns some direction square to n.
func sideways(n geom.Vec3) geom.Vec3 {
	if math.Abs(n.X) < 0.7 {
		return geom.Vec3{Y: n.Z, Z: -n.Y}
	}
	return geom.Vec3{X: -n.Z, Z: n.X}
}

// bends marks the edges of the fan that bend outward and counts both kinds. A plane can rest on the
// star at v alone, with room to rock, only if three or more of the star's edges bend away from it.
func (s *Surface) bends(v int32, fan []corner) kind {
	at := s.mesh.Vertices[v]
	before := s.normals[fan[len(fan)-1].facet]
	out, in := 0, 0
	for i := range fan {
		n := s.normals[fan[i].facet]
		e := s.mesh.Vertices[fan[i].next].Sub(at)
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
	var k kind
	if out >= 3 {
		k |= peak
	}
	if in >= 3 {
		k |= pit
	}
	return k
}
