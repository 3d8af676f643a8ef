package choose

import (
	"context"
	"errors"
	"math"
	"reflect"
	"runtime"
	"slices"
	"testing"

	"barwise/finding"
	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/patch"
	"barwise/plan/cl"
	"barwise/plan/reach"
	"barwise/shop/cutter"
	"barwise/stock"
)

// prism is a polygon over (x, z), counter-clockwise seen from −y, that runs along y from y0 to y1.
func prism(y0, y1 float64, xz ...float64) *mesh.Mesh {
	m := &mesh.Mesh{}
	n := int32(len(xz) / 2)
	at := func(i int32) geom.Vec2 { return geom.Vec2{X: xz[2*i], Y: xz[2*i+1]} }
	for _, y := range [2]float64{y0, y1} {
		for i := range n {
			m.Vertices = append(m.Vertices, geom.Vec3{X: at(i).X, Y: y, Z: at(i).Y})
		}
	}
	left := make([]int32, n)
	for i := range n {
		k := (i + 1) % n
		left[i] = i
		m.Triangles = append(m.Triangles, [3]int32{i, n + k, k}, [3]int32{i, n + i, n + k})
	}
	turn := func(a, b, c geom.Vec2) float64 { return b.Sub(a).Cross(c.Sub(a)) }
	for len(left) > 2 { // ears off the ends
		for i := range left {
			a, b, c := left[(i+len(left)-1)%len(left)], left[i], left[(i+1)%len(left)]
			pa, pb, pc := at(a), at(b), at(c)
			ear := turn(pa, pb, pc) > 0
			for _, o := range left {
				if p := at(o); o != a && o != b && o != c && turn(pa, pb, p) >= 0 && turn(pb, pc, p) >= 0 && turn(pc, pa, p) >= 0 {
					ear = false
				}
			}
			if ear || len(left) == 3 {
				m.Triangles = append(m.Triangles, [3]int32{a, b, c}, [3]int32{n + a, n + c, n + b})
				left = slices.Delete(left, i, i+1)
				break
			}
		}
	}
	return m
}

// rod is a cylinder of radius r.
func rod(r, y0, y1 float64) *mesh.Mesh {
	var xz []float64
	for i := range 180 {
		s, c := math.Sincos(float64(i) * math.Pi / 90)
		xz = append(xz, r*c, r*s)
	}
	return prism(y0, y1, xz...)
}

// slotted is a block 12 wide with a slot of width w and depth d along its top.
func slotted(w, d float64) *mesh.Mesh {
	const top = 5.03
	return prism(15.07, 27.04, -6.01, -5.02, 6.01, -5.02, 6.01, top, w/2, top, w/2, top-d, -w/2, top-d, -w/2, top, -6.01, top)
}

var (
	flat6  = flat("flat-6", 6, 22, 22, 30)
	flat3  = flat("flat-3", 3, 17, 17, 24)
	ball6  = ball("ball-6", 6, 22, 22, 30)
	ball3  = ball("ball-3", 3, 10, 20, 26)
	ball1  = ball("ball-1", 1, 4, 14, 22)
	ball05 = ball("ball-0.5", 0.5, 1, 6, 16)
)

// A plain cylinder wants the largest ball and nothing else, and no second cutter for roughing.
func TestPlainCylinder(t *testing.T) {
	p := piece(rod(8, 17, 27), thick, quarters, flat3, flat6, ball1, ball3, ball6)
	c := chosen(t, p)
	if got := names(p, c.Rough, c.Finish); !slices.Equal(got, []string{"flat-6", "ball-6"}) {
		t.Errorf("chosen %v", got)
	}
	if c.Left > 0 {
		t.Errorf("%.3f of %.1f mm² left", c.Left, c.Area)
	}
	f := c.Picks[1]
	if math.Abs(f.Area-c.Area) > 1e-6 || f.Sides != 4 {
		t.Errorf("%+v of %.1f mm²", f, c.Area)
	}
}

// With the end side, the cylinder's free face is cut from there.
func TestEnd(t *testing.T) {
	p := piece(rod(8, 17, 27), thick, append([]float64{geom.EndDeg}, quarters...), flat6, ball6)
	p.Walls[0] = nil
	for _, c := range p.Candidates {
		for _, u := range [...]*Use{c.Rough, c.Finish} {
			if u != nil {
				u.Lowest[0] = stub + 3
			}
		}
	}
	c := chosen(t, p)
	if f := c.Picks[1]; c.Left > 0 || f.Sides != 5 {
		t.Errorf("%.3f mm² left, %+v", c.Left, f)
	}
}

// A slot 1.2 wide is for a ball of 1 alone; what that touches in it is known: a ball of radius r rolls along
// the walls down to r over the floor, and on the floor of what the slot is wider than itself.
func TestNarrowSlot(t *testing.T) {
	const w, d, r = 1.2, 2.5, 0.5
	p := piece(slotted(w, d), thick, quarters, flat3, flat6, ball1, ball3, ball6)
	p.Zone, p.Tolerance = stock.Zone{Y0: 17, Y1: 26}, 0.002
	c := chosen(t, p)
	got := names(p, nil, c.Finish)
	if len(got) != 2 || got[1] != "ball-1" {
		t.Fatalf("chosen %v", got)
	}
	small := c.Picks[len(c.Picks)-1]
	long := 26 - 17.0
	if want := long * (2*(d-r) + w - 2*r); math.Abs(small.Area-want) > 0.03*want || small.Only != small.Area {
		t.Errorf("ball-1 cuts %.2f mm², alone %.2f, want %.2f", small.Area, small.Only, want)
	}
	if want := long * 4 * r; math.Abs(c.Left-want) > 0.05*want {
		t.Errorf("%.2f mm² left, want %.2f", c.Left, want)
	}
}

// In a fillet of 2 radius a ball of 3 radius does not fit and one of 1.5 does.
func TestFillet(t *testing.T) {
	const r = 2.0
	xz := []float64{-6.01, -5.02, 6.01, -5.02, 6.01, 1.03, 1.52 + r, 1.03}
	for i := range 19 {
		s, c := math.Sincos(float64(i+1) * math.Pi / 40)
		xz = append(xz, 1.52+r-r*s, 1.03+r-r*c)
	}
	xz = append(xz, 1.52, 1.03+r, 1.52, 5.03, -6.01, 5.03)
	p := piece(prism(15.07, 27.04, xz...), thick, quarters, flat6, ball1, ball6)
	p.Zone = stock.Zone{Y0: 17, Y1: 26}
	with := func(b cutter.Cutter) *Chosen {
		q := piece(p.Mesh, thick, quarters, flat6, b)
		q.Zone = p.Zone
		return chosen(t, q)
	}
	// the large ball touches wall and floor its own radius from where they would meet
	arc := 9 * (r*math.Pi/2 + 2*(3-r))
	if c := with(ball6); math.Abs(c.Left-arc) > 0.03*arc {
		t.Errorf("under a ball of 6: %.2f mm² left, about the fillet are %.2f", c.Left, arc)
	}
	if c := with(ball3); c.Left > 0.3 {
		t.Errorf("under a ball of 3: %.2f mm² left", c.Left)
	}
	p = piece(p.Mesh, thick, quarters, flat6, ball1, ball3, ball6)
	p.Zone = stock.Zone{Y0: 17, Y1: 26}
	c := chosen(t, p)
	if got := names(p, nil, c.Finish); slices.Contains(got, "ball-1") || !slices.Contains(got, "ball-3") {
		t.Errorf("chosen %v", got)
	}
}

// A slot that no roughing enters is too deep for short flutes, until a larger ball has been in it: in its
// corners the larger one leaves less than those flutes are long.
func TestDeepUntilCleared(t *testing.T) {
	const w, d, r, big = 3.4, 3.0, 0.25, 1.5
	short := ball("ball-0.5", 0.5, 1, 14, 22)
	with := func(cutters ...cutter.Cutter) *Chosen {
		p := piece(slotted(w, d), thick, quarters, append(cutters, flat6)...)
		p.Zone, p.Tolerance, p.MostRough = stock.Zone{Y0: 17, Y1: 26}, 0.002, 1
		return chosen(t, p)
	}
	const corners, long = 4 * r, 9
	// the lowest level of roughing over the block is 5.5; the tip is its radius below where it touches a wall
	edge := 5.03 - (5.5 - short.LCF + r)
	if c, want := with(short), long*(2*(d-edge)+w); math.Abs(c.Left-want) > 0.08*want { // patches are 0.4 long
		t.Errorf("alone it leaves %.2f mm², of the slot are too deep %.2f", c.Left, want)
	}
	c := with(short, ball3)
	if want := float64(long * corners); math.Abs(c.Left-want) > 0.1*want {
		t.Errorf("%.2f mm² left, in the corners are %.2f", c.Left, want)
	}
	small := c.Picks[len(c.Picks)-1]
	if want := long * (4*big - corners); small.Cutter != "ball-0.5" || math.Abs(small.Area-want) > 0.05*want {
		t.Errorf("%s cuts %.2f mm², the larger one leaves %.2f for it", small.Cutter, small.Area, want)
	}
}

// On the floor of a slot 8.2 deep the holder must begin the slot's depth, the skin and the clearance above
// the tip; the cutter is as wide as its shank.
func TestStickOut(t *testing.T) {
	const deep = 8.2
	f := cutter.Cutter{ID: "flat-2", Profile: cutter.FlatEnd(1), Edges: 2, LCF: 9, DMM: 2, StickOut: 20, OAL: 40, Holder: nut}
	b := cutter.Cutter{ID: "ball-2", Profile: cutter.Ball(1), Edges: 2, LCF: 6, DMM: 2, StickOut: 20, OAL: 40, Holder: nut}
	p := piece(slotted(3.3, deep), thick, quarters, f, b)
	p.Zone = stock.Zone{Y0: 17, Y1: 26}
	pick := func() Pick { c := chosen(t, p); return c.Picks[len(c.Picks)-1] }
	want := math.Ceil(2*(deep+standing+clearOf)) / 2
	long := pick()
	if long.Needed != want || long.Held != 0 {
		t.Errorf("it needs %g mm, want %g; held %.2f mm²", long.Needed, want, long.Held)
	}
	if s := math.Pow(20/want, 3); math.Abs(long.Stiffer-s) > 1e-9*s {
		t.Errorf("%g times as stiff, want %g", long.Stiffer, s)
	}
	// mounted shorter than that, what it would take is told
	p.Candidates[1].Finish.Cutter.StickOut = 7
	short := pick()
	if short.Longer != want || short.Held < 20 {
		t.Errorf("%g mm would free %.2f mm², want %g", short.Longer, short.Held, want)
	}
	if !(short.Area < long.Area) {
		t.Errorf("cut short %.2f mm², long %.2f", short.Area, long.Area)
	}
}

// What a smaller ball than the shop's would reach is known as in the slot above.
func TestOtherBalls(t *testing.T) {
	const w, d = 0.7, 2.0
	p := piece(slotted(w, d), thick, quarters, flat6, ball3, ball1)
	p.Zone, p.Tolerance = stock.Zone{Y0: 17, Y1: 26}, 0.002
	c := chosen(t, p)
	if len(c.OneMore) == 0 {
		t.Fatal("nothing is offered")
	}
	for _, m := range c.OneMore {
		r := m.Diameter / 2
		want := 9 * (2*(d-r) + w - 2*r)
		if m.Candidate != -1 || m.Diameter > w || math.Abs(m.Area-want) > 0.03*want {
			t.Errorf("%+v, want %.2f mm²", m, want)
		}
		if neck := d + standing + clearOf - r; m.Neck < neck-0.01 || m.Neck > d+standing+clearOf+0.02 {
			t.Errorf("a neck of %g mm for a slot %g deep", m.Neck, d)
		}
	}
	// one that the shop has is offered where only a single one may be chosen
	p = piece(p.Mesh, thick, quarters, flat6, ball3, ball("ball-0.6", 0.6, 3, 14, 22))
	p.Zone, p.MostFinish = stock.Zone{Y0: 17, Y1: 26}, 1
	c = chosen(t, p)
	if got := names(p, nil, c.Finish); !slices.Equal(got, []string{"ball-0.6"}) {
		t.Fatalf("chosen %v", got)
	}
	if m := c.OneMore[slices.IndexFunc(c.OneMore, func(m More) bool { return m.Cutter == "ball-3" })]; m.Candidate != 1 || m.Seconds <= 0 {
		t.Errorf("a larger ball for most of it: %+v", m)
	}
}

// Area and time add up.
func TestSums(t *testing.T) {
	p := piece(bumpy(80), thick, quarters, flat6, flat3, ball3, ball05)
	c := chosen(t, p)
	area, secs, share := c.Left, c.Handling, 0.0
	for _, q := range c.Picks {
		area += q.Area
		secs += q.Seconds
		share += q.Share
		if q.Only > q.Area || q.Needed > q.StickOut || q.Stiffer < 1 {
			t.Errorf("%+v", q)
		}
	}
	if math.Abs(area-c.Area) > 1e-6*c.Area || math.Abs(secs-c.Seconds) > 1e-6*c.Seconds || math.Abs(share-1) > 1e-9 {
		t.Errorf("areas sum to %g of %g, seconds to %g of %g, shares to %g", area, c.Area, secs, c.Seconds, share)
	}
	if !slices.IsSortedFunc(c.Alternatives, func(a, b Sequence) int { return int(math.Floor(a.Left/0.3) - math.Floor(b.Left/0.3)) }) {
		t.Errorf("alternatives: %+v", c.Alternatives)
	}
}

// What a finishing cutter is said to leave agrees with the prediction, which looks at every patch and counts
// it as reached within a third of its tolerance.
func TestAgreesWithThePrediction(t *testing.T) {
	p := piece(bumpy(80), thick, quarters, ball("ball-1", 1, 16, 16, 22))
	c := chosen(t, p)
	q := p.PredictParams
	q.Exact, q.Tolerance, q.Pitch = true, 3*p.Tolerance, 0.5
	q.Cuts = []reach.Cut{p.Candidates[0].Finish.Cut}
	out, err := reach.Predict(context.Background(), cl.NewSurface(p.Mesh), q, patch.Cut(p.Mesh, 0.4, 400000))
	if err != nil {
		t.Fatal(err)
	}
	left := 0.0
	for class, a := range out.Area {
		if k := reach.Class(class); k != reach.Reached && k != reach.Spared {
			left += a
		}
	}
	if c.Left < 100 || math.Abs(c.Left-left) > 0.005*c.Area {
		t.Errorf("%.2f mm² left, predicted are %.2f of %.1f", c.Left, left, c.Area)
	}
}

// A cutter more in the shop never makes the choice worse, by the measure it is made by.
func TestMoreCutters(t *testing.T) {
	m := bumpy(60)
	all := []cutter.Cutter{flat6, ball3, ball1}
	var before *Chosen
	for n := 2; n <= len(all); n++ {
		p := piece(m, thick, quarters, all[:n]...)
		c := chosen(t, p)
		if before != nil {
			a, b := scored{Sequence: c.Sequence}, scored{Sequence: before.Sequence}
			if p.withDefaults().compare(&a, &b) > 0 {
				t.Errorf("with %s: %.3f mm² left in %.1f s, before %.3f in %.1f", all[n-1].ID, c.Left, c.Seconds, before.Left, before.Seconds)
			}
		}
		before = c
	}
}

func (p Params) withDefaults() *Params {
	_ = p.check()
	return &p
}

// Turned by a quarter the piece wants the same.
func TestTurned(t *testing.T) {
	m := slotted(1.2, 2.5)
	turned := &mesh.Mesh{Triangles: m.Triangles}
	for _, v := range m.Vertices {
		turned.Vertices = append(turned.Vertices, geom.Vec3{X: v.Z, Y: v.Y, Z: -v.X})
	}
	a := chosen(t, piece(m, thick, quarters, flat3, flat6, ball1, ball3, ball6))
	b := chosen(t, piece(turned, thick, quarters, flat3, flat6, ball1, ball3, ball6))
	if !slices.Equal(a.Finish, b.Finish) || !slices.Equal(a.Rough, b.Rough) || math.Abs(a.Left-b.Left) > 0.3 || math.Abs(a.Seconds-b.Seconds) > 0.01*a.Seconds {
		t.Errorf("%+v, turned %+v", a.Sequence, b.Sequence)
	}
}

// One core or two, the same to the last bit; a cancelled call ends with the context's error.
func TestSameOnAnyCores(t *testing.T) {
	p := piece(bumpy(60), thick, quarters, flat6, flat3, ball3, ball1)
	p.Samples = 3000
	two := chosen(t, p)
	was := runtime.GOMAXPROCS(1)
	one := chosen(t, p)
	runtime.GOMAXPROCS(was)
	if !reflect.DeepEqual(one, two) {
		t.Errorf("%+v\n%+v", one, two)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Choose(ctx, cl.NewSurface(p.Mesh), p, patch.Cut(p.Mesh, 0.4, 400000)); !errors.Is(err, context.Canceled) {
		t.Errorf("a cancelled call: %v", err)
	}
}

// What a job can get wrong is told as the job's, with what to do; numbers that do not fit together are ours.
func TestRefusals(t *testing.T) {
	m := bumpy(20)
	nan := math.NaN()
	for _, c := range []struct {
		name  string
		spoil func(p *Params)
		input bool
	}{
		{"no side", func(p *Params) { p.Sides, p.Walls = nil, nil }, true},
		{"nothing for finishing", func(p *Params) { p.Candidates = p.Candidates[:1] }, true},
		{"no cutter", func(p *Params) { p.Candidates = nil }, true},
		{"a pitch that is no number", func(p *Params) { p.Pitch = nan }, true},
		{"three for roughing", func(p *Params) { p.MostRough = 3 }, true},
		{"a feed of 0", func(p *Params) { p.Candidates[1].Finish.Feed = 0 }, true},
		{"a flat cutter for finishing", func(p *Params) { p.Candidates[1].Finish.Cutter.Round = 0 }, true},
		{"no stepdown", func(p *Params) { p.Candidates[0].Rough.Stepdown = 0 }, true},
		{"walls of other sides", func(p *Params) { p.Walls = p.Walls[1:] }, false},
		{"lowest tips of other sides", func(p *Params) { p.Candidates[1].Finish.Lowest = nil }, false},
		{"mixed up", func(p *Params) { p.Candidates[1].Finish.Rough = true }, false},
	} {
		p := piece(m, thick, quarters, flat6, ball3)
		if p.Candidates[0].Finish != nil || p.Candidates[1].Rough != nil {
			t.Fatal("the first cutter is for roughing, the second for finishing")
		}
		c.spoil(&p)
		_, err := Choose(context.Background(), cl.NewSurface(p.Mesh), p, patch.Cut(p.Mesh, 0.4, 4000))
		var in *finding.InputError
		if err == nil || errors.As(err, &in) != c.input {
			t.Errorf("%s: %v", c.name, err)
		}
		if in != nil && in.Hint == "" {
			t.Errorf("%s: %v says nothing of what to do", c.name, err)
		}
	}
}
