package job

import (
	"fmt"
	"math"
	"reflect"
	"slices"

	"barwise/form"
	"barwise/geom"
	"barwise/unit"
)

// AlongForm is a direction in the model: one of its axes, three numbers, or the word best.
type AlongForm struct {
	Axis string // "+x" … "-z"
	Dir  []float64
	Best bool
}

var axisWords = []string{"+x", "-x", "+y", "-y", "+z", "-z"}

const (
	bestWord    = "best"
	alongWanted = "one of +x, -x, +y, -y, +z, -z, best, or three numbers"
)

// ReadForm reads a word, or a list of three numbers.
func (a *AlongForm) ReadForm(n form.Node) error {
	if w, ok := n.Scalar(); ok {
		switch {
		case w == bestWord:
			a.Best = true
		case slices.Contains(axisWords, w):
			a.Axis = w
		default:
			hint := ""
			if near := form.Near(w, append([]string{bestWord}, axisWords...)); near != "" {
				hint = "did you mean " + near + "?"
			}
			return n.Bad("word", fmt.Sprintf("%s: found %q, allowed is %s", n.Path, w, alongWanted), hint)
		}
		return nil
	}
	if n.IsMapping() {
		return n.Bad("type", fmt.Sprintf("%s: found %s, allowed is %s", n.Path, n.Kind(), alongWanted), "")
	}
	if err := n.Read(&a.Dir); err != nil {
		return err
	}
	long := 0.0
	for _, v := range a.Dir {
		long = math.Hypot(long, v)
	}
	if len(a.Dir) != 3 || !(long > 0) || math.IsInf(long, 1) {
		return n.Bad("range", fmt.Sprintf("%s: found %v, allowed is %s that are not all 0", n.Path, a.Dir, alongWanted), "")
	}
	return nil
}

// Wants says what may be written.
func (a *AlongForm) Wants() string { return alongWanted }

// Describe describes the words and the list.
func (a *AlongForm) Describe(*form.Describer) *form.Schema {
	return &form.Schema{AnyOf: []*form.Schema{
		{Enum: append(slices.Clone(axisWords), bestWord)},
		{Type: "array", Items: &form.Schema{Type: "number"}, MinItems: 3},
	}}
}

// MendForm is the mending as it is written.
type MendForm struct {
	Weld   *unit.Length `yaml:"weld" min:"0" jsonschema_description:"vertices no farther apart than this become one" std:"0"`
	Orient *bool        `yaml:"orient" jsonschema_description:"turn triangles over so that all of them face outward" std:"false"`
	Twins  *bool        `yaml:"twins" jsonschema_description:"take out doubled triangles and those without area" std:"false"`
	Fill   *unit.Length `yaml:"fill" min:"0" jsonschema_description:"close holes no wider than this" std:"0, no hole is closed"`
	Specks *unit.Length `yaml:"specks" min:"0" jsonschema_description:"drop loose shells that measure no more than this corner to corner" std:"0, all are kept"`
}

// RefineForm is the refining as it is written.
type RefineForm struct {
	Chord *unit.Length `yaml:"chord" above:"0" jsonschema_description:"until triangles lie no farther than this from the curved surface, by estimate" std:"a tenth of the tolerance"`
	Kink  *unit.Angle  `yaml:"kink" above:"0" jsonschema_description:"and until neighbouring triangles meet at no more than this angle" std:"no limit"`
	Most  *int         `yaml:"most" above:"0" jsonschema_description:"but no more triangles than this" std:"2000000"`
}

// SurveyForm is what the survey goes by, as it is written.
type SurveyForm struct {
	Thinnest *unit.Length `yaml:"thinnest" above:"0" jsonschema_description:"walls and features thinner than this are flagged" std:"by the material's strength, an estimate"`
	Shiny    *bool        `yaml:"shiny" jsonschema_description:"the piece will be looked at for its gloss, so that small facet angles count" std:"false"`
	Crease   *unit.Angle  `yaml:"crease" above:"0" max:"180" jsonschema_description:"edges bent by more than this are meant to be sharp" std:"40 deg (typical, no source)"`
}

// SideForm is a side as it is written: an index angle, or the word end.
type SideForm struct {
	Deg unit.Angle
	End bool
}

const (
	endWord    = "end"
	sideWanted = "an index angle from 0 to less than 360 deg, or end"
)

// ReadForm reads an angle or the word.
func (s *SideForm) ReadForm(n form.Node) error {
	if w, ok := n.Scalar(); ok && w == endWord {
		s.End = true
		return nil
	}
	if err := n.Read(&s.Deg); err != nil {
		return err
	}
	if s.Deg < 0 || s.Deg >= 360 {
		return n.Bad("range", fmt.Sprintf("%s: found %s, allowed is %s", n.Path, s.Deg, sideWanted), "")
	}
	return nil
}

// deg is the side as the rest of the house names it.
func (s SideForm) deg() float64 {
	if s.End {
		return geom.EndDeg
	}
	return float64(s.Deg)
}

// Wants says what may be written.
func (s *SideForm) Wants() string { return sideWanted }

// Describe describes the angle and the word.
func (s *SideForm) Describe(d *form.Describer) *form.Schema {
	return &form.Schema{AnyOf: []*form.Schema{{Const: endWord}, d.Of(reflect.TypeFor[unit.Angle]())}}
}
