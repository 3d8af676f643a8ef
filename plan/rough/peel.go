package rough

import (
	"context"
	"math"

	"barwise/force"
	"barwise/geom"
	"barwise/geom/field"
	"barwise/geom/field/iso"
	"barwise/path"
)

// peel takes the stock off the level from the clear side inward, round by round: the outline of the
// clear room V, where the cutter is off all stock worth peeling, gives the places to begin; from each
// a walker follows the stock until it meets a wall or air. What no walker can enter stays. It keeps shy
// mm off the walls; stock that a tip there reaches by less than spared is not
// looked for, and a walk shorter than least radii is no pass.
func (w *work) peel(ctx context.Context, shy, spared, least float64) error {
	w.shy, w.least = shy, least
	w.wanted(spared)
	w.opened = map[int32]bool{}
	s := w.slab
	for {
		if err := ctx.Err(); err != nil {
			return err
		}
		if !w.stock.toSet(func(k int) bool { return s.want[k] && s.phi[k] > hair }) {
			return nil
		}
		work := w.openZones()
		chains := w.chains(w.stock, w.trace, 0, 0, w.wall.g)
		for len(chains) > 0 {
			if err := ctx.Err(); err != nil {
				return err
			}
			box, took := w.follow(w.takeNearest(&chains))
			// the front is followed on where it was cut, before another is begun
			for took {
				if err := ctx.Err(); err != nil {
					return err
				}
				work = true
				took = false
				near := w.around(box)
				for len(near) > 0 && !took {
					box, took = w.follow(w.takeNearest(&near))
				}
			}
		}
		if !work {
			return nil
		}
	}
}

// takeNearest takes the line whose start is nearest off the list.
func (w *work) takeNearest(lines *[]iso.Line) iso.Line {
	at, best := 0, math.Inf(1)
	for i, l := range *lines {
		if d, _ := nearestStart(l, w.tip); d < best {
			at, best = i, d
		}
	}
	l := (*lines)[at]
	(*lines)[at] = (*lines)[len(*lines)-1]
	*lines = (*lines)[:len(*lines)-1]
	return l
}

// aloof is the least distance from a wall, mm, while peeling.
func (w *work) aloof() float64 { return w.p.Tolerance + w.shy }

// wanted marks the stock worth peeling: within reach of some place for the tip by more than spared.
func (w *work) wanted(spared float64) {
	g, off := w.wall.g, float32(w.aloof())
	d, reach := w.scratch, w.re-spared
	reach *= reach
	any := d.toSet(func(k int) bool { return g[k] >= off })
	for k := range w.slab.want {
		w.slab.want[k] = any && d.d2[k] < reach
	}
}

// chains are the outlines of the clear room, stock on the side that it shall be cut on. The grid of d
// begins at node (i0, j0) of the level's; open is the distance from the walls on it.
func (w *work) chains(d *distances, tr *iso.Tracer, i0, j0 int, open []float32) []iso.Line {
	off, nx, all := float32(w.aloof()), d.grid.NX, w.grid.NX
	far := w.p.Cutter.DC()
	border := 0 // what lies outside of a window is not known
	if d.grid.NX != all || d.grid.NY != w.grid.NY {
		border = int((w.re+0.2)/min(d.grid.DX, d.grid.DY)) + 1
	}
	use := func(k int) bool {
		i, j := k%nx, k/nx
		if d.d2[k] >= far*far || open[(j+j0)*all+i+i0] < off {
			return false
		}
		return border == 0 || (i >= border || i0 == 0) && (j >= border || j0 == 0) &&
			(i < nx-border || i0+nx == all) && (j < d.grid.NY-border || j0+d.grid.NY == w.grid.NY)
	}
	out := tr.Lines(func(k int) float64 { return -math.Sqrt(d.d2[k]) }, use, -(w.re + 0.03), 0)
	if len(out) == 0 {
		return nil
	}
	if !w.p.Climb {
		for i, l := range out[0] {
			out[0][i] = l.Reversed()
		}
	}
	return out[0]
}

// around returns the outlines of the clear room about the box of a pass.
func (w *work) around(b [2]geom.Vec2) []iso.Line {
	g, s := w.grid, w.slab
	far := 3*w.p.Cutter.R + w.re
	i0, j0 := g.Nearest(geom.Vec2{X: b[0].X - far, Y: b[0].Y - far})
	i1, j1 := g.Nearest(geom.Vec2{X: b[1].X + far, Y: b[1].Y + far})
	i0, j0, i1, j1 = max(i0, 0), max(j0, 0), min(i1, g.NX-1), min(j1, g.NY-1)
	if i1-i0 < 2 || j1-j0 < 2 {
		return nil
	}
	sub := field.Grid{X0: g.X(i0), Y0: g.Y(j0), DX: g.DX, DY: g.DY, NX: i1 - i0 + 1, NY: j1 - j0 + 1}
	d := newDistances(sub)
	if !d.toSet(func(k int) bool {
		q := (k/sub.NX+j0)*g.NX + k%sub.NX + i0
		return s.want[q] && s.phi[q] > hair
	}) {
		return nil
	}
	return w.chains(d, iso.NewTracer(sub), i0, j0, w.wall.g)
}

// nearest is the wanted node in stock nearest to p within r; −1 for none.
func (s *slab) nearest(p geom.Vec2, r float64) int {
	g := s.grid
	best, at := r*r, -1
	j0, j1 := max(int(math.Ceil((p.Y-r-g.Y0)*s.perY)), 0), min(int(math.Floor((p.Y+r-g.Y0)*s.perY)), g.NY-1)
	i0, i1 := max(int(math.Ceil((p.X-r-g.X0)*s.perX)), 0), min(int(math.Floor((p.X+r-g.X0)*s.perX)), g.NX-1)
	for j := j0; j <= j1; j++ {
		y := g.Y(j) - p.Y
		for i := i0; i <= i1; i++ {
			k := j*g.NX + i
			if s.phi[k] <= hair || !s.want[k] {
				continue
			}
			x := g.X(i) - p.X
			if d := float64(x*x) + float64(y*y); d <= best {
				best, at = d, k
			}
		}
	}
	return at
}

// follow walks from the first place on a chain that still has stock beside it; false where nothing
// was taken. Stock that a walker begun beside it cannot take is wanted no longer.
func (w *work) follow(l iso.Line) (box [2]geom.Vec2, took bool) {
	pts := l.Pts
	if l.Closed {
		_, at := nearestStart(l, w.tip)
		l = l.From(at)
		pts = append(append(make([]geom.Vec2, 0, len(l.Pts)+1), l.Pts...), l.Pts[0])
	}
	tries := 0
	for i := 0; i < len(pts)-1 && tries < 4; i++ {
		p := pts[i]
		k := w.slab.nearest(p, w.re+0.2)
		if k < 0 {
			continue
		}
		tries++
		if box, took = w.walk(p, heading(pts[i:], 0.7), nil); took {
			return box, true
		}
		w.forget(p)
		for j := i; i < len(pts)-1 && gap(pts[j], pts[i]) < w.re; {
			i++
		}
	}
	return box, false
}

// forget takes the stock about p off the list.
func (w *work) forget(p geom.Vec2) {
	for {
		k := w.slab.nearest(p, w.re+0.25)
		if k < 0 {
			return
		}
		w.slab.want[k] = false
	}
}

// heading is the direction of a polyline's first stretch of the given length.
func heading(pts []geom.Vec2, length float64) geom.Vec2 {
	for _, q := range pts[1:] {
		if d := q.Sub(pts[0]); d.Len() >= length {
			return d.Mul(1 / d.Len())
		}
	}
	if d := pts[len(pts)-1].Sub(pts[0]); d.Len() > 1e-6 {
		return d.Mul(1 / d.Len())
	}
	return direction(iso.Line{Pts: pts})
}

// walk makes a pass from p along u; lead, where given, ends there. It reports whether stock was taken.
func (w *work) walk(p, u geom.Vec2, lead []geom.Vec3) (box [2]geom.Vec2, took bool) {
	s, r := w.slab, w.p.Cutter.R
	k := w.newWalker()
	k.c, k.u = p, u
	pts := []geom.Vec2{p}
	arcs := []float32{0}
	s.begin()
	taken, idle, first, last := 0, 0.0, -1, 0
	limit := 1.5 * r
	for len(pts) < 1<<17 {
		if !k.advance() {
			break
		}
		n := s.cut(pts[len(pts)-1], k.c)
		pts, arcs = append(pts, k.c), append(arcs, float32(k.last))
		idle += k.step
		if n > 0 {
			taken += n
			idle = 0
			last = len(pts) - 1
			if first < 0 {
				first = len(pts) - 1
			}
		}
		if idle > 2*limit || idle > limit && k.last < 0.02 && first >= 0 {
			break
		}
	}
	if lead == nil && (taken == 0 || float64(last)*k.step < w.least*r) {
		s.revoke()
		return box, false
	}
	// what was walked on in vain is put back
	if last < len(pts)-1 {
		s.revoke()
		for i := 1; i <= last; i++ {
			s.cut(pts[i-1], pts[i])
		}
	}
	s.keep()
	w.emit(pts[:last+1], arcs[:last+1], lead)
	box = [2]geom.Vec2{p, p}
	for _, q := range pts[:last+1] {
		box[0] = geom.Vec2{X: min(box[0].X, q.X), Y: min(box[0].Y, q.Y)}
		box[1] = geom.Vec2{X: max(box[1].X, q.X), Y: max(box[1].Y, q.Y)}
	}
	return box, taken > 0
}

// emit puts a walked way on the list, with its way in.
func (w *work) emit(pts []geom.Vec2, arcs []float32, lead []geom.Vec3) {
	p := path.Pass{Lead: lead}
	if lead == nil {
		p.Lead, p.Follow, _ = w.approach(pts[0], heading(pts, 0.5), true)
	}
	w.settle(p, pts, arcs)
}

// settle gives a pass its points, with the feed lowered where the engagement is over the cap, and puts it on
// the list.
func (w *work) settle(p path.Pass, pts []geom.Vec2, arcs []float32) {
	last := 0
	cut, air, full := 0.0, 0.0, 0.0
	for n, i := range w.thin(pts, 0.4*w.p.Tolerance) {
		p.Points = append(p.Points, geom.Vec3{X: pts[i].X, Y: pts[i].Y, Z: w.z})
		most := 0.0
		for j := last + 1; j <= i; j++ {
			most = max(most, float64(arcs[j]))
		}
		l := gap(pts[last], pts[i])
		switch {
		case most < trifling:
			air += l
		default:
			cut += l
			w.out.Engaged[min(int(most*180/math.Pi), bins-1)] += l
		}
		if most > 0.9*math.Pi {
			full += l
		}
		if most > w.p.Engage {
			w.lv.Over += l
		}
		if e := force.Kept(most, w.p.Engage); e < 1 && p.Ease == nil {
			p.Ease = make([]float32, n, len(pts))
			for j := range p.Ease {
				p.Ease[j] = 1
			}
		}
		if p.Ease != nil {
			p.Ease = append(p.Ease, float32(force.Kept(most, w.p.Engage)))
		}
		last = i
	}
	p.Full = full > cut/2
	was := *w.lv
	w.put(p)
	// put reckons by samples of the rim; here the arcs are known
	w.lv.Cut, w.lv.Air, w.lv.Full = was.Cut+cut, was.Air+air, was.Full+full
}

// trifling is the engagement below which nothing is cut that a grid could show, radians.
const trifling = 0.03

// gentle is the most that a chord's own stretches turn away from one another.
const gentle = 4 * math.Pi / 180

// thin chooses points so that none left out lies farther than tol from its chord and no chord spans
// more than a gentle turn.
func (w *work) thin(pts []geom.Vec2, tol float64) []int {
	keep := []int{0}
	cos := math.Cos(gentle)
	for a := 0; a < len(pts)-1; {
		b := a + 1
		d0 := pts[b].Sub(pts[a])
		for b+1 < len(pts) && b-a < 400 {
			d := pts[b+1].Sub(pts[b])
			if d0.Dot(d) < cos*d0.Len()*d.Len() {
				break
			}
			ok := true
			for i := a + 1; i <= b && ok; i++ {
				ok = iso.OffSegment(pts[i], pts[a], pts[b+1]) <= tol
			}
			if !ok {
				break
			}
			b++
		}
		keep = append(keep, b)
		a = b
	}
	return keep
}
