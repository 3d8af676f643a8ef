package report

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"barwise/geom"
	"barwise/shop/bar"
)

// clearDrawing shows the model's hull in the bar's section, seen from the free end, with the least
// distance to every flat. Its width is that of a narrow screen, so that the figures stay readable.
func (l *Lie) clearDrawing() string {
	const w, h, c, big = 360.0, 330.0, 180.0, 104.0
	s := newSVG(w, h, "the model in the bar's section, with its least distances from the bar's faces, seen from the free end")
	k := big / l.radius()
	if l.Bar.Shape == bar.Square || l.Bar.Shape == bar.Rect {
		k = 92 / (max(l.Bar.Width, l.Bar.Height) / 2)
	}
	cy := h / 2
	// looking toward the stop, X of the part points to the left
	at := func(p geom.Vec2) string { return fmt.Sprintf("%.2f,%.2f", c-p.X*k, cy-p.Y*k) }
	polygon := func(ps []geom.Vec2, class string) {
		var pts []string
		for _, p := range ps {
			pts = append(pts, at(p))
		}
		fmt.Fprintf(s, `<polygon points="%s" class="%s"/>`, strings.Join(pts, " "), class)
	}
	if l.Bar.Shape == bar.Round {
		fmt.Fprintf(s, `<circle cx="%g" cy="%g" r="%.2f" class="bar"/>`, c, cy, l.Bar.Width/2*k)
	} else {
		polygon(outlineOf(l.Bar), "bar")
	}
	hull := l.hull()
	polygon(hull, "model")
	s.line(c-8, cy, c+8, cy, "dim")
	s.line(c, cy-8, c, cy+8, "dim")
	for _, cl := range l.Clear {
		l.clearance(s, cl, hull, k, c, cy)
	}
	return s.done()
}

// clearance draws one least distance: from the hull's outermost point to the face, the figure outside.
func (l *Lie) clearance(s *svg, cl Clearance, hull []geom.Vec2, k, cx, cy float64) {
	if len(hull) == 0 {
		return
	}
	t := geom.TurnDeg(cl.Deg)
	out := geom.Vec2{X: t.Sin, Y: t.Cos}
	name := fmt.Sprintf("at %g°", cl.Deg)
	face := 0.0
	far := slices.MaxFunc(hull, func(a, b geom.Vec2) int { return cmp.Compare(a.Dot(out), b.Dot(out)) })
	if l.Bar.Shape == bar.Round {
		far = slices.MaxFunc(hull, func(a, b geom.Vec2) int { return cmp.Compare(a.Len(), b.Len()) })
		out, name, face = far.Mul(1/max(far.Len(), 1e-9)), "least", l.Bar.Width/2
	}
	for _, f := range l.Bar.Flats() {
		if f.Deg == cl.Deg {
			face = f.D
		}
	}
	gap := face - far.Dot(out)
	px := func(p geom.Vec2) (float64, float64) { return cx - p.X*k, cy - p.Y*k }
	x0, y0 := px(far)
	x1, y1 := px(far.Add(out.Mul(gap)))
	dx, dy := -out.X, -out.Y
	s.line(x0, y0, x1+dx*10, y1+dy*10, "dim")
	fmt.Fprintf(s, `<circle cx="%.2f" cy="%.2f" r="2.6" class="dot"/>`, x0, y0)
	s.line(x1+dy*6, y1-dx*6, x1-dy*6, y1+dx*6, "dim")
	x, y := x1+dx*14, y1+dy*14
	anchor := "middle"
	switch {
	case dx > 0.3:
		anchor = "start"
	case dx < -0.3:
		anchor = "end"
	}
	switch { // two lines of text, beyond the face
	case dy < -0.3:
		y -= 14
	case dy > 0.3:
		y += 11
	default:
		y -= 3
	}
	s.text(x, y, anchor, "fig", mm(cl.MM))
	s.text(x, y+13, anchor, "small", name)
}

// hull is the convex hull of the model over (x, z), without what lies below its own foot.
func (l *Lie) hull() []geom.Vec2 {
	var ps []geom.Vec2
	for _, v := range l.Mesh.Vertices {
		if v.Y >= l.Y0-1e-6 {
			ps = append(ps, geom.Vec2{X: v.X, Y: v.Z})
		}
	}
	return convex(ps)
}

// convex is the convex hull of points, counter-clockwise; it sorts ps.
func convex(ps []geom.Vec2) []geom.Vec2 {
	slices.SortFunc(ps, func(a, b geom.Vec2) int { return cmp.Or(cmp.Compare(a.X, b.X), cmp.Compare(a.Y, b.Y)) })
	ps = slices.Compact(ps)
	if len(ps) < 3 {
		return ps
	}
	half := func() []geom.Vec2 {
		var h []geom.Vec2
		for _, p := range ps {
			for len(h) > 1 && h[len(h)-1].Sub(h[len(h)-2]).Cross(p.Sub(h[len(h)-1])) <= 0 {
				h = h[:len(h)-1]
			}
			h = append(h, p)
		}
		return h[:len(h)-1]
	}
	lower := half()
	slices.Reverse(ps)
	return append(lower, half()...)
}

// silhouette is how far the mesh reaches to the left and to the right at n heights of the bar, seen
// from a side; reach[j] is empty (lo > hi) where it is not there.
func (l *Lie) silhouette(n int) (lo, hi []float64) {
	lo, hi = make([]float64, n), make([]float64, n)
	for j := range n {
		lo[j], hi[j] = math.Inf(1), math.Inf(-1)
	}
	v := l.sideLook()
	step := l.Bar.Length / float64(n)
	put := func(j int, x float64) {
		if j >= 0 && j < n {
			lo[j], hi[j] = min(lo[j], x), max(hi[j], x)
		}
	}
	for i := range l.Mesh.Triangles {
		p, q, r := l.Mesh.Corners(i)
		c := [3]geom.Vec3{v.to(p), v.to(q), v.to(r)}
		for e := range c {
			a, b := c[e], c[(e+1)%3]
			if a.Y > b.Y {
				a, b = b, a
			}
			put(int(math.Floor(a.Y/step)), a.X)
			put(int(math.Floor(b.Y/step)), b.X)
			for j := max(0, int(math.Ceil(a.Y/step-0.5))); j < n && (float64(j)+0.5)*step <= b.Y; j++ {
				put(j, a.Lerp(b, ((float64(j)+0.5)*step-a.Y)/max(b.Y-a.Y, 1e-12)).X)
			}
		}
	}
	return lo, hi
}

func (l *Lie) sideLook() look {
	return sideLook(firstAcross(l.Sides))
}

// lengthDrawing shows the bar from its first side, upright, with every length along it.
func (l *Lie) lengthDrawing() string {
	const w, top, axis = 360.0, 18.0, 205.0
	deg := firstAcross(l.Sides)
	half := l.Bar.Half(deg)
	k := min(400/l.Bar.Length, 62/half)
	tall := l.Bar.Length * k
	s := newSVG(w, max(top+tall, apart*float64(len(l.spans())))+16, fmt.Sprintf("lengths along the bar, seen from side %g°, the free end up", deg))
	y := func(v float64) float64 { return top + (l.Bar.Length-v)*k }
	x0, x1 := axis-half*k, axis+half*k
	s.rect(x0, y(l.Bar.Length), 2*half*k, tall, "bar")
	s.rect(x0, y(l.StubY), 2*half*k, l.StubY*k, "stub")
	s.rect(x0, y(l.Bar.Grip), 2*half*k, l.Bar.Grip*k, "held")
	const n = 240
	lo, hi := l.silhouette(n)
	var left, right []string
	for j := range n {
		if v := (float64(j) + 0.5) / n * l.Bar.Length; lo[j] <= hi[j] && v >= l.StubY {
			right = append(right, fmt.Sprintf("%.2f,%.2f", axis+hi[j]*k, y(v)))
			left = append(left, fmt.Sprintf("%.2f,%.2f", axis+lo[j]*k, y(v)))
		}
	}
	slices.Reverse(left)
	if len(left) > 1 {
		fmt.Fprintf(s, `<polygon points="%s" class="model"/>`, strings.Join(append(right, left...), " "))
	}
	s.line(axis, 4, axis, top+tall+12, "axis")
	l.lengths(s, y, x0)
	s.line(x1+18, y(0), x1+18, y(l.Bar.Length), "dim")
	s.line(x1+4, y(0), x1+22, y(0), "dim")
	s.line(x1+4, y(l.Bar.Length), x1+22, y(l.Bar.Length), "dim")
	s.text(x1+25, top+tall/2, "start", "fig", mm(l.Bar.Length))
	s.text(x1+25, top+tall/2+14, "start", "small", "bar")
	return s.done()
}

// span is one length along the bar.
type span struct {
	from, to float64
	name     string
}

// spans are the lengths from the stop to the free end.
func (l *Lie) spans() []span {
	out := []span{{0, l.Bar.Grip, "grip"}, {l.Bar.Grip, l.StubY, "stub, never cut"}}
	foot, name := l.StubY, "model"
	if l.Y0 > l.StubY+1e-6 {
		gap := "gap"
		if l.Spigot != nil {
			gap = "spigot"
		}
		out = append(out, span{l.StubY, l.Y0, gap})
		foot = l.Y0
	}
	if l.Y0 < l.StubY-1e-6 {
		name = "above the stub"
	}
	out = append(out, span{foot, l.Y1, name}, span{l.Y1, l.Bar.Length, "end allowance"})
	return slices.DeleteFunc(out, func(p span) bool { return p.to-p.from < 1e-6 })
}

// apart is the room that one label of two lines takes.
const apart = 29.0

// lengths draws the chain of lengths on the left, its labels pushed apart where they would meet.
func (l *Lie) lengths(s *svg, y func(float64) float64, x0 float64) {
	parts := l.spans()
	at := make([]float64, len(parts)) // of the labels, from the stop up
	for i, p := range parts {
		at[i] = min(y((p.from+p.to)/2), s.h-14)
		if i > 0 {
			at[i] = min(at[i], at[i-1]-apart)
		}
	}
	for i := len(at) - 1; i >= 0; i-- { // keep the uppermost in the picture, pushing down
		least := 14.0
		if i < len(at)-1 {
			least = at[i+1] + apart
		}
		at[i] = max(at[i], least)
	}
	x := x0 - 16
	for i, p := range parts {
		a, b := y(p.from), y(p.to)
		s.line(x, a, x, b, "dim")
		s.line(x-4, a, x0-2, a, "dim")
		s.line(x-4, b, x0-2, b, "dim")
		s.line(x, (a+b)/2, x-14, at[i], "lead")
		s.text(x-18, at[i]-1, "end", "fig", mm(p.to-p.from))
		s.text(x-18, at[i]+12, "end", "small", p.name)
	}
}
