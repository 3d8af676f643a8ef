package stl

import (
	"encoding/binary"
	"io"
	"math"
	"strings"
	"testing"

	"barwise/geom"
	"barwise/geom/mesh"
)

// IEEE 754: next to 1000 float32 numbers lie 2⁻¹⁴ apart, so rounding moves a coordinate by at most
// 2⁻¹⁵, and vertices 10⁻⁵ apart fall together.
func TestRounding(t *testing.T) {
	m := &mesh.Mesh{
		Vertices:  []geom.Vec3{{X: 1000}, {X: 1000.00001}, {X: 1000, Y: 1}, {X: 1000, Z: 1}, {X: 1e30}},
		Triangles: [][3]int32{{0, 2, 3}, {1, 3, 2}, {0, 1, 2}},
	}
	l := Rounding(m)
	if l.Merged != 1 || l.Lost != 1 || l.MergedAt != m.Vertices[1] {
		t.Errorf("%+v", l)
	}
	if math.Abs(l.Shift-1e-5) > 1e-12 {
		t.Errorf("shift %g", l.Shift)
	}
	third := &mesh.Mesh{Vertices: []geom.Vec3{{X: 1000 + 1.0/3}, {Y: 1}, {Z: 1}}, Triangles: [][3]int32{{0, 1, 2}}}
	if l := Rounding(third); l.Merged != 0 || l.Shift == 0 || l.Shift > 1.0/(1<<15) {
		t.Errorf("%+v", l)
	}
	if l := Rounding(tetra); l != (Loss{}) {
		t.Errorf("nothing is lost of %+v", l)
	}
}

// Burns §6.5: the normal follows from the corners by the right-hand rule.
func TestWriteNormals(t *testing.T) {
	b := binaryOf(grid(5), "")
	f := func(at int) float64 { return float64(math.Float32frombits(binary.LittleEndian.Uint32(b[at:]))) }
	v := func(at int) geom.Vec3 { return geom.Vec3{X: f(at), Y: f(at + 4), Z: f(at + 8)} }
	for at := 84; at < len(b); at += 50 {
		n, p, q, r := v(at), v(at+12), v(at+24), v(at+36)
		w := q.Sub(p).Cross(r.Sub(p))
		if w.Dot(n) < (1-1e-6)*w.Len() || math.Abs(n.Len()-1) > 1e-6 {
			t.Fatalf("facet at byte %d: normal %v", at, n)
		}
	}
}

func TestWriteRefuses(t *testing.T) {
	for _, x := range []float64{math.NaN(), math.Inf(1), 1e39} {
		m := &mesh.Mesh{Vertices: []geom.Vec3{{}, {X: x}, {Y: 1}}, Triangles: [][3]int32{{0, 1, 2}}}
		if err := Write(io.Discard, m, ""); err == nil || !strings.Contains(err.Error(), "vertex 2") {
			t.Error(err)
		}
	}
}
