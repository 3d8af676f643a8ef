package pose

import (
	"math"
	"testing"

	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/sample"
	"barwise/plan/cl"
	"barwise/shop/bar"
	"barwise/shop/cutter"
)

var level = frame{geom.Vec3{X: 1}, geom.Vec3{Y: 1}, geom.Vec3{Z: 1}}

// bare is a ball with nothing above it.
func bare(r float64) cutter.Cutter { return cutter.Cutter{Profile: cutter.Ball(r)} }

// ready is a ruler of so many samples and pixels.
func ready(tb testing.TB, m *mesh.Mesh, p Params, n, pixels int) ruler {
	tb.Helper()
	s, err := newSearch(tb.Context(), m, p, usual)
	if err != nil {
		tb.Fatal(err)
	}
	r, err := s.ruler(n, pixels, climbFace)
	if err != nil {
		tb.Fatal(err)
	}
	r.hull = s.all()
	r.few = r.hull
	return r
}

// exactMissed tells which samples a cutter touches from no side by the exact tip heights over the mesh
// itself: the cutter, thinner by off, stands off that much from the sample along its normal and must not
// stand in the model.
func exactMissed(r *ruler, t turned, c cutter.Profile, off float64) []bool {
	out := make([]bool, len(r.smp.at))
	for i := range out {
		out[i] = true
	}
	thin, rise, _ := c.Grown(-off)
	for _, deg := range r.set.Sides {
		f := t.side(deg)
		m := r.m.Map(func(p geom.Vec3) geom.Vec3 { return f.to(p.Sub(r.centre)) })
		ix := cl.NewSurface(m).Index(geom.TurnDeg(0))
		for i, p := range r.smp.at {
			n := f.to(r.smp.n[i])
			if !out[i] || n.Z < -r.cut.face {
				continue
			}
			p := f.to(p)
			flat := math.Hypot(n.X, n.Y)
			slope := math.Inf(1)
			if n.Z > 0 {
				slope = flat / n.Z
			}
			d, h := c.Contact(slope)
			x, y := p.X, p.Y
			if flat > 1e-9 {
				x, y = x+d*n.X/flat, y+d*n.Y/flat
			}
			out[i] = ix.Height(thin, x, y) > p.Z-h+rise+1e-6
		}
	}
	return out
}

// disagree returns the shares of samples that only the map and only the exact heights call missed.
func disagree(r *ruler, at turned, c cutter.Profile) (onlyMap, onlyExact float64) {
	w := r.newBench()
	r.judge(w, at)
	for i, exact := range exactMissed(r, at, c, 0.03) {
		switch m := w.got[i]&gotTouch == 0; {
		case w.got[i]&gotHeld != 0:
		case m && !exact:
			onlyMap++
		case exact && !m:
			onlyExact++
		}
	}
	n := float64(len(r.smp.at))
	return onlyMap / n, onlyExact / n
}

// What the maps call missed is what the exact tip heights do, within 1 % of the surface for the figures and
// 2 % on the climb, in poses with much to miss.
func TestReachAgreesWithExactHeights(t *testing.T) {
	for _, c := range []struct {
		name string
		m    *mesh.Mesh
	}{{"drilled", crossDrilled()}, {"cup", cup()}, {"tower", tower(0.3)}} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			for _, l := range []struct {
				n, pixels int
				most      float64
			}{{usual.climbSamples, usual.climbPixels, 0.02}, {usual.finalSamples / 4, usual.finalPixels, 0.01}} {
				r := ready(t, c.m, Params{Cutter: bare(0.5)}, l.n, l.pixels)
				at := r.in(level).by(0, 40).by(1, 33).by(2, -17)
				if m, e := disagree(r.with(Set{Sides: Even(4)}, bar.Square), at, cutter.Ball(0.5)); m > l.most || e > l.most {
					t.Errorf("pixel %.3f: %.4f missed on the map only, %.4f exactly only", r.pts.px, m, e)
				}
			}
		})
	}
}

// On a scan whose scales are finer than a pixel the maps are too kind, by some 3 % of the surface.
func TestReachOfAScan(t *testing.T) {
	last := ready(t, dragon(t), Params{Cutter: bare(0.5)}, usual.finalSamples, usual.finalPixels)
	r := last.with(Set{Sides: Even(4)}, bar.Square)
	for k := range 2 {
		at := r.in(level).by(0, float64(k)*40).by(1, float64(k)*33)
		if m, e := disagree(r, at, cutter.Ball(0.5)); m > 0.015 || e > 0.04 {
			t.Errorf("pose %d: %.4f missed on the map only, %.4f exactly only", k, m, e)
		}
	}
}

// The best of k sides evenly spaced about Y sees the normal n under the cosine √(1 − n_y²)·cos δ, δ being how
// far it is from the nearest side about the axis; the area of a sphere is even in n_y and in the angle
// (Archimedes). So the share steeper than 70° is a double integral.
func steepShare(k int) float64 {
	const n = 2000
	in := 0
	for i := range n {
		y := (float64(i) + 0.5) / n
		for j := range n {
			d := (float64(j) + 0.5) / n * math.Pi / float64(k)
			if math.Sqrt(1-y*y)*math.Cos(d) < math.Cos(70*math.Pi/180) {
				in++
			}
		}
	}
	return float64(in) / n / n
}

// A sphere is reached all over from four sides and from six.
func TestSphereByClosedForm(t *testing.T) {
	last := ready(t, sample.Sphere(geom.Vec3{}, 20, 192), Params{Cutter: bare(1)}, usual.finalSamples, 256)
	for _, k := range []int{4, 6} {
		r := last.with(Set{Sides: Even(k)}, bar.Square)
		at := level.by(0, 20).by(1, 7)
		p := r.judge(r.newBench(), at)
		// facets of 1.9°: what faces straight along the axis may be a little undercut
		if p.MissedShare() > 0.001 {
			t.Errorf("%d sides: %.4f missed", k, p.MissedShare())
		}
		if got, want := p.Steep/p.Area, steepShare(k); math.Abs(got-want) > 0.005 {
			t.Errorf("%d sides: %.4f steep, by the integral %.4f", k, got, want)
		}
		if math.Abs(p.Length-40) > 0.05 || math.Abs(p.Across-40) > 0.05 || math.Abs(p.Lever-0.5) > 0.005 {
			t.Errorf("%d sides: %.3f across, %.3f long, lever %.3f", k, p.Across, p.Length, p.Lever)
		}
		// a cap of 6 % of the height covers, seen along the axis, 1 − (1 − 0.12)² of the circle
		if want := math.Pi * 400 * (1 - 0.88*0.88); math.Abs(p.Contact-want) > 0.03*want {
			t.Errorf("contact %.1f, want %.1f", p.Contact, want)
		}
	}
}

// A cup standing up, from four sides and the end: the cavity is 22 deep and narrower than the holder, so
// its floor needs 22 of stick-out; standing in the square bar of 18 it leaves 18²·26 less its own volume.
func TestCupByHand(t *testing.T) {
	last := ready(t, cup(), Params{Cutter: bare(0.5)}, usual.finalSamples, usual.finalPixels)
	r := last.with(Set{Even(4), true}, bar.Square)
	at := r.in(turned{geom.Vec3{X: 1}, geom.Vec3{Z: 1}, geom.Vec3{Y: -1}})
	p := r.judge(r.newBench(), at)
	if math.Abs(p.StickOut-22) > 0.1 {
		t.Errorf("stick-out %.3f, want 22", p.StickOut)
	}
	volume := math.Pi * (81*26 - 6.5*6.5*22)
	if want := 18*18*26 - volume; math.Abs(p.Remove-want) > 0.005*want {
		t.Errorf("%.1f mm³ to remove, want %.1f", p.Remove, want)
	}
	if want := math.Pi * 81; math.Abs(p.Held-want) > 0.03*want || math.Abs(p.Contact-want) > 0.03*want || p.Hold < 0.99 {
		t.Errorf("held %.1f, contact %.1f, hold %.3f; want %.1f and all", p.Held, p.Contact, p.Hold, want)
	}
	// left in the corner at the floor: the ball's fillet, R of wall and R of floor
	area := math.Pi * (81 + 18*26 + (81 - 42.25) + 13*22 + 42.25)
	if want := math.Pi * (13*0.5 + 42.25 - 36); math.Abs(p.Missed-want) > 0.006*area {
		t.Errorf("missed %.1f, want %.1f of %.1f", p.Missed, want, area)
	}
	if math.Abs(p.Area-area) > 0.002*area {
		t.Errorf("area %.1f, want %.1f", p.Area, area)
	}
	// from the sides alone the whole cavity is missed
	r = last.with(Set{Sides: Even(4)}, bar.Square)
	p = r.judge(r.newBench(), at)
	if want := math.Pi * (13*22 + 42.25); math.Abs(p.Missed-want) > 0.01*area {
		t.Errorf("without the end %.1f missed, want %.1f", p.Missed, want)
	}
}

// A shank that is wider than the ball keeps the walls of a bore deeper than the neck from being reached, and
// says so: of the cup's wall what is between the neck's reach and the fillet.
func TestShankIsShort(t *testing.T) {
	c := cutter.Cutter{Profile: cutter.Ball(0.5), LCF: 3, LU: 12, DN: 0.95, DMM: 3}
	last := ready(t, cup(), Params{Cutter: c}, usual.finalSamples, usual.finalPixels)
	r := last.with(Set{Even(4), true}, bar.Square)
	at := r.in(turned{geom.Vec3{X: 1}, geom.Vec3{Z: 1}, geom.Vec3{Y: -1}})
	p := r.judge(r.newBench(), at)
	// walls touched with the ball's flank: the tip is R below. Of the floor a ring is short, too
	wall := math.Pi * 13 * (22 - 0.5 - (12 - 0.5))
	floor := math.Pi * (36 - 25)
	if p.Shank < 0.93*wall || p.Shank > 1.25*(wall+floor) {
		t.Errorf("%.1f mm² short, want about %.1f to %.1f", p.Shank, wall, wall+floor)
	}
}
