package job

import (
	"math"
	"testing"

	"barwise/finding"
)

const open = `model: a.stl
material: tooling-board
machine: small-mill
bar: {size: 28, length: 95, grip: 22}
cutters: [flat-6, flat-3, ball-3, ball-1]
rough: {cutter: best, allowance: 0.3}
finish: {cutter: best, cusp: 2 um}
`

func must(t *testing.T, src string) *Job {
	t.Helper()
	j, err := Read("x.yaml", []byte(src), Options{})
	if err != nil {
		t.Fatal(err)
	}
	return j
}

// A chosen job is the job with the names written in, whatever else it says.
func TestChosenIsAsWritten(t *testing.T) {
	j := must(t, open)
	if c := j.Choose; c == nil || !c.Rough || !c.Finish || len(c.From) != 4 || len(j.Rough)+len(j.Finish) != 0 {
		t.Fatalf("the open job is %+v", j.Choose)
	}
	got, err := j.Chosen([]string{"flat-6", "flat-3"}, []string{"ball-3", "ball-1"}, &Semi{Cutter: "ball-3", Allowance: 0.05, Cusp: 0.02})
	if err != nil {
		t.Fatal(err)
	}
	want := must(t, `model: a.stl
material: tooling-board
machine: small-mill
bar: {size: 28, length: 95, grip: 22}
rough: [{cutter: flat-6, allowance: 0.3}, {cutter: flat-3, allowance: 0.3}]
finish:
  - {cutter: ball-3, cusp: 20 um, allowance: 0.05}
  - {cutter: ball-3, cusp: 2 um}
  - {cutter: ball-1, cusp: 2 um}
`)
	if len(got.Rough) != 2 || len(got.Finish) != 3 || got.Choose != nil {
		t.Fatalf("%d roughing, %d finishing cuts", len(got.Rough), len(got.Finish))
	}
	for i := range want.Rough {
		a, b := got.Rough[i], want.Rough[i]
		if a.Cutter.ID != b.Cutter.ID || a.Cutter.Number != b.Cutter.Number || a.Feed != b.Feed || a.Allowance != b.Allowance || a.Deepest != b.Deepest {
			t.Errorf("roughing %d is %+v, want %+v", i, a, b)
		}
	}
	for i := range want.Finish {
		a, b := got.Finish[i], want.Finish[i]
		if a.Cutter.ID != b.Cutter.ID || a.Cusp != b.Cusp || a.Feed != b.Feed || a.Allowance != b.Allowance || a.Corners != b.Corners {
			t.Errorf("finishing %d is %+v, want %+v", i, a, b)
		}
	}
	if got.Finish[1].Corners || !got.Finish[2].Corners {
		t.Error("the ball that follows a larger one cuts its corners only, and no other")
	}
	one, err := j.FinishWith("ball-3")
	if err != nil || one.Feed != want.Finish[1].Feed || one.Cusp != 0.002 {
		t.Errorf("tried by itself: %+v, %v", one, err)
	}
	if r, err := j.RoughWith("flat-6"); err != nil || r.Feed != want.Rough[0].Feed {
		t.Errorf("tried by itself: %+v, %v", r, err)
	}
}

// cos φ = 1 − 2·ae/DC links the two ways to say how much of the rim is in stock.
func TestEngageAndStepoverAreOne(t *testing.T) {
	base := "model: a.stl\nmaterial: al-6061\nmachine: bench-mill\nbar: {size: 28, length: 95, grip: 22}\n"
	a := must(t, base+"rough: {cutter: flat-6, engage: 60 deg}").Rough[0]
	if math.Abs(a.Stepover-1.5) > 1e-9 { // (1 − cos 60°)/2 of 6 mm
		t.Errorf("60° of Ø6 is a width of %g, want 1.5", a.Stepover)
	}
	b := must(t, base+"rough: {cutter: flat-6, stepover: 25 %}").Rough[0]
	if math.Abs(b.Engage-math.Pi/3) > 1e-9 || b.Deepest != a.Deepest || b.Feed != a.Feed {
		t.Errorf("25 %% of Ø6 is %+v, want what 60° is, %+v", b, a)
	}
	wide := must(t, base+"rough: {cutter: flat-6, engage: 180 deg}").Rough[0]
	if wide.Engage != math.Pi || wide.Deepest != wide.Stepdown || wide.Feed > a.Feed {
		t.Errorf("unbounded: %+v", wide)
	}
	for _, bad := range []string{"rough: {cutter: flat-6, engage: 60 deg, stepover: 1}", "rough: {cutter: flat-6, deepest: 40}", "rough: {cutter: flat-6, engage: 200 deg}",
		"rough: {cutter: best}\ncutters: []", "rough: {cutter: best}\ncutters: [flat-7]", "rough: {cutter: flat-6}\nsides: [0, end, end]", "rough: {cutter: flat-6}\nsides: [400]",
		"rough: {cutter: flat-6, engage: 24 deg}", "rough: {cutter: flat-6, stepover: 0.2}", "rough: {cutter: flat-6}\ncutters: [flat-7]",
		"rough: [{cutter: best}, {cutter: flat-3}]", "rough: [{cutter: best}, {cutter: best}]", "finish: {cutter: ball-1, corners: true}", "finish: [{cutter: ball-1}, {cutter: ball-3, corners: true}]"} {
		if _, err := Read("x.yaml", []byte(base+bad), Options{}); !finding.IsInput(err) {
			t.Errorf("%s: %v", bad, err)
		}
	}
}
