package job

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"barwise/finding"
	"barwise/shop/bar"
	"barwise/shop/catalog"
	"barwise/unit"
)

func read(t *testing.T, src string) *Job {
	t.Helper()
	j, err := Read("dir/rook.yaml", []byte(src), Options{})
	if err != nil {
		t.Fatalf("%v\n%s", err, Excerpt(err))
	}
	return j
}

func TestJobIsResolved(t *testing.T) {
	j := read(t, whole)
	if j.Name != "rook" || j.Model != filepath.Join("dir", "rook.stl") || j.ModelUnit != 1 || !j.ModelOwn {
		t.Errorf("%s, %s, %v, %v", j.Name, j.Model, j.ModelUnit, j.ModelOwn)
	}
	if j.Bar != (bar.Bar{Shape: bar.Square, Width: 28, Height: 28, Length: 95, Grip: 22}) {
		t.Errorf("bar %+v", j.Bar)
	}
	f := j.Finish[0]
	if f.Cusp != 0.002 || f.SpindleRPM != 12000 || f.Cutter.DC() != 1 || f.Cutter.Number != 2 || j.Rough[0].Cutter.Number != 1 {
		t.Errorf("finish %+v", f)
	}
	if j.StubY() != 24 || j.Floor(0) != -14 || j.JawTop(90) != 14 {
		t.Errorf("stub %v, floor %v, jaws %v", j.StubY(), j.Floor(0), j.JawTop(90))
	}
	for path, want := range map[string]string{
		"finish.spindle": "dir/rook.yaml:10:12", "finish[0].spindle": "dir/rook.yaml:10:12", "rough[0].stepdown": "dir/rook.yaml:6:35",
		"rough[0].feed": "dir/rook.yaml:6:8", "bar.size": "dir/rook.yaml:5:28", "hold.zero": "dir/rook.yaml",
	} {
		if got := j.Place(path); got != want {
			t.Errorf("place of %s: %s, want %s", path, got, want)
		}
	}
	err := j.Bad("reach", "finish[0].cutter", "too short", "a longer one")
	if got := err.Error(); got != "dir/rook.yaml:8:11: too short; a longer one" || !strings.Contains(Excerpt(err), "> 8 |   cutter: ball-1") {
		t.Errorf("%q\n%s", got, Excerpt(err))
	}
}

// What is left out is recorded; what is written is not; and writing the defaults out changes nothing.
func TestEveryDefaultIsRecordedAndMeansWhatItSays(t *testing.T) {
	short := "model: a.stl\nmaterial: pom\nmachine: belt-mill\nbar: {size: 20, length: 90, grip: 20}\nrough: {cutter: flat-3}\nfinish: {cutter: ball-1}\n"
	j := read(t, short)
	seen := map[string]Default{}
	for _, d := range j.Defaults {
		if d.Value == "" || d.Why == "" {
			t.Errorf("%+v has no value or no reason", d)
		}
		if _, twice := seen[d.Path]; twice {
			t.Errorf("%s is recorded twice", d.Path)
		}
		seen[d.Path] = d
	}
	long := `units: mm
model: a.stl
model_units: mm
material: pom
machine: belt-mill
bar: {shape: square, size: 20, length: 90, grip: 20}
`
	lay, hold, rough, finish := []string{}, []string{}, []string{"cutter: flat-3"}, []string{"cutter: ball-1"}
	top := ""
	for _, d := range j.Defaults {
		section, key, nested := strings.Cut(d.Path, ".")
		line := key + ": " + d.Value
		switch {
		case d.Path == "hold.zero_at" || d.Path == "units" || d.Path == "model_units" || d.Path == "bar.shape":
		case d.Path == "sides":
			top += "sides: [" + d.Value + "]\n"
		case d.Path == "survey.crease":
			top += "survey: {crease: " + d.Value + "}\n"
		case !nested:
			top += d.Path + ": " + d.Value + "\n"
		case section == "lay" && strings.HasPrefix(key, "spigot."):
		case section == "lay":
			lay = append(lay, line)
		case section == "hold":
			hold = append(hold, line)
		case section == "rough[0]" && key == "stepover":
			rough = append(rough, "stepover: 45 %")
		case section == "rough[0]":
			rough = append(rough, line)
		case section == "finish[0]":
			finish = append(finish, line)
		default:
			t.Errorf("a default at %s", d.Path)
		}
	}
	lay = append(lay, fmt.Sprintf("spigot: {diameter: %s, shape: %s, fillet: %s}", seen["lay.spigot.diameter"].Value, seen["lay.spigot.shape"].Value, seen["lay.spigot.fillet"].Value))
	long += top
	for name, keys := range map[string][]string{"lay": lay, "hold": hold, "rough": rough, "finish": finish} {
		long += name + ": {" + strings.Join(keys, ", ") + "}\n"
	}
	k := read(t, long)
	if len(k.Defaults) != 1 { // where the machine's zero is cannot be written as 'not known'
		t.Errorf("with everything written out, %d defaults are left: %v", len(k.Defaults), k.Defaults)
	}
	j.Defaults, k.Defaults, j.doc, k.doc = nil, nil, nil, nil
	j.file, k.file = nil, nil
	k.ModelOwn = j.ModelOwn
	if !near(reflect.ValueOf(*j), reflect.ValueOf(*k)) {
		t.Errorf("writing the defaults out changes the job:\n%+v\n%+v", j, k)
	}
}

// near compares with room for the four decimals that a default is shown with.
func near(a, b reflect.Value) bool {
	switch a.Kind() {
	case reflect.Float64:
		return math.Abs(a.Float()-b.Float()) <= 1e-4*max(1, math.Abs(a.Float()))
	case reflect.Struct:
		for i := range a.NumField() {
			if !near(a.Field(i), b.Field(i)) {
				return false
			}
		}
		return true
	case reflect.Slice, reflect.Array:
		if a.Len() != b.Len() {
			return false
		}
		for i := range a.Len() {
			if !near(a.Index(i), b.Index(i)) {
				return false
			}
		}
		return true
	case reflect.Pointer:
		return a.IsNil() == b.IsNil() && (a.IsNil() || near(a.Elem(), b.Elem()))
	}
	return a.Equal(b)
}

// The same job written in inches is the same job: 25.4 mm to the inch.
func TestUnitsDoNotMatter(t *testing.T) {
	mm := "units: mm\nmodel: a.stl\nmaterial: pom\nmachine: small-mill\nbar: {size: 28.575, length: 88.9, grip: 22.225}\nfinish: {cutter: ball-1-32in, cusp: 2 um, feed: 1016, entry_feed: 254, spindle: 10000}\ntolerance: 0.0127\n"
	in := "units: in\nmodel: a.stl\nmaterial: pom\nmachine: small-mill\nbar: {size: 1 1/8, length: 3-1/2, grip: 7/8}\nfinish: {cutter: ball-1-32in, cusp: 2 um, feed: 40, entry_feed: 10, spindle: 10000}\ntolerance: 0.0005\n"
	a, b := read(t, mm), read(t, in)
	if a.Finish[0].Feed != 1016.0/60 || a.Bar.Width != 28.575 {
		t.Errorf("%v, %v", a.Finish[0].Feed, a.Bar.Width)
	}
	a.Units, a.Defaults, b.Defaults, a.doc, b.doc, a.Findings, b.Findings = unit.Inch, nil, nil, nil, nil, nil, nil
	a.file, b.file = nil, nil
	if !reflect.DeepEqual(a, b) {
		t.Errorf("in mm   %+v\nin inch %+v", a, b)
	}
}

// Common practice, no source: a 1/32 in ball at 10 000 /min, 40 in/min and two flutes, 0.002 in a tooth.
func TestFeedsFollowTheFormula(t *testing.T) {
	j := read(t, whole)
	f, m := j.Finish[0], j.Material
	if want := 12000 * 2 * m.ChipPerMM.Value * 1 / 60; math.Abs(f.Feed-want) > 1.0/60 || f.Feed > want {
		t.Errorf("feed %v, want n·z·fz = %v rounded down to whole mm/min", f.Feed, want)
	}
	if r := j.Rough[0]; r.SpindleRPM != 24000 || r.Feed != 50 { // 500 m/min at Ø3 would be 53 052; 24 000 x 2 x 0.09 would be 4320 mm/min
		t.Errorf("not capped by the machine: %v rpm, %v mm/s", r.SpindleRPM, r.Feed)
	}
	// a finish climbs walls: the small mill's Z makes 1500 mm/min, 24 000 x 2 x 0.09 would be 4320
	j = read(t, strings.Replace(strings.Replace(whole, "cutter: ball-1", "cutter: ball-3", 1), "  spindle: 12000 rpm\n", "", 1))
	if f := j.Finish[0]; f.SpindleRPM != 24000 || f.Feed != 25 {
		t.Errorf("finish not capped by Z: %v rpm, %v mm/s", f.SpindleRPM, f.Feed)
	}
	// brass at Ø3, middle of 100 to 300 m/min: 21 220.66 /min by n = 1000·vc/(π·D)
	j = read(t, strings.Replace(whole, "tooling-board", "brass-c36000", 1))
	if got := j.Rough[0].SpindleRPM; got != 21220 {
		t.Errorf("brass: %v rpm", got)
	}
	// a spindle that cannot turn so slowly turns as slowly as it can
	j = read(t, strings.Replace(strings.Replace(whole, "tooling-board", "{like: brass-c36000, speed: {min: 10, max: 30, source: s}}", 1), "  spindle: 12000 rpm\n", "", 1))
	if got := j.Rough[0].SpindleRPM; got != 6000 {
		t.Errorf("slow: %v rpm", got)
	}
}

func TestDoubtfulThingsAreFindings(t *testing.T) {
	for _, c := range []struct {
		old, new, code, where string
		s                     finding.Severity
	}{
		{"cusp: 2 um", "cusp: 10 um", "job-cusp", "dir/rook.yaml:9:9", finding.Warning},
		{"cusp: 2 um", "cusp: 20 um\n  allowance: 50 um", "", "", finding.Warning}, // a later cut takes its ridges
		{"spindle: 12000 rpm", "feed: 3000", "", "", finding.Warning},
		{"spindle: 12000 rpm", "feed: 10", "job-tooth-load", "dir/rook.yaml:10:9", finding.Warning},
		{"cutter: ball-1", "cutter: ball-0.5", "job-shank", "dir/rook.yaml:8:11", finding.Note},
		{"size: 28", "size: 44", "job-reach", "dir/rook.yaml:8:11", finding.Warning},
	} {
		src := strings.Replace(strings.Replace(whole, c.old, c.new, 1), "cutter: flat-3", "cutter: {like: flat-3, stick_out: 30}", 1)
		j := read(t, src)
		found := c.code == "" && len(j.Findings) == 0
		for _, f := range j.Findings {
			found = found || f.Code == c.code && f.Where == c.where && f.Severity == c.s
		}
		if !found {
			t.Errorf("%s: %v, want %s at %s", c.new, j.Findings, c.code, c.where)
		}
	}
}

// Published line offsets by ball diameter and cusp, Dormer Pramet 2021–22 p. 114, to their two digits:
// the cusp of the offset must be the cusp of the column within what half a hundredth changes.
func TestStepoverBecomesItsCusp(t *testing.T) {
	for _, c := range []struct{ d, um, offset float64 }{
		{2, 2, 0.13}, {2, 8, 0.25}, {2, 32, 0.50}, {2, 250, 1.32}, {3, 4, 0.22}, {3, 63, 0.86}, {3, 125, 1.20}, {6, 2, 0.22}, {6, 16, 0.62}, {6, 125, 1.71}, {6, 250, 2.40}, {12, 8, 0.62},
	} {
		lo, hi := cusp(t, c.d, c.offset-0.005), cusp(t, c.d, c.offset+0.005)
		if um := c.um / 1000; um < lo || um > hi {
			t.Errorf("Ø%v, offset %v: cusp %v to %v, the table says %v", c.d, c.offset, lo, hi, um)
		}
	}
	// computed from h = R − √(R² − s²/4): R 0.5, s 0.05 and 0.1
	for s, um := range map[float64]float64{0.05: 0.625, 0.1: 2.506} {
		if got := 1000 * cusp(t, 1, s); math.Abs(got-um) > 0.0006 {
			t.Errorf("R 0.5, s %v: %v um, want %v", s, got, um)
		}
	}
}

func cusp(t *testing.T, d, s float64) float64 {
	src := fmt.Sprintf("cutter: {shape: ball, DC: %v, LCF: 12, stick_out: 30}\n  stepover: %v", d, s)
	return read(t, strings.Replace(whole, "cutter: ball-1\n  cusp: 2 um", src, 1)).Finish[0].Cusp
}

func TestBarsAndSides(t *testing.T) {
	with := func(b, more string) *Job {
		return read(t, strings.Replace(whole, "bar: {shape: square, size: 28, length: 95, grip: 22}", b, 1)+more)
	}
	if j := with("bar: {shape: hexagonal, size: 24, length: 95, grip: 22}", ""); len(j.Sides) != 6 || j.Floor(60) != -12 {
		t.Errorf("hexagonal: %v, %v", j.Sides, j.Floor(60))
	}
	j := with("bar: {shape: round, size: 1 in, length: 95, grip: 22, block: hexagonal}", "sides: [300, 60 deg]\n")
	if j.Bar.Block != bar.Hex || j.Bar.Width != 25.4 || !reflect.DeepEqual(j.Sides, []float64{300, 60}) {
		t.Errorf("round: %+v, %v", j.Bar, j.Sides)
	}
	// a rectangular bar lies on another flat at 90: its floor and its jaws' top move
	j = with("bar: {shape: rectangular, width: 30, height: 20, length: 95, grip: 22}", "hold: {jaw_height: 15, zero_at: [100, 50, -40]}\n")
	if math.Abs(j.Floor(0)+10) > 1e-12 || math.Abs(j.Floor(90)+15) > 1e-12 || math.Abs(j.JawTop(0)-5) > 1e-12 || math.Abs(j.JawTop(90)) > 1e-12 {
		t.Errorf("rectangular: floor %v and %v, jaws %v and %v", j.Floor(0), j.Floor(90), j.JawTop(0), j.JawTop(90))
	}
	if j.Hold.ZeroAt == nil || *j.Hold.ZeroAt != [3]float64{100, 50, -40} {
		t.Errorf("zero at %v", j.Hold.ZeroAt)
	}
}

func TestLay(t *testing.T) {
	lay := func(s string) Lay { return read(t, whole+"lay: "+s+"\n").Lay }
	if l := lay("{along: -x, turn: 0.5 rad, height: 2 in}"); l.Along != "-x" || math.Abs(l.TurnDeg-90/math.Pi) > 1e-12 || l.Height != 50.8 {
		t.Errorf("%+v", l)
	}
	if l := lay("{fit: true}"); !l.Fit {
		t.Errorf("%+v", l)
	}
	if l := lay("{fit: false, scale: 2}"); l.Fit || l.Scale != 2 {
		t.Errorf("%+v", l)
	}
	if l := lay("{spigot: none}"); l.Spigot.Diameter != 0 || l.Gap != 0 {
		t.Errorf("%+v", l)
	}
	if l := lay("{spigot: {diameter: 8}, gap: 3}"); l.Spigot.Diameter != 8 || l.Gap != 3 {
		t.Errorf("%+v", l)
	}
}

func TestModelOnTheCommandLine(t *testing.T) {
	src := strings.Replace(whole, "model: rook.stl\n", "", 1)
	j, err := Read("dir/rook.yaml", []byte(src), Options{Model: "other.ply"})
	if err != nil || j.Model != "other.ply" {
		t.Errorf("%v, %v", j, err)
	}
	j, err = Read("dir/rook.yaml", []byte(whole), Options{Model: "other.3mf"})
	if err != nil || j.Model != "other.3mf" || !j.ModelOwn {
		t.Errorf("%v, %v", j, err)
	}
	abs, err := filepath.Abs("x.stl")
	if err != nil {
		t.Fatal(err)
	}
	if j := read(t, strings.Replace(whole, "rook.stl", "'"+abs+"'\nmodel_units: in", 1)); j.Model != abs || j.ModelUnit != 25.4 || j.ModelOwn {
		t.Errorf("%s, %v", j.Model, j.ModelUnit)
	}
}

func TestNumbersOfCutters(t *testing.T) {
	src := strings.Replace(whole, "rough: {cutter: flat-3, stepdown: 1}", "rough: [{cutter: flat-3}, {cutter: {like: flat-2, number: 1}}, {cutter: flat-3, stepdown: 0.5}]", 1)
	j := read(t, src)
	got := []int{j.Rough[0].Cutter.Number, j.Rough[1].Cutter.Number, j.Rough[2].Cutter.Number, j.Finish[0].Cutter.Number}
	if !reflect.DeepEqual(got, []int{2, 1, 2, 3}) {
		t.Errorf("numbers %v, want 2 1 2 3: the written one kept, the same cutter the same", got)
	}
}

func TestOwnShopInAJob(t *testing.T) {
	dir := t.TempDir()
	if _, err := catalog.Export(filepath.Join(dir, "myshop")); err != nil {
		t.Fatal(err)
	}
	p := filepath.Join(dir, "myshop", catalog.CuttersFile)
	b, err := os.ReadFile(p)
	if err != nil {
		t.Fatal(err)
	}
	b = append(b, "  stubby: {like: ball-1, LU: 6, stick_out: 16}\n"...)
	if err := os.WriteFile(p, b, 0o600); err != nil {
		t.Fatal(err)
	}
	job := filepath.Join(dir, "rook.yaml")
	if err := os.WriteFile(job, []byte(strings.Replace(whole, "ball-1", "stubby", 1)+"shop: ./myshop\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	j, err := Load(job, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if c := j.Finish[0].Cutter; c.ID != "stubby" || c.StickOut != 16 {
		t.Errorf("%+v", c)
	}
	// a fault in the shop's file is named in that file
	if err := os.WriteFile(p, []byte("cutters:\n  a: {shap: ball}\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err = Load(job, Options{}); err == nil || !strings.HasPrefix(err.Error(), p+":2:7: ") || !strings.Contains(Excerpt(err), "shap: ball") {
		t.Errorf("%v\n%s", err, Excerpt(err))
	}
}

func TestAcceptOpen(t *testing.T) {
	if read(t, whole).AcceptOpen || !read(t, whole+"accept: open\n").AcceptOpen || !read(t, whole+"accept: [open]\n").AcceptOpen {
		t.Error("accept: open is not read")
	}
}

func TestLoadIsRepeatable(t *testing.T) {
	a, b := read(t, whole), read(t, whole)
	if !reflect.DeepEqual(a.Defaults, b.Defaults) || !reflect.DeepEqual(a.Findings, b.Findings) {
		t.Error("two readings differ")
	}
}
