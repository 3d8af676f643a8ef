package choose

import (
	"context"
	"testing"

	"barwise/geom/mesh"
	"barwise/geom/mesh/patch"
	"barwise/plan/cl"
	"barwise/plan/reach"
	"barwise/shop/bar"
	"barwise/shop/cutter"
	"barwise/shop/machine"
	"barwise/stock"
)

var (
	quarters = []float64{0, 90, 180, 270}
	thick    = bar.Bar{Shape: bar.Square, Width: 24, Height: 24, Length: 31, Grip: 8}
	nut      = []cutter.Collar{{Z: 0, R: 6}}
	// a small mill, typical of its kind
	mill = machine.Machine{Rate: [3]float64{50, 50, 25}, Accel: [3]float64{400, 400, 200}, BlockRate: 400, ToolChange: 120, Turn: 60}
)

const stub, standing, clearOf = 10, 0.2, 0.5

// flat and ball are cutters of diameter d with flutes, neck and stick-out of so many mm.
func flat(id string, d, lcf, lu, out float64) cutter.Cutter {
	return necked(cutter.Cutter{ID: id, Profile: cutter.FlatEnd(d / 2), Edges: 2}, lcf, lu, out)
}

func ball(id string, d, lcf, lu, out float64) cutter.Cutter {
	return necked(cutter.Cutter{ID: id, Profile: cutter.Ball(d / 2), Edges: 2}, lcf, lu, out)
}

func necked(c cutter.Cutter, lcf, lu, out float64) cutter.Cutter {
	c.LCF, c.LU, c.StickOut, c.DMM, c.OAL, c.Holder = lcf, lu, out, max(3, c.DC()), 50, nut
	if lu > lcf {
		c.DN = 0.95 * c.DC()
	}
	return c
}

// shop is a dozen common cutters: seven for finishing, five for roughing.
func shop() []cutter.Cutter {
	return []cutter.Cutter{
		flat("flat-6", 6, 22, 22, 30), flat("flat-3", 3, 17, 17, 24), flat("flat-2", 2, 8, 14, 22), flat("flat-1.5", 1.5, 6, 12, 20), flat("flat-1", 1, 4, 10, 20),
		ball("ball-6", 6, 22, 22, 30), ball("ball-4", 4, 16, 22, 28), ball("ball-3", 3, 10, 20, 26), ball("ball-2", 2, 6, 16, 24),
		ball("ball-1.5", 1.5, 4, 15, 22), ball("ball-1", 1, 3, 14, 22), ball("ball-0.5", 0.5, 1, 6, 16),
	}
}

// piece is a model in a bar, all flats for roughing and all balls for finishing, run as on soft board.
func piece(m *mesh.Mesh, b bar.Bar, sides []float64, cutters ...cutter.Cutter) Params {
	p := Params{Machine: mill, PathTolerance: 0.001, Samples: 8000}
	p.PredictParams = reach.PredictParams{Mesh: m, Bar: b, Sides: sides, Clear: clearOf, StubY: stub, Tolerance: 0.02, Zone: stock.Zone{Y0: stub + 3}}
	for range sides {
		p.Walls = append(p.Walls, []reach.Wall{{Y: stub, Top: b.Width / 2}})
	}
	for _, c := range cutters {
		u := &Use{Feed: 24, Cut: reach.Cut{Cutter: c, Over: c.R + 0.5, YMin: stub + c.R + standing, YMax: b.Length + c.R + 0.5}}
		if c.Round == 0 {
			u.Rough, u.Stepdown, u.Stepover, u.Allowance, u.Feed = true, c.DC()/3, 0.45*c.DC(), standing, 50
		} else {
			u.Cusp = 0.002
		}
		for range sides {
			if u.Rough {
				u.Lowest = append(u.Lowest, -0.5)
			} else {
				u.Lowest = append(u.Lowest, -b.Width/2+clearOf)
			}
		}
		if u.Rough {
			p.Candidates = append(p.Candidates, Candidate{Rough: u})
		} else {
			p.Candidates = append(p.Candidates, Candidate{Finish: u})
		}
	}
	return p
}

func chosen(t *testing.T, p Params) *Chosen {
	t.Helper()
	set := patch.Cut(p.Mesh, 0.4, 400000)
	c, err := Choose(context.Background(), cl.NewSurface(p.Mesh), p, set)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// names are the cutters of a sequence.
func names(p Params, rough, finish []int) (out []string) {
	for _, i := range rough {
		out = append(out, p.Candidates[i].Rough.Cutter.ID)
	}
	for _, i := range finish {
		out = append(out, p.Candidates[i].Finish.Cutter.ID)
	}
	return out
}
