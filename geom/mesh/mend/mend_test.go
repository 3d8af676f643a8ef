package mend

import (
	"context"
	"math"
	"testing"

	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/sample"
)

func v(x, y, z float64) geom.Vec3 { return geom.Vec3{X: x, Y: y, Z: z} }

func mend(t *testing.T, m *mesh.Mesh, p Params) *Result {
	t.Helper()
	r, err := Mend(context.Background(), m, p)
	if err != nil {
		t.Fatal(err)
	}
	if len(r.New) != len(r.Mesh.Triangles) || len(r.Turned) != len(r.Mesh.Triangles) {
		t.Fatalf("%d triangles, %d and %d marks", len(r.Mesh.Triangles), len(r.New), len(r.Turned))
	}
	return r
}

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.12g, want %.12g within %g", what, got, want, tol)
	}
}

// whole is everything asked for at once.
func whole(width float64) Params {
	return Params{Weld: 1e-3, Duplicates: true, Orient: true, Fill: width}
}

// sound checks that the mesh is a closed, clean, outward solid of one shell with an Euler number.
func sound(t *testing.T, what string, r *Result, euler int) {
	t.Helper()
	h := r.After
	if !h.Closed || h.Crowded != 0 || h.Flipped != 0 || h.Pinched != 0 || h.Duplicates != 0 || h.Degenerate != 0 || len(h.Loops) != 0 || h.Volume <= 0 {
		t.Errorf("%s: not sound: %+v; %v; %v", what, h, r.Changes, r.Left)
		return
	}
	if len(h.Shells) != 1 || h.Shells[0].Euler != euler {
		t.Errorf("%s: %d shells, χ %d, want %d", what, len(h.Shells), h.Shells[0].Euler, euler)
	}
}

// A box of 2 × 3 × 4 without one of its faces: the window is closed to exactly the volume 24 and the
// area 52 it had.
func TestWindowInABox(t *testing.T) {
	b := sample.Box(v(-1, 2, 3), v(1, 5, 7))
	for face := range 6 {
		open := &mesh.Mesh{Vertices: b.Vertices}
		for i, tr := range b.Triangles {
			if i/2 != face {
				open.Triangles = append(open.Triangles, tr)
			}
		}
		r := mend(t, open, Params{Fill: 4.5})
		sound(t, "box", r, 2)
		near(t, "volume", r.After.Volume, 24, 0)
		near(t, "area", r.After.Area, 52, 1e-12)
		if len(r.Changes) != 1 || r.Changes[0].Kind != Fill || r.Changes[0].Count != 2 || len(r.Changes[0].Loop) != 4 {
			t.Errorf("%+v", r.Changes)
		}
	}
}
