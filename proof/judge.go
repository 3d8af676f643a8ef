package proof

import (
	"context"
	"fmt"
	"math"
	"strings"
	"sync"

	"barwise/finding"
	"barwise/geom"
	"barwise/path"
	"barwise/shop/cutter"
	"barwise/shop/machine"
	"barwise/stock"
)

// gougeChunk is how many pieces are searched for gouges in one go. Within a chunk the search knows the
// deepest so far; chunks know nothing of each other, so the outcome does not depend on who ran which.
const gougeChunk = 2048

// axes maps a tip position on a side to the machine's axes relative to program zero.
func (s *Setup) axes(sideDeg float64, p geom.Vec3) geom.Vec3 {
	switch {
	case geom.IsEnd(sideDeg):
		return p
	case s.ToMachine != nil:
		return s.ToMachine(p)
	case s.Machine.BarAlong == machine.AlongX:
		return geom.Vec3{X: p.Y, Y: -p.X, Z: p.Z}
	}
	return p
}

func (s *Setup) check(progs []Program) error {
	orDefault := func(v *float64, d float64) {
		if *v == 0 {
			*v = d
		}
	}
	orDefault(&s.Tolerance, 0.01)
	orDefault(&s.GougeTol, 0.005)
	orDefault(&s.Pitch, 0.1)
	orDefault(&s.Spacing, 0.3)
	if s.Target == nil || len(s.Target.Triangles) == 0 {
		return finding.Bad("target-empty", "", "there is no model to hold the programs against", "name a model with triangles")
	}
	if len(progs) == 0 {
		return finding.Bad("no-programs", "", "there are no programs to judge", "name at least one")
	}
	for _, v := range []float64{s.Tolerance, s.GougeTol, s.Pitch, s.Spacing} {
		if !(v > 0) || math.IsInf(v, 0) {
			return finding.Bad("setup", "", fmt.Sprintf("a tolerance, pitch or spacing is %g", v), "give a positive length")
		}
	}
	for i := range progs {
		if s.side(progs[i].SideDeg) < 0 {
			return finding.Bad("side-unknown", progs[i].Name, fmt.Sprintf("it is for side %s, which is none of %s", geom.SideName(progs[i].SideDeg), sideNames(s.Sides)), "use the set-up's sides")
		}
		if !(progs[i].Cutter.R > 0) {
			return finding.Bad("cutter-unknown", progs[i].Name, "its cutter has no radius", "describe the cutter")
		}
	}
	return nil
}

func (s *Setup) side(deg float64) int {
	for i, d := range s.Sides {
		if d == deg || !geom.IsEnd(d) && !geom.IsEnd(deg) && math.Abs(math.Remainder(d-deg, 360)) < 1e-9 {
			return i
		}
	}
	return -1
}

func sideNames(degs []float64) string {
	out := make([]string, len(degs))
	for i, d := range degs {
		out[i] = geom.SideName(d)
	}
	return strings.Join(out, ", ")
}

// counter reports progress, one call at a time.
type counter struct {
	sync.Mutex
	done, total int
	tell        func(done, total int)
}

func (c *counter) step(n int) {
	if c.tell == nil || n == 0 {
		return
	}
	c.Lock()
	c.done += n
	c.tell(c.done, c.total)
	c.Unlock()
}

// Judge replays the programs, in the order they are run, and says what they leave. Errors are of ctx,
// or an InputError for a set-up that cannot be judged; what is wrong with the programs is in the
// Result's findings. progress may be nil; its calls do not overlap.
func Judge(ctx context.Context, s Setup, progs []Program, progress func(done, total int)) (*Result, error) {
	if err := s.check(progs); err != nil {
		return nil, err
	}
	j := &judge{set: &s, log: &logbook{}, res: &Result{Pitch: s.Pitch, Spacing: s.Spacing}}
	for i := range progs {
		j.chains = append(j.chains, newChain(i, &progs[i], s.side(progs[i].SideDeg)))
	}
	j.count = &counter{tell: progress, total: len(s.Target.Triangles)}
	for _, c := range j.chains {
		j.count.total += 2 * (len(c.pts) - 1)
		j.res.Segments += len(c.pts) - 1
		fig := Figures{Name: c.prog.Name, SideDeg: c.prog.SideDeg}
		for i := range c.prog.Moves {
			if c.prog.Moves[i].Mode != path.Dwell {
				fig.Moves++
			}
		}
		j.res.Moves += fig.Moves
		j.figs = append(j.figs, fig)
	}
	if err := j.all(ctx); err != nil {
		return nil, err
	}
	j.conclude()
	return j.res, nil
}

type judge struct {
	set    *Setup
	chains []*chain
	tree   *tree
	solids []*solid
	log    *logbook
	figs   []Figures
	res    *Result
	count  *counter
}

// all runs the replay beside the search for gouges and the look at the surface. They share nothing that
// changes.
func (j *judge) all(ctx context.Context) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	rp := &replayer{set: j.set, chains: j.chains, log: &logbook{}, figs: j.figs, step: j.count.step}
	var replayed error
	var wg sync.WaitGroup
	wg.Go(func() {
		rp.stack = stock.New(j.set.Bar, j.set.Sides, j.set.Pitch)
		for _, c := range j.chains {
			rp.speeds(c)
		}
		if replayed = rp.run(ctx); replayed != nil {
			cancel()
		}
	})
	err := j.model(ctx)
	if err != nil {
		cancel()
	}
	wg.Wait()
	if replayed != nil && (err == nil || err == context.Canceled) {
		err = replayed
	}
	if err != nil {
		return err
	}
	j.res.Stack = rp.stack
	j.log.list = append(j.log.list, rp.log.settle()...)
	return nil
}

// model holds the moves against the model.
func (j *judge) model(ctx context.Context) error {
	j.tree = newTree(j.set.Target)
	j.solids = make([]*solid, len(j.set.Sides))
	err := inParallel(ctx, len(j.solids), func() func(int) error {
		return func(k int) error {
			j.solids[k] = j.tree.facing(geom.TurnDeg(j.set.Sides[k]))
			return nil
		}
	})
	if err != nil {
		return err
	}
	if err := j.gouges(ctx); err != nil {
		return err
	}
	return j.surface(ctx)
}

// gougeJob is a stretch of one program held against the model with one part of its cutter.
type gougeJob struct {
	c        *chain
	from, to int
	p        cutter.Profile
	lift     float64
	code     string // empty for the cutting part
}

func (j *judge) gouges(ctx context.Context) error {
	var jobs []gougeJob
	for _, c := range j.chains {
		for from := 0; from+1 < len(c.pts); from += gougeChunk {
			to := min(from+gougeChunk, len(c.pts)-1)
			jobs = append(jobs, gougeJob{c, from, to, c.prog.Cutter.Profile, 0, ""})
			for _, k := range c.prog.Cutter.Collars() {
				code := "shank-in-model"
				if k.Z >= c.prog.Cutter.StickOut-1e-9 {
					code = "holder-in-model"
				}
				jobs = append(jobs, gougeJob{c, from, to, cutter.FlatEnd(k.R), k.Z, code})
			}
		}
	}
	out := make([]gouged, len(jobs))
	err := inParallel(ctx, len(jobs), func() func(int) error {
		return func(k int) error {
			b := &jobs[k]
			g, err := newProber(j.solids[b.c.side], b.p, b.lift).gouge(ctx, b.c, b.from, b.to, j.set.GougeTol)
			out[k] = g
			if b.code == "" {
				j.count.step(b.to - b.from)
			}
			return err
		}
	})
	if err != nil {
		return err
	}
	best, arcs := 0.0, false
	for k, g := range out {
		b := &jobs[k]
		arcs = arcs || b.c.arcs
		if b.code == "" {
			fig := &j.figs[b.c.index]
			fig.GougeUM = max(fig.GougeUM, 1000*g.depth)
			fig.GougeMoves += g.moves
			j.res.Gouge.Moves += g.moves
			if g.depth > best {
				best = g.depth
				j.res.Gouge.Where = b.c.place(g.piece, g.at)
			}
		}
		if g.moves > 0 {
			code := b.code
			if code == "" {
				code = "gouge"
			}
			j.log.raiseMany(code, b.c, g.moves, g.depth, b.c.place(g.piece, g.at))
		}
	}
	j.res.Gouge.MaxUM = 1000 * best
	j.res.Gouge.BoundUM = 1000 * (max(best, gougeFrom) + gougeStep)
	if arcs {
		j.res.Gouge.BoundUM += 1000 * sagitta
	}
	return nil
}

func (j *judge) surface(ctx context.Context) error {
	s := &surface{set: j.set, tree: j.tree, spacing: j.set.Spacing, bySide: make([][]*sweeps, len(j.set.Sides))}
	for _, d := range j.set.Sides {
		s.turns = append(s.turns, geom.TurnDeg(d))
	}
	s.reach = newReach(j.set, j.solids, j.chains)
	if err := s.index(ctx, j.chains, j.solids); err != nil {
		return err
	}
	t, err := s.judge(ctx, j.count.step)
	if err != nil {
		return err
	}
	r := j.res
	mm2 := func(c Class) float64 { return float64(t.area[c]) * areaUnit }
	r.Area = Area{InTolerance: mm2(InTolerance), Left: mm2(Left), Unreachable: mm2(Unreachable),
		Uncertain: mm2(Uncertain), Excluded: mm2(Excluded), DeepestUM: 1000 * t.deepest}
	r.Area.Judged = r.Area.InTolerance + r.Area.Left + r.Area.Unreachable + r.Area.Uncertain
	if r.Area.Judged > 0 {
		r.AreaInTolerance = r.Area.InTolerance / r.Area.Judged
	}
	r.Leftover = Leftover{P50UM: 1000 * t.percentile(0.5), P99UM: 1000 * t.percentile(0.99),
		MaxUM: 1000 * t.max, BoundUM: 1000 * max(t.bound, t.max), Where: t.where}
	r.Samples, r.Map = t.samples, t.m
	j.left(t)
	return nil
}

// left raises what is left on the surface.
func (j *judge) left(t *tally) {
	a := &j.res.Area
	tol := j.set.Tolerance
	if a.Left > 0 {
		sev := finding.Blocking
		if a.Left < 1e-4*a.Judged && t.max < 3*tol {
			sev = finding.Warning
		}
		w := t.where
		j.log.add(finding.Finding{Code: "leftover", Severity: sev, Where: fmt.Sprintf("x %.3f y %.3f z %.3f", w.X, w.Y, w.Z),
			Text: fmt.Sprintf("%.3g mm² (%.3f %% of the surface) that a cutter could reach carry more than %.3g mm, up to %.4f mm", a.Left, 100*a.Left/a.Judged, tol, t.max),
			Hint: "add passes there, or take a smaller stepover"})
	}
	if a.Unreachable > 0 {
		w := t.deepAt
		j.log.add(finding.Finding{Code: "leftover-unreachable", Severity: finding.Warning, Where: fmt.Sprintf("x %.3f y %.3f z %.3f", w.X, w.Y, w.Z),
			Text: fmt.Sprintf("%.3g mm² (%.2f %% of the surface) cannot be reached by these cutters from these sides and carry up to %.3f mm", a.Unreachable, 100*a.Unreachable/a.Judged, t.deepest),
			Hint: "turn to more sides, use a smaller or longer cutter, or finish by hand"})
	}
	if a.Uncertain > 0 {
		sev := finding.Warning
		if a.Uncertain < 1e-4*a.Judged {
			sev = finding.Note
		}
		j.log.add(finding.Finding{Code: "leftover-uncertain", Severity: sev,
			Text: fmt.Sprintf("%.3g mm² (%.4f %% of the surface), in patches too small to halve, mostly at the rim of what no cutter reaches, are neither certified to be in tolerance nor measured beyond it", a.Uncertain, 100*a.Uncertain/a.Judged),
			Hint: "look there on the deviation map; the area counts as out of tolerance"})
	}
}

// conclude adds the travel, sorts the findings and gives the verdict.
func (j *judge) conclude() {
	for _, c := range j.chains {
		j.travel(c)
	}
	fs := j.log.settle()
	finding.Sort(fs)
	j.res.Findings, j.res.Programs = fs, j.figs
	j.res.Verdict = Proven
	switch worst, _ := finding.Worst(fs); worst {
	case finding.Warning:
		j.res.Verdict = ProvenWithWarnings
	case finding.Blocking:
		j.res.Verdict = NotProven
	}
}

// travel holds a program's extents against the machine's.
func (j *judge) travel(c *chain) {
	box := geom.EmptyBox()
	for i, p := range c.pts {
		if p.Finite() && (i == 0 || c.of[i] >= 0 || i+1 < len(c.of)) {
			box = box.Grow(j.set.axes(c.prog.SideDeg, p))
		}
	}
	if box.Empty() {
		return
	}
	lo := [3]float64{box.Min.X, box.Min.Y, box.Min.Z}
	hi := [3]float64{box.Max.X, box.Max.Y, box.Max.Z}
	var zero [3]float64
	known := j.set.Zero != nil && !c.turn.End
	if known {
		zero = [3]float64{j.set.Zero.X, j.set.Zero.Y, j.set.Zero.Z}
	}
	for k, name := range [3]string{"X", "Y", "Z"} {
		t := j.set.Machine.Travel[k]
		if t <= 0 {
			continue
		}
		if !known {
			if hi[k]-lo[k] > t+1e-6 {
				j.log.add(finding.Finding{Code: "travel", Severity: finding.Blocking, Where: c.prog.Name,
					Text: fmt.Sprintf("%s runs over %.2f mm, the machine has %.2f", name, hi[k]-lo[k], t), Hint: "shorten the work or the retracts"})
			}
			continue
		}
		if a, b := lo[k]+zero[k], hi[k]+zero[k]; a < -1e-6 || b > t+1e-6 {
			j.log.add(finding.Finding{Code: "travel", Severity: finding.Blocking, Where: c.prog.Name,
				Text: fmt.Sprintf("%s runs from %.2f to %.2f of its travel, which is 0 to %.2f", name, a, b, t), Hint: "move program zero or shorten the work"})
		}
	}
}
