package smooth

import (
	"context"
	"math"

	"barwise/geom"
	"barwise/geom/mesh"
)

// trust is how many times the height that the kinks speak for an edge's curve may rise.
const trust = 3

// curve is the cubic that stands for one edge: through both vertices, with the derivatives there. On a
// circle it is right to the sixth power of the angle.
type curve struct {
	h      int32 // the half-edge it runs along, the lower of two
	d0, d1 geom.Vec3
	rise   float64 // greatest height over the edge, about: exact on a circle
	n      int32   // pieces it is cut into
	base   int32   // first of the n − 1 vertices made on it
}

// surface is the curved surface of a mesh: a curve for each edge, a patch for each triangle.
type surface struct {
	*Gauge
	*sectors
	curves []curve
	of     []int32 // per half-edge: its curve
	capped int
}

// raise makes the curves.
func (g *Gauge) raise(ctx context.Context) (*surface, error) {
	s := &surface{Gauge: g, sectors: g.corners(), of: make([]int32, len(g.E.Mate))}
	for h := range int32(len(g.E.Mate)) {
		if o := g.E.Mate[h]; o != mesh.Border && o < h {
			s.of[h] = s.of[o]
			continue
		}
		s.of[h] = int32(len(s.curves))
		s.curves = append(s.curves, curve{h: h})
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	held := make([]bool, len(s.curves))
	blocks(ctx, len(s.curves), block, func(i int) { held[i] = s.bow(&s.curves[i]) })
	for s.unfold(ctx, held) {
	}
	s.calm(ctx, held)
	for _, h := range held {
		if h {
			s.capped++
		}
	}
	return s, ctx.Err()
}

// bow gives a curve its derivatives and reports whether it was held back.
func (s *surface) bow(c *curve) (held bool) {
	a, b := s.E.Ends(c.h)
	e := s.M.Vertices[b].Sub(s.M.Vertices[a])
	c.d0, c.d1 = e, e
	if e.Dot(e) == 0 {
		return false
	}
	if s.Crease[c.h] {
		s.bowCrease(c, a, b, e)
	} else {
		n0, n1 := s.normal[s.sectors.of[c.h]], s.normal[s.sectors.of[mesh.Next(c.h)]]
		c.d0, c.d1 = leave(e, n0, n1), leave(e, n1, n0)
	}
	c.settle(e)
	if s.Crease[c.h] {
		return false
	}
	if most := trust * s.speaks(c.h); c.rise > most*(1+1e-9) && c.rise > 0 {
		k := most / c.rise
		c.d0 = e.Add(c.d0.Sub(e).Mul(k))
		c.d1 = e.Add(c.d1.Sub(e).Mul(k))
		// what rounding leaves of a straight edge is not a hold
		held = c.rise > 1e-6*e.Len()
		c.settle(e)
	}
	return held
}

// settle takes the rise, and makes straight what is straight but for rounding.
func (c *curve) settle(e geom.Vec3) {
	c.rise = max(c.d0.Sub(e).Len(), c.d1.Sub(e).Len()) / 4
	if c.rise <= 1e-9*e.Len() {
		c.d0, c.d1, c.rise = e, e, 0
	}
}

// leave is the derivative of the curve over edge e where the normal is n, and at its other end k. In the
// direction that the normal turns in it is an arc's, of 2l/(1 + cos x) over a chord of length l for a turn of
// 2x; across that, as along a cylinder's axis, it is the edge's own. Beyond 60° there is no curve to speak of.
func leave(e, n, k geom.Vec3) geom.Vec3 {
	d := e.Sub(n.Mul(n.Dot(e)))
	cos := n.Dot(k)
	half := math.Sqrt(max(0, (1+cos)/2))
	if half < 0.5 || d.Dot(d) < 0.25*e.Dot(e) {
		return e
	}
	m := k.Sub(n.Mul(cos))
	if l := m.Dot(m); l > 1e-24 {
		d = d.Add(m.Mul(m.Dot(d) / l * (2/((1+half)*half) - 1)))
	}
	return d
}

// lengthen gives direction d the length of an arc's derivative: 2l/(1 + cos x) over a chord of length l
// that it makes the angle x with. Beyond 60° there is no curve to speak of.
func lengthen(d, e geom.Vec3) geom.Vec3 {
	l, k := e.Len(), d.Len()
	if k == 0 {
		return e
	}
	cos := d.Dot(e) / (k * l)
	if cos < 0.5 {
		return e
	}
	return d.Mul(2 * l / ((1 + cos) * k))
}

// bowCrease bends a crease along the tangents of its curve. An end without a tangent takes that of the
// circle that the other end asks for; with neither the crease is straight, and a border goes with its surface.
func (s *surface) bowCrease(c *curve, a, b int32, e geom.Vec3) {
	toward := func(v int32) geom.Vec3 {
		t := s.tan[v]
		if t.Dot(e) < 0 {
			return t.Mul(-1)
		}
		return t
	}
	ta, tb := s.turned[a], s.turned[b]
	u := e.Unit()
	switch {
	case ta && tb:
		c.d0, c.d1 = lengthen(toward(a), e), lengthen(toward(b), e)
	case ta:
		t := toward(a)
		c.d0, c.d1 = lengthen(t, e), lengthen(u.Mul(2*t.Dot(u)).Sub(t), e)
	case tb:
		t := toward(b)
		c.d0, c.d1 = lengthen(u.Mul(2*t.Dot(u)).Sub(t), e), lengthen(t, e)
	case s.E.Mate[c.h] == mesh.Border:
		n0, n1 := s.normal[s.sectors.of[c.h]], s.normal[s.sectors.of[mesh.Next(c.h)]]
		c.d0, c.d1 = leave(e, n0, n1), leave(e, n1, n0)
	}
}

// speaks is the height over half-edge h that the kinks around its two triangles speak for: as if the edge ran
// along their greatest curvature.
func (s *surface) speaks(h int32) float64 {
	curve := 0.0
	for _, i := range []int32{h, s.E.Mate[h]} {
		for t := i - i%3; t < i-i%3+3; t++ {
			curve = max(curve, math.Abs(s.q[t])/s.length2(t))
		}
	}
	return curve * s.length2(h) / 8
}

// length2 is the square of the length of h.
func (s *surface) length2(h int32) float64 {
	a, b := s.E.Ends(h)
	e := s.M.Vertices[b].Sub(s.M.Vertices[a])
	return e.Dot(e)
}

// unfold straightens curves that would fold a facet over at a corner, and reports whether it found any.
func (s *surface) unfold(ctx context.Context, held []bool) bool {
	bad := make([]bool, len(s.M.Triangles))
	s.blocks(ctx, len(bad), func(t int) { bad[t] = s.folds(int32(t)) })
	found := false
	for t, b := range bad {
		if !b {
			continue
		}
		for h := int32(3 * t); h < int32(3*t+3); h++ {
			c := &s.curves[s.of[h]]
			if c.rise == 0 {
				continue
			}
			a, b := s.E.Ends(c.h)
			e := s.M.Vertices[b].Sub(s.M.Vertices[a])
			c.d0, c.d1, c.rise = e, e, 0
			held[s.of[h]], found = true, true
		}
	}
	return found
}

// folds reports whether at a corner of triangle t the curves leave it the wrong way round, or nearly so.
func (s *surface) folds(t int32) bool {
	n := s.Normal[t]
	for k := range int32(3) {
		h := 3*t + k
		p := mesh.Prev(h)
		out, _ := s.along(h)
		_, in := s.along(p)
		a, b := s.E.Ends(h)
		_, x := s.E.Ends(mesh.Next(h))
		e, f := s.M.Vertices[b].Sub(s.M.Vertices[a]), s.M.Vertices[x].Sub(s.M.Vertices[a])
		most := 0.1 * e.Cross(f).Dot(n)
		if e.Dot(f) < 0 && s.still(int(t)) {
			// two pieces of an arc around a flat meet in a straight angle, which is no fold
			most = -1e-6 * e.Len() * f.Len()
		}
		if out.Cross(in.Mul(-1)).Dot(n) < most {
			return true
		}
	}
	return false
}

// along returns the derivatives at both ends of half-edge h, in its own direction.
func (s *surface) along(h int32) (d0, d1 geom.Vec3) {
	c := &s.curves[s.of[h]]
	a, _ := s.E.Ends(h)
	if b, _ := s.E.Ends(c.h); h == c.h || a == b {
		return c.d0, c.d1
	}
	return c.d1.Mul(-1), c.d0.Mul(-1)
}

// at returns how far the curve stands off the edge at t in [0, 1].
func (c *curve) at(e geom.Vec3, t float64) geom.Vec3 {
	u := 1 - t
	// controls (d0 − e)/3 and (e − d1)/3, Bernstein weights 3u²t and 3ut²
	k, l := float64(u*u)*t, float64(u*t)*t
	return c.d0.Sub(e).Mul(k).Add(e.Sub(c.d1).Mul(l))
}
