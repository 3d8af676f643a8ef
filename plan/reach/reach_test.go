package reach

import (
	"context"
	"math"
	"testing"

	"barwise/geom"
	"barwise/geom/field"
	"barwise/geom/mesh/sample"
	"barwise/plan/cl"
	"barwise/shop/cutter"
)

var long = cutter.Cutter{ID: "ball", Profile: cutter.Ball(0.5), LCF: 2, LU: 6, DN: 0.9, DMM: 3, StickOut: 15, Holder: []cutter.Collar{{Z: 0, R: 5}}}

// A block 8 high at x ≥ 0: beside it the shank (1.5, from 6 up) and the holder (5, from 15 up) hold the
// tip up as far as they reach, with 0.1 of skin and 0.4 kept clear. Written out by hand.
func TestFloorBesideABlock(t *testing.T) {
	s := cl.NewSurface(sample.Box(geom.Vec3{X: 0, Y: 20, Z: -8}, geom.Vec3{X: 10, Y: 60, Z: 8}))
	v, err := See(context.Background(), s, geom.TurnDeg(0), -12, 12, 10, 70)
	if err != nil {
		t.Fatal(err)
	}
	f := v.Floor(Params{Cutter: long, Clear: 0.4, Skin: 0.1})
	at := func(x float64) float64 {
		i, j := f.Nearest(geom.Vec2{X: x, Y: 40})
		return float64(f.At(i, j))
	}
	const shank, holder = 8 + 0.5 - 6, 8 + 0.5 - 15
	for _, c := range []struct{ x, want float64 }{
		{5, shank}, {-1, shank}, {-1.9, shank}, // 1.5 + 0.5 from the wall
		{-2.5, holder}, {-5.4, holder}, // 5 + 0.5
		{-6, math.Inf(-1)},
	} {
		if got := at(c.x); math.Abs(got-c.want) > 1e-5 && got != c.want {
			t.Errorf("x = %g: floor %g, want %g", c.x, got, c.want)
		}
	}
}

// Never lower than the exact surface of the collar, never higher than that of one 0.35 mm wider.
func TestFloorErrsUpward(t *testing.T) {
	s := cl.NewSurface(sample.Box(geom.Vec3{X: -3.3, Y: 21.7, Z: -2}, geom.Vec3{X: 4.1, Y: 33.3, Z: 3.7}))
	for _, deg := range []float64{0, 90, 37} {
		turn := geom.TurnDeg(deg)
		v, err := See(context.Background(), s, turn, -14, 14, 10, 45)
		if err != nil {
			t.Fatal(err)
		}
		f := v.Floor(Params{Cutter: long, Clear: 0.3, Skin: 0.2})
		exact := func(wider float64) *field.Field {
			out := field.New(f.Grid, field.Empty)
			for _, c := range long.Collars() {
				if c.R <= long.R {
					continue
				}
				g, err := s.Field(context.Background(), turn, cutter.FlatEnd(c.R+0.5+wider), 0, f.Grid)
				if err != nil {
					t.Fatal(err)
				}
				for i, z := range g.Z {
					out.Z[i] = max(out.Z[i], z+float32(0.5-c.Z))
				}
			}
			return out
		}
		low, high := exact(0), exact(0.35)
		for i, z := range f.Z {
			if z < low.Z[i]-1e-4 || z > high.Z[i]+1e-4 {
				t.Fatalf("side %g°, node %d: floor %g, exact %g to %g", deg, i, z, low.Z[i], high.Z[i])
			}
		}
	}
}

func TestWallsHoldTheHolderUp(t *testing.T) {
	v := &View{field.New(field.Cover(-5, 5, 0, 40, pitch, pitch), field.Empty)}
	f := v.Floor(Params{Cutter: long, Clear: 0.5, Walls: []Wall{{Y: 20, Top: 14}}})
	at := func(y float64) float32 {
		i, j := f.Nearest(geom.Vec2{X: 0, Y: y})
		return f.At(i, j)
	}
	if got := at(25); math.Abs(float64(got)-(14-15+0.5)) > 1e-5 {
		t.Errorf("5 mm from the wall the tip may go to %g, want −0.5", got)
	}
	if got := at(26); got != field.Empty {
		t.Errorf("6 mm from the wall the holder of 5 mm is held up to %g", got)
	}
}

// Over a slot narrower than the cutter's middle the floor stays; over deep stock it rises.
func TestKeepOutOfDepth(t *testing.T) {
	g := field.Cover(-5, 5, 0, 10, 0.1, 0.1)
	seen := field.New(g, 0)
	for j := range g.NY {
		for i := range g.NX {
			if g.X(i) > 2 {
				seen.Row(j)[i] = 9
			}
		}
	}
	f := field.New(field.Cover(-4, 4, 1, 9, 0.2, 0.2), field.Empty)
	KeepOutOfDepth(f, seen, long, 0.3, 3)
	at := func(x float64) float32 {
		i, j := f.Nearest(geom.Vec2{X: x, Y: 5})
		return f.At(i, j)
	}
	if at(3) != 6 || at(0) != -3 {
		t.Errorf("floors %g and %g, want 6 in the deep stock and −3 beside it", at(3), at(0))
	}
	if at(1.6) != -3 {
		t.Errorf("0.4 mm from the step only the rim of 0.5 meets it, yet the floor is %g", at(1.6))
	}
}

func TestRaiseToTakesTheGreatestAround(t *testing.T) {
	floor := field.New(field.Cover(0, 4, 0, 4, 1, 1), 0)
	floor.Z[2*floor.NX+2] = 5
	target := field.New(field.Cover(0, 4, 0, 4, 0.25, 0.25), 1)
	RaiseTo(target, floor)
	i, j := target.Nearest(geom.Vec2{X: 1.75, Y: 2.25})
	if target.At(i, j) != 5 {
		t.Errorf("beside the high node the target is %g, want 5", target.At(i, j))
	}
	if target.At(0, 0) != 1 {
		t.Errorf("a floor below the target changed it to %g", target.At(0, 0))
	}
}
