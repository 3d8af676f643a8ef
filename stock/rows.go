package stock

import (
	"math"

	"barwise/geom/field"
)

// affine is a + b·dy, in columns of the grid; dy is the row's y less that of the move's start.
type affine struct{ a, b float64 }

// bounds is a convex region cut by straight edges, as rows of the grid meet it. It holds for one move.
type bounds struct {
	lo, hi     [3]affine // columns from and up to
	nlo, nhi   int
	row        [2]affine // rows with a positive value are out
	nrow       int
	orig, unit float64 // column of the move's start, columns a mm
}

// slack widens regions, in columns: a node on an edge belongs to both neighbours.
const slack = 1e-7

func newBounds(w *sweep, g *field.Grid) bounds {
	return bounds{orig: (w.ax - g.X0) / g.DX, unit: 1 / g.DX}
}

// keep cuts the region down to k·dx ≥ c0 + c1·dy.
func (b *bounds) keep(k, c0, c1 float64) {
	switch {
	case k > 1e-12:
		b.lo[b.nlo] = affine{b.orig + float64(c0/k*b.unit) - slack, c1 / k * b.unit}
		b.nlo++
	case k < -1e-12:
		b.hi[b.nhi] = affine{b.orig + float64(c0/k*b.unit) + slack, c1 / k * b.unit}
		b.nhi++
	default:
		b.row[b.nrow] = affine{c0 - 1e-9, c1}
		b.nrow++
	}
}

// at returns the columns of row dy within [i0, i1]; none where i0 > i1.
func (b *bounds) at(dy float64, i0, i1 int) (int, int) {
	for k := range b.row[:b.nrow] {
		if b.row[k].a+float64(b.row[k].b*dy) > 0 {
			return 1, 0
		}
	}
	lo, hi := float64(i0), float64(i1)
	for k := range b.lo[:b.nlo] {
		lo = max(lo, b.lo[k].a+float64(b.lo[k].b*dy))
	}
	for k := range b.hi[:b.nhi] {
		hi = min(hi, b.hi[k].a+float64(b.hi[k].b*dy))
	}
	if !(lo <= hi) {
		return 1, 0
	}
	return int(math.Ceil(lo)), int(hi)
}

// stretch is the part of a move's reach that it is to lower, and the part of that where the optimum
// surely lies within the move.
type stretch struct {
	all, sure bounds
	quick     bool // whether there is a sure part that has a loop of its own
	tail      bool // whether nodes whose optimum is the start are left to the move before
}

// stretch returns all of a move's reach, but where tail: what is surely behind the start; and where
// next is given what is surely past the end and before next takes over.
//
// Where a node is nearest to the point two moves share, both would lower it to the same height, so one
// of them is enough. A move leaves out nodes whose optimum is its start: the move before does them. It
// leaves out nodes whose optimum is its end and surely not the start of the next, which does them:
// everything beyond a line through the end square to the bisector of the two ways, moved on until it
// clears both. The moves a node is left to form a chain that ends at one which takes it, and along the
// chain heights only fall.
func (w *sweep) stretch(g *field.Grid, tail bool, next *sweep) (s stretch) {
	s.all = newBounds(w, g)
	// |v| ≤ R with v = dy·ux − dx·uy
	s.all.keep(-w.uy, -w.r-touch, -w.ux)
	s.all.keep(w.uy, -w.r-touch, w.ux)
	from := w.r
	if s.tail = tail && !w.vertical; s.tail {
		from = w.reach
	}
	s.all.keep(w.ux, -from-touch, -w.uy)
	if nx, ny, c, ok := w.handOver(next); ok {
		ex, ey := float64(w.ux*w.l), float64(w.uy*w.l)
		s.all.keep(-nx, -c-float64(nx*ex)-float64(ny*ey), ny)
	} else {
		s.all.keep(-w.ux, -w.l-w.r-touch, w.uy)
	}
	if s.quick = w.l > 2*w.reach && (w.m == 0 || w.form == formBall || w.form == formFlat); s.quick {
		s.sure = newBounds(w, g)
		s.sure.keep(w.ux, w.reach, -w.uy)
		s.sure.keep(-w.ux, w.reach-w.l, w.uy)
	}
	return s
}

// handOver returns the line n·(p − end) ≤ c on this side of which a move does all nodes; ok is false
// where it is to do its whole end.
func (w *sweep) handOver(next *sweep) (nx, ny, c float64, ok bool) {
	if next == nil || w.vertical || next.vertical {
		return 0, 0, 0, false
	}
	nx, ny = w.ux+next.ux, w.uy+next.uy
	l := math.Sqrt(float64(nx*nx) + float64(ny*ny))
	if l < 1.7 { // half the turn has cosine l/2: past about 63° a whole end is as cheap
		return 0, 0, 0, false
	}
	cos := l / 2
	sin := math.Sqrt(max(0, 1-float64(cos*cos)))
	return nx / l, ny / l, float64(max(w.reach, next.reach)*cos) + float64(w.r*sin) + touch, true
}

// lower lowers row j over a stretch.
func (w *sweep) lower(g *field.Grid, row []float32, j int, s *stretch) {
	dy := g.Y(j) - w.ay
	i0, i1 := s.all.at(dy, 0, g.NX-1)
	if i0 > i1 {
		return
	}
	a, b := i1+1, i1
	if s.quick {
		if a, b = s.sure.at(dy, i0, i1); a > b {
			a, b = i1+1, i1
		}
	}
	w.lowerNodes(g, row, dy, i0, a-1, s.tail)
	w.lowerSure(g, row, dy, a, b)
	w.lowerNodes(g, row, dy, b+1, i1, s.tail)
}

// lowerNodes is the plain way, for any node.
func (w *sweep) lowerNodes(g *field.Grid, row []float32, dy float64, i0, i1 int, tail bool) {
	if i0 > i1 {
		return
	}
	if w.form == formBall {
		w.lowerBall(g, row, dy, i0, i1, tail)
		return
	}
	u0, v0 := float64(dy*w.uy), float64(dy*w.ux)
	low := float32(w.low)
	for i := i0; i <= i1; i++ {
		if row[i] <= low {
			continue
		}
		dx := g.X(i) - w.ax
		z := float32(w.at(u0+float64(dx*w.ux), v0-float64(dx*w.uy)))
		if z < row[i] {
			row[i] = z
		}
	}
}

// lowerBall is lowerNodes written out for a ball.
func (w *sweep) lowerBall(g *field.Grid, row []float32, dy float64, i0, i1 int, tail bool) {
	u0, v0 := float64(dy*w.uy), float64(dy*w.ux)
	row = row[i0 : i1+1]
	x0 := g.X(i0) - w.ax
	lead, base, l, r2 := w.m/w.sm, w.az+w.r, w.l, w.r2
	root := math.Sqrt(max(0, r2-float64(v0*v0)))
	for i, h := range row {
		dx := x0 + float64(float64(i)*g.DX)
		u, v := u0+float64(dx*w.ux), v0-float64(dx*w.uy)
		v2 := float64(v * v)
		if w.uy != 0 { // else v is the same all along the row
			root = math.Sqrt(max(0, r2-v2))
		}
		s := u - float64(lead*root)
		if s > 0 && s < l {
			if z := float32(base + float64(w.m*u) - float64(w.sm*root)); z < h {
				row[i] = z
			}
			continue
		}
		z := base
		if s > 0 {
			z += float64(w.m * l)
			u -= l
		} else if tail {
			continue
		}
		q := r2 - float64(u*u) - v2
		if q < 0 {
			if q < r2-w.q2 {
				continue
			}
			q = 0
		}
		if z := float32(z - math.Sqrt(q)); z < h {
			row[i] = z
		}
	}
}

// lowerSure lowers nodes whose optimum surely lies within the move.
func (w *sweep) lowerSure(g *field.Grid, row []float32, dy float64, i0, i1 int) {
	if i0 > i1 {
		return
	}
	u0, v0 := float64(dy*w.uy), float64(dy*w.ux)
	row = row[i0 : i1+1]
	x0 := g.X(i0) - w.ax
	switch {
	case w.form == formBall:
		w.sureBall(row, x0, g.DX, u0, v0)
	case w.m == 0 && w.form == formFlat:
		z := float32(w.az)
		for i, h := range row {
			if z < h {
				row[i] = z
			}
		}
	case w.m == 0:
		for i, h := range row {
			dx := x0 + float64(float64(i)*g.DX)
			if float64(h) <= w.az {
				continue
			}
			z := float32(w.az + w.p.Height(min(w.r, math.Abs(v0-float64(dx*w.uy)))))
			if z < h {
				row[i] = z
			}
		}
	default: // a flat on a slope: the rim leads by half a chord
		base, k := w.az+float64(w.m*u0), w.m*w.ux
		for i, h := range row {
			dx := x0 + float64(float64(i)*g.DX)
			v := v0 - float64(dx*w.uy)
			z := float32(base + float64(k*dx) - float64(w.am*math.Sqrt(max(0, w.q2-float64(v*v)))))
			if z < h {
				row[i] = z
			}
		}
	}
}

// sureBall lowers a row to az + R + m·u − √(1+m²)·√(R²−v²). A parabola under the ball,
// R − √(R²−v²) ≥ v²/2R, tells without a root where the stock is already lower.
func (w *sweep) sureBall(row []float32, x0, pitch, u0, v0 float64) {
	base, k := w.az+w.r+float64(w.m*u0), w.m*w.ux
	if w.uy == 0 {
		base -= float64(w.sm * math.Sqrt(max(0, w.r2-float64(v0*v0))))
		for i, h := range row {
			z := float32(base + float64(k*(x0+float64(float64(i)*pitch))))
			if z < h {
				row[i] = z
			}
		}
		return
	}
	low, half := base-float64(w.sm*w.r), w.sm/(2*w.r)
	for i, h := range row {
		dx := x0 + float64(float64(i)*pitch)
		v := v0 - float64(dx*w.uy)
		rise, v2 := float64(k*dx), float64(v*v)
		if float64(h) <= low+rise+float64(half*v2) {
			continue
		}
		z := float32(base + rise - float64(w.sm*math.Sqrt(max(0, w.r2-v2))))
		if z < h {
			row[i] = z
		}
	}
}
