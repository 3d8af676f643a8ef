package ply

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"barwise/finding"
	"barwise/geom/mesh"
)

func read(s []byte) (*mesh.Mesh, mesh.Info, error) {
	return Read(context.Background(), bytes.NewReader(s), int64(len(s)), mesh.Limits{})
}

// The cube of Turk's paper The PLY Polygon File Format (1994): six faces of four corners.
const cube = `ply
format ascii 1.0
comment made by hand
element vertex 8
property float x
property float y
property float z
element face 6
property list uchar int vertex_index
end_header
0 0 0
0 0 1
0 1 1
0 1 0
1 0 0
1 0 1
1 1 1
1 1 0
4 0 1 2 3
4 7 6 5 4
4 0 4 5 1
4 1 5 6 2
4 2 6 7 3
4 3 7 4 0
`

// The paper's cube faces outward: its first face, x = 0, runs (0,0,0) (0,0,1) (0,1,1), normal −X.
func TestCubeOfThePaper(t *testing.T) {
	for name, s := range map[string]string{
		"as it is":       cube,
		"CRLF":           strings.ReplaceAll(cube, "\n", "\r\n"),
		"vertex_indices": strings.ReplaceAll(cube, "vertex_index", "vertex_indices"),
		"without end":    strings.TrimSuffix(cube, "\n"),
	} {
		m, info, err := read([]byte(s))
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		h := m.Health()
		if !h.Closed || math.Abs(h.Volume-1) > 1e-12 || h.Area != 6 || info.Facets != 6 || info.Format != "ascii PLY" || len(m.Triangles) != 12 {
			t.Errorf("%s: %+v %+v", name, h, info)
		}
	}
}

// binaryCube writes the cube with properties of every type around those that count.
func binaryCube(order binary.AppendByteOrder, name string) []byte {
	var b []byte
	b = append(b, "ply\nformat "+name+" 1.0\nobj_info x\n"+
		"element material 2\nproperty uchar red\nproperty list ushort double coefficients\n"+
		"element vertex 8\nproperty char quality\nproperty double x\nproperty float y\nproperty short z\nproperty uint id\n"+
		"element face 6\nproperty uchar flags\nproperty list ushort uint vertex_indices\nproperty list uchar float texcoord\n"+
		"element edge 1\nproperty int vertex1\nproperty int vertex2\nend_header\n"...)
	f32 := func(x float64) { b = order.AppendUint32(b, math.Float32bits(float32(x))) }
	f64 := func(x float64) { b = order.AppendUint64(b, math.Float64bits(x)) }
	for range 2 {
		b = append(b, 200)
		b = order.AppendUint16(b, 3)
		f64(1)
		f64(2)
		f64(3)
	}
	xs := [][3]float64{{0, 0, 0}, {0, 0, 1}, {0, 1, 1}, {0, 1, 0}, {-3, 0, 0}, {-3, 0, 1}, {-3, 1, 1}, {-3, 1, 0}}
	for i, x := range xs {
		b = append(b, 0xff)
		f64(x[0])
		f32(x[1])
		b = order.AppendUint16(b, uint16(int16(-2*x[2])))
		b = order.AppendUint32(b, uint32(i))
	}
	for _, q := range [][4]uint32{{0, 1, 2, 3}, {7, 6, 5, 4}, {0, 4, 5, 1}, {1, 5, 6, 2}, {2, 6, 7, 3}, {3, 7, 4, 0}} {
		b = append(b, 7)
		b = order.AppendUint16(b, 4)
		for _, k := range q {
			b = order.AppendUint32(b, k)
		}
		b = append(b, 2)
		f32(0.5)
		f32(0.5)
	}
	b = order.AppendUint32(b, 0)
	return order.AppendUint32(b, 1)
}

// Mirrored twice, so it still faces outward: −3 wide, −2 high, volume 6.
func TestBinaryWithOtherProperties(t *testing.T) {
	for _, b := range [][]byte{binaryCube(binary.LittleEndian, "binary_little_endian"), binaryCube(binary.BigEndian, "binary_big_endian")} {
		m, info, err := read(b)
		if err != nil {
			t.Fatal(err)
		}
		if h := m.Health(); !h.Closed || math.Abs(h.Volume-6) > 1e-12 || info.Facets != 6 {
			t.Errorf("%+v %+v", h, info)
		}
	}
}

// Every cut of a sound file is refused with a place.
func TestCutAnywhere(t *testing.T) {
	for _, whole := range [][]byte{[]byte(cube), binaryCube(binary.LittleEndian, "binary_little_endian")} {
		// the binary one ends in an element that is not used, the ascii one in a newline
		end := len(whole) - 2
		for n := 0; n < end; n++ {
			_, _, err := read(whole[:n])
			if !finding.IsInput(err) {
				t.Fatalf("cut to %d of %d bytes: %v", n, len(whole), err)
			}
		}
	}
}

func TestRefusals(t *testing.T) {
	sub := func(old, new string) string { return strings.Replace(cube, old, new, 1) }
	for _, c := range []struct {
		name, s, code string
		says          []string
	}{
		{"nothing", "", "mesh-syntax", []string{"'ply'"}},
		{"index beyond", sub("4 7 6 5 4", "4 8 6 5 4"), "mesh-index", []string{"face 1", "line 20", "8", "0 to 7"}},
		{"counted from 1", strings.NewReplacer("4 0 1 2 3", "4 1 2 3 4", "4 7 6 5 4", "4 8 7 6 5").Replace(cube), "mesh-index", []string{"face 1"}},
		{"negative index", sub("4 0 1 2 3", "4 -1 1 2 3"), "mesh-index", []string{"-1"}},
		{"broken index", sub("4 0 1 2 3", "4 0.5 1 2 3"), "mesh-index", []string{"0.5"}},
		{"two corners", sub("4 0 1 2 3", "2 0 1"), "mesh-syntax", []string{"2 corners"}},
		{"too few", sub("4 0 1 2 3", "4 0 1 2"), "mesh-syntax", []string{"face 0", "line 19"}},
		{"too many", sub("4 0 1 2 3", "4 0 1 2 3 4"), "mesh-syntax", []string{"behind the last"}},
		{"word", sub("0 1 1", "0 one 1"), "mesh-syntax", []string{"vertex 2", `"one"`}},
		{"NaN", sub("0 1 1", "0 nan 1"), "mesh-not-finite", []string{"vertex 2"}},
		{"1e30", sub("0 1 1", "0 1e30 1"), "mesh-huge", []string{"vertex 2"}},
		{"absurd count", sub("face 6", "face 2000000000"), "mesh-limit", []string{"2000000000"}},
		{"vertices missing", sub("vertex 8", "vertex 8000"), "mesh-truncated", []string{"8000"}},
		{"points", "ply\nformat ascii 1.0\nelement vertex 1\nproperty float x\nproperty float y\nproperty float z\nend_header\n0 0 0\n", "mesh-empty", nil},
		{"no z", sub("property float z\n", ""), "mesh-syntax", []string{"'z'"}},
		{"no format", sub("format ascii 1.0\n", ""), "mesh-syntax", []string{"format"}},
		{"version", sub("ascii 1.0", "ascii 2.0"), "mesh-syntax", []string{"2.0"}},
		{"type", sub("float x", "half x"), "mesh-syntax", []string{"line 5", "half"}},
		{"list length", sub("list uchar", "list float"), "mesh-syntax", nil},
		{"header word", sub("comment", "remark"), "mesh-syntax", []string{"line 3"}},
		{"twice", sub("element face 6", "element vertex 6"), "mesh-syntax", []string{"twice"}},
		{"faces first", "ply\nformat ascii 1.0\nelement face 1\nproperty list uchar int vertex_index\nelement vertex 1\nproperty float x\nproperty float y\nproperty float z\nend_header\n3 0 0 0\n0 0 0\n", "mesh-syntax", []string{"before"}},
		{"list of a million", sub("4 0 1 2 3", "9999999 0 1 2 3"), "mesh-syntax", nil},
	} {
		_, _, err := read([]byte(c.s))
		e, ok := err.(*finding.InputError)
		if !ok || e.Code != c.code {
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

func TestCancel(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, _, err := Read(ctx, strings.NewReader(cube), int64(len(cube)), mesh.Limits{}); !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
}

func FuzzRead(f *testing.F) {
	f.Add([]byte(cube))
	f.Add(binaryCube(binary.LittleEndian, "binary_little_endian"))
	f.Add(binaryCube(binary.BigEndian, "binary_big_endian"))
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

func sheet(n int, binaryForm bool) []byte {
	var s bytes.Buffer
	format := "ascii"
	if binaryForm {
		format = "binary_little_endian"
	}
	fmt.Fprintf(&s, "ply\nformat %s 1.0\nelement vertex %d\nproperty float x\nproperty float y\nproperty float z\nelement face %d\nproperty list uchar int vertex_indices\nend_header\n", format, n*n, 2*(n-1)*(n-1))
	b := s.Bytes()
	for i := range n {
		for j := range n {
			x := [3]float64{float64(i) * 0.1, float64(j) * 0.1, math.Sin(float64(i * j))}
			if !binaryForm {
				b = fmt.Appendf(b, "%.6f %.6f %.6f\n", x[0], x[1], x[2])
				continue
			}
			for _, c := range x {
				b = binary.LittleEndian.AppendUint32(b, math.Float32bits(float32(c)))
			}
		}
	}
	for i := range n - 1 {
		for j := range n - 1 {
			a := i*n + j
			for _, f := range [][3]int{{a, a + n, a + n + 1}, {a, a + n + 1, a + 1}} {
				if !binaryForm {
					b = fmt.Appendf(b, "3 %d %d %d\n", f[0], f[1], f[2])
					continue
				}
				b = append(b, 3)
				for _, k := range f {
					b = binary.LittleEndian.AppendUint32(b, uint32(k))
				}
			}
		}
	}
	return b
}

func BenchmarkReadASCII(b *testing.B)  { bench(b, sheet(400, false)) }
func BenchmarkReadBinary(b *testing.B) { bench(b, sheet(400, true)) }

func bench(b *testing.B, data []byte) {
	b.SetBytes(int64(len(data)))
	for b.Loop() {
		if _, _, err := read(data); err != nil {
			b.Fatal(err)
		}
	}
}
