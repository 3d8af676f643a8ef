package share

import (
	"math"

	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/patch"
)

// crumbs are the surface in small parts on which all sides vote: what of it lies in one cell of space and
// looks one of ten ways. Looked up by place and normal, a part is the same from whichever side it is asked.
type crumbs struct {
	origin geom.Vec3
	size   float64 // edge of a cell, mm
	n      [3]int
	first  []int32 // the first part in a cell, −1 for none
	next   []int32 // the next part in the same cell

	at     []geom.Vec3 // centre
	normal []geom.Vec3
	area   []float64 // mm²
	probe  []probe

	start []int32 // neighbours of part k: nb[start[k]:start[k+1]]
	nb    []int32
	seam  []float32 // mm of seam between the two, less where it shows less
}

// probe is a place that lies on the surface, the middle of a part's largest piece; of equal pieces, as
// meshes of closed forms have many, the one nearest to the part's centre. It does not hang on the order of
// triangles, and turns with the model.
type probe struct {
	at, n geom.Vec3
	area  float64
}

// mostCells bounds the memory of crumbs and shell.
const mostCells = 16e6

// oddly makes cells of no round size: the planes between them keep off the flats that models have, which
// would fall to both sides by rounding.
const oddly = 1.0173

// newCrumbs cuts a mesh into parts about size mm wide.
func newCrumbs(m *mesh.Mesh, size float64) *crumbs {
	c := &crumbs{}
	box := m.Box()
	e := box.Size()
	c.size = oddly * max(size, math.Cbrt((e.X+2*size)*(e.Y+2*size)*(e.Z+2*size)/mostCells))
	// cells stand alike about the axis, so that a quarter turn takes cells to cells
	span := func(lo, hi float64) (from float64, n int) {
		a := math.Floor(lo/c.size - 0.5)
		return (a + 0.5) * c.size, int(math.Ceil(hi/c.size-0.5)-a) + 1
	}
	c.origin.X, c.n[0] = span(box.Min.X, box.Max.X)
	c.origin.Y, c.n[1] = span(box.Min.Y, box.Max.Y)
	c.origin.Z, c.n[2] = span(box.Min.Z, box.Max.Z)
	c.first = make([]int32, c.n[0]*c.n[1]*c.n[2])
	for k := range c.first {
		c.first[k] = -1
	}
	g := gather{crumbs: c}
	for i := range m.Triangles {
		p, q, r := m.Corners(i)
		patch.Halve(p, q, r, 0.7*c.size, g.add)
	}
	c.probe = make([]probe, len(c.area))
	for k, a := range c.area {
		c.at[k], c.normal[k] = c.at[k].Mul(1/a), c.normal[k].Unit()
		c.probe[k] = middlemost(g.largest[k], c.at[k])
	}
	c.neighbours()
	return c
}

// gather is what is known of parts while pieces are counted to them.
type gather struct {
	*crumbs
	way     []uint8   // which of ten ways every part looks
	largest [][]probe // its largest pieces, alike to rounding
}

// alike is how much two measures of pieces may differ, as a share, and be equal but for rounding.
const alike = 1e-9

// add counts one piece to its part.
func (c *gather) add(p, q, r geom.Vec3) {
	n := q.Sub(p).Cross(r.Sub(p))
	a := n.Len() / 2
	if !(a > 0) || math.IsInf(a, 0) {
		return
	}
	n = n.Mul(0.5 / a)
	o := p.Add(q).Add(r).Mul(1.0 / 3)
	cell := c.cell(o)
	w := tenWays(n)
	k := c.first[cell]
	for k >= 0 && c.way[k] != w {
		k = c.next[k]
	}
	if k < 0 {
		k = int32(len(c.next))
		c.next = append(c.next, c.first[cell])
		c.first[cell] = k
		c.at, c.normal = append(c.at, geom.Vec3{}), append(c.normal, geom.Vec3{})
		c.area, c.largest = append(c.area, 0), append(c.largest, nil)
		c.way = append(c.way, w)
	}
	c.at[k], c.normal[k] = c.at[k].Add(o.Mul(a)), c.normal[k].Add(n.Mul(a))
	c.area[k] += a
	l := c.largest[k]
	if len(l) > 0 && a > l[0].area*(1+alike) {
		l = l[:0]
	}
	if len(l) == 0 || a >= l[0].area*(1-alike) {
		c.largest[k] = append(l, probe{o, n, a})
	}
}

// middlemost is the piece nearest to a place; of equally near ones the first along the bar, then the one
// nearest to the axis, then the first about it as seen from the place: none of this changes with a turn.
func middlemost(all []probe, at geom.Vec3) probe {
	best := all[0]
	key := func(p *probe) [4]float64 {
		d := p.at.Sub(at)
		return [4]float64{d.Len(), d.Y, math.Hypot(p.at.X, p.at.Z), float64(at.Z*d.X) - float64(at.X*d.Z)}
	}
	least := key(&best)
	near := alike * max(1, at.Len())
	for i := range all[1:] {
		k := key(&all[i+1])
		for j, x := range k {
			if math.Abs(x-least[j]) > near {
				if x < least[j] {
					best, least = all[i+1], k
				}
				break
			}
		}
	}
	return best
}

// tenWays is which of ten ways a normal looks: along the axis of the bar either way, or one of eight about
// it, with the faces that bars and models mostly have in the middles of them.
func tenWays(n geom.Vec3) uint8 {
	const alongBar, halfWay = 0.8, 0.41421356 // tan 22.5°
	if n.Y > alongBar {
		return 8
	}
	if n.Y < -alongBar {
		return 9
	}
	x, z := math.Abs(n.X), math.Abs(n.Z)
	w := uint8(0)
	switch {
	case x <= halfWay*z:
	case z <= halfWay*x:
		w = 2
	default:
		w = 1
	}
	switch { // 0, 1, 2 from z to x, on in quarter turns
	case w == 0 && n.Z < 0:
		return 4
	case w == 2 && n.X < 0:
		return 6
	case w == 1 && n.X >= 0 && n.Z < 0:
		return 3
	case w == 1 && n.X < 0 && n.Z < 0:
		return 5
	case w == 1 && n.X < 0:
		return 7
	}
	return w
}

func (c *crumbs) cell(p geom.Vec3) int {
	q := p.Sub(c.origin).Mul(1 / c.size)
	at := func(x float64, k int) int { return min(max(int(x), 0), c.n[k]-1) }
	return (at(q.Z, 2)*c.n[1]+at(q.Y, 1))*c.n[0] + at(q.X, 0)
}

// neighbours finds which parts hang together: those in touching cells that do not face each other.
func (c *crumbs) neighbours() {
	n := len(c.area)
	lists := make([][]int32, n)
	const lot = 1024
	mesh.Parallel((n+lot-1)/lot, func(b int) {
		for k := b * lot; k < min(n, (b+1)*lot); k++ {
			lists[k] = c.about(int32(k), lists[k])
		}
	})
	c.start = make([]int32, n+1)
	for k, l := range lists {
		c.start[k+1] = c.start[k] + int32(len(l))
		c.nb = append(c.nb, l...)
	}
	c.seam = make([]float32, len(c.nb))
	for k := range n {
		for e := c.start[k]; e < c.start[k+1]; e++ {
			c.seam[e] = float32(c.shows(k, int(c.nb[e])))
		}
	}
}

// about appends the parts that hang together with part k.
func (c *crumbs) about(k int32, out []int32) []int32 {
	at := c.at[k]
	cell := c.cell(c.probe[k].at)
	x, y, z := cell%c.n[0], cell/c.n[0]%c.n[1], cell/(c.n[0]*c.n[1])
	for dz := max(z-1, 0); dz <= min(z+1, c.n[2]-1); dz++ {
		for dy := max(y-1, 0); dy <= min(y+1, c.n[1]-1); dy++ {
			for dx := max(x-1, 0); dx <= min(x+1, c.n[0]-1); dx++ {
				for o := c.first[(dz*c.n[1]+dy)*c.n[0]+dx]; o >= 0; o = c.next[o] {
					if o != k && c.normal[o].Dot(c.normal[k]) > -0.3 && c.at[o].Sub(at).Len() < tieReach*c.size {
						out = append(out, o)
					}
				}
			}
		}
	}
	return out
}

// tieReach is how far parts that hang together may lie apart, in cells.
const tieReach = 1.5

// A seam in a crease shows less than one across a face: in a concave one least, for there the overlap of
// both sides ends on its own.
const (
	leastConcave = 0.25
	leastConvex  = 0.6
)

// tie is the length of seam that a pair of neighbours on either side of it stands for, mm. Of all pairs
// nearer than ρ, weighed by both areas, a straight seam parts 2ρ³/3 a millimetre, whichever way it runs.
func (c *crumbs) tie(k, o int) float64 {
	r := tieReach * c.size
	return c.area[k] * c.area[o] / (2.0 / 3 * r * r * r)
}

// shows is the length of seam between two neighbours, mm, weighed by how much it shows.
func (c *crumbs) shows(k, o int) float64 {
	bend := 1 - c.normal[k].Dot(c.normal[o])
	least := leastConvex
	if c.normal[o].Sub(c.normal[k]).Dot(c.at[o].Sub(c.at[k])) < 0 {
		least = leastConcave
	}
	return c.tie(k, o) * max(least, 1-float64(2*bend))
}

// around calls f for the parts about a place that look its way, with weights that change evenly with the
// place: the cells around are weighed as in trilinear interpolation, the parts in them by area and by how
// near their normals are.
func (c *crumbs) around(p, n geom.Vec3, f func(k int32, w float64)) {
	q := p.Sub(c.origin).Mul(1 / c.size).Sub(geom.Vec3{X: 0.5, Y: 0.5, Z: 0.5})
	x, y, z := math.Floor(q.X), math.Floor(q.Y), math.Floor(q.Z)
	fx, fy, fz := q.X-x, q.Y-y, q.Z-z
	i, j, l := int(x), int(y), int(z)
	for b := range 8 {
		a0, a1, a2 := i+b&1, j+b>>1&1, l+b>>2
		if a0 < 0 || a1 < 0 || a2 < 0 || a0 >= c.n[0] || a1 >= c.n[1] || a2 >= c.n[2] {
			continue
		}
		k := c.first[(a2*c.n[1]+a1)*c.n[0]+a0]
		if k < 0 {
			continue
		}
		w := part(fx, b&1) * part(fy, b>>1&1) * part(fz, b>>2)
		for ; k >= 0; k = c.next[k] {
			if d := c.normal[k].Dot(n); d > 0 {
				f(k, w*c.area[k]*d*d)
			}
		}
	}
}

func part(f float64, upper int) float64 {
	if upper == 1 {
		return f
	}
	return 1 - f
}
