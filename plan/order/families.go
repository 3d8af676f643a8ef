package order

import "slices"

// byCutter takes one cutter after another over all sides: there and back, so that the next begins on the
// side that lies up, or always in the same order.
func (w *work) byCutter(back bool) []int {
	var out []int
	forward := true
	for n, s := range w.stages {
		row := w.row(s)
		if back && n > 0 {
			forward = w.begin(row, out[len(out)-1], forward)
		}
		out = append(out, row...)
	}
	return out
}

// row is all operations of a stage, side by side.
func (w *work) row(s stage) []int {
	var out []int
	for _, c := range w.chains {
		for _, k := range c {
			if w.ops[k].stage() == s {
				out = append(out, k)
			}
		}
	}
	return out
}

// begin turns a row about where the last operation's side is at its end, or moves that side's operations to
// the front; it tells which way the row then runs.
func (w *work) begin(row []int, last int, forward bool) bool {
	side := w.ops[last].Side
	forward = !forward
	if !forward {
		w.reverse(row)
	}
	if w.ops[row[0]].Side == side {
		return forward
	}
	if w.ops[row[len(row)-1]].Side == side {
		w.reverse(row)
		return !forward
	}
	slices.SortStableFunc(row, func(a, b int) int { // the side that lies up first
		x, y := w.ops[a].Side != side, w.ops[b].Side != side
		switch {
		case x == y:
			return 0
		case y:
			return -1
		}
		return 1
	})
	return forward
}

// reverse turns a row about, side by side: operations of one side keep their order.
func (w *work) reverse(row []int) {
	slices.Reverse(row)
	for a := 0; a < len(row); {
		b := a + 1
		for b < len(row) && w.ops[row[b]].Side == w.ops[row[a]].Side {
			b++
		}
		slices.Reverse(row[a:b])
		a = b
	}
}

// bySide does all that one side wants before the bar is turned.
func (w *work) bySide() []int { return slices.Concat(w.chains...) }

// roughThenSides roughs with one cutter after another, there and back, and then does all the rest that one
// side wants before the bar is turned.
func (w *work) roughThenSides() []int {
	var out []int
	forward := true
	for _, s := range w.stages {
		if s.kind != Rough {
			break
		}
		row := w.row(s)
		if len(out) > 0 {
			forward = w.begin(row, out[len(out)-1], forward)
		}
		out = append(out, row...)
	}
	chains := make([][]int, 0, len(w.chains))
	for _, c := range w.chains {
		n := slices.IndexFunc(c, func(k int) bool { return w.ops[k].Kind != Rough })
		if n >= 0 {
			chains = append(chains, c[n:])
		}
	}
	if len(out) > 0 {
		if at := slices.IndexFunc(chains, func(c []int) bool { return w.ops[c[0]].Side == w.ops[out[len(out)-1]].Side }); at > 0 {
			if at == len(chains)-1 {
				slices.Reverse(chains)
			} else {
				chains = append(append([][]int{chains[at]}, chains[:at]...), chains[at+1:]...)
			}
		}
	}
	return append(out, slices.Concat(chains...)...)
}
