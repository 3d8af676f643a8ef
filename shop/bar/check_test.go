package bar

import (
	"math"
	"slices"
	"testing"

	"barwise/geom"
)

func TestCheck(t *testing.T) {
	for _, b := range []Bar{
		{Shape: Square, Width: 28, Height: 28, Length: 95, Grip: 22},
		{Shape: Rect, Width: 30, Height: 20, Length: 95, Grip: 22},
		{Shape: Hex, Width: 24, Height: 24, Length: 80, Grip: 20},
		{Shape: Round, Width: 25, Height: 25, Length: 80, Grip: 20, Block: Hex},
	} {
		if f := b.Check(); len(f) != 0 {
			t.Errorf("%+v: %v", b, f)
		}
	}
	ok := Bar{Shape: Square, Width: 28, Height: 28, Length: 95, Grip: 22}
	for _, c := range []struct {
		where string
		spoil func(*Bar)
	}{
		{"shape", func(b *Bar) { b.Shape = "octagonal" }},
		{"block", func(b *Bar) { b.Block = Hex }},
		{"block", func(b *Bar) { b.Shape = Round }},
		{"width", func(b *Bar) { b.Width = 0 }},
		{"width", func(b *Bar) { b.Width = math.NaN() }},
		{"height", func(b *Bar) { b.Height = 27 }},
		{"length", func(b *Bar) { b.Length = math.Inf(1) }},
		{"grip", func(b *Bar) { b.Grip = -1 }},
		{"grip", func(b *Bar) { b.Grip = 95 }},
	} {
		b := ok
		c.spoil(&b)
		f := b.Check()
		if len(f) == 0 || f[0].Where != c.where {
			t.Errorf("%+v: %v, want %s", b, f, c.where)
		}
	}
}

func TestHolds(t *testing.T) {
	hex := Bar{Shape: Hex, Width: 24, Height: 24}
	for a := 0.0; a < 360; a += 15 {
		if got, want := hex.Holds(a), math.Mod(a, 60) == 0; got != want {
			t.Errorf("hexagonal at %v: %v", a, got)
		}
	}
	round := Bar{Shape: Round, Width: 24, Height: 24, Block: Square}
	if !slices.Equal(round.Angles(), []float64{0, 90, 180, 270}) || round.AnglesText() != "0, 90, 180, 270" {
		t.Errorf("%v, %q", round.Angles(), round.AnglesText())
	}
}

// Areas in closed form: a², w·h, (√3/2)·s² across flats, π·d²/4.
func TestArea(t *testing.T) {
	for _, c := range []struct {
		b    Bar
		want float64
	}{
		{Bar{Shape: Square, Width: 28, Height: 28}, 784},
		{Bar{Shape: Rect, Width: 30, Height: 20}, 600},
		{Bar{Shape: Hex, Width: 24, Height: 24}, math.Sqrt(3) / 2 * 576},
		{Bar{Shape: Round, Width: 25, Height: 25}, math.Pi * 625 / 4},
	} {
		if got := c.b.Area(); math.Abs(got-c.want) > 1e-9 {
			t.Errorf("%s: %v, want %v", c.b.Shape, got, c.want)
		}
		// the same by columns, seen from every side that it can be held at
		c.b.Block = Square
		for _, deg := range c.b.Angles() {
			const n = 20000
			half, sum := c.b.Half(deg), 0.0
			for i := range n {
				if lo, hi, ok := c.b.Column(deg, half*(2*(float64(i)+0.5)/n-1)); ok {
					sum += (hi - lo) * 2 * half / n
				}
			}
			if math.Abs(sum-c.want) > 1e-4*c.want {
				t.Errorf("%s from %v: columns sum to %v, want %v", c.b.Shape, deg, sum, c.want)
			}
		}
	}
}

// The end view of a bar is its section: as wide as side 0°, as high as its height, its chords the
// columns of side 0° turned over; by the areas in closed form above.
func TestEndView(t *testing.T) {
	for _, b := range []Bar{
		{Shape: Square, Width: 28, Height: 28, Length: 95, Grip: 22},
		{Shape: Rect, Width: 30, Height: 20, Length: 95, Grip: 22},
		{Shape: Hex, Width: 24, Height: 24, Length: 80, Grip: 20},
		{Shape: Round, Width: 25, Height: 25, Length: 80, Grip: 20, Block: Square},
	} {
		w := b.Window(geom.EndDeg)
		if b.Top(geom.EndDeg) != b.Length || b.Below(geom.EndDeg) != 0 || b.Half(geom.EndDeg) != w.X1 || w.X0 != -w.X1 || w.Y0 != -w.Y1 {
			t.Errorf("%s: top %g, window %+v", b.Shape, b.Top(geom.EndDeg), w)
		}
		const n = 20000
		sum := 0.0
		for i := range n {
			x := w.X1 * (2*(float64(i)+0.5)/n - 1)
			lo, hi, ok := b.Chord(geom.EndDeg, x)
			if !ok || lo < w.Y0-1e-12 || hi > w.Y1+1e-12 {
				t.Fatalf("%s: chord at %g is %g to %g, window %+v", b.Shape, x, lo, hi, w)
			}
			if !b.Has(x, -lo*(1-1e-9)) || b.Has(x, -lo*1.001+0.001) || !b.Has(x, -hi*(1-1e-9)) {
				t.Fatalf("%s: the chord's end at (%g, %g) is not the section's edge", b.Shape, x, -lo)
			}
			sum += (hi - lo) * 2 * w.X1 / n
		}
		if math.Abs(sum-b.Area()) > 1e-4*b.Area() {
			t.Errorf("%s: chords sum to %g, want %g", b.Shape, sum, b.Area())
		}
		if lo, hi, ok := b.Column(geom.EndDeg, 0); lo != 0 || hi != b.Length || !ok {
			t.Errorf("%s: column %g to %g", b.Shape, lo, hi)
		}
		if l := b.Window(0); l.Y0 != 0 || l.Y1 != b.Length || l.X1 != b.Half(0) || b.Below(0) != b.Top(180) {
			t.Errorf("%s: window of side 0° %+v", b.Shape, l)
		}
	}
	// width along x', height along y'
	if w := (Bar{Shape: Rect, Width: 30, Height: 20, Length: 95}).Window(geom.EndDeg); w != (Window{-15, 15, -10, 10}) {
		t.Errorf("rectangular: %+v", w)
	}
	// 24 mm across flats at ±Z: corners at ±24/√3 along X
	w := (Bar{Shape: Hex, Width: 24, Height: 24, Length: 80}).Window(geom.EndDeg)
	if math.Abs(w.X1-24/math.Sqrt(3)) > 1e-12 || math.Abs(w.Y1-12) > 1e-12 {
		t.Errorf("hexagonal: %+v", w)
	}
}
