package finish

import (
	"context"
	"math"

	"barwise/geom"
	"barwise/motion"
	"barwise/path"
	"barwise/plan/even"
	"barwise/plan/share"
)

// Strategy says how the passes of a side run.
type Strategy uint8

// Raster lays straight lines in Params.Direction. ConstantCusp lays passes that bend with the surface as far
// apart as the cusp allows, and rasters what is too steep for them. Best tries both, and rasters in
// every direction, on a sample of each side's share and plans the side by what takes the least time.
const (
	Raster Strategy = iota
	ConstantCusp
	Best
)

// Way is a strategy with the direction it runs in.
type Way struct {
	Strategy  Strategy
	Direction Direction
}

// Trial is what a side would take by one way.
type Trial struct {
	Way
	Seconds float64 // at the machine, lifts at a guess; judged on a sample
}

// lay makes a side's passes, and says by which way and what other ways would have taken.
func (w *work) lay(ctx context.Context, v *share.View, st *standing, out *SideOutput) error {
	way := Way{w.p.Passes, w.p.Direction}
	dm := w.demands(v)
	if way.Strategy == Best {
		var err error
		if way, out.Tried, err = w.choose(ctx, v, dm); err != nil {
			return err
		}
	}
	out.Way = way
	passes, err := w.by(ctx, v, dm, way, nil, st, &out.Figures)
	out.Passes = append(out.Passes, passes...)
	out.Seconds = w.seconds(out.Passes)
	return err
}

// by plans the nodes of a share that keep wants, nil: all, by one way.
func (w *work) by(ctx context.Context, v *share.View, dm *demands, way Way, keep func(k int) bool, st *standing, fig *Figures) ([]path.Pass, error) {
	if way.Strategy == ConstantCusp {
		return w.even(ctx, v, dm, way, keep, st, fig)
	}
	return w.rasters(ctx, v, w.layers(v, dm, way.Direction, keep), st, fig)
}

func (w *work) rasters(ctx context.Context, v *share.View, layers []*layer, st *standing, fig *Figures) ([]path.Pass, error) {
	var out []path.Pass
	for k, ly := range layers {
		segs, err := w.raster(ctx, v, ly, k, fig)
		if err != nil {
			return nil, err
		}
		fig.UnmetArea += float64(ly.unmet) * w.pitch * w.pitch
		passes, err := w.join(ctx, v, segs, st, fig)
		if err != nil {
			return nil, err
		}
		out = append(out, passes...)
	}
	return out, nil
}

// even joins the lines of constant cusp as all others, and rasters what they do not cover.
func (w *work) even(ctx context.Context, v *share.View, dm *demands, way Way, keep func(k int) bool, st *standing, fig *Figures) ([]path.Pass, error) {
	o, err := even.Plan(ctx, w.set, v, even.Params{Cusp: w.p.Cusp, Tolerance: w.p.Tolerance, Decimals: w.p.Decimals,
		Across: way.Direction == Across, Keep: keep})
	if err != nil {
		return nil, err
	}
	segs := make([]segment, len(o.Passes))
	for k, p := range o.Passes {
		segs[k].pts = p.Points
	}
	if len(segs) > 0 {
		fig.StepoverMin, fig.StepoverMax = o.StepoverMin, o.StepoverMax
	}
	fig.ExactHeights += o.ExactHeights
	passes, err := w.join(ctx, v, segs, st, fig)
	if err != nil {
		return nil, err
	}
	rest, err := w.rasters(ctx, v, w.layers(v, dm, way.Direction, func(k int) bool {
		return !o.Covered[k] && (keep == nil || keep(k))
	}), st, fig)
	return append(passes, rest...), err
}

// serves reports whether passes of constant cusp can be had for the cutter.
func (w *work) serves() bool {
	c := w.in.Cutter
	return c.Flat == 0 && c.Round > 0 && w.p.Cusp <= c.Round/2
}

// preferred is how much longer, as a share, the way that was asked for may take before another is chosen.
const preferred = 0.03

// choose tries the ways on a sample of the share: first rasters against each other by the length their
// spacing asks for, then the best of them against passes of constant cusp, planned and timed.
func (w *work) choose(ctx context.Context, v *share.View, dm *demands) (Way, []Trial, error) {
	keep, part := w.sample(v)
	best := Way{Raster, w.p.Direction}
	if part == 0 {
		return best, nil, nil
	}
	least := math.Inf(1)
	lengths := map[Direction]float64{}
	for _, d := range [3]Direction{Along, Across, Either} {
		for _, l := range w.layers(v, dm, d, nil) {
			lengths[d] += w.needed(v, l)
		}
		l := lengths[d]
		if d == w.p.Direction {
			l *= 1 - preferred
		}
		if l < least {
			least, best.Direction = l, d
		}
	}
	judge := *w
	judge.in.Flutes = 0
	timed := func(way Way) (float64, error) {
		passes, err := judge.by(ctx, v, dm, way, keep, nil, &Figures{})
		return judge.seconds(passes) / part, err
	}
	raster, err := timed(best)
	if err != nil {
		return best, nil, err
	}
	var tried []Trial
	for _, d := range [3]Direction{Along, Across, Either} {
		tried = append(tried, Trial{Way{Raster, d}, raster * lengths[d] / lengths[best.Direction]})
	}
	if !w.serves() {
		return best, tried, nil
	}
	cusp := Way{ConstantCusp, Along}
	if best.Direction == Across {
		cusp.Direction = Across
	}
	s, err := timed(cusp)
	if err != nil {
		return best, tried, err
	}
	tried = append(tried, Trial{cusp, s})
	if s < raster*(1-preferred) {
		best = cusp
	}
	return best, tried, nil
}

// Strategies are tried on bands of some stepovers' width; smallSide is how many nodes a side has that is
// tried as a whole.
const (
	bands     = 2
	bandWidth = 10
	smallSide = 20_000
)

// sample picks bands along the bar through the share, and says which part of the share they are.
func (w *work) sample(v *share.View) (keep func(k int) bool, part float64) {
	nx := v.Field.NX
	count := make([]int, nx)
	all := 0
	for k := range v.State {
		if v.Core(k) {
			count[k%nx]++
			all++
		}
	}
	if all == 0 {
		return nil, 0
	}
	if all <= smallSide {
		return nil, 1
	}
	// bands about the thirds of the share, each wide enough for some passes
	want := make([]bool, nx)
	wide := max(int(math.Ceil(bandWidth*w.level()/w.pitch)), 1)
	sum, next, got := 0, 1, 0
	for i := range count {
		sum += count[i]
		if next < bands+1 && sum*(bands+1) >= all*next {
			for j := i; j < min(nx, i+wide); j++ {
				if !want[j] {
					want[j] = true
					got += count[j]
				}
			}
			next++
		}
	}
	return func(k int) bool { return want[k%nx] }, float64(got) / float64(all)
}

// needed is the length of the lines that a layer's spacing asks for.
func (w *work) needed(v *share.View, l *layer) float64 {
	f := v.Field
	sum := 0.0
	for j := 1; j+1 < f.NY; j++ {
		for i := 1; i+1 < f.NX; i++ {
			k := j*f.NX + i
			if l.need[k] == 0 {
				continue
			}
			gx, gy := f.Slope(i, j)
			g := gy
			if l.dir == Across {
				g = gx
			}
			g = min(max(g, -steepWindow), steepWindow)
			sum += math.Sqrt(1+float64(g*g)) / float64(l.gap(int(l.need[k]-1)))
		}
	}
	return sum * w.pitch * w.pitch * w.inv
}

// hop is how high a lift goes at a guess, mm, and entry the part of the feed at which its end comes down;
// where no feed is given the passes are timed at usualFeed, mm/s.
const (
	hop       = 4.0
	usualFeed = 10.0
)

// seconds times passes on the machine with lifts of the usual height between them.
func (w *work) seconds(passes []path.Pass) float64 {
	feed := w.p.Feed
	if feed == 0 {
		feed = usualFeed
	}
	var moves []path.Move
	for _, p := range passes {
		a, b := p.Start(), p.End()
		up, down := a.Add(geom.Vec3{Z: hop}), a.Add(geom.Vec3{Z: hop / 4})
		moves = append(moves, path.Move{To: up, Mode: path.Rapid}, path.Move{To: down, Mode: path.Rapid}, path.Move{To: a, Feed: feed / 3, Mode: path.Line})
		for _, q := range p.Points[1:] {
			moves = append(moves, path.Move{To: q, Feed: feed, Mode: path.Line})
		}
		moves = append(moves, path.Move{To: b.Add(geom.Vec3{Z: hop}), Mode: path.Rapid})
	}
	if len(moves) == 0 {
		return 0
	}
	t := motion.Plan(moves[0].To, moves, w.p.Machine)
	return t.Cutting + t.Travel
}
