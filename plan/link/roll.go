package link

import (
	"math"

	"barwise/geom"
	"barwise/path"
)

// How arcs onto and off a pass are drawn.
const (
	rollStep  = math.Pi / 12 // turn of a chord
	rollLooks = 10           // places to a radius at which room is asked for
	rollHair  = 5e-4         // mm: what a program's three decimals may take
	aim       = 1e-3         // mm: a shorter stretch says nothing of a direction
)

// rolls are the arcs tried, best first: share of the radius, and the corner left at the pass, radians.
var rolls = [...]struct{ size, tilt float64 }{
	{1, 0}, {1, math.Pi / 18}, {0.5, 0}, {0.5, math.Pi / 18}, {1, math.Pi / 6}, {0.5, math.Pi / 6}, {0.25, 0}, {0.25, math.Pi / 6},
}

// roll returns the ends of chords of the arc in the upright plane of u that begins at p heading along u,
// tilted up, and turns upward to the vertical. nil where u is itself upright.
func roll(p, u geom.Vec3, r, tilt float64) []geom.Vec3 {
	l := u.XY().Len()
	if r <= 0 || l < 1e-6*u.Len() || l == 0 {
		return nil
	}
	h := u.XY().Mul(1 / l)
	from := min(math.Atan2(u.Z, l)+tilt, math.Pi/2)
	n := int(math.Ceil((math.Pi/2-from)/rollStep - 1e-9))
	s0, c0 := math.Sincos(from)
	var out []geom.Vec3
	for k := 1; k <= n; k++ {
		s, c := math.Sincos(from + (math.Pi/2-from)*float64(k)/float64(n))
		x := r * (s - s0)
		out = append(out, geom.Vec3{X: p.X + float64(h.X*x), Y: p.Y + float64(h.Y*x), Z: p.Z + float64(r*(c0-c))})
	}
	return out
}

// off returns the best arc off p along u that touches nothing to be kept and stands no deeper in stock than
// deep; nil where there is none.
func (l *linker) off(p, u geom.Vec3, deep float64) []geom.Vec3 {
	if l.p.Keep == nil || l.p.Roll <= 0 {
		return nil
	}
	into := max(rollHair, l.p.Keep(p.XY())-p.Z)
	for _, t := range rolls {
		r := l.p.Roll * t.size
		pts := roll(p, u, r, t.tilt)
		if len(pts) > 0 && l.roomy(p, pts, r/rollLooks, into, deep) {
			return pts
		}
	}
	return nil
}

// roomy asks along the way from a over pts. Where tips may be is what copies of the cutter upside down leave, so
// between two clear ones step apart the way comes nearer than clear by at most step²/8R to the side: R/800 for
// an arc of the cutter's radius.
func (l *linker) roomy(a geom.Vec3, pts []geom.Vec3, step, into, deep float64) bool {
	for _, b := range pts {
		n := int(b.Sub(a).Len()/step) + 1
		for k := 1; k <= n; k++ {
			q := a.Lerp(b, float64(k)/float64(n))
			if l.p.Keep(q.XY())-q.Z > into || l.free(q.XY(), q.XY())-q.Z > deep {
				return false
			}
		}
		a = b
	}
	return true
}

// depth is how deep a tip at p stands in stock.
func (l *linker) depth(p geom.Vec3) float64 {
	return max(0, l.free(p.XY(), p.XY())-p.Z)
}

// onto returns the arc onto the start of a pass, in the order it is run, without the start.
func (l *linker) onto(pass path.Pass) []geom.Vec3 {
	p := pass.Points[0]
	for _, q := range pass.Points[1:] {
		if q.Sub(p).Len() < max(l.p.Least, aim) {
			continue
		}
		pts := l.off(p, p.Sub(q), l.depth(p))
		for i, j := 0, len(pts)-1; i < j; i, j = i+1, j-1 {
			pts[i], pts[j] = pts[j], pts[i]
		}
		return pts
	}
	return nil
}

// leave runs the arc off the end of the last pass.
func (l *linker) leave() {
	if l.p.Keep != nil && l.tail != (geom.Vec3{}) {
		for _, q := range l.off(l.at, l.tail, max(l.deep, l.depth(l.at))) {
			l.feed(q, l.p.CutFeed)
		}
		l.report()
	}
	l.tail = geom.Vec3{}
}
