package reach

import (
	"context"
	"errors"
	"math"
	"runtime"
	"slices"
	"testing"

	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/patch"
	"barwise/geom/mesh/sample"
	"barwise/plan/cl"
	"barwise/shop/bar"
	"barwise/shop/cutter"
	"barwise/stock"
)

// prism is a polygon over (x, z), counter-clockwise seen from −y, that runs along y from y0 to y1.
func prism(y0, y1 float64, poly ...geom.Vec2) *mesh.Mesh {
	m := &mesh.Mesh{}
	n := int32(len(poly))
	for _, y := range [2]float64{y0, y1} {
		for _, p := range poly {
			m.Vertices = append(m.Vertices, geom.Vec3{X: p.X, Y: y, Z: p.Y})
		}
	}
	for i := range n {
		k := (i + 1) % n
		m.Triangles = append(m.Triangles, [3]int32{i, n + k, k}, [3]int32{i, n + i, n + k})
	}
	// ears off the ends
	left := make([]int32, n)
	for i := range left {
		left[i] = int32(i)
	}
	turn := func(a, b, c geom.Vec2) float64 { return b.Sub(a).Cross(c.Sub(a)) }
	for len(left) > 2 {
		for i := range left {
			a, b, c := left[(i+len(left)-1)%len(left)], left[i], left[(i+1)%len(left)]
			pa, pb, pc := poly[a], poly[b], poly[c]
			ear := turn(pa, pb, pc) > 0
			for _, o := range left {
				if p := poly[o]; o != a && o != b && o != c && turn(pa, pb, p) >= 0 && turn(pb, pc, p) >= 0 && turn(pc, pa, p) >= 0 {
					ear = false
				}
			}
			if ear || len(left) == 3 {
				m.Triangles = append(m.Triangles, [3]int32{a, b, c}, [3]int32{n + a, n + c, n + b})
				left = append(left[:i], left[i+1:]...)
				break
			}
		}
	}
	return m
}

// xz makes points of pairs.
func xz(v ...float64) []geom.Vec2 {
	var out []geom.Vec2
	for i := 0; i < len(v); i += 2 {
		out = append(out, geom.Vec2{X: v[i], Y: v[i+1]})
	}
	return out
}

var (
	quarters = []float64{0, 90, 180, 270}
	short    = bar.Bar{Shape: bar.Square, Width: 17, Height: 17, Length: 22, Grip: 8}
	thick    = bar.Bar{Shape: bar.Square, Width: 24, Height: 24, Length: 31, Grip: 8}
)

// slim is a cutter with nothing above its flutes to be in the way.
func slim(p cutter.Profile) cutter.Cutter {
	return cutter.Cutter{ID: "slim", Profile: p, Edges: 2, LCF: 40, StickOut: 60}
}

// job roughs with a flat of 2 mm radius and then finishes with c from all sides.
func job(m *mesh.Mesh, b bar.Bar, sides []float64, c cutter.Cutter) PredictParams {
	const stub, standing = 10, 0.3
	p := PredictParams{Mesh: m, Bar: b, Sides: sides, Clear: 0.7, StubY: stub, Pitch: 0.1457, Exact: true, Zone: stock.Zone{Y0: stub + 3}}
	cut := func(c cutter.Cutter, low float64) Cut {
		q := Cut{Cutter: c, Over: c.R + 0.5, YMin: stub + c.R + standing, YMax: b.Length + c.R + 0.5}
		for range sides {
			q.Lowest = append(q.Lowest, low)
		}
		return q
	}
	for range sides {
		p.Walls = append(p.Walls, []Wall{{Y: stub, Top: b.Width / 2}})
	}
	r := cut(slim(cutter.FlatEnd(2)), -0.5)
	r.Rough, r.Stepdown, r.Allowance = true, 0.8, standing
	p.Cuts = []Cut{r, cut(c, -11)}
	return p
}

func predict(t *testing.T, p PredictParams) (*Prediction, *patch.Set) {
	t.Helper()
	set := patch.Cut(p.Mesh, 0.4, 400000)
	out, err := Predict(context.Background(), cl.NewSurface(p.Mesh), p, set)
	if err != nil {
		t.Fatal(err)
	}
	return out, set
}

// A block 12 wide with something cut into its top, z = 5.03, along all of its length. What stays in a
// section is known in closed form; it is asked of the middle of the block, away from its ends.
func TestSectionsByClosedForm(t *testing.T) {
	const r, top = 1.0, 5.03
	const y0, y1 = 17.0, 17.6
	corner := r * r * (1 - math.Pi/4)
	block := func(groove ...float64) []geom.Vec2 {
		return append(xz(-6.01, -5.02, 6.01, -5.02, 6.01, top), append(xz(groove...), xz(-6.01, top)...)...)
	}
	// a circle of radius r over a gap of w: the segment that hangs into it
	segment := func(w float64) float64 {
		return r*r*math.Asin(w/2/r) - w/2*math.Sqrt(r*r-w*w/4)
	}
	vee := func(half float64) float64 { // between the flanks and the circle that touches both
		return r * r * (1/math.Tan(half) - (math.Pi/2 - half))
	}
	vAt := func(half, deep float64) []float64 {
		w := deep * math.Tan(half)
		return []float64{w, top, 0, top - deep, -w, top}
	}
	ball, flat := slim(cutter.Ball(r)), slim(cutter.FlatEnd(r))
	sag := func(d float64) float64 { return r - math.Sqrt(max(0, r*r-d*d)) }
	vField := func(half, deep float64) func(x float64) float64 { // the flanks, and the ball between its contacts
		return func(x float64) float64 {
			if x = math.Abs(x); x < r*math.Cos(half) {
				return top - deep + r/math.Sin(half) - r + sag(x)
			}
			return top - deep + x/math.Tan(half)
		}
	}
	hung := func(x float64) float64 { return top - sag(0.65) + sag(x) }
	wide := func(x float64) float64 { return top - 3.1 + sag(max(0, math.Abs(x)-1.65+r)) }
	level := func(z float64) func(float64) float64 { return func(float64) float64 { return z } }
	slot := func(w float64) []geom.Vec2 { return block(w, top, w, top-3.1, -w, top-3.1, -w, top) }
	step := xz(-6.01, -5.02, 6.01, -5.02, 6.01, 1.03, 1.52, 1.03, 1.52, top, -6.01, top)
	for _, c := range []struct {
		name      string
		poly      []geom.Vec2
		c         cutter.Cutter
		area, rim float64 // mm² that stay, mm round them
		class     Class   // of most that is not reached
		x0, x1    float64 // where the height of side 0's field is known
		height    func(x float64) float64
	}{
		{"slot 1.3 wide, 3.1 deep, under a ball of 2", slot(0.65), ball, 1.3*3.1 - segment(1.3), 8.8, Narrow, -0.64, 0.64, hung},
		{"slot 1.3 wide under a flat end of 2", slot(0.65), flat, 1.3 * 3.1, 8.8, Narrow, -0.64, 0.64, level(top)},
		{"slot 3.3 wide under a ball", slot(1.65), ball, 2 * corner, 7.2, Narrow, -1.63, 1.63, wide},
		{"slot 3.3 wide under a flat end", slot(1.65), flat, 0, 0, Reached, -1.63, 1.63, level(top - 3.1)},
		{"V of 60°", block(vAt(math.Pi/6, 4)...), ball, vee(math.Pi / 6), 5.6, Narrow, -2, 2, vField(math.Pi/6, 4)},
		{"V of 100°", block(vAt(5*math.Pi/18, 2.5)...), ball, vee(5 * math.Pi / 18), 3, Narrow, -2.6, 2.6, vField(5*math.Pi/18, 2.5)},
		// wings of 1.4 by 1.7 under the lips of a mouth 3.3 wide, and the ball's corner beside each
		{"T-slot", block(1.65, top, 1.65, top-2.2, 3.05, top-2.2, 3.05, top-3.9, -3.05, top-3.9, -3.05, top-2.2, -1.65, top-2.2, -1.65, top), ball, 2*1.4*1.7 + 2*corner, 14, Undercut,
			-1.63, 1.63, func(x float64) float64 { return wide(x) - 0.8 }},
		{"step", step, ball, corner, 3.6, Narrow, 1.54, 5.9, func(x float64) float64 { return 1.03 + sag(max(0, 1.52+r-x)) }},
		{"step under a flat end", step, flat, 0, 0, Reached, 1.54, 5.9, level(1.03)},
	} {
		p := job(prism(15.07, 19.54, c.poly...), short, quarters, c.c)
		p.Zone, p.Pitch = stock.Zone{Y0: y0, Y1: y1}, 0.0486
		out, _ := predict(t, p)
		rows := math.Floor(y1/p.Pitch) - math.Ceil(y0/p.Pitch) + 1
		area := out.Stays.Volume[0] / (rows * p.Pitch)
		if math.Abs(area-c.area) > p.Pitch*c.rim/6+1e-3 { // points of a lattice are counted
			t.Errorf("%s: %.4f mm² stay, want %.4f", c.name, area, c.area)
		}
		f := out.Stack.Field(0)
		j := int(math.Round((y0 + y1) / 2 / p.Pitch))
		for i := range f.NX {
			if x := f.X(i); x > c.x0 && x < c.x1 {
				if d := float64(f.At(i, j)) - c.height(x); math.Abs(d) > 0.01 { // a 32nd of a pitch beside a wall
					t.Errorf("%s: at x = %.3f the field stands at %.4f, want %.4f", c.name, x, f.At(i, j), c.height(x))
					break
				}
			}
		}
		most := Spared
		for _, k := range []Class{Held, Deep, Low, Narrow, Undercut} {
			if out.Area[k] > 0.05 && (most == Spared || out.Area[k] > out.Area[most]) {
				most = k
			}
		}
		if c.area > 0.1 && most != c.class {
			t.Errorf("%s: areas by class %v, most of it should be %v", c.name, out.Area, c.class)
		}
		if c.area > 0.1 {
			if len(out.Places) == 0 {
				t.Errorf("%s: no place", c.name)
			} else if sum := placed(out); math.Abs(sum-out.Stays.Volume[1]) > 0.05*out.Stays.Volume[1] {
				t.Errorf("%s: places hold %.3f mm³ of %.3f", c.name, sum, out.Stays.Volume[1])
			}
		}
	}
}

func placed(p *Prediction) float64 {
	v := 0.0
	for _, q := range p.Places {
		v += q.Volume
	}
	return v
}

// A slot wide enough for the ball but not for its holder, 8.2 deep, with a cutter that sticks out 6: on
// its floor the holder must begin the slot's depth, the skin and the clearance above the tip.
func TestHeldByTheHolder(t *testing.T) {
	const deep, standing, clear = 8.2, 0.3, 0.7
	m := prism(14.07, 28.04, xz(-7.03, -8.02, 7.03, -8.02, 7.03, 6.03, 1.65, 6.03, 1.65, 6.03-deep, -1.65, 6.03-deep, -1.65, 6.03, -7.03, 6.03)...)
	stubby := cutter.Cutter{ID: "short", Profile: cutter.Ball(1), Edges: 2, LCF: 6, StickOut: 6, Holder: []cutter.Collar{{Z: 0, R: 3}}}
	p := job(m, thick, quarters, stubby)
	p.Zone = stock.Zone{Y0: 18, Y1: 25}
	out, set := predict(t, p)
	floor := 0
	for i, c := range out.Class {
		if q := set.Centre(i); q.Y > 18.5 && q.Y < 24.5 && math.Abs(q.X) < 0.4 && math.Abs(q.Z-(6.03-deep)) < 1e-6 {
			floor++
			if c != Held || math.Abs(float64(out.StickOut[i])-(deep+standing+clear)) > 0.01 || out.Reach[i] != 0 {
				t.Fatalf("the floor is %v, stick-out %.3f would do, reach %.3f; want %v and %.3f", c, out.StickOut[i], out.Reach[i], Held, deep+standing+clear)
			}
		}
	}
	if floor < 50 {
		t.Fatalf("%d patches on the floor", floor)
	}
	if len(out.Places) == 0 || out.Places[0].Class != Held || math.Abs(out.Places[0].StickOut-9.2) > 0.01 {
		t.Errorf("places: %+v", out.Places)
	}
	// with what is asked, it is reached
	stubby.StickOut = deep + standing + clear + 0.01
	stubby.LCF = stubby.StickOut
	p = job(m, thick, quarters, stubby)
	p.Zone = stock.Zone{Y0: 18, Y1: 25}
	if out, _ = predict(t, p); out.Area[Held] > 0 || out.Stays.Volume[0] > 7*2*(1-math.Pi/4)*1.03 {
		t.Errorf("sticking out enough: %v, %.3f mm³ stay", out.Area, out.Stays.Volume[0])
	}
}

// A sphere is touched all over. From four sides a normal n has a side within an angle of cosine
// √((1 − n_y²)/2), from six within √(3(1 − n_y²))/2.
func TestSphereFromFourAndSixSides(t *testing.T) {
	m := sample.Sphere(geom.Vec3{X: 0.3, Y: 21.5, Z: -0.4}, 7, 64)
	for _, c := range []struct {
		b     bar.Bar
		sides []float64
		k     float64
	}{
		{thick, quarters, math.Sqrt(0.5)},
		{bar.Bar{Shape: bar.Hex, Width: 24, Height: 24, Length: 31, Grip: 8}, []float64{0, 60, 120, 180, 240, 300}, math.Sqrt(3) / 2},
	} {
		p := job(m, c.b, c.sides, slim(cutter.Ball(1)))
		p.Pitch, p.Exact = 0.2, false
		out, set := predict(t, p)
		if share := out.Area[Reached] / (out.Area[Reached] + out.Area[Narrow] + out.Area[Held] + out.Area[Undercut] + out.Area[Low]); share < 0.999 {
			t.Errorf("%d sides: %.4f of the sphere is reached, %v", len(c.sides), share, out.Area)
		}
		for i, s := range out.Side {
			n := set.Normal(i)
			if out.Class[i] != Reached {
				continue
			}
			if cos, want := n.Dot(geom.TurnDeg(c.sides[s]).Facing()), c.k*math.Sqrt(max(0, 1-n.Y*n.Y)); cos < want-0.01 {
				t.Fatalf("%d sides: normal %v is reached from %g° at a cosine of %.4f, a better side has %.4f", len(c.sides), n, c.sides[s], cos, want)
			}
		}
		if a := out.Stays.Volume[2]; a > 0.02*4*math.Pi*49*p.Pitch {
			t.Errorf("%d sides: %.3f mm³ stay farther than %g from the sphere", len(c.sides), a, p.Pitch)
		}
	}
}

// One core or two, the same to the last bit; a cancelled call ends with the context's error.
func TestPredictIsTheSameOnAnyCores(t *testing.T) {
	m := sample.Sphere(geom.Vec3{X: 0.3, Y: 21.5, Z: -0.4}, 5, 40)
	p := job(m, thick, quarters, slim(cutter.Ball(1)))
	p.Pitch = 0.25
	two, set := predict(t, p)
	was := runtime.GOMAXPROCS(1)
	one, _ := predict(t, p)
	runtime.GOMAXPROCS(was)
	for i := range quarters {
		if !slices.Equal(one.Stack.Field(i).Z, two.Stack.Field(i).Z) {
			t.Errorf("side %d differs", i)
		}
	}
	if !slices.Equal(one.Left, two.Left) || !slices.Equal(one.Class, two.Class) || !slices.Equal(one.By, two.By) || !slices.Equal(one.Places, two.Places) {
		t.Error("patches differ")
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Predict(ctx, cl.NewSurface(m), p, set); !errors.Is(err, context.Canceled) {
		t.Errorf("a cancelled call: %v", err)
	}
}

// A quarter turn, and a mirror in x = 0, change no figure.
func TestPredictTurns(t *testing.T) {
	base := prism(14.07, 27.04, xz(-5.01, -4.02, 6.03, -3.02, 6.01, 3.03, 3.05, 5.2, 2.2, 2.1, 1.1, 5.01, -2.01, 6.03, -2.31, 1.2, -4.4, 1.3, -4.41, 5.5, -7.01, 5.03)...)
	moved := func(f func(p geom.Vec3) geom.Vec3, flip bool) *mesh.Mesh {
		m := &mesh.Mesh{}
		for _, v := range base.Vertices {
			m.Vertices = append(m.Vertices, f(v))
		}
		for _, k := range base.Triangles {
			if flip {
				k[1], k[2] = k[2], k[1]
			}
			m.Triangles = append(m.Triangles, k)
		}
		return m
	}
	run := func(m *mesh.Mesh) (*Prediction, PredictParams) {
		p := job(m, thick, quarters, slim(cutter.Ball(0.6)))
		p.Pitch = 0.1942
		out, _ := predict(t, p)
		return out, p
	}
	want, _ := run(base)
	if want.Stays.Volume[1] < 5 {
		t.Fatalf("only %g mm³ stay", want.Stays.Volume[1])
	}
	for name, m := range map[string]*mesh.Mesh{
		"a quarter turn": moved(geom.TurnDeg(90).ToPart, false),
		"a mirror":       moved(func(p geom.Vec3) geom.Vec3 { p.X = -p.X; return p }, true),
	} {
		got, _ := run(m)
		for k := range want.Stays.Volume {
			if math.Abs(got.Stays.Volume[k]-want.Stays.Volume[k]) > 0.003*want.Stays.Volume[k] {
				t.Errorf("%s: %.4f mm³ stay, not %.4f", name, got.Stays.Volume[k], want.Stays.Volume[k])
			}
		}
		for k := range want.Area {
			if math.Abs(got.Area[k]-want.Area[k]) > 0.003*want.Area[Reached] {
				t.Errorf("%s: areas %v, not %v", name, got.Area, want.Area)
			}
		}
	}
}
