package fragile

import (
	"math"
	"slices"

	"barwise/geom"
)

// region is a connected part of a section.
type region struct {
	k       int // plane
	loops   []loop
	lo, hi  geom.Vec2
	spigot  bool
	area    float64
	c       geom.Vec2 // centroid
	uu, vv  float64   // ∫ u², ∫ v² about it
	uv      float64
	modulus float64 // 1/mm³: the greatest bending stress for a moment of 1 N mm, over all its directions
	thick   float64 // mm: edge of the strip whose second moment over area is its least
}

// moments are ∫1, ∫u, ∫v, ∫u², ∫v², ∫uv.
type moments struct{ a, u, v, uu, vv, uv float64 }

// add adds an outline by the polygon's own integrals; o is a point near it, for the digits.
func (m *moments) add(l *loop, o geom.Vec2) {
	for i := range l.p {
		a, b := l.p[i].Sub(o), l.p[(i+1)%len(l.p)].Sub(o)
		x := a.Cross(b)
		m.a += x / 2
		m.u += float64(x*(a.X+b.X)) / 6
		m.v += float64(x*(a.Y+b.Y)) / 6
		m.uu += float64(x*(float64(a.X*a.X)+float64(a.X*b.X)+float64(b.X*b.X))) / 12
		m.vv += float64(x*(float64(a.Y*a.Y)+float64(a.Y*b.Y)+float64(b.Y*b.Y))) / 12
		m.uv += float64(x*(float64(a.X*b.Y)+float64(b.X*a.Y)+float64(2*a.X*a.Y)+float64(2*b.X*b.Y))) / 24
	}
}

// settle measures a region from its loops; it reports false where nothing is left of it.
func (r *region) settle() bool {
	var m moments
	o := r.loops[0].lo
	r.lo, r.hi = o, r.loops[0].hi
	for i := range r.loops {
		l := &r.loops[i]
		m.add(l, o)
		r.lo = geom.Vec2{X: min(r.lo.X, l.lo.X), Y: min(r.lo.Y, l.lo.Y)}
		r.hi = geom.Vec2{X: max(r.hi.X, l.hi.X), Y: max(r.hi.Y, l.hi.Y)}
	}
	if !(m.a > 1e-12) {
		return false
	}
	cu, cv := m.u/m.a, m.v/m.a
	r.area, r.c = m.a, o.Add(geom.Vec2{X: cu, Y: cv})
	// an area has second moments of at least that of a disc... its least one may be rounded away
	tiny := 1e-9 * m.a * m.a
	r.uu = max(m.uu-float64(m.a*cu*cu), tiny)
	r.vv = max(m.vv-float64(m.a*cv*cv), tiny)
	r.uv = m.uv - float64(m.a*cu*cv)
	r.thick = math.Sqrt(12 * r.least() / r.area)
	r.modulus = r.weakest()
	return true
}

// least is the smaller principal second moment.
func (r *region) least() float64 {
	mid, half := (r.uu+r.vv)/2, (r.uu-r.vv)/2
	return max(mid-math.Sqrt(float64(half*half)+float64(r.uv*r.uv)), 1e-9*r.area*r.area)
}

// weakest returns the greatest |T⁻¹ρ| over the outline: bending by a moment M, in the plane of a unit
// vector d, stresses the point ρ by M·d·T⁻¹ρ, and d is free.
func (r *region) weakest() float64 {
	det := float64(r.uu*r.vv) - float64(r.uv*r.uv)
	if floor := 1e-9 * r.uu * r.vv; det < floor {
		det = floor
	}
	most := 0.0
	for i := range r.loops {
		for _, p := range r.loops[i].p {
			q := p.Sub(r.c)
			x := (float64(r.vv*q.X) - float64(r.uv*q.Y)) / det
			y := (float64(r.uu*q.Y) - float64(r.uv*q.X)) / det
			most = max(most, float64(x*x)+float64(y*y))
		}
	}
	return math.Sqrt(most)
}

// holds reports whether q is in the region.
func (r *region) holds(q geom.Vec2) bool {
	in := false
	for i := range r.loops {
		l := &r.loops[i]
		if !l.holds(q) {
			continue
		}
		if l.area < 0 {
			return false
		}
		in = true
	}
	return in
}

// regions sorts the outlines of one plane into connected parts. Holes go to the smallest outline about
// them. Outlines of one model that overlap, as shells may, are one part: one that lies in another is
// left out, two that cross count twice where they do. Of a spigot and a model that overlap the one
// with the smaller area is left out, so that the part errs on the weak side.
func regions(k int, loops []loop) []region {
	var out []region
	for i := range loops {
		if loops[i].area > 0 {
			out = append(out, region{k: k, loops: []loop{loops[i]}, spigot: loops[i].spigot})
		}
	}
	for i := range loops {
		h := &loops[i]
		if h.area >= 0 {
			continue
		}
		best := -1
		for j := range out {
			o := &out[j].loops[0]
			if o.spigot == h.spigot && o.area > -h.area && o.holds(h.p[0]) && (best < 0 || o.area < out[best].loops[0].area) {
				best = j
			}
		}
		if best >= 0 {
			out[best].loops = append(out[best].loops, *h)
		}
	}
	kept := out[:0]
	for i := range out {
		if out[i].settle() {
			kept = append(kept, out[i])
		}
	}
	return merge(kept)
}

// merge joins the parts of a plane that overlap.
func merge(rs []region) []region {
	for again := true; again; {
		again = false
		for i := 0; i < len(rs) && !again; i++ {
			for j := i + 1; j < len(rs) && !again; j++ {
				a, b := &rs[i], &rs[j]
				in, all := a.swallows(b)
				if in2, all2 := b.swallows(a); !in && in2 {
					in, all = in2, all2
				} else {
					all = all || all2
				}
				if !in {
					continue
				}
				if a.area < b.area {
					*a, *b = *b, *a
				}
				if !all && a.spigot == b.spigot {
					a.loops = append(a.loops, b.loops...)
					a.settle()
				}
				a.spigot = a.spigot && b.spigot
				rs = slices.Delete(rs, j, j+1)
				again = true
			}
		}
	}
	return rs
}

// swallows reports whether some of b's outline is in r, and whether all of it is.
func (r *region) swallows(b *region) (some, all bool) {
	if r.lo.X > b.hi.X || b.lo.X > r.hi.X || r.lo.Y > b.hi.Y || b.lo.Y > r.hi.Y {
		return false, false
	}
	all = true
	o := &b.loops[0]
	for _, p := range o.p {
		if r.holds(p) {
			some = true
		} else {
			all = false
		}
		if some && !all {
			return
		}
	}
	return some, all && some
}

// levels is how many lines across the common box of two parts are looked at for an overlap.
const levels = 24

// over reports whether two parts of neighbouring planes overlap, seen along w: on lines across their
// common box.
func (r *region) over(b *region, buf *[2][]float64) bool {
	lo, hi := max(r.lo.Y, b.lo.Y), min(r.hi.Y, b.hi.Y)
	if lo >= hi || max(r.lo.X, b.lo.X) >= min(r.hi.X, b.hi.X) {
		return false
	}
	for i := range levels {
		// off the even fractions, where outlines like to have corners
		y := lo + float64((hi-lo)*((float64(i)+0.4871)/levels))
		p, q := r.spans(y, buf[0][:0]), b.spans(y, buf[1][:0])
		buf[0], buf[1] = p, q
		for m, n := 0, 0; m+1 < len(p) && n+1 < len(q); {
			if min(p[m+1], q[n+1]) > max(p[m], q[n]) {
				return true
			}
			if p[m+1] < q[n+1] {
				m += 2
			} else {
				n += 2
			}
		}
	}
	return false
}

// spans are the ends of the stretches of the line v = y in the region.
func (r *region) spans(y float64, out []float64) []float64 {
	for i := range r.loops {
		l := &r.loops[i]
		if y < l.lo.Y || y > l.hi.Y {
			continue
		}
		for k, a := range l.p {
			b := l.p[(k+1)%len(l.p)]
			if (a.Y > y) != (b.Y > y) {
				out = append(out, a.X+float64((b.X-a.X)*((y-a.Y)/(b.Y-a.Y))))
			}
		}
	}
	slices.Sort(out)
	return out
}
