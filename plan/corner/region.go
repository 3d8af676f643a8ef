package corner

import (
	"context"
	"math"

	"barwise/geom"
	"barwise/geom/field"
	"barwise/plan/share"
)

// fewSpacings is the extent, in passes, below which a region counts as a speck.
const fewSpacings = 3

// regions counts what hangs together, and drops specks shallower than the tolerance.
func (l *Left) regions(v *share.View, r *Region) {
	f := v.Field
	seen := make([]bool, f.Len())
	var stack, all []int
	for from, m := range r.Mask {
		if !m || seen[from] {
			continue
		}
		stack, all, seen[from] = append(stack[:0], from), all[:0], true
		deepest := 0.0
		i0, i1, j0, j1 := f.NX, 0, f.NY, 0
		for len(stack) > 0 {
			k := stack[len(stack)-1]
			stack, all = stack[:len(stack)-1], append(all, k)
			i, j := k%f.NX, k/f.NX
			i0, i1, j0, j1 = min(i0, i), max(i1, i), min(j0, j), max(j1, j)
			deepest = max(deepest, float64(r.Depth[k]))
			for _, o := range share.Around {
				if a, b := i+o[0], j+o[1]; f.Inside(a, b) {
					if at := b*f.NX + a; r.Mask[at] && !seen[at] {
						seen[at] = true
						stack = append(stack, at)
					}
				}
			}
		}
		wide := float64(max(i1-i0, j1-j0)+1) * f.DX
		if wide < fewSpacings*spacing(l.set.Cutter, l.params.Cusp) && deepest < l.params.Tolerance {
			r.Dropped++
			for _, k := range all {
				r.Mask[k], r.Depth[k], r.Climb[k] = false, 0, float32(math.Inf(-1))
			}
			continue
		}
		r.Regions++
	}
}

// grow lets a region reach beyond what is left, so that the small cutter's passes run out tangentially on
// what the large one cut: along the path surface, never down a drop.
func (l *Left) grow(v *share.View, r *Region) {
	f := v.Field
	rem := make([]float32, f.Len())
	for k, m := range r.Mask {
		if m {
			rem[k] = float32(l.params.Overlap)
		}
	}
	take := func(i, j int) {
		at := j*f.NX + i
		if v.Beyond[at] || r.Mask[at] && rem[at] == float32(l.params.Overlap) {
			return
		}
		for _, o := range share.Around {
			if !f.Inside(i+o[0], j+o[1]) {
				continue
			}
			from := (j+o[1])*f.NX + i + o[0]
			d := math.Hypot(float64(o[0]), float64(o[1])) * f.DX
			if left := rem[from] - float32(math.Hypot(d, float64(f.Z[from]-f.Z[at]))); left > rem[at] {
				rem[at], r.Mask[at] = left, true
			}
		}
	}
	for range 2 {
		for j := range f.NY {
			for i := range f.NX {
				take(i, j)
			}
		}
		for j := f.NY - 1; j >= 0; j-- {
			for i := f.NX - 1; i >= 0; i-- {
				take(i, j)
			}
		}
	}
}

// measure works out area, volume and depth of what is left to side i, before the overlap: on the surface
// that the small cutter makes, where it is made from a node of the region.
func (l *Left) measure(ctx context.Context, i int, r *Region) error {
	v, s := l.set.Views[i], l.set
	f := v.Field
	if r.Regions == 0 {
		return nil
	}
	tips := f.Clone()
	made := field.New(f.Grid, field.Forbidden)
	if err := field.Sink(ctx, made, tips, s.Cutter.R, s.Cutter.Height); err != nil {
		return err
	}
	type sum struct{ area, volume, deepest float64 }
	rows := make([]sum, f.NY)
	err := field.EachRow(ctx, f.NY, func(j int) {
		sc := l.scout(v)
		for k := range f.NX {
			z := made.At(k, j)
			if math.IsInf(float64(z), 0) {
				continue
			}
			gx, gy := made.Slope(k, j)
			n := geom.Vec3{X: -gx, Y: -gy, Z: 1}.Unit()
			p := place{geom.Vec3{X: f.X(k), Y: f.Y(j), Z: float64(z)}, n}
			tip := touching(s, p)
			a, b := f.Nearest(tip.XY())
			if n.Z < kindFacing || !f.Inside(a, b) || !r.Mask[b*f.NX+a] {
				continue
			}
			d := sc.depth(p.to(v.Turn), l.params.Worth)
			if d <= l.params.Worth {
				continue
			}
			w := &rows[j]
			area := float64(f.DX*f.DY) / n.Z
			w.area += area
			w.volume += float64(area * d)
			w.deepest = max(w.deepest, d)
		}
	})
	for _, w := range rows {
		r.AreaMM2 += w.area
		r.VolumeMM3 += w.volume
		r.DepthMax = max(r.DepthMax, w.deepest)
	}
	return err
}
