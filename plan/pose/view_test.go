package pose

import (
	"math"
	"math/rand/v2"
	"testing"

	"barwise/geom"
	"barwise/geom/mesh/sample"
	"barwise/shop/bar"
	"barwise/shop/cutter"
)

// scatter is points by chance in a ball of radius 10.
func scatter(n int) *cloud {
	rnd := rand.New(rand.NewPCG(1, 9))
	c := &cloud{}
	for len(c.x) < n {
		p := geom.Vec3{X: 20*rnd.Float64() - 10, Y: 20*rnd.Float64() - 10, Z: 20*rnd.Float64() - 10}
		if p.Len() < 10 {
			c.x, c.y, c.z = append(c.x, float32(p.X)), append(c.y, float32(p.Y)), append(c.z, float32(p.Z))
		}
	}
	return c
}

// The twin puts every point into its pixel, both ways.
func TestDrawIsItsTwin(t *testing.T) {
	c := scatter(3000)
	f := level.by(0, 50).by(2, 20)
	v := newView(10, 0.7, nil, 1)
	v.draw(c, f)
	for s, g := range []frame{f, f.back()} {
		want := make([]float64, v.n*v.n)
		for i := range want {
			want[i] = none
		}
		far := math.Inf(-1)
		for i := range c.x {
			p := g.to(geom.Vec3{X: float64(c.x[i]), Y: float64(c.y[i]), Z: float64(c.z[i])})
			at := int(math.Floor((p.Y-v.lo)/v.px))*v.n + int(math.Floor((p.X-v.lo)/v.px))
			want[at] = max(want[at], p.Z)
			far = max(far, p.Z)
		}
		differ := 0
		for i, z := range v.top[s] {
			if math.Abs(float64(z)-want[i]) > 1e-5*max(1, math.Abs(want[i])) {
				differ++
			}
		}
		// a point on a pixel's very edge may fall either way in float32
		if differ > 2 {
			t.Errorf("map %d: %d of %d pixels differ", s, differ, len(want))
		}
		if math.Abs(float64(v.most[s])-far) > 1e-5 {
			t.Errorf("map %d reaches %g, want %g", s, v.most[s], far)
		}
	}
}

// The twin asks every pixel whose middle is under the cutter, by the profile itself.
func TestBlockedIsItsTwin(t *testing.T) {
	c := scatter(1500)
	v := newView(10, 0.4, nil, 1)
	v.draw(c, level)
	rnd := rand.New(rand.NewPCG(4, 4))
	for _, p := range []cutter.Profile{cutter.Ball(1.5), cutter.FlatEnd(1), cutter.Bull(2, 0.5), cutter.TaperedBall(2, 0.5, 0.3)} {
		k := newShape(p, v.px, 0)
		yes := 0
		for range 2000 {
			ax, ay, tip := 16*rnd.Float64()-8, 16*rnd.Float64()-8, 16*rnd.Float64()-4
			got, least := v.blocked(0, k, ax, ay, tip), math.Inf(1)
			for j := range v.n {
				for i := range v.n {
					z := v.top[0][j*v.n+i]
					d := math.Hypot(v.lo+(float64(i)+0.5)*v.px-ax, v.lo+(float64(j)+0.5)*v.px-ay)
					if z != none && d <= p.R {
						least = min(least, tip+p.Height(d)-float64(z))
					}
				}
			}
			if got {
				yes++
			}
			// the table of heights takes the next lower step: it may find an obstacle a little early
			if want := least < 0; got != want && math.Abs(least) > 0.03*p.R+p.Rim()*0.05 {
				t.Fatalf("%+v at (%g, %g, %g): %v, the twin has %g to spare", p, ax, ay, tip, got, least)
			}
		}
		if yes < 200 || yes > 1900 {
			t.Errorf("%+v: %d of 2000 blocked: the places tell nothing", p, yes)
		}
	}
}

// A ring's map says what stands within a radius no smaller than 0.8 and no larger than 1.6 of the ring's.
func TestRingIsWithinItsBounds(t *testing.T) {
	c := scatter(400)
	for _, samples := range []int{1, 1 << 20} { // asked for one by one, and of the widened map
		v := newView(10, 0.25, []cutter.Collar{{R: 2.5}, {R: 1}}, samples)
		v.draw(c, level)
		if (v.rings[0].wide[0] != nil) != (samples > 1) {
			t.Fatal("the widened map is not where it should be")
		}
		rnd := rand.New(rand.NewPCG(2, 2))
		for range 500 {
			ax, ay := 16*rnd.Float64()-8, 16*rnd.Float64()-8
			for i := range v.rings {
				r := &v.rings[i]
				got := v.above(0, r, ax, ay)
				lo, hi := float64(none), float64(none)
				for k := range c.x {
					d := math.Hypot(float64(c.x[k])-ax, float64(c.y[k])-ay)
					if d < 0.8*r.R-v.px {
						lo = max(lo, float64(c.z[k]))
					}
					if d < 1.6*r.R+v.px {
						hi = max(hi, float64(c.z[k]))
					}
				}
				if got < lo-1e-5 || got > hi+1e-5 {
					t.Fatalf("ring of %g at (%g, %g): %g, between %g and %g are right", r.R, ax, ay, got, lo, hi)
				}
			}
		}
	}
}

// The hexagon by its dual against the twin that tries middles on ever finer grids.
func TestHexAcrossIsItsTwin(t *testing.T) {
	rnd := rand.New(rand.NewPCG(8, 1))
	for range 20 {
		r := &ruler{}
		for range 7 {
			r.hull = append(r.hull, geom.Vec3{X: 10 * rnd.Float64(), Y: rnd.Float64(), Z: 10 * rnd.Float64()})
		}
		half := func(c geom.Vec3) float64 {
			most := 0.0
			for i := range 6 {
				u := level.side(float64(60 * i)).z
				for _, q := range r.hull {
					most = max(most, q.Sub(c).Dot(u))
				}
			}
			return most
		}
		best, c := math.Inf(1), geom.Vec3{X: 5, Z: 5}
		for step := 2.0; step > 1e-6; step *= 0.6 {
			at := c
			for i := -4; i <= 4; i++ {
				for j := -4; j <= 4; j++ {
					q := geom.Vec3{X: at.X + float64(i)*step, Z: at.Z + float64(j)*step}
					if h := half(q); h < best {
						best, c = h, q
					}
				}
			}
		}
		if got := r.hexAcross(level); math.Abs(got-2*best) > 1e-3 {
			t.Errorf("%.5f across, the twin finds %.5f", got, 2*best)
		}
	}
}

// Sections of a cube of edge a that stands on its face, in closed form: it is a·(|cos φ| + |sin φ|) wide in the
// direction φ off a face, and a hexagon is as wide as the widest of its three.
func TestSections(t *testing.T) {
	const a = 10
	b, err := newBody(sample.Box(geom.Vec3{}, geom.Vec3{X: a, Y: a, Z: a}))
	if err != nil {
		t.Fatal(err)
	}
	p, err := Params{Margin: 0.5}.checked()
	if err != nil {
		t.Fatal(err)
	}
	s := &search{ctx: t.Context(), p: &p, b: b}
	// with one flat of the hexagon on a face the widest are at 30° to the next
	hex := a * (math.Cos(math.Pi/6) + 0.5)
	for _, c := range []struct {
		shape bar.Shape
		turn  float64
		want  float64
	}{
		{bar.Square, 0, a}, {bar.Square, 45, a * math.Sqrt2}, {bar.Hex, 0, hex},
		{bar.Hex, 15, a * math.Sqrt2}, {bar.Round, 0, a * math.Sqrt2}, {bar.Round, 17, a * math.Sqrt2},
	} {
		r := &ruler{body: b, p: &p, shape: c.shape, hull: s.all()}
		r.few = r.hull
		at := level.by(1, c.turn)
		var parts Parts
		lo, hi := r.section(at)
		r.fit(at, lo, hi, &parts)
		if got := parts.Across - 1; math.Abs(got-c.want) > 0.003*c.want || parts.High != parts.Across || math.Abs(parts.Length-a) > 1e-9 {
			t.Errorf("%s turned %g°: %.4f across, want %.4f", c.shape, c.turn, got, c.want)
		}
	}
}

// Eigenvalues of a matrix made from known ones.
func TestEigen(t *testing.T) {
	f := level.by(0, 25).by(1, -70).by(2, 130)
	var m [3][3]float64
	outer(&m, f.x, 3)
	outer(&m, f.y, 0.5)
	outer(&m, f.z, 7)
	val, vec := geom.Eigen(m)
	for i, want := range []float64{0.5, 3, 7} {
		v := []geom.Vec3{f.y, f.x, f.z}[i]
		if math.Abs(val[i]-want) > 1e-12 || vec[i].Cross(v).Len() > 1e-12 {
			t.Errorf("%g along %v, want %g along %v", val[i], vec[i], want, v)
		}
	}
}

// The bores of the block and the wall of the cup show, wherever they point.
func TestAxesThatShow(t *testing.T) {
	by := level.by(0, 33).by(1, 71).by(2, -27)
	for _, c := range []struct {
		name string
		want geom.Vec3
	}{{"drilled", geom.Vec3{X: 1}}, {"drilled", geom.Vec3{Z: 1}}, {"cup", geom.Vec3{Z: 1}}, {"tower", geom.Vec3{Z: 1}}, {"tower", geom.Vec3{X: math.Sin(0.3), Z: math.Cos(0.3)}}} {
		m := crossDrilled()
		switch c.name {
		case "cup":
			m = cup()
		case "tower":
			m = tower(0.3)
		}
		b, err := newBody(lying(m, by))
		if err != nil {
			t.Fatal(err)
		}
		best := 90.0
		for _, a := range b.axes(b.sample(lookSamples)) {
			if a.kind == facesOf {
				d := b.turn.to(by.to(c.want))
				best = min(best, between(a.v, d), between(a.v.Mul(-1), d))
			}
		}
		if best > 0.2 {
			t.Errorf("%s: no axis within 0.2° of %v, the nearest is %.3f° off", c.name, c.want, best)
		}
	}
}

func TestPoseAndBack(t *testing.T) {
	rnd := rand.New(rand.NewPCG(5, 5))
	for range 200 {
		at := quaternion([4]float64{rnd.NormFloat64(), rnd.NormFloat64(), rnd.NormFloat64(), rnd.NormFloat64()})
		for _, period := range []float64{60, 90, 180, 360} {
			p := at.pose(period)
			if p.TurnDeg < 0 || p.TurnDeg >= period {
				t.Fatalf("turned %g of %g", p.TurnDeg, period)
			}
			if d := apart(at, rows(p.Motion()), period); d > 1e-5 {
				t.Fatalf("%+v is %g° off", p, d)
			}
		}
	}
}

func TestPeriods(t *testing.T) {
	for _, c := range []struct {
		sides []float64
		shape bar.Shape
		want  float64
	}{
		{Even(4), bar.Square, 90}, {Even(2), bar.Square, 180}, {Even(4), bar.Rect, 180}, {Even(6), bar.Hex, 60},
		{Even(3), bar.Hex, 120}, {Even(2), bar.Hex, 180}, {Even(4), bar.Round, 90}, {[]float64{0, 90, 180}, bar.Square, 360},
	} {
		if got := (Set{Sides: c.sides}).period(c.shape); got != c.want {
			t.Errorf("%v in a %s bar: %g, want %g", c.sides, c.shape, got, c.want)
		}
	}
}

// The sum of costs, worked by hand with weights that tell the parts apart.
func TestCost(t *testing.T) {
	w := Weights{Missed: 1, Steep: 10, Stick: 100, Time: 1000, Section: 1e4, Hold: 1e5, Lever: 1e6, Scale: 1e7}
	p := Parts{Area: 200, Missed: 4, Steep: 6, StickOut: 5, Finish: 1, Rough: 2, Turns: 3, Across: 4, High: 9, Hold: 0.75, Lever: 0.5, Size: 10, Unit: 12, Fits: true}
	want := 2.0 + 10*3 + 100*0.5 + 1000*0.5 + 1e4*0.6 + 1e5*0.25 + 1e6*0.5
	if got := w.Cost(p, false); math.Abs(got-want) > 1e-6 {
		t.Errorf("%g, want %g", got, want)
	}
	p.Hold = 0.05 // 1 − 0.05 + 2·(1 − 0.5)
	if got := w.Cost(p, false); math.Abs(got-want-1e5*(1.95-0.25)) > 1e-6 {
		t.Errorf("with little hold %g", got-want)
	}
	p.Hold, p.Fits, p.Scale = 0.75, false, 0.8
	if got := w.Cost(p, false); math.Abs(got-want-1200) > 1e-6 {
		t.Errorf("a misfit costs %g", got-want)
	}
	if got := w.Cost(p, true); math.Abs(got-want+1e9*math.Log(0.8)) > 1e-3 {
		t.Errorf("a fifth of size lost costs %g", got-want)
	}
}
