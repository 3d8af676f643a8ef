package finish

import (
	"context"
	"errors"
	"fmt"
	"math"
	"reflect"
	"runtime"
	"strconv"
	"testing"

	"barwise/finding"
	"barwise/geom"
	"barwise/geom/field"
	"barwise/geom/mesh"
	"barwise/geom/mesh/sample"
	"barwise/plan/cl"
	"barwise/plan/share"
	"barwise/shop/cutter"
	"barwise/shop/machine"
)

func fourSides(x, z float64) []Side {
	var s []Side
	for _, d := range []float64{0, 90, 180, 270} {
		s = append(s, Side{Deg: d, XMin: -x, XMax: x, ZMin: z})
	}
	return s
}

func mustPlan(t testing.TB, in Input, p Params) *Output {
	t.Helper()
	out, err := Plan(context.Background(), in, p)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// worst returns the greatest and least height left over the spots.
func worst(c *sample.Swept, ss []spot) (hi, lo float64, at spot) {
	hi, lo = math.Inf(-1), math.Inf(1)
	for _, s := range ss {
		l := c.Left(s.p, s.n)
		lo = min(lo, l)
		if l > hi {
			hi, at = l, s
		}
	}
	return hi, lo, at
}

var fine = Params{Cusp: 0.004, Tolerance: 0.0004, Decimals: 5}

// The cusp really left on planes is at most what was asked, whatever the slope and the direction.
func TestCuspOnPlanes(t *testing.T) {
	const r = 1.5
	for _, deg := range []float64{0, 30, 45, 60, 75} {
		g := math.Tan(deg * math.Pi / 180)
		for _, c := range []struct {
			name   string
			ga, gc float64
		}{{"along", g, 0}, {"across", 0, g}, {"askew", g / math.Sqrt2, g / math.Sqrt2}} {
			for _, dir := range []Direction{Along, Across, Either} {
				t.Run(fmt.Sprintf("%g %s %d", deg, c.name, dir), func(t *testing.T) {
					half := 3.0
					m := slope(20, c.ga, c.gc)
					p := fine
					p.Direction = dir
					in := Input{Input: share.Input{Surface: cl.NewSurface(m), Mesh: m, Cutter: cutter.Ball(r), YMin: -half, YMax: half,
						Sides: []Side{{XMin: -half, XMax: half, ZMin: -50}}}}
					out := mustPlan(t, in, p)
					caps := sweep(out, r)
					// only what lies below where the tip may be
					var ss []spot
					for _, s := range spots(m, 20000, 1) {
						q := s.p.Add(s.n.Mul(r))
						if math.Abs(q.X) < half-0.6 && math.Abs(q.Y) < half-0.6 {
							ss = append(ss, s)
						}
					}
					hi, lo, at := worst(caps, ss)
					if hi > p.Cusp*1.05+p.Tolerance || lo < -p.Tolerance {
						t.Errorf("%d spots: %.2f to %.2f µm left, %.2f asked; worst at %v", len(ss), lo*1e3, hi*1e3, p.Cusp*1e3, at.p)
					}
					if hi < 0.3*p.Cusp {
						t.Errorf("only %.2f µm left where %.2f may be: the passes are too close", hi*1e3, p.Cusp*1e3)
					}
				})
			}
		}
	}
}

type solid struct {
	name string
	mesh *mesh.Mesh
	half float64 // greatest distance from the axis
	y    float64 // half length
}

func solids() []solid {
	l := []geom.Vec2{{X: -6, Y: -4}, {X: 6, Y: -4}, {X: 6, Y: 4}, {X: 2, Y: 4}, {X: 2, Y: 0}, {X: -6, Y: 0}}
	// a mushroom: a groove all along x under a cap, which two sides reach and one does not
	g := []geom.Vec2{{X: -6, Y: -4}, {X: 6, Y: -4}, {X: 6, Y: 4}, {X: -6, Y: 4}, {X: -6, Y: 2}, {X: 1, Y: 2}, {X: 1, Y: -1}, {X: -6, Y: -1}}
	return []solid{
		{"sphere", sample.Ellipsoid(geom.Vec3{X: 5, Y: 5, Z: 5}, 60), 5, 5},
		{"ellipsoid", sample.Ellipsoid(geom.Vec3{X: 4, Y: 7, Z: 2.5}, 60), 4, 7},
		{"torus", sample.Ring(4, 1.6, 50), 5.6, 1.6},
		{"step", prism(3, l), 4, 6},
		{"undercut", prism(3, g), 4, 6},
		// walls that look along the bar, up from ground that every side looks down on
		{"flange", sample.Revolved([]geom.Vec2{{Y: -6}, {X: 2.5, Y: -6}, {X: 2.5, Y: -1}, {X: 4.5, Y: -1}, {X: 4.5, Y: 1}, {X: 2.5, Y: 1}, {X: 2.5, Y: 6}, {Y: 6}}, 120), 4.5, 6},
	}
}

// mill is a light machine, values typical, no source.
var mill = machine.Machine{Rate: [3]float64{50, 50, 25}, Accel: [3]float64{400, 400, 200}, CornerDeviation: 0.01, Lookahead: 15, BlockRate: 400}

// What some side can reach is cut from one, to the cusp; nothing is cut too deep.
func TestSolidsAreCovered(t *testing.T) {
	const r = 0.8
	for _, s := range solids() {
		for _, way := range []Way{{Raster, Along}, {Raster, Either}, {ConstantCusp, Along}, {Best, Along}} {
			if way.Strategy != Raster && s.name != "torus" && s.name != "step" && s.name != "flange" {
				continue // the same at more cost
			}
			t.Run(fmt.Sprintf("%s %d %d", s.name, way.Strategy, way.Direction), func(t *testing.T) {
				p := Params{Cusp: 0.01, Tolerance: 0.001, Decimals: 4, Direction: way.Direction, Passes: way.Strategy, Machine: mill, Feed: 24}
				w := s.half + r + 0.2
				in := Input{Input: share.Input{Surface: cl.NewSurface(s.mesh), Mesh: s.mesh, Cutter: cutter.Ball(r), Sides: fourSides(w, -s.half-1),
					YMin: -s.y - r - 0.2, YMax: s.y + r + 0.2}}
				out := mustPlan(t, in, p)
				for _, o := range out.Sides {
					for _, q := range o.Tried {
						if way.Strategy == Best && q.Seconds < 0.9*o.Seconds {
							t.Errorf("side %g: %v takes %.0f s, %v would take %.0f", o.Deg, o.Way, o.Seconds, q.Way, q.Seconds)
						}
					}
				}
				caps := sweep(out, r)
				ss := reachable(in, spots(s.mesh, 5000, 2))
				hi, lo, at := worst(caps, ss)
				missed := 0
				for _, q := range ss {
					if caps.Left(q.p, q.n) > 1.1*p.Cusp+2*p.Tolerance {
						missed++
					}
				}
				if missed > 0 || lo < -p.Tolerance {
					t.Errorf("%d of %d spots above the cusp; %.2f to %.2f µm left, %.2f asked; worst at %.3f normal %.3f", missed, len(ss), lo*1e3, hi*1e3, p.Cusp*1e3, at.p, at.n)
				}
			})
		}
	}
}

// reachable keeps the spots that the ball touches from some side without gouging elsewhere.
func reachable(in Input, ss []spot) []spot {
	var ix []*cl.Index
	for _, s := range in.Sides {
		ix = append(ix, in.Surface.Index(geom.TurnDeg(s.Deg)))
	}
	var out []spot
	for _, s := range ss {
		for k, side := range in.Sides {
			c := geom.TurnDeg(side.Deg).ToSide(s.p.Add(s.n.Mul(in.Cutter.R)))
			tip := c.Z - in.Cutter.R
			inside := c.X > side.XMin && c.X < side.XMax && c.Y > in.YMin && c.Y < in.YMax && tip > side.ZMin
			if inside && ix[k].Height(in.Cutter, c.X, c.Y) < tip+1e-6 {
				out = append(out, s)
				break
			}
		}
	}
	return out
}

// A path never lies below the exact surface by more than its bound, square to the surface: the cutter
// shrunk by the bound touches nothing, asked densely along every move.
func TestPathsDoNotGouge(t *testing.T) {
	const r = 0.8
	for _, s := range solids() {
		t.Run(s.name, func(t *testing.T) {
			p := Params{Cusp: 0.02, Tolerance: 0.002, Decimals: 3, Direction: Either}
			w := s.half + r + 0.2
			in := Input{Input: share.Input{Surface: cl.NewSurface(s.mesh), Mesh: s.mesh, Cutter: cutter.Ball(r), Sides: fourSides(w, -s.half-1),
				YMin: -s.y - r - 0.2, YMax: s.y + r + 0.2}}
			notGouging(t, in, p, 3)
		})
	}
}

// notGouging holds every move, or each nth of them, against the cutter less half the tolerance.
func notGouging(t *testing.T, in Input, p Params, nth int) {
	t.Helper()
	out := mustPlan(t, in, p)
	small, rise, _ := in.Cutter.Grown(-p.Tolerance / 2)
	moves, asked := 0, 0
	for _, o := range out.Sides {
		ix := in.Surface.Index(geom.TurnDeg(o.Deg))
		for _, ps := range o.Passes {
			for k := 1; k < len(ps.Points); k++ {
				a, b := ps.Points[k-1], ps.Points[k]
				if moves++; moves%nth != 0 {
					continue
				}
				n := int(b.Sub(a).Len()/0.03) + 2
				for i := range n {
					q := a.Lerp(b, (float64(i)+0.5)/float64(n))
					asked++
					if h := ix.Height(small, q.X, q.Y); h > q.Z+rise+1e-9 {
						t.Fatalf("side %g°: at %v the cutter less %.1f µm still cuts %.2f µm, move %v to %v", o.Deg, q, p.Tolerance/2*1e3, (h-q.Z-rise)*1e3, a, b)
					}
				}
			}
		}
	}
	t.Logf("%d moves, %d places", moves, asked)
}

// A flange whose rim slopes down to an edge, with its wall of tips a hair beyond a row of nodes: there the lowest
// height wanted changes while the wall stands between two samples, and both are held up by it. Shifts bring the
// wall to other places between nodes.
func TestWallBetweenTwoLimits(t *testing.T) {
	const r = 0.8
	for _, edge := range []float64{0.0003, 0.0207, 0.0411, -0.0002, -0.0195} {
		m := sample.Revolved([]geom.Vec2{{Y: -6}, {X: 2, Y: -6}, {X: 2, Y: -2}, {X: 4.5, Y: -1.5}, {X: 3.6, Y: edge}, {X: 2, Y: edge}, {X: 2, Y: 5}, {Y: 5}}, 120)
		in := Input{Input: share.Input{Surface: cl.NewSurface(m), Mesh: m, Cutter: cutter.Ball(r), Sides: fourSides(5.6, -5), YMin: -7, YMax: 6}}
		notGouging(t, in, Params{Cusp: 0.02, Tolerance: 0.002, Decimals: 4}, 1)
	}
}

// A quarter turn of the model turns the sides' work and changes nothing else.
func TestQuarterTurn(t *testing.T) {
	const r = 0.8
	m := sample.Ellipsoid(geom.Vec3{X: 4, Y: 5, Z: 2.5}, 40)
	m = mesh.Join(moved(m, geom.Vec3{X: 0.3, Z: -0.2}), moved(sample.Ellipsoid(geom.Vec3{X: 1, Y: 2, Z: 1}, 20), geom.Vec3{X: 2, Y: 3, Z: 2}))
	turned := m.Map(geom.TurnDeg(90).ToSide)
	run := func(m *mesh.Mesh) *Output {
		in := Input{Input: share.Input{Surface: cl.NewSurface(m), Mesh: m, Cutter: cutter.Ball(r), Sides: fourSides(6, -6), YMin: -6, YMax: 6}}
		return mustPlan(t, in, Params{Cusp: 0.02, Tolerance: 0.002, Decimals: 3})
	}
	a, b := run(m), run(turned)
	for i := range a.Sides {
		p, q := a.Sides[i], b.Sides[(i+3)%4]
		if math.Abs(p.CutLength-q.CutLength) > 0.002*p.CutLength || math.Abs(p.ShareArea-q.ShareArea) > 0.002*p.ShareArea {
			t.Errorf("side %g°: %.2f mm over %.2f mm², turned %.2f mm over %.2f mm²", p.Deg, p.CutLength, p.ShareArea, q.CutLength, q.ShareArea)
		}
	}
}

// The same bytes whatever the number of cores.
func TestSameOnAnyNumberOfCores(t *testing.T) {
	in := Input{Input: share.Input{Surface: cl.NewSurface(sample.Ring(4, 1.6, 40)), Cutter: cutter.Ball(0.8), Sides: fourSides(7, -7), YMin: -3, YMax: 3}}
	p := Params{Cusp: 0.02, Tolerance: 0.002, Decimals: 3, Direction: Either}
	old := runtime.GOMAXPROCS(1)
	a := mustPlan(t, in, p)
	runtime.GOMAXPROCS(4)
	b := mustPlan(t, in, p)
	runtime.GOMAXPROCS(old)
	if !reflect.DeepEqual(a, b) {
		t.Error("one core and four give different passes")
	}
}

// A smaller cusp is a longer cut; a quarter of the cusp about doubles it.
func TestSmallerCuspIsLonger(t *testing.T) {
	in := Input{Input: share.Input{Surface: cl.NewSurface(sample.Ellipsoid(geom.Vec3{X: 4, Y: 5, Z: 4}, 40)), Cutter: cutter.Ball(0.8), Sides: fourSides(5, -5), YMin: -6, YMax: 6}}
	last := 0.0
	for _, h := range []float64{0.08, 0.04, 0.02, 0.01} {
		n := 0.0
		for _, s := range mustPlan(t, in, Params{Cusp: h, Tolerance: 0.002, Decimals: 3}).Sides {
			n += s.CutLength
		}
		if n <= last {
			t.Errorf("cusp %g: %.1f mm, no longer than at twice the cusp, %.1f", h, n, last)
		}
		last = n
	}
}

// Every coordinate is a number the program can hold.
func TestPointsAreRepresentable(t *testing.T) {
	in := Input{Input: share.Input{Surface: cl.NewSurface(sample.Ring(4, 1.6, 30)), Cutter: cutter.Ball(0.8), Sides: fourSides(7, -7), YMin: -3, YMax: 3}}
	for _, s := range mustPlan(t, in, Params{Cusp: 0.02, Tolerance: 0.002, Decimals: 3, Direction: Either}).Sides {
		for _, p := range s.Passes {
			for _, q := range p.Points {
				for _, x := range [3]float64{q.X, q.Y, q.Z} {
					text := strconv.FormatFloat(x, 'f', 3, 64)
					if back, _ := strconv.ParseFloat(text, 64); back != x {
						t.Fatalf("%v is not %s", x, text)
					}
				}
			}
		}
	}
}

func TestBadInput(t *testing.T) {
	good := Input{Input: share.Input{Surface: cl.NewSurface(sample.Ring(4, 1.6, 8)), Cutter: cutter.Ball(0.8), Sides: fourSides(7, -7), YMin: -3, YMax: 3}}
	p := Params{Cusp: 0.02, Tolerance: 0.002, Decimals: 3}
	for name, change := range map[string]func(*Input, *Params){
		"no side":      func(in *Input, p *Params) { in.Sides = nil },
		"no cusp":      func(in *Input, p *Params) { p.Cusp = 0 },
		"no tolerance": func(in *Input, p *Params) { p.Tolerance = math.NaN() },
		"no decimals":  func(in *Input, p *Params) { p.Decimals = 0 },
		"empty":        func(in *Input, p *Params) { in.YMin = 4 },
		"no depth":     func(in *Input, p *Params) { in.Sides = []Side{{XMin: -1, XMax: 1, ZMin: math.Inf(-1)}} },
	} {
		in, q := good, p
		change(&in, &q)
		if _, err := Plan(context.Background(), in, q); !finding.IsInput(err) {
			t.Errorf("%s: %v", name, err)
		}
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Plan(ctx, good, p); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
}

// Where the reach of the cutter ends, another side takes over what it can touch; nothing is emitted below
// the floor.
func TestReachIsKept(t *testing.T) {
	const r = 0.8
	m := sample.Ellipsoid(geom.Vec3{X: 5, Y: 5, Z: 5}, 60)
	p := Params{Cusp: 0.01, Tolerance: 0.001, Decimals: 4}
	for name, change := range map[string]func(s []Side){
		"one side cut short": func(s []Side) { s[0].ZMin = 4 },
		"a slanting floor": func(s []Side) {
			f := field.New(field.Cover(-7, 7, -7, 7, 0.4, 0.4), 0)
			for j := range f.NY {
				for i := range f.NX {
					f.Z[j*f.NX+i] = float32(2 + f.X(i)/2)
				}
			}
			s[0].Floor = f
		},
		"two sides opposite": func(s []Side) { s[1].ZMin, s[3].ZMin = 4.9, 4.9 },
	} {
		t.Run(name, func(t *testing.T) {
			in := Input{Input: share.Input{Surface: cl.NewSurface(m), Mesh: m, Cutter: cutter.Ball(r), Sides: fourSides(6, -6), YMin: -6, YMax: 6}}
			change(in.Sides)
			out := mustPlan(t, in, p)
			ss := reachable(in, spots(m, 4000, 3))
			if hi, _, at := worst(sweep(out, r), ss); hi > 1.1*p.Cusp+p.Tolerance {
				t.Errorf("%d spots: %.2f µm left, worst at %.3f", len(ss), hi*1e3, at.p)
			}
			for k, s := range in.Sides {
				if len(out.Sides[k].Passes) == 0 {
					t.Errorf("side %g° cuts nothing", s.Deg)
				}
				for _, ps := range out.Sides[k].Passes {
					for _, q := range ps.Points {
						low := s.ZMin
						if s.Floor != nil { // bilinear is below the greatest node around
							low = 2 + q.X/2
						}
						if q.Z < low-1e-6 {
							t.Fatalf("side %g°: point %v below %g", s.Deg, q, low)
						}
					}
				}
			}
		})
	}
}

// Allowance: the ball stays that far off, and no farther than the tolerance and the last decimal allow.
func TestAllowance(t *testing.T) {
	const r, a = 0.8, 0.15
	m := sample.Ellipsoid(geom.Vec3{X: 4, Y: 5, Z: 4}, 60)
	in := Input{Input: share.Input{Surface: cl.NewSurface(m), Mesh: m, Cutter: cutter.Ball(r), Allowance: a, Sides: fourSides(6, -6), YMin: -6, YMax: 6}}
	p := Params{Cusp: 0.02, Tolerance: 0.002, Decimals: 3}
	for _, s := range mustPlan(t, in, p).Sides {
		ix := in.Surface.Index(geom.TurnDeg(s.Deg))
		for _, ps := range s.Passes {
			for k, q := range ps.Points {
				if k%5 > 0 {
					continue
				}
				// the greater ball of radius r + a stands with its tip a lower
				if h := ix.Height(cutter.Ball(r+a), q.X, q.Y) + a; h > q.Z+0.0005 {
					t.Fatalf("side %g°: %v is %.2f µm too low", s.Deg, q, (h-q.Z)*1e3)
				}
			}
		}
	}
}
