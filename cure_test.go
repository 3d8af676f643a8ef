package barwise_test

import (
	"context"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"barwise"
	"barwise/finding"
	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/job"
	"barwise/report"
)

// What the survey says to mend does mend: taken at its word, the same model comes through.
func TestMendingAskedForMends(t *testing.T) {
	open, inward, seam := box(8, 9, 10), box(8, 9, 10), box(8, 9, 10)
	open.Triangles = open.Triangles[2:]
	for i, q := range inward.Triangles {
		inward.Triangles[i] = [3]int32{q[0], q[2], q[1]}
	}
	turned := box(8, 9, 10)
	turned.Triangles = append([][3]int32{{0, 3, 2}}, turned.Triangles[2:]...) // one is missing, one the wrong way
	// every triangle with corners of its own, a few hundred-thousandths of a millimetre apart
	apart := &mesh.Mesh{}
	for i, q := range seam.Triangles {
		for _, v := range q {
			apart.Vertices = append(apart.Vertices, seam.Vertices[v].Add(geom.Vec3{X: 1e-5 * float64(i%5), Y: 1e-5 * float64(i%3)}))
		}
		n := int32(3 * i)
		apart.Triangles = append(apart.Triangles, [3]int32{n, n + 1, n + 2})
	}
	for name, c := range map[string]struct {
		m    *mesh.Mesh
		want string // the one key that cannot be done without
	}{"open": {open, "fill"}, "inward": {inward, "orient"}, "turned": {turned, "orient"}, "seam": {apart, "weld"}} {
		file := stlFile(t, c.m)
		out := surveyOf(t, barwise.Choices{Model: file, Along: "+z"}, barwise.SurveyOptions{})
		i := slices.IndexFunc(out.Facts.Changes, func(c report.Change) bool { return strings.HasPrefix(c.Job, "mend: ") })
		if i < 0 || !strings.Contains(out.Facts.Changes[i].Job, c.want+": ") {
			t.Errorf("%s: %+v", name, out.Facts.Changes)
			continue
		}
		ask := strings.TrimPrefix(out.Facts.Changes[i].Job, "mend: ")
		again := surveyOf(t, barwise.Choices{Model: file, Along: "+z", Mend: ask}, barwise.SurveyOptions{})
		if w, _ := finding.Worst(again.Facts.Findings); w == finding.Blocking || again.Facts.Model.VolumeMM3 < 719.9 || again.Facts.Model.VolumeMM3 > 720.1 {
			t.Errorf("%s: %s leaves %g mm³ and %v", name, ask, again.Facts.Model.VolumeMM3, again.Facts.First)
		}
	}
}

// A wall is measured as far as the limit asks, not only as far as would be looked at by itself.
func TestThinnestIsMeasuredAgainstItsLimit(t *testing.T) {
	j, err := job.Read("thin.yaml", []byte("model: "+stlFile(t, box(8, 9, 10))+`
material: tooling-board
machine: small-mill
bar: {size: 24, length: 50, grip: 15}
rough: [{cutter: flat-3}]
survey: {thinnest: 7}
`), job.Options{})
	if err != nil {
		t.Fatal(err)
	}
	out, err := barwise.Survey(context.Background(), j, barwise.SurveyOptions{NoPictures: true})
	if err != nil {
		t.Fatal(err)
	}
	if f := out.Facts.Thickness; f.Below != 0 {
		t.Errorf("in a box of 8 × 9 × 10 mm %g mm² are said to be thinner than 7 mm", f.Below)
	}
}

// A model that no standard bar holds, or that the cutters are too short for, is looked at all the same and
// has its answer in the draft that was written.
func TestModelLargerThanAnyBar(t *testing.T) {
	out := surveyOf(t, barwise.Choices{Model: stlFile(t, box(9, 90, 9)), Along: "+z", Folder: "there"}, barwise.SurveyOptions{})
	if _, err := job.Read("draft.yaml", out.Draft, job.Options{}); err != nil {
		t.Errorf("%v\n%s", err, out.Draft)
	}
	if out.Facts.Verdict != report.NotAsItIs || !strings.HasPrefix(out.Facts.First[0], filepath.Join("there", "job.yaml")+":") {
		t.Errorf("%s: %q", out.Facts.Verdict, out.Facts.First)
	}
}

// A model inside out has one thing against it, not also that nothing meets the spigot.
func TestInsideOutIsSaidOnce(t *testing.T) {
	m := box(8, 9, 10)
	for i, q := range m.Triangles {
		m.Triangles[i] = [3]int32{q[0], q[2], q[1]}
	}
	out := surveyOf(t, barwise.Choices{Model: stlFile(t, m), Along: "+z"}, barwise.SurveyOptions{})
	n := 0
	for _, f := range out.Facts.Findings {
		if f.Severity == finding.Blocking {
			n++
		}
	}
	if n != 1 {
		t.Errorf("%+v", out.Facts.Findings)
	}
}
