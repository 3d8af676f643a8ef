package stock

import (
	"context"
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
	reach := w.stretch(&sd.h.Grid, false, nil)
	for j := j0; j <= j1; j++ {
		w.lower(&sd.h.Grid, sd.h.Row(j), j, &reach)
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

// cutBand does the moves on rows [j0, j1].
func cutBand(ctx context.Context, f *field.Field, p cutter.Profile, pts []geom.Vec3, j0, j1 int) error {
	g := &f.Grid
	y0, y1 := g.Y(j0)-p.R-2*touch, g.Y(j1)+p.R+2*touch
	var ways [2]sweep // of this move and the next, by turns
	have := -1        // index of the move that the next one's holds
	for k := 0; k+1 < len(pts); k++ {
		if k&1023 == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		a, b := pts[k], pts[k+1]
		if a.Y < y0 && b.Y < y0 || a.Y > y1 && b.Y > y1 {
			continue
		}
		cur, next := &ways[k&1], &ways[k&1^1]
		if have != k {
			*cur = newSweep(p, a, b)
		}
		if k+2 < len(pts) {
			*next, have = newSweep(p, b, pts[k+2]), k+1
		} else {
			next = nil
		}
		s := cur.stretch(g, k > 0, next)
		r0, r1 := yRange(g, cur.r, a, b)
		for j := max(r0, j0); j <= min(r1, j1); j++ {
			cur.lower(g, f.Row(j), j, &s)
		}
	}
	return nil
}
