package corner

import (
	"context"
	"math"

	"barwise/geom"
	"barwise/geom/field"
	"barwise/plan/share"
)

// stop is a place of the tip beside a crease.
type stop struct {
	tip  geom.Vec3
	wall bool      // it stands against a wall, not on its own lowest height
	free geom.Vec2 // then the way into the free
	deep bool      // it stands in the crease: the lowest place about it
	ok   bool
}

// ribbon is what is cut along one crease: lanes[k][side][j] is the stop of ray k in lane j + 1 of a side.
type ribbon struct {
	rays   []ray
	closed bool
	middle []stop
	lanes  [][2][]stop
}

// ribbon looks both ways from every ray for as far as something is left, and sets stops there as far apart
// as the cusp allows.
func (l *Left) ribbon(ctx context.Context, v *share.View, r *Region, b *ribbon, near *crowd) {
	b.lanes = make([][2][]stop, len(b.rays))
	s := l.scout(v)
	b.middle = make([]stop, len(b.rays))
	for k := range b.rays {
		if ctx.Err() != nil {
			return
		}
		q := &b.rays[k]
		if off := q.at.Sub(q.found).Len(); s.z(q.at) > s.z(q.found)+s.params.Tolerance+float64(upright*off) { // calmed onto a wall
			q.at = q.found
		}
		b.middle[k] = stop{tip: geom.Vec3{X: q.at.X, Y: q.at.Y, Z: s.z(q.at)}, deep: true, ok: true}
		for side, sign := range [2]float64{1, -1} {
			b.lanes[k][side] = s.stops(r, q, q.across.Mul(sign), near)
		}
	}
	s.even(b)
}

func (s *scout) z(p geom.Vec2) float64 {
	z, _ := s.limited(p.X, p.Y)
	return z
}

// even takes the tremble out of the lanes, in plan, within a part of their spacing; walls stay.
func (s *scout) even(b *ribbon) {
	n := len(b.rays)
	free := float64(lanePlay * spacing(s.set.Cutter, s.params.Cusp))
	for side := range 2 {
		most := 0
		for k := range b.lanes {
			most = max(most, len(b.lanes[k][side]))
		}
		pts := make([]geom.Vec2, n)
		for j := range most {
			for k := range n {
				pts[k] = b.stop(k, side, j).tip.XY()
			}
			held := func(k int) bool { // between two like it, not past an end
				for q := k - 1; q <= k+1; q++ {
					w := q
					if b.closed {
						w = (q + n) % n
					}
					if w < 0 || w >= n {
						return true
					}
					if at := b.stop(w, side, j); !at.ok || at.wall {
						return true
					}
				}
				return false
			}
			tube := make([]float64, n)
			for k := range n {
				if !held(k) {
					tube[k] = free
				}
			}
			taut(pts, b.closed, 100, func(k int) float64 { return tube[k] })
			for k := range n {
				if tube[k] > 0 {
					b.lanes[k][side][j].tip = geom.Vec3{X: pts[k].X, Y: pts[k].Y, Z: s.z(pts[k])}
				}
			}
		}
	}
}

// lanePlay is how far, in spacings, a stop may leave its ray's for the lane to be smooth.
const lanePlay = 0.3

func (b *ribbon) stop(k, side, j int) stop {
	if j < len(b.lanes[k][side]) {
		return b.lanes[k][side][j]
	}
	return stop{}
}

// upright is a rise over run that is a wall's.
const upright = 15

// lookOn is how many stops with nothing left are passed in search of more.
const lookOn = 3

// mostStops bounds the lanes of a side.
const mostStops = 400

// walker goes along the path surface from a crease, across it.
type walker struct {
	*scout
	from   geom.Vec2
	u      geom.Vec2
	d, z   float64 // where it is: in plan from the crease, and its height
	wallTo float64 // it is on a wall up to this height; else −Inf
	slope  float64 // of the last step, radians
}

// up is the exact height d from the crease; −Inf outside the limits.
func (w *walker) up(d float64) float64 {
	x, y := w.from.X+float64(d*w.u.X), w.from.Y+float64(d*w.u.Y)
	if !w.set.Inside(w.v, x, y) {
		return math.Inf(-1)
	}
	z, air := w.limited(x, y)
	if air {
		return math.Inf(-1)
	}
	return z
}

// ahead goes on by way along the surface; false where it ends or drops.
func (w *walker) ahead(way float64) bool {
	step := w.set.Pitch
	for way > 1e-9 {
		if w.wallTo > w.z {
			up := min(way, w.wallTo-w.z)
			w.z += up
			way -= up
			w.slope = math.Pi / 2
			continue
		}
		d := w.d + min(step, way)
		z := w.up(d)
		if math.IsInf(z, 0) || w.z-z > steep*step*2 {
			return false
		}
		if z-w.z > float64(steep*(d-w.d)) { // a wall, or as good as one: to its foot, then up
			a, b, za := w.d, d, w.z
			for b-a > 1e-4 {
				m := (a + b) / 2
				if zm := w.up(m); zm-w.z > float64(steep*(m-w.d)) {
					b = m
				} else {
					a, za = m, zm
				}
			}
			if math.IsInf(za, 0) {
				return false
			}
			top := w.up(min(b+1e-4, d))
			if top-za > 2*step { // upright
				way -= math.Hypot(a-w.d, za-w.z)
				w.d, w.z, w.wallTo = a, za, top
				continue
			}
		}
		len := math.Hypot(d-w.d, z-w.z)
		w.slope = math.Atan2(z-w.z, d-w.d)
		if t := way / len; t < 1 { // within the step
			d = w.d + float64(t*(d-w.d))
			if z = w.up(d); math.IsInf(z, 0) {
				return false
			}
		}
		w.d, w.z = d, z
		way -= len
	}
	return true
}

// stops walks from a crease toward u.
func (sc *scout) stops(r *Region, from *ray, u geom.Vec2, near *crowd) []stop {
	w := walker{scout: sc, from: from.at, u: u, wallTo: math.Inf(-1)}
	if w.z = w.up(0); math.IsInf(w.z, 0) {
		return nil
	}
	gap := spacing(sc.set.Cutter, sc.params.Cusp)
	extra := int(math.Ceil(sc.params.Overlap / gap))
	var out []stop
	last := 0 // the stop up to which something is left
	before, step := math.NaN(), gap
	for len(out) < last+max(extra, lookOn) && len(out) < mostStops {
		if !w.ahead(step) {
			break
		}
		x, y := w.from.X+float64(w.d*u.X), w.from.Y+float64(w.d*u.Y)
		if near.closer(geom.Vec2{X: x, Y: y}, float64(0.95*w.d)-float64(0.5*gap)) {
			break
		}
		s := stop{tip: geom.Vec3{X: x, Y: y, Z: w.z}, ok: true}
		if w.wallTo > w.z {
			s.wall, s.free = true, u.Mul(-1)
		}
		out = append(out, s)
		if left(sc.v.Field, r, s) {
			last = len(out)
		}
		// a hollow between two passes leaves more than a plane: by 1 + r·κ, κ the path surface's curvature
		bend := 0.0
		if !math.IsNaN(before) {
			bend = max(0, (w.slope-before)/step)
		}
		before = w.slope
		step = gap / math.Sqrt(min(1+float64(sc.set.Cutter.R*bend), 4))
	}
	return out[:min(len(out), last+extra)]
}

// left reports whether something is left about a stop.
func left(f *field.Field, r *Region, s stop) bool {
	i, j := int(math.Floor((s.tip.X-f.X0)/f.DX)), int(math.Floor((s.tip.Y-f.Y0)/f.DY))
	if i < 0 || j < 0 || i+1 >= f.NX || j+1 >= f.NY {
		return false
	}
	for _, k := range [4]int{j*f.NX + i, j*f.NX + i + 1, (j+1)*f.NX + i, (j+1)*f.NX + i + 1} {
		if r.Depth[k] == 0 {
			continue
		}
		if !s.wall || s.tip.Z < float64(r.Climb[k]) {
			return true
		}
	}
	return false
}

// crowd tells which points of creases are near a place.
type crowd struct {
	cell map[[2]int32][]geom.Vec2
	size float64
}

func newCrowd(size float64) *crowd { return &crowd{map[[2]int32][]geom.Vec2{}, size} }

func (c *crowd) key(p geom.Vec2) [2]int32 {
	return [2]int32{int32(math.Floor(p.X / c.size)), int32(math.Floor(p.Y / c.size))}
}

func (c *crowd) add(p geom.Vec2) { c.cell[c.key(p)] = append(c.cell[c.key(p)], p) }

// closer reports whether a crease passes nearer to p than d.
func (c *crowd) closer(p geom.Vec2, d float64) bool {
	if d <= 0 {
		return false
	}
	n := int32(d/c.size) + 1
	k := c.key(p)
	for j := -n; j <= n; j++ {
		for i := -n; i <= n; i++ {
			for _, q := range c.cell[[2]int32{k[0] + i, k[1] + j}] {
				if q.Sub(p).Len() < d {
					return true
				}
			}
		}
	}
	return false
}
