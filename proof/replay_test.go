package proof

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"barwise/finding"
	"barwise/geom"
	"barwise/geom/mesh/sample"
	"barwise/path"
	"barwise/shop/cutter"
	"barwise/shop/machine"
	"barwise/stock"
)

// codes are the codes of findings other than those about the surface, which these cases do not finish.
func codes(r *Result) string {
	var out []string
	for _, f := range r.Findings {
		if !strings.HasPrefix(f.Code, "leftover") {
			out = append(out, f.Code)
		}
	}
	return strings.Join(out, " ")
}

func rapid(x, y, z float64) path.Move { return path.Move{Mode: path.Rapid, To: v3(x, y, z)} }
func feed(x, y, z float64) path.Move {
	return path.Move{Mode: path.Line, Feed: 10, To: v3(x, y, z)}
}

func lines(mv ...path.Move) []path.Move {
	for i := range mv {
		mv[i].Line = int32(i + 1)
	}
	return mv
}

// each case fires exactly its finding, and its twin just outside fires none. The bar's top is z 10.
func TestCollisions(t *testing.T) {
	ball, flat := ballCutter(1.5), flatCutter(1.5)
	short := ball
	short.LCF, short.StickOut = 4, 30 // shank as wide as the flutes
	thick := ball
	thick.LCF, thick.DMM = 4, 6
	stubby := ball
	stubby.LCF, stubby.StickOut = 6, 6
	unplunge := flat
	unplunge.RampDeg = 3
	jaw := func(s *Setup) {
		s.Vise = [][]Block{{{Name: "jaw", Box: geom.Box3{Min: v3(10, 0, -20), Max: v3(30, 8, 6)}}}}
	}
	slot := func(z float64) []path.Move { // one slot along X, 3 wide, in steps of 3 deep
		mv := []path.Move{rapid(-14, 20, 15)}
		for d := 7.0; d > z; d -= 3 {
			mv = append(mv, feed(-14, 20, d), feed(14, 20, d), feed(14, 20, 15), rapid(-14, 20, 15))
		}
		return append(mv, feed(-14, 20, z), feed(14, 20, z), rapid(14, 20, 15))
	}
	beside := func(e float64) []path.Move { // the bar is cut to z 9 at x < e, then the flat is fed down at x = 0
		mv := []path.Move{rapid(-14, 20, 15), feed(-14, 20, 9), feed(e-1.5, 20, 9)}
		for y := 18.6; y <= 21.4; y += 0.2 {
			mv = append(mv, feed(e-1.5, y, 9), feed(-14, y, 9), feed(e-1.5, y, 9))
		}
		return append(mv, feed(-14, 20, 9), rapid(-14, 20, 15), rapid(0, 20, 15), feed(0, 20, 9), rapid(0, 20, 15))
	}
	onWall := func(thick float64) []path.Move { // two slots leave a wall along Y about x = 0, which is met from above
		mv := []path.Move{rapid(0, 42, 15)}
		for _, x := range []float64{-1.5 - thick/2, 1.5 + thick/2} {
			mv = append(mv, rapid(x, 42, 15), feed(x, 42, 9), feed(x, 15, 9), rapid(x, 15, 15))
		}
		return append(mv, rapid(0, 20, 15), feed(0, 20, 9), rapid(0, 20, 15))
	}
	for _, c := range []struct {
		name, want string
		c          cutter.Cutter
		mv         []path.Move
		set        func(*Setup)
	}{
		{"rapid over", "", ball, []path.Move{rapid(-14, 20, 10.05), rapid(14, 20, 10.05), rapid(14, 20, 15)}, nil},
		{"rapid through", "rapid-in-stock", ball, []path.Move{rapid(-14, 20, 9.8), rapid(14, 20, 9.8), rapid(14, 20, 15)}, nil},
		{"rapid with too little room", "rapid-in-stock", ball, []path.Move{rapid(-14, 20, 10.05), rapid(14, 20, 10.05), rapid(14, 20, 15)},
			func(s *Setup) { s.RapidClear = 0.2 }},
		{"rapid in its own slot", "", ball, append([]path.Move{rapid(-14, 20, 15), feed(-14, 20, 7), feed(14, 20, 7), rapid(14, 20, 15)}, rapid(0, 20, 15), feed(0, 20, 7), rapid(0, 20, 15)), nil},
		{"rapid down into the bar", "rapid-in-stock", ball, []path.Move{rapid(0, 20, 15), rapid(0, 20, 9), rapid(0, 20, 15)}, nil},
		{"deep slot, long flutes", "", ball, slot(5.5), nil},
		{"flutes too short", "depth-over-flutes", short, []path.Move{rapid(-14, 20, 15), feed(-14, 20, 5.5), feed(14, 20, 5.5), rapid(14, 20, 15)}, nil},
		{"flutes just long enough", "", short, []path.Move{rapid(-14, 20, 15), feed(-14, 20, 6.2), feed(14, 20, 6.2), rapid(14, 20, 15)}, nil},
		{"shank", "shank-in-stock", thick, slot(5.5), nil},
		{"shank just over", "", thick, slot(6.3), nil},
		{"shank with too little room", "shank-in-stock", thick, slot(6.3), func(s *Setup) { s.ShankClear = 0.5 }},
		{"holder", "holder-in-stock", stubby, slot(3.5), func(s *Setup) { s.Target = sample.Box(v3(-10, 10, -10), v3(10, 30, 3)) }},
		{"holder just over", "", stubby, slot(4.2), func(s *Setup) { s.Target = sample.Box(v3(-10, 10, -10), v3(10, 30, 3)) }},
		{"holder with too little room", "holder-in-stock", stubby, slot(4.2), func(s *Setup) {
			s.Target, s.HolderClear = sample.Box(v3(-10, 10, -10), v3(10, 30, 3)), 0.5
		}},
		{"jaw", "vise", ball, []path.Move{rapid(14, 9, 5), rapid(14, 20, 15)}, jaw},
		{"beside the jaw", "", ball, []path.Move{rapid(14, 9.6, 5), rapid(14, 20, 15)}, jaw},
		{"over the jaw", "", ball, []path.Move{rapid(14, 4, 6.1), rapid(14, 4, 15)}, jaw},
		{"stub", "stub", ball, []path.Move{rapid(-14, 11, 15), feed(-14, 11, 9), feed(14, 11, 9), rapid(14, 11, 15)}, nil},
		{"up to the stub", "", ball, []path.Move{rapid(-14, 11.5, 15), feed(-14, 11.5, 9), feed(14, 11.5, 9), rapid(14, 11.5, 15)}, nil},
		{"plunge", "plunge", unplunge, []path.Move{rapid(0, 20, 15), feed(0, 20, 9), rapid(0, 20, 15)}, nil},
		// A side cut along x < e is made first, the flat comes down beside it at x = 0: its disc overlaps what
		// stands at x > e by 1.5 − e. A quarter of a disc is the segment beyond 0.404 R (θ − sin θ cos θ = π/4).
		{"plunge of a quarter of the disc", "plunge", unplunge, beside(0.404 * 1.5), nil},
		{"plunge of four pitches at the rim", "plunge", unplunge, beside(0.5), nil},
		{"down beside what stands", "", unplunge, beside(1.5), nil},
		{"a pitch at the rim", "", unplunge, beside(1.25), nil},
		{"less than two pitches at the rim", "", unplunge, beside(1.01), nil},
		{"plunge onto a wall a cell thick", "", unplunge, onWall(0.25), nil},
		{"plunge onto a wall of three cells", "plunge", unplunge, onWall(0.75), nil},
		{"plunge by one that may", "", ball, []path.Move{rapid(0, 20, 15), feed(0, 20, 9), rapid(0, 20, 15)}, nil},
		{"down in air", "", unplunge, []path.Move{rapid(-14, 20, 15), feed(-14, 20, 9), feed(14, 20, 9), rapid(14, 20, 15)}, nil},
		{"steep ramp", "ramp", unplunge, []path.Move{rapid(-5, 20, 15), feed(-5, 20, 10), feed(0, 20, 9), feed(5, 20, 9), rapid(5, 20, 15)}, nil},
		{"flat ramp", "", unplunge, []path.Move{rapid(-9, 20, 15), feed(-9, 20, 10), feed(9, 20, 9.2), feed(5, 20, 9.2), rapid(5, 20, 15)}, nil},
	} {
		s := slab()
		s.GougeTol = 0.005
		if c.set != nil {
			c.set(&s)
		}
		r := run(t, s, program("a.nc", 0, c.c, lines(c.mv...)))
		if got := codes(r); got != c.want {
			t.Errorf("%s: found %q, want %q", c.name, got, c.want)
			for _, f := range r.Findings {
				t.Log(f)
			}
		}
		if c.want != "" && r.Verdict != NotProven {
			t.Errorf("%s: verdict %q", c.name, r.Verdict)
		}
	}
}

// One move does, many do.
func TestOneMoveGoes(t *testing.T) {
	down := func(x float64) []path.Move { return []path.Move{rapid(x, 20, 15), feed(x, 20, 9), rapid(x, 20, 15)} }
	for _, c := range []struct {
		mv   []path.Move
		want string
	}{{down(0), "1 move goes straight down"}, {append(down(0), down(5)...), "2 moves go straight down"}} {
		s := slab()
		if f := has(run(t, s, program("a.nc", 0, flatCutter(1.5), lines(c.mv...))), "plunge"); f == nil || !strings.HasPrefix(f.Text, c.want) {
			t.Errorf("want %q: %v", c.want, f)
		}
	}
	for verb, want := range map[string]string{"go": "goes", "have": "has", "bring": "brings"} {
		if got := inflect(verb, 1); got != want {
			t.Errorf("one %s: %s", want, got)
		}
	}
}

func TestLimits(t *testing.T) {
	mv := func() []path.Move {
		return lines(rapid(-14, 20, 15), feed(-14, 20, 9), feed(14, 20, 9), rapid(14, 20, 15))
	}
	c := ballCutter(1.5)
	for _, x := range []struct {
		name, want string
		sev        finding.Severity
		change     func(*Setup, *Program)
	}{
		{"fine", "", 0, func(*Setup, *Program) {}},
		{"spindle off", "spindle-off", finding.Blocking, func(_ *Setup, p *Program) { p.SpindleRPM = 0 }},
		{"spindle too fast", "spindle-range", finding.Blocking, func(_ *Setup, p *Program) { p.SpindleRPM = 24000 }},
		{"spindle too slow", "spindle-range", finding.Blocking, func(s *Setup, p *Program) { s.Machine.SpindleMin, p.SpindleRPM = 5000, 4999 }},
		{"cutter too fast", "cutter-speed", finding.Blocking, func(_ *Setup, p *Program) { p.Cutter.MaxRPM = 9000 }},
		{"feed over the rate", "feed-rate", finding.Note, func(_ *Setup, p *Program) { p.Moves[2].Feed = 51 }},
		{"no feed", "feed-zero", finding.Blocking, func(_ *Setup, p *Program) { p.Moves[2].Feed = 0 }},
		{"travel", "travel", finding.Blocking, func(s *Setup, _ *Program) { s.Machine.Travel[0] = 27.9 }},
		{"travel from a corner", "travel", finding.Blocking, func(s *Setup, _ *Program) { s.Zero = &geom.Vec3{X: 13.9, Y: 100, Z: 50} }},
		{"travel along X", "travel", finding.Blocking, func(s *Setup, _ *Program) { s.Machine.BarAlong, s.Machine.Travel[1] = "x", 27.9 }},
		// 40 in/min, 10 000 /min, two flutes: 0.002 in a tooth (common practice, no source); 16.933 mm/s is
		// 0.0508 mm a tooth, 0.016933 of Ø3
		{"chip too thick", "chip-load", finding.Warning, func(s *Setup, p *Program) { p.Moves[2].Feed, s.Limits = 16.9333333333, Limits{ChipMax: 0.01693} }},
		{"chip right", "", 0, func(s *Setup, p *Program) { p.Moves[2].Feed, s.Limits = 16.9333333333, Limits{ChipMax: 0.01694} }},
		{"chip thin", "chip-thin", finding.Note, func(s *Setup, _ *Program) { s.Limits = Limits{ChipMin: 0.5, ChipMax: 1} }},
		// π · 3 mm · 10 000 /min = 94.25 m/min
		{"surface speed", "surface-speed", finding.Warning, func(s *Setup, _ *Program) { s.Limits = Limits{SpeedMax: 94.2} }},
		{"surface slow", "surface-slow", finding.Note, func(s *Setup, _ *Program) { s.Limits = Limits{SpeedMin: 94.3, SpeedMax: 200} }},
	} {
		s, p := slab(), program("a.nc", 0, c, mv())
		x.change(&s, &p)
		r := run(t, s, p)
		if got := codes(r); got != x.want {
			t.Errorf("%s: found %q, want %q", x.name, got, x.want)
		}
		if f := has(r, x.want); x.want != "" && (f == nil || f.Severity != x.sev) {
			t.Errorf("%s: %v", x.name, f)
		}
	}
}

// Cutting the bar through leaves its end loose; leaving a bridge does not.
func TestLoosePiece(t *testing.T) {
	cut := func(x float64, z float64) []path.Move {
		mv := []path.Move{rapid(-14, 20, 15)}
		for d := 7.0; d > z; d -= 3 {
			mv = append(mv, feed(-14, 20, d), feed(x, 20, d), feed(-14, 20, d))
		}
		return lines(append(mv, feed(-14, 20, z), feed(x, 20, z), feed(-14, 20, z), rapid(-14, 20, 15))...)
	}
	c := ballCutter(1.5)
	c.Profile = cutter.FlatEnd(1.5)
	s := slab()
	s.Target = sample.Box(v3(-9, 30, -9), v3(9, 35, 9))
	r := run(t, s, program("off.nc", 0, c, cut(14, -11)))
	if got := codes(r); got != "loose-piece" {
		t.Errorf("cut off: %q", got)
	}
	r = run(t, s, program("off.nc", 0, c, cut(7, -11)))
	if got := codes(r); got != "" {
		t.Errorf("bridge: %q", got)
	}
}

// A slot's figures by closed form: a flat end straight across a square bar.
func TestFigures(t *testing.T) {
	c := flatCutter(1.5)
	c.Plunges = true
	s := slab()
	s.Pitch = 0.05
	var after []float64
	s.After = func(i int, st *stock.Stack) { after = append(after, st.Volume()) }
	r := run(t, s, program("a.nc", 0, c, lines(rapid(-14, 20, 15), feed(-14, 20, 8), feed(14, 20, 8), feed(14, 20, 15), rapid(-14, 20, 15))),
		program("b.nc", 0, c, lines(rapid(-14, 20, 15), feed(-14, 20, 8), feed(14, 20, 8), feed(14, 20, 15))))
	f := r.Programs[0]
	near(t, "removed", f.Removed, 20*3*2, 2.5)
	near(t, "removed, by the stack", 20*20*40-after[0], 20*3*2, 3.1)
	near(t, "depth", f.MaxDepth, 2, 1e-5)
	near(t, "in material", f.CutLength, 28, 1e-9)
	near(t, "full width", f.FullLength, 28, 1e-9)
	near(t, "air", f.AirLength, 7+7, 1e-9)
	near(t, "rapid", f.RapidLength, math.Sqrt(14*14+20*20+25*25)+28, 1e-9)
	near(t, "again: all air", r.Programs[1].AirLength, 7+28+7, 1e-9)
	near(t, "holder over the bar", f.MinClearance, 28, 0.03)
	if len(after) != 2 || after[0] != after[1] || r.Moves != 9 || r.Stack == nil {
		t.Errorf("after %v, moves %d", after, r.Moves)
	}
}

// The top against nodes lowered one by one by a fine walk along the move; never above what it is by
// more than the walk's grain, and never below.
func TestTopAgainstWalk(t *testing.T) {
	for _, c := range fiveCutters {
		s := stock.New(slab().Bar, []float64{0}, 0.25)
		for _, w := range []way{newWay(v3(-3, 15, 8), v3(2, 18, 9.5)), newWay(v3(4, 30, 9), v3(4, 31, 6)), newWay(v3(0, 10, 9), v3(0, 10, 8)), newWay(v3(0, 10, 9), v3(7, 10, 9))} {
			f := newForm(c.p)
			got, slow := newTop(s.Seen(0)), s.Seen(0)
			o := got.cut(&f, &w, -1, false)
			const n = 600
			removed := 0.0
			for j := range slow.NY {
				for i := range slow.NX {
					was := slow.Z[j*slow.NX+i]
					if y := slow.Y(j); y < min(w.a.Y, w.b.Y)-3 || y > max(w.a.Y, w.b.Y)+3 {
						continue
					}
					in, out := was, was // by a cutter a tenth of a µm smaller, and larger
					for k := 0; k <= n; k++ {
						p := w.a.Lerp(w.b, float64(k)/n)
						if w.l == 0 {
							p.Z = w.low
						}
						r := math.Hypot(slow.X(i)-p.X, slow.Y(j)-p.Y)
						if r > c.p.R+1e-4 {
							continue
						}
						z := float32(p.Z + c.p.Height(min(r, c.p.R)))
						out = min(out, z)
						if r < c.p.R-1e-4 {
							in = min(in, z)
						}
					}
					removed += float64(was-out) * slow.DX * slow.DY
					if g := got.f.Z[j*slow.NX+i]; g > in+1e-5 || g < out-0.02-0.05*(was-out) {
						t.Fatalf("%s: node %d %d: %g, walked %g to %g from %g", c.name, i, j, g, in, out, was)
					}
				}
			}
			near(t, c.name+" volume", o.volume, removed, 0.02*removed+1e-6)
		}
	}
}

// meets is never less than what nodes say one by one, and roof never less than any node.
func TestRoof(t *testing.T) {
	s := stock.New(slab().Bar, []float64{0}, 0.25)
	tp := newTop(s.Seen(0))
	f := newForm(cutter.Ball(1))
	w := newWay(v3(-3, 15, 7), v3(5, 22, 8))
	tp.cut(&f, &w, 0, false)
	tp.f.Z[37*tp.f.NX+11] = 9
	tp = newTop(tp.f)
	for _, b := range [][4]int{{0, 5, 0, 5}, {8, 12, 30, 40}, {20, 60, 55, 90}, {40, 41, 70, 71}} {
		most := float32(math.Inf(-1))
		for j := b[2]; j <= b[3]; j++ {
			for i := b[0]; i <= b[1]; i++ {
				most = max(most, tp.f.At(i, j))
			}
		}
		for _, enough := range []float32{-100, 7, 9.5, 20} {
			if got := tp.roof(b[0], b[1], b[2], b[3], enough); got < most {
				t.Errorf("roof of %v: %g, a node stands at %g", b, got, most)
			}
		}
	}
}

// What the replay leaves of the bar is what the stack's own cuts leave, move by move, for every shape.
func TestLeavesWhatTheStackCuts(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for _, c := range fiveCutters {
		s := slab()
		s.Sides, s.Keep.Y = []float64{0, 90}, [][2]float64{{-100, 100}}
		slow := stock.New(s.Bar, s.Sides, s.Pitch)
		var progs []Program
		for side := range s.Sides {
			at := v3(0, 20, 9)
			mv := []path.Move{rapid(0, 20, 15), feed(0, 20, 9)}
			slow.Cut(side, c.p, v3(0, 20, 15), at)
			for range 60 {
				to := v3(18*rng.Float64()-9, 12+24*rng.Float64(), 5+5*rng.Float64())
				if rng.IntN(2) == 0 {
					to = at.Add(v3(rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()).Mul(0.3))
				}
				mv = append(mv, feed(to.X, to.Y, to.Z))
				slow.Cut(side, c.p, at, to)
				at = to
			}
			k := ballCutter(1.5)
			k.Profile = c.p
			progs = append(progs, program("a.nc", s.Sides[side], k, lines(mv...)))
		}
		r := run(t, s, progs...)
		for side := range s.Sides {
			got, want := r.Stack.Field(side), slow.Field(side)
			for i, z := range want.Z {
				if g := got.Z[i]; g != z && !(math.Abs(float64(g-z)) < 2e-5) {
					t.Fatalf("%s, side %d, node %d: %g, cut one by one %g", c.name, side, i, g, z)
				}
			}
		}
	}
}

// On an arc the axes of its plane count, and the third by what it rises; by how the bar lies. Rates 50, 40 and 25
// mm/s: the greatest share asked is the feed, or its part, over the least of those that move.
func TestOverRate(t *testing.T) {
	half := math.Pi // a half circle of radius 1 that rises by π runs at √½ of the feed both ways
	for _, c := range []struct {
		name  string
		along machine.Axis
		mv    path.Move
		want  float64
	}{
		{"level arc", "y", path.Move{To: geom.Vec3{X: 2}, Centre: geom.Vec3{X: 1}, Mode: path.ArcCW}, 50.0 / 40},
		{"upright arc across", "y", path.Move{To: geom.Vec3{X: 2}, Centre: geom.Vec3{X: 1}, Mode: path.ArcCW, Plane: path.PlaneXZ}, 50.0 / 25},
		{"helix", "y", path.Move{To: geom.Vec3{X: 2, Z: -half}, Centre: geom.Vec3{X: 1}, Mode: path.ArcCCW}, 50 * math.Sqrt(0.5) / 25},
		{"line across", "y", path.Move{To: geom.Vec3{X: 2}, Mode: path.Line}, 1},
		{"line across, bar along X", "x", path.Move{To: geom.Vec3{X: 2}, Mode: path.Line}, 50.0 / 40},
		{"line up", "y", path.Move{To: geom.Vec3{Z: 1}, Mode: path.Line}, 2},
		{"level arc, bar along X", "x", path.Move{To: geom.Vec3{X: 2}, Centre: geom.Vec3{X: 1}, Mode: path.ArcCW}, 50.0 / 40},
	} {
		s := slab()
		s.Machine.Rate, s.Machine.BarAlong = [3]float64{50, 40, 25}, c.along
		c.mv.Feed = 50
		r := &replayer{set: &s}
		if got := r.overRate(0, &c.mv, geom.Vec3{}); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("%s: %g times the rate, want %g", c.name, got, c.want)
		}
	}
}
