package report

import (
	"fmt"
	"image"
	"math"

	"barwise/geom"
)

// place gives every mark the panel that sees it best, and its label a side of the ring where it is not
// on another one.
func (u *Unrolled) place(m *Map, p Paint) {
	for _, o := range p.Outlines {
		if o.Label != "" && len(o.Path) > 0 {
			u.put(m, Mark{o.Label, u.handle(o)})
		}
	}
	for _, k := range p.Marks {
		u.put(m, k)
	}
	for i := range m.Panels {
		m.Panels[i].tags()
	}
}

// handle is the vertex of an outline at which its mark stands: of those that some panel sees, the one
// that stands out most there.
func (u *Unrolled) handle(o Outline) geom.Vec3 {
	best, at := math.Inf(-1), o.Path[0]
	for _, p := range o.Path {
		for _, b := range u.panels {
			if z := b.to(p).Z; z > best && b.sees(p, 2*u.tolMM) {
				best, at = z, p
			}
		}
	}
	return at
}

// put adds a mark to the panel where the place is in view and the surface there faces the eye best; a
// place that no panel sees goes where the least stands before it.
func (u *Unrolled) put(m *Map, k Mark) {
	best, at, hidden := math.Inf(-1), 0, true
	for i, b := range u.panels {
		x, y, z := b.px(k.At)
		o := int(math.Floor(y))*b.w + int(math.Floor(x))
		if x < 0 || y < 0 || x >= float64(b.w) || y >= float64(b.h) {
			continue
		}
		over := float64(b.depth[o]) - z // mm of something before it
		worth := 2.0                    // beside the surface: in the open, but on nothing
		switch id := b.id[o]; {
		case id != 0 && over > 2*u.tolMM:
			worth = -over
		case id > 0:
			worth = 3 + b.to(u.set.Normal(int(id-1))).Z
		}
		if worth > best+1e-9 {
			best, at, hidden = worth, i, worth <= 0
		}
	}
	if math.IsInf(best, -1) {
		return
	}
	b := u.panels[at]
	x, y, _ := b.px(k.At)
	m.Panels[at].Marks = append(m.Panels[at].Marks, PlacedMark{Label: k.Label, X: x / float64(b.w), Y: y / float64(b.h), Hidden: hidden})
}

// Sizes of marks at the size a panel has on the page, CSS pixels.
const (
	shownWide = 250.0 // a panel's width on a wide page
	ringR     = 7.0
	tagTall   = 14.0
	tagChar   = 7.0
)

// box is a rectangle in CSS pixels.
type box struct{ x0, y0, x1, y1 float64 }

func (b box) meets(o box) float64 {
	return max(0, min(b.x1, o.x1)-max(b.x0, o.x0)) * max(0, min(b.y1, o.y1)-max(b.y0, o.y0))
}

// tagBox is where the label of a mark stands.
func tagBox(k PlacedMark, w, h float64, tag string) box {
	x, y := k.X*w, k.Y*h
	wide := tagChar*float64(len([]rune(k.Label))) + 5
	switch tag {
	case "l":
		return box{x - ringR - 1 - wide, y - tagTall/2, x - ringR - 1, y + tagTall/2}
	case "t":
		return box{x - wide/2, y - ringR - 1 - tagTall, x + wide/2, y - ringR - 1}
	case "b":
		return box{x - wide/2, y + ringR + 1, x + wide/2, y + ringR + 1 + tagTall}
	}
	return box{x + ringR + 1, y - tagTall/2, x + ringR + 1 + wide, y + tagTall/2}
}

// tags chooses for each label the side with the least on it: rings, labels before it, the picture's edge.
func (p *Panel) tags() {
	w := shownWide
	h := w * float64(p.Image.Rect.Dy()) / float64(p.Image.Rect.Dx())
	var taken []box
	for _, k := range p.Marks {
		taken = append(taken, box{k.X*w - ringR, k.Y*h - ringR, k.X*w + ringR, k.Y*h + ringR})
	}
	for i := range p.Marks {
		k := &p.Marks[i]
		least := math.Inf(1)
		for _, tag := range [...]string{"r", "l", "t", "b"} {
			b := tagBox(*k, w, h, tag)
			cost := 3 * ((b.x1-b.x0)*(b.y1-b.y0) - b.meets(box{0, 0, w, h}))
			for _, o := range taken {
				cost += b.meets(o)
			}
			if cost < least-1e-9 {
				least, k.Tag = cost, tag
			}
		}
		taken = append(taken, tagBox(*k, w, h, k.Tag))
	}
}

// ScaleBar is a round length, mm, that takes at most a third of the panels' width.
func (m *Map) ScaleBar() float64 {
	mm := float64(m.Panels[0].Image.Rect.Dx()) / m.PxMM / 3
	return niceBelow(mm)
}

// BarShare is the scale bar's part of the panels' width.
func (m *Map) BarShare() float64 {
	return m.ScaleBar() * m.PxMM / float64(m.Panels[0].Image.Rect.Dx())
}

// Whole is the map as one picture with its names, marks, scale bar and key, at most four panels in a row.
func (m *Map) Whole() *image.RGBA {
	const gap, head, most = 18, 30, 4
	pw := m.Panels[0].Image.Rect.Dx()
	cols := min(most, len(m.Panels))
	w := max(2*(cols*(pw+gap)+gap), 2*620)
	left := (w/2 - cols*(pw+gap) + gap) / 2
	rows := []int{0}
	for i, p := range m.Panels {
		if i > 0 && i%most == 0 {
			rows = append(rows, 0)
		}
		r := &rows[len(rows)-1]
		*r = max(*r, p.Image.Rect.Dy()+head+6)
	}
	tall := 0
	for _, r := range rows {
		tall += r
	}
	keyTall := 46 + 24*((len(m.Scale.Swatches)+1)/2)
	if m.Scale.measured() {
		keyTall += 46
	}
	big := canvas(w, 2*(tall+keyTall))
	y := 0
	for i, p := range m.Panels {
		if i > 0 && i%most == 0 {
			y += rows[i/most-1]
		}
		p.stamp(big, 2*(left+i%most*(pw+gap)), 2*(y+head))
	}
	m.drawKey(big, 2*left, 2*tall)
	return halve(big)
}

// stamp puts a panel with its name and marks into a picture of twice the size.
func (p *Panel) stamp(big *image.RGBA, x0, y0 int) {
	b := p.Image.Rect
	for y := range 2 * b.Dy() {
		for x := range 2 * b.Dx() {
			to, from := big.Pix[big.PixOffset(x0+x, y0+y):][:4], p.Image.Pix[p.Image.PixOffset(x/2, y/2):][:4]
			for c, v := range from {
				to[c] = v + uint8((int(to[c])*(255-int(from[3]))+127)/255)
			}
		}
	}
	label(big, x0+b.Dx(), y0-14, 0.5, 32, ink, p.Name)
	k := float64(2*b.Dx()) / shownWide // picture pixels for a pixel of the page
	for _, q := range p.Marks {
		cx, cy := float64(x0)+q.X*float64(2*b.Dx()), float64(y0)+q.Y*float64(2*b.Dy())
		ring(big, cx, cy, ringR*k*0.85, 4*k/2, white, false)
		ring(big, cx, cy, ringR*k*0.85, 2*k/2, ink, q.Hidden)
		t := tagBox(q, float64(2*b.Dx())/k, float64(2*b.Dy())/k, q.Tag)
		ax, ay, bx, by := float64(x0)+t.x0*k, float64(y0)+t.y0*k, float64(x0)+t.x1*k, float64(y0)+t.y1*k
		r := (by - ay) / 2
		stroke(big, ax+r, ay+r, bx-r, ay+r, by-ay, white, 0.9)
		label(big, int((ax+bx)/2), int(by-0.24*(by-ay)), 0.5, 0.78*(by-ay), ink, q.Label)
	}
}

// drawKey writes the key at twice its size.
func (m *Map) drawKey(img *image.RGBA, x, y int) {
	s := &m.Scale
	bar := m.ScaleBar()
	right := img.Rect.Dx() - x
	bw := int(2 * bar * m.PxMM)
	stroke(img, float64(right-bw), float64(y+52), float64(right), float64(y+52), 5, ink, 1)
	label(img, right-bw/2, y+40, 0.5, 26, ink, fmt.Sprintf("%g mm", bar))
	label(img, x, y+42, 0, 28, ink, s.Title)
	y += 64
	if s.measured() {
		const w = 560
		for i := range w {
			for j := range 28 {
				img.SetRGBA(x+i, y+j, Within(float64(i)/(w-1)))
			}
		}
		at, text := s.ticks()
		for i := range at {
			label(img, x+int(at[i]*w), y+62, []float64{0, 0.5}[min(1, int(at[i]*w/12))], 26, ink, text[i])
		}
		y += 92
	}
	half := (img.Rect.Dx() - 2*x) / 2
	for i, c := range s.Swatches {
		cx, cy := x+i%2*half, y+i/2*48
		for a := range 52 {
			for b := range 28 {
				img.SetRGBA(cx+a, cy+b, c.Colour)
			}
		}
		label(img, cx+64, cy+24, 0, 26, ink, c.Name)
	}
}
