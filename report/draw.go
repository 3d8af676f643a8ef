package report

import (
	"fmt"
	"html"
	"math"
	"slices"
	"strings"

	"barwise/geom"
)

// svg collects a drawing in its own millimetre-like units.
type svg struct {
	strings.Builder
	w, h float64
}

func newSVG(w, h float64, what string) *svg {
	s := &svg{w: w, h: h}
	fmt.Fprintf(s, `<svg viewBox="0 0 %.1f %.1f" role="img" aria-label="%s">`, w, h, html.EscapeString(what))
	return s
}

func (s *svg) done() string { s.WriteString("</svg>"); return s.String() }

func (s *svg) rect(x, y, w, h float64, class string) {
	fmt.Fprintf(s, `<rect x="%.2f" y="%.2f" width="%.2f" height="%.2f" class="%s"/>`, x, y, w, h, class)
}

func (s *svg) line(x0, y0, x1, y1 float64, class string) {
	fmt.Fprintf(s, `<line x1="%.2f" y1="%.2f" x2="%.2f" y2="%.2f" class="%s"/>`, x0, y0, x1, y1, class)
}

func (s *svg) text(x, y float64, anchor, class, t string) {
	fmt.Fprintf(s, `<text x="%.2f" y="%.2f" text-anchor="%s" class="%s">%s</text>`, x, y, anchor, class, html.EscapeString(t))
}

// dim draws a level dimension line from x0 to x1 with its figure above it.
func (s *svg) dim(x0, x1, y float64, t string) {
	s.line(x0, y, x1, y, "dim")
	s.line(x0, y-4, x0, y+4, "dim")
	s.line(x1, y-4, x1, y+4, "dim")
	s.text((x0+x1)/2, y-5, "middle", "fig", t)
}

// heldDrawing shows the bar from the side: vise, stop, stub, model and free end along Y.
func heldDrawing(b *Bar, m *Model) string {
	const w, left, top = 720.0, 46.0, 64.0
	k := min((w-left-30)/b.Length, 150/b.Height)
	tall := b.Height * k
	s := newSVG(w, top+tall+112, "the bar in the vise, seen from the side")
	x := func(y float64) float64 { return left + y*k }
	axis := top + tall/2
	jaw := axis - b.JawTop*k
	s.rect(x(0)-14, jaw, x(b.Grip)-x(0)+14, top+tall+22-jaw, "vise")
	s.rect(x(0)-14, axis-tall*0.28, 14, tall*0.56, "stop")
	s.rect(x(0), top, b.Length*k, tall, "bar")
	s.rect(x(0), top, b.Stub*k, tall, "stub")
	half := max(m.Size[0], m.Size[2]) / 2 * k
	s.rect(x(m.Y0), axis-half, (m.Y1-m.Y0)*k, 2*half, "model")
	if m.Spigot > 0 {
		r := m.Spigot / 2 * k
		s.rect(x(b.Stub), axis-r, x(m.Y0)-x(b.Stub), 2*r, "model")
	}
	s.line(x(0)-22, axis, x(b.Length)+22, axis, "axis")
	s.text(x((m.Y0+m.Y1)/2), axis-6, "middle", "lab", "model")
	s.text(x(b.Stub/2), axis-6, "middle", "lab", "stub")
	s.text(x(0)-18, top+tall+36, "start", "small", "vise, up to "+mm(b.JawTop)+" above the axis")
	s.dim(x(0), x(b.Length), 24, mm(b.Length)+" bar")
	s.dim(x(m.Y0), x(m.Y1), 48, mm(m.Y1-m.Y0)+" model")
	y := top + tall + 62
	s.dim(x(0), x(b.Grip), y, mm(b.Grip)+" grip")
	s.dim(x(0), x(b.Stub), y+24, mm(b.Stub)+" never cut")
	s.text(x(b.Length), y+24, "end", "small", "Y grows toward the free end →")
	return s.done()
}

// sectionDrawing shows the section with the side's index angles, seen from the free end.
func sectionDrawing(b *Bar) string {
	const w, h, c = 250.0, 250.0, 125.0
	s := newSVG(w, h, "the bar's section with its sides, seen from the free end")
	k := 120 / max(b.Width, b.Height)
	hw, hh := b.Width/2*k, b.Height/2*k
	switch b.Shape {
	case "round":
		fmt.Fprintf(s, `<circle cx="%g" cy="%g" r="%.2f" class="bar"/>`, c, c, hw)
	case "hexagonal":
		var pts []string
		for i := 0; i < 6; i++ {
			a := (30 + 60*float64(i)) * math.Pi / 180
			r := hw / math.Cos(math.Pi/6)
			pts = append(pts, fmt.Sprintf("%.2f,%.2f", c+r*math.Sin(a), c-r*math.Cos(a)))
		}
		fmt.Fprintf(s, `<polygon points="%s" class="bar"/>`, strings.Join(pts, " "))
	default:
		s.rect(c-hw, c-hh, 2*hw, 2*hh, "bar")
	}
	for _, d := range b.Sides {
		if geom.IsEnd(d) {
			continue // it is what the drawing looks along
		}
		// seen from the free end, looking toward the stop (−Y), X of the part points to the left
		sin, cos := math.Sincos(d * math.Pi / 180)
		x, y := c-sin*98, c-cos*98
		s.line(c-sin*66, c-cos*66, c-sin*84, c-cos*84, "axis")
		s.text(x, y+5, "middle", "fig", fmt.Sprintf("%g°", d))
	}
	s.text(c, c+5, "middle", "small", sizeText(b))
	return s.done()
}

// endWords says how the bar is set up for the end side; nothing where that is not cut.
func (b *Bar) endWords() string {
	if !slices.ContainsFunc(b.Sides, geom.IsEnd) {
		return ""
	}
	return "For the end, stand the bar upright on its stop end, the face of side 0° toward you (−Y) and that of side 90° to the right (+X), and grip it no higher than on the other sides. X0 Y0 is its axis; Z0 is at the stop, or on top where the job asks for the top face."
}

func sizeText(b *Bar) string {
	if b.Shape == "round" {
		return "Ø" + mm(b.Width)
	}
	if b.Width != b.Height && b.Shape == "rectangular" {
		return fmt.Sprintf("%g × %s", b.Width, mm(b.Height))
	}
	return mm(b.Width) + " across"
}

// cutterDrawing shows a cutter's profile, tip down, with the figures to set it by.
func cutterDrawing(c Cutter) string {
	const w, h = 190.0, 260.0
	s := newSVG(w, h, c.Title)
	tall, wide := 1.0, 1.0
	for _, p := range c.Outline {
		tall, wide = max(tall, p[1]), max(wide, p[0])
	}
	k := min((h-46)/tall, 50/wide)
	var right, left []string
	for _, p := range c.Outline {
		right = append(right, fmt.Sprintf("%.2f,%.2f", 62+p[0]*k, h-22-p[1]*k))
		left = append([]string{fmt.Sprintf("%.2f,%.2f", 62-p[0]*k, h-22-p[1]*k)}, left...)
	}
	fmt.Fprintf(s, `<polygon points="%s" class="tool"/>`, strings.Join(append(right, left...), " "))
	y := h - 22 - c.StickOut*k
	s.line(124, h-22, 124, y, "dim")
	s.line(119, h-22, 129, h-22, "dim")
	s.line(119, y, 129, y, "dim")
	s.text(129, (h-22+y)/2, "start", "fig", mm(c.StickOut))
	s.text(129, (h-22+y)/2+13, "start", "small", "out")
	s.text(62, h-5, "middle", "fig", fmt.Sprintf("Ø%g", round3(c.DC)))
	return s.done()
}

// timeDrawing shows each program's time as a bar, with handling between.
func timeDrawing(f *Facts) string {
	longest := 1.0
	for _, p := range f.Programs {
		longest = max(longest, p.Seconds)
	}
	const row = 26.0
	s := newSVG(720, row*float64(len(f.Programs))+6, "time of each program")
	for i, p := range f.Programs {
		y := float64(i) * row
		s.text(222, y+17, "end", "lab", fmt.Sprintf("%d  %s, %s", i+1, p.Cutter, sideTitle(p.SideDeg)))
		s.rect(230, y+4, max(1, 400*p.Seconds/longest), row-9, "model")
		s.text(236+400*p.Seconds/longest, y+17, "start", "fig", Duration(p.Seconds))
	}
	return s.done()
}

func mm(v float64) string { return fmt.Sprintf("%g mm", math.Round(v*100)/100) }

func round3(v float64) float64 { return math.Round(v*1000) / 1000 }
