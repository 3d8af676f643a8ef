package barwise

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"path/filepath"
	"slices"
	"strings"

	"barwise/finding"
	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/threemf"
	"barwise/job"
	"barwise/plan/place"
	"barwise/plan/pose"
	"barwise/report"
	"barwise/shop/bar"
	"barwise/unit"
)

// SurveyOptions says how far a survey goes.
type SurveyOptions struct {
	Say        Progress
	Search     bool // look for better ways to lie, and compare numbers of sides
	NoPictures bool
}

// SurveyOutcome is what a survey found.
type SurveyOutcome struct {
	Facts  *report.Survey
	Page   *report.SurveyPage
	Draft  []byte     // a job to begin with; nil where the survey was of a job
	Mended *mesh.Mesh // nil where nothing was mended; in the file's unit
	unit   string     // of Mended, by the name that a 3MF has for it
	html   []byte     // the page as it will be written, once settled
}

// settle writes the page for good and lets go of its pictures, so that planning has their memory.
func (o *SurveyOutcome) settle() error {
	var b bytes.Buffer
	if err := o.Page.WriteHTML(&b); err != nil {
		return err
	}
	o.html, o.Page = b.Bytes(), nil
	return nil
}

// Blocked reports whether something stands against cutting the model as it is.
func (o *SurveyOutcome) Blocked() bool {
	w, ok := finding.Worst(o.Facts.Findings)
	return ok && w == finding.Blocking
}

// Survey says whether a job's model is worth cutting: how sound it is, how its facets and walls compare
// with what is asked, what the job's cutters reach, and how it would better lie. What stands against
// cutting is in the findings; the error is a *finding.InputError where the job or the file cannot be
// read, and ctx's where it was cancelled.
func Survey(ctx context.Context, j *job.Job, o SurveyOptions) (*SurveyOutcome, error) {
	r := newRun(j, Options{Say: o.Say, NoPictures: o.NoPictures})
	out, err := r.survey(ctx, o, nil)
	r.took(out)
	return out, err
}

// took notes how long the stages took.
func (r *run) took(out *SurveyOutcome) {
	stages, peak := r.clock.done()
	if out != nil {
		out.Facts.Stages, out.Facts.PeakMemoryMB = stages, peak
	}
}

// SurveyModel is Survey for a bare model: the bar, the way it lies and the rest of a job are chosen where
// the choices leave them open, and written down as a job to begin with.
func SurveyModel(ctx context.Context, c Choices, o SurveyOptions) (out *SurveyOutcome, err error) {
	w, err := parseBar(c.Bar)
	if err != nil {
		return nil, err
	}
	along := c.Along
	if along == "" || along == bestLie {
		along = "+z"
	}
	j, err := c.read(c.draft(someBar(bar.Square), c.layLine(along, c.Turn)))
	if err != nil {
		return nil, err
	}
	r := newRun(j, Options{Say: o.Say, NoPictures: o.NoPictures})
	defer func() { r.took(out) }()
	r.guessUnit = c.ModelUnits == ""
	if err := r.clock.time("read", func() error { return r.open(ctx) }); err != nil {
		return nil, err
	}
	if c.ModelUnits == "" {
		c.ModelUnits = unitName(r.look.UnitMM)
	}
	if r.shapeless() {
		return r.survey(ctx, o, nil)
	}
	if err := r.chooseLie(ctx, &c, w, o); err != nil {
		return nil, err
	}
	draft, fits, err := r.chooseBar(ctx, c, w)
	if err != nil {
		return nil, err
	}
	if r.job, err = c.read(draft); err != nil {
		return nil, err
	}
	if out, err = r.survey(ctx, o, fits); err == nil {
		out.Draft = draft
		out.placeIn(c.draftName(), filepath.Join(c.Folder, draftFile))
	}
	return out, err
}

// placeIn has the findings speak of the draft by the name under which it is written.
func (o *SurveyOutcome) placeIn(from, to string) {
	for i, f := range o.Facts.Findings {
		o.Facts.Findings[i].Where = strings.Replace(f.Where, from, to, 1)
	}
	for i, t := range o.Facts.First {
		o.Facts.First[i] = strings.Replace(t, from, to, 1)
	}
}

// unitName is how a job writes a unit of so many mm.
func unitName(mm float64) string {
	for name, v := range map[string]float64{"mm": 1, "in": 25.4, "m": 1000, "um": 0.001, "cm": 10, "ft": 304.8} {
		if v == mm {
			return name
		}
	}
	return ""
}

// chooseLie settles which way a bare model lies: as it was asked for, or the best that is found.
func (r *run) chooseLie(ctx context.Context, c *Choices, w barWords, o SurveyOptions) error {
	if !o.Search && c.Along != bestLie {
		c.Along = or(c.Along, "+z")
		return nil
	}
	full, j := r.job, *r.job
	if w.whole == "" {
		// what is not known of the bar is left open
		b, err := w.section(j.Units)
		if err != nil {
			return err
		}
		j.Bar = b
		j.Bar.Grip = grip(b)
		if c.Sides == "" {
			j.Sides = b.Angles()
		}
	}
	r.job = &j
	var asked *pose.Pose
	if c.Along != bestLie {
		p := givenPose(j.Lay)
		asked, r.unasked = &p, c.Along == ""
	}
	err := r.clock.time("search", func() (err error) {
		r.found, err = r.searchPoses(ctx, asked)
		return err
	})
	r.job = full
	if err != nil || c.Along != "" && c.Along != bestLie {
		return err
	}
	c.Along = "+z"
	if len(r.found.Best) > 0 {
		best := r.found.Best[0].Pose
		c.Along, c.Turn = dirText(best.Dir), unit.Number(best.TurnDeg, 3)
	}
	return nil
}

// bestLie is the word for a way to lie that is to be looked for.
const bestLie = "best"

// chooseBar settles the bar of a bare model and writes the job.
func (r *run) chooseBar(ctx context.Context, c Choices, w barWords) ([]byte, []place.Fit, error) {
	lay := func() string { return c.layLine(c.Along, c.Turn) }
	b, err := w.section(r.job.Units)
	if err != nil {
		return nil, nil, err
	}
	if w.whole != "" {
		return c.draft(b, lay()), nil, nil
	}
	// what the lay says is read by the job's own reader
	trial, err := c.read(c.draft(someBar(b.Shape), lay()))
	if err != nil {
		return nil, nil, err
	}
	keep := r.job
	r.job = trial
	b.Grip = grip(b)
	fits, err := r.smallest(ctx, b)
	r.job = keep
	if err != nil && !finding.IsInput(err) {
		return nil, nil, err
	}
	f := pick(fits, b.Shape, trial.Units)
	switch {
	case f != nil && b.Width > 0:
		// the section is given: its length is what the model needs all the same
		b.Length = f.Length.Total
	case f != nil:
		b = f.Params.Bar
		if f.Params.TurnDeg != trial.Lay.TurnDeg {
			c.Turn = unit.Number(f.Params.TurnDeg, 3)
		}
	default:
		// none holds it, or it cannot be hung on a spigot: the rest is looked at all the same
		r.job = trial
		s := r.laidSize()
		r.job = keep
		if b.Width == 0 {
			b.Width = math.Ceil(min(max(s.X, s.Y, s.Z), mostBar) + 2*barMargin)
			b.Height = b.Width
			b.Grip = grip(b)
		}
		b.Length = math.Ceil(b.Grip + min(max(s.X, s.Y, s.Z), mostBar) + 20)
	}
	if w.size == "" && w.width == "" {
		b = r.reachable(c, b, lay())
	}
	return c.draft(b, lay()), fits, nil
}

// reachable is a bar that the cutters reach the axis of: b, or a thinner one, which is said.
func (r *run) reachable(c Choices, b bar.Bar, lay string) bar.Bar {
	for q := b; q.Width >= leastGrip && q.Height >= leastGrip; q.Width, q.Height = math.Floor(0.95*q.Width), math.Floor(0.95*q.Height) {
		_, err := c.read(c.draft(q, lay))
		var e *finding.InputError
		if errors.As(err, &e) && e.Code == "job-reach" {
			continue
		}
		if q.Width != b.Width {
			r.note("cutters-short", fmt.Sprintf("these cutters reach the axis of a bar of up to %.3g mm, the model needs a larger one", q.Width), "make it smaller with --scale or --height, or name longer cutters")
		}
		return q
	}
	return b
}

// pick is the fit of a shape and system, or else of the shape, or else any.
func pick(fits []place.Fit, shape bar.Shape, sys unit.System) *place.Fit {
	for _, ok := range []func(s bar.Standard) bool{
		func(s bar.Standard) bool { return s.Shape == shape && s.System == sys },
		func(s bar.Standard) bool { return s.Shape == shape },
		func(bar.Standard) bool { return true },
	} {
		for i := range fits {
			if ok(fits[i].Standard) {
				return &fits[i]
			}
		}
	}
	return nil
}

// someBar will do until the model is known.
func someBar(shape bar.Shape) bar.Bar {
	return bar.Bar{Shape: shape, Width: 10, Height: 10, Length: 80, Grip: leastGrip, Block: bar.Square}
}

// smallest are the smallest standard bars for the model as the job lays it. Of b the grip counts, and its
// size where it is given.
func (r *run) smallest(ctx context.Context, b bar.Bar) ([]place.Fit, error) {
	p := r.placeParams()
	if p.Fit {
		return nil, nil // its size follows from its bar
	}
	p.Bar = bar.Bar{Grip: b.Grip, Block: b.Block}
	if p.Margin == 0 {
		p.Margin = barMargin
	}
	if p.Spigot != nil && b.Width == 0 {
		// a spigot that follows from the bar's size is not known yet
		s := *p.Spigot
		size := r.laidSize()
		s.Radius = min(s.Radius, stdSpigotPart*min(size.X, size.Y, size.Z)/2)
		s.Fillet = min(s.Fillet, p.Gap/4)
		p.Spigot = &s
	}
	return place.Smallest(ctx, r.model, p, place.SmallestParams{Shapes: []bar.Shape{bar.Square, bar.Hex, bar.Round, bar.Rect}, Parting: parting})
}

// laidSize is what the model measures at its scale, turned as the job lays it, mm.
func (r *run) laidSize() geom.Vec3 {
	p := givenPose(r.job.Lay)
	to := place.Toward(p.Dir, p.TurnDeg)
	to.Scale = r.look.UnitMM * r.job.Lay.Scale
	s := r.model.Map(to.Apply).Box().Size()
	if h := r.job.Lay.Height; h > 0 && s.Y > 0 {
		s = s.Mul(h / s.Y)
	}
	return s
}

// What a survey takes for granted: what a bar's skin and its size may be off, the saw's cut and a little,
// and a spigot's part of the bar's size.
const (
	barMargin     = 0.5 // mm (typical, no source)
	mostBar       = 100 // mm across, where the model says nothing
	parting       = 2.0 // mm (typical, no source)
	stdSpigotPart = 0.3
)

// shapeless reports whether the mesh is no more than a sheet or a few triangles, of which nothing can be
// measured as of a body.
func (r *run) shapeless() bool {
	return slices.ContainsFunc(r.look.Findings, func(f finding.Finding) bool {
		return f.Severity == finding.Blocking && slices.Contains([]string{"mesh-flat", "mesh-few", "mesh-not-finite"}, f.Code)
	})
}

// survey looks at everything. What cannot be looked at, because the model does not fit or is no body, is
// left out and said.
func (r *run) survey(ctx context.Context, o SurveyOptions, fits []place.Fit) (*SurveyOutcome, error) {
	if r.look == nil {
		r.findings = append(r.findings, r.job.Findings...)
		if err := r.clock.time("read", func() error { return r.open(ctx) }); err != nil {
			return nil, err
		}
	}
	if r.shapeless() {
		return r.outcome(ctx, r.bareFacts())
	}
	if err := r.searchUnlessDone(ctx, o); err != nil {
		return nil, err
	}
	if err := r.clock.time("place", func() error { return r.layOrStand(ctx) }); err != nil {
		return nil, err
	}
	if fits == nil {
		var err error
		if fits, err = r.smallest(ctx, r.job.Bar); err != nil && !finding.IsInput(err) {
			return nil, err
		}
	}
	if err := r.measure(ctx); err != nil {
		return nil, err
	}
	if err := r.tryMends(ctx); err != nil {
		return nil, err
	}
	trials, err := r.trials(ctx)
	if err != nil {
		return nil, err
	}
	return r.outcome(ctx, r.surveyFacts(fits, trials))
}

func (r *run) searchUnlessDone(ctx context.Context, o SurveyOptions) error {
	if r.found != nil || !o.Search && !r.job.Lay.Best {
		return nil
	}
	return r.clock.time("search", func() error {
		if r.job.Lay.Best {
			return r.lieBest(ctx)
		}
		p := givenPose(r.job.Lay)
		var err error
		r.found, err = r.searchPoses(ctx, &p)
		return err
	})
}

// layOrStand lays the model into the bar; where it does not fit, or has no inside by which to be held,
// it is stood up by itself so that the rest can still be looked at.
func (r *run) layOrStand(ctx context.Context) error {
	err := r.lay(ctx)
	var e *finding.InputError
	if err == nil || !errors.As(err, &e) {
		return err
	}
	if h := r.look.Health; !h.Closed || h.Volume > 0 { // of one inside out it is known why nothing meets it
		r.findings = append(r.findings, finding.Finding{Code: e.Code, Severity: finding.Blocking, Where: e.Where, Text: e.Text, Hint: e.Hint})
	}
	p := givenPose(r.job.Lay)
	to := place.Toward(p.Dir, p.TurnDeg)
	to.Scale = r.look.UnitMM * r.job.Lay.Scale
	if h, s := r.job.Lay.Height, r.model.Map(to.Apply).Box().Size().Y; h > 0 && s > 0 {
		to.Scale *= h / s
	}
	box := r.model.Map(to.Apply).Box()
	c := box.Centre()
	stub := r.job.StubY() + r.job.Lay.Gap
	to.Shift = geom.Vec3{X: -c.X, Y: stub - box.Min.Y, Z: -c.Z}
	m := r.model.Map(to.Apply)
	r.placed = &place.Placed{Mesh: m, ModelTriangles: len(m.Triangles), Box: m.Box(), Y0: m.Box().Min.Y, Y1: m.Box().Max.Y, StubY: r.job.StubY(), Scale: to.Scale, To: to}
	r.loose = true
	return nil
}

// outcome draws the pictures and puts everything together.
func (r *run) outcome(ctx context.Context, facts *report.Survey) (*SurveyOutcome, error) {
	out := &SurveyOutcome{Facts: facts, Page: &report.SurveyPage{Survey: facts}}
	if r.mended != nil && r.mended.Changed() {
		out.Mended, out.unit = r.mended.Mesh, threemfUnits[r.look.UnitMM]
		if out.unit == "" {
			out.Mended, out.unit = scaled(r.mended.Mesh, r.look.UnitMM), "millimeter"
		}
	}
	if !r.noPics && r.seen != nil {
		if err := r.clock.time("pictures", func() error {
			r.say("drawing", 0, 0)
			return r.drawSurvey(ctx, out.Page)
		}); err != nil {
			return nil, err
		}
	}
	return out, ctx.Err()
}

// threemfUnits are a 3MF's names of units by their mm (3MF Core Specification 1.4, 3.4).
var threemfUnits = map[float64]string{0.001: "micron", 1: "millimeter", 10: "centimeter", 25.4: "inch", 304.8: "foot", 1000: "meter"}

// Files of a survey's folder.
const (
	surveyJSON     = "survey.json"
	surveyHTML     = "survey.html"
	surveyPictures = "survey-pictures"
	draftFile      = "job.yaml"
	mendedFile     = "mended.3mf"
)

// Write puts the survey into dir, all of it or nothing. Other files in dir stay.
func (o *SurveyOutcome) Write(ctx context.Context, dir string) error {
	return put(ctx, dir, []string{surveyPictures, mendedFile, draftFile, surveyJSON, surveyHTML}, func(tmp string) error {
		if err := writePictures(ctx, filepath.Join(tmp, surveyPictures), o.Page.Pictures()); err != nil {
			return err
		}
		if o.Draft != nil {
			if err := writeSynced(filepath.Join(tmp, draftFile), o.Draft); err != nil {
				return err
			}
		}
		return o.writePages(tmp)
	})
}

func (o *SurveyOutcome) writePages(dir string) error {
	pages := map[string]func(io.Writer) error{surveyJSON: o.Facts.WriteJSON, surveyHTML: func(w io.Writer) error { _, err := w.Write(o.html); return err }}
	if o.html == nil {
		pages[surveyHTML] = o.Page.WriteHTML
	}
	if o.Mended != nil {
		pages[mendedFile] = func(w io.Writer) error { return threemf.Write(w, o.Mended, o.unit) }
	}
	return writePages(dir, pages)
}
