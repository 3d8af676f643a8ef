package proof

import (
	"context"
	"math"
	"testing"

	"barwise/finding"
	"barwise/geom"
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
		Target: boxMesh(v3(-10, 10, -10), v3(10, 30, 5)), Keep: Keep{},
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

func TestSmoke(t *testing.T) {
	r := run(t, slab(), program("a.nc", 0, ballCutter(1.5), raster(-12, 12, 11.5, 30, 5, 0.2)))
	t.Log(r.Verdict, r.Gouge, r.Leftover, r.Area, r.AreaInTolerance)
	for _, f := range r.Findings {
		t.Log(f)
	}
	t.Logf("%+v", r.Programs)
}
