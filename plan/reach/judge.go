package reach

import (
	"context"
	"runtime"
	"sync"
	"sync/atomic"

	"barwise/geom/mesh/patch"
)

// eachRow calls do(0) … do(n−1) on all cores; it returns the error of ctx.
func eachRow(ctx context.Context, n int, do func(j int)) error {
	var next atomic.Int64
	var wg sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), max(n, 1)) {
		wg.Go(func() {
			for ctx.Err() == nil {
				j := int(next.Add(1)) - 1
				if j >= n {
					return
				}
				do(j)
			}
		})
	}
	wg.Wait()
	return ctx.Err()
}

func (w *predictor) judge(ctx context.Context, set *patch.Set) (*Prediction, error) {
	p := &Prediction{Stack: w.stack}
	if w.Mesh != nil {
		b, err := w.stack.Beyond(ctx, w.Mesh, w.Zone, []float64{0, w.Tolerance, max(w.Tolerance, w.Pitch)})
		if err != nil {
			return nil, err
		}
		p.Stays = *b
	}
	return p, ctx.Err()
}
