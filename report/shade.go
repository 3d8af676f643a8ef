package report

import (
	"image"
	"image/color"
	"math"

	"barwise/stock"
)

// Shade turns what a camera saw into a picture of half its size each way (each pixel the mean of four):
// hue says which side cut the surface, grey is the bar's own skin, light and dark are shape.
func Shade(p *stock.Picture, mmPerPixel float64) *image.RGBA {
	w, h := p.W/2, p.H/2
	img := canvas(w, h)
	open := openness(p, mmPerPixel)
	for y := range h {
		for x := range w {
			var sum [3]float64
			for k := range 4 {
				c := shadeOne(p, (2*y+k/2)*p.W+2*x+k%2, open)
				sum[0] += float64(c.R)
				sum[1] += float64(c.G)
				sum[2] += float64(c.B)
			}
			img.SetRGBA(x, y, color.RGBA{uint8(sum[0]/4 + .5), uint8(sum[1]/4 + .5), uint8(sum[2]/4 + .5), 255})
		}
	}
	return img
}

// shadeOne lights one pixel: a key light from the upper left, a weaker one from the right, and the sky.
func shadeOne(p *stock.Picture, k int, open []float32) color.RGBA {
	if p.Side[k] == -2 {
		return paper
	}
	n := p.Normal[k]
	key := max(0, -0.48*float64(n[0])+0.56*float64(n[1])+0.67*float64(n[2]))
	fill := max(0, 0.75*float64(n[0])-0.1*float64(n[1])+0.65*float64(n[2]))
	sky := 0.5 + 0.5*float64(n[1])
	light := (0.62*key + 0.16*fill + 0.30*sky + 0.10) * float64(open[k])
	c := sideColour(int(p.Side[k]))
	c.L = c.L * min(1.16, 0.34+0.78*light)
	c.A *= 0.6 + 0.5*light
	c.B *= 0.6 + 0.5*light
	return c.rgb()
}

// openness is how much of the sky a pixel sees, judged by the depths around it: 1 in the open, less in
// corners. It is there for the eye only.
func openness(p *stock.Picture, mm float64) []float32 {
	out := make([]float32, len(p.Depth))
	const rings, rays = 3, 12
	for y := range p.H {
		for x := range p.W {
			k := y*p.W + x
			out[k] = 1
			if p.Side[k] == -2 {
				continue
			}
			hidden := 0.0
			for r := 1; r <= rings; r++ {
				d := float64(3 * r * r)
				for a := range rays {
					s, c := math.Sincos(float64(a) * 2 * math.Pi / rays)
					i, j := x+int(d*c), y+int(d*s)
					if i < 0 || j < 0 || i >= p.W || j >= p.H || p.Side[j*p.W+i] == -2 {
						continue
					}
					rise := float64(p.Depth[k]-p.Depth[j*p.W+i]) / (d * mm)
					if rise > 0.15 && rise < 6 {
						hidden += rise / math.Sqrt(1+rise*rise)
					}
				}
			}
			out[k] = float32(1 - 0.75*hidden/(rings*rays))
		}
	}
	return out
}
