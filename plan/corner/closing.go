package corner

import (
	"context"
	"math"

	"barwise/geom"
	"barwise/geom/field"
	"barwise/plan/cl"
	"barwise/plan/share"
)

// earlier is a larger cutter at work: what it can touch, and what it leaves.
type earlier struct {
	set    *share.Set     // its own, with the small cutter's trees
	tips   []*field.Field // by side: lowest heights of its tip, beyond the small cutter's grid by its radius
	closed []*field.Field // by side: heights of what it leaves, on the small cutter's grid
}

// newEarlier closes the model by an earlier cutter, on the grids of the small one.
func newEarlier(ctx context.Context, s *share.Set, e Earlier) (*earlier, error) {
	in := share.Input{Surface: s.Surface, Sides: e.Sides, Cutter: e.Cutter, Allowance: e.Allowance, YMin: e.YMin, YMax: e.YMax}
	w := &earlier{set: share.New(in, share.Params{Pitch: s.Pitch, Near: s.Near})}
	for i, v := range w.set.Views {
		v.Index = s.Views[i].Index
		tips, err := w.lowestTips(ctx, v, s.Views[i].Field.Grid)
		if err != nil {
			return nil, err
		}
		out := field.New(s.Views[i].Field.Grid, field.Forbidden)
		if err := field.Sink(ctx, out, tips, e.Cutter.R, e.Cutter.Height); err != nil {
			return nil, err
		}
		w.tips, w.closed = append(w.tips, tips), append(w.closed, out)
	}
	return w, nil
}

// lowestTips are the lowest heights of the cutter's tip within its limits, as far as they matter to grid g.
func (w *earlier) lowestTips(ctx context.Context, v *share.View, g field.Grid) (*field.Field, error) {
	s := w.set
	n := int(math.Ceil(s.Cutter.R/g.DX)) + 1
	g.X0 -= float64(n) * g.DX
	g.Y0 -= float64(n) * g.DY
	g.NX, g.NY = g.NX+2*n, g.NY+2*n
	f, err := s.Surface.Field(ctx, v.Turn, s.Cutter, s.Allowance, g)
	if err != nil {
		return nil, err
	}
	return f, field.EachRow(ctx, g.NY, func(j int) {
		row, y := f.Row(j), g.Y(j)
		for i := range row {
			if x := g.X(i); !s.Inside(v, x, y) {
				row[i] = field.Forbidden
			} else {
				row[i] = max(row[i], float32(s.Limit(v, x, y)))
			}
		}
	})
}

// place is a spot of the surface that the small cutter makes, with its outward normal.
type place struct{ q, n geom.Vec3 }

func (p place) to(t geom.Turn) place { return place{t.ToPart(p.q), t.ToPart(p.n)} }

func (p place) on(t geom.Turn) place { return place{t.ToSide(p.q), t.ToSide(p.n)} }

// touching returns where the tip of the set's cutter stands to touch a place.
func touching(s *share.Set, p place) geom.Vec3 {
	flat := p.n.XY().Len()
	if flat < 1e-12 {
		return p.q
	}
	m := math.Inf(1)
	if p.n.Z > 1e-9 {
		m = flat / p.n.Z
	}
	r, h := s.Cutter.Contact(m)
	return geom.Vec3{X: p.q.X + float64(r*p.n.X)/flat, Y: p.q.Y + float64(r*p.n.Y)/flat, Z: p.q.Z - h}
}

// touchedBy is the place that the set's cutter touches with its tip at tip, where the surface's normal is n.
func touchedBy(s *share.Set, tip, n geom.Vec3) place {
	d := touching(s, place{n: n})
	return place{tip.Sub(d), n}
}

const (
	// leastFacing is the least cosine between a place's normal and a side that can cut it: a little past
	// square, for rounding.
	leastFacing = -0.02
	// kindFacing is that from which the grid shows a place well: slopes up to 70°.
	kindFacing = 0.35
	// hair is what exact heights are compared with, mm.
	hair = 1e-6
)

// grain is the most, in pitches, that the closing may be wrong where it shows a place well.
const grain = 0.2

// near reports whether a closing shows, at once, that no more than worth stands on a place of the part:
// all nodes about it lie under the plane that is worth above it. Such a plane holds for a concave place
// too, to the square of the pitch over twice the closing cutter's diameter.
func (l *Left) near(p place, worth float64) bool {
	for _, w := range l.large {
		for i, v := range w.set.Views {
			c := p.n.Dot(v.Facing)
			if c < kindFacing {
				continue
			}
			if d, ok := above(w.closed[i], p.on(v.Turn)); ok && float64(d*c) <= worth {
				return true
			}
		}
	}
	return false
}

// above is how far the four nodes about a place stand, at most, above its plane; upright, mm.
func above(f *field.Field, p place) (float64, bool) {
	a, b := (p.q.X-f.X0)/f.DX, (p.q.Y-f.Y0)/f.DY
	i, j := int(math.Floor(a)), int(math.Floor(b))
	if i < 0 || j < 0 || i+1 >= f.NX || j+1 >= f.NY {
		return 0, false
	}
	gx, gy := -p.n.X/p.n.Z, -p.n.Y/p.n.Z
	dx, dy := (a-float64(i))*f.DX, (b-float64(j))*f.DY
	over := func(z float32, x, y float64) float64 {
		return float64(z) - p.q.Z - float64(gx*x) - float64(gy*y)
	}
	k := j*f.NX + i
	return max(over(f.Z[k], -dx, -dy), over(f.Z[k+1], f.DX-dx, -dy),
		over(f.Z[k+f.NX], -dx, f.DY-dy), over(f.Z[k+f.NX+1], f.DX-dx, f.DY-dy)), true
}

// depth is how far a place of the part is from the air; 0 where that is no more than worth. The closings
// tell for the sides that see the place well. Where they do not rule it out, and for the other sides, the
// large cutter is stood over the place, lifted off square to it by the worth: if it fits there, on the
// exact surface, nothing is left; else it stands higher, and bares the place to some depth.
func (s *scout) depth(p place, worth float64) float64 {
	l := s.Left
	best := math.Inf(1)
	off := place{p.q.Add(p.n.Mul(worth)), p.n}
	for _, w := range l.large {
		for i, v := range w.set.Views {
			if p.n.Dot(v.Facing) >= kindFacing {
				best = min(best, away(w.closed[i], v.Turn.ToSide(p.q)))
			}
		}
	}
	kind := best
	if best <= worth {
		return 0
	}
	for e, w := range l.large {
		for i, v := range w.set.Views {
			c := p.n.Dot(v.Facing)
			if c < leastFacing || c >= kindFacing && kind > worth+float64(grain*l.set.Pitch) {
				continue
			}
			d := w.lifted(i, off.on(v.Turn), s.large[e][i])
			if d <= hair {
				return 0
			}
			best = min(best, worth+d)
		}
	}
	if math.IsInf(best, 1) {
		return l.outward(p)
	}
	return best
}

// away is how far a place lies under a closing: from the foot of the perpendicular, found by laying the
// closing's tangent plane three times; or, where the closing drops off beside the place, from there. 0 above
// the closing.
func away(f *field.Field, q geom.Vec3) float64 {
	x, y, d := q.X, q.Y, math.Inf(1)
	for range 3 {
		z, gx, gy, ok := plane(f, x, y)
		if !ok {
			break
		}
		w := 1 + float64(gx*gx) + float64(gy*gy)
		up := z + float64(gx*(q.X-x)) + float64(gy*(q.Y-y)) - q.Z // to the plane over q
		x, y, d = q.X-float64(gx*up)/w, q.Y-float64(gy*up)/w, up/math.Sqrt(w)
	}
	if d > float64(farOff*f.DX) {
		d = beyondDrop(f, q, d)
	}
	return max(0, d)
}

// farOff is the distance, in pitches, from which a drop beside a place is looked for.
const farOff = 4

// beyondDrop is d, or how far q is from the air over the nodes in sixteen directions, if that is less.
func beyondDrop(f *field.Field, q geom.Vec3, d float64) float64 {
	if math.IsInf(d, 1) {
		return d
	}
	for k := range 16 {
		sin, cos := math.Sincos(float64(k) * math.Pi / 8)
		for t := f.DX; t < d; t += f.DX {
			i, j := f.Nearest(geom.Vec2{X: q.X + float64(t*cos), Y: q.Y + float64(t*sin)})
			if !f.Inside(i, j) {
				break
			}
			d = min(d, math.Hypot(t, max(0, float64(f.Z[j*f.NX+i])-q.Z)))
		}
	}
	return d
}

// lifted is how far a place lies from the large cutter when that stands where it would touch the place
// but as high as it must; +Inf where it may not stand. A ball is asked; of another cutter its arc.
func (w *earlier) lifted(i int, p place, exact *cl.Probe) float64 {
	s, r, v := w.set, w.set.Cutter.Round, w.set.Views[i]
	tip := touching(s, p)
	if !s.Inside(v, tip.X, tip.Y) {
		return math.Inf(1)
	}
	// the nodes about the tip mostly tell: the cutter is blocked there by far, and stands no lower between
	z := float64(w.tips[i].MaxAround(tip.X, tip.X, tip.Y, tip.Y))
	if lowest(w.tips[i], tip.X, tip.Y) < tip.Z+float64(blocked*w.set.Pitch) {
		z = max(exact.Height(tip.X, tip.Y)-s.Rise, s.Limit(v, tip.X, tip.Y))
	}
	g := max(0, z-tip.Z)
	if g <= hair {
		return 0
	}
	if r == 0 {
		return math.Inf(1)
	}
	// its middle stands r n + g up from the place
	return math.Sqrt(float64(r*r)+float64(g*(float64(2*r*p.n.Z)+g))) - r
}

// blocked is how far above a tip all nodes about it must stand to be believed, in pitches: slots narrower
// than a pitch are not looked for.
const blocked = 4

// lowest is the least of the four nodes about a place; −Inf beyond the field.
func lowest(f *field.Field, x, y float64) float64 {
	i, j := int(math.Floor((x-f.X0)/f.DX)), int(math.Floor((y-f.Y0)/f.DY))
	if i < 0 || j < 0 || i+1 >= f.NX || j+1 >= f.NY {
		return math.Inf(-1)
	}
	k := j*f.NX + i
	return float64(min(f.Z[k], f.Z[k+1], f.Z[k+f.NX], f.Z[k+f.NX+1]))
}

// outward walks from a place along its normal to the air.
func (l *Left) outward(p place) float64 {
	step := l.set.Pitch
	for k := 1; k < 200; k++ {
		q := p.q.Add(p.n.Mul(float64(k) * step))
		for _, w := range l.large {
			for i, v := range w.set.Views {
				at := v.Turn.ToSide(q)
				if z, _, _, ok := plane(w.closed[i], at.X, at.Y); ok && z <= at.Z {
					return float64(k) * step
				}
			}
		}
	}
	return 200 * step
}

// plane reads a field between its nodes, with its slope; ok is false beyond it or where a node is infinite.
func plane(f *field.Field, x, y float64) (z, gx, gy float64, ok bool) {
	a, b := (x-f.X0)/f.DX, (y-f.Y0)/f.DY
	i, j := int(math.Floor(a)), int(math.Floor(b))
	if i < 0 || j < 0 || i+1 >= f.NX || j+1 >= f.NY {
		return 0, 0, 0, false
	}
	a, b = a-float64(i), b-float64(j)
	k := j*f.NX + i
	z00, z10, z01, z11 := float64(f.Z[k]), float64(f.Z[k+1]), float64(f.Z[k+f.NX]), float64(f.Z[k+f.NX+1])
	lo, hi := z00+float64((z10-z00)*a), z01+float64((z11-z01)*a)
	z = lo + float64((hi-lo)*b)
	gx = (z10 - z00 + float64((z11-z01-z10+z00)*b)) / f.DX
	gy = (hi - lo) / f.DY
	return z, gx, gy, !math.IsNaN(z+gx+gy) && !math.IsInf(z, 0)
}
