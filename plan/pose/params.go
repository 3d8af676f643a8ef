package pose

import (
	"fmt"
	"math"

	"barwise/finding"
	"barwise/geom"
	"barwise/shop/bar"
	"barwise/shop/cutter"
)

// remainder is math.Remainder with what is rounding taken for 0.
func remainder(a, b float64) float64 {
	r := math.Remainder(a, b)
	if math.Abs(r) < 1e-9 {
		return 0
	}
	return r
}

// checked fills what is left out and refuses what makes no sense.
func (p Params) checked() (Params, error) {
	or := func(v *float64, def float64) {
		if *v == 0 {
			*v = def
		}
	}
	if p.Bar.Shape == "" {
		p.Bar.Shape = bar.Square
	}
	if p.Cutter.R == 0 {
		p.Cutter = cutter.Cutter{ID: "ball-1", Profile: cutter.Ball(0.5), LCF: 3, LU: 14, DN: 0.95, DMM: 3}
	}
	or(&p.Cusp, 0.005)
	or(&p.Feed, 15)
	or(&p.Rate, 10)
	or(&p.TurnTime, 180)
	or(&p.SteepFrom, 70)
	if p.Weights == nil {
		w := DefaultWeights
		p.Weights = &w
	}
	if p.Most <= 0 {
		p.Most = 5
	}
	if len(p.Set.Sides) == 0 {
		p.Set.Sides = p.Bar.Angles()
	}
	if p.Compare == nil {
		for _, n := range [...]int{2, 3, 4, 6} {
			p.Compare = append(p.Compare, Set{Even(n), false}, Set{Even(n), true})
		}
	}
	for _, v := range [...]struct {
		name string
		v    float64
	}{{"margin", p.Margin}, {"extra length", p.Extra}, {"spigot", p.Spigot}, {"cusp", p.Cusp}, {"feed", p.Feed},
		{"rate", p.Rate}, {"turn time", p.TurnTime}, {"cutter's radius", p.Cutter.R}, {"bar's width", p.Bar.Width},
		{"bar's height", p.Bar.Height}, {"bar's length", p.Bar.Length}} {
		if !(v.v >= 0) || math.IsInf(v.v, 1) {
			return p, finding.Bad("pose", v.name, fmt.Sprintf("%g: 0 or more is allowed", v.v), "")
		}
	}
	if !(p.SteepFrom > 0 && p.SteepFrom < 90) {
		return p, finding.Bad("pose", "steep", fmt.Sprintf("%g°: between 0° and 90° is allowed", p.SteepFrom), "")
	}
	for _, s := range append([]Set{p.Set}, p.Compare...) {
		for _, d := range s.Sides {
			if math.IsNaN(d) || math.IsInf(d, 0) {
				return p, finding.Bad("pose", "sides", fmt.Sprintf("%g°: a number is needed", d), "")
			}
		}
		if len(s.Sides) == 0 && !s.End {
			return p, finding.Bad("pose", "sides", "a set of no sides and no end", "name at least one")
		}
	}
	if d := p.Dir; d != nil && (!d.Finite() || *d == (geom.Vec3{})) {
		return p, finding.Bad("pose", "direction", fmt.Sprintf("(%g, %g, %g): a direction is needed", d.X, d.Y, d.Z), "")
	}
	if p.Turn != nil && (p.Dir == nil || math.IsNaN(*p.Turn) || math.IsInf(*p.Turn, 0)) {
		return p, finding.Bad("pose", "turn", fmt.Sprintf("%g° is held and no direction is", *p.Turn), "hold the direction too")
	}
	return p, nil
}

// section is the shape that a set's figures are for: the bar's own where it is round, for there are blocks of
// both kinds, or has the set's angles; else a square bar, else a hexagonal one.
func (p Params) section(s Set) bar.Shape {
	if p.Bar.Shape == bar.Round {
		return bar.Round
	}
	for _, b := range [...]bar.Bar{p.Bar, {Shape: bar.Square}, {Shape: bar.Hex}} {
		ok := true
		for _, d := range s.Sides {
			ok = ok && holds(b, d)
		}
		if ok {
			return b.Shape
		}
	}
	return bar.Round
}

// holds is bar.Holds but for rounding and whole turns.
func holds(b bar.Bar, deg float64) bool {
	for _, a := range b.Angles() {
		if remainder(a-deg, 360) == 0 {
			return true
		}
	}
	return false
}

// stepover on the surface that leaves the cusp: s = 2√(2ρh − h²). A cutter without a round end is stepped
// by 0.6 of its radius (common practice, no source).
func (p Params) stepover() float64 {
	r, h := p.Cutter.Round, p.Cusp
	if r <= 0 {
		return 0.6 * p.Cutter.R
	}
	h = min(h, r)
	return 2 * math.Sqrt(float64(2*r*h)-float64(h*h))
}
