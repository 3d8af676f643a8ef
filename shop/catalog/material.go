package catalog

import (
	"fmt"

	"barwise/form"
	"barwise/shop/material"
	"barwise/unit"
)

// MaterialsForm is a file of materials.
type MaterialsForm struct {
	Units     string                   `yaml:"units" jsonschema:"enum=mm,enum=in" jsonschema_description:"unit of plain numbers in this file" std:"mm"`
	Materials form.Table[MaterialForm] `yaml:"materials" jsonschema:"required" jsonschema_description:"the materials by the name a job calls them"`
}

// MaterialForm is a material as it is written.
type MaterialForm struct {
	Like      string        `yaml:"like" jsonschema_description:"take what is left out here from the material of this name"`
	Title     string        `yaml:"title" jsonschema_description:"words for a reader"`
	Group     string        `yaml:"group" jsonschema:"enum=P,enum=M,enum=K,enum=N,enum=S,enum=H" jsonschema_description:"letter of ISO 513"`
	Density   *FigureForm   `yaml:"density" jsonschema_description:"density in g/cm3"`
	Speed     *RangeForm    `yaml:"speed" jsonschema_description:"surface speed for carbide"`
	ChipPerMM *FigureForm   `yaml:"chip_per_mm" jsonschema_description:"chip load a tooth for each mm of cutter diameter, in mm"`
	Kc1       *FigureForm   `yaml:"kc1" jsonschema_description:"specific cutting force at a chip 1 mm thick, in N/mm2"`
	Mc        *FigureForm   `yaml:"mc" jsonschema_description:"exponent of the specific cutting force"`
	Modulus   *FigureForm   `yaml:"modulus" jsonschema_description:"elastic modulus in GPa"`
	Strength  *FigureForm   `yaml:"strength" jsonschema_description:"strength of a thin neck in MPa: bending strength of what is brittle, yield of a metal"`
	Engage    *FigureForm   `yaml:"engage" jsonschema_description:"greatest arc of a roughing cutter's rim in stock, in degrees"`
	Growth    *FigureForm   `yaml:"growth" jsonschema_description:"thermal expansion in 1e-6 a kelvin"`
	Brittle   *bool         `yaml:"brittle" jsonschema_description:"breaks without yielding" std:"false"`
	Cautions  []CautionForm `yaml:"cautions" jsonschema_description:"what can hurt"`
}

// FigureForm is a value with its source.
type FigureForm struct {
	Value    float64 `yaml:"value" jsonschema:"required" min:"0" jsonschema_description:"the figure"`
	Source   string  `yaml:"source" jsonschema_description:"where it comes from"`
	Estimate bool    `yaml:"estimate" jsonschema_description:"little published backing" std:"false"`
}

// RangeForm is a span of surface speeds with its source.
type RangeForm struct {
	Min      unit.Surface `yaml:"min" jsonschema:"required" above:"0" jsonschema_description:"lowest"`
	Max      unit.Surface `yaml:"max" jsonschema:"required" above:"0" jsonschema_description:"highest"`
	Source   string       `yaml:"source" jsonschema_description:"where it comes from"`
	Estimate bool         `yaml:"estimate" jsonschema_description:"little published backing" std:"false"`
}

// CautionForm is one caution.
type CautionForm struct {
	Text   string `yaml:"text" jsonschema:"required" jsonschema_description:"what can hurt and what to do"`
	Source string `yaml:"source" jsonschema:"required" jsonschema_description:"who says so"`
}

// Resolve makes the material of name id from what is written at path.
func (f MaterialForm) Resolve(d *form.Doc, path, id string, lookup func(string) (material.Material, bool)) (material.Material, error) {
	var m material.Material
	if f.Like != "" {
		base, ok := lookup(f.Like)
		if !ok {
			return m, d.Bad("name", path+".like", fmt.Sprintf("found no material %q to be like", f.Like), "")
		}
		m = base
	}
	m.ID = id
	word(&m.Title, f.Title)
	word(&m.Group, f.Group)
	for _, x := range []struct {
		to   *material.Figure
		from *FigureForm
	}{{&m.Density, f.Density}, {&m.ChipPerMM, f.ChipPerMM}, {&m.Kc1, f.Kc1}, {&m.Mc, f.Mc},
		{&m.Modulus, f.Modulus}, {&m.Strength, f.Strength}, {&m.Growth, f.Growth}, {&m.Engage, f.Engage}} {
		if x.from != nil {
			*x.to = material.Figure{Value: x.from.Value, Source: x.from.Source, Estimate: x.from.Estimate}
		}
	}
	if f.Speed != nil {
		m.Speed = material.Range{Min: float64(f.Speed.Min), Max: float64(f.Speed.Max), Source: f.Speed.Source, Estimate: f.Speed.Estimate}
	}
	if f.Brittle != nil {
		m.Brittle = *f.Brittle
	}
	if f.Cautions != nil {
		m.Cautions = nil
		for _, c := range f.Cautions {
			m.Cautions = append(m.Cautions, material.Caution{Text: c.Text, Source: c.Source})
		}
	}
	if m.Title == "" {
		m.Title = id
	}
	return m, firstFault(d, path, m.Check())
}
