package order

import "math"

// mostStates bounds the search to some hundred megabytes and about a second.
const mostStates = 2_000_000

// least finds the sequence of least handling that keeps a rule. What is done is told by how far each side's
// chain has come; the last operation is then the last of its side's chain. So dynamic programming runs over
// (how far each chain is, which side was last): of all ways to the same state only the cheapest matters.
// ok is false where there are too many states, or nothing to do.
func (w *work) least(rule Rule) (seq []int, ok bool) {
	n := len(w.chains)
	most := w.p.MostStates
	if most == 0 {
		most = mostStates
	}
	weight, states := make([]int, n), 1
	for i, c := range w.chains {
		weight[i] = states
		states *= len(c) + 1
		if states*n > most {
			return nil, false
		}
	}
	if n == 0 {
		return nil, false
	}
	s := &search{work: w, n: n, rule: rule, weight: weight, done: make([]int, n)}
	s.cost = make([]float64, states*n)
	s.from = make([]int8, states*n)
	for i := range s.cost {
		s.cost[i] = math.Inf(1)
	}
	for state := range states {
		s.open(state)
	}
	return s.trace(states - 1), true
}

type search struct {
	*work
	n      int
	rule   Rule
	weight []int
	done   []int     // how far each chain is, in the state looked at
	cost   []float64 // by state and last side
	from   []int8    // side that was last before; −1 for none
}

// open goes on from a state to all that may follow. States are visited by number, and every step leads to a
// higher one.
func (s *search) open(state int) {
	for i := range s.done {
		s.done[i] = state / s.weight[i] % (len(s.chains[i]) + 1)
	}
	for i, c := range s.chains {
		if s.done[i] == len(c) || !s.allowed(i) {
			continue
		}
		next, to := c[s.done[i]], (state+s.weight[i])*s.n+i
		if state == 0 {
			s.cost[to], s.from[to] = 0, -1
			continue
		}
		for last := range s.n {
			at := s.cost[state*s.n+last]
			if math.IsInf(at, 1) {
				continue
			}
			d, _, _ := s.step(s.chains[last][s.done[last]-1], next)
			if at+d < s.cost[to] {
				s.cost[to], s.from[to] = at+d, int8(last)
			}
		}
	}
}

// allowed reports whether the rule lets side i go on.
func (s *search) allowed(i int) bool {
	next := s.ops[s.chains[i][s.done[i]]].stage()
	for k, c := range s.chains {
		if k == i || s.done[k] == len(c) {
			continue
		}
		waits := s.ops[c[s.done[k]]].stage()
		if s.rule == CutterFirst && waits.less(next) || s.rule == RoughFirst && waits.kind == Rough && next.kind != Rough {
			return false
		}
	}
	return true
}

// trace walks back from the last state.
func (s *search) trace(state int) []int {
	last := 0
	for i := range s.n {
		if s.cost[state*s.n+i] < s.cost[state*s.n+last] {
			last = i
		}
	}
	var seq []int
	for state > 0 {
		k := state / s.weight[last] % (len(s.chains[last]) + 1)
		seq = append(seq, s.chains[last][k-1])
		from := s.from[state*s.n+last]
		state -= s.weight[last]
		last = int(from)
	}
	for a, b := 0, len(seq)-1; a < b; a, b = a+1, b-1 {
		seq[a], seq[b] = seq[b], seq[a]
	}
	return seq
}
