package rough

import (
	"container/heap"
	"math"

	"barwise/geom"
	"barwise/path"
)

// through finds a way from a to b on the level through room already cleared, by A* on a lattice begun
// at a and pulled straight: points after a, the last of them b. It gives up beyond the given length.
func (w *work) through(a, b geom.Vec2, most float64) []geom.Vec2 {
	if gap(a, b) > most {
		return nil
	}
	if w.open(a, b) {
		return []geom.Vec2{b}
	}
	f := &w.finder
	f.start(a, b, w.p.Cutter.R/6, most)
	for f.queue.Len() > 0 && f.spent < 8000 {
		at := heap.Pop(&f.queue).(spot)
		if f.done[at.k] == f.age {
			continue
		}
		f.done[at.k] = f.age
		p := f.point(at.k)
		if gap(p, b) <= 1.5*f.step && w.open(p, b) {
			return w.pulled(f.trail(at.k), b)
		}
		for d := range 8 {
			k, l := f.next(at.k, d)
			if k < 0 || f.done[k] == f.age {
				continue
			}
			cost := f.cost[at.k] + l
			q := f.point(k)
			if cost+gap(q, b) > most || f.seen[k] == f.age && f.cost[k] <= cost {
				continue
			}
			if f.seen[k] != f.age {
				f.spent++
				f.seen[k] = f.age
				f.free[k] = w.wallAt(q) >= 0 && !w.touches(q, w.clearance())
			} else if !f.free[k] {
				continue
			}
			f.cost[k], f.from[k] = cost, at.k
			if f.free[k] {
				heap.Push(&f.queue, spot{cost + gap(q, b), k})
			}
		}
	}
	return nil
}

// clearance is how near stock may come on a way through cleared room.
func (w *work) clearance() float64 { return w.re - 0.03 }

// open reports that the tip may go straight from a to b with nothing to cut.
func (w *work) open(a, b geom.Vec2) bool {
	n := int(gap(a, b)/(w.p.Cutter.R/6)) + 1
	for i := 0; i <= n; i++ {
		p := plus(a, b.Sub(a), float64(i)/float64(n))
		if w.wallAt(p) < 0 || i > 0 && i < n && w.touches(p, w.clearance()) {
			return false
		}
	}
	return w.clearWay(a, b)
}

// pulled drops the points of a way that a straight line can pass by.
func (w *work) pulled(pts []geom.Vec2, b geom.Vec2) []geom.Vec2 {
	pts = append(pts, b)
	var out []geom.Vec2
	for i := 0; i < len(pts)-1; {
		j := len(pts) - 1
		for j > i+1 && !w.open(pts[i], pts[j]) {
			j = i + 1 + (j-i-1)/2
		}
		out = append(out, pts[j])
		i = j
	}
	return out
}

// finder is the state of the search.
type finder struct {
	origin     geom.Vec2
	step       float64
	n          int // nodes each way
	age        int32
	done, seen []int32
	cost       []float64
	from       []int32
	free       []bool
	queue      spots
	spent      int
}

func (f *finder) start(a, b geom.Vec2, step, most float64) {
	n := int(most/step) + 2
	if n > f.n {
		f.n, f.age = n, 0
		m := (2*n + 1) * (2*n + 1)
		f.done, f.seen, f.from = make([]int32, m), make([]int32, m), make([]int32, m)
		f.cost, f.free = make([]float64, m), make([]bool, m)
	}
	f.origin, f.step, f.spent = a, step, 0
	f.age++
	f.queue = f.queue[:0]
	k := int32(f.n*(2*f.n+1) + f.n)
	f.seen[k], f.cost[k], f.from[k], f.free[k] = f.age, 0, -1, true
	heap.Push(&f.queue, spot{gap(a, b), k})
}

func (f *finder) point(k int32) geom.Vec2 {
	m := int32(2*f.n + 1)
	return geom.Vec2{X: f.origin.X + float64(float64(int(k%m)-f.n)*f.step), Y: f.origin.Y + float64(float64(int(k/m)-f.n)*f.step)}
}

func (f *finder) next(k int32, d int) (int32, float64) {
	m := int32(2*f.n + 1)
	dx := [8]int32{1, 1, 0, -1, -1, -1, 0, 1}[d]
	dy := [8]int32{0, 1, 1, 1, 0, -1, -1, -1}[d]
	i, j := k%m+dx, k/m+dy
	if i < 0 || j < 0 || i >= m || j >= m {
		return -1, 0
	}
	l := f.step
	if dx != 0 && dy != 0 {
		l *= math.Sqrt2
	}
	return j*m + i, l
}

// trail returns the points from the origin to node k.
func (f *finder) trail(k int32) []geom.Vec2 {
	var out []geom.Vec2
	for ; k >= 0; k = f.from[k] {
		out = append(out, f.point(k))
	}
	for i, j := 0, len(out)-1; i < j; i, j = i+1, j-1 {
		out[i], out[j] = out[j], out[i]
	}
	return out
}

type spot struct {
	d float64
	k int32
}

type spots []spot

func (s spots) Len() int { return len(s) }
func (s spots) Less(i, j int) bool {
	return s[i].d < s[j].d || s[i].d == s[j].d && s[i].k < s[j].k
}
func (s spots) Swap(i, j int) { s[i], s[j] = s[j], s[i] }
func (s *spots) Push(x any)   { *s = append(*s, x.(spot)) }
func (s *spots) Pop() any {
	old := *s
	x := old[len(old)-1]
	*s = old[:len(old)-1]
	return x
}

// reach brings the tip to p through cleared room, by passes of one point each that are reached by a straight
// feed; false where no way is worth it.
func (w *work) reach(p geom.Vec2) bool {
	if !w.on {
		return false
	}
	most := w.p.FollowMax + 4*max(0, w.high-w.z)
	way := w.through(w.tip, p, most)
	if way == nil {
		return false
	}
	for _, q := range way[:len(way)-1] {
		w.put(path.Pass{Points: []geom.Vec3{{X: q.X, Y: q.Y, Z: w.z}}, Follow: true})
	}
	return true
}
