package stl

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"reflect"
	"strings"
	"testing"

	"barwise/finding"
	"barwise/geom"
	"barwise/geom/mesh"
)

func read(b []byte) (*mesh.Mesh, mesh.Info, error) {
	return Read(context.Background(), bytes.NewReader(b), int64(len(b)), mesh.Limits{})
}

// tetra is the corner of a cube: volume 1/6, area 1.5 + √3/2.
var tetra = &mesh.Mesh{
	Vertices:  []geom.Vec3{{}, {X: 1}, {Y: 1}, {Z: 1}},
	Triangles: [][3]int32{{0, 2, 1}, {0, 1, 3}, {0, 3, 2}, {1, 2, 3}},
}

func binaryOf(m *mesh.Mesh, header string) []byte {
	var b bytes.Buffer
	if err := Write(&b, m, "test"); err != nil {
		panic(err)
	}
	out := b.Bytes()
	if header != "" {
		copy(out[:80], make([]byte, 80))
		copy(out[:80], header)
	}
	return out
}

func asciiOf(m *mesh.Mesh) []byte {
	var b bytes.Buffer
	fmt.Fprintln(&b, "solid part one")
	for i := range m.Triangles {
		p, q, r := m.Corners(i)
		fmt.Fprintf(&b, "  facet normal 0 0 0\n    outer loop\n")
		for _, v := range []geom.Vec3{p, q, r} {
			fmt.Fprintf(&b, "      vertex %e %e %e\n", v.X, v.Y, v.Z)
		}
		fmt.Fprintf(&b, "    endloop\n  endfacet\n")
	}
	fmt.Fprintln(&b, "endsolid part one")
	return b.Bytes()
}

func checkTetra(t *testing.T, m *mesh.Mesh, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
	h := m.Health()
	if len(m.Triangles) != 4 || len(m.Vertices) != 4 || !h.Closed {
		t.Errorf("%+v", m)
	}
	if math.Abs(h.Volume-1.0/6) > 1e-7 || math.Abs(h.Area-1.5-math.Sqrt(3)/2) > 1e-7 {
		t.Errorf("volume %g, area %g", h.Volume, h.Area)
	}
}

// Burns, Automated Fabrication, §6.5: exactly 84 + 50·n bytes, little-endian, 12 float32 and a uint16 a
// facet.
func TestBinaryLayout(t *testing.T) {
	b := binaryOf(tetra, "")
	if len(b) != 84+50*4 || binary.LittleEndian.Uint32(b[80:]) != 4 {
		t.Fatalf("%d bytes, count %d", len(b), binary.LittleEndian.Uint32(b[80:]))
	}
	// third vertex of the last facet is (0, 0, 1), its normal (1, 1, 1)/√3
	last := b[84+50*3:]
	f := func(k int) float32 { return math.Float32frombits(binary.LittleEndian.Uint32(last[4*k:])) }
	if f(9) != 0 || f(10) != 0 || f(11) != 1 || math.Abs(float64(f(0))-1/math.Sqrt(3)) > 1e-7 {
		t.Errorf("last facet % x", last)
	}
	if bytes.HasPrefix(b, []byte("solid")) {
		t.Error("the header begins with 'solid'")
	}
	m, info, err := read(b)
	checkTetra(t, m, err)
	if info.Format != "binary STL" || info.Facets != 4 || info.Unwelded != 12 || info.UnitMM != 0 {
		t.Errorf("%+v", info)
	}
}

// The size rule comes first: a binary header may begin with 'solid'.
func TestBinaryThatBeginsWithSolid(t *testing.T) {
	m, info, err := read(binaryOf(tetra, "solid made by a program"))
	checkTetra(t, m, err)
	if info.Format != "binary STL" {
		t.Error(info.Format)
	}
}

func TestASCII(t *testing.T) {
	whole := asciiOf(tetra)
	for name, b := range map[string][]byte{
		"plain":       whole,
		"upper case":  bytes.ToUpper(whole),
		"CRLF":        bytes.ReplaceAll(whole, []byte("\n"), []byte("\r\n")),
		"blank lines": bytes.ReplaceAll(whole, []byte("\n"), []byte("\n\n \t\n")),
		"indented":    append([]byte("\n  "), whole...),
		"byte order":  append([]byte("\uFEFF"), whole...),
		"no name":     bytes.ReplaceAll(whole, []byte(" part one"), nil),
	} {
		t.Run(name, func(t *testing.T) {
			m, info, err := read(b)
			checkTetra(t, m, err)
			if info.Format != "ASCII STL" || info.Facets != 4 {
				t.Errorf("%+v", info)
			}
		})
	}
	two := append(bytes.Clone(whole), bytes.ReplaceAll(whole, []byte("vertex 0"), []byte("vertex -0"))...)
	m, info, err := read(two)
	if err != nil || info.Facets != 8 || len(m.Vertices) != 4 {
		t.Errorf("two solids: %v %+v", err, info)
	}
}

func TestRefusals(t *testing.T) {
	set := func(at int, v float32) []byte {
		b := binaryOf(tetra, "")
		binary.LittleEndian.PutUint32(b[at:], math.Float32bits(v))
		return b
	}
	count := func(n uint32) []byte {
		b := binaryOf(tetra, "")
		binary.LittleEndian.PutUint32(b[80:], n)
		return b
	}
	text := string(asciiOf(tetra))
	for _, c := range []struct {
		name string
		b    []byte
		code string
		says []string
	}{
		{"nothing", nil, "mesh-empty", nil},
		{"short", make([]byte, 50), "mesh-truncated", []string{"50 bytes", "84"}},
		{"no facets", binaryOf(&mesh.Mesh{}, ""), "mesh-empty", nil},
		{"cut off", binaryOf(tetra, "")[:84+50*2+7], "mesh-truncated", []string{"facet 3", "byte 191", "4 facets", "284 bytes"}},
		{"count too large", count(5), "mesh-truncated", []string{"5 facets"}},
		{"count too small", count(3), "mesh-count", []string{"3 facets", "234", "284"}},
		{"absurd count", count(math.MaxUint32), "mesh-truncated", []string{"4294967295"}},
		{"NaN", set(84+50*2+12+12+4, float32(math.NaN())), "mesh-not-finite", []string{"facet 3", "byte 208"}},
		{"infinite", set(84+12, float32(math.Inf(1))), "mesh-not-finite", []string{"facet 1", "byte 96"}},
		{"1e30", set(84+50+12, 1e30), "mesh-huge", []string{"facet 2", "1e+30"}},
		{"not STL", []byte(strings.Repeat("hello world, ", 100)), "mesh-truncated", nil},
		{"ASCII cut off", []byte(text[:len(text)/2]), "mesh-", []string{"facet"}},
		{"ASCII without end", []byte(strings.ReplaceAll(text, "endsolid part one", "")), "mesh-truncated", []string{"facet 4", "endsolid"}},
		{"ASCII word", []byte(strings.Replace(text, "outer loop", "outer lop", 1)), "mesh-syntax", []string{"facet 1 (line 3)", `"lop"`}},
		{"ASCII number", []byte(strings.Replace(text, "vertex 1.0", "vertex x.0", 1)), "mesh-syntax", []string{"facet 1", "coordinate"}},
		{"ASCII NaN", []byte(strings.Replace(text, "vertex 1.000000e+00", "vertex nan", 1)), "mesh-not-finite", []string{"facet 1 (line"}},
		{"ASCII 1e30", []byte(strings.Replace(text, "vertex 1.000000e+00", "vertex 1e30", 1)), "mesh-huge", []string{"facet 1 (line"}},
		{"ASCII empty", []byte("solid nothing\nendsolid nothing\n"), "mesh-empty", nil},
		{"four corners", []byte(strings.Replace(text, "endloop", "vertex 0 0 0\nendloop", 1)), "mesh-syntax", []string{"endloop"}},
	} {
		_, _, err := read(c.b)
		e, ok := err.(*finding.InputError)
		if !ok || !strings.HasPrefix(e.Code, c.code) {
			t.Errorf("%s: %v, want %s", c.name, err, c.code)
			continue
		}
		for _, s := range c.says {
			if !strings.Contains(e.Error(), s) {
				t.Errorf("%s: %q lacks %q", c.name, e, s)
			}
		}
	}
}

func TestLimitsAndCancel(t *testing.T) {
	for _, b := range [][]byte{binaryOf(tetra, ""), asciiOf(tetra)} {
		_, _, err := Read(context.Background(), bytes.NewReader(b), int64(len(b)), mesh.Limits{Triangles: 3})
		if !finding.IsInput(err) || !strings.Contains(err.Error(), "at most 3") {
			t.Error(err)
		}
		_, _, err = Read(context.Background(), bytes.NewReader(b), int64(len(b)), mesh.Limits{Bytes: 100})
		if !finding.IsInput(err) || !strings.Contains(err.Error(), "at most 100") {
			t.Error(err)
		}
		ctx, cancel := context.WithCancel(context.Background())
		cancel()
		if _, _, err = Read(ctx, bytes.NewReader(b), int64(len(b)), mesh.Limits{}); !errors.Is(err, context.Canceled) {
			t.Error(err)
		}
	}
}

type failing struct{ after int }

func (f *failing) Write(p []byte) (int, error) {
	if f.after -= len(p); f.after < 0 {
		return 0, errors.New("disk full")
	}
	return len(p), nil
}

func TestWriteFails(t *testing.T) {
	m := grid(60)
	for _, n := range []int{0, 70_000} {
		if err := Write(&failing{n}, m, ""); err == nil || !strings.Contains(err.Error(), "disk full") {
			t.Error(err)
		}
	}
}

// grid is a sheet of 2·n² triangles with float32 coordinates.
func grid(n int) *mesh.Mesh {
	m := &mesh.Mesh{}
	for i := range n + 1 {
		for j := range n + 1 {
			m.Vertices = append(m.Vertices, geom.Vec3{X: float64(float32(i) * 0.1), Y: float64(float32(j) * 0.1), Z: float64(float32(math.Sin(float64(i*j)) * 0.01))})
		}
	}
	for i := range n {
		for j := range n {
			a := int32(i*(n+1) + j)
			b := a + int32(n) + 1
			m.Triangles = append(m.Triangles, [3]int32{a, b, b + 1}, [3]int32{a, b + 1, a + 1})
		}
	}
	return m
}

func TestWriteReadIsTheSame(t *testing.T) {
	m := grid(70) // more than one block of facets
	got, info, err := read(binaryOf(m, ""))
	if err != nil || info.Facets != len(m.Triangles) {
		t.Fatal(err, info)
	}
	if len(got.Vertices) != len(m.Vertices) {
		t.Errorf("%d vertices, want %d", len(got.Vertices), len(m.Vertices))
	}
	for i := range m.Triangles {
		a, b, c := m.Corners(i)
		p, q, r := got.Corners(i)
		if a != p || b != q || c != r {
			t.Fatalf("facet %d differs", i)
		}
	}
	again := binaryOf(got, "")
	if !reflect.DeepEqual(again, binaryOf(m, "")) {
		t.Error("written again it differs")
	}
}

func FuzzRead(f *testing.F) {
	f.Add(binaryOf(tetra, ""))
	f.Add(asciiOf(tetra))
	f.Add([]byte("solid\nfacet normal 0 0 0\nouter loop\nvertex 0 0 0\n"))
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

func BenchmarkReadBinary(b *testing.B) {
	data := binaryOf(grid(1000), "") // 2 million triangles
	b.SetBytes(int64(len(data)))
	for b.Loop() {
		if _, _, err := read(data); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(2e6*float64(b.N)/b.Elapsed().Seconds()/1e6, "Mtri/s")
}

func BenchmarkReadASCII(b *testing.B) {
	data := asciiOf(grid(300))
	b.SetBytes(int64(len(data)))
	for b.Loop() {
		if _, _, err := read(data); err != nil {
			b.Fatal(err)
		}
	}
}
