package barwise_test

import (
	"bytes"
	"context"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"barwise"
	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/stl"
	"barwise/job"
	"barwise/report"
	"barwise/shop/bar"
	"barwise/unit"
)

// stlFile writes a mesh where a test can name it.
func stlFile(t *testing.T, m *mesh.Mesh) string {
	t.Helper()
	p := filepath.Join(t.TempDir(), "model.stl")
	var b bytes.Buffer
	if err := stl.Write(&b, m, ""); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(p, b.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	return p
}

func surveyOf(t *testing.T, c barwise.Choices, o barwise.SurveyOptions) *barwise.SurveyOutcome {
	t.Helper()
	o.NoPictures = true
	out, err := barwise.SurveyModel(context.Background(), c, o)
	if err != nil {
		t.Fatalf("%v\n%s", err, job.Excerpt(err))
	}
	return out
}

// The job that a survey writes is one: it reads, it holds the model, and its bar is a standard one into
// which the next smaller would not have fitted.
func TestDraftIsAJob(t *testing.T) {
	m := around(bellRadius, straight)
	file := stlFile(t, m)
	for _, c := range []barwise.Choices{
		{Model: file, Along: "+y"},
		{Model: file, Along: "+y", Units: "in", Bar: "hexagonal 1/2"},
		{Model: file, Along: "-y", Scale: "1.5", Spigot: "3 mm", Cutters: []string{"flat-2", "ball-2", "ball-1"}, Cusp: "3 um", Tolerance: "20 um"},
		{Model: file, Along: "[0.1, 1, 0]", Turn: "30", Bar: "{shape: round, size: 16, length: 50, grip: 16, block: hexagonal}"},
	} {
		out := surveyOf(t, c, barwise.SurveyOptions{})
		j, err := job.Read("draft.yaml", out.Draft, job.Options{})
		if err != nil {
			t.Errorf("%v\n%s", err, out.Draft)
			continue
		}
		if out.Facts.Verdict == report.NotAsItIs {
			t.Errorf("%+v: %v", c, out.Facts.First)
		}
		again, err := barwise.Survey(context.Background(), j, barwise.SurveyOptions{NoPictures: true})
		if err != nil {
			t.Fatal(err)
		}
		if a, b := out.Facts.Model, again.Facts.Model; a.Size != b.Size || a.AreaMM2 != b.AreaMM2 {
			t.Errorf("the draft lays a model of %v mm, the survey was of %v", b.Size, a.Size)
		}
		if c.Bar != "" {
			continue
		}
		sizes := bar.Standards(bar.Square, unit.MM)
		for i, s := range sizes {
			if s.Width == j.Bar.Width && i > 0 && sizes[i-1].Width >= max(out.Facts.Model.Size[0], out.Facts.Model.Size[2])+1 {
				t.Errorf("a bar of %g mm was chosen, %g would have done", s.Width, sizes[i-1].Width)
			}
		}
	}
}

// Figures that do not depend on how a model lies are those of the closed form: a box of 8 × 9 × 10.
func TestSurveyOfABox(t *testing.T) {
	out := surveyOf(t, barwise.Choices{Model: stlFile(t, box(8, 9, 10)), Along: "+z"}, barwise.SurveyOptions{})
	f := out.Facts
	if f.Model.Triangles != 12 || !f.Model.Closed || f.Model.Genus != 0 || f.Model.VolumeMM3 != 720 || f.Model.AreaMM2 != 2*(72+80+90) {
		t.Errorf("%+v", f.Model)
	}
	if f.Facets.Share != 0 || f.Facets.ChordUM.Max != 0 {
		t.Errorf("flats have facets: %+v", f.Facets)
	}
	if f.Thickness.Below != 0 || f.Thickness.Least != 4 { // 4 mm is where it is thick enough not to be looked at
		t.Errorf("%+v", f.Thickness)
	}
	area := 0.0
	for _, c := range f.Reach.Classes {
		area += c.Area
	}
	if math.Abs(area-f.Reach.Judged) > 0.05 {
		t.Errorf("classes sum to %g mm², judged are %g", area, f.Reach.Judged)
	}
}

func box(x, y, z float64) *mesh.Mesh {
	m := &mesh.Mesh{}
	for i := range 8 {
		m.Vertices = append(m.Vertices, geom.Vec3{X: x * float64(i&1), Y: y * float64(i>>1&1), Z: z * float64(i>>2)})
	}
	m.Triangles = [][3]int32{{0, 2, 3}, {0, 3, 1}, {4, 5, 7}, {4, 7, 6}, {0, 1, 5}, {0, 5, 4}, {2, 6, 7}, {2, 7, 3}, {0, 4, 6}, {0, 6, 2}, {1, 3, 7}, {1, 7, 5}}
	return m
}

// A window is found as what it is, shown, and closed on request; then the box has its volume back.
func TestWindowIsFoundAndFilled(t *testing.T) {
	m := box(8, 9, 10)
	m.Triangles = m.Triangles[2:] // the face at z = 0, 8 by 9 mm
	file := stlFile(t, m)
	out := surveyOf(t, barwise.Choices{Model: file, Along: "+z"}, barwise.SurveyOptions{})
	h := out.Facts.Holes
	if len(h) != 1 || h[0].Length != 34 || h[0].Edges != 4 || !h[0].Flat || h[0].Filled || math.Abs(h[0].Across-8) > 1e-3 {
		t.Fatalf("holes %+v", h)
	}
	if out.Facts.Verdict != report.NotAsItIs || !out.Blocked() || len(out.Facts.Changes) == 0 || !strings.HasPrefix(out.Facts.Changes[0].Job, "mend: {fill: ") {
		t.Errorf("%s, first change %+v", out.Facts.Verdict, out.Facts.Changes)
	}
	fill := strings.TrimPrefix(out.Facts.Changes[0].Job, "mend: ")
	out = surveyOf(t, barwise.Choices{Model: file, Along: "+z", Mend: fill}, barwise.SurveyOptions{})
	if f := out.Facts; !f.Model.Closed || f.Model.VolumeMM3 != 720 || len(f.Holes) != 1 || !f.Holes[0].Filled || out.Mended == nil || len(f.Mends) != 1 {
		t.Errorf("mended with %s: %+v, holes %+v", fill, f.Model, f.Holes)
	}
	dir := filepath.Join(t.TempDir(), "out")
	if err := out.Write(context.Background(), dir); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"survey.html", "survey.json", "job.yaml", "mended.3mf"} {
		if st, err := os.Stat(filepath.Join(dir, name)); err != nil || st.Size() == 0 {
			t.Errorf("%s: %v", name, err)
		}
	}
	var back report.Survey
	b, err := os.ReadFile(filepath.Join(dir, "survey.json"))
	if err != nil || json.Unmarshal(b, &back) != nil || back.Model.VolumeMM3 != 720 {
		t.Errorf("survey.json: %v", err)
	}
}

// An open model in inches by its size: the unit is guessed, said, and written into the draft.
func TestUnitIsGuessedAndKept(t *testing.T) {
	k := 1 / 25.4
	out := surveyOf(t, barwise.Choices{Model: stlFile(t, box(20*k, 21*k, 22*k)), Along: "+z"}, barwise.SurveyOptions{})
	if f := out.Facts.Model; f.Unit != "inch" || math.Abs(f.Size[1]-22) > 1e-3 {
		t.Errorf("%+v", f)
	}
	if !bytes.Contains(out.Draft, []byte("model_units: in\n")) {
		t.Errorf("the draft says nothing of inches:\n%s", out.Draft)
	}
}

// The way to lie that a job has looked for is one that its bar holds, and the job that comes of it plans.
func TestPlanLiesBest(t *testing.T) {
	// a bar of 6 by 6 by 20 mm, askew in its own frame
	lean := geom.Vec3{X: 1, Y: 2, Z: 2}.Unit()
	side := geom.Vec3{X: 2, Y: 1, Z: -2}.Unit()
	m := box(6, 20, 6).Map(func(p geom.Vec3) geom.Vec3 {
		return side.Mul(p.X).Add(lean.Mul(p.Y)).Add(side.Cross(lean).Mul(p.Z))
	})
	j, err := job.Read("best.yaml", []byte("model: "+stlFile(t, m)+`
material: tooling-board
machine: small-mill
bar: {size: 10, length: 50, grip: 15}
lay: {along: best}
sides: [0, 90, 180, 270]
rough: {cutter: flat-3, stepdown: 2}
`), job.Options{})
	if err != nil {
		t.Fatal(err)
	}
	out, err := barwise.Survey(context.Background(), j, barwise.SurveyOptions{NoPictures: true})
	if err != nil {
		t.Fatal(err)
	}
	p := out.Facts.Poses
	if p == nil || p.Chosen != 0 {
		t.Fatalf("poses %+v", p)
	}
	d := geom.Vec3{X: p.Best[0].Dir[0], Y: p.Best[0].Dir[1], Z: p.Best[0].Dir[2]}
	if c := math.Abs(d.Unit().Dot(lean)); c < math.Cos(2*math.Pi/180) {
		t.Errorf("the bar lies along %v, its axis is %v: %.2f° off", d, lean, math.Acos(min(1, c))*180/math.Pi)
	}
	if s := out.Facts.Model.Size; math.Abs(s[1]-20) > 0.1 || s[0] > 6.3 || s[2] > 6.3 {
		t.Errorf("as laid it measures %v, the box is 6 × 20 × 6", s)
	}
}

// Refining is done at the scale the model is cut at, and told before and after.
func TestRefineInAJob(t *testing.T) {
	m := around(bellRadius, straight)
	j, err := job.Read("fine.yaml", []byte("model: "+stlFile(t, m)+`
material: tooling-board
machine: small-mill
bar: {size: 20, length: 60, grip: 15}
lay: {along: +y, scale: 2}
rough: {cutter: flat-3}
finish: {cutter: ball-1, cusp: 5 um}
refine: {chord: 1 um}
`), job.Options{})
	if err != nil {
		t.Fatal(err)
	}
	out, err := barwise.Survey(context.Background(), j, barwise.SurveyOptions{NoPictures: true})
	if err != nil {
		t.Fatal(err)
	}
	f := out.Facts.Facets
	if f.Before == nil || f.Before.Triangles != len(m.Triangles) || f.Triangles <= 4*f.Before.Triangles {
		t.Fatalf("%+v", f)
	}
	if f.ChordUM.P99 > 1.5 || f.ChordUM.P99 > f.Before.ChordUM.P99/10 || f.Share > f.Before.Share/4 {
		t.Errorf("before %+v, after %+v", f.Before, f)
	}
}

// A height asked for sets the size: the bar that is chosen is for that, not for the model as it was read.
func TestDraftForAHeight(t *testing.T) {
	out := surveyOf(t, barwise.Choices{Model: stlFile(t, box(40, 200, 40)), Along: "+y", Height: "50"}, barwise.SurveyOptions{})
	if s := out.Facts.Model.Size; math.Abs(s[0]-10) > 1e-3 || math.Abs(s[1]-50) > 1e-3 {
		t.Errorf("it measures %v, want 10 × 50 × 10", s)
	}
	j, err := job.Read("draft.yaml", out.Draft, job.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if j.Bar.Width < 11 || j.Bar.Width > 12 {
		t.Errorf("a bar of %g mm for a model 10 mm across, with half a millimetre to spare at each face", j.Bar.Width)
	}
}
