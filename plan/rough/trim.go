package rough

import (
	"context"
	"math"

	"barwise/geom"
	"barwise/path"
)

// trims runs along the walls where stock stands before them. Before peeling only those stretches are
// cut that keep under the cap as the stock stands; after it all that are left, with the feed lowered
// where the cap is passed.
func (w *work) trims(ctx context.Context, last bool) error {
	if w.trace == nil {
		w.trace = newTracer(w.grid)
	}
	g := w.wall.g
	lines := w.trace.contours(func(k int) float64 { return float64(g[k]) }, nil, w.p.Tolerance, 0)
	if len(lines) == 0 {
		return nil
	}
	var parts []line
	for _, l := range lines[0] {
		if err := ctx.Err(); err != nil {
			return err
		}
		if w.p.Climb {
			l = reversed(l)
		}
		parts = append(parts, w.stretches(w.smooth(l), last)...)
	}
	for len(parts) > 0 {
		at, best := 0, math.Inf(1)
		for i, l := range parts {
			if d := gap(w.tip, l.pts[0]); d < best {
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

// fine is the spacing of points along a wall, and blur the standard deviation of its smoothing, in
// radii: a right corner of the room is rounded to about 1.7 blurs.
const (
	fine = 1.0 / 60
	blur = 1.0 / 15
)

// smooth rounds the corners of a wall so that it turns little by little, and keeps it off the wall.
func (w *work) smooth(l line) line {
	r := w.p.Cutter.R
	l = l.evenly(fine * r)
	n := len(l.pts)
	if n < 5 {
		return l
	}
	a, b := l.pts, make([]geom.Vec2, n)
	rounds := int(2 * (blur / fine) * (blur / fine))
	for range rounds {
		for i := range a {
			if !l.closed && (i == 0 || i == n-1) {
				b[i] = a[i]
				continue
			}
			p, q := a[(i+n-1)%n], a[(i+1)%n]
			b[i] = geom.Vec2{X: float64(0.5*a[i].X) + float64(0.25*(p.X+q.X)), Y: float64(0.5*a[i].Y) + float64(0.25*(p.Y+q.Y))}
		}
		a, b = b, a
	}
	for i, p := range a {
		for range 2 {
			if d := w.wallAt(p) - w.p.Tolerance; d < -1e-4 {
				p = plus(p, w.wallSlope(p), -d)
			}
		}
		a[i] = p
	}
	return line{pts: a, closed: l.closed}
}

// evenly returns the line with points the given way apart.
func (l line) evenly(step float64) line {
	total := l.length()
	n := max(4, int(math.Ceil(total/step)))
	step = total / float64(n)
	pts := l.pts
	if l.closed {
		pts = append(append(make([]geom.Vec2, 0, len(pts)+1), pts...), pts[0])
	}
	out := line{closed: l.closed, pts: []geom.Vec2{pts[0]}}
	at, next := 0.0, step
	for i := 1; i < len(pts); i++ {
		d := gap(pts[i-1], pts[i])
		for next <= at+d+1e-12 && len(out.pts) <= n {
			out.pts = append(out.pts, plus(pts[i-1], pts[i].Sub(pts[i-1]), (next-at)/d))
			next += step
		}
		at += d
	}
	if l.closed && len(out.pts) > n {
		out.pts = out.pts[:n]
	}
	return out
}

// stretches are the parts of a wall that stock stands before, with a short run in. Stretches that a
// short way in air divides are one.
func (w *work) stretches(l line, last bool) []line {
	s, r := w.slab, w.p.Cutter.R
	pts := l.pts
	if l.closed {
		pts = append(append(make([]geom.Vec2, 0, len(pts)+1), pts...), pts[0])
	}
	n := len(pts)
	if n < 2 {
		return nil
	}
	const every = 6
	step := gap(pts[0], pts[1])
	met := make([]bool, (n+every-1)/every)
	any, all := false, true
	for q := range met {
		p := pts[q*every]
		met[q] = s.meets(p, w.re-0.03)
		if met[q] && !last {
			e := min(q*every+1, n-1)
			if u := heading([]geom.Vec2{pts[e-1], pts[e]}, 0); s.arc(p, u) > w.aim {
				met[q] = false
			}
		}
		any, all = any || met[q], all && met[q]
	}
	if !any {
		return nil
	}
	if all {
		return []line{{pts: pts}}
	}
	m := len(met)
	if l.closed { // begin in air
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
	var out []line
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
			out = append(out, line{pts: pts[from : to+1]})
		}
	}
	return out
}

// trim cuts one stretch of a wall.
func (w *work) trim(l line, last bool) {
	s := w.slab
	s.begin()
	arcs := make([]float32, len(l.pts))
	taken, over := 0.0, 0.0
	for i := 1; i < len(l.pts); i++ {
		a, b := l.pts[i-1], l.pts[i]
		d := gap(a, b)
		if d == 0 {
			continue
		}
		arc := s.arc(b, b.Sub(a).Mul(1/d))
		arcs[i] = float32(arc)
		if arc > 0.03 {
			taken += d
		}
		if arc > w.aim {
			over += d
		}
		s.cut(a, b)
	}
	if taken < 0.1 || !last && over > 0 {
		s.revoke()
		return
	}
	s.keep()
	p := path.Pass{}
	p.Lead, p.Follow = w.approach(l.pts[0], heading(l.pts, 0.3))
	w.fill(&p, l.pts, arcs, w.thin(l.pts, 0.4*w.p.Tolerance))
	w.put(p)
}
