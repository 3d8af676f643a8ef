package cl

import (
	"math"

	"barwise/geom"
)

// tie is the relative difference of slopes that the rounding of a normal may decide.
const tie = 1e-6

// facing works out where the cutter may touch a plane of normal ±n from above.
func (s *shape) facing(n geom.Vec3) contact {
	if n.Z < 0 {
		n = n.Mul(-1)
	}
	h := math.Sqrt(float64(n.X*n.X) + float64(n.Y*n.Y))
	if h <= tie*n.Z {
		rHi, _ := s.profile.Contact(2 * tie)
		c := contact{rHi: rHi, all: true}
		if h > 0 {
			c.ux, c.uy = n.X/h, n.Y/h
		}
		return c
	}
	c := contact{ux: n.X / h, uy: n.Y / h}
	m := math.Inf(1)
	if n.Z > 0 {
		m = h / n.Z
	}
	if s.flank && math.Abs(m-s.slope) <= tie*(m+s.slope) {
		c.rLo, c.rHi = s.knee, s.rad
		return c
	}
	c.rLo, _ = s.profile.Contact(m)
	c.rHi = c.rLo
	return c
}

// shift is from a touched point of a facet of unit normal n, n.Z > 0, to the tip.
func (s *shape) shift(n geom.Vec3) geom.Vec3 {
	h := math.Sqrt(float64(n.X*n.X) + float64(n.Y*n.Y))
	if h == 0 {
		return geom.Vec3{}
	}
	r, drop := s.profile.Contact(h / n.Z)
	return geom.Vec3{X: r * (n.X / h), Y: r * (n.Y / h), Z: -drop}
}

// strip raises the tile to the positions at which the cutter touches the segment itself.
func (d *drawer) strip(e *edge) {
	sh := &d.shape
	m := e.rise()
	near, far := 0.0, max(math.Abs(e.lo), math.Abs(e.hi))
	if e.lo > 0 || e.hi < 0 {
		near = min(math.Abs(e.lo), math.Abs(e.hi))
	}
	far = min(far, sh.rad)
	// along falls with d on the arc and at the rim, grows on the flank: its extremes are at the ends or
	// where the flank begins and stops
	least, most := order(sh.along(m, min(near, far)), sh.along(m, far))
	if sh.flank && m < sh.slope {
		least = min(least, m*sh.knee/sh.slope)
		most = max(most, m*sh.rad/sh.slope)
	}
	st := &d.band
	if !d.layBand(e, -most, e.l-least) {
		return
	}
	for j := st.box.j0; j <= st.box.j1; j++ {
		i0, i1, s, across := st.row(j)
		if i0 > i1 {
			continue
		}
		row := d.z[j*d.grid.NX+i0 : j*d.grid.NX+i1+1]
		for i := range row {
			c := min(math.Abs(across), sh.rad)
			up := sh.along(m, c)
			at := s + up
			s += st.sX
			across += st.aX
			if at < -d.slack || at > e.l+d.slack {
				continue
			}
			r := min(math.Sqrt(float64(c*c)+float64(up*up)), sh.rad)
			if h := float32(e.a.Z + float64(m*at) - sh.height(r)); h > row[i] {
				row[i] = h
			}
		}
	}
}

// starVertex draws the patch of tip positions at which the cutter touches the vertex itself. sign is −1
// to ask for the star seen from within the material.
func (d *drawer) starVertex(at geom.Vec3, star []spokeView, sign float64) {
	if d.shape.ball {
		d.ballVertex(at, star, sign)
		return
	}
	sh := &d.shape
	level := true // a level plane can rest on the star
	outer := 0.0
	var mean geom.Vec2
	for i := range star {
		sp := &star[i]
		if sp.p.Z-at.Z > float64(tie*(math.Abs(sp.p.X-at.X)+math.Abs(sp.p.Y-at.Y)))+d.slack {
			level = false
		}
		if sp.n.Z*sign <= 0 {
			outer = sh.rad // planes up to the upright can
		} else {
			outer = max(outer, sp.facing.rHi)
		}
		n := sp.n.XY().Mul(sign)
		if l := n.Len(); l > 0 {
			mean = mean.Add(n.Mul(1 / l))
		}
	}
	inner := 0.0
	if !level {
		inner = sh.flat
	}
	if outer-inner <= 0 && !level {
		return // a disc's rim: the strips of the edges have it
	}
	d.cap(at, inner, outer, d.sector(star, sign, mean, outer, level))
}

// sector bounds the directions in which the tip can stand from the vertex, as a box of mm about it.
func (d *drawer) sector(star []spokeView, sign float64, mean geom.Vec2, outer float64, level bool) [4]float64 {
	whole := [4]float64{-outer, outer, -outer, outer}
	l := mean.Len()
	if level || !(l > 0.1) {
		return whole
	}
	mean = mean.Mul(1 / l)
	c := 1.0
	for i := range star {
		n := star[i].n.XY().Mul(sign)
		nl := n.Len()
		if nl < 1e-6 {
			return whole
		}
		c = min(c, n.Dot(mean)/nl)
	}
	if c < 0.2 {
		return whole
	}
	half := math.Acos(min(1, c)) + 1e-9
	mid := math.Atan2(mean.Y, mean.X)
	box := [4]float64{0, 0, 0, 0}
	include := func(angle float64) {
		sn, cs := math.Sincos(angle)
		box[0], box[1] = min(box[0], outer*cs), max(box[1], outer*cs)
		box[2], box[3] = min(box[2], outer*sn), max(box[3], outer*sn)
	}
	include(mid - half)
	include(mid + half)
	for k := math.Ceil((mid - half) / (math.Pi / 2)); k <= (mid+half)/(math.Pi/2); k++ {
		include(k * math.Pi / 2)
	}
	return box
}

// cap raises the tile to the vertex's own bound between the radii inner and outer, within the box of mm
// about it.
func (d *drawer) cap(at geom.Vec3, inner, outer float64, about [4]float64) {
	sh, g := &d.shape, &d.grid
	inner = max(0, inner-d.slack)
	outer = min(outer, sh.rad) + d.slack
	box := d.box(at.X+about[0]-d.slack, at.X+about[1]+d.slack, at.Y+about[2]-d.slack, at.Y+about[3]+d.slack)
	in2, out2 := float64(inner*inner), float64(outer*outer)
	if inner == 0 {
		in2 = -1
	}
	for j := box.j0; j <= box.j1; j++ {
		y := g.Y(j) - at.Y
		y2 := float64(y * y)
		if y2 > out2 {
			continue
		}
		half := math.Sqrt(out2 - y2)
		i0 := ceilIn((at.X-half-g.X0)/g.DX, box.i0, box.i1)
		i1 := floorIn((at.X+half-g.X0)/g.DX, box.i0, box.i1)
		for i := i0; i <= i1; i++ {
			x := g.X(i) - at.X
			r2 := float64(x*x) + y2
			if r2 < in2 {
				// the hole's far side begins at its mirror image
				hole := math.Sqrt(max(0, in2-y2))
				if k := ceilIn((at.X+hole-g.X0)/g.DX, box.i0, box.i1); k > i {
					i = k - 1
				}
				continue
			}
			if h := float32(at.Z - sh.height(min(math.Sqrt(r2), sh.rad))); h > d.z[j*g.NX+i] {
				d.z[j*g.NX+i] = h
			}
		}
	}
}
