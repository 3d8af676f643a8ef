package report

// Roughing is how the roughing programs engage the cutter, replayed from their text on a finer grid than they
// were planned on. Shares are of cutting length without the declared ways in.
type Roughing struct {
	Length    float64      `json:"cut_length_mm"`
	Seconds   float64      `json:"time_s"`
	CapDeg    float64      `json:"cap_deg"` // of the cut with the widest; 180: not bounded
	P50Deg    float64      `json:"p50_deg"`
	P99Deg    float64      `json:"p99_deg"`
	MaxDeg    float64      `json:"max_deg"`
	ShareOver float64      `json:"share_over_cap"`
	AirShare  float64      `json:"air_share"`
	Entry     float64      `json:"entry_length_mm"`
	MeanPass  float64      `json:"mean_pass_mm"`
	BoundDeg  float64      `json:"angle_bound_deg"` // what the replay's grid may be off by
	Histogram []EngageBin  `json:"engagement"`
	Programs  []RoughFacts `json:"programs"`
	Spots     []EngageSpot `json:"over_cap,omitempty"`
}

// EngageBin is the cutting length at engagement angles from From up to To, degrees.
type EngageBin struct {
	From   float64 `json:"from_deg"`
	To     float64 `json:"to_deg"`
	Length float64 `json:"length_mm"`
}

// RoughFacts are one roughing program's.
type RoughFacts struct {
	File      string  `json:"file"`
	CapDeg    float64 `json:"cap_deg"`
	P99Deg    float64 `json:"p99_deg"`
	ShareOver float64 `json:"share_over_cap"`
	AirShare  float64 `json:"air_share"`
	MeanPass  float64 `json:"mean_pass_mm"`
	Turns     int     `json:"sharp_turns"` // changes of direction over 15° while engaged
}

// EngageSpot is a stretch over the cap.
type EngageSpot struct {
	File   string  `json:"file"`
	Line   int     `json:"line"`
	Where  string  `json:"where"`
	Deg    float64 `json:"deg"`
	Length float64 `json:"length_mm"`
	Eased  bool    `json:"feed_lowered"`
}

// Finishing is what the finishing programs leave and take.
type Finishing struct {
	Length   float64       `json:"cut_length_mm"`
	Seconds  float64       `json:"time_s"`
	AirShare float64       `json:"air_share"`
	Cusp     Cusp          `json:"cusp_um"`
	Sides    []FinishFacts `json:"programs"`
}

// Cusp is the height of the ridges, µm, measured on the surface at places spread evenly over its area.
type Cusp struct {
	P50    float64 `json:"p50"`
	P99    float64 `json:"p99"`
	Max    float64 `json:"max"`
	Asked  float64 `json:"asked"`
	Places int     `json:"places"`
}

// FinishFacts are one finishing program's.
type FinishFacts struct {
	File     string        `json:"file"`
	Passes   string        `json:"passes"` // how they run
	Seconds  float64       `json:"time_s"`
	Others   []OtherSecond `json:"others,omitempty"`
	AirShare float64       `json:"air_share"`
	Corners  bool          `json:"corners_only,omitempty"`
}

// OtherSecond is what another way would take, by the plan's own estimate.
type OtherSecond struct {
	Passes  string  `json:"passes"`
	Seconds float64 `json:"time_s"`
}

// Shares is how the surface was shared among the sides, beside the fixed wedge.
type Shares struct {
	Rule  string    `json:"rule"`
	Merit ShareSums `json:"merit"`
	Wedge ShareSums `json:"wedge"`
}

// ShareSums are estimates over all sides.
type ShareSums struct {
	Seconds  float64 `json:"finishing_time_s"`
	SlopeDeg float64 `json:"worst_slope_deg"`
	StickOut float64 `json:"longest_stick_out_mm"`
}

// Order is the order in which the programs are run. Times are of changes, turns and the travel about them,
// and of everything.
type Order struct {
	Changes  int          `json:"cutter_changes"`
	Turns    int          `json:"turns"`
	Handling float64      `json:"handling_s"`
	Total    float64      `json:"total_s"`
	Others   []OtherOrder `json:"others,omitempty"`
}

// OtherOrder is another order and what it would take.
type OtherOrder struct {
	Name     string  `json:"name"`
	Changes  int     `json:"cutter_changes"`
	Turns    int     `json:"turns"`
	Handling float64 `json:"handling_s"`
	Total    float64 `json:"total_s"`
	Warning  string  `json:"warning,omitempty"`
}

// Choice is why these cutters were chosen.
type Choice struct {
	Picks   []Pick     `json:"picks"`
	Others  []OtherSet `json:"others,omitempty"`
	OneMore []OneMore  `json:"one_more,omitempty"`
}

// Pick is one chosen cutter.
type Pick struct {
	Cutter   string  `json:"cutter"`
	For      string  `json:"for"`
	Why      string  `json:"why"`
	Seconds  float64 `json:"time_s"`
	Only     float64 `json:"area_only_it_reaches_mm2"`
	StickOut float64 `json:"stick_out_mm"`
	Needed   float64 `json:"stick_out_needed_mm"`
}

// OtherSet is another sequence of cutters and what it would take.
type OtherSet struct {
	Cutters string  `json:"cutters"`
	Seconds float64 `json:"time_s"`
	Left    float64 `json:"area_left_mm2"`
}

// OneMore is what one more cutter would buy.
type OneMore struct {
	Cutter  string  `json:"cutter"`
	Seconds float64 `json:"time_saved_s"`
	Area    float64 `json:"area_more_mm2"`
}
