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
		c.Picks[i].Share = c.Picks[i].Seconds / sum
	}
	c.OneMore = append(w.oneMore(t, &best), w.otherBalls(t, cut)...)
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
func (w *work) otherBalls(t *table, cut []at) []More {
	var out []More
	shank := w.above(typicalShank / 2.0)
	for _, d := range w.Diameters {
		if slices.ContainsFunc(t.finish, func(u *judged) bool { return math.Abs(2*u.Cutter.Round-d) < 0.01*d }) {
			continue
		}
		m := More{Candidate: -1, Cutter: fmt.Sprintf("a ball of %g mm", d), Diameter: d}
		for i, a := range cut {
			if a.k >= 0 {
				continue
			}
			if neck, ok := w.fitsBall(&w.rows[i], d/2, shank); ok {
				m.Area += t.area[i]
				m.Neck = max(m.Neck, neck)
			}
		}
		if m.Area >= w.Worth {
			out = append(out, m)
		}
	}
	// of two that reach as much the larger
	return slices.DeleteFunc(out, func(a More) bool {
		return slices.ContainsFunc(out, func(b More) bool { return b.Diameter > a.Diameter && b.Area >= a.Area-w.Worth })
	})
}

// fitsBall reports whether a ball of radius r on a slim neck reaches a place from any side, and how long that
// neck must be.
func (w *work) fitsBall(p *row, r float64, shank []*field.Field) (neck float64, ok bool) {
	ball := cutter.Ball(r)
	small, rise, sound := ball.Grown(-w.slack)
	if !sound {
		return 0, false
	}
	neck = math.Inf(1)
	for side, turn := range w.turns {
		n := turn.ToSide(p.n)
		if n.Z < -1e-3 {
			continue
		}
		tip := touching(ball, turn.ToSide(p.q), n)
		if tip.Z < w.lowest(side)-w.slack || math.Abs(tip.X) > w.half[side]+r || w.ix[side].Height(small, tip.X, tip.Y)-rise > tip.Z+1e-6 {
			continue
		}
		neck, ok = min(neck, around(shank[side], tip.X, tip.Y, viewPitch/2)-tip.Z), true
	}
	return neck, ok
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
