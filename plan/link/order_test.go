package link

import (
	"cmp"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"
	"time"

	"barwise/geom"
	"barwise/path"
)

// scattered are short straight passes in a 60 × 40 mm window, as raster passes over a share are.
func scattered(rnd *rand.Rand, n int) []path.Pass {
	out := make([]path.Pass, n)
	for i := range out {
		a := geom.Vec3{X: rnd.Float64() * 60, Y: rnd.Float64() * 40, Z: float64(i)}
		out[i].Points = []geom.Vec3{a, a.Add(geom.Vec3{X: rnd.Float64() * 3, Y: 0.1 * rnd.Float64()})}
	}
	return out
}

func levelTravel(passes []path.Pass, from geom.Vec2) float64 {
	sum := 0.0
	for _, p := range passes {
		sum += gap(from, p.Start().XY())
		from = p.End().XY()
		if p.Closed {
			from = p.Points[0].XY()
		}
	}
	return sum
}

// same reports that b holds the passes of a, each once, turned round at most.
func same(a, b []path.Pass) bool {
	key := func(ps []path.Pass) []path.Pass {
		out := make([]path.Pass, len(ps))
		for i, p := range ps {
			p.Points = slices.Clone(p.Points)
			p.Follow = false
			if p.Points[0].X > p.Points[len(p.Points)-1].X {
				slices.Reverse(p.Points)
			}
			out[i] = p
		}
		slices.SortFunc(out, func(p, q path.Pass) int { return cmp.Compare(p.Points[0].Z, q.Points[0].Z) })
		return out
	}
	return reflect.DeepEqual(key(a), key(b))
}

func TestOrderKeepsEveryPass(t *testing.T) {
	rnd := rand.New(rand.NewPCG(5, 5))
	for _, n := range []int{0, 1, 2, 3, 10, 300} {
		for _, reverse := range []bool{false, true} {
			in := scattered(rnd, n)
			out := Order(in, nil, OrderParams{Reverse: reverse})
			if !same(in, out) {
				t.Fatalf("%d passes, reverse %v: not the same passes", n, reverse)
			}
			if a, b := levelTravel(in, geom.Vec2{}), levelTravel(out, geom.Vec2{}); b > a+1e-9 {
				t.Errorf("%d passes, reverse %v: travel %g became %g", n, reverse, a, b)
			}
			if again := Order(in, nil, OrderParams{Reverse: reverse}); !reflect.DeepEqual(out, again) {
				t.Errorf("%d passes, reverse %v: two runs differ", n, reverse)
			}
			if !reverse {
				for _, p := range out {
					if p.Points[1].X < p.Points[0].X {
						t.Fatal("a pass was turned round without leave")
					}
				}
			}
		}
	}
}

// A raster of n rows in any order has a shortest travel in closed form: from row to row, (n−1)·s.
func TestOrderOfARaster(t *testing.T) {
	rnd := rand.New(rand.NewPCG(6, 6))
	const n, s = 400, 0.15
	var in []path.Pass
	for i := range n {
		y := s * float64(i)
		in = append(in, path.Pass{Points: []geom.Vec3{{X: 0, Y: y, Z: float64(i)}, {X: 30, Y: y, Z: float64(i)}}})
	}
	rnd.Shuffle(n, func(i, j int) { in[i], in[j] = in[j], in[i] })
	out := Order(in, nil, OrderParams{Reverse: true})
	if got := levelTravel(out, geom.Vec2{}); math.Abs(got-(n-1)*s) > 1e-9 {
		t.Errorf("travel %g, shortest is %g", got, (n-1)*s)
	}
}

// Small cases against every order and every way round: within a quarter of the shortest on the whole.
func TestOrderAgainstAllOrders(t *testing.T) {
	rnd := rand.New(rand.NewPCG(7, 7))
	got, want := 0.0, 0.0
	for range 20 {
		in := scattered(rnd, 6)
		best := math.Inf(1)
		var try func(done int, at geom.Vec2, sum float64)
		try = func(done int, at geom.Vec2, sum float64) {
			if done == 1<<len(in)-1 {
				best = min(best, sum)
				return
			}
			for i, p := range in {
				if done&(1<<i) == 0 {
					a, b := p.Points[0].XY(), p.Points[1].XY()
					try(done|1<<i, b, sum+gap(at, a))
					try(done|1<<i, a, sum+gap(at, b))
				}
			}
		}
		try(0, geom.Vec2{}, 0)
		got += levelTravel(Order(in, nil, OrderParams{Reverse: true}), geom.Vec2{})
		want += best
	}
	if got > 1.15*want || got < want-1e-9 {
		t.Errorf("travel %g, shortest %g", got, want)
	}
}

func TestOrderKeepsGroupsAndChains(t *testing.T) {
	rnd := rand.New(rand.NewPCG(8, 8))
	in := scattered(rnd, 200)
	group := make([]int, len(in))
	for i := range in {
		group[i] = 7 - i/50 // numbers say nothing, first appearance does
		in[i].Follow = i%50 > 0 && rnd.IntN(3) == 0
	}
	out := Order(in, group, OrderParams{Reverse: true})
	if !same(in, out) {
		t.Fatal("not the same passes")
	}
	before := map[float64]float64{} // a follower's number and that of its partner
	for i, p := range in {
		if p.Follow {
			before[p.Points[0].Z] = in[i-1].Points[0].Z
		}
	}
	for i, p := range out {
		k := int(p.Points[0].Z)
		if k/50 != i/50 {
			t.Fatalf("pass %d of group %d is in place %d", k, k/50, i)
		}
		if p.Follow {
			a, b := p.Points[0].Z, out[i-1].Points[0].Z
			if before[a] != b && before[b] != a {
				t.Fatalf("pass %g follows %g, which it did not", a, b)
			}
			delete(before, max(a, b))
		}
	}
	if len(before) != 0 {
		t.Errorf("%d chains were broken", len(before))
	}
}

// Twenty thousand passes take under a second on an idle core; ten times that is a lost index.
func TestOrderIsNotQuadratic(t *testing.T) {
	in := scattered(rand.New(rand.NewPCG(9, 9)), 20000)
	t0 := time.Now()
	out := Order(in, nil, OrderParams{Reverse: true})
	if d := time.Since(t0); d > 10*time.Second {
		t.Errorf("took %v", d)
	}
	if a, b := levelTravel(in, geom.Vec2{}), levelTravel(out, geom.Vec2{}); b > a/50 {
		t.Errorf("travel %g became only %g", a, b)
	}
}

func BenchmarkOrder20k(b *testing.B) {
	in := scattered(rand.New(rand.NewPCG(9, 9)), 20000)
	for b.Loop() {
		out := Order(in, nil, OrderParams{Reverse: true})
		b.ReportMetric(levelTravel(out, geom.Vec2{}), "mm")
	}
}

func BenchmarkFree(b *testing.B) {
	f := hills(rand.New(rand.NewPCG(10, 10)))
	o := NewObstacle(f, mill(), 0)
	for b.Loop() {
		o.Free(geom.Vec2{X: -9, Y: 3}, geom.Vec2{X: 8, Y: 17})
	}
}
