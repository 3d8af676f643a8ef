package stock

import (
	"math"
	"slices"

	"barwise/geom"
	"barwise/geom/field"
	"barwise/shop/bar"
)

// View is a stack as rays see it: each field smoothed to a surface between its nodes, with the
// greatest heights of ever larger squares of cells, so that a ray passes over them at a stride. It
// does not follow later cuts.
type View struct {
	bar   bar.Bar
	sides []surface
	gens  []int
}

// Hit is where a ray meets the stock.
type Hit struct {
	T    float64   // along the ray, in lengths of its direction
	N    geom.Vec3 // outward unit normal, part frame
	Side int       // side whose cut was hit, −1 for the bar's own skin
}

// surface is one side's field, limited to the bar's section, and bilinear between nodes.
type surface struct {
	turn  geom.Turn
	f     *field.Field
	cut   bool // whether anything was cut at all
	level []pyramid
}

// pyramid holds the greatest height over squares of size×size cells between nodes.
type pyramid struct {
	size   int
	nx, ny int
	hi     []float32
}

// pyramidStep is how many squares of one level, each way, make one of the next.
const pyramidStep = 4

// View returns the stack as it is now, for pictures.
func (s *Stack) View() *View {
	v := &View{bar: s.Bar, gens: s.gens()}
	for i := range s.sides {
		v.sides = append(v.sides, newSurface(&s.sides[i]))
	}
	return v
}

func newSurface(sd *side) surface {
	out := surface{turn: sd.turn, f: sd.h.Clone()}
	g := &out.f.Grid
	roof := make([]float32, g.NX)
	for i := range roof {
		c := &sd.cols[i]
		if c.w == 0 { // outside: as the column beside
			c = &sd.cols[max(1, min(g.NX-2, i))]
		}
		roof[i] = float32(c.hi)
	}
	for j := range g.NY {
		row := out.f.Row(j)
		for i, h := range row {
			if h != uncut {
				out.cut = true
			}
			row[i] = min(h, roof[i])
		}
	}
	if out.cut {
		out.build()
	}
	return out
}

func (f *surface) build() {
	nx, ny := f.f.NX-1, f.f.NY-1
	p := pyramid{size: 1, nx: nx, ny: ny, hi: make([]float32, nx*ny)}
	for j := range ny {
		a, b := f.f.Row(j), f.f.Row(j+1)
		for i := range nx {
			p.hi[j*nx+i] = max(a[i], a[i+1], b[i], b[i+1])
		}
	}
	f.level = append(f.level, p)
	for p.nx > 1 || p.ny > 1 {
		q := pyramid{size: p.size * pyramidStep, nx: (p.nx + pyramidStep - 1) / pyramidStep, ny: (p.ny + pyramidStep - 1) / pyramidStep}
		q.hi = make([]float32, q.nx*q.ny)
		for k := range q.hi {
			q.hi[k] = field.Empty
		}
		for j := range p.ny {
			for i := range p.nx {
				k := j/pyramidStep*q.nx + i/pyramidStep
				q.hi[k] = max(q.hi[k], p.hi[j*p.nx+i])
			}
		}
		f.level = append(f.level, q)
		p = q
	}
}

// at returns the cell that (x, y) lies in, the nearest one outside, and where in it, 0…1.
func (f *surface) at(x, y float64) (i, j int, a, b float64) {
	g := &f.f.Grid
	fx, fy := (x-g.X0)/g.DX, (y-g.Y0)/g.DY
	i, j = max(0, min(g.NX-2, int(math.Floor(fx)))), max(0, min(g.NY-2, int(math.Floor(fy))))
	return i, j, max(0, min(1, fx-float64(i))), max(0, min(1, fy-float64(j)))
}

func (f *surface) height(x, y float64) float64 {
	i, j, a, b := f.at(x, y)
	g := f.f
	k := j*g.NX + i
	lo := float64(float64(g.Z[k])*(1-a)) + float64(float64(g.Z[k+1])*a)
	hi := float64(float64(g.Z[k+g.NX])*(1-a)) + float64(float64(g.Z[k+g.NX+1])*a)
	return float64(lo*(1-b)) + float64(hi*b)
}

// normal is the outward normal in the side frame, from central differences blended over the cell.
func (f *surface) normal(x, y float64) geom.Vec3 {
	i, j, a, b := f.at(x, y)
	var gx, gy float64
	for dj := range 2 {
		for di := range 2 {
			w := math.Abs(float64(1-di)-a) * math.Abs(float64(1-dj)-b)
			sx, sy := f.slope(i+di, j+dj)
			gx += float64(w * sx)
			gy += float64(w * sy)
		}
	}
	return geom.Vec3{X: -gx, Y: -gy, Z: 1}.Unit()
}

func (f *surface) slope(i, j int) (sx, sy float64) {
	g := f.f
	l, r := max(i-1, 0), min(i+1, g.NX-1)
	d, u := max(j-1, 0), min(j+1, g.NY-1)
	sx = (float64(g.Z[j*g.NX+r]) - float64(g.Z[j*g.NX+l])) / (float64(r-l) * g.DX)
	sy = (float64(g.Z[u*g.NX+i]) - float64(g.Z[d*g.NX+i])) / (float64(u-d) * g.DY)
	return sx, sy
}

// above is how far a point may stand over the surface and still count as on it, mm.
const above = 1e-6

// descend returns the first t in [t0, t1] at which the ray is on or under the surface.
func (f *surface) descend(o, d geom.Vec3, t0, t1 float64) (t float64, ok bool) {
	g := &f.f.Grid
	nudge := 1e-7 * g.DX / max(d.Len(), 1e-30)
	for t = t0; t <= t1; {
		x, y := o.X+float64(d.X*t), o.Y+float64(d.Y*t)
		i, j, _, _ := f.at(x, y)
		lv := len(f.level) - 1
		exit := 0.0
		for ; lv >= 0; lv-- {
			p := &f.level[lv]
			bi, bj := i/p.size, j/p.size
			exit = min(t1, f.leave(o, d, t, bi*p.size, bj*p.size, p.size))
			low := min(o.Z+float64(d.Z*t), o.Z+float64(d.Z*exit))
			if low > float64(p.hi[bj*p.nx+bi])+above {
				break
			}
		}
		if lv < 0 {
			if h, ok := f.strike(o, d, t, exit); ok {
				return h, true
			}
		}
		t = max(exit, t) + nudge
	}
	return 0, false
}

// leave is the t at which a ray leaves the square of cells that begins at (i, j); squares at the rim
// reach on outside.
func (f *surface) leave(o, d geom.Vec3, t float64, i, j, size int) float64 {
	g := &f.f.Grid
	out := math.Inf(1)
	if d.X > 0 && i+size < g.NX-1 {
		out = (g.X(i+size) - o.X) / d.X
	} else if d.X < 0 && i > 0 {
		out = (g.X(i) - o.X) / d.X
	}
	if d.Y > 0 && j+size < g.NY-1 {
		out = min(out, (g.Y(j+size)-o.Y)/d.Y)
	} else if d.Y < 0 && j > 0 {
		out = min(out, (g.Y(j)-o.Y)/d.Y)
	}
	return max(out, t)
}

// strike solves within one cell, where height over the surface is a quadratic in t.
func (f *surface) strike(o, d geom.Vec3, t0, t1 float64) (float64, bool) {
	gap := func(t float64) float64 {
		return o.Z + float64(d.Z*t) - f.height(o.X+float64(d.X*t), o.Y+float64(d.Y*t))
	}
	g0, gm, g1 := gap(t0), gap((t0+t1)/2), gap(t1)
	if g0 <= above {
		return t0, true
	}
	// a s² + b s + g0 over s = 0…1
	a, b := 2*(g0+g1-2*gm), 4*gm-float64(3*g0)-g1
	s := 2.0
	if disc := float64(b*b) - 4*float64(a*g0); math.Abs(a) < 1e-12*(math.Abs(b)+g0) {
		if b < 0 {
			s = -g0 / b
		}
	} else if disc >= 0 {
		q := -(b + math.Copysign(math.Sqrt(disc), b)) / 2
		s = least(q/a, g0/q)
	}
	if s > 1 {
		return t1, g1 <= above
	}
	return t0 + float64(s*(t1-t0)), true
}

// least is the smaller of two roots that is not negative, 2 for none.
func least(a, b float64) float64 {
	out := 2.0
	if a >= 0 {
		out = a
	}
	if b >= 0 && b < out {
		out = b
	}
	return out
}

// enter returns the stretch of a ray inside the uncut bar and the skin's normal where it enters.
func (v *View) enter(o, d geom.Vec3) (t0, t1 float64, n geom.Vec3, ok bool) {
	t0, t1 = 0, math.Inf(1)
	plane := func(nn geom.Vec3, dist float64) {
		a, b := nn.Dot(d), dist-nn.Dot(o)
		switch {
		case a == 0:
			if b < 0 {
				t1 = math.Inf(-1)
			}
		case a > 0:
			t1 = min(t1, b/a)
		case b/a > t0:
			t0, n = b/a, nn
		}
	}
	plane(geom.Vec3{Y: -1}, 0)
	plane(geom.Vec3{Y: 1}, v.bar.Length)
	for _, f := range v.bar.Flats() {
		plane(geom.TurnDeg(f.Deg).Facing(), f.D)
	}
	if v.bar.Shape == bar.Round {
		r := v.bar.Width / 2
		a := float64(d.X*d.X) + float64(d.Z*d.Z)
		b := float64(o.X*d.X) + float64(o.Z*d.Z)
		c := float64(o.X*o.X) + float64(o.Z*o.Z) - float64(r*r)
		disc := float64(b*b) - float64(a*c)
		switch {
		case a == 0:
			if c > 0 {
				return 0, 0, n, false
			}
		case disc <= 0:
			return 0, 0, n, false
		default:
			q := math.Sqrt(disc)
			t1 = min(t1, (q-b)/a)
			if t := (-b - q) / a; t > t0 {
				t0 = t
				n = geom.Vec3{X: o.X + float64(d.X*t), Z: o.Z + float64(d.Z*t)}.Unit()
			}
		}
	}
	return t0, t1, n, t0 < t1
}

// Hit follows a ray in the part frame to the first stock it meets. A ray that begins inside hits at
// once, with no normal.
func (v *View) Hit(o, d geom.Vec3) (Hit, bool) {
	t0, t1, n, ok := v.enter(o, d)
	if !ok {
		return Hit{}, false
	}
	h := Hit{T: t0, N: n, Side: -1}
	for quiet, k := 0, 0; quiet < len(v.sides); k = (k + 1) % len(v.sides) {
		f := &v.sides[k]
		quiet++
		if !f.cut {
			continue
		}
		so, sd := f.turn.ToSide(o), f.turn.ToSide(d)
		x, y := so.X+float64(sd.X*h.T), so.Y+float64(sd.Y*h.T)
		if so.Z+float64(sd.Z*h.T) <= f.height(x, y)+2*above {
			continue
		}
		t, ok := f.descend(so, sd, h.T, t1)
		if !ok {
			return Hit{}, false
		}
		h.T, h.Side, quiet = t, k, 1
	}
	if h.Side >= 0 {
		v.face(o.Add(d.Mul(h.T)), &h)
	}
	return h, true
}

// face settles which side's cut a point shows, and its normal: where several sides' surfaces pass within
// a quarter of a pitch it is the one that looks at it most squarely, whose nodes stand closest there.
func (v *View) face(p geom.Vec3, h *Hit) {
	best := -1.0
	for k := range v.sides {
		f := &v.sides[k]
		if !f.cut {
			continue
		}
		q := f.turn.ToSide(p)
		if k != h.Side && math.Abs(q.Z-f.height(q.X, q.Y)) > f.f.DX/4 {
			continue
		}
		n := f.normal(q.X, q.Y)
		if n.Z > best {
			best, h.N, h.Side = n.Z, f.turn.ToPart(n), k
		}
	}
}

// Ray follows a ray in the part frame to the first stock it meets: t along dir and the outward normal.
// It keeps a View of its own until the next cut, so it is not for several goroutines at once; View is.
func (s *Stack) Ray(origin, dir geom.Vec3) (t float64, n geom.Vec3, ok bool) {
	if s.view == nil || !slices.Equal(s.view.gens, s.gens()) {
		s.view = s.View()
	}
	h, ok := s.view.Hit(origin, dir)
	return h.T, h.N, ok
}
