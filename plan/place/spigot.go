package place

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"barwise/finding"
	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/shop/bar"
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
	if err := h.within(p.Bar); err != nil {
		return err
	}
	if err := o.root(h); err != nil {
		return err
	}
	h.Facet = h.facet()
	o.Spigot = h
	o.Mesh = mesh.Join(o.Mesh, h.mesh(o.StubY))
	o.Findings = append(o.Findings, o.judge()...)
	return nil
}

// judge says what is worth knowing of the spigot.
func (o *Placed) judge() []finding.Finding {
	var out []finding.Finding
	h := o.Spigot
	add := func(code string, sev finding.Severity, y0, y1 float64, text, hint string) {
		where := fmt.Sprintf("y %.4g mm", y0)
		if y1 > y0 {
			where = fmt.Sprintf("y %.4g to %.4g mm", y0, y1)
		}
		out = append(out, finding.Finding{Code: code, Severity: sev, Where: where, Text: text, Hint: hint})
	}
	if h.Share < weakShare {
		add("spigot-weak", finding.Warning, h.To, h.To,
			fmt.Sprintf("the spigot meets the model over %.0f %% of its section, %.3g mm²", 100*h.Share, o.Contact),
			"turn the model's broad end to the stub, make the spigot thinner, or bring the base onto the axis in the model")
	}
	if h.Bare > h.Radius {
		add("spigot-bare", finding.Note, o.Y0, o.Y0+h.Bare,
			fmt.Sprintf("the spigot runs %.3g mm beside the model before it is inside it", h.Bare),
			"what stands out is cleaned off after parting")
	}
	if h.StubFillet < h.Fillet {
		add("spigot-fillet", finding.Note, o.StubY, o.StubY,
			fmt.Sprintf("the fillet at the stub is %.3g mm, %.3g mm were asked for: the bar is no wider", h.StubFillet, h.Fillet),
			"make the spigot thinner where it has to be strong in the corner")
	}
	if h.PieceFillet < h.Fillet {
		why := "the model's base is no wider there"
		if h.Share < 1 {
			why = "the spigot is not wholly inside the model there"
		}
		add("spigot-fillet", finding.Note, h.Meets, h.Meets,
			fmt.Sprintf("the fillet at the piece is %.3g mm, %.3g mm were asked for: %s", h.PieceFillet, h.Fillet, why),
			"make the spigot thinner, or bring the base onto the axis in the model, where the corner has to be strong")
	}
	return out
}

// within fits the spigot and its fillet at the stub into the bar's section.
func (h *Held) within(b bar.Bar) error {
	room := h.room(b)
	if room < -slack {
		return finding.Bad("spigot-wide", "spigot", fmt.Sprintf("a spigot of %.4g mm across stands %.3g mm beyond the bar's face", 2*h.Radius, -room),
			"make the spigot thinner")
	}
	h.StubFillet = min(h.Fillet, max(room, 0))
	return nil
}

// room is how far the spigot's section can grow all round within the bar's; below 0 it stands out.
func (s Spigot) room(b bar.Bar) float64 {
	reach := func(deg float64) float64 {
		if !s.Square {
			return s.Radius
		}
		t := geom.TurnDeg(deg)
		return float64(s.Radius * (math.Abs(t.Sin) + math.Abs(t.Cos)))
	}
	if b.Shape == bar.Round {
		return b.Width/2 - reach(45)
	}
	least := math.Inf(1)
	for _, f := range b.Flats() {
		least = min(least, f.D-reach(f.Deg))
	}
	return least
}

// step is where a sample of the section comes to be inside the model, +1, or is so no longer, −1.
type step struct {
	y  float64
	by int
}

// steps orders the samples' spans along y. The last bit before the far side is no hold.
func steps(spans [][]span, limit float64) []step {
	var out []step
	for _, ss := range spans {
		for _, s := range ss {
			if s.lo+2*meet <= s.hi && s.lo <= limit {
				out = append(out, step{s.lo, 1}, step{s.hi - 2*meet, -1})
			}
		}
	}
	slices.SortFunc(out, func(a, b step) int { return cmp.Or(cmp.Compare(a.y, b.y), cmp.Compare(b.by, a.by)) })
	return out
}

// root finds how deep the spigot goes: to the lowest place where its whole section is inside the model,
// not far up; where there is none, to the lowest of those where most of it is.
func (o *Placed) root(h *Held) error {
	pts := h.samples()
	limit := o.Y0 + min(max(4*h.Radius, 0.15*(o.Y1-o.Y0)), 0.5*(o.Y1-o.Y0))
	spans := o.probe(pts)
	in, most, at := 0, 0, 0.0
	for _, s := range steps(spans, limit) {
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
	h.Meets, h.Bare = at, max(0, at-o.Y0)
	area := math.Pi * h.Radius * h.Radius
	if h.Square {
		area = 4 * h.Radius * h.Radius
	}
	o.Contact = h.Share * area
	if most == len(pts) && h.Fillet > 0 {
		o.flare(h, spans)
	}
	h.To = h.Meets + meet
	return nil
}

// flareSteps is how many sizes of a smaller fillet at the piece are tried.
const flareSteps = 32

// flare finds the largest fillet at the piece, up to the one asked for, whose foot is inside the model:
// the section grown by it, from where it meets the base on, as far as points on 32 outlines of it tell.
// On a base that bulges or slopes the foot lies a little higher than the spigot's own, by half the
// fillet at most: on a steeper one a smaller fillet does. core are the spans of the spigot's own section, all of it inside the model at Meets.
func (o *Placed) flare(h *Held, core [][]span) {
	const about = 96
	var pts []geom.Vec2
	for k := 1; k <= flareSteps; k++ {
		pts = append(pts, h.outline(h.Fillet*float64(k)/flareSteps, about)...)
	}
	spans := o.probe(pts)
	for k := flareSteps; k > 0; k-- {
		f := h.Fillet * float64(k) / flareSteps
		limit := h.Meets + f/2
		n, in := about*k+len(core), 0
		for _, s := range steps(append(spans[:about*k:about*k], core...), limit) {
			if s.y > limit {
				break
			}
			if in += s.by; in == n && s.y >= h.Meets {
				h.PieceFillet, h.Meets = f, s.y
				return
			}
		}
	}
}
