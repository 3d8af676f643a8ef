package job

import (
	"fmt"

	"barwise/geom"
	"barwise/shop/bar"
	"barwise/shop/machine"
	"barwise/unit"
)

func (r *resolver) bar() error {
	f := r.file.Bar
	shape := bar.Shape(r.orWord(f.Shape, "bar.shape", string(bar.Square), "no shape is written"))
	b := bar.Bar{Shape: shape, Length: float64(f.Length), Grip: float64(f.Grip)}
	if shape == bar.Rect {
		if f.Size != nil {
			return r.Bad("size", "bar.size", "bar.size: found for a rectangular bar, allowed are width and height", "write width: and height: instead")
		}
		if f.Width == nil || f.Height == nil {
			return r.Bad("missing", "bar", "bar: a rectangular bar needs width and height", "add width: ... and height: ...")
		}
		b.Width, b.Height = float64(*f.Width), float64(*f.Height)
	} else {
		key := ""
		if f.Height != nil {
			key = "height"
		}
		if f.Width != nil {
			key = "width"
		}
		if key != "" {
			return r.Bad("size", "bar."+key, fmt.Sprintf("bar.%s: found for a %s bar, allowed is size", key, shape), "write size: instead, or shape: rectangular")
		}
		if f.Size == nil {
			return r.Bad("missing", "bar", fmt.Sprintf("bar: a %s bar needs size", shape), "add size: ...")
		}
		b.Width, b.Height = float64(*f.Size), float64(*f.Size)
	}
	b.Block = bar.Shape(f.Block)
	if shape == bar.Round && f.Block == "" {
		b.Block = bar.Square
		r.note("bar.block", "square", "a round bar is turned in a collet block, and none is named")
	}
	if fs := b.Check(); len(fs) > 0 {
		c := fs[0]
		return r.Bad("size", "bar."+c.Where, "bar."+c.Where+": "+c.Text, c.Hint)
	}
	if small := least(b); small < leastBar {
		key := "bar.size"
		if shape == bar.Rect && b.Height < b.Width {
			key = "bar.height"
		} else if shape == bar.Rect {
			key = "bar.width"
		}
		return r.Bad("range", key, fmt.Sprintf("%s: found %s, allowed is at least %s", key, r.show(unit.Length(small)), r.show(unit.Length(leastBar))), r.unitHint())
	}
	r.Bar = b
	return nil
}

// Bounds that no real job passes, but one with a missing unit does.
const (
	leastBar     = 2 // mm
	mostTolerate = 1 // mm
)

// unitHint reminds of what a plain number is.
func (r *resolver) unitHint() string {
	return "a plain number is in " + [...]string{"mm", "inches"}[r.Units] + ": write the unit, or set units"
}

// travel checks that what is cut fits between the ends of the machine's travel.
func (r *resolver) travel() error {
	along, across := 0, 1
	if r.Hold.BarAlong == machine.AlongY {
		along, across = 1, 0
	}
	axis := [2]string{"X", "Y"}
	wide := 0.0
	for _, a := range r.Sides {
		wide = max(wide, 2*r.Bar.Half(a))
	}
	for _, c := range []struct {
		path, what string
		need       float64
		axis       int
	}{{"bar.length", "beyond the stub", r.Bar.Length - r.StubY(), along}, {"bar", "across", wide, across}} {
		if limit := r.Machine.Travel[c.axis]; c.need > limit {
			return r.Bad("travel", c.path, fmt.Sprintf("%s: %s %s, the machine %s travels %s along %s", c.path, r.show(unit.Length(c.need)), c.what,
				r.Machine.ID, r.show(unit.Length(limit)), axis[c.axis]), "a smaller bar, another machine or hold: {bar_along: ...}; "+r.unitHint())
		}
	}
	return nil
}

// least is the bar's smallest size across, mm.
func least(b bar.Bar) float64 { return min(b.Width, b.Height) }

// Placing, typical values without a source: room for the rougher to pass between stub and piece, and
// a little bar beyond the piece so that its end is cut and not the saw's.
const (
	stdGap        = 5   // mm
	stdEnd        = 2   // mm
	stdSpigotPart = 0.3 // of the bar's smallest size
	stdFillet     = 1   // mm
)

func (r *resolver) lay() error {
	f := r.file.Lay
	l := Lay{Scale: 1}
	if err := r.along(&l, f); err != nil {
		return err
	}
	if f.Margin != nil {
		l.Margin = float64(*f.Margin)
	}
	if f.ShiftX != nil {
		l.ShiftX = float64(*f.ShiftX)
	}
	if f.ShiftZ != nil {
		l.ShiftZ = float64(*f.ShiftZ)
	}
	asked := 0
	for _, x := range []struct {
		key string
		ok  bool
	}{{"scale", f.Scale != nil}, {"height", f.Height != nil}, {"fit", f.Fit != nil && *f.Fit}} {
		if x.ok {
			asked++
		}
		if asked == 2 {
			return r.Bad("size", "lay."+x.key, "lay."+x.key+": found a second word on the size, allowed is one of scale, height, fit", "keep one of them")
		}
	}
	switch {
	case f.Height != nil:
		l.Height = float64(*f.Height)
	case f.Fit != nil && *f.Fit:
		l.Fit = true
	default:
		l.Scale = or(r, f.Scale, "lay.scale", 1, "as modelled")
	}
	own := f.Spigot != nil && f.Spigot.None
	if own {
		l.Gap = or(r, f.Gap, "lay.gap", 0, "without a spigot the piece must meet the stub")
	} else {
		l.Gap = or(r, f.Gap, "lay.gap", unit.Length(stdGap), "room to part the piece off (typical, no source)")
	}
	l.End = or(r, f.End, "lay.end", unit.Length(stdEnd), "so that the end is cut by the mill and not the saw")
	if !own {
		var s SpigotFields
		if f.Spigot != nil {
			s = f.Spigot.SpigotFields
		}
		std := unit.Length(stdSpigotPart * least(r.Bar))
		l.Spigot.Diameter = or(r, s.Diameter, "lay.spigot.diameter", std, "0.3 of the bar's smallest size (typical, no source)")
		if l.Spigot.Diameter >= least(r.Bar) {
			return r.Bad("size", "lay.spigot.diameter", fmt.Sprintf("lay.spigot.diameter: found %s, allowed is less than the bar's size, %s",
				r.show(unit.Length(l.Spigot.Diameter)), r.show(unit.Length(least(r.Bar)))), "")
		}
		l.Spigot.Square = r.orWord(s.Shape, "lay.spigot.shape", "round", "turned like the rest") == "square"
		l.Spigot.Fillet = or(r, s.Fillet, "lay.spigot.fillet", unit.Length(min(stdFillet, l.Gap/4)), "keeps the corner from breaking (typical, no source)")
		if 2*l.Spigot.Fillet >= l.Gap && l.Spigot.Fillet > 0 {
			return r.Bad("size", "lay.spigot.fillet", fmt.Sprintf("lay.spigot.fillet: found %s, allowed is less than half the gap, %s",
				r.show(unit.Length(l.Spigot.Fillet)), r.show(unit.Length(l.Gap/2))), "a longer gap or a smaller fillet")
		}
	}
	r.Lay = l
	return nil
}

// along settles which way the model lies.
func (r *resolver) along(l *Lay, f LayForm) error {
	switch a := f.Along; {
	case a == nil:
		l.Along = r.orWord("", "lay.along", "+z", "models mostly stand on their Z")
	case a.Best:
		if l.Best = true; f.Turn != nil {
			return r.Bad("size", "lay.turn", "lay.turn: found with along: best, which looks for the turn itself", "leave one of them out")
		}
		return nil
	case a.Dir != nil:
		l.Dir = (*[3]float64)(a.Dir)
	default:
		l.Along = a.Axis
	}
	l.TurnDeg = or(r, f.Turn, "lay.turn", 0, "as modelled")
	return nil
}

func (r *resolver) sides() error {
	if len(r.file.Sides) == 0 {
		r.Sides = r.Bar.Angles()
		r.note("sides", r.Bar.AnglesText(), "every angle at which the bar can be held")
		return nil
	}
	for i, a := range r.file.Sides {
		path := fmt.Sprintf("sides[%d]", i)
		for k, b := range r.file.Sides[:i] {
			if a == b {
				return r.Bad("side", path, fmt.Sprintf("%s: found %s a second time, it is already sides[%d]", path, geom.SideName(a.deg()), k), "keep one of them")
			}
		}
		if !a.End && !r.Bar.Holds(float64(a.Deg)) {
			held := string(r.Bar.Shape) + " bar"
			if r.Bar.Shape == bar.Round {
				held += " in a " + string(r.Bar.Block) + " block"
			}
			return r.Bad("side", path, fmt.Sprintf("%s: found %s, a %s can be held at %s deg", path, a.Deg, held, r.Bar.AnglesText()), "")
		}
		r.Sides = append(r.Sides, a.deg())
	}
	return nil
}

const (
	stdTolerance = 0.010 // mm
	stdRetract   = 3     // mm; common practice, no source
)

func (r *resolver) tolerances() error {
	r.Tolerance = or(r, r.file.Tolerance, "tolerance", unit.Length(stdTolerance), "what a small mill can be hoped to hold (typical, no source)")
	if r.Tolerance > mostTolerate {
		return r.Bad("range", "tolerance", fmt.Sprintf("tolerance: found %s, allowed is at most %s", r.show(unit.Length(r.Tolerance)), r.show(unit.Length(mostTolerate))), r.unitHint())
	}
	r.PathTolerance = or(r, r.file.PathTolerance, "path_tolerance", unit.Length(r.Tolerance/10), "a tenth of the tolerance")
	if r.PathTolerance > r.Tolerance {
		return r.Bad("range", "path_tolerance", fmt.Sprintf("path_tolerance: found %s, allowed is at most the tolerance, %s",
			r.show(unit.Length(r.PathTolerance)), r.show(unit.Length(r.Tolerance))), "")
	}
	r.Retract = or(r, r.file.Retract, "retract", unit.Length(stdRetract), "common practice, no source")
	for _, a := range r.file.Accept {
		r.AcceptOpen = r.AcceptOpen || a == "open"
	}
	return nil
}

// Holding: typical values without a source.
const (
	stdJawWidth     = 60 // mm
	stdJawThickness = 20 // mm
	stdStub         = 2  // mm
	stdClearance    = 1  // mm
)

func (r *resolver) hold() error {
	f := r.file.Hold
	tall := 0.0
	for _, a := range r.Sides {
		if !geom.IsEnd(a) {
			tall = max(tall, r.Bar.Top(a)+r.Bar.Below(a))
		}
	}
	if tall == 0 { // the end alone
		tall = r.Bar.Height
	}
	h := Hold{
		JawHeight:    or(r, f.JawHeight, "hold.jaw_height", unit.Length(tall), "level with the top of the bar, which errs on the safe side"),
		JawWidth:     or(r, f.JawWidth, "hold.jaw_width", unit.Length(stdJawWidth), "typical, no source"),
		JawThickness: or(r, f.JawThickness, "hold.jaw_thickness", unit.Length(stdJawThickness), "typical, no source"),
		Stub:         or(r, f.Stub, "hold.stub", unit.Length(stdStub), "keeps the cutter off the jaws"),
		Clearance:    or(r, f.Clearance, "hold.clearance", unit.Length(stdClearance), "common practice, no source"),
		Zero:         r.orWord(f.Zero, "hold.zero", "axis", "the axis stays true through every turn"),
	}
	h.BarAlong = machine.Axis(r.orWord(f.BarAlong, "hold.bar_along", string(r.Machine.BarAlong), "as the machine "+r.Machine.ID+" says"))
	if n := len(f.ZeroAt); n != 0 {
		if n != 3 {
			return r.Bad("type", "hold.zero_at", fmt.Sprintf("hold.zero_at: found %d values, needed are 3, for X, Y and Z", n), "write [x, y, z]")
		}
		h.ZeroAt = &[3]float64{float64(f.ZeroAt[0]), float64(f.ZeroAt[1]), float64(f.ZeroAt[2])}
	} else {
		r.note("hold.zero_at", "not known", "travel is checked by size alone")
	}
	if y := r.Bar.Grip + h.Stub; y >= r.Bar.Length {
		return r.Bad("size", "hold.stub", fmt.Sprintf("hold.stub: grip and stub take %s of the bar's %s, nothing is left to cut",
			r.show(unit.Length(y)), r.show(unit.Length(r.Bar.Length))), "a longer bar, a shorter grip or a shorter stub")
	}
	r.Hold = h
	return nil
}
