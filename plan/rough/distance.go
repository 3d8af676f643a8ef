package rough

import (
	"math"

	"barwise/geom/field"
)

// distances holds the exact squared distance of every node of a grid to the nearest node of a set, or
// the least power (squared distance less a squared radius) over weighted nodes, with the node that
// gives it. Two passes of lower envelopes of parabolas, linear in the nodes: Felzenszwalb and
// Huttenlocher, Distance Transforms of Sampled Functions, Theory of Computing 8 (2012).
type distances struct {
	grid field.Grid
	d2   []float64 // mm²; +Inf where the set is empty
	row  []int32   // row of the nearest node of the column below or above
	arg  []int32   // node that gives d2

	col []float64
	who []int32
	v   []int32
	z   []float64
	f   []float64
}

func newDistances(g field.Grid) *distances {
	n, m := g.Len(), max(g.NX, g.NY)
	return &distances{grid: g, d2: make([]float64, n), row: make([]int32, n), arg: make([]int32, n),
		col: make([]float64, m), who: make([]int32, m), v: make([]int32, m), z: make([]float64, m+1), f: make([]float64, m)}
}

// toSet measures to the nodes for which in is true; false where there are none.
func (d *distances) toSet(in func(k int) bool) bool {
	nx, ny := d.grid.NX, d.grid.NY
	any := false
	// along the columns a set needs no envelope: the nearest row above or below
	const none = math.MinInt32 / 2
	for j := range ny {
		row := d.row[j*nx : (j+1)*nx]
		for i := range row {
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
	if !any {
		for k := range d.d2 {
			d.d2[k] = math.Inf(1)
		}
		return false
	}
	for j := ny - 2; j >= 0; j-- {
		row, next := d.row[j*nx:(j+1)*nx], d.row[(j+1)*nx:(j+2)*nx]
		for i, r := range row {
			if b := next[i]; b >= 0 && (r < 0 || b-int32(j) < int32(j)-r) {
				row[i] = b
			}
		}
	}
	for j := range ny {
		for i := range nx {
			k := j*nx + i
			if r := d.row[k]; r < 0 {
				d.d2[k] = math.Inf(1)
			} else {
				dy := float64(j-int(r)) * d.grid.DY
				d.d2[k] = dy * dy
			}
		}
	}
	d.rows()
	return true
}

// power finds min over nodes c of |x − c|² + weight(c); weight +Inf leaves a node out.
func (d *distances) power(weight []float64) {
	nx, ny := d.grid.NX, d.grid.NY
	for i := range nx {
		for j := range ny {
			d.f[j] = weight[j*nx+i]
		}
		d.envelope(ny, d.grid.DY)
		for j := range ny {
			d.d2[j*nx+i] = d.col[j]
			d.row[j*nx+i] = d.who[j]
		}
	}
	d.rows()
}

func (d *distances) rows() {
	nx := d.grid.NX
	for j := range d.grid.NY {
		copy(d.f, d.d2[j*nx:(j+1)*nx])
		d.envelope(nx, d.grid.DX)
		copy(d.d2[j*nx:(j+1)*nx], d.col)
		for i, v := range d.who[:nx] {
			d.arg[j*nx+i] = d.row[j*nx+int(v)]*int32(nx) + v
		}
	}
}

// envelope takes f[0:n] at pitch h to col[q] = min over p of h²(q−p)² + f[p], and who[q] = that p.
func (d *distances) envelope(n int, h float64) {
	h2 := h * h
	k := -1
	for q := range n {
		fq := d.f[q]
		if math.IsInf(fq, 1) {
			continue
		}
		if k < 0 {
			k = 0
			d.v[0] = int32(q)
			d.z[0], d.z[1] = math.Inf(-1), math.Inf(1)
			continue
		}
		var s float64
		for {
			p := int(d.v[k])
			s = float64(q+p)/2 + (fq-d.f[p])/(2*h2*float64(q-p))
			if s > d.z[k] || k == 0 {
				break
			}
			k--
		}
		if s <= d.z[k] { // only at k = 0
			d.v[0] = int32(q)
			d.z[1] = math.Inf(1)
			continue
		}
		k++
		d.v[k] = int32(q)
		d.z[k], d.z[k+1] = s, math.Inf(1)
	}
	if k < 0 {
		for q := range n {
			d.col[q], d.who[q] = math.Inf(1), 0
		}
		return
	}
	for q := n - 1; q >= 0; q-- {
		for d.z[k] > float64(q) {
			k--
		}
		p := d.v[k]
		e := float64(q-int(p)) * h
		d.col[q] = float64(e*e) + d.f[p]
		d.who[q] = p
	}
}
