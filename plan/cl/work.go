package cl

import (
	"context"
	"runtime"
	"sync"
	"sync/atomic"
)

// inChunks calls f on consecutive ranges that cover [0, n), on all cores, and returns when all are done.
func inChunks(n, size int, f func(lo, hi int)) {
	if n <= 0 {
		return
	}
	var next atomic.Int64
	work := func() {
		for {
			lo := (int(next.Add(1)) - 1) * size
			if lo >= n {
				return
			}
			f(lo, min(lo+size, n))
		}
	}
	spread(min(runtime.GOMAXPROCS(0), (n+size-1)/size), work)
}

// eachOf calls f(0) … f(n−1), on all cores, each core with its own value of make; it stops early when
// ctx is done.
func eachOf[W any](ctx context.Context, n int, make func() W, f func(w W, i int)) error {
	var next atomic.Int64
	spread(min(runtime.GOMAXPROCS(0), n), func() {
		w := make()
		for ctx.Err() == nil {
			i := int(next.Add(1)) - 1
			if i >= n {
				return
			}
			f(w, i)
		}
	})
	return ctx.Err()
}

func spread(workers int, work func()) {
	if workers <= 1 {
		work()
		return
	}
	var wg sync.WaitGroup
	for range workers {
		wg.Go(work)
	}
	wg.Wait()
}
