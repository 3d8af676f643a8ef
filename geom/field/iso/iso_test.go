package iso

import (
	"math"
	"math/rand/v2"
	"testing"

	"barwise/geom"
	"barwise/geom/field"
)

func values(g field.Grid, f func(x, y float64) float64) func(k int) float64 {
	z := make([]float64, g.Len())
	for k := range z {
		z[k] = f(g.X(k%g.NX), g.Y(k/g.NX))
	}
	return func(k int) float64 { return z[k] }
}

// Circles about the origin, from the closed form: one closed line for each radius inside, of length 2πr,
// and every point within k·p²/(8·slope) of its circle with k = 1/r, slope 1. Greater values lie on the right
// of a line: a cone that rises outward is gone round counter-clockwise.
func TestCircles(t *testing.T) {
	g := field.Cover(-5, 5, -5, 5, 0.1, 0.1)
	tr := NewTracer(g)
	tr.Lines(values(g, math.Hypot), nil, 0.4, 0.7) // it is clean after use
	got := tr.Lines(values(g, math.Hypot), nil, 1.03, 1)
	for n := range 4 {
		r := 1.03 + float64(n)
		if len(got[n]) != 1 || !got[n][0].Closed {
			t.Fatalf("radius %g: %d lines", r, len(got[n]))
		}
		l := got[n][0]
		if d := l.Length()/(2*math.Pi*r) - 1; math.Abs(d) > 0.002 {
			t.Errorf("radius %g: length off by %.2g of it", r, d)
		}
		area := 0.0
		for i, p := range l.Pts {
			if d := math.Abs(p.Len() - r); d > 0.01/8/r+1e-12 {
				t.Errorf("radius %g: a point is %g off", r, d)
			}
			area += p.Cross(l.Pts[(i+1)%len(l.Pts)]) / 2
		}
		if math.Abs(area-math.Pi*r*r) > 0.02*r {
			t.Errorf("radius %g: encloses %g, %g by the closed form, counter-clockwise with the rise on the right", r, area, math.Pi*r*r)
		}
	}
	if n := len(got[len(got)-1]); n != 4 {
		t.Errorf("in the corners %d lines, 4 by symmetry", n)
	}
}

// Lines end where cells are not used, and none is lost: a half plane halves a circle.
func TestUnusedCellsEndLines(t *testing.T) {
	g := field.Cover(-3, 3, -3, 3, 0.1, 0.1)
	got := NewTracer(g).Lines(values(g, math.Hypot), func(k int) bool { return g.X(k%g.NX) > -0.05 }, 2, 0)
	if len(got) != 1 || len(got[0]) != 1 || got[0][0].Closed {
		t.Fatalf("%d lines", len(got[0]))
	}
	if d := got[0][0].Length() - 2*math.Pi; math.Abs(d) > 0.21 {
		t.Errorf("half a circle is off by %g", d)
	}
}

// Every crossing of an edge is on one line and once: counted edge by edge on a rough field, saddles and all.
func TestEveryCrossingOnce(t *testing.T) {
	rnd := rand.New(rand.NewPCG(5, 6))
	g := field.Grid{DX: 1, DY: 1, NX: 23, NY: 31}
	z := make([]float64, g.Len())
	for k := range z {
		z[k] = rnd.Float64()
	}
	const iso = 0.5
	want := map[geom.Vec2]bool{}
	for k := range z {
		for _, o := range [2]int{1, g.NX} {
			if o == 1 && k%g.NX == g.NX-1 || o > 1 && k+o >= len(z) || z[k] >= iso == (z[k+o] >= iso) {
				continue
			}
			p := geom.Vec2{X: g.X(k % g.NX), Y: g.Y(k / g.NX)}
			if f := (iso - z[k]) / (z[k+o] - z[k]); o == 1 {
				p.X += f
			} else {
				p.Y += f
			}
			want[p] = true
		}
	}
	n := 0
	for _, l := range NewTracer(g).Lines(func(k int) float64 { return z[k] }, nil, iso, 0)[0] {
		for _, p := range l.Pts {
			if !want[p] {
				t.Fatalf("%v is no crossing, or is met twice", p)
			}
			delete(want, p)
			n++
		}
	}
	if len(want) > 0 || n == 0 {
		t.Errorf("%d crossings are on no line, %d are", len(want), n)
	}
}

// What is dropped lies within the tolerance, what is left is of the line; turned round it is the same.
func TestSimplify(t *testing.T) {
	l := Line{}
	for i := range 400 {
		x := float64(i) / 40
		l.Pts = append(l.Pts, geom.Vec2{X: x, Y: math.Sin(x)})
	}
	s := l.Simplify(0.01)
	// a sine of height 1 over 10 mm in chords of sag 0.01: no fewer than ∫√(|y''|/(8·0.01)) dx
	if n := len(s.Pts); n > 60 || n < 15 {
		t.Errorf("%d points", n)
	}
	for _, p := range l.Pts {
		d := math.Inf(1)
		for k := 1; k < len(s.Pts); k++ {
			d = min(d, OffSegment(p, s.Pts[k-1], s.Pts[k]))
		}
		if d > 0.01 {
			t.Errorf("%v is %g off", p, d)
		}
	}
	r := l.Reversed().Simplify(0.01).Reversed()
	if len(r.Pts) != len(s.Pts) {
		t.Errorf("%d points the other way round", len(r.Pts))
	}
	c := Line{Pts: []geom.Vec2{{}, {X: 1}, {X: 1, Y: 1}, {Y: 1}}, Closed: true}
	if c.Length() != 4 || len(c.Simplify(0.1).Pts) != 4 || c.From(2).Pts[0] != c.Pts[2] {
		t.Error("the square is not kept")
	}
}

// Saddles: every edge has as many crossings in as out, whichever way the corners lie.
func TestSaddles(t *testing.T) {
	rnd := rand.New(rand.NewPCG(3, 4))
	for range 50 {
		g := field.Grid{DX: 1, DY: 1, NX: 12, NY: 9}
		v := make([]float64, g.Len())
		for k := range v {
			if i, j := k%g.NX, k/g.NX; i > 0 && j > 0 && i < g.NX-1 && j < g.NY-1 {
				v[k] = rnd.Float64()
			}
		}
		signed := 0.0
		for _, ls := range NewTracer(g).Lines(func(k int) float64 { return v[k] }, nil, 0.5, 0) {
			for _, l := range ls {
				if !l.Closed {
					t.Fatal("a line inside the grid is open")
				}
				for i, p := range l.Pts {
					signed += p.Cross(l.Pts[(i+1)%len(l.Pts)]) / 2
				}
			}
		}
		// high regions run clockwise, holes in them the other way: the sum is less than nothing
		if signed >= 0 {
			t.Fatalf("signed area %g of regions that have the high side on the right", signed)
		}
	}
}

func TestSimplifyRandom(t *testing.T) {
	rnd := rand.New(rand.NewPCG(5, 6))
	for _, closed := range []bool{false, true} {
		l := Line{Closed: closed}
		for i := range 400 {
			s, c := math.Sincos(float64(i) / 400 * 2 * math.Pi)
			r := 10 + 0.01*rnd.Float64()
			l.Pts = append(l.Pts, geom.Vec2{X: r * c, Y: r * s})
		}
		m := l.Simplify(0.02)
		if len(m.Pts) > 120 || m.Pts[0] != l.Pts[0] || m.Closed != closed {
			t.Fatalf("%d points of 400", len(m.Pts))
		}
		for _, p := range l.Pts {
			d := math.Inf(1)
			for i := 1; i < len(m.Pts); i++ {
				d = min(d, OffSegment(p, m.Pts[i-1], m.Pts[i]))
			}
			if closed {
				d = min(d, OffSegment(p, m.Pts[len(m.Pts)-1], m.Pts[0]))
			}
			if d > 0.02+1e-12 {
				t.Fatalf("a point lies %g off", d)
			}
		}
	}
}
