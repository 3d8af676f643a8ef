package barwise

import (
	"bytes"
	"context"
	"fmt"
	"strings"

	"barwise/cusp"
	"barwise/engage"
	"barwise/finding"
	"barwise/gcode"
	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/mend"
	"barwise/geom/mesh/smooth"
	"barwise/job"
	"barwise/path"
	"barwise/plan/arc"
	"barwise/plan/cl"
	"barwise/plan/corner"
	"barwise/plan/place"
	"barwise/plan/pose"
	"barwise/plan/reach"
	"barwise/plan/share"
	"barwise/plan/survey"
	"barwise/report"
	"barwise/shop/cutter"
	"barwise/stock"
)

// run is one job on its way through the stages.
type run struct {
	job      *job.Job
	say      Progress
	clock    *clock
	model    *mesh.Mesh // in the file's unit, mended where that was asked for
	info     mesh.Info
	look     *survey.Report
	placed   *place.Placed
	coarse   *place.Placed  // before refining; nil where nothing was refined
	seen     *measured      // what the survey found; nil before it
	stays    *stock.Beyond  // what the programs leave outside the model; nil before the proof
	choice   *report.Choice // why these cutters; nil where the job names them
	found    *pose.Found    // what a search for the best way to lie found
	findings []finding.Finding
	noPics   bool

	surveyVerdict string

	guessUnit bool // the mesh's unit is guessed by its size where its file states none
	unasked   bool // how the model lies was not said, and is compared with all the same
	loose     bool // the model does not lie in the bar: reach means nothing

	mended       *mend.Result // nil where nothing was asked for
	unmended     *survey.Report
	unmendedMesh *mesh.Mesh
	cure         *cure // nil where nothing has to be mended, or nothing helps

	surface   *cl.Surface
	turns     []geom.Turn
	views     []*reach.View
	stack     *stock.Stack      // the bar as the programs planned so far leave it
	finished  []corner.Earlier  // finishing cuts planned so far
	shares    *share.Comparison // of the last cut that leaves nothing
	cusps     *cusp.Result      // what finishing leaves between its passes; nil where nothing is finished
	lastRough int               // the last of the roughing programs; −1 where there are none
	roughed   *stock.Stack      // the bar as that one leaves it
	air       []engage.Way      // of the programs after it: how much of their way takes anything
	engaged   []engaged         // the roughing programs as replayed from their text
	steps     []step            // cutters on sides, in the order they are run
	cuts      []cut             // in the same order; none where nothing is cut
}

// cut is one program before it is text, with what the report wants to know of its planning.
type cut struct {
	path.Program
	cutter    cutter.Cutter
	stepover  float64              // mm, widest
	passes    string               // how finishing passes run
	corners   bool                 // only what other cutters left
	others    []report.OtherSecond // by the trial, as trial is for the way taken
	trial     float64
	finest    float64 // mm, where it is finer on slopes; 0: everywhere the same
	stepdown  float64
	allowance float64 // mm left on the model
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
	texts, survey, err := r.surveyAndPlan(ctx)
	if err != nil {
		r.clock.done()
		return nil, err
	}
	out, err := r.prove(ctx, texts)
	if err == nil {
		out.Survey = survey
	}
	return out, err
}

// surveyAndPlan looks at the model as it lies before any path is planned for it.
func (r *run) surveyAndPlan(ctx context.Context) ([]Text, *SurveyOutcome, error) {
	if err := r.measure(ctx); err != nil {
		return nil, nil, err
	}
	if a := r.seen.left; a != nil && a.Area[reach.Reached] == 0 {
		return nil, nil, r.job.Bad("reach", "sides", "sides: no cutter touches any of the model's surface from these sides", "more sides, other cutters, or another way to lie: barwise survey "+r.job.File)
	}
	fits, err := r.smallest(ctx, r.job.Bar)
	if err != nil && !finding.IsInput(err) {
		return nil, nil, err
	}
	if err := r.tryMends(ctx); err != nil {
		return nil, nil, err
	}
	survey, err := r.outcome(ctx, r.surveyFacts(fits, nil))
	if err != nil {
		return nil, nil, err
	}
	if err := survey.settle(); err != nil {
		return nil, nil, err
	}
	r.seen.slim()
	r.surveyVerdict = string(survey.Facts.Verdict)
	r.findings = append(r.findings, r.surveyed()...)
	texts, err := r.programs(ctx)
	return texts, survey, err
}

func quiet(say Progress) Progress {
	if say == nil {
		return func(string, int, int) {}
	}
	return say
}

// prepare reads the model, mends it where that is asked for, looks at it and lays it in the bar.
func (r *run) prepare(ctx context.Context) error {
	r.findings = append(r.findings, r.job.Findings...)
	err := r.clock.time("read", func() error { return r.open(ctx) })
	if err != nil {
		return err
	}
	if err := refuse(r.job.Model, r.look.Findings); err != nil {
		return err
	}
	if r.job.Lay.Best {
		if err := r.clock.time("search", func() error { return r.lieBest(ctx) }); err != nil {
			return err
		}
	}
	return r.clock.time("place", func() error { return r.lay(ctx) })
}

// open reads the mesh, unless it was read before, and looks at it.
func (r *run) open(ctx context.Context) (err error) {
	if r.model == nil {
		r.say("reading "+r.job.Model, 0, 0)
		if r.model, r.info, err = survey.Open(ctx, r.job.Model, mesh.Limits{Triangles: r.job.MostTriangles}); err != nil {
			return err
		}
	}
	p := survey.Params{UnitMM: r.job.ModelUnit, AcceptOpen: r.job.AcceptOpen}
	if r.job.ModelOwn && (r.info.UnitMM > 0 || r.guessUnit) {
		p.UnitMM = 0
	}
	r.say("looking the mesh over", 0, 0)
	if r.look, err = survey.Look(ctx, r.model, r.info, p); err != nil {
		return err
	}
	if r.job.Mend != nil {
		if err := r.mend(ctx, p); err != nil {
			return err
		}
	}
	r.findings = append(r.findings, r.look.Findings...)
	return nil
}

// mend repairs the mesh as the job asks, and looks at it again.
func (r *run) mend(ctx context.Context, p survey.Params) (err error) {
	r.say("mending", 0, 0)
	r.unmended, r.unmendedMesh = r.look, r.model
	if r.mended, err = mend.Mend(ctx, r.model, mendParams(r.job.Mend, r.look.UnitMM)); err != nil {
		return err
	}
	r.model = r.mended.Mesh
	p.UnitMM = r.look.UnitMM
	if r.look, err = survey.Look(ctx, r.model, r.info, p); err != nil {
		return err
	}
	// where the unit came from is what the first look found
	r.look.Unit, r.look.UnitFrom, r.look.Guess = r.unmended.Unit, r.unmended.UnitFrom, r.unmended.Guess
	for i, c := range r.mended.Changes {
		if i == mostMarks {
			r.note("mesh-mended", fmt.Sprintf("%d more changes were made", len(r.mended.Changes)-i), "survey.json lists them")
			break
		}
		r.findings = append(r.findings, finding.Finding{Code: "mesh-mended", Severity: finding.Note,
			Where: placeText(c.At.Mul(r.look.UnitMM)), Text: c.Text, Hint: "the survey page shows where; the mended mesh lies beside the report"})
	}
	return nil
}

// mendParams are a job's mends in the mesh's own unit.
func mendParams(m *job.Mend, unitMM float64) mend.Params {
	return mend.Params{Weld: m.Weld / unitMM, Orient: m.Orient, Duplicates: m.Twins, Fill: m.Fill / unitMM, Specks: m.Specks / unitMM, UnitMM: unitMM}
}

// lay places the model and, where the job asks for it, refines it at the scale it has come to.
func (r *run) lay(ctx context.Context) error {
	r.say("placing", 0, 0)
	if err := r.place(ctx, r.model); err != nil {
		return err
	}
	if f := r.job.Refine; f != nil {
		r.say("refining", 0, 0)
		r.coarse = r.placed
		out, err := smooth.Refine(ctx, r.model, smooth.Params{CreaseDeg: r.job.Survey.CreaseDeg, Chord: f.Chord / r.placed.Scale, KinkDeg: f.KinkDeg, Most: f.Most})
		if err != nil {
			return err
		}
		if err := r.place(ctx, out.Mesh); err != nil {
			return err
		}
		r.refineFindings(out)
	}
	r.findings = append(r.findings, r.placed.Findings...)
	return nil
}

// refineFindings says what refining came to.
func (r *run) refineFindings(out *smooth.Result) {
	k := r.placed.Scale
	add := func(sev finding.Severity, text, hint string) {
		r.findings = append(r.findings, finding.Finding{Code: "mesh-refined", Severity: sev, Text: text, Hint: hint})
	}
	add(finding.Note, fmt.Sprintf("the surface was refined from %d to %d triangles; none of it moved by more than %.3g mm",
		len(r.model.Triangles), len(out.Mesh.Triangles), out.MovedMM*k), "the survey page shows facets before and after")
	if out.Short {
		add(finding.Warning, fmt.Sprintf("refining stopped at %d triangles before it was as fine as asked", len(out.Mesh.Triangles)),
			"allow more with refine.most, or ask for less")
	}
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
		if r.surface == nil {
			r.surface = cl.NewSurface(r.placed.Mesh)
		}
		for _, d := range r.job.Sides {
			r.turns = append(r.turns, geom.TurnDeg(d))
		}
		r.stack = stock.New(r.job.Bar, r.job.Sides, stackPitch(r.job))
		return ctx.Err()
	}); err != nil {
		return nil, err
	}
	if err := r.sequence(); err != nil {
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

// arcTolerance is how far an arc may lie from the straight moves it stands for: a small part of what the cut
// leaves on the model, nothing where it leaves nothing.
func arcTolerance(c *cut) float64 { return min(0.005, c.allowance/20) }

// text writes cut i as a program.
func (r *run) text(i int) (Text, error) {
	c := &r.cuts[i]
	kind := "finish"
	if c.rough {
		kind = "rough"
	}
	c.Name = fmt.Sprintf("%02d-%s-%s-%s.nc", i+1, kind, sideFile(c.SideDeg), c.Cutter)
	m := r.job.Machine
	p := c.Program
	if tol := arcTolerance(c); m.Dialect.Arcs && tol > 0 {
		p.Moves = arc.Fit(p.Start, p.Moves, arc.Params{Tolerance: tol})
	}
	var b bytes.Buffer
	err := gcode.Write(&b, p, gcode.Params{
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
