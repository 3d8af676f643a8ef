package rough

import (
	"context"
	"math"
	"reflect"
	"runtime"
	"testing"

	"barwise/engage"
	"barwise/finding"
	"barwise/geom"
	"barwise/geom/field"
	"barwise/geom/field/iso"
	"barwise/motion"
	"barwise/path"
	"barwise/plan/link"
	"barwise/shop/catalog"
	"barwise/shop/cutter"
)

const deg = math.Pi / 180

func deepPocket() scene {
	return barScene("deep pocket", 24, 38, -9, func(p geom.Vec2) float64 {
		d := hole(p, -10, 10, 5, 33)
		return min(d, min(disc(p, 2.5, 12, 2), rect(p, -7, -3, 18, 24)))
	}, 30, 0)
}

func deepParams() Params {
	p := params()
	p.Cutter.LCF = 17
	p.Engage, p.Deepest = 60*deg, 17
	return p
}

// program links passes as a side's program is linked, over a live obstacle.
func program(in Input, passes []path.Pass, c cutter.Cutter) path.Program {
	const feed, entry = 50, 50.0 / 3
	o := link.NewObstacle(in.Seen, c, 1)
	safe := float64(in.Seen.MaxAround(-1e3, 1e3, -1e3, 1e3)) + 5
	moves := link.Link(passes, o.Free, link.Params{Safe: safe, Clear: 1, ApproachGap: 1, CutFeed: feed, EntryFeed: entry, Done: o.Cut})
	start := moves[0].To
	start.Z = max(start.Z, safe)
	return path.Program{Start: start, Moves: moves}
}

func seconds(t testing.TB, p path.Program) float64 {
	t.Helper()
	mill, ok := catalog.Builtin().Machine("small-mill")
	if !ok {
		t.Fatal("the shop has no small-mill")
	}
	return motion.Plan(p.Start, p.Moves, mill).Total()
}

// The laws of bounded engagement, judged by a replay of the linked moves against the stock as it was: p99
// at most the cap and 3°, at most half a percent over the cap, nearly nothing left of what is reachable,
// and no more time than fronts a safe stepdown apart take.
func TestLawsOfEngagement(t *testing.T) {
	for _, s := range []scene{bossScene(), emptyScene(), domeScene(), deepPocket()} {
		for _, climb := range []bool{true, false} {
			p := deepParams()
			p.Climb = climb
			if !climb && s.name != "boss" {
				continue
			}
			in := s.input(0.125, p)
			out := run(t, in, p)
			prog := program(in, out.Passes, p.Cutter)
			res, err := engage.Over(context.Background(), in.Seen, prog, p.Cutter, engage.Params{Cap: p.Engage, EntryFeed: 50.0 / 3})
			if err != nil {
				t.Fatal(err)
			}
			if res.P99 > p.Engage+3*deg || res.ShareOver > 0.005 {
				t.Errorf("%s: p99 %.1f°, %.2f %% of %.0f mm over the cap", s.name, res.P99/deg, 100*res.ShareOver, res.CutLength)
			}
			for n, q := range out.Passes {
				if q.Follow && gap(out.Passes[n-1].End().XY(), q.Start().XY()) > p.FollowMax+4*p.Cutter.DC()+4*18 {
					t.Errorf("%s: pass %d is reached by a way through air that is longer than a lift is worth", s.name, n)
				}
			}
			area := 0.0
			for _, z := range in.Seen.Z {
				if z > float32(s.bottom) {
					area += in.Seen.DX * in.Seen.DY
				}
			}
			if out.Unreached > 0.003*area {
				t.Errorf("%s: %.2f of %.0f mm² left on a level", s.name, out.Unreached, area)
			}
			old := p
			old.Engage, old.Deepest, old.Stepover = 0, 0, 1.35
			fronts := program(in, run(t, in, old).Passes, p.Cutter)
			if a, b := seconds(t, prog), seconds(t, fronts); a > 0.6*b {
				t.Errorf("%s: %.0f s, by fronts %.0f s", s.name, a, b)
			} else {
				t.Logf("%s: %.0f s, by fronts %.0f s; p99 %.1f°, over %.2f %%, air %.0f %%, mean pass %.1f mm, %d turns",
					s.name, a, b, res.P99/deg, 100*res.ShareOver, 100*res.AirShare(), res.MeanPass, res.Turns)
			}
		}
	}
}

// A cap is kept or refused: below what the grid can follow, R·(1 − cos(φ − 5°)) = 0.75 pitches less the hair, or
// 24.5° here, nothing would be peeled and all be cut at full width; above it little passes the cap.
func TestLeastEngagement(t *testing.T) {
	for _, s := range []scene{emptyScene(), bossScene()} {
		p := deepParams()
		in := s.input(0.125, p)
		for _, no := range []float64{-1, 1e-9, 1, 15, 24.4, 181, math.NaN()} {
			p.Engage = no * deg
			if _, err := Plan(context.Background(), in, p); !finding.IsInput(err) {
				t.Errorf("%s: %g°: %v", s.name, no, err)
			}
		}
		p.Engage = 24.6 * deg
		if out := run(t, in, p); out.Over > 0.015*out.Cut || out.Cut == 0 {
			t.Errorf("%s: %.0f of %.0f mm over the cap", s.name, out.Over, out.Cut)
		}
	}
}

// Nothing taken off the allowance, nothing outside the region, no pass turns by more than 15° at a point, and
// where the cap is passed the feed keeps the chip of the cap: hmax = fz·sin φ.
func TestDeepStaysOffTheModel(t *testing.T) {
	for _, s := range scenes() {
		p := deepParams()
		in := s.input(0.125, p)
		out := run(t, in, p)
		g := in.Region
		along(out.Passes, 0.03, func(q geom.Vec3) {
			if q.Z < in.Bottom-1e-9 || q.Z < s.target(q.XY(), p.Cutter.R, allowance-out.Bound)-1e-6 {
				t.Fatalf("%s: the tip at %v takes more than the bound of the allowance", s.name, q)
			}
			if max(g.XMin-q.X, q.X-g.XMax, g.YMin-q.Y, q.Y-g.YMax) > 1e-9 {
				t.Fatalf("%s: %v is outside the region", s.name, q)
			}
		})
		for n, q := range out.Passes {
			if q.Ease != nil && len(q.Ease) != len(q.Points) {
				t.Fatalf("%s: pass %d has %d points and %d shares of feed", s.name, n, len(q.Points), len(q.Ease))
			}
			var last geom.Vec2
			for i := 1; i < len(q.Points); i++ {
				d := q.Points[i].XY().Sub(q.Points[i-1].XY())
				if a := math.Abs(math.Atan2(last.Cross(d), last.Dot(d))); i > 1 && a > 15*deg {
					t.Errorf("%s: pass %d turns by %.1f° at %v", s.name, n, a/deg, q.Points[i-1])
				}
				last = d
			}
		}
	}
}

// straightSlab is stock everywhere but where a path has been.
func straightSlab(path ...geom.Vec2) *slab {
	const h = 0.125
	s := newSlab(field.Grid{X0: -12, Y0: -12, DX: h, DY: h, NX: 193, NY: 193}, 1.5)
	for k := range s.phi {
		s.phi[k] = 3
	}
	for i := 1; i < len(path); i++ {
		s.cut(path[i-1], path[i])
	}
	return s
}

// Closed forms: beside a straight cut cos φ = 1 − ae/R; on a circle ρ inside stock, the pass before it ae
// farther in, cos φ = [(ρ+R−ae)² − ρ² − R²]/(2ρR); round an island cos φ = [ρ² + R² − (ρ−R+ae)²]/(2ρR).
func TestArcsAgainstClosedForms(t *testing.T) {
	const r = 1.5
	check := func(what string, got, want float64) {
		t.Helper()
		if math.Abs(got-want) > 1.2*deg {
			t.Errorf("%s: %.2f°, want %.2f°", what, got/deg, want/deg)
		}
	}
	circle := func(rho float64) (pts []geom.Vec2) {
		for i := range 361 {
			s, c := math.Sincos(float64(i) * deg)
			pts = append(pts, geom.Vec2{X: rho * c, Y: rho * s})
		}
		return pts
	}
	for _, ae := range []float64{0.2, 0.5, 0.9, 1.35} {
		for _, turn := range []float64{0, 17, 45, 80} {
			sin, cos := math.Sincos(turn * deg)
			u := geom.Vec2{X: cos, Y: sin}
			s := straightSlab(u.Mul(-9), u.Mul(9))
			c := geom.Vec2{X: sin, Y: -cos}.Mul(ae)      // right of the motion
			s.cut(c.Add(u.Mul(-6)), c.Add(u.Mul(-0.15))) // a step is judged before it is cut
			check("straight", s.arc(c, u), math.Acos(1-ae/r))
		}
		rho := 4.0
		s := straightSlab(circle(rho - ae)...)
		for q := 1.5; q < rho-ae; q += 0.7 {
			for i, pts := 1, circle(q); i < len(pts); i++ {
				s.cut(pts[i-1], pts[i])
			}
		}
		s.cut(geom.Vec2{}, geom.Vec2{X: 0.1})
		// counter-clockwise, stock outside
		for i := -40; i < -2; i++ {
			sin, cos := math.Sincos(float64(i) * deg)
			s.cut(geom.Vec2{X: rho * cos, Y: rho * sin}, geom.Vec2{X: rho * cos, Y: rho * sin})
		}
		check("inside a hole", s.arc(geom.Vec2{X: rho}, geom.Vec2{Y: 1}),
			math.Acos(((rho+r-ae)*(rho+r-ae)-rho*rho-r*r)/(2*rho*r)))
		s = straightSlab(circle(rho + ae)...)
		for q := rho + ae; q < 9; q += 0.7 {
			for i, pts := 1, circle(q); i < len(pts); i++ {
				s.cut(pts[i-1], pts[i])
			}
		}
		check("round an island", s.arc(geom.Vec2{X: rho}, geom.Vec2{Y: -1}),
			math.Acos((rho*rho+r*r-(rho-r+ae)*(rho-r+ae))/(2*rho*r)))
	}
	// the width for a corner is that form turned round
	for _, phi := range []float64{40, 60, 84} {
		ae := cornerWidth(phi*deg, 0.6, r)
		check("corner", math.Acos(((0.6+r-ae)*(0.6+r-ae)-0.36-r*r)/(2*0.6*r)), phi*deg)
	}
}

// The slab's arc against a twin that asks a thousand places of the rim and every segment of the path.
func TestArcsAgainstEverySegment(t *testing.T) {
	pts := []geom.Vec2{{X: -7, Y: -3}}
	for i := range 300 {
		a := float64(i) * 0.021
		pts = append(pts, geom.Vec2{X: -7 + 0.05*float64(i) + math.Sin(3*a), Y: -3 + 3*math.Sin(a) + 0.4*math.Cos(7*a)})
	}
	s := straightSlab(pts...)
	for i := range 200 {
		c := pts[i+40].Add(geom.Vec2{X: 0.8 * math.Sin(float64(i)), Y: 0.8 * math.Cos(1.7*float64(i))})
		sin, cos := math.Sincos(float64(i) * 0.37)
		count := 0
		for q := range 1000 {
			b, a := math.Sincos((float64(q)+0.5)/1000*math.Pi - math.Pi/2)
			p := c.Add(geom.Vec2{X: 1.5 * (a*cos - b*sin), Y: 1.5 * (a*sin + b*cos)})
			in := true
			for k := 1; k < len(pts) && in; k++ {
				in = iso.OffSegment(p, pts[k-1], pts[k]) > 1.5+hair
			}
			if in {
				count++
			}
		}
		if got, want := s.arc(c, geom.Vec2{X: cos, Y: sin}), float64(count)/1000*math.Pi; math.Abs(got-want) > 3.5*deg {
			t.Errorf("at %v: %.1f°, the twin finds %.1f°", c, got/deg, want/deg)
		}
	}
}

// What is revoked was never cut.
func TestRevoke(t *testing.T) {
	s := straightSlab(geom.Vec2{X: -3}, geom.Vec2{X: 3})
	was := append([]float32(nil), s.phi...)
	s.begin()
	s.cut(geom.Vec2{Y: 1}, geom.Vec2{X: 2, Y: 2})
	s.cut(geom.Vec2{X: 2, Y: 2}, geom.Vec2{X: 3, Y: -1})
	if reflect.DeepEqual(was, s.phi) {
		t.Fatal("nothing was cut")
	}
	if s.revoke(); !reflect.DeepEqual(was, s.phi) {
		t.Error("something stays cut")
	}
}

// Deep levels are whole stepdowns above the bottom, no deeper than asked; those above each follow it upward.
func TestGroups(t *testing.T) {
	got := groups(10, -0.5, 1, 4)
	want := [][]float64{{6.5, 7.5, 8.5, 9.5}, {2.5, 3.5, 4.5, 5.5}, {-0.5, 0.5, 1.5}}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("groups %v, want %v", got, want)
	}
	if got := groups(3, 0, 1, 17); !reflect.DeepEqual(got, [][]float64{{0, 1, 2}}) {
		t.Errorf("one group: %v", got)
	}
	if groups(0, 0, 1, 4) != nil {
		t.Error("levels where there is nothing to cut")
	}
}

// The work does not depend on which way the model lies: a mirror turns the spindle's sense round, so climb
// goes with it. Nor does what is cut depend on the way it is cut: the planner's own stock is that of a
// replay, segment by segment.
func TestDeepSymmetryAndStock(t *testing.T) {
	s := bossScene()
	p := deepParams()
	in := s.input(0.125, p)
	a := run(t, in, p)
	q := p
	q.Climb = false
	for name, b := range map[string]*Output{
		"quarter turn": run(t, s.quarter().input(0.125, p), p),
		"mirror":       run(t, s.mirrored().input(0.125, q), q),
	} {
		if len(a.Levels) != len(b.Levels) || !near(a.Cut, b.Cut, 0.1) || a.MaxDepth != b.MaxDepth {
			t.Errorf("%s: %d levels, cut %g, depth %g; was %d, %g, %g", name, len(b.Levels), b.Cut, b.MaxDepth, len(a.Levels), a.Cut, a.MaxDepth)
		}
	}
	left := replay(in.Seen, 0.15, a.Passes, p.Cutter.Profile)
	x, y, reg := 0.0, 0.0, in.Region
	for j := range a.Left.NY {
		for i := range a.Left.NX {
			at := geom.Vec2{X: a.Left.X(i), Y: a.Left.Y(j)}
			if at.X < reg.XMin || at.X > reg.XMax || at.Y < reg.YMin || at.Y > reg.YMax {
				continue
			}
			u, v := left.Nearest(at)
			x += max(0, float64(a.Left.At(i, j))-s.bottom)
			y += max(0, float64(left.At(u, v))-s.bottom)
		}
	}
	if !near(x, y, 0.02) {
		t.Errorf("left by the planner's account %.0f, by the replay %.0f", x, y)
	}
}

func TestDeepIsDeterministic(t *testing.T) {
	s := slantedScene()
	p := deepParams()
	a := run(t, s.input(0.125, p), p)
	old := runtime.GOMAXPROCS(1)
	b := run(t, s.input(0.125, p), p)
	runtime.GOMAXPROCS(old)
	if !reflect.DeepEqual(a.Passes, b.Passes) || !reflect.DeepEqual(a.Levels, b.Levels) {
		t.Error("two runs on the same input differ")
	}
}
