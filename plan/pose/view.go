package pose

import (
	"math"

	"barwise/geom"
	"barwise/shop/cutter"
)

// frame is a looking direction with its map's axes: rows of a rotation, z toward the spindle.
type frame struct{ x, y, z geom.Vec3 }

func (f frame) to(p geom.Vec3) geom.Vec3 {
	return geom.Vec3{X: p.Dot(f.x), Y: p.Dot(f.y), Z: p.Dot(f.z)}
}

// back is the frame of the opposite direction over the same pixels: it is left-handed.
func (f frame) back() frame { return frame{f.x, f.y, f.z.Mul(-1)} }

// anyFrame completes a looking direction.
func anyFrame(z geom.Vec3) frame {
	a := geom.Vec3{X: 1}
	if math.Abs(z.X) > math.Abs(z.Y) {
		a = geom.Vec3{Y: 1}
	}
	y := z.Cross(a).Unit()
	return frame{y.Cross(z), y, z}
}

// none is the height where there is nothing.
const none = -math.MaxFloat32

// view is two maps of the model over the same pixels: greatest heights along z, and along −z.
type view struct {
	n     int     // pixels each way
	px    float64 // mm
	lo    float64 // coordinate of the first pixel's near edge
	top   [2][]float32
	far   [2]int     // points of the cloud that reach furthest
	most  [2]float32 // and how far
	rings []ring
}

// ring is something wider than the cutter that comes down with it, up from Z above the tip. Its own map has
// cells of a quarter of its radius, or of some two fifths: what it says is true of a ring up to 0.6 wider or
// 0.2 thinner.
type ring struct {
	cutter.Collar
	k, m  int     // pixels in a cell, cells each way
	reach float64 // mm from the axis within which cells' middles count
	top   [2][]float32
	wide  [2][]float32 // the greatest within reach of every cell; nil where asking for samples one by one is less work
}

func newView(radius, px float64, collars []cutter.Collar, samples int) *view {
	v := &view{n: int(math.Ceil(2*radius/px)) + 3, px: px}
	v.lo = -float64(v.n) * px / 2
	for s := range v.top {
		v.top[s] = make([]float32, v.n*v.n)
	}
	for _, c := range collars {
		r := ring{Collar: c, k: max(1, int(c.R/(4*px)))}
		r.m = (v.n + r.k - 1) / r.k
		wide := r.m*r.m < samples/2
		if !wide {
			r.k = max(1, int(c.R/(2.4*px)))
			r.m = (v.n + r.k - 1) / r.k
		}
		r.reach = c.R + float64(float64(r.k)*px*math.Sqrt2/2)
		for s := range r.top {
			r.top[s] = make([]float32, r.m*r.m)
			if wide {
				r.wide[s] = make([]float32, r.m*r.m)
			}
		}
		v.rings = append(v.rings, r)
	}
	return v
}

// draw fills both maps. Each point of the cloud raises the one pixel it falls in.
func (v *view) draw(c *cloud, f frame) {
	top, low := v.top[0], v.top[1]
	for i := range top {
		top[i] = none
	}
	for i := range low {
		low[i] = none
	}
	k := 1 / v.px
	xx, xy, xz, xo := float32(f.x.X*k), float32(f.x.Y*k), float32(f.x.Z*k), float32(-v.lo*k)
	yx, yy, yz := float32(f.y.X*k), float32(f.y.Y*k), float32(f.y.Z*k)
	zx, zy, zz := float32(f.z.X), float32(f.z.Y), float32(f.z.Z)
	n := v.n
	best := [2]float32{none, none}
	ys, zs := c.y[:len(c.x)], c.z[:len(c.x)]
	for i, x := range c.x {
		y, z := ys[i], zs[i]
		u := int32(float32(x*xx) + float32(y*xy) + float32(z*xz) + xo)
		w := int32(float32(x*yx) + float32(y*yy) + float32(z*yz) + xo)
		h := float32(x*zx) + float32(y*zy) + float32(z*zz)
		at := int(w)*n + int(u)
		top[at] = max(top[at], h)
		low[at] = max(low[at], -h)
		if h > best[0] {
			best[0], v.far[0] = h, i
		}
		if -h > best[1] {
			best[1], v.far[1] = -h, i
		}
	}
	v.most = best
	for i := range v.rings {
		for s := range v.top {
			v.gather(s, &v.rings[i])
		}
	}
}

// gather fills a ring's map.
func (v *view) gather(s int, r *ring) {
	p, m, k := r.top[s], r.m, r.k
	for i := range p {
		p[i] = none
	}
	for j := range v.n {
		row, to := v.top[s][j*v.n:(j+1)*v.n], p[j/k*m:j/k*m+m]
		for a := range to {
			for _, z := range row[a*k : min(a*k+k, len(row))] {
				to[a] = max(to[a], z)
			}
		}
	}
	if r.wide[s] == nil {
		return
	}
	for j := range m {
		for i := range m {
			r.wide[s][j*m+i] = r.within(s, float64(i), float64(j), r.reach/(float64(k)*v.px))
		}
	}
}

// shape is the cutter as the maps can resolve it.
type shape struct {
	cutter.Profile
	table  []float32 // height by squared distance from the axis, in steps
	step   float64   // table's, 1/mm²
	off    float64   // mm the cutter is held off the surface along its normal while it is tried
	face   float64   // a surface that leans to the back by less than the angle of this sine counts as a wall
	limits []float64 // greatest need of each ring; +Inf where there is none
	need   int       // the ring whose need is the stick-out
}

const tableLen = 128

// newShape makes the cutter's shape for maps of pixel px: it is no thinner than a pixel in radius, for
// thinner ones would fall through between the points of the cloud, and is held one pixel off the surface,
// so that the pixel's own width on a slope is not taken for an obstacle.
func newShape(c cutter.Profile, px, face float64) *shape {
	if c.R < px {
		c = cutter.Ball(px)
	}
	s := &shape{Profile: c, off: px, face: face, table: make([]float32, tableLen+1)}
	s.step = tableLen / (c.R * c.R)
	for i := range s.table {
		s.table[i] = float32(c.Height(min(c.R, math.Sqrt(float64(i)/s.step))))
	}
	return s
}

// touch is what a side has of a sample.
type touch struct {
	cos   float32 // of the slope: n·z, 0 of a wall
	need  float32 // mm from tip to holder
	short bool    // the cutter's shape would reach it, but a collar meets the model
}

// touched reports how the sample at p with normal n, both in the frame of map s, is touched; ok is false
// where it is not.
func (v *view) touched(s int, c *shape, p, n geom.Vec3) (t touch, ok bool) {
	if n.Z < -c.face {
		return t, false
	}
	flat := math.Sqrt(float64(n.X*n.X) + float64(n.Y*n.Y))
	m := math.Inf(1)
	if n.Z > 0 {
		m = flat / n.Z
	}
	r, h := c.Contact(m)
	t.cos = float32(max(n.Z, 0))
	ax, ay, tip := p.X, p.Y, p.Z-h
	if flat > 1e-9 {
		d := (r + float64(c.off*flat)) / flat
		ax += float64(d * n.X)
		ay += float64(d * n.Y)
	}
	if v.blocked(s, c, ax, ay, tip+float64(c.off*float64(t.cos))) {
		return t, false
	}
	for i := range v.rings {
		if i != c.need && float64(v.most[s])-tip <= c.limits[i] {
			continue
		}
		need := v.above(s, &v.rings[i], ax, ay) - tip
		if i == c.need {
			t.need = float32(max(need, 0))
		}
		if need > c.limits[i] {
			t.short = true
		}
	}
	return t, !t.short
}

// blocked reports whether the cutter with its tip there would stand in the model.
func (v *view) blocked(s int, c *shape, ax, ay, tip float64) bool {
	top, n := v.top[s], v.n
	// pixel (i, j) has its middle at lo + (i + 1/2)·px
	u, w, rad := (ax-v.lo)/v.px-0.5, (ay-v.lo)/v.px-0.5, c.R/v.px
	j0, j1 := max(int(math.Ceil(w-rad)), 0), min(int(math.Floor(w+rad)), n-1)
	step, z := c.step*v.px*v.px, float32(tip)
	for j := j0; j <= j1; j++ {
		dy := float64(j) - w
		half := math.Sqrt(max(0, float64(rad*rad)-float64(dy*dy)))
		i0, i1 := max(int(math.Ceil(u-half)), 0), min(int(math.Floor(u+half)), n-1)
		row := top[j*n : j*n+n]
		for i := i0; i <= i1; i++ {
			dx := float64(i) - u
			if row[i] > z && row[i] > z+c.table[int((float64(dx*dx)+float64(dy*dy))*step)] {
				return true
			}
		}
	}
	return false
}

// above is the greatest height within a ring about the axis.
func (v *view) above(s int, r *ring, ax, ay float64) float64 {
	cell := v.px * float64(r.k)
	u, w := (ax-v.lo)/cell-0.5, (ay-v.lo)/cell-0.5
	if r.wide[s] == nil {
		return float64(r.within(s, u, w, r.reach/cell))
	}
	i, j := int(math.Floor(u+0.5)), int(math.Floor(w+0.5))
	return float64(r.wide[s][min(max(j, 0), r.m-1)*r.m+min(max(i, 0), r.m-1)])
}

// within is the greatest height of the cells whose middles are within rad of (u, w), all in cells.
func (r *ring) within(s int, u, w, rad float64) float32 {
	p, m := r.top[s], r.m
	j0, j1 := max(int(math.Ceil(w-rad)), 0), min(int(math.Floor(w+rad)), m-1)
	best := float32(none)
	for j := j0; j <= j1; j++ {
		dy := float64(j) - w
		half := math.Sqrt(max(0, float64(rad*rad)-float64(dy*dy)))
		i0, i1 := max(int(math.Ceil(u-half)), 0), min(int(math.Floor(u+half)), m-1)
		if i0 > i1 {
			continue
		}
		for _, z := range p[j*m+i0 : j*m+i1+1] {
			best = max(best, z)
		}
	}
	return best
}
