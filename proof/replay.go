package proof

import (
	"context"
	"fmt"
	"math"

	"barwise/finding"
	"barwise/geom"
	"barwise/path"
	"barwise/shop/cutter"
	"barwise/stock"
)

// replayer runs the programs in order against the bar as it is at that moment.
type replayer struct {
	set    *Setup
	chains []*chain
	stack  *stock.Stack
	log    *logbook
	figs   []Figures
	step   func(int)
}

// collarCheck is one step of neck, shank or holder.
type collarCheck struct {
	form
	z      float64
	clear  float64 // least distance from what is left
	grow   float64
	holder bool
	lowest float64 // least height above what is left so far
}

func (r *replayer) run(ctx context.Context) error {
	for i := range r.chains {
		if err := r.program(ctx, i); err != nil {
			return err
		}
		if i+1 == len(r.chains) || r.chains[i+1].side != r.chains[i].side {
			r.pieces(r.chains[i])
		}
		if r.set.After != nil {
			r.set.After(i, r.stack)
		}
	}
	return nil
}

func (r *replayer) program(ctx context.Context, i int) error {
	c, fig := r.chains[i], &r.figs[i]
	run := &programRun{
		replayer: r, c: c, fig: fig,
		top: newTop(r.stack.Seen(c.side)),
		f:   newForm(c.prog.Cutter.Profile),
	}
	run.top.own = r.stack.Field(c.side)
	run.top.end = c.turn.End
	fig.MinClearance = math.Inf(1)
	pitch := r.set.Pitch
	run.grow = float64(0.71*pitch) + r.set.RapidClear
	for _, k := range c.prog.Cutter.Collars() {
		h := k.Z >= c.prog.Cutter.StickOut-1e-9
		cl := r.set.ShankClear
		if h {
			cl = r.set.HolderClear
		}
		if k.R > c.prog.Cutter.R {
			run.collars = append(run.collars, &collarCheck{form: newForm(cutter.FlatEnd(k.R)), z: k.Z, clear: cl, grow: cl + float64(0.71*pitch), holder: h, lowest: math.Inf(1)})
		}
	}
	for k := 0; k+1 < len(c.pts); k++ {
		if k&127 == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		if c.of[k+1] >= 0 {
			run.piece(k)
		}
		if k&4095 == 4095 {
			r.step(4096)
		}
	}
	r.step((len(c.pts) - 1) & 4095)
	for _, k := range run.collars {
		fig.MinClearance = min(fig.MinClearance, k.lowest)
	}
	r.stack.Changed(c.side)
	return ctx.Err()
}

// pieces asks whether what is left is still one with the grip.
func (r *replayer) pieces(c *chain) {
	cell := r.set.Pitch * r.set.Pitch * r.set.Pitch
	var sliver, loose float64
	n, m := 0, 0
	box := geom.EmptyBox()
	for _, p := range r.stack.Pieces() {
		size := p.Box.Size()
		switch {
		case p.Joined:
		case p.Volume < 30*cell || p.Volume < 0.5 && min(size.X, size.Y, size.Z) < 2*r.set.Pitch:
			n, sliver = n+1, sliver+p.Volume
		default:
			m, loose, box = m+1, loose+p.Volume, box.Union(p.Box)
		}
	}
	where := fmt.Sprintf("side %s, after %s", geom.SideName(c.prog.SideDeg), c.prog.Name)
	if m > 0 {
		r.log.add(finding.Finding{Code: "loose-piece", Severity: finding.Blocking, Where: where,
			Text: fmt.Sprintf("%s of %.3g mm³ in all %s off the bar, between y %.2f and %.2f", plural(m, "piece"), loose, inflect("come", m), box.Min.Y, box.Max.Y),
			Hint: "leave more of the bar between it and the grip, or cut this side later"})
	}
	if n > 0 {
		r.log.add(finding.Finding{Code: "loose-sliver", Severity: finding.Note, Where: where,
			Text: fmt.Sprintf("%s of %.2g mm³ in all %s loose", plural(n, "sliver"), sliver, inflect("come", n))})
	}
}

func plural(n int, one string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %ss", n, one)
}

// programRun is one program being run.
type programRun struct {
	*replayer
	c       *chain
	fig     *Figures
	top     *top
	f       form
	grow    float64 // of a rapid's body
	collars []*collarCheck
}

func (r *programRun) piece(k int) {
	a, b := r.c.pts[k], r.c.pts[k+1]
	w := newWay(a, b)
	l := b.Sub(a).Len()
	r.block(k, a, b)
	if !r.c.feed(k) {
		r.fig.RapidLength += l
		// straight up the cutter stays in its own wake
		if w.l == 0 && b.Z >= a.Z {
			return
		}
		r.rapid(k, &w)
		for _, cl := range r.collars {
			r.collar(k, &w, cl)
		}
		return
	}
	down := r.steep(&w, a, b)
	o := r.top.cut(&r.f, &w, r.set.StubY, down > 0)
	if o.volume == 0 {
		r.fig.AirLength += l
	} else {
		r.fig.CutLength += l
		r.fig.Removed += o.volume
		r.engaged(k, &w, &o, l, down)
	}
	for _, cl := range r.collars {
		r.collar(k, &w, cl)
	}
}

// engaged judges a piece that takes material.
func (r *programRun) engaged(k int, w *way, o *bite, l, down float64) {
	c := &r.c.prog.Cutter
	r.fig.MaxDepth = max(r.fig.MaxDepth, o.depth)
	slack := 0.71 * r.set.Pitch
	full := min(o.left, o.right) >= float64(0.9*c.R)-slack
	if full && w.l > 0 {
		r.fig.FullLength += l
	}
	if c.LCF > 0 && o.depth > c.LCF+1e-6 {
		r.raise("depth-over-flutes", k, o.depth, o.at)
	}
	if o.stub > 0.01 {
		r.raise("stub", k, o.stub, o.stubAt)
	}
	if r.c.prog.SpindleRPM <= 0 {
		r.raise("spindle-off", k, o.depth, w.b)
	}
	switch {
	case down == 0 || o.under < 0.02:
	case down > 85:
		r.raise("plunge", k, o.under, w.b)
	case min(o.left, o.right) >= c.R/2 && o.under > c.R/4:
		r.raise("ramp", k, down, w.b)
	}
}

// steep returns the angle, degrees, at which a piece goes down where that is more than its cutter may
// in material; 0 otherwise.
func (r *programRun) steep(w *way, a, b geom.Vec3) float64 {
	c := &r.c.prog.Cutter
	if c.Plunges || b.Z >= a.Z {
		return 0
	}
	if deg := math.Atan2(a.Z-b.Z, w.l) * 180 / math.Pi; deg > min(c.RampDeg+0.5, 85) {
		return deg
	}
	return 0
}

func (r *programRun) rapid(k int, w *way) {
	i0, i1, j0, j1, ok := r.top.around(w, r.f.R+r.grow)
	if !ok {
		return
	}
	enough := float32(w.low - r.set.RapidClear)
	if r.top.roof(i0, i1, j0, j1, enough) <= enough {
		return
	}
	r.top.renew(i0, i1, j0, j1, enough)
	if r.top.roof(i0, i1, j0, j1, enough) <= enough {
		return
	}
	if h := r.top.meets(&r.f, r.grow, w, -r.set.RapidClear); h.depth > 0 {
		r.raise("rapid-in-stock", k, h.depth, h.at)
	}
}

// clearStep is how closely the least clearance of a collar is followed, mm.
const clearStep = 0.02

func (r *programRun) collar(k int, w *way, cl *collarCheck) {
	i0, i1, j0, j1, ok := r.top.around(w, cl.R+max(cl.grow, 0))
	if !ok {
		return
	}
	z := w.low + cl.z
	enough := float32(z - max(cl.clear, cl.lowest-clearStep))
	if r.top.roof(i0, i1, j0, j1, enough) <= enough {
		return
	}
	r.top.renew(i0, i1, j0, j1, enough)
	if r.top.roof(i0, i1, j0, j1, enough) <= enough {
		return
	}
	h := r.top.meets(&cl.form, cl.grow, w, cl.z)
	cl.lowest = min(cl.lowest, -h.depth)
	if h.depth > -cl.clear {
		code := "shank-in-stock"
		if cl.holder {
			code = "holder-in-stock"
		}
		r.raise(code, k, h.depth+cl.clear, h.at)
	}
}

// block holds a piece against the vise.
func (r *programRun) block(k int, a, b geom.Vec3) {
	if r.c.side >= len(r.set.Vise) {
		return
	}
	z := min(a.Z, b.Z)
	for i := range r.set.Vise[r.c.side] {
		v := &r.set.Vise[r.c.side][i]
		if z < v.Box.Max.Z && r.near(&v.Box, a, b, r.f.R) {
			if deep := v.Box.Max.Z - r.f.overBox(&v.Box, a, b); deep > 0 {
				r.raiseAt("vise", v.Name, k, deep, b)
			}
		}
		for _, cl := range r.collars {
			if z+cl.z < v.Box.Max.Z && r.near(&v.Box, a, b, cl.R) {
				if deep := v.Box.Max.Z - cl.z - cl.overBox(&v.Box, a, b); deep > 0 {
					r.raiseAt("vise", v.Name, k, deep, b)
				}
			}
		}
	}
}

func (r *programRun) near(v *geom.Box3, a, b geom.Vec3, reach float64) bool {
	return max(a.X, b.X) > v.Min.X-reach && min(a.X, b.X) < v.Max.X+reach &&
		max(a.Y, b.Y) > v.Min.Y-reach && min(a.Y, b.Y) < v.Max.Y+reach
}

func (r *programRun) raise(code string, k int, much float64, at geom.Vec3) {
	r.raiseAt(code, "", k, much, at)
}

func (r *programRun) raiseAt(code, what string, k int, much float64, at geom.Vec3) {
	r.log.raise(code, what, r.c, r.c.of[k+1], much, r.c.place(k, at))
}

// highest is the height of whatever stands highest on a side before anything is cut: bar, jaws, stop.
func (r *replayer) highest(side int, deg float64) float64 {
	z := r.set.Bar.Top(deg)
	if side < len(r.set.Vise) {
		for _, b := range r.set.Vise[side] {
			z = max(z, b.Box.Max.Z)
		}
	}
	return z
}

// speeds judges the figures of a program that need no replay.
func (r *replayer) speeds(c *chain) {
	p := c.prog
	m := &r.set.Machine
	rpm := p.SpindleRPM
	where := p.Name
	fail := func(code string, sev finding.Severity, text, hint string) {
		r.log.add(finding.Finding{Code: code, Severity: sev, Where: where, Text: text, Hint: hint})
	}
	if rpm > 0 {
		if m.SpindleMax > 0 && rpm > m.SpindleMax || rpm < m.SpindleMin {
			fail("spindle-range", finding.Blocking, fmt.Sprintf("the spindle is asked for %g /min, the machine gives %g to %g", rpm, m.SpindleMin, m.SpindleMax), "change S")
		}
		if x := p.Cutter.MaxRPM; x > 0 && rpm > x {
			fail("cutter-speed", finding.Blocking, fmt.Sprintf("cutter %s may turn at %g /min, S asks for %g", p.Cutter.ID, x, rpm), "lower S")
		}
	}
	// how the tip comes to its start is not in the text: it may cross anything, so the start is high
	zero := "axis"
	if c.turn.End {
		zero = "stop"
	}
	if low := r.highest(c.side, p.SideDeg); p.Start.Z < low-1e-6 {
		fail("start-low", finding.Blocking,
			fmt.Sprintf("the program begins at Z%.3f above the %s, and bar or vise stand up to %.3f: the way there may cross them", p.Start.Z, zero, low),
			"begin with a rapid on Z above everything, then X and Y")
	}
	fastest, any := 0.0, false
	at := p.Start
	for i := range p.Moves {
		mv := &p.Moves[i]
		from := at
		if mv.Mode == path.Dwell {
			continue
		}
		at = mv.To
		if mv.Mode == path.Rapid {
			continue
		}
		any = true
		fastest = max(fastest, mv.Feed)
		if mv.Feed <= 0 {
			r.log.raise("feed-zero", "", c, int32(i), 0, Place{Program: p.Name, Line: mv.Line, SideDeg: p.SideDeg, Point: c.turn.ToPart(mv.To)})
			continue
		}
		if over := r.overRate(p.SideDeg, mv, from); over > 1+1e-6 {
			r.log.raise("feed-rate", "", c, int32(i), over, Place{Program: p.Name, Line: mv.Line, SideDeg: p.SideDeg, Point: c.turn.ToPart(mv.To)})
		}
	}
	if !any || rpm <= 0 {
		return
	}
	lim := &r.set.Limits
	if p.Cutter.Edges > 0 {
		chip := fastest * 60 / (rpm * float64(p.Cutter.Edges))
		lo, hi := lim.ChipMin*p.Cutter.DC(), lim.ChipMax*p.Cutter.DC()
		text := fmt.Sprintf("the fastest feed loads each tooth with %.4f mm, the material asks for %.4f to %.4f", chip, lo, hi)
		if hi > 0 && chip > hi*(1+1e-9) {
			fail("chip-load", finding.Warning, text, "lower F or raise S")
		} else if chip < lo*(1-1e-9) {
			fail("chip-thin", finding.Note, text, "raise F or lower S: a thin chip rubs")
		}
	}
	speed := math.Pi * p.Cutter.DC() * rpm / 1000
	text := fmt.Sprintf("the surface speed is %.1f m/min, the material asks for %g to %g", speed, lim.SpeedMin, lim.SpeedMax)
	if lim.SpeedMax > 0 && speed > lim.SpeedMax*(1+1e-9) {
		fail("surface-speed", finding.Warning, text, "lower S")
	} else if speed < lim.SpeedMin*(1-1e-9) {
		fail("surface-slow", finding.Note, text, "raise S where the machine can")
	}
}

// overRate is the greatest share of an axis' rate that a move at feed asks for.
func (r *replayer) overRate(sideDeg float64, mv *path.Move, from geom.Vec3) float64 {
	m := &r.set.Machine
	if !from.Finite() || !mv.To.Finite() {
		return 0
	}
	over := func(along geom.Vec3) float64 { // at the feed in a direction of the side frame, of length 1 or less
		u := r.set.axes(sideDeg, from.Add(along)).Sub(r.set.axes(sideDeg, from))
		worst := 0.0
		for k, v := range [3]float64{u.X, u.Y, u.Z} {
			if m.Rate[k] > 0 {
				worst = max(worst, mv.Feed*math.Abs(v)/m.Rate[k])
			}
		}
		return worst
	}
	if mv.IsArc() {
		// somewhere on an arc each axis of its plane runs at all of the feed that is not its rise
		a := mv.Arc(from)
		l := a.Length()
		if l == 0 {
			return 0
		}
		flat, rise := math.Abs(a.Radius()*a.Sweep)/l, a.Rise/l
		return max(over(a.Plane.Join(flat, 0, 0)), over(a.Plane.Join(0, flat, 0)), over(a.Plane.Join(0, 0, rise)))
	}
	d := mv.To.Sub(from)
	if d == (geom.Vec3{}) {
		return 0
	}
	return over(d.Unit())
}
