package stock

import (
	"context"
	"math"
	"testing"

	"barwise/geom"
	"barwise/shop/bar"
	"barwise/shop/cutter"
)

var square = bar.Bar{Shape: bar.Square, Width: 20, Height: 20, Length: 30, Grip: 5}

var quarters = []float64{0, 90, 180, 270}

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.9g, want %.9g within %.3g", what, got, want, tol)
	}
}

// Volumes of uncut bars, closed forms: a²·L, (√3/2)·s²·L across flats s, π/4·d²·L.
func TestPlainBars(t *testing.T) {
	for _, c := range []struct {
		b    bar.Bar
		degs []float64
		want float64
	}{
		{square, quarters, 20 * 20 * 30},
		{bar.Bar{Shape: bar.Rect, Width: 20.3, Height: 11, Length: 30.07}, quarters, 20.3 * 11 * 30.07},
		{bar.Bar{Shape: bar.Hex, Width: 20, Height: 20, Length: 30}, []float64{0, 60, 120, 180, 240, 300}, math.Sqrt(3) / 2 * 400 * 30},
		{bar.Bar{Shape: bar.Round, Width: 20, Height: 20, Length: 30}, quarters, math.Pi * 100 * 30},
		{square, nil, 20 * 20 * 30},
	} {
		s := New(c.b, c.degs, 0.1)
		near(t, string(c.b.Shape)+" volume", s.Volume(), c.want, 1e-9*c.want)
		near(t, string(c.b.Shape)+" area", s.SectionAt(10).Area, c.want/c.b.Length, 1e-4)
		p := s.Pieces()
		if len(p) != 1 || !p[0].Joined {
			t.Fatalf("%s: pieces %+v, want one that is joined", c.b.Shape, p)
		}
		near(t, string(c.b.Shape)+" piece", p[0].Volume, c.want, 1e-3*c.want)
	}
}

// A straight slot by a flat end: a stadium, 2R·L + πR², times its depth.
func TestSlot(t *testing.T) {
	s := New(square, quarters, 0.05)
	before := s.Volume()
	s.Cut(0, cutter.FlatEnd(1.5), geom.Vec3{X: -5.013, Y: 12.007, Z: 8}, geom.Vec3{X: 4.02, Y: 17.03, Z: 8})
	l := math.Hypot(9.033, 5.023)
	near(t, "slot", before-s.Volume(), (3*l+math.Pi*2.25)*2, 0.1)
}

func TestSeenSquare(t *testing.T) {
	s := New(square, quarters, 0.1)
	// side 90 looks along +x of the part: take everything beyond x = 5, z within ±10
	var pts []geom.Vec3
	for x := -10.0; x <= 10; x += 1 {
		pts = append(pts, geom.Vec3{X: x, Y: 0, Z: 5.03}, geom.Vec3{X: x, Y: 30, Z: 5.03})
	}
	if err := s.CutMoves(context.Background(), 1, cutter.FlatEnd(1.5), pts); err != nil {
		t.Fatal(err)
	}
	seen := s.Seen(0)
	for i := range seen.NX {
		x := seen.X(i)
		z := seen.At(i, 100)
		if x < 5.03 && z != 10 || x > 5.09 && !math.IsInf(float64(z), -1) {
			t.Fatalf("x %g: top %g", x, z)
		}
	}
	near(t, "volume", s.Volume(), 15.03*20*30, 0.01)
	sec := s.SectionAt(10)
	near(t, "area", sec.Area, 15.03*20, 1e-4)
	near(t, "centroid", sec.Centroid.X, -10+15.03/2, 1e-6)
	near(t, "second moment about X", sec.IXX, 15.03*8000/12, 1e-2)
	near(t, "second moment about Z", sec.IZZ, 20*math.Pow(15.03, 3)/12, 1e-2)
	tt, n, ok := s.Ray(geom.Vec3{X: 50, Y: 15, Z: 1}, geom.Vec3{X: -1})
	if !ok || math.Abs(tt-44.97) > 1e-5 || n.Sub(geom.Vec3{X: 1}).Len() > 1e-9 {
		t.Errorf("ray: %v %v %v", tt, n, ok)
	}
}
