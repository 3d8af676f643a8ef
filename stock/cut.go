package stock

import (
	"context"
	"math"
	"runtime"
	"sync"
	"sync/atomic"

	"barwise/geom"
	"barwise/geom/field"
	"barwise/shop/cutter"
)

// bandRows is how many rows one worker takes at a time. It is fixed, so that sums by band come out
// alike on any number of cores.
const bandRows = 32

// Cut lowers the field of a side by one straight move of the tip from a to b, in the side frame: every
// node within R of the way in XY falls to the exact minimum over the move. Moves straight down and of
// no length are discs.
func (s *Stack) Cut(side int, p cutter.Profile, a, b geom.Vec3) {
	sd := &s.sides[side]
	sd.gen++
	w := newSweep(p, a, b)
	j0, j1 := yRange(&sd.h.Grid, w.r, a, b)
	for j := j0; j <= j1; j++ {
		w.lowerRow(&sd.h.Grid, sd.h.Row(j), j, -w.r-touch, w.l+w.r+touch)
	}
}

// CutMoves lowers the field of a side by the moves pts[0]→pts[1]→…, the same as Cut one by one to the
// rounding of the last bit. It returns only the error of ctx; the field is then cut in part.
func (s *Stack) CutMoves(ctx context.Context, side int, p cutter.Profile, pts []geom.Vec3) error {
	if len(pts) == 1 {
		pts = []geom.Vec3{pts[0], pts[0]}
	}
	if len(pts) < 2 {
		return ctx.Err()
	}
	sd := &s.sides[side]
	sd.gen++
	j0, j1 := sd.h.NY, -1
	for k := range pts {
		a, b := yRange(&sd.h.Grid, p.R, pts[k], pts[k])
		j0, j1 = min(j0, a), max(j1, b)
	}
	return eachBand(ctx, j0, j1, func(j0, j1 int) error { return cutBand(ctx, sd.h, p, pts, j0, j1) })
}

// eachBand calls do for the bands of rows that meet [j0, j1], on all cores.
func eachBand(ctx context.Context, j0, j1 int, do func(j0, j1 int) error) error {
	if j0 > j1 {
		return ctx.Err()
	}
	first, last := j0/bandRows, j1/bandRows
	workers := min(runtime.GOMAXPROCS(0), last-first+1)
	if workers == 1 {
		for b := first; b <= last; b++ {
			if err := do(max(j0, b*bandRows), min(j1, b*bandRows+bandRows-1)); err != nil {
				return err
			}
		}
		return ctx.Err()
	}
	var next atomic.Int64
	var wg sync.WaitGroup
	errs := make([]error, workers)
	next.Store(int64(first))
	for k := range workers {
		wg.Go(func() {
			for b := int(next.Add(1)) - 1; b <= last && errs[k] == nil; b = int(next.Add(1)) - 1 {
				errs[k] = do(max(j0, b*bandRows), min(j1, b*bandRows+bandRows-1))
			}
		})
	}
	wg.Wait()
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return ctx.Err()
}

// cutBand does the moves on rows [j0, j1]. Where a node is nearest to the point two moves share, both
// would lower it to the same height: a move leaves out what is surely behind its start (the move before
// does it) and what is surely past its end and not behind the start of the next (that one does it). The
// moves a node is left to form a chain that ends at one which takes it: going up the chain heights only
// fall.
func cutBand(ctx context.Context, f *field.Field, p cutter.Profile, pts []geom.Vec3, j0, j1 int) error {
	g := &f.Grid
	y0, y1 := g.Y(j0)-p.R-2*touch, g.Y(j1)+p.R+2*touch
	const none = -1
	cur, next := sweep{}, sweep{}
	have := none // index of the move that next holds
	for k := 0; k+1 < len(pts); k++ {
		if k&1023 == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		a, b := pts[k], pts[k+1]
		if a.Y < y0 && b.Y < y0 || a.Y > y1 && b.Y > y1 {
			continue
		}
		if have == k {
			cur = next
		} else {
			cur = newSweep(p, a, b)
		}
		last := k+2 == len(pts)
		if !last {
			next, have = newSweep(p, b, pts[k+2]), k+1
		}
		ulo, uhi := -cur.r-touch, cur.l+cur.r+touch
		if k > 0 && !cur.vertical {
			ulo = -cur.reach - touch
		}
		wedge := !last && !cur.vertical
		if wedge {
			uhi = cur.l + cur.reach + touch
		}
		r0, r1 := yRange(g, cur.r, a, b)
		for j := max(r0, j0); j <= min(r1, j1); j++ {
			row := f.Row(j)
			cur.lowerRow(g, row, j, ulo, uhi)
			if wedge && !next.vertical {
				cur.lowerWedge(g, row, j, &next)
			}
		}
	}
	return nil
}

// lowerRow lowers the nodes of row j with ulo ≤ u ≤ uhi.
func (w *sweep) lowerRow(g *field.Grid, row []float32, j int, ulo, uhi float64) {
	dy := g.Y(j) - w.ay
	i0, i1 := w.nodes(g, w.rowSpan(dy, ulo, uhi))
	if i0 > i1 {
		return
	}
	a, b := w.nodes(g, w.rowSpan(dy, w.reach, w.l-w.reach))
	a, b = max(a, i0), min(b, i1)
	if a > b || w.m != 0 && w.form != formBall && w.form != formFlat {
		w.lowerNodes(g, row, dy, i0, i1)
		return
	}
	w.lowerNodes(g, row, dy, i0, a-1)
	w.lowerSure(g, row, dy, a, b)
	w.lowerNodes(g, row, dy, b+1, i1)
}

// lowerWedge lowers the nodes of row j past the end of the move and behind the start of the next.
func (w *sweep) lowerWedge(g *field.Grid, row []float32, j int, next *sweep) {
	dy := g.Y(j) - w.ay
	s := w.rowSpan(dy, w.l+w.reach-touch, w.l+w.r+touch)
	// u of the next move ≤ −reach, with x counted from this move's start
	off := float64((w.ax-next.ax)*next.ux) + float64((g.Y(j)-next.ay)*next.uy)
	s.clip(-next.ux, off+next.reach-touch)
	i0, i1 := w.nodes(g, s)
	w.lowerNodes(g, row, dy, i0, i1)
}

// lowerNodes is the plain way, for any node.
func (w *sweep) lowerNodes(g *field.Grid, row []float32, dy float64, i0, i1 int) {
	u0, v0 := float64(dy*w.uy), float64(dy*w.ux)
	for i := i0; i <= i1; i++ {
		dx := g.X(i) - w.ax
		z := float32(w.at(u0+float64(dx*w.ux), v0-float64(dx*w.uy)))
		if z < row[i] {
			row[i] = z
		}
	}
}

// lowerSure lowers nodes whose optimum surely lies within the move.
func (w *sweep) lowerSure(g *field.Grid, row []float32, dy float64, i0, i1 int) {
	if i0 > i1 {
		return
	}
	u0, v0 := float64(dy*w.uy), float64(dy*w.ux)
	row = row[i0 : i1+1]
	x0 := g.X0 + float64(float64(i0)*g.DX) - w.ax
	switch {
	case w.form == formBall:
		base, k := w.az+w.r+float64(w.m*u0), w.m*w.ux
		for i := range row {
			dx := x0 + float64(float64(i)*g.DX)
			v := v0 - float64(dx*w.uy)
			z := float32(base + float64(k*dx) - float64(w.sm*math.Sqrt(max(0, w.r2-float64(v*v)))))
			if z < row[i] {
				row[i] = z
			}
		}
	case w.m == 0 && w.form == formFlat:
		z := float32(w.az)
		for i := range row {
			row[i] = min(row[i], z)
		}
	case w.m == 0:
		for i := range row {
			dx := x0 + float64(float64(i)*g.DX)
			z := float32(w.az + w.p.Height(min(w.r, math.Abs(v0-float64(dx*w.uy)))))
			if z < row[i] {
				row[i] = z
			}
		}
	default: // a flat on a slope: the rim leads by half a chord
		base, k := w.az+float64(w.m*u0), w.m*w.ux
		for i := range row {
			dx := x0 + float64(float64(i)*g.DX)
			v := v0 - float64(dx*w.uy)
			z := float32(base + float64(k*dx) - float64(w.am*math.Sqrt(max(0, w.q2-float64(v*v)))))
			if z < row[i] {
				row[i] = z
			}
		}
	}
}
