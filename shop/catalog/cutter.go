package catalog

import (
	"fmt"
	"math"
	"strings"

	"barwise/finding"
	"barwise/form"
	"barwise/shop/cutter"
	"barwise/unit"
)

// CuttersForm is a file of cutters.
type CuttersForm struct {
	Units   string                 `yaml:"units" jsonschema:"enum=mm,enum=in" jsonschema_description:"unit of plain numbers in this file" std:"mm"`
	Cutters form.Table[CutterForm] `yaml:"cutters" jsonschema:"required" jsonschema_description:"the cutters by the name a job calls them"`
}

// CutterForm is a cutter as it is written. Upper-case keys are symbols of ISO 13399.
type CutterForm struct {
	Like     string       `yaml:"like" jsonschema_description:"take what is left out here from the cutter of this name"`
	Title    string       `yaml:"title" jsonschema_description:"words for a reader" std:"made from shape and DC"`
	Source   string       `yaml:"source" jsonschema_description:"where the dimensions come from"`
	Number   *int         `yaml:"number" jsonschema_description:"number called by T in the program" min:"1" max:"9999" std:"counted from 1 in order of use"`
	Shape    string       `yaml:"shape" jsonschema:"enum=flat,enum=ball,enum=bull,enum=cone,enum=tapered-ball" jsonschema_description:"kind of cutter; needed unless 'like' is given"`
	DC       *unit.Length `yaml:"DC" above:"0" jsonschema_description:"cutting diameter; of a cone or a tapered ball the greatest one" std:"cone, tapered ball: from LCF"`
	RE       *unit.Length `yaml:"RE" min:"0" jsonschema_description:"corner radius; of a tapered ball the radius of its ball" std:"ball: DC/2"`
	SIG      *unit.Angle  `yaml:"SIG" above:"0" max:"179" jsonschema_description:"included point angle of a cone"`
	BHTA     *unit.Angle  `yaml:"BHTA" above:"0" max:"60" jsonschema_description:"half taper angle of a tapered ball"`
	Tip      *unit.Length `yaml:"tip" min:"0" jsonschema_description:"diameter of a cone's flat tip" std:"0"`
	ZEFP     *int         `yaml:"ZEFP" min:"1" max:"24" jsonschema_description:"effective cutting edges" std:"2"`
	APMX     *unit.Length `yaml:"APMX" above:"0" jsonschema_description:"largest depth of cut along the axis" std:"LCF"`
	LCF      *unit.Length `yaml:"LCF" above:"0" jsonschema_description:"length of the chip flutes"`
	LU       *unit.Length `yaml:"LU" above:"0" jsonschema_description:"usable reach: how far up the neck goes" std:"LCF"`
	DN       *unit.Length `yaml:"DN" above:"0" jsonschema_description:"diameter of the neck between LCF and LU" std:"no neck"`
	DMM      *unit.Length `yaml:"DMM" above:"0" jsonschema_description:"shank diameter" std:"DC"`
	OAL      *unit.Length `yaml:"OAL" above:"0" jsonschema_description:"overall length" std:"not known"`
	RPMX     *unit.Speed  `yaml:"RPMX" above:"0" jsonschema_description:"highest permitted speed" std:"no limit stated"`
	StickOut *unit.Length `yaml:"stick_out" above:"0" jsonschema_description:"from the tip to the holder's face" std:"LU and 5 mm"`
	Holder   []StepForm   `yaml:"holder" jsonschema_description:"steps of the holder from its face up" std:"Ø 12 mm, from 15 mm up Ø 20 mm (a collet nut of a small spindle, typical, no source)"`
	Plunges  *bool        `yaml:"plunges" jsonschema_description:"cuts to its centre, so it may be fed straight down" std:"false"`
	Ramp     *unit.Angle  `yaml:"ramp" above:"0" max:"90" jsonschema_description:"steepest way down into solid material, from level" std:"3 deg (common practice, no source)"`
}

// StepForm is one step of a holder.
type StepForm struct {
	From     unit.Length `yaml:"from" min:"0" jsonschema:"required" jsonschema_description:"where the step begins, from the holder's face"`
	Diameter unit.Length `yaml:"diameter" above:"0" jsonschema:"required" jsonschema_description:"its diameter"`
}

// typicalHolder is the collet nut of a small spindle: typical, no source.
var typicalHolder = []cutter.Collar{{Z: 0, R: 6}, {Z: 15, R: 10}}

const (
	typicalRampDeg  = 3 // common practice, no source
	stickOutPastUse = 5 // mm beyond LU; common practice, no source
)

// Resolve makes the cutter of name id from what is written at path of the form. Its T number
// stays 0 where none is written; lookup finds the cutter that 'like' names.
func (f CutterForm) Resolve(d *form.Doc, path, id string, lookup func(string) (cutter.Cutter, bool)) (cutter.Cutter, error) {
	c := cutter.Cutter{ID: id, Edges: 2, RampDeg: typicalRampDeg, Holder: typicalHolder}
	if f.Like != "" {
		base, ok := lookup(f.Like)
		if !ok {
			return c, d.Bad("name", path+".like", fmt.Sprintf("found no cutter %q to be like", f.Like), "")
		}
		c = base
		c.ID, c.Number = id, 0
	}
	c, err := f.shape(d, path, c)
	if err != nil {
		return c, err
	}
	f.dimensions(&c)
	if f.Title != "" {
		c.Title = f.Title
	} else if f.Like == "" {
		c.Title = fmt.Sprintf("%s Ø%s", c.Shape, unit.Length(c.DC()))
	}
	return c, firstFault(d, path, c.Check())
}

// dimensions fills in what stands above the cutting shape.
func (f CutterForm) dimensions(c *cutter.Cutter) {
	fresh := f.Like == ""
	set(&c.APMX, f.APMX)
	set(&c.LCF, f.LCF)
	set(&c.DN, f.DN)
	set(&c.OAL, f.OAL)
	set(&c.MaxRPM, f.RPMX)
	set(&c.RampDeg, f.Ramp)
	if !set(&c.LU, f.LU) && fresh {
		c.LU = c.LCF
	}
	if !set(&c.DMM, f.DMM) && fresh {
		c.DMM = c.DC()
	}
	if !set(&c.StickOut, f.StickOut) && fresh {
		c.StickOut = c.LU + stickOutPastUse
	}
	if f.ZEFP != nil {
		c.Edges = *f.ZEFP
	}
	if f.Number != nil {
		c.Number = *f.Number
	}
	if f.Plunges != nil {
		c.Plunges = *f.Plunges
	}
	if f.Source != "" {
		c.Source = f.Source
	}
	if f.Holder != nil {
		c.Holder = nil
		for _, h := range f.Holder {
			c.Holder = append(c.Holder, cutter.Collar{Z: float64(h.From), R: float64(h.Diameter) / 2})
		}
	}
}

func set[T ~float64](to *float64, from *T) bool {
	if from != nil {
		*to = float64(*from)
	}
	return from != nil
}

// shape makes the profile. A cutter that is like another may change any of its figures.
func (f CutterForm) shape(d *form.Doc, path string, c cutter.Cutter) (cutter.Cutter, error) {
	fresh := f.Shape != "" && cutter.Shape(f.Shape) != c.Shape
	if f.Shape != "" {
		c.Shape = cutter.Shape(f.Shape)
	}
	if c.Shape == "" {
		return c, d.Bad("missing", path, "the cutter has no shape, allowed are flat, ball, bull, cone, tapered-ball", "add shape: ...")
	}
	if err := f.strangers(d, path, c.Shape); err != nil {
		return c, err
	}
	if fresh {
		c.Profile = cutter.Profile{}
		if keys := f.missing(c.Shape, c.LCF > 0); len(keys) > 0 {
			return c, d.Bad("missing", path, fmt.Sprintf("a %s cutter needs %s", c.Shape, strings.Join(keys, ", ")), "add "+keys[0]+": ...")
		}
	}
	if dc := f.DC; c.Shape == cutter.ShapeBall && f.RE != nil && dc != nil && math.Abs(float64(*f.RE-*dc/2)) > 1e-6 {
		return c, d.Bad("size", path+".RE", fmt.Sprintf("corner radius %g mm of a ball, allowed is half of DC, %g", float64(*f.RE), float64(*dc/2)), "leave RE out, or write bull or tapered-ball")
	}
	c.Profile = f.profile(c.Shape, c.Profile, c.LCF, fresh)
	return c, nil
}

// missing lists what a cutter that is like no other must say for its shape.
func (f CutterForm) missing(s cutter.Shape, hasLCF bool) []string {
	var out []string
	need := func(is bool, key string) {
		if is {
			out = append(out, key)
		}
	}
	leaning := s == cutter.ShapeCone || s == cutter.ShapeTaperedBall
	need(f.LCF == nil && !hasLCF, "LCF")
	need(f.DC == nil && !leaning, "DC")
	need(f.RE == nil && (s == cutter.ShapeBull || s == cutter.ShapeTaperedBall), "RE")
	need(f.SIG == nil && s == cutter.ShapeCone, "SIG")
	need(f.BHTA == nil && s == cutter.ShapeTaperedBall, "BHTA")
	return out
}

// profile takes what is written over the profile p. The width of a leaning cutter follows from its
// flutes where it is not written.
func (f CutterForm) profile(s cutter.Shape, p cutter.Profile, lcf float64, fresh bool) cutter.Profile {
	dc, re, tip, half := 2*p.R, p.Round, 2*p.Flat, p.Half
	set(&lcf, f.LCF)
	sized := set(&dc, f.DC)
	changed := set(&re, f.RE) || f.LCF != nil || fresh
	if s == cutter.ShapeCone {
		changed = set(&tip, f.Tip) || changed
	}
	if f.SIG != nil {
		half, changed = f.SIG.Radians()/2, true
	}
	if f.BHTA != nil {
		half, changed = f.BHTA.Radians(), true
	}
	switch s {
	case cutter.ShapeFlat:
		return cutter.FlatEnd(dc / 2)
	case cutter.ShapeBall:
		return cutter.Ball(dc / 2)
	case cutter.ShapeBull:
		return cutter.Bull(dc/2, re)
	case cutter.ShapeCone:
		if !sized && changed {
			dc = tip + float64(2*lcf*math.Tan(half))
		}
		return cutter.Cone(dc/2, half, tip/2)
	}
	if !sized && changed {
		sin, cos := math.Sincos(half)
		dc = 2 * (float64(re*cos) + float64((lcf-float64(re*(1-sin)))*sin)/cos)
	}
	return cutter.TaperedBall(dc/2, re, half)
}

// strangers refuses figures that a shape does not have.
func (f CutterForm) strangers(d *form.Doc, path string, s cutter.Shape) error {
	for _, x := range []struct {
		key     string
		written bool
		allowed []cutter.Shape
	}{
		{"RE", f.RE != nil && *f.RE != 0, []cutter.Shape{cutter.ShapeBall, cutter.ShapeBull, cutter.ShapeTaperedBall}},
		{"SIG", f.SIG != nil, []cutter.Shape{cutter.ShapeCone}},
		{"tip", f.Tip != nil, []cutter.Shape{cutter.ShapeCone}},
		{"BHTA", f.BHTA != nil, []cutter.Shape{cutter.ShapeTaperedBall}},
	} {
		ok := !x.written
		for _, a := range x.allowed {
			ok = ok || a == s
		}
		if !ok {
			return d.Bad("size", path+"."+x.key, fmt.Sprintf("a %s cutter has no %s, allowed for %v", s, x.key, x.allowed), "remove it or change the shape")
		}
	}
	return nil
}

// firstFault turns the first fault found into an error at its place.
func firstFault(d *form.Doc, path string, fs []finding.Finding) error {
	if len(fs) == 0 {
		return nil
	}
	f := fs[0]
	return d.Bad("size", path+"."+f.Where, f.Where+": "+f.Text, f.Hint)
}
