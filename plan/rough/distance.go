package rough

import (
	"math"
	"runtime"
	"slices"
	"sync"

	"barwise/geom/field"
)

// distances holds the exact squared distance of every node of a grid to the nearest node of a set, or
// the least power (squared distance less a squared radius) over weighted nodes, with the node that
// gives it. Two passes of lower envelopes of parabolas, linear in the nodes: Felzenszwalb and
// Huttenlocher, Distance Transforms of Sampled Functions, Theory of Computing 8 (2012). Rows and columns
// do not depend on one another, so they are shared out over the cores.
type distances struct {
	grid field.Grid
	d2   []float64 // mm²; +Inf where the set is empty
	row  []int32   // row of the nearest node of the column below or above
	arg  []int32   // node that gives d2
	at   []*envelope
}

// envelope is the lower envelope of the parabolas of one row or column.
type envelope struct {
	f   []float64 // in: least value under each node, +Inf for none
	col []float64 // out: least value of any parabola
	who []int32   // out: the node it belongs to
	v   []int32
	z   []float64
}

func newDistances(g field.Grid) *distances {
	n, m := g.Len(), max(g.NX, g.NY)
	d := &distances{grid: g, d2: make([]float64, n), row: make([]int32, n), arg: make([]int32, n)}
	for range workers() {
		d.at = append(d.at, &envelope{f: make([]float64, m), col: make([]float64, m), who: make([]int32, m),
			v: make([]int32, m), z: make([]float64, m+1)})
	}
	return d
}

func workers() int { return max(1, runtime.GOMAXPROCS(0)) }

// share splits [0, n) over at most most workers; f must not depend on how.
func share(n, most int, f func(worker, lo, hi int)) {
	if most <= 1 || n < 64 {
		f(0, 0, n)
		return
	}
	var wait sync.WaitGroup
	for c := range most {
		wait.Add(1)
		go func() {
			defer wait.Done()
			f(c, c*n/most, (c+1)*n/most)
		}()
	}
	wait.Wait()
}

// toSet measures to the nodes for which in is true; false where there are none.
func (d *distances) toSet(in func(k int) bool) bool {
	any := make([]bool, len(d.at))
	share(d.grid.NX, len(d.at), func(worker, lo, hi int) { any[worker] = d.columns(in, lo, hi) })
	if !slices.Contains(any, true) {
		for k := range d.d2 {
			d.d2[k] = math.Inf(1)
		}
		return false
	}
	d.rows()
	return true
}

// columns finds the nearest member of every column from lo to hi: for a set that needs no envelope.
func (d *distances) columns(in func(k int) bool, lo, hi int) (any bool) {
	nx, ny := d.grid.NX, d.grid.NY
	const none = math.MinInt32 / 2
	for j := range ny {
		row := d.row[j*nx : (j+1)*nx]
		for i := lo; i < hi; i++ {
			switch {
			case in(j*nx + i):
				row[i], any = int32(j), true
			case j > 0:
				row[i] = d.row[(j-1)*nx+i]
			default:
				row[i] = none
			}
		}
	}
	for j := ny - 1; j >= 0; j-- {
		row := d.row[j*nx : (j+1)*nx]
		d2 := d.d2[j*nx : (j+1)*nx]
		for i := lo; i < hi; i++ {
			r := row[i]
			if j < ny-1 {
				if b := d.row[(j+1)*nx+i]; b >= 0 && (r < 0 || b-int32(j) < int32(j)-r) {
					r = b
					row[i] = b
				}
			}
			if r < 0 {
				d2[i] = math.Inf(1)
				continue
			}
			dy := float64(j-int(r)) * d.grid.DY
			d2[i] = dy * dy
		}
	}
	return any
}

// power finds min over nodes c of |x − c|² + weight(c); weight +Inf leaves a node out.
func (d *distances) power(weight []float64) {
	nx, ny := d.grid.NX, d.grid.NY
	share(nx, len(d.at), func(worker, lo, hi int) {
		e := d.at[worker]
		for i := lo; i < hi; i++ {
			for j := range ny {
				e.f[j] = weight[j*nx+i]
			}
			e.solve(ny, d.grid.DY)
			for j := range ny {
				d.d2[j*nx+i] = e.col[j]
				d.row[j*nx+i] = e.who[j]
			}
		}
	})
	d.rows()
}

func (d *distances) rows() {
	nx := d.grid.NX
	share(d.grid.NY, len(d.at), func(worker, lo, hi int) {
		e := d.at[worker]
		for j := lo; j < hi; j++ {
			copy(e.f, d.d2[j*nx:(j+1)*nx])
			e.solve(nx, d.grid.DX)
			copy(d.d2[j*nx:(j+1)*nx], e.col)
			for i, v := range e.who[:nx] {
				d.arg[j*nx+i] = d.row[j*nx+int(v)]*int32(nx) + v
			}
		}
	})
}

// solve takes f[0:n] at pitch h to col[q] = min over p of h²(q−p)² + f[p], and who[q] = that p.
func (e *envelope) solve(n int, h float64) {
	h2 := h * h
	k := -1
	for q := range n {
		fq := e.f[q]
		if math.IsInf(fq, 1) {
			continue
		}
		if k < 0 {
			k = 0
			e.v[0] = int32(q)
			e.z[0], e.z[1] = math.Inf(-1), math.Inf(1)
			continue
		}
		var s float64
		for {
			p := int(e.v[k])
			s = float64(q+p)/2 + (fq-e.f[p])/(2*h2*float64(q-p))
			if s > e.z[k] || k == 0 {
				break
			}
			k--
		}
		if s <= e.z[k] { // only at k = 0
			e.v[0] = int32(q)
			e.z[1] = math.Inf(1)
			continue
		}
		k++
		e.v[k] = int32(q)
		e.z[k], e.z[k+1] = s, math.Inf(1)
	}
	if k < 0 {
		for q := range n {
			e.col[q], e.who[q] = math.Inf(1), 0
		}
		return
	}
	for q := n - 1; q >= 0; q-- {
		for e.z[k] > float64(q) {
			k--
		}
		p := e.v[k]
		x := float64(q-int(p)) * h
		e.col[q] = float64(x*x) + e.f[p]
		e.who[q] = p
	}
}
