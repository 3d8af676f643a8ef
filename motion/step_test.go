package motion

import (
	"math"
	"math/rand/v2"
	"testing"

	"barwise/geom"
	"barwise/path"
	"barwise/shop/machine"
)

// step runs straight moves by small steps of time: at each it speeds up if it could still brake for
// every corner ahead and for the end of the window, otherwise it brakes. It shares nothing with Plan.
func step(start geom.Vec3, moves []path.Move, m machine.Machine, dt float64) float64 {
	n := len(moves)
	length, top, acc := make([]float64, n), make([]float64, n), make([]float64, n)
	dir := make([]geom.Vec3, n)
	for i, at := 0, start; i < n; i++ {
		d := moves[i].To.Sub(at)
		at = moves[i].To
		length[i], dir[i] = d.Len(), d.Unit()
		top[i], acc[i] = min(moves[i].Feed, m.BlockRate*length[i]), math.Inf(1)
		for k, c := range [3]float64{dir[i].X, dir[i].Y, dir[i].Z} {
			if c != 0 {
				top[i] = min(top[i], m.Rate[k]/math.Abs(c))
				acc[i] = min(acc[i], m.Accel[k]/math.Abs(c))
			}
		}
	}
	limit := make([]float64, n+1) // at the start of each move
	for i := 1; i < n; i++ {
		theta := math.Acos(max(-1, min(1, -dir[i-1].Dot(dir[i])))) // included angle
		r := m.CornerDeviation * math.Sin(theta/2) / (1 - math.Sin(theta/2))
		r = min(r, min(length[i-1], length[i])/2*math.Tan(theta/2))
		limit[i] = min(math.Sqrt(m.Accel[0]*r), top[i-1], top[i])
	}
	brakes := func(i int, left, v float64) bool { // from within move i with left mm of it
		room := 2 * acc[i] * left
		for k := i + 1; ; k++ {
			l := 0.0
			if k < n && k <= i+m.Lookahead-1 {
				l = limit[k]
			}
			if v*v > l*l+room {
				return false
			}
			if l == 0 {
				return true
			}
			room += 2 * acc[k] * length[k]
		}
	}
	t, v := 0.0, 0.0
	for i := 0; i < n; i++ {
		left := length[i]
		for left > 0 {
			faster := min(v+acc[i]*dt, top[i])
			switch ds := (v + faster) / 2 * dt; {
			case brakes(i, left-ds, faster):
				v = faster
				left -= ds
			case brakes(i, left-v*dt, v) && v <= top[i]:
				left -= v * dt
			default:
				slower := max(v-acc[i]*dt, 0.02)
				left -= (v + slower) / 2 * dt
				v = slower
			}
			t += dt
		}
	}
	return t
}

// The two-pass planner agrees with small steps of time within 1 %.
func TestAgreesWithSmallSteps(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 7))
	for _, c := range []struct {
		n, window       int
		step, blockRate float64
	}{{30, 8, 3, 1e9}, {120, 5, 0.3, 1e9}, {120, 40, 0.2, 400}, {12, 100, 10, 1e9}} {
		m := mill(60, 400, 0.02)
		m.Rate[2] = 15
		m.Lookahead, m.BlockRate = c.window, c.blockRate
		var moves []path.Move
		at, heading := geom.Vec3{}, 0.0
		for range c.n {
			heading += (rng.Float64() - 0.5) * 2
			l := c.step * (0.2 + rng.Float64())
			at = at.Add(geom.Vec3{X: l * math.Cos(heading), Y: l * math.Sin(heading), Z: (rng.Float64() - 0.5) * l})
			moves = append(moves, path.Move{To: at, Mode: path.Line, Feed: 20 + 30*rng.Float64()})
		}
		got, want := Plan(geom.Vec3{}, moves, m).Total(), step(geom.Vec3{}, moves, m, 2e-5)
		if math.Abs(got-want) > 0.01*want {
			t.Errorf("%d moves, %d known: planned %.5f s, by small steps %.5f s", c.n, c.window, got, want)
		}
	}
}

// Finishing of a wave in short moves, 1 mm of depth over 10 mm of way.
func wave(n int) []path.Move {
	moves := make([]path.Move, n)
	for i := range moves {
		y := float64(i+1) * 0.05
		row := math.Floor(y / 80)
		moves[i] = path.Move{To: geom.Vec3{X: row * 0.1, Y: math.Mod(y, 80), Z: math.Sin(y * 2 * math.Pi / 10)}, Mode: path.Line, Feed: 20}
	}
	return moves
}

func BenchmarkPlan(b *testing.B) {
	for name, jerk := range map[string]float64{"trapezoid": 0, "s-curve": 5000} {
		b.Run(name, func(b *testing.B) {
			moves := wave(1_000_000)
			m := mill(60, 400, 0.01)
			m.Lookahead, m.BlockRate, m.Jerk = 32, 1000, jerk
			b.ReportAllocs()
			for b.Loop() {
				Plan(geom.Vec3{}, moves, m)
			}
			b.ReportMetric(float64(len(moves)*b.N)/b.Elapsed().Seconds()/1e6, "Mmoves/s")
		})
	}
}
