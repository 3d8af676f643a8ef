package job

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"barwise/form"
	"barwise/shop/catalog"
	"barwise/unit"
)

var update = flag.Bool("update", false, "write the tables of docs/jobfile.md anew")

const (
	tablesBegin = "<!-- tables: written by 'go test ./job -run Doc -update' -->"
	tablesEnd   = "<!-- end of tables -->"
)

// keyTables writes one table a mapping, from the structs that the reader and the schema use.
func keyTables() string {
	var b strings.Builder
	for _, s := range []struct {
		title, path string
		t           reflect.Type
	}{
		{"The file", "", reflect.TypeFor[File]()},
		{"`bar`", "bar.", reflect.TypeFor[BarForm]()},
		{"`lay`", "lay.", reflect.TypeFor[LayForm]()},
		{"`lay.spigot`", "lay.spigot.", reflect.TypeFor[SpigotFields]()},
		{"`rough`", "rough.", reflect.TypeFor[RoughForm]()},
		{"`finish`", "finish.", reflect.TypeFor[FinishForm]()},
		{"`hold`", "hold.", reflect.TypeFor[HoldForm]()},
		{"`mend`", "mend.", reflect.TypeFor[MendForm]()},
		{"`refine`", "refine.", reflect.TypeFor[RefineForm]()},
		{"`survey`", "survey.", reflect.TypeFor[SurveyForm]()},
		{"A cutter", "", reflect.TypeFor[catalog.CutterForm]()},
		{"A step of a holder", "", reflect.TypeFor[catalog.StepForm]()},
		{"A machine", "", reflect.TypeFor[catalog.MachineForm]()},
		{"A material", "", reflect.TypeFor[catalog.MaterialForm]()},
		{"A figure of a material", "", reflect.TypeFor[catalog.FigureForm]()},
		{"Surface speeds of a material", "", reflect.TypeFor[catalog.RangeForm]()},
		{"A caution", "", reflect.TypeFor[catalog.CautionForm]()},
	} {
		fmt.Fprintf(&b, "### %s\n\n| key | takes | default | meaning |\n|---|---|---|---|\n", s.title)
		for _, f := range form.Fields(s.t) {
			std := form.Std(f)
			switch {
			case form.Required(f):
				std = "**needed**"
			case std == "":
				std = "–"
			}
			fmt.Fprintf(&b, "| `%s` | %s | %s | %s |\n", form.KeyOf(f), form.Takes(f), std, form.Doc1(f))
		}
		b.WriteByte('\n')
	}
	b.WriteString("### Units\n\n| kind | plain number | units |\n|---|---|---|\n")
	for _, k := range []*unit.Kind{unit.Lengths, unit.Feeds, unit.Angles, unit.Speeds, unit.Times, unit.Accels, unit.Surfaces} {
		plain := k.Plain[unit.MM]
		if k.Plain[unit.Inch] != plain {
			plain += ", or " + k.Plain[unit.Inch] + " with `units: in`"
		}
		fmt.Fprintf(&b, "| %s | %s | %s |\n", k.Name, plain, "`"+strings.Join(k.Names(), "`, `")+"`")
	}
	return b.String()
}

func TestDocTablesMatchTheReader(t *testing.T) {
	const p = "../docs/jobfile.md"
	b, err := os.ReadFile(p)
	if err != nil {
		t.Fatal(err)
	}
	head, rest, ok1 := strings.Cut(string(b), tablesBegin)
	_, tail, ok2 := strings.Cut(rest, tablesEnd)
	if !ok1 || !ok2 {
		t.Fatal("docs/jobfile.md has lost the marks of its tables")
	}
	want := head + tablesBegin + "\n\n" + keyTables() + "\n" + tablesEnd + tail
	if *update {
		if err := os.WriteFile(p, []byte(want), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if want != string(b) {
		t.Error("docs/jobfile.md differs from what the reader takes: run go test ./job -run Doc -update")
	}
}

// Every key has a meaning, and what is not needed has a default or says nothing is done without it.
func TestEveryKeyIsExplained(t *testing.T) {
	for _, typ := range []reflect.Type{reflect.TypeFor[File](), reflect.TypeFor[BarForm](), reflect.TypeFor[LayForm](), reflect.TypeFor[SpigotFields](),
		reflect.TypeFor[RoughForm](), reflect.TypeFor[FinishForm](), reflect.TypeFor[HoldForm](), reflect.TypeFor[catalog.CutterForm](),
		reflect.TypeFor[catalog.MachineForm](), reflect.TypeFor[catalog.MaterialForm]()} {
		for _, f := range form.Fields(typ) {
			if form.Doc1(f) == "" {
				t.Errorf("%s.%s has no meaning written beside it", typ.Name(), form.KeyOf(f))
			}
		}
	}
}

// The jobs in docs/jobfile.md are jobs.
func TestDocExamplesLoad(t *testing.T) {
	b, err := os.ReadFile("../docs/jobfile.md")
	if err != nil {
		t.Fatal(err)
	}
	parts, n := strings.Split(string(b), "```yaml\n"), 0
	for _, p := range parts[1:] {
		src, _, _ := strings.Cut(p, "```")
		if !strings.Contains(src, "model:") {
			continue
		}
		n++
		if _, err := Read("docs.yaml", []byte(src), Options{}); err != nil {
			t.Errorf("%v\n%s", err, Excerpt(err))
		}
	}
	if n < 2 {
		t.Errorf("%d whole jobs in docs/jobfile.md, at least 2 are wanted", n)
	}
}

func TestExampleJobsAreShortAndWhole(t *testing.T) {
	paths, err := filepath.Glob("../examples/*.yaml")
	if err != nil {
		t.Fatal(err)
	}
	paths = append(paths, "../demo/rook.yaml")
	if len(paths) < 3 {
		t.Fatalf("only %d example jobs", len(paths))
	}
	for _, p := range paths {
		b, err := os.ReadFile(p)
		if err != nil {
			t.Fatal(err)
		}
		if n := strings.Count(string(b), "\n"); n > 20 {
			t.Errorf("%s has %d lines, at most 20 are wanted", p, n)
		}
		if _, err := Load(p, Options{}); err != nil {
			t.Errorf("%v\n%s", err, Excerpt(err))
		}
	}
}
