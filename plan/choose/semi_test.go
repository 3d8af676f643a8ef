package choose

import (
	"context"
	"math"
	"testing"

	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/patch"
	"barwise/plan/cl"
	"barwise/shop/cutter"
)

// tower is a block 8 by 4 with a step across the bar: lines along the bar end at a wall of the given height,
// 8 wide, whose top is at z = 7.
func tower(height float64) *mesh.Mesh {
	m := prism(-4, 4, 17, -5, 27, -5, 27, 7-height, 22, 7-height, 22, 7, 17, 7)
	for i, v := range m.Vertices { // the profile lies along the bar
		m.Vertices[i] = geom.Vec3{X: -v.Y, Y: v.X, Z: v.Z}
	}
	return m
}

func semi(t *testing.T, p SemiParams) *SemiAdvice {
	t.Helper()
	a, err := Semi(context.Background(), cl.NewSurface(p.Mesh), p, patch.Cut(p.Mesh, 0.4, 400000))
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func semiParams(m *mesh.Mesh, skin float64, finish cutter.Cutter, allowed ...cutter.Cutter) SemiParams {
	p := piece(m, thick, []float64{0}, append([]cutter.Cutter{finish}, allowed...)...)
	s := SemiParams{PredictParams: p.PredictParams, Finish: *p.Candidates[0].Finish, Skin: skin, Machine: mill}
	for _, c := range p.Candidates[1:] {
		s.Allowed = append(s.Allowed, Allowed{Use: *c.Finish, InJob: c.Finish.Cutter.ID == finish.ID})
	}
	return s
}

// One wall of 8 mm, to whose foot a line comes every stepover of a ball of 1 at 2 µm of cusp, 0.0893 mm. Its
// ends reach half a millimetre farther, where the lines come down beside the block; and the far wall of the
// block, from its top at z = 7 − h to the axis, has lines of its own.
func TestSemiCountsLifts(t *testing.T) {
	const w = 0.0893532
	short := ball("ball-1", 1, 3, 14, 22)
	for _, c := range []struct{ height, lines float64 }{
		{5, 8 / w},         // the step alone: the far end is 2 mm high
		{2.5, 8 / w},       // the far end alone: 4.5 mm to the axis
		{3.5, 2 * (8 / w)}, // both, the far end by half a millimetre
	} {
		a := semi(t, semiParams(tower(c.height), 0.2, short, ball3))
		// the wall toward the stub, 7 mm to the axis, always counts
		want := c.lines + 8/w
		if math.Abs(a.Lifts-want) > 0.15*want {
			t.Errorf("a step of %g: %.0f lifts, want %.0f", c.height, a.Lifts, want)
		}
	}
}

func TestSemiPays(t *testing.T) {
	short := ball("ball-1", 1, 3, 14, 22)
	p := semiParams(tower(5), 0.2, short, short, ball3)
	a := semi(t, p)
	if a.Lifts == 0 || a.LiftTime <= 0 || a.Allowance != 0.05 || a.Cusp != 0.02 {
		t.Fatalf("%+v", a)
	}
	if (a.Bought > 0) != a.Pays || math.Abs(a.LiftTime-a.Seconds-a.Bought) > 1e-6 {
		t.Errorf("%+v", a)
	}
	// with changes that cost nothing the larger ball takes less time; a change dear enough leaves the one that is in
	p.Machine.ToolChange, p.Machine.Turn = 0, 0
	if a := semi(t, p); !a.Pays || a.Cutter != "ball-3" {
		t.Errorf("free changes: %+v", a)
	}
	p.Machine.ToolChange = 1e5
	if a := semi(t, p); a.Cutter != "ball-1" {
		t.Errorf("dear changes: %+v", a)
	}
	// flutes longer than the walls, or a skin that may stand, want nothing
	if a := semi(t, semiParams(tower(5), 0.2, ball("ball-1", 1, 13, 14, 22), ball3)); a.Pays || a.Lifts != 0 || len(a.Findings) != 0 {
		t.Errorf("long flutes: %+v", a)
	}
	if a := semi(t, semiParams(tower(5), ThinSkin, short, ball3)); a.Pays || a.Lifts != 0 || len(a.Findings) != 0 {
		t.Errorf("a thin skin: %+v", a)
	}
}
