package job

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/goccy/go-yaml"
	"github.com/santhosh-tekuri/jsonschema/v6"
)

// The schema is judged by a general validator of JSON Schema.
func compiled(t *testing.T) *jsonschema.Schema {
	t.Helper()
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(Schema()))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("job.schema.json", doc); err != nil {
		t.Fatal(err)
	}
	s, err := c.Compile("job.schema.json")
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func instance(t *testing.T, src []byte) any {
	t.Helper()
	js, err := yaml.YAMLToJSON(src)
	if err != nil {
		t.Fatal(err)
	}
	v, err := jsonschema.UnmarshalJSON(bytes.NewReader(js))
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func TestSchemaAcceptsWhatLoads(t *testing.T) {
	s := compiled(t)
	jobs := [][]byte{[]byte(whole)}
	paths, _ := filepath.Glob("../examples/*.yaml")
	for _, p := range append(paths, "../demo/rook.yaml") {
		b, err := os.ReadFile(p)
		if err != nil {
			t.Fatal(err)
		}
		jobs = append(jobs, b)
	}
	doc, err := os.ReadFile("../docs/jobfile.md")
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range strings.Split(string(doc), "```yaml\n")[1:] {
		src, _, _ := strings.Cut(p, "```")
		jobs = append(jobs, []byte(src))
	}
	for _, b := range jobs {
		if _, err := Read("x.yaml", b, Options{}); err != nil {
			t.Errorf("does not load: %v", err)
		}
		if err := s.Validate(instance(t, b)); err != nil {
			t.Errorf("%s\n%v", b, err)
		}
	}
}

func TestSchemaRefusesWhatIsMisspelt(t *testing.T) {
	s := compiled(t)
	for old, new := range map[string]string{
		"tolerance:": "tolerence:", "shape: square": "shape: sqare", "cusp: 2 um": "cusp: 2 furlongs", "size: 28": "size: -28",
		"grip: 22": "grip: -1/2 in", ", grip: 22": "", "machine: small-mill\n": "", "spindle: 12000 rpm": "spindle: fast",
		"cutter: ball-1": "cutter: {shape: ball, DS: 3}", "tolerance: 10 um": "sides: all", "stepdown: 1": "stepover: 45 rpm",
	} {
		src := strings.Replace(whole, old, new, 1)
		if src == whole {
			t.Fatalf("nothing to replace: %q", old)
		}
		if err := s.Validate(instance(t, []byte(src))); err == nil {
			t.Errorf("%q passes for %q", new, old)
		}
		if _, err := Read("x.yaml", []byte(src), Options{}); err == nil {
			t.Errorf("%q loads for %q", new, old)
		}
	}
}

// Every quantity that the reader takes, the schema takes, and the other way about.
func TestSchemaAndReaderAgreeOnQuantities(t *testing.T) {
	s := compiled(t)
	for _, q := range []string{"3", "3 mm", "1/8 in", "1 1/8 in", "1-1/8 in", `"0.5\""`, "2 um", "2 µm", "2 μm", ".5", "5.", "+3", "0.5mm", "5 thou",
		"-3", "3 kg", "3 mm 4", "1,5 mm", "mm", "1/2.5 in", "1..5", "3 rpm", "true", "[3]", "{a: 3}", "''"} {
		src := strings.Replace(whole, "tolerance: 10 um", "retract: "+q, 1)
		_, err := Read("x.yaml", []byte(src), Options{})
		schema := s.Validate(instance(t, []byte(src)))
		if (err == nil) != (schema == nil) {
			t.Errorf("%s: the reader says %v, the schema %v", q, err, schema)
		}
	}
}
