package proof

import (
	"math"

	"barwise/geom"
	"barwise/geom/field"
)

const (
	tileBits = 3               // cells a tile, each way, as a power of two
	heapBits = 3               // tiles a heap, each way
	taken    = float32(1e-4)   // mm: less is rounding, not material taken
	tileSize = 1 << tileBits   //
	heapSize = 1 << heapBits   //
	firmCut  = float32(0.0101) // mm: material whose place tells how the cutter is engaged
)

// top is an upper bound of what is left, seen from one side: exact when a program begins, then lowered
// by what the program cuts, so a hollow that other sides cut below is not seen through. Maxima over
// tiles and over heaps of tiles answer most questions without looking at nodes; they are brought up to
// date when they fail to.
//
// What it cuts, it cuts off the side's own field too, where there is one. That stands no lower anywhere:
// other sides may have taken what it still has.
type top struct {
	f          *field.Field
	own        *field.Field
	end        bool // the end side: heights, not rows, are measured along the bar
	tx, ty     int
	hx, hy     int
	tile, heap []float32
	patch      footprint
}

// footprint is what one piece takes off each node of the box around it.
type footprint struct {
	i0, j0, nx, ny int
	d              []float32
}

func newTop(f *field.Field) *top {
	t := &top{f: f}
	t.tx, t.ty = (f.NX+tileSize-1)>>tileBits, (f.NY+tileSize-1)>>tileBits
	t.hx, t.hy = (t.tx+heapSize-1)>>heapBits, (t.ty+heapSize-1)>>heapBits
	t.tile, t.heap = make([]float32, t.tx*t.ty), make([]float32, t.hx*t.hy)
	for j := range t.ty {
		for i := range t.tx {
			t.redo(i, j)
		}
	}
	for j := range t.hy {
		for i := range t.hx {
			t.redoHeap(i, j)
		}
	}
	return t
}

func (t *top) redo(i, j int) float32 {
	m := field.Empty
	i1, j1 := min((i+1)<<tileBits, t.f.NX), min((j+1)<<tileBits, t.f.NY)
	for y := j << tileBits; y < j1; y++ {
		for _, v := range t.f.Z[y*t.f.NX+i<<tileBits : y*t.f.NX+i1] {
			m = max(m, v)
		}
	}
	t.tile[j*t.tx+i] = m
	return m
}

func (t *top) redoHeap(i, j int) float32 {
	m := field.Empty
	i1, j1 := min((i+1)<<heapBits, t.tx), min((j+1)<<heapBits, t.ty)
	for y := j << heapBits; y < j1; y++ {
		for _, v := range t.tile[y*t.tx+i<<heapBits : y*t.tx+i1] {
			m = max(m, v)
		}
	}
	t.heap[j*t.hx+i] = m
	return m
}

// span returns the nodes of the box [x0,x1]×[y0,y1]; ok is false where there are none.
func (t *top) span(x0, x1, y0, y1 float64) (i0, i1, j0, j1 int, ok bool) {
	g := &t.f.Grid
	i0, i1 = int(math.Ceil((x0-g.X0)/g.DX-1e-9)), int(math.Floor((x1-g.X0)/g.DX+1e-9))
	j0, j1 = int(math.Ceil((y0-g.Y0)/g.DY-1e-9)), int(math.Floor((y1-g.Y0)/g.DY+1e-9))
	i0, j0, i1, j1 = max(i0, 0), max(j0, 0), min(i1, g.NX-1), min(j1, g.NY-1)
	return i0, i1, j0, j1, i0 <= i1 && j0 <= j1
}

// roof returns an upper bound of the heights in a box of nodes, by tiles: cheap, and good enough where
// it is no more than enough.
func (t *top) roof(i0, i1, j0, j1 int, enough float32) float32 {
	m := field.Empty
	for hj := j0 >> (tileBits + heapBits); hj <= j1>>(tileBits+heapBits); hj++ {
		for hi := i0 >> (tileBits + heapBits); hi <= i1>>(tileBits+heapBits); hi++ {
			h := t.heap[hj*t.hx+hi]
			if h <= enough {
				m = max(m, h)
				continue
			}
			a0, a1 := max(i0>>tileBits, hi<<heapBits), min(i1>>tileBits, (hi+1)<<heapBits-1, t.tx-1)
			b0, b1 := max(j0>>tileBits, hj<<heapBits), min(j1>>tileBits, (hj+1)<<heapBits-1, t.ty-1)
			for b := b0; b <= b1; b++ {
				for _, v := range t.tile[b*t.tx+a0 : b*t.tx+a1+1] {
					m = max(m, v)
				}
			}
		}
	}
	return m
}

// renew brings tiles and heaps that promise more than enough up to date.
func (t *top) renew(i0, i1, j0, j1 int, enough float32) {
	for b := j0 >> tileBits; b <= j1>>tileBits; b++ {
		for a := i0 >> tileBits; a <= i1>>tileBits; a++ {
			if t.tile[b*t.tx+a] > enough {
				t.redo(a, b)
			}
		}
	}
	const bits = tileBits + heapBits
	for b := j0 >> bits; b <= j1>>bits; b++ {
		for a := i0 >> bits; a <= i1>>bits; a++ {
			if t.heap[b*t.hx+a] > enough {
				t.redoHeap(a, b)
			}
		}
	}
}

// way is a straight move seen from above: u runs along it, v across.
type way struct {
	a, b         geom.Vec3
	ux, uy, l, m float64 // direction, length, rise over run
	low          float64
	from         float64 // height of the tip where it begins
}

func newWay(a, b geom.Vec3) way {
	w := way{a: a, b: b, ux: 1, low: min(a.Z, b.Z), from: a.Z}
	d := b.XY().Sub(a.XY())
	if l := d.Len(); l > 1e-9 {
		w.l, w.ux, w.uy = l, d.X/l, d.Y/l
		w.m = (b.Z - a.Z) / l
	} else {
		w.a.Z = w.low
	}
	return w
}

// entry is the height of the tip when a node comes under the cutter: u along the way, q what is left of
// the squared reach across it. A node that is under it from the start has the height it starts from.
func (w *way) entry(u, q float64) float64 {
	in := u - math.Sqrt(max(0, q))
	if in <= 0 || w.l == 0 {
		return w.from
	}
	return w.a.Z + float64(w.m*min(in, w.l))
}

// rows calls do with the stretch of nodes of each row that lie within about r of the way.
func (t *top) rows(w *way, r float64, do func(j, i0, i1 int)) {
	g := &t.f.Grid
	y0, y1 := min(w.a.Y, w.b.Y)-r, max(w.a.Y, w.b.Y)+r
	j0 := max(int(math.Ceil((y0-g.Y0)/g.DY-1e-9)), 0)
	j1 := min(int(math.Floor((y1-g.Y0)/g.DY+1e-9)), g.NY-1)
	for j := j0; j <= j1; j++ {
		xa, xb := w.a.X, w.b.X
		if dy := w.b.Y - w.a.Y; dy != 0 && w.l > r {
			s0, s1 := (g.Y(j)-r-w.a.Y)/dy, (g.Y(j)+r-w.a.Y)/dy
			if s0 > s1 {
				s0, s1 = s1, s0
			}
			s0, s1 = max(s0, 0), min(s1, 1)
			xa, xb = w.a.X+float64((w.b.X-w.a.X)*s0), w.a.X+float64((w.b.X-w.a.X)*s1)
		}
		i0 := max(int(math.Ceil((min(xa, xb)-r-g.X0)/g.DX-1e-9)), 0)
		i1 := min(int(math.Floor((max(xa, xb)+r-g.X0)/g.DX+1e-9)), g.NX-1)
		if i0 <= i1 {
			do(j, i0, i1)
		}
	}
}

// bite is what one straight piece takes.
type bite struct {
	volume      float64 // mm³
	depth       float64 // greatest height of material above the tip, where more than a pitch is taken off it
	under       float64 // greatest thickness taken off a square of nodes a pitch or more inside the rim; asked for by watch
	left, right float64 // how far across the way material is met; −Inf none
	stub        float64 // greatest thickness taken off the bar below stubY
	at, stubAt  geom.Vec3
}

// cut lowers the top by the swept cutter and says what that took. Each node falls to the exact least
// height over the way: with e the lead of the touching point, m·e + h(√(e² + v²)) is convex in e.
func (t *top) cut(f *form, w *way, stubY float64, watch bool) bite {
	o := bite{left: math.Inf(-1), right: math.Inf(-1)}
	g := &t.f.Grid
	watch = watch && t.lay(w, f.R)
	deepIn := max(0, f.R-g.DX)
	deepIn *= deepIn
	r2 := f.R * f.R
	reach2 := (f.R + 1e-9) * (f.R + 1e-9)
	sm := math.Sqrt(1 + float64(w.m*w.m))
	inner := f.R - min(0.71*g.DX, f.R/2)
	inner *= inner
	low := float32(w.low)
	var sum float64
	// A ball stands no lower than a parabola under it: R − √(R² − v²) ≥ v²/2R. So on an endless way at
	// least bed + m·u + bowl·v², and never lower than the lowest ball about the nearest point of the way.
	bed, bowl, dish := math.Inf(-1), 0.0, 0.0
	if f.ball {
		bed, bowl, dish = w.a.Z+f.R-float64(sm*f.R), sm/(2*f.R), 1/(2*f.R)
	}
	t.rows(w, f.R, func(j, i0, i1 int) {
		dy := g.Y(j) - w.a.Y
		row := t.f.Row(j)
		own := row
		if t.own != nil {
			own = t.own.Row(j)
		}
		stub := !t.end && g.Y(j) < stubY-float64(0.51*g.DY)
		for i := i0; i <= i1; i++ {
			stands := own[i]
			if stands <= low {
				continue
			}
			dx := g.X(i) - w.a.X
			u := float64(dx*w.ux) + float64(dy*w.uy)
			v := float64(dy*w.ux) - float64(dx*w.uy)
			v2 := float64(v * v)
			q := reach2 - v2
			if q < 0 {
				continue
			}
			if float64(stands) <= bed+float64(w.m*u)+float64(bowl*v2) {
				continue
			}
			if f.ball && (u < 0 || u > w.l) {
				e := max(-u, u-w.l)
				if float64(stands) <= w.low+float64(dish*(float64(e*e)+v2)) {
					continue
				}
			}
			s := u
			if w.m != 0 {
				if f.ball {
					s -= float64(w.m / sm * math.Sqrt(max(0, r2-v2)))
				} else {
					half := math.Sqrt(q)
					s = min(max(s-f.foot(min(math.Abs(v), f.R), w.m), u-half), u+half)
				}
			}
			s = min(max(s, 0), w.l)
			e := s - u
			d2 := float64(e*e) + v2
			if d2 > reach2 {
				continue
			}
			tip := w.a.Z + float64(w.m*s)
			var z float32
			if f.ball {
				z = float32(tip + f.R - math.Sqrt(max(0, r2-d2)))
			} else {
				z = float32(tip + f.height(math.Sqrt(d2)))
			}
			have := row[i]
			if z < stands {
				own[i] = z
			}
			d := have - z
			if d <= 0 {
				continue
			}
			row[i] = z
			if d <= taken {
				continue
			}
			sum += float64(d)
			if up := float64(have) - tip; up > o.depth && d2 < inner {
				// what the cutter comes down on is taken by its end, never higher than the rim
				if up = min(up, max(float64(have)-w.entry(u, q), f.rim)); up > o.depth {
					o.depth = up
					o.at = geom.Vec3{X: g.X(i), Y: g.Y(j), Z: float64(have)}
				}
			}
			if d > firmCut {
				o.left, o.right = max(o.left, v), max(o.right, -v)
				if watch && d2 <= deepIn {
					t.patch.d[(j-t.patch.j0)*t.patch.nx+i-t.patch.i0] = d
				}
			}
			thick := float64(d)
			if t.end { // of what lies below the stub's end
				thick = min(float64(have), stubY) - float64(z)
			}
			if (stub || t.end) && thick > o.stub {
				o.stub = thick
				o.stubAt = geom.Vec3{X: g.X(i), Y: g.Y(j), Z: float64(have)}
			}
		}
	})
	o.volume = sum * g.DX * g.DY
	if watch {
		o.under = t.patch.square()
	}
	return o
}

// lay clears the footprint for a piece; false where it misses the grid.
func (t *top) lay(w *way, r float64) bool {
	i0, i1, j0, j1, ok := t.around(w, r)
	if !ok {
		return false
	}
	p := &t.patch
	p.i0, p.j0, p.nx, p.ny = i0, j0, i1-i0+1, j1-j0+1
	n := p.nx * p.ny
	if cap(p.d) < n {
		p.d = make([]float32, n)
	}
	p.d = p.d[:n]
	clear(p.d)
	return true
}

// square returns the greatest thickness that all four nodes of a square of neighbours lose. What one row
// of nodes shows is thinner than the grid can know, and is none.
func (p *footprint) square() float64 {
	most := float32(0)
	for j := 1; j < p.ny; j++ {
		a, b := p.d[(j-1)*p.nx:j*p.nx], p.d[j*p.nx:(j+1)*p.nx]
		for i := 1; i < p.nx; i++ {
			most = max(most, min(a[i-1], a[i], b[i-1], b[i]))
		}
	}
	return float64(most)
}

// hit is where something that must not touch stands in what is left.
type hit struct {
	depth float64 // mm, straight up; ≤ 0: none, and how far off it is
	at    geom.Vec3
}

// meets holds a body of revolution with profile height h(max(0, r − grow)), out to R + grow, against
// the top on the whole way. For each node the lowest tip of the stretch that has it within reach
// counts: this errs on the safe side, by the rise of the way over the body's width at most.
func (t *top) meets(f *form, grow float64, w *way, lift float64) hit {
	R := f.R + grow
	o := hit{depth: math.Inf(-1)}
	if R <= 0 {
		return o
	}
	g := &t.f.Grid
	low := float32(w.low + lift)
	t.rows(w, R, func(j, i0, i1 int) {
		dy := g.Y(j) - w.a.Y
		row := t.f.Row(j)
		for i := i0; i <= i1; i++ {
			have := row[i]
			if have == field.Empty || float64(have-low) <= o.depth {
				continue
			}
			dx := g.X(i) - w.a.X
			u := float64(dx*w.ux) + float64(dy*w.uy)
			v := float64(dy*w.ux) - float64(dx*w.uy)
			q := float64(R*R) - float64(v*v)
			if q < 0 {
				continue
			}
			half := math.Sqrt(q)
			s0, s1 := max(0, u-half), min(w.l, u+half)
			if s0 > s1 {
				continue
			}
			tip := w.a.Z + min(float64(w.m*s0), float64(w.m*s1)) + lift
			away := math.Abs(v)
			if u < 0 {
				away = math.Hypot(u, v)
			} else if u > w.l {
				away = math.Hypot(u-w.l, v)
			}
			if d := float64(have) - tip - f.height(max(0, away-grow)); d > o.depth {
				o.depth = d
				o.at = geom.Vec3{X: g.X(i), Y: g.Y(j), Z: float64(have)}
			}
		}
	})
	return o
}

// around returns the box of nodes within r of the way.
func (t *top) around(w *way, r float64) (i0, i1, j0, j1 int, ok bool) {
	return t.span(min(w.a.X, w.b.X)-r, max(w.a.X, w.b.X)+r, min(w.a.Y, w.b.Y)-r, max(w.a.Y, w.b.Y)+r)
}
