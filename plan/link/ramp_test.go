package link

import (
	"math"
	"testing"

	"barwise/geom"
	"barwise/path"
)

// Into a block a cutter that does not plunge comes down at its ramp angle, along the pass and never below it;
// into air, and with a cutter that may plunge, it comes straight down.
func TestRampIntoStock(t *testing.T) {
	pass := path.Pass{Points: []geom.Vec3{{X: 0, Z: -7}, {X: 3, Z: -7}, {X: 3, Y: 5, Z: -7}}}
	solid := func(geom.Vec2) float64 { return 0 }
	run := func(under func(geom.Vec2) float64, deg float64) (steepest float64, moves []path.Move) {
		moves = Link([]path.Pass{pass}, func(a, b geom.Vec2) float64 { return under(a) }, Params{Safe: 10, Clear: 1, ApproachGap: 1, CutFeed: 20, EntryFeed: 5, Under: under, RampDeg: deg})
		at := moves[0].To
		for _, m := range moves {
			d := m.To.Sub(at)
			if m.Mode == path.Line && d.Z < 0 && min(at.Z, 0) > m.To.Z {
				steepest = max(steepest, math.Atan2(-d.Z, d.XY().Len())*180/math.Pi)
				if m.Feed != 5 {
					t.Errorf("down at a feed of %g, want the entry feed", m.Feed)
				}
			}
			if m.To.Z < -7 {
				t.Errorf("below the pass: %v", m.To)
			}
			at = m.To
		}
		return steepest, moves
	}
	steep, moves := run(solid, 3)
	if steep > 3+1e-9 || steep == 0 {
		t.Errorf("down at %g°, allowed are 3°", steep)
	}
	// the ramp ends where the pass begins, and the pass is then cut whole
	n := len(moves)
	if got := moves[n-2].To; got != pass.Points[2] {
		t.Errorf("the pass ends at %v", got)
	}
	for name, c := range map[string]struct {
		under func(geom.Vec2) float64
		deg   float64
	}{"air": {func(geom.Vec2) float64 { return math.Inf(-1) }, 3}, "a plunging cutter": {solid, 90}} {
		if _, moves := run(c.under, c.deg); len(moves) > 7 {
			t.Errorf("%s: %d moves, want a straight way down", name, len(moves))
		}
	}
}
