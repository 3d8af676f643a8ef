package share

import (
	"context"
	"fmt"
	"math"
	"runtime"
	"slices"
	"testing"

	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/sample"
	"barwise/plan/cl"
	"barwise/shop/cutter"
)

// around is a set of a ball of radius r on a mesh from sides at some angles.
func around(m *mesh.Mesh, r float64, p Params, deg ...float64) *Set {
	b := m.Box()
	far := 0.0
	for _, v := range []geom.Vec3{b.Min, b.Max} {
		far = max(far, math.Abs(v.X), math.Abs(v.Z))
	}
	far = math.Sqrt2*far + 2*r
	in := Input{Surface: cl.NewSurface(m), Mesh: m, Cutter: cutter.Ball(r), YMin: b.Min.Y - 2*r, YMax: b.Max.Y + 2*r}
	for _, d := range deg {
		s := Side{Deg: d, XMin: -far, XMax: far, ZMin: -far}
		if geom.IsEnd(d) {
			s.YMin, s.YMax, s.ZMin = -far, far, b.Min.Y-2*r
		}
		in.Sides = append(in.Sides, s)
	}
	p.Near = 0.002
	return New(in, p)
}

func decided(t *testing.T, s *Set) *Set {
	t.Helper()
	if err := s.All(context.Background()); err != nil {
		t.Fatal(err)
	}
	return s
}

var square = []float64{0, 90, 180, 270}

// tube is a closed surface about the y axis, of a radius that may change with the angle and the length.
func tube(n, m int, long float64, r func(a, y float64) float64) *mesh.Mesh {
	return sample.Grid(n, m+1, true, false, func(u, v int) geom.Vec3 {
		a, y := 2*math.Pi*float64(u)/float64(n), long*float64(v)/float64(m)
		q := r(a, y)
		if v == 0 || v == m {
			q = 0
		}
		return geom.Vec3{X: q * math.Sin(a), Y: y, Z: q * math.Cos(a)}
	})
}

// On convex bodies merit comes out as the wedge: a place belongs to the side it faces, to within a part of
// the vote. Places are told by the closed form of the surface; what turns to the ends is left out.
func TestConvexBodiesAreSharedByWedges(t *testing.T) {
	const n, long, slack = 4, 12.0, 0.5
	for _, c := range []struct {
		name string
		x, z float64 // half axes
		pow  float64 // of the superellipse |x/a|^p + |z/b|^p = 1
	}{{"round", 4, 4, 2}, {"ellipse", 5, 3.5, 2}, {"superellipse", 5, 4, 3}} {
		radius := func(a, y float64) float64 {
			s, k := math.Sincos(a)
			return math.Pow(math.Pow(math.Abs(s)/c.x, c.pow)+math.Pow(math.Abs(k)/c.z, c.pow), -1/c.pow)
		}
		s := around(tube(192, 64, long, radius), 0.5, Params{Pitch: 0.1}, square...)
		s.stubborn = true
		decided(t, s)
		seen := 0
		for i, v := range s.Views {
			f := v.Field
			for at := range f.Z {
				x, y := f.X(at%f.NX), f.Y(at/f.NX)
				if v.Beyond[at] || y < 2 || y > long-2 || at%3 > 0 {
					continue
				}
				gx, gy := f.Slope(at%f.NX, at/f.NX)
				q := v.Turn.ToPart(s.touch(geom.Vec3{X: x, Y: y, Z: float64(f.Z[at])}, geom.Vec3{X: -gx, Y: -gy, Z: 1}.Unit()))
				rho := math.Hypot(q.X, q.Z)
				if math.Abs(rho-radius(math.Atan2(q.X, q.Z), y)) > 0.02 {
					continue
				}
				// the gradient of the closed form; how far a place is past the seam goes by the arc to it
				g := geom.Vec3{X: math.Copysign(math.Pow(math.Abs(q.X)/c.x, c.pow-1)/c.x, q.X), Z: math.Copysign(math.Pow(math.Abs(q.Z)/c.z, c.pow-1)/c.z, q.Z)}.Unit()
				best, mine := 0.0, g.Dot(v.Facing)
				for j, o := range s.Views {
					if j != i {
						best = max(best, g.Dot(o.Facing))
					}
				}
				past := arc(radius, q, (best-mine)/math.Sqrt2, c.x, c.z, c.pow)
				if own := v.State[at] == Own; own && past > slack || !own && past < -slack {
					t.Fatalf("%s, side %d: place %.3f, %.2f mm past the seam, state %d", c.name, i, q, past, v.State[at])
				}
				seen++
			}
		}
		if seen < 1000 {
			t.Fatalf("%s: %d places", c.name, seen)
		}
		for _, e := range []Estimate{s.Compare().Merit, s.Compare().Wedge} {
			if e.Pieces != n {
				t.Errorf("%s: %d pieces of shares", c.name, e.Pieces)
			}
		}
	}
}

// arc is how far a place of a superellipse lies from the nearest where the normal stands at 45°, with the
// sign of past: there |x|ᵖ⁻¹/aᵖ = |z|ᵖ⁻¹/bᵖ.
func arc(radius func(a, y float64) float64, q geom.Vec3, past, ax, az, pow float64) float64 {
	a := math.Atan(math.Pow(ax/az, pow/(pow-1)))
	r := radius(a, 0)
	x, z := r*math.Sin(a), r*math.Cos(a)
	return math.Copysign(math.Hypot(math.Abs(q.X)-x, math.Abs(q.Z)-z), past)
}

// By the fixed wedge a place goes by its angle, whatever it faces: on an ellipse the seams stand at 45°.
func TestWedgeGoesByAngle(t *testing.T) {
	m := tube(192, 64, 12, func(a, y float64) float64 { return 1 / math.Hypot(math.Sin(a)/6, math.Cos(a)/4) })
	s := decided(t, around(m, 0.5, Params{Rule: ByWedge, Pitch: 0.1}, square...))
	for i, v := range s.Views {
		f := v.Field
		for at := range f.Z {
			x, y := f.X(at%f.NX), f.Y(at/f.NX)
			gx, gy := f.Slope(at%f.NX, at/f.NX)
			q := s.touch(geom.Vec3{X: x, Y: y, Z: float64(f.Z[at])}, geom.Vec3{X: -gx, Y: -gy, Z: 1}.Unit())
			if v.Beyond[at] || y < 2 || y > 10 || math.Hypot(q.X, q.Z) < 3.5 {
				continue
			}
			past := (math.Abs(q.X) - q.Z) / math.Sqrt2
			if own := v.State[at] == Own; own && past > 0.5 || !own && past < -0.5 {
				t.Fatalf("side %d: place %.3f, %.2f mm past the plane, state %d", i, q, past, v.State[at])
			}
		}
	}
}

// lumps is a body with lumps, hollows and a hole, none of it alike.
func lumps() *mesh.Mesh {
	m := tube(90, 60, 12, func(a, y float64) float64 {
		return 3.2 + 0.5*math.Sin(3*a+y) + 0.4*math.Cos(1.9*y)*math.Sin(5*a)
	})
	ring := sample.Torus(1.6, 0.55, 40, 24).Map(func(p geom.Vec3) geom.Vec3 {
		return geom.Vec3{X: p.X + 3.6, Y: p.Z + 6, Z: p.Y + 0.7}
	})
	return mesh.Join(m, ring)
}

// What the cutter touches from one side is cut from some side: about every place that side does not keep,
// another's nodes are all in its share, overlap counted, and its tip stands there at the same height. By
// either rule, from four sides, from six, and with the end.
func TestNoPlaceIsLeft(t *testing.T) {
	const r = 0.5
	m := lumps()
	for _, rule := range []Rule{ByMerit, ByWedge} {
		for _, deg := range [][]float64{{0, 60, 120, 180, 240, 300}, {0, 90, 180, 270, geom.EndDeg}} {
			s := around(m, r, Params{Rule: rule, Pitch: 0.08}, deg...)
			s.stubborn = true
			decided(t, s)
			before := make([][]State, len(s.Views))
			for i, v := range s.Views {
				before[i] = slices.Clone(v.State)
				s.Spread(v)
			}
			asked, left := 0, 0
			for i, v := range s.Views {
				for at, st := range before[i] {
					x, y := v.Field.X(at%v.Field.NX), v.Field.Y(at/v.Field.NX)
					if at%5 > 0 || st == Own || v.Beyond[at] || !s.Inside(v, x, y) {
						continue
					}
					asked++
					if c := v.Turn.ToPart(geom.Vec3{X: x, Y: y, Z: float64(v.Field.Z[at]) + r}); !s.kept(c, r) {
						left++
					}
				}
			}
			t.Logf("rule %d, %d sides: %d places given away, %d kept by none", rule, len(deg), asked, left)
			if asked < 2000 || left > 0 {
				t.Errorf("rule %d, sides %v: %d of %d places are given away and kept by none", rule, deg, left, asked)
			}
		}
	}
}

// kept reports whether the nodes about the place of a ball's middle c are in the share of a side that the
// model lets down to it.
func (s *Set) kept(c geom.Vec3, r float64) bool {
	for _, o := range s.Views {
		p := o.Turn.ToSide(c)
		f := o.Field
		i, j := int(math.Floor((p.X-f.X0)/f.DX)), int(math.Floor((p.Y-f.Y0)/f.DY))
		if i < 0 || j < 0 || i+1 >= f.NX || j+1 >= f.NY {
			continue
		}
		ok := true
		for k := range 4 {
			at := (j+k>>1)*f.NX + i + k&1
			ok = ok && o.State[at] != Out
		}
		if z, _ := s.Height(o, p.X, p.Y); ok && z <= p.Z-r+2*reachGap/0.05 {
			return true
		}
	}
	return false
}

// Ripples that turn a face to and fro by more than the seams' angle do not break a share up: from each side
// one piece, by seams not much longer than straight ones. Place for place there are many.
func TestRipplesMakeNoIslands(t *testing.T) {
	const long = 16.0
	m := tube(300, 200, long, func(a, y float64) float64 { return 4 + 0.06*math.Sin(14*a)*math.Sin(5*y) })
	s := around(m, 0.5, Params{Pitch: 0.1}, square...)
	s.stubborn = true
	for i := range s.Views {
		if err := s.Look(context.Background(), i); err != nil {
			t.Fatal(err)
		}
	}
	raw, _ := s.count(newCrumbs(m, 0.3))
	if raw.cheapest(); len(raw.pieces()) < 20 {
		t.Fatalf("the ripples make no islands: %d pieces place for place", len(raw.pieces()))
	}
	e := decided(t, s).Compare().Merit
	if e.Pieces != 4 {
		t.Errorf("%d pieces", e.Pieces)
	}
	if straight := 4 * (long + 4); e.Seam > 1.4*straight {
		t.Errorf("%.1f mm of seam, straight it is %.1f", e.Seam, straight)
	}
}

// No seam runs across a flat face that two sides see alike.
func TestFlatFacesAreOfOneMind(t *testing.T) {
	m := sample.Box(geom.Vec3{X: -3, Y: 0, Z: -3}, geom.Vec3{X: 3, Y: 12, Z: 3}).Map(geom.TurnDeg(45).ToPart)
	s := around(m, 0.5, Params{Pitch: 0.1}, square...)
	s.stubborn = true
	decided(t, s)
	faces := map[string]map[int8]int{}
	for k, l := range s.ballot.label {
		n := s.ballot.normal[k]
		if min(math.Abs(n.X), math.Abs(n.Z)) < 0.7 { // parts on the edges are of two faces
			continue
		}
		name := fmt.Sprintf("%+.0f %+.0f", n.X*2, n.Z*2)
		if faces[name] == nil {
			faces[name] = map[int8]int{}
		}
		faces[name][l]++
	}
	if len(faces) != 4 {
		t.Fatalf("faces %v", faces)
	}
	for name, sides := range faces {
		most, all := 0, 0
		for _, n := range sides {
			most, all = max(most, n), all+n
		}
		if most < all-all/50 {
			t.Errorf("face %s is shared among %v", name, sides)
		}
	}
}

// A sphere in four wedges: its area, four half circles of seam, ragged by the parts' size, and no stick-out beyond its height.
func TestCompareOnASphere(t *testing.T) {
	const r = 5
	s := decided(t, around(sample.Sphere(geom.Vec3{}, r, 160), 0.5, Params{Pitch: 0.1}, square...))
	c := s.Compare()
	if c.Taken != ByWedge {
		t.Error("merit is used where it gains nothing")
	}
	for _, e := range []Estimate{c.Merit, c.Wedge} {
		if area := 4 * math.Pi * r * r; math.Abs(e.Area-area) > 0.01*area || e.Unreached > 0.01*area {
			t.Errorf("area %.1f, %.1f not reached, want %.1f", e.Area, e.Unreached, area)
		}
		if seam := 4 * math.Pi * r; math.Abs(e.Seam-seam) > 0.3*seam {
			t.Errorf("%.1f mm of seam, want %.1f", e.Seam, seam)
		}
		if e.Pieces != 4 || e.StickOut > r+0.6 {
			t.Errorf("%d pieces, stick-out %.2f", e.Pieces, e.StickOut)
		}
	}
}

// Beside a step the cutter must stick out by the step's height within the holder's radius, and not beyond.
func TestStickOutBesideAStep(t *testing.T) {
	m := mesh.Join(sample.Box(geom.Vec3{X: -20, Y: 0, Z: -2}, geom.Vec3{X: 20, Y: 20, Z: 0}), sample.Box(geom.Vec3{X: 10, Y: 0, Z: -2}, geom.Vec3{X: 20, Y: 20, Z: 6}))
	s := around(m, 0.5, Params{Pitch: 0.1}, 0)
	s.Whole = &cutter.Cutter{Profile: s.Cutter, Holder: []cutter.Collar{{R: 5}}}
	s.body()
	decided(t, s)
	up := geom.Vec3{Z: 1}
	for _, c := range []struct{ x, want float64 }{{8, 6}, {6, 6}, {3.5, 0}, {-10, 0}} {
		if got := s.stick(s.Views[0], geom.Vec3{X: c.x, Y: 10}, up); math.Abs(got-c.want) > 0.01 {
			t.Errorf("at x %g: %.3f mm, want %g", c.x, got, c.want)
		}
	}
}

// Level ground is the measure; a wall takes 1/ln 2 times the lines, half of them at √½ of the speed.
func TestTimeOnSlopes(t *testing.T) {
	if got := timeOn(1); got != 1 {
		t.Errorf("level %g", got)
	}
	if got, want := timeOn(0), 1/math.Ln2*(1+math.Sqrt2)/2; math.Abs(got-want) > 1e-12 {
		t.Errorf("wall %g, want %g", got, want)
	}
	last := 0.0
	for c := 1.0; c >= 0; c -= 0.01 {
		if now := timeOn(c) + steepOn(c); now <= last {
			t.Fatalf("at a cosine of %.2f no dearer than before", c)
		} else {
			last = now
		}
	}
}

// The same shares on any number of cores; a quarter turn and a mirror change no estimate.
func TestSharesAreSymmetric(t *testing.T) {
	m := lumps()
	run := func(m *mesh.Mesh) *Set {
		s := around(m, 0.5, Params{Pitch: 0.1}, square...)
		s.stubborn = true
		return decided(t, s)
	}
	two := run(m)
	was := runtime.GOMAXPROCS(1)
	one := run(m)
	runtime.GOMAXPROCS(was)
	for i, v := range one.Views {
		if !slices.Equal(v.State, two.Views[i].State) || !slices.Equal(v.E, two.Views[i].E) {
			t.Errorf("side %d differs", i)
		}
	}
	if one.Compare() != two.Compare() {
		t.Error("estimates differ")
	}
	flip := m.Map(func(p geom.Vec3) geom.Vec3 { p.X = -p.X; return p })
	flip.Triangles = slices.Clone(m.Triangles)
	for i, k := range flip.Triangles {
		flip.Triangles[i] = [3]int32{k[0], k[2], k[1]}
	}
	want := one.Compare().Merit
	for name, m := range map[string]*mesh.Mesh{"a quarter turn": m.Map(geom.TurnDeg(90).ToPart), "a mirror": flip} {
		got := run(m).Compare().Merit
		for _, p := range [][2]float64{{got.Time, want.Time}, {got.Area, want.Area}, {got.Seam, want.Seam}, {got.StickOut, want.StickOut}} {
			if math.Abs(p[0]-p[1]) > 0.01*p[1] {
				t.Errorf("%s: %+v, not %+v", name, got, want)
				break
			}
		}
	}
}
