package catalog

import (
	"bytes"
	"errors"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"github.com/goccy/go-yaml"
	"github.com/santhosh-tekuri/jsonschema/v6"

	"barwise/finding"
	"barwise/shop/material"
)

func TestBuiltinIsWhole(t *testing.T) {
	b := Builtin()
	if len(b.Cutters) < 12 || len(b.Machines) < 3 || len(b.Materials) < 8 {
		t.Fatalf("%d cutters, %d machines, %d materials", len(b.Cutters), len(b.Machines), len(b.Materials))
	}
	for _, c := range b.Cutters {
		if len(c.Check()) != 0 || c.Source == "" || c.Number != 0 {
			t.Errorf("%s: %v, source %q, number %d", c.ID, c.Check(), c.Source, c.Number)
		}
	}
	for _, m := range b.Machines {
		if len(m.Check()) != 0 || m.Source == "" || m.Title == "" {
			t.Errorf("%s: %v, source %q, title %q", m.ID, m.Check(), m.Source, m.Title)
		}
	}
	for _, m := range b.Materials {
		if len(m.Check()) != 0 || len(m.Cautions) == 0 {
			t.Errorf("%s: %v, %d cautions", m.ID, m.Check(), len(m.Cautions))
		}
		all := m.AllCautions()
		if last := all[len(all)-1].Text; !strings.Contains(last, "safety data sheet, local rules and licensed practice") {
			t.Errorf("%s: the last caution is %q", m.ID, last)
		}
		if len(all) != len(m.Cautions)+len(material.Always) {
			t.Errorf("%s: %d cautions in all", m.ID, len(all))
		}
	}
}

func TestBuiltinFiguresAreThePublished(t *testing.T) {
	get := func(id string) material.Material {
		m, ok := Builtin().Material(id)
		if !ok {
			t.Fatalf("no %s", id)
		}
		return m
	}
	for _, c := range []struct {
		id, key string
		want    float64
	}{
		{"al-6061", "kc1", 800}, {"al-6061", "mc", 0.25}, // ISCAR material groups 2017/2022
		{"brass-c36000", "kc1", 700}, {"brass-c36000", "mc", 0.27}, // the same
		{"al-6061", "density", 2.70}, {"al-6061", "modulus", 68.9}, {"al-6061", "growth", 23.6}, // data sheets
		{"brass-c36000", "density", 8.49}, {"brass-c36000", "modulus", 97}, {"brass-c36000", "growth", 20.5},
		{"pom", "density", 1.41}, {"pom", "modulus", 2.5}, {"pom", "strength", 89}, {"pom", "growth", 120}, // Engineering Plastics Handbook table 5.5
		{"acrylic-cast", "density", 1.19}, {"acrylic-cast", "modulus", 3.24}, {"acrylic-cast", "strength", 97.9},
		{"beech", "density", 0.64}, {"beech", "modulus", 11.9}, // USDA Wood Handbook FPL-GTR-190 table 5-3a
	} {
		for _, f := range get(c.id).Figures() {
			if f.Key == c.key && (f.Figure.Value != c.want || f.Figure.Estimate) {
				t.Errorf("%s %s: %+v, want %v from a source", c.id, c.key, f.Figure, c.want)
			}
		}
	}
	// ARNO p. 99: wrought heat-treated aluminium 200 to 450 m/min.
	if s := get("al-6061").Speed; s.Min != 200 || s.Max != 450 || s.Estimate {
		t.Errorf("6061: %+v", s)
	}
	// No kc1 is published for these: they must be marked.
	for _, id := range []string{"tooling-board", "machinable-wax", "pom", "acrylic-cast", "beech", "graphite"} {
		if m := get(id); !m.Kc1.Estimate || !m.Mc.Estimate {
			t.Errorf("%s: kc1 %+v and mc %+v are not marked as estimates", id, m.Kc1, m.Mc)
		}
	}
	// Growth of 100 mm over 5 K, computed from the published expansions: 11.8 and 10.25 µm.
	for id, want := range map[string]float64{"al-6061": 11.8, "brass-c36000": 10.25, "graphite": 2.25} {
		if got := get(id).Growth.Value * 1e-6 * 100 * 5 * 1000; math.Abs(got-want) > 1e-9 {
			t.Errorf("%s grows %v um, want %v", id, got, want)
		}
	}
}

// The limits that a sheet must show, with who sets them (CDC, OSHA 29 CFR 1910.1000 and .1024, NIOSH, ACGIH).
func TestCautionsNameTheirLimits(t *testing.T) {
	for id, says := range map[string][]string{
		"graphite":       {"2 mg/m³ respirable (ACGIH)", "2.5 mg/m³ respirable for natural graphite (NIOSH)", "15 mg/m³ total and 5 respirable for synthetic (OSHA)", "conducts", "2.5 m/s"},
		"beech":          {"1 mg/m³ over a shift (NIOSH)", "1 mg/m³ inhalable (ACGIH)", "15 mg/m³ total and 5 respirable (OSHA)"},
		"al-6061":        {"15 mg/m³ total and 5 respirable (OSHA)", "1 mg/m³ respirable (ACGIH)", "burn"},
		"brass-c36000":   {"lead", "0.2 µg/m³"},
		"tooling-board":  {"HEPA", "99.97 % at 0.3 µm"},
		"machinable-wax": {"85 dBA", "88 dBA 4 h", "30 psi", "ANSI Z87.1", "hands"},
	} {
		m, _ := Builtin().Material(id)
		var all strings.Builder
		for _, c := range m.AllCautions() {
			all.WriteString(c.Text + "\n")
			if c.Source == "" {
				t.Errorf("%s: %q has no source", id, c.Text)
			}
		}
		for _, s := range says {
			if !strings.Contains(all.String(), s) {
				t.Errorf("%s: no caution says %q", id, s)
			}
		}
	}
}

func TestExportReadsBackTheSame(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "my", "shop")
	paths, err := Export(dir)
	if err != nil || len(paths) != 3 {
		t.Fatal(paths, err)
	}
	got, err := Load(dir)
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(got, Builtin()) {
		t.Error("what was exported reads back as something else")
	}
	if _, err := Export(dir); !finding.IsInput(err) || !strings.Contains(err.Error(), "already there") {
		t.Errorf("a second export: %v", err)
	}
}

func TestExportLeavesNothingHalfWritten(t *testing.T) {
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, MaterialsFile), nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := Export(dir); !finding.IsInput(err) {
		t.Fatal(err)
	}
	if es, _ := os.ReadDir(dir); len(es) != 1 {
		t.Errorf("%d files are there, want the one that was", len(es))
	}
	file := filepath.Join(dir, MaterialsFile, "below")
	if _, err := Export(file); err == nil || finding.IsInput(err) || !strings.Contains(err.Error(), "cannot be written") {
		t.Errorf("into a file: %v", err)
	}
}

func TestOwnShopComesFirst(t *testing.T) {
	dir := t.TempDir()
	write(t, dir, CuttersFile, "units: in\ncutters:\n  ball-1: {shape: ball, DC: 1/16, LCF: 1/4, DMM: 1/8, OAL: 1.5, stick_out: 3/4, number: 7}\n  long: {like: ball-1, stick_out: 1}\n")
	c, err := Load(dir)
	if err != nil {
		t.Fatal(err)
	}
	own, _ := c.Cutter("ball-1")
	if own.DC() != 1.5875 || own.Number != 7 || own.LU != 6.35 || own.StickOut != 19.05 {
		t.Errorf("own ball-1: %+v", own)
	}
	long, _ := c.Cutter("long")
	if long.StickOut != 25.4 || long.DC() != own.DC() || long.Number != 0 || long.ID != "long" {
		t.Errorf("like the own one: %+v", long)
	}
	if _, ok := c.Cutter("flat-3"); !ok {
		t.Error("the built-in cutters are gone")
	}
	if n := c.CutterNames(); n[0] != "ball-1" || len(n) != len(Builtin().Cutters)+1 {
		t.Errorf("names: %v", n)
	}
}

func write(t *testing.T, dir, name, text string) {
	t.Helper()
	if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
}

func TestBadShopFiles(t *testing.T) {
	for _, c := range []struct{ file, text, where, says string }{
		{CuttersFile, "cutters:\n  a: {shape: flat, DC: 3, LFC: 9}\n", ":2:27", "did you mean LCF?"},
		{CuttersFile, "cutters:\n  a: {shape: flat, DC: 3, LCF: 9}\n  a: {shape: flat, DC: 3, LCF: 9}\n", ":3:3", `the name "a" a second time, it is already on line 2`},
		{CuttersFile, "cutters:\n  a: {DC: 3, LCF: 9}\n", ":2:6", "has no shape"},
		{CuttersFile, "cutters:\n  a: {shape: flat, DC: 3, LCF: 9, APMX: 10}\n", ":2:41", "at most the flute length"},
		{CuttersFile, "cutters:\n  a: {shape: cone, DC: 3, LCF: 9, SIG: 8 deg}\n", ":2:32", "mm tall"},
		{CuttersFile, "cutters:\n  a: {shape: ball, DC: 3, RE: 1, LCF: 9}\n", ":2:31", "allowed is half of DC, 1.5"},
		{CuttersFile, "cutters:\n  a: {shape: tapered-ball, RE: 1, LCF: 9}\n", ":2:6", "needs BHTA"},
		{CuttersFile, "units: furlong\ncutters: {}\n", ":1:8", "allowed are mm, in"},
		{CuttersFile, "cutters: [a]\n", ":1:10", "a mapping from names"},
		{CuttersFile, "tools: {}\n", ":1:1", "allowed are units, cutters"},
		{MachinesFile, "machines:\n  m: {like: small-mil}\n", ":2:13", `no machine "small-mil"`},
		{MachinesFile, "machines:\n  m: {travel: [1, 2, 3], rate: [1, 2, 3], acceleration: [1, 1, 1]}\n", ":2:6", "no spindle_max"},
		{MachinesFile, "machines:\n  m: {travel: [1, 2, 0], rate: [1, 2, 3], acceleration: [1, 1, 1], spindle_max: 9}\n", ":2:22", "more than 0"},
		{MaterialsFile, "materials:\n  m: {density: {value: 1}, chip_per_mm: {value: 1, source: s}, speed: {min: 1, max: 2, source: s}}\n", ":2:16", "no source, and not marked as an estimate"},
		{MaterialsFile, "materials:\n  m: {density: {value: 1, source: s}, chip_per_mm: {value: 1, source: s}, speed: {min: 3, max: 2, source: s}}\n", ":2:82", "rising range"},
	} {
		dir := t.TempDir()
		write(t, dir, c.file, c.text)
		_, err := Load(dir)
		var in *finding.InputError
		if !errors.As(err, &in) {
			t.Errorf("%q: %v", c.text, err)
			continue
		}
		if in.Where != filepath.Join(dir, c.file)+c.where || !strings.Contains(in.Error(), c.says) {
			t.Errorf("%q: %v, want %s and %q", c.text, in, c.where, c.says)
		}
	}
	if _, err := Load(t.TempDir()); err == nil || !strings.Contains(err.Error(), "barwise shop export") {
		t.Errorf("an empty folder: %v", err)
	}
}

// Closed forms for the widest diameter of the leaning cutters: tip + 2·LCF·tan(SIG/2), and for a
// tapered ball 2·(ρ·cos β + (LCF − ρ·(1 − sin β))·tan β).
func TestWidthOfLeaningCutters(t *testing.T) {
	dir := t.TempDir()
	write(t, dir, CuttersFile, "cutters:\n  c: {shape: cone, SIG: 90 deg, tip: 0.2, LCF: 4}\n  t: {shape: tapered-ball, RE: 0.5, BHTA: 30 deg, LCF: 2}\n")
	c, err := Load(dir)
	if err != nil {
		t.Fatal(err)
	}
	cone, _ := c.Cutter("c")
	tap, _ := c.Cutter("t")
	if got := cone.DC(); math.Abs(got-8.2) > 1e-12 { // tan 45° = 1
		t.Errorf("cone: %v", got)
	}
	// β = 30°: ρ·cos β = √3/4, the ball ends at 0.25, the flank rises 1.75 more at tan β = 1/√3.
	if want := 2 * (math.Sqrt(3)/4 + 1.75/math.Sqrt(3)); math.Abs(tap.DC()-want) > 1e-12 {
		t.Errorf("tapered ball: %v, want %v", tap.DC(), want)
	}
	if math.Abs(tap.Rim()-2) > 1e-12 {
		t.Errorf("the flank ends %v above the tip, want the flutes' 2", tap.Rim())
	}
}

// A general JSON Schema validator agrees that the built-in files are what their schemas say.
func TestSchemasHoldForTheBuiltinFiles(t *testing.T) {
	for _, name := range Files {
		raw, err := Schema(name)
		if err != nil {
			t.Fatal(err)
		}
		doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(raw))
		if err != nil {
			t.Fatal(err)
		}
		c := jsonschema.NewCompiler()
		if err := c.AddResource(name, doc); err != nil {
			t.Fatal(err)
		}
		s, err := c.Compile(name)
		if err != nil {
			t.Fatal(err)
		}
		text, _ := Text(name)
		js, err := yaml.YAMLToJSON(text)
		if err != nil {
			t.Fatal(err)
		}
		inst, err := jsonschema.UnmarshalJSON(bytes.NewReader(js))
		if err != nil {
			t.Fatal(err)
		}
		if err := s.Validate(inst); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		if err := s.Validate(map[string]any{"units": "furlong"}); err == nil {
			t.Errorf("%s: the schema lets furlongs pass", name)
		}
	}
}
