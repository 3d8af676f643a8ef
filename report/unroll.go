package report

import (
	"context"
	"image"
	"image/color"
	"math"
	"runtime"
	"sync"

	"barwise/geom"
	"barwise/geom/mesh/patch"
)

// Unrolled is a placed model as each side sees it: one panel a side, the bar's axis upright with the
// free end up, all to one scale. It is drawn once; any number of maps are then painted on it.
type Unrolled struct {
	set    *patch.Set
	panels []*buffer
	names  []string
	mate   []int8 // by patch: the panel that its surface faces best
	shade  []uint8
	seen   []bool  // by patch: some panel sees its middle
	tolMM  float64 // two places this near in depth are taken for one surface
}

// Panels are drawn at twice their size and reduced; these are sizes after that, pixels.
const (
	panelTall = 760
	panelWide = 440
	panelPad  = 8
	lights    = 32 // steps of light and dark
)

// Unroll draws what each of the sides sees of the surface (part frame, mm), and with ends what is seen
// along the axis from the free end and from the stop, which shows surface that no side faces. It is nil
// for a set without surface or a list without sides.
func Unroll(ctx context.Context, set *patch.Set, sides []float64, ends bool) (*Unrolled, error) {
	box, half := geom.EmptyBox(), 0.0
	for _, p := range set.Corner {
		box = box.Grow(p)
		half = max(half, float64(p.X*p.X)+float64(p.Z*p.Z))
	}
	half = math.Sqrt(half)
	if box.Empty() || len(sides) == 0 || half == 0 {
		return nil, nil
	}
	tall := max(box.Size().Y, half/50)
	pxmm := 2 * min(panelTall/tall, panelWide/(2*half))
	u := &Unrolled{set: set, tolMM: max(0.15, 3/pxmm)}
	add := func(name string, l look, lo, hi float64) {
		u.names = append(u.names, name)
		pad := 2 * panelPad
		u.panels = append(u.panels, newBuffer(frame{l, -half - float64(pad)/pxmm, hi + float64(pad)/pxmm, pxmm,
			even(2*half*pxmm) + 2*pad, even((hi-lo)*pxmm) + 2*pad}))
	}
	end := false
	for _, d := range sides {
		lo, hi := box.Min.Y, max(box.Max.Y, box.Min.Y+tall)
		if geom.IsEnd(d) {
			lo, hi, end = -half, half, true
		}
		add(sideTitle(d), sideLook(d), lo, hi)
	}
	if ends {
		if !end {
			add("from the free end", endLook(firstAcross(sides), true), -half, half)
		}
		add("from the stop", endLook(firstAcross(sides), false), -half, half)
	}
	if err := u.lookAll(ctx); err != nil {
		return nil, err
	}
	return u, nil
}

// even is the least even number of pixels that holds v.
func even(v float64) int { return 2 * int(math.Ceil(v/2)) }

// lookAll fills the buffers, each by one worker, so that the order of drawing is always the same.
func (u *Unrolled) lookAll(ctx context.Context) error {
	n := u.set.Len()
	u.mate, u.shade = make([]int8, n), make([]uint8, n*len(u.panels))
	inParallel(runtime.GOMAXPROCS(0), func(w, of int) {
		for i := n * w / of; i < n*(w+1)/of; i++ {
			u.light(i)
		}
	})
	inParallel(len(u.panels), func(k, _ int) {
		b := u.panels[k]
		for i := range n {
			if i&8191 == 0 && ctx.Err() != nil {
				return
			}
			p, q, r := u.set.Corners(i)
			b.draw(i, p, q, r)
		}
	})
	if err := ctx.Err(); err != nil {
		return err
	}
	u.seen = make([]bool, n)
	inParallel(runtime.GOMAXPROCS(0), func(w, of int) {
		for i := n * w / of; i < n*(w+1)/of; i++ {
			u.seen[i] = u.seesPatch(i)
		}
	})
	return nil
}

func (u *Unrolled) seesPatch(i int) bool {
	p, n := u.set.Centre(i), u.set.Normal(i)
	for _, b := range u.panels {
		if b.to(n).Z > 0 && b.sees(p, u.tolMM) {
			return true
		}
	}
	return false
}

// inParallel runs jobs 0 to n−1, as many at a time as there are cores.
func inParallel(n int, job func(i, n int)) {
	var wg sync.WaitGroup
	gate := make(chan struct{}, max(1, runtime.GOMAXPROCS(0)))
	for i := range n {
		wg.Add(1)
		gate <- struct{}{}
		go func() {
			defer func() { <-gate; wg.Done() }()
			job(i, n)
		}()
	}
	wg.Wait()
}

// light settles which panel patch i faces best and how light it is in each.
func (u *Unrolled) light(i int) {
	n := u.set.Normal(i)
	best, at := math.Inf(-1), 0
	for k, b := range u.panels {
		q := b.to(n)
		if q.Z > best+1e-9 {
			best, at = q.Z, k
		}
		if q.Z < 0 {
			q = q.Mul(-1)
		}
		// from the upper left, mostly from the eye: colour must stay readable
		l := max(0, float64(-0.33*q.X)+float64(0.42*q.Y)+float64(0.845*q.Z))
		u.shade[k*u.set.Len()+i] = uint8(min(1, l) * (lights - 1))
	}
	u.mate[i] = int8(at)
}

// Mark is a numbered ring on a map, at a place of the part frame.
type Mark struct {
	Label string
	At    geom.Vec3
}

// Outline is a line on a map with its own mark, such as a boundary loop.
type Outline struct {
	Label  string
	Path   []geom.Vec3
	Closed bool
}

// Paint is what a map shows.
type Paint struct {
	Value    func(i int) float64 // of patch i, in the sense of Scale
	Scale    Scale
	Outlines []Outline
	Marks    []Mark
}

// Map is a painted surface.
type Map struct {
	Scale  Scale
	Panels []Panel
	PxMM   float64 // pixels of a panel's picture for a millimetre
}

// Panel is one view of a map.
type Panel struct {
	Name  string
	Image *image.RGBA
	Marks []PlacedMark
}

// PlacedMark is a mark in a panel: the middle of its ring as parts of the picture's width and height
// from its upper left corner, whether something hides the place, and where its label goes.
type PlacedMark struct {
	Label  string
	X, Y   float64
	Hidden bool
	Tag    string // r, l, t, b: right of, left of, above, below the ring
}

// SurfaceMap paints values over the surface in one go: Unroll and Paint together.
func SurfaceMap(ctx context.Context, set *patch.Set, sides []float64, ends bool, p Paint) (*Map, error) {
	u, err := Unroll(ctx, set, sides, ends)
	if u == nil || err != nil {
		return nil, err
	}
	return u.Paint(p), nil
}

// Paint colours the panels.
func (u *Unrolled) Paint(p Paint) *Map {
	n := u.set.Len()
	pick := make([]uint8, n)
	inParallel(runtime.GOMAXPROCS(0), func(w, of int) {
		for i := n * w / of; i < n*(w+1)/of; i++ {
			pick[i] = uint8(p.Scale.pick(p.Value(i)))
		}
	})
	colours := lit(p.Scale.palette())
	m := &Map{Scale: p.Scale.without(pick), Panels: make([]Panel, len(u.panels)), PxMM: u.panels[0].pxmm / 2}
	inParallel(len(u.panels), func(k, _ int) {
		img := u.colour(k, pick, colours)
		u.dot(img, k, pick, colours, &p.Scale)
		for _, o := range p.Outlines {
			u.outline(img, k, o)
		}
		m.Panels[k] = Panel{Name: u.names[k], Image: cutOut(img)}
	})
	u.place(m, p)
	return m
}

// lit gives every colour in every step of light: the brightest is the colour itself.
func lit(palette []color.RGBA) [][lights]color.RGBA {
	out := make([][lights]color.RGBA, len(palette))
	for i, c := range palette {
		for s := range lights {
			t := float64(s) / (lights - 1)
			out[i][s] = dim(c, 0.70+0.30*math.Sqrt(t))
		}
	}
	return out
}

func dim(c color.RGBA, k float64) color.RGBA {
	f := func(v uint8) uint8 { return uint8(float64(v)*k + 0.5) }
	return color.RGBA{f(c.R), f(c.G), f(c.B), 255}
}

// The inside of an open surface, seen through its hole.
var inside = [2]color.RGBA{oklab{0.44, 0, 0}.rgb(), oklab{0.52, 0, 0}.rgb()}

func (u *Unrolled) colour(k int, pick []uint8, colours [][lights]color.RGBA) *image.RGBA {
	b := u.panels[k]
	img := canvas(b.w, b.h)
	shade := u.shade[k*u.set.Len():]
	step := float32(max(0.6, 10/b.pxmm)) // a drop in depth that is drawn as an edge, mm
	for y := range b.h {
		for x := range b.w {
			o := y*b.w + x
			id := b.id[o]
			near := b.edge(x, y, step)
			var c color.RGBA
			switch {
			case id == 0:
				if !near {
					continue
				}
				c = ink
			case id < 0:
				c = inside[(x+y)/6%2]
			default:
				c = colours[pick[id-1]][shade[id-1]]
				if near {
					c = dim(c, 0.55)
				}
			}
			q := img.Pix[4*o:]
			q[0], q[1], q[2] = c.R, c.G, c.B
		}
	}
	return img
}

// edge reports whether a neighbour of the pixel is much nearer to the eye.
func (b *buffer) edge(x, y int, step float32) bool {
	o := y*b.w + x
	d := b.depth[o] + step
	return x > 0 && b.depth[o-1] > d || x+1 < b.w && b.depth[o+1] > d ||
		y > 0 && b.depth[o-b.w] > d || y+1 < b.h && b.depth[o+b.w] > d
}

// dot lays dots of surface that is worth showing and that no panel sees, in the panel it faces best.
func (u *Unrolled) dot(img *image.RGBA, k int, pick []uint8, colours [][lights]color.RGBA, s *Scale) {
	const cell, radius = 10, 2.6
	b := u.panels[k]
	var lay func(o int, z float32, front bool)
	var c color.RGBA
	lay = func(o int, z float32, _ bool) {
		if b.id[o] == 0 || z >= b.depth[o]-float32(u.tolMM) {
			return
		}
		x, y := o%b.w, o/b.w
		if y/cell%2 == 1 {
			x += cell / 2
		}
		dx, dy := float64(x%cell)-cell/2+0.5, float64(y%cell)-cell/2+0.5
		if float64(dx*dx)+float64(dy*dy) < radius*radius {
			q := img.Pix[4*o:]
			q[0], q[1], q[2] = c.R, c.G, c.B
		}
	}
	for i, v := range pick {
		if u.seen[i] || int(u.mate[i]) != k || !s.dots(int(v)) {
			continue
		}
		p, q, r := u.set.Corners(i)
		c = colours[v][lights-1]
		b.scan(p, q, r, lay)
	}
}

// outline draws a line with a pale casing; what the model hides of it is thin and broken, and left out
// where this panel sees nothing of a line that another one sees.
func (u *Unrolled) outline(img *image.RGBA, k int, o Outline) {
	b := u.panels[k]
	n := len(o.Path)
	if !o.Closed {
		n--
	}
	whole := u.shows(k, o) || !u.shows(-1, o)
	for pass := range 2 {
		for i := range max(n, 0) {
			p, q := o.Path[i], o.Path[(i+1)%len(o.Path)]
			parts := max(1, int(math.Ceil(q.Sub(p).Len()*b.pxmm/12)))
			for j := range parts {
				s, t := p.Lerp(q, float64(j)/float64(parts)), p.Lerp(q, float64(j+1)/float64(parts))
				x0, y0, _ := b.px(s)
				x1, y1, _ := b.px(t)
				seen := b.sees(s.Lerp(t, 0.5), 2*u.tolMM)
				switch {
				case pass == 0 && seen:
					stroke(img, x0, y0, x1, y1, 9, white, 1)
				case pass == 1 && seen:
					stroke(img, x0, y0, x1, y1, 5, lineInk, 1)
				case pass == 0 && whole && (i+j)%2 == 0:
					stroke(img, x0, y0, x1, y1, 2.5, lineInk, 0.7)
				}
			}
		}
	}
}

// shows reports whether panel k, or any for k < 0, sees a tenth of an outline's vertices.
func (u *Unrolled) shows(k int, o Outline) bool {
	for i, b := range u.panels {
		n := 0
		for _, p := range o.Path {
			if b.sees(p, 2*u.tolMM) {
				n++
			}
		}
		if (k < 0 || i == k) && 10*n > len(o.Path) {
			return true
		}
	}
	return false
}

var (
	white   = color.RGBA{255, 255, 255, 255}
	lineInk = oklab{0.28, 0.10, -0.09}.rgb()
)
