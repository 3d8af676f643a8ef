package corner

import (
	"context"
	"math"

	"barwise/geom"
	"barwise/path"
	"barwise/plan/share"
)

// Follow is the work along the creases of a side.
type Follow struct {
	Passes []path.Pass
	// Covered are the nodes of the region that the passes cut, so that other strategies need not.
	Covered []bool
	FollowFigures
}

// FollowFigures describes passes along creases.
type FollowFigures struct {
	Creases      int     // followed, from end to end or fork to fork
	CreaseLength float64 // mm of them
	Lanes        int     // stretches along a crease before they were joined to passes
	CutLength    float64 // mm of passes
	Points       int
	Left         int // nodes with something left that are covered
	LeftAll      int // of how many
}

// Creases follows the concave creases in a side's region: one lane in the crease, more beside it on both
// flanks, as far apart as the cusp allows, until what was left is covered. Lanes are joined to and fro.
//
// Points lie on the exact surface, rounded up. Between them the path never cuts deeper than 0.4 of the
// tolerance into the surface, and stands off it by no more than 0.75 of it, square to it: at samples of the
// exact surface, as far apart as makes the rest of half the tolerance. Only the ways between lanes may
// stand higher. It is called before the view is freed; it does not change the share.
func (l *Left) Creases(ctx context.Context, i int) (*Follow, error) {
	v, r := l.set.Views[i], &l.Sides[i]
	out := &Follow{Covered: make([]bool, v.Field.Len())}
	m, err := l.ridge(ctx, v, r)
	if err != nil {
		return nil, err
	}
	skeleton(v.Field, m)
	cs := chains(v.Field, m)
	found := make([][]ray, len(cs))
	if err := share.Rows(ctx, len(cs), func(k int) { found[k] = l.rays(ctx, v, r, cs[k]) }); err != nil {
		return nil, err
	}
	gap := spacing(l.set.Cutter, l.params.Cusp)
	lines := l.strings(found, cs)
	works, err := l.work(ctx, v, r, lines)
	if err != nil {
		return nil, err
	}
	// what is not worth following has kept others out of its place
	kept := lines[:0:0]
	for k, w := range works {
		if w.worth() {
			kept = append(kept, lines[k])
		}
	}
	if len(kept) < len(lines) {
		lines = kept
		if works, err = l.work(ctx, v, r, lines); err != nil {
			return nil, err
		}
	}
	passes := make([][]path.Pass, len(lines))
	err = share.Rows(ctx, len(lines), func(k int) { passes[k] = works[k].join(ctx) })
	if err != nil {
		return nil, err
	}
	for k := range lines {
		if len(passes[k]) == 0 {
			continue
		}
		out.Creases++
		out.CreaseLength += length(lines[k].rays)
		out.Lanes += len(works[k].runs)
		works[k].cover(out.Covered, gap)
		out.Passes = append(out.Passes, passes[k]...)
	}
	out.Passes = inOrder(out.Passes)
	out.count(r)
	return out, ctx.Err()
}

func length(rays []ray) float64 {
	sum := 0.0
	for k := 1; k < len(rays); k++ {
		sum += rays[k].at.Sub(rays[k-1].at).Len()
	}
	return sum
}

func (f *Follow) count(r *Region) {
	for _, p := range f.Passes {
		f.Points += len(p.Points)
		for k := 1; k < len(p.Points); k++ {
			f.CutLength += p.Points[k].Sub(p.Points[k-1]).Len()
		}
	}
	for k, d := range r.Depth {
		if d > 0 {
			f.LeftAll++
			if f.Covered[k] {
				f.Left++
			}
		}
	}
}

// Take takes what passes along creases have cut out of a side's region, so that Restrict leaves the rest of it
// to other strategies: what is left of the region, overlap included, without specks shallower than the
// tolerance.
func (l *Left) Take(i int, f *Follow) {
	v, r := l.set.Views[i], &l.Sides[i]
	for k, c := range f.Covered {
		if c {
			r.Depth[k], r.Climb[k] = 0, float32(math.Inf(-1))
		}
		r.Mask[k] = r.Depth[k] > 0
	}
	keep := r.Figures
	r.Regions = 0
	l.regions(v, r)
	keep.Regions, keep.Dropped = r.Regions, r.Dropped
	r.Figures = keep
	l.grow(v, r)
}

// work lays the lanes of all creases, each to where another is nearer.
func (l *Left) work(ctx context.Context, v *share.View, r *Region, lines []*ribbon) ([]*lanes, error) {
	near := newCrowd(l.set.Cutter.R / 2)
	for _, c := range lines {
		for _, q := range c.rays {
			near.add(q.at)
		}
	}
	if err := share.Rows(ctx, len(lines), func(k int) { l.ribbon(ctx, v, r, lines[k], near) }); err != nil {
		return nil, err
	}
	l.once(lines)
	works := make([]*lanes, len(lines))
	return works, share.Rows(ctx, len(lines), func(k int) { works[k] = l.lanes(ctx, v, lines[k]) })
}

// inOrder puts passes one after the other so that the way from each to the next is short, turned round
// where that helps; each is taken up at the nearer end, starting with the first.
func inOrder(ps []path.Pass) []path.Pass {
	used := make([]bool, len(ps))
	out := make([]path.Pass, 0, len(ps))
	var at geom.Vec3
	for len(out) < len(ps) {
		best, back, least := -1, false, math.Inf(1)
		for k, p := range ps {
			if used[k] {
				continue
			}
			if len(out) == 0 {
				best = k
				break
			}
			if d := p.Points[0].Sub(at).Len(); d < least {
				best, back, least = k, false, d
			}
			if d := p.End().Sub(at).Len(); d < least {
				best, back, least = k, true, d
			}
		}
		used[best] = true
		p := ps[best]
		if back {
			p.Points = reversed(p.Points)
		}
		at = p.End()
		out = append(out, p)
	}
	return out
}

func reversed(p []geom.Vec3) []geom.Vec3 {
	out := make([]geom.Vec3, len(p))
	for k := range p {
		out[len(p)-1-k] = p[k]
	}
	return out
}
