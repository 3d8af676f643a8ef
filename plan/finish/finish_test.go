package finish

import (
	"context"
	"fmt"
	"math"
	"testing"

	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/plan/cl"
	"barwise/shop/cutter"
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
func worst(c *capsules, ss []spot) (hi, lo float64, at spot) {
	hi, lo = math.Inf(-1), math.Inf(1)
	for _, s := range ss {
		l := c.left(s.p, s.n)
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
					in := Input{Surface: cl.NewSurface(m), Cutter: cutter.Ball(r), YMin: -half, YMax: half,
						Sides: []Side{{XMin: -half, XMax: half, ZMin: -50}}}
					out := mustPlan(t, in, p)
					caps := sweep(out, r)
					// only what lies below where the tip may be
					var ss []spot
					for _, s := range spots(m, 60000, 1) {
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
					if testing.Verbose() {
						t.Logf("left %.3f..%.3f µm, stepover %.3f..%.3f, length %.0f", lo*1e3, hi*1e3, out.Sides[0].StepoverMin, out.Sides[0].StepoverMax, out.Sides[0].CutLength)
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
		{"sphere", ellipsoid(geom.Vec3{X: 5, Y: 5, Z: 5}, 120), 5, 5},
		{"ellipsoid", ellipsoid(geom.Vec3{X: 4, Y: 7, Z: 2.5}, 120), 4, 7},
		{"torus", torus(4, 1.6, 90), 5.6, 1.6},
		{"step", prism(3, l), 4, 6},
		{"undercut", prism(3, g), 4, 6},
	}
}

// What some side can reach is cut from one, to the cusp; nothing is cut too deep.
func TestSolidsAreCovered(t *testing.T) {
	const r = 0.8
	for _, s := range solids() {
		for _, dir := range []Direction{Along, Either} {
			t.Run(fmt.Sprintf("%s %d", s.name, dir), func(t *testing.T) {
				p := Params{Cusp: 0.005, Tolerance: 0.0005, Decimals: 4, Direction: dir}
				w := s.half + r + 0.2
				in := Input{Surface: cl.NewSurface(s.mesh), Cutter: cutter.Ball(r), Sides: fourSides(w, -s.half-1),
					YMin: -s.y - r - 0.2, YMax: s.y + r + 0.2}
				out := mustPlan(t, in, p)
				caps := sweep(out, r)
				ss := reachable(in, spots(s.mesh, 20000, 2))
				hi, lo, at := worst(caps, ss)
				missed := 0
				for _, q := range ss {
					if caps.left(q.p, q.n) > 1.1*p.Cusp+2*p.Tolerance {
						missed++
					}
				}
				if missed > 0 || lo < -p.Tolerance {
					t.Errorf("%d of %d spots above the cusp; %.2f to %.2f µm left, %.2f asked; worst at %.3f normal %.3f", missed, len(ss), lo*1e3, hi*1e3, p.Cusp*1e3, at.p, at.n)
				}
				for _, o := range out.Sides {
					t.Logf("%g°: %+v", o.Deg, o.Figures)
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
