package proof

import (
	"context"
	"fmt"
	"math"
	"runtime"
	"strings"
	"testing"
	"time"

	"barwise/finding"
	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/sample"
	"barwise/path"
	"barwise/shop/bar"
	"barwise/shop/cutter"
	"barwise/shop/machine"
)

func v3(x, y, z float64) geom.Vec3 { return geom.Vec3{X: x, Y: y, Z: z} }

// ballCutter is a ball of radius r on a straight shank of its own size, flutes as long as the stick-out.
func ballCutter(r float64) cutter.Cutter {
	return cutter.Cutter{ID: "ball", Profile: cutter.Ball(r), Edges: 2, LCF: 30, DMM: 2 * r, OAL: 50, StickOut: 30, Plunges: true, RampDeg: 90,
		Holder: []cutter.Collar{{Z: 0, R: 8}}}
}

func flatCutter(r float64) cutter.Cutter {
	return cutter.Cutter{ID: "flat", Profile: cutter.FlatEnd(r), Edges: 2, LCF: 30, DMM: 2 * r, OAL: 50, StickOut: 30, RampDeg: 3,
		Holder: []cutter.Collar{{Z: 0, R: 8}}}
}

// raster covers [x0,x1]×[y0,y1] at height z with passes along X, stepover s, as a program whose lines
// count from 10.
func raster(x0, x1, y0, y1, z, s float64) []path.Move {
	mv := []path.Move{{Mode: path.Rapid, To: v3(x0, y0, 30)}, {Mode: path.Line, Feed: 10, To: v3(x0, y0, z)}}
	n := int(math.Round((y1 - y0) / s))
	for i := 0; i <= n; i++ {
		y := y0 + s*float64(i)
		a, b := x0, x1
		if i%2 == 1 {
			a, b = b, a
		}
		mv = append(mv, path.Move{Mode: path.Line, Feed: 10, To: v3(a, y, z)}, path.Move{Mode: path.Line, Feed: 10, To: v3(b, y, z)})
	}
	last := mv[len(mv)-1].To
	mv = append(mv, path.Move{Mode: path.Rapid, To: v3(last.X, last.Y, 30)})
	for i := range mv {
		mv[i].Line = int32(10 + i)
	}
	return mv
}

func program(name string, deg float64, c cutter.Cutter, mv []path.Move) Program {
	return Program{Program: path.Program{Name: name, SideDeg: deg, SpindleRPM: 10000, Start: v3(0, 0, 40), Moves: mv}, Cutter: c}
}

func testMachine() machine.Machine {
	return machine.Machine{Travel: [3]float64{200, 200, 100}, Rate: [3]float64{50, 50, 50}, SpindleMax: 20000, BarAlong: machine.AlongY}
}

// slab is a job of one side: a box of top z = 5 inside a 20 mm square bar, stub below y = 10.
func slab() Setup {
	return Setup{
		Target: sample.Box(v3(-10, 10, -10), v3(10, 30, 5)), Keep: Keep{},
		Bar: bar.Bar{Shape: bar.Square, Width: 20, Height: 20, Length: 40, Grip: 8}, Sides: []float64{0}, StubY: 10,
		Machine: testMachine(), Pitch: 0.25, Spacing: 0.5,
	}
}

func run(t *testing.T, s Setup, ps ...Program) *Result {
	t.Helper()
	r, err := Judge(context.Background(), s, ps, nil)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func has(r *Result, code string) *finding.Finding {
	for i := range r.Findings {
		if r.Findings[i].Code == code {
			return &r.Findings[i]
		}
	}
	return nil
}

// The same bytes for one core and many, whatever the order of work.
func TestSameForAnyCores(t *testing.T) {
	s := slab()
	s.Target = mesh.Join(sphereMesh(v3(0, 20, 0), 8, 24), sample.Box(v3(-3, 14, -3), v3(9, 19, 4)))
	p := program("a.nc", 0, ballCutter(1.5), raster(-9, 9, 12, 28, 3, 0.37))
	var want string
	for _, n := range []int{1, 2, 5} {
		old := runtime.GOMAXPROCS(n)
		r := run(t, s, p, program("b.nc", 0, flatCutter(1), raster(-9, 9, 12, 28, 6, 1.1)))
		runtime.GOMAXPROCS(old)
		r.Stack = nil
		got := fmt.Sprintf("%+v", *r)
		if want == "" {
			want = got
		}
		if got != want {
			t.Fatalf("GOMAXPROCS %d gives another result", n)
		}
	}
	if !strings.Contains(want, "gouge") || !strings.Contains(want, "leftover") {
		t.Error("the case shows neither gouge nor left-over")
	}
}

// A model turned with its side gives the same figures.
func TestTurnedSide(t *testing.T) {
	base := slab()
	base.Target = sphereMesh(v3(0.7, 20.3, -0.4), 8, 16)
	mv := raster(-9, 9, 12, 28, 7.5, 0.5)
	a := run(t, base, program("a.nc", 0, ballCutter(1.5), mv))
	for _, deg := range []float64{90, 180, 270} {
		s := base
		s.Sides = []float64{deg}
		turn := geom.TurnDeg(deg)
		s.Target = base.Target.Map(turn.ToPart)
		b := run(t, s, program("a.nc", deg, ballCutter(1.5), mv))
		near(t, "gouge", b.Gouge.MaxUM, a.Gouge.MaxUM, 1e-6)
		near(t, "left", b.Leftover.MaxUM, a.Leftover.MaxUM, 1e-6)
		near(t, "tolerance", b.AreaInTolerance, a.AreaInTolerance, 1e-6)
		near(t, "removed", b.Programs[0].Removed, a.Programs[0].Removed, 1e-2)
		p, q := a.Gouge.Where.Point, turn.ToSide(b.Gouge.Where.Point)
		near(t, "place", p.Sub(q).Len(), 0, 1e-6)
	}
}

// A gouge names its line; lifting the pass by its depth heals it.
func TestGougeNamesItsLine(t *testing.T) {
	s := slab()
	mv := raster(-9, 9, 11.5, 31, 5, 0.2)
	mv[40].To.Z -= 0.020
	r := run(t, s, program("a.nc", 0, ballCutter(1.5), mv))
	near(t, "depth", r.Gouge.MaxUM, 20, 0.05)
	// the moves to and from the point both dip; line numbers count from 10
	if l := r.Gouge.Where.Line; l != 50 && l != 51 {
		t.Errorf("line %d", l)
	}
	if f := has(r, "gouge"); f == nil || f.Severity != finding.Blocking || r.Gouge.Moves != 2 || r.Verdict != NotProven {
		t.Errorf("finding %v, %d moves, %s", f, r.Gouge.Moves, r.Verdict)
	}
	mv[40].To.Z += 0.020
	if r = run(t, s, program("a.nc", 0, ballCutter(1.5), mv)); r.Gouge.MaxUM != 0 || r.Gouge.BoundUM > 0.1 || has(r, "gouge") != nil {
		t.Errorf("healed: %+v", r.Gouge)
	}
}

func TestCollarsAgainstModel(t *testing.T) {
	s := slab()
	s.Target = mesh.Join(sample.Box(v3(-10, 10, -10), v3(10, 20, 9)), sample.Box(v3(-10, 20, -10), v3(10, 30, 2)))
	c := ballCutter(0.5)
	c.LCF, c.DMM, c.StickOut = 5, 6, 30
	mv := func(y float64) []path.Move {
		return lines(rapid(-14, y, 15), feed(-14, y, 2.2), feed(14, y, 2.2), rapid(14, y, 15))
	}
	if r := run(t, s, program("a.nc", 0, c, mv(22.99))); has(r, "shank-in-model") == nil {
		t.Error("a shank of Ø6 runs into the step 2.99 mm away and is not seen")
	}
	if r := run(t, s, program("a.nc", 0, c, mv(23))); has(r, "shank-in-model") != nil {
		t.Error("a shank of Ø6 passes the step 3 mm away")
	}
	c.LCF, c.StickOut = 7, 7.2
	c.DMM = 1
	if r := run(t, s, program("a.nc", 0, c, mv(25))); has(r, "holder-in-model") != nil {
		t.Error("a holder 0.4 over the step is free")
	}
	c.LCF, c.StickOut = 6, 6.7
	if r := run(t, s, program("a.nc", 0, c, mv(25))); has(r, "holder-in-model") == nil {
		t.Error("a holder 0.1 under the step's top is not seen")
	}
}

// An arc is judged by its chords: a helix of the ball into a level face.
func TestArcs(t *testing.T) {
	s := slab()
	arc := path.Move{Mode: path.ArcCCW, Feed: 10, To: v3(4, 20, 4.990), Centre: v3(0, 20, 5)}
	r := run(t, s, program("a.nc", 0, ballCutter(1.5), lines(rapid(4, 20, 15), feed(4, 20, 5), arc, rapid(4, 20, 15))))
	near(t, "gouge", r.Gouge.MaxUM, 10, 0.05)
	if r.Gouge.BoundUM < 1000*0.01+0.1 || r.Moves != 4 || r.Segments < 100 {
		t.Errorf("%+v, %d moves, %d segments", r.Gouge, r.Moves, r.Segments)
	}
	near(t, "length", r.Programs[0].CutLength+r.Programs[0].AirLength, 10+2*math.Pi*4, 0.01)
	// XZ is seen from +Y, where Z × X = Y: counter-clockwise leads from Z to X. From +X over −Z to −X the
	// tip dips to z 2, and the face lies a whole radius deep; the other way round it stays above.
	half := path.Move{Mode: path.ArcCCW, Feed: 10, To: v3(-4, 20, 6), Centre: v3(0, 20, 6), Plane: path.PlaneXZ}
	r = run(t, s, program("a.nc", 0, ballCutter(1.5), lines(rapid(4, 20, 15), feed(4, 20, 6), half, rapid(-4, 20, 15))))
	near(t, "dip", r.Gouge.MaxUM, 1500, 1)
	half.Mode = path.ArcCW
	r = run(t, s, program("a.nc", 0, ballCutter(1.5), lines(rapid(4, 20, 15), feed(4, 20, 6), half, rapid(-4, 20, 15))))
	near(t, "rise", r.Gouge.MaxUM, 0, 0)
	// YZ is seen from +X: counter-clockwise leads from Y to Z
	half = path.Move{Mode: path.ArcCCW, Feed: 10, To: v3(0, 16, 6), Centre: v3(0, 20, 6), Plane: path.PlaneYZ}
	r = run(t, s, program("a.nc", 0, ballCutter(1.5), lines(rapid(0, 24, 15), feed(0, 24, 6), half, rapid(0, 16, 15))))
	near(t, "rise", r.Gouge.MaxUM, 0, 0)
}

func TestBadSetups(t *testing.T) {
	ok := program("a.nc", 0, ballCutter(1.5), raster(-12, 12, 11.5, 30, 5, 1))
	for name, f := range map[string]func(*Setup, *Program){
		"side":    func(_ *Setup, p *Program) { p.SideDeg = 45 },
		"model":   func(s *Setup, _ *Program) { s.Target = nil },
		"cutter":  func(_ *Setup, p *Program) { p.Cutter = cutter.Cutter{} },
		"spacing": func(s *Setup, _ *Program) { s.Spacing = -1 },
	} {
		s, p := slab(), ok
		f(&s, &p)
		if _, err := Judge(context.Background(), s, []Program{p}, nil); !finding.IsInput(err) {
			t.Errorf("%s: error %v", name, err)
		}
	}
	if _, err := Judge(context.Background(), slab(), nil, nil); !finding.IsInput(err) {
		t.Errorf("no programs: %v", err)
	}
}

func TestCancelAndProgress(t *testing.T) {
	s := slab()
	s.Target = sphereMesh(v3(0, 20, 0), 8, 200)
	s.Spacing = 0.02
	p := program("a.nc", 0, ballCutter(1.5), raster(-12, 12, 11.5, 30, 5, 0.01))
	ctx, cancel := context.WithCancel(context.Background())
	done, last, total := make(chan error, 1), 0, 0
	go func() {
		_, err := Judge(ctx, s, []Program{p}, func(d, n int) {
			if d < last {
				t.Errorf("progress falls from %d to %d", last, d)
			}
			last, total = d, n
		})
		done <- err
	}()
	time.Sleep(150 * time.Millisecond)
	t0 := time.Now()
	cancel()
	if err := <-done; err != context.Canceled {
		t.Errorf("error %v", err)
	}
	// 0.2 s is the aim; a busy machine is given more
	if d := time.Since(t0); d > 2*time.Second {
		t.Errorf("it took %v to stop", d)
	}
	s, last = slab(), 0
	if _, err := Judge(context.Background(), s, []Program{program("a.nc", 0, ballCutter(1.5), raster(-12, 12, 11.5, 30, 5, 1))}, func(d, n int) { last, total = d, n }); err != nil || last != total {
		t.Errorf("progress ends at %d of %d: %v", last, total, err)
	}
}
