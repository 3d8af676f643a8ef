package threemf

import (
	"archive/zip"
	"bytes"
	"io"
	"math"
	"math/rand/v2"
	"regexp"
	"strings"
	"testing"

	"barwise/geom"
	"barwise/geom/mesh"
)

// number is the pattern of ST_Number in the schema of 3MF Core Specification 1.4, appendix B.1.
var number = regexp.MustCompile(`^((\-|\+)?(([0-9]+(\.[0-9]+)?)|(\.[0-9]+))((e|E)(\-|\+)?[0-9]+)?)$`)

// Any float64 reads back to the bit, in every unit of the specification.
func TestWriteReadToTheBit(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	m := &mesh.Mesh{}
	for range 3000 {
		x := func() float64 { return (r.Float64() - 0.5) * math.Pow(10, float64(r.IntN(40)-31)) }
		m.Vertices = append(m.Vertices, geom.Vec3{X: x(), Y: x(), Z: x()})
	}
	for i := range int32(len(m.Vertices) - 2) {
		m.Triangles = append(m.Triangles, [3]int32{i, i + 1, i + 2})
	}
	for unit, mm := range map[string]float64{"": 1, "micron": 0.001, "millimeter": 1, "centimeter": 10, "inch": 25.4, "foot": 304.8, "meter": 1000} {
		var b bytes.Buffer
		if err := Write(&b, m, unit); err != nil {
			t.Fatal(err)
		}
		got, info, err := read(b.Bytes())
		if err != nil || info.UnitMM != mm || info.Collapsed != 0 {
			t.Fatal(err, info)
		}
		for i, v := range m.Vertices {
			if got.Vertices[i] != v {
				t.Fatalf("vertex %d: %v, wrote %v", i, got.Vertices[i], v)
			}
		}
		for i, tr := range m.Triangles {
			if got.Triangles[i] != tr {
				t.Fatalf("triangle %d: %v, wrote %v", i, got.Triangles[i], tr)
			}
		}
	}
}

// Open Packaging Conventions: the content types come under their name, the model part is the target of
// the package's relationship, part names are ASCII; 3MF Core §2: numbers are of ST_Number, UTF-8.
func TestWriteKeepsToTheSpecification(t *testing.T) {
	m := &mesh.Mesh{Vertices: []geom.Vec3{{X: 1e-30, Y: -1e9, Z: 0.1}, {X: 123456789.125}, {Y: -2.5e-7}}, Triangles: [][3]int32{{0, 1, 2}}}
	var b bytes.Buffer
	if err := Write(&b, m, "inch"); err != nil {
		t.Fatal(err)
	}
	z, err := zip.NewReader(bytes.NewReader(b.Bytes()), int64(b.Len()))
	if err != nil {
		t.Fatal(err)
	}
	text := map[string]string{}
	for _, f := range z.File {
		if y := f.Modified.UTC().Year(); y != 1980 || f.Method != zip.Deflate {
			t.Errorf("%s: year %d, method %d", f.Name, y, f.Method)
		}
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		s, _ := io.ReadAll(r)
		text[f.Name] = string(s)
	}
	for name, has := range map[string][]string{
		"[Content_Types].xml": {"application/vnd.ms-package.3dmanufacturing-3dmodel+xml", "application/vnd.openxmlformats-package.relationships+xml"},
		"_rels/.rels":         {"http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel", `Target="/3D/3dmodel.model"`},
		"3D/3dmodel.model":    {"http://schemas.microsoft.com/3dmanufacturing/core/2015/02", `unit="inch"`, `<item objectid="1"/>`},
	} {
		for _, s := range has {
			if !strings.Contains(text[name], s) {
				t.Errorf("%s lacks %s", name, s)
			}
		}
	}
	found := regexp.MustCompile(` [xyz]="([^"]*)"`).FindAllStringSubmatch(text["3D/3dmodel.model"], -1)
	if len(found) != 9 {
		t.Errorf("%d coordinates", len(found))
	}
	for _, f := range found {
		if !number.MatchString(f[1]) {
			t.Errorf("%q is no ST_Number", f[1])
		}
	}
}

func TestWriteRefuses(t *testing.T) {
	m := &mesh.Mesh{Vertices: []geom.Vec3{{}, {X: 1}, {Y: 1}}, Triangles: [][3]int32{{0, 1, 2}}}
	if err := Write(io.Discard, m, "furlong"); err == nil || !strings.Contains(err.Error(), "furlong") {
		t.Error(err)
	}
	m.Vertices[1].Z = math.NaN()
	if err := Write(io.Discard, m, ""); err == nil || !strings.Contains(err.Error(), "vertex 2") {
		t.Error(err)
	}
}
