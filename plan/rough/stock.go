package rough

import (
	"math"

	"barwise/geom"
	"barwise/geom/field"
	"barwise/geom/field/iso"
)

// resample brings a seen field to another grid: the highest node within half a pitch of the grid's
// own, or the nearest one. It is off by at most half a pitch of either grid sideways.
func resample(s *field.Field, g field.Grid) *field.Field {
	out := field.New(g, field.Empty)
	for j := range g.NY {
		row := out.Row(j)
		_, near := s.Nearest(geom.Vec2{X: s.X0, Y: g.Y(j)})
		j0, j1 := span(g.Y(j), g.DY, s.Y0, s.DY, near)
		for i := range row {
			n, _ := s.Nearest(geom.Vec2{X: g.X(i), Y: s.Y0})
			i0, i1 := span(g.X(i), g.DX, s.X0, s.DX, n)
			z := field.Empty
			for y := max(j0, 0); y <= min(j1, s.NY-1); y++ {
				for x := max(i0, 0); x <= min(i1, s.NX-1); x++ {
					z = max(z, s.Z[y*s.NX+x])
				}
			}
			row[i] = z
		}
	}
	return out
}

func span(x, dx, x0, pitch float64, near int) (a, b int) {
	a = int(math.Ceil((x - dx/2 - x0) / pitch))
	b = int(math.Floor((x + dx/2 - x0) / pitch))
	return min(a, near), max(b, near)
}

// highest returns the greatest height of stock within r of p; Empty where there is none.
func (w *work) highest(p geom.Vec2, r float64) float32 {
	top := field.Empty
	w.disc(p, r, func(row []float32) bool {
		for _, z := range row {
			top = max(top, z)
		}
		return false
	})
	return top
}

// touches reports stock above the level within r of p.
func (w *work) touches(p geom.Vec2, r float64) bool {
	h := float32(w.z + w.cusp)
	return w.disc(p, r, func(row []float32) bool {
		for _, z := range row {
			if z > h {
				return true
			}
		}
		return false
	})
}

// disc visits the rows of nodes within r of p until visit says stop; it reports that it did.
func (w *work) disc(p geom.Vec2, r float64, visit func(row []float32) bool) bool {
	g := w.grid
	j0 := max(int(math.Ceil((p.Y-r-g.Y0)/g.DY)), 0)
	j1 := min(int(math.Floor((p.Y+r-g.Y0)/g.DY)), g.NY-1)
	for j := j0; j <= j1; j++ {
		dy := g.Y(j) - p.Y
		h := math.Sqrt(max(0, float64(r*r)-float64(dy*dy)))
		i0 := max(int(math.Ceil((p.X-h-g.X0)/g.DX)), 0)
		i1 := min(int(math.Floor((p.X+h-g.X0)/g.DX)), g.NX-1)
		if i0 <= i1 && visit(w.left.Z[j*g.NX+i0:j*g.NX+i1+1]) {
			return true
		}
	}
	return false
}

// depthAt is the height of stock above z at the node nearest to p; negative for none.
func (w *work) depthAt(p geom.Vec2, z float64) float64 {
	i, j := w.grid.Nearest(p)
	if !w.grid.Inside(i, j) {
		return -1
	}
	return float64(w.left.Z[j*w.grid.NX+i]) - z
}

// above reports stock above the level at the node nearest to p.
func (w *work) above(p geom.Vec2) bool {
	i, j := w.grid.Nearest(p)
	return w.grid.Inside(i, j) && w.left.Z[j*w.grid.NX+i] > float32(w.z+w.cusp)
}

// beenNear reports that something was cut on this level within R of p.
func (w *work) beenNear(p geom.Vec2) bool {
	g := w.grid
	i0, j0 := g.Nearest(geom.Vec2{X: p.X - w.p.Cutter.R, Y: p.Y - w.p.Cutter.R})
	i1, j1 := g.Nearest(geom.Vec2{X: p.X + w.p.Cutter.R, Y: p.Y + w.p.Cutter.R})
	for j := max(j0, 0); j <= min(j1, g.NY-1); j++ {
		for _, f := range w.fresh[j*g.NX+max(i0, 0) : j*g.NX+min(i1, g.NX-1)+1] {
			if f {
				return true
			}
		}
	}
	return false
}

// sweep lowers the planner's copy of the stock by the cutter moved from a to b.
func (w *work) sweep(a, b geom.Vec3) {
	g, r := w.grid, w.p.Cutter.R
	z := max(a.Z, b.Z)
	w.lower(a.XY(), b.XY(), z, r, g)
}

func (w *work) lower(a, b geom.Vec2, z, r float64, g field.Grid) {
	d := b.Sub(a)
	l2 := d.Dot(d)
	l := math.Sqrt(l2)
	flat := w.p.Cutter.Flat
	low := float32(z)
	j0 := max(int(math.Ceil((min(a.Y, b.Y)-r-g.Y0)/g.DY)), 0)
	j1 := min(int(math.Floor((max(a.Y, b.Y)+r-g.Y0)/g.DY)), g.NY-1)
	for j := j0; j <= j1; j++ {
		y := g.Y(j)
		x0, x1 := math.Inf(1), math.Inf(-1)
		for _, c := range [2]geom.Vec2{a, b} {
			if dy := y - c.Y; math.Abs(dy) <= r {
				h := math.Sqrt(float64(r*r) - float64(dy*dy))
				x0, x1 = min(x0, c.X-h), max(x1, c.X+h)
			}
		}
		if l > 0 {
			n := geom.Vec2{X: -d.Y * r / l, Y: d.X * r / l}
			for _, s := range [2]float64{1, -1} {
				p, q := plus(a, n, s), plus(b, n, s)
				if lo, hi := min(p.Y, q.Y), max(p.Y, q.Y); lo <= y && y <= hi && hi > lo {
					x := p.X + float64((q.X-p.X)*(y-p.Y))/(q.Y-p.Y)
					x0, x1 = min(x0, x), max(x1, x)
				}
			}
		}
		i0 := max(int(math.Ceil((x0-g.X0)/g.DX)), 0)
		i1 := min(int(math.Floor((x1-g.X0)/g.DX)), g.NX-1)
		for i := i0; i <= i1; i++ {
			k := j*g.NX + i
			if w.left.Z[k] <= low {
				continue
			}
			h := low
			if flat < r {
				q := geom.Vec2{X: g.X(i), Y: y}
				h = float32(z + w.p.Cutter.Height(min(r, iso.OffSegment(q, a, b))))
			}
			w.left.Z[k] = min(w.left.Z[k], h)
			w.fresh[k] = true
		}
	}
}
