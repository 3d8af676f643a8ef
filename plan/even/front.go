package even

import (
	"context"
	"math"
	"slices"
)

// How lines may run.
const (
	mostTilt  = 0.4663 // tan 25°: columns per row
	bendRatio = 4      // least radius of a bend to the left, in radii of the tip
	smoothBy  = 3      // rows on either side over which a line is averaged
	meanOver  = 2      // and over which the spacing allowed is
	endCost   = 10     // mm that a line may lose on its way to where it gains again
	worthIt   = 0.6    // of the spacing allowed that a line must gain, on average, to be led on
	endReach  = 2      // rows by which a line goes on beyond its ends, for places aslant of it
	rounds    = 3      // how often a line is drawn closer at most
)

// A line is a pass before it is put on the surface: its columns, row by row.
type line struct {
	j int
	c []float64
}

// front is how far to the right the share is covered, row by row. Lines are laid where it lags most, and
// only as far up and down as they gain about what the cusp allows: so what lags catches up by short lines
// of its own, and the long ones run nearly straight.
type front struct {
	*work
	spans [][]span
	at    []int     // span of each row
	c     []float64 // column of the last line
	tilt  []float64
	step  []float64 // along the row to the next line, at most
	next  []float64 // where it may run at most; +Inf where the row is done
	met   []bool    // c is a line's, not the border of a span
	env   []float64 // scratch: the line in the making
	tmp   []float64
	cusps []float64
	raw   []float64 // step before the mean is taken
	fresh []bool    // rows the last line has gained
	z     []float64 // exact height of the last line; NaN: not asked
	good  []float64 // where the line in the making was found good
	probe heights
}

// lay lays all lines, from left to right.
func (w *work) lay(ctx context.Context) ([]line, error) {
	n := w.g.nr
	f := &front{work: w, spans: w.g.spans(), at: make([]int, n), c: make([]float64, n), tilt: make([]float64, n),
		step: make([]float64, n), next: make([]float64, n), met: make([]bool, n),
		env: make([]float64, n), tmp: make([]float64, n), raw: make([]float64, n), fresh: make([]bool, n), z: make([]float64, n), good: make([]float64, n)}
	f.probe = w.exact()
	for j := range n {
		f.at[j], f.z[j], f.good[j] = -1, math.NaN(), math.NaN()
		f.enter(j)
	}
	var out []line
	for k := 0; ; k++ {
		if k%16 == 0 && ctx.Err() != nil {
			return nil, ctx.Err()
		}
		j := f.lowest()
		if j < 0 {
			break
		}
		a, b := f.reach(j)
		for range rounds {
			if !f.tighten(a, b) {
				break
			}
			a, b = f.reach(j)
		}
		f.audit(a, b)
		out = append(out, f.take(a, b))
	}
	w.cusps(f.cusps)
	return out, nil
}

// enter begins the next span of a row, as if a line ran half a step to the left of it.
func (f *front) enter(j int) {
	f.at[j]++
	if f.at[j] >= len(f.spans[j]) {
		f.next[j] = math.Inf(1)
		return
	}
	s := f.spans[j][f.at[j]]
	f.tilt[j], f.met[j], f.z[j] = 0, false, math.NaN()
	f.step[j] = f.spacing(s.a, f.g.row(j), 0)
	f.c[j] = s.a - f.step[j]/2
	f.next[j] = min(s.a+f.step[j]/2, s.b)
}

// lowest is the row that lags most; −1 where all are done.
func (f *front) lowest() int {
	best, low := -1, math.Inf(1)
	for j, c := range f.next {
		if c < low {
			best, low = j, c
		}
	}
	return best
}

// reach draws the line through the place that lags most, at row j, and returns the rows it is worth leading
// it through.
func (f *front) reach(j int) (a, b int) {
	for half := 128; ; half *= 2 {
		lo, hi := max(j-half, 1), min(j+half, f.g.nr-2)
		f.envelope(lo, hi)
		a, b = f.extent(j, lo, -1), f.extent(j, hi, 1)
		if (a > lo+half/4 || lo == 1) && (b < hi-half/4 || hi == f.g.nr-2) {
			return a, b
		}
	}
}

// envelope draws, for rows lo to hi, the greatest line that stands nowhere right of next, is no more tilted
// than mostTilt and bends left no sharper than bendRatio: the least of all cones with rounded tips that
// stand on the places of next. Then it is averaged over a few rows, which rounds the other bends.
func (f *front) envelope(lo, hi int) {
	d, radius := f.g.d, bendRatio*f.round
	m := int(math.Ceil(mostTilt * radius / d))
	lo, hi = max(lo-m-smoothBy, 0), min(hi+m+smoothBy, f.g.nr-1)
	for j := lo; j <= hi; j++ {
		least := f.next[j]
		for k := max(lo, j-m); k <= min(hi, j+m); k++ {
			x := float64(k-j) * d
			if c := f.next[k] + float64(x*x)/(2*radius); c < least {
				least = c
			}
		}
		f.tmp[j] = least
	}
	for j := lo + 1; j <= hi; j++ {
		f.tmp[j] = min(f.tmp[j], f.tmp[j-1]+mostTilt*d)
	}
	for j := hi - 1; j >= lo; j-- {
		f.tmp[j] = min(f.tmp[j], f.tmp[j+1]+mostTilt*d)
	}
	for j := lo; j <= hi; j++ {
		s, n := 0.0, 0
		for k := max(lo, j-smoothBy); k <= min(hi, j+smoothBy); k++ {
			s, n = s+f.tmp[k], n+1
		}
		f.env[j] = s / float64(n)
	}
}

// gain is how much of the spacing allowed the line in the making gains at row j, 0 to 1.
func (f *front) gain(j int) float64 {
	if math.IsInf(f.next[j], 1) {
		return 0
	}
	return min(max((f.env[j]-f.c[j])/f.step[j], 0), 1)
}

// extent follows the line from row j up or down as far as it is worth it, to row end at most.
func (f *front) extent(j, end, way int) int {
	best, sum, most := j, 0.0, 0.0
	cost := endCost / f.g.d
	for k := j; k != end; {
		a, b := k, k+way
		if way < 0 {
			a, b = b, a
		}
		if !f.g.open(f.env[a], f.env[b], a) || !f.inside(f.env[k+way], k+way) {
			break
		}
		k += way
		if sum += f.gain(k) - worthIt; sum > most {
			best, most = k, sum
		}
		if sum < most-cost {
			break
		}
	}
	return best
}

func (f *front) inside(c float64, j int) bool {
	x, y := f.g.place(c, f.g.row(j))
	return f.set.Inside(f.v, x, y)
}

// take lays the line in the making from row a to row b.
func (f *front) take(a, b int) line {
	from, to := a, b
	for range endReach {
		if from > 1 && f.inside(f.env[from-1], from-1) && f.g.open(f.env[from-1], f.env[from], from-1) {
			from--
		}
		if to < f.g.nr-2 && f.inside(f.env[to+1], to+1) && f.g.open(f.env[to], f.env[to+1], to) {
			to++
		}
	}
	l := line{j: from, c: slices.Clone(f.env[from : to+1])}
	fig := &f.out.Figures
	for j := a; j <= b; j++ {
		if math.IsInf(f.next[j], 1) || f.env[j] <= f.c[j] {
			continue
		}
		if f.met[j] {
			s := f.env[j] - f.c[j]
			fig.StepoverMax = max(fig.StepoverMax, s)
			if fig.StepoverMin == 0 || s < fig.StepoverMin {
				fig.StepoverMin = s
			}
		}
		k, m := max(j-1, from), min(j+1, to)
		tilt := 0.0
		if m > k {
			tilt = (f.env[m] - f.env[k]) / (float64(m-k) * f.g.d)
		}
		f.c[j], f.tilt[j], f.met[j] = f.env[j], tilt, true
		f.raw[j], f.fresh[j] = f.spacing(f.c[j], f.g.row(j), tilt), true
		f.z[j], f.good[j] = math.NaN(), math.NaN()
	}
	for j := a; j <= b; j++ {
		if !f.fresh[j] {
			continue
		}
		f.step[j] = f.mean(j, a, b)
		s := f.spans[j][f.at[j]]
		if f.c[j]+f.step[j]/2 >= s.b {
			f.enter(j)
			continue
		}
		f.next[j] = min(f.c[j]+f.step[j], s.b)
	}
	for j := a; j <= b; j++ {
		f.fresh[j] = false
	}
	return l
}

// mean is the spacing allowed about row j, the noise of single places taken off.
func (f *front) mean(j, a, b int) float64 {
	s, n := 0.0, 0.0
	for k := max(a, j-meanOver); k <= min(b, j+meanOver); k++ {
		if f.fresh[k] {
			s, n = s+1/(f.raw[k]*f.raw[k]), n+1
		}
	}
	return math.Sqrt(n / s)
}
