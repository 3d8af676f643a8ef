package place

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"barwise/finding"
	"barwise/geom"
	"barwise/geom/mesh"
)

const (
	stubReach = 1.0  // mm the spigot goes down into the stub
	meet      = 0.3  // mm it goes on into the model from where its whole section is inside
	weakShare = 0.75 // part of its section in the model below which it is called weak
)

// hang adds the spigot.
func (o *Placed) hang(p Params) error {
	o.StubY = o.Y0 - p.Gap
	h := &Held{Spigot: *p.Spigot, From: o.StubY - min(stubReach, o.StubY/2)}
	if err := o.root(h, p); err != nil {
		return err
	}
	if h.Share < weakShare {
		o.Findings = append(o.Findings, finding.Finding{Code: "spigot-weak", Severity: finding.Warning,
			Where: fmt.Sprintf("y %.4g mm", h.To),
			Text:  fmt.Sprintf("the spigot meets the model over %.0f %% of its section, %.3g mm²", 100*h.Share, o.Contact),
			Hint:  "turn the model's broad end to the stub, make the spigot thinner, or bring the base onto the axis in the model"})
	}
	if h.Bare > h.Radius {
		o.Findings = append(o.Findings, finding.Finding{Code: "spigot-bare", Severity: finding.Note,
			Where: fmt.Sprintf("y %.4g to %.4g mm", o.Y0, o.Y0+h.Bare),
			Text:  fmt.Sprintf("the spigot runs %.3g mm beside the model before it is inside it", h.Bare),
			Hint:  "what stands out is cleaned off after parting"})
	}
	o.Spigot = h
	o.Mesh = mesh.Join(o.Mesh, spigotMesh(h, o.StubY))
	return nil
}

// span is a stretch of y in which a sample of the spigot's section is inside the model.
type span struct{ lo, hi float64 }

// root finds how deep the spigot goes: to the lowest place where its whole section is inside the model,
// not far up; where there is none, to the lowest of those where most of it is.
func (o *Placed) root(h *Held, p Params) error {
	pts := samples(h.Spigot)
	spans := o.probe(pts, h.Radius)
	type step struct {
		y  float64
		by int
	}
	var steps []step
	limit := o.Y0 + min(max(4*h.Radius, 0.15*(o.Y1-o.Y0)), 0.5*(o.Y1-o.Y0))
	for _, ss := range spans {
		for _, s := range ss {
			// the last bit before the far side is no hold
			if s.lo+2*meet <= s.hi && s.lo <= limit {
				steps = append(steps, step{s.lo, 1}, step{s.hi - 2*meet, -1})
			}
		}
	}
	slices.SortFunc(steps, func(a, b step) int { return cmp.Or(cmp.Compare(a.y, b.y), cmp.Compare(b.by, a.by)) })
	in, most, at := 0, 0, 0.0
	for _, s := range steps {
		if s.y > limit {
			break
		}
		if in += s.by; in > most {
			most, at = in, s.y
		}
	}
	if most == 0 {
		x, z := o.Box.Min.X, o.Box.Min.Z
		return finding.Bad("spigot-misses", fmt.Sprintf("axis, y %.4g to %.4g mm", o.Y0, limit),
			fmt.Sprintf("the spigot of radius %.4g mm about the bar's axis does not meet the model, which spans x %.4g to %.4g and z %.4g to %.4g",
				h.Radius, x, o.Box.Max.X, z, o.Box.Max.Z),
			"turn another end to the stub, make the spigot thicker, or bring the base onto the axis in the model")
	}
	h.Share = float64(most) / float64(len(pts))
	h.To = at + meet
	h.Bare = max(0, at-o.Y0)
	area := math.Pi * h.Radius * h.Radius
	if h.Square {
		area = 4 * h.Radius * h.Radius
	}
	o.Contact = h.Share * area
	return nil
}

// samples covers the spigot's section evenly: the sunflower lattice of the disc, a grid on the square,
// with the rim sampled too. None lies on the axes, where models like to have edges.
func samples(s Spigot) []geom.Vec2 {
	var out []geom.Vec2
	if s.Square {
		const n = 13
		for i := range n {
			for j := range n {
				x, z := (2*float64(i)/(n-1)-1)*s.Radius, (2*float64(j)/(n-1)-1)*s.Radius
				out = append(out, geom.Vec2{X: float64(x) + float64(1e-5*s.Radius), Y: float64(z) + float64(1.7e-5*s.Radius)})
			}
		}
		return out
	}
	const inner, rim = 128, 48
	golden := math.Pi * (3 - math.Sqrt(5))
	for k := range inner {
		r := s.Radius * math.Sqrt((float64(k)+0.5)/inner)
		sn, c := math.Sincos(float64(float64(k)*golden) + 0.1)
		out = append(out, geom.Vec2{X: r * c, Y: r * sn})
	}
	for k := range rim {
		sn, c := math.Sincos(2*math.Pi*(float64(k)+0.37)/rim + 0.01)
		out = append(out, geom.Vec2{X: s.Radius * c, Y: s.Radius * sn})
	}
	return out
}

// crossing is where a line along Y passes the model's surface: up +1 going in, −1 coming out.
type crossing struct {
	y  float64
	in int
}

// probe returns for each point (x, z) the stretches of y inside the model.
func (o *Placed) probe(pts []geom.Vec2, radius float64) [][]span {
	hits := make([][]crossing, len(pts))
	for i := range o.ModelTriangles {
		a, b, c := o.Mesh.Corners(i)
		r := radius * (1 + 1e-4)
		if min(a.X, b.X, c.X) > r || max(a.X, b.X, c.X) < -r || min(a.Z, b.Z, c.Z) > r || max(a.Z, b.Z, c.Z) < -r {
			continue
		}
		for k, p := range pts {
			if x, ok := cross(a, b, c, p); ok {
				hits[k] = append(hits[k], x)
			}
		}
	}
	out := make([][]span, len(pts))
	for k, hs := range hits {
		slices.SortFunc(hs, func(a, b crossing) int { return cmp.Or(cmp.Compare(a.y, b.y), cmp.Compare(b.in, a.in)) })
		depth, from := 0, 0.0
		for _, h := range hs {
			was := depth
			if depth += h.in; was <= 0 && depth > 0 {
				from = h.y
			} else if was > 0 && depth <= 0 {
				out[k] = append(out[k], span{from, h.y})
			}
		}
	}
	return out
}

// cross meets the line along Y through p with a triangle. An edge belongs to the triangle on one side
// of it only, whichever way it is walked: the rule looks at the ends in a fixed order.
func cross(a, b, c geom.Vec3, p geom.Vec2) (crossing, bool) {
	v := [3]geom.Vec3{a, b, c}
	odd := false
	for k := range v {
		s, e := v[k], v[(k+1)%3]
		if s.Z > e.Z || s.Z == e.Z && s.X > e.X {
			s, e = e, s
		}
		if s.Z > p.Y || e.Z <= p.Y {
			continue
		}
		x := s.X + float64((e.X-s.X)*((p.Y-s.Z)/(e.Z-s.Z)))
		if x > p.X {
			odd = !odd
		}
	}
	if !odd {
		return crossing{}, false
	}
	n := b.Sub(a).Cross(c.Sub(a))
	if n.Y == 0 {
		return crossing{}, false
	}
	y := a.Y - (float64((p.X-a.X)*n.X)+float64((p.Y-a.Z)*n.Z))/n.Y
	y = min(max(y, min(a.Y, b.Y, c.Y)), max(a.Y, b.Y, c.Y))
	if n.Y < 0 {
		return crossing{y, 1}, true
	}
	return crossing{y, -1}, true
}

// facetSag is how far a facet of a round spigot may lie below the true cylinder, mm.
const facetSag = 0.0003

// spigotMesh makes the spigot: rings about the axis from its end in the stub to its end in the model.
func spigotMesh(h *Held, stub float64) *mesh.Mesh {
	n := 4
	if !h.Square {
		n = int(math.Ceil(math.Pi / math.Acos(1-min(0.5, facetSag/h.Radius))))
		n = min(max(4*((n+3)/4), 32), 1024)
	}
	type ring struct{ y, r float64 }
	rings := []ring{{h.From, h.Radius + h.Fillet}}
	if h.Fillet > 0 {
		const arc = 24
		for k := range arc {
			// a quarter of a circle about (Radius + Fillet, stub + Fillet)
			s, c := math.Sincos(math.Pi / 2 * float64(k) / arc)
			rings = append(rings, ring{stub + float64(h.Fillet*(1-c)), h.Radius + float64(h.Fillet*(1-s))})
		}
		rings = append(rings, ring{stub + h.Fillet, h.Radius})
	}
	rings = append(rings, ring{h.To, h.Radius})
	m := &mesh.Mesh{}
	add := func(x, y, z float64) { m.Vertices = append(m.Vertices, geom.Vec3{X: x, Y: y, Z: z}) }
	add(0, h.From, 0)
	for _, r := range rings {
		for k := range n {
			if h.Square {
				add(r.r*[4]float64{1, 1, -1, -1}[k], r.y, r.r*[4]float64{1, -1, -1, 1}[k])
				continue
			}
			s, c := math.Sincos(2 * math.Pi * float64(k) / float64(n))
			add(r.r*c, r.y, -r.r*s)
		}
	}
	add(0, h.To, 0)
	top := int32(len(m.Vertices) - 1)
	tri := func(a, b, c int32) { m.Triangles = append(m.Triangles, [3]int32{a, b, c}) }
	at := func(ring, k int) int32 { return int32(1 + ring*n + k%n) }
	for k := range n {
		tri(0, at(0, k+1), at(0, k))
		for r := range len(rings) - 1 {
			tri(at(r, k), at(r, k+1), at(r+1, k+1))
			tri(at(r, k), at(r+1, k+1), at(r+1, k))
		}
		tri(top, at(len(rings)-1, k), at(len(rings)-1, k+1))
	}
	return m
}
