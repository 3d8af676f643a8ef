// Package level follows surfaces at constant height.
//
// Everything is in millimetres, in the frame of the side, of the tip of the cutter.
package level

import (
	"math"

	"barwise/geom"
	"barwise/geom/field"
	"barwise/geom/field/iso"
	"barwise/plan/share"
	"barwise/shop/cutter"
)

// Line is a way at the height Z. The higher ground lies on its right, so that a spindle that turns
// clockwise cuts with the motion (climb).
type Line struct {
	Z      float64
	Pts    []geom.Vec2
	Closed bool // the last point joins the first, which is not repeated
}

// ground tells the exact height of the tip on a side, with leave mm more than the allowance kept off.
type ground struct {
	set  *share.Set
	view *share.View
	prof cutter.Profile
	rise float64
}

func newGround(s *share.Set, v *share.View, leave float64) (*ground, bool) {
	g := &ground{set: s, view: v, prof: s.Cutter}
	if a := s.Allowance + leave; a != 0 {
		p, rise, ok := s.Cutter.Grown(a)
		if !ok {
			return nil, false
		}
		g.prof, g.rise = p, rise
	}
	return g, true
}

// free reports whether the tip may stand at p at height z.
func (g *ground) free(p geom.Vec2, z float64) bool {
	return g.set.Inside(g.view, p.X, p.Y) && z >= g.set.Limit(g.view, p.X, p.Y) && z >= g.view.Index.Height(g.prof, p.X, p.Y)-g.rise
}

// narrow is how closely a point is brought to the ground, in pitches of its grid.
const narrow = 1.0 / 32

// settle moves a point that iso put on an edge of the grid to where the exact ground is met on that edge,
// from the free side. false where no end of the edge is free.
func (g *ground) settle(f *field.Field, p geom.Vec2, z float64) (geom.Vec2, bool) {
	a, b := edge(f.Grid, p)
	if g.free(b, z) {
		a, b = b, a
	}
	if !g.free(a, z) {
		return p, false
	}
	for d := b.Sub(a).Len(); d > narrow*f.DX; d /= 2 {
		m := geom.Vec2{X: (a.X + b.X) / 2, Y: (a.Y + b.Y) / 2}
		if g.free(m, z) {
			a = m
		} else {
			b = m
		}
	}
	return a, true
}

// edge returns the ends of the grid's edge that p lies on.
func edge(g field.Grid, p geom.Vec2) (a, b geom.Vec2) {
	u, v := (p.X-g.X0)/g.DX, (p.Y-g.Y0)/g.DY
	i, j := math.Floor(u), math.Floor(v)
	if math.Abs(u-math.Round(u)) < math.Abs(v-math.Round(v)) {
		x := g.X(int(math.Round(u)))
		return geom.Vec2{X: x, Y: g.Y(int(j))}, geom.Vec2{X: x, Y: g.Y(int(j) + 1)}
	}
	y := g.Y(int(math.Round(v)))
	return geom.Vec2{X: g.X(int(i)), Y: y}, geom.Vec2{X: g.X(int(i) + 1), Y: y}
}

// parts cuts the settled points of a line where they are not wanted; a piece that is whole stays closed.
func parts(l iso.Line, z float64, want func(k int) (geom.Vec2, bool)) []Line {
	var out []Line
	open := false
	whole := true
	for k := range l.Pts {
		p, ok := want(k)
		if !ok {
			open, whole = false, false
			continue
		}
		if !open {
			out = append(out, Line{Z: z})
			open = true
		}
		o := &out[len(out)-1]
		if n := len(o.Pts); n == 0 || o.Pts[n-1] != p {
			o.Pts = append(o.Pts, p)
		}
	}
	if len(out) == 0 || !l.Closed {
		return out
	}
	if whole {
		out[0].Closed = true
		return out
	}
	// a closed line cut open: its last piece runs on into the first
	if _, first := want(0); first && open && len(out) > 1 {
		last := out[len(out)-1]
		out[0].Pts = append(append([]geom.Vec2(nil), last.Pts...), out[0].Pts...)
		out = out[:len(out)-1]
	}
	return out
}
