package cusp

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"barwise/geom"
	"barwise/path"
	"barwise/shop/cutter"
)

var profiles = map[string]cutter.Profile{
	"ball": cutter.Ball(0.5), "flat": cutter.FlatEnd(1), "bull": cutter.Bull(1.5, 0.5),
	"cone": cutter.Cone(1, 0.4, 0.1), "tapered ball": cutter.TaperedBall(1.5, 0.25, 0.15),
}

// A distance that may stop at a most says the same as the whole one up to there, and no less beyond; and it is
// the least of the distances from the cutter standing at many places of the move, within a thousandth of the
// move's length.
func TestDistanceUpToMost(t *testing.T) {
	rnd := rand.New(rand.NewPCG(11, 12))
	any := func(l float64) geom.Vec3 {
		return geom.Vec3{X: l * (2*rnd.Float64() - 1), Y: l * (2*rnd.Float64() - 1), Z: l * (2*rnd.Float64() - 1)}
	}
	for name, p := range profiles {
		given, stopped := 0, 0
		for n := range 3000 {
			u := any([3]float64{0.05, 0.5, 3}[n%3])
			if n%5 == 0 {
				u.Z = 0
			}
			prog := Program{Cutter: cutter.Cutter{Profile: p}}
			prog.Moves = []path.Move{{To: u, Mode: path.Line, Feed: 5}}
			w := newSwept(&prog)
			q := u.Mul(rnd.Float64()).Add(any(2 * p.R))
			s := &w.list[0]
			d, _ := w.distance(s, q, math.Inf(1))
			for _, most := range []float64{d - 0.1, d - 1e-6, d + 1e-6, d + 0.1, 0, -0.05} {
				got, at := w.distance(s, q, most)
				switch {
				case got == d:
					given++
				case !math.IsInf(got, 1) || d <= most:
					t.Fatalf("%s, move %v, point %v: %g up to %g, in all %g", name, u, q, got, most, d)
				default:
					stopped++
				}
				if at < 0 || at > 1 {
					t.Fatalf("%s: part %g of a move", name, at)
				}
			}
			if n%10 > 0 {
				continue
			}
			least := math.Inf(1)
			const places = 2000
			for i := range places + 1 {
				v := q.Sub(u.Mul(float64(i) / places))
				least = min(least, w.form.off(v.XY().Len(), v.Z))
			}
			if least > 0 && d > least+1e-3*u.Len() { // inside it is no distance
				t.Fatalf("%s, move %v, point %v: %g, %g by places", name, u, q, d, least)
			}
		}
		if given == 0 || stopped == 0 {
			t.Errorf("%s: %d given, %d stopped", name, given, stopped)
		}
	}
}

// Waves finished by a bull end in short sloping moves.
func BenchmarkBull(b *testing.B) {
	f := func(x, y float64) float64 { return 0.3*math.Sin(1.1*x) + 0.3*math.Cos(0.9*y+0.3*x) }
	m := surface(f, -2, 2, -2, 2, 0.03)
	c := cutter.Bull(0.75, 0.25)
	p := Program{Cutter: cutter.Cutter{Profile: c}}
	p.Start = geom.Vec3{Z: 50}
	for _, l := range raster(f, 0, -2.2, 2.2, -2.2, 2.2, 0.08, 0.05) {
		for i, q := range l {
			const e = 1e-5
			nx, ny := -(f(q.X+e, q.Y)-f(q.X-e, q.Y))/(2*e), -(f(q.X, q.Y+e)-f(q.X, q.Y-e))/(2*e)
			slope := math.Hypot(nx, ny)
			r, h := c.Contact(slope)
			m := path.Move{To: geom.Vec3{X: q.X + r*nx/slope, Y: q.Y + r*ny/slope, Z: q.Z - h}, Mode: path.Line, Feed: 5}
			if i == 0 {
				m.Mode = path.Rapid
			}
			p.Moves = append(p.Moves, m)
		}
	}
	for b.Loop() {
		r, err := Measure(context.Background(), m, []Program{p}, Params{Cusp: 0.003, Places: 300})
		if err != nil || len(r.Places) < 150 {
			b.Fatal(err, len(r.Places))
		}
		b.ReportMetric(r.P50*1000, "um50")
		b.ReportMetric(r.P99*1000, "um99")
	}
}
