package smooth

import (
	"math"
	"path/filepath"
	"testing"
	"time"

	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/ply"
	"barwise/geom/mesh/sample"
)

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
	paths, _ := filepath.Glob(filepath.Join(sample.Collection(t), "*.off"))
	seen := 0
	for _, p := range append(paths, "dragon.ply") {
		var m *mesh.Mesh
		if filepath.Ext(p) == ".ply" {
			m = sample.Dragon(t, ply.Read)
		} else {
			m = sample.OFF(t, p)
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
