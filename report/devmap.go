package report

import (
	"fmt"
	"image"
	"image/color"
	"math"

	"barwise/geom"
)

// Surface is the judged surface as points: where, which way it faces and how much stands over it, mm,
// part frame. The slices have one length.
type Surface struct {
	Pos    []geom.Vec3
	Normal []geom.Vec3
	Dev    []float32
}

// DeviationMap draws the model unrolled: one panel a side, the bar's axis upright with the free end up,
// each point of the surface in the panel of the side that faces it best. Colour is the deviation in
// parts of the tolerance; beyond it, one colour of its own. The worst deviation within a pixel wins.
func DeviationMap(s Surface, sides []float64, tolMM float64) *image.RGBA {
	if len(s.Pos) == 0 || len(sides) == 0 {
		return nil
	}
	turns := make([]geom.Turn, len(sides))
	for i, d := range sides {
		turns[i] = geom.TurnDeg(d)
	}
	box := geom.EmptyBox()
	for _, p := range s.Pos {
		box = box.Grow(p)
	}
	half := 0.0
	for _, p := range s.Pos {
		half = max(half, math.Hypot(p.X, p.Z))
	}
	const tall, head, foot, gap = 900, 34, 74, 18
	pxmm := min(float64(tall)/box.Size().Y, 420/(2*half))
	pw, ph := int(2*half*pxmm)+2, int(box.Size().Y*pxmm)+2
	w := max(len(sides)*(pw+gap)+gap, 560)
	left := (w - len(sides)*(pw+gap) + gap) / 2
	img := canvas(w, head+ph+foot)
	for k := range sides {
		panel := splat(s, turns, k, box.Min.Y, half, pxmm, pw, ph)
		x0 := left + k*(pw+gap)
		for j := 0; j < ph; j++ {
			for i := 0; i < pw; i++ {
				if v := panel[j*pw+i]; v >= 0 {
					img.SetRGBA(x0+i, head+j, devColour(float64(v), tolMM))
				}
			}
		}
		label(img, x0+pw/2, 23, 0.5, 17, ink, fmt.Sprintf("side %g°", sides[k]))
	}
	legend(img, left, head+ph+22, min(w-2*left, 520), tolMM)
	return img
}

var (
	paper = color.RGBA{250, 250, 248, 255}
	ink   = color.RGBA{34, 38, 44, 255}
	faint = color.RGBA{110, 116, 124, 255}
)

func canvas(w, h int) *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	for i := 0; i < len(img.Pix); i += 4 {
		img.Pix[i], img.Pix[i+1], img.Pix[i+2], img.Pix[i+3] = paper.R, paper.G, paper.B, 255
	}
	return img
}

func devColour(v, tol float64) color.RGBA {
	if v > tol {
		return Beyond
	}
	return Within(v / tol)
}

// splat puts the samples of panel k into pixels, −1 where there is none, nearest to the viewer first,
// then closes single-pixel gaps between samples.
func splat(s Surface, turns []geom.Turn, k int, y0, half, pxmm float64, pw, ph int) []float32 {
	val, top := make([]float32, pw*ph), make([]float32, pw*ph)
	for i := range val {
		val[i], top[i] = -1, float32(math.Inf(-1))
	}
	for i, p := range s.Pos {
		if bestSide(s.Normal[i], turns) != k {
			continue
		}
		q := turns[k].ToSide(p)
		x, y := int((q.X+half)*pxmm), ph-1-int((q.Y-y0)*pxmm)
		if x < 0 || y < 0 || x >= pw || y >= ph {
			continue
		}
		o, z := y*pw+x, float32(q.Z)
		switch {
		case z > top[o]+0.3:
			val[o], top[o] = s.Dev[i], z
		case z > top[o]-0.3:
			val[o], top[o] = max(val[o], s.Dev[i]), max(top[o], z)
		}
	}
	for range 2 {
		val = closeGaps(val, pw, ph)
	}
	return val
}

// closeGaps gives an empty pixel the mean of its neighbours where most of them are filled.
func closeGaps(v []float32, w, h int) []float32 {
	out := append([]float32(nil), v...)
	for y := 1; y < h-1; y++ {
		for x := 1; x < w-1; x++ {
			if v[y*w+x] >= 0 {
				continue
			}
			var sum float32
			n := 0
			for dy := -1; dy <= 1; dy++ {
				for dx := -1; dx <= 1; dx++ {
					if q := v[(y+dy)*w+x+dx]; q >= 0 {
						sum += q
						n++
					}
				}
			}
			if n >= 4 {
				out[y*w+x] = sum / float32(n)
			}
		}
	}
	return out
}

func bestSide(n geom.Vec3, turns []geom.Turn) int {
	best, at := math.Inf(-1), 0
	for i, t := range turns {
		if d := t.Facing().Dot(n); d > best+1e-9 {
			best, at = d, i
		}
	}
	return at
}

func legend(img *image.RGBA, x, y, w int, tol float64) {
	bar := w * 3 / 4
	for i := 0; i < bar; i++ {
		c := Within(float64(i) / float64(bar-1))
		for j := 0; j < 14; j++ {
			img.SetRGBA(x+i, y+j, c)
		}
	}
	for i := bar + 14; i < bar+44; i++ {
		for j := 0; j < 14; j++ {
			img.SetRGBA(x+i, y+j, Beyond)
		}
	}
	for q := 0; q <= 4; q++ {
		label(img, x+bar*q/4, y+32, []float64{0, .5, .5, .5, .5}[q], 14, ink, fmt.Sprintf("%g", tol*1000*float64(q)/4))
	}
	label(img, x+bar+50, y+13, 0, 14, ink, "over")
	label(img, x, y+50, 0, 13, faint, "left on the surface, µm")
}
