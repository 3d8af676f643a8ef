package fragile

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"barwise/finding"
	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/patch"
	"barwise/shop/material"
)

// Rules of the estimates; common practice or plain judgement, no source, and said so in the figures.
const (
	rub         = 1.0   // N that a cutter presses with before it cuts anything
	chipArea    = 0.003 // mm², a finishing chip 0.1 mm by 0.03 mm
	chipThick   = 0.03  // mm
	plainForce  = 2.0   // N, where no cutting force is known
	plainLimit  = 1.0   // mm, where no strength is known
	yields      = 2.0   // safety of what yields before it breaks
	breaks      = 3.0   // safety of what does not
	beamFrom    = 2.0   // length over thickness from which a part bends as a beam does
	slenderFrom = 5.0   // length over thickness from which a part is listed
	maxSections = 400
	leastStep   = 0.05 // mm
	stray       = 1e-5 // part of the volume that may be off the held end without a word
	askew       = 0.55 // a part is judged in the direction it follows: cosine at least this
)

// Safety is how many times the stress that is reckoned with must fit in the strength: an estimate.
func Safety(m material.Material) float64 {
	if m.Brittle {
		return breaks
	}
	return yields
}

// SideForce is an estimate of the side force of a finishing cutter, N: it presses with 1 N and cuts a
// chip of 0.1 mm by 0.03 mm by the material's specific cutting force, kc1 h^−mc.
func SideForce(m material.Material) Figure {
	if !(m.Kc1.Value > 0) {
		return Figure{plainForce, "estimate, no source: no cutting force is known for the material"}
	}
	f := rub + float64(chipArea*m.Kc1.Value*math.Pow(chipThick, -m.Mc.Value))
	return Figure{math.Round(f*100) / 100, "estimate, no source: 1 N and a chip of 0.1 mm by 0.03 mm by the material's specific cutting force"}
}

// ThinLimit is an estimate of how thin a wall may be, mm: a plate as wide as it is high, held at its
// foot, is stressed by 6F/t² by a force F at its edge, whatever its height.
func ThinLimit(m material.Material, force float64) Figure {
	if !(m.Strength.Value > 0) {
		return Figure{plainLimit, "estimate, no source: no strength is known for the material"}
	}
	s := Safety(m)
	t := math.Sqrt(6 * force * s / m.Strength.Value)
	return Figure{math.Round(t*100) / 100, fmt.Sprintf("estimate, no source: a wall as wide as it is high takes %.3g N at its edge %g times over at %.4g MPa", force, s, m.Strength.Value)}
}

func (p *Params) fill(m *mesh.Mesh) (limit, force Figure, err error) {
	for _, f := range []struct {
		name string
		v    float64
	}{{"limit", p.Limit}, {"force", p.ForceN}, {"tolerance", p.Tolerance}, {"step", p.Step}} {
		if !(f.v >= 0) || math.IsInf(f.v, 0) {
			return limit, force, finding.Bad("fragile-figure", f.name, fmt.Sprintf("found %g, allowed is 0 (by default) or more", f.v), "")
		}
	}
	if p.Tolerance == 0 {
		p.Tolerance = 0.01
	}
	if p.Most <= 0 {
		p.Most = 20
	}
	if p.Triangles <= 0 || p.Triangles > len(m.Triangles) {
		p.Triangles = len(m.Triangles)
	}
	if force = (Figure{p.ForceN, "given"}); p.ForceN == 0 {
		force = SideForce(p.Material)
	}
	if limit = (Figure{p.Limit, "given"}); p.Limit == 0 {
		limit = ThinLimit(p.Material, force.Value)
	}
	return limit, force, nil
}

// Judge judges the placed mesh m in the part frame, held at p.StubY, with the thickness of every patch
// of set in mm (nil: no thin places are looked for). The mesh should be closed and face outward; where
// it is open the sections are closed by straight lines, and Result.Open counts them.
//
// A part is judged as a beam by its own sections: along Y all the way to the grip, along X and Z to the
// body. Not counted are shear (which matters for stubby parts that do not bend anyway), the give of the
// body under an arm, and the second foot of a ring. The error is ctx's, or a *finding.InputError.
func Judge(ctx context.Context, m *mesh.Mesh, thickness []float32, set *patch.Set, p Params) (*Result, error) {
	limit, force, err := p.fill(m)
	if err != nil {
		return nil, err
	}
	r := &Result{Limit: limit, Force: force}
	if thickness != nil {
		if len(thickness) != set.Len() {
			return nil, fmt.Errorf("fragile: %d thicknesses for %d patches", len(thickness), set.Len())
		}
		r.thin(thickness, set, p)
	}
	box := m.Box()
	if !box.Min.Finite() || !box.Max.Finite() || !(box.Max.Y > p.StubY) {
		return nil, finding.Bad("fragile-place", fmt.Sprintf("y %.4g mm", p.StubY),
			"no finite part of the model stands beyond where it is held", "place the model in the bar first")
	}
	step := p.Step
	if step == 0 {
		step = max(leastStep, (box.Max.Y-p.StubY)/maxSections)
	}
	for _, d := range []struct {
		f      frame
		lo, hi float64
	}{{alongY, p.StubY, box.Max.Y}, {alongX, box.Min.X, box.Max.X}, {alongZ, box.Min.Z, box.Max.Z}} {
		if !(d.hi > d.lo) {
			continue
		}
		c, err := newSlicer(ctx, m, d.f, p.Triangles, d.lo, d.hi, step)
		if err != nil {
			return nil, err
		}
		b, err := c.cut(ctx)
		if err != nil {
			return nil, err
		}
		if len(b.parts) == 0 {
			continue
		}
		b.hang(b.held())
		brs := b.branches()
		if d.f == alongY {
			r.axial(b, b.top(), limit.Value)
		}
		r.slender(b, brs, p)
	}
	r.settle(p)
	return r, ctx.Err()
}

// held is the part the piece hangs on: along the bar the largest of the lowest plane, across it the
// largest of all.
func (b *piece) held() int32 {
	best, end := 0, len(b.parts)
	if b.frame == alongY {
		k := b.parts[0].k
		end = b.first[k+1]
	}
	for i := range end {
		if b.parts[i].area > b.parts[best].area {
			best = i
		}
	}
	return int32(best)
}

// top is the way down from the highest part that is joined to the held end, of several the largest.
func (b *piece) top() branch {
	best := b.root
	for i := range b.parts {
		p, q := &b.parts[i], &b.parts[best]
		if b.parent[i] != -2 && (p.k > q.k || p.k == q.k && p.area > q.area) {
			best = int32(i)
		}
	}
	var way []int32
	for i := best; i >= 0; i = b.parent[i] {
		way = append(way, i)
	}
	return branch{way, len(way)}
}

// axial tells of the sections along the bar: those of the way from the grip to the far end.
func (r *Result) axial(b *piece, br branch, contact float64) {
	l := b.press(br, contact)
	for i := range b.parts {
		v := float64(b.parts[i].area * b.step)
		r.Volume += v
		if b.parent[i] == -2 {
			r.Loose += v
		}
	}
	r.Open = b.open
	for i := len(br.way) - 1; i >= 0; i-- {
		p := &b.parts[br.way[i]]
		if n := len(r.Sections); n > 0 && b.at(p.k) <= r.Sections[n-1].Y {
			continue // a way that turns down and up again, over a crook, is listed where it goes up
		}
		s := Section{Y: b.at(p.k), Area: p.area, Centroid: geom.Vec2{X: p.c.Y, Y: p.c.X},
			IXX: p.uu, IZZ: p.vv, IXZ: p.uv, Parts: b.first[p.k+1] - b.first[p.k], Spigot: p.spigot}
		if i >= l.from {
			s.Stress = r.Force.Value * math.Abs(l.tip.Z-s.Y) * p.modulus
		}
		r.Sections = append(r.Sections, s)
	}
	for i := range r.Sections {
		s := &r.Sections[i]
		to := &r.Weakest
		if s.Spigot {
			to = &r.Spigot
		}
		if *to == nil || s.Stress > (*to).Stress {
			*to = s
		}
	}
}

// slender lists the parts that bend, or are slender enough to be worth a look.
func (r *Result) slender(b *piece, brs []branch, p Params) {
	modulus := p.Material.Modulus.Value * 1000 // MPa
	for n, br := range brs {
		if br.own < 3 {
			continue
		}
		l := b.press(br, r.Limit.Value)
		// it begins where nine tenths of the bending are above
		foot := l.from
		for foot+1 < br.own && l.cum[foot-l.from] < 0.9*l.cum[min(len(l.cum), br.own-l.from)-1] {
			foot++
		}
		s := Slender{What: "arm", Along: b.out(0, 0, 1),
			Root: b.centre(br.way[foot]), Tip: b.out(l.tip.X, l.tip.Y, l.tip.Z),
			Stress: r.Force.Value * l.press, StressAt: b.centre(br.way[l.worst])}
		if n > 0 && foot == br.own-1 && br.own < len(br.way) {
			s.Root = b.centre(br.way[br.own-1])
		}
		chord := s.Tip.Sub(s.Root)
		s.Length = chord.Len()
		if s.Length == 0 || math.Abs(chord.Dot(s.Along)) < askew*s.Length {
			continue
		}
		s.Thick = math.Inf(1)
		for i := l.from + (foot-l.from)/10; i <= foot; i++ {
			s.Thick = min(s.Thick, b.parts[br.way[i]].thick)
		}
		// what is shorter than the limit is a thin place, if anything
		if s.Slenderness = s.Length / s.Thick; s.Slenderness < beamFrom || s.Length < r.Limit.Value {
			continue
		}
		if modulus > 0 {
			s.Own = r.Force.Value * l.own.largest() / modulus
			s.Bends = r.Force.Value * l.all.largest() / modulus
		}
		if b.frame == alongY {
			if s.What = "mast"; chord.Y < 0 {
				s.What = "hanging"
			}
		}
		if s.Own > p.Tolerance || s.Slenderness >= slenderFrom {
			r.Slender = append(r.Slender, s)
		}
	}
}

// settle sorts what was found, drops what was found twice and makes the findings.
func (r *Result) settle(p Params) {
	slices.SortStableFunc(r.Slender, func(a, b Slender) int {
		return cmp.Or(-cmp.Compare(a.Own, b.Own), -cmp.Compare(a.Slenderness, b.Slenderness), cmp.Compare(a.Tip.Y, b.Tip.Y))
	})
	var kept []Slender
	for _, s := range r.Slender {
		twice := slices.ContainsFunc(kept, func(o Slender) bool {
			return s.Tip.Sub(o.Tip).Len() < max(2*o.Thick, 0.05*o.Length)
		})
		if !twice && len(kept) < p.Most {
			kept = append(kept, s)
		}
	}
	r.Slender = kept
	r.say(p)
	finding.Sort(r.Findings)
}
