package barwise

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"barwise/plan/reach"
	"barwise/shop/catalog"
	"barwise/shop/cutter"
)

// trial is one change to the cuts, and what would stay with it.
type trial struct {
	what string // to the reader
	job  string // to put into the job
	left *reach.Prediction
}

// worthTrying is the area in mm² that has to be at stake before another way of cutting is reckoned through.
const worthTrying = 0.3

// trials reckons through what would free surface that stays: a longer stick-out, a smaller finishing
// cutter, a smaller roughing cutter.
func (r *run) trials(ctx context.Context) ([]trial, error) {
	if r.seen.left == nil {
		return nil, nil
	}
	var out []trial
	for _, ask := range []func() (trial, []reach.Cut){r.tryStickOut, r.trySmallerFinish, r.trySmallerRough} {
		t, cuts := ask()
		if cuts == nil {
			continue
		}
		r.say("trying: "+t.what, 0, 0)
		p := r.seen.params
		p.Cuts = cuts
		if err := r.clock.time("trials", func() (err error) {
			t.left, err = reach.Predict(ctx, r.surface, p, r.seen.set)
			return err
		}); err != nil {
			return nil, err
		}
		out = append(out, t)
	}
	return out, nil
}

// tryStickOut mounts every cutter that its holder keeps off as far out as it takes.
func (r *run) tryStickOut() (trial, []reach.Cut) {
	if r.seen.left.Area[reach.Held] < worthTrying {
		return trial{}, nil
	}
	need := map[int]float64{}
	for _, q := range r.seen.left.By {
		c := r.seen.params.Cuts[q.Cut].Cutter
		if q.StickOut > c.StickOut && (c.OAL == 0 || q.StickOut < c.OAL-mostHeld*c.DMM) {
			need[q.Cut] = max(need[q.Cut], math.Ceil(q.StickOut))
		}
	}
	if len(need) == 0 {
		return trial{}, nil
	}
	cuts := append([]reach.Cut(nil), r.seen.params.Cuts...)
	rough, finish := r.cutters()
	var words, lines []string
	roughs := false
	for i := range cuts {
		s, ok := need[i]
		if !ok {
			continue
		}
		cuts[i].Cutter.StickOut = s
		words = append(words, fmt.Sprintf("%s with %g mm", cutterWords(cuts[i].Cutter), s))
		if n := len(rough); i < n {
			rough[i].StickOut, roughs = s, true
		} else {
			finish[i-n].StickOut = s
			lines = []string{r.finishLine(finish)}
		}
	}
	if roughs {
		lines = append(lines, r.roughLine(rough))
	}
	t := trial{what: "mount " + strings.Join(words, ", ") + " of stick-out"}
	if !slices.Contains(lines, "") {
		t.job = strings.Join(lines, "\n")
	}
	return t, cuts
}

// mostHeld is how much of a shank the collet has to hold, in shank diameters (common practice, no source).
const mostHeld = 2

// trySmallerFinish adds the next smaller ball after the last cut.
func (r *run) trySmallerFinish() (trial, []reach.Cut) {
	n := len(r.job.Finish)
	if n == 0 || r.seen.left.Area[reach.Narrow] < worthTrying {
		return trial{}, nil
	}
	last := r.job.Finish[n-1]
	c, ok := nextSmaller(last.Cutter, func(c cutter.Cutter) bool { return c.Profile == cutter.Ball(c.R) })
	if !ok {
		return trial{}, nil
	}
	cuts := append([]reach.Cut(nil), r.seen.params.Cuts...)
	q := cuts[len(cuts)-1]
	q.Cutter, q.Over, q.Overlap = c, over(c), c.R
	q.YMax += q.Over - over(last.Cutter)
	_, finish := r.cutters()
	return trial{what: "finish with " + c.ID + " after " + cutterWords(last.Cutter), job: r.finishLine(append(finish, c))}, append(cuts, q)
}

// trySmallerRough adds the next smaller flat end mill after the last roughing cut.
func (r *run) trySmallerRough() (trial, []reach.Cut) {
	n := len(r.job.Rough)
	if n == 0 || r.seen.left.Area[reach.Deep] < worthTrying {
		return trial{}, nil
	}
	last := r.job.Rough[n-1]
	c, ok := nextSmaller(last.Cutter, func(c cutter.Cutter) bool { return c.Profile == cutter.FlatEnd(c.R) })
	if !ok {
		return trial{}, nil
	}
	cuts := append([]reach.Cut(nil), r.seen.params.Cuts[:n]...)
	q := cuts[n-1]
	q.Cutter, q.Over, q.YMin = c, over(c), r.placed.StubY+c.R+last.Allowance
	q.YMax = r.job.Bar.Length + q.Over
	q.Stepdown = min(last.Stepdown*c.R/last.Cutter.R, c.Depth())
	cuts = append(append(cuts, q), r.seen.params.Cuts[n:]...)
	rough, _ := r.cutters()
	return trial{what: "rough also with " + c.ID + " after " + cutterWords(last.Cutter), job: r.roughLine(append(rough, c))}, cuts
}

// nextSmaller is the built-in cutter of a kind whose radius is the next below that of c.
func nextSmaller(c cutter.Cutter, kind func(cutter.Cutter) bool) (best cutter.Cutter, ok bool) {
	for _, q := range catalog.Builtin().Cutters {
		if kind(q) && q.R < 0.9*c.R && q.R > best.R {
			best, ok = q, true
		}
	}
	return best, ok
}
