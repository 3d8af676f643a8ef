package link

import (
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"barwise/geom"
	"barwise/geom/field"
	"barwise/path"
	"barwise/shop/cutter"
)

var testParams = Params{Safe: 30, Clear: 0.5, ApproachGap: 0.3, CutFeed: 20, EntryFeed: 8}

func mill() cutter.Cutter {
	return cutter.Cutter{Profile: cutter.Bull(1.5, 0.4), LCF: 6, LU: 9, DN: 2.6, DMM: 4, StickOut: 14,
		Holder: []cutter.Collar{{Z: 0, R: 5}, {Z: 6, R: 8}}}
}

// hills is a random stock: boxes of random heights on a floor, with nothing around.
func hills(rnd *rand.Rand) *field.Field {
	f := field.New(field.Cover(-12, 12, 0, 20, 0.25, 0.2), field.Empty)
	for j := range f.NY {
		for i := range f.NX {
			if math.Abs(f.X(i)) < 10 && f.Y(j) > 2 && f.Y(j) < 18 {
				f.Z[j*f.NX+i] = -2
			}
		}
	}
	for range 8 {
		x, y, w, h := rnd.Float64()*20-10, rnd.Float64()*18, rnd.Float64()*4, rnd.Float64()*4
		z := float32(rnd.Float64()*20 - 2)
		for j := range f.NY {
			for i := range f.NX {
				if math.Abs(f.X(i)-x) < w && math.Abs(f.Y(j)-y) < h {
					f.Z[j*f.NX+i] = max(f.Z[j*f.NX+i], z)
				}
			}
		}
	}
	return f
}

var stand = mill().Collars()

// body is the least height of the cutter and all above it at radius r, the profile and the collars, of which
// those no wider than the profile count without what is kept beside them.
func body(c cutter.Cutter, r, beside float64) (prof, collars float64) {
	prof, collars = c.Height(max(0, r-beside)), math.Inf(1)
	for _, s := range stand {
		if s.R <= c.R && r <= s.R || s.R > c.R && r-beside <= s.R {
			collars = min(collars, s.Z)
		}
	}
	return prof, collars
}

// slowFree asks every cell, a square of one pitch, at one point. wide is added to the body's radius.
func slowFree(f *field.Field, c cutter.Cutter, clear, wideProf, wideCollars float64, p geom.Vec2) float64 {
	top := math.Inf(-1)
	for j := range f.NY {
		for i := range f.NX {
			z := float64(f.At(i, j))
			if z <= top { // the body is nowhere below its tip
				continue
			}
			dx := max(0, math.Abs(p.X-f.X(i))-f.DX/2)
			dy := max(0, math.Abs(p.Y-f.Y(j))-f.DY/2)
			d := math.Hypot(dx, dy)
			a, _ := body(c, d, min(clear, Beside)+wideProf)
			_, b := body(c, d, clear+wideCollars)
			top = max(top, z-a, z-b)
		}
	}
	return top
}

// travel is the length of the rapid moves and of the moves at a feed, mm.
func travel(moves []path.Move) (rapid, feed float64) {
	for i := 1; i < len(moves); i++ {
		d := moves[i].To.Sub(moves[i-1].To).Len()
		if moves[i].Mode == path.Rapid {
			rapid += d
		} else {
			feed += d
		}
	}
	return rapid, feed
}

func slowWay(f *field.Field, c cutter.Cutter, clear, wide float64, a, b geom.Vec2) float64 {
	n := int(b.Sub(a).Len()/0.2) + 1
	top := math.Inf(-1)
	for i := 0; i <= n; i++ {
		top = max(top, slowFree(f, c, clear, wide, wide, a.Add(b.Sub(a).Mul(float64(i)/float64(n)))))
	}
	return top
}

func TestFreeAgainstEveryCell(t *testing.T) {
	rnd := rand.New(rand.NewPCG(1, 1))
	for range 6 {
		f, c := hills(rnd), mill()
		o := NewObstacle(f, c, 0.7)
		block := math.Hypot(float64(o.block)*f.DX, float64(o.block)*f.DY)
		at := func() geom.Vec2 { return geom.Vec2{X: rnd.Float64()*40 - 20, Y: rnd.Float64()*36 - 8} }
		for range 8 {
			a, b := at(), at()
			got := o.Free(a, b)
			// float32 storage of the heights: 1e-5
			if low := slowWay(f, c, 0.7, 0, a, b); got < low-1e-5 {
				t.Fatalf("way %v to %v: free %g, every cell says %g", a, b, got, low)
			}
			if high := slowWay(f, c, 0.7, 2*block, a, b); got > high+1e-5 {
				t.Fatalf("way %v to %v: free %g is more than the stated bound allows, %g", a, b, got, high)
			}
			got = o.Free(a, a)
			if low := slowFree(f, c, 0.7, 0, 0, a); got < low-1e-5 {
				t.Fatalf("at %v: free %g, every cell says %g", a, got, low)
			}
			if high := slowFree(f, c, 0.7, 0, 0, a); got > high+1e-5 {
				t.Fatalf("at %v: free %g is more than every cell says, %g", a, got, high)
			}
		}
	}
	// the way back is the same way
	f := hills(rnd)
	o := NewObstacle(f, mill(), 0)
	a, b := geom.Vec2{X: -9, Y: 3}, geom.Vec2{X: 7.3, Y: 15.1}
	if o.Free(a, b) != o.Free(b, a) {
		t.Error("free differs by direction")
	}
}

// After cuts the obstacle must not promise room that the true stock, cut on a five times finer grid,
// still fills.
func TestCutKeepsTheBound(t *testing.T) {
	rnd := rand.New(rand.NewPCG(2, 2))
	for range 3 {
		f, c := hills(rnd), mill()
		o := NewObstacle(f, c, 0)
		fine := field.New(field.Grid{X0: f.X0 - f.DX*0.4, Y0: f.Y0 - f.DY*0.4, DX: f.DX / 5, DY: f.DY / 5, NX: 5 * f.NX, NY: 5 * f.NY}, field.Empty)
		for k := range fine.Z {
			fine.Z[k] = f.At(k%fine.NX/5, k/fine.NX/5)
		}
		var pts []geom.Vec3
		for range 12 {
			pts = append(pts, geom.Vec3{X: rnd.Float64()*18 - 9, Y: rnd.Float64()*16 + 1, Z: rnd.Float64()*8 - 2})
		}
		o.Cut(pts)
		lowered := false
		for k, z := range o.seen.Z {
			lowered = lowered || z < f.Z[k]
		}
		if !lowered {
			t.Fatal("nothing was cut")
		}
		for i := 1; i < len(pts); i++ {
			a, b := pts[i-1], pts[i]
			n := int(b.Sub(a).Len()/0.05) + 1
			for s := 0; s <= n; s++ {
				p := a.Lerp(b, float64(s)/float64(n))
				i0, j0 := fine.Nearest(geom.Vec2{X: p.X - c.R, Y: p.Y - c.R})
				i1, j1 := fine.Nearest(geom.Vec2{X: p.X + c.R, Y: p.Y + c.R})
				for j := max(j0, 0); j <= min(j1, fine.NY-1); j++ {
					for i := max(i0, 0); i <= min(i1, fine.NX-1); i++ {
						h := p.Z + c.Height(math.Hypot(fine.X(i)-p.X, fine.Y(j)-p.Y))
						fine.Z[j*fine.NX+i] = min(fine.Z[j*fine.NX+i], float32(h))
					}
				}
			}
		}
		for range 40 {
			p := geom.Vec2{X: rnd.Float64()*20 - 10, Y: rnd.Float64() * 20}
			got, want := o.Free(p, p), math.Inf(-1)
			for k, z := range fine.Z {
				if float64(z) <= want {
					continue
				}
				prof, col := body(c, math.Hypot(fine.X(k%fine.NX)-p.X, fine.Y(k/fine.NX)-p.Y), 0)
				want = max(want, float64(z)-min(prof, col))
			}
			// the sweep was sampled 0.05 mm apart: its own error at the corner's steepest is below 0.01
			if got < want-0.01 {
				t.Fatalf("at %v: free %g after cutting, the stock says %g", p, got, want)
			}
		}
	}
}

// What an obstacle answers after cuts is what a new one made of the stock it has now answers: what stands
// above the cutter is not held against stock that is gone.
func TestCutsForgetNothing(t *testing.T) {
	rnd := rand.New(rand.NewPCG(5, 5))
	f, c := hills(rnd), mill()
	c.LCF, c.LU, c.StickOut = 2, 4, 5 // short, so that collars and holder decide
	o := NewObstacle(f, c, 0.5)
	at := func() geom.Vec2 { return geom.Vec2{X: rnd.Float64()*24 - 12, Y: rnd.Float64() * 20} }
	lower := 0
	for range 12 {
		a, b := at(), at()
		before := o.Free(a, b)
		var pts []geom.Vec3
		for range 30 {
			q := at()
			pts = append(pts, geom.Vec3{X: q.X, Y: q.Y, Z: rnd.Float64()*4 - 2})
		}
		o.Cut(pts)
		anew := NewObstacle(o.seen, c, 0.5)
		if o.Free(a, b) < before {
			lower++
		}
		for range 20 {
			if got, want := o.Free(a, b), anew.Free(a, b); got != want {
				t.Fatalf("way %v to %v: free %g, of the same stock anew %g", a, b, got, want)
			}
			if got, want := o.Free(a, a), anew.Free(a, a); got != want {
				t.Fatalf("at %v: free %g, of the same stock anew %g", a, got, want)
			}
			a, b = b, at()
		}
	}
	if lower < 3 {
		t.Errorf("only %d of 12 cuts lowered a way", lower)
	}
}

// passesOn are random passes a little above what lies under them, or below it as roughing is.
func passesOn(rnd *rand.Rand, n int) []path.Pass {
	var out []path.Pass
	for range n {
		p := path.Pass{Closed: rnd.IntN(4) == 0, Follow: rnd.IntN(5) == 0 && len(out) > 0}
		q := geom.Vec3{X: rnd.Float64()*18 - 9, Y: rnd.Float64()*16 + 2, Z: rnd.Float64()*12 - 2}
		if rnd.IntN(2) == 0 {
			p.Lead = append(p.Lead, q.Add(geom.Vec3{X: 1, Z: 0.5}), q.Add(geom.Vec3{X: 0.5, Z: 0.2}))
		}
		for range 2 + rnd.IntN(5) {
			p.Points = append(p.Points, q)
			q = q.Add(geom.Vec3{X: rnd.Float64() - 0.5, Y: rnd.Float64() - 0.5})
		}
		out = append(out, p)
	}
	return out
}

func TestRapidsKeepClear(t *testing.T) {
	rnd := rand.New(rand.NewPCG(3, 3))
	for trial := range 6 {
		f, c := hills(rnd), mill()
		o := NewObstacle(f, c, 0)
		passes := passesOn(rnd, 25)
		moves := Link(passes, o.Free, testParams)
		at := moves[0].To
		if at.Z != testParams.Safe || moves[0].Mode != path.Rapid || at.XY() != passes[0].Start().XY() {
			t.Fatalf("the first move goes to %v", at)
		}
		if last := moves[len(moves)-1]; last.To.Z < testParams.Safe || last.Mode != path.Rapid {
			t.Fatalf("the last move goes to %v", last.To)
		}
		for i, m := range moves[1:] {
			a, b := at, m.To
			at = b
			if m.Mode != path.Rapid {
				if m.Feed != testParams.CutFeed && m.Feed != testParams.EntryFeed {
					t.Fatalf("move %d feeds at %g", i+1, m.Feed)
				}
				continue
			}
			switch level := a.XY() != b.XY(); {
			case level && a.Z != b.Z:
				t.Fatalf("trial %d: rapid %v to %v is neither level nor upright", trial, a, b)
			case level:
				free := slowWay(f, c, 0, 0, a.XY(), b.XY())
				if need := min(free+testParams.Clear, max(free, testParams.Safe)); a.Z < need-1e-5 {
					t.Fatalf("trial %d: rapid %v to %v, free %g", trial, a, b, free)
				}
			case b.Z < a.Z:
				if free := slowFree(f, c, 0, 0, 0, b.XY()); b.Z < free+testParams.ApproachGap-1e-5 {
					t.Fatalf("trial %d: rapid down to %v, free %g", trial, b, free)
				}
			}
		}
	}
}

// What is fed is the passes, the ways of Follow, and what was left down to the starts: nothing is lost
// and nothing cut twice.
func TestFeedIsConserved(t *testing.T) {
	rnd := rand.New(rand.NewPCG(4, 4))
	f := hills(rnd)
	o := NewObstacle(f, mill(), 0)
	passes := passesOn(rnd, 40)
	var told []geom.Vec3
	p := testParams
	toldLength := 0.0
	p.Done = func(pts []geom.Vec3) {
		told = append(told, pts...)
		for i := 1; i < len(pts); i++ {
			toldLength += pts[i].Sub(pts[i-1]).Len()
		}
	}
	moves := Link(passes, o.Free, p)
	want, at := 0.0, geom.Vec3{}
	for i, q := range passes {
		all := append(append([]geom.Vec3(nil), q.Lead...), q.Points...)
		if q.Closed {
			all = append(all, q.Points[0])
		}
		if q.Follow {
			want += all[0].Sub(at).Len()
		} else {
			want += max(all[0].Z, o.Free(all[0].XY(), all[0].XY())) + p.ApproachGap - all[0].Z
		}
		for k := 1; k < len(all); k++ {
			want += all[k].Sub(all[k-1]).Len()
		}
		at = all[len(all)-1]
		_ = i
	}
	_, fed := travel(moves)
	if math.Abs(fed-want) > 1e-6 || math.Abs(toldLength-want) > 1e-6 {
		t.Errorf("fed %g, told %g, want %g", fed, toldLength, want)
	}
	for _, q := range passes {
		for _, v := range append(append([]geom.Vec3(nil), q.Lead...), q.Points...) {
			if !slices.Contains(told, v) {
				t.Fatalf("point %v was not visited", v)
			}
		}
	}
}

// A live obstacle makes later lifts lower, never higher, and the rapids stay off what is left.
func TestLiveObstacle(t *testing.T) {
	f := field.New(field.Cover(-10, 10, 0, 20, 0.2, 0.2), 10)
	c := cutter.Cutter{Profile: cutter.FlatEnd(1.5)}
	var passes []path.Pass
	for _, z := range []float64{8, 6, 4} {
		for k := range 6 {
			x := -5 + 1.2*float64(k)
			passes = append(passes, path.Pass{Points: []geom.Vec3{{X: x, Y: -2, Z: z}, {X: x, Y: 22, Z: z}}})
		}
	}
	still := NewObstacle(f, c, 0)
	before, _ := travel(Link(passes, still.Free, testParams))
	live := NewObstacle(f, c, 0)
	p := testParams
	p.Done = live.Cut
	after, _ := travel(Link(passes, live.Free, p))
	if after >= before {
		t.Errorf("rapids %g mm with a live obstacle, %g without", after, before)
	}
	middle := geom.Vec2{X: -2, Y: 10}
	if got := live.Free(middle, middle); math.Abs(got-4) > 1e-5 {
		t.Errorf("free in the cleared middle is %g, want 4", got)
	}
}

func TestOneClosedPassAndNone(t *testing.T) {
	free := func(a, b geom.Vec2) float64 { return math.Inf(-1) }
	if m := Link(nil, free, testParams); len(m) != 0 {
		t.Errorf("%d moves for nothing", len(m))
	}
	ring := []geom.Vec3{{X: 1}, {Y: 1}, {X: -1}}
	open := path.Pass{Points: ring, Closed: true}
	shut := path.Pass{Points: append(slices.Clone(ring), ring[0]), Closed: true}
	if a, b := Link([]path.Pass{open}, free, testParams), Link([]path.Pass{shut}, free, testParams); !reflect.DeepEqual(a, b) {
		t.Errorf("a closed pass with and without its first point repeated: %v, %v", a, b)
	}
}

// A pass that is to go easier somewhere keeps its share of the feed there and nowhere else.
func TestEaseLowersTheFeed(t *testing.T) {
	p := path.Pass{Points: []geom.Vec3{{X: 0}, {X: 1}, {X: 2}}, Ease: []float32{1, 0.5, 1}}
	moves := Link([]path.Pass{p}, func(a, b geom.Vec2) float64 { return math.Inf(-1) }, Params{Safe: 5, Clear: 1, ApproachGap: 1, CutFeed: 10, EntryFeed: 3})
	for _, m := range moves {
		want := map[float64]float64{1: 5, 2: 10}[m.To.X]
		if m.Mode == path.Line && m.To.Z == 0 && m.To.X > 0 && m.Feed != want {
			t.Errorf("feed %g on the way to x %g, want %g", m.Feed, m.To.X, want)
		}
	}
}

// Points nearer than Least are left out: every point of the pass stays within Least of the moves, its ends stay,
// no move but the last is shorter, and 0 leaves nothing out.
func TestLeastLeavesOutWhatIsTooNear(t *testing.T) {
	rnd := rand.New(rand.NewPCG(7, 7))
	var q path.Pass
	at := geom.Vec3{}
	for range 400 {
		q.Points = append(q.Points, at)
		l := 1e-4
		if rnd.IntN(3) == 0 {
			l = 0.05
		}
		at = at.Add(geom.Vec3{X: l * rnd.Float64(), Y: l * rnd.Float64(), Z: l * (rnd.Float64() - 0.5)})
	}
	p := testParams
	all := Link([]path.Pass{q}, nothing, p)
	p.Least = 1e-3
	few := Link([]path.Pass{q}, nothing, p)
	if len(all) < 400 || len(few) > 300 {
		t.Fatalf("%d moves, and %d of points apart", len(all), len(few))
	}
	way := []geom.Vec3{few[0].To}
	for _, m := range few[1:] {
		if m.Mode == path.Line {
			if d := m.To.Sub(way[len(way)-1]).Len(); d < p.Least && m.To != q.End() {
				t.Errorf("a move %g mm long to %v", d, m.To)
			}
			way = append(way, m.To)
		}
	}
	if way[len(way)-1] != q.End() || !slices.Contains(way, q.Start()) {
		t.Error("an end of the pass is left out")
	}
	for _, v := range q.Points {
		near := math.Inf(1)
		for i := 1; i < len(way); i++ {
			d := way[i].Sub(way[i-1])
			s := max(0, min(1, v.Sub(way[i-1]).Dot(d)/max(d.Dot(d), 1e-30)))
			near = min(near, v.Sub(way[i-1].Lerp(way[i], s)).Len())
		}
		if near >= p.Least {
			t.Fatalf("point %v is %g off the way", v, near)
		}
	}
}
