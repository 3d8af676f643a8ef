package report

import (
	"encoding/json"
	"io"

	"barwise/finding"
)

// Survey is everything the survey page says, and the content of survey.json. Lengths are mm unless the
// name ends in _um, angles degrees, times seconds, places in the part frame. Every figure comes from the
// rooms that measured it; nothing is computed here. A part that was not looked at is nil or empty, and
// the page leaves it out.
type Survey struct {
	Title   string   `json:"title"`   // for the reader, such as the model's name
	Verdict Verdict  `json:"verdict"` // one of the Verdict constants; in words by Verdict.Words
	First   []string `json:"first"`   // the most important things, most important first: the page shows three, the rest below

	Model     SurveyModel       `json:"model"`
	Holes     []Hole            `json:"holes"` // boundary loops, longest first: markers H1, H2, …
	Crossings *Crossings        `json:"crossings,omitempty"`
	Mends     []MendChange      `json:"mends,omitempty"` // what was changed on request
	Facets    *Facets           `json:"facets,omitempty"`
	Thickness *Thickness        `json:"thickness,omitempty"`
	Slender   []Slender         `json:"slender,omitempty"` // markers S1, S2, …
	Reach     *Reach            `json:"reach,omitempty"`
	Poses     *Poses            `json:"poses,omitempty"`
	Bars      []BarChoice       `json:"bars,omitempty"` // smallest first
	Spigot    *SpigotFacts      `json:"spigot,omitempty"`
	Changes   []Change          `json:"changes"` // what to change and what it would gain, most gain first
	Findings  []finding.Finding `json:"findings"`

	Stages       map[string]float64 `json:"stages_s,omitempty"`
	PeakMemoryMB float64            `json:"peak_memory_mb,omitempty"`
}

// Verdict answers whether the model is worth cutting. Its value is the code a script may count on.
type Verdict string

// What a survey can come to.
const (
	WorthCutting Verdict = "worth-cutting"
	ChangeFirst  Verdict = "change-first"
	NotAsItIs    Verdict = "not-as-it-is"
)

// Words says the verdict to a person.
func (v Verdict) Words() string {
	switch v {
	case WorthCutting:
		return "worth cutting"
	case ChangeFirst:
		return "worth cutting after changes"
	case NotAsItIs:
		return "not as it is"
	}
	return string(v)
}

// SurveyModel is the mesh as it was read and as it would be cut.
type SurveyModel struct {
	File      string     `json:"file"`
	Format    string     `json:"format"`
	Unit      string     `json:"unit"`      // mm, inch, m
	UnitFrom  string     `json:"unit_from"` // in words: from the file, as given, a guess by size
	UnitMM    float64    `json:"unit_mm"`
	Triangles int        `json:"triangles"`
	Vertices  int        `json:"vertices,omitempty"`
	MeanEdge  float64    `json:"mean_edge_mm,omitempty"`
	Closed    bool       `json:"closed"`
	Shells    int        `json:"shells"`
	Inside    int        `json:"shells_inside"` // of them, shells that lie inside another one
	Genus     int        `json:"genus"`         // ways through it; −1 where it is not closed
	ReadSize  [3]float64 `json:"read_size_mm"`  // x, y, z as read, in mm before any scale
	Size      [3]float64 `json:"size_mm"`       // as laid: across X, along the bar, across Z
	Scale     float64    `json:"scale"`         // times its size in mm
	AreaMM2   float64    `json:"area_mm2"`      // as laid
	VolumeMM3 float64    `json:"volume_mm3"`
}

// Hole is a boundary loop: an edge of the surface with nothing on its other side.
type Hole struct {
	At     [3]float64 `json:"at_mm"`
	Across float64    `json:"across_mm"`
	Length float64    `json:"length_mm"` // along the edge
	Edges  int        `json:"edges"`
	Flat   bool       `json:"flat"`        // all in one plane, so that a flat lid closes it
	OffMM  float64    `json:"off_flat_mm"` // greatest distance from its best plane
	Filled bool       `json:"filled"`      // closed by the mending that was asked for
}

// Crossings is where the surface passes through itself.
type Crossings struct {
	Pairs int            `json:"pairs"` // pairs of triangles that cross
	Spots []CrossingSpot `json:"spots"` // markers X1, X2, …; the worst places, perhaps not all
}

// CrossingSpot is one place where triangles cross.
type CrossingSpot struct {
	At    [3]float64 `json:"at_mm"`
	Size  [3]float64 `json:"size_mm"` // of the box around it
	Pairs int        `json:"pairs"`
}

// MendChange is one thing that mending did, because it was asked to.
type MendChange struct {
	Kind  string     `json:"kind"` // such as weld, turn, fill, drop
	Text  string     `json:"text"`
	Count int        `json:"count"`
	At    [3]float64 `json:"at_mm"`
}

// Facets compares the mesh's triangles with the finish asked for, at the final scale.
type Facets struct {
	Verdict    string      `json:"verdict"` // in words a maker understands
	Share      float64     `json:"share"`   // of the surface where facets will show, 0 to 1
	Times      float64     `json:"times"`   // this many times the triangles are needed; 1 or less: enough
	ChordUM    Percentiles `json:"chord_um"`
	KinkDeg    Percentiles `json:"kink_deg"`
	ChordLimit float64     `json:"chord_limit_um"` // above it, or above the next, a facet shows
	KinkLimit  float64     `json:"kink_limit_deg"`
	WidthLimit float64     `json:"width_limit_mm,omitempty"` // narrower than this it is lost among cusps
	CuspUM     float64     `json:"cusp_um"`                  // the finish asked for
	Shine      string      `json:"shine,omitempty"`
	CreaseDeg  float64     `json:"crease_deg"` // edges sharper than this are meant to be edges
	Triangles  int         `json:"triangles"`
	Before     *Facets     `json:"before,omitempty"` // as it was, where the surface was refined on request
}

// Percentiles is a distribution over the surface, by area.
type Percentiles struct {
	P50 float64 `json:"p50"`
	P99 float64 `json:"p99"`
	Max float64 `json:"max"`
}

// Thickness is how thin the model gets.
type Thickness struct {
	Least    float64     `json:"least_mm"`
	AtLeast  bool        `json:"at_least"` // nothing thinner than Least was looked for
	LeastAt  [3]float64  `json:"least_at_mm"`
	Limit    float64     `json:"limit_mm"`     // thinner than this is fragile in the material
	Source   string      `json:"limit_source"` // where the limit comes from
	Material string      `json:"material"`
	Below    float64     `json:"area_below_mm2"`
	Share    float64     `json:"share_below"` // of the surface, 0 to 1
	Places   []ThinPlace `json:"places"`      // markers T1, T2, …
}

// ThinPlace is a connected part of the surface thinner than the limit.
type ThinPlace struct {
	At    [3]float64 `json:"at_mm"`
	Least float64    `json:"least_mm"`
	Area  float64    `json:"area_mm2"`
	What  string     `json:"what"` // wall, edge, point: in words
}

// Slender is a part that bends under the cutter.
type Slender struct {
	At     [3]float64 `json:"at_mm"`
	Length float64    `json:"length_mm"`
	Width  float64    `json:"width_mm"` // least
	Bends  float64    `json:"bends_um"` // under Force at its tip
	Force  float64    `json:"force_n"`
	What   string     `json:"what"`
}

// Reach is what the cutters can touch, and what stays.
type Reach struct {
	Sides    Sides        `json:"sides_deg"`
	End      bool         `json:"end"` // also from the end, with the bar standing
	Cuts     []ReachCut   `json:"cuts"`
	Classes  []ReachClass `json:"classes"`         // of the surface by area, in the order of the map's key
	Judged   float64      `json:"judged_mm2"`      // what the shares are of
	LeftMM3  float64      `json:"left_mm3"`        // volume that no cutter takes away
	Deepest  float64      `json:"deepest_mm"`      // greatest height of it above the surface
	StickOut float64      `json:"stick_out_mm"`    // that would reach all that the cutter's tip could
	Limit    float64      `json:"left_limit_mm"`   // what counts as left over
	Worst    []LeftPlace  `json:"worst"`           // markers L1, L2, …
	PitchMM  float64      `json:"pitch_mm"`        // of the fields behind the figures
	Check    string       `json:"check,omitempty"` // how far the figures may be off, in words
	Steep    float64      `json:"steep_mm2"`       // reached only at a slope steeper than SteepDeg
	SteepDeg float64      `json:"steep_deg"`       // from the side's plane
}

// ReachCut is one cutter from one side.
type ReachCut struct {
	Side      string  `json:"side"` // such as 0°, or end
	Cutter    string  `json:"cutter"`
	Seen      float64 `json:"seen_mm2"`      // in view of the spindle
	Touched   float64 `json:"touched_mm2"`   // by the cutter's edge
	Best      float64 `json:"best_mm2"`      // touched better from here than from any other side
	Forbidden float64 `json:"forbidden_mm2"` // only neck, shank or holder stand in the way
	StickOut  float64 `json:"stick_out_mm"`  // as mounted
	Needed    float64 `json:"needed_mm"`     // stick-out that would free what is forbidden
}

// ReachClass is a kind of surface by what happens to it.
type ReachClass struct {
	Code  string  `json:"code"`
	Name  string  `json:"name"`
	Area  float64 `json:"area_mm2"`
	Share float64 `json:"share"`
}

// LeftPlace is a place where stock stays.
type LeftPlace struct {
	At     [3]float64 `json:"at_mm"`
	Area   float64    `json:"area_mm2"`
	Volume float64    `json:"volume_mm3"`
	Left   float64    `json:"left_mm"` // greatest height above the surface
	Why    string     `json:"why"`     // undercut, narrower than the cutter, shank, …
	Needs  string     `json:"needs"`   // what would free it
}

// Poses are the ways the model may lie, with what each costs.
type Poses struct {
	Given    *PoseFacts  `json:"given,omitempty"` // as the job has it; nil where none was given
	Best     []PoseFacts `json:"best"`            // best first
	Compare  []PoseFacts `json:"compare"`         // the best pose for each number of sides, with and without the end
	Tried    int         `json:"tried"`
	Seconds  float64     `json:"seconds"`
	Chosen   int         `json:"chosen"`           // index into Best of what the rest of the page is about; −1: the given one
	Cutter   string      `json:"cutter,omitempty"` // the one the figures are for
	Bar      string      `json:"bar,omitempty"`    // what it was to fit, in words
	Material string      `json:"material,omitempty"`
}

// PoseFacts is one way to lie.
type PoseFacts struct {
	Name      string     `json:"name"`      // such as A, B, as given, 6 sides + end
	Dir       [3]float64 `json:"direction"` // model direction that comes to point to the free end
	TurnDeg   float64    `json:"turn_deg"`  // about the bar's axis after that
	Words     string     `json:"words"`     // such as: the model's +z toward the free end, turned 45°
	Sides     Sides      `json:"sides_deg"`
	End       bool       `json:"end"`
	NotTouch  float64    `json:"not_reached_mm2"`
	Share     float64    `json:"not_reached_share"`
	LeftMM3   float64    `json:"left_mm3,omitempty"`
	Steep     float64    `json:"steep_mm2"`
	StickOut  float64    `json:"stick_out_mm"`
	Seconds   float64    `json:"time_s"`
	Scale     float64    `json:"scale"`
	Bar       string     `json:"bar"` // smallest that holds it
	BarLength float64    `json:"bar_length_mm"`
	Score     float64    `json:"score"`    // less is better
	Job       string     `json:"job_line"` // to put into the job
}

// BarChoice is a bar that does.
type BarChoice struct {
	Shape     string  `json:"shape"`
	Title     string  `json:"title"` // such as 1 1/4 in square
	Unit      string  `json:"unit"`  // of the list it is from: mm or inch
	Width     float64 `json:"width_mm"`
	Height    float64 `json:"height_mm"`
	Length    float64 `json:"length_mm"`    // needed
	Clearance float64 `json:"clearance_mm"` // least, model to face
	Volume    float64 `json:"volume_mm3"`
	TurnDeg   float64 `json:"turn_deg"`     // of the model about the axis that fits best
	Lacks     string  `json:"next_smaller"` // what the next smaller one lacks, in words
	Chosen    bool    `json:"chosen"`
	Source    string  `json:"source,omitempty"`
}

// SpigotFacts is the stub the piece hangs on until it is parted off.
type SpigotFacts struct {
	Shape   string  `json:"shape"` // cylindrical, square
	Across  float64 `json:"across_mm"`
	Length  float64 `json:"length_mm"`
	Fillet  float64 `json:"fillet_mm"`
	Contact float64 `json:"contact_mm2"` // by which the piece hangs on it
	Share   float64 `json:"contact_share"`
	Text    string  `json:"text,omitempty"`
}

// Change is something to change, and what it would gain.
type Change struct {
	What string `json:"what"` // such as: mount the ball with 31 mm of stick-out
	Gain string `json:"gain"` // such as: frees 42 mm² that only the shank forbids
	Now  string `json:"now"`  // the figure as it is
	Then string `json:"then"` // and as it would be
	Code string `json:"code,omitempty"`
	Job  string `json:"job_line,omitempty"` // to put into the job, if that does it
}

// WriteJSON writes the facts as survey.json.
func (s *Survey) WriteJSON(w io.Writer) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(s)
}
