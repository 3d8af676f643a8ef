package rough

import (
	"context"
	"math"

	"barwise/geom"
	"barwise/geom/field/iso"
	"barwise/path"
)

// spare is kept under the cap when aiming, radians: what the grids and a finer replay may differ by.
const spare = 5 * math.Pi / 180

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
	w.hard = max(w.p.Engage-float64(0.4*spare), 0.9*w.p.Engage)
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
		if err := w.slots(ctx, zs); err != nil {
			return err
		}
	}
	return nil
}

// slots cuts what is too narrow to be peeled by fronts a stepdown apart, from above: at full width no
// deeper cut is safe.
func (w *work) slots(ctx context.Context, zs []float64) error {
	if !w.narrow {
		return nil
	}
	w.narrow = false
	for n := len(zs) - 1; n >= 0; n-- {
		if err := ctx.Err(); err != nil {
			return err
		}
		if err := w.level(ctx, zs[n]); err != nil {
			return err
		}
	}
	return nil
}

// graded settles a pass of fronts: its engagement is reckoned and its feed lowered by it.
func (w *work) graded(p path.Pass, l iso.Line) {
	l = w.smooth(l)
	if l.Closed {
		l.Pts = append(l.Pts, l.Pts[0])
	}
	s := w.slab
	for i := 1; i < len(p.Lead); i++ {
		if max(p.Lead[i-1].Z, p.Lead[i].Z) <= w.z {
			s.cut(p.Lead[i-1].XY(), p.Lead[i].XY())
		}
	}
	if n := len(p.Lead); n > 0 && p.Lead[n-1].Z <= w.z {
		s.cut(p.Lead[n-1].XY(), l.Pts[0])
	}
	arcs, over := make([]float32, len(l.Pts)), 0.0
	for i := 1; i < len(l.Pts); i++ {
		d := l.Pts[i].Sub(l.Pts[i-1])
		if d.Len() > 0 {
			arcs[i] = float32(s.arc(l.Pts[i], d.Mul(1/d.Len())))
			if float64(arcs[i]) > w.p.Engage {
				over += d.Len()
			}
			s.cut(l.Pts[i-1], l.Pts[i])
		}
	}
	if n := len(p.Lead); n > 1 && p.Lead[0].Z > w.z && 3*over > l.Length() {
		// a slot it went down along belongs to the way in
		for _, q := range l.Pts[:len(l.Pts)-1] {
			p.Lead = append(p.Lead, geom.Vec3{X: q.X, Y: q.Y, Z: w.z})
		}
		l.Pts, arcs = l.Pts[len(l.Pts)-1:], []float32{0}
	}
	w.settle(p, l.Pts, arcs)
}

// strip is the thickness of stock along the walls, mm, that peeling leaves to the pass along them: what that
// may take in the corners it rounds, cos φ = [(ρ+R−ae)² − ρ² − R²]/(2ρR) solved for ae, less a tenth.
func (w *work) strip() float64 {
	return 0.9 * cornerWidth(w.aim, round*w.p.Cutter.R, w.p.Cutter.R)
}

// cornerWidth is the width of cut that engages a cutter of radius r by phi while its axis goes round a
// corner, stock outside, on radius rho.
func cornerWidth(phi, rho, r float64) float64 {
	return rho + r - math.Sqrt(float64(rho*rho)+float64(r*r)+float64(2*rho*r*math.Cos(phi)))
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
	if w.trifle = 0.03; rest {
		w.trifle = 0.12
	}
	if err := w.trims(ctx, false); err != nil {
		return err
	}
	strip := w.strip()
	if err := w.peel(ctx, strip, 0.03, 0.8); err != nil {
		return err
	}
	if err := w.peel(ctx, 0, strip+0.1, 0.3); err != nil { // rooms too narrow to keep off their walls, and corners
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
