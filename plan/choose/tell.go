package choose

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"math/bits"
	"slices"

	"barwise/finding"
	"barwise/geom"
	"barwise/geom/field"
	"barwise/shop/cutter"
)

// mostAlternatives is how many are told.
const mostAlternatives = 8

// mostHeld is how much of a shank the collet has to hold, in shank diameters (common practice, no source).
const mostHeld = 2

// longestNeck is the longest neck that is made, in cutting diameters (common practice, no source).
const longestNeck = 15

// typicalShank is that of a small ball that is not in the shop, mm (common practice, no source).
const typicalShank = 3

func (w *work) table(ctx context.Context) (*table, error) {
	t := &table{Params: &w.Params, bare: w.bare}
	n := len(w.rough)
	t.left = func(i, j int) float64 { return w.volumes[i*n+j] }
	for _, r := range w.rows {
		t.area = append(t.area, r.area)
	}
	for i := range w.rough {
		t.rough = append(t.rough, rougher{w.rough[i].Use, w.rough[i].candidate})
	}
	for k := range w.finish {
		j, err := w.judge(ctx, k)
		if err != nil {
			return nil, err
		}
		t.finish = append(t.finish, j)
	}
	return t, nil
}

// tell says what was chosen and why.
func (w *work) tell(ctx context.Context, t *table, all []scored) (*Chosen, error) {
	best := all[0]
	c := &Chosen{Sequence: best.Sequence, Area: w.area, Looked: len(all)}
	for _, a := range all[1:] {
		same := func(q Sequence) bool { return slices.Equal(q.Finish, a.Finish) }
		if !same(c.Sequence) && !slices.ContainsFunc(c.Alternatives, same) {
			c.Alternatives = append(c.Alternatives, a.Sequence)
		}
		if len(c.Alternatives) == mostAlternatives {
			break
		}
	}
	rest := t.after(best.rough)
	cut := t.cut(&best, rest)
	for i := range best.rough {
		p, err := w.roughPick(ctx, t, &best, i)
		if err != nil {
			return nil, err
		}
		c.Picks = append(c.Picks, p)
	}
	for k := range best.finish {
		c.Picks = append(c.Picks, w.finishPick(t, &best, k, cut))
	}
	sum := 0.0
	for _, p := range c.Picks {
		sum += p.Seconds
	}
	for i := range c.Picks {
		if sum > 0 {
			c.Picks[i].Share = c.Picks[i].Seconds / sum
		}
	}
	others, err := w.otherBalls(ctx, t, cut)
	if err != nil {
		return nil, err
	}
	c.OneMore = append(w.oneMore(t, &best), others...)
	slices.SortStableFunc(c.OneMore, func(a, b More) int {
		step := func(v float64) float64 { return math.Floor(v / w.Worth) }
		return cmp.Or(cmp.Compare(step(b.Area), step(a.Area)), cmp.Compare(b.Seconds, a.Seconds))
	})
	c.Findings = w.findings(c)
	return c, ctx.Err()
}

// at is who cuts a row.
type at struct {
	k, s int // place in the sequence, −1 for nobody, and side remembered
	secs float64
	only bool // nobody else of the sequence would reach it
}

func (t *table) cut(b *scored, rest [][slots][]float32) []at {
	out := make([]at, len(t.area))
	for i := range out {
		a := &out[i]
		a.k, a.s, a.secs = t.first(b.rough, b.finish, rest, i)
		a.only = a.k >= 0
		for k := a.k + 1; a.only && k < len(b.finish); k++ {
			if q, _, _ := t.first(b.rough, b.finish[k:k+1], rest, i); q >= 0 {
				a.only = false
			}
		}
	}
	return out
}

func newPick(u *Use, candidate int) Pick {
	return Pick{Candidate: candidate, Cutter: u.Cutter.ID, Radius: u.Cutter.R, StickOut: u.Cutter.StickOut}
}

// mount fills what shorter stick-out would do for a need of so many mm. Flutes and neck stay out of the
// holder; it is rounded up to half a millimetre, for the need is known at samples.
func (p *Pick) mount(c cutter.Cutter, need float64) {
	l := max(need, c.LCF)
	if c.DN > 0 {
		l = max(l, c.LU)
	}
	p.Needed = min(math.Ceil(2*l-1e-6)/2, c.StickOut)
	p.Stiffer = limp(&c, c.StickOut) / limp(&c, p.Needed)
}

func (w *work) roughPick(ctx context.Context, t *table, b *scored, i int) (Pick, error) {
	q := &w.rough[b.rough[i]]
	p := newPick(q.Use, q.candidate)
	p.Volume = t.volumes(b.rough)[i]
	p.Seconds = float64(p.Volume * q.perVolume())
	p.Sides = len(w.Sides)
	need := 0.0
	for side := range w.Sides {
		z, err := w.levels(ctx, q, side)
		if err != nil {
			return p, err
		}
		most := make([]float64, z.NY)
		if err := field.EachRow(ctx, z.NY, func(j int) {
			for k, tip := range z.Row(j) {
				if tip == field.Forbidden {
					continue
				}
				h, _ := w.needs(q, side, geom.Vec3{X: z.X(k), Y: z.Y(j), Z: float64(tip)})
				most[j] = max(most[j], h)
			}
		}); err != nil {
			return p, err
		}
		need = max(need, slices.Max(most))
	}
	p.mount(q.Cutter, need)
	return p, nil
}

func (w *work) finishPick(t *table, b *scored, k int, cut []at) Pick {
	u := t.finish[b.finish[k]]
	p := newPick(u.Use, u.candidate)
	need, longer := 0.0, 0.0
	sides := uint64(0)
	for i, a := range cut {
		switch {
		case a.k == k:
			p.Area += t.area[i]
			p.Seconds += a.secs
			need = max(need, float64(u.need[a.s][i]))
			sides |= 1 << u.side[a.s][i]
			if a.only {
				p.Only += t.area[i]
			}
		case a.k < 0 && u.longer[i] > 0:
			p.Held += t.area[i]
			longer = max(longer, float64(u.longer[i]))
		}
	}
	p.Sides = bits.OnesCount64(sides)
	p.mount(u.Cutter, need)
	if l := math.Ceil(2*longer-1e-6) / 2; longer > 0 && (u.Cutter.OAL == 0 || l <= u.Cutter.OAL-mostHeld*u.Cutter.DMM) {
		p.Longer = l
	}
	return p
}

// oneMore is what every cutter of the shop that is not chosen would change.
func (w *work) oneMore(t *table, b *scored) []More {
	var out []More
	add := func(c *cutter.Cutter, candidate int, s scored) {
		m := More{Candidate: candidate, Cutter: c.ID, Diameter: c.DC(), Area: b.Left - s.Left, Seconds: b.Seconds - s.Seconds}
		if m.Area >= w.Worth || m.Seconds > 0 {
			out = append(out, m)
		}
	}
	with := func(set []int, k int) []int {
		s := append(slices.Clone(set), k)
		slices.Sort(s)
		return s
	}
	rest := t.after(b.rough)
	for k, u := range t.finish {
		if !slices.Contains(b.finish, k) {
			add(&u.Cutter, u.candidate, t.score(b.rough, with(b.finish, k), rest))
		}
	}
	for k, u := range t.rough {
		if len(b.rough) < 2 && !slices.Contains(b.rough, k) {
			r := with(b.rough, k)
			add(&u.Cutter, u.candidate, t.score(r, b.finish, t.after(r)))
		}
	}
	return out
}

// otherBalls are the balls, not in the shop, that would reach more of what is left, on as long a neck as that
// takes; each with all it would reach by itself.
func (w *work) otherBalls(ctx context.Context, t *table, cut []at) ([]More, error) {
	var out []More
	for _, d := range w.Diameters {
		// what a ball without a neck would want is a question of how it is mounted
		if d < typicalShank && !slices.ContainsFunc(t.finish, func(u *judged) bool { return math.Abs(2*u.Cutter.Round-d) < 0.01*d }) {
			out = append(out, More{Candidate: -1, Cutter: fmt.Sprintf("a ball of %g mm", d), Diameter: d})
		}
	}
	var left []int
	for i, a := range cut {
		if a.k < 0 {
			left = append(left, i)
		}
	}
	shank := w.above(typicalShank / 2.0)
	necks := make([][]float32, len(left)) // by row left and ball; 0: it does not reach
	if err := field.EachRow(ctx, len(left), func(i int) { necks[i] = w.ballsAt(&w.rows[left[i]], out, shank) }); err != nil {
		return nil, err
	}
	for i, row := range left {
		for k, neck := range necks[i] {
			if neck > 0 {
				out[k].Area += t.area[row]
				out[k].Neck = max(out[k].Neck, float64(neck))
			}
		}
	}
	// of two that reach as much the larger
	return slices.DeleteFunc(slices.Clone(out), func(a More) bool {
		return a.Area < w.Worth || slices.ContainsFunc(out, func(b More) bool { return b.Diameter > a.Diameter && b.Area >= a.Area-w.Worth })
	}), nil
}

// ballsAt tells how long the neck of each ball must be that reaches a place from some side, 0 for those that
// do not or whose neck would be longer than is made. Where one fits a smaller one does.
func (w *work) ballsAt(p *row, balls []More, shank []*field.Field) []float32 {
	necks := make([]float32, len(balls))
	for side, turn := range w.turns {
		if w.away(side, p) {
			continue
		}
		q, n := turn.ToSide(p.q), turn.ToSide(p.n)
		fits := func(d float64) bool {
			ball := cutter.Ball(d / 2)
			small, rise, ok := ball.Grown(-w.slack)
			tip := touching(ball, q, n)
			return ok && w.ix[side].Height(small, tip.X, tip.Y)-rise <= tip.Z+1e-6
		}
		lo, hi := 0, len(balls) // in ascending order; how many fit
		for lo < hi {
			if mid := (lo + hi) / 2; fits(balls[mid].Diameter) {
				lo = mid + 1
			} else {
				hi = mid
			}
		}
		for k := range lo {
			d := balls[k].Diameter
			tip := touching(cutter.Ball(d/2), q, n)
			if tip.Z < w.lowest(side)-w.slack || math.Abs(tip.X) > w.half[side]+d/2 {
				continue
			}
			if neck := max(around(shank[side], tip.X, tip.Y, viewPitch/2)-tip.Z, d); neck <= longestNeck*d && (necks[k] == 0 || float32(neck) < necks[k]) {
				necks[k] = float32(neck)
			}
		}
	}
	return necks
}

// lowest is the lowest tip that any finishing cutter may have on a side.
func (w *work) lowest(side int) float64 {
	z := math.Inf(1)
	for _, t := range w.finish {
		z = min(z, t.Lowest[side])
	}
	return z
}

func (w *work) findings(c *Chosen) []finding.Finding {
	var out []finding.Finding
	note := func(code, where, text, hint string) {
		out = append(out, finding.Finding{Code: code, Severity: finding.Note, Where: where, Text: text, Hint: hint})
	}
	for _, p := range c.Picks {
		if p.Stiffer > 1.1 {
			note("choose-stick-out", p.Cutter, fmt.Sprintf("it sticks out %.4g mm, %.4g mm would do for what it is to cut, and be %.2g times as stiff", p.StickOut, p.Needed, p.Stiffer),
				"mount it so and write stick_out into its file")
		}
		if p.Held >= w.Worth && p.Longer > 0 {
			note("choose-held", p.Cutter, fmt.Sprintf("its holder keeps it from %.3g mm² that nothing else reaches", p.Held), fmt.Sprintf("a stick-out of %.4g mm frees them", p.Longer))
		}
	}
	if c.Left >= w.Worth {
		hint := "more sides, or another way to lie"
		if i := slices.IndexFunc(c.OneMore, func(m More) bool { return m.Area >= w.Worth }); i >= 0 {
			hint = fmt.Sprintf("%s would reach %.3g mm² of it", c.OneMore[i].Cutter, c.OneMore[i].Area)
		}
		note("choose-left", "", fmt.Sprintf("%.4g mm² of %.5g are reached by none of the cutters", c.Left, c.Area), hint)
	}
	return out
}
