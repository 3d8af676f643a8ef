package field

import (
	"context"
	"runtime"
	"sync"
	"sync/atomic"
)

// EachRow calls do(0) … do(n−1) on all cores, in any order: do must keep to its own part of what is
// written. It stops early when ctx is done and returns the error of ctx.
func EachRow(ctx context.Context, n int, do func(j int)) error {
	var next atomic.Int64
	var wg sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), n) {
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
