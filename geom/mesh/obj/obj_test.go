package obj

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"barwise/finding"
	"barwise/geom/mesh"
)

func read(s string) (*mesh.Mesh, mesh.Info, error) {
	return Read(context.Background(), strings.NewReader(s), int64(len(s)), mesh.Limits{})
}

const cubeVertices = `# a cube of edge 2
mtllib none.mtl
o cube
v 0 0 0
v 2 0 0
v 2 2 0
v 0 2 0
v 0 0 2
v 2 0 2 1 0.5 0.5
v 2 2 2
v 0 2 2 # colours may follow
`

// Indices start at 1, negative ones count back from the latest, a backslash continues a line, faces may
// have more than three corners and be written v, v/vt, v//vn or v/vt/vn (the Object Files appendix of
// Wavefront's Advanced Visualizer manual).
func TestForms(t *testing.T) {
	for name, faces := range map[string]string{
		"quads":     "f 1 4 3 2\nf 5 6 7 8\nf 1 2 6 5\nf 3 4 8 7\nf 1 5 8 4\nf 2 3 7 6\n",
		"negative":  "f -8 -5 -6 -7\nf -4 -3 -2 -1\nf 1 2 -3 -4\nf 3 4 8 7\nf 1 5 8 4\nf 2 3 7 6\n",
		"slashes":   "vt 0 0\nvn 0 0 1\nf 1/1 4/1 3/1 2/1\nf 5//1 6//1 7//1 8//1\nf 1/1/1 2/1/1 6/1/1 5/1/1\nf 3 4 8 7\nf 1 5 8 4\nf 2 3 7 6\n",
		"continued": "f 1 4 \\\n3 2\nf 5 6 7 8\nf 1 2 \\\n 6 \\\n 5\nf 3 4 8 7\nf 1 5 8 4\nf 2 3 7 6\n",
		"CRLF":      "g a\r\ns off\r\nusemtl x\r\nf 1 4 3 2\r\nf 5 6 7 8\r\nf 1 2 6 5\r\nf 3 4 8 7\r\nf 1 5 8 4\r\nf 2 3 7 6\r\n",
		"no end":    "l 1 2\np 1\nf 1 4 3 2\nf 5 6 7 8\nf 1 2 6 5\nf 3 4 8 7\nf 1 5 8 4\nf 2 3 7 6",
	} {
		m, info, err := read(cubeVertices + faces)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		h := m.Health()
		if !h.Closed || math.Abs(h.Volume-8) > 1e-12 || math.Abs(h.Area-24) > 1e-12 || info.Facets != 6 || info.Unwelded != 8 || info.UnitMM != 0 {
			t.Errorf("%s: %+v %+v", name, h, info)
		}
	}
}

// Vertices doubled for their normals are welded; vertices between faces count as they stand.
func TestWeldsAndCountsAsItGoes(t *testing.T) {
	s := "v 0 0 0\nv 1 0 0\nv 0 1 0\nf -3 -1 -2\nv 0 0 0\nv 1 0 0\nv -0 0 1\nf -3 -2 -1\n" +
		"v 0 0 0\nv 0 0 1\nv 0 1 0\nf -3 -2 -1\nf 2 3 6\n"
	m, _, err := read(s)
	if err != nil {
		t.Fatal(err)
	}
	if h := m.Health(); !h.Closed || len(m.Vertices) != 4 || math.Abs(h.Volume-1.0/6) > 1e-12 {
		t.Errorf("%+v", h)
	}
}

func TestRefusals(t *testing.T) {
	for _, c := range []struct {
		name, s, code string
		says          []string
	}{
		{"nothing", "", "mesh-empty", nil},
		{"points only", "v 0 0 0\nv 1 1 1\n", "mesh-empty", nil},
		{"index 0", "v 0 0 0\nv 1 0 0\nv 0 1 0\nf 0 1 2\n", "mesh-index", []string{"line 4", "index 0", "1 to 3"}},
		{"beyond", "v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 4\n", "mesh-index", []string{"line 4", "index 4"}},
		{"too far back", "v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 -4\n", "mesh-index", []string{"-4"}},
		{"not yet there", "v 0 0 0\nf 1 2 3\nv 1 0 0\nv 0 1 0\n", "mesh-index", []string{"line 2"}},
		{"two corners", "v 0 0 0\nv 1 0 0\nf 1 2\n", "mesh-syntax", []string{"2 corners"}},
		{"words", "v 0 0 zero\n", "mesh-syntax", []string{"line 1", `"zero"`}},
		{"cut", "v 0 0", "mesh-syntax", []string{"line 1"}},
		{"NaN", "v 0 nan 0\n", "mesh-not-finite", []string{"line 1"}},
		{"1e30", "\n\nv 0 1e30 0\n", "mesh-huge", []string{"line 3"}},
		{"curve", "v 0 0 0\ncstype bezier\n", "mesh-unsupported", []string{"line 2", "cstype"}},
		{"bytes", "v 0 0 0\n\x00\x01\x02\n", "mesh-syntax", []string{"line 2"}},
		{"huge index", "v 0 0 0\nf 99999999999 1 1\n", "mesh-syntax", []string{"line 2"}},
	} {
		_, _, err := read(c.s)
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

func TestLimitsAndCancel(t *testing.T) {
	s := cubeVertices + "f 1 4 3 2\nf 5 6 7 8\n"
	_, _, err := Read(context.Background(), strings.NewReader(s), int64(len(s)), mesh.Limits{Triangles: 3})
	if !finding.IsInput(err) || !strings.Contains(err.Error(), "at most 3") {
		t.Error(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, _, err = Read(ctx, strings.NewReader(s), int64(len(s)), mesh.Limits{}); !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
}

func FuzzRead(f *testing.F) {
	f.Add([]byte(cubeVertices + "f 1 4 3 2\nf -1 -2 -3\nf 1 \\\n 2 3\n"))
	f.Add([]byte("v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0.1 0.2 0\nv 0 1 0\nf 1 2 3 4 5\n"))
	f.Fuzz(func(t *testing.T, b []byte) {
		m, _, err := Read(context.Background(), bytes.NewReader(b), int64(len(b)), mesh.Limits{Triangles: 1000, Bytes: 1 << 20})
		if err != nil {
			if !finding.IsInput(err) {
				t.Fatal(err)
			}
			return
		}
		m.Health()
	})
}

func BenchmarkRead(b *testing.B) {
	var s bytes.Buffer
	const n = 400
	for i := range n {
		for j := range n {
			fmt.Fprintf(&s, "v %.6f %.6f %.6f\n", float64(i)*0.1, float64(j)*0.1, math.Sin(float64(i*j)))
		}
	}
	for i := range n - 1 {
		for j := range n - 1 {
			a := i*n + j + 1
			fmt.Fprintf(&s, "f %d %d %d\nf %d %d %d\n", a, a+n, a+n+1, a, a+n+1, a+1)
		}
	}
	b.SetBytes(int64(s.Len()))
	for b.Loop() {
		if _, _, err := Read(context.Background(), bytes.NewReader(s.Bytes()), int64(s.Len()), mesh.Limits{}); err != nil {
			b.Fatal(err)
		}
	}
}
