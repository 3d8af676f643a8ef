package barwise_test

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"

	"barwise"
	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/job"
)

// pasted is a job with lines put in the place of those of the same keys.
func pasted(text, lines string) string {
	for _, l := range strings.Split(lines, "\n") {
		key, _, _ := strings.Cut(l, ":")
		var out []string
		in := false
		for _, old := range strings.Split(text, "\n") {
			if in = strings.HasPrefix(old, key+":") || in && strings.HasPrefix(old, " "); !in {
				out = append(out, old)
			}
		}
		text = strings.Join(out, "\n") + l + "\n"
	}
	return text
}

// slotted is a block with a slot that is too narrow for a ball of 1 mm.
func slotted() *mesh.Mesh {
	parts := []*mesh.Mesh{}
	for _, b := range [][2]geom.Vec3{
		{{}, {X: 7, Y: 4, Z: 6}},
		{{Z: 6}, {X: 3, Y: 4, Z: 7}},
		{{X: 3.8, Z: 6}, {X: 7, Y: 4, Z: 7}},
	} {
		size := b[1].Sub(b[0])
		m := box(size.X, size.Y, size.Z)
		parts = append(parts, m.Map(func(p geom.Vec3) geom.Vec3 { return p.Add(b[0]) }))
	}
	return mesh.Join(parts...)
}

// Every line that a survey has for the job goes into the job as it stands, in the place of the line with its
// key, and what was reckoned for it comes out.
func TestLinesForTheJobGoIntoTheJob(t *testing.T) {
	for name, m := range map[string]*mesh.Mesh{"cutter": slotted(), "thin": box(4, 4, 4)} {
		linesOf(t, name, m)
	}
}

func linesOf(t *testing.T, name string, m *mesh.Mesh) {
	text := "model: " + stlFile(t, m) + `
model_units: mm
material: tooling-board
machine: small-mill
bar: {size: 14, length: 40, grip: 16}
lay: {along: +y, scale: 1.1, margin: 0.5, spigot: {diameter: 3, shape: square}}
rough:
  - {cutter: {like: flat-3, stick_out: 20}}
finish: [{cutter: {like: ball-1, stick_out: 12}, cusp: 4 um, direction: across}]
survey: {thinnest: 4.5}
`
	read := func(text string) *job.Job {
		j, err := job.Read("lines.yaml", []byte(text), job.Options{})
		if err != nil {
			t.Fatalf("%v\n%s\n%s", err, job.Excerpt(err), text)
		}
		return j
	}
	survey := func(text string) *barwise.SurveyOutcome {
		out, err := barwise.Survey(context.Background(), read(text), barwise.SurveyOptions{NoPictures: true})
		if err != nil {
			t.Fatal(err)
		}
		return out
	}
	told := false
	for _, c := range survey(text).Facts.Changes {
		if c.Job == "" {
			continue
		}
		told = told || c.Code == name
		with := pasted(text, c.Job)
		j := read(with)
		if j.Lay.Margin != 0.5 || !j.Lay.Spigot.Square || j.Lay.Scale < 1.1 || j.Finish[0].Direction != "across" || j.Rough[0].Cutter.StickOut < 20 {
			t.Errorf("%s changes what it has nothing to do with", c.Job)
		}
		if strings.Contains(c.What+c.Job, "own-") {
			t.Errorf("%s: %s speaks of a cutter that nobody knows by that name", c.What, c.Job)
		}
		if c.Code != "cutter" {
			continue
		}
		var then, now float64
		fmt.Sscanf(c.Then, "%f mm²", &then)
		first := survey(with).Facts.First[0]
		if fmt.Sscanf(first, "%f mm²", &now); math.Abs(then-now) > 0.01*now { // a smaller cutter leaves a smaller corner at the spigot out
			t.Errorf("%s: %g mm² were to be left, then: %s", c.Job, then, first)
		}
	}
	if !told {
		t.Errorf("there is no line for %s", name)
	}
}
