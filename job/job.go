// Package job is one job file, read, checked and resolved to millimetres.
//
// A job names the model, the bar, the machine and the cuts wanted. What it leaves out is filled in,
// and every value filled in is recorded with the reason, so that a reader of the report sees what was
// chosen for him. The keys, their units and defaults are in docs/jobfile.md.
package job

import (
	"barwise/finding"
	"barwise/form"
	"barwise/geom"
	"barwise/shop/bar"
	"barwise/shop/cutter"
	"barwise/shop/machine"
	"barwise/shop/material"
	"barwise/unit"
)

// Job is a whole job, ready to be planned. Lengths mm, feeds mm/s, spindle speeds rev/min, index
// angles degrees.
type Job struct {
	File  string // the job file as it was named
	Name  string // its base name without the ending: 'rook'
	Units unit.System

	Model     string  // path of the mesh, ready to open
	ModelUnit float64 // mm for one unit of the mesh's numbers
	ModelOwn  bool    // the job names no model_units: a format that carries its own unit (3MF) keeps it

	Material material.Material
	Machine  machine.Machine
	Bar      bar.Bar
	Lay      Lay
	Sides    []float64 // index angles in the order they are worked, 0 ≤ a < 360; geom.EndDeg is the end

	Rough  []Rough
	Finish []Finish

	Choose     *Choose // nil: every cutter is named
	SemiFinish bool    // a cut may be put before the first finishing one
	Shares     string  // 'merit' or 'wedge'
	Order      string  // 'there-and-back' or 'same-way'

	Tolerance     float64 // mm, the finished surface may lie this far from the model
	PathTolerance float64 // mm, the path may lie this far off the exact cutter-location surface
	Hold          Hold
	Retract       float64 // mm above the top of the bar for travel between passes
	AcceptOpen    bool    // a mesh that is not closed may be planned
	MostTriangles int     // a mesh of more is refused
	Mend          *Mend   // nil: the mesh is taken as it is
	Refine        *Refine // nil: its triangles are taken as they are
	Survey        Survey

	Defaults []Default         // what the job left out, in the order of docs/jobfile.md
	Findings []finding.Finding // warnings and notes; Where is file:line:column

	doc     *form.Doc
	file    *File
	options Options
}

// Default is one value the job left out.
type Default struct {
	Path  string `json:"path"`  // 'finish[0].spindle'
	Value string `json:"value"` // with its unit
	Why   string `json:"why"`
}

// Lay says how the model lies in the bar. At most one of Scale, Height and Fit says how large it is.
type Lay struct {
	Along   string      // which way of the model points to the bar's free end: '+x', '-x', … '+z'; '' where Dir or Best says it
	Dir     *[3]float64 // that direction in the model's coordinates, of any length
	Best    bool        // that direction and TurnDeg are to be looked for
	TurnDeg float64     // the model is turned this far about the bar's axis; positive turns +Z toward +X of the part frame
	Scale   float64     // the model's size times this; 1 where nothing was asked
	Height  float64     // mm the model is to measure along the axis; 0: not asked
	Fit     bool        // as large as the bar allows
	Margin  float64     // mm kept between the model and every face of the bar
	ShiftX  float64     // mm off the centred place, part frame
	ShiftZ  float64
	Gap     float64 // mm at least between the stub and the piece: the spigot's free length
	End     float64 // mm of bar left beyond the piece at the free end
	Spigot  Spigot
}

// Spigot is the stub we add between the piece and the bar, as deep into the piece as its section needs.
// Diameter 0: the model brings its own.
type Spigot struct {
	Diameter float64 // mm; of a square one across flats
	Square   bool
	Fillet   float64 // mm, radius with which it runs out into bar and piece
}

// Mend says what is repaired on the mesh. Lengths mm.
type Mend struct {
	Weld   float64
	Orient bool
	Twins  bool
	Fill   float64
	Specks float64
}

// Refine says how fine the curved triangles are to be.
type Refine struct {
	Chord   float64 // mm
	KinkDeg float64 // 0: no limit
	Most    int     // triangles
}

// Survey is what the survey goes by.
type Survey struct {
	Thinnest  float64 // mm; 0: by the material
	Shiny     bool
	CreaseDeg float64
}

// Rough is one roughing cut over all sides.
type Rough struct {
	Cutter     cutter.Cutter
	Engage     float64 // radians, greatest arc of the rim in stock; π: not bounded
	Stepover   float64 // mm, the width of a straight cut at Engage; between passes where that is not bounded
	Stepdown   float64 // mm between levels
	Deepest    float64 // mm along the axis at bounded engagement
	Allowance  float64 // mm left on the model
	PastAxis   float64 // mm that every side cuts beyond the axis, so that opposite sides meet
	Feed       float64 // mm/s
	EntryFeed  float64 // mm/s on the way into the material
	SpindleRPM float64
}

// Finish is one finishing cut over all sides.
type Finish struct {
	Cutter     cutter.Cutter
	Cusp       float64 // mm, cusp height asked for, or that Stepover leaves on level ground
	Stepover   float64 // mm between neighbouring passes on level ground, where that was asked for; 0: follows from Cusp
	Direction  string  // 'along' the bar, 'across' it, or 'both': each region in the better one
	Passes     string  // 'raster', 'constant-cusp' or 'best'
	Corners    bool    // only what earlier finishing cuts left
	Overlap    float64 // mm that a side goes past the border of its share
	Allowance  float64 // mm left on the model, for another finish cut to take
	Feed       float64 // mm/s
	EntryFeed  float64 // mm/s on the way into the material
	SpindleRPM float64
}

// Hold says how the bar is held and where the program's zero is.
type Hold struct {
	JawHeight    float64 // mm from the floor of the vise to the top of its jaws
	JawWidth     float64 // mm of a jaw along the bar, ending Bar.Grip from the stop
	JawThickness float64 // mm of a jaw outward from the face it grips
	Stub         float64 // mm of bar beyond the jaws that is never cut
	Clearance    float64 // mm that shank, holder and rapids keep off anything
	Zero         string  // 'axis' or 'top': where Z0 is
	BarAlong     machine.Axis
	ZeroAt       *[3]float64 // machine coordinates of program zero, mm; nil: not known, so travel is checked by size alone
}

// StubY is where the bar that is never cut ends, mm from the stop.
func (j *Job) StubY() float64 { return j.Bar.Grip + j.Hold.Stub }

// Floor returns the height of the vise floor, on which the bar rests with index angle deg facing up,
// from the axis, mm: below zero; of the end side from the stop, 0.
func (j *Job) Floor(deg float64) float64 { return -j.Bar.Below(deg) }

// JawTop returns the height of the jaws from the axis with index angle deg facing up, mm; of the end side from
// the stop: as the vise has it, but never above the grip, for beyond that is the piece. Higher jaws want
// parallels under the standing bar.
func (j *Job) JawTop(deg float64) float64 {
	if geom.IsEnd(deg) {
		return min(j.Hold.JawHeight, j.Bar.Grip)
	}
	return j.Floor(deg) + j.Hold.JawHeight
}

// Place returns 'file:line:column' of a path such as 'finish[0].spindle'; a value the job left out
// gives the place of the part it would be written in.
func (j *Job) Place(path string) string {
	if j.doc == nil {
		return j.File
	}
	return j.doc.Place(path)
}

// Bad makes an error about the value at a path, with the place and the excerpt. code is the last part
// of the finding's code: 'reach' gives job-reach.
func (j *Job) Bad(code, path, text, hint string) error {
	if j.doc == nil {
		return finding.Bad("job-"+code, j.File, text, hint)
	}
	return j.doc.Bad(code, path, text, hint)
}

// Excerpt returns the marked lines of the file that an error of Load carries, or "".
func Excerpt(err error) string { return form.ExcerptOf(err) }
