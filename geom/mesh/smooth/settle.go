package smooth

import (
	"math"

	"barwise/geom"
	"barwise/geom/mesh"
)

// settlings is how often the normals are settled. A few rounds take away what is common to neighbours, which is
// the error of the weights; more would follow the noise of single vertices.
const settlings = 6

// noisy is the square of what normals and chords disagree by, in parts of what the normals turn by, from
// which on a normal is not settled: then the vertices are noise, and what fits them would swing.
const noisy = 0.3

// leaning is how one sector's normal may tilt: along u and v, or along u alone.
type leaning struct {
	u, v    geom.Vec3
	a, b, c float64 // normal matrix (a b; b c)
	p, q    float64 // right side
	free    int     // of 0, 1, 2 directions
	miss    float64 // how far normals and chords disagree, squared and summed
	turn    float64 // how far the normals turn, likewise
	ease    float64 // the part of a tilt that is taken
}

// settle makes the normals fit one another. On any quadric the sum of the gradients at two points is square
// to the chord between them; on spheres and cylinders that holds for unit normals, elsewhere to third order.
// So each normal is tilted, by half of what would fit best, so that n_i + n_j is square to every edge from i
// to j. Where the surface curves unlike in two directions the weights of the facets say less than the neighbours
// do; on a sphere nothing changes.
func (s *sectors) settle(g *Gauge) {
	s.level(g)
	l := s.leanings(g)
	s.edges(g, func(i, j int32, e geom.Vec3, w float64) {
		miss, turn := s.normal[i].Add(s.normal[j]).Dot(e), s.normal[j].Sub(s.normal[i]).Dot(e)
		for _, k := range [2]int32{i, j} {
			x := &l[k]
			x.miss += float64(w * miss * miss)
			x.turn += float64(w * turn * turn)
			x.weigh(e, w)
		}
	})
	for i := range l {
		if x := &l[i]; x.turn > 0 {
			x.ease = 0.5 * max(0, 1-x.miss/(noisy*x.turn))
		}
	}
	for range settlings {
		s.edges(g, func(i, j int32, e geom.Vec3, w float64) {
			miss := w * s.normal[i].Add(s.normal[j]).Dot(e)
			l[i].want(e, miss)
			l[j].want(e, miss)
		})
		for i := range l {
			s.normal[i] = l[i].tilt(s.normal[i])
		}
	}
}

// level first turns the normals of open sectors to what their whole neighbours ask for: half a fan says
// nothing of how the surface bends away from the crease.
func (s *sectors) level(g *Gauge) {
	l := s.leanings(g)
	s.edges(g, func(i, j int32, e geom.Vec3, w float64) {
		if s.open[i] == s.open[j] {
			return
		}
		if s.open[j] {
			i, j = j, i
		}
		l[i].weigh(e, w)
		l[i].want(e, w*s.normal[i].Add(s.normal[j]).Dot(e))
	})
	for i := range l {
		if s.open[i] {
			l[i].ease = 1
			s.normal[i] = l[i].tilt(s.normal[i])
		}
	}
}

func (x *leaning) weigh(e geom.Vec3, w float64) {
	u, v := x.u.Dot(e), x.v.Dot(e)
	x.a += float64(w * u * u)
	x.b += float64(w * u * v)
	x.c += float64(w * v * v)
}

func (x *leaning) want(e geom.Vec3, miss float64) {
	x.p -= float64(miss * x.u.Dot(e))
	x.q -= float64(miss * x.v.Dot(e))
}

func (s *sectors) leanings(g *Gauge) []leaning {
	l := make([]leaning, len(s.normal))
	for h := range int32(len(s.of)) {
		s.lean(g, h, &l[s.of[h]])
	}
	return l
}

// lean says how the sector of corner h may tilt.
func (s *sectors) lean(g *Gauge, h int32, x *leaning) {
	i := s.of[h]
	if x.free != 0 || s.held[i] || s.normal[i] == (geom.Vec3{}) {
		return
	}
	v, to := g.E.Ends(h)
	n := s.normal[i]
	if s.open[i] && s.turned[v] {
		x.free, x.u = 1, s.tan[v].Cross(n)
		return
	}
	e := g.M.Vertices[to].Sub(g.M.Vertices[v])
	u := e.Sub(n.Mul(n.Dot(e)))
	if u.Dot(u) <= 1e-6*e.Dot(e) {
		return
	}
	x.free, x.u = 2, u.Unit()
	x.v = n.Cross(x.u)
}

// mostTilt of a normal at once, radians: half a facet of a surface that is cut coarsely.
const mostTilt = 0.2

// tilt turns n by the part of what fits best that is to be taken, and clears the right side.
func (x *leaning) tilt(n geom.Vec3) geom.Vec3 {
	p, q := x.p, x.q
	x.p, x.q = 0, 0
	var by geom.Vec3
	switch x.free {
	case 1:
		if x.a < 1e-2 {
			return n
		}
		by = x.u.Mul(p / x.a)
	case 2:
		// what the edges say little of is tilted little
		firm := float64(0.02 * (x.a + x.c))
		a, c := x.a+firm, x.c+firm
		d := float64(a*c) - float64(x.b*x.b)
		if !(d > 0) {
			return n
		}
		by = x.u.Mul((float64(p*c) - float64(q*x.b)) / d).Add(x.v.Mul((float64(q*a) - float64(p*x.b)) / d))
	}
	if l := by.Len(); l > mostTilt {
		by = by.Mul(mostTilt / l)
	}
	if by == (geom.Vec3{}) {
		return n
	}
	return n.Add(by.Mul(x.ease)).Unit()
}

// edges calls f for the smooth edges with the sectors at their ends, the edge, and one by its length squared.
func (s *sectors) edges(g *Gauge, f func(i, j int32, e geom.Vec3, w float64)) {
	for h := range int32(len(s.of)) {
		if o := g.E.Mate[h]; g.Crease[h] || o < h {
			continue
		}
		a, b := g.E.Ends(h)
		e := g.M.Vertices[b].Sub(g.M.Vertices[a])
		if k := e.Dot(e); k > 0 && !math.IsInf(1/k, 0) {
			f(s.of[h], s.of[mesh.Next(h)], e, 1/k)
		}
	}
}
