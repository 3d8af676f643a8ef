package report

import (
	"image"
	"image/color"
	"math"

	"barwise/geom"
)

// look is an orthographic view: unit vectors of the part frame to the picture's right, up the picture,
// and toward the eye; right-handed in this order.
type look struct{ right, up, eye geom.Vec3 }

// sideLook sees what faces the spindle on a side: the free end up, or of the end side the face of side 0°
// down, as whoever stands before the mill has it.
func sideLook(deg float64) look {
	t := geom.TurnDeg(deg)
	return look{t.ToPart(geom.Vec3{X: 1}), t.ToPart(geom.Vec3{Y: 1}), t.Facing()}
}

// sideTitle names a side: 'side 90°', or 'end'.
func sideTitle(deg float64) string {
	if geom.IsEnd(deg) {
		return geom.SideName(deg)
	}
	return "side " + geom.SideName(deg)
}

// firstAcross is the first of the sides that look across the bar, 0 where there is none.
func firstAcross(sides []float64) float64 {
	for _, d := range sides {
		if !geom.IsEnd(d) {
			return d
		}
	}
	return 0
}

// endLook sees the bar from its free end (from +Y) or from the stop, with index angle deg up.
func endLook(deg float64, free bool) look {
	up, eye := geom.TurnDeg(deg).Facing(), geom.Vec3{Y: 1}
	if !free {
		eye.Y = -1
	}
	return look{up.Cross(eye), up, eye}
}

// cornerLook sees the bar upright from index angle deg, from tilt degrees above.
func cornerLook(deg, tilt float64) look {
	f := geom.TurnDeg(deg).Facing()
	s, c := math.Sincos(tilt * math.Pi / 180)
	eye := geom.Vec3{X: f.X * c, Y: s, Z: f.Z * c}
	right := geom.TurnDeg(deg).ToPart(geom.Vec3{X: 1})
	return look{right, eye.Cross(right), eye}
}

func (l look) to(p geom.Vec3) geom.Vec3 {
	return geom.Vec3{X: p.Dot(l.right), Y: p.Dot(l.up), Z: p.Dot(l.eye)}
}

// frame maps a look's millimetres to pixels: x0 at the left edge, y1 at the top one.
type frame struct {
	look
	x0, y1, pxmm float64
	w, h         int
}

func (f *frame) px(p geom.Vec3) (x, y, z float64) {
	q := f.to(p)
	return float64((q.X - f.x0) * f.pxmm), float64((f.y1 - q.Y) * f.pxmm), q.Z
}

// buffer is what a frame sees: at every pixel the nearest triangle, as its number plus one, negative
// where its back is seen, 0 where there is none; and its height toward the eye, mm.
type buffer struct {
	frame
	id    []int32
	depth []float32
}

func newBuffer(f frame) *buffer {
	b := &buffer{frame: f, id: make([]int32, f.w*f.h), depth: make([]float32, f.w*f.h)}
	for i := range b.depth {
		b.depth[i] = float32(math.Inf(-1))
	}
	return b
}

// draw puts triangle i with corners p, q, r into the buffer; of equals the first stays.
func (b *buffer) draw(i int, p, q, r geom.Vec3) {
	b.scan(p, q, r, func(o int, z float32, front bool) {
		if z <= b.depth[o] {
			return
		}
		b.depth[o], b.id[o] = z, int32(i+1)
		if !front {
			b.id[o] = -int32(i + 1)
		}
	})
}

// scan visits every pixel whose centre a triangle covers, its edges included.
func (b *buffer) scan(p, q, r geom.Vec3, visit func(o int, z float32, front bool)) {
	ax, ay, az := b.px(p)
	bx, by, bz := b.px(q)
	cx, cy, cz := b.px(r)
	x0, x1 := max(0, int(math.Ceil(min(ax, bx, cx)-0.5))), min(b.w-1, int(math.Floor(max(ax, bx, cx)-0.5)))
	y0, y1 := max(0, int(math.Ceil(min(ay, by, cy)-0.5))), min(b.h-1, int(math.Floor(max(ay, by, cy)-0.5)))
	if x0 > x1 || y0 > y1 {
		return
	}
	area := float64((bx-ax)*(cy-ay)) - float64((by-ay)*(cx-ax))
	front := area < 0 // pixel rows run downward, so that counter-clockwise reads as negative
	if area == 0 {
		return
	}
	if !front {
		bx, by, bz, cx, cy, cz = cx, cy, cz, bx, by, bz
		area = -area
	}
	inv := 1 / area
	// weights of b and c, linear over the pixels
	ubx, uby := float64((cy-ay)*inv), float64((ax-cx)*inv)
	ucx, ucy := float64((ay-by)*inv), float64((bx-ax)*inv)
	for y := y0; y <= y1; y++ {
		dy := float64(y) + 0.5 - ay
		sb, sc := float64(uby*dy), float64(ucy*dy)
		o := y*b.w + x0
		for x := x0; x <= x1; x++ {
			dx := float64(x) + 0.5 - ax
			wb, wc := float64(ubx*dx)+sb, float64(ucx*dx)+sc
			if wb >= -1e-9 && wc >= -1e-9 && wb+wc <= 1+1e-9 {
				visit(o, float32(az+float64(wb*(bz-az))+float64(wc*(cz-az))), front)
			}
			o++
		}
	}
}

// sees reports whether a place is not hidden by anything more than tol mm nearer to the eye.
func (b *buffer) sees(p geom.Vec3, tol float64) bool {
	z, ok := b.nearest(p)
	return !ok || b.to(p).Z >= z-tol
}

// nearest is the height toward the eye of what the frame shows at a place; ok is false outside it.
func (b *buffer) nearest(p geom.Vec3) (z float64, ok bool) {
	x, y, _ := b.px(p)
	i, j := int(math.Floor(x)), int(math.Floor(y))
	if i < 0 || j < 0 || i >= b.w || j >= b.h || b.id[j*b.w+i] == 0 {
		return 0, false
	}
	return float64(b.depth[j*b.w+i]), true
}

// halve reduces a picture to half its size each way, each pixel the mean of four.
func halve(src *image.RGBA) *image.RGBA { return reduce(src, false) }

// cutOut is halve with the paper left clear, for pages of any colour.
func cutOut(src *image.RGBA) *image.RGBA { return reduce(src, true) }

func reduce(src *image.RGBA, clear bool) *image.RGBA {
	w, h := src.Rect.Dx()/2, src.Rect.Dy()/2
	out := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		row := out.Pix[y*out.Stride:]
		for x := range w {
			var sum [4]int
			for k := range 4 {
				p := src.Pix[(2*y+k/2)*src.Stride+4*(2*x+k%2):][:4]
				if clear && p[0] == paper.R && p[1] == paper.G && p[2] == paper.B {
					continue
				}
				for c, v := range p {
					sum[c] += int(v)
				}
			}
			for c, v := range sum {
				row[4*x+c] = uint8((v + 2) / 4)
			}
		}
	}
	return out
}

// stroke draws a line of round ends and the given width, pixels, over what is there; part is how much
// of the ink is laid on, 0 to 1.
func stroke(img *image.RGBA, x0, y0, x1, y1, width float64, c color.RGBA, part float64) {
	r := width / 2
	b := img.Rect
	dx, dy := x1-x0, y1-y0
	l2 := float64(dx*dx) + float64(dy*dy)
	for y := max(b.Min.Y, int(min(y0, y1)-r-1)); y <= min(b.Max.Y-1, int(max(y0, y1)+r+1)); y++ {
		for x := max(b.Min.X, int(min(x0, x1)-r-1)); x <= min(b.Max.X-1, int(max(x0, x1)+r+1)); x++ {
			px, py := float64(x)+0.5-x0, float64(y)+0.5-y0
			t := 0.0
			if l2 > 0 {
				t = min(1, max(0, (float64(px*dx)+float64(py*dy))/l2))
			}
			ex, ey := px-float64(t*dx), py-float64(t*dy)
			d := math.Sqrt(float64(ex*ex) + float64(ey*ey))
			if a := min(1, max(0, r+0.5-d)) * part; a > 0 {
				mix(img, x, y, c, a)
			}
		}
	}
}

// ring draws a circle's line, in twelve dashes where it is broken.
func ring(img *image.RGBA, cx, cy, radius, width float64, c color.RGBA, broken bool) {
	r := radius + width
	for y := max(img.Rect.Min.Y, int(cy-r-1)); y <= min(img.Rect.Max.Y-1, int(cy+r+1)); y++ {
		for x := max(img.Rect.Min.X, int(cx-r-1)); x <= min(img.Rect.Max.X-1, int(cx+r+1)); x++ {
			dx, dy := float64(x)+0.5-cx, float64(y)+0.5-cy
			if broken && int((math.Atan2(dy, dx)/math.Pi+1)*12)%2 == 1 {
				continue
			}
			d := math.Abs(math.Hypot(dx, dy) - radius)
			if a := min(1, max(0, width/2+0.5-d)); a > 0 {
				mix(img, x, y, c, a)
			}
		}
	}
}

func mix(img *image.RGBA, x, y int, c color.RGBA, a float64) {
	o := img.PixOffset(x, y)
	for k, v := range [3]uint8{c.R, c.G, c.B} {
		p := float64(img.Pix[o+k])
		img.Pix[o+k] = uint8(p + float64(a*(float64(v)-p)) + 0.5)
	}
}
