package proof

import (
	"context"
	"errors"
	"math"
	"strings"
	"testing"

	"barwise/finding"
	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/sample"
	"barwise/path"
	"barwise/shop/bar"
)

// standing is slab seen from the end: a bar whose end is at y = 40, stub below y = 10.
func standing() Setup {
	s := slab()
	s.Bar = bar.Bar{Shape: bar.Square, Width: 20, Height: 20, Length: 40, Grip: 8}
	s.Sides = []float64{0, geom.EndDeg}
	s.Target = sample.Box(v3(-10, 10, -10), v3(10, 35, 10))
	return s
}

func end(mv ...path.Move) Program {
	p := program("end.nc", geom.EndDeg, flatCutter(1.5), lines(mv...))
	p.Start = v3(0, 0, 45)
	return p
}

// The same model under the same moves, once from side 0° and once turned to the end, gives the same
// figures: the frames alone differ.
func TestEndSeesWhatASideSees(t *testing.T) {
	base := slab()
	base.StubY = 2
	base.Target = mesh.Join(sphereMesh(v3(0.7, 20.3, -0.4), 8, 16), sample.Box(v3(-3, 25, -9), v3(9, 27, 4)))
	mv := raster(-9, 9, 12, 28, 7.5, 0.5)
	a := run(t, base, program("a.nc", 0, ballCutter(1.5), mv))

	// y' = y − 20, z' = z + 20: the middle of the bar's end, and of its length
	s := standing()
	s.StubY, s.Sides = 2, []float64{geom.EndDeg}
	turn, shift := geom.TurnDeg(geom.EndDeg), v3(0, -20, 20)
	s.Target = base.Target.Map(func(p geom.Vec3) geom.Vec3 { return turn.ToPart(p.Add(shift)) })
	for i := range mv {
		mv[i].To = mv[i].To.Add(shift)
	}
	p := program("a.nc", geom.EndDeg, ballCutter(1.5), mv)
	p.Start = v3(0, 0, 60)
	b := run(t, s, p)
	near(t, "gouge", b.Gouge.MaxUM, a.Gouge.MaxUM, 1e-6)
	near(t, "gouging moves", float64(b.Gouge.Moves), float64(a.Gouge.Moves), 0)
	near(t, "left", b.Leftover.MaxUM, a.Leftover.MaxUM, 1e-6)
	near(t, "tolerance", b.AreaInTolerance, a.AreaInTolerance, 1e-5)
	near(t, "unreachable", b.Area.Unreachable, a.Area.Unreachable, 1e-6)
	if !(a.Gouge.MaxUM > 50) || !(a.Area.Unreachable > 1) || !(a.AreaInTolerance > 0) {
		t.Errorf("the case shows too little: %+v %+v", a.Gouge, a.Area)
	}
	at := turn.ToSide(b.Gouge.Where.Point).Sub(shift)
	near(t, "place", a.Gouge.Where.Point.Sub(at).Len(), 0, 1e-6)
	if !geom.IsEnd(b.Gouge.Where.SideDeg) {
		t.Errorf("the place names side %g", b.Gouge.Where.SideDeg)
	}
}

func TestEndCollisions(t *testing.T) {
	jaws := func(top float64) func(*Setup) {
		return func(s *Setup) {
			s.Vise = [][]Block{nil, {{Name: "jaw", Box: geom.Box3{Min: v3(-30, 10, -50), Max: v3(30, 40, top)}}}}
		}
	}
	across := func(z float64) []path.Move { // down beside the bar in steps, at y' = 11
		mv := []path.Move{rapid(-14, 11, 45)}
		for d := 37.0; d > z; d -= 3 {
			mv = append(mv, feed(-14, 11, d), feed(14, 11, d), feed(14, 11, 45), rapid(-14, 11, 45))
		}
		return append(mv, feed(-14, 11, z), feed(14, 11, z), rapid(14, 11, 45))
	}
	for _, c := range []struct {
		name, want string
		change     func(*Setup)
		mv         []path.Move
	}{
		{"face the end", "", nil, []path.Move{rapid(-14, 0, 45), feed(-14, 0, 37), feed(14, 0, 37), rapid(14, 0, 45)}},
		{"rapid through the end", "rapid-in-stock", nil, []path.Move{rapid(-14, 0, 45), rapid(-14, 0, 37), rapid(14, 0, 37)}},
		{"beside the model, above the stub", "", func(s *Setup) { s.Target = sample.Box(v3(-9, 10, -9), v3(9, 35, 9)) }, across(14)},
		{"into the stub", "stub", func(s *Setup) { s.Target = sample.Box(v3(-9, 10, -9), v3(9, 35, 9)); s.StubY = 20 }, across(19.5)},
		{"over the jaws", "", func(s *Setup) { s.Target = sample.Box(v3(-9, 10, -9), v3(9, 35, 9)); jaws(13.9)(s) }, across(14)},
		{"into a jaw", "vise", func(s *Setup) { s.Target = sample.Box(v3(-9, 10, -9), v3(9, 35, 9)); jaws(14.2)(s) }, across(14)},
		{"into the model", "gouge", nil, []path.Move{rapid(-14, 0, 45), feed(-14, 0, 37), feed(14, 0, 37), feed(14, 0, 45), rapid(-14, 0, 45), feed(-14, 0, 34.9), feed(14, 0, 34.9), rapid(14, 0, 45)}},
	} {
		s := standing()
		if c.change != nil {
			c.change(&s)
		}
		p := end(c.mv...)
		r := run(t, s, p)
		got := codes(r)
		if got != c.want {
			t.Errorf("%s: found %q, want %q: %v", c.name, got, c.want, r.Findings)
		}
		switch f := has(r, c.want); c.want {
		case "stub":
			if !strings.Contains(f.Text, "by up to 0.500 mm") {
				t.Errorf("the stub loses 0.5 mm: %v", f)
			}
		case "gouge":
			near(t, "gouge", r.Gouge.MaxUM, 100, 0.1)
		}
	}
}

// What a text says of its place: a start under the bar's end, an axis that is too short, a side that the
// set-up has not.
func TestEndSetups(t *testing.T) {
	mv := []path.Move{rapid(-14, 0, 45), feed(-14, 0, 37), feed(14, 0, 37), rapid(14, 0, 45)}
	s := standing()
	p := end(mv...)
	p.Start.Z = 39.9
	if f := has(run(t, s, p), "start-low"); f == nil || !strings.Contains(f.Text, "above the stop") || !strings.Contains(f.Text, "40.000") {
		t.Errorf("start under the end: %v", f)
	}
	// with the bar along X on the other sides the end's x' is still the machine's X; a known zero of the
	// lying bar says nothing of the standing one's
	s.Machine.BarAlong, s.Machine.Travel = "x", [3]float64{28.1, 20, 50}
	s.ToMachine = func(geom.Vec3) geom.Vec3 { return v3(math.NaN(), 1e9, 0) }
	s.Zero = &geom.Vec3{X: 1000}
	if f := has(run(t, s, end(mv...)), "travel"); f != nil {
		t.Errorf("28 mm of 28.1: %v", f)
	}
	s.Machine.Travel[0] = 27.9
	if f := has(run(t, s, end(mv...)), "travel"); f == nil || !strings.HasPrefix(f.Text, "X runs over 28.00 mm") {
		t.Errorf("28 mm of 27.9: %v", f)
	}
	for _, sides := range [][]float64{{0, 80}, {math.Mod(geom.EndDeg, 360) + 360}, nil} {
		s.Sides = sides
		_, err := Judge(context.Background(), s, []Program{end(mv...)}, nil)
		var bad *finding.InputError
		if !errors.As(err, &bad) || bad.Code != "side-unknown" || !strings.Contains(bad.Text, "side end") {
			t.Errorf("sides %v: %v", sides, err)
		}
	}
}
