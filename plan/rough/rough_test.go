package rough

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"reflect"
	"runtime"
	"testing"

	"barwise/finding"
	"barwise/geom"
	"barwise/geom/field"
	"barwise/path"
	"barwise/shop/cutter"
)

// along visits points of every feed segment, at most step apart.
func along(passes []path.Pass, step float64, visit func(p geom.Vec3)) {
	each(passes, func(a, b geom.Vec3) {
		n := int(b.Sub(a).Len()/step) + 1
		for i := 0; i <= n; i++ {
			visit(a.Lerp(b, float64(i)/float64(n)))
		}
	})
}

// The law of roughing: no pass takes more of the allowance than the stated bound, and none leaves the
// region. Expected heights are closed forms.
func TestStaysOffTheModel(t *testing.T) {
	for _, pitch := range []float64{0.12, 0.073} {
		for _, s := range scenes() {
			if pitch < 0.1 && s.name != "slanted" && s.name != "dome" {
				continue
			}
			p := params()
			in := s.input(pitch, p)
			out := run(t, in, p)
			if out.Bound > allowance/10 {
				t.Errorf("%s: bound %g is not well under the allowance", s.name, out.Bound)
			}
			worst, outside := 0.0, 0.0
			g := in.Region
			along(out.Passes, 0.02, func(q geom.Vec3) {
				outside = max(outside, g.XMin-q.X, q.X-g.XMax, g.YMin-q.Y, q.Y-g.YMax)
				if q.Z < in.Bottom-1e-9 {
					t.Fatalf("%s: below the bottom at %v", s.name, q)
				}
				if q.Z < s.target(q.XY(), p.Cutter.R, allowance-out.Bound)-1e-6 {
					lo, hi := 0.0, allowance
					for range 40 {
						if m := (lo + hi) / 2; q.Z < s.target(q.XY(), p.Cutter.R, m)-1e-6 {
							hi = m
						} else {
							lo = m
						}
					}
					worst = max(worst, allowance-lo)
				}
			})
			if worst > 0 || outside > 1e-9 {
				t.Errorf("%s at %g mm: %g mm of the allowance taken, allowed %g; %g mm outside the region", s.name, pitch, worst, out.Bound, outside)
			}
		}
	}
}

// A ball end and a bull end on a sphere: the tip's closed form is the sphere grown by the allowance
// and the rounding, shifted out by the flat.
func TestRoundEndsStayOffADome(t *testing.T) {
	for _, c := range []cutter.Profile{cutter.Ball(1.5), cutter.Bull(1.5, 0.4)} {
		s := domeScene()
		centre, rho := geom.Vec2{X: 0.3, Y: 18.2}, 7.5
		s.target = func(p geom.Vec2, _, a float64) float64 {
			d, k := max(0, p.Sub(centre).Len()-c.Flat), rho+a+c.Round
			if d >= k {
				return math.Inf(-1)
			}
			return math.Sqrt(k*k-d*d) - c.Round
		}
		p := params()
		p.Cutter.Profile = c
		p.Stepover = 1
		in := s.input(0.12, p)
		out := run(t, in, p)
		along(out.Passes, 0.05, func(q geom.Vec3) {
			if low := s.target(q.XY(), 0, allowance-out.Bound); q.Z < low-1e-6 {
				t.Fatalf("%+v: tip at %v, lowest allowed %g", c, q, low)
			}
		})
		in.Seen = replay(in.Seen, 0.15, out.Passes, c)
		if again := run(t, in, p); again.Cut > 0.02*out.Cut {
			t.Errorf("%+v: a second run cuts %g mm after %g", c, again.Cut, out.Cut)
		}
	}
}

// What the passes leave, replayed segment by segment on another grid, is held against what the cutter
// could at best: for every place the least tip height within R of it.
func TestLeavesNoMoreThanAStep(t *testing.T) {
	for _, s := range []scene{bossScene(), pocketScene(), domeScene()} {
		p := params()
		in := s.input(0.12, p)
		out := run(t, in, p)
		left := replay(in.Seen, 0.1, out.Passes, p.Cutter.Profile)
		r := p.Cutter.R
		g := in.Region
		best := field.New(left.Grid, float32(math.Inf(1)))
		for j := range left.NY {
			for i := range left.NX {
				q := geom.Vec2{X: left.X(i), Y: left.Y(j)}
				if q.X < g.XMin || q.X > g.XMax || q.Y < g.YMin || q.Y > g.YMax {
					continue
				}
				z := float32(max(s.target(q, r, allowance), in.Bottom))
				for b := max(j-15, 0); b <= min(j+15, left.NY-1); b++ {
					for a := max(i-15, 0); a <= min(i+15, left.NX-1); a++ {
						if (a-i)*(a-i)+(b-j)*(b-j) <= 190 { // R less the target's pitch, which bounds what its nodes cannot tell
							k := b*left.NX + a
							best.Z[k] = min(best.Z[k], z)
						}
					}
				}
			}
		}
		over, all := 0, 0
		for k, z := range left.Z {
			if z == field.Empty || math.IsInf(float64(best.Z[k]), 1) {
				continue
			}
			all++
			if float64(z) > float64(best.Z[k])+p.Stepdown+1e-3 {
				over++
			}
		}
		if share := float64(over) / float64(all); share > 0.003 {
			t.Errorf("%s: %.2f %% of the area is left more than a step high", s.name, 100*share)
		}
	}
}

func TestSecondRunFindsNothing(t *testing.T) {
	for _, s := range scenes() {
		p := params()
		in := s.input(0.12, p)
		out := run(t, in, p)
		in.Seen = replay(in.Seen, 0.15, out.Passes, p.Cutter.Profile)
		again := run(t, in, p)
		if again.Cut > 0.005*out.Cut || again.Air > 0.01*(out.Cut+out.Air) {
			t.Errorf("%s: first %g mm cut, then again %g mm cut and %g mm of air", s.name, out.Cut, again.Cut, again.Air)
		}
		if out.Unreached > 0.5 {
			t.Errorf("%s: %g mm² left that could have been reached", s.name, out.Unreached)
		}
	}
}

// A smaller cutter after a larger one works only where the larger left something: most of its way is
// saved, and it reaches the slot that the larger could not enter.
func TestRestRoughing(t *testing.T) {
	s := slantedScene() // the slot is 3.8 mm wide: 3.4 between the allowances
	big := params()
	big.Cutter.Profile = cutter.FlatEnd(3)
	big.Cutter.ID, big.Stepover = "flat6", 2.4
	in := s.input(0.12, big)
	first := run(t, in, big)
	small := params()
	alone := run(t, s.input(0.12, small), small)
	rest := s.input(0.12, small)
	rest.Seen = replay(rest.Seen, 0.15, first.Passes, big.Cutter.Profile)
	out := run(t, rest, small)
	if out.Cut == 0 || out.Cut > 0.4*alone.Cut {
		t.Errorf("after the larger cutter %g mm, alone %g mm", out.Cut, alone.Cut)
	}
	in = s.input(0.12, small)
	in.Seen = replay(rest.Seen, 0.15, out.Passes, small.Cutter.Profile)
	slot := geom.Vec2{X: -0.3 * math.Cos(0.4), Y: 24 - 0.3*math.Sin(0.4)}
	i, j := in.Seen.Nearest(slot)
	if z := in.Seen.At(i, j); float64(z) > s.bottom+1e-6 {
		t.Errorf("the slot is cut to %g, want %g", z, s.bottom)
	}
}

func near(a, b, share float64) bool { return math.Abs(a-b) <= share*max(a, b) }

// The work does not depend on which way the model lies. A mirror turns the spindle's sense round, so
// climb goes with it.
func TestSymmetry(t *testing.T) {
	for _, s := range []scene{pocketScene(), domeScene()} {
		p := params()
		a := run(t, s.input(0.12, p), p)
		turned := run(t, s.quarter().input(0.12, p), p)
		q := p
		q.Climb = false
		mirror := run(t, s.mirrored().input(0.12, q), q)
		for name, b := range map[string]*Output{"quarter turn": turned, "mirror": mirror} {
			if len(a.Levels) != len(b.Levels) || !near(a.Cut, b.Cut, 0.02) || !near(a.Cut+a.Air, b.Cut+b.Air, 0.04) || a.MaxDepth != b.MaxDepth {
				t.Errorf("%s, %s: %d levels, cut %g air %g depth %g; was %d, %g, %g, %g", s.name, name,
					len(b.Levels), b.Cut, b.Air, b.MaxDepth, len(a.Levels), a.Cut, a.Air, a.MaxDepth)
			}
		}
	}
}

// A shift by whole nodes shifts every point and changes nothing else.
func TestShift(t *testing.T) {
	s := bossScene()
	p := params()
	in := s.input(0.125, p)
	a := run(t, in, p)
	const dx, dy = 4, -8 // exact in binary, and so are the pitches' multiples
	in.Target.X0, in.Target.Y0 = in.Target.X0+dx, in.Target.Y0+dy
	in.Seen.X0, in.Seen.Y0 = in.Seen.X0+dx, in.Seen.Y0+dy
	g := in.Region
	in.Region = Region{g.XMin + dx, g.XMax + dx, g.YMin + dy, g.YMax + dy}
	b := run(t, in, p)
	if len(a.Passes) != len(b.Passes) || !near(a.Cut, b.Cut, 1e-4) || !near(a.Air, b.Air, 1e-4) {
		t.Errorf("passes %d, cut %g, air %g; shifted %d, %g, %g", len(a.Passes), a.Cut, a.Air, len(b.Passes), b.Cut, b.Air)
	}
}

func TestDeterministic(t *testing.T) {
	s := slantedScene()
	p := params()
	a := run(t, s.input(0.12, p), p)
	old := runtime.GOMAXPROCS(1)
	b := run(t, s.input(0.12, p), p)
	runtime.GOMAXPROCS(old)
	if !reflect.DeepEqual(a.Passes, b.Passes) || !reflect.DeepEqual(a.Levels, b.Levels) {
		t.Error("two runs on the same input differ")
	}
}

// Levels are whole stepdowns above the bottom, the first at most one below the top; what is left later
// meets the same ones.
func TestLevels(t *testing.T) {
	got := levels(10, -0.5, 1)
	if len(got) != 11 || got[0] != 9.5 || got[10] != -0.5 {
		t.Fatalf("levels %v", got)
	}
	if later := levels(7.2, -0.5, 1); !reflect.DeepEqual(later, got[3:]) {
		t.Errorf("later levels %v", later)
	}
	if whole := levels(10, 0, 2.5); !reflect.DeepEqual(whole, []float64{7.5, 5, 2.5, 0}) {
		t.Errorf("levels %v", whole)
	}
	if levels(3, 3, 1) != nil || levels(math.Inf(-1), 0, 1) != nil {
		t.Error("levels where there is nothing to cut")
	}
}

func TestBadParams(t *testing.T) {
	s := emptyScene()
	for name, change := range map[string]func(*Params){
		"stepdown": func(p *Params) { p.Stepdown = 0 },
		"stepover": func(p *Params) { p.Stepover = math.NaN() },
		"wide":     func(p *Params) { p.Stepover = 1.6 },
		"ramp":     func(p *Params) { p.Cutter.RampDeg = 0 },
		"cutter":   func(p *Params) { p.Cutter.R = 0 },
		"point":    func(p *Params) { p.Cutter.Profile = cutter.Cone(1.5, 0.5, 0) },
	} {
		p := params()
		change(&p)
		_, err := Plan(context.Background(), s.input(0.5, params()), p)
		if !finding.IsInput(err) {
			t.Errorf("%s: %v", name, err)
		}
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Plan(ctx, s.input(0.5, params()), params()); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
	in := s.input(0.5, params())
	for k := range in.Seen.Z {
		in.Seen.Z[k] = field.Empty
	}
	if out := run(t, in, params()); len(out.Passes) != 0 {
		t.Errorf("%d passes in air", len(out.Passes))
	}
}

// BenchmarkSide is a side 40 × 60 mm at 0.12 mm, 20 levels.
func BenchmarkSide(b *testing.B) {
	s := barScene("bench", 40, 68, 8, func(p geom.Vec2) float64 {
		return min(disc(p, 0, 30, 11), rect(p, -6, 9, 40, 60), disc(p, -9, 50, 4))
	}, 14, -1)
	p := params()
	p.Stepdown = 21.0 / 20
	in := s.input(0.12, p)
	for b.Loop() {
		out := run(b, in, p)
		b.ReportMetric(float64(in.Target.Len()), "nodes")
		b.ReportMetric(float64(len(out.Levels)), "levels")
		b.ReportMetric(out.Cut, "mm")
	}
}

// Needles and posts at random are the hardest for a field on nodes: the room they forbid is single
// discs, and the gaps between them pinch. No pass may take more of the allowance than the bound.
func TestStaysOffNeedles(t *testing.T) {
	for seed := range uint64(6) {
		rnd := rand.New(rand.NewPCG(seed, 1))
		type post struct{ x, y, r, top float64 }
		var posts []post
		for range 14 {
			posts = append(posts, post{rnd.Float64()*20 - 10, rnd.Float64()*22 + 8, max(0, rnd.Float64()-0.5), rnd.Float64() * 9})
		}
		s := barScene("needles", 20, 32, 6, nil, 0, -0.3)
		c := []cutter.Profile{cutter.FlatEnd(1.5), cutter.FlatEnd(1.5), cutter.Ball(1.5)}[seed%3]
		s.target = func(p geom.Vec2, _, a float64) float64 {
			z := math.Inf(-1)
			for _, q := range posts {
				// a post's edge under the end grown by a: a disc of the flat with an edge rounded by Round + a
				d, k := max(0, disc(p, q.x, q.y, q.r)-c.Flat), c.Round+a
				if d < k || k == 0 && d == 0 {
					z = max(z, q.top+math.Sqrt(k*k-d*d)-c.Round)
				}
			}
			return z
		}
		p := params()
		p.Cutter.Profile = c
		p.Stepover = 0.9
		in := s.input(0.12, p)
		out := run(t, in, p)
		if out.Cut < 1000 {
			t.Fatalf("seed %d: only %g mm cut", seed, out.Cut)
		}
		along(out.Passes, 0.04, func(q geom.Vec3) {
			if low := s.target(q.XY(), 0, allowance-out.Bound); q.Z < low-1e-6 {
				t.Fatalf("seed %d: tip at %v, lowest allowed %g", seed, q, low)
			}
		})
	}
}

// Whatever the fields hold, Plan ends and stays inside the region.
func TestOddFields(t *testing.T) {
	for seed := range uint64(12) {
		rnd := rand.New(rand.NewPCG(seed, 2))
		tg := field.New(field.Cover(-6, 6, -6, 6, 0.2, 0.25), field.Empty)
		sn := field.New(field.Cover(-5, 5, -5, 5, 0.1+0.3*rnd.Float64(), 0.3), field.Empty)
		for k := range tg.Z {
			if rnd.IntN(int(seed)+1) > 0 {
				tg.Z[k] = float32(rnd.Float64()*6 - 3)
			}
		}
		for k := range sn.Z {
			if rnd.IntN(3) > 0 {
				sn.Z[k] = float32(rnd.Float64() * 4)
			}
		}
		p := params()
		p.BothWays = seed%2 == 0
		p.Cutter.Plunges = seed%3 == 0
		g := Region{-5, 5.5, -4.8, 5}
		out := run(t, Input{Target: tg, Seen: sn, Region: g, Bottom: 0}, p)
		along(out.Passes, 1, func(q geom.Vec3) {
			if !q.Finite() || q.X < g.XMin-1e-9 || q.X > g.XMax+1e-9 || q.Y < g.YMin-1e-9 || q.Y > g.YMax+1e-9 || q.Z < 0 {
				t.Fatalf("seed %d: %v is outside", seed, q)
			}
		})
	}
}
