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
	mesh  *mesh.Mesh
	start []int32 // the star of vertex v is fans[start[v]:start[v+1]]
	fans  []corner
	stars []star
}

// corner is one facet of a star. In a regular star the facet lies between the edges to next and to the
// following corner's next, counter-clockwise seen from outside; in a loose star next is the facet's number.
// Normals are unit vectors rounded to float32, the same for all corners of a facet; zero for a facet
// with no area.
type corner struct {
	next   int32 // and in bit 31 of a regular star's whether the edge to it bends outward
	normal normal
}

type normal [3]float32

func (n normal) vec() geom.Vec3 {
	return geom.Vec3{X: float64(n[0]), Y: float64(n[1]), Z: float64(n[2])}
}

const bendBit = 1 << 31

func (c corner) vertex() int32 { return int32(uint32(c.next) &^ bendBit) }
func (c corner) convex() bool  { return c.next < 0 }

// star bounds what lies round a vertex: all within radius, all normals at an angle of at most that of
// sine sin from the axis, so at a distance of at most chord.
type star struct {
	axis               [3]float32
	sin, chord, radius float32
	kind               kind
}

// kind is what may be touched at a vertex itself.
type kind uint8

const (
	peak  kind = 1 << iota // it may stand out from outside: three or more edges bend outward
	pit                    // the same from within the material
	loose                  // not a regular star
)

// flatBend is the sine of a bend that counts as none, and so as either.
const flatBend = 1e-6

// NewSurface works out once what all sides and cutters need of m, in the part frame. The mesh may be
// open, not manifold or degenerate; every triangle counts, from both of its faces.
func NewSurface(m *mesh.Mesh) *Surface {
	s := &Surface{mesh: m, stars: make([]star, len(m.Vertices))}
	normals := make([]normal, len(m.Triangles))
	var doubt atomic.Bool
	inChunks(len(m.Triangles), 8192, func(lo, hi int) {
		if s.facetNormals(normals, lo, hi) {
			doubt.Store(true)
		}
	})
	if doubt.Load() {
		s.markLoose(normals)
	}
	corners := s.gather(normals)
	s.fans = make([]corner, len(corners))
	inChunks(len(m.Vertices), 4096, func(lo, hi int) {
		w := &fanSorter{normals: normals}
		for v := lo; v < hi; v++ {
			s.arrange(int32(v), corners[s.start[v]:s.start[v+1]], w)
		}
	})
	return s
}

// facetNormals reports whether there was a facet with no normal: it gets zero where it has no area and
// NaN where its corners are no numbers, as if it were not there.
func (s *Surface) facetNormals(normals []normal, lo, hi int) (doubt bool) {
	for i := lo; i < hi; i++ {
		a, b, c := s.mesh.Corners(i)
		u, v := b.Sub(a), c.Sub(a)
		n := u.Cross(v)
		l2, longest := n.Dot(n), max(u.Dot(u), v.Dot(v))
		// the height over the longest side must be well above what rounding moves it by
		if l2 > 1e-20*float64(longest*longest) && l2 < math.Inf(1) {
			k := 1 / math.Sqrt(l2)
			normals[i] = normal{float32(n.X * k), float32(n.Y * k), float32(n.Z * k)}
			continue
		}
		doubt = true
		if !a.Finite() || !b.Finite() || !c.Finite() {
			normals[i][0] = float32(math.NaN())
		}
	}
	return doubt
}

// markLoose makes loose the stars of all facets that have no normal.
func (s *Surface) markLoose(normals []normal) {
	for i, n := range normals {
		if n == (normal{}) || n[0] != n[0] {
			for _, v := range s.mesh.Triangles[i] {
				s.stars[v].kind = loose
			}
		}
	}
}

// gather sorts the corners of the facets by vertex, by counting; a corner is 4·facet + its place. Every
// core counts and places its own share of the facets.
func (s *Surface) gather(normals []normal) []uint32 {
	tris, n := s.mesh.Triangles, len(s.mesh.Vertices)
	s.start = make([]int32, n+1)
	parts := max(1, min(runtime.GOMAXPROCS(0), 8, len(tris)/4096))
	share := (len(tris) + parts - 1) / parts
	counts := make([]int32, parts*n)
	inChunks(len(tris), share, func(lo, hi int) {
		count := counts[lo/share*n:][:n]
		for i := lo; i < hi; i++ {
			if t := &tris[i]; normals[i][0] == normals[i][0] {
				count[t[0]]++
				count[t[1]]++
				count[t[2]]++
			}
		}
	})
	sum := int32(0)
	for v := range n {
		s.start[v] = sum
		for p := v; p < len(counts); p += n {
			counts[p], sum = sum, sum+counts[p]
		}
	}
	s.start[n] = sum
	corners := make([]uint32, sum)
	inChunks(len(tris), share, func(lo, hi int) {
		at := counts[lo/share*n:][:n]
		for i := lo; i < hi; i++ {
			if normals[i][0] != normals[i][0] {
				continue
			}
			for k, v := range tris[i] {
				corners[at[v]] = uint32(4*i + k)
				at[v]++
			}
		}
	})
	return corners
}

// fanSorter is a worker's scratch.
type fanSorter struct {
	normals []normal
	spokes  []spoke
	order   []spoke // the fan in order
	edges   []geom.Vec3
}

// spoke is a facet at a vertex: its other corners, counter-clockwise.
type spoke struct {
	from, to int32
	n        geom.Vec3
}

// arrange puts the star of v in order and says what it is.
func (s *Surface) arrange(v int32, corners []uint32, w *fanSorter) {
	fan := s.fans[s.start[v]:s.start[v+1]]
	st := &s.stars[v]
	if len(fan) < 3 || st.kind == loose || !s.linkFan(corners, w) || !s.bound(v, st, w) {
		s.boundLoose(v, corners, fan, st, w)
		return
	}
	st.kind = bends(fan, w)
}

// boundLoose keeps a star of which nothing is known.
func (s *Surface) boundLoose(v int32, corners []uint32, fan []corner, st *star, w *fanSorter) {
	at := s.mesh.Vertices[v]
	r2 := 0.0
	for i, c := range corners {
		fan[i] = corner{int32(c / 4), w.normals[c/4]}
		for _, p := range s.mesh.Triangles[c/4] {
			e := s.mesh.Vertices[p].Sub(at)
			r2 = max(r2, e.Dot(e))
		}
	}
	*st = star{sin: 2, chord: 2, radius: roundUp(math.Sqrt(r2)), kind: loose}
}

func roundUp(x float64) float32 { return float32(x * (1 + 1e-6)) }

// around gives the other two places of a facet's corner, counter-clockwise.
var around = [4][2]uint8{{1, 2}, {2, 0}, {0, 1}}

// manySpokes is the number from which spokes are found by their order.
const manySpokes = 24

// linkFan follows the facets round v into w.order; false where they do not form one closed fan.
func (s *Surface) linkFan(corners []uint32, w *fanSorter) bool {
	n := len(corners)
	if cap(w.spokes) < n {
		w.spokes, w.order, w.edges = make([]spoke, 2*n), make([]spoke, 2*n), make([]geom.Vec3, 2*n)
	}
	spokes, order := w.spokes[:n], w.order[:n]
	for i, c := range corners {
		t, k := &s.mesh.Triangles[c/4], &around[c%4]
		spokes[i] = spoke{t[k[0]], t[k[1]], w.normals[c/4].vec()}
	}
	if n > manySpokes {
		slices.SortFunc(spokes, func(a, b spoke) int { return int(a.from) - int(b.from) })
	}
	at := 0
	first := spokes[0].from
	for i := range order {
		order[i] = spokes[at]
		to := spokes[at].to
		if to == first {
			return i == n-1
		}
		if at = findSpoke(spokes, to); at < 0 {
			return false
		}
	}
	return false
}

func findSpoke(spokes []spoke, from int32) int {
	if len(spokes) > manySpokes {
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
	n := int(s.start[v+1] - s.start[v])
	order, edges := w.order[:n], w.edges[:n]
	var mean geom.Vec3
	r2 := 0.0
	for i := range order {
		sp := &order[i]
		e := s.mesh.Vertices[sp.from].Sub(at)
		edges[i] = e
		mean = mean.Add(sp.n)
		r2 = max(r2, e.Dot(e))
	}
	mean = mean.Unit()
	side := sideways(mean)
	least, rounds := 1.0, 0
	before := edges[n-1].Dot(side) >= 0
	for i := range order {
		least = min(least, order[i].n.Dot(mean))
		now := edges[i].Dot(side) >= 0
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
	st.chord = roundUp(math.Sqrt(max(0, 2-2*least))) + 1e-6
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

// bends writes the fan down, marks the edges that bend outward and counts both kinds. A plane can rest on
// the star at its vertex alone, with room to rock, only if three or more of its edges bend away from it.
func bends(fan []corner, w *fanSorter) (k kind) {
	before := w.order[len(fan)-1].n
	out, in := 0, 0
	for i := range fan {
		sp, e := &w.order[i], w.edges[i]
		b := e.Dot(before.Cross(sp.n))
		tol := flatBend * (math.Abs(e.X) + math.Abs(e.Y) + math.Abs(e.Z))
		next := uint32(sp.from)
		if b <= tol {
			next |= bendBit
			out++
		}
		if b >= -tol {
			in++
		}
		fan[i] = corner{int32(next), normal{float32(sp.n.X), float32(sp.n.Y), float32(sp.n.Z)}}
		before = sp.n
	}
	if out >= 3 {
		k |= peak
	}
	if in >= 3 {
		k |= pit
	}
	return k
}
