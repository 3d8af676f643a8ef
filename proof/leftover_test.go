package proof

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/sample"
	"barwise/path"
	"barwise/shop/bar"
	"barwise/shop/cutter"
)

// cusp is the height between passes s apart: R − √(R² − s²/4).
func cusp(R, s float64) float64 { return R - math.Sqrt(R*R-s*s/4) }

// under is how far the level face below a cusp of height h lies from the nearest ball: with the passes
// 2e apart, h = R − √(R² − e²), it is √(R² + e²) − R.
func under(R, h float64) float64 { return math.Sqrt(R*R+2*R*h-h*h) - R }

// plate is a target of one level or leaning rectangle, open: only its upper face is looked at.
func plate(x0, x1, y0, y1, z, slopeY float64) *mesh.Mesh {
	at := func(x, y float64) geom.Vec3 { return v3(x, y, z+slopeY*(y-y0)) }
	return &mesh.Mesh{Vertices: []geom.Vec3{at(x0, y0), at(x1, y0), at(x1, y1), at(x0, y1)}, Triangles: [][3]int32{{0, 1, 2}, {0, 2, 3}}}
}

// judgeSurface looks at the left-over of feed polylines of one cutter on one side.
func judgeSurface(t *testing.T, m *mesh.Mesh, tol, spacing float64, p cutter.Profile, lines ...[]geom.Vec3) *Result {
	t.Helper()
	prog := &Program{Cutter: cutter.Cutter{ID: "c", Profile: p, LCF: 50, StickOut: 50}}
	c := &chain{prog: prog, turn: geom.TurnDeg(0)}
	add := func(q geom.Vec3, mode path.Mode) {
		c.of = append(c.of, int32(len(prog.Moves)))
		c.pts = append(c.pts, q)
		prog.Moves = append(prog.Moves, path.Move{To: q, Mode: mode})
	}
	for _, l := range lines {
		for i, q := range l {
			if i == 0 {
				add(q, path.Rapid)
			} else {
				add(q, path.Line)
			}
		}
	}
	set := &Setup{Target: m, Bar: bar.Bar{Shape: bar.Square, Width: 100, Height: 100, Length: 100}, Sides: []float64{0},
		StubY: -1e3, Tolerance: tol, Spacing: spacing, GougeTol: 0.005, Pitch: 1}
	j := &judge{set: set, log: &logbook{}, res: &Result{}, count: &counter{}, chains: []*chain{c}}
	j.tree = newTree(m)
	j.solids = []*solid{j.tree.facing(geom.TurnDeg(0))}
	if err := j.surface(context.Background()); err != nil {
		t.Fatal(err)
	}
	return j.res
}

// passes are lines along X, s apart in y, from y0 to y1, at the height z(y).
func passes(x0, x1, y0, y1, s float64, z func(y float64) float64) [][]geom.Vec3 {
	var out [][]geom.Vec3
	n := int(math.Round((y1 - y0) / s))
	for i := 0; i <= n; i++ {
		y := y0 + s*float64(i)
		out = append(out, []geom.Vec3{v3(x0, y, z(y)), v3((x0+x1)/2, y, z(y)), v3(x1, y, z(y))})
	}
	return out
}

func bracket(t *testing.T, what string, r *Result, want float64) {
	t.Helper()
	l := r.Leftover
	if l.MaxUM > want*1.0005+0.01 || l.BoundUM < want*0.9995-0.01 {
		t.Errorf("%s: %.4f µm is left, found %.4f ≤ … ≤ %.4f", what, want, l.MaxUM, l.BoundUM)
	}
	if l.BoundUM > 1.1*want+0.35 || l.MaxUM < 0.9*want-0.35 {
		t.Errorf("%s: %.4f µm is left, the bracket %.4f to %.4f is too wide", what, want, l.MaxUM, l.BoundUM)
	}
}

// Raster of a ball over a level face: h = R − √(R² − s²/4), rows as computed from that formula, and line
// offsets for a cusp from Dormer Pramet's 2021–22 catalogue, p. 114, whose offsets are rounded to 0.01 mm.
func TestCuspOnPlane(t *testing.T) {
	for _, c := range []struct{ R, s, um float64 }{
		{0.5, 0.05, 0.625}, {0.5, 0.1, 2.506}, {1, 0.1, 1.251}, {1.5, 0.2, 3.337}, {3, 0.3, 3.752}, {3, 1.0, 41.960},
	} {
		ls := passes(-6, 6, -3, 3, c.s, func(float64) float64 { return 0 })
		// half a stepover beyond the last pass stays out of the picture
		r := judgeSurface(t, plate(-2, 2, -1, 1, 0, 0), 0.1, 0.5, cutter.Ball(c.R), ls...)
		bracket(t, "plane", r, 1000*under(c.R, c.um/1000))
	}
	for _, c := range []struct{ D, um, s float64 }{{2, 2, 0.13}, {3, 8, 0.31}, {6, 16, 0.62}, {8, 4, 0.36}, {12, 32, 1.24}} {
		ls := passes(-9, 9, -c.s*10, c.s*10, c.s, func(float64) float64 { return 0 })
		r := judgeSurface(t, plate(-1, 1, -1, 1, 0, 0), 0.1, 0.5, cutter.Ball(c.D/2), ls...)
		lo, hi := cusp(c.D/2, c.s-0.005), cusp(c.D/2, c.s+0.005)
		if c.um < 1000*lo-0.01 || c.um > 1000*hi+0.01 {
			t.Fatalf("the table's row %v does not fit its own rounding", c)
		}
		if lo, hi = 1000*under(c.D/2, lo), 1000*under(c.D/2, hi); r.Leftover.BoundUM < lo || r.Leftover.MaxUM > hi {
			t.Errorf("Ø%g at %g mm: left %.3f µm, the table says %g", c.D, c.s, r.Leftover.MaxUM, c.um)
		}
	}
}

// Across a slope the passes lie s/cos θ apart on the surface (R 3, s 0.3: 3.752, 5.004, 7.509, 15.038 µm
// at 0°, 30°, 45°, 60°).
func TestCuspOnSlopes(t *testing.T) {
	for _, c := range []struct{ deg, um float64 }{{0, 3.752}, {30, 5.004}, {45, 7.509}, {60, 15.038}} {
		sn, cs := math.Sincos(c.deg * math.Pi / 180)
		const R, s = 3, 0.3
		// a tip over y touches the leaning plane where the plane is R/cos θ − R higher
		ls := passes(-8, 8, -6, 6, s, func(y float64) float64 { return (y+1)*sn/cs + R/cs - R })
		r := judgeSurface(t, plate(-1, 1, -1, 1, 0, sn/cs), 0.1, 0.5, cutter.Ball(R), ls...)
		bracket(t, "slope", r, 1000*under(R, c.um/1000))
	}
}

// The bound holds at any tolerance, and what is in tolerance is in tolerance.
func TestAreaInTolerance(t *testing.T) {
	const R, s = 1, 0.2 // cusp 5.013 µm
	ls := passes(-6, 6, -3, 3, s, func(float64) float64 { return 0 })
	m := plate(-2, 2, -1, 1, 0, 0)
	for _, tol := range []float64{0.002, 0.004, 0.006} {
		r := judgeSurface(t, m, tol, 0.3, cutter.Ball(R), ls...)
		bracket(t, "at a tolerance", r, 1000*under(R, cusp(R, s)))
		// the strip of a pass in tolerance is 2√(2R·tol + tol²) … wide: e² = (R+tol)² − R²
		e := math.Sqrt((R+tol)*(R+tol) - R*R)
		want := math.Min(1, 2*e/s)
		if r.AreaInTolerance > want+1e-9 || r.AreaInTolerance < want-0.2 {
			t.Errorf("tolerance %g: %.4f of the area, %.4f by the closed form", tol, r.AreaInTolerance, want)
		}
		near(t, "areas add up", r.Area.InTolerance+r.Area.Left+r.Area.Unreachable+r.Area.Uncertain+r.Area.Excluded, 8, 1e-5)
		if tol < 0.005 && has(r, "leftover") == nil && r.Area.Left == 0 {
			t.Errorf("tolerance %g: nothing is called left", tol)
		}
	}
}

// A pass left out leaves the cusp of twice the stepover, and a hole in the passes what no ball reaches.
func TestMissingPassIsFound(t *testing.T) {
	const R, s = 1, 0.1
	ls := passes(-6, 6, -3, 3, s, func(float64) float64 { return 0 })
	without := append(append([][]geom.Vec3{}, ls[:30]...), ls[31:]...)
	m := plate(-2, 2, -1, 1, 0, 0)
	r := judgeSurface(t, m, 0.002, 0.3, cutter.Ball(R), without...)
	bracket(t, "pass left out", r, 1000*under(R, cusp(R, 2*s)))
	near(t, "place", math.Abs(r.Leftover.Where.Y-ls[30][0].Y), 0, 0.02)
	if r.Area.Left == 0 || r.Area.Unreachable > 0 {
		t.Errorf("areas %+v: all of it could be reached", r.Area)
	}
	// a hole: passes stop 1.5 mm short of x = 0 on both sides
	var holed [][]geom.Vec3
	for _, l := range ls {
		holed = append(holed, []geom.Vec3{l[0], v3(-1.5, l[0].Y, 0)}, []geom.Vec3{v3(1.5, l[0].Y, 0), l[2]})
	}
	r = judgeSurface(t, m, 0.002, 0.3, cutter.Ball(R), holed...)
	// at the middle the nearest centre is 1.5 mm off at height R: √(1.5² + R²) − R, and a pass beside it
	bracket(t, "hole", r, 1000*(math.Sqrt(1.5*1.5+R*R+s*s/4)-R))
	near(t, "place", math.Abs(r.Leftover.Where.X), 0, 0.1)
	// nothing cut at all near: the bound is still there and finite
	r = judgeSurface(t, m, 0.002, 0.3, cutter.Ball(R), []geom.Vec3{v3(20, 20, 3), v3(21, 20, 3)})
	if math.IsInf(r.Leftover.BoundUM, 0) || r.Leftover.BoundUM < 15000 || r.AreaInTolerance != 0 {
		t.Errorf("far away: %+v", r.Leftover)
	}
}

// Round faces: passes over a cylinder about X at equal angles α (closed form by the law of cosines).
func TestCuspOnCylinder(t *testing.T) {
	const rho, R = 5, 1
	alpha := 2.0 * math.Pi / 180
	// the face half way lies √(ρ² + (ρ+R)² − 2ρ(ρ+R)cos(α/2)) − R from the ball
	want := math.Sqrt(rho*rho+(rho+R)*(rho+R)-2*rho*(rho+R)*math.Cos(alpha/2)) - R
	var ls [][]geom.Vec3
	for i := -40; i <= 40; i++ {
		sn, cs := math.Sincos(alpha * float64(i))
		y, z := (rho+R)*sn, (rho+R)*cs-R
		ls = append(ls, []geom.Vec3{v3(-4, y, z), v3(4, y, z)})
	}
	m := &mesh.Mesh{}
	const n = 400 // facets over ±50°
	for i := 0; i <= n; i++ {
		sn, cs := math.Sincos((float64(i)/n*100 - 50) * math.Pi / 180)
		m.Vertices = append(m.Vertices, v3(-1, rho*sn, rho*cs), v3(1, rho*sn, rho*cs))
		if i > 0 {
			k := int32(2 * i)
			m.Triangles = append(m.Triangles, [3]int32{k - 2, k - 1, k}, [3]int32{k - 1, k + 1, k})
		}
	}
	facets := 1000 * rho * (1 - math.Cos(50.0/n*math.Pi/180))
	r := judgeSurface(t, m, 0.1, 0.3, cutter.Ball(R), ls...)
	if r.Leftover.MaxUM < 1000*want-0.1 || r.Leftover.MaxUM > 1000*want+facets+0.1 || r.Leftover.BoundUM > 1.1*1000*want+facets+0.35 {
		t.Errorf("cylinder: %+v, want %.3f to %.3f", r.Leftover, 1000*want, 1000*want+facets)
	}
}

// A flat end leaves a staircase of s·sin θ on a slope (s 0.2: 34.73, 100.0, 141.42 µm at 10°, 30°, 45°):
// triangles of floor s and riser s·tan θ. The slope under one is at most s·tan θ/(1 + tan θ) from both.
func TestStaircase(t *testing.T) {
	for _, c := range []struct{ deg, um float64 }{{10, 34.73}, {30, 100}, {45, 141.42}} {
		k := math.Tan(c.deg * math.Pi / 180)
		const R, s = 2, 0.2
		// the rim at y + R touches the plane
		ls := passes(-8, 8, -6, 3, s, func(y float64) float64 { return (y + R + 1) * k })
		r := judgeSurface(t, plate(-1, 1, -1, 1, 0, k), 0.3, 0.3, cutter.FlatEnd(R), ls...)
		sn, cs := math.Sincos(c.deg * math.Pi / 180)
		bracket(t, "staircase", r, c.um/(sn+cs))
	}
}

// Two walls closer than the ball is wide: the floor between them cannot be reached.
func TestUnreachable(t *testing.T) {
	const R = 1
	slot := mesh.Join(plate(-3, 3, -0.5, 0.5, 0, 0), sample.Box(v3(-3, -4, -1), v3(3, -0.5, 2)), sample.Box(v3(-3, 0.5, -1), v3(3, 4, 2)))
	ls := passes(-6, 6, -6, 6, 0.1, func(float64) float64 { return 2 })
	r := judgeSurface(t, slot, 0.01, 0.3, cutter.Ball(R), ls...)
	// floor 6 mm², upper parts of the slot's walls too
	if r.Area.Unreachable < 6 || r.Area.DeepestUM < 2000-1e-6 {
		t.Errorf("%+v", r.Area)
	}
	tops := 0.0
	for i, n := range r.Map.Normal {
		if n[2] > 0.9 && math.Abs(float64(r.Map.Point[i][2])-2) < 1e-3 && r.Map.Class[i] == InTolerance {
			tops += float64(r.Map.Area[i])
		}
	}
	near(t, "tops in tolerance", tops, 2*6*3.5, 0.5)
}

// What lies inside another shell is not surface; what the set-up keeps is not judged.
func TestExcluded(t *testing.T) {
	two := mesh.Join(sample.Box(v3(-2, -2, -2), v3(2, 2, 0)), sample.Box(v3(-1, -1, -1), v3(1, 1, 1)))
	r := judgeSurface(t, two, 0.01, 0.25, cutter.Ball(0.5), passes(-4, 4, -4, 4, 0.1, func(float64) float64 { return 5 })...)
	// the lower half of the small box lies inside the large one, its sides 4·2·1 and its bottom 4, and
	// the small box covers 4 of the large one's top
	near(t, "inside", r.Area.Excluded, 16, 0.2)
	s := slab()
	s.Keep = Keep{Y: [][2]float64{{10, 30}}}
	r = run(t, s, program("a.nc", 0, ballCutter(1.5), raster(-12, 12, 11.5, 30, 5, 1)))
	near(t, "span", r.Area.Judged, 0, 1e-6)
	near(t, "span, all of it", r.Area.Excluded, 2*(20*20+20*15+20*15), 1e-5)
}

// The distance from a sweep against a fine walk over time and outline.
func TestSweepDistance(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	for _, c := range fiveCutters {
		outline := outlineOf(c.p)
		for range 60 {
			pt := func() geom.Vec3 { return v3(rng.Float64()*4-2, rng.Float64()*4-2, rng.Float64()*4-2) }
			a, b, q := pt(), pt(), pt()
			prog := &Program{Program: path.Program{Moves: []path.Move{{}, {Mode: path.Line}}}}
			ch := &chain{prog: prog, pts: []geom.Vec3{a, b}, of: []int32{0, 1}}
			w := newSweeps(0, geom.TurnDeg(0), c.p, []*chain{ch}, geom.Box3{Min: v3(-9, -9, -9), Max: v3(9, 9, 9)})
			got := w.distance(0, q)
			slow := math.Inf(1)
			for k := 0; k <= 200; k++ {
				p := a.Lerp(b, float64(k)/200)
				r, z := math.Hypot(q.X-p.X, q.Y-p.Y), q.Z-p.Z
				if r <= c.p.R && z >= c.p.Height(r) {
					slow = 0
					break
				}
				for _, o := range outline {
					slow = min(slow, math.Hypot(r-o.X, z-o.Y))
				}
				if z > c.p.Rim() {
					slow = min(slow, max(0, r-c.p.R))
				}
			}
			if math.Abs(max(got, 0)-slow) > 0.03 || max(got, 0) > slow+0.012 {
				t.Fatalf("%s: got %.5f, walked %.5f", c.name, got, slow)
			}
			if c.name != "ball" && w.stays(0, q, max(got, 0)+1e-9) {
				t.Fatalf("%s: said to stay off by more than %.5f", c.name, got)
			}
		}
	}
}

// Needles of triangles, far longer than wide, across and along the passes: the work ends, no area is
// lost, and the bracket holds.
func TestNeedles(t *testing.T) {
	const R, s = 0.5, 0.1
	ls := passes(-4, 4, -3, 3, s, func(float64) float64 { return 0 })
	for _, along := range []bool{false, true} {
		m := &mesh.Mesh{}
		for i := range 40 {
			a := 0.013 + float64(i)*0.0007
			for _, p := range []geom.Vec3{v3(a, -1, 0), v3(a+0.0007, 1, 0), v3(a, 1, 0)} {
				if along {
					p = v3(p.Y, -p.X, 0)
				}
				m.Vertices = append(m.Vertices, p)
			}
			k := int32(3 * i)
			m.Triangles = append(m.Triangles, [3]int32{k, k + 1, k + 2})
		}
		for _, tol := range []float64{0.001, 0.0024, 0.004} {
			r := judgeSurface(t, m, tol, 0.3, cutter.Ball(R), ls...)
			a := r.Area
			near(t, "area", a.InTolerance+a.Left+a.Uncertain, 40*0.0007, 1e-5)
			// along the passes the needles lie over y −0.013 to −0.041, between the passes at 0 and −0.1
			e := 0.05
			if along {
				e = 0.041
			}
			most := 1000 * (math.Sqrt(R*R+e*e) - R)
			if r.Leftover.BoundUM < most-0.01 || r.Leftover.MaxUM > most+0.01 || r.Leftover.BoundUM > 1.2*most+0.5 {
				t.Errorf("along %v at %g: %+v, want %.3f", along, tol, r.Leftover, most)
			}
		}
	}
}

// Three corners nearly on one line, as a mesh of the open data has them: halving must come to an end.
func TestNearlyOneLine(t *testing.T) {
	const R, s = 0.5, 0.1
	ls := passes(-4, 4, -3, 3, s, func(float64) float64 { return 0 })
	for _, thin := range []float64{0, 1e-13, 1e-9, 1e-7, 1e-5} {
		m := &mesh.Mesh{Vertices: []geom.Vec3{v3(0, -0.11, 0), v3(thin, 0.01, 0), v3(0, 0.17, 0)}, Triangles: [][3]int32{{0, 1, 2}}}
		for _, tol := range []float64{1e-4, 0.001, 0.0024} {
			r := judgeSurface(t, m, tol, 0.3, cutter.Ball(R), ls...)
			if r.Leftover.BoundUM > 8 {
				t.Errorf("%g thin at %g: %+v", thin, tol, r.Leftover)
			}
		}
	}
}
