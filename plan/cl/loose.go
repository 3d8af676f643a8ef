package cl

import (
	"math"
	"slices"

	"barwise/geom"
)

// link is one edge of a loose star: the neighbour, with the third vertex of one facet on it.
type link struct {
	to, third int32
	normal    normal
}

// drawLoose draws what a star that is no single fan owns: the vertex whole, every edge to a neighbour of a
// higher number, every facet all of whose other vertices have a higher number.
func (d *drawer) drawLoose(v int32) {
	s := d.surface
	at := d.verts[v]
	d.links = d.links[:0]
	for _, c := range s.fans[s.start[v]:s.start[v+1]] {
		t := s.mesh.Triangles[c.next]
		p := [3]geom.Vec3{d.verts[t[0]], d.verts[t[1]], d.verts[t[2]]}
		for k := range 3 {
			if to := t[k]; to > v {
				third := t[(k+1)%3]
				if third == v {
					third = t[(k+2)%3]
				}
				d.links = append(d.links, link{to, third, c.normal})
			}
		}
		if c.normal != (normal{}) && v == min(t[0], t[1], t[2]) {
			d.facet(p[0], p[1], p[2])
		}
	}
	slices.SortFunc(d.links, func(a, b link) int { return int(a.to) - int(b.to) })
	for lo := 0; lo < len(d.links); {
		hi := lo + 1
		for hi < len(d.links) && d.links[hi].to == d.links[lo].to {
			hi++
		}
		d.looseEdge(at, d.links[lo:hi])
		lo = hi
	}
	if d.shape.ball {
		r := d.shape.rad + d.slack
		d.ballCap(at, d.box(at.X-r, at.X+r, at.Y-r, at.Y+r))
		return
	}
	r := d.shape.rad
	d.cap(at, 0, r, [4]float64{-r, r, -r, r})
}

// looseEdge draws an edge with any number of facets. Each facet with an area leaves only axes on the far
// side of its own contact, whichever way it is wound.
func (d *drawer) looseEdge(at geom.Vec3, links []link) {
	b := d.verts[links[0].to]
	ex, ey := b.X-at.X, b.Y-at.Y
	l := math.Sqrt(float64(ex*ex) + float64(ey*ey))
	if l <= d.slack {
		return
	}
	e := edge{a: at, b: b, l: l, ex: ex / l, ey: ey / l, lo: -d.shape.rad, hi: d.shape.rad}
	for _, k := range links {
		if k.normal == (normal{}) {
			continue
		}
		n := d.turn.ToSide(k.normal.vec())
		w := d.verts[k.third].Sub(at)
		left := float64(e.ex*w.Y) - float64(e.ey*w.X)
		if math.Abs(left) <= 1e-6*(math.Abs(w.X)+math.Abs(w.Y)+math.Abs(w.Z)) {
			continue // all but upright: which side it is on would be a guess
		}
		f := d.shape.facing(n)
		e.bound(&d.shape, &f, left < 0)
	}
	d.edge(&e)
}
