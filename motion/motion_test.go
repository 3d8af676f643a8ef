package motion

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"barwise/geom"
	"barwise/path"
	"barwise/shop/machine"
)

// tester is *testing.T or *rapid.T.
type tester interface {
	Helper()
	Errorf(format string, args ...any)
}

func near(t tester, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.9g, want %.9g ± %g", what, got, want, tol)
	}
}

// mill has the same limits on every axis.
func mill(v, a, deviation float64) machine.Machine {
	return machine.Machine{Rate: [3]float64{v, v, v}, Accel: [3]float64{a, a, a}, CornerDeviation: deviation}
}

func line(x, y, z, feed float64) path.Move {
	return path.Move{To: geom.Vec3{X: x, Y: y, Z: z}, Mode: path.Line, Feed: feed}
}

// From rest to rest: d ≥ v²/a: t = d/v + v/a, else t = 2√(d/a) with the peak √(a·d). Closed forms, worked.
func TestTrapezoidFromRestToRest(t *testing.T) {
	for _, c := range []struct{ d, v, a, seconds, peak float64 }{
		{100, 50, 500, 2.1, 50},
		{10, 50, 500, 0.3, 50},
		{5, 50, 500, 0.2, 50},
		{1, 50, 500, 0.089443, 22.3607},
		{0.1, 50, 500, 0.028284, 7.0711},
		{100, 16.6667, 200, 6.083333, 16.6667},
	} {
		got := Plan(geom.Vec3{}, []path.Move{line(0, c.d, 0, c.v)}, mill(100, c.a, 0.01))
		near(t, "seconds", got.Seconds[0], c.seconds, 2e-6*max(1, c.seconds))
		near(t, "peak", got.Peak[0], c.peak, 1e-4)
		near(t, "cutting", got.Cutting, got.Seconds[0], 0)
		// The same as a rapid: the axis rate takes the place of the feed.
		rapidMove := []path.Move{{To: geom.Vec3{Z: c.d}, Mode: path.Rapid}}
		got = Plan(geom.Vec3{}, rapidMove, mill(c.v, c.a, 0.01))
		near(t, "rapid seconds", got.Travel, c.seconds, 2e-6*max(1, c.seconds))
	}
}

// Speeds at the ends that are not zero, worked by the same closed forms: 10 mm at 50 mm/s and 500 mm/s²
// from 10 to 20 mm/s takes 0.25 s; 1 mm from 10 to 10 takes 0.05798 s and peaks at √600 mm/s.
func TestTrapezoidBetweenSpeeds(t *testing.T) {
	for _, c := range []struct{ d, v0, v1, seconds, peak float64 }{
		{10, 10, 20, 0.25, 50}, {1, 10, 10, 0.05798, 24.495},
	} {
		p := &planner{length: []float64{c.d}, top: []float64{50}, a: []float64{500}, up: []float64{500}, dn: []float64{500}, v: []float64{c.v0, c.v1}}
		r := p.run(0)
		near(t, "seconds", r.up+r.level+r.down, c.seconds, 2e-6)
		near(t, "peak", r.peak, c.peak, 1e-3)
	}
}

// Corner of included angle θ at a permitted deviation δ: the circle tangent to both legs that passes δ
// from the corner has R = δ·sin(θ/2)/(1 − sin(θ/2)), and v = √(a·R); a 500 mm/s², δ 0.01 mm. Closed
// form, worked.
func TestCornerTable(t *testing.T) {
	for theta, want := range map[float64]float64{170: 36.180, 150: 11.905, 135: 7.790, 120: 5.685, 90: 3.474, 60: 2.236, 45: 1.761, 30: 1.321} {
		for _, turned := range []float64{0, 0.3, 2} {
			for _, hand := range []float64{1, -1} {
				back := turned + math.Pi
				on := back + hand*theta*math.Pi/180
				corner := geom.Vec3{X: 10 * math.Cos(turned), Y: 10 * math.Sin(turned)}
				end := corner.Add(geom.Vec3{X: 10 * math.Cos(on), Y: 10 * math.Sin(on)})
				got := Plan(geom.Vec3{}, []path.Move{line(corner.X, corner.Y, 0, 80), line(end.X, end.Y, 0, 80)}, mill(1000, 500, 0.01))
				near(t, "speed through the corner", got.Speed[1], want, 6e-4)
			}
		}
	}
}

// A corner between short legs: the circle may take at most half of the shorter one, r·tan(ψ/2) ≤ l/2.
// At 90° and legs of 0.02 mm r ≤ 0.01 mm, where the deviation 0.01 alone would give 0.02414 mm.
func TestCornerBetweenShortLegs(t *testing.T) {
	p := newPlanner(0, mill(1000, 500, 0.01))
	got := math.Sqrt(p.corner(geom.Vec3{X: 1}, geom.Vec3{Y: 1}, 0.02))
	near(t, "speed", got, math.Sqrt(500*0.01), 1e-12)
}

// v ≤ √(a·R): a 500, R 5 gives 50 mm/s, R 0.5 gives 15.81 (closed form).
func TestArcSpeed(t *testing.T) {
	for r, want := range map[float64]float64{5: 50, 0.5: 15.8114} {
		// Ten turns as a flat helix, long enough to come to speed; its rise is too small to tell.
		m := path.Move{To: geom.Vec3{X: r}, Mode: path.ArcCCW, Feed: 200}
		moves := []path.Move{}
		for range 10 {
			moves = append(moves, m)
		}
		got := Plan(geom.Vec3{X: r}, moves, mill(1000, 500, 0.01))
		near(t, "peak", got.Peak[5], want, 1e-4)
		near(t, "between turns", got.Speed[5], want, 1e-4)
	}
}

// Block rate: v ≤ B·L, 100 blocks/s of 0.1 mm is 600 mm/min.
func TestBlockRate(t *testing.T) {
	m := mill(1000, 500, 0.01)
	m.BlockRate = 100
	var moves []path.Move
	for i := 1; i <= 200; i++ {
		moves = append(moves, line(float64(i)*0.1, 0, 0, 50))
	}
	got := Plan(geom.Vec3{}, moves, m)
	near(t, "mm/min", got.Peak[100]*60, 600, 1e-9)
	near(t, "seconds of a block in the middle", got.Seconds[100], 0.01, 1e-12)
}

// Look-ahead of N blocks: v ≤ √(2·a·N·L) on a straight line of equal blocks: a 500, N 4, L 0.1 gives
// 20 mm/s (closed form); the whole way known, the feed.
func TestLookahead(t *testing.T) {
	m := mill(1000, 500, 0.01)
	var moves []path.Move
	for i := 1; i <= 500; i++ {
		moves = append(moves, line(float64(i)*0.1, 0, 0, 50))
	}
	m.Lookahead = 4
	near(t, "speed within four blocks", Plan(geom.Vec3{}, moves, m).Speed[250], 20, 1e-6)
	m.Lookahead = 0
	near(t, "speed within all", Plan(geom.Vec3{}, moves, m).Speed[250], 50, 1e-9)
	m.Lookahead = 100
	near(t, "speed within a hundred", Plan(geom.Vec3{}, moves, m).Speed[250], 50, 1e-9)
}

// v ≤ min v_i/|u_i| along a slope: 3-4-5 triangle with a slow Z.
func TestSlowAxis(t *testing.T) {
	m := mill(100, 500, 0.01)
	m.Rate[2], m.Accel[2] = 8, 100
	got := Plan(geom.Vec3{}, []path.Move{line(0, 60, 80, 99)}, m)
	near(t, "peak", got.Peak[0], 10, 1e-12)                // 8/(4/5)
	near(t, "seconds", got.Seconds[0], 10+10.0/125, 1e-12) // a = 100/(4/5) = 125: d/v + v/a
}

// With the bar along machine X the side's y runs on the machine's X axis.
func TestBarAlongX(t *testing.T) {
	m := mill(100, 500, 0.01)
	m.Rate[0] = 20
	m.BarAlong = machine.AlongX
	got := Plan(geom.Vec3{}, []path.Move{line(0, 100, 0, 99), line(100, 100, 0, 99)}, m)
	near(t, "along the bar", got.Peak[0], 20, 1e-12)
	near(t, "across the bar", got.Peak[1], 99, 1e-12)
}

func TestDwellsAndSpindle(t *testing.T) {
	m := mill(100, 500, 0.01)
	m.SpindleStart = 4
	moves := []path.Move{
		line(0, 10, 0, 50), {Mode: path.Dwell, Seconds: 1.5}, line(0, 20, 0, 50), line(0, 20, 0, 50),
		{To: geom.Vec3{Y: 20, Z: 10}, Mode: path.Rapid},
	}
	got := Plan(geom.Vec3{}, moves, m)
	near(t, "cutting, at rest in the middle", got.Cutting, 0.3+(got.Seconds[2]), 1e-12)
	near(t, "speed before the dwell", got.Speed[1], 0, 0)
	near(t, "speed after the dwell", got.Speed[2], 0, 0)
	near(t, "a move of no length", got.Seconds[3], 0, 0)
	near(t, "dwell", got.Dwell, 1.5, 0)
	near(t, "spindle", got.Spindle, 4, 0)
	near(t, "cut length", got.CutLength, 20, 0)
	near(t, "travel length", got.TravelLength, 10, 0)
	near(t, "total", got.Total(), got.Cutting+got.Travel+1.5+4, 1e-12)
	near(t, "feed ratio", got.FeedRatio(), (20.0/50)/got.Cutting, 1e-12)
	if empty := Plan(geom.Vec3{}, nil, m); empty.Total() != 0 || empty.FeedRatio() != 1 {
		t.Errorf("no moves take %g s at ratio %g, want 0 and 1", empty.Total(), empty.FeedRatio())
	}
}

// S-curve, closed forms: Δv ≥ a²/j: t = Δv/a + a/j a ramp; else 2√(Δv/j). From rest to rest over 100 mm
// at 50 mm/s, a 500, j 5000: d/v + v/a + a/j = 2.2 s. Over 100 mm at 10 mm/s: a²/j = 50 > 10, so
// d/v + 2√(v/j) = 10 + 2√(10/5000). Over 0.1 mm never at a or v: each half covers d/2 in 2√(v/j) from
// 0 to v, so t = 4·(d/(2j))^(1/3).
func TestSCurve(t *testing.T) {
	m := mill(1000, 500, 0.01)
	m.Jerk = 5000
	for _, c := range []struct{ d, v, seconds float64 }{
		{100, 50, 2.2},
		{100, 10, 10 + 2*math.Sqrt(10.0/5000)},
		{0.1, 50, 4 * math.Cbrt(0.1/(2*5000))},
	} {
		whole := Plan(geom.Vec3{}, []path.Move{line(c.d, 0, 0, c.v)}, m)
		near(t, "seconds", whole.Total(), c.seconds, 2e-3*c.seconds)
		// The same way in many blocks: a ramp goes on over them.
		var parts []path.Move
		for i := 1; i <= 50; i++ {
			parts = append(parts, line(c.d*float64(i)/50, 0, 0, c.v))
		}
		near(t, "seconds in parts", Plan(geom.Vec3{}, parts, m).Total(), c.seconds, 5e-3*c.seconds)
	}
}

func genMoves(t *rapid.T) []path.Move {
	n := rapid.IntRange(1, 40).Draw(t, "n")
	at := geom.Vec3{}
	var out []path.Move
	for range n {
		step := rapid.SampledFrom([]float64{0.01, 0.1, 1, 20}).Draw(t, "step")
		// Whole steps of 1 µm, as program text has them.
		c := func(axis string) float64 {
			return math.Round(rapid.Float64Range(-1, 1).Draw(t, axis)*step*1000) / 1000
		}
		to := at.Add(geom.Vec3{X: c("x"), Y: c("y"), Z: c("z")})
		m := path.Move{To: to, Mode: path.Line, Feed: rapid.Float64Range(1, 80).Draw(t, "feed")}
		switch rapid.IntRange(0, 9).Draw(t, "kind") {
		case 0:
			m = path.Move{To: to, Mode: path.Rapid}
		case 1:
			m = path.Move{To: at, Mode: path.Dwell, Seconds: 0.25}
		case 2, 3:
			// A half turn about the middle, whose plane the points' w leave as a helix.
			m.Mode = path.ArcCCW
			m.Plane = path.Plane(rapid.IntRange(0, 2).Draw(t, "plane"))
			m.Centre = at.Add(to).Mul(0.5)
		}
		out = append(out, m)
		at = m.To
	}
	return out
}

func genMachine(t *rapid.T) machine.Machine {
	v := func(what string, lo, hi float64) [3]float64 {
		f := rapid.Float64Range(lo, hi)
		return [3]float64{f.Draw(t, what), f.Draw(t, what), f.Draw(t, what)}
	}
	return machine.Machine{
		Rate: v("rate", 10, 100), Accel: v("accel", 50, 1000), CornerDeviation: rapid.Float64Range(0.001, 0.05).Draw(t, "deviation"),
		Lookahead: rapid.IntRange(0, 20).Draw(t, "blocks"), BlockRate: rapid.Float64Range(50, 1000).Draw(t, "rate of blocks"),
	}
}

// No axis beyond its rate or acceleration, no faster than the feed, the way covered by the speeds
// given, standing where it must.
func TestLimitsHold(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		moves, m := genMoves(t), genMachine(t)
		got := Plan(geom.Vec3{}, moves, m)
		at, sum := geom.Vec3{}, 0.0
		if got.Speed[0] != 0 || got.Speed[len(moves)] != 0 {
			t.Errorf("begins at %g mm/s and ends at %g, want rest", got.Speed[0], got.Speed[len(moves)])
		}
		for i, mv := range moves {
			v0, v1, peak, s := got.Speed[i], got.Speed[i+1], got.Peak[i], got.Seconds[i]
			sum += s
			if mv.Mode == path.Dwell {
				if v0 != 0 || v1 != 0 {
					t.Errorf("move %d: dwells at speed %g, %g", i, v0, v1)
				}
				continue
			}
			l := mv.Length(at)
			if mv.Cuts() && s < l/mv.Feed*(1-1e-12) {
				t.Errorf("move %d takes %g s, less than %g mm at %g mm/s", i, s, l, mv.Feed)
			}
			if peak < max(v0, v1)-1e-9 || m.BlockRate > 0 && s < 1/m.BlockRate*(1-1e-9) && l > 0 {
				t.Errorf("move %d: peak %g below its ends %g %g, or %g s below the time of a block", i, peak, v0, v1, s)
			}
			u := mv.To.Sub(at).Unit()
			at = mv.To
			if mv.IsArc() {
				continue
			}
			most := math.Inf(1)
			for k, c := range [3]float64{u.X, u.Y, u.Z} {
				if peak*math.Abs(c) > m.Rate[k]*(1+1e-9) {
					t.Errorf("move %d: axis %d runs at %g, limit %g", i, k, peak*math.Abs(c), m.Rate[k])
				}
				most = min(most, m.Accel[k]/math.Abs(c))
			}
			ramps := (peak*peak-v0*v0)/(2*most) + (peak*peak-v1*v1)/(2*most)
			if ramps > l*(1+1e-9)+1e-12 {
				t.Errorf("move %d: %g mm of ramps at the greatest acceleration in %g mm", i, ramps, l)
			}
			if l > 0 {
				near(t, "seconds of a move", s, (2*peak-v0-v1)/most+max(0, l-ramps)/peak, 1e-6*s)
			}
		}
		near(t, "sum of the parts", sum, got.Total(), 1e-9*sum)
	})
}

// More of anything is never slower: acceleration, deviation, block rate, blocks known.
func TestMonotone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		moves, m := genMoves(t), genMachine(t)
		base := Plan(geom.Vec3{}, moves, m).Total()
		more := rapid.Float64Range(1, 3).Draw(t, "more")
		a, d, b, n := m, m, m, m
		for k := range 3 {
			a.Accel[k] *= more
		}
		d.CornerDeviation *= more
		b.BlockRate *= more
		if n.Lookahead > 0 {
			n.Lookahead += 3
		}
		for what, mm := range map[string]machine.Machine{"acceleration": a, "deviation": d, "block rate": b, "blocks known": n} {
			if s := Plan(geom.Vec3{}, moves, mm).Total(); s > base*(1+1e-9) {
				t.Errorf("more %s takes %g s, less took %g", what, s, base)
			}
		}
	})
}

// A machine alike on all axes takes as long mirrored, turned a quarter, shifted, and, where it knows
// the whole way, backward.
func TestSymmetries(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		moves, m := genMoves(t), genMachine(t)
		m.Rate, m.Accel = [3]float64{50, 50, 50}, [3]float64{300, 300, 300}
		for i := range moves {
			if moves[i].IsArc() { // their plane would have to be turned too
				moves[i].Mode = path.Line
			}
		}
		want := Plan(geom.Vec3{}, moves, m).Total()
		for what, f := range map[string]func(geom.Vec3) geom.Vec3{
			"mirrored":         func(p geom.Vec3) geom.Vec3 { return geom.Vec3{X: -p.X, Y: p.Y, Z: p.Z} },
			"turned a quarter": func(p geom.Vec3) geom.Vec3 { return geom.Vec3{X: -p.Y, Y: p.X, Z: p.Z} },
			"on its side":      func(p geom.Vec3) geom.Vec3 { return geom.Vec3{X: p.Z, Y: p.X, Z: p.Y} },
			"shifted":          func(p geom.Vec3) geom.Vec3 { return p.Add(geom.Vec3{X: 7, Y: -3, Z: 1}) },
		} {
			other := make([]path.Move, len(moves))
			for i, mv := range moves {
				mv.To = f(mv.To)
				other[i] = mv
			}
			near(t, what, Plan(f(geom.Vec3{}), other, m).Total(), want, 1e-6*want)
		}
		m.Lookahead = 0
		want = Plan(geom.Vec3{}, moves, m).Total()
		var back []path.Move
		at := geom.Vec3{}
		for i := range moves {
			mv := moves[i]
			mv.To, at = at, mv.To
			back = append([]path.Move{mv}, back...)
		}
		near(t, "backward", Plan(at, back, m).Total(), want, 1e-6*want)
	})
}

// A limit on jerk never makes a program faster, and one out of reach changes nothing.
func TestJerkSlows(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		moves, m := genMoves(t), genMachine(t)
		free := Plan(geom.Vec3{}, moves, m).Total()
		m.Jerk = rapid.Float64Range(500, 50000).Draw(t, "jerk")
		if got := Plan(geom.Vec3{}, moves, m).Total(); got < free*(1-1e-9) {
			t.Errorf("with jerk %g: %g s, without a limit %g s", m.Jerk, got, free)
		}
		m.Jerk = 1e12
		near(t, "seconds with a jerk out of reach", Plan(geom.Vec3{}, moves, m).Total(), free, 1e-3*free)
	})
}
