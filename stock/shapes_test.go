package stock

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"testing"

	"barwise/geom"
	"barwise/shop/bar"
	"barwise/shop/cutter"
)

// A level groove by a ball, depth d: a circular segment R² acos((R−d)/R) − (R−d)√(2Rd−d²) along, two
// quarter-caps, together a cap π d²(3R−d)/3, at its ends.
func TestBallGroove(t *testing.T) {
	const r, d, l = 1.5, 0.8, 12.0
	seg := r*r*math.Acos((r-d)/r) - (r-d)*math.Sqrt(2*r*d-d*d)
	for _, turn := range []float64{0, 0.3, math.Pi / 2, 2.2} {
		pitch := 0.05
		if turn == 0 {
			pitch = 0.02
		}
		s := New(square, quarters, pitch)
		dx, dy := l/2*math.Sin(turn), l/2*math.Cos(turn)
		s.Cut(0, cutter.Ball(r), geom.Vec3{X: 0.007 - dx, Y: 15.003 - dy, Z: 10 - d}, geom.Vec3{X: 0.007 + dx, Y: 15.003 + dy, Z: 10 - d})
		near(t, fmt.Sprint("groove turned ", turn), 12000-s.Volume(), seg*l+math.Pi*d*d*(3*r-d)/3, 3e-4*seg*l)
		if turn == 0 {
			near(t, "section", 400-s.SectionAt(15).Area, seg, 0.002)
		}
	}
}

// A ball swept down a slope m cuts, square to the way, an ellipse of half axes R and R√(1+m²).
func TestSlopedBallGroove(t *testing.T) {
	const r, m, tip = 1.5, 0.5, 9.0
	s := New(square, quarters, 0.02)
	s.Cut(0, cutter.Ball(r), geom.Vec3{X: 0.007, Y: 9, Z: tip + 3}, geom.Vec3{X: 0.007, Y: 21, Z: tip - 3})
	k := math.Sqrt(1 + m*m)
	bottom := tip + r - r*k // at y = 15 the tip stands at tip, the centre r above it
	d := (10 - bottom) / k  // as a circle
	want := k * (r*r*math.Acos((r-d)/r) - (r-d)*math.Sqrt(2*r*d-d*d))
	near(t, "section", 400-s.SectionAt(15).Area, want, 0.003)
}

// A hole drilled by a flat, a cone and a ball: π R² depth, less what stands around the tip.
func TestDrilled(t *testing.T) {
	for _, c := range []struct {
		name string
		p    cutter.Profile
		want float64
	}{
		{"flat", cutter.FlatEnd(2), math.Pi * 4 * 5},
		{"ball", cutter.Ball(2), math.Pi*4*5 - math.Pi*8/3},                              // half a ball less than the cylinder: πR³/3
		{"cone", cutter.Cone(2, math.Pi/4, 0), math.Pi*4*5 - math.Pi*8*2/3},              // a cone less: ⅔ of πR²·R
		{"tipped cone", cutter.Cone(2, math.Pi/4, 1), math.Pi*4*4 + math.Pi/3*(4+2+1)*1}, // a frustum of height 1
		{"bull", cutter.Bull(2, 1), math.Pi*4*4 + math.Pi*(1+2.0/3) + math.Pi*math.Pi/2}, // π(a²c + 2c³/3 + π a c²/2)
	} {
		s := New(square, quarters, 0.02)
		s.Cut(0, c.p, geom.Vec3{X: 0.013, Y: 15.006, Z: 12}, geom.Vec3{X: 0.013, Y: 15.006, Z: 5})
		near(t, c.name, 12000-s.Volume(), c.want, 0.004*c.want)
	}
}

// Slots from two opposite sides that meet: a window, counted once where they overlap.
func TestOppositeSides(t *testing.T) {
	s := New(square, quarters, 0.05)
	p := cutter.FlatEnd(1.525)
	s.Cut(0, p, geom.Vec3{Y: 10, Z: -1}, geom.Vec3{Y: 20, Z: -1})
	s.Cut(2, p, geom.Vec3{Y: 10, Z: -2}, geom.Vec3{Y: 20, Z: -2})
	near(t, "window", 12000-s.Volume(), (3.05*10+math.Pi*1.525*1.525)*20, 2)
	sec := s.SectionAt(15)
	near(t, "area", sec.Area, 400-3.05*20, 1e-3)
	if sec.Parts != 2 {
		t.Errorf("parts %d, want 2", sec.Parts)
	}
	seen := s.Seen(0)
	if i, j := seen.Nearest(geom.Vec2{X: 0, Y: 15}); !math.IsInf(float64(seen.At(i, j)), -1) {
		t.Errorf("seen through the window: %g", seen.At(i, j))
	}
}

// face mills a side flat to height d, all of it.
func face(t *testing.T, s *Stack, side int, d float64) {
	t.Helper()
	var pts []geom.Vec3
	for x := -14.0; x <= 14; x++ {
		pts = append(pts, geom.Vec3{X: x, Y: -2, Z: d}, geom.Vec3{X: x, Y: 32, Z: d})
	}
	if err := s.CutMoves(context.Background(), side, cutter.FlatEnd(1.5), pts); err != nil {
		t.Fatal(err)
	}
}

// A round bar faced from n sides at distance d: a regular polygon, n·d²·tan(π/n).
func TestPolygons(t *testing.T) {
	for _, n := range []int{4, 6, 8, 12} {
		b := bar.Bar{Shape: bar.Round, Width: 26, Height: 26, Length: 30, Grip: 5}
		var degs []float64
		for k := range n {
			degs = append(degs, 360/float64(n)*float64(k))
		}
		s := New(b, degs, 0.1)
		d := 8.04 * math.Cos(math.Pi/float64(n))
		for k := range n {
			face(t, s, k, d)
		}
		want := float64(n) * d * d * math.Tan(math.Pi/float64(n))
		sec := s.SectionAt(12)
		near(t, fmt.Sprint(n, " sides, area"), sec.Area, want, 2e-3*want)
		// regular polygon of circumradius q: I = (n q⁴/24) sin(2π/n)·(2+cos(2π/n)) about any axis
		q := 8.04
		c := 2 * math.Pi / float64(n)
		i := float64(n) / 24 * q * q * q * q * math.Sin(c) * (2 + math.Cos(c))
		near(t, fmt.Sprint(n, " sides, IXX"), sec.IXX, i, 4e-3*i)
		near(t, fmt.Sprint(n, " sides, IZZ"), sec.IZZ, i, 4e-3*i)
		near(t, fmt.Sprint(n, " sides, IXZ"), sec.IXZ, 0, 1e-3*i)
		near(t, fmt.Sprint(n, " sides, volume"), s.Volume(), want*30, 2e-3*want*30)
		if p := s.Pieces(); len(p) != 1 {
			t.Errorf("%d sides: %d pieces", n, len(p))
		}
	}
}

// A cylinder r left by passes of a ball R along it, Δ apart in angle, centres on the circle r+R: no
// less than πr², and no more than out to the cusps' tips.
func TestCylinder(t *testing.T) {
	const r, ball, step = 7.0, 1.0, 0.04
	s := New(square, quarters, 0.05)
	for side := range 4 {
		var pts []geom.Vec3
		along := func(x, z float64) { // to and fro: ways between passes lie off the bar's ends
			y0, y1 := -3.0, 33.0
			if len(pts)%4 != 0 {
				y0, y1 = y1, y0
			}
			pts = append(pts, geom.Vec3{X: x, Y: y0, Z: z}, geom.Vec3{X: x, Y: y1, Z: z})
		}
		for k := -25; k <= 25; k++ {
			sin, cos := math.Sincos(float64(k) * step)
			along((r+ball)*sin, (r+ball)*cos-ball)
		}
		// clear the corners beyond ±57°
		for _, x := range []float64{-10, -8.8, 8.8, 10} {
			along(x, 2)
		}
		if err := s.CutMoves(context.Background(), side, cutter.Ball(ball), pts); err != nil {
			t.Fatal(err)
		}
	}
	tip := (r+ball)*math.Cos(step/2) - math.Sqrt(ball*ball-math.Pow((r+ball)*math.Sin(step/2), 2))
	lo, hi := math.Pi*r*r*30, math.Pi*tip*tip*30
	v := s.Volume()
	if slack := 1e-4 * lo; v < lo-slack || v > hi+slack {
		t.Errorf("cylinder volume %.3f, want %.3f…%.3f", v, lo, hi)
	}
	sec := s.SectionAt(15)
	i := math.Pi * r * r * r * r / 4
	near(t, "IXX", sec.IXX, i, 0.01*i)
	near(t, "IZZ", sec.IZZ, i, 0.01*i)
	// seen from every side the top is the circle's
	for side := range 4 {
		f := s.Seen(side)
		for i := range f.NX {
			x := f.X(i)
			if math.Abs(x) > 6.5 {
				continue
			}
			want, tol := math.Sqrt(r*r-x*x), 0.005 // sides across meet this one's flanks here and there
			if math.Abs(x) > 5.8 {                 // cut from the side across: half a cell up, half a cell across its slope
				tol = 0.025 * (1 + math.Abs(x)/want)
			}
			if z := float64(f.At(i, 300)); z < want-tol || z > want+(tip-r)*r/want+tol {
				t.Fatalf("side %d, x %g: top %g, want %g", side, x, z, want)
			}
		}
	}
}

// The volumes a general-purpose solid library (npm manifold-3d 3.5.4) finds for the same moves:
// testdata/swept.mjs with 256 and 512 segments a circle gives 252.4283 and 252.4522 for the ball,
// 313.4824 and 313.4912 for the flat; its error falls by four at each step, so the limits are
// 252.460 and 313.494.
func TestSweptVolumeSecondOpinion(t *testing.T) {
	for name, want := range map[string]float64{"ball": 252.460, "flat": 313.494} {
		// the flat's walls are a pitch wide at worst: 0.1 % of the volume; ball's meet the top at an angle
		near(t, name, sweptVolume(t, name), want, 1e-3*want)
	}
}

func TestSweptVolumeLive(t *testing.T) {
	if os.Getenv("BARWISE_SOAK") == "" || os.Getenv("BARWISE_MESHES") == "" {
		t.Skip("set BARWISE_SOAK=1, and BARWISE_MESHES to a folder whose node_modules has manifold-3d")
	}
	raw, err := exec.Command("node", "testdata/swept.mjs", "512").Output()
	if err != nil {
		t.Skip("node or manifold-3d does not run: ", err)
	}
	var got struct{ Ball, Flat float64 }
	if err := json.Unmarshal(raw, &got); err != nil {
		t.Fatal(err)
	}
	near(t, "ball", sweptVolume(t, "ball"), got.Ball, 1e-3*got.Ball)
	near(t, "flat", sweptVolume(t, "flat"), got.Flat, 1e-3*got.Flat)
}

func sweptVolume(t *testing.T, name string) float64 {
	t.Helper()
	f, err := os.Open("testdata/moves.txt")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var pts []geom.Vec3
	for sc := bufio.NewScanner(f); sc.Scan(); {
		var p geom.Vec3
		if _, err := fmt.Sscan(sc.Text(), &p.X, &p.Y, &p.Z); err != nil {
			t.Fatal(err)
		}
		pts = append(pts, p)
	}
	p := map[string]cutter.Profile{"ball": cutter.Ball(1.5), "flat": cutter.FlatEnd(1.5)}[name]
	s := New(square, quarters, 0.02)
	if err := s.CutMoves(context.Background(), 0, p, pts); err != nil {
		t.Fatal(err)
	}
	return 12000 - s.Volume()
}
