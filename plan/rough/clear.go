package rough

import (
	"context"
	"math"
	"slices"

	"barwise/geom"
	"barwise/geom/field/iso"
)

// zone is one connected piece of the room where the tip may go, with the lines that clear it.
type zone struct {
	fronts [][]iso.Line // by way from the clear room
	walls  []iso.Line
	entry  *iso.Line // circle of a helix that opens it, counter-clockwise
	thin   bool      // no node of it has room for simplification
}

// clear makes the passes of a level, zone by zone, nearest first.
func (w *work) clear(ctx context.Context) error {
	label, zones := w.zones()
	w.helices(label, zones)
	w.gather(label, zones)
	for len(zones) > 0 {
		if err := ctx.Err(); err != nil {
			return err
		}
		at, best := 0, math.Inf(1)
		for i, z := range zones {
			if d := z.nearest(w.tip); d < best {
				at, best = i, d
			}
		}
		z := zones[at]
		zones = slices.Delete(zones, at, at+1)
		if z.entry != nil {
			w.helix(*z.entry)
		}
		if err := w.cutFronts(ctx, z.fronts); err != nil {
			return err
		}
		w.cutWalls(z)
	}
	return nil
}

func (z *zone) nearest(p geom.Vec2) float64 {
	d := math.Inf(1)
	see := func(ls []iso.Line) {
		for _, l := range ls {
			d = min(d, gap(p, l.Pts[0]))
		}
	}
	if z.entry != nil {
		see([]iso.Line{*z.entry})
		return d
	}
	if len(z.fronts) > 0 {
		see(z.fronts[0])
	}
	if math.IsInf(d, 1) {
		see(z.walls)
	}
	return d
}

// zones numbers the connected pieces of the room in order of their first nodes, 0 for none. Runs of
// allowed nodes are joined row by row.
func (w *work) zones() ([]int32, []*zone) {
	nx := w.grid.NX
	g := w.wall.g
	type run struct{ lo, hi, parent int32 } // nodes lo to hi−1 of a row
	var runs []run
	find := func(r int32) int32 {
		for runs[r].parent != r {
			runs[r].parent = runs[runs[r].parent].parent
			r = runs[r].parent
		}
		return r
	}
	first := []int32{0} // of each row, in runs
	for j := range w.grid.NY {
		row := g[j*nx : (j+1)*nx]
		for i := 0; i < nx; i++ {
			if row[i] < 0 {
				continue
			}
			lo := i
			for i < nx && row[i] >= 0 {
				i++
			}
			runs = append(runs, run{int32(lo), int32(i), int32(len(runs))})
		}
		first = append(first, int32(len(runs)))
		if j == 0 {
			continue
		}
		a, b := first[j-1], first[j]
		for a < first[j] && b < first[j+1] {
			if runs[a].lo < runs[b].hi && runs[b].lo < runs[a].hi {
				p, q := find(a), find(b)
				runs[max(p, q)].parent = min(p, q)
			}
			if runs[a].hi < runs[b].hi {
				a++
			} else {
				b++
			}
		}
	}
	label := make([]int32, w.n)
	number := make([]int32, len(runs))
	var zones []*zone
	for j := range w.grid.NY {
		for r := first[j]; r < first[j+1]; r++ {
			root := find(r)
			if number[root] == 0 {
				zones = append(zones, &zone{thin: true})
				number[root] = int32(len(zones))
			}
			n := number[root]
			for k := j*nx + int(runs[r].lo); k < j*nx+int(runs[r].hi); k++ {
				label[k] = n
				if w.ok[k] {
					zones[n-1].thin = false
				}
			}
		}
	}
	return label, zones
}

// helices opens every zone that the front did not reach by a helix in its widest place, and runs the
// front on from there. Zones too narrow for one are left to a ramp along their wall.
func (w *work) helices(label []int32, zones []*zone) {
	type spot struct {
		k int
		d float64
	}
	spots := make([]spot, len(zones)+1)
	shut := false
	for k, l := range label {
		if l > 0 && w.ok[k] && math.IsInf(w.arrival.t[k], 1) {
			shut = true
			break
		}
	}
	if !shut {
		return
	}
	room := w.wall.power // free for reuse once the wall is found
	if !room.toSet(func(k int) bool { return !w.ok[k] }) {
		return
	}
	for k, l := range label {
		if l > 0 && w.ok[k] && math.IsInf(w.arrival.t[k], 1) && room.d2[k] > spots[l].d {
			spots[l] = spot{k, room.d2[k]}
		}
	}
	pitch := max(w.grid.DX, w.grid.DY)
	least := 0.25 * w.p.Cutter.DC()
	if w.p.Cutter.Plunges {
		least = 0.1 * w.p.Cutter.DC()
	}
	least = max(least, 2*pitch)
	fresh := make([]bool, w.n)
	for l := 1; l < len(spots); l++ {
		r := min(w.p.Helix, math.Sqrt(spots[l].d)-pitch)
		if r < least {
			continue
		}
		nx := w.grid.NX
		c := geom.Vec2{X: w.grid.X(spots[l].k % nx), Y: w.grid.Y(spots[l].k / nx)}
		circle := w.circle(c, r)
		zones[l-1].entry = &circle
		for k, m := range label {
			if m != int32(l) || !w.ok[k] {
				continue
			}
			if d := gap(c, geom.Vec2{X: w.grid.X(k % nx), Y: w.grid.Y(k / nx)}); d <= r {
				w.arrival.t[k], w.arrival.done[k], fresh[k] = d-r, true, true
			}
		}
	}
	w.runFront(func(k int) bool { return fresh[k] })
}

// circle returns a closed circle, counter-clockwise, whose chords stay within the tolerance.
func (w *work) circle(c geom.Vec2, r float64) iso.Line {
	n := max(12, int(math.Ceil(math.Pi/math.Acos(1-min(0.5, w.p.Tolerance/r)))))
	l := iso.Line{Closed: true}
	for i := range n {
		s, co := math.Sincos(2 * math.Pi * float64(i) / float64(n))
		l.Pts = append(l.Pts, geom.Vec2{X: c.X + float64(r*co), Y: c.Y + float64(r*s)})
	}
	return l
}

// gather traces the fronts and the walls and deals them to their zones.
func (w *work) gather(label []int32, zones []*zone) {
	t, s := w.arrival.t, w.p.Stepover
	fronts := w.trace.Lines(func(k int) float64 { return t[k] },
		func(k int) bool { return w.ok[k] && !math.IsInf(t[k], 1) }, s, s)
	for n, ls := range fronts {
		for _, l := range ls {
			if z := w.zoneOf(l, label, zones); z != nil {
				for len(z.fronts) <= n {
					z.fronts = append(z.fronts, nil)
				}
				if !w.p.Climb {
					l = l.Reversed()
				}
				z.fronts[n] = append(z.fronts[n], l)
			}
		}
	}
	thin := false
	for _, z := range zones {
		thin = thin || z.thin
	}
	w.gatherWalls(label, zones, w.p.Tolerance, false)
	if thin {
		w.gatherWalls(label, zones, -hairline, true)
	}
}

// hairline is how far beyond the outermost allowed nodes the wall of a thin zone is traced, mm.
const hairline = 0.001

func (w *work) gatherWalls(label []int32, zones []*zone, off float64, thin bool) {
	g := w.wall.g
	for _, ls := range w.trace.Lines(func(k int) float64 { return float64(g[k]) }, nil, off, 0) {
		for _, l := range ls {
			if z := w.zoneOf(l, label, zones); z != nil && z.thin == thin {
				r := w.region
				for i, p := range l.Pts { // the hairline is not for the region's limits
					l.Pts[i] = geom.Vec2{X: min(max(p.X, r.XMin), r.XMax), Y: min(max(p.Y, r.YMin), r.YMax)}
				}
				if w.p.Climb {
					l = l.Reversed() // the wall is to be on the right
				}
				z.walls = append(z.walls, l)
			}
		}
	}
}

// zoneOf finds the zone by a node near some point of the line; nil where it touches none, in room too
// narrow to hold a node.
func (w *work) zoneOf(l iso.Line, label []int32, zones []*zone) *zone {
	for _, p := range l.Pts {
		i, j := w.grid.Nearest(p)
		for _, d := range [9][2]int{{0, 0}, {1, 0}, {-1, 0}, {0, 1}, {0, -1}, {1, 1}, {-1, 1}, {1, -1}, {-1, -1}} {
			if w.grid.Inside(i+d[0], j+d[1]) {
				if n := label[(j+d[1])*w.grid.NX+i+d[0]]; n > 0 {
					return zones[n-1]
				}
			}
		}
	}
	return nil
}
