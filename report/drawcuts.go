package report

import (
	"fmt"
	"math"
)

// engageDrawing shows how much of the cutting length runs at which engagement angle, with the cap. Lengths
// span orders of magnitude, so what is rare is drawn with at least a hairline.
func engageDrawing(r *Roughing) string {
	const w, h, left, top, foot = 720.0, 190.0, 62.0, 18.0, 44.0
	s := newSVG(w, h, "length of cut by engagement angle")
	most := 0.0
	for _, b := range r.Histogram {
		most = max(most, b.Length)
	}
	if most == 0 {
		return s.done()
	}
	x := func(deg float64) float64 { return left + (w-left-20)*deg/180 }
	y := func(l float64) float64 { return h - foot - (h-foot-top)*l/most }
	for _, b := range r.Histogram {
		if b.Length > 0 {
			class := "model"
			if b.From >= r.CapDeg {
				class = "over"
			}
			s.rect(x(b.From)+0.5, min(y(b.Length), h-foot-0.8), x(b.To)-x(b.From)-1, max(h-foot-y(b.Length), 0.8), class)
		}
	}
	s.line(left, h-foot, w-20, h-foot, "dim")
	for d := 0.0; d <= 180; d += 30 {
		s.line(x(d), h-foot, x(d), h-foot+4, "dim")
		s.text(x(d), h-foot+17, "middle", "small", fmt.Sprintf("%g°", d))
	}
	s.text((left+w-20)/2, h-8, "middle", "lab", "arc of the cutter's rim in stock")
	s.text(left-8, top+10, "end", "small", fmt.Sprintf("%.1f m", most/1000))
	s.text(left-8, h-foot, "end", "small", "0")
	if r.CapDeg < 180 {
		s.line(x(r.CapDeg), top-8, x(r.CapDeg), h-foot, "axis")
		anchor, off := "start", 6.0
		if r.CapDeg > 140 {
			anchor, off = "end", -6
		}
		s.text(x(r.CapDeg)+off, top+2, anchor, "lab", fmt.Sprintf("cap %g°", math.Round(r.CapDeg*10)/10))
	}
	return s.done()
}
