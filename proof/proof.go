// Package proof judges programs by replaying what their text says.
//
// It knows nothing of how the programs were planned: it takes moves read back from text, the cutters
// that run them, the model and the set-up, and reports what the machine would leave, each figure with
// its bound. docs/proof.md states every law used.
package proof

import (
	"barwise/finding"
	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/path"
	"barwise/shop/bar"
	"barwise/shop/cutter"
	"barwise/shop/machine"
	"barwise/stock"
)

// Program is one program as read from its text, in the frame of its side, with the cutter that runs it.
// A coordinate of Start that is not known before the first move is NaN: nothing is checked until every
// axis has been told where to be.
type Program struct {
	path.Program
	Cutter cutter.Cutter
}

// Setup is everything the programs are held against. Lengths are mm.
type Setup struct {
	Target  *mesh.Mesh // part frame: the model, perhaps with a spigot shell
	Keep    Keep       // surfaces that are not judged for left-over
	Bar     bar.Bar
	Sides   []float64 // index angles, degrees, or geom.EndDeg; every program's SideDeg is one of them
	StubY   float64   // below it the bar is never cut
	Vise    [][]Block // what must not be touched on each side, in the order of Sides; side frame
	Machine machine.Machine

	// ToMachine takes a tip position of the side frame to the machine's axes relative to program zero.
	// nil: by Machine.BarAlong, signs as for a bar that lies along +X or +Y. The end side's are the same axes.
	ToMachine func(geom.Vec3) geom.Vec3
	// Zero is where program zero lies, from the low end of each axis' travel; nil: not known, and only
	// the extents of the moves are held against the travel, as are the end side's, whose zero is elsewhere.
	Zero *geom.Vec3

	Tolerance   float64 // greatest left-over that counts as in tolerance; 0: 0.01
	GougeTol    float64 // greatest gouge depth let pass; 0: 0.005
	RapidClear  float64 // least distance of a rapid move from what is left; 0: the grid's pitch decides alone
	ShankClear  float64 // least distance of neck and shank from what is left
	HolderClear float64 // least distance of the holder from what is left
	Limits      Limits
	Pitch       float64 // of the stack's fields; 0: 0.1
	Spacing     float64 // greatest distance of left-over samples; 0: 0.3

	// After, where set, is called once after each program with the stack as that program leaves it. The
	// stack goes on being cut once it returns: copy what is to be kept.
	After func(program int, s *stock.Stack)
}

// Keep says which surfaces of the target are not judged for left-over. The bar below Setup.StubY is
// kept always.
type Keep struct {
	Spigots []Spigot
	Y       [][2]float64 // spans of y whose surface is not judged
}

// Spigot is a cylinder about the axis that joins the piece to the stub.
type Spigot struct{ Radius, Y0, Y1 float64 }

// Block is a box that nothing of the cutter may enter: a jaw, the stop, the vise's floor.
type Block struct {
	Name string
	Box  geom.Box3
}

// Limits are the material's figures; a zero is not checked.
type Limits struct {
	ChipMin, ChipMax   float64 // chip load a tooth, mm for each mm of cutter diameter
	SpeedMin, SpeedMax float64 // surface speed, m/min
}

// Verdict is the proof in three words.
type Verdict string

// Verdicts.
const (
	Proven             Verdict = "proven"
	ProvenWithWarnings Verdict = "proven with warnings"
	NotProven          Verdict = "not proven"
)

// Place says where something happens: in the text, and on the part.
type Place struct {
	Program string    // file name; empty: not tied to a program
	Line    int32     // of the text, from 1; 0: not known
	SideDeg float64   // index angle, or geom.EndDeg
	Point   geom.Vec3 // part frame, mm
}

// Result is what the replay shows. µm where the name says UM, mm, mm², mm³ otherwise.
type Result struct {
	Verdict  Verdict
	Gouge    Gouge
	Leftover Leftover
	Area     Area
	// AreaInTolerance is the share, 0..1, of the judged surface that is certified to carry no more than
	// Setup.Tolerance; what cannot be reached counts against it.
	AreaInTolerance float64
	Moves           int     // moves judged
	Segments        int     // straight pieces they were judged as
	Samples         int64   // points of the surface that were measured
	Pitch           float64 // of the stack
	Spacing         float64 // of the samples
	Programs        []Figures
	Findings        []finding.Finding
	Map             Map
	Stack           *stock.Stack // what the programs leave
}

// Gouge is the deepest cut into the model, measured across its surface.
type Gouge struct {
	MaxUM   float64 // deepest found; 0 where none is deeper than the search starts from
	BoundUM float64 // nothing is deeper than this
	Where   Place   // of the deepest
	Moves   int     // moves deeper than Setup.GougeTol
}

// Leftover is what stands on the surface that the cutters can reach.
type Leftover struct {
	P50UM, P99UM float64   // of the area
	MaxUM        float64   // greatest sample
	BoundUM      float64   // certified: nothing reachable carries more
	Where        geom.Vec3 // of the greatest sample, part frame
}

// Area splits the target's surface, mm².
type Area struct {
	Judged      float64 // all that is not excluded
	InTolerance float64 // certified
	Left        float64 // reachable, but carries more than the tolerance
	Unreachable float64 // no side's cutters reach it
	Uncertain   float64 // samples in tolerance, not certified
	Excluded    float64 // kept by Setup.Keep, or inside another shell
	// DeepestUM is the greatest left-over among Unreachable.
	DeepestUM float64
}

// Figures are one program's. Lengths mm.
type Figures struct {
	Name         string
	SideDeg      float64
	Moves        int
	CutLength    float64 // at feed, in material
	AirLength    float64 // at feed, in no material
	RapidLength  float64
	FullLength   float64 // at feed, engaged over the full width
	MaxDepth     float64 // greatest height of material taken in one move, above the tip
	Removed      float64 // mm³, by the grid
	MinClearance float64 // least height of a neck, shank or holder above what is left within its radius; +Inf: never over any
	GougeUM      float64 // deepest gouge of this program
	GougeMoves   int     // moves deeper than Setup.GougeTol
}

// Map is the deviation over the surface, an element a patch, in flat arrays of equal length.
type Map struct {
	Point     [][3]float32 // centre of the patch, part frame, mm
	Normal    [][3]float32 // outward
	Deviation []float32    // mm: left-over where positive, undercut where negative; greatest in the patch
	Area      []float32    // mm²
	Side      []int16      // index into Setup.Sides of the side that comes nearest; −1: none
	Class     []Class
}

// Class is what became of a patch.
type Class uint8

// Classes of a patch.
const (
	InTolerance Class = iota
	Left
	Unreachable
	Uncertain
	Excluded
)
