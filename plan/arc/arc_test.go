package arc

import (
	"math"
	"math/rand"
	"testing"

	"barwise/geom"
	"barwise/path"
)

func lines(pts []geom.Vec3, feed float64) []path.Move {
	var out []path.Move
	for _, p := range pts {
		out = append(out, path.Move{To: p, Feed: feed, Mode: path.Line})
	}
	return out
}

func circlePoints(c geom.Vec2, r, from, to, rise float64, n int) []geom.Vec3 {
	var out []geom.Vec3
	for k := 0; k <= n; k++ {
		t := float64(k) / float64(n)
		s, co := math.Sincos(from + (to-from)*t)
		out = append(out, geom.Vec3{X: c.X + r*co, Y: c.Y + r*s, Z: rise * t})
	}
	return out
}

// A cut circle comes back as itself: centre, sense, length (2πr·part, and the helix √(l²+rise²)).
func TestCircleComesBack(t *testing.T) {
	for _, c := range []struct{ r, from, to, rise float64 }{{2, 0, 3, 0}, {5, 1, -2, 0}, {0.7, 0, 5.5, -1}, {40, 0.2, 0.9, 0}} {
		pts := circlePoints(geom.Vec2{X: 3, Y: -1}, c.r, c.from, c.to, c.rise, 90)
		got := Fit(pts[0], lines(pts[1:], 10), Params{Tolerance: 0.01})
		if len(got) != 1 || !got[0].IsArc() || got[0].To != pts[90] || got[0].Feed != 10 {
			t.Fatalf("radius %g: %d moves", c.r, len(got))
		}
		a := got[0].Arc(pts[0])
		if d := a.Centre.XY().Sub(geom.Vec2{X: 3, Y: -1}).Len(); d > 1e-9 || math.Abs(a.Sweep-(c.to-c.from)) > 1e-9 {
			t.Errorf("radius %g: centre off by %g, sweep %g, want %g", c.r, d, a.Sweep, c.to-c.from)
		}
		if want := math.Hypot(c.r*(c.to-c.from), c.rise); math.Abs(a.Length()-want) > 1e-9 {
			t.Errorf("radius %g: length %g, want %g", c.r, a.Length(), want)
		}
	}
}

// Whatever the moves, what comes out stays within the tolerance of what went in and the other way round,
// both found by dense sampling, in the same order and with the same ends.
func TestStaysWithinTolerance(t *testing.T) {
	r := rand.New(rand.NewSource(3))
	const tol = 0.01
	arcs := 0
	for range 60 {
		start := geom.Vec3{X: r.Float64(), Y: r.Float64()}
		at, dir, bend := start, r.Float64()*6, 0.0
		var moves []path.Move
		for range 120 {
			if r.Intn(12) == 0 {
				bend = r.NormFloat64()
			}
			if r.Intn(30) == 0 {
				dir += 2 * r.Float64()
			}
			step := 0.02 + 0.1*r.Float64()
			dir += bend * step
			s, c := math.Sincos(dir)
			at = at.Add(geom.Vec3{X: step * c, Y: step * s})
			m := path.Move{To: at, Feed: 10, Mode: path.Line}
			switch r.Intn(40) {
			case 0:
				m.Mode = path.Rapid
			case 1:
				m.Feed = 5
			}
			moves = append(moves, m)
		}
		got := Fit(start, moves, Params{Tolerance: tol})
		was, is := []geom.Vec3{start}, []geom.Vec3{start}
		for _, m := range moves {
			was = path.Flatten(was, was[len(was)-1], m, 1e-5)
		}
		for _, m := range got {
			if m.IsArc() {
				arcs++
			}
			is = path.Flatten(is, is[len(is)-1], m, 1e-5)
		}
		if is[len(is)-1] != was[len(was)-1] {
			t.Fatal("the end has moved")
		}
		for _, pair := range [2][2][]geom.Vec3{{was, is}, {is, was}} {
			for i := 1; i < len(pair[0]); i++ {
				q, d := pair[0][i-1].Lerp(pair[0][i], 0.5), math.Inf(1)
				for k := 1; k < len(pair[1]); k++ {
					d = min(d, toSegment(q, pair[1][k-1], pair[1][k]))
				}
				if d > tol+2e-5 {
					t.Fatalf("%v is %g mm off, allowed is %g", q, d, tol)
				}
			}
		}
	}
	if arcs < 100 {
		t.Errorf("only %d arcs: the test says little", arcs)
	}
}

func toSegment(p, a, b geom.Vec3) float64 {
	d := b.Sub(a)
	l := d.Dot(d)
	if l == 0 {
		return p.Sub(a).Len()
	}
	return p.Sub(a.Lerp(b, min(1, max(0, p.Sub(a).Dot(d)/l)))).Len()
}

// Straight lines, corners, rapids and dwells stay as they are.
func TestNothingRoundNothingDone(t *testing.T) {
	moves := lines([]geom.Vec3{{X: 1}, {X: 2}, {X: 3}, {X: 4}, {X: 4, Y: 3}, {X: 4, Y: 3, Z: 5}}, 8)
	moves = append(moves, path.Move{Mode: path.Dwell, Seconds: 1}, path.Move{To: geom.Vec3{}, Mode: path.Rapid})
	got := Fit(geom.Vec3{}, moves, Params{Tolerance: 0.01})
	if len(got) != len(moves) {
		t.Fatalf("%d moves, want %d", len(got), len(moves))
	}
	for i := range got {
		if got[i] != moves[i] {
			t.Errorf("move %d is %+v, was %+v", i, got[i], moves[i])
		}
	}
}

// Mirrored moves give mirrored arcs of the other sense.
func TestMirror(t *testing.T) {
	pts := circlePoints(geom.Vec2{}, 3, 0.3, 2, 0, 30)
	a := Fit(pts[0], lines(pts[1:], 1), Params{Tolerance: 0.01})
	for i := range pts {
		pts[i].X = -pts[i].X
	}
	b := Fit(pts[0], lines(pts[1:], 1), Params{Tolerance: 0.01})
	if len(a) != 1 || len(b) != 1 || a[0].Mode != path.ArcCCW || b[0].Mode != path.ArcCW || math.Abs(a[0].Centre.X+b[0].Centre.X) > 1e-12 {
		t.Errorf("%+v against %+v", a, b)
	}
}
