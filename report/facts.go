// Package report makes the pages and pictures of a job from values that other rooms have computed.
package report

import (
	"encoding/json"
	"io"

	"barwise/finding"
)

// Facts is everything the report says, and the content of report.json. Lengths are mm unless the name
// ends in _um, times seconds. Every figure comes from the plan or the proof; nothing is computed here.
type Facts struct {
	Title           string             `json:"title"`
	Job             string             `json:"job"`
	Verdict         string             `json:"verdict"`
	Gouge           Bounded            `json:"gouge_um"`
	Leftover        Spread             `json:"leftover_um"`
	AreaInTolerance float64            `json:"area_in_tolerance"`
	Moves           int                `json:"moves"`
	CutLength       float64            `json:"cut_length_mm"`
	Time            Time               `json:"time_s"`
	Stages          map[string]float64 `json:"stages_s,omitempty"`
	PeakMemoryMB    float64            `json:"peak_memory_mb,omitempty"`
	Findings        []finding.Finding  `json:"findings"`
	Programs        []Program          `json:"programs"`

	Model     Model      `json:"model"`
	Bar       Bar        `json:"bar"`
	Machine   Machine    `json:"machine"`
	Material  Material   `json:"material"`
	Cutters   []Cutter   `json:"cutters"`
	Tolerance Tolerances `json:"tolerances"`
	Basis     Basis      `json:"basis"`
	Area      Areas      `json:"area_mm2"`
	Stays     *Stays     `json:"stays_mm3,omitempty"`
	Roughing  *Roughing  `json:"roughing,omitempty"`
	Finishing *Finishing `json:"finishing,omitempty"`
	Shares    *Shares    `json:"shares,omitempty"`
	Order     *Order     `json:"order,omitempty"`
	Choice    *Choice    `json:"choice,omitempty"`
	Survey    string     `json:"survey,omitempty"` // the survey's answer, a Verdict
	Cautions  []Caution  `json:"cautions"`
	Defaults  []Default  `json:"defaults"`
}

// Bounded is a greatest value in µm with the bound on its own error.
type Bounded struct {
	Max   float64 `json:"max"`
	Bound float64 `json:"bound"`
	Where string  `json:"where,omitempty"`
}

// Spread is a distribution over the surface, in µm: percentiles by area, the greatest sampled value,
// and the bound that no point of the judged surface exceeds.
type Spread struct {
	P50   float64 `json:"p50"`
	P99   float64 `json:"p99"`
	Max   float64 `json:"max"`
	Bound float64 `json:"bound"`
	Where string  `json:"where,omitempty"`
}

// Time is what the machine needs, in seconds.
type Time struct {
	Total     float64            `json:"total"`
	Cutting   float64            `json:"cutting"`
	Travel    float64            `json:"travel"`
	Handling  float64            `json:"handling"` // cutter changes and turns of the bar
	ByProgram map[string]float64 `json:"by_program"`
}

// Program is one file to run.
type Program struct {
	File        string  `json:"file"`
	Title       string  `json:"title"`
	SideDeg     float64 `json:"side_deg"`
	Cutter      string  `json:"cutter"`
	Lines       int     `json:"lines"`
	Moves       int     `json:"moves"`
	Seconds     float64 `json:"time_s"`
	CutLength   float64 `json:"cut_length_mm"`
	AirLength   float64 `json:"air_length_mm"`
	FullWidth   float64 `json:"full_width_length_mm"`
	MaxDepth    float64 `json:"max_depth_mm"`
	FeedAsked   float64 `json:"feed_programmed_mm_min"`
	FeedHeld    float64 `json:"feed_achieved_mm_min"`
	SpindleRPM  float64 `json:"spindle_rpm"`
	Stepover    float64 `json:"stepover_mm,omitempty"`     // as planned; 0 for a text that was only read
	StepoverMin float64 `json:"stepover_min_mm,omitempty"` // on slopes; absent where it is the same everywhere
	Stepdown    float64 `json:"stepdown_mm,omitempty"`
	ChipLoad    float64 `json:"chip_load_mm"`
	Clearance   float64 `json:"shank_clearance_mm"` // least distance of shank and holder from stock
}

// Model is what was read and how it was laid in the bar.
type Model struct {
	File      string     `json:"file"`
	Triangles int        `json:"triangles"`
	Closed    bool       `json:"closed"`
	Shells    int        `json:"shells"`
	Size      [3]float64 `json:"size_mm"` // as laid: across X, along the bar, across Z
	Scale     float64    `json:"scale"`
	AreaMM2   float64    `json:"area_mm2"`
	VolumeMM3 float64    `json:"volume_mm3"`
	Y0        float64    `json:"y0_mm"`
	Y1        float64    `json:"y1_mm"`
	Clearance float64    `json:"clearance_mm"` // least distance of the model from the bar's flats
	Spigot    float64    `json:"spigot_diameter_mm,omitempty"`
}

// Bar is the stock and how it is held.
type Bar struct {
	Text    string  `json:"text"`
	Shape   string  `json:"shape"`
	Width   float64 `json:"width_mm"`
	Height  float64 `json:"height_mm"`
	Length  float64 `json:"length_mm"`
	Grip    float64 `json:"grip_mm"`
	Stub    float64 `json:"stub_mm"`
	Sides   Sides   `json:"sides_deg"`
	Zero    string  `json:"zero"`
	Along   string  `json:"along"`
	JawTop  float64 `json:"jaw_top_mm"` // height of the jaws above the axis
	Volume  float64 `json:"volume_mm3"`
	Removed float64 `json:"removed_mm3"`
	Left    float64 `json:"left_mm3"`
}

// Machine names the mill the times are for.
type Machine struct {
	ID    string `json:"id"`
	Title string `json:"title"`
}

// Material names what is cut.
type Material struct {
	ID      string  `json:"id"`
	Title   string  `json:"title"`
	MassG   float64 `json:"bar_mass_g"`
	Density string  `json:"density"`
}

// Cutter is a cutter as it must be mounted.
type Cutter struct {
	ID       string       `json:"id"`
	Number   int          `json:"number"`
	Title    string       `json:"title"`
	DC       float64      `json:"DC"`
	LCF      float64      `json:"LCF"`
	DMM      float64      `json:"DMM"`
	StickOut float64      `json:"stick_out_mm"`
	Outline  [][2]float64 `json:"-"` // (radius, height) from the tip up, for the drawing
}

// Tolerances are what was allowed, µm.
type Tolerances struct {
	Surface float64 `json:"surface_um"`
	Gouge   float64 `json:"gouge_um"`
	Path    float64 `json:"path_um"`
	Cusp    float64 `json:"cusp_um"`
}

// Basis says what stands behind the proof.
type Basis struct {
	Moves     int     `json:"moves"`
	Samples   int     `json:"samples"`
	PitchMM   float64 `json:"stack_pitch_mm"`
	SpacingMM float64 `json:"sample_spacing_mm"`
	Lines     int     `json:"program_lines"`
}

// Areas of the model's surface, mm².
type Areas struct {
	Judged      float64 `json:"judged"`
	Unreachable float64 `json:"unreachable"`
	Excluded    float64 `json:"excluded"`
}

// Stays is the volume of stock that stays farther than Off from the model, mm³: what the survey said before
// any path was planned, and what the proof counted.
type Stays struct {
	Off       float64 `json:"off_mm"`
	Predicted float64 `json:"predicted"`
	Proved    float64 `json:"proved"`
}

// Caution is one thing that can hurt, with its source.
type Caution struct {
	Text   string `json:"text"`
	Source string `json:"source"`
}

// Default is a value the job did not give.
type Default struct {
	Key   string `json:"key"`
	Value string `json:"value"`
	Why   string `json:"why"`
}

// WriteJSON writes the facts as report.json.
func (f *Facts) WriteJSON(w io.Writer) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(f)
}
