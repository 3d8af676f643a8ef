// Package sweep finds the straight moves of a program by the place of their axis.
package sweep

import (
	"math"

	"barwise/geom"
	"barwise/geom/field"
)

// most is how many bins there are at most, and widest their greatest pitch below that, mm.
const (
	most   = 4e6
	widest = 2
)

// Bins are squares about the nodes of a grid, each with the moves whose axis passes it, seen from above.
type Bins struct {
	field.Grid
	start, ids []int32
}

// New sorts n moves, each from a by u, mm, into bins about two passes wide, but no less than least mm.
func New(n int, axis func(i int) (a, u geom.Vec3), least float64) *Bins {
	b := &Bins{}
	if n == 0 {
		return b
	}
	box, length := geom.EmptyBox(), 0.0
	for i := range n {
		a, u := axis(i)
		box = box.Grow(a).Grow(a.Add(u))
		length += u.XY().Len()
	}
	size := box.Size()
	area := (size.X + 0.1) * (size.Y + 0.1)
	pitch := max(min(max(2*area/max(length, 1e-9), least), widest), math.Sqrt(area/most))
	b.Grid = field.Cover(box.Min.X, box.Max.X, box.Min.Y, box.Max.Y, pitch, pitch)
	count := make([]int32, b.Len()+1)
	for i := range n {
		a, u := axis(i)
		b.Crossed(a, u, func(bin int) { count[bin+1]++ })
	}
	for bin := 1; bin < len(count); bin++ {
		count[bin] += count[bin-1]
	}
	b.start = append([]int32(nil), count...)
	b.ids = make([]int32, count[len(count)-1])
	for i := range n {
		a, u := axis(i)
		b.Crossed(a, u, func(bin int) { b.ids[count[bin]] = int32(i); count[bin]++ })
	}
	return b
}

// In lists the moves of a bin, ascending.
func (b *Bins) In(bin int) []int32 { return b.ids[b.start[bin]:b.start[bin+1]] }

// About returns the first and the last bin each way of those that come within r of p; none where the last is
// less than the first.
func (b *Bins) About(p geom.Vec2, r float64) (i0, j0, i1, j1 int) {
	i0, j0 = b.Nearest(geom.Vec2{X: p.X - r, Y: p.Y - r})
	i1, j1 = b.Nearest(geom.Vec2{X: p.X + r, Y: p.Y + r})
	return max(i0, 0), max(j0, 0), min(i1, b.NX-1), min(j1, b.NY-1)
}

// Crossed calls do for every bin that the way from a by u passes, row by row.
func (b *Bins) Crossed(a, u geom.Vec3, do func(bin int)) {
	x0, y0, x1, y1 := a.X, a.Y, a.X+u.X, a.Y+u.Y
	if y0 > y1 {
		x0, y0, x1, y1 = x1, y1, x0, y0
	}
	_, j0 := b.Nearest(geom.Vec2{X: x0, Y: y0})
	_, j1 := b.Nearest(geom.Vec2{X: x1, Y: y1})
	for j := max(j0, 0); j <= min(j1, b.NY-1); j++ {
		l, r := x0, x1
		if j0 < j1 {
			t0 := min(max((b.Y(j)-b.DY/2-y0)/(y1-y0), 0), 1)
			t1 := min(max((b.Y(j)+b.DY/2-y0)/(y1-y0), 0), 1)
			l, r = x0+float64((x1-x0)*t0), x0+float64((x1-x0)*t1)
		}
		i0, _ := b.Nearest(geom.Vec2{X: min(l, r)})
		i1, _ := b.Nearest(geom.Vec2{X: max(l, r)})
		for i := max(i0, 0); i <= min(i1, b.NX-1); i++ {
			do(j*b.NX + i)
		}
	}
}
