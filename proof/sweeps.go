package proof

import (
	"math"

	"barwise/geom"
	"barwise/geom/field"
	"barwise/shop/cutter"
)

// A cutter with everything above it, swept along a straight move, is a convex body. So the distance of
// a point from it is a convex function of the point, and the greatest distance over a patch of the
// surface is found at a corner of the patch.

// sweeps are the moves at feed of one profile on one side, found by the place of their axis.
type sweeps struct {
	side  int
	turn  geom.Turn
	f     form
	segs  []sweep
	grid  field.Grid // bins
	start []int32    // of each bin in ids; one more at the end
	ids   []int32
	near  []int32   // the nearest bin that is not empty
	low   []float32 // of each bin: the lowest any tip in it goes

	blocks []float32 // the least low of each block of bins
	bx     int       // blocks a row
}

// Bins are gathered in square blocks, so that what is far too high is passed over quickly.
const (
	blockBits = 2
	blockBins = 1 << blockBits
)

// sweep is one move: a is its start, lifted to the centre for a ball; u leads to its end.
type sweep struct {
	a, u   geom.Vec3
	inv    float64 // 1/|u|²
	invXY  float64 // 1/|u_xy|²
	sloped bool
}

func newSweeps(side int, turn geom.Turn, p cutter.Profile, chains []*chain, box geom.Box3) *sweeps {
	w := &sweeps{side: side, turn: turn, f: newForm(p)}
	lift := geom.Vec3{}
	if w.f.ball {
		lift.Z = p.R
	}
	length, n := 0.0, 0
	for _, c := range chains {
		for i := 0; i+1 < len(c.pts); i++ {
			if c.feed(i) {
				n++
			}
		}
	}
	w.segs = make([]sweep, 0, n)
	for _, c := range chains {
		for i := 0; i+1 < len(c.pts); i++ {
			if !c.feed(i) {
				continue
			}
			a, b := c.pts[i], c.pts[i+1]
			u := b.Sub(a)
			s := sweep{a: a.Add(lift), u: u, sloped: u.Z != 0}
			if l := u.Dot(u); l > 0 {
				s.inv = 1 / l
			}
			xy := float64(u.X*u.X) + float64(u.Y*u.Y)
			if xy > 0 {
				s.invXY = 1 / xy
			}
			length += math.Sqrt(xy)
			w.segs = append(w.segs, s)
		}
	}
	w.bin(length, box, 2*p.R)
	return w
}

// bin sorts the moves into square bins about two passes wide.
func (w *sweeps) bin(length float64, box geom.Box3, reach float64) {
	size := box.Size()
	area := (size.X + 2*reach) * (size.Y + 2*reach)
	pitch := min(max(2*area/max(length, 1e-9), 0.05), 2)
	pitch = max(pitch, math.Sqrt(area/4e6))
	w.grid = field.Cover(box.Min.X-reach, box.Max.X+reach, box.Min.Y-reach, box.Max.Y+reach, pitch, pitch)
	count := make([]int32, w.grid.Len()+1)
	for i := range w.segs {
		w.crossed(&w.segs[i], func(b int) { count[b+1]++ })
	}
	for b := 1; b < len(count); b++ {
		count[b] += count[b-1]
	}
	w.start = append([]int32(nil), count...)
	w.ids = make([]int32, count[len(count)-1])
	w.low = make([]float32, w.grid.Len())
	for b := range w.low {
		w.low[b] = float32(math.Inf(1))
	}
	lift := 0.0
	if w.f.ball {
		lift = w.f.R
	}
	for i := range w.segs {
		s := &w.segs[i]
		low := below(s.a.Z + min(0, s.u.Z) - lift)
		w.crossed(s, func(b int) {
			w.ids[count[b]] = int32(i)
			count[b]++
			w.low[b] = min(w.low[b], low)
		})
	}
	w.block()
	w.spread()
}

// block finds the lowest of each block of bins.
func (w *sweeps) block() {
	g := &w.grid
	w.bx = (g.NX + blockBins - 1) >> blockBits
	w.blocks = make([]float32, w.bx*((g.NY+blockBins-1)>>blockBits))
	for b := range w.blocks {
		w.blocks[b] = float32(math.Inf(1))
	}
	for j := range g.NY {
		for i := range g.NX {
			b := &w.blocks[j>>blockBits*w.bx+i>>blockBits]
			*b = min(*b, w.low[j*g.NX+i])
		}
	}
}

// crossed calls do for every bin that the move's axis passes, row by row; ends count for both bins at
// whose border they lie.
func (w *sweeps) crossed(s *sweep, do func(bin int)) {
	g := &w.grid
	x0, y0, x1, y1 := s.a.X, s.a.Y, s.a.X+s.u.X, s.a.Y+s.u.Y
	if y0 > y1 {
		x0, y0, x1, y1 = x1, y1, x0, y0
	}
	_, j0 := g.Nearest(geom.Vec2{X: x0, Y: y0})
	_, j1 := g.Nearest(geom.Vec2{X: x1, Y: y1})
	for j := max(j0, 0); j <= min(j1, g.NY-1); j++ {
		a, b := x0, x1
		if y1 > y0 {
			t0 := min(max((g.Y(j)-g.DY/2-y0)/(y1-y0), 0), 1)
			t1 := min(max((g.Y(j)+g.DY/2-y0)/(y1-y0), 0), 1)
			a, b = x0+float64((x1-x0)*t0), x0+float64((x1-x0)*t1)
		}
		i0, _ := g.Nearest(geom.Vec2{X: min(a, b)})
		i1, _ := g.Nearest(geom.Vec2{X: max(a, b)})
		for i := max(i0, 0); i <= min(i1, g.NX-1); i++ {
			do(j*g.NX + i)
		}
	}
}

// spread finds for every bin the nearest one that holds moves, by waves from all of these.
func (w *sweeps) spread() {
	g := &w.grid
	w.near = make([]int32, g.Len())
	wave := make([]int32, 0, g.Len())
	for b := range w.near {
		w.near[b] = -1
		if w.start[b+1] > w.start[b] {
			w.near[b] = int32(b)
			wave = append(wave, int32(b))
		}
	}
	for k := 0; k < len(wave); k++ {
		b := int(wave[k])
		i, j := b%g.NX, b/g.NX
		for _, d := range [4][2]int{{1, 0}, {-1, 0}, {0, 1}, {0, -1}} {
			if !g.Inside(i+d[0], j+d[1]) {
				continue
			}
			if o := (j+d[1])*g.NX + i + d[0]; w.near[o] < 0 {
				w.near[o] = w.near[b]
				wave = append(wave, int32(o))
			}
		}
	}
}

// distance returns how far q, in the side frame, lies from the swept body: a true upper bound, exact
// for a ball and for level moves, and within the search's thousandth of the move's length otherwise.
// Negative inside: how deep.
func (w *sweeps) distance(id int32, q geom.Vec3) float64 {
	s := &w.segs[id]
	if w.f.ball {
		d := q.Sub(s.a)
		t := min(max(d.Dot(s.u)*s.inv, 0), 1)
		e := d.Sub(s.u.Mul(t))
		if e.Z <= 0 {
			return e.Len() - w.f.R
		}
		return alongXY(s, d) - w.f.R
	}
	return w.sloping(s, q)
}

// alongXY is the distance seen from above of a point, d from the start, from the move's axis.
func alongXY(s *sweep, d geom.Vec3) float64 {
	t := min(max((float64(d.X*s.u.X)+float64(d.Y*s.u.Y))*s.invXY, 0), 1)
	x, y := d.X-float64(s.u.X*t), d.Y-float64(s.u.Y*t)
	return math.Sqrt(float64(x*x) + float64(y*y))
}

// stays reports whether q surely lies e or more from the swept body: seen from above, or by the lowest
// the tip goes.
func (w *sweeps) stays(id int32, q geom.Vec3, e float64) bool {
	s := &w.segs[id]
	d := q.Sub(s.a)
	if min(0, s.u.Z)-d.Z >= e {
		return true
	}
	t := min(max((float64(d.X*s.u.X)+float64(d.Y*s.u.Y))*s.invXY, 0), 1)
	x, y := d.X-float64(s.u.X*t), d.Y-float64(s.u.Y*t)
	l := max(0, e+w.f.R)
	return float64(x*x)+float64(y*y) >= float64(l*l)
}

func (w *sweeps) sloping(s *sweep, q geom.Vec3) float64 {
	d := q.Sub(s.a)
	at := func(t float64) float64 {
		e := d.Sub(s.u.Mul(t))
		return w.f.distance(math.Sqrt(float64(e.X*e.X)+float64(e.Y*e.Y)), e.Z)
	}
	t := min(max((float64(d.X*s.u.X)+float64(d.Y*s.u.Y))*s.invXY, 0), 1)
	best := at(t)
	if !s.sloped {
		return best
	}
	best = min(best, at(0), at(1))
	// golden section of a convex function
	const g = 0.6180339887498949
	a, b := 0.0, 1.0
	t0, t1 := 1-g, g
	f0, f1 := at(t0), at(t1)
	for range 14 {
		best = min(best, f0, f1)
		if f0 < f1 {
			b, t1, f1 = t1, t0, f0
			t0 = b - float64(g*(b-a))
			f0 = at(t0)
		} else {
			a, t0, f0 = t0, t1, f1
			t1 = a + float64(g*(b-a))
			f1 = at(t1)
		}
	}
	return best
}

// distance returns how far the point at radius r and height z above the tip lies from the profile
// turned about its axis with everything above it. Inside it is the lesser of the way out sideways and
// straight down, negative.
func (f *form) distance(r, z float64) float64 {
	if r <= f.R {
		if h := f.height(r); z >= h {
			return -min(f.R-r, z-h)
		}
	}
	// under the disc
	d := math.Hypot(max(0, r-f.Flat), z)
	if z >= f.rim {
		d = min(d, r-f.R)
	} else {
		d = min(d, math.Hypot(r-f.R, z-f.rim))
	}
	if f.Round > 0 {
		x, y := r-f.Flat, z-f.Round
		s, c := math.Sincos(f.Half)
		l := math.Hypot(x, y)
		// in the arc's sector, and before the arc is cut off at R
		if x >= 0 && y <= 0 && float64(y*c)+float64(x*s) <= 0 && f.Flat+f.Round*x/l <= f.kr+1e-12 {
			d = min(d, l-f.Round)
		}
	}
	if f.kr < f.R {
		ux, uy := f.R-f.kr, f.rim-f.kh
		t := min(max((float64((r-f.kr)*ux)+float64((z-f.kh)*uy))/(float64(ux*ux)+float64(uy*uy)), 0), 1)
		d = min(d, math.Hypot(r-f.kr-float64(t*ux), z-f.kh-float64(t*uy)))
	}
	return d
}
