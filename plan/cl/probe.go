package cl

import (
	"barwise/geom"
	"barwise/shop/cutter"
)

// Probe asks an index for the heights of one cutter at places that lie close to each other: what was
// touched last is tried first, which leaves little of the tree to be looked at. Heights are those of
// Index.Height. A probe is not safe for concurrent use; its index is.
type Probe struct {
	ix   *Index
	s    shape
	last int32
}

// Probe returns a probe for cutters of profile p.
func (ix *Index) Probe(p cutter.Profile) *Probe { return &Probe{ix, newShape(p), -1} }

// Height returns the lowest height in mm to which the tip may come down at (x, y), −Inf where the cutter
// meets nothing.
func (p *Probe) Height(x, y float64) float64 {
	best, id := p.ix.descend(&p.s, x, y, p.last)
	p.last = id
	return best.z
}

// Contact is Index.Contact at (x, y).
func (p *Probe) Contact(x, y float64) (z float64, q, n geom.Vec3, ok bool) {
	best, id := p.ix.descend(&p.s, x, y, p.last)
	p.last = id
	if id < 0 {
		return noHeight, q, n, false
	}
	if n = best.normal; n == (geom.Vec3{}) {
		n = p.s.normal(best.point, x, y)
	}
	return best.z, best.point, n, true
}
