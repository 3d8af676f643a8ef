package cusp

import (
	"context"
	"math"
	"reflect"
	"runtime"
	"testing"

	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/path"
	"barwise/shop/cutter"
)

const um = 1e-3

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.9g, want %.9g ± %g", what, got, want, tol)
	}
}

// surface is z = f(x, y) over a rectangle, of squares of about the given pitch cut in two.
func surface(f func(x, y float64) float64, x0, x1, y0, y1, pitch float64) *mesh.Mesh {
	nx, ny := int(math.Ceil((x1-x0)/pitch)), int(math.Ceil((y1-y0)/pitch))
	m := &mesh.Mesh{}
	for j := 0; j <= ny; j++ {
		for i := 0; i <= nx; i++ {
			x, y := x0+(x1-x0)*float64(i)/float64(nx), y0+(y1-y0)*float64(j)/float64(ny)
			m.Vertices = append(m.Vertices, geom.Vec3{X: x, Y: y, Z: f(x, y)})
		}
	}
	for j := range ny {
		for i := range nx {
			a := int32(j*(nx+1) + i)
			b, c, d := a+1, a+int32(nx)+1, a+int32(nx)+2
			m.Triangles = append(m.Triangles, [3]int32{a, b, d}, [3]int32{a, d, c})
		}
	}
	return m
}

// passes are polylines of a ball's centre, with rapids between, as a program of the tip at index angle deg.
func passes(r, deg float64, lines ...[]geom.Vec3) Program {
	p := Program{Cutter: cutter.Cutter{Profile: cutter.Ball(r)}}
	p.SideDeg = deg
	t := geom.TurnDeg(deg)
	p.Start = geom.Vec3{Z: 100}
	for _, l := range lines {
		for i, c := range l {
			q := t.ToSide(c)
			q.Z -= r
			m := path.Move{To: q, Mode: path.Line, Feed: 10}
			if i == 0 {
				m.Mode = path.Rapid
			}
			p.Moves = append(p.Moves, m)
		}
	}
	return p
}

// touching is the centre of a ball that touches z = f(x, y), by differences.
func touching(f func(x, y float64) float64, x, y, r float64) geom.Vec3 {
	const e = 1e-5
	n := geom.Vec3{X: -(f(x+e, y) - f(x-e, y)) / (2 * e), Y: -(f(x, y+e) - f(x, y-e)) / (2 * e), Z: 1}.Unit()
	return geom.Vec3{X: x, Y: y, Z: f(x, y)}.Add(n.Mul(r))
}

// raster runs along x at contact lines s apart in y, in steps of dx.
func raster(f func(x, y float64) float64, r, x0, x1, y0, y1, s, dx float64) [][]geom.Vec3 {
	var out [][]geom.Vec3
	for y := y0; y <= y1+1e-9; y += s {
		var l []geom.Vec3
		n := int(math.Ceil((x1 - x0) / dx))
		for i := 0; i <= n; i++ {
			l = append(l, touching(f, x0+(x1-x0)*float64(i)/float64(n), y, r))
		}
		if len(out)%2 == 1 {
			for i, j := 0, len(l)-1; i < j; i, j = i+1, j-1 {
				l[i], l[j] = l[j], l[i]
			}
		}
		out = append(out, l)
	}
	return out
}

func measure(t *testing.T, m *mesh.Mesh, q Params, p ...Program) *Result {
	t.Helper()
	if q.Places == 0 {
		q.Places = 400
	}
	r, err := Measure(context.Background(), m, p, q)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func ridge(r, w float64) float64 { return r - math.Sqrt(r*r-w*w/4) }

// Published line offsets by ball diameter and cusp: Dormer Pramet, catalogue 2021–22, p. 114, mm and µm. The
// table's last digit, half of 0.01 mm, is the tolerance.
func TestPublishedOffsets(t *testing.T) {
	flat := func(x, y float64) float64 { return 0 }
	for _, c := range []struct{ d, cusp, offset float64 }{
		{2, 2, 0.13}, {2, 32, 0.50}, {2, 250, 1.32}, {3, 4, 0.22}, {3, 63, 0.86}, {6, 8, 0.44}, {6, 125, 1.71}, {12, 16, 0.88}, {12, 250, 3.43},
	} {
		r, s := c.d/2, c.offset
		m := surface(flat, -3*s, 3*s, -9.5*s, 9.5*s, 1.3*s)
		got := measure(t, m, Params{Cusp: c.cusp * um}, passes(r, 0, raster(flat, r, -4*s, 4*s, -12*s, 12*s, s, 8*s)...))
		if len(got.Places) < 340 { // those by the mesh's own edge have no second valley
			t.Errorf("Ø%g, %g µm: %d places, %d untouched, %d at a rim, %d in a hollow", c.d, c.cusp, len(got.Places), got.Untouched, got.Rim, got.Hollow)
			continue
		}
		lo, hi := ridge(r, s-0.005), ridge(r, s+0.005)
		if h := c.cusp * um; h < lo || h > hi {
			t.Errorf("Ø%g: the table's %g µm is outside its own rounding", c.d, c.cusp)
		}
		near(t, "p50", got.P50, ridge(r, s), 1e-5)
		near(t, "p99", got.P99, ridge(r, s), 1e-5)
		near(t, "pair", got.Pair50, ridge(r, s), 0.02*ridge(r, s))
		near(t, "spacing", got.Places[200].Spacing, s, s/100)
	}
}

// Across a slope of θ the spacing on the surface is s/cos θ: ball R 3, s 0.3, worked by the closed form
// h = R − √(R² − w²/4): 3.752, 5.004, 7.509, 15.038 µm at 0, 30, 45, 60°. Constant heights Δz apart give
// the same at 90° less the angle.
func TestSlopes(t *testing.T) {
	const r, s = 3.0, 0.3
	for _, c := range []struct{ deg, um float64 }{{0, 3.752}, {30, 5.004}, {45, 7.509}, {60, 15.038}} {
		g := math.Tan(c.deg * math.Pi / 180)
		f := func(x, y float64) float64 { return g * y }
		m := surface(f, -1, 1, -2, 2, 0.31)
		got := measure(t, m, Params{Cusp: c.um * um}, passes(r, 0, raster(f, r, -2, 2, -3, 3, s, 4)...))
		near(t, "across the slope", got.P99*1000, c.um, 0.002+0.0005*c.um)
		near(t, "places", float64(len(got.Places)), 350, 50)
		if c.deg == 0 {
			continue
		}
		steep := math.Tan((90 - c.deg) * math.Pi / 180)
		f = func(x, y float64) float64 { return steep * y }
		m = surface(f, -1, 1, -6*s/steep, 6*s/steep, 0.31)
		got = measure(t, m, Params{Cusp: c.um * um}, passes(r, 0, raster(f, r, -2, 2, -9*s/steep, 9*s/steep, s/steep, 4)...))
		near(t, "constant heights", got.P50*1000, c.um, 0.002+0.0005*c.um)
	}
}

// On a cylinder about x of radius ρ, passes along it an angle 2α apart: the ridge between two circles of
// radius R about points ρ ± R from the axis. It agrees with h ≈ (w²/8)(1/R + κ) to a few per cent.
func TestCylinders(t *testing.T) {
	const r = 0.5
	for _, c := range []struct {
		rho    float64
		convex bool
	}{{2, true}, {0.7, true}, {2, false}, {0.8, false}} {
		w := 0.12
		a := w / c.rho / 2
		sign := 1.0
		if !c.convex {
			sign = -1
		}
		big := c.rho + sign*r
		want := sign * (big*math.Cos(a) - sign*math.Sqrt(r*r-sq(big*math.Sin(a))) - c.rho)
		if form := w * w / 8 * (1/r + sign/c.rho); math.Abs(form-want) > 0.05*want {
			t.Fatalf("curvature form %g, closed form %g", form, want)
		}
		f := func(x, y float64) float64 { return sign * math.Sqrt(c.rho*c.rho-y*y) }
		lim := c.rho * math.Sin(0.5)
		m := surface(f, -0.5, 0.5, -lim, lim, 0.006)
		var lines [][]geom.Vec3
		for k := -8; k <= 8; k++ {
			sin, cos := math.Sincos(2 * a * float64(k))
			lines = append(lines, []geom.Vec3{{X: -1, Y: big * sin, Z: sign * big * cos}, {X: 1, Y: big * sin, Z: sign * big * cos}})
		}
		got := measure(t, m, Params{Cusp: want}, passes(r, 0, lines...))
		if len(got.Places) < 270 {
			t.Errorf("ρ %g: %d places of 400, %d untouched, %d rim, %d hollow", c.rho, len(got.Places), got.Untouched, got.Rim, got.Hollow)
		}
		near(t, "p50", got.P50, want, 0.01*want)
		near(t, "p99", got.P99, want, 0.02*want)
		near(t, "pair", got.Pair50, want, 0.06*want)
	}
}

func sq(x float64) float64 { return x * x }

// brute is the crest between two lines, dense along y at one x: rays from the surface along its own normal
// against every ball of both.
func brute(f func(x, y float64) float64, r float64, lines [][]geom.Vec3, x, y0, s float64) float64 {
	rise := func(y float64) float64 {
		p := geom.Vec3{X: x, Y: y, Z: f(x, y)}
		c := touching(f, x, y, r)
		n := c.Sub(p).Mul(1 / r)
		best := math.Inf(1)
		for _, l := range lines {
			for i := 0; i+1 < len(l); i++ {
				if math.Abs(l[i].X-c.X) > 0.3*r {
					continue
				}
				// where the ray p + t·n comes within r of the way, from below, by halving
				lo, hi := -0.3*r, 0.3*r
				if segment(p.Add(n.Mul(hi)), l[i], l[i+1]) > r {
					continue
				}
				for range 30 {
					m := (lo + hi) / 2
					if segment(p.Add(n.Mul(m)), l[i], l[i+1]) > r {
						lo = m
					} else {
						hi = m
					}
				}
				best = min(best, hi)
			}
		}
		return best
	}
	top, at := 0.0, 0.0
	for step, lo, hi := s/16, y0, y0+s; step > s/5000; step, lo, hi = step/4, at-step, at+step {
		for y := lo; y <= hi; y += step {
			if h := rise(y); h > top {
				top, at = h, y
			}
		}
	}
	return top
}

// A torus' upper half from above and a wavy surface, against brute force.
func TestTorusAndWaves(t *testing.T) {
	for name, c := range map[string]struct {
		f              func(x, y float64) float64
		x0, x1, y0, y1 float64
	}{
		"torus": {func(x, y float64) float64 { return math.Sqrt(sq(1.5) - sq(math.Hypot(x, y)-4)) }, -1, 1, 3, 4.92},
		"waves": {func(x, y float64) float64 { return 0.15*math.Sin(1.7*x) + 0.2*math.Cos(1.3*y+0.5*x) }, -1.5, 1.5, -1.2, 1.2},
	} {
		const r, s = 0.5, 0.12
		m := surface(c.f, c.x0, c.x1, c.y0, c.y1, 0.015)
		lines := raster(c.f, r, c.x0-0.2, c.x1+0.2, c.y0, c.y1, s, 0.02)
		lo, hi := math.Inf(1), 0.0
		for i := range 9 {
			for k := 1; k+2 < len(lines); k++ { // the outermost have no second valley on the mesh
				h := brute(c.f, r, lines[k:k+2], c.x0+(c.x1-c.x0)*float64(i)/8, c.y0+s*float64(k), s)
				lo, hi = min(lo, h), max(hi, h)
			}
		}
		got := measure(t, m, Params{Cusp: ridge(r, s), Places: 800}, passes(r, 0, lines...))
		if len(got.Places) < 660 {
			t.Errorf("%s: %d places of 800, %d untouched, %d rim, %d hollow", name, len(got.Places), got.Untouched, got.Rim, got.Hollow)
		}
		near(t, name+" greatest", got.Max, hi, 0.03*hi)
		least := math.Inf(1)
		for _, p := range got.Places {
			least = min(least, p.Height)
		}
		near(t, name+" least", least, lo, 0.05*lo)
		near(t, name+" by pairs", got.Pair99, got.P99, 0.08*got.P99)
		// place by place: the brute force at the place's own x and pair
		bad := 0
		for i := 0; i < len(got.Places); i += 20 {
			p := got.Places[i]
			k := int((p.Point.Y - c.y0) / s)
			if k+1 >= len(lines) {
				continue
			}
			h := brute(c.f, r, lines[k:k+2], p.Point.X, c.y0+s*float64(k), s)
			if math.Abs(h-p.Height) > 0.04*h {
				bad++
				t.Logf("%s at %v: %g µm, brute force %g", name, p.Point, p.Height*1000, h*1000)
			}
		}
		if bad > 2 {
			t.Errorf("%s: %d places differ", name, bad)
		}
	}
}

// Two rasters cross in half of the piece: there the ridges are lower. One line left out shows as a ridge four
// times as high, over the share of places that it has.
func TestALineLeftOut(t *testing.T) {
	flat := func(x, y float64) float64 { return 0 }
	const r, s = 0.5, 0.1
	m := surface(flat, -1, 1, -1, 1, 0.5)
	lines := raster(flat, r, -2, 2, -1.45, 1.45, s, 4)
	whole := measure(t, m, Params{Cusp: ridge(r, s)}, passes(r, 0, lines...))
	less := append(append([][]geom.Vec3{}, lines[:14]...), lines[15:]...)
	got := measure(t, m, Params{Cusp: ridge(r, s), Places: 2000}, passes(r, 0, less...))
	near(t, "whole", whole.Max, ridge(r, s), 1e-5)
	near(t, "greatest", got.Max, ridge(r, 2*s), 1e-5)
	high := 0
	for _, p := range got.Places {
		if p.Height > 2*ridge(r, s) {
			high++
		}
	}
	near(t, "area of the wide ridge", float64(high)*got.Each, 2*s*2, 0.02)
	near(t, "p50", got.P50, ridge(r, s), 1e-5)
}

// What no pass touches, a pass's own rim, and a corner no ball reaches into are no cusps.
func TestWhatIsNoRidge(t *testing.T) {
	const r, s = 0.5, 0.1
	// a valley of two planes at a right angle, passes along it on both, ending where the ball touches both
	vee := func(x, y float64) float64 { return math.Abs(y) }
	m := surface(vee, -1, 1, -2, 2, 0.05)
	var lines [][]geom.Vec3
	for k := range 12 {
		for _, sign := range []float64{1, -1} {
			y := r/math.Sqrt2 + s/math.Sqrt2*float64(k) // of the contact
			c := geom.Vec3{Y: sign * (y - r/math.Sqrt2), Z: y + r/math.Sqrt2}
			lines = append(lines, []geom.Vec3{{X: -2, Y: c.Y, Z: c.Z}, {X: 2, Y: c.Y, Z: c.Z}})
		}
	}
	got := measure(t, m, Params{Cusp: ridge(r, s), Places: 2000}, passes(r, 0, lines...))
	near(t, "greatest", got.Max, ridge(r, s), 0.02*ridge(r, s))
	if got.Untouched == 0 || got.Hollow+got.Rim == 0 {
		t.Errorf("%d untouched, %d rim, %d hollow: the bottom and the tops are none of these", got.Untouched, got.Rim, got.Hollow)
	}
	none := measure(t, m, Params{Cusp: ridge(r, s)})
	if none.Untouched != 400 || none.P99 != 0 {
		t.Errorf("without programs %d untouched of 400, p99 %g", none.Untouched, none.P99)
	}
	skip := measure(t, m, Params{Cusp: ridge(r, s), Skip: func(p geom.Vec3) bool { return p.X > 0 }}, passes(r, 0, lines...))
	near(t, "skipped", float64(skip.Skipped), 200, 4)
}

// A flat end's steps on a slope: s·sin θ at the corner of each, for level lines s apart.
func TestFlatEndOnASlope(t *testing.T) {
	for _, c := range []struct{ deg, um float64 }{{10, 34.73}, {30, 100}, {45, 141.42}} {
		g := math.Tan(c.deg * math.Pi / 180)
		const r, s = 1.0, 0.2
		m := surface(func(x, y float64) float64 { return g * y }, -1, 1, -1, 1, 0.3)
		p := Program{Cutter: cutter.Cutter{Profile: cutter.FlatEnd(r)}}
		p.Start = geom.Vec3{Z: 50}
		for k := -15; k <= 15; k++ {
			y := float64(k) * s
			// the rim's lowest place touches the plane at y
			p.Moves = append(p.Moves, path.Move{To: geom.Vec3{X: -3, Y: y - r, Z: g * y}}, path.Move{To: geom.Vec3{X: 3, Y: y - r, Z: g * y}, Mode: path.Line, Feed: 5})
		}
		got := measure(t, m, Params{Cusp: c.um * um, Reach: 1}, p)
		near(t, "steps", got.P50*1000, c.um, 0.01*c.um)
		near(t, "highest step", got.Max*1000, c.um, 0.01*c.um)
	}
}

// The same piece cut from another side, and on one core, shows the same.
func TestTurnedAndCores(t *testing.T) {
	f := func(x, y float64) float64 { return 0.15*math.Sin(1.7*x) + 0.2*math.Cos(1.3*y+0.5*x) }
	const r, s = 0.5, 0.12
	m := surface(f, -1, 1, -1, 1, 0.02)
	lines := raster(f, r, -1.2, 1.2, -1.2, 1.2, s, 0.05)
	want := measure(t, m, Params{Cusp: ridge(r, s)}, passes(r, 0, lines...))
	runtime.GOMAXPROCS(1)
	again := measure(t, m, Params{Cusp: ridge(r, s)}, passes(r, 0, lines...))
	runtime.GOMAXPROCS(runtime.NumCPU())
	if !reflect.DeepEqual(want, again) {
		t.Error("one core shows another result")
	}
	for _, deg := range []float64{90, 180, 60} {
		turn := geom.TurnDeg(deg)
		var to [][]geom.Vec3
		for _, l := range lines {
			var k []geom.Vec3
			for _, c := range l {
				k = append(k, turn.ToPart(c))
			}
			to = append(to, k)
		}
		got := measure(t, m.Map(turn.ToPart), Params{Cusp: ridge(r, s)}, passes(r, deg, to...))
		near(t, "p50 turned", got.P50, want.P50, 1e-6)
		near(t, "p99 turned", got.P99, want.P99, 1e-6)
		near(t, "places turned", float64(len(got.Places)), float64(len(want.Places)), 2)
	}
}
