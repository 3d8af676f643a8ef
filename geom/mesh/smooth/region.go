package smooth

import (
	"math"

	"barwise/geom"
	"barwise/geom/mesh"
)

// wide is how many times further than its neighbour a flat must reach from their common edge to be a flat
// that was meant, met by the neighbour tangentially, and not one facet of a curved surface.
// Facets of one curved surface reach about equally far (estimate).
const wide = 4

// directions in which the reach of a flat is held; between two of them it is short by at most 1 %.
const directions = 24

// flatland is a region of two or more triangles in one plane.
type flatland struct {
	u, v  geom.Vec3 // axes in the plane
	reach [directions]float64
}

// regions joins coplanar neighbours and finds the edges at which a wide flat meets a narrow facet: there
// the flat stays flat. Only regions of more than one triangle can be wide: a curved surface cut without
// order has slivers beside large triangles, but none two in one plane.
func (g *Gauge) regions() {
	n := len(g.M.Triangles)
	g.flat = make([]int32, n)
	for i := range g.flat {
		g.flat[i] = int32(i)
	}
	for h := range int32(3 * n) {
		if o := g.E.Mate[h]; o > h && !g.Crease[h] && g.Kink[h] == 0 {
			a, b := g.root(h/3), g.root(o/3)
			g.flat[max(a, b)] = min(a, b)
		}
	}
	at := make([]int32, n)
	var lands []flatland
	for t := range int32(n) {
		r := g.root(t)
		g.flat[t] = r
		if r == t {
			continue
		}
		if at[r] == 0 {
			lands = append(lands, newFlatland(g.Normal[r]))
			at[r] = int32(len(lands))
			lands[at[r]-1].grow(g.M, int(r))
		}
		lands[at[r]-1].grow(g.M, int(t))
	}
	if len(lands) == 0 {
		return
	}
	for t := range int32(n) {
		k := at[g.flat[t]]
		if k == 0 {
			continue
		}
		for h := 3 * t; h < 3*t+3; h++ {
			if g.Kink[h] == 0 {
				continue
			}
			o := g.E.Mate[h]
			other := g.altitude(o)
			if ko := at[g.flat[o/3]]; ko != 0 {
				other = lands[ko-1].from(g, o)
			}
			g.join[h] = lands[k-1].from(g, h) > wide*other
		}
	}
}

func (g *Gauge) root(t int32) int32 {
	for g.flat[t] != t {
		g.flat[t] = g.flat[g.flat[t]]
		t = g.flat[t]
	}
	return t
}

// altitude is the height of h's triangle over h.
func (g *Gauge) altitude(h int32) float64 {
	a, b := g.E.Ends(h)
	_, tip := g.E.Ends(mesh.Next(h))
	u := g.M.Vertices[b].Sub(g.M.Vertices[a])
	return u.Cross(g.M.Vertices[tip].Sub(g.M.Vertices[a])).Len() / u.Len()
}

func newFlatland(n geom.Vec3) flatland {
	x := geom.Vec3{X: 1}
	if math.Abs(n.X) > math.Abs(n.Y) {
		x = geom.Vec3{Y: 1}
	}
	u := n.Cross(x).Unit()
	f := flatland{u: u, v: n.Cross(u)}
	for i := range f.reach {
		f.reach[i] = math.Inf(-1)
	}
	return f
}

var compass = func() (c [directions]geom.Vec2) {
	for i := range c {
		s, k := math.Sincos(2 * math.Pi * float64(i) / directions)
		c[i] = geom.Vec2{X: k, Y: s}
	}
	return c
}()

func (f *flatland) grow(m *mesh.Mesh, t int) {
	for _, v := range m.Triangles[t] {
		p := m.Vertices[v]
		q := geom.Vec2{X: p.Dot(f.u), Y: p.Dot(f.v)}
		for i := range f.reach {
			f.reach[i] = max(f.reach[i], q.Dot(compass[i]))
		}
	}
}

// from is how far the flat reaches inward from edge h of its border.
func (f *flatland) from(g *Gauge, h int32) float64 {
	a, b := g.E.Ends(h)
	p := g.M.Vertices[a]
	in := g.Normal[h/3].Cross(g.M.Vertices[b].Sub(p).Unit())
	d := geom.Vec2{X: in.Dot(f.u), Y: in.Dot(f.v)}
	angle := math.Atan2(d.Y, d.X) / (2 * math.Pi) * directions
	i := (int(math.Round(angle)) + directions) % directions
	return f.reach[i] - geom.Vec2{X: p.Dot(f.u), Y: p.Dot(f.v)}.Dot(compass[i])
}
