package smooth

import (
	"math"

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
	s.level(g)
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
	var sum, flats geom.Vec3
	parted := false // two flats that are not one claim the vertex
	last := first
	for c := first; ; {
		s.of[c] = id
		last = c
		_, a := g.E.Ends(c)
		b, _ := g.E.Ends(mesh.Prev(c))
		p, q := g.M.Vertices[a].Sub(o), g.M.Vertices[b].Sub(o)
		if k := float64(p.Dot(p)) * float64(q.Dot(q)); k > 0 && g.Normal[c/3] != (geom.Vec3{}) {
			w := p.Cross(q).Mul(1 / k)
			sum = sum.Add(w)
			if g.join[c] || g.join[mesh.Prev(c)] {
				w = g.Normal[g.flat[c/3]]
				parted = parted || flats != (geom.Vec3{}) && flats.Dot(w) < math.Cos(1e-3)
				flats = w
			}
		}
		if c = g.on(c); c < 0 || c == first {
			break
		}
	}
	held := flats != (geom.Vec3{}) && !parted
	if held {
		sum = flats
	}
	sum = sum.Unit()
	if open {
		sum = s.across(g, sum, first, last)
	}
	s.normal = append(s.normal, sum)
	s.open = append(s.open, open)
	s.held = append(s.held, held)
}

// across turns the normal of an open sector square to the creases that bound it.
func (s *sectors) across(g *Gauge, n geom.Vec3, first, last int32) geom.Vec3 {
	v, _ := g.E.Ends(first)
	if s.turned[v] {
		return square(n, s.tan[v])
	}
	_, a := g.E.Ends(first)
	b, _ := g.E.Ends(mesh.Prev(last))
	p := g.M.Vertices[a].Sub(g.M.Vertices[v]).Unit()
	q := g.M.Vertices[b].Sub(g.M.Vertices[v]).Unit()
	if x := p.Cross(q); x.Len() > 0.3 {
		x = x.Unit()
		if d := x.Dot(n); d < 0 {
			x = x.Mul(-1)
		}
		if x.Dot(n) > 0.8 {
			return x
		}
	}
	return n
}

// square takes the part of unit n along unit t away.
func square(n, t geom.Vec3) geom.Vec3 {
	k := n.Dot(t)
	if math.Abs(k) > 0.7 {
		return n
	}
	return n.Sub(t.Mul(k)).Unit()
}

// level turns the normals of open sectors about their creases so that they fit those of the neighbours:
// half the fan says nothing of how the surface bends away from the crease. On any quadric the sum of the
// gradients at two points is square to the chord between them; on spheres and cylinders that holds for
// the unit normals.
func (s *sectors) level(g *Gauge) {
	n := len(s.normal)
	top, bottom := make([]float64, n), make([]float64, n)
	for h := range int32(len(g.E.Mate)) {
		if g.Crease[h] {
			continue
		}
		i, j := s.of[h], s.of[mesh.Next(h)]
		if s.open[i] == s.open[j] {
			continue
		}
		from, to := g.E.Ends(h)
		e := g.M.Vertices[to].Sub(g.M.Vertices[from])
		if s.open[j] {
			i, j, from, e = j, i, to, e.Mul(-1)
		}
		if !s.turned[from] || s.held[i] {
			continue
		}
		w := 1 / e.Dot(e)
		across := s.tan[from].Cross(s.normal[i]).Dot(e)
		miss := s.normal[i].Add(s.normal[j]).Dot(e)
		top[i] -= float64(w * across * miss)
		bottom[i] += float64(w * across * across)
	}
	for h := range int32(len(g.E.Mate)) {
		i := s.of[h]
		if bottom[i] < 1e-3 {
			continue
		}
		v, _ := g.E.Ends(h)
		// no further than half a facet: what a half fan can be off
		a := min(max(top[i]/bottom[i], -0.2), 0.2)
		s.normal[i] = s.normal[i].Add(s.tan[v].Cross(s.normal[i]).Mul(a)).Unit()
		bottom[i] = 0
	}
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
