package corner

import (
	"barwise/plan/cl"
	"barwise/plan/share"
)

// scout asks exact heights at places near each other, for one side's view; it belongs to one goroutine.
// What it answers does not depend on what was asked before, but for which of two places touched at once
// it names: so each row and each crease has its own.
type scout struct {
	*Left
	v     *share.View
	small *cl.Probe
	large [][]*cl.Probe // by earlier cutter and side
}

func (l *Left) scout(v *share.View) *scout {
	s := &scout{Left: l, v: v, small: v.Index.Probe(l.set.Prof)}
	for _, w := range l.large {
		var ps []*cl.Probe
		for _, o := range w.set.Views {
			ps = append(ps, o.Index.Probe(w.set.Prof))
		}
		s.large = append(s.large, ps)
	}
	return s
}

// height is the exact lowest height of the small cutter's tip, without limits; −Inf where it meets nothing.
func (s *scout) height(x, y float64) float64 { return s.small.Height(x, y) - s.set.Rise }

// limited is the same, not below what the reach allows, and whether that is what held it up.
func (s *scout) limited(x, y float64) (z float64, air bool) {
	low := s.set.Limit(s.v, x, y)
	if z = s.height(x, y); z <= low {
		return low, true
	}
	return z, false
}
