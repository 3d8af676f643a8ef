package gcode

import (
	"bytes"
	"errors"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"barwise/finding"
	"barwise/geom"
	"barwise/path"
	"barwise/shop/machine"
)

func written(t interface {
	Helper()
	Fatalf(string, ...any)
}, p path.Program, o Params) string {
	t.Helper()
	var b bytes.Buffer
	if err := Write(&b, p, o); err != nil {
		t.Fatalf("write: %v", err)
	}
	return b.String()
}

func sample() path.Program {
	return path.Program{
		Name: "rook-090-ball-1.nc", Title: "finish side 90° with Ø1 ball", SideDeg: 90, Cutter: "ball-1", Tool: 2, SpindleRPM: 24000,
		Start: geom.Vec3{X: 1, Y: 2, Z: 20},
		Moves: []path.Move{
			{To: geom.Vec3{X: 3, Y: 2, Z: 20}},
			{To: geom.Vec3{X: 3, Y: 2, Z: 1}, Mode: path.Line, Feed: 5},
			{To: geom.Vec3{X: 3, Y: 2.5, Z: 1}, Mode: path.Line, Feed: 10},
			{To: geom.Vec3{X: 3, Y: 2.50001, Z: 1}, Mode: path.Line, Feed: 10},
			{To: geom.Vec3{X: 5, Y: 2.5, Z: 1}, Mode: path.ArcCW, Plane: path.PlaneXZ, Centre: geom.Vec3{X: 4, Z: 1}, Feed: 10},
			{To: geom.Vec3{X: 5, Y: 2.5, Z: 3}, Mode: path.ArcCCW, Plane: path.PlaneXY, Centre: geom.Vec3{X: 4, Y: 2.5}, Feed: 10},
			{Mode: path.Dwell, Seconds: 0.5},
			{To: geom.Vec3{X: 5, Y: 2.5, Z: 20}},
		},
	}
}

// The words and their order are ours; every line is legal by NISTIR 6556 as the reader's tests have it.
func TestSample(t *testing.T) {
	for _, c := range []struct {
		o    Params
		want string
	}{
		{Params{Arcs: true, ToolChange: "m6", SpindleDwell: 3, Header: []string{"barwise program 3 of 8 (rook)"}}, `(barwise program 3 of 8 [rook])
(program rook-090-ball-1.nc)
(title finish side 90 deg with dia 1 ball)
(side 90 deg)
(cutter ball-1)
(bar along y)
(zero on axis)
G17 G21 G90 G94 G40 G49 G54 G80
T2 M6
S24000 M3
G4 P3
G0 Z20
X1 Y2
X3
G1 Z1 F300
Y2.5 F600
G18 G2 X5 Z1 I1 K0
G17 G3 X5 Y2.5 Z3 I-1 J0
G4 P0.5
G0 Z20
M5
M30
`},
		{Params{Arcs: true, ToolChange: "stop", Numbers: true, End: "m2", Frame: Frame{Along: machine.AlongX, ZeroZ: 14}}, `(program rook-090-ball-1.nc)
(title finish side 90 deg with dia 1 ball)
(side 90 deg)
(cutter ball-1)
(tool 2)
(bar along x)
(zero 14 mm above axis)
N1 G17 G21 G90 G94 G40 G49 G54 G80
(put in cutter ball-1, touch off its length, then start again)
N2 M0
N3 S24000 M3
N4 G0 Z6
N5 X2 Y-1
N6 Y-3
N7 G1 Z-13 F300
N8 X2.5 F600
N9 G19 G2 Y-5 Z-13 J-1 K0
N10 G17 G3 X2.5 Y-5 Z-11 I0 J1
N11 G4 P0.5
N12 G0 Z6
N13 M5
N14 M2
`},
	} {
		if got := written(t, sample(), c.o); got != c.want {
			t.Errorf("got\n%s\nwant\n%s", got, c.want)
		}
	}
}

func genFrame(t *rapid.T) Frame {
	return Frame{
		Along: rapid.SampledFrom([]machine.Axis{"", machine.AlongX, machine.AlongY}).Draw(t, "along"),
		ZeroZ: rapid.SampledFrom([]float64{0, 14, 12.7, -0.123456789}).Draw(t, "zero"),
	}
}

func genParams(t *rapid.T) Params {
	o := Params{
		Frame: genFrame(t), Inch: rapid.Bool().Draw(t, "inch"), Decimals: rapid.IntRange(0, 6).Draw(t, "decimals"),
		Arcs: rapid.Bool().Draw(t, "arcs"), ArcTolerance: rapid.SampledFrom([]float64{0, 0.01, 0.3}).Draw(t, "tolerance"),
		LineEnd:    rapid.SampledFrom([]string{"", "lf", "crlf"}).Draw(t, "line end"),
		ToolChange: rapid.SampledFrom([]string{"", "m6", "stop"}).Draw(t, "change"), Numbers: rapid.Bool().Draw(t, "numbers"),
		SpindleDwell: rapid.SampledFrom([]float64{0, 2.5}).Draw(t, "spindle dwell"), End: rapid.SampledFrom([]string{"", "m2", "m30"}).Draw(t, "end"),
	}
	if rapid.Bool().Draw(t, "header") {
		o.Header = []string{"one", strings.Repeat("long words ", 60), "(three) é"}
	}
	return o
}

func genProgram(t *rapid.T) path.Program {
	p := path.Program{
		Name:  rapid.StringMatching(`[a-z]{1,8}\.nc`).Draw(t, "name"),
		Title: rapid.String().Draw(t, "title"), SideDeg: rapid.SampledFrom([]float64{0, 90, 22.5, 359.99, geom.EndDeg}).Draw(t, "side"),
		Cutter: rapid.StringMatching(`[a-z]{1,8}-[0-9]( [a-z]+)?`).Draw(t, "cutter"), Tool: rapid.IntRange(0, 30).Draw(t, "tool"),
		SpindleRPM: rapid.SampledFrom([]float64{0, 10000, 23999.5}).Draw(t, "rpm"),
	}
	c := func(scale float64) geom.Vec3 {
		f := rapid.Float64Range(-scale, scale)
		return geom.Vec3{X: f.Draw(t, "x"), Y: f.Draw(t, "y"), Z: f.Draw(t, "z")}
	}
	p.Start = c(100)
	at := p.Start
	for range rapid.IntRange(0, 25).Draw(t, "n") {
		step := rapid.SampledFrom([]float64{0.0003, 0.01, 1, 50}).Draw(t, "step")
		m := path.Move{To: at.Add(c(step)), Mode: path.Line, Feed: rapid.Float64Range(0.1, 200).Draw(t, "feed")}
		switch rapid.IntRange(0, 6).Draw(t, "kind") {
		case 0:
			m.Mode, m.Feed = path.Rapid, 0
		case 1:
			m = path.Move{Mode: path.Dwell, To: at, Seconds: rapid.Float64Range(0, 3).Draw(t, "seconds")}
		case 2, 3, 4:
			m = genArc(t, at, m, step)
		}
		p.Moves = append(p.Moves, m)
		at = m.To
	}
	return p
}

// genArc turns by any angle about any centre; sometimes a full circle, sometimes with radii that differ.
func genArc(t *rapid.T, at geom.Vec3, m path.Move, step float64) path.Move {
	m.Mode = rapid.SampledFrom([]path.Mode{path.ArcCW, path.ArcCCW}).Draw(t, "sense")
	m.Plane = path.Plane(rapid.IntRange(0, 2).Draw(t, "plane"))
	u, v, w := m.Plane.Split(at)
	r := step * rapid.Float64Range(0.1, 1).Draw(t, "r")
	from := rapid.Float64Range(-math.Pi, math.Pi).Draw(t, "from")
	sweep := rapid.Float64Range(1e-6, 2*math.Pi).Draw(t, "sweep")
	if m.Mode == path.ArcCW {
		sweep = -sweep
	}
	cu, cv := u-r*math.Cos(from), v-r*math.Sin(from)
	m.Centre = m.Plane.Join(cu, cv, rapid.Float64Range(-9, 9).Draw(t, "across"))
	rise := rapid.SampledFrom([]float64{0, 0.3 * step}).Draw(t, "rise")
	switch rapid.IntRange(0, 5).Draw(t, "end") {
	case 0:
		m.To = m.Plane.Join(u, v, w+rise)
		return m
	case 1:
		r += rapid.SampledFrom([]float64{0.0015, 0.0025, 0.1}).Draw(t, "spiral")
	}
	m.To = m.Plane.Join(cu+r*math.Cos(from+sweep), cv+r*math.Sin(from+sweep), w+rise)
	if m.Arc(at).Undecided(1e-9) {
		m.Mode = path.Line
	}
	return m
}

// Writing what was read gives the same bytes, in both frames and both units, with arcs and without.
func TestWriteReadWrite(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, o := genProgram(t), genParams(t)
		if p.Cutter != plain(p.Cutter) {
			t.Skip()
		}
		first := written(t, p, o)
		x, err := Read("elsewhere.nc", strings.NewReader(first), ReadParams{})
		if err != nil {
			t.Fatalf("%v in\n%s", err, first)
		}
		if second := written(t, x.Program, o); second != first {
			t.Fatalf("written\n%s\nread and written again\n%s", first, second)
		}
		if x.Name != p.Name || x.Cutter != p.Cutter || x.SideDeg != p.SideDeg || x.Tool != p.Tool || x.Inch != o.Inch || x.Frame.alongX() != o.Frame.Of(p.SideDeg).alongX() || x.Frame.Standing != geom.IsEnd(p.SideDeg) || x.Frame.ZeroZ != o.Frame.ZeroZ {
			t.Errorf("read back %+v in frame %+v", x.Program, x.Frame)
		}
		if x.Lines != strings.Count(first, "\n") {
			t.Errorf("%d lines, want %d", x.Lines, strings.Count(first, "\n"))
		}
		for i, l := range strings.Split(first, "\n") {
			if len(strings.TrimSuffix(l, "\r")) > 256 {
				t.Errorf("line %d has %d characters", i+1, len(l))
			}
		}
	})
}

// What is read lies within the rounding of what was planned: at the start and the ends on each axis;
// an arc, between its ends, within 3·√2 roundings of the planned circle; a flattened one within its
// tolerance besides.
func TestRoundingBound(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, o := genProgram(t), genParams(t)
		at := p.Start
		for _, m := range p.Moves {
			one := p
			one.Start, one.Moves = at, []path.Move{m}
			x, err := Read("a.nc", strings.NewReader(written(t, one, o)), ReadParams{})
			if err != nil {
				t.Fatal(err)
			}
			checkRounding(t, x, one, o)
			if m.Mode != path.Dwell {
				at = m.To
			}
		}
	})
}

// checkRounding judges a program of one move.
func checkRounding(t *rapid.T, x *Text, p path.Program, o Params) {
	const digits = 1 + 1e-9
	bound, m := o.Rounding()*digits+1e-12, p.Moves[0]
	if len(x.Moves) == 0 { // nothing is left of a move within the rounding
		x.Start = p.Start
	}
	within(t, "start", x.Start, p.Start, bound)
	if m.Mode == path.Dwell {
		got := 0.0
		for _, g := range x.Moves {
			got += g.Seconds
		}
		if math.Abs(got-m.Seconds) > 0.0005*digits {
			t.Errorf("dwells %g, planned %g", got, m.Seconds)
		}
		return
	}
	tolerance := o.ArcTolerance
	if tolerance == 0 {
		tolerance = 0.002
	}
	feed := 0.5 / 60 / pow10[o.feedDecimals()] * o.unit() * digits
	was := x.Start
	for _, g := range x.Moves {
		if (m.Mode == path.Rapid) != (g.Mode == path.Rapid) {
			t.Fatalf("a move of kind %d is read as kind %d", m.Mode, g.Mode)
		}
		if m.Mode != path.Rapid && math.Abs(g.Feed-m.Feed) > feed {
			t.Errorf("runs at %g, planned %g", g.Feed, m.Feed)
		}
		if m.IsArc() {
			onCircle(t, g, was, m, p.Start, 3*math.Sqrt2*bound+tolerance)
		}
		was = g.To
	}
	if len(x.Moves) == 0 {
		bound *= 2 // both ends were rounded to one place
	}
	within(t, "end", was, m.To, bound)
	if m.IsArc() && len(x.Moves) == 1 && x.Moves[0].IsArc() {
		got, want := x.Moves[0].Arc(x.Start).Sweep, m.Arc(p.Start).Sweep
		if math.Abs(got-want) > sweepSlack {
			t.Errorf("turns %g, planned %g", got, want)
		}
	}
}

func away(a, b geom.Vec3) float64 {
	return max(math.Abs(a.X-b.X), math.Abs(a.Y-b.Y), math.Abs(a.Z-b.Z))
}

func within(t *rapid.T, what string, got, want geom.Vec3, bound float64) {
	if away(got, want) > bound {
		t.Fatalf("%s %v, planned %v: more than %g apart on an axis", what, got, want, bound)
	}
}

func onCircle(t *rapid.T, g path.Move, was geom.Vec3, m path.Move, at geom.Vec3, bound float64) {
	a := m.Arc(at)
	cu, cv, _ := m.Plane.Split(m.Centre)
	for _, p := range path.Flatten(nil, was, g, 1e-4) {
		u, v, _ := m.Plane.Split(p)
		r := math.Hypot(u-cu, v-cv)
		if r < min(a.R0, a.R1)-bound || r > max(a.R0, a.R1)+bound {
			t.Fatalf("a point at radius %g, planned %g to %g, bound %g", r, a.R0, a.R1, bound)
		}
	}
}

// A program mirrored about the bar's axis has the mirrored numbers (halves are rounded away from zero).
func TestMirrored(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := path.Program{Start: geom.Vec3{X: rapid.Float64().Draw(t, "x")}, Cutter: "c"}
		p.Start.X = math.Mod(p.Start.X, 1000)
		q := p
		for range 5 {
			x := math.Mod(rapid.Float64().Draw(t, "x"), 1000)
			p.Moves = append(p.Moves, path.Move{To: geom.Vec3{X: x}})
			q.Moves = append(q.Moves, path.Move{To: geom.Vec3{X: -x}})
		}
		q.Start.X = -p.Start.X
		a, b := written(t, p, Params{}), written(t, q, Params{})
		// mirrors to X0.5 and zero to itself.
		if flip(a) != b {
			t.Errorf("got\n%s\nmirrored\n%s", a, b)
		}
	})
}

func flip(s string) string {
	return strings.NewReplacer("X0\n", "X0\n", "X0 ", "X0 ", "X-", "X", "X", "X-").Replace(s)
}

// The frame keeps axes right-handed, is its own way back, and takes an arc's plane and sense along: the
// middle of the arc, found in either frame, is the same point.
func TestFrames(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := genFrame(t)
		x, y, z, o := f.ToProgram(geom.Vec3{X: 1}), f.ToProgram(geom.Vec3{Y: 1}), f.ToProgram(geom.Vec3{Z: 1}), f.ToProgram(geom.Vec3{})
		if x.Sub(o).Cross(y.Sub(o)).Sub(z.Sub(o)).Len() > 1e-12 {
			t.Errorf("frame %+v is not right-handed", f)
		}
		at := geom.Vec3{X: 1, Y: 2, Z: 3}
		m := genArc(t, at, path.Move{To: at}, 10)
		if !m.IsArc() {
			t.Skip()
		}
		g := f.moveToProgram(m)
		if d := f.ToSide(g.Arc(f.ToProgram(at)).At(0.3)).Sub(m.Arc(at).At(0.3)).Len(); d > 1e-9 {
			t.Errorf("frame %+v: a point of the arc in plane %d is %g away", f, m.Plane, d)
		}
		b := f.moveToSide(g)
		if b.Plane != m.Plane || b.Mode != m.Mode || b.To.Sub(m.To).Len() > 1e-12 || b.Centre.Sub(m.Centre).Len() > 1e-12 {
			t.Errorf("frame %+v: there and back gives %+v, want %+v", f, b, m)
		}
	})
	if got := (Frame{Along: machine.AlongX}).ToProgram(geom.Vec3{X: 1, Y: 2, Z: 3}); got != (geom.Vec3{X: 2, Y: -1, Z: 3}) {
		t.Errorf("along X: %v, want X = y, Y = −x, Z = z", got)
	}
}

// A file cut off anywhere is refused; only its last line end may be missing.
func TestCutOffAnywhere(t *testing.T) {
	for _, o := range []Params{{Arcs: true, ToolChange: "m6"}, {ToolChange: "stop", LineEnd: "crlf", End: "m2", Numbers: true}} {
		s := written(t, sample(), o)
		whole := len(strings.TrimRight(s, "\r\n"))
		for n := range len(s) {
			_, err := Read("a.nc", strings.NewReader(s[:n]), ReadParams{})
			var e *finding.InputError
			if n < whole && !errors.As(err, &e) || n >= whole && err != nil {
				t.Errorf("cut after %d of %d bytes (%q): %v", n, len(s), s[max(0, n-12):n], err)
			}
		}
	}
}

func TestHandEdits(t *testing.T) {
	s := written(t, sample(), Params{ToolChange: "m6"})
	edit := func(old, new string) (*Text, error) {
		t.Helper()
		if !strings.Contains(s, old) {
			t.Fatalf("no %q to edit", old)
		}
		return Read("dir/a.nc", strings.NewReader(strings.Replace(s, old, new, 1)), ReadParams{})
	}
	for _, c := range [][2]string{
		{"F300", "F250"}, {"(side 90 deg)", "( Side: 90.0 degrees )"}, {"(side 90 deg)", "(side 90)"}, {"(title", "(my own words)\n(title"},
		{"(program rook-090-ball-1.nc)\n", ""}, {"G1 Z1", "g1z1 (slower here)"}, {"M5", "(side 90 deg)\nM5"}, {"(cutter ball-1)", "(cutter: ball-1)"},
	} {
		x, err := edit(c[0], c[1])
		if err != nil {
			t.Errorf("%q for %q: %v", c[1], c[0], err)
		} else if x.SideDeg != 90 || x.Cutter != "ball-1" {
			t.Errorf("%q for %q: side %g, cutter %q", c[1], c[0], x.SideDeg, x.Cutter)
		}
	}
	x, _ := edit("(program rook-090-ball-1.nc)\n", "")
	if x.Name != "a.nc" {
		t.Errorf("a program without a name is %q, want the file's", x.Name)
	}
	_, err := edit("(side 90 deg)", "(side ninety)")
	refused(t, err, "program-side", "dir/a.nc", "(side 90 deg)")
	_, err = edit("(cutter ball-1)\n", "")
	refused(t, err, "program-cutter", "dir/a.nc", "(cutter flat-3)")
	_, err = edit("M5", "(side 180 deg)\nM5")
	var e *finding.InputError
	if !errors.As(err, &e) || e.Code != "program-header" || !strings.Contains(e.Error(), "line 3") {
		t.Errorf("two sides: got %v, want program-header naming line 3", err)
	}
	_, err = edit("M5", "(bar along x)\nM5")
	if !errors.As(err, &e) || e.Code != "program-header" {
		t.Errorf("two frames: got %v, want program-header", err)
	}
	_, err = edit("G0 Z20\nX1", "G0 X1")
	refused(t, err, "program-start", "dir/a.nc:12:4", "where Z is")
	_, err = edit("G21 ", "")
	refused(t, err, "program-units", "dir/a.nc:10:4", "G21")
}

// The set-up's frame must be that of the text; text that states none is taken in it.
func TestFrameOfTheSetUp(t *testing.T) {
	s := written(t, sample(), Params{Frame: Frame{Along: machine.AlongX, ZeroZ: 14}})
	same := Frame{Along: machine.AlongX, ZeroZ: 14}
	x, err := Read("a.nc", strings.NewReader(s), ReadParams{Frame: &same})
	if err != nil {
		t.Fatal(err)
	}
	if x.Moves[1].To != (geom.Vec3{X: 3, Y: 2, Z: 1}) {
		t.Errorf("move 1 ends at %v", x.Moves[1].To)
	}
	other := Frame{ZeroZ: 14}
	_, err = Read("a.nc", strings.NewReader(s), ReadParams{Frame: &other})
	refused(t, err, "program-frame", "a.nc:6:1", "bar along x", "bar along y")
	plain := strings.Replace(strings.Replace(s, "(bar along x)\n", "", 1), "(zero 14 mm above axis)\n", "", 1)
	if x, err = Read("a.nc", strings.NewReader(plain), ReadParams{Frame: &same}); err != nil || x.Moves[1].To != (geom.Vec3{X: 3, Y: 2, Z: 1}) {
		t.Errorf("without the statements: %v", err)
	}
}

// What our own planner must not ask for is an error of ours, a name that cannot be written is the user's.
func TestWriteRefuses(t *testing.T) {
	for what, change := range map[string]func(*path.Program, *Params){
		"feed":     func(p *path.Program, _ *Params) { p.Moves[1].Feed = 0 },
		"nan":      func(p *path.Program, _ *Params) { p.Moves[1].To.X = math.NaN() },
		"far":      func(p *path.Program, _ *Params) { p.Moves[1].To.X = 1e6 },
		"start":    func(p *path.Program, _ *Params) { p.Start.Z = math.Inf(1) },
		"dwell":    func(p *path.Program, _ *Params) { p.Moves[6].Seconds = -1 },
		"kind":     func(p *path.Program, _ *Params) { p.Moves[1].Mode = 99 },
		"tool":     func(p *path.Program, _ *Params) { p.Tool = -1 },
		"speed":    func(p *path.Program, _ *Params) { p.SpindleRPM = -1 },
		"decimals": func(_ *path.Program, o *Params) { o.Decimals = 9 },
		"line end": func(_ *path.Program, o *Params) { o.LineEnd = "cr" },
		"change":   func(_ *path.Program, o *Params) { o.ToolChange = "m0" },
		"header":   func(_ *path.Program, o *Params) { o.Header = []string{"side 90 deg"} },
		"along":    func(_ *path.Program, o *Params) { o.Frame.Along = "z" },
	} {
		p, o := sample(), Params{}
		change(&p, &o)
		if err := Write(&bytes.Buffer{}, p, o); err == nil || finding.IsInput(err) {
			t.Errorf("%s: got %v, want an error of our own", what, err)
		}
	}
	p := sample()
	p.Cutter = "ball (1)"
	if err := Write(&bytes.Buffer{}, p, Params{}); !finding.IsInput(err) {
		t.Errorf("a cutter with parentheses: got %v, want an input error", err)
	}
	if err := Write(fullDisk{}, sample(), Params{}); !errors.Is(err, errFull) {
		t.Errorf("a full disk: got %v", err)
	}
}

type fullDisk struct{}

var errFull = errors.New("no room")

func (fullDisk) Write([]byte) (int, error) { return 0, errFull }

func TestExtent(t *testing.T) {
	x := okFrom(t, at(1, 0, 0), "g2 x-1 i-1", "g0 z5")
	if want := (geom.Box3{Min: geom.Vec3{X: -1, Y: -1}, Max: geom.Vec3{X: 1, Z: 5}}); x.Extent.Min.Sub(want.Min).Len()+x.Extent.Max.Sub(want.Max).Len() > 1e-12 {
		t.Errorf("extent %v, want %v", x.Extent, want)
	}
}
