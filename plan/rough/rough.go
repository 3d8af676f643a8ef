// Package rough plans the roughing of one side with one cutter, level by level, cutting only where
// stock is left.
package rough

import (
	"context"
	"fmt"
	"math"

	"barwise/finding"
	"barwise/geom"
	"barwise/geom/field"
	"barwise/geom/field/iso"
	"barwise/path"
	"barwise/shop/cutter"
)

// Region bounds where the tip may go, mm of the side frame.
type Region struct{ XMin, XMax, YMin, YMax float64 }

// Input is what one side looks like to one cutter.
type Input struct {
	// Target is the lowest tip height at every node so that this cutter keeps its allowance off the
	// model; Empty where it misses the model. Nothing is cut outside its grid. A pitch of DC/20 to
	// DC/30 serves.
	Target *field.Field
	// Seen is the top of what is left in every column, Empty where nothing is; any grid. It should
	// reach R beyond the region, for what is not known to be there is taken for air.
	Seen   *field.Field
	Region Region
	Bottom float64 // height of the lowest level, mm
}

// Params is how to rough. Lengths in mm.
type Params struct {
	Cutter    cutter.Cutter
	Stepdown  float64 // most between two levels
	Stepover  float64 // between neighbouring passes; at most the cutter's radius half a stepdown above its tip
	Tolerance float64 // simplification of the passes along the model; 0: 0.01
	Helix     float64 // greatest radius of a helix; 0: 0.45·DC; never more than DC/2
	FollowMax float64 // longest way through cleared room at a level instead of a lift; 0: 4·DC
	// Climb cuts with the stock on the right of the motion. With a spindle that turns clockwise seen
	// from above (M3), a tooth on the right of the motion runs backward through the stock: it enters
	// at the thick end of the chip and leaves at nothing, which is climb milling.
	Climb bool
	// Engage, where more than 0, is the cap on the engagement angle, radians, and roughing is then at bounded
	// engagement: Stepover does not count, and a cap too narrow for Target's pitch, some 25° at DC/24, is refused. Deepest is the greatest depth along the axis of a level then, the
	// length of the flutes or what they may be asked for; levels that deep are followed, upward, by levels a
	// Stepdown apart where stock is left above them. 0: Stepdown.
	Engage, Deepest float64
	// BothWays lets a front be cut against Climb's sense where that saves a lift; walls keep to it.
	BothWays bool
}

// Level is what was done on one level.
type Level struct {
	Z         float64
	Passes    int
	Cut       float64 // mm of feed at this level that met stock
	Air       float64 // mm of feed, leads included, that met none
	Full      float64 // mm of Cut with stock on both sides of the cutter
	Over      float64 // mm of Cut over the cap on the engagement, entries left out; where there is one
	Entries   int     // helices and ramps into the material
	Unreached float64 // mm² of stock above the level that the target allows but was left: pockets too small to enter
}

// Output is the roughing of a side.
type Output struct {
	Passes  []path.Pass
	LevelOf []int // index into Levels of each pass
	Levels  []Level
	// Bound is how far, at most, a pass may lie inside the region that Target forbids, measured level
	// across a wall or, for cutters with a round end, along the normal. The fields say nothing between
	// their nodes; the forbidden region is a union of discs of the cutter's own radius or parallel
	// caps of it, so what can hide between allowed nodes is of second order in the pitch.
	Bound                float64 // mm
	Cut, Air, Full, Over float64 // sums over the levels
	Entries              int
	Unreached            float64      // mm², greatest of any level
	MaxDepth             float64      // greatest height of stock above the tip, mm, where it stands farther in than the grids' own error: slivers at the rim do not count
	Left                 *field.Field // what is left, by the planner's own account
	// Engaged is the length of cutting, mm, by engagement angle in whole degrees, entries left out; at bounded
	// engagement alone. It is the planner's own account: no evidence.
	Engaged []float64
}

// Plan makes the passes in cutting order. On each level the room A where Target allows the tip is
// cleared from the air inward: V is where the cutter is clear of stock; passes are the lines of equal
// way from V through A, one stepover apart, so that each takes a strip one stepover wide off the open
// side; a last pass runs along the model's walls. Room without a way to the air is opened by a helix
// in its widest place, or by a ramp along its wall. The planner's own copy of Seen is lowered pass by
// pass, and what is no longer stock is not cut again.
//
// With Params.Engage every level is peeled instead: a walker follows the stock from the clear room's outline
// at the engagement asked for, keeps off the walls, and leaves what stands before them to passes along them.
// Passes of one point that are marked Follow are ways through cleared room between others.
func Plan(ctx context.Context, in Input, p Params) (*Output, error) {
	if err := p.fill(in); err != nil {
		return nil, err
	}
	w := newWork(in, p)
	out := w.out
	if w.n == 0 {
		return out, nil
	}
	if err := w.all(ctx); err != nil {
		return nil, err
	}
	for _, l := range out.Levels {
		out.Cut, out.Air, out.Full = out.Cut+l.Cut, out.Air+l.Air, out.Full+l.Full
		out.Over += l.Over
		out.Entries += l.Entries
		out.Unreached = max(out.Unreached, l.Unreached)
	}
	out.Left = w.left
	return out, nil
}

// all cuts the levels.
func (w *work) all(ctx context.Context) error {
	if w.p.Engage > 0 {
		return w.deep(ctx)
	}
	for _, z := range levels(w.top(), w.in.Bottom, w.p.Stepdown) {
		if err := ctx.Err(); err != nil {
			return err
		}
		if err := w.level(ctx, z); err != nil {
			return err
		}
	}
	return nil
}

func (p *Params) fill(in Input) error {
	c := p.Cutter
	bad := func(text, hint string) error {
		return finding.Bad("rough-params", "roughing with "+c.ID, text, hint)
	}
	switch {
	case in.Target == nil || in.Seen == nil || len(in.Target.Z) == 0 || len(in.Seen.Z) == 0:
		return fmt.Errorf("rough: target and seen fields are needed")
	case !(c.R > 0):
		return bad(fmt.Sprintf("cutter radius is %g mm", c.R), "give the cutter a diameter")
	case max(c.Flat, c.Round) <= 0:
		return bad("the cutter ends in a point", "rough with a flat, bull or ball end")
	case !(p.Stepdown > 0) || !(p.Stepover > 0):
		return bad(fmt.Sprintf("stepdown %g mm, stepover %g mm; both must be more than 0", p.Stepdown, p.Stepover), "set them")
	case !(c.RampDeg > 0 && c.RampDeg < 90):
		return bad(fmt.Sprintf("ramp angle is %g°, allowed is more than 0 and less than 90", c.RampDeg), "set the cutter's ramp angle")
	}
	t := in.Target
	if r := t.DX / t.DY; !(r >= 0.5 && r <= 2) {
		return fmt.Errorf("rough: target pitches %g and %g mm differ by more than a factor of 2", t.DX, t.DY)
	}
	if re := radiusAt(c.Profile, p.sill()); !(p.Stepover <= re) {
		return bad(fmt.Sprintf("stepover %.3g mm is more than %.3g mm, the cutter's radius half a stepdown above its tip: ridges would stay", p.Stepover, re),
			"lower the stepover")
	}
	if err := p.bounded(in.Target.Grid); err != nil {
		return err
	}
	if p.Tolerance <= 0 {
		p.Tolerance = 0.01
	}
	if p.Helix <= 0 {
		p.Helix = 0.45 * c.DC()
	}
	p.Helix = min(p.Helix, c.R)
	if p.FollowMax <= 0 {
		p.FollowMax = 4 * c.DC()
	}
	return nil
}

// thinnest is the least width of cut that the planner's account can follow, in pitches: a round that takes no
// node off the stock is no progress to it.
const thinnest = 0.75

// bounded refuses a cap on the engagement that the target's grid is too coarse for.
func (p Params) bounded(g field.Grid) error {
	if p.Engage == 0 {
		return nil
	}
	const deg = math.Pi / 180
	width := thinnest*max(g.DX, g.DY) - hair
	aim := math.Acos(1 - min(max(width, 0)/radiusAt(p.Cutter.Profile, p.sill()), 2))
	least := min(aim+spare, 2*aim) // what aims so
	if !(p.Engage >= least && p.Engage <= math.Pi) {
		return finding.Bad("rough-params", "roughing with "+p.Cutter.ID,
			fmt.Sprintf("engagement angle is %.3g°, allowed is %.3g to 180: thinner cuts are lost between nodes %.3g mm apart", p.Engage/deg, math.Ceil(least/deg), max(g.DX, g.DY)),
			"allow a wider engagement, or 180° to rough level by level without a bound")
	}
	return nil
}

// sill is the height above a level up to which stock is left to the levels below: a rounded end leaves
// cusps and fillets. It is 0 for a flat end.
func (p Params) sill() float64 { return 0.5 * min(p.Stepdown, p.Cutter.Rim()) }

// radiusAt is the radius of the profile h above its tip.
func radiusAt(p cutter.Profile, h float64) float64 {
	if h >= p.Rim() {
		return p.R
	}
	lo, hi := 0.0, p.R
	for range 50 {
		if m := (lo + hi) / 2; p.Height(m) <= h {
			lo = m
		} else {
			hi = m
		}
	}
	return lo
}

// levels returns the heights bottom + k·step below top, from above; the last is bottom. They hang on
// the bottom and not on what is left, so that a later run on the same side meets the same levels.
func levels(top, bottom, step float64) []float64 {
	if !(top > bottom+1e-6) {
		return nil
	}
	n := int(math.Ceil((top-bottom)/step - 1e-6))
	out := make([]float64, n)
	for k := range out {
		out[k] = bottom + float64(step*float64(n-1-k))
	}
	return out
}

// work is the state of one run. Slices are over the nodes of grid, row after row.
type work struct {
	in  Input
	p   Params
	out *Output

	grid   field.Grid
	n      int
	region Region
	target []float32 // +Inf outside the target's grid
	left   *field.Field

	re     float64 // radius of the cutter at the sill
	slack  float64 // stock reached by less than this is not worth a pass: the grids know it no better
	margin float64 // kept between an entry from air and the stock
	cusp   float64 // height above the level from which stock counts: the sill and a hair
	front  float64 // simplification of passes in the open

	z     float64 // level at work
	wall  wall
	fresh []bool     // cut on this level
	stock *distances // squared distance to the nearest stock above the level
	ok    []bool     // the tip may go there, with room for simplification
	arrival
	trace *iso.Tracer
	lv    *Level
	tip   geom.Vec2 // where the last pass ended
	on    bool      // and that was on this level

	// at bounded engagement
	slab    *slab
	scratch *distances
	aim     float64        // engagement aimed at
	hard    float64        // engagement that no walker passes
	opened  map[int32]bool // zones that a helix was tried in
	shy     float64        // kept off the walls while peeling
	least   float64        // length of a walk, in radii, that is worth a pass
	trifle  float64        // thickness of stock along a wall that is not worth a pass
	narrow  bool           // something was left that is too narrow
	high    float64        // greatest height of stock when the level was begun
	finder  finder
}

func newWork(in Input, p Params) *work {
	t, s, r := in.Target, in.Seen, p.Cutter.R
	w := &work{in: in, p: p, out: &Output{}}
	pitch := max(t.DX, t.DY)
	w.re = radiusAt(p.Cutter.Profile, p.sill())
	w.slack = float64(0.75*max(s.DX, s.DY)) + float64(0.5*pitch)
	w.slack = min(w.slack, w.re/2)
	// more than a cell of the stock's grid and a little beside it, so that whoever judges the entry on
	// that grid finds it clear too
	w.margin = max(2*pitch, 0.1+float64(1.5*max(s.DX, s.DY)))
	w.cusp = float64(p.sill()) + 1e-3
	w.front = 2 * p.Tolerance
	g := in.Region
	w.region = Region{max(g.XMin, t.X0), min(g.XMax, t.X(t.NX-1)), max(g.YMin, t.Y0), min(g.YMax, t.Y(t.NY-1))}
	// the grid holds all stock the cutter can touch, and room beside it for entries
	far := 2*r + w.margin + float64(4*pitch)
	x0 := max(w.region.XMin-r, s.X0-far) - float64(2*pitch)
	x1 := min(w.region.XMax+r, s.X(s.NX-1)+far) + float64(2*pitch)
	y0 := max(w.region.YMin-r, s.Y0-far) - float64(2*pitch)
	y1 := min(w.region.YMax+r, s.Y(s.NY-1)+far) + float64(2*pitch)
	if w.region.XMin >= w.region.XMax || w.region.YMin >= w.region.YMax || x0 >= x1 || y0 >= y1 {
		return w
	}
	// its nodes are the target's
	i0, j0 := int(math.Floor((x0-t.X0)/t.DX)), int(math.Floor((y0-t.Y0)/t.DY))
	i1, j1 := int(math.Ceil((x1-t.X0)/t.DX)), int(math.Ceil((y1-t.Y0)/t.DY))
	w.grid = field.Grid{X0: t.X(i0), Y0: t.Y(j0), DX: t.DX, DY: t.DY, NX: i1 - i0 + 1, NY: j1 - j0 + 1}
	w.n = w.grid.Len()
	w.target = make([]float32, w.n)
	for j := 0; j < w.grid.NY; j++ {
		for i := 0; i < w.grid.NX; i++ {
			z := float32(math.Inf(1))
			if t.Inside(i+i0, j+j0) {
				z = t.At(i+i0, j+j0)
			}
			w.target[j*w.grid.NX+i] = z
		}
	}
	w.left = resample(s, w.grid)
	w.ok, w.fresh = make([]bool, w.n), make([]bool, w.n)
	w.wall.init(w)
	w.stock, w.trace = newDistances(w.grid), iso.NewTracer(w.grid)
	w.arrival.init(w.grid)
	if p.Engage > 0 {
		w.out.Engaged = make([]float64, bins)
	}
	w.out.Bound = float64(pitch*pitch)/max(p.Cutter.Flat, p.Cutter.Round) + 2*hairline
	return w
}

// top is the greatest height of stock that the region lets the cutter reach.
func (w *work) top() float64 {
	g, r := w.region, w.p.Cutter.R
	return float64(w.left.MaxAround(g.XMin-r, g.XMax+r, g.YMin-r, g.YMax+r))
}

func (w *work) level(ctx context.Context, z float64) error {
	w.out.Levels = append(w.out.Levels, Level{Z: z})
	w.lv = &w.out.Levels[len(w.out.Levels)-1]
	w.z, w.on = z, false
	clear(w.fresh)
	if !w.findStock() || !w.worth() {
		return nil
	}
	w.wall.find(w)
	if !w.room() {
		return nil
	}
	if w.slab != nil {
		w.slab.load(w, w.left.Z, false)
		w.findStock()
	}
	w.arrive()
	if err := w.clear(ctx); err != nil {
		return err
	}
	w.lv.Unreached = w.unreached()
	return nil
}

// findStock finds the distance to stock above the level; false where there is none.
func (w *work) findStock() bool {
	h := float32(w.z + w.cusp)
	return w.stock.toSet(func(k int) bool { return w.left.Z[k] > h })
}

// worth reports that some node that Target allows is near enough to stock: what the walls' fine print
// takes off it is found later.
func (w *work) worth() bool {
	need := w.re - w.slack
	need *= need
	for k, d2 := range w.stock.d2 {
		if d2 < need && float64(w.target[k]) <= w.z {
			x, y := w.grid.X(k%w.grid.NX), w.grid.Y(k/w.grid.NX)
			if g := w.region; x >= g.XMin && x <= g.XMax && y >= g.YMin && y <= g.YMax {
				return true
			}
		}
	}
	return false
}

// room marks where the tip may go; false where no stock can be touched from there.
func (w *work) room() bool {
	need := w.re - w.slack
	need *= need
	any := false
	for k := range w.ok {
		w.ok[k] = float64(w.wall.g[k]) >= w.front
		any = any || w.wall.g[k] >= 0 && w.stock.d2[k] < need
	}
	return any
}

// unreached is the area of stock above the level within the cutter's reach of a node where the tip
// may go.
func (w *work) unreached() float64 {
	h := float32(w.z + w.cusp)
	reach := w.re - w.slack
	reach *= reach
	count := 0
	inside := w.stock // its distances are no longer needed
	if !inside.toSet(func(k int) bool { return w.wall.g[k] >= 0 }) {
		return 0
	}
	for k, z := range w.left.Z {
		if z > h && inside.d2[k] < reach {
			count++
		}
	}
	return float64(count) * w.grid.DX * w.grid.DY
}
