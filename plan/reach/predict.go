package reach

import (
	"context"
	"fmt"
	"math"

	"barwise/geom"
	"barwise/geom/field"
	"barwise/geom/mesh"
	"barwise/geom/mesh/patch"
	"barwise/plan/cl"
	"barwise/plan/share"
	"barwise/shop/bar"
	"barwise/shop/cutter"
	"barwise/stock"
)

// Cut is one cutter at work on all sides, side by side. Lengths are mm.
type Cut struct {
	Cutter    cutter.Cutter
	Allowance float64
	Rough     bool      // level by level, wherever stock is left; else: over the surface it touches
	Stepdown  float64   // between the levels of roughing
	Cusp      float64   // of finishing: what stands between its passes
	Overlap   float64   // of finishing: how far a side cuts into its neighbours' shares; 0: 0.6 of the cutter's radius
	Over      float64   // how far beyond the bar's sides the tip goes
	YMin      float64   // where the tip may be along the bar; of the end side it is Over beyond the bar all round
	YMax      float64   //
	Lowest    []float64 // tip height on each side, in the order of Sides; the lowest level of roughing
}

// PredictParams is what the piece is to be made with. Lengths are mm.
type PredictParams struct {
	Mesh  *mesh.Mesh // what the surface was made of, a spigot with it
	Bar   bar.Bar
	Sides []float64 // index angles, degrees
	Cuts  []Cut     // in the order they are made
	Walls [][]Wall  // what shank and holder stay clear of, by side
	Clear float64   // kept between neck, shank, holder and anything
	StubY float64   // below it nothing is cut

	Zone      stock.Zone // where what is left is counted
	Buried    []bool     // by patch: inside another shell, and so not judged; nil: none is
	Tolerance float64    // up to which nothing counts as left; 0: 0.01
	Pitch     float64    // of the stack; 0: 0.25, for an answer in seconds; 0.1 agrees with a proof
	Rule      share.Rule // by which finishing is shared among sides
	Exact     bool       // tips as near to walls and into creases as the exact surface lets them, not at nodes alone
}

// Class is what becomes of a patch of the surface.
type Class uint8

// Classes of a patch. The first that holds counts.
const (
	Reached  Class = iota // some cutter touches it
	Spared                // outside the zone, or inside another shell: not judged
	Held                  // the cutting end would touch it, but shank or holder meet the model, the stub or the vise
	Deep                  // the cutting end would touch it, but roughing left more over it than its flutes are long
	Low                   // below the lowest tip, beside the stub, or outside where the tip may be
	Narrow                // seen from a side, but no cutter fits
	Undercut              // no side sees it
	classes
)

var classNames = [classes]string{"reached", "spared", "held", "deep", "low", "narrow", "undercut"}

func (c Class) String() string { return classNames[c] }

// SideCut is what one cutter does on one side: areas of patches, mm².
type SideCut struct {
	Side, Cut int
	Seen      float64 // facing the side and in sight
	Touched   float64 // touched by the cutter
	Held      float64 // touched but for shank or holder
	StickOut  float64 // mm, least that frees all of Held from the holder; 0 where none is needed
	Reach     float64 // mm, least usable reach that frees all of Held from the shank
}

// Place is a part of the surface where something stays, as one thing to look at.
type Place struct {
	At       geom.Vec3 // its deepest point, part frame
	Box      geom.Box3
	Area     float64 // mm²
	Volume   float64 // mm³ of stock farther than the tolerance from the model whose nearest such patch is here
	Depth    float64 // mm, greatest of Left
	Class    Class   // of most of its area
	Side     int     // that sees it best, −1 for none
	StickOut float64 // mm that would do, where held by the holder
	Reach    float64 // mm that would do, where held by the shank
	Advice   string  // what to do, in words
}

// Prediction is what will stay on the piece. Slices by patch run parallel to the set.
type Prediction struct {
	Stack    *stock.Stack // the bar after all cuts
	Left     []float32    // mm of stock standing on the patch
	Side     []int16      // index of the side that reaches it most squarely; of those that see it where none does; −1
	Class    []Class
	StickOut []float32 // mm that would do, where held by the holder
	Reach    []float32 // mm of usable reach that would do, where held by the shank
	Area     [classes]float64
	By       []SideCut // cut by cut, side by side

	// Stays is the volume of stock outside the model in the zone (stock.Stack.Beyond): all of it, what is
	// farther from the model than the tolerance and, without Exact, than the pitch of the tips, and what
	// is farther than a pitch, which the grid's own grain does not reach.
	Stays  stock.Beyond
	Places []Place // the largest volume first
}

// Predict says, without planning a path, what will stay when every cut is made on every side: the tip
// goes wherever the exact cutter-location surface, raised to what neck, shank, holder, stub and vise allow,
// lets it, and each side's field sinks to what such a tip takes. Roughing keeps to its levels; finishing is
// shared among the sides by the plan's rule, does not dig where roughing left more than its flutes are
// long, and leaves a third of its cusps' height, their mean.
//
// What it does not know: passes. Room too narrow for any entry is taken to be cleared, and where a corridor
// is as wide as the cutter, or stock as deep as the flutes, to within some hundredths of a millimetre, the
// plan's own grid decides the other way at times. Against the proof of what was planned, the volume that
// stays was within 3 % on the demo after each cutter that leaves any, on an open dragon and an elephant, within
// 10 % on a bunny and a camel (reach_agrees_test.go).
func Predict(ctx context.Context, s *cl.Surface, p PredictParams, set *patch.Set) (*Prediction, error) {
	if err := p.check(); err != nil {
		return nil, err
	}
	w := &predictor{PredictParams: p, surface: s, stack: stock.New(p.Bar, p.Sides, p.Pitch)}
	for k := range p.Cuts {
		var rooms []bar.Window
		for _, d := range p.Sides {
			rooms = append(rooms, p.Cuts[k].Room(p.Bar, d))
		}
		w.rooms = append(w.rooms, rooms)
	}
	if err := w.see(ctx); err != nil {
		return nil, err
	}
	for k := range p.Cuts {
		if err := w.cut(ctx, k); err != nil {
			return nil, fmt.Errorf("predicting %s: %w", p.Cuts[k].Cutter.ID, err)
		}
	}
	return w.judge(ctx, set)
}

func (p *PredictParams) check() error {
	if p.Pitch == 0 {
		p.Pitch = 0.25
	}
	if p.Tolerance == 0 {
		p.Tolerance = 0.01
	}
	switch {
	case len(p.Sides) == 0:
		return fmt.Errorf("predict: no sides")
	case len(p.Walls) != len(p.Sides):
		return fmt.Errorf("predict: walls of %d sides, there are %d", len(p.Walls), len(p.Sides))
	case !(p.Pitch > 0) || !(p.Tolerance > 0):
		return fmt.Errorf("predict: pitch %g mm, tolerance %g mm: both must be above 0", p.Pitch, p.Tolerance)
	}
	for _, c := range p.Cuts {
		switch {
		case len(c.Lowest) != len(p.Sides):
			return fmt.Errorf("predict: %s has lowest tips for %d sides, there are %d", c.Cutter.ID, len(c.Lowest), len(p.Sides))
		case c.Rough && !(c.Stepdown > 0):
			return fmt.Errorf("predict: %s has a stepdown of %g mm", c.Cutter.ID, c.Stepdown)
		case !(c.Cutter.R > 0):
			return fmt.Errorf("predict: cutter %s has no radius", c.Cutter.ID)
		}
	}
	return nil
}

// Room is where the tip may be on a side.
func (c *Cut) Room(b bar.Bar, deg float64) bar.Window {
	w := b.Window(deg)
	w.X0, w.X1 = w.X0-c.Over, w.X1+c.Over
	if geom.IsEnd(deg) {
		w.Y0, w.Y1 = w.Y0-c.Over, w.Y1+c.Over
	} else {
		w.Y0, w.Y1 = c.YMin, c.YMax
	}
	return w
}

// Sight is what of a side a View is to show where tips go no farther than over mm beyond the bar, and nothing
// is cut below stubY.
func Sight(b bar.Bar, deg, stubY, over float64) bar.Window {
	w := b.Window(deg)
	w.X0, w.X1, w.Y1 = w.X0-over, w.X1+over, w.Y1+over
	if geom.IsEnd(deg) {
		w.Y0 -= over
	} else {
		w.Y0 = stubY - 1
	}
	return w
}

// within reports whether the tip of cut k may be at a place of a side.
func (w *predictor) within(k, side int, x, y, slack float64) bool {
	r := w.rooms[k][side]
	return x >= r.X0-slack && x <= r.X1+slack && y >= r.Y0-slack && y <= r.Y1+slack
}

// predictor is one call of Predict.
type predictor struct {
	PredictParams
	surface *cl.Surface
	stack   *stock.Stack
	turns   []geom.Turn
	rooms   [][]bar.Window // by cut and side
	views   []*View
	ix      []*cl.Index // by side, nil where not asked for
	cuts    [][]tips    // by cut and side
}

// tips is where the tip of one cutter may go on one side.
type tips struct {
	tops  []*field.Field // of the model under each collar
	exact *field.Field   // lowest over the model, on a fine grid
	floor *field.Field   // lowest by what stands above the flutes, the walls and the vise, on the view's grid
	deep  *field.Field   // the same, and by how deep the stock is; nil for roughing
}

// low is the lowest tip that all but the model's surface allows.
func (t *tips) low() *field.Field {
	if t.deep != nil {
		return t.deep
	}
	return t.floor
}

// roughTolerance is how far roughing keeps off the allowance, where passes are simplified.
const roughTolerance = 0.02

// allowance is what a cut really leaves.
func (c *Cut) allowance() float64 {
	if c.Rough {
		return c.Allowance + roughTolerance
	}
	return c.Allowance
}

// see takes the view of every side.
func (w *predictor) see(ctx context.Context) error {
	over := 0.0
	for _, c := range w.Cuts {
		over = max(over, c.Over+1)
	}
	for _, d := range w.Sides {
		t, r := geom.TurnDeg(d), Sight(w.Bar, d, w.StubY, over)
		v, err := See(ctx, w.surface, t, r.X0, r.X1, r.Y0, r.Y1)
		if err != nil {
			return err
		}
		w.turns, w.views = append(w.turns, t), append(w.views, v)
	}
	return nil
}

// index is the tree of a side, grown when it is first asked for.
func (w *predictor) index(side int) *cl.Index {
	if w.ix == nil {
		w.ix = make([]*cl.Index, len(w.Sides))
	}
	if w.ix[side] == nil {
		w.ix[side] = w.surface.Index(w.turns[side])
	}
	return w.ix[side]
}

// standing is the greatest allowance of roughing.
func (w *predictor) standing() float64 {
	s := 0.0
	for _, c := range w.Cuts {
		if c.Rough {
			s = max(s, c.Allowance)
		}
	}
	return s
}

// thinnest is the least allowance of the cuts before cut k: what stands on the walls it meets.
func (w *predictor) thinnest(k int) float64 {
	s := w.standing()
	for _, c := range w.Cuts[:k] {
		s = min(s, c.Allowance)
	}
	return s
}

// cut sinks all sides by cut k.
func (w *predictor) cut(ctx context.Context, k int) error {
	c := &w.Cuts[k]
	sides := make([]tips, len(w.Sides))
	for i := range sides {
		t := &sides[i]
		q := Params{Cutter: c.Cutter, Clear: w.Clear, Skin: w.standing(), Walls: w.Walls[i]}
		t.tops = w.views[i].tops(q)
		t.floor = w.views[i].floor(q, t.tops)
		for n, z := range t.floor.Z {
			t.floor.Z[n] = max(z, float32(c.Lowest[i]))
		}
		if !c.Rough {
			// all sides look at the bar as the cutter before left it
			t.deep = t.floor.Clone()
			KeepOutOfDepth(t.deep, w.stack.Seen(i), c.Cutter, w.thinnest(k)+2*w.Pitch, c.Cutter.LCF)
		}
		r, fine := w.rooms[k][i], w.tipPitch(c)
		g := field.Cover(r.X0, r.X1, r.Y0, r.Y1, fine, fine)
		var err error
		if t.exact, err = w.surface.Field(ctx, w.turns[i], c.Cutter.Profile, c.allowance(), g); err != nil {
			return err
		}
	}
	w.cuts = append(w.cuts, sides)
	var shares []*field.Field
	if !c.Rough {
		var err error
		if shares, err = w.share(ctx, k); err != nil {
			return err
		}
	}
	for i := range sides {
		z, err := w.allowed(ctx, k, i, shares)
		if err != nil {
			return err
		}
		if err := field.Sink(ctx, w.stack.Field(i), z, c.Cutter.R, c.Cutter.Height); err != nil {
			return err
		}
		if w.Exact && !c.Rough {
			pts, err := w.between(ctx, k, i, z)
			if err != nil {
				return err
			}
			if err := field.SinkAt(ctx, w.stack.Field(i), pts, c.Cutter.R, c.Cutter.Height); err != nil {
				return err
			}
		}
		w.stack.Changed(i)
	}
	return nil
}

// tipPitch is a whole part of the stack's pitch, an eighth of the radius at most; half where exact.
func (w *predictor) tipPitch(c *Cut) float64 {
	n := max(1, math.Ceil(w.Pitch/(c.Cutter.R/8)-1e-9))
	if w.Exact {
		n = max(n, 2)
	}
	return w.Pitch / n
}

// grain is from what distance on stock counts as left, mm: tips that visit nodes alone may stay off an
// upright wall by their pitch, of which the finest counts.
func (w *predictor) grain() float64 {
	finest := math.Inf(1)
	for k := range w.Cuts {
		if c := &w.Cuts[k]; !w.Exact && !c.Rough {
			finest = min(finest, w.tipPitch(c))
		}
	}
	if math.IsInf(finest, 1) {
		return w.Tolerance
	}
	return max(w.Tolerance, finest)
}

// allowed is the lowest tip at every node, field.Forbidden where it does not go; shares are those of the
// cut, where it finishes.
func (w *predictor) allowed(ctx context.Context, k, side int, shares []*field.Field) (*field.Field, error) {
	c, t := &w.Cuts[k], &w.cuts[k][side]
	if !c.Rough {
		out := shares[side]
		return out, field.EachRow(ctx, out.NY, func(j int) {
			row := out.Row(j)
			for i, z := range row {
				row[i] = z + float32(w.cuspAt(c, t.exact, i, j))
			}
		})
	}
	out, low := t.exact.Clone(), t.floor
	top := w.Bar.Top(w.Sides[side])
	err := field.EachRow(ctx, out.NY, func(j int) {
		y, row := out.Y(j), out.Row(j)
		for i, z := range row {
			x := out.X(i)
			if !w.within(k, side, x, y, 1e-9) {
				row[i] = field.Forbidden
				continue
			}
			floor := low.MaxAround(x-low.DX/2, x+low.DX/2, y-low.DY/2, y+low.DY/2)
			row[i] = level(max(z, floor), c.Lowest[side], c.Stepdown, top)
		}
	})
	return out, err
}

// steepRise is the rise over run between neighbouring nodes from which a wall stands between them.
const steepRise = 3

// level is the lowest level of roughing not below z: they hang on the bottom, and lie below the top.
func level(z float32, bottom, step, top float64) float32 {
	n := max(0, math.Ceil((float64(z)-bottom)/step-1e-6))
	if l := bottom + float64(n*step); l < top-1e-6 {
		return float32(l)
	}
	return field.Forbidden
}

// cuspAt is the mean height, straight up, of the cusps that finishing leaves: a third of their height
// square to the surface.
func (w *predictor) cuspAt(c *Cut, f *field.Field, i, j int) float64 {
	if c.Cusp == 0 || i == 0 || j == 0 || i+1 >= f.NX || j+1 >= f.NY {
		return c.Cusp / 3
	}
	k := j*f.NX + i
	slope := func(a, b float32) float64 {
		m := math.Abs(float64(b-a)) / (2 * f.DX)
		if !(m < 3) {
			return 3
		}
		return m
	}
	gx, gy := slope(f.Z[k-1], f.Z[k+1]), slope(f.Z[k-f.NX], f.Z[k+f.NX])
	return c.Cusp / 3 * math.Sqrt(1+float64(gx*gx)+float64(gy*gy))
}
