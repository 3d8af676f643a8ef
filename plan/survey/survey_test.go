package survey

import (
	"bytes"
	"context"
	"errors"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"barwise/finding"
	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/sample"
	"barwise/geom/mesh/stl"
	"barwise/geom/mesh/threemf"
)

func v(x, y, z float64) geom.Vec3 { return geom.Vec3{X: x, Y: y, Z: z} }

func look(t *testing.T, m *mesh.Mesh, info mesh.Info, p Params) *Report {
	t.Helper()
	r, err := Look(context.Background(), m, info, p)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func codes(r *Report) map[string]finding.Severity {
	out := map[string]finding.Severity{}
	for _, f := range r.Findings {
		out[f.Code] = max(out[f.Code], f.Severity)
	}
	return out
}

func TestLookAtSoundMesh(t *testing.T) {
	r := look(t, sample.Box(v(0, 0, 0), v(10, 20, 30)), mesh.Info{Format: "binary STL"}, Params{UnitMM: 1})
	if len(r.Findings) != 0 || !r.Closed() || r.Blocking() || r.UnitFrom != "given" || r.Health.Volume != 6000 || r.Health.Area != 2200 {
		t.Errorf("%+v %v", r, r.Findings)
	}
}

func TestUnit(t *testing.T) {
	for _, c := range []struct {
		size float64
		info mesh.Info
		p    Params
		unit string
		from string
		mm   float64
	}{
		{50, mesh.Info{}, Params{}, "mm", "guess", 1},
		{2, mesh.Info{}, Params{}, "inch", "guess", 25.4},
		{0.2, mesh.Info{}, Params{}, "m", "guess", 1000},
		{0.2, mesh.Info{}, Params{UnitMM: 25.4}, "inch", "given", 25.4},
		{0.2, mesh.Info{Unit: "centimeter", UnitMM: 10}, Params{}, "centimeter", "file", 10},
		{0.2, mesh.Info{Unit: "centimeter", UnitMM: 10}, Params{UnitMM: 1}, "mm", "given", 1},
	} {
		r := look(t, sample.Box(v(0, 0, 0), v(c.size, c.size, c.size)), c.info, c.p)
		if r.Unit != c.unit || r.UnitFrom != c.from || r.UnitMM != c.mm {
			t.Errorf("%+v: %s %s %g", c, r.Unit, r.UnitFrom, r.UnitMM)
		}
		if want := math.Pow(c.size*c.mm, 3); math.Abs(r.Health.Volume-want) > 1e-9*want {
			t.Errorf("%+v: volume %g mm³, want %g", c, r.Health.Volume, want)
		}
		if _, noted := codes(r)["mesh-unit"]; noted != (c.from == "guess") {
			t.Errorf("%+v: %v", c, r.Findings)
		}
	}
}

func TestFindings(t *testing.T) {
	b := sample.Box(v(0, 0, 0), v(10, 20, 30))
	drop := func(m *mesh.Mesh, k int) *mesh.Mesh {
		return &mesh.Mesh{Vertices: m.Vertices, Triangles: append(append([][3]int32{}, m.Triangles[:k]...), m.Triangles[k+1:]...)}
	}
	turned := drop(b, 12-1)
	turned.Triangles = append(turned.Triangles, [3]int32{b.Triangles[11][1], b.Triangles[11][0], b.Triangles[11][2]})
	needle := &mesh.Mesh{Vertices: append(append([]geom.Vec3{}, b.Vertices...), v(5, 0, 0)), Triangles: append([][3]int32{}, b.Triangles...)}
	for i, tr := range needle.Triangles { // split both triangles at the edge 0–1 so that one lies in it
		if tr == [3]int32{0, 3, 1} {
			needle.Triangles[i] = [3]int32{0, 3, 8}
			needle.Triangles = append(needle.Triangles, [3]int32{8, 3, 1}, [3]int32{0, 8, 1})
		}
	}
	corner, _ := mesh.Join(b, sample.Box(v(10, 20, 30), v(11, 21, 31))).Weld()
	for _, c := range []struct {
		name string
		m    *mesh.Mesh
		p    Params
		want map[string]finding.Severity
		says []string
	}{
		{"hole", drop(b, 0), Params{}, map[string]finding.Severity{"mesh-open": finding.Blocking},
			[]string{"loop 1 near (3.09, 11.91, 0) mm", "3 edges", "52.36 mm round", "one triangle is missing", "accept: open"}},
		{"hole accepted", drop(b, 0), Params{AcceptOpen: true}, map[string]finding.Severity{"mesh-open": finding.Warning}, nil},
		{"inside out", sample.Inverted(b), Params{}, map[string]finding.Severity{"mesh-inside-out": finding.Blocking}, []string{"-6000", "normals"}},
		{"one turned over", turned, Params{}, map[string]finding.Severity{"mesh-flipped": finding.Blocking}, []string{"3 edges", "1 of 12"}},
		{"needle", needle, Params{}, map[string]finding.Severity{"mesh-degenerate": finding.Note, "mesh-touches": finding.Note}, []string{"1 triangles", "1 were left out"}},
		{"two apart", mesh.Join(b, sample.Box(v(50, 0, 0), v(60, 10, 10))), Params{}, map[string]finding.Severity{"mesh-apart": finding.Warning, "mesh-shells": finding.Note}, []string{"2 pieces", "6000, 1000"}},
		{"two that overlap", mesh.Join(b, sample.Box(v(5, 5, 5), v(50, 10, 10))), Params{}, map[string]finding.Severity{"mesh-shells": finding.Note, "mesh-overlap": finding.Note}, []string{"shells 1 and 2 pass through one another", "within 0 × 5 × 5 mm"}},
		{"cavity", mesh.Join(b, sample.Inverted(sample.Box(v(2, 2, 2), v(4, 4, 4)))), Params{}, map[string]finding.Severity{"mesh-shells": finding.Note, "mesh-cavity": finding.Note}, nil},
		{"one inside out", mesh.Join(b, sample.Inverted(sample.Box(v(50, 0, 0), v(60, 10, 10)))), Params{},
			map[string]finding.Severity{"mesh-inside-out": finding.Blocking, "mesh-shells": finding.Note, "mesh-apart": finding.Warning}, nil},
		{"touching corners", corner, Params{}, map[string]finding.Severity{"mesh-shells": finding.Note, "mesh-pinched": finding.Note}, []string{"(10, 20, 30)"}},
		{"plane", &mesh.Mesh{Vertices: []geom.Vec3{v(0, 0, 0), v(10, 0, 0), v(10, 10, 0), v(0, 10, 0)}, Triangles: [][3]int32{{0, 1, 2}, {0, 2, 3}}}, Params{},
			map[string]finding.Severity{"mesh-flat": finding.Blocking, "mesh-open": finding.Blocking, "mesh-few": finding.Blocking}, []string{"flat sheet", "40 mm"}},
		{"triangle", &mesh.Mesh{Vertices: []geom.Vec3{v(0, 0, 0), v(10, 0, 0), v(10, 10, 5)}, Triangles: [][3]int32{{0, 1, 2}}}, Params{},
			map[string]finding.Severity{"mesh-open": finding.Blocking, "mesh-few": finding.Blocking}, []string{"1 triangles"}},
		{"sheet of two sides", &mesh.Mesh{Vertices: []geom.Vec3{v(0, 0, 0), v(10, 0, 0), v(10, 10, 5)}, Triangles: [][3]int32{{0, 1, 2}, {0, 2, 1}}}, Params{},
			map[string]finding.Severity{"mesh-flat": finding.Blocking, "mesh-duplicate": finding.Note, "mesh-few": finding.Blocking}, nil},
		{"tiny", sample.Box(v(0, 0, 0), v(0.1, 0.1, 0.1)), Params{}, map[string]finding.Severity{"mesh-tiny": finding.Warning}, nil},
		{"huge", sample.Box(v(0, 0, 0), v(1, 1, 3000)), Params{}, map[string]finding.Severity{"mesh-huge": finding.Warning}, nil},
		{"duplicate", &mesh.Mesh{Vertices: b.Vertices, Triangles: append(append([][3]int32{}, b.Triangles...), b.Triangles[3])}, Params{},
			map[string]finding.Severity{"mesh-open": finding.Blocking, "mesh-nonmanifold": finding.Warning, "mesh-duplicate": finding.Note, "mesh-pinched": finding.Note}, nil},
	} {
		c.p.UnitMM = 1
		r := look(t, c.m, mesh.Info{Format: "STL"}, c.p)
		got := codes(r)
		for code, s := range c.want {
			if g, ok := got[code]; !ok || g != s {
				t.Errorf("%s: %s is %v %v, want %v", c.name, code, ok, g, s)
			}
		}
		for code := range got {
			if _, ok := c.want[code]; !ok {
				t.Errorf("%s: %s was not expected: %v", c.name, code, r.Findings)
			}
		}
		text := ""
		for _, f := range r.Findings {
			text += f.String() + "\n"
		}
		for _, s := range c.says {
			if !strings.Contains(text, s) {
				t.Errorf("%s: %q lacks %q", c.name, text, s)
			}
		}
	}
}

// Many loops: some are named, the rest counted with their length.
func TestManyLoops(t *testing.T) {
	m := &mesh.Mesh{}
	for i := range 12 {
		b := sample.Box(v(0, 0, float64(20*i)), v(10, 10, float64(20*i+10)))
		b.Triangles = b.Triangles[2:]
		m = mesh.Join(m, b)
	}
	r := look(t, m, mesh.Info{}, Params{UnitMM: 1, MaxLoops: 3})
	n, rest := 0, ""
	for _, f := range r.Findings {
		if f.Code == "mesh-open" {
			n++
			if strings.Contains(f.Where, "more") {
				rest = f.String()
			}
		}
	}
	if n != 4 || !strings.Contains(rest, "9 more loops") || !strings.Contains(rest, "360 mm") {
		t.Errorf("%d findings, %q", n, rest)
	}
}

func TestLookStops(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Look(ctx, sample.Box(v(0, 0, 0), v(1, 1, 1)), mesh.Info{}, Params{}); !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
	// in the middle, at any time
	m := ball(20, 300)
	for k := range 6 {
		ctx, cancel := context.WithTimeout(context.Background(), time.Duration(1<<k)*time.Millisecond)
		start := time.Now()
		if _, err := Look(ctx, m, mesh.Info{}, Params{}); err != nil && !errors.Is(err, context.DeadlineExceeded) {
			t.Error(err)
		}
		if d := time.Since(start); ctx.Err() != nil && d > 2*time.Second {
			t.Errorf("asked to stop after %d ms, it took %v", 1<<k, d)
		}
		cancel()
	}
}

func TestOpen(t *testing.T) {
	dir := t.TempDir()
	b := sample.Box(v(0, 0, 0), v(10, 20, 30))
	var binary, zipped bytes.Buffer
	if err := errors.Join(stl.Write(&binary, b, ""), threemf.Write(&zipped, b, "millimeter")); err != nil {
		t.Fatal(err)
	}
	obj := "v 0 0 0\nv 1 0 0\nv 0 1 0\nv 0 0 1\nf 1 3 2\nf 1 2 4\nf 1 4 3\nf 2 3 4\n"
	ply := "ply\nformat ascii 1.0\nelement vertex 3\nproperty float x\nproperty float y\nproperty float z\nelement face 1\nproperty list uchar int vertex_index\nend_header\n0 0 0\n1 0 0\n0 1 0\n3 0 1 2\n"
	for name, c := range map[string]struct{ text, format, code string }{
		"a.stl":        {binary.String(), "binary STL", ""},
		"B.STL":        {binary.String(), "binary STL", ""},
		"c.3mf":        {zipped.String(), "3MF", ""},
		"mislabel.stl": {zipped.String(), "3MF", ""},
		"d.obj":        {obj, "OBJ", ""},
		"e.ply":        {ply, "ascii PLY", ""},
		"mislabel.obj": {ply, "ascii PLY", ""},
		"empty.stl":    {"", "", "mesh-empty"},
		"cut.stl":      {binary.String()[:200], "", "mesh-truncated"},
		"what.txt":     {"hello", "", "model-format"},
	} {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(c.text), 0o644); err != nil {
			t.Fatal(err)
		}
		_, info, err := Open(context.Background(), path, mesh.Limits{})
		if c.code == "" {
			if err != nil || info.Format != c.format {
				t.Errorf("%s: %v %v", name, err, info)
			}
			continue
		}
		e, ok := err.(*finding.InputError)
		if !ok || e.Code != c.code || !strings.HasPrefix(e.Where, path) {
			t.Errorf("%s: %v", name, err)
		}
	}
	for _, path := range []string{filepath.Join(dir, "missing.stl"), dir} {
		_, _, err := Open(context.Background(), path, mesh.Limits{})
		if e, ok := err.(*finding.InputError); !ok || e.Code != "model-file" || !strings.Contains(err.Error(), path) {
			t.Errorf("%s: %v", path, err)
		}
	}
}
