package stock

import (
	"context"
	"math"

	"barwise/geom"
)

// Section is the stock cut across the axis, in X and Z of the part frame.
type Section struct {
	Y             float64   // mm, of the row of nodes it was taken at
	Area          float64   // mm²
	Centroid      geom.Vec2 // X and Z, mm; zero where nothing is left
	IXX, IZZ, IXZ float64   // second moments about the centroid: ∫ z² (bending about X), ∫ x², ∫ x·z, mm⁴
	Parts         int       // connected parts
}

// moments are ∫1, ∫x, ∫z, ∫x², ∫z², ∫xz.
type moments struct{ a, x, z, xx, zz, xz float64 }

func (m *moments) add(r rect) {
	w, h := r.xb-r.xa, r.zb-r.za
	x, z, a := (r.xa+r.xb)/2, (r.za+r.zb)/2, float64(w*h)
	m.a += a
	m.x += float64(a * x)
	m.z += float64(a * z)
	m.xx += float64(a * (float64(x*x) + float64(w*w)/12))
	m.zz += float64(a * (float64(z*z) + float64(h*h)/12))
	m.xz += float64(a * float64(x*z))
}

// base returns a stack whose side 0 gives the columns of sections.
func (s *Stack) base() *Stack { return s.along(false) }

// row returns the row whose cell holds y, the nearest one outside the bar.
func (s *Stack) row(y float64) int {
	j := max(0, min(len(s.rows)-1, int(math.Floor(y/s.Pitch+0.5))))
	for j > 0 && s.rows[j] <= 0 {
		j--
	}
	return j
}

// SectionAt returns the section at the row of nodes nearest to y. For sides at right angles to each
// other it is exact for the solid of prisms; oblique sides and oblique or round bars add an error of
// the order of pitch² along their edges.
func (s *Stack) SectionAt(y float64) Section {
	b := s.base()
	j := b.row(y)
	c := b.newSlicer(0)
	c.nodes = true
	c.setRow(j)
	var m moments
	for i := range c.at.cols {
		for _, r := range c.column(i, j) {
			m.add(r)
		}
	}
	f := newForest()
	f.add(c.runsOf(j, nil))
	out := Section{Y: float64(j) * s.Pitch, Area: m.a, Parts: len(f.roots())}
	if m.a <= 0 {
		return out
	}
	cx, cz := m.x/m.a, m.z/m.a
	xx, zz, xz := m.xx-float64(m.a*cx*cx), m.zz-float64(m.a*cz*cz), m.xz-float64(m.a*cx*cz)
	t := c.at.turn
	p := t.ToPart(geom.Vec3{X: cx, Z: cz})
	out.Centroid = geom.Vec2{X: p.X, Y: p.Z}
	cc, ss, cs := float64(t.Cos*t.Cos), float64(t.Sin*t.Sin), t.Cos*t.Sin
	out.IZZ = float64(xx*cc) + float64(zz*ss) + float64(2*xz*cs)
	out.IXX = float64(zz*cc) + float64(xx*ss) - float64(2*xz*cs)
	out.IXZ = float64(xz*(cc-ss)) + float64((zz-xx)*cs)
	return out
}

// Volume returns the volume of what is left, mm³. An uncut bar is exact to rounding, sides at right
// angles are exact for the solid of prisms, others to the order of pitch².
func (s *Stack) Volume() float64 {
	b := s.base()
	areas := make([]float64, len(b.rows))
	_ = eachBand(context.Background(), 0, len(b.rows)-1, func(j0, j1 int) error {
		c := b.newSlicer(0)
		for j := j0; j <= j1; j++ {
			areas[j] = c.area(j)
		}
		return nil
	})
	sum := 0.0
	for j, a := range areas {
		sum += float64(a * b.rows[j])
	}
	return sum
}

func (c *slicer) area(j int) float64 {
	c.setRow(j)
	if c.untouched(j) {
		return c.s.Bar.Area()
	}
	sum := 0.0
	for i := range c.at.cols {
		for _, r := range c.column(i, j) {
			sum += float64((r.xb - r.xa) * (r.zb - r.za) * r.share)
		}
	}
	return sum
}

// untouched reports whether no side has cut anything in row j, which is set.
func (c *slicer) untouched(j int) bool {
	if c.line.end.cut {
		return false
	}
	for k := range c.s.sides {
		if c.s.sides[k].turn.End {
			continue
		}
		for _, h := range c.s.sides[k].h.Row(j) {
			if h != uncut {
				return false
			}
		}
	}
	return true
}
