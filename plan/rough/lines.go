package rough

import (
	"cmp"
	"context"
	"math"
	"slices"

	"barwise/geom"
	"barwise/geom/field/iso"
)

// cutFronts cuts what of the fronts meets stock. Next comes the nearest whose clear side is clear all
// along, so that it takes no more than its own strip: a branch is followed to its end before the
// next. Where there is none, the earliest is taken.
func (w *work) cutFronts(ctx context.Context, fronts [][]iso.Line) error {
	type item struct {
		l     iso.Line
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
			it.d, _ = nearestStart(it.l, w.tip)
			if w.p.BothWays && !it.l.Closed {
				it.d = min(it.d, gap(w.tip, it.l.Pts[len(it.l.Pts)-1]))
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
		w.cutParts(w.needed(l, w.meets, w.p.BothWays), w.front, w.p.BothWays)
	}
	return nil
}

// cutWalls runs along the walls of a zone. Where the level was worked on they are cleaned to half a
// pitch; elsewhere what looks like stock may be the grids' own error.
func (w *work) cutWalls(z *zone) {
	tol := 0.8 * w.p.Tolerance
	if z.thin {
		tol = hairline
	}
	var parts []iso.Line
	for _, l := range z.walls {
		parts = append(parts, w.needed(l, w.meetsOrTrims, false)...)
	}
	w.cutParts(parts, tol, false)
}

// meets reports stock at p worth a pass.
func (w *work) meets(p geom.Vec2) bool { return w.touches(p, w.re-w.slack) }

// meetsOrTrims reports stock worth a pass, or any beside what was cut on this level.
func (w *work) meetsOrTrims(p geom.Vec2) bool {
	return w.meets(p) || w.touches(p, w.close()) && w.beenNear(p)
}

// nearestStart is the distance from p to where the line can begin, and that point's number.
func nearestStart(l iso.Line, p geom.Vec2) (d float64, at int) {
	d = gap(p, l.Pts[0])
	if !l.Closed {
		return d, 0
	}
	for i, q := range l.Pts {
		if e := gap(p, q); e < d {
			d, at = e, i
		}
	}
	return d, at
}

// openSide reports that the clear side of a front is clear of stock all along.
func (w *work) openSide(l iso.Line) bool {
	side := 0.25 * w.p.Cutter.R // left of the motion when climbing
	if !w.p.Climb {
		side = -side
	}
	since := math.Inf(1)
	for i := 1; i < len(l.Pts); i++ {
		a, b := l.Pts[i-1], l.Pts[i]
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
func (w *work) cutParts(todo []iso.Line, tol float64, bothWays bool) {
	for i, l := range todo {
		todo[i] = l.Simplify(tol)
	}
	for len(todo) > 0 {
		at, from, back, best := 0, 0, false, math.Inf(1)
		for i, l := range todo {
			if d, q := nearestStart(l, w.tip); d < best {
				at, from, back, best = i, q, false, d
			}
			if bothWays && !l.Closed {
				if d := gap(w.tip, l.Pts[len(l.Pts)-1]); d < best {
					at, from, back, best = i, 0, true, d
				}
			}
		}
		l := todo[at]
		todo = slices.Delete(todo, at, at+1)
		if l.Closed {
			l = l.From(from)
		}
		if back {
			l = l.Reversed()
		}
		w.pass(l, back)
	}
}

// needed returns the parts of a line on which the cutter meets stock, with a run in from air at the
// start, and at the end too where both ways are allowed; parts with little air between are joined.
func (w *work) needed(l iso.Line, meets func(geom.Vec2) bool, both bool) []iso.Line {
	r := w.p.Cutter.R
	pts := l.Pts
	if l.Closed {
		pts = append(append(make([]geom.Vec2, 0, len(pts)+1), pts...), pts[0])
	}
	met := make([]bool, len(pts)) // the stretch from point i−1 to i
	since, begun, last := 0.0, 0, meets(pts[0])
	any, all := last, last
	for i := 1; i < len(pts); i++ {
		since += gap(pts[i-1], pts[i])
		if since < r/4 && i < len(pts)-1 {
			continue
		}
		now := meets(pts[i])
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
		return []iso.Line{l}
	}
	if l.Closed {
		// begin in air: at the end of a stretch that meets nothing
		for i := 1; i < len(pts)-1; i++ {
			if !met[i] {
				return w.parts(l.From(i).Pts, append(append([]bool{false}, met[i+1:]...), met[1:i+1]...), true, both)
			}
		}
		return []iso.Line{l}
	}
	return w.parts(pts, met, false, both)
}

// parts cuts a line that begins in air, or is open, by its stretches that meet stock.
func (w *work) parts(pts []geom.Vec2, met []bool, round, both bool) []iso.Line {
	if round {
		pts = append(pts, pts[0])
	}
	run := w.p.Cutter.R + 2*w.margin
	n := len(pts)
	at := make([]float64, n)
	for i := 1; i < n; i++ {
		at[i] = at[i-1] + gap(pts[i-1], pts[i])
	}
	var out []iso.Line
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
		for a0 > 0 && at[a]-at[a0] < run && !w.airy(pts[a0]) {
			a0--
		}
		for b0 < n-1 && at[b0]-at[b] < run && (both && !w.airy(pts[b0]) || at[b0]-at[b] < w.margin) {
			b0++
		}
		out = append(out, iso.Line{Pts: slices.Clone(pts[a0 : b0+1])})
	}
	return out
}
