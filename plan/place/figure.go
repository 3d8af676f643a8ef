package place

import (
	"math"
	"slices"

	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/shop/bar"
)

// figure is the model turned but not yet scaled or shifted: its box, the centre that fits the section
// best, and how far it reaches from there. Plane points are (x, z).
type figure struct {
	box    geom.Box3
	centre geom.Vec2
	reach  []float64 // greatest distance from the centre in the direction of each flat; round: one radius
}

// look turns the model: its box, and where its vertices are in the plane across the bar.
func look(m *mesh.Mesh, to Motion) (figure, []geom.Vec2) {
	pts := make([]geom.Vec2, 0, len(m.Vertices))
	used := make([]bool, len(m.Vertices))
	f := figure{box: geom.EmptyBox()}
	for _, t := range m.Triangles {
		for _, v := range t {
			if used[v] {
				continue
			}
			used[v] = true
			q := to.Apply(m.Vertices[v])
			f.box = f.box.Grow(q)
			pts = append(pts, geom.Vec2{X: q.X, Y: q.Z})
		}
	}
	return f, pts
}

func measure(m *mesh.Mesh, to Motion, b bar.Bar) figure {
	f, pts := look(m, to)
	c := f.box.Centre()
	f.centre = geom.Vec2{X: c.X, Y: c.Z}
	switch b.Shape {
	case bar.Round:
		var r float64
		f.centre, r = enclosing(hull(pts))
		f.reach = []float64{r}
		return f
	case bar.Hex:
		f.centre = centreIn(hull(pts), b.Flats())
	}
	for _, fl := range b.Flats() {
		f.reach = append(f.reach, support(pts, fl.Deg)-along(f.centre, fl.Deg))
	}
	return f
}

func along(p geom.Vec2, deg float64) float64 {
	t := geom.TurnDeg(deg)
	return float64(p.X*t.Sin) + float64(p.Y*t.Cos)
}

func support(pts []geom.Vec2, deg float64) float64 {
	most := math.Inf(-1)
	t := geom.TurnDeg(deg)
	for _, p := range pts {
		most = max(most, float64(p.X*t.Sin)+float64(p.Y*t.Cos))
	}
	return most
}

// largest is the greatest scale that fits section and length; 0 or less where none does.
func (f figure) largest(p Params) float64 {
	s := p.room() / f.box.Size().Y
	shift := geom.Vec2{X: p.ShiftX, Y: p.ShiftZ}
	if p.Bar.Shape == bar.Round {
		return min(s, (p.Bar.Width/2-shift.Len()-p.Margin)/f.reach[0])
	}
	for i, fl := range p.Bar.Flats() {
		if f.reach[i] > 0 {
			s = min(s, (fl.D-along(shift, fl.Deg)-p.Margin)/f.reach[i])
		}
	}
	return s
}

// centreIn returns the point about which the points reach least far beyond the flats' directions: the
// least r with support(i) − c·u(i) ≤ r, found among the vertices of that linear programme.
func centreIn(pts []geom.Vec2, flats []bar.Flat) geom.Vec2 {
	n := len(flats)
	h, u := make([]float64, n), make([]geom.Vec2, n)
	for i, fl := range flats {
		t := geom.TurnDeg(fl.Deg)
		h[i], u[i] = support(pts, fl.Deg), geom.Vec2{X: t.Sin, Y: t.Cos}
	}
	radius := func(c geom.Vec2) float64 {
		r := math.Inf(-1)
		for i := range h {
			r = max(r, h[i]-c.Dot(u[i]))
		}
		return r
	}
	// where three constraints bind: (c, r)·(u, 1) = h for each
	best, least := geom.Vec2{}, math.Inf(1)
	for i := range n {
		for j := range i {
			for k := range j {
				a, b := u[j].Sub(u[i]), u[k].Sub(u[i])
				det := a.Cross(b)
				if math.Abs(det) < 1e-9 {
					continue
				}
				p, q := h[j]-h[i], h[k]-h[i]
				c := geom.Vec2{X: (float64(p*b.Y) - float64(q*a.Y)) / det, Y: (float64(q*a.X) - float64(p*b.X)) / det}
				// of equal ones the one found first: the order is fixed
				if r := radius(c); r < least && (math.IsInf(least, 1) || r < least*(1-1e-12)) {
					best, least = c, r
				}
			}
		}
	}
	return best
}

// hull returns the convex hull, counter-clockwise (Andrew's monotone chain).
func hull(pts []geom.Vec2) []geom.Vec2 {
	p := outer(pts)
	slices.SortFunc(p, func(a, b geom.Vec2) int {
		switch {
		case a.X < b.X || a.X == b.X && a.Y < b.Y:
			return -1
		case a == b:
			return 0
		}
		return 1
	})
	p = slices.Compact(p)
	if len(p) < 3 {
		return p
	}
	var h []geom.Vec2
	for _, pass := range [2]bool{false, true} {
		if pass {
			slices.Reverse(p)
		}
		base := max(len(h)-1, 0)
		if pass {
			h = h[:base+1]
		}
		for i, q := range p {
			if pass && i == 0 {
				continue
			}
			for len(h) >= base+2 && h[len(h)-1].Sub(h[len(h)-2]).Cross(q.Sub(h[len(h)-1])) <= 0 {
				h = h[:len(h)-1]
			}
			h = append(h, q)
		}
	}
	return h[:len(h)-1]
}

// outer copies the points that may be on the hull: most of a model's are well inside the octagon of
// those that reach furthest along the axes and the diagonals.
func outer(pts []geom.Vec2) []geom.Vec2 {
	if len(pts) < 64 {
		return slices.Clone(pts)
	}
	dirs := [8]geom.Vec2{{X: 1}, {X: 1, Y: 1}, {Y: 1}, {X: -1, Y: 1}, {X: -1}, {X: -1, Y: -1}, {Y: -1}, {X: 1, Y: -1}}
	var far [8]geom.Vec2
	var most [8]float64
	for k, d := range dirs {
		far[k], most[k] = pts[0], pts[0].Dot(d)
		for _, p := range pts {
			if v := p.Dot(d); v > most[k] {
				far[k], most[k] = p, v
			}
		}
	}
	// inside by more than rounding can blur
	sure := 1e-9 * (most[0] + most[4] + most[2] + most[6])
	type side struct{ at, in geom.Vec2 }
	var sides []side
	for k, a := range far {
		if d := far[(k+1)%8].Sub(a); d.Len() > 0 {
			sides = append(sides, side{a, geom.Vec2{X: -d.Y / d.Len(), Y: d.X / d.Len()}})
		}
	}
	out := make([]geom.Vec2, 0, len(pts)/8)
	for _, p := range pts {
		for _, s := range sides {
			if p.Sub(s.at).Dot(s.in) <= sure {
				out = append(out, p)
				break
			}
		}
	}
	return out
}

// enclosing returns the least circle around the points (Welzl's method without the shuffle: the points
// are a hull's, so few).
func enclosing(p []geom.Vec2) (c geom.Vec2, r float64) {
	out := func(q geom.Vec2) bool { return q.Sub(c).Len() > r*(1+1e-12) }
	for i := range p {
		if i > 0 && !out(p[i]) {
			continue
		}
		c, r = p[i], 0
		for j := range i {
			if !out(p[j]) {
				continue
			}
			c = p[i].Add(p[j]).Mul(0.5)
			r = p[i].Sub(c).Len()
			for k := range j {
				if out(p[k]) {
					c, r = circle(p[i], p[j], p[k])
				}
			}
		}
	}
	return c, r
}

// circle returns the circle through three points; of three in line the one on the outer two.
func circle(a, b, d geom.Vec2) (geom.Vec2, float64) {
	u, v := b.Sub(a), d.Sub(a)
	det := 2 * u.Cross(v)
	if math.Abs(det) <= 1e-14*(u.Dot(u)+v.Dot(v)) {
		best, far := a.Add(b).Mul(0.5), u.Len()
		for _, s := range [...][2]geom.Vec2{{a, d}, {b, d}} {
			if l := s[1].Sub(s[0]).Len(); l > far {
				best, far = s[0].Add(s[1]).Mul(0.5), l
			}
		}
		return best, far / 2
	}
	uu, vv := u.Dot(u), v.Dot(v)
	o := geom.Vec2{X: (float64(v.Y*uu) - float64(u.Y*vv)) / det, Y: (float64(u.X*vv) - float64(v.X*uu)) / det}
	return a.Add(o), o.Len()
}
