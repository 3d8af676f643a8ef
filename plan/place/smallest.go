package place

import (
	"context"
	"fmt"
	"math"
	"sync"

	"barwise/finding"
	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/shop/bar"
	"barwise/unit"
)

// SmallestParams says which bars to look at.
type SmallestParams struct {
	Shapes   []bar.Shape   // none: square, hexagonal, round
	Systems  []unit.System // none: both
	FreeTurn bool          // the model may be turned about the bar's axis where that makes the bar smaller
	Parting  float64       // mm of length that parting and sawing take
	Step     float64       // mm that lengths are a whole number of; 0: bar.CutLength of the system
}

// Fit is the smallest standard bar of one shape and system that holds the model.
type Fit struct {
	Standard bar.Standard
	Params   Params // with this bar and turn Place does not refuse the model

	NeedX, NeedZ float64       // mm that the bar has to measure across X and Z at index 0, margins included; all round for others than rectangular bars
	Next         *bar.Standard // the next smaller size of the list; nil: there is none
	Lacks        float64       // mm that Next lacks across flats, whatever the turn where that is free

	Length      Lengths
	Volume      float64 // mm³ of bar
	ModelVolume float64 // mm³

	Y0, Y1, StubY float64
	Clear         []Clear // room to each flat; one entry for a round bar
	LeastClear    float64
	Spigot        *Held
	Contact       float64

	Hull     []geom.Vec2 // convex hull of the model seen along the bar, mm: X is x and Y is z of the part frame, counter-clockwise from +X to +Z
	Outlines [2]Outline  // the model seen from the sides of index angle 0 and 90

	Findings []finding.Finding
}

// Lengths is what a bar's length is made of, mm.
type Lengths struct {
	Grip, Stand float64
	Gap         float64 // spigot's free length; below 0 how far the model's own base stands in the stub
	Model       float64
	End         float64 // beyond the model
	Parting     float64
	Spare       float64 // to the next length that bars are cut to
	Total       float64
}

// Smallest returns for each shape and system the least standard bar that holds the model as p lays it,
// with its margin, and is long enough; shapes of which no listed size does are left out. Of p.Bar only
// Grip and Block count, and Fit is not allowed: the model has its size. A free turn is chosen as if the
// model were centred. An *finding.InputError says why no bar does at all.
func Smallest(ctx context.Context, m *mesh.Mesh, p Params, want SmallestParams) ([]Fit, error) {
	q, err := p.checked()
	if err != nil {
		return nil, err
	}
	if err := want.checked(q); err != nil {
		return nil, err
	}
	if len(m.Triangles) == 0 {
		return nil, mesh.Empty("model")
	}
	s, err := newSearch(m, q, want)
	if err != nil {
		return nil, err
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	return s.run(ctx)
}

func (w *SmallestParams) checked(p Params) error {
	if p.Fit {
		return finding.Bad("placement", "fit", "a model that is to fit its bar has no size of its own to find a bar for", "give a scale or a height")
	}
	if len(w.Shapes) == 0 {
		w.Shapes = []bar.Shape{bar.Square, bar.Hex, bar.Round}
	}
	if len(w.Systems) == 0 {
		w.Systems = []unit.System{unit.MM, unit.Inch}
	}
	for _, v := range [...]struct {
		name string
		v    float64
	}{{"parting", w.Parting}, {"step", w.Step}, {"grip", p.Bar.Grip}} {
		if !(v.v >= 0) || math.IsInf(v.v, 1) {
			return finding.Bad("placement", v.name, fmt.Sprintf("%g: 0 or more is allowed", v.v), "")
		}
	}
	return nil
}

// search is what all lists have in common: the model at its size, not yet turned.
type search struct {
	mesh    *mesh.Mesh
	p       Params
	want    SmallestParams
	section section // before any turn
	given   section // turned by p.TurnDeg, about which a better turn is looked for
	long    float64 // mm along the bar
	volume  float64 // mm³
}

func newSearch(m *mesh.Mesh, p Params, want SmallestParams) (*search, error) {
	to := Toward(p.Dir, 0)
	f, pts := look(m, to)
	scale, err := p.scale(f)
	if err != nil {
		return nil, err
	}
	h := hull(pts)
	for i, q := range h {
		h[i] = q.Mul(scale)
	}
	s := &search{mesh: m, p: p, want: want, section: newSection(h), long: scale * f.box.Size().Y}
	s.given = newSection(s.section.turned(p.TurnDeg))
	o := f.box.Centre()
	for i := range m.Triangles {
		a, b, c := m.Corners(i)
		s.volume += to.Apply(a).Sub(o).Dot(to.Apply(b).Sub(o).Cross(to.Apply(c).Sub(o)))
	}
	s.volume *= float64(scale*scale) * scale / 6
	return s, nil
}

func (s *search) run(ctx context.Context) ([]Fit, error) {
	n := len(s.want.Systems)
	type result struct {
		fit *Fit
		err error
	}
	all := make([]result, len(s.want.Shapes)*n)
	var wg sync.WaitGroup
	for i := range all {
		wg.Go(func() {
			all[i].fit, all[i].err = s.list(ctx, s.want.Shapes[i/n], s.want.Systems[i%n])
		})
	}
	wg.Wait()
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	var fits []Fit
	var refused error
	for _, r := range all {
		switch {
		case r.err != nil && !finding.IsInput(r.err):
			return nil, r.err
		case r.err != nil && refused == nil:
			refused = r.err
		case r.fit != nil:
			fits = append(fits, *r.fit)
		}
	}
	if len(fits) > 0 {
		return fits, nil
	}
	if refused != nil {
		return nil, refused
	}
	x, z := s.across(bar.Square, s.p.TurnDeg)
	return nil, finding.Bad("model-too-large", "bar", fmt.Sprintf("the model needs %.4g mm across X and %.4g mm across Z: no bar listed is that large", x, z),
		"make the model smaller, or give the bar's size")
}

// list finds the fit of one shape and system; nil where no size does.
func (s *search) list(ctx context.Context, sh bar.Shape, sys unit.System) (*Fit, error) {
	sizes := bar.Standards(sh, sys)
	free := s.p.TurnDeg
	if s.want.FreeTurn && sh != bar.Rect && sh != bar.Round {
		deg, _ := s.given.least(sh, bounds(sh, 0, 0))
		free += deg
	}
	var next *bar.Standard
	lacks := 0.0
	for i, size := range sizes {
		if s.want.FreeTurn && sh == bar.Rect {
			deg, _ := s.given.least(sh, bounds(sh, size.Width, size.Height))
			free = s.p.TurnDeg + deg
		}
		least := math.Inf(1)
		for _, w := range s.ways(size) {
			if turn, ok := s.turn(w, free); ok {
				return s.fit(ctx, w, turn, next, lacks)
			}
			least = min(least, s.lack(w, s.p.TurnDeg), s.lack(w, free))
		}
		next, lacks = &sizes[i], least
		if err := ctx.Err(); err != nil {
			return nil, err
		}
	}
	return nil, nil
}

// ways are the two ways a rectangular bar can lie, which are the same where the turn is free.
func (s *search) ways(size bar.Standard) []bar.Standard {
	if size.Shape != bar.Rect || s.want.FreeTurn {
		return []bar.Standard{size}
	}
	edge := size
	edge.Width, edge.Height = size.Height, size.Width
	return []bar.Standard{size, edge}
}

// across is how much a bar must measure across X and Z to hold the model at a turn.
func (s *search) across(sh bar.Shape, turn float64) (x, z float64) {
	h := s.section.turned(turn)
	p := s.p
	switch sh {
	case bar.Round:
		c, _ := enclosing(h)
		c = c.Sub(geom.Vec2{X: p.ShiftX, Y: p.ShiftZ})
		for _, q := range h {
			x = max(x, 2*q.Sub(c).Len())
		}
		z = x
	case bar.Hex:
		flats := bar.Bar{Shape: sh}.Flats()
		c, r := centreIn(h, flats), 0.0
		for _, f := range flats {
			r = max(r, support(h, f.Deg)-along(c, f.Deg)+along(geom.Vec2{X: p.ShiftX, Y: p.ShiftZ}, f.Deg))
		}
		x, z = 2*r, 2*r
	default:
		x = support(h, 90) + support(h, 270) + 2*math.Abs(p.ShiftX)
		z = support(h, 0) + support(h, 180) + 2*math.Abs(p.ShiftZ)
	}
	x, z = x+2*p.Margin, z+2*p.Margin
	if p.Spigot != nil {
		w := -2 * p.Spigot.room(bar.Bar{Shape: sh})
		x, z = max(x, w), max(z, w)
	}
	if sh == bar.Square {
		x = max(x, z)
		z = x
	}
	return x, z
}

// lack is how much a size lacks across flats at a turn; 0 or less where it holds the model.
func (s *search) lack(size bar.Standard, turn float64) float64 {
	x, z := s.across(size.Shape, turn)
	return max(x-size.Width, z-size.Height)
}

// turn chooses the turn for a size: as asked where that does, else free, as round a number of degrees
// as does. ok is false where the size does not hold the model.
func (s *search) turn(size bar.Standard, free float64) (deg float64, ok bool) {
	holds := func(deg float64) bool { return s.lack(size, deg) <= slack }
	if holds(s.p.TurnDeg) {
		return s.p.TurnDeg, true
	}
	if !holds(free) {
		return 0, false
	}
	for _, r := range [...]struct{ step, parts float64 }{{15, 1}, {5, 1}, {1, 1}, {1, 10}, {1, 100}, {1, 1000}} {
		if deg := math.Round(free*r.parts/r.step) * r.step / r.parts; holds(deg) {
			return deg, true
		}
	}
	return free, true
}

// fit lays the model into the size chosen.
func (s *search) fit(ctx context.Context, size bar.Standard, turn float64, next *bar.Standard, lacks float64) (*Fit, error) {
	l := s.length(size.System)
	p := s.p
	p.TurnDeg = turn
	block := p.Bar.Block
	if block != bar.Hex {
		block = bar.Square
	}
	p.Bar = size.Bar(l.Total, p.Bar.Grip, block)
	o, err := Place(ctx, s.mesh, p)
	if err != nil {
		return nil, err
	}
	f := &Fit{
		Standard: size, Params: p, Next: next, Lacks: lacks, Length: l,
		Volume: p.Bar.Area() * l.Total, ModelVolume: s.volume,
		Y0: o.Y0, Y1: o.Y1, StubY: o.StubY, Clear: o.Clear, LeastClear: o.LeastClear, Spigot: o.Spigot, Contact: o.Contact,
		Findings: o.Findings, Hull: s.section.turned(turn), Outlines: [2]Outline{o.Outline(0), o.Outline(90)},
	}
	for i, q := range f.Hull {
		f.Hull[i] = q.Add(geom.Vec2{X: o.To.Shift.X, Y: o.To.Shift.Z})
	}
	f.NeedX, f.NeedZ = s.across(size.Shape, turn)
	return f, nil
}

// length adds up what the bar's length is made of.
func (s *search) length(sys unit.System) Lengths {
	p := s.p
	l := Lengths{Grip: p.Bar.Grip, Stand: p.Stand, Gap: p.Gap, Model: s.long, End: p.EndAllowance + p.Back, Parting: s.want.Parting}
	if p.Spigot == nil {
		l.Gap = -p.Embed
	}
	step := s.want.Step
	if step == 0 {
		step = bar.CutLength(sys)
	}
	sum := l.Grip + l.Stand + l.Gap + l.Model + l.End + l.Parting
	l.Total = float64(math.Ceil((sum-slack/2)/step) * step)
	l.Spare = l.Total - sum
	return l
}
