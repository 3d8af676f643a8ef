package rough

import (
	"context"
	"math"
	"testing"

	"barwise/geom"
	"barwise/geom/field"
	"barwise/geom/field/iso"
	"barwise/path"
	"barwise/shop/cutter"
)

// scene is a model whose tip heights are known in closed form.
type scene struct {
	name   string
	target func(p geom.Vec2, r, a float64) float64 // flat end of radius r, allowance a
	model  func(p geom.Vec2) float64               // height of the model; −Inf: none
	seen   func(p geom.Vec2) float64
	region func(r float64) Region
	box    func() Region // of the stock, with a little air
	bottom float64
}

// prism returns the tip height of a flat end (radius r) that keeps a off a prism: d is the distance to
// its footprint. A flat end grown by a is a disc of radius r with an edge rounded by a.
func prism(d, top, r, a float64) float64 {
	switch {
	case d <= r:
		return top + a
	case d < r+a:
		return top + math.Sqrt(a*a-(d-r)*(d-r))
	}
	return math.Inf(-1)
}

func rect(p geom.Vec2, x0, x1, y0, y1 float64) float64 {
	dx, dy := max(x0-p.X, p.X-x1, 0), max(y0-p.Y, p.Y-y1, 0)
	return math.Hypot(dx, dy)
}

func disc(p geom.Vec2, x, y, r float64) float64 { return max(0, math.Hypot(p.X-x, p.Y-y)-r) }

// hole is the distance to all that is outside a rectangle.
func hole(p geom.Vec2, x0, x1, y0, y1 float64) float64 {
	return max(0, min(p.X-x0, x1-p.X, p.Y-y0, y1-p.Y))
}

func block(w, l float64) func(p geom.Vec2) float64 {
	return func(p geom.Vec2) float64 {
		if math.Abs(p.X) > w/2 || p.Y < 0 || p.Y > l {
			return math.Inf(-1)
		}
		return w / 2
	}
}

func barScene(name string, w, l, stub float64, d func(p geom.Vec2) float64, top, bottom float64) scene {
	return scene{
		name: name, bottom: bottom,
		box:    func() Region { return Region{-w/2 - 1, w/2 + 1, -1, l + 1} },
		target: func(p geom.Vec2, r, a float64) float64 { return prism(d(p), top, r, a) },
		model: func(p geom.Vec2) float64 {
			if d(p) == 0 {
				return top
			}
			return math.Inf(-1)
		},
		seen: block(w, l),
		region: func(r float64) Region {
			return Region{-w/2 - r - 1.5, w/2 + r + 1.5, stub + r, l + r + 1.5}
		},
	}
}

func bossScene() scene {
	return barScene("boss", 20, 36, 8, func(p geom.Vec2) float64 {
		return min(rect(p, -3, 4, 14, 22), disc(p, 1, 28, 2.5))
	}, 6, -1)
}

func emptyScene() scene {
	return barScene("empty", 20, 30, 6, func(p geom.Vec2) float64 { return math.Inf(1) }, 0, -0.5)
}

// pocketScene is a block that fills the bar, with two pockets, one with an island, one just wider than
// the cutter.
func pocketScene() scene {
	return barScene("pocket", 24, 40, -9, func(p geom.Vec2) float64 {
		a := hole(p, -9, 9, 6, 24)
		b := hole(p, -8, 8, 29, 33.6)
		d := max(a, b)
		return min(d, disc(p, 1, 15, 2))
	}, 30, 4)
}

func domeScene() scene {
	s := barScene("dome", 20, 32, 6, nil, 0, -1)
	c, rho := geom.Vec2{X: 0.3, Y: 18.2}, 7.5
	s.target = func(p geom.Vec2, r, a float64) float64 {
		d := max(0, p.Sub(c).Len()-r)
		if d >= rho+a {
			return math.Inf(-1)
		}
		return math.Sqrt((rho+a)*(rho+a) - d*d)
	}
	s.model = func(p geom.Vec2) float64 {
		d := p.Sub(c).Len()
		if d > rho {
			return math.Inf(-1)
		}
		return math.Sqrt(rho*rho - d*d)
	}
	return s
}

func flat3() cutter.Cutter {
	return cutter.Cutter{ID: "flat3", Profile: cutter.FlatEnd(1.5), LCF: 12, DMM: 3, StickOut: 20, RampDeg: 3}
}

func params() Params {
	return Params{Cutter: flat3(), Stepdown: 1, Stepover: 1.2, Climb: true}
}

const allowance = 0.2

// mirrored is the scene with x and −x exchanged.
func (s scene) mirrored() scene {
	return s.mapped("mirrored", func(p geom.Vec2) geom.Vec2 { return geom.Vec2{X: -p.X, Y: p.Y} })
}

// quarter is the scene turned a quarter counter-clockwise.
func (s scene) quarter() scene {
	return s.mapped("quarter", func(p geom.Vec2) geom.Vec2 { return geom.Vec2{X: p.Y, Y: -p.X} })
}

// mapped asks the scene through m, an axis-parallel motion that takes a point back to the scene's own
// coordinates and whose inverse is taken from four corners.
func (s scene) mapped(name string, m func(geom.Vec2) geom.Vec2) scene {
	out := s
	out.name = s.name + " " + name
	out.target = func(p geom.Vec2, r, a float64) float64 { return s.target(m(p), r, a) }
	out.model = func(p geom.Vec2) float64 { return s.model(m(p)) }
	out.seen = func(p geom.Vec2) float64 { return s.seen(m(p)) }
	inverse := func(g Region) Region {
		o := Region{math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)}
		for _, x := range []float64{g.XMin, g.XMax} {
			for _, y := range []float64{g.YMin, g.YMax} {
				q := m(m(m(geom.Vec2{X: x, Y: y}))) // of order two or four
				o = Region{min(o.XMin, q.X), max(o.XMax, q.X), min(o.YMin, q.Y), max(o.YMax, q.Y)}
			}
		}
		return o
	}
	out.region = func(r float64) Region { return inverse(s.region(r)) }
	b := s.box()
	out.box = func() Region { return inverse(b) }
	return out
}

// input samples the scene: the target at the given pitch, the stock at 0.15 mm.
func (s scene) input(pitch float64, p Params) Input {
	r := p.Cutter.R
	g := s.region(r)
	t := field.New(field.Cover(g.XMin, g.XMax, g.YMin, g.YMax, pitch, pitch), field.Empty)
	for j := range t.NY {
		for i := range t.NX {
			t.Z[j*t.NX+i] = float32(s.target(geom.Vec2{X: t.X(i), Y: t.Y(j)}, r, allowance))
		}
	}
	q := 0.15
	b := s.box()
	f := field.New(field.Cover(b.XMin, b.XMax, b.YMin, b.YMax, q, q), field.Empty)
	for j := range f.NY {
		for i := range f.NX {
			f.Z[j*f.NX+i] = float32(s.seen(geom.Vec2{X: f.X(i), Y: f.Y(j)}))
		}
	}
	return Input{Target: t, Seen: f, Region: g, Bottom: s.bottom}
}

func run(t testing.TB, in Input, p Params) *Output {
	t.Helper()
	out, err := Plan(context.Background(), in, p)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// replay is the slow twin of the planner's stock: every node against every segment near it.
func replay(seen *field.Field, pitch float64, passes []path.Pass, c cutter.Profile) *field.Field {
	g := field.Cover(seen.X0, seen.X(seen.NX-1), seen.Y0, seen.Y(seen.NY-1), pitch, pitch)
	f := field.New(g, field.Empty)
	for j := range g.NY {
		for i := range g.NX {
			a, b := seen.Nearest(geom.Vec2{X: g.X(i), Y: g.Y(j)})
			f.Z[j*g.NX+i] = seen.At(a, b)
		}
	}
	each(passes, func(a, b geom.Vec3) {
		i0, j0 := g.Nearest(geom.Vec2{X: min(a.X, b.X) - c.R, Y: min(a.Y, b.Y) - c.R})
		i1, j1 := g.Nearest(geom.Vec2{X: max(a.X, b.X) + c.R, Y: max(a.Y, b.Y) + c.R})
		for j := max(j0, 0); j <= min(j1, g.NY-1); j++ {
			for i := max(i0, 0); i <= min(i1, g.NX-1); i++ {
				if d := iso.OffSegment(geom.Vec2{X: g.X(i), Y: g.Y(j)}, a.XY(), b.XY()); d <= c.R {
					h := float32(max(a.Z, b.Z) + c.Height(d))
					f.Z[j*g.NX+i] = min(f.Z[j*g.NX+i], h)
				}
			}
		}
	})
	return f
}

// each visits every feed segment of the passes: leads, points, and the ways between Follow passes.
func each(passes []path.Pass, visit func(a, b geom.Vec3)) {
	for n, p := range passes {
		all := append(append([]geom.Vec3(nil), p.Lead...), p.Points...)
		if p.Follow {
			visit(passes[n-1].End(), all[0])
		}
		for i := 1; i < len(all); i++ {
			visit(all[i-1], all[i])
		}
	}
}

// slanted is an island and a slot whose walls lie along no grid line.
func slantedScene() scene {
	return barScene("slanted", 20, 36, 8, func(p geom.Vec2) float64 {
		s, c := math.Sincos(0.4)
		q := geom.Vec2{X: p.X*c + (p.Y-24)*s, Y: (p.Y-24)*c - p.X*s}
		return min(rect(q, -5, -2.2, -4, 5), rect(q, 1.6, 4, -4, 5))
	}, 7, -1)
}

func scenes() []scene {
	return []scene{bossScene(), emptyScene(), pocketScene(), domeScene(), slantedScene()}
}
