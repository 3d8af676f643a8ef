package material

import "testing"

func TestCheck(t *testing.T) {
	src := Figure{Value: 1, Source: "a book"}
	ok := Material{Density: src, ChipPerMM: src, Speed: Range{Min: 100, Max: 200, Source: "a book"}, Cautions: []Caution{{"dust", "a book"}}}
	if f := ok.Check(); len(f) != 0 {
		t.Fatal(f)
	}
	if ok.Speed.Mid() != 150 {
		t.Errorf("middle %v", ok.Speed.Mid())
	}
	for _, c := range []struct {
		where string
		spoil func(*Material)
	}{
		{"density", func(m *Material) { m.Density.Value = 0 }},
		{"kc1", func(m *Material) { m.Kc1.Value = -1 }},
		{"kc1", func(m *Material) { m.Kc1.Value = 700 }}, // no source, no mark
		{"chip_per_mm", func(m *Material) { m.ChipPerMM.Value = 0 }},
		{"speed", func(m *Material) { m.Speed.Max = 50 }},
		{"speed", func(m *Material) { m.Speed.Source = "" }},
		{"cautions", func(m *Material) { m.Cautions = []Caution{{"dust", ""}} }},
	} {
		m := ok
		c.spoil(&m)
		if f := m.Check(); len(f) == 0 || f[0].Where != c.where {
			t.Errorf("%v, want %s", f, c.where)
		}
	}
	m := ok
	m.Kc1 = Figure{Value: 30, Estimate: true}
	if f := m.Check(); len(f) != 0 {
		t.Errorf("a marked estimate: %v", f)
	}
}

func TestCautionsAreNotShared(t *testing.T) {
	m := Material{Cautions: make([]Caution, 0, 100)}
	a := m.AllCautions()
	a[0].Text = "changed"
	if Always[0].Text == "changed" {
		t.Error("AllCautions hands out its own list")
	}
}
