package rough

import (
	"math"

	"barwise/geom/field"
)

// arrival holds, for every node, the way of the cutter's front from the clear room to it.
type arrival struct {
	t      []float64 // mm; +Inf where the front does not come
	done   []bool
	bucket [buckets][]int32
	width  float64
	base   int
}

// buckets is more than any front's spread needs: an update adds at most a pitch, two at a ratio of 2.
const buckets = 64

func (f *arrival) init(g field.Grid) {
	f.t, f.done = make([]float64, g.Len()), make([]bool, g.Len())
	f.width = min(g.DX, g.DY) / 4
}

// arrive starts the front from the clear room V, where the cutter is off the stock (by no more than
// slack on it), and runs it through the room where the tip may go.
func (w *work) arrive() {
	f := &w.arrival
	far := w.re - w.slack
	for k := range f.t {
		f.t[k], f.done[k] = math.Inf(1), false
		if w.ok[k] && w.stock.d2[k] >= far*far {
			f.t[k], f.done[k] = w.re-math.Sqrt(w.stock.d2[k]), true
		}
	}
	w.runFront(func(k int) bool { return f.done[k] })
}

// runFront advances the front from the nodes for which from is true, whose times are set: first-order
// upwind differences of the eikonal equation |∇t| = 1, served from a ring of buckets in order of time.
// The order inside a bucket a quarter pitch wide is that of arrival, which costs less than the
// scheme's own error of a few per cent of a pitch.
func (w *work) runFront(from func(k int) bool) {
	f, nx, ny := &w.arrival, w.grid.NX, w.grid.NY
	// only sources beside room still to reach matter; they lie within two pitches of one another
	low := math.Inf(1)
	var edge []int32
	for k := range f.t {
		if !from(k) {
			continue
		}
		i, j := k%nx, k/nx
		if i > 0 && w.waits(k-1) || i < nx-1 && w.waits(k+1) || j > 0 && w.waits(k-nx) || j < ny-1 && w.waits(k+nx) {
			edge = append(edge, int32(k))
			low = min(low, f.t[k])
		}
	}
	if len(edge) == 0 {
		return
	}
	f.base = int(math.Floor(low / f.width))
	for _, k := range edge {
		f.push(int(k))
	}
	for idle := 0; idle < buckets; {
		b := ((f.base % buckets) + buckets) % buckets
		if len(f.bucket[b]) == 0 {
			f.base++
			idle++
			continue
		}
		idle = 0
		for q := 0; q < len(f.bucket[b]); q++ {
			k := int(f.bucket[b][q])
			if f.done[k] && !from(k) {
				continue
			}
			f.done[k] = true
			i, j := k%nx, k/nx
			if i > 0 {
				w.relax(k-1, i-1, j)
			}
			if i < nx-1 {
				w.relax(k+1, i+1, j)
			}
			if j > 0 {
				w.relax(k-nx, i, j-1)
			}
			if j < ny-1 {
				w.relax(k+nx, i, j+1)
			}
		}
		f.bucket[b] = f.bucket[b][:0]
		f.base++
	}
}

func (w *work) waits(k int) bool { return w.ok[k] && !w.arrival.done[k] }

// push files a node by its time; one that is later than the ring reaches waits in its last bucket.
func (f *arrival) push(k int) {
	b := int(math.Floor(f.t[k] / f.width))
	b = min(max(b, f.base), f.base+buckets-1)
	b = ((b % buckets) + buckets) % buckets
	f.bucket[b] = append(f.bucket[b], int32(k))
}

func (w *work) relax(k, i, j int) {
	f, nx := &w.arrival, w.grid.NX
	if !w.ok[k] || f.done[k] {
		return
	}
	inf := math.Inf(1)
	a, b := inf, inf
	if i > 0 {
		a = f.t[k-1]
	}
	if i < nx-1 {
		a = min(a, f.t[k+1])
	}
	if j > 0 {
		b = f.t[k-nx]
	}
	if j < w.grid.NY-1 {
		b = min(b, f.t[k+nx])
	}
	if t := upwind(a, b, w.grid.DX, w.grid.DY); t < f.t[k] {
		f.t[k] = t
		f.push(k)
	}
}

// upwind solves ((t−a)/dx)² + ((t−b)/dy)² = 1 for the later t, or by one neighbour where that is earlier.
func upwind(a, b, dx, dy float64) float64 {
	one := min(a+dx, b+dy)
	if math.IsInf(a, 1) || math.IsInf(b, 1) {
		return one
	}
	if dx == dy {
		d := a - b
		if math.Abs(d) >= dx {
			return one
		}
		return (a + b + math.Sqrt(float64(2*dx*dx)-float64(d*d))) / 2
	}
	p, q := 1/(dx*dx), 1/(dy*dy)
	m := (float64(a*p) + float64(b*q)) / (p + q)
	d := a - b
	disc := 1/(p+q) - float64(p*q*float64(d*d))/float64((p+q)*(p+q))
	if disc < 0 {
		return one
	}
	if t := m + math.Sqrt(disc); t >= max(a, b) {
		return t
	}
	return one
}
