// Package fragile says where a piece is likely to break or to bend away under the cutter.
package fragile

import (
	"barwise/finding"
	"barwise/geom"
	"barwise/shop/material"
)

// Params says what the piece is made of and how it is held. Zero fields mean what is said beside them.
type Params struct {
	Material material.Material

	StubY     float64 // mm, part frame: the piece is held there, at its low end
	Triangles int     // how many of the mesh's triangles are the model's own, they come first; the others are the spigot. 0: all

	Limit     float64 // mm: what is thinner is flagged; 0: by the material's strength
	ForceN    float64 // N, the side force of a finishing cutter; 0: by the material, an estimate
	Tolerance float64 // mm: a part that bends more than this is flagged; 0: 0.01
	Step      float64 // mm between sections; 0: the length by 400, but no less than 0.05
	Most      int     // thin places and slender parts listed at most; 0: 20
}

// Figure is a number with where it comes from.
type Figure struct {
	Value  float64
	Source string
}

// Result is what was found. Lengths are mm, part frame.
type Result struct {
	Limit Figure // mm, thinner than this is fragile
	Force Figure // N, the side force that is reckoned with

	Least   float64   // least thickness over the surface
	LeastAt geom.Vec3 // where
	Below   float64   // mm² of surface thinner than the limit, small places included
	Thin    []Thin    // the connected places of it: walls, then edges, then points, each the thinnest first

	Slender []Slender // parts that stand out, those that bend most first

	Sections []Section // along the bar from the held end: what carries the load to the grip at each y
	Weakest  *Section  // of the model, by bending stress; nil where there is no section
	Spigot   *Section  // the same of the spigot; nil without one
	Volume   float64   // mm³ above StubY by the sections: their areas times the step
	Loose    float64   // mm³ of that not joined to the held end
	Open     int       // outlines of sections closed by a straight line, for the mesh is open there
	Findings []finding.Finding
}

// Thin is a connected part of the surface that is thinner than the limit.
type Thin struct {
	At     geom.Vec3 // where it is thinnest
	Box    geom.Box3
	Least  float64 // mm
	Mostly float64 // mm, half of the place by area is thinner
	Area   float64 // mm² of surface, both faces of a wall
	Extent float64 // mm, second longest edge of Box: about how high the wall stands
	Stress float64 // MPa at its foot, a plate as wide as it is high under Force at its edge
	Bends  float64 // mm at its edge under Force, the same plate; 0: modulus not known
	What   string  // "wall", "edge" or "point"
}

// Slender is a part that stands out from what holds it.
type Slender struct {
	Root, Tip   geom.Vec3 // where it leaves the body, and its end
	Along       geom.Vec3 // direction in which it was cut into sections
	Length      float64   // mm from root to tip
	Thick       float64   // mm, least thickness of its sections over the lower nine tenths
	Slenderness float64   // Length / Thick
	Bends       float64   // mm at the tip under Force, down to the grip (of a part along the bar) or to the body; 0: modulus not known
	Own         float64   // mm of that by the part itself, held where it leaves the body
	Stress      float64   // MPa, the greatest along it under Force at its tip
	StressAt    geom.Vec3
	What        string // "mast", "arm", "hanging": up from the held end, sideways, down from above
}

// Section is what carries the load at one place along the bar.
type Section struct {
	Y             float64
	Area          float64   // mm²
	Centroid      geom.Vec2 // X and Z
	IXX, IZZ, IXZ float64   // second moments about the centroid: ∫ z², ∫ x², ∫ x·z, mm⁴
	Stress        float64   // MPa, bending under Force at the piece's far end, in its weakest direction
	Parts         int       // separate parts of the piece at this place
	Spigot        bool      // the spigot's and not the model's
}
