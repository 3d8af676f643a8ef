package fragile

import (
	"fmt"
	"math"

	"barwise/finding"
	"barwise/geom"
)

func at(p geom.Vec3) string { return fmt.Sprintf("x %.3f y %.3f z %.3f", p.X, p.Y, p.Z) }

func (r *Result) add(code string, s finding.Severity, where, text, hint string) {
	r.Findings = append(r.Findings, finding.Finding{Code: code, Severity: s, Where: where, Text: text, Hint: hint})
}

// say turns figures into findings.
func (r *Result) say(p Params) {
	r.sayThin(p)
	r.saySlender(p)
	r.sayWeak(p)
	if r.Loose > stray*r.Volume {
		r.add("not-joined", finding.Note, "", fmt.Sprintf("%.3g mm³ of the model are not joined to the held end", r.Loose),
			"see whether the model is one piece; parts that touch in less than a section's step count as apart")
	}
	if r.Open > 0 {
		r.add("section-open", finding.Note, "", fmt.Sprintf("%d outlines of sections were closed by a straight line, for the mesh is open there", r.Open),
			"stiffness and stress are estimates there; mend the mesh")
	}
}

// named is how many places and parts get a finding of their own; the rest share one.
const named = 5

func (r *Result) sayThin(p Params) {
	for i, t := range r.Thin {
		if i == named {
			area := 0.0
			for _, t := range r.Thin[i:] {
				area += t.Area
			}
			r.add("thin-wall", finding.Note, fmt.Sprintf("%d more places", len(r.Thin)-i),
				fmt.Sprintf("%.3g mm² of surface are thinner than %.3g mm there", area, r.Limit.Value), "see the thickness map")
			break
		}
		name := map[string]string{"wall": "a wall", "edge": "an edge", "point": "a point"}[t.What]
		text := fmt.Sprintf("%s is %.3g mm thick, half of it under %.3g: %.3g mm² of surface are thinner than %.3g mm", name, t.Least, t.Mostly, t.Area, r.Limit.Value)
		if t.Stress > 0 {
			text += fmt.Sprintf("; %.3g N at its edge stress it by about %.3g MPa", r.Force.Value, t.Stress)
			if t.Bends > 0 {
				text += fmt.Sprintf(" and bend it by about %.3g µm", t.Bends*1000)
			}
		}
		sev := finding.Note
		if t.What == "wall" {
			sev = finding.Warning
		}
		r.add("thin-wall", sev, at(t.At), text, fmt.Sprintf("thicken it to %.3g mm in the model, or finish both its faces a little at a time from the top down, while stock still stands below", r.Limit.Value))
	}
}

func (r *Result) saySlender(p Params) {
	n := 0
	for i, s := range r.Slender {
		switch {
		case n == named:
			r.add("slender", finding.Note, fmt.Sprintf("%d more parts", len(r.Slender)-i),
				"they bend less than those named, or are slender without bending too far", "see the list of slender parts")
			return
		case s.Own > p.Tolerance:
			r.sayBends(s, p)
			n++
		case s.Bends == 0:
			r.add("slender", finding.Note, at(s.Tip), fmt.Sprintf("the %s is %.3g mm long and %.3g mm thick, %.3g times; how much it bends is not known without the material's modulus",
				part(s), s.Length, s.Thick, s.Slenderness), "thicken it, or cut it early, while stock stands around it")
			n++
		}
	}
}

func (r *Result) sayBends(s Slender, p Params) {
	// the way goes with the fourth power of the thickness
	enough := s.Thick * math.Sqrt(math.Sqrt(s.Own/p.Tolerance))
	hint := fmt.Sprintf("thicken it to about %.2g mm, or finish it first, from the tip down, while stock still stands around its foot", enough)
	if s.What == "mast" {
		hint += ", or hold the free end too"
	} else {
		hint += ", or leave a support under it"
	}
	text := fmt.Sprintf("the %s, %.3g mm long and %.3g mm thick, bends by %.3g µm at its tip under %.3g N, allowed are %.3g",
		part(s), s.Length, s.Thick, s.Own*1000, r.Force.Value, p.Tolerance*1000)
	if s.Bends > 1.1*s.Own {
		text += fmt.Sprintf("; with what it stands on %.3g µm", s.Bends*1000)
	}
	if k := p.Material.Strength.Value; k > 0 && s.Stress*Safety(p.Material) > k {
		text += fmt.Sprintf("; it may break: %.3g MPa of %.4g, %g times is asked", s.Stress, k, Safety(p.Material))
	}
	r.add("slender", finding.Warning, at(s.Tip), text, hint)
}

func part(s Slender) string {
	if s.What == "hanging" {
		return "hanging part"
	}
	return s.What
}

func (r *Result) sayWeak(p Params) {
	strength := p.Material.Strength.Value
	if !(strength > 0) {
		return
	}
	for _, w := range []struct {
		name string
		s    *Section
	}{{"piece", r.Weakest}, {"spigot", r.Spigot}} {
		if w.s == nil || w.s.Stress*Safety(p.Material) <= strength {
			continue
		}
		text := fmt.Sprintf("the %s's weakest section, %.3g mm², is stressed by %.3g MPa under %.3g N at the far end; %.4g MPa are its strength and %g times is asked",
			w.name, w.s.Area, w.s.Stress, r.Force.Value, strength, Safety(p.Material))
		if p.Material.Brittle {
			// Roark, table 17.1, shoulder fillet of a round bar in bending, D 12 and d 4: 1.684 at r 0.5, 1.213 at r 2
			text += "; it is brittle, so that an inside corner multiplies this in full, 1.7 times with a fillet of an eighth of the thickness, 1.2 times with one of half"
		}
		r.add("weak-section", finding.Warning, fmt.Sprintf("y %.3f", w.s.Y), text, "thicken it, hold the free end too, or leave stock around it until the end")
	}
}
