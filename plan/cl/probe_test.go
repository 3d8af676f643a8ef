package cl

import (
	"math"
	"math/rand/v2"
	"testing"

	"barwise/geom"
	"barwise/shop/cutter"
)

// A probe led along a path answers as the index does for every point on its own, off the model too.
func TestProbeIsTheIndex(t *testing.T) {
	rnd := rand.New(rand.NewPCG(3, 9))
	ix := NewSurface(randomSoup(rnd, 400)).Index(geom.TurnDeg(90))
	for _, c := range []cutter.Profile{cutter.Ball(0.5), cutter.FlatEnd(0.4), cutter.Bull(0.8, 0.3), cutter.TaperedBall(0.9, 0.3, 0.3)} {
		p := ix.Probe(c)
		x, y := 0.0, 0.0
		for range 4000 {
			x, y = x+0.2*(rnd.Float64()-0.5), y+0.2*(rnd.Float64()-0.5)
			if rnd.IntN(50) == 0 {
				x, y = 12*(rnd.Float64()-0.5), 12*(rnd.Float64()-0.5)
			}
			got, want := p.Height(x, y), ix.Height(c, x, y)
			if got != want && !(math.Abs(got-want) < 1e-12) {
				t.Fatalf("%+v at (%g, %g): %g, without a seed %g", c, x, y, got, want)
			}
		}
	}
}
