package gcode

import (
	"errors"
	"strings"
	"testing"

	"barwise/finding"
	"barwise/geom"
	"barwise/path"
	"barwise/shop/machine"
)

// The head of a program for the end side: the axes are the side's own, whichever way the bar lies on the
// others, and zero is at the stop.
func TestEndSide(t *testing.T) {
	p := path.Program{
		Title: "rough end with flat-3", SideDeg: geom.EndDeg, Cutter: "flat-3", Start: geom.Vec3{X: 1, Y: 2, Z: 100},
		Moves: []path.Move{
			{To: geom.Vec3{X: 3, Y: 2, Z: 100}},
			{To: geom.Vec3{X: 3, Y: 2, Z: 70}, Mode: path.Line, Feed: 5},
			{To: geom.Vec3{X: 5, Y: 2, Z: 70}, Mode: path.ArcCW, Plane: path.PlaneXZ, Centre: geom.Vec3{X: 4, Z: 70}, Feed: 10},
		},
	}
	for _, c := range []struct {
		f    Frame
		want string
	}{
		{Frame{Along: machine.AlongX}, `(title rough end with flat-3)
(side end)
(cutter flat-3)
(bar standing)
(zero at stop)
G17 G21 G90 G94 G40 G49 G54 G80
G0 Z100
X1 Y2
X3
G1 Z70 F300
G18 G2 X5 Z70 I1 K0 F600
M30
`},
		{Frame{ZeroZ: 95}, `(title rough end with flat-3)
(side end)
(cutter flat-3)
(bar standing)
(zero 95 mm above stop)
G17 G21 G90 G94 G40 G49 G54 G80
G0 Z5
X1 Y2
X3
G1 Z-25 F300
G18 G2 X5 Z-25 I1 K0 F600
M30
`},
	} {
		text := written(t, p, Params{Frame: c.f, Arcs: true})
		if text != c.want {
			t.Errorf("got\n%s\nwant\n%s", text, c.want)
		}
		x, err := Read("a.nc", strings.NewReader(text), ReadParams{})
		if err != nil {
			t.Fatal(err)
		}
		if !geom.IsEnd(x.SideDeg) || x.Frame != (Frame{Standing: true, ZeroZ: c.f.ZeroZ}) || x.Moves[len(x.Moves)-1].To != p.Moves[2].To || x.Moves[len(x.Moves)-1].Mode != path.ArcCW {
			t.Errorf("read back side %g, frame %+v, last move %+v", x.SideDeg, x.Frame, x.Moves[len(x.Moves)-1])
		}
		for _, e := range [][2]string{{"(bar standing)", "(bar along x)"}, {"(bar standing)", "(bar along y)"}, {"(side end)", "(side 90 deg)"},
			{"(side end)", "(side -1000000 deg)"}, {"(side end)", "(side end deg)"}} {
			_, err := Read("a.nc", strings.NewReader(strings.Replace(text, e[0], e[1], 1)), ReadParams{})
			var bad *finding.InputError
			if !errors.As(err, &bad) || bad.Code != "program-side" {
				t.Errorf("%s for %s: %v, want program-side", e[1], e[0], err)
			}
		}
		if _, err := Read("a.nc", strings.NewReader(text), ReadParams{Frame: &Frame{Along: machine.AlongX}}); err == nil {
			t.Error("a set-up with the bar along X takes a program for a standing bar")
		}
		// in any order, and with the zero's words alone
		late := strings.Replace(strings.Replace(text, "(side end)\n", "", 1), "(cutter flat-3)\n", "(cutter flat-3)\n(side end)\n", 1)
		late = strings.Replace(late, "(bar standing)\n", "", 1)
		if y, err := Read("a.nc", strings.NewReader(late), ReadParams{}); err != nil || y.Frame != x.Frame {
			t.Errorf("without (bar standing): %v", err)
		}
		late = strings.Replace(text, "(side end)\n", "", 1)
		late = strings.Replace(late, "M30", "(side end)\nM30", 1)
		if y, err := Read("a.nc", strings.NewReader(late), ReadParams{}); err != nil || y.Frame != x.Frame {
			t.Errorf("with the side last: %v", err)
		}
	}
}
