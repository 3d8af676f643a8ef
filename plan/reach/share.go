package reach

import (
	"cmp"
	"context"
	"math"
	"slices"

	"barwise/geom"
	"barwise/geom/field"
)

// A finishing cut is shared: of the sides that touch a place the one with the best score cuts it, and the
// others cut it only where it is within an overlap of their own. What stands farther from the surface,
// where roughing did not come, is cut only on the way; so it matters who has a place. The rule is that of
// the finishing plan: squareness to the surface, and a quarter of it by how near the spindle the place lies.
const (
	depthWeight = 0.25
	blend       = 0.05 // by how much another side must be better
)

// betweenSamples is how far along its way a finishing pass looks at the floor beside it, about, mm.
const betweenSamples = 0.01

// sharer decides who cuts what, for one finishing cut on one side.
type sharer struct {
	j       *judge
	k, side int
	low     *field.Field
	ref     float64 // half the work's width, the scale of depth
	fan     [][3]float64
	skin    *skin // of the model; nil where it is not known
}

// share returns the lowest tip at every node that the side is to cut, field.Forbidden elsewhere.
func (w *predictor) share(ctx context.Context, k, side int) (*field.Field, error) {
	quick := *w
	quick.Exact = false // the nodes tell near enough who touches a place
	s := &sharer{j: quick.newJudge(nil, nil), k: k, side: side, low: w.cuts[k][side].low()}
	c := &w.Cuts[k]
	for _, d := range w.Sides {
		s.ref = max(s.ref, w.Bar.Half(d)+w.Cuts[k].Over)
	}
	if w.Mesh != nil && c.Cutter.Round == c.Cutter.R {
		if w.skin == nil {
			w.skin = newSkin(w.Mesh, w.tipPitch(&w.Cuts[k]))
		}
		s.skin = w.skin
	}
	s.fan = fan()
	f := w.cuts[k][side].exact
	out := field.New(f.Grid, field.Forbidden)
	beyond := make([]bool, f.Len())
	err := field.EachRow(ctx, f.NY, func(j int) {
		y := f.Y(j)
		for i := range f.NX {
			x, at := f.X(i), j*f.NX+i
			if !w.within(k, side, x, y, 1e-9) {
				beyond[at] = true
				continue
			}
			out.Z[at], beyond[at] = s.node(i, j)
		}
	})
	if err != nil {
		return nil, err
	}
	spread(out, f, beyond, w.overlap(c))
	return out, ctx.Err()
}

// overlap is how far a side reaches into its neighbours', mm along the surface.
func (w *predictor) overlap(c *Cut) float64 {
	if c.Overlap > 0 {
		return c.Overlap
	}
	return 0.6 * c.Cutter.R
}

// node is the lowest tip at a node the side is answerable for, field.Forbidden where it is not; beyond
// tells that the cutter touches nothing there.
func (s *sharer) node(i, j int) (z float32, beyond bool) {
	f := s.j.cuts[s.k][s.side].exact
	x, y := f.X(i), f.Y(j)
	const half = pitch/2 + betweenSamples
	floor := s.low.MaxAround(x-half, x+half, y-half, y+half)
	z = f.At(i, j)
	beyond = z <= floor
	if !beyond {
		gx, gy := f.Slope(i, j)
		if !s.given(geom.Vec3{X: x, Y: y, Z: float64(z)}, geom.Vec3{X: -gx, Y: -gy, Z: 1}.Unit()) {
			return z, false
		}
	}
	foot := max(z, floor)
	top, n := s.wall(i, j, foot)
	if top <= foot {
		return field.Forbidden, beyond
	}
	if beyond {
		foot = max(foot, s.j.wallFoot(&s.j.Cuts[s.k], s.side, x, y))
	}
	return s.foot(geom.Vec3{X: x, Y: y, Z: float64(foot)}, float64(top), n), beyond
}

// wall returns how high the walls beside a node rise, and their mean normal.
func (s *sharer) wall(i, j int, z float32) (top float32, n geom.Vec3) {
	f := s.j.cuts[s.k][s.side].exact
	top = z
	for _, d := range [4][2]int{{-1, 0}, {1, 0}, {0, -1}, {0, 1}} {
		b := f.At(i+d[0], j+d[1])
		if rise := float64(b - z); rise > steepRise*f.DX {
			top = max(top, b)
			n.X -= float64(float64(d[0]) * min(rise, 20*f.DX))
			n.Y -= float64(float64(d[1]) * min(rise, 20*f.DX))
		}
	}
	return top, n.Unit()
}

// foot is the lowest tip beside a wall at which no other side has the place.
func (s *sharer) foot(tip geom.Vec3, top float64, n geom.Vec3) float32 {
	step := max(s.j.cuts[s.k][s.side].exact.DX, (top-tip.Z)/64)
	h := s.j.Cuts[s.k].Cutter.Rim()
	for z := tip.Z + step; z < top-step/2; z += step {
		at := geom.Vec3{X: tip.X, Y: tip.Y, Z: z}
		if s.skin != nil && !s.beside(geom.Vec3{X: at.X, Y: at.Y, Z: at.Z + h}, n) {
			continue // no wall at this height
		}
		if !s.given(at, n) && !s.open(at, n) {
			return float32(z - step)
		}
	}
	return field.Forbidden
}

// fan are directions about −x, none farther from it than 70°: forward, to the left, up.
func fan() [][3]float64 {
	var out [][3]float64
	const n, widest = 4, 68
	for a := -n; a <= n; a++ {
		for b := -n; b <= n; b++ {
			sa, ca := math.Sincos(float64(a) * widest / n * math.Pi / 180)
			sb, cb := math.Sincos(float64(b) * widest / n * math.Pi / 180)
			if ca*cb >= 0.35 {
				out = append(out, [3]float64{ca * cb, sa * cb, sb})
			}
		}
	}
	slices.SortStableFunc(out, func(p, q [3]float64) int { return cmp.Compare(q[0], p[0]) })
	return out
}

// beside reports whether the model comes near a ball at c on the side a wall of normal n stands.
func (s *sharer) beside(c, n geom.Vec3) bool {
	r, t := s.j.Cuts[s.k].Cutter.R, s.j.turns[s.side]
	for _, d := range s.fan {
		f, l, u := r*d[0], r*d[1], float64(r*d[2])
		q := geom.Vec3{X: c.X - float64(f*n.X) - float64(l*n.Y), Y: c.Y - float64(f*n.Y) + float64(l*n.X), Z: c.Z + u}
		if s.skin.near(t.ToPart(q)) {
			return true
		}
	}
	return false
}

// given reports whether another side cuts, and scores better at, the place the cutter touches.
func (s *sharer) given(tip, n geom.Vec3) bool {
	q, np := s.touched(tip, n)
	score := func(d geom.Vec3) float64 {
		up := q.Dot(d)
		if d.Y != 0 { // along the bar the depth counts from its end, across it from as far off the axis as the scale
			up += s.ref - s.j.Bar.Length
		}
		return np.Dot(d) + float64(depthWeight*up)/s.ref
	}
	mine := score(s.j.turns[s.side].Facing()) + blend
	return s.other(q, np, func(d geom.Vec3) bool { return score(d) > mine })
}

// open reports whether some other side sees that no wall stands beside the tip: its cutter could go two
// nodes into it. So the drop is one of the view, over something that stands out above.
func (s *sharer) open(tip, n geom.Vec3) bool {
	q, np := s.touched(tip.Sub(n.Mul(2*s.j.cuts[s.k][s.side].exact.DX)), n)
	return s.other(q, np, func(geom.Vec3) bool { return true })
}

// touched is the place, in the part frame, where the cutter at tip touches a surface of normal n.
func (s *sharer) touched(tip, n geom.Vec3) (q, np geom.Vec3) {
	t := s.j.turns[s.side]
	r, h, u := s.contact(n)
	return t.ToPart(geom.Vec3{X: tip.X - float64(r*u.X), Y: tip.Y - float64(r*u.Y), Z: tip.Z + h}), t.ToPart(n)
}

// contact is the radius and height at which the cutter touches a surface of normal n, and n's way in plan.
func (s *sharer) contact(n geom.Vec3) (r, h float64, u geom.Vec2) {
	l := n.XY().Len()
	if l < 1e-12 {
		return 0, 0, u
	}
	m := math.Inf(1)
	if n.Z > 1e-9 {
		m = l / n.Z
	}
	r, h = s.j.Cuts[s.k].Cutter.Contact(m)
	return r, h, n.XY().Mul(1 / l)
}

// other reports whether the cutter on another side, one that faces the place and is asked for, fits there.
func (s *sharer) other(q, np geom.Vec3, asked func(facing geom.Vec3) bool) bool {
	for o, t := range s.j.turns {
		if d := t.Facing(); o == s.side || np.Dot(d) < -0.02 || !asked(d) {
			continue
		}
		qo, no := t.ToSide(q), t.ToSide(np)
		r, h, u := s.contact(no)
		at := geom.Vec3{X: qo.X + float64(r*u.X), Y: qo.Y + float64(r*u.Y), Z: qo.Z - h}
		if v, _ := s.j.stand(s.k, o, at, no); v == touches {
			return true
		}
	}
	return false
}

// spread lets the nodes about a share in, as far as over mm along the surface f.
func spread(z, f *field.Field, beyond []bool, over float64) {
	rem := make([]float32, len(z.Z))
	for k, v := range z.Z {
		if v != field.Forbidden {
			rem[k] = float32(over)
		}
	}
	nx, ny := f.NX, f.NY
	take := func(i, j int) {
		at := j*nx + i
		if beyond[at] {
			return
		}
		best := rem[at]
		for b := max(j-1, 0); b <= min(j+1, ny-1); b++ {
			for a := max(i-1, 0); a <= min(i+1, nx-1); a++ {
				r := rem[b*nx+a]
				if r <= best {
					continue
				}
				d := f.DX
				if a != i && b != j {
					d *= math.Sqrt2
				}
				drop := float64(min(z.Z[b*nx+a], f.Z[b*nx+a]) - f.Z[at])
				if beyond[b*nx+a] {
					drop = float64(z.Z[b*nx+a] - f.Z[at])
				}
				best = max(best, r-float32(math.Sqrt(float64(d*d)+float64(drop*drop))))
			}
		}
		if best > rem[at] {
			rem[at] = best
			z.Z[at] = min(z.Z[at], f.Z[at])
		}
	}
	for range 2 {
		for j := range ny {
			for i := range nx {
				take(i, j)
			}
		}
		for j := ny - 1; j >= 0; j-- {
			for i := nx - 1; i >= 0; i-- {
				take(i, j)
			}
		}
	}
}
