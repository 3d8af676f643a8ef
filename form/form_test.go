package form

import (
	"strings"
	"testing"

	"pgregory.net/rapid"

	"barwise/unit"
)

func TestNear(t *testing.T) {
	keys := []string{"units", "model", "machine", "material", "tolerance", "bar", "lay"}
	for word, want := range map[string]string{
		"machin": "machine", "mahcine": "machine", "Material": "material", "tolerence": "tolerance", "bra": "bar", "ley": "lay",
		"colour": "", "x": "", "": "",
	} {
		if got := Near(word, keys); got != want {
			t.Errorf("near %q: %q, want %q", word, got, want)
		}
	}
}

// The slow obvious twin: the recursive definition of the distance with swaps of neighbours.
func slowEdits(a, b []rune) int {
	switch {
	case len(a) == 0:
		return len(b)
	case len(b) == 0:
		return len(a)
	}
	x, y := len(a)-1, len(b)-1
	cost := 1
	if a[x] == b[y] {
		cost = 0
	}
	d := min(slowEdits(a[:x], b)+1, slowEdits(a, b[:y])+1, slowEdits(a[:x], b[:y])+cost)
	if x > 0 && y > 0 && a[x] == b[y-1] && a[x-1] == b[y] {
		d = min(d, slowEdits(a[:x-1], b[:y-1])+1)
	}
	return d
}

func TestEdits(t *testing.T) {
	if got := edits("kitten", "sitting"); got != 3 { // the textbook example
		t.Errorf("kitten to sitting: %d", got)
	}
	rapid.Check(t, func(t *rapid.T) {
		word := rapid.StringMatching(`[abc]{0,6}`)
		a, b := word.Draw(t, "a"), word.Draw(t, "b")
		got, want := edits(a, b), slowEdits([]rune(a), []rune(b))
		if got != want || edits(b, a) != got {
			t.Fatalf("%q to %q: %d, back %d, want %d", a, b, got, edits(b, a), want)
		}
	})
}

type toy struct {
	Name  string             `yaml:"name" jsonschema:"required"`
	Size  *unit.Length       `yaml:"size" above:"0"`
	Parts []toyPart          `yaml:"parts" form:"one"`
	Count int                `yaml:"count" min:"1" max:"9"`
	Over  *unit.LengthOrPart `yaml:"over"`
	On    bool               `yaml:"on"`
}

type toyPart struct {
	Angle unit.Angle `yaml:"angle"`
}

func TestPlaces(t *testing.T) {
	d, err := Parse("toy.yaml", "toy", []byte("name: x\nparts:\n  - angle: 1\n  - {angle: 90 deg}\nsize: 1/8\n"))
	if err != nil {
		t.Fatal(err)
	}
	var v toy
	if err := d.Read(&v, unit.Inch); err != nil {
		t.Fatal(err)
	}
	if *v.Size != 3.175 || v.Parts[1].Angle != 90 {
		t.Errorf("%+v", v)
	}
	for path, want := range map[string]string{
		"name": "toy.yaml:1:7", "parts[0].angle": "toy.yaml:3:12", "parts[1].angle": "toy.yaml:4:13", "parts[1]": "toy.yaml:4:5",
		"parts[1].missing": "toy.yaml:4:5", "size": "toy.yaml:5:7", "nowhere": "toy.yaml", "nowhere.at.all": "toy.yaml",
	} {
		if got := d.Place(path); got != want {
			t.Errorf("%s: %s, want %s", path, got, want)
		}
	}
	if !d.Has("parts[0].angle") || d.Has("count") {
		t.Error("Has is wrong")
	}
}

func TestOneAloneIsAListOfOne(t *testing.T) {
	d, err := Parse("toy.yaml", "toy", []byte("name: x\nparts: {angle: 3}\n"))
	if err != nil {
		t.Fatal(err)
	}
	var v toy
	if err := d.Read(&v, unit.MM); err != nil || len(v.Parts) != 1 || v.Parts[0].Angle != 3 {
		t.Fatalf("%+v, %v", v, err)
	}
	if got := d.Place("parts[0].angle"); got != "toy.yaml:2:16" {
		t.Error(got)
	}
}

func TestNumbersAndWords(t *testing.T) {
	for src, says := range map[string]string{
		"name: x\ncount: 3\non: true\nover: 45 %": "",
		"name: 12\nover: 0.2 mm":                  "",
		"name: x\r\ncount: 3\r\n":                 "",
		"\ufeffname: x\n":                         "",
		"name: x\ncount: 2.5":                     "a whole number",
		"name: x\ncount: 10":                      "at most 9",
		"name: x\ncount: 0":                       "at least 1",
		"name: x\ncount: .inf":                    "a plain number",
		"name: x\ncount: '3'":                     "a plain number",
		"name: x\non: 1":                          "true or false",
		"name: {a: b}":                            "allowed is text",
		"name: ''":                                "text that is not empty",
		"name: x\nover: {a: 1}":                   "a part such as 45 %",
		"name: x\nsize: [1]":                      "found a list",
		"name: x\nparts: 3":                       "a mapping with the keys angle",
		"name: x\n<<: {on: true}":                 `unknown key "<<"`,
	} {
		d, err := Parse("toy.yaml", "toy", []byte(src))
		if err == nil {
			err = d.Read(&toy{}, unit.MM)
		}
		switch {
		case says == "" && err != nil:
			t.Errorf("%q: %v", src, err)
		case says != "" && (err == nil || !strings.Contains(err.Error(), says)):
			t.Errorf("%q: %v does not say %q", src, err, says)
		}
	}
}
