package barwise_test

import (
	"strings"
	"testing"

	"barwise/finding"
	"barwise/geom"
	"barwise/geom/mesh/sample"
	"barwise/proof"
)

// A job whose sides name the end, out of a square and a hexagonal bar: its programs say so, and all of the
// cup is made and proved, its well too, which no other side sees (TestCupWithEnd).
func TestJobWithEnd(t *testing.T) {
	text := `model: model.stl
material: tooling-board
machine: small-mill
bar: {BAR, length: 34, grip: 9}
lay: {along: +y, spigot: none}
sides: [SIDES]
rough: {cutter: flat-3, stepdown: 1, allowance: 0.1}
finish: {cutter: ball-2, cusp: 10 um, allowance: 0}
tolerance: 20 um
hold: {bar_along: x}
`
	m := sample.Cup(0, 64)
	for _, c := range [][2]string{
		{"size: 18", "0, 90, 180, 270, end"},
		{"shape: hexagonal, size: 18", "end, 0, 60, 120, 180, 240, 300"},
	} {
		o := plan(t, m, replace(t, text, "BAR", c[0], "SIDES", c[1]))
		f := o.Facts
		if f.Verdict == string(proof.NotProven) || f.Area.Unreachable > 0.5 {
			t.Errorf("%s: %s, %+v", c[0], f.Verdict, f.Area)
		}
		for _, x := range f.Findings {
			// how smoothly roughing goes is not what this is about
			if x.Severity > finding.Note && x.Code != "engage-over" {
				t.Errorf("%s: %v", c[0], x)
			}
		}
		ends := 0
		for i, p := range f.Programs {
			end := geom.IsEnd(p.SideDeg)
			if end {
				ends++
			}
			text := string(o.Texts[i].Data)
			if end != strings.Contains(p.File, "-end-") || end != strings.Contains(text, "(bar standing)") || end != strings.Contains(text, "(side end)") || strings.Contains(text, "e+06") {
				t.Errorf("%s: %.300s", p.File, text)
			}
		}
		if ends != 2 {
			t.Errorf("%s: %d programs for the end, want one that roughs and one that finishes", c[0], ends)
		}
	}
}
