package even

import "math"

// Bounds on what bending may do to the cusp of a pair: at a sharp edge neighbouring lines touch the same
// edge and leave no cusp, in a fillet of nearly the cutter's own radius they leave many times a plane's.
const (
	leastBend = 0.6
	mostBend  = 4.0
)

// heights answers for tip heights in columns and rows.
type heights func(c, r float64) float64

// pair is two neighbouring lines at one place: from P on the first, square to it on the surface, to the
// second.
type pair struct {
	c, r       float64 // P
	tilt       float64 // columns per row along the first line
	gc, gr     float64 // slopes at P
	qc, qr, qz float64 // square to the line, in the tangent plane
	z0         float64 // height at P; NaN: not asked yet
}

func newPair(c, r, tilt, gc, gr float64) pair {
	rise := float64(gc*tilt) + gr
	p := pair{c: c, r: r, tilt: tilt, gc: gc, gr: gr, z0: math.NaN()}
	p.qc, p.qr = 1+float64(rise*gr), -tilt-float64(rise*gc)
	p.qz = float64(gc*p.qc) + float64(gr*p.qr)
	return p
}

// cusp returns the height left between two lines t·q apart. Two balls of radius R whose centres stand d
// apart meet R − √(R² − d²/4) above the chord of what they touch; the true surface rises there by the sag e
// of the path surface over its own chord, square to both. So h = R − √(R² − d²/4) − e, which to second
// order is the curvature form d²/8·(1/R − k). bent is h as it is, h is kept within leastBend and mostBend
// of a plane's. ok is false where a wall stands between.
func (p *pair) cusp(z heights, radius, t float64) (h, bent float64, ok bool) {
	if math.IsNaN(p.z0) {
		p.z0 = z(p.c, p.r)
	}
	z0 := p.z0
	z1 := z(p.c+float64(t/2*p.qc), p.r+float64(t/2*p.qr))
	z2 := z(p.c+float64(t*p.qc), p.r+float64(t*p.qr))
	dc, dr, dz := t*p.qc, t*p.qr, z2-z0
	plan := float64(dc*dc) + float64(dr*dr)
	rise := float64(p.gc*dc) + float64(p.gr*dr)
	if far := math.Abs(dz - rise); !(far < wallRise*math.Sqrt(plan)) {
		return 0, 0, false
	}
	d2 := plan + float64(dz*dz)
	base := radius
	if q := float64(radius*radius) - d2/4; q > 0 {
		base = radius - math.Sqrt(q)
	}
	// the normal to line and chord, from t = (tilt, 1, along) and the chord
	along := float64(p.gc*p.tilt) + p.gr
	nc := float64(1*dz) - float64(along*dr)
	nr := float64(along*dc) - float64(p.tilt*dz)
	nz := float64(p.tilt*dr) - dc
	cos := math.Abs(nz) / math.Sqrt(float64(nc*nc)+float64(nr*nr)+float64(nz*nz))
	e := (z1 - (z0+z2)/2) * cos
	bent = base - e
	return min(max(bent, leastBend*base), mostBend*base), bent, true
}

// column turns a distance t along q into one along the row: where a line through P + t·q of the same tilt
// meets the row of P.
func (p *pair) column(t float64) float64 { return t * (p.qc - float64(p.tilt*p.qr)) }

// spacing returns how far to the right of a line, along the row, the next may run to leave the cusp asked.
func (w *work) spacing(c, r, tilt float64) float64 {
	g := w.g
	_, gc, gr := g.at(c, r)
	if float64(gc*gc)+float64(gr*gr) > wallRise*wallRise {
		gc, gr = g.lesser(c, r)
	}
	p := newPair(c, r, tilt, gc, gr)
	z := func(c, r float64) float64 { z, _, _ := g.at(c, r); return z }
	plane := w.plane(&p)
	t := plane
	for range 3 {
		h, _, ok := p.cusp(z, w.round, t)
		if !ok {
			t = plane
			break
		}
		t = min(max(t*math.Sqrt(w.p.Cusp/h), plane/2), 2*plane)
	}
	return p.column(t)
}

// plane is how far apart, along q, lines stand on a plane.
func (w *work) plane(p *pair) float64 {
	return w.level / math.Sqrt(float64(p.qc*p.qc)+float64(p.qr*p.qr)+float64(p.qz*p.qz))
}

// lesser is the slope at the node nearest to (c, r): of the two one-sided ones the lesser, so that a node
// beside a wall belongs to its own ground.
func (g *ground) lesser(c, r float64) (gc, gr float64) {
	i := min(max(int(math.Floor((c-g.c0)/g.d+0.5)), 1), g.nc-2)
	j := min(max(int(math.Floor((r-g.r0)/g.d+0.5)), 1), g.nr-2)
	k := j*g.nc + i
	one := func(a, b float32) float64 {
		m, p := float64(g.z[k]-a)/g.d, float64(b-g.z[k])/g.d
		if math.Abs(m) < math.Abs(p) {
			return m
		}
		return p
	}
	return one(g.z[k-1], g.z[k+1]), one(g.z[k-g.nc], g.z[k+g.nc])
}
