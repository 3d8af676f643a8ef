package field

import (
	"math"
	"runtime"
	"sync"
)

// DiscMax returns, at every node, the greatest height among the nodes within r of it: a flat disc
// resting on the samples. Its cost grows with r/pitch, not with its square: a disc is a stack of
// chords, and the greatest of every window of a row is found in three steps a node.
func DiscMax(f *Field, r float64) *Field {
	out := New(f.Grid, Empty)
	n := int(math.Floor(r / f.DY))
	half := make([]int, n+1) // nodes each way in the chord k rows off the middle
	for k := range half {
		y := float64(k) * f.DY
		half[k] = int(math.Floor(math.Sqrt(max(0, float64(r*r)-float64(y*y)))/f.DX + 1e-9))
	}
	var wg sync.WaitGroup
	rows := make(chan int, f.NY)
	for j := range f.NY {
		rows <- j
	}
	close(rows)
	for range runtime.GOMAXPROCS(0) {
		wg.Go(func() {
			w := newWindow(f.NX)
			for j := range rows {
				to := out.Row(j)
				for k := -n; k <= n; k++ {
					if q := j + k; q >= 0 && q < f.NY {
						w.raise(to, f.Row(q), half[max(k, -k)])
					}
				}
			}
		})
	}
	wg.Wait()
	return out
}

// window finds the greatest value of every window of 2·half + 1 nodes: blocks of a window's length are
// run through from both ends, and any window is the end of one block and the start of the next.
type window struct{ left, right []float32 }

func newWindow(n int) *window { return &window{make([]float32, n), make([]float32, n)} }

func (w *window) raise(to, row []float32, half int) {
	n, size := len(row), 2*half+1
	if half == 0 {
		for i, z := range row {
			to[i] = max(to[i], z)
		}
		return
	}
	for i, z := range row {
		if i%size == 0 {
			w.left[i] = z
		} else {
			w.left[i] = max(w.left[i-1], z)
		}
	}
	for i := n - 1; i >= 0; i-- {
		if i == n-1 || (i+1)%size == 0 {
			w.right[i] = row[i]
		} else {
			w.right[i] = max(w.right[i+1], row[i])
		}
	}
	for i := range to {
		a, b := i-half, i+half
		switch {
		case a < 0 && b >= n:
			for k := 0; k < n; k += size {
				to[i] = max(to[i], w.right[k])
			}
		case a < 0: // within the first block
			to[i] = max(to[i], w.left[b])
		case b >= n && a/size == (n-1)/size: // within the last block
			to[i] = max(to[i], w.right[a])
		case b >= n:
			to[i] = max(to[i], w.right[a], w.left[n-1])
		default:
			to[i] = max(to[i], w.right[a], w.left[b])
		}
	}
}
