package barwise

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"barwise/finding"
	"barwise/gcode"
	"barwise/geom"
	"barwise/job"
	"barwise/motion"
	"barwise/path"
	"barwise/plan/place"
	"barwise/proof"
	"barwise/report"
	"barwise/shop/cutter"
	"barwise/shop/machine"
	"barwise/stock"
)

// ReadTexts reads program files, in the order they are run.
func ReadTexts(files []string) ([]Text, error) {
	var out []Text
	for _, f := range files {
		b, err := os.ReadFile(f)
		if err != nil {
			why := err
			if p := (*os.PathError)(nil); errors.As(err, &p) {
				why = p.Err
			}
			return nil, &finding.InputError{Code: "program-file", Where: f, Text: "the program cannot be read: " + why.Error(), Hint: "name program texts, in the order they are run", Err: err}
		}
		out = append(out, Text{Name: filepath.Base(f), Data: b})
	}
	return out, nil
}

// Prove judges program texts against a job, in the order they are run. It takes nothing from the
// planner: moves, cutters and sides come from the text, the rest from the job and its model.
func Prove(ctx context.Context, j *job.Job, texts []Text, o Options) (*Outcome, error) {
	r := newRun(j, o)
	if err := r.prepare(ctx); err != nil {
		r.clock.done()
		return nil, err
	}
	return r.prove(ctx, texts)
}

// replayed is one program as its text says it.
type replayed struct {
	*gcode.Text
	cutter cutter.Cutter
	time   *motion.Timeline
}

// prove reads the texts back, judges them and gathers the facts.
func (r *run) prove(ctx context.Context, texts []Text) (*Outcome, error) {
	out := &Outcome{Texts: texts}
	pics := newAlbum(r)
	var progs []replayed
	err := r.clock.time("read back", func() (err error) {
		progs, err = r.readBack(ctx, texts)
		pics.progs = progs
		return err
	})
	if err == nil {
		err = r.clock.time("replay", func() error { return r.replayRoughing(ctx, progs) })
	}
	var res *proof.Result
	if err == nil {
		err = r.clock.time("prove", func() (err error) {
			res, err = proof.Judge(ctx, r.setup(ctx, pics), asPrograms(progs), func(done, total int) { r.say("proving", done, total) })
			return err
		})
	}
	if err == nil {
		err = r.clock.time("cusps", func() error {
			if err := r.waysOfFinishing(ctx, progs); err != nil {
				return err
			}
			return r.measureCusps(ctx, progs)
		})
	}
	if err == nil && r.seen != nil && r.seen.left != nil && r.look.Closed() {
		err = r.clock.time("prove", func() (err error) {
			r.stays, err = res.Stack.Beyond(ctx, r.placed.Mesh, r.zone(), []float64{r.seen.left.Stays.Off[1]})
			return err
		})
	}
	if err == nil {
		err = r.clock.time("pictures", func() error {
			r.say("drawing", 0, 0)
			return pics.finish(ctx, res)
		})
	}
	stages, peak := r.clock.done()
	if err != nil {
		return nil, err
	}
	r.engageFindings(progs)
	r.cuspFinding()
	out.Facts = r.facts(progs, res)
	out.Facts.Stages, out.Facts.PeakMemoryMB = stages, peak
	out.Page = &report.Page{Facts: out.Facts, Piece: pics.piece, Map: pics.devmap, Cusps: pics.cusps, Stages: pics.stages}
	return out, nil
}

// readBack reads every text and finds the cutter it names among the job's.
func (r *run) readBack(ctx context.Context, texts []Text) ([]replayed, error) {
	var read []*gcode.Text
	for i, t := range texts {
		r.say("reading back", i, len(texts))
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		text, err := gcode.Read(t.Name, bytes.NewReader(t.Data), gcode.ReadParams{MachineZero: r.machineZero()})
		if err != nil {
			return nil, err
		}
		read = append(read, text)
	}
	if err := r.used(read); err != nil {
		return nil, err
	}
	var out []replayed
	for i, text := range read {
		t := texts[i]
		if !r.hasSide(text.SideDeg) {
			return nil, finding.Bad("program-side", t.Name, fmt.Sprintf("is for side %s, the job has %s", geom.SideName(text.SideDeg), degrees(r.job.Sides)), "correct the line (side …) at its head, or the job's sides")
		}
		if err := r.sameFrame(t.Name, text); err != nil {
			return nil, err
		}
		c, ok := r.cutterNamed(text.Cutter)
		if !ok {
			return nil, finding.Bad("program-cutter", t.Name, fmt.Sprintf("is for cutter %q, which the job does not use", text.Cutter), "correct the line (cutter …) at its head, or add the cutter to the job")
		}
		if text.Tool != 0 && text.Tool != c.Number {
			return nil, finding.Bad("program-tool", t.Name, fmt.Sprintf("calls tool %d, the job's cutter %s has the number %d", text.Tool, c.ID, c.Number), "correct T and the line (tool …), or the cutter's number in the job")
		}
		p := replayed{Text: text, cutter: c, time: motion.Plan(text.Start, text.Moves, r.held())}
		r.findings = append(r.findings, p.spindle(r.job.Machine)...)
		out = append(out, p)
	}
	return out, nil
}

// sameFrame refuses text whose axes lie otherwise than the job's: the mill is set up by the job, so the
// moves would not be where the text puts them.
func (r *run) sameFrame(name string, text *gcode.Text) error {
	want, got := r.frame(text.SideDeg).Of(text.SideDeg), text.Frame
	if want.Along == "" {
		want.Along = machine.AlongY
	}
	if got.Along == "" {
		got.Along = machine.AlongY
	}
	if want.Along == got.Along && math.Abs(want.ZeroZ-got.ZeroZ) < 5e-4 {
		return nil
	}
	return finding.Bad("program-frame", name,
		fmt.Sprintf("has the bar along %s and zero %g mm above the axis, the job has it along %s and zero %g mm above", got.Along, got.ZeroZ, want.Along, want.ZeroZ),
		"correct the lines (bar along …) and (zero …) at its head, or hold.bar_along and hold.zero in the job")
}

// spindle holds what the text asks of the spindle along its way against the moves at a feed, one finding
// a code. The proof judges the speed a program begins with; here it is the later ones, for text may stop
// the spindle half way, turn it backward or ask for another speed.
func (p replayed) spindle(m machine.Machine) []finding.Finding {
	var out []finding.Finding
	found := map[string]bool{}
	for _, s := range p.Text.Spindle() {
		k := slices.IndexFunc(p.Moves[s.From:s.To], func(m path.Move) bool { return m.Mode != path.Rapid && m.Mode != path.Dwell })
		if k < 0 || p.SpindleRPM == 0 || s.RPM == p.SpindleRPM {
			continue
		}
		f := finding.Finding{Severity: finding.Blocking, Where: fmt.Sprintf("%s, line %d, side %s", p.Name, p.Moves[s.From+k].Line, geom.SideName(p.SideDeg))}
		switch {
		case s.RPM == 0:
			f.Code, f.Text, f.Hint = "spindle-off", "a move at feed while the spindle stands", "start the spindle before it"
		case s.RPM < 0:
			f.Code, f.Text, f.Hint = "spindle-reverse", "a move at feed while the spindle turns in reverse: the edges run backward", "write M3 in place of M4"
		case s.RPM < m.SpindleMin || m.SpindleMax > 0 && s.RPM > m.SpindleMax:
			f.Code, f.Text, f.Hint = "spindle-range", fmt.Sprintf("the spindle is asked for %g /min, the machine gives %g to %g", s.RPM, m.SpindleMin, m.SpindleMax), "change S"
		case p.cutter.MaxRPM > 0 && s.RPM > p.cutter.MaxRPM:
			f.Code, f.Text, f.Hint = "cutter-speed", fmt.Sprintf("cutter %s may turn at %g /min, S asks for %g", p.cutter.ID, p.cutter.MaxRPM, s.RPM), "lower S"
		default:
			continue
		}
		if !found[f.Code] {
			found[f.Code] = true
			out = append(out, f)
		}
	}
	return out
}

// held is the machine with the bar lying as the job says.
func (r *run) held() machine.Machine {
	m := r.job.Machine
	m.BarAlong = r.job.Hold.BarAlong
	return m
}

// degrees lists index angles for a reader.
func degrees(sides []float64) string {
	var out []string
	for _, d := range sides {
		out = append(out, geom.SideName(d))
	}
	return strings.Join(out, ", ")
}

func (r *run) hasSide(deg float64) bool {
	for _, d := range r.job.Sides {
		if d == deg {
			return true
		}
	}
	return false
}

func (r *run) cutterNamed(id string) (cutter.Cutter, bool) {
	for _, c := range r.job.Rough {
		if c.Cutter.ID == id {
			return c.Cutter, true
		}
	}
	for _, c := range r.job.Finish {
		if c.Cutter.ID == id {
			return c.Cutter, true
		}
	}
	return cutter.Cutter{}, false
}

// machineZero is the machine's own zero in program coordinates, where the job knows it.
func (r *run) machineZero() *geom.Vec3 {
	z := r.job.Hold.ZeroAt
	if z == nil {
		return nil
	}
	return &geom.Vec3{X: -z[0], Y: -z[1], Z: -z[2]}
}

func asPrograms(rs []replayed) []proof.Program {
	var out []proof.Program
	for _, p := range rs {
		out = append(out, proof.Program{Program: p.Program, Cutter: p.cutter})
	}
	return out
}

// setup is what the programs are held against.
func (r *run) setup(ctx context.Context, pics *album) proof.Setup {
	j := r.job
	s := proof.Setup{
		Target: r.placed.Mesh, Bar: j.Bar, Sides: j.Sides, StubY: r.placed.StubY,
		Machine: r.held(), Tolerance: j.Tolerance, GougeTol: gougeTolerance(j),
		Pitch: stackPitch(j), HolderClear: j.Hold.Clearance / 2,
		Limits: proof.Limits{
			ChipMin: job.ToothLow * j.Material.ChipPerMM.Value, ChipMax: job.ToothHigh * j.Material.ChipPerMM.Value,
			SpeedMax: j.Material.Speed.Max,
		},
		After: func(i int, st *stock.Stack) {
			if i == r.lastRough {
				r.roughed = st.Clone()
			}
			pics.after(ctx, i, st)
		},
	}
	if h := r.placed.Spigot; h != nil {
		s.Keep.Spigots = append(s.Keep.Spigots, proof.Spigot{Radius: r.aroundSpigot(h), Y0: h.From, Y1: h.To})
	}
	if r.placed.Spigot == nil {
		s.Keep.Y = append(s.Keep.Y, [2]float64{r.placed.Y0 - 1, r.placed.StubY + r.foot()})
	}
	for _, deg := range j.Sides {
		s.Vise = append(s.Vise, r.vise(deg))
	}
	if z := j.Hold.ZeroAt; z != nil {
		s.Zero = &geom.Vec3{X: z[0], Y: z[1], Z: z[2]}
	}
	frames := gcode.Frame{Along: j.Hold.BarAlong}
	s.ToMachine = frames.ToProgram
	return s
}

// foot is the height above the stub that no cutter can finish beside the stub's wall: the surface of
// a model that stands on the stub itself is judged from there on.
func (r *run) foot() float64 {
	h := 0.0
	for _, c := range r.job.Finish {
		h = max(h, r.finishFrom()+c.Cutter.R-r.placed.StubY)
		for _, k := range c.Cutter.Collars() {
			for _, deg := range r.job.Sides {
				// a collar that low is held off the stub's wall
				if !geom.IsEnd(deg) && r.job.Bar.Top(deg)-k.Z+r.job.Hold.Clearance > 0 {
					h = max(h, k.R+r.job.Hold.Clearance)
				}
			}
		}
	}
	return h + patchMargin
}

// aroundSpigot is the radius about the axis within which the surface is not judged: the spigot, its
// corners where it is square, the fillets it runs out in, and the corner that stays beyond them.
func (r *run) aroundSpigot(h *place.Held) float64 {
	across := h.Radius
	if h.Square {
		across *= math.Sqrt2
	}
	return across + max(h.StubFillet, h.PieceFillet) + r.fillet()
}

// fillet is how far around a spigot of ours the surface is not judged: the corner it makes with the
// piece is as round as the smallest finishing cutter, and is cleaned off when the piece is parted.
func (r *run) fillet() float64 {
	if len(r.job.Finish) == 0 {
		return patchMargin
	}
	least := math.Inf(1)
	for _, c := range r.job.Finish {
		least = min(least, c.Cutter.R)
	}
	return least + patchMargin
}

// patchMargin lets a patch of the surface that straddles the border of what is judged fall outside.
const patchMargin = 0.4 // mm

// gougeTolerance is half of what the surface may be off: the other half is for what is left.
func gougeTolerance(j *job.Job) float64 { return j.Tolerance / 2 }

// vise is what must not be touched on a side: the jaws beside the grip, the stop behind, the floor.
func (r *run) vise(deg float64) []proof.Block {
	if geom.IsEnd(deg) {
		return r.endVise()
	}
	j := r.job
	half, floor, jaw := j.Bar.Half(deg), j.Floor(deg), j.JawTop(deg)
	far := 500.0
	y0 := j.Bar.Grip - j.Hold.JawWidth
	box := func(x0, x1, y0, y1, z0, z1 float64) geom.Box3 {
		return geom.Box3{Min: geom.Vec3{X: x0, Y: y0, Z: z0}, Max: geom.Vec3{X: x1, Y: y1, Z: z1}}
	}
	return []proof.Block{
		{Name: "jaw at −X", Box: box(-half-j.Hold.JawThickness, -half, y0, j.Bar.Grip, -far, jaw)},
		{Name: "jaw at +X", Box: box(half, half+j.Hold.JawThickness, y0, j.Bar.Grip, -far, jaw)},
		{Name: "floor of the vise", Box: box(-far, far, -far, far, -far, floor)},
		{Name: "stop", Box: box(-half, half, -20, 0, floor, j.Bar.Top(deg)/2)},
	}
}
