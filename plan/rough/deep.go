package rough

import (
	"context"
	"math"
)

// DefaultEngage is the engagement angle of a straight cut of the given stepover by a cutter of radius
// r: cos φ = 1 − ae/R. A cap that is no wider cuts as wide as fronts that stepover apart.
func DefaultEngage(stepover, r float64) float64 {
	return math.Acos(1 - min(max(stepover/r, 0), 2))
}

// spare is kept under the cap when aiming, radians: what the grids and a finer replay may differ by.
const spare = 1.5 * math.Pi / 180

// groups returns the levels in cutting order: from the top, each deep level followed by those above it,
// upward. All hang on the bottom by whole stepdowns.
func groups(top, bottom, step, deepest float64) [][]float64 {
	if !(top > bottom+1e-6) {
		return nil
	}
	n := int(math.Ceil((top-bottom)/step - 1e-6))
	most := max(1, int(math.Floor(deepest/step+1e-6)))
	count := (n + most - 1) / most
	var out [][]float64
	hi := n
	for g := range count {
		lo := hi - (hi+count-g-1)/(count-g)
		var zs []float64
		for k := lo; k < hi; k++ {
			zs = append(zs, bottom+float64(step*float64(k)))
		}
		out = append(out, zs)
		hi = lo
	}
	return out
}

// deep roughs at bounded engagement.
func (w *work) deep(ctx context.Context) error {
	w.aim = max(w.p.Engage-spare, 0.5*w.p.Engage)
	w.slab = newSlab(w.grid, w.re)
	w.scratch = w.wall.power
	before := make([]float32, w.n)
	for _, zs := range groups(w.top(), w.in.Bottom, w.p.Stepdown, max(w.p.Deepest, w.p.Stepdown)) {
		copy(before, w.left.Z)
		for n, z := range zs {
			if err := w.shelf(ctx, z, before, n > 0); err != nil {
				return err
			}
		}
	}
	return nil
}

// shelf clears one level: what the pass along the walls can take by itself, then from the clear side
// inward, then the walls.
func (w *work) shelf(ctx context.Context, z float64, before []float32, rest bool) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	w.out.Levels = append(w.out.Levels, Level{Z: z})
	w.lv = &w.out.Levels[len(w.out.Levels)-1]
	w.z, w.on = z, false
	w.high = w.top()
	clear(w.fresh)
	if !w.findStock() || !w.worth() {
		return nil
	}
	w.wall.find(w)
	if !w.room() {
		return nil
	}
	w.slab.load(w, before, rest)
	if err := w.trims(ctx, false); err != nil {
		return err
	}
	if err := w.peel(ctx); err != nil {
		return err
	}
	if err := w.trims(ctx, true); err != nil {
		return err
	}
	w.lv.Unreached = w.unreached()
	return nil
}

// bins is how finely engagement is counted: degrees of half a turn.
const bins = 181

// tally counts a stretch of cutting by its engagement.
func (w *work) tally(length, arc float64) {
	if arc <= 0 {
		return
	}
	w.out.Engaged[min(int(arc*180/math.Pi), bins-1)] += length
}
