package choose

import (
	"cmp"
	"context"
	"math"
	"slices"

	"barwise/geom/field"
)

// table is all that a sequence is judged by.
type table struct {
	*Params
	area   []float64
	rough  []rougher
	finish []*judged
	left   func(i, j int) float64 // mm³ left by two roughing cutters, or by one where they are the same
	bare   float64                // mm³ before
}

type rougher struct {
	*Use
	candidate int
}

// deepSlack is how much deeper than its flutes a cutter may stand in stock: the grid's own grain, mm.
const deepSlack = 0.05

// scored is a sequence with what decides.
type scored struct {
	Sequence
	rough, finish []int   // indices into the table
	limp          float64 // what its cutters give way, summed
}

// compare orders by what is left, in steps of what is worth it; then by time, in steps of about 1 %; then by
// how stiff the cutters are. It is a total order that does not depend on what else there is.
func (p *Params) compare(a, b *scored) int {
	step := func(s *scored) float64 { return math.Floor(s.Left / p.Worth) }
	percent := func(s *scored) int { // 64 steps while it doubles
		frac, exp := math.Frexp(s.Seconds + float64(s.Left*p.PerArea))
		return 64*exp + int(128*frac) - 64
	}
	by := cmp.Or(cmp.Compare(percent(a), percent(b)), cmp.Compare(a.limp, b.limp), cmp.Compare(a.Seconds, b.Seconds))
	if p.PerArea > 0 {
		return by
	}
	return cmp.Or(cmp.Compare(step(a), step(b)), by)
}

// search judges every sequence, best first.
func (t *table) search(ctx context.Context, mostRough, mostFinish int) ([]scored, error) {
	var roughs, finishes [][]int
	if len(t.rough) == 0 {
		roughs = [][]int{nil}
	}
	subsets(len(t.rough), mostRough, func(s []int) { roughs = append(roughs, s) })
	subsets(len(t.finish), mostFinish, func(s []int) { finishes = append(finishes, s) })
	all := make([]scored, len(roughs)*len(finishes))
	err := field.EachRow(ctx, len(roughs), func(i int) {
		rest := t.after(roughs[i])
		for k, f := range finishes {
			if ctx.Err() != nil {
				return
			}
			all[i*len(finishes)+k] = t.score(roughs[i], f, rest)
		}
	})
	if err != nil {
		return nil, err
	}
	slices.SortStableFunc(all, func(a, b scored) int { return t.compare(&a, &b) })
	return all, ctx.Err()
}

// subsets calls f with every set of 1 to most of n, in ascending order.
func subsets(n, most int, f func(s []int)) {
	var s []int
	var next func(from int)
	next = func(from int) {
		for i := from; i < n; i++ {
			s = append(s, i)
			f(slices.Clone(s))
			if len(s) < most {
				next(i + 1)
			}
			s = s[:len(s)-1]
		}
	}
	next(0)
}

// after is how deep stock stands over each tip, of each finishing cutter, when the given cutters have roughed.
func (t *table) after(rough []int) [][slots][]float32 {
	out := make([][slots][]float32, len(t.finish))
	for k, f := range t.finish {
		for s := range slots {
			out[k][s] = slices.Clone(f.rest[0][s])
			for _, r := range rough {
				for i, d := range f.rest[1+r][s] {
					out[k][s][i] = min(out[k][s][i], d)
				}
			}
		}
	}
	return out
}

// score reckons one sequence up.
func (t *table) score(rough, finish []int, rest [][slots][]float32) scored {
	o := scored{rough: rough, finish: finish}
	used := make([]uint64, len(finish))
	for i, area := range t.area {
		k, s, secs := t.first(rough, finish, rest, i)
		if k < 0 {
			o.Left += area
			continue
		}
		o.Seconds += secs
		used[k] |= 1 << t.finish[finish[k]].side[s][i]
	}
	vol := t.volumes(rough)
	for i, r := range rough {
		o.Rough = append(o.Rough, t.rough[r].candidate)
		o.Seconds += float64(vol[i] * t.rough[r].perVolume())
		o.Handling += t.handling(1<<len(t.Sides) - 1)
		o.limp += limp(&t.rough[r].Cutter, t.rough[r].Cutter.StickOut)
	}
	for k, f := range finish {
		u := t.finish[f]
		o.Finish = append(o.Finish, u.candidate)
		o.Handling += t.handling(used[k])
		o.limp += limp(&u.Cutter, u.Cutter.StickOut)
	}
	o.Handling -= t.Machine.ToolChange // one is in the spindle
	if n := len(rough); n > 0 && t.rough[rough[n-1]].candidate == t.finish[finish[0]].candidate {
		o.Handling -= t.Machine.ToolChange // and that one stays
	}
	o.Seconds += o.Handling
	return o
}

// volumes is what each roughing cutter of a sequence takes away, mm³: what those before it left.
func (t *table) volumes(rough []int) []float64 {
	var out []float64
	before := t.bare
	for i, r := range rough {
		now := t.left(rough[max(0, i-1)], r)
		out = append(out, max(0, before-now))
		before = min(before, now)
	}
	return out
}

// first is which of a sequence's finishing cutters cuts row i, by its place in the sequence, from which of the
// sides it remembers, and in what time; −1 where none reaches it.
func (t *table) first(rough, finish []int, rest [][slots][]float32, i int) (k, s int, secs float64) {
	for k, f := range finish {
		u := t.finish[f]
		for s := range slots {
			if u.side[s][i] < 0 {
				break
			}
			d := rest[f][s][i]
			for _, g := range finish[:k] {
				d = min(d, u.rest[1+len(t.rough)+g][s][i])
			}
			if float64(d) > u.Cutter.LCF+deepSlack {
				continue
			}
			once := u.once
			if n := len(rough); n > 0 {
				once += t.rough[rough[n-1]].Stepdown
			}
			return k, s, float64(float64(u.secs[s][i]) * max(1, float64(d)/once))
		}
	}
	return -1, 0, 0
}
