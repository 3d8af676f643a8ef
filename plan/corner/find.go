package corner

import (
	"context"
	"math"

	"barwise/geom"
	"barwise/geom/field"
	"barwise/plan/share"
)

// region marks what is left to side i.
func (l *Left) region(ctx context.Context, i int) (*Region, error) {
	v := l.set.Views[i]
	n := v.Field.Len()
	r := &Region{Mask: make([]bool, n), Depth: make([]float32, n), Climb: make([]float32, n)}
	err := field.EachRow(ctx, v.Field.NY, func(j int) {
		s := l.scout(v)
		for k := j * v.Field.NX; k < (j+1)*v.Field.NX; k++ {
			r.Climb[k] = float32(math.Inf(-1))
			if !v.Core(k) {
				continue
			}
			if v.State[k] == share.Own && !v.Beyond[k] {
				r.Depth[k] = float32(s.node(k))
			}
			if v.Foot[k] {
				s.wall(k, r)
			}
			r.Mask[k] = r.Depth[k] > 0
		}
	})
	if err != nil {
		return nil, err
	}
	l.regions(v, r)
	if err := l.measure(ctx, i, r); err != nil {
		return nil, err
	}
	l.grow(v, r)
	return r, ctx.Err()
}

// worth is the depth that counts at a place the small cutter touches. In a corner more stands between the
// two places it touches than on them: R/(R − r) as much at most, R and r the balls' radii.
func (l *Left) worth() float64 {
	share := 1.0
	for _, w := range l.large {
		share = min(share, 1-l.set.Cutter.R/w.set.Cutter.R)
	}
	return l.params.Worth * max(share, 0.25)
}

// node is how deep what is left at a node is; 0 where it is not worth a cut.
func (s *scout) node(k int) float64 {
	f, worth := s.v.Field, s.worth()
	x, y := f.X(k%f.NX), f.Y(k/f.NX)
	gx, gy := f.Slope(k%f.NX, k/f.NX)
	p := touchedBy(s.set, geom.Vec3{X: x, Y: y, Z: float64(f.Z[k])}, geom.Vec3{X: -gx, Y: -gy, Z: 1}.Unit())
	if s.near(p.to(s.v.Turn), worth) {
		return 0
	}
	return s.at(x, y)
}

// at is how deep what is left is where the small cutter comes down at (x, y), on the exact surface.
func (s *scout) at(x, y float64) float64 {
	worth := s.worth()
	_, q, n, ok := s.small.Contact(x, y)
	if !ok {
		return 0
	}
	p := place{q.Add(n.Mul(s.set.Allowance)), n}.to(s.v.Turn)
	if s.near(p, worth) {
		return 0
	}
	return s.depth(p, worth)
}

// wallSteps is at how many heights a wall is looked at, at most.
const wallSteps = 8

// wall looks up the wall at foot k for what is left on it.
func (s *scout) wall(k int, r *Region) {
	v := s.v
	f := v.Field
	n, top := beside(f, k)
	low, climb, hang := float64(v.E[k]), float64(v.Climb[k]), float64(v.Hang[k])
	step := max(2*s.set.Pitch, (top-low)/wallSteps)
	for z := low + step/2; z < top; z += step {
		if z > climb && z < hang {
			continue // not this side's
		}
		p, ok := s.against(geom.Vec3{X: f.X(k % f.NX), Y: f.Y(k / f.NX), Z: z}, n)
		if !ok {
			continue
		}
		if d := s.depth(p.to(v.Turn), s.worth()); d > 0 {
			r.Depth[k] = max(r.Depth[k], float32(d))
			r.Climb[k] = max(r.Climb[k], float32(z+step/2+s.params.Overlap))
		}
	}
}

// beside is the height of the walls beside a node and their outward normal, as far as the grid shows it.
func beside(f *field.Field, k int) (n geom.Vec3, top float64) {
	i, j := k%f.NX, k/f.NX
	z := f.Z[k]
	high := z
	for b := -2; b <= 2; b++ {
		for a := -2; a <= 2; a++ {
			rise := float64(f.At(i+a, j+b) - z)
			if max(a, -a)+max(b, -b) == 1 {
				high = max(high, f.At(i+a, j+b))
			}
			if d := math.Hypot(float64(a), float64(b)); d > 0 && rise > float64(3*f.DX)*d {
				n.X -= float64(a) / d
				n.Y -= float64(b) / d
			}
		}
	}
	return n.Unit(), float64(high)
}

// against moves the tip against a wall of normal about n, to a hundredth of the pitch, and returns the place it
// touches there; ok is false where it stands in the free all the way over a node.
func (s *scout) against(tip, n geom.Vec3) (p place, ok bool) {
	high := func(d float64) bool {
		return s.height(tip.X-float64(d*n.X), tip.Y-float64(d*n.Y)) > tip.Z
	}
	free, shut := 0.0, 1.5*s.set.Pitch
	if n == (geom.Vec3{}) || !high(shut) || high(free) {
		return p, false
	}
	for fine := s.set.Pitch / 64; ; fine = 1e-6 {
		for shut-free > fine {
			if d := (free + shut) / 2; high(d) {
				shut = d
			} else {
				free = d
			}
		}
		z, q, m, ok := s.small.Contact(tip.X-float64(shut*n.X), tip.Y-float64(shut*n.Y))
		if !ok {
			return p, false
		}
		if m.Z > 0 && z-s.set.Rise-tip.Z < 0.01 { // no jump: steep, not upright
			return place{q.Add(m.Mul(s.set.Allowance)), m}, true
		}
		if m.Z < 1e-3 || fine <= 1e-6 {
			return s.upright(tip, n, free, q)
		}
	}
}

// upright is the place of an upright wall that the tip touches, moved by d against its rough normal n; the
// cutter touches its edge above at q.
func (l *Left) upright(tip, n geom.Vec3, d float64, q geom.Vec3) (place, bool) {
	at := geom.Vec3{X: tip.X - float64(d*n.X), Y: tip.Y - float64(d*n.Y), Z: tip.Z}
	out := geom.Vec3{X: at.X - q.X, Y: at.Y - q.Y}
	if out == (geom.Vec3{}) {
		return place{}, false
	}
	return touchedBy(l.set, at, out.Unit()), true
}
