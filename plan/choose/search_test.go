package choose

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"barwise/geom"
	"barwise/geom/field"
	"barwise/plan/reach"
	"barwise/shop/cutter"
)

// someTable is a shop of cutters and a surface of places at random.
func someTable(rnd *rand.Rand, roughs, finishers, places int) *table {
	p := &Params{Machine: mill, Worth: 0.3, PredictParams: reach.PredictParams{Sides: quarters}}
	t := &table{Params: p, bare: 1000}
	for range places {
		t.area = append(t.area, 0.1+rnd.Float64())
	}
	use := func(id int) *Use {
		return &Use{Feed: 20, Stepover: 1, Cut: reach.Cut{Stepdown: 0.5 + rnd.Float64(), Cutter: ball(string(rune('a'+id)), 1+rnd.Float64(), 1+2*rnd.Float64(), 8, 20)}}
	}
	after := make([]float64, roughs*roughs)
	for i := range roughs {
		t.rough = append(t.rough, rougher{use(i), i})
		after[i*roughs+i] = 100 + 500*rnd.Float64()
	}
	for i := range roughs {
		for j := range i {
			v := min(after[i*roughs+i], after[j*roughs+j]) * rnd.Float64()
			after[i*roughs+j], after[j*roughs+i] = v, v
		}
	}
	t.left = func(i, j int) float64 { return after[i*roughs+j] }
	for k := range finishers {
		j := &judged{Use: use(roughs + k), candidate: roughs + k, once: 1, rest: make([][slots][]float32, 1+roughs+finishers)}
		for s := range slots {
			for i := range places {
				side := int8(rnd.IntN(6) - 2)
				if s > 0 && (j.side[0][i] < 0 || side == j.side[0][i]) {
					side = -1
				}
				j.side[s] = append(j.side[s], max(side, -1))
				j.secs[s] = append(j.secs[s], float32(100*rnd.Float64()))
				for c := range 1 + roughs + k {
					j.rest[c][s] = append(j.rest[c][s], float32(6*rnd.Float64()))
				}
			}
		}
		t.finish = append(t.finish, j)
	}
	return t
}

// plainly reckons up every sequence from the definition and returns the best: the slow twin.
func plainly(t *table, mostRough, mostFinish int) (best scored) {
	first := true
	nr, nf := len(t.rough), len(t.finish)
	bits := func(set, n int) (out []int) {
		for i := range n {
			if set>>i&1 != 0 {
				out = append(out, i)
			}
		}
		return out
	}
	for a := range 1 << nr {
		rough := bits(a, nr)
		if len(rough) > mostRough || len(rough) == 0 && nr > 0 {
			continue
		}
		for b := 1; b < 1<<nf; b++ {
			finish := bits(b, nf)
			if len(finish) > mostFinish {
				continue
			}
			s := scored{rough: rough, finish: finish}
			changes, turns := -1, 0
			vol := t.bare
			for i, r := range rough {
				u := t.rough[r]
				now := t.left(rough[0], r)
				if i > 0 {
					now = min(vol, now)
				}
				s.Seconds += (vol - now) / (u.Stepover * u.Stepdown * u.Feed) / roughPart
				vol = now
				changes++
				turns += len(t.Sides) - 1
				s.limp += limp(&u.Cutter, u.Cutter.StickOut)
			}
			on := map[[2]int]bool{} // cutter and side
			for i := range t.area {
				done := false
				for k, f := range finish {
					u := t.finish[f]
					for sl := 0; sl < slots && !done && u.side[sl][i] >= 0; sl++ {
						depth := u.rest[0][sl][i]
						for _, r := range rough {
							depth = min(depth, u.rest[1+r][sl][i])
						}
						for _, g := range finish[:k] {
							depth = min(depth, u.rest[1+nr+g][sl][i])
						}
						if float64(depth) > u.Cutter.LCF+deepSlack {
							continue
						}
						once := u.once
						if len(rough) > 0 {
							once += t.rough[rough[len(rough)-1]].Stepdown
						}
						s.Seconds += float64(u.secs[sl][i]) * math.Max(1, float64(depth)/once)
						on[[2]int{f, int(u.side[sl][i])}] = true
						done = true
					}
					if done {
						break
					}
				}
				if !done {
					s.Left += t.area[i]
				}
			}
			for _, f := range finish {
				changes++
				sides := 0
				for side := range t.Sides {
					if on[[2]int{f, side}] {
						sides++
					}
				}
				turns += max(0, sides-1)
				u := t.finish[f]
				s.limp += limp(&u.Cutter, u.Cutter.StickOut)
			}
			s.Handling = float64(changes)*t.Machine.ToolChange + float64(turns)*t.Machine.Turn
			s.Seconds += s.Handling
			if first || t.compare(&s, &best) < 0 {
				best, first = s, false
			}
		}
	}
	return best
}

func TestSearchIsItsTwin(t *testing.T) {
	rnd := rand.New(rand.NewPCG(5, 6))
	for trial := range 60 {
		tb := someTable(rnd, rnd.IntN(4), 1+rnd.IntN(5), 1+rnd.IntN(60))
		if trial%3 == 0 {
			tb.PerArea = 1 + 50*rnd.Float64()
		}
		mostRough, mostFinish := 1+rnd.IntN(2), 1+rnd.IntN(3)
		got, err := tb.search(context.Background(), mostRough, mostFinish)
		if err != nil {
			t.Fatal(err)
		}
		want := plainly(tb, mostRough, mostFinish)
		if !slices.Equal(got[0].rough, want.rough) || !slices.Equal(got[0].finish, want.finish) ||
			math.Abs(got[0].Seconds-want.Seconds) > 1e-9*want.Seconds || math.Abs(got[0].Handling-want.Handling) > 1e-9 || math.Abs(got[0].Left-want.Left) > 1e-9 {
			t.Fatalf("trial %d: %+v, plainly %+v", trial, got[0], want)
		}
	}
}

// Without the last of its cutters a shop has no better choice.
func TestSearchWithFewer(t *testing.T) {
	rnd := rand.New(rand.NewPCG(7, 8))
	for range 60 {
		tb := someTable(rnd, 3, 2+rnd.IntN(4), 50)
		full, _ := tb.search(context.Background(), 2, 3)
		fewer := *tb
		fewer.finish = tb.finish[:len(tb.finish)-1]
		less, _ := fewer.search(context.Background(), 2, 3)
		if tb.compare(&full[0], &less[0]) > 0 {
			t.Fatalf("%+v, with fewer cutters %+v", full[0], less[0])
		}
	}
}

// A uniform cantilever gives way by the cube of its length and by the fourth power of its diameter; a neck
// half as thick near the tip gives way sixteen times as much over its own part.
func TestLimp(t *testing.T) {
	c := cutter.Cutter{Profile: cutter.FlatEnd(1.5), LCF: 10, DMM: 3}
	if r := limp(&c, 30) / limp(&c, 20); math.Abs(r-27.0/8) > 1e-12 {
		t.Errorf("30 mm gives %g times as much as 20", r)
	}
	n := cutter.Cutter{Profile: cutter.FlatEnd(0.75), LCF: 2, LU: 8, DN: 1.5, DMM: 3}
	if r, want := limp(&n, 20)/limp(&c, 20), (16*512+8000-512)/8000.0; math.Abs(r-want) > 1e-12 {
		t.Errorf("with a neck %g times, want %g", r, want)
	}
}

// On a sphere of radius ρ the tip of a ball of radius r runs on one of radius ρ + r; on a plane it does not
// bend. What is held is the least of the feed, blocks of √(8δρ) and √(aρ).
func TestHeld(t *testing.T) {
	const big = 7.5
	f := field.New(field.Cover(-4, 4, -4, 4, 0.1, 0.1), 0)
	for j := range f.NY {
		for i := range f.NX {
			x, y := f.X(i), f.Y(j)
			f.Z[j*f.NX+i] = float32(math.Sqrt(big*big - x*x - y*y))
		}
	}
	i, j := f.Nearest(geom.Vec2{})
	if rho := bend(f, i, j, 0.5); math.Abs(rho-big) > 0.01*big {
		t.Errorf("a path of radius %g, want %g", rho, big)
	}
	for k := range f.Z {
		f.Z[k] = float32(k%f.NX) * 0.05
	}
	if rho := bend(f, i, j, 0.5); rho < 1e3 {
		t.Errorf("a path of radius %g on a plane", rho)
	}
	p := Params{Machine: mill, PathTolerance: 0.001}
	for _, c := range [][3]float64{{24, 1e9, 24}, {24, 0.5, 10}, {5, 0.5, 5}, {24, 2, 20}} {
		if v := p.held(c[0], c[1]); math.Abs(v-c[2]) > 1e-9 {
			t.Errorf("feed %g on a radius of %g: %g held, want %g", c[0], c[1], v, c[2])
		}
	}
	p.Machine.Accel = [3]float64{}
	if v, want := p.held(24, 0.1), 400*math.Sqrt(0.0008); math.Abs(v-want) > 1e-9 {
		t.Errorf("by blocks %g held, want %g", v, want)
	}
}

// Stepover of a cusp, and width of cut of an engagement: handbook formulas.
func TestWidths(t *testing.T) {
	u := Use{Cut: reach.Cut{Cutter: cutter.Cutter{Profile: cutter.Ball(0.5)}, Cusp: 0.002}}
	if w := u.stepover(1); math.Abs(w-0.0893532) > 1e-6 { // h = R − √(R² − w²/4)
		t.Errorf("a stepover of %g mm", w)
	}
	v := Use{Stepover: 2, Cap: math.Pi / 3, Cut: reach.Cut{Cutter: cutter.Cutter{Profile: cutter.FlatEnd(3)}}}
	if ae := v.ae(); math.Abs(ae-1.5) > 1e-12 { // cos φ = 1 − ae/R
		t.Errorf("a width of %g mm at 60°", ae)
	}
	v.Cap = 0
	if v.ae() != 2 {
		t.Errorf("a width of %g mm with no cap", v.ae())
	}
}
