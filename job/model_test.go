package job

import (
	"strings"
	"testing"
)

const plain = "model: a.stl\nmaterial: pom\nmachine: belt-mill\nbar: {size: 20, length: 90, grip: 20}\nrough: {cutter: flat-3}\nfinish: {cutter: ball-1}\n"

// What is asked of the mesh, in the job's units.
func TestMeshKeys(t *testing.T) {
	j := read(t, strings.Replace(plain, "bar: {size: 20, length: 90, grip: 20}", "bar: {size: 1, length: 4, grip: 1}", 1)+"units: in\nmend: {weld: 1 um, orient: true, fill: 1/8, specks: 2 mm}\nrefine: {kink: 0.5, chord: 1 um}\nsurvey: {thinnest: 0.8 mm, shiny: true}\n")
	if m := *j.Mend; m != (Mend{Weld: 0.001, Orient: true, Fill: 3.175, Specks: 2}) {
		t.Errorf("mend %+v", m)
	}
	if r := *j.Refine; r != (Refine{Chord: 0.001, KinkDeg: 0.5, Most: stdRefineMost}) {
		t.Errorf("refine %+v", r)
	}
	if j.Survey != (Survey{Thinnest: 0.8, Shiny: true, CreaseDeg: stdCrease}) {
		t.Errorf("survey %+v", j.Survey)
	}
	if j = read(t, plain); j.Mend != nil || j.Refine != nil {
		t.Error("mends or refines unasked")
	}
}

func TestLayDirections(t *testing.T) {
	lay := func(s string) Lay { return read(t, plain+"lay: {"+s+"}\n").Lay }
	if l := lay("along: -x"); l.Along != "-x" || l.Dir != nil || l.Best {
		t.Errorf("%+v", l)
	}
	if l := lay("along: [0.5, 0, -2], turn: 7"); l.Along != "" || *l.Dir != [3]float64{0.5, 0, -2} || l.TurnDeg != 7 {
		t.Errorf("%+v", l)
	}
	if l := lay("along: best"); !l.Best || l.Along != "" {
		t.Errorf("%+v", l)
	}
	l := lay("margin: 0.5, shift_x: -1, shift_z: 2, gap: 3, spigot: {diameter: 6, shape: square}")
	if l.Margin != 0.5 || l.ShiftX != -1 || l.ShiftZ != 2 || l.Spigot != (Spigot{Diameter: 6, Square: true, Fillet: 0.75}) {
		t.Errorf("%+v", l)
	}
}

func TestBadMeshKeys(t *testing.T) {
	for src, want := range map[string]string{
		"lay: {along: bets}":                 "did you mean best?",
		"lay: {along: [0, 0, 0]}":            "not all 0",
		"lay: {along: [1, 2]}":               "three numbers",
		"lay: {along: {x: 1}}":               "three numbers",
		"lay: {along: best, turn: 3}":        "looks for the turn itself",
		"lay: {gap: 2, spigot: {fillet: 1}}": "less than half the gap",
		"mend: {orient: false}":              "nothing is asked for",
		"mend: {fill: -1}":                   "mend.fill",
		"refine: {chord: 0}":                 "refine.chord",
		"refine: {most: 0}":                  "refine.most",
		"survey: {crease: 200}":              "at most",
	} {
		_, err := Read("a.yaml", []byte(plain+src+"\n"), Options{})
		if err == nil || !strings.Contains(err.Error(), want) || !strings.Contains(err.Error(), "a.yaml:7:") {
			t.Errorf("%s: %v, want %q at line 7", src, err, want)
		}
	}
}
