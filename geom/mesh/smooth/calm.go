package smooth

import (
	"context"
	"math"

	"barwise/geom"
	"barwise/geom/mesh"
)

// trialPieces is the grid on which patches are tried.
const trialPieces = 4

// A patch on trial may have this part of the kinks that its facets have, and a hundredth of a degree or so for
// rounding; a smooth one has about a quarter.
const (
	trialPart = 0.75
	trialSlip = 0.1 * math.Pi / 180
)

// rounds of holding back. The third takes a curve away.
const rounds = 12

// trial holds what trying patches takes.
type trial struct {
	*surface
	grid  *grid
	limit []float64                      // per triangle: the kink allowed, radians
	place [][3]float64                   // of the points of the grid, barycentric
	w     [][15]float64                  // and their weights
	seams [3][2][trialPieces + 1]weighed // the points on each edge, and those of the row inside
}

// weighed is a place with its weights.
type weighed struct {
	at [3]float64
	w  [15]float64
}

func newTrial(s *surface) *trial {
	c := &trial{surface: s, grid: newGrid(trialPieces), limit: make([]float64, len(s.M.Triangles))}
	for i := range c.grid.spot {
		u, v, w := c.grid.where(i)
		c.place = append(c.place, [3]float64{u, v, w})
		c.w = append(c.w, weights(u, v, w))
	}
	for k := range 3 {
		for in := range 2 {
			for i := range trialPieces + 1 - in {
				x := &c.seams[k][in][i]
				x.at[(k+1)%3], x.at[(k+2)%3] = float64(i)/trialPieces, float64(in)/trialPieces
				x.at[k] = 1 - x.at[(k+1)%3] - x.at[(k+2)%3]
				x.w = weights(x.at[0], x.at[1], x.at[2])
			}
		}
	}
	c.limits()
	return c
}

// calm holds back the curves of patches that would be more wrinkled than the facets they stand for: where
// vertices are noise, or a coarse triangle stands for more than it can tell. Each time the curves lose half
// of their rise, and the third time the rest.
func (s *surface) calm(ctx context.Context, held []bool) {
	c := newTrial(s)
	times := make([]uint8, len(s.curves))
	bad := make([]bool, len(s.M.Triangles))
	look := make([]bool, len(s.M.Triangles)) // triangles whose patch has changed
	for i := range look {
		look[i] = true
	}
	for round := 0; round < rounds && ctx.Err() == nil; round++ {
		s.blocks(ctx, len(bad), func(t int) { bad[t] = look[t] && c.wrinkled(int32(t)) })
		seam := make([]bool, len(s.curves))
		s.blocks(ctx, len(seam), func(i int) { seam[i] = c.wrinkledSeam(&s.curves[i], look) })
		for i, b := range seam {
			if h := s.curves[i].h; b {
				bad[h/3], bad[s.E.Mate[h]/3] = true, true
			}
		}
		clear(look)
		found := false
		for t, b := range bad {
			if b && s.ease(int32(t), times, held) {
				found = true
				c.around(int32(t), look)
			}
		}
		if !found {
			return
		}
		for i := range times {
			times[i] &^= fresh
		}
	}
}

// fresh marks a curve that has been eased in this round.
const fresh = 1 << 7

// ease takes from the curves of triangle t, and reports whether there was anything to take.
func (s *surface) ease(t int32, times []uint8, held []bool) (found bool) {
	for h := 3 * t; h < 3*t+3; h++ {
		i := s.of[h]
		c := &s.curves[i]
		if times[i]&fresh != 0 {
			found = true
			continue
		}
		if c.rise == 0 {
			continue
		}
		a, b := s.E.Ends(c.h)
		e := s.M.Vertices[b].Sub(s.M.Vertices[a])
		k := 0.5
		if times[i] == 2 {
			k = 0
		}
		c.d0, c.d1 = e.Add(c.d0.Sub(e).Mul(k)), e.Add(c.d1.Sub(e).Mul(k))
		c.settle(e)
		times[i] = times[i] + 1 | fresh
		held[i], found = true, true
	}
	return found
}

// around marks t and its neighbours.
func (c *trial) around(t int32, look []bool) {
	look[t] = true
	for h := 3 * t; h < 3*t+3; h++ {
		if o := c.E.Mate[h]; o != mesh.Border {
			look[o/3] = true
		}
	}
}

// limits is the greatest kink of each triangle and its neighbours, with what is allowed of it.
func (c *trial) limits() {
	own := make([]float64, len(c.limit))
	for h, k := range c.Kink {
		own[h/3] = max(own[h/3], math.Abs(float64(k)))
	}
	for t := range c.limit {
		most := own[t]
		for h := 3 * t; h < 3*t+3; h++ {
			if o := c.E.Mate[h]; o != mesh.Border && !c.Crease[h] {
				most = max(most, own[o/3])
			}
		}
		c.limit[t] = float64(trialPart*most) + trialSlip
	}
}

// whole reports whether triangle t is the flat that it was.
func (c *trial) whole(t int32) bool {
	return c.curves[c.of[3*t]].rise == 0 && c.curves[c.of[3*t+1]].rise == 0 && c.curves[c.of[3*t+2]].rise == 0
}

// wrinkled reports whether the patch of t has kinks beyond what is allowed, or is folded.
func (c *trial) wrinkled(t int32) bool {
	if c.whole(t) {
		return false
	}
	p := c.patch(t)
	var at [(trialPieces + 1) * (trialPieces + 2) / 2]geom.Vec3
	g := c.grid
	control := p.controls()
	x, y, z := c.M.Corners(int(t))
	for i := range at {
		f := &c.place[i]
		at[i] = x.Mul(f[0]).Add(y.Mul(f[1])).Add(z.Mul(f[2])).Add(blend(&c.w[i], &control))
	}
	var facing [trialPieces * trialPieces]geom.Vec3
	for i, f := range g.triangles {
		facing[i] = at[f[1]].Sub(at[f[0]]).Cross(at[f[2]].Sub(at[f[0]]))
		if facing[i].Dot(c.Normal[t]) < 0 {
			return true
		}
	}
	worst := 0.0
	for _, q := range g.pairs {
		worst = max(worst, sine2(facing[q[0]], facing[q[1]]))
	}
	return math.Asin(math.Sqrt(min(worst, 1))) > c.limit[t]
}

// where is the place of point i of the grid, barycentric.
func (g *grid) where(i int) (u, v, w float64) {
	s := g.spot[i]
	if s.k < 0 {
		at := inner[s.i]
		return at[0], at[1], at[2]
	}
	var b [3]float64
	f := float64(s.i) / float64(g.n)
	b[s.k], b[(s.k+1)%3] = 1-f, f
	return b[0], b[1], b[2]
}

// inner are the three points inside a grid of four pieces.
var inner = [3][3]float64{{0.5, 0.25, 0.25}, {0.25, 0.5, 0.25}, {0.25, 0.25, 0.5}}

// wrinkledSeam reports whether along the curve the facets of the two patches on trial meet at more than is allowed.
func (c *trial) wrinkledSeam(v *curve, look []bool) bool {
	o := c.E.Mate[v.h]
	if c.Crease[v.h] || !look[v.h/3] && !look[o/3] || c.whole(v.h/3) && c.whole(o/3) {
		return false
	}
	a, b := c.seam(v.h), c.seam(o)
	worst := 0.0
	for i := range a {
		worst = max(worst, sine2(a[i], b[trialPieces-1-i]))
	}
	return math.Asin(math.Sqrt(min(worst, 1))) > max(c.limit[v.h/3], c.limit[o/3])
}

// seam is which way the facets at half-edge h face, on trial.
func (c *trial) seam(h int32) (facing [trialPieces]geom.Vec3) {
	t, k := h/3, int(h%3)
	p := c.patch(t)
	control := p.controls()
	x, y, z := c.M.Corners(int(t))
	at := func(i, in int) geom.Vec3 {
		f := &c.seams[k][in][i]
		return x.Mul(f.at[0]).Add(y.Mul(f.at[1])).Add(z.Mul(f.at[2])).Add(blend(&f.w, &control))
	}
	from := at(0, 0)
	for i := range facing {
		to := at(i+1, 0)
		facing[i] = to.Sub(from).Cross(at(i, 1).Sub(from))
		from = to
	}
	return facing
}
