package barwise

import (
	"bytes"
	"context"
	"fmt"
	"strings"

	"barwise/finding"
	"barwise/gcode"
	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/job"
	"barwise/path"
	"barwise/plan/cl"
	"barwise/plan/place"
	"barwise/plan/reach"
	"barwise/plan/survey"
	"barwise/shop/cutter"
	"barwise/stock"
)

// run is one job on its way through the stages.
type run struct {
	job      *job.Job
	say      Progress
	clock    *clock
	look     *survey.Report
	placed   *place.Placed
	findings []finding.Finding
	noPics   bool

	surface *cl.Surface
	turns   []geom.Turn
	views   []*reach.View
	stack   *stock.Stack // the bar as the programs planned so far leave it
	cuts    []cut        // in the order they are run
}

// cut is one program before it is text, with what the report wants to know of its planning.
type cut struct {
	path.Program
	cutter    cutter.Cutter
	stepover  float64 // mm, widest
	finest    float64 // mm, where it is finer on slopes; 0: everywhere the same
	stepdown  float64
	rough     bool
	sideIndex int
}

func newRun(j *job.Job, o Options) *run {
	return &run{job: j, say: quiet(o.Say), noPics: o.NoPictures, clock: newClock()}
}

// Plan makes the programs of a job and proves them. The error is a *finding.InputError where the job
// or the model cannot be used, ctx's error where it was cancelled; what stands against cutting is in
// the outcome's findings and verdict.
func Plan(ctx context.Context, j *job.Job, o Options) (*Outcome, error) {
	r := newRun(j, o)
	if err := r.prepare(ctx); err != nil {
		r.clock.done()
		return nil, err
	}
	texts, err := r.programs(ctx)
	if err != nil {
		r.clock.done()
		return nil, err
	}
	return r.prove(ctx, texts)
}

func quiet(say Progress) Progress {
	if say == nil {
		return func(string, int, int) {}
	}
	return say
}

// prepare reads the model, looks at it and lays it in the bar.
func (r *run) prepare(ctx context.Context) error {
	r.findings = append(r.findings, r.job.Findings...)
	var m *mesh.Mesh
	err := r.clock.time("read", func() (err error) {
		r.say("reading "+r.job.Model, 0, 0)
		var info mesh.Info
		if m, info, err = survey.Open(ctx, r.job.Model, mesh.Limits{}); err != nil {
			return err
		}
		p := survey.Params{UnitMM: r.job.ModelUnit, AcceptOpen: r.job.AcceptOpen}
		if r.job.ModelOwn && info.UnitMM > 0 {
			p.UnitMM = 0
		}
		r.look, err = survey.Look(ctx, m, info, p)
		return err
	})
	if err != nil {
		return err
	}
	r.findings = append(r.findings, r.look.Findings...)
	if err := refuse(r.job.Model, r.look.Findings); err != nil {
		return err
	}
	return r.clock.time("place", func() error { return r.place(ctx, m) })
}

// refuse turns blocking findings about a mesh into one error.
func refuse(model string, fs []finding.Finding) error {
	var texts []string
	var first *finding.Finding
	for i, f := range fs {
		if f.Severity != finding.Blocking {
			continue
		}
		if first == nil {
			first = &fs[i]
		}
		t := f.Text
		if f.Where != "" {
			t = f.Where + ": " + t
		}
		texts = append(texts, t)
	}
	if first == nil {
		return nil
	}
	return finding.Bad(first.Code, model, strings.Join(texts, "; "), first.Hint)
}

// programs plans every cut and writes it as text.
func (r *run) programs(ctx context.Context) ([]Text, error) {
	r.say("preparing the surface", 0, 0)
	if err := r.clock.time("surface", func() error {
		r.surface = cl.NewSurface(r.placed.Mesh)
		for _, d := range r.job.Sides {
			r.turns = append(r.turns, geom.TurnDeg(d))
		}
		r.stack = stock.New(r.job.Bar, r.job.Sides, stackPitch(r.job))
		return ctx.Err()
	}); err != nil {
		return nil, err
	}
	if err := r.clock.time("rough", func() error { return r.roughAll(ctx) }); err != nil {
		return nil, err
	}
	if err := r.clock.time("finish", func() error { return r.finishAll(ctx) }); err != nil {
		return nil, err
	}
	if len(r.cuts) == 0 {
		return nil, finding.Bad("nothing-to-cut", r.job.File, "no cut of this job takes anything away", "check the bar's size against the model's")
	}
	var texts []Text
	err := r.clock.time("write", func() error {
		r.say("writing programs", 0, 0)
		for i := range r.cuts {
			t, err := r.text(i)
			if err != nil {
				return err
			}
			texts = append(texts, t)
		}
		return ctx.Err()
	})
	return texts, err
}

// text writes cut i as a program.
func (r *run) text(i int) (Text, error) {
	c := &r.cuts[i]
	kind := "finish"
	if c.rough {
		kind = "rough"
	}
	c.Name = fmt.Sprintf("%02d-%s-side%03.0f-%s.nc", i+1, kind, c.SideDeg, c.Cutter)
	m := r.job.Machine
	var b bytes.Buffer
	err := gcode.Write(&b, c.Program, gcode.Params{
		Frame:        r.frame(c.SideDeg),
		Decimals:     m.Dialect.Decimals,
		Arcs:         m.Dialect.Arcs,
		LineEnd:      m.Dialect.LineEnd,
		ToolChange:   m.Dialect.ToolChange,
		SpindleDwell: m.SpindleStart,
		Header: []string{
			fmt.Sprintf("barwise job %s, program %d of %d", r.job.Name, i+1, len(r.cuts)),
			fmt.Sprintf("bar %s, model %s", barText(r.job.Bar), fileName(r.job.Model)),
			"wear eye protection, collect the dust, follow the safety data sheet of " + r.job.Material.Title,
		},
	})
	if err != nil {
		return Text{}, fmt.Errorf("%s: %w", c.Name, err)
	}
	return Text{Name: c.Name, Data: b.Bytes()}, nil
}

// frame is how the program's axes lie on a side.
func (r *run) frame(deg float64) gcode.Frame {
	f := gcode.Frame{Along: r.job.Hold.BarAlong}
	if r.job.Hold.Zero == "top" {
		f.ZeroZ = r.job.Bar.Top(deg)
	}
	return f
}
