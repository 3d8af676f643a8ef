package cl

import (
	"math"

	"barwise/geom"
)

// drawer draws patches into one tile at a time. Every core has its own.
type drawer struct {
	*job
	clip   rect
	spokes []spokeView
	// blocks holds a height for every block of blockSize × blockSize nodes of the tile
	blocks  []float32
	blocksX int
	later   []int32
	links   []link
	band    band
}

// spokeView is one spoke of the star being drawn: the edge to a neighbour, and the facet that follows it
// counter-clockwise.
type spokeView struct {
	p, n   geom.Vec3 // the neighbour; the facet's outward normal
	id     int32
	bent   bool // the edge bends outward
	facing contact
}

// contact is where on itself a cutter touches a facet's plane from above: at a radius from rLo to rHi, more
// than one where rounding may decide (a plane as steep as the flank), toward −(ux, uy); all is set for a
// level plane, which touches the disc all over.
type contact struct {
	ux, uy   float64
	rLo, rHi float64
	all      bool
}

func (j *job) newDrawer() *drawer { return &drawer{job: j} }

// tile draws all that reaches tile k. First what faces up and is not far below its neighbours; then, unless
// it is hidden by now, the rest. The order changes nothing but the time taken.
func (d *drawer) tile(k int) {
	c := d.tiles[k]
	d.clip = c
	for y := c.j0; y <= c.j1; y++ {
		row := d.z[y*d.grid.NX:][c.i0 : c.i1+1]
		for i := range row {
			row[i] = float32(noHeight)
		}
	}
	d.blocksX = (c.i1-c.i0)/blockSize + 1
	n := d.blocksX * ((c.j1-c.j0)/blockSize + 1)
	if cap(d.blocks) < n {
		d.blocks = make([]float32, n)
	}
	d.blocks = d.blocks[:n]
	first, rest := d.stars[d.starAt[2*k]:d.starAt[2*k+1]], d.stars[d.starAt[2*k+1]:d.starAt[2*k+2]]
	d.later = d.later[:0]
	d.findRoofs(first)
	for i, v := range first {
		if d.stopped(i) {
			return
		}
		if at := &d.verts[v]; at.Z < float64(d.blocks[d.blockOf(at)])-float64(4*d.shape.rad) {
			d.later = append(d.later, v)
			continue
		}
		d.drawStar(v)
	}
	if len(d.later)+len(rest) == 0 {
		return
	}
	d.findFloors()
	for i, v := range d.later {
		if d.stopped(i) {
			return
		}
		if !d.hidden(v) {
			d.drawStar(v)
		}
	}
	for i, v := range rest {
		if d.stopped(i) {
			return
		}
		switch {
		case d.hidden(v):
		case d.surface.stars[v].kind == loose:
			d.drawLoose(v)
		default:
			d.drawStar(v)
		}
	}
}

// stopped reports, now and then, whether the call was given up.
func (d *drawer) stopped(i int) bool { return i%64 == 63 && d.ctx.Err() != nil }

// blockSize is the side of a block in nodes.
const blockSize = 16

// blockOf is the block of the tile nearest to p.
func (d *drawer) blockOf(p *geom.Vec3) int {
	c := &d.clip
	x := min(max((p.X-d.grid.X0)*d.perX, float64(c.i0)), float64(c.i1))
	y := min(max((p.Y-d.grid.Y0)*d.perY, float64(c.j0)), float64(c.j1))
	return (int(y)-c.j0)/blockSize*d.blocksX + (int(x)-c.i0)/blockSize
}

// findRoofs sets every block to its highest vertex.
func (d *drawer) findRoofs(stars []int32) {
	for i := range d.blocks {
		d.blocks[i] = float32(noHeight)
	}
	for _, v := range stars {
		at := &d.verts[v]
		if b := &d.blocks[d.blockOf(at)]; float32(at.Z) > *b {
			*b = float32(at.Z)
		}
	}
}

// findFloors sets every block to the least height drawn in it: what lies below can be left out.
func (d *drawer) findFloors() {
	c := d.clip
	for i := range d.blocks {
		d.blocks[i] = float32(math.Inf(1))
	}
	for y := c.j0; y <= c.j1; y++ {
		row := d.z[y*d.grid.NX:][c.i0 : c.i1+1]
		lows := d.blocks[(y-c.j0)/blockSize*d.blocksX:]
		for b := 0; len(row) > 0; b++ {
			part := row[:min(blockSize, len(row))]
			row = row[len(part):]
			low := lows[b]
			for _, z := range part {
				if z < low {
					low = z
				}
			}
			lows[b] = low
		}
	}
}

// hidden reports whether nothing of star v can rise above what the tile holds already.
func (d *drawer) hidden(v int32) bool {
	x, y, half, top, _ := d.zone(v)
	half += d.slack
	b := d.box(x-half, x+half, y-half, y+half)
	for y := (b.j0 - d.clip.j0) / blockSize; y <= (b.j1-d.clip.j0)/blockSize; y++ {
		for x := (b.i0 - d.clip.i0) / blockSize; x <= (b.i1-d.clip.i0)/blockSize; x++ {
			if float64(d.blocks[y*d.blocksX+x]) < top {
				return false
			}
		}
	}
	return true
}

// box is the part of the tile whose nodes lie in [x0,x1]×[y0,y1] of the side frame; empty where i0 > i1
// or j0 > j1.
func (d *drawer) box(x0, x1, y0, y1 float64) rect {
	g, c := &d.grid, &d.clip
	return rect{
		ceilIn((x0-g.X0)*d.perX, c.i0, c.i1), floorIn((x1-g.X0)*d.perX, c.i0, c.i1),
		ceilIn((y0-g.Y0)*d.perY, c.j0, c.j1), floorIn((y1-g.Y0)*d.perY, c.j0, c.j1),
	}
}

// drawStar draws what a regular star owns: its vertex, the edges to neighbours of a higher number, the
// facets all of whose other vertices have a higher number.
func (d *drawer) drawStar(v int32) {
	s := d.surface
	at := d.verts[v]
	fan := s.fans[s.start[v]:s.start[v+1]]
	if cap(d.spokes) < len(fan) {
		d.spokes = make([]spokeView, len(fan))
	}
	star := d.spokes[:len(fan)]
	up, down := false, false
	for i, c := range fan {
		n := d.turn.ToSide(c.normal.vec())
		star[i].id = c.vertex()
		star[i].p = d.verts[c.vertex()]
		star[i].n = n
		star[i].bent = c.convex()
		up, down = up || n.Z >= 0, down || n.Z <= 0
		if !d.shape.ball {
			star[i].facing = d.shape.facing(n)
		}
	}
	before := &star[len(star)-1]
	for i := range star {
		sp := &star[i]
		if sp.id > v {
			after := &star[(i+1)%len(star)]
			if after.id > v {
				d.facet(at, sp.p, after.p)
			}
			// an edge that bends away from above can be touched; one between a facet seen and a facet
			// unseen decides for itself
			if sp.n.Z > 0 && before.n.Z > 0 && !sp.bent || sp.n.Z < 0 && before.n.Z < 0 && sp.bent {
				before = sp
				continue
			}
			d.starEdge(at, before, sp)
		}
		before = sp
	}
	if up && s.stars[v].kind&peak != 0 {
		d.starVertex(at, star, 1)
	}
	if down && s.stars[v].kind&pit != 0 {
		d.starVertex(at, star, -1)
	}
}

// starEdge draws the edge from at to right facet's following spoke, between the facets before and after.
func (d *drawer) starEdge(at geom.Vec3, before, sp *spokeView) {
	ex, ey := sp.p.X-at.X, sp.p.Y-at.Y
	l := math.Sqrt(float64(ex*ex) + float64(ey*ey))
	if l <= d.slack {
		return // upright: its top decides
	}
	per := 1 / l
	e := edge{a: at, b: sp.p, l: l, ex: ex * per, ey: ey * per, lo: -d.shape.rad, hi: d.shape.rad}
	if d.shape.ball {
		r := d.shape.rad
		if across := r * (float64(e.ex*before.n.Y) - float64(e.ey*before.n.X)); before.n.Z >= 0 {
			e.lo = max(e.lo, across)
		} else {
			e.hi = min(e.hi, -across)
		}
		if across := r * (float64(e.ex*sp.n.Y) - float64(e.ey*sp.n.X)); sp.n.Z >= 0 {
			e.hi = min(e.hi, across)
		} else {
			e.lo = max(e.lo, -across)
		}
	} else {
		e.bound(&d.shape, &before.facing, before.n.Z >= 0)
		e.bound(&d.shape, &sp.facing, sp.n.Z < 0)
	}
	d.edge(&e)
}

// edge is a segment with the range of distances from its line, counted to the left, at which the axis of
// a cutter that touches it between its facets may pass.
type edge struct {
	a, b   geom.Vec3
	l      float64 // horizontal length
	ex, ey float64 // horizontal direction
	lo, hi float64
}

// rise is the height gained per horizontal length from a to b.
func (e *edge) rise() float64 { return (e.b.Z - e.a.Z) / e.l }

// bound narrows the range by a facet: below is whether it bounds it from below, which a facet on the
// right does that faces up, or one on the left that faces down.
func (e *edge) bound(s *shape, c *contact, below bool) {
	across := float64(e.ex*c.uy) - float64(e.ey*c.ux)
	d0, d1 := across*c.rLo, across*c.rHi
	if d0 > d1 {
		d0, d1 = d1, d0
	}
	if c.all {
		d0, d1 = min(d0, -s.flat), max(d1, s.flat)
	}
	if below {
		e.lo = max(e.lo, d0)
	} else {
		e.hi = min(e.hi, d1)
	}
}

// edge draws the strip of tip positions at which the cutter touches the segment itself.
func (d *drawer) edge(e *edge) {
	if !(e.lo <= e.hi) {
		return
	}
	if e.b.Z < e.a.Z {
		e.a, e.b = e.b, e.a
		e.ex, e.ey = -e.ex, -e.ey
		e.lo, e.hi = -e.hi, -e.lo
	}
	if d.shape.ball {
		d.ballStrip(e)
	} else {
		d.strip(e)
	}
}

// facet draws the facet's copy, shifted to where the tip is while the cutter touches it. Its normal is
// worked out afresh, for a steep plane shows the rounding of the one kept.
func (d *drawer) facet(a, b, c geom.Vec3) {
	ux, uy, uz := b.X-a.X, b.Y-a.Y, b.Z-a.Z
	vx, vy, vz := c.X-a.X, c.Y-a.Y, c.Z-a.Z
	n := geom.Vec3{
		X: float64(uy*vz) - float64(uz*vy),
		Y: float64(uz*vx) - float64(ux*vz),
		Z: float64(ux*vy) - float64(uy*vx),
	}
	l := math.Sqrt(n.Dot(n))
	if n.Z < 0 {
		l = -l
		b, c = c, b
	}
	n = n.Mul(1 / l)
	if !(n.Z > 1e-12) {
		return // upright: its edges decide
	}
	var shift geom.Vec3
	if d.shape.ball {
		shift = geom.Vec3{X: d.shape.rad * n.X, Y: d.shape.rad * n.Y, Z: d.shape.rad * (n.Z - 1)}
	} else {
		shift = d.shape.shift(n)
	}
	d.patch(a.Add(shift), b.Add(shift), c.Add(shift), n)
}
