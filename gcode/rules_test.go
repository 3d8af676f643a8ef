package gcode

import (
	"errors"
	"math"
	"strings"
	"testing"

	"barwise/finding"
	"barwise/geom"
	"barwise/path"
)

// The § in this file are those of NISTIR 6556 (Kramer, Proctor, Messina, The NIST RS274NGC
// Interpreter, version 3, 2000).

func at(x, y, z float64) *geom.Vec3 { return &geom.Vec3{X: x, Y: y, Z: z} }

// bare reads lines from the origin, in millimetres, with a feed of 60 mm/min set.
func bare(o ReadParams, lines ...string) (*Text, error) {
	o.Bare = true
	if o.Start == nil {
		o.Start = at(0, 0, 0)
	}
	return Read("a.nc", strings.NewReader("g21\ng94 f60\n"+strings.Join(lines, "\n")+"\nm2\n"), o)
}

func ok(t *testing.T, lines ...string) *Text {
	t.Helper()
	return okFrom(t, nil, lines...)
}

func okFrom(t *testing.T, from *geom.Vec3, lines ...string) *Text {
	t.Helper()
	x, err := bare(ReadParams{Start: from}, lines...)
	if err != nil {
		t.Fatalf("%q: %v", lines, err)
	}
	return x
}

// refused wants an error of the code that names where, and every word of the rest.
func refused(t *testing.T, err error, code, where string, words ...string) {
	t.Helper()
	var e *finding.InputError
	if !errors.As(err, &e) {
		t.Errorf("got %v, want an input error %s", err, code)
		return
	}
	if e.Code != code || e.Where != where {
		t.Errorf("got %s at %s (%v), want %s at %s", e.Code, e.Where, e, code, where)
	}
	for _, w := range words {
		if !strings.Contains(e.Error(), w) {
			t.Errorf("%q does not name %q", e.Error(), w)
		}
	}
	if e.Hint == "" {
		t.Errorf("%q does not say what to do", e.Error())
	}
}

// bad wants the last of the lines refused at col.
func bad(t *testing.T, code string, col int, word string, lines ...string) {
	t.Helper()
	_, err := bare(ReadParams{}, lines...)
	refused(t, err, "program-"+code, where(2+len(lines), col), word)
}

func where(line, col int) string { return "a.nc:" + itoa(line) + ":" + itoa(col) }

func itoa(n int) string { return string(appendUint(nil, uint64(n))) }

func ends(t *testing.T, x *Text, want ...geom.Vec3) {
	t.Helper()
	if len(x.Moves) != len(want) {
		t.Fatalf("%d moves, want %d: %+v", len(x.Moves), len(want), x.Moves)
	}
	for i, m := range x.Moves {
		if m.To.Sub(want[i]).Len() > 1e-9 {
			t.Errorf("move %d ends at %v, want %v", i, m.To, want[i])
		}
	}
}

// §3.3: a line has at most 256 characters.
func TestLineLength(t *testing.T) {
	long := "g0x1(" + strings.Repeat("a", 250) + ")"
	ok(t, long)
	bad(t, "line", 257, "256", long+" ")
	bad(t, "line", 257, "256", "("+strings.Repeat("a", 1<<17)+")")
}

// §3.3: optional slash, optional line number, then the words; what is not allowed is an error.
func TestOrderOfALine(t *testing.T) {
	ends(t, ok(t, "/N10 G0 X1", "/G0 Y2", "N20 G0 Z3"), geom.Vec3{X: 1}, geom.Vec3{X: 1, Y: 2}, geom.Vec3{X: 1, Y: 2, Z: 3})
	bad(t, "word", 4, "n10", "g0 n10 x1")
	bad(t, "word", 5, "slash", "N10 / g0 x1")
	bad(t, "word", 7, "';'", "g0 x1 ; over")
	bad(t, "word", 4, "'#'", "g0 #1=2")
	bad(t, "number", 4, "x[", "g0 x[1+2]")
	x, err := bare(ReadParams{SkipSlashed: true}, "/g0 x1 (side 5 deg)", "g0 y2")
	if err != nil {
		t.Fatal(err)
	}
	ends(t, x, geom.Vec3{Y: 2})
	if x.Slashed != 1 || x.SideDeg != 0 {
		t.Errorf("%d slashed lines, side %g: want 1 and 0", x.Slashed, x.SideDeg)
	}
}

// §3.3: `g0x +0. 12 34y 7` is `g0 x+0.1234 y7`.
func TestBlanksAndCase(t *testing.T) {
	want := geom.Vec3{X: 0.1234, Y: 7}
	ends(t, ok(t, "g0x +0. 12 34y 7"), want)
	ends(t, ok(t, "G0 X0.1234 Y7"), want)
	ends(t, ok(t, "\tg 0\tX.1 234Y\t7  "), want)
}

// §3.3.1: N has at most five digits; gaps, repeats and any order.
func TestLineNumbers(t *testing.T) {
	ends(t, ok(t, "n99999 g0 x1", "n3x2", "n3x3", "N 0 0 x4"), geom.Vec3{X: 1}, geom.Vec3{X: 2}, geom.Vec3{X: 3}, geom.Vec3{X: 4})
	bad(t, "word", 1, "n123456", "n123456 g0 x1")
	bad(t, "word", 1, "n", "n1.5 g0 x1")
	bad(t, "word", 1, "n", "n-1 g0 x1")
}

// §3.3.2.1: an optional sign, digits, at most one point, at least one digit, no exponent.
func TestNumbers(t *testing.T) {
	for s, want := range map[string]float64{
		"1": 1, "+1": 1, "-1": -1, "1.": 1, ".5": 0.5, "-.5": -0.5, "+0.25": 0.25, "007": 7, "0": 0, "-0": 0,
		"0.1": 0.1, "123.456": 123.456, "0.000000000000000001": 1e-18,
		"3.14159265358979323846264338327950288": math.Pi, "1" + strings.Repeat("0", 5) + "." + strings.Repeat("0", 200): 1e5,
	} {
		x := ok(t, "g0 x"+s)
		if x.Moves[0].To.X != want {
			t.Errorf("%q is read as %.17g, want %.17g to the last digit", s, x.Moves[0].To.X, want)
		}
	}
	for s, word := range map[string]string{"": "x", ".": "x.", "-": "x-", "+-1": "x+", "1.2.3": "x1.2.", "e5": "x", "--1": "x-"} {
		bad(t, "number", 4, word, "g0 x"+s)
	}
	bad(t, "word", 6, "e5", "g0 x1e5")
	bad(t, "number", 4, "x1000000.5", "g0 x1000000.5")
}

// §3.3.4: comments in parentheses, not one in another, closed on their line.
func TestComments(t *testing.T) {
	ends(t, ok(t, "(a) g0 (b; # % / [x]) x1 (c)", "()", "( )"), geom.Vec3{X: 1})
	bad(t, "comment", 9, "within", "g0 x1 (a(b))")
	bad(t, "comment", 7, "not closed", "g0 x1 (a")
	bad(t, "word", 7, "')'", "g0 x1 )")
	bad(t, "number", 4, "x", "g0 x(a)1")
}

// §3.3.5: two G words of one group, five M words, two M words of one group, a letter twice: errors.
func TestRepeats(t *testing.T) {
	for _, pair := range []string{"g0 g1", "g17 g18", "g90 g91", "g93 g94", "g20 g21", "g98 g99", "g54 g55", "g61 g64", "g4 g53", "g1 g80", "g81 g1", "m3 m5", "m7 m9", "m7 m8", "m48 m49", "m0 m30"} {
		bad(t, "group", strings.Index(pair, " ")+2, pair[strings.Index(pair, " ")+1:], pair)
	}
	bad(t, "word", 13, "m48", "m0 m3 m7 m6 m48 t1")
	for _, c := range []string{"x1", "f1", "s1", "t1", "p1"} {
		bad(t, "word", 4, c, c+" "+c)
	}
	x := ok(t, "g17 g21 g40 g49 g54 g61 g80 g90 g94 g98", "g61.1", "g64", "m7", "m8")
	if len(x.Events) != 2 || x.Events[0].Kind != Mist || x.Events[1].Kind != Flood {
		t.Errorf("events %v, want mist with flood (both may be on)", x.Events)
	}
}

// §3.3.6: the order of the words does not count.
func TestOrderOfWords(t *testing.T) {
	a, b := ok(t, "g1 x1 y2 f120"), ok(t, "y2 f120 x1 g1")
	if a.Moves[0] != b.Moves[0] || a.Moves[0].Feed != 2 {
		t.Errorf("got %+v and %+v, want the same at 2 mm/s", a.Moves[0], b.Moves[0])
	}
}

// §3.1: a file needs M2 or M30, or percent signs at its start and end; nothing after is read.
func TestEnds(t *testing.T) {
	read := func(s string) (*Text, error) {
		return Read("a.nc", strings.NewReader(s), ReadParams{Bare: true, Start: at(0, 0, 0)})
	}
	for s, end := range map[string]string{
		"g21\ng0 x1\nm2": "m2", "g21\ng0 x1\nm30\n": "m30", "g21\r\ng0 x1\r\nm30\r\n": "m30",
		"g21\ng0x1m2\nthis is not read": "m2", "%\ng21\ng0 x1\n%\nnor is this": "%", "\n \n % \ng21\ng0 x1\nm2\nnor this\n%": "m2",
	} {
		x, err := read(s)
		if err != nil {
			t.Errorf("%q: %v", s, err)
			continue
		}
		ends(t, x, geom.Vec3{X: 1})
		if x.End != end {
			t.Errorf("%q ends by %q, want %q", s, x.End, end)
		}
	}
	for s, code := range map[string]string{
		"": "end", "g21\ng0 x1\n": "end", "g21\ng0 x1": "end", "%\ng21\ng0 x1\n": "end", "%\ng21\ng0 x1\nm2\n": "end",
		"g21\ng0 x1\n%\n": "percent", "g21\n%\ng0 x1\n%\nm2": "percent", "g21\ng0 x1 %\nm2": "word", "g21\ng0 x1\nm3": "end",
	} {
		_, err := read(s)
		var e *finding.InputError
		if !errors.As(err, &e) || e.Code != "program-"+code {
			t.Errorf("%q: got %v, want program-%s", s, err, code)
		}
	}
	_, err := read("g21\ng0 x1\ng1 x")
	refused(t, err, "program-number", "a.nc:3:4", "breaks off")
}

// §3.5.1–2: G0 and G1 without an axis word: error.
func TestMotionWithoutAxis(t *testing.T) {
	bad(t, "motion", 1, "G0", "g0")
	bad(t, "motion", 1, "G1", "g1 f100")
	ok(t, "g80")
	ok(t, "g0 x1", "f100")
}

// §3.5.3.1: arcs by radius.
func TestArcsByRadius(t *testing.T) {
	bad(t, "arc", 8, "G17", "g17 g2 z1 r5")
	bad(t, "arc", 10, "begins", "g2 x0 y0 r5")
	bad(t, "arc", 8, "4.9000", "g2 x10 r4.9")
	bad(t, "arc", 11, "centre and a radius", "g2 x10 r6 i1")
	// From (0,0) to (6,0) with R5 the centre lies 4 off the middle of the way (3-4-5).
	for _, c := range []struct {
		words          string
		centre         geom.Vec3
		less, positive bool
	}{
		{"g2 x6 r5", geom.Vec3{X: 3, Y: -4}, true, false},
		{"g3 x6 r5", geom.Vec3{X: 3, Y: 4}, true, true},
		{"g2 x6 r-5", geom.Vec3{X: 3, Y: 4}, false, false},
		{"g3 x6 r-5", geom.Vec3{X: 3, Y: -4}, false, true},
	} {
		m := ok(t, c.words).Moves[0]
		a := m.Arc(geom.Vec3{})
		if m.Centre.Sub(c.centre).Len() > 1e-12 || math.Abs(a.Sweep) <= math.Pi != c.less || a.Sweep > 0 != c.positive {
			t.Errorf("%s: centre %v, sweep %g; want centre %v, at most half a turn %v, counter-clockwise %v", c.words, m.Centre, a.Sweep, c.centre, c.less, c.positive)
		}
	}
	if a := ok(t, "g3 x10 r5").Moves[0].Arc(geom.Vec3{}); math.Abs(a.Sweep-math.Pi) > 1e-9 {
		t.Errorf("half a turn sweeps %g", a.Sweep)
	}
}

// §3.5.3.2: the two radii may differ by at most 0.002 mm, 0.0002 in.
func TestRadiusRule(t *testing.T) {
	ok(t, "g2 x10 y0.002 i5 j0")                        // radii 5 and √(25+0.002²)
	ok(t, "g2 x10.002 y0 i5 j0")                        // 0.002 apart
	bad(t, "arc", 16, "5.0030", "g2 x10.003 y0  i5 j0") // 0.003 apart
	ok(t, "g20", "g2 x1.0002 y0 i0.5 j0 f1")
	bad(t, "arc", 14, "0.00508", "g20", "g2 x1.0003 y0i0.5 j0 f1")
	bad(t, "arc", 7, "zero", "g2 x0 i0")
}

// §3.5.3.2: a plane's axis word and an offset word are needed; an end at the start is a full circle.
func TestArcsByCentre(t *testing.T) {
	bad(t, "motion", 1, "G2", "g2 i5")
	bad(t, "arc", 4, "XY", "g2 z5 i5")
	bad(t, "arc", 4, "neither", "g2 x5")
	bad(t, "arc", 7, "K", "g2 x5 k2")
	bad(t, "arc", 11, "J", "g18 g2 x5 j2")
	bad(t, "arc", 11, "I", "g19 g2 y5 i2")
	if a := ok(t, "g2 x0 i5").Moves[0].Arc(geom.Vec3{}); a.Sweep != -2*math.Pi {
		t.Errorf("a full circle sweeps %g, want −2π", a.Sweep)
	}
	// Not in the standard: ends apart by their radii alone leave open whether to turn.
	bad(t, "arc", 11, "full turn or none", "g2 x0.001 i5")
}

// §3.5.3: offsets are from the start, whatever the distance mode; clockwise is seen from the positive
// end of the plane's axis.
func TestPlanes(t *testing.T) {
	for _, c := range []struct {
		words  string
		plane  path.Plane
		to     geom.Vec3
		centre geom.Vec3
	}{
		// A quarter counter-clockwise about the start's neighbour: X to Y, Z to X, Y to Z.
		{"g17 g3 x-2 y2 i-2", path.PlaneXY, geom.Vec3{X: -1, Y: 3, Z: 1}, geom.Vec3{X: -1, Y: 1, Z: 1}},
		{"g18 g3 x2 z-2 k-2", path.PlaneXZ, geom.Vec3{X: 3, Y: 1, Z: -1}, geom.Vec3{X: 1, Y: 1, Z: -1}},
		{"g19 g3 y-2 z2 j-2", path.PlaneYZ, geom.Vec3{X: 1, Y: -1, Z: 3}, geom.Vec3{X: 1, Y: -1, Z: 1}},
	} {
		from := at(1, 1, 1)
		m := okFrom(t, from, "g91", c.words).Moves[0]
		if m.To != c.to || m.Centre != c.centre || m.Plane != c.plane || m.Mode != path.ArcCCW {
			t.Errorf("%s: %+v, want to %v about %v", c.words, m, c.to, c.centre)
		}
		if s := m.Arc(*from).Sweep; math.Abs(s-math.Pi/2) > 1e-12 {
			t.Errorf("%s: sweeps %g, want a quarter", c.words, s)
		}
	}
}

// §3.5.3.2: from (7,7) `G17 G2 x10 y16 i3 j4 z9` is about (10,11) with radius 5. §2.1.2.6: the feed is
// along the helix, so that under G93 F2 it takes half a minute for the helix's length.
func TestStandardsArc(t *testing.T) {
	from := at(7, 7, 0)
	m := okFrom(t, from, "G17 G2 x10 y16 i3 j4 z9").Moves[0]
	a := m.Arc(*from)
	if m.Centre.XY() != (geom.Vec2{X: 10, Y: 11}) || a.R0 != 5 || a.R1 != 5 || m.To != (geom.Vec3{X: 10, Y: 16, Z: 9}) {
		t.Errorf("centre %v, radii %g %g, to %v", m.Centre, a.R0, a.R1, m.To)
	}
	m = okFrom(t, from, "g93 G17 G2 x10 y16 i3 j4 z9 f2").Moves[0]
	want := math.Hypot(5*(math.Pi/2+math.Atan2(4, 3)), 9) / 30
	if math.Abs(m.Feed-want) > 1e-12 {
		t.Errorf("feed %g mm/s, want %g", m.Feed, want)
	}
}

// §3.5.4: G4 P is in seconds; negative: error.
func TestDwell(t *testing.T) {
	m := ok(t, "g0 x1", "g4 p2.5").Moves[1]
	if m.Mode != path.Dwell || m.Seconds != 2.5 || m.To.X != 1 {
		t.Errorf("got %+v, want 2.5 s where the tip is", m)
	}
	bad(t, "dwell", 4, "-1", "g4 p-1")
	bad(t, "dwell", 1, "without P", "g4")
	bad(t, "word", 5, "P", "g64 p0.01")
}

// §3.5.12: G53 is for its line only and needs G0 or G1 in force.
func TestMachineCoordinates(t *testing.T) {
	o := ReadParams{MachineZero: at(-100, -50, 20)}
	x, err := bare(o, "g0 z5", "g53 g0 z0", "x1", "g1 x2", "g53 y-1")
	if err != nil {
		t.Fatal(err)
	}
	ends(t, x, geom.Vec3{Z: 5}, geom.Vec3{Z: 20}, geom.Vec3{X: 1, Z: 20}, geom.Vec3{X: 2, Z: 20}, geom.Vec3{X: 2, Y: -51, Z: 20})
	_, err = bare(o, "g53 g2 x1 i5")
	refused(t, err, "program-motion", where(3, 1), "G53")
	_, err = bare(o, "g91", "g53 g0 x1")
	refused(t, err, "program-motion", where(4, 1), "incremental")
	bad(t, "motion", 5, "coordinate", "g53 x1")
	bad(t, "motion", 1, "G53", "g53 g0")
	bad(t, "offsets", 1, "not known", "g53 g0 x1")
}

// G54 to G59 (§3.5.13): the tip stays, its coordinates change.
func TestCoordinateSystems(t *testing.T) {
	x, err := bare(ReadParams{Offsets: map[int]geom.Vec3{56: {X: 10, Y: 20, Z: 30}}}, "g0 x1", "g56 g0 y2", "g91 x1", "g90 g54 x0")
	if err != nil {
		t.Fatal(err)
	}
	ends(t, x, geom.Vec3{X: 1}, geom.Vec3{X: 1, Y: 22}, geom.Vec3{X: 2, Y: 22}, geom.Vec3{Y: 22})
	bad(t, "offsets", 1, "G55", "g55")
}

// §3.5.15: G80 in force and axis words: error.
func TestG80(t *testing.T) {
	bad(t, "motion", 1, "no motion", "x1")
	bad(t, "motion", 5, "no motion", "g80 x1")
	bad(t, "motion", 1, "no motion", "g0 x1", "g80", "y1")
}

// §3.5.16.2, first example: from (1,2,3) `G90 G81 G98 X4 Y5 Z1.5 R2.8`.
func TestDrillAbsolute(t *testing.T) {
	x := okFrom(t, at(1, 2, 3), "G90 G81 G98 X4 Y5 Z1.5 R2.8")
	ends(t, x, geom.Vec3{X: 4, Y: 5, Z: 3}, geom.Vec3{X: 4, Y: 5, Z: 2.8}, geom.Vec3{X: 4, Y: 5, Z: 1.5}, geom.Vec3{X: 4, Y: 5, Z: 3})
	for i, want := range []path.Mode{path.Rapid, path.Rapid, path.Line, path.Rapid} {
		if x.Moves[i].Mode != want {
			t.Errorf("move %d is of kind %d, want %d", i, x.Moves[i].Mode, want)
		}
	}
	x = okFrom(t, at(1, 2, 3), "G99 G81 X4 Z1.5 R2.8", "X5")
	ends(t, x, geom.Vec3{X: 4, Y: 2, Z: 3}, geom.Vec3{X: 4, Y: 2, Z: 2.8}, geom.Vec3{X: 4, Y: 2, Z: 1.5}, geom.Vec3{X: 4, Y: 2, Z: 2.8},
		geom.Vec3{X: 5, Y: 2, Z: 2.8}, geom.Vec3{X: 5, Y: 2, Z: 1.5}, geom.Vec3{X: 5, Y: 2, Z: 2.8})
}

// §3.5.16.2, second example: from (1,2,3) `G91 G81 G98 X4 Y5 Z-0.6 R1.8 L3`.
func TestDrillIncremental(t *testing.T) {
	x := okFrom(t, at(1, 2, 3), "G91 G81 G98 X4 Y5 Z-0.6 R1.8 L3")
	want := []geom.Vec3{{X: 1, Y: 2, Z: 4.8}}
	for _, p := range []geom.Vec3{{X: 5, Y: 7}, {X: 9, Y: 12}, {X: 13, Y: 17}} {
		for _, z := range []float64{4.8, 4.2, 4.8} {
			want = append(want, geom.Vec3{X: p.X, Y: p.Y, Z: z})
		}
	}
	ends(t, x, want...)
}

// §3.5.16: what a canned cycle may not do.
func TestDrillRefused(t *testing.T) {
	bad(t, "cycle", 9, "without Z", "g81 g98 x1 r1")
	bad(t, "cycle", 9, "without R", "g81 g98 x1 z1")
	bad(t, "cycle", 5, "G98", "g81 x1 z-1 r1")
	bad(t, "cycle", 9, "below", "g81 g98 x1 z1 r0.5")
	bad(t, "cycle", 18, "L0", "g81 g98 x1 z0 r1 l0")
	bad(t, "cycle", 18, "L1.5", "g81 g98 x1 z0 r1 l1.5")
	bad(t, "cycle", 9, "G93", "g93", "g81 g98 x1 z0 r1 f1")
	bad(t, "cycle", 9, "G17", "g18", "g81 g98 x1 z0 r1")
	bad(t, "motion", 1, "G81", "g81 g98 z1 r1", "g81")
	bad(t, "word", 7, "L", "g0 x1 l2")
	bad(t, "word", 7, "R", "g1 x1 r2")
	bad(t, "word", 7, "I", "g1 x1 i2")
	bad(t, "word", 1, "J", "j2")
	bad(t, "word", 7, "q1", "g0 x1 q1")
}

// §3.5.19: G93: F is turns a minute, wanted on every line with G1, G2 or G3.
func TestInverseTime(t *testing.T) {
	x := ok(t, "g93", "g1 x10 f6", "x0 f0.5", "g0 x5")
	if x.Moves[0].Feed != 1 || math.Abs(x.Moves[1].Feed-10.0/120) > 1e-15 {
		t.Errorf("feeds %g and %g mm/s, want 10 mm in 10 s and in 120 s", x.Moves[0].Feed, x.Moves[1].Feed)
	}
	bad(t, "feed", 1, "F", "g93", "g1 x10 f6", "x0")
	bad(t, "feed", 4, "F", "g93 f6", "g1 x10 f6", "g94", "g1 x0")
}

// §3.6.1: M2 and M30 stop the spindle.
func TestEndStopsTheSpindle(t *testing.T) {
	x := ok(t, "s100 m3", "g1 x1")
	want := []Event{{0, 3, SpindleOn, 100}, {1, 5, SpindleOff, 0}}
	if len(x.Events) != 2 || x.Events[0] != want[0] || x.Events[1] != want[1] {
		t.Errorf("events %v, want %v", x.Events, want)
	}
}

// §3.7 and §3.6.3: negative S and T: errors; M6 leaves the spindle stopped.
func TestSpindleAndTool(t *testing.T) {
	bad(t, "spindle", 1, "-1", "s-1")
	bad(t, "tool", 1, "-1", "t-1")
	bad(t, "tool", 1, "1.5", "t1.5")
	bad(t, "tool", 1, "no tool", "m6")
	bad(t, "tool", 4, "first move", "t1 m6", "g0 x1", "t2 m6")
	x := ok(t, "s100 m3", "t5 m6", "g1 x1", "s200 m4", "g1 x2", "s300", "g1 x3", "g1 x4", "m5", "g1 x5")
	kinds := []Kind{SpindleOn, SpindleOff, ToolChange, SpindleReverse, SpindleReverse, SpindleOff}
	for i, k := range kinds {
		if i >= len(x.Events) || x.Events[i].Kind != k {
			t.Fatalf("events %v, want kinds %v", x.Events, kinds)
		}
	}
	if x.Tool != 5 || x.SpindleRPM != 100 {
		t.Errorf("tool %d at %g, want 5 at 100", x.Tool, x.SpindleRPM)
	}
	spans := []Span{{0, 1, 0}, {1, 2, -200}, {2, 4, -300}, {4, 5, 0}}
	got := x.Spindle()
	if len(got) != len(spans) {
		t.Fatalf("spans %v, want %v", got, spans)
	}
	for i := range spans {
		if got[i] != spans[i] {
			t.Errorf("span %d: %v, want %v", i, got[i], spans[i])
		}
	}
}

// Appendix A: a feed move with no feed: error.
func TestZeroFeed(t *testing.T) {
	bad(t, "feed", 4, "feed", "f0", "g1 x1")
	bad(t, "feed", 4, "-3", "g1 f-3")
	bad(t, "feed", 4, "unit", "g20", "g1 x1")
}

// §3.5.7: G20 is inches.
func TestInches(t *testing.T) {
	x := ok(t, "g20", "g1 x1 f60")
	if x.Moves[0].To.X != 25.4 || x.Moves[0].Feed != 25.4 {
		t.Errorf("to %g at %g, want 25.4 mm at 25.4 mm/s", x.Moves[0].To.X, x.Moves[0].Feed)
	}
}

// §3.5.17: G91 counts from where the tip is.
func TestIncremental(t *testing.T) {
	ends(t, ok(t, "g91 g0 x1 y2", "x1", "g90 x1"), geom.Vec3{X: 1, Y: 2}, geom.Vec3{X: 2, Y: 2}, geom.Vec3{X: 1, Y: 2})
}

// Table 8: stop comes last on a line, the spindle before the motion.
func TestOrderOfExecution(t *testing.T) {
	x := ok(t, "m0 g0 x1 m3 s50", "g0 x2")
	if len(x.Events) != 3 || x.Events[0] != (Event{0, 3, SpindleOn, 50}) || x.Events[1] != (Event{1, 3, Stop, 0}) {
		t.Errorf("events %v, want the spindle before move 0 and the stop after it", x.Events)
	}
	if x.Stops != 1 {
		t.Errorf("%d stops, want 1", x.Stops)
	}
}

// Words of the standard that are refused by name.
func TestRefusedWords(t *testing.T) {
	for _, w := range []string{"g10", "g28", "g30", "g38.2", "g41", "g42", "g43", "g59.1", "g82", "g83", "g92", "g5", "g0.5", "m60", "m98", "m99", "a1", "b1", "c1", "d1", "h1", "q1", "u1", "o1", "g100", "g-1", "m3.5"} {
		_, err := bare(ReadParams{}, w)
		refused(t, err, "program-word", where(3, 1), w)
		var e *finding.InputError
		if errors.As(err, &e) && !e.Unsupported {
			t.Errorf("%s: not marked as beyond what is done", w)
		}
	}
	bad(t, "word", 1, "0xc3", "é")
}
