// Package material describes what a bar is made of, each figure with its source.
package material

// Figure is a value with where it comes from. Estimate marks one with little published backing.
type Figure struct {
	Value    float64
	Source   string
	Estimate bool
}

// Range is a span of values with where it comes from.
type Range struct {
	Min, Max float64
	Source   string
	Estimate bool
}

// Caution is one thing that can hurt, with its source.
type Caution struct {
	Text   string
	Source string
}

// Material is one kind of stock.
type Material struct {
	ID        string
	Title     string
	Density   Figure // g/cm³
	Speed     Range  // surface speed, m/min, carbide
	ChipPerMM Figure // chip load per tooth for each mm of cutter diameter, mm
	Kc1       Figure // specific cutting force at 1 mm chip, N/mm²; 0: none published
	Mc        Figure // Kienzle exponent
	Modulus   Figure // GPa, in tension or bending
	Strength  Figure // MPa, the strength a thin neck breaks at: bending strength of a brittle material, yield of a metal
	Engage    Figure // degrees, the arc of a roughing cutter's rim that may be in it; 0: not known
	Growth    Figure // thermal expansion, 10⁻⁶ a kelvin
	Brittle   bool   // breaks without yielding
	Group     string // letter of ISO 513 (N: non-ferrous), "" for what the standard does not cover
	Cautions  []Caution
}
