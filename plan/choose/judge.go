package choose

import (
	"context"
	"math"

	"barwise/geom"
	"barwise/geom/field"
)

// slots is from how many sides a place is remembered: that which it is most square to, and the next.
const slots = 2

// judged is what one finishing cutter reaches. Slices run parallel to the rows.
type judged struct {
	*Use
	candidate int
	side      [slots][]int8    // −1: none
	secs      [slots][]float32 // seconds for the whole row, in one layer
	need      [slots][]float32 // mm of stick-out it wants there
	// rest is how deep the stock stands over the tip after one cutter alone: before any, after each for roughing,
	// after each for finishing; nil for those that never come before this one.
	rest   [][slots][]float32
	once   float64   // mm that it takes at once
	longer []float32 // mm of stick-out with which it would reach a place that only its holder keeps it from; 0
	neck   []float32 // mm of usable reach with which it would reach a place that only its shank keeps it from; 0
}

// spot is a cutter put to a place.
type spot struct {
	tip   geom.Vec3
	side  int8
	score float64
	need  float64
}

// judge finds what finishing cutter k reaches, and what stands over it there.
func (w *work) judge(ctx context.Context, k int) (*judged, error) {
	t, n := &w.finish[k], len(w.rows)
	j := &judged{Use: t.Use, candidate: t.candidate, once: t.Cutter.Round + w.skin, longer: make([]float32, n), neck: make([]float32, n)}
	for s := range slots {
		j.side[s], j.secs[s], j.need[s] = make([]int8, n), make([]float32, n), make([]float32, n)
	}
	j.rest = make([][slots][]float32, 1+len(w.rough)+len(w.finish))
	// by what came before and side
	seen := make([][]*field.Field, len(j.rest))
	add := func(c int, of func(side int) *field.Field) {
		for i := range w.Sides {
			seen[c] = append(seen[c], w.over(of(i), t))
		}
		for s := range slots {
			j.rest[c][s] = make([]float32, n)
		}
	}
	add(0, func(i int) *field.Field { return w.bar[i] })
	for c := range w.rough {
		add(1+c, func(i int) *field.Field { return w.rough[c].sides[i].stock })
	}
	for c := range k {
		add(1+len(w.rough)+c, func(i int) *field.Field { return w.finish[c].sides[i].stock })
	}
	const lot = 256
	err := field.EachRow(ctx, (n+lot-1)/lot, func(b int) {
		for i := b * lot; i < min(n, (b+1)*lot); i++ {
			w.judgeRow(t, j, i, seen)
		}
	})
	return j, err
}

func (w *work) judgeRow(t *tool, j *judged, i int, seen [][]*field.Field) {
	best := w.spots(t, i, j)
	for s := range slots {
		b := &best[s]
		j.side[s][i] = b.side
		if b.side < 0 {
			continue
		}
		j.secs[s][i] = float32(w.seconds(t, i, b))
		j.need[s][i] = float32(b.need)
		for p := range seen {
			if seen[p] != nil {
				j.rest[p][s][i] = float32(max(0, least(seen[p][b.side], b.tip.X, b.tip.Y)-b.tip.Z))
			}
		}
	}
}

// seconds is how long the cutter takes for row i from a spot, in one layer.
func (w *work) seconds(t *tool, i int, s *spot) float64 {
	f := t.sides[s.side].exact
	a, c := f.Nearest(s.tip.XY())
	nz := w.rows[i].n.Dot(w.turns[s.side].Facing())
	v := w.held(t.Feed, bend(f, a, c, t.Cutter.Round))
	return w.rows[i].area * t.lap / (t.stepover(nz) * v * finishPart)
}

// spots are the sides from which the cutter touches row i, the best first.
func (w *work) spots(t *tool, i int, j *judged) [slots]spot {
	r := &w.rows[i]
	best := [slots]spot{}
	for s := range best {
		best[s].side = -1
	}
	for side, turn := range w.turns {
		if w.away(side, r) {
			continue
		}
		tip := w.tip(t, side, r)
		if !w.fit(t, side, i, tip) || w.outside(t, side, tip.X, tip.Y) || tip.Z < t.Lowest[side]-w.slack {
			continue
		}
		holder, shank := w.needs(t, side, tip)
		if shank > 0 {
			keep(j.neck, i, shank)
			continue
		}
		if holder > t.Cutter.StickOut+w.slack {
			keep(j.longer, i, holder)
			continue
		}
		at := spot{tip: tip, side: int8(side), need: holder, score: w.score(turn, r.q, r.n)}
		for s := range best {
			if best[s].side < 0 || at.score > best[s].score {
				at, best[s] = best[s], at
				if at.side < 0 {
					break
				}
			}
		}
	}
	return best
}

// needs is the stick-out that keeps the holder clear at a tip, and the usable reach that would keep the shank
// clear, 0 where it is.
func (w *work) needs(t *tool, side int, tip geom.Vec3) (holder, shank float64) {
	holder = math.Inf(-1)
	for k, c := range t.collars {
		m := w.need(t, side, k, c, tip.X, tip.Y, tip.Z)
		if c.Z >= t.Cutter.StickOut-1e-6 {
			holder = max(holder, m-(c.Z-t.Cutter.StickOut))
		} else if m > c.Z+w.slack {
			shank = max(shank, m)
		}
	}
	return holder, shank
}

// score is how much a place is a side's, by the simple rule of shares: how square it is to the surface, and a
// quarter of that by how near the spindle the place lies.
func (w *work) score(t geom.Turn, q, n geom.Vec3) float64 {
	up := q.Dot(t.Facing())
	if t.End { // depth counts from the bar's end, as it does across the bar from half its width
		up += w.ref - w.Bar.Length
	}
	return n.Dot(t.Facing()) + float64(0.25*up)/w.ref
}

// keep keeps the least need of a row, where needs are asked for.
func keep(needs []float32, i int, need float64) {
	if needs != nil && (needs[i] == 0 || float32(need) < needs[i]) {
		needs[i] = float32(need)
	}
}
