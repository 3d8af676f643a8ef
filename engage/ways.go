package engage

import (
	"math"

	"barwise/geom"
	"barwise/geom/field"
	"barwise/path"
	"barwise/shop/cutter"
)

// way is one straight piece of the path.
type way struct {
	ax, ay, ux, uy float64 // start, and unit direction seen from above
	l              float64 // length seen from above; 0: upright
	z, dz          float64 // tip at the start; rise over the whole piece
	low            float64
	len            float64 // in space
	move           int32
	t0, t1         float64 // the part of the move it is
	feed           bool
}

// ways are a program's pieces in order, found by where their sweeps may meet a cutter.
type ways struct {
	prof  cutter.Profile
	list  []way
	turns []float32 // at the start of each piece, from the piece before it, radians
	grid  field.Grid
	start []int32 // of each cell in ids
	ids   []int32 // in order
}

func newWays(p path.Program, prof cutter.Profile) *ways {
	w := &ways{prof: prof}
	at := p.Start
	var pts []geom.Vec3
	for i := range p.Moves {
		m := &p.Moves[i]
		if m.Mode == path.Dwell {
			continue
		}
		if at.Finite() && m.To.Finite() {
			pts = path.Flatten(pts[:0], at, *m, sagitta)
			a := at
			for k, b := range pts {
				w.add(a, b, int32(i), float64(k)/float64(len(pts)), float64(k+1)/float64(len(pts)), m.Cuts())
				a = b
			}
		}
		at = m.To
	}
	w.bend()
	w.index()
	return w
}

func (w *ways) add(a, b geom.Vec3, move int32, t0, t1 float64, feed bool) {
	d := b.Sub(a)
	s := way{ax: a.X, ay: a.Y, z: a.Z, dz: d.Z, low: min(a.Z, b.Z), len: d.Len(), move: move, t0: t0, t1: t1, feed: feed}
	if s.len == 0 {
		return
	}
	if l := d.XY().Len(); l > 1e-9 {
		s.l, s.ux, s.uy = l, d.X/l, d.Y/l
	}
	w.list = append(w.list, s)
}

// bend measures the changes of direction.
func (w *ways) bend() {
	w.turns = make([]float32, len(w.list))
	for k := 1; k < len(w.list); k++ {
		a, b := &w.list[k-1], &w.list[k]
		dot := float64(float64(a.ux*a.l)*float64(b.ux*b.l)) + float64(float64(a.uy*a.l)*float64(b.uy*b.l)) + float64(a.dz*b.dz)
		w.turns[k] = float32(math.Acos(max(-1, min(1, dot/(a.len*b.len)))))
	}
}

// index enters every piece at a feed in the cells from which a cutter may touch its sweep: 2R off its axis.
func (w *ways) index() {
	box := geom.EmptyBox()
	for i := range w.list {
		s := &w.list[i]
		box = box.Grow(geom.Vec3{X: s.ax, Y: s.ay}).Grow(geom.Vec3{X: s.ax + float64(s.ux*s.l), Y: s.ay + float64(s.uy*s.l)})
	}
	if box.Empty() {
		return
	}
	size := box.Size()
	cell := max(w.prof.R, math.Sqrt(size.X*size.Y/1e6), 1e-3, max(size.X, size.Y)/1e5)
	w.grid = field.Cover(box.Min.X, box.Max.X, box.Min.Y, box.Max.Y, cell, cell)
	count := make([]int32, w.grid.Len()+1)
	for i := range w.list {
		w.cells(&w.list[i], func(c int) { count[c+1]++ })
	}
	for c := 1; c < len(count); c++ {
		count[c] += count[c-1]
	}
	w.start = append([]int32(nil), count...)
	w.ids = make([]int32, count[len(count)-1])
	for i := range w.list {
		w.cells(&w.list[i], func(c int) { w.ids[count[c]] = int32(i); count[c]++ })
	}
}

// cells calls do for every cell, a square about its node, that comes within 2R of the piece's axis; the
// cell's half diagonal stands for its shape.
func (w *ways) cells(s *way, do func(c int)) {
	if !s.feed {
		return
	}
	g := &w.grid
	r := 2*w.prof.R + g.DX*math.Sqrt2/2 + 1e-6
	bx, by := s.ax+float64(s.ux*s.l), s.ay+float64(s.uy*s.l)
	i0, j0 := g.Nearest(geom.Vec2{X: min(s.ax, bx) - r, Y: min(s.ay, by) - r})
	i1, j1 := g.Nearest(geom.Vec2{X: max(s.ax, bx) + r, Y: max(s.ay, by) + r})
	for j := max(j0, 0); j <= min(j1, g.NY-1); j++ {
		for i := max(i0, 0); i <= min(i1, g.NX-1); i++ {
			if s.off2(g.X(i), g.Y(j)) <= r*r {
				do(j*g.NX + i)
			}
		}
	}
}

// off2 is the squared distance of (x, y) from the piece, seen from above.
func (s *way) off2(x, y float64) float64 {
	x, y = x-s.ax, y-s.ay
	t := max(0, min(s.l, float64(x*s.ux)+float64(y*s.uy)))
	x, y = x-float64(t*s.ux), y-float64(t*s.uy)
	return float64(x*x) + float64(y*y)
}

// at is the tip at part t of the piece.
func (s *way) at(t float64) geom.Vec3 {
	return geom.Vec3{X: s.ax + float64(s.ux*s.l*t), Y: s.ay + float64(s.uy*s.l*t), Z: s.z + float64(s.dz*t)}
}

// near returns the pieces whose sweeps may touch a cutter at (x, y), in order.
func (w *ways) near(x, y float64) []int32 {
	i, j := w.grid.Nearest(geom.Vec2{X: x, Y: y})
	if !w.grid.Inside(i, j) {
		return nil
	}
	c := j*w.grid.NX + i
	return w.ids[w.start[c]:w.start[c+1]]
}

// radiusAt is the profile's radius at height h above the tip; negative where it has none yet.
func radiusAt(p *cutter.Profile, h float64) float64 {
	if h < 0 {
		return -1
	}
	if p.Flat >= p.R {
		return p.R
	}
	kr, kh := p.Knee()
	if h <= kh && p.Round > 0 {
		e := p.Round - h
		return min(p.R, p.Flat+math.Sqrt(max(0, float64(p.Round*p.Round)-float64(e*e))))
	}
	if p.Half == 0 {
		return p.R
	}
	return min(p.R, kr+(h-kh)/p.Slope())
}
