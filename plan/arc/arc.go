// Package arc puts circular and helical moves in the place of many short straight ones.
package arc

import (
	"math"

	"barwise/geom"
	"barwise/path"
)

// Params says how far an arc may stray. Lengths in mm.
type Params struct {
	Tolerance float64 // greatest distance of an arc from the straight moves it stands for, and of these from it
	Least     int     // straight moves that an arc must stand for; 0: 3
}

// Bounds on arcs: smaller than leastRadius a control rounds a corner as well by itself, larger than
// mostRadius the rounding of a program's numbers decides where the centre lies.
const (
	leastRadius = 0.05
	mostRadius  = 500.0
	mostSweep   = 1.9 * math.Pi // a full circle has no ends to hold it by
)

// Fit returns moves in which runs of straight moves at one feed, level or rising in proportion to the way,
// are arcs in the XY plane where one lies within the tolerance of all of them. Every arc begins and ends in
// ends of straight moves, so nothing else moves. The arc passes each inner point within the tolerance; each
// chord between two of them lies within it too, for it is held against the arc in its middle, where it is
// farthest off.
func Fit(start geom.Vec3, moves []path.Move, p Params) []path.Move {
	if p.Least == 0 {
		p.Least = 3
	}
	out := make([]path.Move, 0, len(moves))
	pts := make([]geom.Vec3, 0, 256)
	at := start
	for i := 0; i < len(moves); {
		n := run(at, moves[i:])
		if n < p.Least {
			out, at = append(out, moves[i]), end(at, moves[i])
			i++
			continue
		}
		pts = append(pts[:0], at)
		for _, m := range moves[i : i+n] {
			pts = append(pts, m.To)
		}
		k := 0
		for k < n {
			m, c := longest(pts[k:], p)
			if m == 0 {
				out = append(out, moves[i+k])
				k++
				continue
			}
			a := path.Move{To: pts[k+m], Feed: moves[i+k].Feed, Centre: geom.Vec3{X: c.at.X, Y: c.at.Y, Z: pts[k].Z}, Mode: path.ArcCW, Plane: path.PlaneXY}
			if c.ccw {
				a.Mode = path.ArcCCW
			}
			out = append(out, a)
			k += m
		}
		at = pts[n]
		i += n
	}
	return out
}

func end(at geom.Vec3, m path.Move) geom.Vec3 {
	if m.Mode == path.Dwell {
		return at
	}
	return m.To
}

// run counts the straight moves of one feed from the first on, none of them upright.
func run(at geom.Vec3, moves []path.Move) int {
	n := 0
	for n < len(moves) && moves[n].Mode == path.Line && moves[n].Feed == moves[0].Feed && moves[n].To.XY() != at.XY() {
		at = moves[n].To
		n++
	}
	return n
}

type circle struct {
	at  geom.Vec2
	r   float64
	ccw bool
}

// longest returns how many moves from the first point on the longest arc stands for that doubling and
// halving finds; 0 where none of p.Least does.
func longest(pts []geom.Vec3, p Params) (int, circle) {
	most := len(pts) - 1
	if most < p.Least {
		return 0, circle{}
	}
	c, ok := fit(pts[:p.Least+1], p.Tolerance)
	if !ok {
		return 0, circle{}
	}
	good, bad := p.Least, most+1
	for step := p.Least; good < most && bad == most+1; step *= 2 {
		n := min(good+step, most)
		if d, ok := fit(pts[:n+1], p.Tolerance); ok {
			good, c = n, d
		} else {
			bad = n
		}
	}
	for bad-good > 1 {
		n := (good + bad) / 2
		if d, ok := fit(pts[:n+1], p.Tolerance); ok {
			good, c = n, d
		} else {
			bad = n
		}
	}
	return good, c
}

// fit looks for the arc from the first point to the last. Its centre lies on their bisector; where on it,
// is the mean of where each inner point alone would have it, weighted by how far off the chord it lies.
func fit(pts []geom.Vec3, tol float64) (circle, bool) {
	n := len(pts) - 1
	a, b := pts[0].XY(), pts[n].XY()
	d := b.Sub(a)
	l := d.Len()
	if l < 1e-6 {
		return circle{}, false
	}
	u := d.Mul(1 / l)
	v := geom.Vec2{X: -u.Y, Y: u.X}
	mid := a.Add(b).Mul(0.5)
	num, den := 0.0, 0.0
	for _, q := range pts[1:n] {
		e := q.XY().Sub(mid)
		x, y := e.Dot(u), e.Dot(v)
		// equal distance of (0, t) from the point and from the ends: x² + (y−t)² = l²/4 + t²
		num += float64(y * (float64(x*x) + float64(y*y) - float64(l*l)/4))
		den += float64(2 * y * y)
	}
	if den < 1e-18 {
		return circle{}, false
	}
	t := num / den
	c := circle{at: mid.Add(v.Mul(t)), r: math.Hypot(l/2, t)}
	if c.r < leastRadius || c.r > mostRadius {
		return circle{}, false
	}
	first := a.Sub(c.at)
	next := pts[1].XY().Sub(c.at)
	c.ccw = float64(first.X*next.Y)-float64(first.Y*next.X) > 0
	return c, c.holds(pts, tol)
}

// holds reports whether the arc goes by the points in their order, within tol of them and of the middles
// between them, and rises as they do.
func (c circle) holds(pts []geom.Vec3, tol float64) bool {
	n := len(pts) - 1
	sweep := 0.0
	last := pts[0].XY().Sub(c.at)
	turn := make([]float64, 0, 64)
	for k := 1; k <= n; k++ {
		q := pts[k].XY().Sub(c.at)
		if math.Abs(q.Len()-c.r) > tol {
			return false
		}
		m := last.Add(q).Mul(0.5)
		if math.Abs(m.Len()-c.r) > tol {
			return false
		}
		s := math.Atan2(float64(last.X*q.Y)-float64(last.Y*q.X), last.Dot(q))
		if !c.ccw {
			s = -s
		}
		if s <= 0 || s > math.Pi/2 {
			return false
		}
		sweep += s
		turn = append(turn, sweep)
		last = q
	}
	if sweep > mostSweep {
		return false
	}
	z0, rise := pts[0].Z, pts[n].Z-pts[0].Z
	for k, s := range turn {
		if math.Abs(pts[k+1].Z-z0-float64(rise*s)/sweep) > tol/2 {
			return false
		}
	}
	return true
}
