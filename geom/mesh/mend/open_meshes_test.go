package mend

import (
	"path/filepath"
	"slices"
	"testing"
	"time"

	"barwise/geom/mesh"
	"barwise/geom/mesh/ply"
	"barwise/geom/mesh/sample"
)

func named(t *testing.T, name string) *mesh.Mesh {
	m := sample.OFF(t, filepath.Join(sample.Collection(t), name))
	if m == nil {
		t.Fatalf("%s is not plain OFF", name)
	}
	return m
}

// Meshes of the collection that come in a sound and in a broken form: triangles turned at random, which
// must come back as they were; faces missing, which give back the volume.
func TestBrokenBesideSound(t *testing.T) {
	for broken, whole := range map[string]string{
		"blobby-shuffled.off": "blobby.off", "oblong-shuffled.off": "oblong.off", "cube-shuffled.off": "cube.off",
		"tet-shuffled.off": "reference_tetrahedron.off",
	} {
		r := mend(t, named(t, broken), Params{Orient: true})
		near(t, broken, r.After.Volume, named(t, whole).Health().Volume, 1e-7*r.After.Volume) // written with seven digits
		if !r.After.Closed {
			t.Errorf("%s is not closed", broken)
		}
	}
	for broken, c := range map[string]struct {
		whole string
		part  float64 // of the volume that the filling may miss
	}{
		"corner_with_hole.off": {"corner.off", 1e-9}, "corner_tris_with_hole.off": {"corner.off", 1e-9},
		"hedra_open.off": {"hedra.off", 1e-4}, // written with seven digits
		"blob.off":       {"blob-closed.off", 2e-3}, "elephant-with-holes.off": {"elephant.off", 2e-3},
	} {
		m := named(t, broken)
		w := named(t, c.whole).Health()
		r := mend(t, m, Params{Fill: m.Box().Size().Len()})
		near(t, broken, r.After.Volume, w.Volume, c.part*w.Volume)
		if h := r.After; !h.Closed || h.Shells[0].Euler != w.Shells[0].Euler || len(r.Left) > 0 {
			t.Errorf("%s: closed %v, χ %d, want %d; %v", broken, h.Closed, h.Shells[0].Euler, w.Shells[0].Euler, r.Left)
		}
	}
	// cubes of sides 2 and 100 without a face
	for name, volume := range map[string]float64{"cube-ouvert.off": 8, "open_cube.off": 1e6} {
		r := mend(t, named(t, name), Params{Fill: 101, Orient: true})
		near(t, name, r.After.Volume, volume, 1e-9*volume)
	}
}

// What must hold for any mesh: sound ones come back themselves, nothing gets worse, no area is lost, and
// every loop is closed or listed.
func TestCollection(t *testing.T) {
	files, _ := filepath.Glob(filepath.Join(sample.Collection(t), "*.off"))
	if len(files) < 100 {
		t.Fatalf("%d files", len(files))
	}
	for _, f := range files {
		m := sample.OFF(t, f)
		if m == nil || len(m.Triangles) == 0 {
			continue
		}
		name := filepath.Base(f)
		size := m.Box().Size().Len()
		start := time.Now()
		r := mend(t, m, Params{Weld: 1e-5 * size, Duplicates: true, Orient: true, Fill: 0.3 * size})
		b, a := r.Before, r.After
		t.Logf("%-34s %v, %d changes, %d left", name, time.Since(start).Round(time.Millisecond), len(r.Changes), len(r.Left))
		outward := !slices.ContainsFunc(b.Shells, func(s mesh.Shell) bool { return s.Volume < 0 && s.Inside < 0 })
		if b.Closed && b.Degenerate == 0 && b.Duplicates == 0 && outward && r.Mesh != m {
			t.Errorf("%s is sound and was changed: %v", name, r.Changes)
		}
		if b.Closed && !a.Closed || a.Flipped > 0 && !a.OneSided || a.Crowded > b.Crowded || a.Degenerate > b.Degenerate || a.Duplicates > 0 {
			t.Errorf("%s is worse: %v %v", name, r.Changes, r.Left)
		}
		if b.Duplicates == 0 && a.Area < b.Area*(1-1e-6) {
			t.Errorf("%s lost area, %g of %g: %v", name, a.Area, b.Area, r.Changes)
		}
		holes := 0
		for _, l := range r.Left {
			if l.Kind == "hole" {
				holes++
			}
		}
		if len(a.Loops) > holes {
			t.Errorf("%s: %d loops, %d listed", name, len(a.Loops), holes)
		}
	}
}

// The dragon of 871 306 triangles is closed already; with holes shot into it, it is closed again.
func TestDragonIsMended(t *testing.T) {
	m := sample.Dragon(t, ply.Read)
	shot := without(m, func(i int) bool { return i%500 == 0 })
	start := time.Now()
	r := mend(t, shot, Params{Duplicates: true, Orient: true, Fill: m.Box().Size().Len() / 50})
	t.Logf("%v for %d holes", time.Since(start), len(r.Before.Loops))
	if !r.After.Closed || r.After.Crowded > 0 {
		t.Errorf("%+v %v", r.After.Loops, r.Left)
	}
	whole := m.Health()
	near(t, "volume", r.After.Volume, whole.Volume, 1e-3*whole.Volume)
}
