// Package order says in which order the cuts of all sides are run.
package order

import (
	"fmt"
	"math"
	"slices"
)

// Kind is what an operation is for. On a side they come in this order.
type Kind uint8

// Kinds of operations.
const (
	Rough Kind = iota
	Semi
	Finish
)

// Op is one cutter at work on one side, without a stop.
type Op struct {
	Side    int // index
	Cutter  int // which cutter is in the spindle; two operations with the same number need no change between them
	Kind    Kind
	Rank    int     // the k-th cutter of its kind: on a side it comes after the (k−1)th
	Seconds float64 // it runs for, whatever the order; 0: not known
}

// stage is an operation's place among those of its side.
type stage struct {
	kind Kind
	rank int
}

func (o *Op) stage() stage { return stage{o.Kind, o.Rank} }

func (a stage) less(b stage) bool {
	return a.kind < b.kind || a.kind == b.kind && a.rank < b.rank
}

// Rule is what must be done before what, beyond that on every side the cutters follow each other. A rule
// allows less than the one before it.
type Rule int8

// The rules. RoughFirst is what is kept where nothing is said.
const (
	SidesFree   Rule = iota - 1 // a side may be finished before another is begun
	RoughFirst                  // all sides are roughed before any is finished, so that the piece stays stiff and what finishing leaves is not moved by roughing
	CutterFirst                 // each cutter is done with all sides before the next comes, as a plan wants that looks at the bar between cutters
)

// Params are the shop's own costs, seconds.
type Params struct {
	Change float64 // for a change of cutter
	Turn   float64 // to turn the bar from one side to any other
	Stop   float64 // of travel away from the work and back, where either is done; once where both are
	Rule   Rule    // what the chosen order keeps to

	MostStates int // above so many states the least order is not searched for; 0: two million
}

// Order is one order with what it costs. Which cutter is in the spindle and which side lies up before the
// first operation is free.
type Order struct {
	Name     string
	Ops      []int   // indices of the operations, in the order they are run
	Changes  int     // of the cutter
	Turns    int     // of the bar
	Stops    int     // at which one or both are done
	Handling float64 // seconds for all of these
	Total    float64 // seconds, with what the operations themselves take
	Keeps    Rule    // the strictest rule it keeps
	Warning  string  // why it is not taken by default; empty where it keeps the asked rule
}

// Result is the order chosen and what others would take.
type Result struct {
	Chosen       Order
	Alternatives []Order // each family of orders once, in a fixed sequence; the chosen one's family with them
	Searched     bool    // the chosen order is the least of all that keep the rule, by exact search
}

// Names of the orders.
const (
	ThereAndBack = "every side with one cutter first, sides there and back"
	SameOrder    = "every side with one cutter first, sides always in the same order"
	RoughAll     = "every side roughed first, then every cutter on one side"
	SideBySide   = "every cutter on one side first"
	Least        = "the least of all that rough every side first"
	LeastCutter  = "the least of all with one cutter after another"
	LeastFree    = "the least of all, whatever is roughed when"
)

var leastNames = map[Rule]string{SidesFree: LeastFree, RoughFirst: Least, CutterFirst: LeastCutter}

// Plan returns the order of least handling that keeps the rule, and by name what others take. Sides are
// taken to be listed in the order of ops. The input is not changed. Of orders that take equally long a
// named one is chosen before one that was searched for, and of those the one named first.
func Plan(ops []Op, p Params) (*Result, error) {
	if err := check(ops, p); err != nil {
		return nil, err
	}
	w := newWork(ops, p)
	r := &Result{}
	named := []Order{
		w.order(ThereAndBack, w.byCutter(true)),
		w.order(SameOrder, w.byCutter(false)),
		w.order(RoughAll, w.roughThenSides()),
		w.order(SideBySide, w.bySide()),
	}
	for _, o := range named {
		// two families are one where there is only one cutter, or one side
		if !slices.ContainsFunc(r.Alternatives, func(q Order) bool { return slices.Equal(q.Ops, o.Ops) }) {
			r.Alternatives = append(r.Alternatives, o)
		}
	}
	for _, rule := range [...]Rule{CutterFirst, RoughFirst, SidesFree} {
		seq, ok := w.least(rule)
		if !ok {
			continue
		}
		o := w.order(leastNames[rule], seq)
		if rule == p.Rule {
			r.Searched = true
		}
		// it is told where nothing before it that keeps as much is as quick
		if !slices.ContainsFunc(r.Alternatives, func(q Order) bool { return q.Keeps >= rule && q.Handling <= o.Handling }) {
			r.Alternatives = append(r.Alternatives, o)
		}
	}
	best := -1
	for i := range r.Alternatives {
		q := &r.Alternatives[i]
		if q.Keeps >= p.Rule && (best < 0 || q.Handling < r.Alternatives[best].Handling) {
			best = i
		}
	}
	r.Chosen = r.Alternatives[best]
	r.Chosen.Ops = slices.Clone(r.Chosen.Ops)
	return r, nil
}

func check(ops []Op, p Params) error {
	for _, v := range [...]struct {
		name string
		v    float64
	}{{"change", p.Change}, {"turn", p.Turn}, {"stop", p.Stop}} {
		if !(v.v >= 0) || math.IsInf(v.v, 1) {
			return fmt.Errorf("order: a %s of %g s: 0 or more is allowed", v.name, v.v)
		}
	}
	for i, o := range ops {
		if o.Side < 0 || o.Kind > Finish || !(o.Seconds >= 0) {
			return fmt.Errorf("order: operation %d: side %d, kind %d, %g s", i, o.Side, o.Kind, o.Seconds)
		}
	}
	if p.Rule < SidesFree || p.Rule > CutterFirst {
		return fmt.Errorf("order: no rule %d", p.Rule)
	}
	return nil
}

// work is one call of Plan.
type work struct {
	ops    []Op
	p      Params
	chains [][]int // by side, in the order the sides come in ops: its operations, first to last
	stages []stage // that occur, first to last
}

func newWork(ops []Op, p Params) *work {
	w := &work{ops: ops, p: p}
	at := map[int]int{}
	for i := range ops {
		k, ok := at[ops[i].Side]
		if !ok {
			k = len(w.chains)
			at[ops[i].Side] = k
			w.chains = append(w.chains, nil)
		}
		w.chains[k] = append(w.chains[k], i)
		if s := ops[i].stage(); !slices.Contains(w.stages, s) {
			w.stages = append(w.stages, s)
		}
	}
	order := func(a, b stage) int {
		switch {
		case a.less(b):
			return -1
		case b.less(a):
			return 1
		}
		return 0
	}
	for _, c := range w.chains {
		slices.SortStableFunc(c, func(a, b int) int { return order(ops[a].stage(), ops[b].stage()) })
	}
	slices.SortFunc(w.stages, order)
	return w
}

// step is the cost between two operations.
func (w *work) step(a, b int) (s float64, change, turn bool) {
	change = w.ops[a].Cutter != w.ops[b].Cutter
	turn = w.ops[a].Side != w.ops[b].Side
	if change {
		s += w.p.Change
	}
	if turn {
		s += w.p.Turn
	}
	if change || turn {
		s += w.p.Stop
	}
	return s, change, turn
}

// order reckons a sequence up.
func (w *work) order(name string, seq []int) Order {
	o := Order{Name: name, Ops: seq, Keeps: w.keeps(seq)}
	for i, k := range seq {
		o.Total += w.ops[k].Seconds
		if i == 0 {
			continue
		}
		_, change, turn := w.step(seq[i-1], k)
		if change {
			o.Changes++
		}
		if turn {
			o.Turns++
		}
		if change || turn {
			o.Stops++
		}
	}
	o.Handling = float64(float64(o.Changes)*w.p.Change) + float64(float64(o.Turns)*w.p.Turn) + float64(float64(o.Stops)*w.p.Stop)
	o.Total += o.Handling
	switch {
	case o.Keeps >= w.p.Rule:
	case w.p.Rule == CutterFirst && o.Keeps == RoughFirst:
		o.Warning = "a cutter comes to a side before the larger one was on all: there it meets what that one would have taken"
	default:
		o.Warning = "sides are finished before others are roughed: the piece has lost stiffness where it is still to be cut hard, and roughing may mark what is finished"
	}
	return o
}

// keeps is the strictest rule that a sequence keeps.
func (w *work) keeps(seq []int) Rule {
	rule := CutterFirst
	var last stage
	finished := false
	for i, k := range seq {
		s := w.ops[k].stage()
		if i > 0 && s.less(last) {
			rule = min(rule, RoughFirst)
		}
		if last.less(s) || i == 0 {
			last = s
		}
		if s.kind != Rough {
			finished = true
		} else if finished {
			return SidesFree
		}
	}
	return rule
}
