package share

import (
	"context"
	"math"
	"testing"

	"barwise/geom"
	"barwise/geom/mesh/sample"
	"barwise/plan/cl"
	"barwise/shop/cutter"
)

// Of a block with upright walls, only what lies at y above 1 is kept: nothing of the share is left beyond
// the overlap below it, walls neither, and what is kept is what it was.
func TestRestrict(t *testing.T) {
	const r, over = 0.5, 0.3
	m := sample.Box(geom.Vec3{X: -2, Y: -3, Z: -2}, geom.Vec3{X: 2, Y: 3, Z: 2})
	in := Input{Surface: cl.NewSurface(m), Mesh: m, Cutter: cutter.Ball(r), YMin: -4, YMax: 4,
		Sides: []Side{{Deg: 0, XMin: -3, XMax: 3, ZMin: -3}}}
	s := New(in, Params{Overlap: over})
	if err := s.All(context.Background()); err != nil {
		t.Fatal(err)
	}
	v := s.Views[0]
	state := append([]State(nil), v.State...)
	foot := append([]bool(nil), v.Foot...)
	low := func(k int) bool { return v.Field.Y(k/v.Field.NX) < 1 }
	feet := 0
	v.Restrict(func(k int) bool { return !low(k) })
	for k := range state {
		if low(k) && (v.State[k] != Out || v.Foot[k]) || !low(k) && (v.State[k] != state[k] || v.Foot[k] != foot[k]) {
			t.Fatalf("node %d: state %d, foot %v; before %d, %v", k, v.State[k], v.Foot[k], state[k], foot[k])
		}
		if foot[k] {
			feet++
		}
	}
	if feet == 0 {
		t.Fatal("no wall was there to go")
	}
	s.Spread(v)
	for k := range state {
		if y := v.Field.Y(k / v.Field.NX); v.State[k] != Out && y < 1-over-s.Pitch {
			t.Fatalf("a node %g mm below what is kept has state %d", math.Abs(1-y), v.State[k])
		}
	}
}
