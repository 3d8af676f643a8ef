package place

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"barwise/finding"
	"barwise/geom"
	"barwise/geom/mesh/sample"
)

// The six axes by quarter and half turns about Z and X, written out.
func TestTowardOfTheAxes(t *testing.T) {
	for a, want := range map[string]Motion{
		"+y": {X: v(1, 0, 0), Y: v(0, 1, 0), Z: v(0, 0, 1)},
		"-y": {X: v(-1, 0, 0), Y: v(0, -1, 0), Z: v(0, 0, 1)},
		"+x": {X: v(0, -1, 0), Y: v(1, 0, 0), Z: v(0, 0, 1)},
		"-x": {X: v(0, 1, 0), Y: v(-1, 0, 0), Z: v(0, 0, 1)},
		"+z": {X: v(1, 0, 0), Y: v(0, 0, 1), Z: v(0, -1, 0)},
		"-z": {X: v(1, 0, 0), Y: v(0, 0, -1), Z: v(0, 1, 0)},
	} {
		for _, deg := range []float64{0, 90, 180, 270, 37} {
			sn, c := geom.TurnDeg(deg).Sin, geom.TurnDeg(deg).Cos
			turned := Motion{X: want.X.Mul(c).Add(want.Z.Mul(sn)), Y: want.Y, Z: want.X.Mul(-sn).Add(want.Z.Mul(c)), Scale: 1}
			for _, by := range []float64{1, 3, 0.1, 49, 1e300, 1e-300} {
				if got := Toward(axes[a].Mul(by), deg); !sameBits(got, turned) {
					t.Errorf("%s times %g, %g°: %+v, want %+v", a, by, deg, got, turned)
				}
			}
			minus := math.Copysign(0, -1)
			if got := Toward(axes[a].Add(v(minus, minus, minus)), deg); !sameBits(got, turned) {
				t.Errorf("%s with zeros below zero, %g°: %+v, want %+v", a, deg, got, turned)
			}
		}
	}
	if got := Toward(geom.Vec3{}, 0); !sameBits(got, Toward(v(0, 1, 0), 0)) {
		t.Errorf("the zero direction: %+v", got)
	}
}

func sameBits(a, b Motion) bool {
	for _, p := range [][2]geom.Vec3{{a.X, b.X}, {a.Y, b.Y}, {a.Z, b.Z}} {
		for _, q := range [][2]float64{{p[0].X, p[1].X}, {p[0].Y, p[1].Y}, {p[0].Z, p[1].Z}} {
			if math.Float64bits(q[0]) != math.Float64bits(q[1]) {
				return false
			}
		}
	}
	return a.Scale == b.Scale && a.Shift == b.Shift
}

func direction(r *rand.Rand) geom.Vec3 {
	for {
		d := v(2*r.Float64()-1, 2*r.Float64()-1, 2*r.Float64()-1)
		if l := d.Len(); l > 0.1 && l <= 1 {
			return d
		}
	}
}

// turned is the matrix I + sin·K + (1 − cos)·K² about the unit axis k (Rodrigues), applied to p.
func turned(k geom.Vec3, angle float64, p geom.Vec3) geom.Vec3 {
	s, c := math.Sincos(angle)
	return p.Add(k.Cross(p).Mul(s)).Add(k.Cross(k.Cross(p)).Mul(1 - c))
}

// The least rotation is by the angle between dir and +Y about the axis at right angles to both; then
// comes the turn about Y by the index angle, as Rodrigues' formula has both.
func TestTowardIsTheLeastRotation(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 3))
	for i := range 2000 {
		d := direction(r)
		switch i % 4 {
		case 1: // near −Y, where 1 + u·Y cancels
			d = v(1e-4*d.X, -1, 1e-4*d.Z)
		case 2:
			d = v(1e-7*d.X, -1, 1e-7*d.Z)
		case 3:
			d = v(1e-9*d.X, 1, 1e-9*d.Z)
		}
		deg := 360 * r.Float64()
		got := Toward(d, deg)
		u := d.Unit()
		k := u.Cross(v(0, 1, 0))
		angle := math.Atan2(k.Len(), u.Y)
		p := direction(r)
		want := turned(v(0, 1, 0), deg*math.Pi/180, turned(k.Unit(), angle, p))
		near(t, "turned", got.Apply(p).Sub(want).Len(), 0, 1e-8)
		if i%4 < 1 {
			near(t, "turned", got.Apply(p).Sub(want).Len(), 0, 1e-14)
		}
		near(t, "dir", got.Apply(u).Sub(v(0, 1, 0)).Len(), 0, 1e-15)
		near(t, "det", got.X.Cross(got.Y).Dot(got.Z), 1, 4e-15)
		for _, e := range []float64{got.X.Dot(got.Y), got.Y.Dot(got.Z), got.Z.Dot(got.X), got.X.Len() - 1, got.Y.Len() - 1, got.Z.Len() - 1} {
			near(t, "orthonormal", e, 0, 2e-15)
		}
	}
	// less than the least that is told from it: −Y
	if got := Toward(v(1e-11, -1, -3e-11), 0); !sameBits(got, Toward(v(0, -1, 0), 0)) {
		t.Errorf("nearly −Y: %+v", got)
	}
}

// A direction lays the model as the axis of that name does; of a box leaning by (3, 4, 0)/5 the corner
// that comes uppermost is at the free end.
func TestPlaceByDirection(t *testing.T) {
	m := sample.Box(v(5, 6, 7), v(7, 9, 11))
	for along, dir := range axes {
		a, err := Place(context.Background(), m, Params{Bar: square(9, 40, 10), Along: along, TurnDeg: 37, Back: 2})
		if err != nil {
			t.Fatal(err)
		}
		b, err := Place(context.Background(), m, Params{Bar: square(9, 40, 10), Along: "-z", Dir: dir.Mul(7), TurnDeg: 37, Back: 2})
		if err != nil {
			t.Fatal(err)
		}
		for i, p := range a.Mesh.Vertices {
			if b.Mesh.Vertices[i] != p {
				t.Errorf("%s: vertex %d at %v, by direction %v", along, i, p, b.Mesh.Vertices[i])
			}
		}
		near(t, "free end", a.Y1, 38, 1e-12)
	}
	p, err := Place(context.Background(), m, Params{Bar: square(9, 40, 10), Dir: v(3, 4, 0), EndAllowance: 1, Back: 2.5})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "free end", p.Y1, 36.5, 1e-12)
	near(t, "length", p.Y1-p.Y0, (2*3+3*4)/5., 1e-12)
	near(t, "across", p.Box.Size().X, (2*4+3*3)/5., 1e-12)
	near(t, "volume", p.Mesh.Health().Volume, 24, 1e-9)
	near(t, "corner", p.To.Apply(v(7, 9, 9)).Y, 36.5, 1e-12)
	if _, err := Place(context.Background(), m, Params{Bar: square(9, 40, 10), Dir: v(0, math.NaN(), 0)}); !finding.IsInput(err) {
		t.Errorf("no number for a direction: %v", err)
	}
}
