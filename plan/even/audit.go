package even

import (
	"math"
	"slices"
)

// checkStep is how far apart along a line, in spacings on the level, its distance to the line before is
// checked on the exact surface.
const checkStep = 2.0

// over is how much more than asked a cusp may be before the lines are drawn closer.
const over = 1.03

// exact answers for exact tip heights in columns and rows, on one core.
func (w *work) exact() heights {
	p := w.v.Index.Probe(w.set.Prof)
	return func(c, r float64) float64 {
		w.out.ExactHeights++
		x, y := w.g.place(c, r)
		return max(p.Height(x, y)-w.set.Rise, w.set.Limit(w.v, x, y))
	}
}

// pairAt is the pair of the last line and the one in the making at row j, and how far apart they stand; ok
// is false where there is none.
func (f *front) pairAt(j int) (p pair, t float64, ok bool) {
	if !f.met[j] || math.IsInf(f.next[j], 1) || f.env[j]-f.c[j] < f.step[j]/2 {
		return p, 0, false
	}
	_, gc, gr := f.g.at(f.c[j], f.g.row(j))
	if float64(gc*gc)+float64(gr*gr) > wallRise*wallRise {
		gc, gr = f.g.lesser(f.c[j], f.g.row(j))
	}
	p = newPair(f.c[j], f.g.row(j), f.tilt[j], gc, gr)
	p.z0 = f.z[j]
	return p, (f.env[j] - f.c[j]) / p.column(1), true
}

// stride is checkStep in rows.
func (f *front) stride() int { return max(1, int(checkStep*f.level/f.g.d)) }

// tighten checks the line in the making against the last one and draws it closer where the exact surface
// wants it: every checkStep, and row by row about where the cusp is missed. It reports whether it did.
func (f *front) tighten(a, b int) bool {
	n, did := f.stride(), false
	done := a - 1
	for j := (a + n - 1) / n * n; j <= b; j += n {
		if !f.draw(j, a, b) {
			continue
		}
		did = true
		for k := max(done+1, j-n+1); k <= min(b, j+n-1); k++ {
			if k != j {
				f.draw(k, a, b)
			}
			done = k
		}
	}
	return did
}

// draw checks one row, and reports whether the line was drawn closer there.
func (f *front) draw(j, a, b int) bool {
	if f.good[j] == f.env[j] {
		return false
	}
	p, t, ok := f.pairAt(j)
	if !ok {
		return false
	}
	h, _, ok := p.cusp(f.probe, f.round, t)
	f.z[j] = p.z0
	if !ok || h <= over*f.p.Cusp {
		f.good[j] = f.env[j]
	}
	if !ok || h <= over*f.p.Cusp {
		return false
	}
	share, least := math.Sqrt(f.p.Cusp/h), p.column(f.plane(&p)/2)
	if f.env[j]-f.c[j] <= 1.01*least {
		return false
	}
	f.out.Tightened++
	for k := max(a, j-smoothBy); k <= min(b, j+smoothBy); k++ {
		if s := f.env[k] - f.c[k]; s > 0 && !math.IsInf(f.next[k], 1) {
			f.next[k] = min(f.next[k], f.c[k]+max(s*share, min(least, s)))
		}
	}
	return true
}

// audit keeps the cusps of the line that is taken, at rows of its own.
func (f *front) audit(a, b int) {
	n := 3*f.stride() + 1 // mostly between the rows that were checked
	for j := (a + n - 1) / n * n; j <= b; j += n {
		p, t, ok := f.pairAt(j)
		if !ok {
			continue
		}
		h, bent, ok := p.cusp(f.probe, f.round, t)
		if !ok {
			continue
		}
		if h > over*f.p.Cusp && t <= 1.05*f.plane(&p)/2 || bent > mostBend*f.p.Cusp {
			f.out.Unmet++
			continue
		}
		f.cusps = append(f.cusps, h)
	}
}

func (w *work) cusps(h []float64) {
	f := &w.out.Figures
	if f.Pairs = len(h); f.Pairs == 0 {
		return
	}
	slices.Sort(h)
	f.CuspP50, f.CuspP99 = h[len(h)/2], h[len(h)*99/100]
}
