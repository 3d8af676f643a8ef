package smooth

import (
	"math"
	"slices"

	"barwise/geom"
	"barwise/geom/mesh"
)

// sectors holds the normals of the smooth surface at the vertices. The triangles around a vertex, parted
// at creases, are its sectors; each has a normal of its own.
type sectors struct {
	of     []int32 // per half-edge: the sector of the corner it starts from
	normal []geom.Vec3
	open   []bool // creases part it, so that it does not run all the way round
	held   []bool // it has the normal of a flat
	tan    []geom.Vec3
	turned []bool // tan[v] is set
}

// corners finds the sectors and their normals.
//
// Weights are those of N. Max, Weights for Computing Vertex Normals from Facet Normals, Journal of Graphics
// Tools 4(2), 1999: each facet's normal by sin α/(|a||b|) for its corner of angle α between edges a and b.
// They are exact where the vertices lie on a sphere, and do not depend on how a flat polygon with its
// corners on a circle is cut into triangles.
func (g *Gauge) corners() *sectors {
	n := len(g.E.Mate)
	s := &sectors{of: make([]int32, n)}
	for i := range s.of {
		s.of[i] = -1
	}
	s.curves(g)
	for h := range int32(n) {
		if s.of[h] < 0 {
			g.sector(s, h)
		}
	}
	s.settle(g)
	return s
}

// back and on are the corners next to that of h, clockwise and counter-clockwise about its vertex; −1
// where a crease is between.
func (g *Gauge) back(h int32) int32 {
	if g.Crease[h] {
		return -1
	}
	return mesh.Next(g.E.Mate[h])
}

func (g *Gauge) on(h int32) int32 {
	p := mesh.Prev(h)
	if g.Crease[p] {
		return -1
	}
	return g.E.Mate[p]
}

// sector gathers the sector of corner h.
func (g *Gauge) sector(s *sectors, h int32) {
	first := h
	for b := g.back(first); b >= 0 && b != h; b = g.back(first) {
		first = b
	}
	id := int32(len(s.normal))
	open := g.back(first) < 0
	v, _ := g.E.Ends(first)
	o := g.M.Vertices[v]
	var flats []int32 // that end at the vertex tangentially
	for c := first; ; {
		s.of[c] = id
		if f := g.flat[c/3]; (g.join[c] || g.join[mesh.Prev(c)]) && !slices.Contains(flats, f) {
			flats = append(flats, f)
		}
		if c = g.on(c); c < 0 || c == first {
			break
		}
	}
	var sum geom.Vec3
	for c := first; ; {
		// the normal is the flats' where there are any
		if len(flats) == 0 || slices.Contains(flats, g.flat[c/3]) {
			sum = sum.Add(g.weight(c, o))
		}
		if c = g.on(c); c < 0 || c == first {
			break
		}
	}
	held := len(flats) > 0
	if sum = sum.Unit(); len(flats) == 1 {
		sum = g.Normal[flats[0]]
	}
	if open {
		if s.turned[v] {
			sum = square(sum, s.tan[v])
		}
	}
	s.normal = append(s.normal, sum)
	s.open = append(s.open, open)
	s.held = append(s.held, held)
}

// weight is the normal at corner c, which is at o, with its weight.
func (g *Gauge) weight(c int32, o geom.Vec3) geom.Vec3 {
	_, a := g.E.Ends(c)
	b, _ := g.E.Ends(mesh.Prev(c))
	p, q := g.M.Vertices[a].Sub(o), g.M.Vertices[b].Sub(o)
	k := float64(p.Dot(p)) * float64(q.Dot(q))
	if k == 0 || g.Normal[c/3] == (geom.Vec3{}) {
		return geom.Vec3{}
	}
	return p.Cross(q).Mul(1 / k)
}

// square takes the part of unit n along unit t away.
func square(n, t geom.Vec3) geom.Vec3 {
	k := n.Dot(t)
	if math.Abs(k) > 0.7 {
		return n
	}
	return n.Sub(t.Mul(k)).Unit()
}

// curves finds the tangents of crease curves. A vertex at which two creases meet without a corner has
// the tangent of the circle through it and its two neighbours. Where a straight line meets an arc, the
// tangent is the line's.
func (s *sectors) curves(g *Gauge) {
	n := len(g.M.Vertices)
	s.tan, s.turned = make([]geom.Vec3, n), make([]bool, n)
	ends := make([][2]int32, n)
	number := make([]uint8, n)
	for h, c := range g.Crease {
		if o := g.E.Mate[h]; !c || o != mesh.Border && o < int32(h) {
			continue
		}
		a, b := g.E.Ends(int32(h))
		for range 2 {
			if number[a] < 2 {
				ends[a][number[a]] = b
			}
			number[a] = min(number[a]+1, 3)
			a, b = b, a
		}
	}
	arms := func(v int32) (a, b geom.Vec3) {
		return g.M.Vertices[ends[v][0]].Sub(g.M.Vertices[v]), g.M.Vertices[ends[v][1]].Sub(g.M.Vertices[v])
	}
	corner := math.Cos(g.crease)
	straight := func(v int32) bool { // the curve runs straight through
		if number[v] != 2 {
			return false
		}
		a, b := arms(v)
		return a.Cross(b).Len() <= 1e-5*a.Len()*b.Len()
	}
	for v := range int32(n) {
		if number[v] != 2 {
			continue
		}
		a, b := arms(v)
		la, lb := a.Dot(a), b.Dot(b)
		if la == 0 || lb == 0 || -a.Dot(b) < corner*math.Sqrt(la*lb) {
			continue
		}
		t := b.Mul(1 / lb).Sub(a.Mul(1 / la))
		if !straight(v) {
			pa := la > wide*wide*lb || straight(ends[v][0])
			pb := lb > wide*wide*la || straight(ends[v][1])
			switch {
			case pa && pb:
				continue
			case pa:
				t = a.Mul(-1)
			case pb:
				t = b
			}
		}
		s.tan[v], s.turned[v] = t.Unit(), true
	}
}
