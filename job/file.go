package job

import (
	"fmt"

	"barwise/form"
	"barwise/shop/catalog"
	"barwise/unit"
)

// File is a job as it is written. The tags are what docs/jobfile.md and the JSON Schema are made of.
type File struct {
	Units         string                             `yaml:"units" jsonschema:"enum=mm,enum=in" jsonschema_description:"unit of plain numbers: lengths in mm or in, feeds in mm/min or in/min; angles are always degrees, spindle speeds rpm, times seconds" std:"mm"`
	Model         string                             `yaml:"model" jsonschema_description:"path of the mesh (STL, OBJ, PLY, 3MF), counted from the job file's folder; may be given on the command line instead"`
	ModelUnits    string                             `yaml:"model_units" jsonschema:"enum=mm,enum=um,enum=cm,enum=m,enum=in,enum=ft" jsonschema_description:"what one unit of the mesh's numbers is; STL, OBJ and PLY do not say" std:"mm; a 3MF says it itself"`
	Shop          string                             `yaml:"shop" jsonschema_description:"folder with your own cutters.yaml, machines.yaml or materials.yaml, counted from the job file's folder" std:"only what is built in"`
	Material      *form.NameOr[catalog.MaterialForm] `yaml:"material" jsonschema:"required" jsonschema_description:"what the bar is made of"`
	Machine       *form.NameOr[catalog.MachineForm]  `yaml:"machine" jsonschema:"required" jsonschema_description:"the mill"`
	Bar           BarForm                            `yaml:"bar" jsonschema:"required" jsonschema_description:"the stock"`
	Lay           LayForm                            `yaml:"lay" jsonschema_description:"how the model lies in the bar"`
	Sides         []SideForm                         `yaml:"sides" jsonschema_description:"index angles to work from, in order; 'end' works on the free end with the bar standing" std:"every angle at which the bar can be held"`
	Rough         []RoughForm                        `yaml:"rough" form:"one" jsonschema_description:"roughing, one cut or a list in order" std:"no roughing"`
	Finish        []FinishForm                       `yaml:"finish" form:"one" jsonschema_description:"finishing, one cut or a list in order" std:"no finishing"`
	Cutters       []string                           `yaml:"cutters" form:"one" jsonschema_description:"the shop's cutters to choose from where a cut's cutter is 'best'" std:"every cutter of the shop"`
	SemiFinish    string                             `yaml:"semi_finish" jsonschema:"enum=auto,enum=none" jsonschema_description:"auto: a cut is put before the first finishing one where that saves more time than it takes, so that the small cutter meets an even allowance" std:"none"`
	Shares        string                             `yaml:"shares" jsonschema:"enum=merit,enum=wedge" jsonschema_description:"which side cuts which place; merit: the side that reaches it with the shortest stick-out, the kindest slope and the least time; wedge: the side it faces" std:"merit"`
	Order         string                             `yaml:"order" jsonschema:"enum=there-and-back,enum=same-way" jsonschema_description:"all sides are cut with one cutter before the next; there-and-back: the next cutter begins on the side that lies up; same-way: it begins on the first side again" std:"there-and-back"`
	Tolerance     *unit.Length                       `yaml:"tolerance" above:"0" jsonschema_description:"how far the finished surface may lie from the model" std:"10 um"`
	PathTolerance *unit.Length                       `yaml:"path_tolerance" above:"0" jsonschema_description:"how far a straight move may leave the exact path" std:"a tenth of the tolerance"`
	Hold          HoldForm                           `yaml:"hold" jsonschema_description:"how the bar is held and where zero is"`
	Retract       *unit.Length                       `yaml:"retract" above:"0" jsonschema_description:"height above the top of the bar for travel" std:"3 mm (common practice, no source)"`
	Accept        []string                           `yaml:"accept" form:"one" jsonschema:"enum=open" jsonschema_description:"faults of the mesh to plan in spite of; open: a mesh that is not closed" std:"none"`
	MostTriangles *int                               `yaml:"most_triangles" above:"0" jsonschema_description:"a mesh of more triangles than this is refused, with how much memory it would take" std:"5000000"`
	Mend          *MendForm                          `yaml:"mend" jsonschema_description:"repairs to make on the mesh before anything else" std:"the mesh is taken as it is"`
	Refine        *RefineForm                        `yaml:"refine" jsonschema_description:"put more, curved triangles in place of the model's, so that facets do not show" std:"the triangles are taken as they are"`
	Survey        SurveyForm                         `yaml:"survey" jsonschema_description:"what the survey of the model goes by"`
}

// BarForm is the stock as it is written.
type BarForm struct {
	Shape  string       `yaml:"shape" jsonschema:"enum=square,enum=rectangular,enum=hexagonal,enum=round" jsonschema_description:"section of the bar" std:"square"`
	Size   *unit.Length `yaml:"size" above:"0" jsonschema_description:"across flats of a square or hexagonal bar, diameter of a round one"`
	Width  *unit.Length `yaml:"width" above:"0" jsonschema_description:"rectangular: across flats from side to side at index angle 0"`
	Height *unit.Length `yaml:"height" above:"0" jsonschema_description:"rectangular: across flats from bottom to top at index angle 0"`
	Length unit.Length  `yaml:"length" jsonschema:"required" above:"0" jsonschema_description:"from the hard stop to the free end"`
	Grip   unit.Length  `yaml:"grip" jsonschema:"required" above:"0" jsonschema_description:"how much of it is held, from the stop"`
	Block  string       `yaml:"block" jsonschema:"enum=square,enum=hexagonal" jsonschema_description:"round: the collet block that turns it" std:"square"`
}

// LayForm is the placing as it is written.
type LayForm struct {
	Along  *AlongForm   `yaml:"along" jsonschema_description:"the model's direction that points to the free end: an axis, three numbers, or 'best' to have it looked for, together with the turn" std:"+z"`
	Turn   *unit.Angle  `yaml:"turn" min:"-360" max:"360" jsonschema_description:"turn of the model about the bar's axis" std:"0 deg"`
	Scale  *float64     `yaml:"scale" above:"0" jsonschema_description:"size of the model times this" std:"1"`
	Height *unit.Length `yaml:"height" above:"0" jsonschema_description:"length of the model along the axis, instead of scale"`
	Fit    *bool        `yaml:"fit" jsonschema_description:"as large as the bar allows, instead of scale" std:"false"`
	Margin *unit.Length `yaml:"margin" min:"0" jsonschema_description:"kept between the model and every face of the bar" std:"0"`
	ShiftX *unit.Length `yaml:"shift_x" jsonschema_description:"the model off its centred place, along the part's X" std:"0"`
	ShiftZ *unit.Length `yaml:"shift_z" jsonschema_description:"the model off its centred place, along the part's Z" std:"0"`
	Gap    *unit.Length `yaml:"gap" min:"0" jsonschema_description:"least distance from the stub to the piece, bridged by the spigot" std:"5 mm; 0 without a spigot"`
	End    *unit.Length `yaml:"end" min:"0" jsonschema_description:"bar left beyond the piece at the free end" std:"2 mm"`
	Spigot *SpigotForm  `yaml:"spigot" jsonschema_description:"the stub made between piece and bar; 'none' where the model brings its own down to the bar"`
}

// SpigotForm is a spigot as it is written, or the word none.
type SpigotForm struct {
	None bool
	SpigotFields
}

// SpigotFields are the keys of a spigot.
type SpigotFields struct {
	Diameter *unit.Length `yaml:"diameter" above:"0" jsonschema_description:"its diameter; of a square one the width across flats" std:"0.3 of the bar's smallest size"`
	Shape    string       `yaml:"shape" jsonschema:"enum=round,enum=square" jsonschema_description:"its section" std:"round"`
	Fillet   *unit.Length `yaml:"fillet" min:"0" jsonschema_description:"radius with which it runs out into the bar and into the piece" std:"1 mm, less where the gap is short (typical, no source)"`
}

// ReadForm reads the word none, or a mapping.
func (s *SpigotForm) ReadForm(n form.Node) error {
	if w, ok := n.Scalar(); ok {
		if w != "none" {
			return n.Bad("word", fmt.Sprintf("%s: found %q, allowed is none, or a mapping with the keys diameter, shape, fillet", n.Path, w), "")
		}
		s.None = true
		return nil
	}
	return n.Read(&s.SpigotFields)
}

// Wants says what may be written.
func (s *SpigotForm) Wants() string {
	return "none, or a mapping with the keys diameter, shape, fillet"
}

// RoughForm is a roughing cut as it is written.
type RoughForm struct {
	Cutter    form.NameOr[catalog.CutterForm] `yaml:"cutter" jsonschema:"required" jsonschema_description:"the cutter; 'best' to have it chosen from the shop"`
	Engage    *unit.Angle                     `yaml:"engage" above:"0" max:"180" jsonschema_description:"greatest arc of the cutter's rim in stock, at least 25 deg; 180 deg cuts level by level at full width, without a bound" std:"from stepover where that is given, else the material's"`
	Stepover  *unit.LengthOrPart              `yaml:"stepover" above:"0" jsonschema_description:"width of a straight cut, a length or a part of DC; another way to say engage" std:"follows from engage"`
	Stepdown  *unit.Length                    `yaml:"stepdown" above:"0" jsonschema_description:"between the levels that even out what deep cuts leave, and between all levels where engage is 180 deg" std:"a third of DC, a tenth in metal (common practice, no source)"`
	Deepest   *unit.Length                    `yaml:"deepest" above:"0" jsonschema_description:"greatest depth along the axis at bounded engagement" std:"the flutes, less where the cut would bend the cutter by a quarter of the allowance"`
	Allowance *unit.Length                    `yaml:"allowance" min:"0" jsonschema_description:"left on the model for finishing" std:"0.2 mm; 0 without a finish cut"`
	PastAxis  *unit.Length                    `yaml:"past_axis" min:"0" jsonschema_description:"how far every side cuts beyond the axis, so that sides meet" std:"0.5 mm"`
	Feed      *unit.Feed                      `yaml:"feed" above:"0" jsonschema_description:"cutting feed" std:"spindle speed times edges times the material's chip load, more where the engagement makes thin chips, no faster than the machine"`
	EntryFeed *unit.Feed                      `yaml:"entry_feed" above:"0" jsonschema_description:"feed on the way into the material" std:"a third of the feed (common practice, no source)"`
	Spindle   *unit.Speed                     `yaml:"spindle" above:"0" jsonschema_description:"spindle speed" std:"middle of the material's surface speeds at DC, within what machine and cutter can do"`
}

// FinishForm is a finishing cut as it is written.
type FinishForm struct {
	Cutter    form.NameOr[catalog.CutterForm] `yaml:"cutter" jsonschema:"required" jsonschema_description:"the cutter; 'best' to have it chosen from the shop"`
	Cusp      *unit.Length                    `yaml:"cusp" above:"0" jsonschema_description:"height of the ridges left between passes; the stepover follows from it" std:"half the tolerance"`
	Stepover  *unit.LengthOrPart              `yaml:"stepover" above:"0" jsonschema_description:"between neighbouring passes on level ground, instead of cusp; on slopes they lie closer, for the same cusp" std:"follows from cusp"`
	Direction string                          `yaml:"direction" jsonschema:"enum=along,enum=across,enum=both" jsonschema_description:"passes run along the bar or across it; both: every region in the direction that allows the wider stepover" std:"along"`
	Passes    string                          `yaml:"passes" jsonschema:"enum=best,enum=raster,enum=constant-cusp" jsonschema_description:"how the passes run; constant-cusp: bending with the surface, as far apart as the cusp allows; best: on every side what takes the least time, by trying a part of it" std:"best"`
	Corners   *bool                           `yaml:"corners" jsonschema_description:"cut only what the finishing cutters before this one left" std:"true after a finishing cut that leaves no more than this one"`
	Overlap   *unit.Length                    `yaml:"overlap" min:"0" jsonschema_description:"how far a side goes past the border of its share" std:"half of DC"`
	Allowance *unit.Length                    `yaml:"allowance" min:"0" jsonschema_description:"left on the model for a later cut" std:"0"`
	Feed      *unit.Feed                      `yaml:"feed" above:"0" jsonschema_description:"cutting feed" std:"as for rough"`
	EntryFeed *unit.Feed                      `yaml:"entry_feed" above:"0" jsonschema_description:"feed on the way into the material" std:"as for rough"`
	Spindle   *unit.Speed                     `yaml:"spindle" above:"0" jsonschema_description:"spindle speed" std:"as for rough"`
}

// HoldForm is the holding as it is written.
type HoldForm struct {
	JawHeight    *unit.Length  `yaml:"jaw_height" above:"0" jsonschema_description:"from the floor of the vise to the top of its jaws" std:"level with the top of the bar, which errs on the safe side"`
	JawWidth     *unit.Length  `yaml:"jaw_width" above:"0" jsonschema_description:"length of a jaw along the bar, back from the end of the grip" std:"60 mm (typical, no source)"`
	JawThickness *unit.Length  `yaml:"jaw_thickness" above:"0" jsonschema_description:"of each jaw, outward from the bar" std:"20 mm (typical, no source)"`
	Stub         *unit.Length  `yaml:"stub" min:"0" jsonschema_description:"bar beyond the jaws that is never cut" std:"2 mm"`
	Clearance    *unit.Length  `yaml:"clearance" min:"0" jsonschema_description:"kept between rapids or the holder and anything they could hit" std:"1 mm (common practice, no source)"`
	Zero         string        `yaml:"zero" jsonschema:"enum=axis,enum=top" jsonschema_description:"where Z0 is: the bar's axis stays true through every turn" std:"axis"`
	BarAlong     string        `yaml:"bar_along" jsonschema:"enum=x,enum=y" jsonschema_description:"the machine axis along which the bar lies" std:"as the machine says"`
	ZeroAt       []unit.Length `yaml:"zero_at" jsonschema_description:"machine coordinates X, Y, Z of program zero" std:"not known: travel is checked by size alone"`
}
