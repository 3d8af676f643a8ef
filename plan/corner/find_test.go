package corner

import (
	"context"
	"errors"
	"math"
	"testing"

	"barwise/finding"
	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/sample"
	"barwise/shop/cutter"
)

var fine = Params{Cusp: 0.002, Tolerance: 0.01}

// In a groove of half angle β the large ball of radius R leaves, on the bisector, (R − r)(1/sin β − 1)
// over what a ball of radius r leaves: for β = 45° the known (R − r)(√2 − 1). On a flank, t from the
// bottom, it stands √(R² + (R cot β − t)²) − R from the large ball, for r cot β ≤ t ≤ R cot β; between the places that
// the small ball touches lies an arc of radius r, π − 2β long.
func TestGroove(t *testing.T) {
	const r, R, long = 0.5, 1.5, 4.0
	for _, half := range []float64{30, 45, 60, 75} {
		s := scene(t, vee(half, long, 3, 8), r, 0.05, 0)
		l := find(t, s, fine, before(s, R))
		sin, cos := math.Sincos(half * math.Pi / 180)
		g := l.Sides[0]
		if want := (R - r) * (1/sin - 1); math.Abs(g.DepthMax-want) > 0.001 {
			t.Errorf("%g°: greatest depth %.5f, want %.5f", half, g.DepthMax, want)
		}
		const worth = 0.0025 // a quarter of the tolerance
		flank := (R-r)*cos/sin - worthSide(R, worth)
		want := long * (2*flank + r*(math.Pi-half*math.Pi/90))
		if d := math.Abs(g.AreaMM2 - want); d > 0.02*want+1.5*s.Pitch*long/sin {
			t.Errorf("%g°: %.3f mm² left, want %.3f", half, g.AreaMM2, want)
		}
		// by node: the flank's depth at the place that the tip y from the middle touches
		f := s.Views[0].Field
		for k, d := range g.Depth {
			x, y := f.X(k%f.NX), math.Abs(f.Y(k/f.NX))
			if math.Abs(x) > 1 || y < 0.06 || y > 2 {
				continue
			}
			side := max(0, (R-r)*cos/sin-y/sin) // R cot β − t
			if want := math.Sqrt(R*R+side*side) - R; math.Abs(float64(d)-want) > 0.001 && want > worth {
				t.Fatalf("%g°, tip %g from the middle: %g deep, want %g", half, y, d, want)
			} else if want < worth/2 && d > 0 {
				t.Fatalf("%g°, tip %g from the middle: %g deep, where no more than %g is", half, y, d, want)
			}
		}
		// grown by a stepover, 2√(2·0.5·0.002), on the path surface
		for k, m := range g.Mask {
			x, y := f.X(k%f.NX), math.Abs(f.Y(k/f.NX))
			out := (R-r)*cos - worthSide(R, worth*(1-r/R))*sin + 0.0894*sin
			if math.Abs(x) < 1 && m != (y < out) && math.Abs(y-out) > 1.1*s.Pitch {
				t.Fatalf("%g°, tip %g from the middle: mask %v, it should end at %g", half, y, m, out)
			}
		}
	}
}

// worthSide is how far beside the place where a ball touches a plane the plane lies d from the ball.
func worthSide(r, d float64) float64 { return math.Sqrt(2*r*d + d*d) }

// A larger ball touches a convex body everywhere. Chords that bound the sphere's facets bend inward
// nowhere.
func TestConvexHasNoCorners(t *testing.T) {
	for name, m := range map[string]*mesh.Mesh{
		"ball": sample.Icosphere(4, 3),
		"box":  sample.Box(geom.Vec3{X: -2, Y: -3, Z: -2.5}, geom.Vec3{X: 2, Y: 3, Z: 2.5}),
		"askew box": sample.Box(geom.Vec3{X: -2, Y: -3, Z: -2}, geom.Vec3{X: 2, Y: 3, Z: 2}).Map(func(p geom.Vec3) geom.Vec3 {
			s, c := math.Sincos(0.4)
			p = geom.Vec3{X: p.X*c - p.Y*s, Y: p.X*s + p.Y*c, Z: p.Z}
			s, c = math.Sincos(0.3)
			return geom.Vec3{X: p.X, Y: p.Y*c - p.Z*s, Z: p.Y*s + p.Z*c}
		}),
	} {
		for _, degs := range [][]float64{{0, 90, 180, 270}, {0, 60, 120, 180, 240, 300}} {
			s := scene(t, m, 0.5, 0.1, degs...)
			l := find(t, s, fine, before(s, 1.5))
			for i, g := range l.Sides {
				n := 0
				for k := range g.Mask {
					if g.Mask[k] {
						n++
					}
				}
				if n > 0 || g.AreaMM2 > 0 || g.Regions > 0 {
					t.Errorf("%s, side %g°: %d nodes in %d regions, %.3f mm²", name, degs[i], n, g.Regions, g.AreaMM2)
				}
			}
		}
	}
}

// Where its limits keep the large cutter up, all below is left; where by less than the worth, nothing.
func TestLimitsCount(t *testing.T) {
	m := sample.Box(geom.Vec3{X: -2, Y: -3, Z: -2}, geom.Vec3{X: 2, Y: 3, Z: 2})
	s := scene(t, m, 0.5, 0.1, 0)
	e := before(s, 1.5)
	e.Sides = append(e.Sides[:0:0], e.Sides...)
	for _, c := range []struct{ low, want float64 }{{2.3, 0.3}, {2.01, 0.01}, {2.0015, 0}, {2, 0}} {
		e.Sides[0].ZMin = c.low
		g, f, tops := find(t, s, fine, e).Sides[0], s.Views[0].Field, 0
		for k, d := range g.Depth {
			if math.Abs(f.X(k%f.NX)) > 1.95 || math.Abs(f.Y(k/f.NX)) > 2.95 {
				continue // the walls beside the top face
			}
			if tops++; math.Abs(float64(d)-c.want) > 1e-5 {
				t.Fatalf("lowest tip %g: %g deep, want %g", c.low, d, c.want)
			}
		}
		if tops < 39*59 {
			t.Fatalf("%d nodes looked at", tops)
		}
	}
}

// An allowance that the large cutter left stands everywhere.
func TestAllowanceIsLeft(t *testing.T) {
	s := scene(t, sample.Icosphere(4, 3), 0.5, 0.1, 0, 90, 180, 270)
	e := before(s, 1.5)
	e.Allowance = 0.05
	l := find(t, s, fine, e)
	for i, g := range l.Sides {
		for k := range g.Mask {
			if v := s.Views[i]; v.Core(k) && !g.Mask[k] {
				t.Fatalf("side %d: node %d is not to be cut", i, k)
			}
		}
		// p²/8R·(1 + 1/cos²) of the closing's grid on a slope of 70°, p 0.1 mm
		if g.DepthMax < 0.05-1e-4 || g.DepthMax > 0.0585 {
			t.Errorf("side %d: %.4f deep, want 0.05", i, g.DepthMax)
		}
	}
}

// Turning model and sides together changes nothing; nor does a mirror but to mirror it.
func TestTurnsAndMirror(t *testing.T) {
	base := vee(50, 4, 3, 5)
	lean := func(p geom.Vec3) geom.Vec3 { return geom.Vec3{X: p.X + 0.2*p.Y, Y: p.Y, Z: p.Z + 0.1*p.X} }
	m := base.Map(lean)
	one := find(t, scene(t, m, 0.5, 0.05, 0), fine, Earlier{Cutter: cutter.Ball(1.5), Sides: scene(t, m, 0.5, 0.05, 0).Sides, YMin: -9, YMax: 9}).Sides[0]
	turned := m.Map(geom.TurnDeg(90).ToPart)
	s := scene(t, turned, 0.5, 0.05, 90)
	e := before(s, 1.5)
	e.YMin, e.YMax = -9, 9
	two := find(t, s, fine, e).Sides[0]
	if math.Abs(one.AreaMM2-two.AreaMM2) > 1e-6 || math.Abs(one.DepthMax-two.DepthMax) > 1e-6 || one.Regions != two.Regions {
		t.Errorf("as it lies %+v, turned %+v", one.Figures, two.Figures)
	}
	mirror := m.Map(func(p geom.Vec3) geom.Vec3 { return geom.Vec3{X: -p.X, Y: p.Y, Z: p.Z} })
	for i := range mirror.Triangles {
		a := &mirror.Triangles[i]
		a[0], a[1] = a[1], a[0]
	}
	s = scene(t, mirror, 0.5, 0.05, 0)
	e = before(s, 1.5)
	e.YMin, e.YMax = -9, 9
	if three := find(t, s, fine, e).Sides[0]; math.Abs(one.AreaMM2-three.AreaMM2) > 0.01*one.AreaMM2 || math.Abs(one.DepthMax-three.DepthMax) > 1e-3 {
		t.Errorf("as it lies %+v, mirrored %+v", one.Figures, three.Figures)
	}
}

func TestBadInput(t *testing.T) {
	s := scene(t, sample.Icosphere(2, 1), 0.5, 0.2, 0)
	var bad *finding.InputError
	for _, p := range []Params{{Tolerance: 0.01}, {Cusp: 0.01}, {Cusp: 0.01, Tolerance: 0.01, Decimals: 9}} {
		if _, err := Find(context.Background(), s, []Earlier{before(s, 1)}, p); !errors.As(err, &bad) {
			t.Errorf("%+v: %v", p, err)
		}
	}
	if _, err := Find(context.Background(), s, nil, fine); !errors.As(err, &bad) {
		t.Errorf("no earlier cutter: %v", err)
	}
	ctx, stop := context.WithCancel(context.Background())
	stop()
	if _, err := Find(ctx, s, []Earlier{before(s, 1)}, fine); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
}
