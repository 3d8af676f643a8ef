package finish

import (
	"math"
	"slices"
)

// space chooses the layer's spacing and number of levels: of all spacings on the grid of the last
// decimal, the one whose lines, halved where the demand is finer, are shortest in all.
func (w *work) space(l *layer, demand []float32, mine []bool) {
	var d []float64
	for k, m := range mine {
		if m && demand[k] > 0 {
			d = append(d, float64(demand[k])*w.inv)
		}
	}
	if len(d) == 0 {
		d = append(d, w.level()*w.inv)
	}
	bins, top := histogram(d)
	top = min(top, w.level()*w.inv)
	l.levels = maxLevels(w.in.Cutter.Flat > 0)
	for l.levels > 0 && float64(int(4)<<l.levels) > top {
		l.levels--
	}
	quantum := 1
	if l.levels > 1 {
		quantum = 1 << (l.levels - 1)
	}
	most := max(int(top)/quantum*quantum, quantum)
	least := max(most/(2*quantum)*quantum, quantum)
	stride := max(1, (most-least)/quantum/128) * quantum
	best := math.Inf(1)
	chosen := most
	for s := most; s >= least; s -= stride {
		l.s0 = s
		if t := l.length(bins); t < best*(1-1e-9) {
			best, chosen = t, s
		}
	}
	l.s0 = chosen
}

// maxLevels: a ball needs no more than three halvings before the other direction is better; a flat
// disc, which wants wide steps on the level and fine ones on slopes, may use six.
func maxLevels(flat bool) int {
	if flat {
		return 6
	}
	return 3
}

type bin struct {
	demand float64 // units
	count  int
}

// histogram sorts d, bins it by a fiftieth, each bin standing for its least demand, and returns the greatest that is not a rare exception.
func histogram(d []float64) ([]bin, float64) {
	const perLog = 50
	slices.Sort(d)
	var bins []bin
	last := math.MinInt
	for _, x := range d {
		if k := int(math.Floor(math.Log(x) * perLog)); k != last {
			bins, last = append(bins, bin{demand: x}), k
		}
		bins[len(bins)-1].count++
	}
	return bins, max(d[len(d)*99/100], 1)
}

// length is the cut length a spacing costs, up to a factor.
func (l *layer) length(bins []bin) float64 {
	t := 0.0
	for _, b := range bins {
		t += float64(b.count) / float64(l.gap(l.levelOf(b.demand)))
	}
	return t
}
