package fragile

import (
	"math"

	"barwise/geom"
)

// mat is a symmetric matrix in u, v, w: a compliance takes a force at the tip, N, to the tip's way, mm.
type mat [3]geom.Vec3

func (m *mat) add(o *mat) {
	for i := range m {
		m[i] = m[i].Add(o[i])
	}
}

func (m *mat) trace() float64 { return m[0].X + m[1].Y + m[2].Z }

// largest returns the greatest eigenvalue, by Jacobi's rotations: roots and products only, which are the
// same on every CPU as cosines need not be.
func (m *mat) largest() float64 {
	a := [3][3]float64{{m[0].X, m[0].Y, m[0].Z}, {m[0].Y, m[1].Y, m[1].Z}, {m[0].Z, m[1].Z, m[2].Z}}
	for range 10 {
		for _, pq := range [3][2]int{{0, 1}, {0, 2}, {1, 2}} {
			p, q := pq[0], pq[1]
			o := 3 - p - q
			if a[p][q] == 0 {
				continue
			}
			th := (a[q][q] - a[p][p]) / (2 * a[p][q])
			t := 1 / (math.Abs(th) + math.Sqrt(float64(th*th)+1))
			if th < 0 {
				t = -t
			}
			c := 1 / math.Sqrt(float64(t*t)+1)
			s := t * c
			turn := float64(t * a[p][q])
			a[p][p], a[q][q] = a[p][p]-turn, a[q][q]+turn
			op, oq := a[min(o, p)][max(o, p)], a[min(o, q)][max(o, q)]
			a[min(o, p)][max(o, p)] = float64(c*op) - float64(s*oq)
			a[min(o, q)][max(o, q)] = float64(s*op) + float64(c*oq)
			a[p][q] = 0
		}
	}
	return max(a[0][0], a[1][1], a[2][2])
}

// load is a part under a unit force at its tip.
type load struct {
	from  int       // index in the branch's way of the part the force is on: above it is only a point
	tip   geom.Vec3 // u, v, w
	own   mat       // mm/N times the modulus in MPa, of the branch's own parts
	all   mat       // the same down to the root
	cum   []float64 // trace of all's sum so far, part by part from 'from' on
	worst int       // index in way of the greatest stress
	press float64   // MPa/N there
}

// press puts a unit force on the tip of a branch: where it is as thick as contact, but no farther than
// a tenth of it from its end, for on the point of a needle the least force does anything.
//
// The tip moves by ∫ rᵀ K r ds along the beam: a force F at r from a section turns it by K (r × F) ds,
// and the tip goes with it. K holds the section's stiffness in bending about both axes and, for arms
// that are not straight, in torsion.
func (b *piece) press(br branch, contact float64) load {
	var l load
	for l.from < br.own/10 && b.parts[br.way[l.from]].thick < contact {
		l.from++
	}
	t := b.along(br.way, l.from)
	l.tip = b.local(br.way[l.from]).Add(t.Mul(b.step / 2 / math.Abs(t.Z)))
	for i := l.from; i < len(br.way); i++ {
		p := &b.parts[br.way[i]]
		t := b.along(br.way, i)
		r := l.tip.Sub(b.local(br.way[i]))
		if !b.body(p) {
			c := flex(p, t, r, b.step/math.Abs(t.Z))
			l.all.add(&c)
			if i < br.own {
				l.own.add(&c)
			}
		}
		if i < br.own {
			// a section cut askew shows more metal than there is across the beam
			if s := r.Len() * p.modulus / math.Abs(t.Z); s > l.press {
				l.press, l.worst = s, i
			}
		}
		l.cum = append(l.cum, l.all.trace())
	}
	return l
}

// bulk is the part of the largest section across the bar from which on a section is the body's.
const bulk = 0.5

// body reports whether a part of a cut across the bar is the body's, which is taken as stiff there: how
// it bends is seen in the cut along the bar.
func (b *piece) body(p *region) bool { return b.frame != alongY && p.area >= bulk*b.parts[b.root].area }

// local is the centroid of a part in u, v, w.
func (b *piece) local(i int32) geom.Vec3 {
	p := &b.parts[i]
	return geom.Vec3{X: p.c.X, Y: p.c.Y, Z: b.at(p.k)}
}

// along is the beam's direction toward its tip at part i of a way, leaning at most 60° from w. A
// neighbour of quite another size belongs to another thing, and its centroid says nothing.
func (b *piece) along(way []int32, i int) geom.Vec3 {
	lo, hi := i, i
	like := func(j int) bool {
		p, q := b.parts[way[i]].area, b.parts[way[j]].area
		return p < 2*q && q < 2*p
	}
	if i > 0 && like(i-1) {
		lo = i - 1
	}
	if i+1 < len(way) && like(i+1) {
		hi = i + 1
	}
	d := b.local(way[lo]).Sub(b.local(way[hi]))
	if d.Z == 0 {
		d = geom.Vec3{Z: 1}
		if i > 0 && b.parts[way[i-1]].k < b.parts[way[i]].k || i == 0 && len(way) > 1 && b.parts[way[1]].k > b.parts[way[0]].k {
			d.Z = -1
		}
	}
	const lean = 1.7320508075688772 // tan 60°
	if side, most := d.XY().Len(), lean*math.Abs(d.Z); side > most {
		d.X, d.Y = d.X*most/side, d.Y*most/side
	}
	return d.Unit()
}

// poisson is taken for every material: it only enters torsion.
const poisson = 0.3

// flex is the compliance of a piece of beam, ds long, with unit modulus, for a force at r from it. The
// section's moments are those of the cut across w, brought to the plane across the beam's direction t.
func flex(p *region, t, r geom.Vec3, ds float64) mat {
	e1 := geom.Vec3{X: 1}.Sub(t.Mul(t.X)).Unit()
	e2 := t.Cross(e1)
	k := math.Abs(t.Z)
	in := func(a, b geom.Vec3) float64 {
		return float64(k * (float64(a.X*b.X*p.uu) + float64(a.Y*b.Y*p.vv) + float64((float64(a.X*b.Y)+float64(a.Y*b.X))*p.uv)))
	}
	// a point ρ of the cut lies at ρ − (ρ·t)t across the beam, whose parts along e1 and e2 are ρ·e1, ρ·e2
	s11, s22, s12 := in(e1, e1), in(e2, e2), in(e1, e2)
	det := max(float64(s11*s22)-float64(s12*s12), 1e-12*s11*s22)
	area := k * p.area
	// St Venant: A⁴/(4π² Ip), exact for discs and ellipses, some per cent off for compact sections
	twist := area * area * area * area / (4 * math.Pi * math.Pi * (s11 + s22)) / (2 * (1 + poisson))
	var c mat
	for i, f := range [3]geom.Vec3{{X: 1}, {Y: 1}, {Z: 1}} {
		m := r.Cross(f)
		m1, m2 := m.Dot(e1), m.Dot(e2)
		// about e1 it bends by ∫ (ρ·e2)²
		w := e1.Mul((float64(s11*m1) + float64(s12*m2)) / det).Add(e2.Mul((float64(s12*m1) + float64(s22*m2)) / det))
		w = w.Add(t.Mul(m.Dot(t) / twist))
		c[i] = w.Cross(r).Mul(ds)
	}
	return c
}
