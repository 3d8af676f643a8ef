package path

import (
	"math"
	"testing"

	"barwise/geom"
)

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.12g, want %.12g ± %g", what, got, want, tol)
	}
}

func nearVec(t *testing.T, what string, got, want geom.Vec3, tol float64) {
	t.Helper()
	if !(got.Sub(want).Len() <= tol) {
		t.Errorf("%s: got %v, want %v ± %g", what, got, want, tol)
	}
}

// Chord count of a full circle at a sagitta c: closed form n = ⌈π/acos(1 − c/R)⌉, worked for three.
func TestChordsOfACircle(t *testing.T) {
	for _, c := range []struct {
		r, sagitta float64
		want       int
	}{{5, 0.01, 50}, {10, 0.005, 100}, {3, 0.002, 87}} {
		m := Move{To: geom.Vec3{X: c.r}, Mode: ArcCCW}
		if got := m.Arc(m.To).Chords(c.sagitta); got != c.want {
			t.Errorf("R %g, sagitta %g: %d chords, want %d", c.r, c.sagitta, got, c.want)
		}
	}
}

// NISTIR 6556 §3.5.3.2 example: from (7,7) G17 G2 X10 Y16 I3 J4 Z9 is clockwise about (10,11), radius 5.
func TestArcOfTheStandardsExample(t *testing.T) {
	from := geom.Vec3{X: 7, Y: 7}
	m := Move{To: geom.Vec3{X: 10, Y: 16, Z: 9}, Centre: geom.Vec3{X: 10, Y: 11}, Mode: ArcCW}
	a := m.Arc(from)
	near(t, "radius at the start", a.R0, 5, 1e-12)
	near(t, "radius at the end", a.R1, 5, 1e-12)
	// From the direction (−3,−4) clockwise to (0,5): over −x, so less than half a turn.
	near(t, "sweep", a.Sweep, -(math.Pi/2 + math.Atan2(4, 3)), 1e-12)
	near(t, "length", m.Length(from), math.Hypot(5*a.Sweep, 9), 1e-12)
	// It passes (5,11), the leftmost point.
	b := a.Box()
	near(t, "leftmost", b.Min.X, 5, 1e-12)
	near(t, "lowest", b.Min.Y, 7, 1e-12)
	near(t, "highest", b.Max.Y, 16, 1e-12)
	near(t, "rightmost", b.Max.X, 10, 1e-12)
}

// A quarter counter-clockwise in each plane, seen from the positive end of its axis: X to Y, Z to X, Y
// to Z (right-handed axes, ISO 841; NISTIR 6556 §3.5.3).
func TestPlanesTurnTheRightWay(t *testing.T) {
	x, y, z := geom.Vec3{X: 2}, geom.Vec3{Y: 2}, geom.Vec3{Z: 2}
	for _, c := range []struct {
		p        Plane
		from, to geom.Vec3
	}{{PlaneXY, x, y}, {PlaneXZ, z, x}, {PlaneYZ, y, z}} {
		m := Move{To: c.to, Plane: c.p, Mode: ArcCCW}
		near(t, "counter-clockwise sweep", m.Arc(c.from).Sweep, math.Pi/2, 1e-12)
		mid := c.from.Add(c.to).Mul(math.Sqrt2 / 2)
		nearVec(t, "middle", m.Arc(c.from).At(0.5), mid, 1e-12)
		m.Mode = ArcCW
		near(t, "clockwise sweep", m.Arc(c.from).Sweep, -3*math.Pi/2, 1e-12)
		s, e := m.Arc(c.from).Tangents()
		nearVec(t, "tangent at the start", s, c.to.Mul(-0.5), 1e-12)
		nearVec(t, "tangent at the end", e, c.from.Mul(0.5), 1e-12)
	}
}

// Every point of a flattened helix lies within the sagitta, found by dense sampling; the ends are met
// to the bit and the chords are no longer than the helix.
func TestFlattenStaysWithinSagitta(t *testing.T) {
	from := geom.Vec3{X: 3, Y: 1, Z: -2}
	for _, c := range []struct {
		plane   Plane
		mode    Mode
		to      geom.Vec3
		centre  geom.Vec3
		sagitta float64
	}{
		{PlaneXY, ArcCCW, geom.Vec3{X: 3, Y: 1, Z: 4}, geom.Vec3{X: 0, Y: -3}, 0.01},
		{PlaneXY, ArcCW, geom.Vec3{X: -4, Y: 1, Z: 40}, geom.Vec3{X: -0.5, Y: 1}, 0.2},
		{PlaneXZ, ArcCW, geom.Vec3{X: -1, Y: 9, Z: 2}, geom.Vec3{X: -1, Z: -2}, 0.003},
		{PlaneYZ, ArcCCW, geom.Vec3{X: 5, Y: 1, Z: 4}, geom.Vec3{Y: 1, Z: 1}, 5},
	} {
		m := Move{To: c.to, Centre: c.centre, Plane: c.plane, Mode: c.mode}
		pts := Flatten([]geom.Vec3{from}, from, m, c.sagitta)
		if pts[len(pts)-1] != c.to {
			t.Errorf("the last point is %v, want %v exactly", pts[len(pts)-1], c.to)
		}
		a := m.Arc(from)
		worst, chords := 0.0, 0.0
		for i := 1; i < len(pts); i++ {
			chords += pts[i].Sub(pts[i-1]).Len()
		}
		const k = 20000
		for i := 0; i <= k; i++ {
			d := math.Inf(1)
			for j := 1; j < len(pts); j++ {
				d = min(d, toSegment(a.At(float64(i)/k), pts[j-1], pts[j]))
			}
			worst = max(worst, d)
		}
		if worst > c.sagitta+1e-9 {
			t.Errorf("plane %d: strays by %g, allowed %g", c.plane, worst, c.sagitta)
		}
		if chords > a.Length()+1e-9 {
			t.Errorf("plane %d: chords %g are longer than the helix %g", c.plane, chords, a.Length())
		}
	}
}

func toSegment(p, a, b geom.Vec3) float64 {
	d := b.Sub(a)
	t := min(1, max(0, p.Sub(a).Dot(d)/d.Dot(d)))
	return p.Sub(a.Lerp(b, t)).Len()
}

func TestFlattenStraightAndDwell(t *testing.T) {
	to := geom.Vec3{X: 1, Y: 2, Z: 3}
	if got := Flatten(nil, geom.Vec3{}, Move{To: to, Mode: Line}, 0.01); len(got) != 1 || got[0] != to {
		t.Errorf("a straight move gives %v, want its end alone", got)
	}
	if got := Flatten(nil, geom.Vec3{}, Move{To: to, Mode: Dwell}, 0.01); len(got) != 0 {
		t.Errorf("a dwell gives %v, want nothing", got)
	}
}

// An end within the last digits of the start is a full turn, whichever side of it the digits fall; ends
// apart by their radii alone leave the turn open.
func TestFullCircleAndUndecided(t *testing.T) {
	from := geom.Vec3{X: 5}
	for _, y := range []float64{0, 1e-13, -1e-13} {
		m := Move{To: geom.Vec3{X: 5, Y: y}, Mode: ArcCW}
		near(t, "sweep", m.Arc(from).Sweep, -2*math.Pi, 0)
		if m.Arc(from).Undecided(1e-6) {
			t.Errorf("a full circle is held undecided at %g", y)
		}
	}
	if m := (Move{To: geom.Vec3{X: 5.001}, Mode: ArcCW}); !m.Arc(from).Undecided(1e-6) {
		t.Error("ends apart in one direction are not held undecided")
	}
	if m := (Move{To: geom.Vec3{Y: 5}, Mode: ArcCW}); m.Arc(from).Undecided(1e-6) {
		t.Error("three quarters of a turn are held undecided")
	}
}
