package finish

import (
	"barwise/plan/share"
	"math"
	"slices"
)

// layer is the part of a share that is cut by lines of one direction. Lines of level 0 stand s0 apart
// over all of it; each further level halves the spacing where the cusp needs it.
type layer struct {
	dir    Direction // Along or Across
	s0     int       // units of the last decimal
	levels int       // further levels
	need   []uint8   // per node: 0 none, else 1 + the level wanted
	unmet  int       // share nodes whose demand is finer than the last level
}

// gap is the widest spacing of neighbouring lines once level l is cut, in units.
func (l *layer) gap(level int) int {
	if level == 0 {
		return l.s0
	}
	d := l.s0 >> (level - 1)
	return d - d/2
}

// lines returns the positions across of the lines that level adds between lo and hi, in units, and
// their spacing.
func (l *layer) lines(level, lo, hi int) (pos []int, d int) {
	off := 0
	d = l.s0
	if level > 0 {
		d = l.s0 >> (level - 1)
		off = d / 2
	}
	k := int(math.Ceil(float64(lo-off) / float64(d)))
	for p := off + k*d; p <= hi; p += d {
		pos = append(pos, p)
	}
	return pos, d
}

// demand returns, for every node of the share itself, the greatest plan spacing of lines along and
// across the bar that keeps the cusp; 0 for nodes that have none. Slopes are the steepest about a node.
func (w *work) demand(v *share.View) (along, across []float32) {
	f := v.Field
	along, across = make([]float32, f.Len()), make([]float32, f.Len())
	each := func(g func(at int)) {
		for j := 1; j+1 < f.NY; j++ {
			for i := 1; i+1 < f.NX; i++ {
				if at := j*f.NX + i; v.State[at] == share.Own || v.State[at] == share.Wall {
					g(at)
				}
			}
		}
	}
	each(func(at int) {
		gx, gy := w.steepest(v, at, 1), w.steepest(v, at, f.NX)
		along[at] = float32(stepover(w.in.Cutter, w.p.Cusp, gy, gx))
		across[at] = float32(stepover(w.in.Cutter, w.p.Cusp, gx, gy))
	})
	along, across = least(along, f.NX, 1, 2), least(across, f.NX, 2, 1)
	if w.in.Cutter.Round > 0 {
		m := max(1, int(math.Round(w.level()/w.pitch)))
		each(func(at int) {
			kx, ky := w.curvature(v, at, m)
			along[at] *= float32(bent(w.in.Cutter, kx))
			across[at] *= float32(bent(w.in.Cutter, ky))
		})
	}
	return along, across
}

// shared reports whether the surface between two neighbouring nodes is the side's to cut.
func shared(v *share.View, a, b int) bool {
	core := v.Core
	return core(a) && core(b) || (v.Foot[a] || v.Foot[b]) && v.State[a] != share.Out && v.State[b] != share.Out
}

// steepest is the greater of the two one-sided slopes at a node, within the share.
func (w *work) steepest(v *share.View, at, step int) float64 {
	g := 0.0
	for _, o := range [2]int{-step, step} {
		if shared(v, at, at+o) {
			g = max(g, math.Abs(float64(v.E[at+o]-v.E[at]))/w.pitch)
		}
	}
	return g
}

// curvature returns the normal curvature of the path surface across lines along the bar, then across
// lines across it, 1/mm, positive where convex upward, from nodes m apart: what bends within less than
// a stepover is a crease, at which neighbouring passes touch both its sides. 0 at the edges of the share.
func (w *work) curvature(v *share.View, at, m int) (kx, ky float64) {
	n, h := v.Field.NX, w.pitch*float64(m)
	for _, o := range share.Around {
		k := at + m*(o[1]*n+o[0])
		if k < 0 || k >= len(v.State) || v.State[k] != share.Own && v.State[k] != share.Margin || v.Foot[k] {
			return 0, 0
		}
	}
	z := func(dx, dy int) float64 { return float64(v.E[at+m*(dy*n+dx)]) }
	c := z(0, 0)
	zxx, zyy := z(1, 0)-2*c+z(-1, 0), z(0, 1)-2*c+z(0, -1)
	if max(math.Abs(zxx), math.Abs(zyy)) > 2*h {
		return 0, 0
	}
	zxy := (z(1, 1) - z(1, -1) - z(-1, 1) + z(-1, -1)) / 4
	gx, gy := (z(1, 0)-z(-1, 0))/(2*h), (z(0, 1)-z(0, -1))/(2*h)
	along := func(ga, gc, zcc, zaa float64) float64 {
		// the direction square to the pass in the tangent plane, seen in plan, is (1+ga², −gc·ga)·scale
		p, q := 1+float64(ga*ga), float64(-gc*ga)
		b2 := 1 / (1 + float64(gc*gc) + float64(ga*ga))
		hess := float64(p*p*zcc) + float64(2*p*q*zxy) + float64(q*q*zaa)
		return -hess / (h * h) * b2 / p * math.Sqrt(b2)
	}
	return along(gy, gx, zxx, zyy), along(gx, gy, zyy, zxx)
}

// least replaces every value by the least positive one within ri columns and rj rows.
func least(a []float32, nx, ri, rj int) []float32 {
	pass := func(src []float32, n, stride, r int, starts func(func(int))) []float32 {
		dst := make([]float32, len(src))
		starts(func(s int) {
			for i := range n {
				m := float32(0)
				for k := max(0, i-r); k <= min(n-1, i+r); k++ {
					if x := src[s+k*stride]; x > 0 && (m == 0 || x < m) {
						m = x
					}
				}
				dst[s+i*stride] = m
			}
		})
		return dst
	}
	ny := len(a) / nx
	t := pass(a, nx, 1, ri, func(f func(int)) {
		for j := range ny {
			f(j * nx)
		}
	})
	return pass(t, ny, nx, rj, func(f func(int)) {
		for i := range nx {
			f(i)
		}
	})
}

// demands are the spacings that demand returns: found once for all the ways a share may be cut.
type demands struct{ along, across []float32 }

func (w *work) demands(v *share.View) *demands {
	along, across := w.demand(v)
	return &demands{along, across}
}

// layers divides the nodes of the share that keep wants, nil: all, among directions and sets spacings.
func (w *work) layers(v *share.View, dm *demands, dir Direction, keep func(k int) bool) []*layer {
	along, across := dm.along, dm.across
	first, other := along, across
	dirs := [2]Direction{Along, Across}
	if dir == Across {
		first, other, dirs = across, along, [2]Direction{Across, Along}
	}
	steep := w.steepFor(v, first, other)
	var kind, back []bool
	if dir == Either {
		kind, back = w.kinder(v, first, other), w.steepFor(v, other, first)
	}
	mine, rest := make([]bool, v.Field.Len()), make([]bool, v.Field.Len())
	for k, s := range v.State {
		if s != share.Own && s != share.Wall {
			continue
		}
		if keep != nil && !keep(k) {
			continue
		}
		mine[k] = !steep[k]
		if kind != nil {
			mine[k] = kind[k] && !steep[k] || !kind[k] && back[k]
		}
		rest[k] = !mine[k]
	}
	base := rest
	if dir == Either {
		base = nil
	}
	var ls []*layer
	if l := w.layer(v, dirs[0], first, mine, base); l != nil {
		ls = append(ls, l)
	}
	if l := w.layer(v, dirs[1], other, rest, nil); l != nil {
		ls = append(ls, l)
	}
	return ls
}

// steepFor marks the nodes that are better left to the other direction: finer than a quarter of the
// spacing on the level, and the other direction clearly coarser.
func (w *work) steepFor(v *share.View, first, other []float32) []bool {
	limit := float32(w.level() / 4)
	m := make([]bool, len(first))
	for k, s := range v.State {
		m[k] = (s == share.Own || s == share.Wall) && first[k] < limit && other[k] > 1.3*first[k]
	}
	return m
}

// level is the stepover on level ground.
func (w *work) level() float64 { return stepover(w.in.Cutter, w.p.Cusp, 0, 0) }

// bias is the logarithm by which the other direction's stepover must be the wider, on average over a
// region, before the passes change direction.
const bias = 0.08

// kinder says for every node whether the first direction's stepover is the wider one, judged over
// about two diameters so that regions stay whole.
func (w *work) kinder(v *share.View, first, other []float32) []bool {
	n := v.Field.Len()
	num := make([]float64, n)
	for k, s := range v.State {
		if (s == share.Own || s == share.Wall) && first[k] > 0 && other[k] > 0 {
			// bounded, so that one wall does not outweigh the ground beside it
			num[k] = min(max(math.Log(float64(first[k]/other[k])), -1), 1) + bias
		}
	}
	r := max(1, int(math.Round(max(2*w.in.Cutter.R, 8*w.level())/w.pitch)))
	for range 2 {
		num = blur(num, v.Field.NX, r)
	}
	kind := make([]bool, n)
	for k := range kind {
		kind[k] = num[k] >= 0
	}
	return kind
}

// blur sums over boxes of half width r; the scale does not matter to a sign.
func blur(a []float64, nx, r int) []float64 {
	ny := len(a) / nx
	t, out := make([]float64, len(a)), make([]float64, len(a))
	for j := range ny {
		sum := 0.0
		for i := -r; i < nx; i++ {
			if i+r < nx {
				sum += a[j*nx+i+r]
			}
			if i-r-1 >= 0 {
				sum -= a[j*nx+i-r-1]
			}
			if i >= 0 {
				t[j*nx+i] = sum
			}
		}
	}
	sums := make([]float64, nx)
	for j := -r; j < ny; j++ {
		for i := range nx {
			if j+r < ny {
				sums[i] += t[(j+r)*nx+i]
			}
			if j-r-1 >= 0 {
				sums[i] -= t[(j-r-1)*nx+i]
			}
			if j >= 0 {
				out[j*nx+i] = sums[i]
			}
		}
	}
	return out
}

// layer makes the layer that keeps the cusp at the nodes in mine; nil where there are none. It reaches
// over the margin and over the other layer by the overlap, and over the nodes in base, at level 0.
func (w *work) layer(v *share.View, dir Direction, demand []float32, mine, base []bool) *layer {
	reach := append([]bool(nil), mine...)
	for k, b := range base {
		reach[k] = reach[k] || b
	}
	if !slices.Contains(reach, true) {
		return nil
	}
	l := &layer{dir: dir, need: make([]uint8, v.Field.Len())}
	w.space(l, demand, mine)
	// over the margin the layer reaches as far as that does, into the other layer by a few stepovers
	over := share.Widen(reach, v.Field.NX, int(math.Ceil(2.5*float64(l.s0)*w.unit/w.pitch))+1)
	reach = share.Widen(reach, v.Field.NX, int(math.Ceil(w.p.Overlap/w.pitch))+1)
	for k, s := range v.State {
		core := s == share.Own || s == share.Wall
		if s == share.Out || core && !over[k] || !core && !reach[k] {
			continue
		}
		l.need[k] = 1
		if mine[k] {
			d := float64(demand[k]) * w.inv
			level := l.levelOf(d)
			l.need[k] = uint8(1 + level)
			if float64(l.gap(level)) > 1.05*d {
				l.unmet++
			}
		}
	}
	return l
}

// levelOf is the coarsest level whose spacing serves a demand in units.
func (l *layer) levelOf(demand float64) int {
	for k := range l.levels {
		if float64(l.gap(k)) <= float64(demand)+1e-6 {
			return k
		}
	}
	return l.levels
}
