package cl

import (
	"math"

	"barwise/geom"
)

// ballStrip raises the tile to the strip of the cylinder round the segment. With m the rise of the line,
// d the distance from it and g = √(R² − d²), the ball touches the line at s + m·g/√(1+m²) from a, s the
// foot, and its tip stands g/√(1+m²) − R above that point.
func (d *drawer) ballStrip(e *edge) {
	m := e.rise()
	w := 1 / math.Sqrt(1+float64(m*m))
	rr := float64(d.shape.rad * d.shape.rad)
	gLo, gHi := math.Sqrt(max(0, rr-float64(e.lo*e.lo))), math.Sqrt(max(0, rr-float64(e.hi*e.hi)))
	if gLo > gHi {
		gLo, gHi = gHi, gLo
	}
	if e.lo < 0 && e.hi > 0 {
		gHi = d.shape.rad
	}
	mw := m * w
	st := &d.band
	if !d.layBand(e, -mw*gHi, e.l-float64(mw*gLo)) {
		return
	}
	base := e.a.Z - d.shape.rad
	sLo, sHi := -d.slack, e.l+d.slack
	for j := st.box.j0; j <= st.box.j1; j++ {
		i0, i1, s, across := st.row(j)
		if i0 > i1 {
			continue
		}
		row := d.z[j*d.grid.NX+i0 : j*d.grid.NX+i1+1]
		for i := range row {
			q := rr - float64(across*across)
			across += st.aX
			if q < 0 {
				q = 0
			}
			g := math.Sqrt(q)
			at := s + float64(mw*g)
			s += st.sX
			if at < sLo || at > sHi {
				continue
			}
			if h := float32(base + float64(m*at) + float64(g*w)); h > row[i] {
				row[i] = h
			}
		}
	}
}

// band is a rectangle along a segment, laid on the grid.
type band struct {
	box         rect
	s0, sX, sY  float64 // foot along the segment: s0 + i·sX + j·sY
	a0, aX, aY  float64 // distance to the left of it: a0 + i·aX + j·aY
	left, right [2]side
}

// layBand lays d.band along the feet in [s0, s1] and the distances in [e.lo, e.hi], slack added, and
// reports whether the tile has any of it.
func (d *drawer) layBand(e *edge, s0, s1 float64) bool {
	s0, s1 = s0-d.slack, s1+d.slack
	lo, hi := e.lo-d.slack, e.hi+d.slack
	// corners: a + s·(ex,ey) + d·(−ey,ex)
	x0, x1 := order(s0*e.ex, s1*e.ex)
	x2, x3 := order(-lo*e.ey, -hi*e.ey)
	y0, y1 := order(s0*e.ey, s1*e.ey)
	y2, y3 := order(lo*e.ex, hi*e.ex)
	st := &d.band
	st.box = d.box(e.a.X+(x0+x2), e.a.X+(x1+x3), e.a.Y+(y0+y2), e.a.Y+(y1+y3))
	if st.box.i0 > st.box.i1 || st.box.j0 > st.box.j1 {
		return false
	}
	g := &d.grid
	px, py := g.X0-e.a.X, g.Y0-e.a.Y
	st.s0, st.sX, st.sY = float64(px*e.ex)+float64(py*e.ey), g.DX*e.ex, g.DY*e.ey
	st.a0, st.aX, st.aY = float64(py*e.ex)-float64(px*e.ey), -g.DX*e.ey, g.DY*e.ex
	all := [2]float64{float64(st.box.i0), float64(st.box.i1)}
	st.left, st.right = [2]side{{all[0], 0}, {all[0], 0}}, [2]side{{all[1], 0}, {all[1], 0}}
	if q := e.ex * e.ey; q > 1e-9 || q < -1e-9 {
		// the borders s = s0 and s = s1 as columns that move with the row; likewise the other two
		q = d.perX / q
		st.borders(0, (s0-st.s0)*e.ey*q, (s1-st.s0)*e.ey*q, -st.sY*e.ey*q)
		st.borders(1, (lo-st.a0)*-e.ex*q, (hi-st.a0)*-e.ex*q, st.aY*e.ex*q)
	}
	return true
}

func (st *band) borders(k int, at0, at1, slope float64) {
	at0, at1 = order(at0, at1)
	st.left[k], st.right[k] = side{at0, slope}, side{at1, slope}
}

func order(a, b float64) (lo, hi float64) {
	if a > b {
		return b, a
	}
	return a, b
}

// row returns the columns of row j that lie in the rectangle, with the foot and the distance at the first.
func (st *band) row(j int) (i0, i1 int, s, across float64) {
	y := float64(j)
	l, r := st.left[0].at+float64(y*st.left[0].slope), st.right[0].at+float64(y*st.right[0].slope)
	if t := st.left[1].at + float64(y*st.left[1].slope); t > l {
		l = t
	}
	if t := st.right[1].at + float64(y*st.right[1].slope); t < r {
		r = t
	}
	i0, i1 = st.box.i0, st.box.i1
	if l > float64(i0) {
		i0 = ceilIn(l, i0, i1)
	}
	if r < float64(i1) {
		i1 = floorIn(r, i0, i1)
	}
	x := float64(i0)
	return i0, i1, st.s0 + float64(y*st.sY) + float64(x*st.sX), st.a0 + float64(y*st.aY) + float64(x*st.aX)
}

// ballVertex raises the tile to the part of the sphere round at that the planes resting on the star at
// the vertex can touch: their normals are the normalised means of the facets'. Means of unit vectors
// within ρ of some point are no shorter than √(1 − ρ²), so normalising moves them by less than 1 − √(1 − ρ²);
// ρ is half the diagonal of the facets' box. sign is −1 to ask for the star seen from within the material.
func (d *drawer) ballVertex(at geom.Vec3, star []spokeView, sign float64) {
	n := star[0].n
	x0, x1, y0, y1, z0, z1 := n.X, n.X, n.Y, n.Y, n.Z, n.Z
	for i := range star {
		n := &star[i].n
		x0, x1 = min(x0, n.X), max(x1, n.X)
		y0, y1 = min(y0, n.Y), max(y1, n.Y)
		z0, z1 = min(z0, n.Z), max(z1, n.Z)
	}
	if sign < 0 {
		x0, x1, y0, y1 = -x1, -x0, -y1, -y0
	}
	wx, wy, wz := x1-x0, y1-y0, z1-z0
	q := float64(0.25 * (float64(wx*wx) + float64(wy*wy) + float64(wz*wz)))
	bulge := q/(1+math.Sqrt(max(0, 1-q))) + normalPart
	r := d.shape.rad
	x0, x1 = max(x0-bulge, -1), min(x1+bulge, 1)
	y0, y1 = max(y0-bulge, -1), min(y1+bulge, 1)
	d.ballCap(at, d.box(at.X+float64(r*x0)-d.slack, at.X+float64(r*x1)+d.slack, at.Y+float64(r*y0)-d.slack, at.Y+float64(r*y1)+d.slack))
}

// ballCap raises the tile to the sphere round at, within the box.
func (d *drawer) ballCap(at geom.Vec3, box rect) {
	g := &d.grid
	rr := float64(d.shape.rad * d.shape.rad)
	over := float64(d.slack * d.shape.rad)
	base := at.Z - d.shape.rad
	x := g.X0 - at.X + float64(float64(box.i0)*g.DX)
	for j := box.j0; j <= box.j1; j++ {
		y := g.Y0 - at.Y + float64(float64(j)*g.DY)
		left := rr - float64(y*y)
		if left < -over || box.i0 > box.i1 {
			continue
		}
		row := d.z[j*g.NX+box.i0 : j*g.NX+box.i1+1]
		for i := range row {
			dx := x + float64(float64(i)*g.DX)
			q := left - float64(dx*dx)
			if q < 0 {
				if q < -over {
					continue
				}
				q = 0
			}
			if h := float32(base + math.Sqrt(q)); h > row[i] {
				row[i] = h
			}
		}
	}
}
