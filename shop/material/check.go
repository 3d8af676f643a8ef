package material

import (
	"fmt"

	"barwise/finding"
)

// Check returns what is wrong with the material's figures, Where being the key in its file: a figure
// needs a source or the mark of an estimate, a range its ends in order.
func (m Material) Check() []finding.Finding {
	var out []finding.Finding
	bad := func(is bool, where, format string, a ...any) {
		if is {
			out = append(out, finding.Finding{Code: "material-figure", Severity: finding.Blocking, Where: where, Text: fmt.Sprintf(format, a...)})
		}
	}
	for _, f := range m.Figures() {
		bad(f.Figure.Value < 0, f.Key, "%g, allowed is 0 (not known) or more", f.Figure.Value)
		bad(f.Figure.Value > 0 && f.Figure.Source == "" && !f.Figure.Estimate, f.Key, "no source, and not marked as an estimate")
	}
	bad(!(m.Density.Value > 0), "density", "density %g g/cm3, allowed is more than 0", m.Density.Value)
	bad(!(m.ChipPerMM.Value > 0), "chip_per_mm", "chip load %g for each mm of diameter, allowed is more than 0", m.ChipPerMM.Value)
	bad(!(m.Speed.Min > 0) || m.Speed.Max < m.Speed.Min, "speed", "surface speed %g to %g m/min, allowed is a rising range above 0", m.Speed.Min, m.Speed.Max)
	bad(m.Speed.Source == "" && !m.Speed.Estimate, "speed", "no source, and not marked as an estimate")
	for i, c := range m.Cautions {
		bad(c.Text == "" || c.Source == "", "cautions", "caution %d has no text or no source", i+1)
	}
	return out
}

// Named is a figure with its key and unit, for tables.
type Named struct {
	Key, Unit string
	Figure    Figure
}

// Figures lists the material's single figures in a fixed order.
func (m Material) Figures() []Named {
	return []Named{
		{"density", "g/cm3", m.Density}, {"chip_per_mm", "mm/mm", m.ChipPerMM}, {"kc1", "N/mm2", m.Kc1}, {"mc", "", m.Mc},
		{"modulus", "GPa", m.Modulus}, {"strength", "MPa", m.Strength}, {"growth", "1e-6/K", m.Growth},
	}
}

// Mid is the middle of the range.
func (r Range) Mid() float64 { return (r.Min + r.Max) / 2 }
