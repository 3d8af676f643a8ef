package rough

import (
	"context"
	"math"
	"slices"

	"barwise/geom"
	"barwise/geom/field/iso"
	"barwise/path"
)

// trims runs along the walls where stock stands before them. Before peeling only those stretches are
// cut that keep under the cap as the stock stands; after it all that are left, with the feed lowered
// where the cap is passed.
func (w *work) trims(ctx context.Context, last bool) error {
	g := w.wall.g
	lines := w.trace.Lines(func(k int) float64 { return float64(g[k]) }, nil, w.p.Tolerance, 0)
	if len(lines) == 0 {
		return nil
	}
	var parts []iso.Line
	for _, l := range lines[0] {
		if err := ctx.Err(); err != nil {
			return err
		}
		if w.p.Climb {
			l = l.Reversed()
		}
		parts = append(parts, w.stretches(w.smooth(l), last)...)
	}
	for len(parts) > 0 {
		at, best := 0, math.Inf(1)
		for i, l := range parts {
			if d := gap(w.tip, l.Pts[0]); d < best {
				at, best = i, d
			}
		}
		l := parts[at]
		parts[at] = parts[len(parts)-1]
		parts = parts[:len(parts)-1]
		w.trim(l, last)
	}
	return nil
}

// fine is the spacing of points along a wall, and round the radius that its corners are rounded to, both in
// cutter radii. A passage round a corner of the room takes the more of the rim the sharper it is.
const (
	fine  = 1.0 / 25
	round = 0.25
)

// smooth rounds the corners of a wall so that it turns little by little. Points move only off the wall:
// round an island the line stays where it is.
func (w *work) smooth(l iso.Line) iso.Line {
	r := w.p.Cutter.R
	l = evenly(l, fine*r)
	n := len(l.Pts)
	if n < 5 {
		return l
	}
	side := 1.0 // the clear side is on the left
	if !w.p.Climb {
		side = -1
	}
	a, b := l.Pts, make([]geom.Vec2, n)
	// a right corner smoothed by a bell of deviation σ is round to about 1.7 σ; each of n rounds adds half a
	// squared spacing to σ²
	sigma := round / 1.7 / fine
	for range int(2 * sigma * sigma) {
		for i := range a {
			b[i] = a[i]
			if !l.Closed && (i == 0 || i == n-1) {
				continue
			}
			p, q := a[(i+n-1)%n], a[(i+1)%n]
			d := geom.Vec2{X: 0.25 * (p.X + q.X - 2*a[i].X), Y: 0.25 * (p.Y + q.Y - 2*a[i].Y)}
			if q.Sub(p).Cross(d)*side > 0 {
				b[i] = a[i].Add(d)
			}
		}
		a, b = b, a
	}
	return gentler(iso.Line{Pts: a, Closed: l.Closed})
}

// brisk is the most that a smoothed wall turns at one point.
const brisk = 11 * math.Pi / 180

// gentler spreads out, into the room, the turns that one smoothing leaves too sharp.
func gentler(l iso.Line) iso.Line {
	a, n := l.Pts, len(l.Pts)
	cos := math.Cos(brisk)
	b, hot := slices.Clone(a), make([]bool, n)
	for range 200 {
		any := false
		clear(hot)
		for i := range a {
			if !l.Closed && (i == 0 || i == n-1) {
				continue
			}
			d, e := a[i].Sub(a[(i+n-1)%n]), a[(i+1)%n].Sub(a[i])
			if d.Dot(e) < cos*d.Len()*e.Len() {
				any = true
				for j := i - 8; j <= i+8; j++ {
					if l.Closed || j > 0 && j < n-1 {
						hot[((j%n)+n)%n] = true
					}
				}
			}
		}
		if !any {
			break
		}
		for i := range a {
			b[i] = a[i]
			if hot[i] {
				p, q := a[(i+n-1)%n], a[(i+1)%n]
				b[i] = geom.Vec2{X: float64(0.5*a[i].X) + float64(0.25*(p.X+q.X)), Y: float64(0.5*a[i].Y) + float64(0.25*(p.Y+q.Y))}
			}
		}
		a, b = b, a
	}
	return iso.Line{Pts: a, Closed: l.Closed}
}

// evenly returns the line with points the given way apart.
func evenly(l iso.Line, step float64) iso.Line {
	total := l.Length()
	n := max(4, int(math.Ceil(total/step)))
	step = total / float64(n)
	pts := l.Pts
	if l.Closed {
		pts = append(append(make([]geom.Vec2, 0, len(pts)+1), pts...), pts[0])
	}
	out := iso.Line{Closed: l.Closed, Pts: []geom.Vec2{pts[0]}}
	at, next := 0.0, step
	for i := 1; i < len(pts); i++ {
		d := gap(pts[i-1], pts[i])
		for next <= at+d+1e-12 && len(out.Pts) <= n {
			out.Pts = append(out.Pts, plus(pts[i-1], pts[i].Sub(pts[i-1]), (next-at)/d))
			next += step
		}
		at += d
	}
	if l.Closed && len(out.Pts) > n {
		out.Pts = out.Pts[:n]
	}
	return out
}

// stretches are the parts of a wall that stock stands before, with a short run in. Stretches that a
// short way in air divides are one.
func (w *work) stretches(l iso.Line, last bool) []iso.Line {
	r, pts := w.p.Cutter.R, l.Pts
	if l.Closed {
		pts = append(append(make([]geom.Vec2, 0, len(pts)+1), pts...), pts[0])
	}
	n := len(pts)
	if n < 2 {
		return nil
	}
	step := gap(pts[0], pts[1])
	met := w.met(pts, last, int(0.7*r/step/every))
	any, all := false, true
	for _, m := range met {
		any, all = any || m, all && m
	}
	if !any {
		return nil
	}
	if all {
		return []iso.Line{{Pts: pts}}
	}
	m := len(met)
	if l.Closed { // begin in air
		for q := range met {
			if !met[q] {
				met = append(append(make([]bool, 0, m), met[q:]...), met[:q]...)
				turned := append(append(make([]geom.Vec2, 0, n), pts[q*every:n-1]...), pts[:q*every+1]...)
				pts = turned
				break
			}
		}
	}
	in, join := int(0.5*r/step/every)+1, int(2*w.p.Cutter.DC()/step/every)
	if !last {
		join = 1
	}
	var out []iso.Line
	for q := 0; q < m; {
		if !met[q] {
			q++
			continue
		}
		a, b := q, q
		for j := q; j < m && j-b <= join; j++ {
			if met[j] {
				b = j
			}
		}
		q = b + 1
		from, to := max(a-in, 0)*every, min((b+1)*every, n-1)
		if !last {
			from = max(a-1, 0) * every
		}
		if to > from && (last || float64(to-from)*step > 4*r) {
			out = append(out, iso.Line{Pts: pts[from : to+1]})
		}
	}
	return out
}

// every is how many points of a wall are asked by one.
const every = 3

// met tells of every so many points of a wall whether stock stands before them that is for this pass.
func (w *work) met(pts []geom.Vec2, last bool, corner int) []bool {
	most := w.aim
	if last {
		most = w.p.Engage + narrower
	}
	met := make([]bool, (len(pts)+every-1)/every)
	over := make([]bool, len(met))
	for q := range met {
		p := pts[q*every]
		if met[q] = w.slab.meets(p, w.re-w.trifle); met[q] {
			e := min(q*every+1, len(pts)-1)
			over[q] = w.slab.arc(p, heading([]geom.Vec2{pts[e-1], pts[e]}, 0)) > most
		}
	}
	w.leave(met, over, last, corner)
	return met
}

// narrower is how far over the cap a stretch of wall is held for a slot, radians.
const narrower = 15 * math.Pi / 180

// leave takes off the list what of a wall is not for this pass: before peeling all that is over the cap,
// after it what is so for more than a corner's length: a slot is cut in thinner levels.
func (w *work) leave(met, over []bool, last bool, corner int) {
	for q := 0; q < len(over); {
		b := q
		for b < len(over) && over[b] {
			b++
		}
		if b > q && (!last || b-q > corner) {
			for i := q; i < b; i++ {
				met[i] = false
			}
			w.narrow = w.narrow || last
		}
		q = max(b, q+1)
	}
}

// along puts a stretch of wall on the list and cuts it, if there is a way in.
func (w *work) along(pts []geom.Vec2, arcs []float32, last bool) {
	lead, follow, ok := w.approach(pts[0], heading(pts, 0.3), last)
	if !ok {
		w.narrow = w.narrow || last
		return
	}
	if lead != nil {
		w.slab.cut(lead[len(lead)-1].XY(), pts[0])
	}
	for i := 1; i < len(pts); i++ {
		w.slab.cut(pts[i-1], pts[i])
	}
	w.settle(path.Pass{Lead: lead, Follow: follow}, pts, arcs)
}

// trim cuts one stretch of a wall. Before peeling it breaks off where the cap would be passed and goes on
// beyond.
func (w *work) trim(l iso.Line, last bool) {
	pts := l.Pts
	for len(pts) > 1 {
		s := w.slab
		s.begin()
		arcs := make([]float32, 1, len(pts))
		taken, n := 0.0, 1
		for ; n < len(pts); n++ {
			a, b := pts[n-1], pts[n]
			d := gap(a, b)
			arc := 0.0
			if d > 0 {
				arc = s.arc(b, b.Sub(a).Mul(1/d))
			}
			if !last && arc > w.aim {
				break
			}
			arcs = append(arcs, float32(arc))
			if arc > trifling {
				taken += d
			}
			s.cut(a, b)
		}
		if taken < 0.1 || n < len(pts) && taken < 2*w.p.Cutter.R {
			s.revoke()
		} else {
			s.revoke() // the way in meets what stands now
			w.along(pts[:n], arcs, last)
		}
		for n < len(pts)-1 && s.arc(pts[n+1], heading(pts[n:], 0)) > w.aim {
			n++
		}
		pts = pts[min(n, len(pts)):]
	}
}
