package report

import (
	"context"
	"fmt"
	"image"
	"image/color"
	"math"
	"runtime"

	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/shop/bar"
)

// Lie is a model as it lies in a bar, for the drawings. Part frame, mm.
type Lie struct {
	Mesh   *mesh.Mesh // placed; with the spigot where there is one
	Bar    bar.Bar
	StubY  float64   // below it the bar is never cut
	Sides  []float64 // index angles that are cut
	End    bool      // also cut from the free end
	Y0, Y1 float64   // the model's ends, without the spigot
	Clear  []Clearance
	Spigot *SpigotFacts
}

// Clearance is the least distance of the model from one flat of the bar; a round bar has one.
type Clearance struct {
	Deg float64 `json:"deg"`
	MM  float64 `json:"mm"`
}

// PosePictures draws each lie from three quarters, upright with the free end up, all to one scale and
// wide pixels across: the bar as thin lines, what is held tinted, an arrow for every side that is cut.
func PosePictures(ctx context.Context, lies []Lie, wide int) ([]*image.RGBA, error) {
	frames := make([]frame, len(lies))
	room := box{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
	for i := range lies {
		b := lies[i].extent()
		room = box{min(room.x0, b.x0), min(room.y0, b.y0), max(room.x1, b.x1), max(room.y1, b.y1)}
	}
	for i := range lies {
		px := float64(2*wide) / (room.x1 - room.x0)
		frames[i] = frame{lies[i].look(), room.x0, room.y1, px, 2 * wide, even((room.y1 - room.y0) * px)}
	}
	out := make([]*image.RGBA, len(lies))
	inParallel(len(lies), func(i, _ int) {
		if ctx.Err() == nil {
			out[i] = lies[i].draw(frames[i])
		}
	})
	return out, ctx.Err()
}

// look is from beside the first side, where the bar shows flats of unlike width, and from a little above
// the free end.
func (l *Lie) look() look {
	deg := firstAcross(l.Sides)
	if l.Bar.Shape == bar.Hex {
		return cornerLook(deg+20, 16)
	}
	return cornerLook(deg+32, 16)
}

// extent is the part of the picture's plane that bar and arrows take, mm.
func (l *Lie) extent() box {
	b := box{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
	v := l.look()
	grow := func(p geom.Vec3, by float64) {
		q := v.to(p)
		b = box{min(b.x0, q.X-by), min(b.y0, q.Y-by), max(b.x1, q.X+by), max(b.y1, q.Y+by)}
	}
	r := l.radius()
	for k := range 24 {
		s, c := math.Sincos(float64(k) * math.Pi / 12)
		for _, y := range [...]float64{0, l.Bar.Length} {
			grow(geom.Vec3{X: r * s, Y: y, Z: r * c}, 0.08*r)
		}
		grow(geom.Vec3{X: arrowFrom * r * s, Y: l.Bar.Length + arrowUp*r, Z: arrowFrom * r * c}, 0.1*r)
	}
	b.x0, b.x1 = b.x0-0.42*r, b.x1+0.42*r // the labels
	grow(geom.Vec3{Y: l.Bar.Length + 0.95*r}, 0.3*r)
	grow(geom.Vec3{Y: -0.3 * r}, 0.2*r)
	return b
}

// Arrows run from and to these parts of the section's radius, this part of it above the free end.
const arrowFrom, arrowTo, arrowUp = 1.55, 1.14, 0.25

func (l *Lie) radius() float64 {
	r := 0.0
	for _, p := range outlineOf(l.Bar) {
		r = max(r, p.Len())
	}
	return r
}

// outlineOf is the bar's section as a polygon over (x, z); a round one has 72 corners.
func outlineOf(b bar.Bar) []geom.Vec2 {
	var out []geom.Vec2
	if b.Shape == bar.Round {
		for k := range 72 {
			s, c := math.Sincos(float64(k) * math.Pi / 36)
			out = append(out, geom.Vec2{X: b.Width / 2 * s, Y: b.Width / 2 * c})
		}
		return out
	}
	fs := b.Flats()
	for i, f := range fs {
		g := fs[(i+1)%len(fs)]
		t, u := geom.TurnDeg(f.Deg), geom.TurnDeg(g.Deg)
		det := float64(t.Sin*u.Cos) - float64(u.Sin*t.Cos)
		out = append(out, geom.Vec2{X: (float64(f.D*u.Cos) - float64(g.D*t.Cos)) / det, Y: (float64(t.Sin*g.D) - float64(u.Sin*f.D)) / det})
	}
	return out
}

// draw makes one picture.
func (l *Lie) draw(f frame) *image.RGBA {
	b := newBuffer(f)
	for i := range l.Mesh.Triangles {
		p, q, r := l.Mesh.Corners(i)
		b.draw(i, p, q, r)
	}
	img := canvas(f.w, f.h)
	l.barLines(img, b, true)
	l.skin(img, b)
	l.barLines(img, b, false)
	l.arrows(img, b)
	return cutOut(img)
}

// stone is the model's colour, free of any meaning a map's colours have.
var stone = oklab{0.80, 0.004, 0.030}

// skin lights the model: a key light from the upper left, a weaker one from the right, and the sky.
func (l *Lie) skin(img *image.RGBA, b *buffer) {
	m := l.Mesh
	tone := make([]color.RGBA, len(m.Triangles))
	inParallel(runtime.GOMAXPROCS(0), func(w, of int) {
		for i := len(tone) * w / of; i < len(tone)*(w+1)/of; i++ {
			p, q, r := m.Corners(i)
			n := b.to(q.Sub(p).Cross(r.Sub(p)).Unit())
			key := max(0, float64(-0.48*n.X)+float64(0.56*n.Y)+float64(0.67*n.Z))
			fill := max(0, float64(0.75*n.X)-float64(0.1*n.Y)+float64(0.65*n.Z))
			c := stone
			c.L *= min(1.16, 0.54+float64(0.50*key)+float64(0.14*fill)+float64(0.12*n.Y))
			tone[i] = c.rgb()
		}
	})
	step := float32(8 / b.pxmm)
	for y := range b.h {
		for x := range b.w {
			o := y*b.w + x
			id := b.id[o]
			if id == 0 {
				continue
			}
			c := inside[(x+y)/6%2]
			if id > 0 {
				c = tone[id-1]
			}
			if b.edge(x, y, step) {
				c = dim(c, 0.6)
			}
			q := img.Pix[4*o:]
			q[0], q[1], q[2] = c.R, c.G, c.B
		}
	}
}

var (
	barLine  = color.RGBA{85, 80, 74, 255}
	heldTint = oklab{0.84, -0.012, -0.032}.rgb()
	cutBlue  = color.RGBA{29, 63, 94, 255}
)

// barLines draws the bar behind the model, with what is held tinted, or before it.
func (l *Lie) barLines(img *image.RGBA, b *buffer, behind bool) {
	sec := outlineOf(l.Bar)
	round := l.Bar.Shape == bar.Round
	at := func(k int, y float64) (float64, float64) {
		p := sec[k%len(sec)]
		u, v, _ := b.px(geom.Vec3{X: p.X, Y: y, Z: p.Y})
		return u, v
	}
	faces := func(k int) bool { // the flat from corner k to the next
		p, q := sec[k%len(sec)], sec[(k+1)%len(sec)]
		mid := p.Add(q)
		return b.to(geom.Vec3{X: mid.X, Z: mid.Y}).Z > 0
	}
	levels := []float64{0, l.Bar.Grip, l.Bar.Length}
	if behind {
		var held []geom.Vec2
		for k := range sec {
			for _, y := range levels[:2] {
				u, v := at(k, y)
				held = append(held, geom.Vec2{X: u, Y: v})
			}
		}
		fill(img, convex(held), heldTint)
	}
	for k := range sec {
		front := faces(k)
		for i, y := range levels {
			if over := i == len(levels)-1; front == behind && !over || over != behind && over {
				continue // a far edge belongs behind, a near one before; the free end's rim is seen whole
			}
			x0, y0 := at(k, y)
			x1, y1 := at(k+1, y)
			stroke(img, x0, y0, x1, y1, 2.2, barLine, 0.9)
		}
		corner := front || faces(k+len(sec)-1)
		if round {
			corner = front != faces(k+len(sec)-1)
		}
		if round && !corner || corner == behind {
			continue
		}
		x0, y0 := at(k, 0)
		x1, y1 := at(k, l.Bar.Length)
		stroke(img, x0, y0, x1, y1, 2.2, barLine, 0.9)
	}
	if behind {
		x0, y0, _ := b.px(geom.Vec3{Y: -0.3 * l.radius()})
		x1, y1, _ := b.px(geom.Vec3{Y: l.Bar.Length + 0.6*l.radius()})
		for s, n := y0, 0; s > y1; n++ { // a chain line
			step := []float64{26, 8, 4, 8}[n%4]
			if n%2 == 0 {
				stroke(img, x0, s, x1, max(y1, s-step), 1.8, ink, 0.75)
			}
			s -= step
		}
	}
}

// arrows shows from where the bar is cut, at the free end.
func (l *Lie) arrows(img *image.RGBA, b *buffer) {
	r := l.radius()
	arrow := func(from, to geom.Vec3, text string) {
		x0, y0, _ := b.px(from)
		x1, y1, _ := b.px(to)
		dx, dy := x1-x0, y1-y0
		n := math.Hypot(dx, dy)
		if n < 1 {
			return
		}
		ux, uy := dx/n, dy/n
		head := min(0.6*n, float64(0.17*r*b.pxmm))
		stroke(img, x0, y0, x1-ux*head*0.8, y1-uy*head*0.8, 4, cutBlue, 1)
		fill(img, []geom.Vec2{{X: x1, Y: y1}, {X: x1 - ux*head - uy*head*0.42, Y: y1 - uy*head + ux*head*0.42}, {X: x1 - ux*head + uy*head*0.42, Y: y1 - uy*head - ux*head*0.42}}, cutBlue)
		size := 0.05 * float64(b.w)
		label(img, int(x0-ux*0.3*size), int(y0-uy*0.5*size+0.36*size), 0.5+0.5*ux, size, ink, text)
	}
	end := l.End
	for _, d := range l.Sides {
		if geom.IsEnd(d) {
			end = true
			continue
		}
		f := geom.TurnDeg(d).Facing()
		f.Y = 0
		y := geom.Vec3{Y: l.Bar.Length + arrowUp*r}
		arrow(f.Mul(arrowFrom*r).Add(y), f.Mul(arrowTo*r).Add(y), fmt.Sprintf("%g°", d))
	}
	if end {
		arrow(geom.Vec3{Y: l.Bar.Length + 0.95*r}, geom.Vec3{Y: l.Bar.Length + 0.3*r}, "end")
	}
}

// fill paints a convex polygon with an edge as soft as stroke's.
func fill(img *image.RGBA, ps []geom.Vec2, c color.RGBA) {
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	turn := 0.0
	for i, p := range ps {
		x0, y0, x1, y1 = min(x0, p.X), min(y0, p.Y), max(x1, p.X), max(y1, p.Y)
		turn += p.Cross(ps[(i+1)%len(ps)])
	}
	for y := max(img.Rect.Min.Y, int(y0)-1); y <= min(img.Rect.Max.Y-1, int(y1)+1); y++ {
		for x := max(img.Rect.Min.X, int(x0)-1); x <= min(img.Rect.Max.X-1, int(x1)+1); x++ {
			in := 1.0
			for i, p := range ps {
				e := ps[(i+1)%len(ps)].Sub(p)
				if e.Len() == 0 {
					continue
				}
				d := e.Cross(geom.Vec2{X: float64(x) + 0.5, Y: float64(y) + 0.5}.Sub(p)) / e.Len()
				if turn < 0 {
					d = -d
				}
				in = min(in, d+0.5)
			}
			if in > 0 {
				mix(img, x, y, c, min(1, in))
			}
		}
	}
}
