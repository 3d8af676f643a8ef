package catalog

import (
	"fmt"

	"barwise/form"
	"barwise/shop/machine"
	"barwise/unit"
)

// MachinesForm is a file of machines.
type MachinesForm struct {
	Units    string                  `yaml:"units" jsonschema:"enum=mm,enum=in" jsonschema_description:"unit of plain numbers in this file" std:"mm"`
	Machines form.Table[MachineForm] `yaml:"machines" jsonschema:"required" jsonschema_description:"the machines by the name a job calls them"`
}

// MachineForm is a machine as it is written.
type MachineForm struct {
	Like            string        `yaml:"like" jsonschema_description:"take what is left out here from the machine of this name"`
	Title           string        `yaml:"title" jsonschema_description:"words for a reader"`
	Source          string        `yaml:"source" jsonschema_description:"where the figures come from"`
	Travel          []unit.Length `yaml:"travel" above:"0" jsonschema_description:"travel of X, Y and Z"`
	Rate            []unit.Feed   `yaml:"rate" above:"0" jsonschema_description:"greatest rate of X, Y and Z"`
	Accel           []unit.Accel  `yaml:"acceleration" above:"0" jsonschema_description:"greatest acceleration of X, Y and Z"`
	Jerk            *float64      `yaml:"jerk" min:"0" jsonschema_description:"greatest jerk in mm/s3; 0 is no limit" std:"0"`
	CornerDeviation *unit.Length  `yaml:"corner_deviation" above:"0" jsonschema_description:"how far the control may cut a corner" std:"10 um (typical, no source)"`
	Lookahead       *int          `yaml:"lookahead" min:"1" max:"100000" jsonschema_description:"blocks the control plans ahead" std:"15 (typical, no source)"`
	BlockRate       *float64      `yaml:"block_rate" min:"0" jsonschema_description:"blocks a second the control can take; 0 is no limit" std:"0"`
	SpindleMin      *unit.Speed   `yaml:"spindle_min" min:"0" jsonschema_description:"lowest spindle speed" std:"0"`
	SpindleMax      *unit.Speed   `yaml:"spindle_max" above:"0" jsonschema_description:"highest spindle speed"`
	SpindleStart    *unit.Time    `yaml:"spindle_start" min:"0" jsonschema_description:"time to come to speed" std:"3 s (typical, no source)"`
	ToolChangeTime  *unit.Time    `yaml:"tool_change_time" min:"0" jsonschema_description:"time for a change of cutter" std:"120 s (typical, no source)"`
	TurnTime        *unit.Time    `yaml:"turn_time" min:"0" jsonschema_description:"time to turn the bar and clamp it again" std:"60 s (typical, no source)"`
	BarAlong        string        `yaml:"bar_along" jsonschema:"enum=x,enum=y" jsonschema_description:"the machine axis along which the bar lies" std:"y"`
	Arcs            *bool         `yaml:"arcs" jsonschema_description:"the control takes G2 and G3" std:"true"`
	ToolChange      string        `yaml:"tool_change" jsonschema:"enum=m6,enum=stop" jsonschema_description:"a cutter is called by T and M6, or the program stops with M0 for a change by hand" std:"stop"`
	Decimals        *int          `yaml:"decimals" min:"2" max:"6" jsonschema_description:"digits after the point, in mm" std:"4"`
	LineEnd         string        `yaml:"line_end" jsonschema:"enum=lf,enum=crlf" jsonschema_description:"how a line of the program ends" std:"lf"`
}

// Resolve makes the machine of name id from what is written at path.
func (f MachineForm) Resolve(d *form.Doc, path, id string, lookup func(string) (machine.Machine, bool)) (machine.Machine, error) {
	m := machine.Machine{CornerDeviation: 0.01, Lookahead: 15, SpindleStart: 3, ToolChange: 120, Turn: 60, BarAlong: machine.AlongY,
		Dialect: machine.Dialect{Arcs: true, ToolChange: machine.ChangeStop, Decimals: 4, LineEnd: "lf"}}
	if f.Like != "" {
		base, ok := lookup(f.Like)
		if !ok {
			return m, d.Bad("name", path+".like", fmt.Sprintf("found no machine %q to be like", f.Like), "")
		}
		m = base
	}
	m.ID = id
	if err := axes(d, path+".travel", f.Like != "", f.Travel, &m.Travel); err != nil {
		return m, err
	}
	if err := axes(d, path+".rate", f.Like != "", f.Rate, &m.Rate); err != nil {
		return m, err
	}
	if err := axes(d, path+".acceleration", f.Like != "", f.Accel, &m.Accel); err != nil {
		return m, err
	}
	if f.Like == "" && f.SpindleMax == nil {
		return m, d.Bad("missing", path, "the machine has no spindle_max, which is needed", "add spindle_max: ...")
	}
	f.rest(&m)
	return m, firstFault(d, path, m.Check())
}

// rest copies what has a default.
func (f MachineForm) rest(m *machine.Machine) {
	word(&m.Title, f.Title)
	word(&m.Source, f.Source)
	word((*string)(&m.BarAlong), f.BarAlong)
	word(&m.Dialect.ToolChange, f.ToolChange)
	word(&m.Dialect.LineEnd, f.LineEnd)
	set(&m.Jerk, f.Jerk)
	set(&m.CornerDeviation, f.CornerDeviation)
	set(&m.BlockRate, f.BlockRate)
	set(&m.SpindleMin, f.SpindleMin)
	set(&m.SpindleMax, f.SpindleMax)
	set(&m.SpindleStart, f.SpindleStart)
	set(&m.ToolChange, f.ToolChangeTime)
	set(&m.Turn, f.TurnTime)
	if f.Lookahead != nil {
		m.Lookahead = *f.Lookahead
	}
	if f.Arcs != nil {
		m.Dialect.Arcs = *f.Arcs
	}
	if f.Decimals != nil {
		m.Dialect.Decimals = *f.Decimals
	}
	if m.Title == "" {
		m.Title = m.ID
	}
}

func word(to *string, from string) {
	if from != "" {
		*to = from
	}
}

// axes reads three values for X, Y and Z.
func axes[T ~float64](d *form.Doc, path string, optional bool, from []T, to *[3]float64) error {
	if len(from) == 0 && optional {
		return nil
	}
	if len(from) != 3 {
		return d.Bad("type", path, fmt.Sprintf("%d values, needed are 3, for X, Y and Z", len(from)), "write [x, y, z]")
	}
	for i, v := range from {
		to[i] = float64(v)
	}
	return nil
}
