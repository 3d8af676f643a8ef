package share

import (
	"math"
	"math/rand/v2"
	"testing"

	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/sample"
)

// A spigot is made anew for every lay of a model, its triangles always from the same angle on: turned by a
// quarter with its sides, a model on a spigot is shared as before, turned, and so it is with its triangles in
// any order. Turned, both estimates agree to rounding, so that the same rule is taken; the seams of merit may
// move by a part where they are settled in another order.
func TestSharesTurnWithTheModel(t *testing.T) {
	spigot := sample.Revolved([]geom.Vec2{{Y: -5}, {X: 2.4, Y: -5}, {X: 2.4, Y: 0.3}, {Y: 0.3}}, 64)
	m := lumps()
	run := func(m *mesh.Mesh, merit bool) *Set {
		s := around(m, 0.5, Params{Pitch: 0.1}, square...)
		s.stubborn = merit
		return decided(t, s)
	}
	mixed := mesh.Join(m, spigot)
	rand.New(rand.NewPCG(1, 2)).Shuffle(len(mixed.Triangles), func(i, j int) {
		mixed.Triangles[i], mixed.Triangles[j] = mixed.Triangles[j], mixed.Triangles[i]
	})
	for _, c := range []struct {
		name  string
		m     *mesh.Mesh
		sides int     // quarters turned
		most  float64 // that times by merit may differ, as a share
		nodes float64 // that may be another's, as a share: those between two sides to rounding, or on seams
	}{
		{"a quarter turn", mesh.Join(m.Map(geom.TurnDeg(90).ToPart), spigot), 1, 1e-9, 1e-4},
		{"half a turn", mesh.Join(m.Map(geom.TurnDeg(180).ToPart), spigot), 2, 1e-9, 1e-4},
		{"mixed triangles", mixed, 0, 1e-3, 2e-3},
	} {
		for _, merit := range []bool{false, true} {
			got, want := run(c.m, merit), run(mesh.Join(m, spigot), merit)
			g, w := got.Compare(), want.Compare()
			if math.Abs(g.Merit.Time/w.Merit.Time-1) > c.most || math.Abs(g.Wedge.Time/w.Wedge.Time-1) > 1e-9 || g.Taken != w.Taken {
				t.Errorf("%s: %+v, before %+v", c.name, g, w)
			}
			other, all := 0, 0
			for i, v := range want.Views {
				o := got.Views[(i+c.sides)%4]
				for k, s := range v.State {
					if all++; o.State[k] != s {
						other++
					}
				}
			}
			if float64(other) > c.nodes*float64(all) {
				t.Errorf("%s: %d of %d nodes are other than before", c.name, other, all)
			}
		}
	}
}
