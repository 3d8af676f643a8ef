package survey

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"runtime/metrics"
	"strings"
	"testing"
	"time"

	"barwise/finding"
	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/sample"
	"barwise/geom/mesh/stl"
)

// binarySTL writes triangles as they are, sound or not.
func binarySTL(corners ...geom.Vec3) string {
	var b bytes.Buffer
	b.Write(make([]byte, 80))
	binary.Write(&b, binary.LittleEndian, uint32(len(corners)/3))
	for i := 0; i < len(corners); i += 3 {
		binary.Write(&b, binary.LittleEndian, [3]float32{})
		for _, p := range corners[i : i+3] {
			binary.Write(&b, binary.LittleEndian, [3]float32{float32(p.X), float32(p.Y), float32(p.Z)})
		}
		b.Write([]byte{0, 0})
	}
	return b.String()
}

func soup(m *mesh.Mesh) []geom.Vec3 {
	var out []geom.Vec3
	for i := range m.Triangles {
		a, b, c := m.Corners(i)
		out = append(out, a, b, c)
	}
	return out
}

// What a person may hand over by mistake: each is refused, or found, with where, what, and what to do.
func TestBadInput(t *testing.T) {
	dir := t.TempDir()
	box := sample.Box(v(0, 0, 0), v(10, 20, 30))
	header := func(n int) string {
		return fmt.Sprintf("ply\nformat ascii 1.0\nelement vertex %d\nproperty float x\nproperty float y\nproperty float z\n", n)
	}
	nan := soup(box)
	nan[7].Y = math.NaN()
	far := soup(box)
	far[7].Y = 1e30
	for _, c := range []struct {
		name, data string
		code       string // of the error, or of a finding that blocks
		says       []string
	}{
		{"points.ply", header(3) + "end_header\n0 0 0\n1 0 0\n0 1 0\n", "mesh-empty", []string{"no faces", "export a triangle mesh, not points"}},
		{"points-and-no-faces.ply", header(3) + "element face 0\nproperty list uchar int vertex_index\nend_header\n0 0 0\n1 0 0\n0 1 0\n", "mesh-empty", []string{"no faces", "not points"}},
		{"points.obj", "v 0 0 0\nv 1 0 0\nv 0 1 0\n", "mesh-empty", []string{"no triangle", "not points"}},
		{"nan.stl", binarySTL(nan...), "mesh-not-finite", []string{"facet 3", "NaN", "export the model again"}},
		{"far.stl", binarySTL(far...), "mesh-huge", []string{"facet 3", "1e+30", "±1e+09"}},
		{"nan.obj", "v 0 0 nan\nv 1 0 0\nv 0 1 0\nf 1 2 3\n", "mesh-not-finite", []string{"line 1"}},
		{"far.obj", "v 0 0 0\nv 1 0 0\nv 0 1e30 0\nf 1 2 3\n", "mesh-huge", []string{"line 3", "1e+30"}},
		{"plane.stl", binarySTL(v(0, 0, 0), v(10, 0, 0), v(10, 10, 0), v(0, 0, 0), v(10, 10, 0), v(0, 10, 0)), "mesh-flat", []string{"flat sheet", "no thickness", "export a solid"}},
		{"triangle.stl", binarySTL(v(0, 0, 0), v(10, 0, 3), v(10, 10, 0)), "mesh-few", []string{"1 triangle", "at least 4"}},
		{"line.stl", binarySTL(v(0, 0, 0), v(10, 0, 0), v(20, 0, 0)), "mesh-flat", []string{"no thickness"}},
		{"inside-out.stl", binarySTL(soup(sample.Inverted(box))...), "mesh-inside-out", []string{"-6000 mm³", "turn the normals over"}},
		{"apart.stl", binarySTL(soup(mesh.Join(box, sample.Box(v(50, 0, 0), v(60, 10, 10))))...), "", []string{"2 pieces whose boxes lie apart", "(5, 10, 15) mm and (55, 5, 5) mm"}},
	} {
		path := filepath.Join(dir, c.name)
		if err := os.WriteFile(path, []byte(c.data), 0o644); err != nil {
			t.Fatal(err)
		}
		m, info, err := Open(context.Background(), path, mesh.Limits{})
		text, code := "", ""
		if err != nil {
			var e *finding.InputError
			if !errors.As(err, &e) || !strings.HasPrefix(e.Where, path) || e.Hint == "" {
				t.Errorf("%s: %v", c.name, err)
				continue
			}
			text, code = err.Error(), e.Code
		} else {
			for _, f := range look(t, m, info, Params{UnitMM: 1}).Findings {
				if f.Severity == finding.Blocking && (code == "" || f.Code == c.code) {
					code = f.Code
				}
				text += f.String() + "\n"
			}
		}
		if code != c.code {
			t.Errorf("%s: %q, want %q: %s", c.name, code, c.code, text)
		}
		for _, s := range c.says {
			if !strings.Contains(text, s) {
				t.Errorf("%s: %q lacks %q", c.name, text, s)
			}
		}
	}
}

// A file of 20 million triangles is refused before it is read where the limit is lower, and the message
// says what memory it takes. The files are holes on the disk.
func TestTwentyMillionTriangles(t *testing.T) {
	const n = 20_000_000
	dir := t.TempDir()
	binary20 := filepath.Join(dir, "m.stl")
	f, err := os.Create(binary20)
	if err != nil {
		t.Fatal(err)
	}
	head := make([]byte, 84)
	binary.LittleEndian.PutUint32(head[80:], n)
	if _, err := f.Write(head); err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(f.Truncate(84+50*n), f.Close()); err != nil {
		t.Skip(err) // a file system without holes
	}
	ply20 := filepath.Join(dir, "m.ply")
	text := fmt.Sprintf("ply\nformat binary_little_endian 1.0\nelement vertex %d\nproperty float x\nproperty float y\nproperty float z\nelement face %d\nproperty list uchar int vertex_index\nend_header\n", n/2, n)
	if err := os.WriteFile(ply20, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	for path, where := range map[string]string{binary20: "byte 80", ply20: "line 7"} {
		start := time.Now()
		_, _, err := Open(context.Background(), path, mesh.Limits{Triangles: 5_000_000})
		e, ok := err.(*finding.InputError)
		if !ok || e.Code != "mesh-limit" || e.Where != path+": "+where {
			t.Errorf("%v", err)
			continue
		}
		for _, s := range []string{"20000000 triangles", "at most 5000000", "2.8 GiB of memory", "raise the limit"} {
			if !strings.Contains(err.Error(), s) {
				t.Errorf("%q lacks %q", err, s)
			}
		}
		if d := time.Since(start); d > 3*time.Second {
			t.Errorf("it took %v to refuse", d)
		}
	}
	// with the limit where it is unless asked, it goes on: here as far as the context lets it
	ctx, cancel := context.WithTimeout(context.Background(), 20*time.Millisecond)
	defer cancel()
	start := time.Now()
	if _, _, err := Open(ctx, binary20, mesh.Limits{}); !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("%v", err)
	}
	if d := time.Since(start); d > 5*time.Second {
		t.Errorf("it took %v to stop", d)
	}
}

// A large mesh that is taken says what it costs; what it says covers what it takes.
func TestMemoryOfALargeMesh(t *testing.T) {
	if os.Getenv("BARWISE_SOAK") == "" {
		t.Skip("BARWISE_SOAK is not set")
	}
	const n = 2000 // a ball of 4 million triangles
	path := filepath.Join(t.TempDir(), "m.stl")
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(stl.Write(f, ball(50, n), ""), f.Close()); err != nil {
		t.Fatal(err)
	}
	low, peak, stop := heapPeak()
	m, info, err := Open(context.Background(), path, mesh.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	r := look(t, m, info, Params{UnitMM: 1})
	stop()
	used := float64(peak() - low)
	t.Logf("%d triangles, %.0f bytes each, at its peak", r.Health.Triangles, used/float64(r.Health.Triangles))
	if codes(r)["mesh-large"] != finding.Note || used > float64(mesh.Need(r.Health.Triangles)) {
		t.Errorf("%.2f GiB, said %s; %v", used/(1<<30), mesh.GiB(mesh.Need(r.Health.Triangles)), r.Findings)
	}
}

// heapPeak watches what is taken of memory for objects, dead ones included.
func heapPeak() (low uint64, peak func() uint64, stop func()) {
	runtime.GC()
	sample := []metrics.Sample{{Name: "/memory/classes/heap/objects:bytes"}}
	read := func() uint64 {
		metrics.Read(sample)
		return sample[0].Value.Uint64()
	}
	low = read()
	most := low
	done, ended := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(ended)
		for {
			select {
			case <-done:
				return
			case <-time.After(2 * time.Millisecond):
				most = max(most, read())
			}
		}
	}()
	return low, func() uint64 { return most }, func() { close(done); <-ended }
}
