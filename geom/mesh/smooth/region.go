package smooth

import (
	"context"

	"barwise/geom"
	"barwise/geom/mesh"
)

// wide is how many times further than its neighbour a flat must reach from their common edge to be a flat
// that was meant, met by the neighbour tangentially, and not one facet of a curved surface.
// Facets of one curved surface reach about equally far (estimate).
const wide = 4

// regions joins coplanar neighbours and finds the edges at which a wide flat meets a narrow facet: there
// the flat stays flat. Only regions of more than one triangle can be wide: a curved surface cut without
// order has slivers beside large triangles, but none two in one plane.
func (g *Gauge) regions(ctx context.Context) {
	n := len(g.M.Triangles)
	g.flat = make([]int32, n)
	for i := range g.flat {
		g.flat[i] = int32(i)
	}
	many := make([]bool, n)
	for h := range int32(3 * n) {
		if o := g.E.Mate[h]; o > h && g.level(h) {
			a, b := g.root(h/3), g.root(o/3)
			g.flat[max(a, b)] = min(a, b)
			many[h/3], many[o/3] = true, true
		}
	}
	for t := range int32(n) {
		g.flat[t] = g.root(t)
	}
	g.blocks(ctx, 3*n, func(i int) {
		h := int32(i)
		if !many[h/3] || g.Kink[h] == 0 {
			return
		}
		o := g.E.Mate[h]
		other := g.altitude(o)
		if many[o/3] {
			other = g.reach(o)
		}
		g.join[h] = g.reach(h) > wide*other
	})
}

// level reports whether the two triangles at h are in one plane.
func (g *Gauge) level(h int32) bool { return !g.Crease[h] && g.Kink[h] == 0 }

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

// mostSteps bounds a walk over a flat: one of so many triangles is wide enough.
const mostSteps = 2000

// reach is how far the flat of h's triangle goes on from the middle of h, square to it. It walks from
// triangle to triangle.
func (g *Gauge) reach(h int32) (far float64) {
	a, b := g.E.Ends(h)
	e := g.M.Vertices[b].Sub(g.M.Vertices[a])
	o := g.M.Vertices[a].Lerp(g.M.Vertices[b], 0.5)
	side := e.Unit() // the walk keeps to side = 0
	in := g.Normal[h/3].Cross(side)
	at := func(v int32) geom.Vec2 {
		p := g.M.Vertices[v].Sub(o)
		return geom.Vec2{X: p.Dot(side), Y: p.Dot(in)}
	}
	for range mostSteps {
		_, tip := g.E.Ends(mesh.Next(h))
		// the tip to the right of the walk: it leaves by the edge on the left of the tip
		out := mesh.Next(h)
		if at(tip).X > 0 {
			out = mesh.Prev(h)
		}
		from, to := g.E.Ends(out)
		p, q := at(from), at(to)
		if d := p.X - q.X; d != 0 {
			far = max(far, p.Y+float64((q.Y-p.Y)*(p.X/d)))
		}
		if !g.level(out) {
			break
		}
		h = g.E.Mate[out]
	}
	return far
}
