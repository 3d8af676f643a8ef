package job

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"barwise/finding"
)

// whole is a job without a fault; tests change a line of it.
const whole = `# a job
model: rook.stl
material: tooling-board
machine: small-mill
bar: {shape: square, size: 28, length: 95, grip: 22}
rough: {cutter: flat-3, stepdown: 1}
finish:
  cutter: ball-1
  cusp: 2 um
  spindle: 12000 rpm
tolerance: 10 um
`

func TestBadJobsAreNamedWithTheirPlace(t *testing.T) {
	with := func(old, new string) string {
		if !strings.Contains(whole, old) {
			t.Fatalf("the whole job has no %q", old)
		}
		return strings.Replace(whole, old, new, 1)
	}
	for _, c := range []struct {
		name, src, code, where string
		says                   []string // in the text or the hint
	}{
		{"misspelt key", with("tolerance:", "tolerence:"), "job-key", "rook.yaml:11:1", []string{`unknown key "tolerence"`, "allowed are units, model", "did you mean tolerance?"}},
		{"misspelt key within", with("  cusp:", "  cups:"), "job-key", "rook.yaml:9:3", []string{`"cups" in finish`, "did you mean cusp?"}},
		{"misspelt key in braces", with("size: 28", "sise: 28"), "job-key", "rook.yaml:5:22", []string{`"sise" in bar`, "did you mean size?"}},
		{"key of no kin", with("tolerance: 10 um", "colour: red"), "job-key", "rook.yaml:11:1", []string{`"colour"`, "allowed are"}},
		{"repeated key", with("tolerance: 10 um", "machine: bench-mill"), "job-duplicate", "rook.yaml:11:1", []string{`"machine" a second time`, "line 4"}},
		{"repeated key in braces", with("grip: 22", "size: 22"), "job-duplicate", "rook.yaml:5:44", []string{`"size" a second time`}},
		{"missing key", with(", grip: 22", ""), "job-missing", "rook.yaml:5:6", []string{"bar has no key grip", "add grip"}},
		{"missing section", with("bar: {shape: square, size: 28, length: 95, grip: 22}\n", ""), "job-missing", "rook.yaml:2:1", []string{"no key bar"}},
		{"missing value", with("machine: small-mill", "machine:"), "job-type", "rook.yaml:4:1", []string{"machine: found nothing", "a name, or a mapping"}},
		{"unknown unit", with("cusp: 2 um", "cusp: 2 furlongs"), "job-quantity", "rook.yaml:9:9", []string{`finish.cusp: "2 furlongs" has the unknown unit "furlongs"`, "mm, in, um"}},
		{"unit of another kind", with("cusp: 2 um", "cusp: 2 rpm"), "job-quantity", "rook.yaml:9:9", []string{"is a spindle speed, a length is wanted"}},
		{"missing unit: a tolerance in mm", with("10 um", "10"), "job-range", "rook.yaml:11:12", []string{"tolerance: found 10 mm, allowed is at most 1 mm", "a plain number is in mm: write the unit"}},
		{"missing unit: a cusp in mm", with("2 um", "2"), "job-range", "rook.yaml:9:9", []string{"found 2 mm", "a plain number is in mm"}},
		{"missing unit: inches read as mm", with("size: 28, length: 95, grip: 22", "size: 1.125, length: 3.5, grip: 0.875"), "job-range", "rook.yaml:5:28", []string{"found 1.125 mm, allowed is at least 2 mm", "set units"}},
		{"missing unit: mm read as inches", "units: in\n" + with("stepdown: 1", "stepdown: 0.04"), "job-travel", "rook.yaml:6:40", []string{"small-mill travels 7.87402 in along Y", "a plain number is in inches"}},
		{"bar longer than the travel", with("length: 95", "length: 295"), "job-travel", "rook.yaml:5:40", []string{"bar.length: 271 mm beyond the stub, the machine small-mill travels 200 mm along Y"}},
		{"unit without a number", with("cusp: 2 um", "cusp: um"), "job-quantity", "rook.yaml:9:9", []string{"does not begin with a number"}},
		{"decimal comma", with("cusp: 2 um", "cusp: 2,5 um"), "job-quantity", "rook.yaml:9:9", []string{"decimal mark is a point"}},
		{"negative size", with("size: 28", "size: -28"), "job-range", "rook.yaml:5:28", []string{"bar.size: found -28, allowed is more than 0"}},
		{"zero size", with("size: 28", "size: 0 mm"), "job-range", "rook.yaml:5:28", []string{"found 0 mm"}},
		{"negative part", with("stepdown: 1", "stepover: -45 %"), "job-range", "rook.yaml:6:35", []string{"found -45 %"}},
		{"unknown cutter", with("cutter: ball-1", "cutter: bal-1"), "job-name", "rook.yaml:8:11", []string{`no cutter "bal-1"`, "flat-3", "did you mean ball-1?"}},
		{"unknown machine", with("small-mill", "smallmill"), "job-name", "rook.yaml:4:10", []string{`no machine "smallmill"`, "did you mean small-mill?"}},
		{"unknown material", with("tooling-board", "unobtainium"), "job-name", "rook.yaml:3:11", []string{`no material "unobtainium"`, "beech"}},
		{"unknown word", with("shape: square", "shape: sqare"), "job-word", "rook.yaml:5:14", []string{`"sqare"`, "square, rectangular, hexagonal, round", "did you mean square?"}},
		{"list for a mapping", with("bar: {shape: square, size: 28, length: 95, grip: 22}", "bar: [28, 95]"), "job-type", "rook.yaml:5:6", []string{"bar: found a list", "a mapping with the keys"}},
		{"mapping for a quantity", with("cusp: 2 um", "cusp: {value: 2}"), "job-type", "rook.yaml:9:9", []string{"finish.cusp: found a mapping", "a number in mm"}},
		{"word for a list", with("tolerance: 10 um", "sides: all"), "job-type", "rook.yaml:11:8", []string{`sides: found "all"`, "a list"}},
		{"empty list", with("tolerance: 10 um", "sides: []"), "job-type", "rook.yaml:11:8", []string{"at least one"}},
		{"true for a length", with("cusp: 2 um", "cusp: true"), "job-type", "rook.yaml:9:9", []string{"found the word true"}},
		{"alias", with("tolerance: 10 um", "tolerance: &a 10 um"), "job-type", "rook.yaml:11:12", []string{"an anchor, an alias or a tag"}},
		{"tab", with("  cusp", "\tcusp"), "job-yaml", "rook.yaml:9:1", []string{"tab", "indent with spaces"}},
		{"open brace", with("grip: 22}", "grip: 22"), "job-yaml", "rook.yaml:6:1", []string{"not YAML"}},
		{"question mark", with("tolerance: 10 um", "? tolerance\n: 10 um"), "job-yaml", "rook.yaml:11:1", []string{"keys of one word"}},
		{"second document", whole + "---\nmodel: b.stl\n", "job-yaml", "rook.yaml:13:1", []string{"second document"}},
		{"empty", "", "job-empty", "rook.yaml", []string{"the file is empty"}},
		{"only a comment", "# nothing\n", "job-empty", "rook.yaml", []string{"the file is empty"}},
		{"not text", "solid\x00\x01\x02", "job-yaml", "rook.yaml", []string{"not text"}},
		{"not UTF-8", "model: \xff\xfe\n", "job-yaml", "rook.yaml", []string{"not text"}},
		{"plain prose", "carve me a rook please\n", "job-type", "rook.yaml:1:1", []string{"allowed is a mapping"}},
		{"huge", strings.Repeat("# filler\n", 40000), "job-size", "rook.yaml", []string{"360000 bytes, at most 131072"}},
		{"deep", "bar: " + strings.Repeat("[", 100) + "\n", "job-yaml", "rook.yaml:1:1", []string{"more than 64 deep"}},
		{"a line without end", "model: " + strings.Repeat("x", 5000) + "\n", "job-yaml", "rook.yaml:1:1", []string{"at most 4096"}},

		{"spindle the machine has not", with("12000 rpm", "40000 rpm"), "job-spindle", "rook.yaml:10:12", []string{"finish[0].spindle: found 40000 rpm", "small-mill allows 6000 to 24000 rpm"}},
		{"spindle too slow", with("12000 rpm", "500"), "job-spindle", "rook.yaml:10:12", []string{"6000 to 24000 rpm"}},
		{"feed the machine has not", with("stepdown: 1", "feed: 10 m/min"), "job-feed", "rook.yaml:6:31", []string{"found 10000 mm/min", "at most 3000 mm/min"}},
		{"stepdown deeper than the flutes", with("stepdown: 1", "stepdown: 18"), "job-range", "rook.yaml:6:35", []string{"at most 17 mm"}},
		{"stepover wider than the cutter", with("stepdown: 1", "stepover: 120 %"), "job-range", "rook.yaml:6:35", []string{"found 120 %", "3 mm"}},
		{"cusp as large as the ball", with("cusp: 2 um", "cusp: 0.5"), "job-range", "rook.yaml:9:9", []string{"less than the radius"}},
		{"cusp and stepover", with("  cusp: 2 um", "  cusp: 2 um\n  stepover: 0.1"), "job-size", "rook.yaml:10:13", []string{"one of them"}},
		{"finishing with a flat cutter", with("cutter: ball-1", "cutter: flat-1"), "job-shape", "rook.yaml:8:11", []string{"found flat-1, a flat cutter, allowed for finishing are ball"}},
		{"stepover wider than a tapered ball", with("  cutter: ball-1\n  cusp: 2 um", "  cutter: taper-0.5-5\n  stepover: 50 %"), "job-range", "rook.yaml:9:13", []string{"less than the round end's width, 1 mm"}},
		{"side the bar has not", with("tolerance: 10 um", "sides: [0, 60]"), "job-side", "rook.yaml:11:12", []string{"found 60 deg", "square bar can be held at 0, 90, 180, 270"}},
		{"side twice", with("tolerance: 10 um", "sides: [0, 90, 0]"), "job-side", "rook.yaml:11:16", []string{"already sides[0]"}},
		{"side beyond a turn", with("tolerance: 10 um", "sides: [360]"), "job-range", "rook.yaml:11:9", []string{"found 360"}},
		{"grip longer than the bar", with("grip: 22", "grip: 95"), "job-size", "rook.yaml:5:50", []string{"leaves nothing"}},
		{"stub that eats the bar", with("tolerance: 10 um", "hold: {stub: 80}"), "job-size", "rook.yaml:11:14", []string{"102 mm of the bar's 95 mm"}},
		{"size of a rectangle", with("shape: square", "shape: rectangular"), "job-size", "rook.yaml:5:33", []string{"allowed are width and height"}},
		{"width of a square", with("size: 28", "width: 28"), "job-size", "rook.yaml:5:29", []string{"allowed is size"}},
		{"scale and height", with("tolerance: 10 um", "lay: {scale: 2, height: 56}"), "job-size", "rook.yaml:11:25", []string{"one of scale, height, fit"}},
		{"spigot as thick as the bar", with("tolerance: 10 um", "lay: {spigot: {diameter: 28}}"), "job-size", "rook.yaml:11:26", []string{"less than the bar's size, 28 mm"}},
		{"path tolerance above the tolerance", with("tolerance: 10 um", "path_tolerance: 20 um"), "job-range", "rook.yaml:11:17", []string{"at most the tolerance, 10 um"}},
		{"cutter too short for the bar", with("size: 28", "size: 60"), "job-reach", "rook.yaml:6:17", []string{"flat-3 sticks out 24 mm, needed is 31.5 mm", "a longer cutter"}},
		{"no cuts", "model: a.stl\nmaterial: beech\nmachine: small-mill\nbar: {size: 20, length: 90, grip: 20}\n", "job-missing", "rook.yaml", []string{"rough and finish"}},
		{"no model", with("model: rook.stl\n", ""), "job-missing", "rook.yaml", []string{"no model"}},
		{"no shop", with("tolerance: 10 um", "shop: ./nowhere"), "job-shop", "rook.yaml:11:7", []string{"nowhere", "barwise shop export"}},
		{"cutter of its own without a size", with("cutter: ball-1", "cutter: {shape: ball, LCF: 3}"), "job-missing", "rook.yaml:8:11", []string{"needs DC"}},
		{"cutter of its own with a wrong reach", with("cutter: ball-1", "cutter: {like: ball-1, LU: 2}"), "job-size", "rook.yaml:8:30", []string{"usable reach 2 mm, allowed is at least"}},
		{"cutter like none", with("cutter: ball-1", "cutter: {like: ball-9}"), "job-name", "rook.yaml:8:18", []string{`no cutter "ball-9"`}},
		{"point angle of a ball", with("cutter: ball-1", "cutter: {like: ball-1, SIG: 30}"), "job-size", "rook.yaml:8:31", []string{"a ball cutter has no SIG"}},
		{"machine of its own with two axes", with("machine: small-mill", "machine: {like: small-mill, travel: [1, 2]}"), "job-type", "rook.yaml:4:37", []string{"2 values, needed are 3"}},
		{"two cutters of one number", strings.Replace(with("cutter: ball-1", "cutter: {like: ball-1, number: 4}"), "cutter: flat-3", "cutter: {like: flat-3, number: 4}", 1),
			"job-number", "rook.yaml:8:11", []string{"has the number 4, which own-rough-0 has too"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := Read("rook.yaml", []byte(c.src), Options{})
			var in *finding.InputError
			if !errors.As(err, &in) {
				t.Fatalf("got %v, want an input error", err)
			}
			if in.Code != c.code {
				t.Errorf("code %s, want %s", in.Code, c.code)
			}
			if in.Where != c.where {
				t.Errorf("where %s, want %s", in.Where, c.where)
			}
			for _, s := range c.says {
				if !strings.Contains(in.Error(), s) {
					t.Errorf("%q does not say %q", in.Error(), s)
				}
			}
			if strings.HasSuffix(in.Text, ".") || strings.Contains(in.Error(), "\n") {
				t.Errorf("%q ends with a full stop or has two lines", in.Error())
			}
			if strings.Count(in.Where, ":") == 2 && !strings.Contains(Excerpt(err), "^") {
				t.Errorf("no excerpt at %s", in.Where)
			}
		})
	}
}

func TestExcerptMarksThePlace(t *testing.T) {
	_, err := Read("rook.yaml", []byte(strings.Replace(whole, "size: 28", "size: -28", 1)), Options{})
	want := "" +
		"  3 | material: tooling-board\n" +
		"  4 | machine: small-mill\n" +
		"> 5 | bar: {shape: square, size: -28, length: 95, grip: 22}\n" +
		"    |                            ^\n"
	if got := Excerpt(err); got != want {
		t.Errorf("got\n%swant\n%s", got, want)
	}
}

func TestColumnsCountCharacters(t *testing.T) {
	src := strings.Replace(whole, "bar: {shape", "bar: {block: \"äöü\", shape", 1)
	_, err := Read("rook.yaml", []byte(src), Options{})
	var in *finding.InputError
	if !errors.As(err, &in) || in.Where != "rook.yaml:5:14" {
		t.Fatal(err)
	}
	src = strings.Replace(whole, "bar: {shape", "bar: {\"öö\": 1, shape", 1)
	if _, err = Read("rook.yaml", []byte(src), Options{}); !errors.As(err, &in) || in.Where != "rook.yaml:5:7" {
		t.Fatal(err)
	}
	src = strings.Replace(whole, "model: rook.stl", "{model: \"Türme.stl\", modell: 1}", 1)
	src = strings.SplitAfter(src, "\n")[1]
	if _, err = Read("rook.yaml", []byte(src), Options{}); !errors.As(err, &in) || in.Where != "rook.yaml:1:22" {
		t.Fatal(err)
	}
}

func TestJobFileThatCannotBeRead(t *testing.T) {
	dir := t.TempDir()
	for _, p := range []string{filepath.Join(dir, "none.yaml"), dir} {
		_, err := Load(p, Options{})
		var in *finding.InputError
		if !errors.As(err, &in) || in.Code != "job-read" || in.Where != p {
			t.Errorf("%s: %v", p, err)
		}
	}
	big := filepath.Join(dir, "big.yaml")
	if err := os.WriteFile(big, make([]byte, 64<<20), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := Load(big, Options{}); err == nil || !strings.Contains(err.Error(), "at most 131072") {
		t.Errorf("a huge file: %v", err)
	}
}

// FuzzRead holds that no text takes the reader down, and that every refusal is an input error.
func FuzzRead(f *testing.F) {
	f.Add(whole)
	f.Add("{a: [1, {b: c}]}\n---\n? x\n: y\n")
	f.Add("a: |\n  x\n b: >-\n\ty")
	f.Add("<<: *a\n*a : &b !!int 3")
	f.Fuzz(func(t *testing.T, src string) {
		if _, err := Read("f.yaml", []byte(src), Options{}); err != nil && !finding.IsInput(err) {
			t.Fatal(err)
		}
	})
}
