package order

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// ops has every cutter on every one of n sides: rough cutters first.
func ops(n, rough, finish int) []Op {
	var out []Op
	for c := range rough + finish {
		o := Op{Cutter: c, Rank: c}
		if c >= rough {
			o.Kind, o.Rank = Finish, c-rough
		}
		for s := range n {
			o.Side = s
			out = append(out, o)
		}
	}
	return out
}

func plan(t *testing.T, o []Op, p Params) *Result {
	t.Helper()
	r, err := Plan(o, p)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// byName is the order of a name; of Ops nil where it is not told.
func byName(r *Result, name string) Order {
	for _, o := range r.Alternatives {
		if o.Name == name {
			return o
		}
	}
	return Order{}
}

// Counted by hand: four sides, two roughing and two finishing cutters.
func TestByHand(t *testing.T) {
	r := plan(t, ops(4, 2, 2), Params{Change: 120, Turn: 60})
	for _, c := range []struct {
		name           string
		changes, turns int
		keeps          Rule
	}{
		{ThereAndBack, 3, 12, CutterFirst},
		{SameOrder, 3, 15, CutterFirst},
		{RoughAll, 9, 9, RoughFirst}, // 1 change in roughing, 1 to finishing, 1 on each side, 1 between sides; the first finisher begins where roughing ended
		{SideBySide, 15, 3, SidesFree},
	} {
		o := byName(r, c.name)
		if o.Changes != c.changes || o.Turns != c.turns || o.Keeps != c.keeps {
			t.Errorf("%s: %d changes, %d turns, keeps %d; want %d, %d, %d", c.name, o.Changes, o.Turns, o.Keeps, c.changes, c.turns, c.keeps)
		}
		if want := float64(120*c.changes + 60*c.turns); o.Handling != want {
			t.Errorf("%s: %g s, want %g", c.name, o.Handling, want)
		}
		if (o.Warning != "") != (c.keeps < RoughFirst) {
			t.Errorf("%s: warning %q", c.name, o.Warning)
		}
	}
	if r.Chosen.Name != ThereAndBack || !r.Searched {
		t.Errorf("chosen %q, searched %v", r.Chosen.Name, r.Searched)
	}
	// where cutters change by themselves and the bar is slow to turn, a side is kept: 3 + 3 turns, 7 + 8 changes
	r = plan(t, ops(4, 2, 2), Params{Change: 15, Turn: 60})
	if c := r.Chosen; c.Turns != 6 || c.Changes != 15 || c.Keeps != RoughFirst || c.Handling != 585 {
		t.Errorf("chosen: %+v", c)
	}
	if c := plan(t, ops(4, 2, 2), Params{Change: 15, Turn: 60, Rule: CutterFirst}).Chosen; c.Handling != 3*15+12*60 {
		t.Errorf("one cutter after another: %+v", c)
	}
	if c := plan(t, ops(4, 2, 2), Params{Change: 15, Turn: 60, Rule: SidesFree}).Chosen; c.Handling != 15*15+3*60 {
		t.Errorf("sides free: %+v", c)
	}
}

// A stop where both are done is one stop.
func TestStops(t *testing.T) {
	o := []Op{{Side: 0, Cutter: 0, Seconds: 10}, {Side: 1, Cutter: 1, Kind: Finish, Seconds: 20}, {Side: 1, Cutter: 1, Kind: Finish, Rank: 1, Seconds: 30}}
	c := plan(t, o, Params{Change: 100, Turn: 50, Stop: 7}).Chosen
	if c.Stops != 1 || c.Handling != 157 || c.Total != 217 {
		t.Errorf("%+v, want one stop of 157 s and 217 s in all", c)
	}
}

// every calls f with every sequence that keeps each side's own order and a rule: the slow twin.
func every(o []Op, rule Rule, f func(seq []int)) {
	var seq []int
	used := make([]bool, len(o))
	before := func(a, b int) bool { // a must come before b
		x, y := o[a], o[b]
		earlier := x.Kind < y.Kind || x.Kind == y.Kind && x.Rank < y.Rank
		same := x.Kind == y.Kind && x.Rank == y.Rank
		switch {
		case x.Side == y.Side:
			return earlier || same && a < b
		case rule == CutterFirst:
			return earlier
		case rule == RoughFirst:
			return x.Kind == Rough && y.Kind != Rough
		}
		return false
	}
	var next func()
	next = func() {
		if len(seq) == len(o) {
			f(seq)
			return
		}
		for b := range o {
			if used[b] {
				continue
			}
			ok := true
			for a := range o {
				ok = ok && (used[a] || a == b || !before(a, b))
			}
			if !ok {
				continue
			}
			used[b] = true
			seq = append(seq, b)
			next()
			seq = seq[:len(seq)-1]
			used[b] = false
		}
	}
	next()
}

// plainCost is the handling of a sequence, added step by step.
func plainCost(o []Op, seq []int, p Params) float64 {
	t := 0.0
	for i := 1; i < len(seq); i++ {
		a, b := o[seq[i-1]], o[seq[i]]
		if a.Cutter != b.Cutter {
			t += p.Change
		}
		if a.Side != b.Side {
			t += p.Turn
		}
		if a.Side != b.Side || a.Cutter != b.Cutter {
			t += p.Stop
		}
	}
	return t
}

func TestAgainstAllPermutations(t *testing.T) {
	rnd := rand.New(rand.NewPCG(1, 2))
	for trial := range 300 {
		sides := 1 + rnd.IntN(3)
		var o []Op
		for range 1 + rnd.IntN(7) {
			o = append(o, Op{Side: rnd.IntN(sides), Cutter: rnd.IntN(3), Kind: Kind(rnd.IntN(3)), Rank: rnd.IntN(2), Seconds: float64(rnd.IntN(100))})
		}
		p := Params{Change: float64(rnd.IntN(100)), Turn: float64(rnd.IntN(100)), Stop: float64(rnd.IntN(20)), Rule: Rule(rnd.IntN(3) - 1)}
		least := math.Inf(1)
		every(o, p.Rule, func(seq []int) { least = min(least, plainCost(o, seq, p)) })
		r := plan(t, o, p)
		if r.Chosen.Handling != least || !r.Searched {
			t.Fatalf("trial %d: %+v with %+v: chosen %+v, least is %g", trial, o, p, r.Chosen, least)
		}
		total := 0.0
		for _, q := range o {
			total += q.Seconds
		}
		for _, a := range r.Alternatives {
			checkOrder(t, o, p, a, total)
			if a.Keeps >= p.Rule && a.Handling < r.Chosen.Handling {
				t.Fatalf("trial %d: %q takes %g s, the chosen %g", trial, a.Name, a.Handling, r.Chosen.Handling)
			}
		}
	}
}

// checkOrder checks that an order is one of all operations, costs what it says and keeps what it says.
func checkOrder(t *testing.T, o []Op, p Params, a Order, total float64) {
	t.Helper()
	seq := slices.Clone(a.Ops)
	slices.Sort(seq)
	for i, k := range seq {
		if i != k || len(seq) != len(o) {
			t.Fatalf("%q runs %v of %d operations", a.Name, a.Ops, len(o))
		}
	}
	if c := plainCost(o, a.Ops, p); a.Handling != c || math.Abs(a.Total-c-total) > 1e-9 {
		t.Fatalf("%q says %g s of handling and %g in all, it is %g and %g", a.Name, a.Handling, a.Total, c, c+total)
	}
	if a.Warning == "" != (a.Keeps >= p.Rule) {
		t.Fatalf("%q keeps %d of %d, warning %q", a.Name, a.Keeps, p.Rule, a.Warning)
	}
	for _, rule := range [...]Rule{SidesFree, RoughFirst, CutterFirst} {
		if k := keepsPlainly(o, a.Ops, rule); k != (a.Keeps >= rule) {
			t.Fatalf("%q: %+v in order %v keeps %d: %v, it says up to %d", a.Name, o, a.Ops, rule, k, a.Keeps)
		}
	}
}

// keepsPlainly looks at every pair.
func keepsPlainly(o []Op, seq []int, rule Rule) bool {
	for i := range seq {
		for j := range i {
			x, y := o[seq[j]], o[seq[i]] // x is run before y
			later := y.Kind < x.Kind || y.Kind == x.Kind && y.Rank < x.Rank
			switch {
			case x.Side == y.Side && later,
				rule == CutterFirst && later,
				rule == RoughFirst && y.Kind == Rough && x.Kind != Rough:
				return false
			}
		}
	}
	return true
}

// What the sides and cutters are called changes no cost.
func TestRelabelled(t *testing.T) {
	rnd := rand.New(rand.NewPCG(3, 4))
	for range 50 {
		o := ops(2+rnd.IntN(4), rnd.IntN(3), 1+rnd.IntN(3))
		o = slices.DeleteFunc(o, func(Op) bool { return rnd.IntN(4) == 0 })
		p := Params{Change: float64(rnd.IntN(200)), Turn: float64(rnd.IntN(200)), Stop: 3}
		a := plan(t, o, p)
		q := slices.Clone(o)
		for i := range q {
			q[i].Side, q[i].Cutter = 40-7*q[i].Side, 100-3*q[i].Cutter
		}
		rnd.Shuffle(len(q), func(i, j int) { q[i], q[j] = q[j], q[i] })
		if b := plan(t, q, p); a.Chosen.Handling != b.Chosen.Handling {
			t.Fatalf("%g s, relabelled %g s", a.Chosen.Handling, b.Chosen.Handling)
		}
	}
}

// Six sides and the end, with five cutters each, are searched; too many are not, and still have an answer.
func TestSizes(t *testing.T) {
	if r := plan(t, ops(6, 2, 3), Params{Change: 15, Turn: 60}); !r.Searched || r.Chosen.Handling >= byName(r, ThereAndBack).Handling {
		t.Errorf("searched %v, chosen %+v", r.Searched, r.Chosen)
	}
	r := plan(t, ops(12, 2, 3), Params{Change: 120, Turn: 60})
	if r.Searched || r.Chosen.Name != ThereAndBack || r.Chosen.Changes != 4 || r.Chosen.Turns != 55 {
		t.Errorf("searched %v, chosen %q: %d changes, %d turns; want 4 and 5 times 11", r.Searched, r.Chosen.Name, r.Chosen.Changes, r.Chosen.Turns)
	}
	if r := plan(t, nil, Params{}); len(r.Chosen.Ops) != 0 || r.Chosen.Handling != 0 {
		t.Errorf("nothing to do: %+v", r.Chosen)
	}
}

func TestRefuses(t *testing.T) {
	for _, p := range []Params{{Change: -1}, {Turn: math.NaN()}, {Stop: math.Inf(1)}, {Rule: 2}} {
		if _, err := Plan(ops(2, 1, 1), p); err == nil {
			t.Errorf("%+v: no error", p)
		}
	}
	if _, err := Plan([]Op{{Seconds: math.NaN()}}, Params{}); err == nil {
		t.Error("an operation of NaN seconds: no error")
	}
}
