package rough

import (
	"cmp"
	"context"
	"math"
	"slices"

	"barwise/geom"
	"barwise/path"
)

// zone is one connected piece of the room where the tip may go, with the lines that clear it.
type zone struct {
	fronts [][]line // by way from the clear room
	walls  []line
	entry  *line // circle of a helix that opens it, counter-clockwise
	thin   bool  // no node of it has room for simplification
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
		before := w.lv.Passes
		if z.entry != nil {
			w.helix(*z.entry)
		}
		if err := w.cutFronts(ctx, z.fronts); err != nil {
			return err
		}
		w.cutWalls(z, before)
	}
	return nil
}

func (z *zone) nearest(p geom.Vec2) float64 {
	d := math.Inf(1)
	see := func(ls []line) {
		for _, l := range ls {
			d = min(d, gap(p, l.pts[0]))
		}
	}
	if z.entry != nil {
		see([]line{*z.entry})
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

// zones numbers the connected pieces of the room, 0 for none.
func (w *work) zones() ([]int32, []*zone) {
	nx, ny := w.grid.NX, w.grid.NY
	label := make([]int32, w.n)
	var zones []*zone
	var stack []int32
	for k := range label {
		if w.wall.g[k] < 0 || label[k] != 0 {
			continue
		}
		zones = append(zones, &zone{thin: true})
		n := int32(len(zones))
		label[k] = n
		stack = append(stack[:0], int32(k))
		for len(stack) > 0 {
			q := int(stack[len(stack)-1])
			stack = stack[:len(stack)-1]
			if w.ok[q] {
				zones[n-1].thin = false
			}
			i, j := q%nx, q/nx
			for _, s := range [4][3]int{{i - 1, j, q - 1}, {i + 1, j, q + 1}, {i, j - 1, q - nx}, {i, j + 1, q + nx}} {
				if s[0] >= 0 && s[1] >= 0 && s[0] < nx && s[1] < ny && w.wall.g[s[2]] >= 0 && label[s[2]] == 0 {
					label[s[2]] = n
					stack = append(stack, int32(s[2]))
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
		if l > 0 && w.ok[k] && math.IsInf(w.front0.t[k], 1) {
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
		if l > 0 && w.ok[k] && math.IsInf(w.front0.t[k], 1) && room.d2[k] > spots[l].d {
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
				w.front0.t[k], w.front0.done[k], fresh[k] = d-r, true, true
			}
		}
	}
	w.runFront(func(k int) bool { return fresh[k] })
}

// circle returns a closed circle, counter-clockwise, whose chords stay within the tolerance.
func (w *work) circle(c geom.Vec2, r float64) line {
	n := max(12, int(math.Ceil(math.Pi/math.Acos(1-min(0.5, w.p.Tolerance/r)))))
	l := line{closed: true}
	for i := range n {
		s, co := math.Sincos(2 * math.Pi * float64(i) / float64(n))
		l.pts = append(l.pts, geom.Vec2{X: c.X + float64(r*co), Y: c.Y + float64(r*s)})
	}
	return l
}

// gather traces the fronts and the walls and deals them to their zones.
func (w *work) gather(label []int32, zones []*zone) {
	if w.trace == nil {
		w.trace = newTracer(w.grid)
	}
	t, s := w.front0.t, w.p.Stepover
	fronts := w.trace.contours(func(k int) float64 { return t[k] },
		func(k int) bool { return w.ok[k] && !math.IsInf(t[k], 1) }, s, s)
	for n, ls := range fronts {
		for _, l := range ls {
			if z := w.zoneOf(l, label, zones); z != nil {
				for len(z.fronts) <= n {
					z.fronts = append(z.fronts, nil)
				}
				if !w.p.Climb {
					l = reversed(l)
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
	for _, ls := range w.trace.contours(func(k int) float64 { return float64(g[k]) }, nil, off, 0) {
		for _, l := range ls {
			if z := w.zoneOf(l, label, zones); z != nil && z.thin == thin {
				if w.p.Climb {
					l = reversed(l) // the wall is to be on the right
				}
				z.walls = append(z.walls, l)
			}
		}
	}
}

// zoneOf finds the zone by a node near some point of the line; nil where it touches none, in room too
// narrow to hold a node.
func (w *work) zoneOf(l line, label []int32, zones []*zone) *zone {
	for _, p := range l.pts {
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

// cutFronts cuts what of the fronts meets stock. Next comes the nearest whose clear side is clear all
// along, so that it takes no more than its own strip: a branch is followed to its end before the
// next. Where there is none, the earliest is taken.
func (w *work) cutFronts(ctx context.Context, fronts [][]line) error {
	type item struct {
		l     line
		order int
		ready bool
		d     float64
	}
	var todo []*item
	for n, ls := range fronts {
		for _, l := range ls {
			todo = append(todo, &item{l: l, order: n})
		}
	}
	for len(todo) > 0 {
		if err := ctx.Err(); err != nil {
			return err
		}
		for _, it := range todo {
			it.d, _ = it.l.nearestStart(w.tip)
			if w.p.BothWays && !it.l.closed {
				it.d = min(it.d, gap(w.tip, it.l.pts[len(it.l.pts)-1]))
			}
		}
		slices.SortStableFunc(todo, func(a, b *item) int { return cmp.Compare(a.d, b.d) })
		at := -1
		for i, it := range todo {
			it.ready = it.ready || w.openSide(it.l)
			if it.ready {
				at = i
				break
			}
		}
		if at < 0 {
			at = 0
			for i, it := range todo {
				if it.order < todo[at].order {
					at = i
				}
			}
		}
		l := todo[at].l
		todo = slices.Delete(todo, at, at+1)
		w.cutParts(w.needed(l, w.re-w.slack), w.front, w.p.BothWays)
	}
	return nil
}

// cutWalls runs along the walls of a zone. Where the zone was worked on this level they are cleaned to
// half a pitch; where it was not, what looks like stock may be the grids' own error.
func (w *work) cutWalls(z *zone, before int) {
	reach, tol := w.re-w.slack, 0.8*w.p.Tolerance
	if w.lv.Passes > before {
		reach = w.re - float64(0.5*min(w.grid.DX, w.grid.DY))
	}
	if z.thin {
		tol = hairline
	}
	var parts []line
	for _, l := range z.walls {
		parts = append(parts, w.needed(l, reach)...)
	}
	w.cutParts(parts, tol, false)
}

// nearestStart is the distance from p to where the line can begin, and that point's number.
func (l line) nearestStart(p geom.Vec2) (d float64, at int) {
	d = gap(p, l.pts[0])
	if !l.closed {
		return d, 0
	}
	for i, q := range l.pts {
		if e := gap(p, q); e < d {
			d, at = e, i
		}
	}
	return d, at
}

// openSide reports that the clear side of a front is clear of stock all along.
func (w *work) openSide(l line) bool {
	side := 0.25 * w.p.Cutter.R // left of the motion when climbing
	if !w.p.Climb {
		side = -side
	}
	since := math.Inf(1)
	for i := 1; i < len(l.pts); i++ {
		a, b := l.pts[i-1], l.pts[i]
		d := b.Sub(a)
		since += d.Len()
		if since < w.p.Cutter.R/2 || d.Len() == 0 {
			continue
		}
		since = 0
		n := geom.Vec2{X: -d.Y, Y: d.X}.Mul(side / d.Len())
		if w.above(a.Add(n)) {
			return false
		}
	}
	return true
}

// cutParts cuts lines, nearest first; open ones from either end where both ways are allowed.
func (w *work) cutParts(todo []line, tol float64, bothWays bool) {
	for i, l := range todo {
		todo[i] = l.simplify(tol)
	}
	for len(todo) > 0 {
		at, from, back, best := 0, 0, false, math.Inf(1)
		for i, l := range todo {
			if d, q := l.nearestStart(w.tip); d < best {
				at, from, back, best = i, q, false, d
			}
			if bothWays && !l.closed {
				if d := gap(w.tip, l.pts[len(l.pts)-1]); d < best {
					at, from, back, best = i, 0, true, d
				}
			}
		}
		l := todo[at]
		todo = slices.Delete(todo, at, at+1)
		if l.closed {
			l = l.from(from)
		}
		if back {
			l = reversed(l)
			l.back = true
		}
		w.pass(l)
	}
}

// needed returns the parts of a line on which the cutter meets stock, with a run of air at both ends;
// parts with little air between them are joined.
func (w *work) needed(l line, reach float64) []line {
	r := w.p.Cutter.R
	pts := l.pts
	if l.closed {
		pts = append(append(make([]geom.Vec2, 0, len(pts)+1), pts...), pts[0])
	}
	met := make([]bool, len(pts)) // the stretch from point i−1 to i
	since, begun, last := 0.0, 0, w.touches(pts[0], reach)
	any, all := last, last
	for i := 1; i < len(pts); i++ {
		since += gap(pts[i-1], pts[i])
		if since < r/4 && i < len(pts)-1 {
			continue
		}
		now := w.touches(pts[i], reach)
		for k := begun + 1; k <= i; k++ {
			met[k] = now || last
		}
		any, all = any || now, all && now
		begun, last, since = i, now, 0
	}
	if !any {
		return nil
	}
	if all {
		return []line{l}
	}
	if l.closed {
		// begin in air: at the end of a stretch that meets nothing
		for i := 1; i < len(pts)-1; i++ {
			if !met[i] {
				return w.parts(l.from(i).pts, append(append([]bool{false}, met[i+1:]...), met[1:i+1]...), true)
			}
		}
		return []line{l}
	}
	return w.parts(pts, met, false)
}

// parts cuts a line that begins in air, or is open, by its stretches that meet stock.
func (w *work) parts(pts []geom.Vec2, met []bool, round bool) []line {
	if round {
		pts = append(pts, pts[0])
	}
	run := w.p.Cutter.R + 2*w.margin
	n := len(pts)
	at := make([]float64, n)
	for i := 1; i < n; i++ {
		at[i] = at[i-1] + gap(pts[i-1], pts[i])
	}
	var out []line
	for i := 1; i < n; {
		if !met[i] {
			i++
			continue
		}
		a := i - 1
		b := i
		for j := i; j < n && (met[j] || at[j]-at[b] <= 2*w.p.Cutter.DC()); j++ {
			if met[j] {
				b = j
			}
		}
		i = b + 1
		a0, b0 := a, b
		for a0 > 0 && at[a]-at[a0] < run {
			a0--
		}
		for b0 < n-1 && at[b0]-at[b] < run {
			b0++
		}
		out = append(out, line{pts: slices.Clone(pts[a0 : b0+1])})
	}
	return out
}

// pass puts a line on the list with its way in, and cuts the planner's stock by it.
func (w *work) pass(l line) {
	lead, l, follow, ok := w.enter(l)
	if !ok {
		return
	}
	p := path.Pass{Lead: lead, Closed: l.closed, Follow: follow}
	for _, q := range l.pts {
		p.Points = append(p.Points, geom.Vec3{X: q.X, Y: q.Y, Z: w.z})
	}
	if l.closed {
		p.Points = append(p.Points, p.Points[0])
	}
	w.put(p)
}

// put measures a pass while it cuts it.
func (w *work) put(p path.Pass) {
	lv := w.lv
	for i := 1; i < len(p.Lead); i++ {
		w.measure(p.Lead[i-1], p.Lead[i])
	}
	if n := len(p.Lead); n > 0 {
		w.measure(p.Lead[n-1], p.Points[0])
	}
	cut, full := lv.Cut, lv.Full
	for i := 1; i < len(p.Points); i++ {
		w.measure(p.Points[i-1], p.Points[i])
	}
	p.Full = lv.Full-full > (lv.Cut-cut)/2
	w.out.Passes = append(w.out.Passes, p)
	w.out.LevelOf = append(w.out.LevelOf, len(w.out.Levels)-1)
	lv.Passes++
	w.tip, w.on = p.End().XY(), true
}

// measure adds a feed move to the level's figures, then cuts it: samples a quarter radius apart look
// for stock on the leading half of the rim.
func (w *work) measure(a, b geom.Vec3) {
	d := b.XY().Sub(a.XY())
	l := d.Len()
	if l == 0 {
		w.sweep(a, b)
		return
	}
	d = d.Mul(1 / l)
	r := 0.93 * w.re
	n := int(l/(w.p.Cutter.R/4)) + 1
	step := l / float64(n)
	for i := range n {
		c := plus(a.XY(), d, step*(float64(i)+0.5))
		met, sides := false, 0
		for q, u := range rim {
			o := geom.Vec2{X: float64(d.X*u.X) - float64(d.Y*u.Y), Y: float64(d.Y*u.X) + float64(d.X*u.Y)}
			if w.above(plus(c, o, r)) {
				met = true
				w.out.MaxDepth = max(w.out.MaxDepth, w.depthAt(plus(c, o, 0.85*w.re), a.Z+float64((b.Z-a.Z)*(float64(i)+0.5)/float64(n))))
				if q < 2 {
					sides++
				}
			}
		}
		switch {
		case !met:
			w.lv.Air += step
		case sides == 2:
			w.lv.Full += step
			fallthrough
		default:
			w.lv.Cut += step
		}
	}
	w.sweep(a, b)
}

// rim is where measure looks, along and left of the motion in radii: 80° to both sides first.
var rim = [...]geom.Vec2{
	{X: 0.17364818, Y: 0.98480775}, {X: 0.17364818, Y: -0.98480775},
	{X: 0.5, Y: 0.8660254}, {X: 0.5, Y: -0.8660254},
	{X: 0.8660254, Y: 0.5}, {X: 0.8660254, Y: -0.5}, {X: 1, Y: 0},
}
