package geom

import (
	"math"
	"testing"
)

// A flag on a pole has no symmetry: pole along Y, flag toward +X, a knob toward +Z. What faces the
// spindle at each index angle is written out from docs/frames.md by hand.
func TestTurnOfAFlag(t *testing.T) {
	flag, knob := Vec3{3, 5, 0}, Vec3{0, 7, 2}
	for _, c := range []struct {
		deg        float64
		flag, knob Vec3
	}{
		{0, Vec3{3, 5, 0}, Vec3{0, 7, 2}},
		{90, Vec3{0, 5, 3}, Vec3{-2, 7, 0}}, // +X is up, +Z has gone to −X
		{180, Vec3{-3, 5, 0}, Vec3{0, 7, -2}},
		{270, Vec3{0, 5, -3}, Vec3{2, 7, 0}},
		{EndDeg, Vec3{3, 0, 5}, Vec3{0, -2, 7}}, // the free end is up, +Z has gone to −Y
	} {
		turn := TurnDeg(c.deg)
		if got := turn.ToSide(flag); got != c.flag {
			t.Errorf("side %g°: flag at %v, want %v", c.deg, got, c.flag)
		}
		if got := turn.ToSide(knob); got != c.knob {
			t.Errorf("side %g°: knob at %v, want %v", c.deg, got, c.knob)
		}
		if up := turn.ToSide(turn.Facing()); up.Sub(Vec3{0, 0, 1}).Len() > 1e-15 {
			t.Errorf("side %g°: its facing direction comes to %v, want +Z", c.deg, up)
		}
	}
}

func TestTurnLaws(t *testing.T) {
	p, q := Vec3{1.25, -2, 0.75}, Vec3{-3, 0.5, 8}
	for deg := -720.0; deg <= 720; deg += 7.5 {
		turn := TurnDeg(deg)
		if d := turn.ToPart(turn.ToSide(p)).Sub(p).Len(); d > 1e-14 {
			t.Fatalf("%g°: there and back moves a point by %g", deg, d)
		}
		// rigid: lengths and handedness stay
		if d := turn.ToSide(p).Sub(turn.ToSide(q)).Len() - p.Sub(q).Len(); math.Abs(d) > 1e-13 {
			t.Fatalf("%g°: a length changes by %g", deg, d)
		}
		a, b := turn.ToSide(p).Cross(turn.ToSide(q)), turn.ToSide(p.Cross(q))
		if a.Sub(b).Len() > 1e-12 {
			t.Fatalf("%g°: the turn mirrors: %v, %v", deg, a, b)
		}
		if TurnDeg(deg+360) != turn {
			t.Fatalf("%g° and %g° differ", deg, deg+360)
		}
	}
}

// The end side is a rigid turn of determinant 1 that is its own kind: about X, not about Y, and no index
// angle names it.
func TestEndSide(t *testing.T) {
	end := TurnDeg(EndDeg)
	if !IsEnd(EndDeg) || !end.End || end.Facing() != (Vec3{0, 1, 0}) {
		t.Fatalf("the end side is %+v", end)
	}
	for deg := -720.0; deg <= 1080; deg++ {
		if IsEnd(deg) || TurnDeg(deg).End {
			t.Fatalf("%g° is taken for the end side", deg)
		}
	}
	p, q := Vec3{1.25, -2, 0.75}, Vec3{-3, 0.5, 8}
	if end.ToPart(end.ToSide(p)) != p || end.ToSide(end.ToPart(q)) != q {
		t.Error("there and back moves a point")
	}
	if a, b := end.ToSide(p).Cross(end.ToSide(q)), end.ToSide(p.Cross(q)); a != b {
		t.Errorf("the turn mirrors: %v, %v", a, b)
	}
	// a turn about X by +90°, its matrix written out from the closed form (1 0 0; 0 cos −sin; 0 sin cos)
	for _, c := range [][2]Vec3{{{1, 0, 0}, {1, 0, 0}}, {{0, 1, 0}, {0, 0, 1}}, {{0, 0, 1}, {0, -1, 0}}} {
		if got := end.ToSide(c[0]); got != c[1] {
			t.Errorf("axis %v comes to %v, want %v", c[0], got, c[1])
		}
	}
	for deg, want := range map[float64]string{EndDeg: "end", 90: "90°", 0: "0°", 22.5: "22.5°"} {
		if got := SideName(deg); got != want {
			t.Errorf("side %g is called %q, want %q", deg, got, want)
		}
	}
}

// What looks from below has x and z reversed, for every side and the end.
func TestOpposite(t *testing.T) {
	p := Vec3{1.25, -2, 0.75}
	for _, deg := range []float64{0, 90, 180, 270, 33, EndDeg} {
		turn := TurnDeg(deg)
		a, b := turn.ToSide(p), turn.Opposite().ToSide(p)
		if b != (Vec3{-a.X, a.Y, -a.Z}) || turn.Opposite().ToPart(b).Sub(p).Len() > 1e-15 || turn.Opposite().Facing() != turn.Facing().Mul(-1) {
			t.Errorf("side %s: %v from above, %v from below", SideName(deg), a, b)
		}
	}
}

func TestBoxes(t *testing.T) {
	b := EmptyBox()
	if !b.Empty() {
		t.Fatal("the empty box holds something")
	}
	b = b.Grow(Vec3{1, 2, 3}).Union(EmptyBox().Grow(Vec3{-1, 5, 0}))
	if b.Min != (Vec3{-1, 2, 0}) || b.Max != (Vec3{1, 5, 3}) || b.Centre() != (Vec3{0, 3.5, 1.5}) {
		t.Errorf("box %v", b)
	}
	if (Vec3{0, math.NaN(), 0}).Finite() || (Vec3{math.Inf(1), 0, 0}).Finite() || !b.Max.Finite() {
		t.Error("Finite does not tell numbers from others")
	}
}
