package threemf

import (
	"archive/zip"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"testing"

	"barwise/finding"
	"barwise/geom"
	"barwise/geom/mesh"
)

func read(b []byte) (*mesh.Mesh, mesh.Info, error) {
	return Read(context.Background(), bytes.NewReader(b), int64(len(b)), mesh.Limits{})
}

// pack makes a package of one model part.
func pack(model string) []byte {
	return packParts(map[string]string{"_rels/.rels": rels, "3D/3dmodel.model": model})
}

func packParts(parts map[string]string) []byte {
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for _, name := range []string{"_rels/.rels", "3D/3dmodel.model", "3d/Other.Model"} {
		if text, ok := parts[name]; ok {
			w, _ := z.Create(name)
			io.WriteString(w, text)
		}
	}
	z.Close()
	return b.Bytes()
}

const tetra = `<mesh><vertices><vertex x="0" y="0" z="0"/><vertex x="1" y="0" z="0"/><vertex x="0" y="1" z="0"/><vertex x="0" y="0" z="1"/></vertices>
<triangles><triangle v1="0" v2="2" v3="1"/><triangle v1="0" v2="1" v3="3"/><triangle v1="0" v2="3" v3="2"/><triangle v1="1" v2="2" v3="3"/></triangles></mesh>`

func model(attrs, resources, build string) string {
	return `<?xml version="1.0" encoding="utf-8"?><!-- a comment --><model xmlns="` + core + `" ` + attrs + `>
<metadata name="Title">a &amp; b</metadata><resources>` + resources + `</resources><build>` + build + `</build></model>`
}

const one = `<object id="1" type="model">` + tetra + `</object>`

func volume(t *testing.T, b []byte) (float64, mesh.Info) {
	t.Helper()
	m, info, err := read(b)
	if err != nil {
		t.Fatal(err)
	}
	h := m.Health()
	if !h.Closed {
		t.Errorf("not closed: %+v", h)
	}
	return h.Volume, info
}

// Units of 3MF Core 1.4 §3.4, default millimetre.
func TestUnits(t *testing.T) {
	for unit, mm := range map[string]float64{"": 1, "micron": 0.001, "millimeter": 1, "centimeter": 10, "inch": 25.4, "foot": 304.8, "meter": 1000} {
		attrs := ""
		if unit != "" {
			attrs = `unit="` + unit + `"`
		}
		vol, info := volume(t, pack(model(attrs, one, `<item objectid="1"/>`)))
		if info.UnitMM != mm || info.Format != "3MF" || info.Unit == "" || math.Abs(vol-1.0/6) > 1e-12 {
			t.Errorf("%q: %+v, volume %g", unit, info, vol)
		}
	}
}

// §3.3: 12 numbers row-major, p' = p·M, the last row the shift.
func TestTransform(t *testing.T) {
	m, _, err := read(pack(model("", one, `<item objectid="1" transform="0 2 0 -3 0 0 0 0 4 10 20 30"/>`)))
	if err != nil {
		t.Fatal(err)
	}
	// x → (0,2,0), y → (−3,0,0), z → (0,0,4), then the shift
	want := []geom.Vec3{{X: 10, Y: 20, Z: 30}, {X: 10, Y: 22, Z: 30}, {X: 7, Y: 20, Z: 30}, {X: 10, Y: 20, Z: 34}}
	for i, w := range want {
		if m.Vertices[i] != w {
			t.Errorf("vertex %d at %v, want %v", i, m.Vertices[i], w)
		}
	}
	if v := m.Health().Volume; math.Abs(v-24.0/6) > 1e-12 {
		t.Errorf("volume %g", v)
	}
}

// §3.3–3.4: a negative determinant must not turn the volume inside out; neither may two of them.
func TestMirror(t *testing.T) {
	vol, _ := volume(t, pack(model("", one, `<item objectid="1" transform="-1 0 0 0 1 0 0 0 1 0 0 0"/>`)))
	if math.Abs(vol-1.0/6) > 1e-12 {
		t.Errorf("mirrored: volume %g", vol)
	}
	two := one + `<object id="2"><components><component objectid="1" transform="-1 0 0 0 1 0 0 0 1 0 0 0"/></components></object>`
	for tr, want := range map[string]float64{"1 0 0 0 1 0 0 0 1 0 0 0": 1.0 / 6, "1 0 0 0 -2 0 0 0 1 0 0 0": 2.0 / 6} {
		vol, _ := volume(t, pack(model("", two, `<item objectid="2" transform="`+tr+`"/>`)))
		if math.Abs(vol-want) > 1e-12 {
			t.Errorf("component, %s: volume %g, want %g", tr, vol, want)
		}
	}
}

// Components apply their transform first, the item's after: a shift of 1 along x, then x doubled.
func TestOrderOfTransforms(t *testing.T) {
	res := one + `<object id="2"><components><component objectid="1" transform="1 0 0 0 1 0 0 0 1 1 0 0"/></components></object>`
	m, _, err := read(pack(model("", res, `<item objectid="2" transform="2 0 0 0 1 0 0 0 1 0 0 0"/>`)))
	if err != nil {
		t.Fatal(err)
	}
	if b := m.Box(); b.Min.X != 2 || b.Max.X != 4 {
		t.Errorf("%v", b)
	}
}

// §3.4: only what build items reference comes out, and items may repeat it.
func TestBuild(t *testing.T) {
	res := one + `<object id="7" type="support">` + tetra + `</object><object id="9">` + tetra + `</object>`
	vol, info := volume(t, pack(model("", res, `<item objectid="1"/><item objectid="7"/><item objectid="1" transform="1 0 0 0 1 0 0 0 1 5 0 0"/>`)))
	if math.Abs(vol-2.0/6) > 1e-12 || info.Facets != 8 {
		t.Errorf("volume %g, %+v", vol, info)
	}
}

func TestNamespaces(t *testing.T) {
	prefixed := strings.NewReplacer("<", "<c:", "</", "</c:").Replace(`<model unit="inch"><resources>` + one + `</resources><build><item objectid="1"/></build></model>`)
	prefixed = strings.ReplaceAll(prefixed, "<c:/", "</c:")
	prefixed = strings.Replace(prefixed, "<c:model", `<c:model xmlns:c="`+core+`"`, 1)
	if vol, info := volume(t, pack(prefixed)); math.Abs(vol-1.0/6) > 1e-12 || info.UnitMM != 25.4 {
		t.Errorf("volume %g, %+v", vol, info)
	}
	// elements of other namespaces are passed over, also where they hold core elements
	foreign := `<x:thing xmlns:x="urn:x"><object xmlns="` + core + `" id="1"/></x:thing>` + one
	volume(t, pack(model(`xmlns:y="urn:y"`, foreign, `<y:note/><item objectid="1"/>`)))
}

func TestRefusals(t *testing.T) {
	whole := pack(model("", one, `<item objectid="1"/>`))
	for _, c := range []struct {
		name string
		b    []byte
		code string
		says []string
	}{
		{"nothing", nil, "mesh-syntax", nil},
		{"cut off", whole[:len(whole)/2], "mesh-syntax", []string{"unpacked"}},
		{"no relations", packParts(map[string]string{"3D/3dmodel.model": model("", one, "")}), "mesh-empty", []string{"_rels/.rels"}},
		{"no model part", packParts(map[string]string{"_rels/.rels": rels}), "mesh-empty", []string{"3dmodel.model"}},
		{"extension", pack(model(`xmlns:p="http://example.org/p" requiredextensions="p"`, one, `<item objectid="1"/>`)), "mesh-unsupported", []string{"http://example.org/p"}},
		{"other part", pack(model(`xmlns:p="urn:p"`, one, `<item objectid="1" p:path="/3D/other.model"/>`)), "mesh-unsupported", nil},
		{"unit", pack(model(`unit="furlong"`, one, `<item objectid="1"/>`)), "mesh-syntax", []string{"furlong", "inch"}},
		{"nothing built", pack(model("", one, "")), "mesh-empty", nil},
		{"unknown object", pack(model("", one, `<item objectid="3"/>`)), "mesh-syntax", []string{`"3"`}},
		{"id twice", pack(model("", one+one, `<item objectid="1"/>`)), "mesh-syntax", []string{"twice"}},
		{"ring", pack(model("", `<object id="1"><components><component objectid="1"/></components></object>`, `<item objectid="1"/>`)), "mesh-syntax", nil},
		{"index", pack(model("", strings.Replace(one, `v3="3"`, `v3="4"`, 1), `<item objectid="1"/>`)), "mesh-index", []string{"triangle 1", "0 to 3"}},
		{"negative index", pack(model("", strings.Replace(one, `v1="0"`, `v1="-1"`, 1), `<item objectid="1"/>`)), "mesh-index", nil},
		{"number", pack(model("", strings.Replace(one, `x="1"`, `x="one"`, 1), `<item objectid="1"/>`)), "mesh-syntax", []string{"vertex 1", "one"}},
		{"missing coordinate", pack(model("", strings.Replace(one, `x="1"`, ``, 1), `<item objectid="1"/>`)), "mesh-syntax", nil},
		{"NaN", pack(model("", strings.Replace(one, `x="1"`, `x="NaN"`, 1), `<item objectid="1"/>`)), "mesh-not-finite", nil},
		{"1e30", pack(model("", strings.Replace(one, `x="1"`, `x="1e30"`, 1), `<item objectid="1"/>`)), "mesh-huge", nil},
		{"huge when placed", pack(model("", one, `<item objectid="1" transform="1e9 0 0 0 1 0 0 0 1 1e9 0 0"/>`)), "mesh-huge", []string{"build"}},
		{"flat transform", pack(model("", one, `<item objectid="1" transform="1 0 0 0 0 0 0 0 1 0 0 0"/>`)), "mesh-syntax", []string{"determinant"}},
		{"short transform", pack(model("", one, `<item objectid="1" transform="1 0 0 0 1 0 0 0 1 0 0"/>`)), "mesh-syntax", []string{"12"}},
		{"long transform", pack(model("", one, `<item objectid="1" transform="1 0 0 0 1 0 0 0 1 0 0 0 7"/>`)), "mesh-syntax", []string{"12"}},
		{"DTD", pack(`<!DOCTYPE model [<!ENTITY a "b">]>` + model("", one, `<item objectid="1"/>`)), "mesh-syntax", []string{"document type"}},
		{"UTF-16", pack(strings.Replace(model("", one, ""), "utf-8", "utf-16", 1)), "mesh-syntax", []string{"UTF-8"}},
		{"not a model", pack(`<html xmlns="x"/>`), "mesh-syntax", []string{"html"}},
		{"wrong end", pack(strings.Replace(model("", one, ""), "</mesh>", "</mush>", 1)), "mesh-syntax", []string{"mush"}},
		{"two roots", pack(model("", one, `<item objectid="1"/>`) + "<a/>"), "mesh-syntax", nil},
		{"unquoted", pack(strings.Replace(model("", one, ""), `v1="0"`, `v1=0`, 1)), "mesh-syntax", []string{"v1"}},
	} {
		_, _, err := read(c.b)
		e, ok := err.(*finding.InputError)
		if !ok || e.Code != c.code {
			t.Errorf("%s: %v, want %s", c.name, err, c.code)
			continue
		}
		if e.Unsupported != (c.code == "mesh-unsupported") {
			t.Errorf("%s: unsupported is %v", c.name, e.Unsupported)
		}
		for _, s := range c.says {
			if !strings.Contains(e.Error(), s) {
				t.Errorf("%s: %q lacks %q", c.name, e, s)
			}
		}
	}
}

// Every cut of the model's text is refused.
func TestModelCutAnywhere(t *testing.T) {
	whole := model("", one, `<item objectid="1"/>`)
	for n := range len(whole) - 1 {
		if _, _, err := read(pack(whole[:n])); !finding.IsInput(err) {
			t.Fatalf("cut to %d of %d: %v", n, len(whole), err)
		}
	}
}

// Small packages that unpack, or build, to something enormous.
func TestBombs(t *testing.T) {
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	w, _ := z.Create("_rels/.rels")
	io.WriteString(w, rels)
	w, _ = z.Create("3D/3dmodel.model")
	io.WriteString(w, `<model xmlns="`+core+`"><!--`)
	zeros := make([]byte, 1<<20)
	for range 20 {
		w.Write(zeros)
	}
	z.Close()
	_, _, err := Read(context.Background(), bytes.NewReader(b.Bytes()), int64(b.Len()), mesh.Limits{Bytes: 1 << 20})
	if e, ok := err.(*finding.InputError); !ok || e.Code != "mesh-limit" {
		t.Errorf("20 MiB out of %d bytes: %v", b.Len(), err)
	}
	for _, leaf := range []string{tetra, "<mesh></mesh>", "<mesh><vertices>" + strings.Repeat(`<vertex x="0" y="0" z="0"/>`, 300) + "</vertices></mesh>"} {
		res := `<object id="0">` + leaf + `</object>`
		for i := 1; i < 40; i++ {
			res += fmt.Sprintf(`<object id="%d"><components><component objectid="%d"/><component objectid="%d"/></components></object>`, i, i-1, i-1)
		}
		_, _, err = read(pack(model("", res, `<item objectid="39"/>`)))
		if e, ok := err.(*finding.InputError); !ok || e.Code != "mesh-limit" {
			t.Errorf("2³⁹ instances: %v", err)
		}
	}
	if _, _, err = read(pack(strings.Repeat(`<model xmlns="`+core+`">`, 10000))); !finding.IsInput(err) {
		t.Error("deep nesting", err)
	}
}

func TestCancel(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	b := pack(model("", one, `<item objectid="1"/>`))
	if _, _, err := Read(ctx, bytes.NewReader(b), int64(len(b)), mesh.Limits{}); !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
}

func TestWriteReadIsTheSame(t *testing.T) {
	m := &mesh.Mesh{
		Vertices:  []geom.Vec3{{X: 0.1, Y: -1e-7, Z: 1.0 / 3}, {X: 1e6}, {Y: 1}, {Z: 1.25}},
		Triangles: [][3]int32{{0, 1, 2}, {0, 2, 3}, {0, 3, 1}, {3, 2, 1}},
	}
	var b, c bytes.Buffer
	if err := Write(&b, m, ""); err != nil {
		t.Fatal(err)
	}
	got, info, err := read(b.Bytes())
	if err != nil || info.UnitMM != 1 {
		t.Fatal(err, info)
	}
	for i := range m.Vertices {
		if got.Vertices[i] != m.Vertices[i] || got.Triangles[i] != m.Triangles[i] {
			t.Errorf("%d: %v %v", i, got.Vertices[i], got.Triangles[i])
		}
	}
	if Write(&c, got, "millimeter"); !bytes.Equal(b.Bytes(), c.Bytes()) {
		t.Error("written again it differs")
	}
}

func TestUnescape(t *testing.T) {
	for in, want := range map[string]string{"a&lt;b&gt;&amp;&apos;&quot;": `a<b>&'"`, "&#65;&#x42;&#x20AC;": "AB€"} {
		if got, ok := unescape([]byte(in)); !ok || string(got) != want {
			t.Errorf("%q: %q %v", in, got, ok)
		}
	}
	for _, in := range []string{"&", "&;", "&nbsp;", "&#;", "&#x;", "&#xD800;", "&#-1;", "&amp"} {
		if got, ok := unescape([]byte(in)); ok {
			t.Errorf("%q: read as %q", in, got)
		}
	}
}

// FuzzModel puts arbitrary text where the model part is.
func FuzzModel(f *testing.F) {
	f.Add(model("", one, `<item objectid="1" transform="1 0 0 0 1 0 0 0 1 0 0 0"/>`))
	f.Add(model(`xmlns:p="urn:p" unit="inch"`, one+`<object id="2"><components><component objectid="1"/></components></object>`, `<item objectid="2"/>`))
	f.Add("<!-- --><a b='c'>&lt;<![CDATA[x]]></a>")
	f.Fuzz(func(t *testing.T, s string) {
		p := parser{lim: mesh.Limits{Triangles: 1000, Bytes: 1 << 20}}
		err := p.model(newMarkup(context.Background(), "fuzz", strings.NewReader(s)))
		if err == nil {
			var m *mesh.Mesh
			if m, _, err = p.build(context.Background()); err == nil {
				m.Health()
			}
		}
		if err != nil && !finding.IsInput(err) {
			t.Fatal(err)
		}
	})
}

func FuzzRead(f *testing.F) {
	f.Add(pack(model("", one, `<item objectid="1"/>`)))
	f.Fuzz(func(t *testing.T, b []byte) {
		_, _, err := Read(context.Background(), bytes.NewReader(b), int64(len(b)), mesh.Limits{Triangles: 1000, Bytes: 1 << 20})
		if err != nil && !finding.IsInput(err) {
			t.Fatal(err)
		}
	})
}

func BenchmarkRead(b *testing.B) {
	m := &mesh.Mesh{}
	const n = 400
	for i := range n {
		for j := range n {
			m.Vertices = append(m.Vertices, geom.Vec3{X: float64(i) * 0.1, Y: float64(j) * 0.1, Z: math.Round(1e6*math.Sin(float64(i*j))) / 1e6})
		}
	}
	for i := range int32(n - 1) {
		for j := range int32(n - 1) {
			a := i*n + j
			m.Triangles = append(m.Triangles, [3]int32{a, a + n, a + n + 1}, [3]int32{a, a + n + 1, a + 1})
		}
	}
	var w bytes.Buffer
	if err := Write(&w, m, ""); err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, _, err := read(w.Bytes()); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(len(m.Triangles))*float64(b.N)/b.Elapsed().Seconds()/1e6, "Mtri/s")
}
