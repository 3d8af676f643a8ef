package proof

import (
	"context"
	"runtime"
	"sync"
	"sync/atomic"
)

// inParallel calls do(0) … do(n−1) on all cores, each core with its own do from maker. It stops at the
// first error or when ctx ends.
func inParallel(ctx context.Context, n int, maker func() func(int) error) error {
	var next atomic.Int64
	var once sync.Once
	var first error
	var failed atomic.Bool
	var wg sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), n) {
		wg.Go(func() {
			do := maker()
			for !failed.Load() {
				k := int(next.Add(1)) - 1
				if k >= n {
					return
				}
				err := ctx.Err()
				if err == nil {
					err = do(k)
				}
				if err != nil {
					failed.Store(true)
					once.Do(func() { first = err })
				}
			}
		})
	}
	wg.Wait()
	return first
}
