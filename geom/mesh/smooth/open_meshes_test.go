package smooth

import (
	"context"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/ply"
)

// off reads a mesh in the Object File Format of Geomview; nil where it is another one.
func off(t *testing.T, path string) *mesh.Mesh {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	var fields []string
	for line := range strings.Lines(string(data)) {
		line, _, _ = strings.Cut(line, "#")
		fields = append(fields, strings.Fields(line)...)
	}
	if len(fields) < 4 || fields[0] != "OFF" {
		return nil
	}
	at := 1
	next := func() float64 {
		if at >= len(fields) {
			return 0
		}
		x, _ := strconv.ParseFloat(fields[at], 64)
		at++
		return x
	}
	nv, nf := int(next()), int(next())
	next()
	if len(fields) < 3*nv+4*nf || nv == 0 {
		return nil
	}
	b := mesh.NewBuilder(nf)
	index := make([]int32, nv)
	for i := range index {
		index[i] = b.Vertex(geom.Vec3{X: next(), Y: next(), Z: next()})
	}
	for range nf {
		c := make([]int32, int(next()))
		for k := range c {
			i := int(next())
			if i < 0 || i >= nv {
				return nil
			}
			c[k] = index[i]
		}
		b.Polygon(c)
	}
	m, _ := b.Mesh()
	return m
}

// fit scales a mesh to 100 mm.
func fit(m *mesh.Mesh) *mesh.Mesh {
	b := m.Box()
	s := b.Size()
	k := 100 / max(s.X, s.Y, s.Z)
	return m.Map(func(p geom.Vec3) geom.Vec3 { return p.Sub(b.Centre()).Mul(k) })
}

// Open meshes of every kind: what is closed stays closed, no vertex moves, and no more than
// a thousandth of the area has kinks within what was one facet that are greater than any between facets before: some
// of these are rough and coarse, and what their facets stand for is a guess.
func TestOpenMeshes(t *testing.T) {
	dir := os.Getenv("BARWISE_MESHES")
	if dir == "" {
		t.Skip("BARWISE_MESHES is not set")
	}
	paths, _ := filepath.Glob(filepath.Join(dir, "meshes", "data", "meshes", "*.off"))
	seen := 0
	for _, p := range append(paths, filepath.Join(dir, "dragon.ply")) {
		var m *mesh.Mesh
		if filepath.Ext(p) == ".ply" {
			f, err := os.Open(p)
			if err != nil {
				t.Fatal(err)
			}
			st, _ := f.Stat()
			m, _, err = ply.Read(context.Background(), f, st.Size(), mesh.Limits{}.Or())
			f.Close()
			if err != nil {
				t.Fatal(err)
			}
		} else {
			m = off(t, p)
		}
		if m == nil || len(m.Triangles) == 0 || len(m.Triangles) > 1_000_000 {
			continue
		}
		seen++
		m = fit(m)
		start := time.Now()
		r := refine(t, m, Params{Chord: 0.002, KinkDeg: 1, Most: 2_000_000})
		d := time.Since(start)
		was, e := m.Edges(), r.Mesh.Edges()
		if was.Crowded == 0 && (was.Open == 0) != (e.Open == 0) {
			t.Errorf("%s: %d open edges of %d", filepath.Base(p), e.Open, was.Open)
		}
		b, a := m.Box().Size(), r.Mesh.Box().Size()
		if g := max(a.X-b.X, a.Y-b.Y, a.Z-b.Z); g > 2*r.MovedMM+1e-9 {
			t.Errorf("%s: grew by %g, moved by %g", filepath.Base(p), g, r.MovedMM)
		}
		for _, q := range r.Mesh.Vertices {
			if !q.Finite() {
				t.Fatalf("%s: %v", filepath.Base(p), q)
			}
		}
		if share := wrinkles(r, max(r.Before.KinkDeg, 1)*1.1); share > 0.001 {
			t.Errorf("%s: %.2g of the area is more wrinkled than %.1f°", filepath.Base(p), share, r.Before.KinkDeg)
		}
		t.Logf("%-32s %7d to %8d in %5d ms, chord %.4f to %.4f, kink %.2f to %.2f, moved %.4f, capped %d, short %v", filepath.Base(p), len(m.Triangles), len(r.Mesh.Triangles),
			d.Milliseconds(), r.Before.ChordMM, r.After.ChordMM, r.Before.KinkDeg, r.After.KinkDeg, r.MovedMM, r.Capped, r.Short)
	}
	if seen == 0 {
		t.Error("no mesh was there")
	}
}

// wrinkles is the share of the area with kinks of more than deg to a facet of the same old triangle.
func wrinkles(r *Result, deg float64) float64 {
	e := r.Mesh.Edges()
	n := make([]geom.Vec3, len(r.Mesh.Triangles))
	whole, bad := 0.0, 0.0
	for i := range n {
		a, b, c := r.Mesh.Corners(i)
		n[i] = b.Sub(a).Cross(c.Sub(a))
		whole += n[i].Len()
	}
	cos := math.Cos(deg * math.Pi / 180)
	for i := range n {
		for h := 3 * i; h < 3*i+3; h++ {
			o := e.Mate[h]
			if o == mesh.Border || r.From[o/3] != r.From[i] {
				continue
			}
			if n[i].Unit().Dot(n[o/3].Unit()) < cos {
				bad += n[i].Len()
				break
			}
		}
	}
	if whole == 0 {
		return 0
	}
	return bad / whole
}
