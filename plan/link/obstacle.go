package link

import (
	"math"

	"barwise/geom"
	"barwise/geom/field"
	"barwise/shop/cutter"
)

// Obstacle answers how high the tip must be so that neither the cutter nor what stands above it
// touches the stock. It is live: Cut lowers it by what was cut.
//
// A node of the seen field stands for the whole square cell about it. A point is asked exactly on
// the cells under the cutter and what stands above it; a straight way is asked block by block, as if all
// of a block were as high as its highest cell. Either errs only upward: a point by the body's rise over half
// a cell's diagonal, a way by its rise over two diagonals of a block, both where the clearance has not
// eaten it.
//
// An Obstacle is not safe for concurrent use.
type Obstacle struct {
	seen   *field.Field
	prof   cutter.Profile
	clear  float64         // beside the profile
	wide   float64         // beside the collars
	steps  []cutter.Collar // widest last
	block  int             // nodes a side of a block
	bx, by int
	high   []float32 // highest cell of each block
	dirty  []bool
	upper  []float32 // free height of each block under the collars, by the stock of its age: a bound ever after
	age    []int32   // of the stock, when upper was asked; 0: not asked yet
	now    int32     // counts the cuts that lowered anything, from 1
	reach  []offset  // blocks under the cutting profile
	arms   []offset  // blocks under the collars
}

// offset is a block some way off and the least height of the body above the tip there.
type offset struct {
	dx, dy int
	low    float32
}

// Beside is the most that is kept to the side of the cutting profile, mm. It may touch stock without
// harm, and more would lose the room that it has just cut for itself.
const Beside = 0.1

// NewObstacle makes an Obstacle of what is left. clearance, mm, is kept to the side of everything that is
// wider than the cutting profile, and up to Beside of it to the side of the profile. A neck or shank no wider
// than that, and above it, stands within what the profile keeps clear wherever it goes. The field is copied.
func NewObstacle(seen *field.Field, c cutter.Cutter, clearance float64) *Obstacle {
	o := &Obstacle{seen: seen.Clone(), prof: c.Profile, clear: min(clearance, Beside), wide: clearance, now: 1}
	for _, s := range c.Collars() {
		if s.R > c.R || s.Z < c.Height(s.R) {
			o.steps = append(o.steps, s)
		}
	}
	pitch := max(seen.DX, seen.DY)
	o.block = max(1, int(min(max(c.R/2, 0.25), 1)/pitch))
	o.bx = (seen.NX + o.block - 1) / o.block
	o.by = (seen.NY + o.block - 1) / o.block
	n := o.bx * o.by
	o.high, o.dirty, o.upper, o.age = make([]float32, n), make([]bool, n), make([]float32, n), make([]int32, n)
	for i := range o.dirty {
		o.dirty[i] = true
	}
	o.reach = o.offsets(c.R, o.clear, c.Profile.Height)
	widest := 0.0
	for _, s := range o.steps {
		widest = max(widest, s.R)
	}
	o.arms = o.offsets(widest, clearance, o.collar)
	return o
}

// collar is the least height above the tip of anything above the flutes that reaches radius r.
func (o *Obstacle) collar(r float64) float64 {
	z := math.Inf(1)
	for _, s := range o.steps {
		if r <= s.R {
			z = min(z, s.Z)
		}
	}
	return z
}

// offsets lists the blocks that a body of radius r and height low(radius) can reach from anywhere in
// the block at the middle.
func (o *Obstacle) offsets(r, clear float64, low func(float64) float64) []offset {
	if r <= 0 {
		return nil
	}
	w, h := float64(o.block)*o.seen.DX, float64(o.block)*o.seen.DY
	nx, ny := int((r+clear)/w)+2, int((r+clear)/h)+2
	var out []offset
	for dy := -ny; dy <= ny; dy++ {
		for dx := -nx; dx <= nx; dx++ {
			gx := max(0, float64(max(dx, -dx)-1)) * w
			gy := max(0, float64(max(dy, -dy)-1)) * h
			d := max(0, math.Hypot(gx, gy)-clear)
			if z := low(d); d <= r && !math.IsInf(z, 1) {
				out = append(out, offset{dx, dy, float32(z)})
			}
		}
	}
	return out
}

// Free returns the highest tip height at which anything would be touched on the straight way from a
// to b, in the side frame; −Inf where nothing is there.
func (o *Obstacle) Free(a, b geom.Vec2) float64 {
	if a == b {
		return o.collars(a, o.point(a))
	}
	top := field.Empty
	o.walk(a, b, func(i, j int) {
		for _, f := range o.reach {
			if z := o.blockTop(i+f.dx, j+f.dy); z-f.low > top {
				top = z - f.low
			}
		}
		top = o.under(i, j, top)
	})
	return float64(top)
}

func (o *Obstacle) blockAt(p geom.Vec2) (i, j int) {
	w, h := float64(o.block)*o.seen.DX, float64(o.block)*o.seen.DY
	return int(math.Floor((p.X - o.seen.X0 + o.seen.DX/2) / w)), int(math.Floor((p.Y - o.seen.Y0 + o.seen.DY/2) / h))
}

// point asks the cells under the cutting profile one by one.
func (o *Obstacle) point(p geom.Vec2) float64 {
	s := o.seen
	r := o.prof.R + o.clear
	i0, i1 := int(math.Floor((p.X-r-s.X0)/s.DX)), int(math.Ceil((p.X+r-s.X0)/s.DX))
	j0, j1 := int(math.Floor((p.Y-r-s.Y0)/s.DY)), int(math.Ceil((p.Y+r-s.Y0)/s.DY))
	i0, j0, i1, j1 = max(i0, 0), max(j0, 0), min(i1, s.NX-1), min(j1, s.NY-1)
	top := math.Inf(-1)
	for j := j0; j <= j1; j++ {
		dy := max(0, math.Abs(p.Y-s.Y(j))-s.DY/2)
		for i := i0; i <= i1; i++ {
			z := float64(s.Z[j*s.NX+i])
			if z <= top {
				continue
			}
			dx := max(0, math.Abs(p.X-s.X(i))-s.DX/2)
			d := max(0, math.Sqrt(float64(dx*dx)+float64(dy*dy))-o.clear)
			if d > o.prof.R {
				continue
			}
			top = max(top, z-o.prof.Height(d))
		}
	}
	return top
}

// collars returns the higher of top and the free height of what stands above the profile at p. Cells are
// asked only in blocks whose bound is above the highest found so far.
func (o *Obstacle) collars(p geom.Vec2, top float64) float64 {
	s := o.seen
	bi, bj := o.blockAt(p)
	for _, f := range o.arms {
		if float64(o.blockTop(bi+f.dx, bj+f.dy)-f.low) <= top {
			continue
		}
		i0, j0 := (bi+f.dx)*o.block, (bj+f.dy)*o.block
		for j := j0; j < min(j0+o.block, s.NY); j++ {
			dy := max(0, math.Abs(p.Y-s.Y(j))-s.DY/2)
			for i := i0; i < min(i0+o.block, s.NX); i++ {
				dx := max(0, math.Abs(p.X-s.X(i))-s.DX/2)
				d := max(0, math.Sqrt(float64(dx*dx)+float64(dy*dy))-o.wide)
				top = max(top, float64(s.Z[j*s.NX+i])-o.collar(d))
			}
		}
	}
	return top
}

// under returns the higher of top and the free height of block (i, j) as far as the collars go. What was
// found of older stock bounds what is now, for stock only shrinks: where that is no higher, nothing is asked.
func (o *Obstacle) under(i, j int, top float32) float32 {
	if len(o.arms) == 0 {
		return top
	}
	inside := i >= 0 && j >= 0 && i < o.bx && j < o.by
	k := j*o.bx + i
	if inside && o.age[k] > 0 && (o.age[k] == o.now || o.upper[k] <= top) {
		return max(top, o.upper[k])
	}
	free := field.Empty
	for _, f := range o.arms {
		free = max(free, o.blockTop(i+f.dx, j+f.dy)-f.low)
	}
	if inside {
		o.upper[k], o.age[k] = free, o.now
	}
	return max(top, free)
}

func (o *Obstacle) blockTop(i, j int) float32 {
	if i < 0 || j < 0 || i >= o.bx || j >= o.by {
		return field.Empty
	}
	k := j*o.bx + i
	if o.dirty[k] {
		top := field.Empty
		for y := j * o.block; y < min((j+1)*o.block, o.seen.NY); y++ {
			for _, z := range o.seen.Row(y)[i*o.block : min((i+1)*o.block, o.seen.NX)] {
				top = max(top, z)
			}
		}
		o.high[k], o.dirty[k] = top, false
	}
	return o.high[k]
}

// walk visits every block that the segment touches, row by row.
func (o *Obstacle) walk(a, b geom.Vec2, visit func(i, j int)) {
	if a.Y > b.Y {
		a, b = b, a
	}
	h := float64(o.block) * o.seen.DY
	_, j0 := o.blockAt(a)
	_, j1 := o.blockAt(b)
	for j := j0; j <= j1; j++ {
		lo, hi := a, b
		y0 := o.seen.Y0 - o.seen.DY/2 + float64(float64(j)*h)
		if b.Y > a.Y {
			if y0 > a.Y {
				lo.X = a.X + (b.X-a.X)*(y0-a.Y)/(b.Y-a.Y)
			}
			if y0+h < b.Y {
				hi.X = a.X + (b.X-a.X)*(y0+h-a.Y)/(b.Y-a.Y)
			}
		}
		if lo.X > hi.X {
			lo, hi = hi, lo
		}
		// a hair of room for the rounding of the crossings
		i0, _ := o.blockAt(geom.Vec2{X: lo.X - 1e-9, Y: lo.Y})
		i1, _ := o.blockAt(geom.Vec2{X: hi.X + 1e-9, Y: hi.Y})
		for i := i0; i <= i1; i++ {
			visit(i, j)
		}
	}
}

// Cut lowers what is left by the cutter moved along pts. Only what the cutter wholly swept at a
// node's cell is lowered: the cell's far corner is what counts, so it errs upward.
func (o *Obstacle) Cut(pts []geom.Vec3) {
	lowered := false
	for i := 1; i < len(pts); i++ {
		if o.sweep(pts[i-1], pts[i]) {
			lowered = true
		}
	}
	if lowered {
		o.now++
	}
}

// sweep reports whether anything was lowered.
func (o *Obstacle) sweep(a, b geom.Vec3) bool {
	s, r := o.seen, o.prof.R
	half := math.Hypot(s.DX, s.DY) / 2
	if r <= half {
		return false
	}
	lowered := false
	i0, j0 := s.Nearest(geom.Vec2{X: min(a.X, b.X) - r, Y: min(a.Y, b.Y) - r})
	i1, j1 := s.Nearest(geom.Vec2{X: max(a.X, b.X) + r, Y: max(a.Y, b.Y) + r})
	i0, j0, i1, j1 = max(i0, 0), max(j0, 0), min(i1, s.NX-1), min(j1, s.NY-1)
	d := b.XY().Sub(a.XY())
	l2 := d.Dot(d)
	// the higher end's height bounds the cut from above: exact on the level, upward on a slope
	z := max(a.Z, b.Z)
	rows := r - half
	flat := o.prof.Rim() == 0
	low := up(float32(z))
	for j := j0; j <= j1; j++ {
		y := s.Y(j)
		x0, x1, ok := stadium(a.XY(), b.XY(), rows, y)
		if !ok {
			continue
		}
		first := max(i0, int(math.Ceil((x0-s.X0)/s.DX)))
		last := min(i1, int(math.Floor((x1-s.X0)/s.DX)))
		for i := first; i <= last; i++ {
			k := j*s.NX + i
			if float64(s.Z[k]) <= z {
				continue
			}
			if flat {
				if low < s.Z[k] {
					s.Z[k] = low
					o.dirty[(j/o.block)*o.bx+i/o.block] = true
					lowered = true
				}
				continue
			}
			q := geom.Vec2{X: s.X(i), Y: y}.Sub(a.XY())
			t := 0.0
			if l2 > 0 {
				t = max(0, min(1, q.Dot(d)/l2))
			}
			dist := plus(q, d, -t).Len() + half
			if dist > r {
				continue
			}
			if h := float32(z + o.prof.Height(dist)); h < s.Z[k] {
				s.Z[k] = up(h)
				o.dirty[(j/o.block)*o.bx+i/o.block] = true
				lowered = true
			}
		}
	}
	return lowered
}

// up is the next float32 above: rounding to storage must not lower a bound.
func up(z float32) float32 { return math.Nextafter32(z, float32(math.Inf(1))) }

// stadium returns where the row y crosses the set of points within r of the segment ab.
func stadium(a, b geom.Vec2, r, y float64) (x0, x1 float64, ok bool) {
	x0, x1 = math.Inf(1), math.Inf(-1)
	for _, c := range [2]geom.Vec2{a, b} {
		if dy := y - c.Y; math.Abs(dy) <= r {
			w := math.Sqrt(float64(r*r) - float64(dy*dy))
			x0, x1 = min(x0, c.X-w), max(x1, c.X+w)
		}
	}
	d := b.Sub(a)
	if l := d.Len(); l > 0 {
		n := geom.Vec2{X: -d.Y / l * r, Y: d.X / l * r}
		for _, s := range [2]float64{1, -1} {
			p, q := plus(a, n, s), plus(b, n, s)
			if lo, hi := min(p.Y, q.Y), max(p.Y, q.Y); lo <= y && y <= hi && hi > lo {
				x := p.X + (q.X-p.X)*(y-p.Y)/(q.Y-p.Y)
				x0, x1 = min(x0, x), max(x1, x)
			}
		}
	}
	return x0, x1, x0 <= x1
}

// plus returns p + k·d, with the products rounded before they are added.
func plus(p, d geom.Vec2, k float64) geom.Vec2 {
	return geom.Vec2{X: p.X + float64(d.X*k), Y: p.Y + float64(d.Y*k)}
}

// Under returns the top of the stock, as it stands, among the cells whose middles lie within r of p; −Inf where
// there is none.
func (o *Obstacle) Under(p geom.Vec2, r float64) float64 {
	s := o.seen
	top := math.Inf(-1)
	i0, i1 := max(int(math.Ceil((p.X-r-s.X0)/s.DX)), 0), min(int(math.Floor((p.X+r-s.X0)/s.DX)), s.NX-1)
	j0, j1 := max(int(math.Ceil((p.Y-r-s.Y0)/s.DY)), 0), min(int(math.Floor((p.Y+r-s.Y0)/s.DY)), s.NY-1)
	for j := j0; j <= j1; j++ {
		for i := i0; i <= i1; i++ {
			if (geom.Vec2{X: s.X(i), Y: s.Y(j)}).Sub(p).Len() <= r {
				top = max(top, float64(s.Z[j*s.NX+i]))
			}
		}
	}
	return top
}
