package barwise_test

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"strings"
	"testing"

	"barwise/gcode"
	"barwise/geom"
	"barwise/geom/field"
	"barwise/geom/mesh"
	"barwise/geom/mesh/sample"
	"barwise/path"
	"barwise/plan/cl"
	"barwise/plan/finish"
	"barwise/plan/link"
	"barwise/plan/reach"
	"barwise/plan/rough"
	"barwise/plan/share"
	"barwise/proof"
	"barwise/shop/bar"
	"barwise/shop/cutter"
	"barwise/shop/machine"
	"barwise/stock"
)

const (
	cupStub = 9.0
	cupTop  = 27.0
)

func endMill(id string, p cutter.Profile, lcf float64) cutter.Cutter {
	return cutter.Cutter{ID: id, Profile: p, Edges: 2, LCF: lcf, LU: lcf, DMM: 2 * p.R, OAL: 50, StickOut: 26, Plunges: true, RampDeg: 5,
		Holder: []cutter.Collar{{Z: 0, R: 6}}}
}

// shopFloor plans and proves one piece: every side roughed, then every side finished.
type shopFloor struct {
	t       *testing.T
	bar     bar.Bar
	sides   []float64
	surface *cl.Surface
	mesh    *mesh.Mesh
	stack   *stock.Stack
	deepest float64 // lowest tip of the end side
	progs   []path.Program
	cutters map[string]cutter.Cutter
}

const (
	endClear  = 0.5
	endSkin   = 0.1
	endSafe   = 3.0
	endSpigot = 5.0 // mm above the stub where the surface is not judged
)

func (f *shopFloor) limits(deg, r float64) (x0, x1, y0, y1, low float64) {
	w, over := f.bar.Window(deg), r+0.5
	if geom.IsEnd(deg) {
		return w.X0 - over, w.X1 + over, w.Y0 - over, w.Y1 + over, f.deepest
	}
	return w.X0 - over, w.X1 + over, cupStub + 1.5 + endSkin + 0.15, w.Y1 + over, -f.bar.Below(deg) + endClear
}

func (f *shopFloor) floor(deg float64, c cutter.Cutter, low float64) *field.Field {
	w, far := f.bar.Window(deg), c.R+2
	v, err := reach.See(context.Background(), f.surface, geom.TurnDeg(deg), w.X0-far, w.X1+far, w.Y0-far, w.Y1+far)
	if err != nil {
		f.t.Fatal(err)
	}
	walls := []reach.Wall{{Y: cupStub, Top: f.bar.Top(deg)}}
	if geom.IsEnd(deg) {
		walls = []reach.Wall{{Y: math.Inf(1), Top: cupStub}}
	}
	out := v.Floor(reach.Params{Cutter: c, Clear: endClear, Skin: endSkin, Walls: walls})
	for i := range out.Z {
		out.Z[i] = max(out.Z[i], float32(low))
	}
	return out
}

func (f *shopFloor) add(kind string, side int, c cutter.Cutter, passes []path.Pass, seen *field.Field) {
	if len(passes) == 0 {
		return
	}
	deg := f.sides[side]
	safe := f.bar.Top(deg) + endSafe
	o := link.NewObstacle(seen, c, endClear)
	moves := link.Link(passes, o.Free, link.Params{Safe: safe, Clear: endClear, ApproachGap: endClear, CutFeed: 20, EntryFeed: 5, Done: o.Cut})
	start := moves[0].To
	start.Z = max(start.Z, safe)
	f.progs = append(f.progs, path.Program{
		Name: fmt.Sprintf("%02d.nc", len(f.progs)+1), Title: kind + " side " + geom.SideName(deg) + " with " + c.ID,
		SideDeg: deg, Cutter: c.ID, Tool: 1, SpindleRPM: 10000, Start: start, Moves: moves,
	})
}

func (f *shopFloor) take(first int) {
	for _, p := range f.progs[first:] {
		at, run := p.Start, []geom.Vec3(nil)
		flush := func() {
			side := 0
			for f.sides[side] != p.SideDeg {
				side++
			}
			if err := f.stack.CutMoves(context.Background(), side, f.cutters[p.Cutter].Profile, run); err != nil {
				f.t.Fatal(err)
			}
			run = nil
		}
		for _, m := range p.Moves {
			if m.Mode == path.Rapid {
				flush()
			} else {
				if run == nil {
					run = []geom.Vec3{at}
				}
				run = append(run, m.To)
			}
			at = m.To
		}
		flush()
	}
}

func (f *shopFloor) rough(c cutter.Cutter) {
	for side, deg := range f.sides {
		x0, x1, y0, y1, low := f.limits(deg, c.R)
		pitch := c.DC() / 24
		target, err := f.surface.Field(context.Background(), geom.TurnDeg(deg), c.Profile, endSkin, field.Cover(x0-2*pitch, x1+2*pitch, y0-2*pitch, y1+2*pitch, pitch, pitch))
		if err != nil {
			f.t.Fatal(err)
		}
		reach.RaiseTo(target, f.floor(deg, c, low))
		bottom := low
		if !geom.IsEnd(deg) {
			bottom = max(-0.5, low)
		}
		seen := f.stack.Seen(side)
		out, err := rough.Plan(context.Background(), rough.Input{Target: target, Seen: seen, Region: rough.Region{XMin: x0, XMax: x1, YMin: y0, YMax: y1}, Bottom: bottom},
			rough.Params{Cutter: c, Stepdown: 1, Stepover: 1.2, Climb: true})
		if err != nil {
			f.t.Fatal(err)
		}
		n := len(f.progs)
		f.add("rough", side, c, out.Passes, seen)
		f.take(n)
	}
}

func (f *shopFloor) finish(c cutter.Cutter, cusp float64) {
	in := finish.Input{Input: share.Input{Surface: f.surface, Mesh: f.mesh, Cutter: c.Profile}}
	for side, deg := range f.sides {
		x0, x1, y0, y1, low := f.limits(deg, c.R)
		fl := f.floor(deg, c, low)
		reach.KeepOutOfDepth(fl, f.stack.Seen(side), c, endSkin+2*f.stack.Pitch, c.LCF)
		s := share.Side{Deg: deg, XMin: x0, XMax: x1, ZMin: low, Floor: fl}
		if geom.IsEnd(deg) {
			s.YMin, s.YMax = y0, y1
		} else {
			in.YMin, in.YMax = y0, y1
		}
		in.Sides = append(in.Sides, s)
	}
	out, err := finish.Plan(context.Background(), in, finish.Params{Cusp: cusp, Tolerance: 0.002, Decimals: 4})
	if err != nil {
		f.t.Fatal(err)
	}
	for side, s := range out.Sides {
		f.add("finish", side, c, s.Passes, f.stack.Seen(side))
	}
}

// prove reads the texts back and judges them.
func (f *shopFloor) prove() *proof.Result {
	var progs []proof.Program
	for _, p := range f.progs {
		var b bytes.Buffer
		if err := gcode.Write(&b, p, gcode.Params{Decimals: 4, Frame: gcode.Frame{Along: machine.AlongX}}); err != nil {
			f.t.Fatal(err)
		}
		if end := geom.IsEnd(p.SideDeg); end != strings.Contains(b.String(), "(side end)") || end != strings.Contains(b.String(), "(bar standing)") {
			f.t.Errorf("%s: the head is\n%.200s", p.Title, b.String())
		}
		x, err := gcode.Read(p.Name, bytes.NewReader(b.Bytes()), gcode.ReadParams{})
		if err != nil {
			f.t.Fatal(err)
		}
		progs = append(progs, proof.Program{Program: x.Program, Cutter: f.cutters[x.Cutter]})
	}
	set := proof.Setup{
		Target: f.mesh, Bar: f.bar, Sides: f.sides, StubY: cupStub,
		Machine: machine.Machine{Travel: [3]float64{200, 200, 100}, Rate: [3]float64{50, 50, 50}, SpindleMax: 20000, BarAlong: machine.AlongX},
		Keep:    proof.Keep{Y: [][2]float64{{0, cupStub + endSpigot}}}, Tolerance: 0.02, Pitch: 0.1, Spacing: 0.3,
	}
	far := 200.0
	for _, deg := range f.sides {
		b := proof.Block{Name: "floor of the vise", Box: geom.Box3{Min: geom.Vec3{X: -far, Y: -far, Z: -far}, Max: geom.Vec3{X: far, Y: far, Z: -f.bar.Below(deg)}}}
		if geom.IsEnd(deg) {
			b = proof.Block{Name: "jaws", Box: geom.Box3{Min: geom.Vec3{X: -far, Y: -far, Z: -far}, Max: geom.Vec3{X: far, Y: far, Z: f.bar.Grip}}}
		}
		set.Vise = append(set.Vise, []proof.Block{b})
	}
	r, err := proof.Judge(context.Background(), set, progs, nil)
	if err != nil {
		f.t.Fatal(err)
	}
	return r
}

func workshop(t *testing.T, b bar.Bar, sides []float64) *proof.Result {
	t.Helper()
	m := sample.Cup(cupStub, 96)
	flat, ball := endMill("flat-3", cutter.FlatEnd(1.5), 12), endMill("ball-2", cutter.Ball(1), 14)
	f := &shopFloor{t: t, bar: b, sides: sides, mesh: m, surface: cl.NewSurface(m), stack: stock.New(b, sides, 0.1),
		deepest: cupTop - 10, cutters: map[string]cutter.Cutter{flat.ID: flat, ball.ID: ball}}
	f.rough(flat)
	f.take(len(f.progs))
	f.finish(ball, 0.005)
	return f.prove()
}

// A cup, its well 4.6 mm wide and 7 mm deep, out of a square and a hexagonal bar: from the sides alone its well stays full; with the end side all of it is
// made, and proved.
func TestCupWithEnd(t *testing.T) {
	square := bar.Bar{Shape: bar.Square, Width: 18, Height: 18, Length: 29, Grip: 7}
	hex := bar.Bar{Shape: bar.Hex, Width: 18, Height: 18, Length: 29, Grip: 7}
	// the well: half a sphere and a cylinder, 2πr² + 2πr·h
	well := 2*math.Pi*4.6*4.6 + 2*math.Pi*4.6*0.95
	for _, c := range []struct {
		bar   bar.Bar
		sides []float64
		end   bool
	}{
		{square, []float64{0, 90, 180, 270}, false},
		{square, []float64{0, 90, 180, 270, geom.EndDeg}, true},
		{hex, []float64{0, 60, 120, 180, 240, 300, geom.EndDeg}, true},
	} {
		r := workshop(t, c.bar, c.sides)
		name := fmt.Sprintf("%s bar, %d sides", c.bar.Shape, len(c.sides))
		t.Logf("%s: %s; gouge %.1f µm, left %.1f µm, area %+v, %d programs", name, r.Verdict, r.Gouge.MaxUM, r.Leftover.MaxUM, r.Area, len(r.Programs))
		for _, x := range r.Findings {
			t.Logf("%s: %v", name, x)
		}
		if !c.end {
			if r.Area.Unreachable < 0.9*well || r.Area.DeepestUM < 4000 {
				t.Errorf("%s: unreachable %.1f mm², the well has %.1f", name, r.Area.Unreachable, well)
			}
			continue
		}
		if r.Verdict != proof.Proven {
			t.Errorf("%s: %s", name, r.Verdict)
		}
		if r.Area.Unreachable > 0.5 || r.AreaInTolerance < 0.995 {
			t.Errorf("%s: unreachable %.2f mm², in tolerance %.4f", name, r.Area.Unreachable, r.AreaInTolerance)
		}
	}
}
