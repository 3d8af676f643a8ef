package report

import (
	"fmt"
	"image"
	"image/color"
	"math"
	"slices"

	"barwise/geom"
	"barwise/proof"
)

// DeviationMap draws the model unrolled: one panel a side, the bar's axis upright with the free end up; the
// end side's panel looks along it, the face of side 0° down.
// A panel shows all surface that faces its side by 72° or less, and what faces it better than any other,
// so that neighbouring panels overlap and no surface is left out. Colour is the deviation in
// parts of the tolerance; what is beyond it, and what no cutter reaches, have colours of their own. The
// worst within a pixel wins.
func DeviationMap(m *proof.Map, sides []float64, tolMM float64) *image.RGBA {
	return panels(m, sides, tolMM, func(img *image.RGBA, x, y, w int) {
		legend(img, x, y, w, tolMM, "left on the surface, µm, by its bound", "over", "no cutter reaches")
	})
}

// cuspSlack is how far a ridge may be over what was asked before it counts as over, in parts of it.
const cuspSlack = 1.1

// CuspMap draws the ridges that finishing leaves as DeviationMap draws what is left. Places stand for about
// each mm² of surface; heights are mm.
func CuspMap(points, normals []geom.Vec3, heights []float64, each float64, sides []float64, askedMM float64) *image.RGBA {
	m := &proof.Map{}
	for i, p := range points {
		n := normals[i]
		m.Point = append(m.Point, [3]float32{float32(p.X), float32(p.Y), float32(p.Z)})
		m.Normal = append(m.Normal, [3]float32{float32(n.X), float32(n.Y), float32(n.Z)})
		m.Deviation = append(m.Deviation, float32(heights[i]))
		m.Area = append(m.Area, float32(2*each)) // places are scattered: a little more closes the gaps
		m.Class = append(m.Class, proof.InTolerance)
	}
	return panels(m, sides, cuspSlack*askedMM, func(img *image.RGBA, x, y, w int) {
		legend(img, x, y, w, cuspSlack*askedMM, "height of the ridges between passes, µm", "higher", "")
	})
}

// panels draws a map with one panel a side; what is above most has a colour of its own.
func panels(m *proof.Map, sides []float64, most float64, legend func(img *image.RGBA, x, y, w int)) *image.RGBA {
	turns := make([]geom.Turn, len(sides))
	for i, d := range sides {
		turns[i] = geom.TurnDeg(d)
	}
	box := geom.EmptyBox()
	half := 0.0
	for i, p := range m.Point {
		if m.Class[i] == proof.Excluded {
			continue
		}
		box = box.Grow(vec(p))
		half = max(half, math.Hypot(float64(p[0]), float64(p[2])))
	}
	if box.Empty() || len(sides) == 0 {
		return nil
	}
	const tall, head, foot, gap = 900, 34, 74, 18
	pxmm := min(float64(tall)/box.Size().Y, 420/(2*half))
	pw, ph := int(2*half*pxmm)+2, int(box.Size().Y*pxmm)+2
	if slices.ContainsFunc(sides, geom.IsEnd) {
		ph = max(ph, pw) // room for the panel of the end, too
	}
	w := max(len(sides)*(pw+gap)+gap, 560)
	left := (w - len(sides)*(pw+gap) + gap) / 2
	img := canvas(w, head+ph+foot)
	for k := range sides {
		y0, tall := box.Min.Y, ph
		if turns[k].End {
			y0, tall = -half, pw
		}
		panel := splat(m, turns, k, y0, half, pxmm, pw, tall)
		x0 := left + k*(pw+gap)
		for j := range min(tall, img.Rect.Dy()-head) {
			for i := 0; i < pw; i++ {
				if v := panel[j*pw+i]; v != nothing {
					img.SetRGBA(x0+i, head+j, devColour(float64(v), most))
				}
			}
		}
		label(img, x0+pw/2, 23, 0.5, 17, ink, sideTitle(sides[k]))
	}
	legend(img, left, head+ph+22, min(w-2*left, 520))
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

// Values of a pixel other than a deviation in mm.
const (
	nothing = -1 // no surface
	away    = 1e6
)

// NoReach is the colour of what no cutter reaches from any side.
var NoReach = color.RGBA{128, 132, 138, 255}

func devColour(v, tol float64) color.RGBA {
	switch {
	case v >= away:
		return NoReach
	case v > tol:
		return Beyond
	}
	return Within(v / tol)
}

func vec(p [3]float32) geom.Vec3 {
	return geom.Vec3{X: float64(p[0]), Y: float64(p[1]), Z: float64(p[2])}
}

// splat puts the patches of panel k into pixels, nearest to the viewer first, then closes the gaps of a
// pixel or two between patches.
func splat(m *proof.Map, turns []geom.Turn, k int, y0, half, pxmm float64, pw, ph int) []float32 {
	val, top := make([]float32, pw*ph), make([]float32, pw*ph)
	for i := range val {
		val[i], top[i] = nothing, float32(math.Inf(-1))
	}
	for i := range m.Point {
		if m.Class[i] == proof.Excluded || !inPanel(vec(m.Normal[i]), turns, k) {
			continue
		}
		q := turns[k].ToSide(vec(m.Point[i]))
		r := int(math.Ceil(math.Sqrt(float64(m.Area[i])) * pxmm / 2))
		cx, cy, z := int((q.X+half)*pxmm), ph-1-int((q.Y-y0)*pxmm), float32(q.Z)
		v := max(0, m.Deviation[i])
		if m.Class[i] == proof.Unreachable {
			v = away
		}
		for y := max(cy-r, 0); y <= min(cy+r, ph-1); y++ {
			for x := max(cx-r, 0); x <= min(cx+r, pw-1); x++ {
				switch o := y*pw + x; {
				case z > top[o]+0.3:
					val[o], top[o] = v, z
				case z > top[o]-0.3:
					val[o], top[o] = max(val[o], v), max(top[o], z)
				}
			}
		}
	}
	for range 2 {
		val = closeGaps(val, pw, ph)
	}
	return val
}

// closeGaps gives an empty pixel the greatest of its neighbours where most of them are filled.
func closeGaps(v []float32, w, h int) []float32 {
	out := append([]float32(nil), v...)
	for y := 1; y < h-1; y++ {
		for x := 1; x < w-1; x++ {
			if v[y*w+x] != nothing {
				continue
			}
			best, n := float32(nothing), 0
			for dy := -1; dy <= 1; dy++ {
				for dx := -1; dx <= 1; dx++ {
					if q := v[(y+dy)*w+x+dx]; q != nothing {
						best = max(best, q)
						n++
					}
				}
			}
			if n >= 4 {
				out[y*w+x] = best
			}
		}
	}
	return out
}

// inPanel reports whether a surface of normal n belongs in the panel of side k.
func inPanel(n geom.Vec3, turns []geom.Turn, k int) bool {
	return turns[k].Facing().Dot(n) > 0.31 || bestSide(n, turns) == k
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

func legend(img *image.RGBA, x, y, w int, tol float64, title, over, none string) {
	bar := w / 2
	block := func(x, wide int, c func(i int) color.RGBA) {
		for i := range wide {
			for j := range 14 {
				img.SetRGBA(x+i, y+j, c(i))
			}
		}
	}
	block(x, bar, func(i int) color.RGBA { return Within(float64(i) / float64(bar-1)) })
	for q := range 5 {
		label(img, x+bar*q/4, y+32, []float64{0, .5, .5, .5, .5}[q], 14, ink, fmt.Sprintf("%.3g", tol*1000*float64(q)/4))
	}
	label(img, x, y+50, 0, 13, faint, title)
	block(x+bar+18, 26, func(int) color.RGBA { return Beyond })
	label(img, x+bar+50, y+13, 0, 14, ink, over)
	if none == "" {
		return
	}
	block(x+bar+100, 26, func(int) color.RGBA { return NoReach })
	label(img, x+bar+132, y+13, 0, 14, ink, none)
}
