package engage

import (
	"context"
	"math"
	"math/bits"
	"sort"

	"barwise/geom"
	"barwise/geom/field"
	"barwise/shop/cutter"
)

const (
	// rays is how many directions of the half that faces the motion are asked; where two neighbours differ the
	// end of the arc is found between them. An arc, or a gap, of less than π/rays, 2.8°, may be missed.
	rays = 64
	// halvings bring the end of an arc to π/rays/2^halvings: 0.02°.
	halvings = 7
	// within is how far inside a sweep a point must be to count as cut, mm: at the side of its own way the rim
	// touches what the moves before it have cut.
	within = 1e-6
	// chunk is how many pieces are looked at together. It is fixed, so that looks come out alike on any
	// number of cores.
	chunk = 256
)

// ring is the cutter's section at one height above the tip.
type ring struct{ r, h float64 }

// rings are the sections that are asked: one of a flat end, else the middles of six layers up to the rim.
func rings(p cutter.Profile) []ring {
	rim := p.Rim()
	if p.Flat >= p.R || rim <= 0 {
		return []ring{{p.R, 0}}
	}
	const n = 6
	var out []ring
	for k := range n {
		h := rim * (float64(k) + 0.5) / n
		out = append(out, ring{radiusAt(&p, h), h})
	}
	return append(out, ring{p.R, rim})
}

// look is one look at the cutter: what it stands for runs from the piece that the look before it ended in.
type look struct {
	piece int32
	t1    float64 // part of the piece up to which it counts
	at    float32 // part of the piece where it was taken
	down  bool    // goes down
	angle float32 // going down: 0 where it takes nothing, else π
	len   float64
}

// scene is one program and the stock before it.
type scene struct {
	*ways
	seen  *field.Field
	step  float64
	rings []ring
	entry []geom.Vec2 // places on the disc asked where the cutter goes down
}

// all looks along the whole path.
func (s *scene) all(ctx context.Context) ([]look, error) {
	parts := make([][]look, (len(s.list)+chunk-1)/chunk)
	err := field.EachRow(ctx, len(parts), func(k int) {
		v := &view{scene: s}
		parts[k] = v.chunk(k*chunk, min(len(s.list), (k+1)*chunk))
	})
	if err != nil {
		return nil, err
	}
	n := 0
	for _, p := range parts {
		n += len(p)
	}
	out := make([]look, 0, n)
	for _, p := range parts {
		out = append(out, p...)
	}
	return out, nil
}

// view is one worker's.
type view struct {
	*scene
	me   int32
	far  []int32 // pieces that may have cut what the rim meets
	z    float64 // height of the ring at hand, and a hair
	x, y float64
	r    float64
	ux   float64
	uy   float64
}

// chunk looks along pieces. Pieces shorter than half a step wait for the next ones of their kind.
func (v *view) chunk(from, to int) []look {
	var out []look
	wait := 0.0
	for k := from; k < to; k++ {
		w := &v.list[k]
		if !w.feed {
			continue
		}
		down := w.dz < -1e-4*w.len
		if w.len < v.step/2 && wait+w.len < v.step && !down && k+1 < to {
			if n := &v.list[k+1]; n.feed && n.dz >= -1e-4*n.len {
				wait += w.len
				continue
			}
		}
		n := max(1, int(math.Ceil(w.len/v.step-1e-9)))
		for i := range n {
			t := (float64(i) + 0.5) / float64(n)
			o := look{piece: int32(k), t1: float64(i+1) / float64(n), at: float32(t), down: down, len: w.len/float64(n) + wait}
			wait = 0
			if down {
				o.angle = v.under(int32(k), w.at(o.t1))
			} else {
				o.angle = float32(v.angle(int32(k), w.at(t)))
			}
			out = append(out, o)
		}
	}
	return out
}

// angle is the arc of the rim in stock, the tip at p on piece me.
func (v *view) angle(me int32, p geom.Vec3) float64 {
	w := &v.list[me]
	if w.l == 0 {
		return 0
	}
	v.me, v.x, v.y, v.ux, v.uy = me, p.X, p.Y, w.ux, w.uy
	if len(v.rings) == 1 {
		v.gather(p, v.rings[0])
		return v.arc(v.open())
	}
	// ring by ring; a direction counts where any is in stock, and its ends are not sought closer than the rays
	var mask uint64
	most := 0.0
	for _, g := range v.rings {
		v.gather(p, g)
		m := v.open()
		most = max(most, v.arc(m))
		mask |= m
	}
	return max(most, float64(bits.OnesCount64(mask))*math.Pi/rays)
}

// gather takes up a ring and lists the earlier pieces whose sweeps may reach it.
func (v *view) gather(p geom.Vec3, g ring) {
	v.z, v.r = p.Z+g.h+hair, g.r
	v.far = v.far[:0]
	ids := v.near(p.X, p.Y)
	n := sort.Search(len(ids), func(i int) bool { return ids[i] >= v.me })
	reach := g.r + v.prof.R
	for n--; n >= 0; n-- {
		w := &v.list[ids[n]]
		if w.low <= v.z && w.off2(p.X, p.Y) < reach*reach {
			v.far = append(v.far, ids[n])
		}
	}
}

// rayDir is the direction of each ray from the motion's.
var rayDir = func() (out [rays]geom.Vec2) {
	for i := range out {
		out[i] = bearing(ray(i))
	}
	return out
}()

func ray(i int) float64 { return (float64(i)+0.5)*math.Pi/rays - math.Pi/2 }

func bearing(a float64) geom.Vec2 {
	s, c := math.Sincos(a)
	return geom.Vec2{X: c, Y: s}
}

// point is the place of the rim in a direction.
func (v *view) point(d geom.Vec2) (x, y float64) {
	return v.x + float64(v.r*(float64(d.X*v.ux)-float64(d.Y*v.uy))), v.y + float64(v.r*(float64(d.X*v.uy)+float64(d.Y*v.ux)))
}

// open returns the rays whose rim is in stock.
func (v *view) open() uint64 {
	var mask uint64
	var xs, ys [rays]float64
	for i := range rays {
		x, y := v.point(rayDir[i])
		if v.before(x, y) {
			mask |= 1 << i
			xs[i], ys[i] = x, y
		}
	}
	for _, id := range v.far {
		if mask == 0 {
			return 0
		}
		w := &v.list[id]
		for m := mask; m != 0; m &= m - 1 {
			i := bits.TrailingZeros64(m)
			if v.cuts(w, xs[i], ys[i], v.z) {
				mask &^= 1 << i
			}
		}
	}
	return mask
}

// before reports whether stock stood at (x, y) above the ring before the program.
func (v *view) before(x, y float64) bool {
	i, j := v.seen.Nearest(geom.Vec2{X: x, Y: y})
	return float64(v.seen.At(i, j)) > v.z
}

// cuts reports whether a piece has cut (x, y) down to z. Of a sloping way it asks the disc about the
// nearest place of those low enough: for a flat end that is all there is, for others it may miss a little.
func (v *view) cuts(w *way, x, y, z float64) bool {
	x, y = x-w.ax, y-w.ay
	t := float64(x*w.ux) + float64(y*w.uy)
	lo, hi := 0.0, w.l
	r := v.prof.R
	if w.dz != 0 && w.l > 0 {
		if e := float64((z - w.z) / w.dz * w.l); w.dz < 0 {
			lo = max(lo, e)
		} else {
			hi = min(hi, e)
		}
		if lo > hi {
			return false
		}
	}
	t = max(lo, min(hi, t))
	if v.prof.Flat < v.prof.R {
		tip := w.low
		if w.l > 0 {
			tip = w.z + float64(w.dz*t/w.l)
		}
		r = radiusAt(&v.prof, z-tip)
	}
	r -= within
	x, y = x-float64(t*w.ux), y-float64(t*w.uy)
	return r > 0 && float64(x*x)+float64(y*y) <= r*r
}

// stands reports whether (x, y) is in stock above the ring now.
func (v *view) stands(x, y float64) bool {
	if !v.before(x, y) {
		return false
	}
	for _, id := range v.far {
		if v.cuts(&v.list[id], x, y, v.z) {
			return false
		}
	}
	return true
}

// arc measures the rays in stock, with the ends of their arcs found between rays.
func (v *view) arc(mask uint64) float64 {
	if mask == 0 {
		return 0
	}
	sum := 0.0
	for i := 0; i < rays; {
		if mask>>i&1 == 0 {
			i++
			continue
		}
		j := i
		for j+1 < rays && mask>>(j+1)&1 == 1 {
			j++
		}
		lo, hi := -math.Pi/2, math.Pi/2
		if i > 0 {
			lo = ray(i - 1)
		}
		if j+1 < rays {
			hi = ray(j + 1)
		}
		sum += v.end(ray(j), hi) - v.end(ray(i), lo)
		i = j + 1
	}
	return sum
}

// end finds where the stock ends between a direction in it and one that may be out of it.
func (v *view) end(in, out float64) float64 {
	if v.stands(v.point(bearing(out))) {
		return out
	}
	for range halvings {
		m := (in + out) / 2
		if v.stands(v.point(bearing(m))) {
			in = m
		} else {
			out = m
		}
	}
	return (in + out) / 2
}

// entrySpots are places all over a disc of radius r.
func entrySpots(r float64) []geom.Vec2 {
	out := []geom.Vec2{{}}
	for k, n := range []int{0, 8, 16, 24} {
		for i := range n {
			out = append(out, bearing(2*math.Pi*float64(i)/float64(n)).Mul(r*float64(k)/3))
		}
	}
	return out
}

// under says whether the cutter, come down to p, takes anything: π if so, else 0.
func (v *view) under(me int32, p geom.Vec3) float32 {
	v.me, v.x, v.y = me, p.X, p.Y
	v.gather(p, ring{v.prof.R, v.prof.Rim()})
	for _, d := range v.entry {
		h := v.prof.Height(min(d.Len(), v.prof.R))
		v.z = p.Z + h + hair
		if v.stands(p.X+d.X, p.Y+d.Y) {
			return math.Pi
		}
	}
	return 0
}
