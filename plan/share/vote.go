package share

import (
	"cmp"
	"math"
	"slices"

	"barwise/geom"
	"barwise/geom/mesh"
)

// ballot is the surface with the side that every part of it goes to. It is counted once for all sides, and
// each looks it up: so no place is passed on for ever.
type ballot struct {
	*crumbs
	sides int
	cost  []float32 // of part k on side i, at k·sides+i, per mm²; at least outOfReach where it is not reached
	label []int8    // −1: no side reaches it
	soft  []float32 // how much of part k and of those about it goes to side i, at k·sides+i
}

// outOfReach is the cost of a part on a side that does not reach it: so much above any other that no
// patch wider than a couple of parts is given to such a side for the sake of a shorter seam.
const outOfReach = 6

// nearEnough is how far a cutter may be held off a part for it to count as reached, mm: by more than a
// scanned surface is rough, by less than a vote is about.
const nearEnough = 0.02

// flatWithin is the greatest angle, as 1 − cosine, between the normals of one face: 2°.
const flatWithin = 6e-4

// islandWeight is what a part too small to stand alone may cost more elsewhere, per mm².
const islandWeight = 1

// softPasses is how often the vote is averaged over neighbours, so that borders are smooth.
const softPasses = 6

// count asks every side about every part, once for both rules. Neither is settled yet.
func (s *Set) count(c *crumbs) (merit, wedges *ballot) {
	n, m := len(c.area), len(s.Views)
	merit = &ballot{crumbs: c, sides: m, cost: make([]float32, n*m), label: make([]int8, n)}
	wedges = &ballot{crumbs: c, sides: m, cost: make([]float32, n*m), label: make([]int8, n)}
	const lot = 512
	mesh.Parallel((n+lot-1)/lot, func(l int) {
		for k := l * lot; k < min(n, (l+1)*lot); k++ {
			p := &c.probe[k]
			q := p.at.Add(p.n.Mul(s.Allowance))
			for i, o := range s.Views {
				merit.cost[k*m+i], wedges.cost[k*m+i] = outOfReach, outOfReach
				if p.n.Dot(o.Facing) >= leastFacing && s.nearly(o, q, p.n) {
					merit.cost[k*m+i] = float32(s.cost(o, q, p.n))
					wedges.cost[k*m+i] = float32(wedge(o, q, p.n))
				}
			}
		}
	})
	return merit, wedges
}

// leastFacing is the least cosine between a place's normal and the way a side faces for it to be asked: a
// wall may lean back by the noise of a normal.
const leastFacing = -0.02

// nearly is reaches by the nodes of the field alone, to within nearEnough.
func (s *Set) nearly(o *View, q, n geom.Vec3) bool {
	tip := s.tipAt(o, q, n)
	if !s.Inside(o, tip.X, tip.Y) || tip.Z < s.Limit(o, tip.X, tip.Y)-nearEnough {
		return false
	}
	f := o.Field
	a, b := (tip.X-f.X0)/f.DX, (tip.Y-f.Y0)/f.DY
	i, j := int(math.Floor(a)), int(math.Floor(b))
	if i < 0 || j < 0 || i+1 >= f.NX || j+1 >= f.NY {
		return false
	}
	n = o.Turn.ToSide(n)
	gx, gy := 0.0, 0.0
	if n.Z > 0.2 {
		gx, gy = -n.X/n.Z, -n.Y/n.Z
	}
	least := math.Inf(1)
	for c := range 4 {
		di, dj := c&1, c>>1
		over := float64(f.Z[(j+dj)*f.NX+i+di]) - tip.Z - float64(gx*(float64(i+di)-a)*f.DX) - float64(gy*(float64(j+dj)-b)*f.DY)
		least = min(least, over)
	}
	return least*max(n.Z, 0.2) <= nearEnough
}

// settle gives every part to a side: the cheapest in all, seams counted.
func (b *ballot) settle(p prices) {
	b.cost = b.calm(b.cost)
	b.faces(p.facings)
	b.cheapest()
	for range 3 {
		b.sweep(p.seam, 8)
		if !b.islands(p) {
			break
		}
	}
}

// prices are what a ballot is settled with.
type prices struct {
	seam    float64     // of a mm of seam, in mm² of level ground
	piece   float64     // of each connected part of a share
	least   float64     // mm²: what is smaller is not to stand alone
	facings []geom.Vec3 // which way sides look
}

// cheapest gives every part to the side of least cost; of equals the first.
func (b *ballot) cheapest() {
	for k := range b.label {
		b.label[k] = -1
		low := float32(outOfReach)
		for i, c := range b.cost[k*b.sides : (k+1)*b.sides] {
			if c < low {
				b.label[k], low = int8(i), c
			}
		}
	}
}

// calm takes the noise of single normals off the costs: each is averaged with those of its neighbours,
// less over a crease, among those that the side reaches.
func (b *ballot) calm(in []float32) []float32 {
	out := make([]float32, len(in))
	const lot = 1024
	n, m := len(b.label), b.sides
	mesh.Parallel((n+lot-1)/lot, func(l int) {
		for k := l * lot; k < min(n, (l+1)*lot); k++ {
			for i := range m {
				own := in[k*m+i]
				out[k*m+i] = own
				if own >= outOfReach {
					continue
				}
				sum, w := float64(own)*b.area[k], b.area[k]
				for e := b.start[k]; e < b.start[k+1]; e++ {
					o := int(b.nb[e])
					if c := in[o*m+i]; c < outOfReach {
						d := max(0, b.normal[k].Dot(b.normal[o]))
						u := b.area[o] * d * d * d * d
						sum, w = sum+float64(float64(c)*u), w+u
					}
				}
				out[k*m+i] = float32(sum / w)
			}
		}
	})
	return out
}

// squareOn is the least cosine between a flat face and a side for the face to be cut from one side: what
// no side looks at, like a flange square to the axis, is better shared by depth.
const squareOn = 0.5

// faces makes every flat face that some side looks at of one mind: its parts all have the mean of their
// costs, so that no seam runs across it unless a side does not reach all of it.
func (b *ballot) faces(facings []geom.Vec3) {
	of := make([]bool, len(b.label))
	var face []int32
	mean, area := make([]float64, b.sides), make([]float64, b.sides)
	for k := range b.label {
		looked := func(d geom.Vec3) bool { return b.normal[k].Dot(d) > squareOn }
		if of[k] || !slices.ContainsFunc(facings, looked) {
			continue
		}
		face = append(face[:0], int32(k))
		of[k] = true
		for x := 0; x < len(face); x++ {
			for e := b.start[face[x]]; e < b.start[face[x]+1]; e++ {
				o := b.nb[e]
				if !of[o] && 1-b.normal[o].Dot(b.normal[k]) < flatWithin {
					of[o] = true
					face = append(face, o)
				}
			}
		}
		if len(face) < 2 {
			continue
		}
		clear(mean)
		clear(area)
		b.each(face, func(k, i int) {
			mean[i] += float64(float64(b.cost[k*b.sides+i]) * b.area[k])
			area[i] += b.area[k]
		})
		b.each(face, func(k, i int) { b.cost[k*b.sides+i] = float32(mean[i] / area[i]) })
	}
}

// each calls f for the parts of a list with the sides that reach them.
func (b *ballot) each(list []int32, f func(k, i int)) {
	for _, k := range list {
		for i := range b.sides {
			if b.cost[int(k)*b.sides+i] < outOfReach {
				f(int(k), i)
			}
		}
	}
}

// sweep lets every part in turn go over to a neighbour's side where that is cheaper, its seams counted at
// lambda per mm.
func (b *ballot) sweep(lambda float64, most int) {
	ties := make([]float64, b.sides)
	for range most {
		moved := 0
		for k := range b.label {
			if b.label[k] < 0 || !b.atBorder(k) {
				continue
			}
			clear(ties)
			for e := b.start[k]; e < b.start[k+1]; e++ {
				if o := b.label[b.nb[e]]; o >= 0 {
					ties[o] += float64(b.seam[e])
				}
			}
			best, low := b.label[k], math.Inf(1)
			for i := range b.sides {
				if ties[i] == 0 && int8(i) != b.label[k] {
					continue
				}
				e := float64(float64(b.cost[k*b.sides+i])*b.area[k]) - float64(lambda*ties[i])
				if int8(i) == b.label[k] {
					e -= 1e-9 // of equals the one that has it
				}
				if e < low {
					best, low = int8(i), e
				}
			}
			if best != b.label[k] {
				b.label[k] = best
				moved++
			}
		}
		if moved == 0 {
			return
		}
	}
}

func (b *ballot) atBorder(k int) bool {
	for _, o := range b.nb[b.start[k]:b.start[k+1]] {
		if b.label[o] != b.label[k] && b.label[o] >= 0 {
			return true
		}
	}
	return false
}

// island is one connected part of a share.
type island struct {
	parts []int32
	area  float64
}

// pieces returns the connected parts of all shares.
func (b *ballot) pieces() []island {
	var out []island
	seen := make([]bool, len(b.label))
	for k := range b.label {
		if seen[k] || b.label[k] < 0 {
			continue
		}
		g := island{parts: []int32{int32(k)}}
		seen[k] = true
		for x := 0; x < len(g.parts); x++ {
			p := g.parts[x]
			g.area += b.area[p]
			for _, o := range b.nb[b.start[p]:b.start[p+1]] {
				if !seen[o] && b.label[o] == b.label[k] {
					seen[o] = true
					g.parts = append(g.parts, o)
				}
			}
		}
		out = append(out, g)
	}
	return out
}

// islands gives whole pieces to a side about them where that is cheaper, the smallest first; and those
// smaller than least mm² also where it costs more, so long as the side reaches them.
func (b *ballot) islands(p prices) (moved bool) {
	all := b.pieces()
	slices.SortStableFunc(all, func(g, h island) int { return cmp.Compare(g.area, h.area) })
	ties, cost := make([]float64, b.sides), make([]float64, b.sides)
	for _, g := range all {
		mine := b.label[g.parts[0]]
		clear(ties)
		clear(cost)
		for _, k := range g.parts {
			for e := b.start[k]; e < b.start[k+1]; e++ {
				if o := b.label[b.nb[e]]; o >= 0 && o != mine {
					ties[o] += float64(b.seam[e])
				}
			}
			for i := range b.sides {
				cost[i] += float64(float64(b.cost[int(k)*b.sides+i]) * b.area[k])
			}
		}
		best, low := mine, 0.0
		if g.area < p.least {
			low = islandWeight * g.area
		}
		for i := range b.sides {
			if ties[i] == 0 {
				continue
			}
			if d := cost[i] - cost[mine] - float64(p.seam*ties[i]) - p.piece; d < low {
				best, low = int8(i), d
			}
		}
		if best != mine {
			moved = true
			for _, k := range g.parts {
				b.label[k] = best
			}
		}
	}
	return moved
}

// absorb gives pieces smaller than least mm² to the side that has most about them, reached or not: they
// are parts that a cutter misses by a hair.
func (b *ballot) absorb(least float64) {
	ties := make([]float64, b.sides)
	for _, g := range b.pieces() {
		if g.area >= least {
			continue
		}
		mine := b.label[g.parts[0]]
		clear(ties)
		for _, k := range g.parts {
			for _, o := range b.nb[b.start[k]:b.start[k+1]] {
				if l := b.label[o]; l >= 0 && l != mine {
					ties[l] += b.area[o]
				}
			}
		}
		best, most := mine, 0.0
		for i, t := range ties {
			if t > most {
				best, most = int8(i), t
			}
		}
		for _, k := range g.parts {
			b.label[k] = best
		}
	}
}

// fill gives what no side reaches to the side of most of its neighbours, from the borders inward: what can
// be touched of it after all then goes with what is around it.
func (b *ballot) fill() {
	ties := make([]float64, b.sides)
	for range fillPasses {
		var at []int
		var to []int8
		for k, l := range b.label {
			if l >= 0 {
				continue
			}
			clear(ties)
			best := -1
			for _, o := range b.nb[b.start[k]:b.start[k+1]] {
				if m := b.label[o]; m >= 0 {
					ties[m] += b.area[o]
				}
			}
			for i, t := range ties {
				if t > 0 && (best < 0 || t > ties[best]) {
					best = i
				}
			}
			if best >= 0 {
				at, to = append(at, k), append(to, int8(best))
			}
		}
		for x, k := range at {
			b.label[k] = to[x]
		}
		if len(at) == 0 {
			return
		}
	}
}

// fillPasses is how many parts deep fill goes.
const fillPasses = 10

// soften averages the votes over neighbours that look the same way.
func (b *ballot) soften() {
	m := b.sides
	b.soft = make([]float32, len(b.cost))
	for k, l := range b.label {
		if l >= 0 {
			b.soft[k*m+int(l)] = 1
		}
	}
	for range softPasses {
		in, out := b.soft, make([]float32, len(b.soft))
		const lot = 1024
		mesh.Parallel((len(b.label)+lot-1)/lot, func(l int) {
			sum := make([]float64, m)
			for k := l * lot; k < min(len(b.label), (l+1)*lot); k++ {
				b.average(k, in, out, sum)
			}
		})
		b.soft = out
	}
}

func (b *ballot) average(k int, in, out []float32, sum []float64) {
	m := b.sides
	if !b.atBorder(k) && b.even(k, in) {
		copy(out[k*m:(k+1)*m], in[k*m:(k+1)*m])
		return
	}
	w := b.area[k]
	for i := range sum {
		sum[i] = float64(in[k*m+i]) * w
	}
	for _, o := range b.nb[b.start[k]:b.start[k+1]] {
		d := max(0, b.normal[k].Dot(b.normal[o]))
		u := b.area[o] * d * d
		w += u
		for i := range sum {
			sum[i] += float64(float64(in[int(o)*m+i]) * u)
		}
	}
	for i := range sum {
		out[k*m+i] = float32(sum[i] / w)
	}
}

// even reports whether a part and all about it vote alike.
func (b *ballot) even(k int, in []float32) bool {
	m := b.sides
	for _, o := range b.nb[b.start[k]:b.start[k+1]] {
		for i := range m {
			if in[int(o)*m+i] != in[k*m+i] {
				return false
			}
		}
	}
	return true
}

// votes adds up what the parts about a place say; out is by side and sums to 1, or is all 0 where nothing
// is known.
func (b *ballot) votes(q, n geom.Vec3, out []float64) {
	clear(out)
	m, sum := b.sides, 0.0
	b.around(q, n, func(k int32, w float64) {
		sum += w
		for i, v := range b.soft[int(k)*m : (int(k)+1)*m] {
			out[i] += float64(float64(v) * w)
		}
	})
	if sum > 0 {
		for i := range out {
			out[i] /= sum
		}
	}
}
