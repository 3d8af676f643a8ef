package choose

import (
	"context"
	"math"
	"slices"

	"barwise/geom"
	"barwise/geom/field"
	"barwise/geom/mesh/patch"
	"barwise/plan/cl"
	"barwise/plan/reach"
	"barwise/shop/bar"
	"barwise/shop/cutter"
	"barwise/stock"
)

// viewPitch is that of reach.View, mm.
const viewPitch = 0.2

// row is a sample of the surface: a place that stands for so much area about it.
type row struct {
	q, n geom.Vec3
	area float64
}

// tool is a candidate made ready for one kind of work.
type tool struct {
	*Use
	candidate int
	collars   []cutter.Collar
	sides     []toolSide
	shrunk    cutter.Profile // smaller by the slack, so that the wall it touches does not count
	rise      float64
	lap       float64 // surface gone over for each mm² of it
	rank      int     // among balls that leave the same, large to small; −1 for others
}

type toolSide struct {
	exact *field.Field // lowest tip over the model
	tops  []*field.Field
	room  bar.Window   // where its tip may be
	stock *field.Field // top of what would be left of the bar if this cutter alone were used; as the side sees it
}

// work is one call of Choose.
type work struct {
	Params
	surface *cl.Surface
	rows    []row
	area    float64 // of all rows
	slack   float64
	turns   []geom.Turn
	half    []float64
	ref     float64
	views   []*reach.View
	ix      []*cl.Index
	skin    float64 // the most that roughing leaves on the model, mm
	collars []collarTops
	rough   []tool // large to small
	finish  []tool
	bar     []*field.Field // top of the uncut bar, by side
	rest    []*field.Field // top of what all roughing cutters together leave
	bare    float64        // mm³ of the uncut bar
	fits    [][]int8       // by side and row: the first rank that fits
	volumes []float64      // mm³ left by the roughing cutters i and j: at i·len(rough) + j
}

// collarTops are, by side, the lowest tips if a collar of radius r began at the tip.
type collarTops struct {
	r   float64
	top []*field.Field
}

func newWork(ctx context.Context, s *cl.Surface, p Params, set *patch.Set) (*work, error) {
	w := &work{Params: p, surface: s, slack: max(1e-3, p.Tolerance)}
	for i, c := range p.Candidates {
		if c.Rough != nil {
			w.rough = append(w.rough, tool{Use: c.Rough, candidate: i})
			w.skin = max(w.skin, c.Rough.Allowance)
		}
		if c.Finish != nil {
			w.finish = append(w.finish, tool{Use: c.Finish, candidate: i})
		}
	}
	// large to small; of equals the stiffer, then the one named first
	fall := func(a, b tool) int {
		switch x, y := a.Cutter, b.Cutter; {
		case x.Round != y.Round && !a.Use.Rough:
			return sign(y.Round - x.Round)
		case x.R != y.R:
			return sign(y.R - x.R)
		case x.StickOut != y.StickOut:
			return sign(x.StickOut - y.StickOut)
		}
		return a.candidate - b.candidate
	}
	slices.SortStableFunc(w.rough, fall)
	slices.SortStableFunc(w.finish, fall)
	w.sample(set)
	if err := w.see(ctx); err != nil {
		return nil, err
	}
	for i := range w.rough {
		if err := w.ready(ctx, &w.rough[i]); err != nil {
			return nil, err
		}
	}
	if err := w.roughed(ctx); err != nil {
		return nil, err
	}
	for i := range w.finish {
		if err := w.ready(ctx, &w.finish[i]); err != nil {
			return nil, err
		}
		if err := w.measureLap(ctx, &w.finish[i]); err != nil {
			return nil, err
		}
	}
	if err := w.balls(ctx); err != nil {
		return nil, err
	}
	for i := range w.finish {
		if err := w.follow(ctx, &w.finish[i]); err != nil {
			return nil, err
		}
	}
	return w, ctx.Err()
}

func sign(d float64) int {
	switch {
	case d < 0:
		return -1
	case d > 0:
		return 1
	}
	return 0
}

// sample takes about Samples places of the surface, evenly by area along the order of the patches.
func (w *work) sample(set *patch.Set) {
	var judged []int
	for i := range set.Len() {
		if (w.Buried == nil || !w.Buried[i]) && w.Zone.Has(set.Centre(i)) {
			judged = append(judged, i)
			w.area += set.Area(i)
		}
	}
	step := w.area / float64(w.Samples)
	next := step / 2
	sum := 0.0
	for _, i := range judged {
		sum += set.Area(i)
		n := 0
		for next <= sum && next < w.area {
			n++
			next += step
		}
		if n > 0 {
			w.rows = append(w.rows, row{set.Centre(i), set.Normal(i), float64(n) * step})
		}
	}
}

// see takes the views of all sides and the bar as it is.
func (w *work) see(ctx context.Context) error {
	over := 0.0
	for _, t := range slices.Concat(w.rough, w.finish) {
		over = max(over, t.Over+1)
	}
	st := stock.New(w.Bar, w.Sides, w.Pitch)
	w.bare = st.Volume()
	for i, d := range w.Sides {
		t := geom.TurnDeg(d)
		w.half = append(w.half, w.Bar.Half(d))
		w.ref = max(w.ref, w.half[i]+over)
		r := reach.Sight(w.Bar, d, w.StubY, over)
		v, err := reach.See(ctx, w.surface, t, r.X0, r.X1, r.Y0, r.Y1)
		if err != nil {
			return err
		}
		w.turns, w.views = append(w.turns, t), append(w.views, v)
		w.ix = append(w.ix, w.surface.Index(t))
		w.bar = append(w.bar, st.Seen(i))
	}
	return ctx.Err()
}

// above returns by side the lowest tips if a collar of radius r began at the tip: over the model, where it is
// wider than the cutter, and beside the walls.
func (w *work) above(r float64) []*field.Field {
	for _, c := range w.collars {
		if c.r == r {
			return c.top
		}
	}
	c := collarTops{r: r}
	one := cutter.Cutter{Profile: cutter.Ball(r / 2), Holder: []cutter.Collar{{R: r}}}
	for i, v := range w.views {
		c.top = append(c.top, v.Floor(reach.Params{Cutter: one, Clear: w.Clear, Skin: w.skin, Walls: w.Walls[i]}))
	}
	w.collars = append(w.collars, c)
	return c.top
}

// ready draws a cutter's own surfaces.
func (w *work) ready(ctx context.Context, t *tool) error {
	shrunk, rise, ok := t.Cutter.Grown(t.Allowance - w.slack)
	if ok {
		t.shrunk, t.rise = shrunk, rise
	}
	t.collars = t.Cutter.Collars()
	t.sides = make([]toolSide, len(w.Sides))
	fine := w.Pitch / 2
	for i := range t.sides {
		r := t.Room(w.Bar, w.Sides[i])
		t.sides[i].room = r
		g := field.Cover(r.X0, r.X1, r.Y0, r.Y1, fine, fine)
		var err error
		if t.sides[i].exact, err = w.surface.Field(ctx, w.turns[i], t.Cutter.Profile, t.Allowance, g); err != nil {
			return err
		}
		for _, c := range t.collars {
			if c.R <= t.Cutter.R {
				t.sides[i].tops = append(t.sides[i].tops, nil)
				continue
			}
			t.sides[i].tops = append(t.sides[i].tops, w.above(c.R)[i])
		}
	}
	return nil
}

// around is the greatest of a field's nodes about a place.
func around(f *field.Field, x, y, half float64) float64 {
	return float64(f.MaxAround(x-half, x+half, y-half, y+half))
}

// need is how far above the tip collar k must begin at a place, −Inf where it is in nothing's way.
func (w *work) need(t *tool, side, k int, c cutter.Collar, x, y, z float64) float64 {
	if f := t.sides[side].tops[k]; f != nil {
		return around(f, x, y, viewPitch/2) - z
	}
	m := math.Inf(-1) // the cutting end keeps it off the model
	for _, b := range w.Walls[side] {
		if y-c.R-w.Clear-viewPitch <= b.Y {
			m = max(m, b.Top+w.Clear-z)
		}
	}
	return m
}

// floor is the lowest tip that neck, shank, holder and the lowest tip of the cut allow at a place.
func (w *work) floor(t *tool, side int, x, y float64) float64 {
	z := t.Lowest[side]
	for k, c := range t.collars {
		z = max(z, w.need(t, side, k, c, x, y, 0)-c.Z)
	}
	return z
}

// outside reports whether a tip lies where the cut does not go.
func (w *work) outside(t *tool, side int, x, y float64) bool {
	r := &t.sides[side].room
	return x < r.X0-1e-6 || x > r.X1+1e-6 || y < r.Y0-w.slack || y > r.Y1+w.slack
}

// roughed finds what each roughing cutter leaves by itself, each pair of them, and all.
func (w *work) roughed(ctx context.Context) error {
	n := len(w.rough)
	stacks := make([]*stock.Stack, n)
	for k := range w.rough {
		t := &w.rough[k]
		stacks[k] = stock.New(w.Bar, w.Sides, w.Pitch)
		for i := range w.Sides {
			z, err := w.levels(ctx, t, i)
			if err != nil {
				return err
			}
			if err := field.Sink(ctx, stacks[k].Field(i), z, t.Cutter.R, t.Cutter.Height); err != nil {
				return err
			}
			stacks[k].Changed(i)
		}
		for i := range w.Sides {
			t.sides[i].stock = stacks[k].Seen(i)
		}
	}
	w.volumes = make([]float64, n*n)
	for a := range n {
		for b := a; b < n; b++ {
			if ctx.Err() != nil {
				return ctx.Err()
			}
			both := stacks[a]
			if b != a {
				both = lower(stacks[a].Clone(), stacks[b])
			}
			v := both.Volume()
			w.volumes[a*n+b], w.volumes[b*n+a] = v, v
		}
	}
	all := stock.New(w.Bar, w.Sides, w.Pitch)
	for _, s := range stacks {
		lower(all, s)
	}
	for i := range w.Sides {
		w.rest = append(w.rest, all.Seen(i))
	}
	return nil
}

// lower sinks a to b where that is lower.
func lower(a, b *stock.Stack) *stock.Stack {
	for i := range a.Sides() {
		za, zb := a.Field(i).Z, b.Field(i).Z
		for k, z := range zb {
			za[k] = min(za[k], z)
		}
		a.Changed(i)
	}
	return a
}

// levels is the lowest level of roughing at every node, field.Forbidden where the tip does not go.
func (w *work) levels(ctx context.Context, t *tool, side int) (*field.Field, error) {
	out := t.sides[side].exact.Clone()
	bottom, top := t.Lowest[side], w.Bar.Top(w.Sides[side])
	err := field.EachRow(ctx, out.NY, func(j int) {
		y, row := out.Y(j), out.Row(j)
		for i, z := range row {
			x := out.X(i)
			if w.outside(t, side, x, y) {
				row[i] = field.Forbidden
				continue
			}
			low := max(float64(z), w.floor(t, side, x, y))
			n := max(0, math.Ceil((low-bottom)/t.Stepdown-1e-6))
			row[i] = field.Forbidden
			if l := bottom + float64(n*t.Stepdown); l < top-1e-6 {
				row[i] = float32(l)
			}
		}
	})
	return out, err
}

// follow finds what a finishing cutter leaves after all roughing: it goes where it touches the model and no
// more stands over its middle than its flutes are long.
func (w *work) follow(ctx context.Context, t *tool) error {
	st := stock.New(w.Bar, w.Sides, w.Pitch)
	for i := range w.Sides {
		deep := w.over(w.rest[i], t)
		z := t.sides[i].exact.Clone()
		if err := field.EachRow(ctx, z.NY, func(j int) {
			y, row := z.Y(j), z.Row(j)
			for k, at := range row {
				x, tip := z.X(k), float64(at)
				if w.outside(t, i, x, y) || tip < w.floor(t, i, x, y) || least(deep, x, y)-tip > t.Cutter.LCF {
					row[k] = field.Forbidden
				}
			}
		}); err != nil {
			return err
		}
		if err := field.Sink(ctx, st.Field(i), z, t.Cutter.R, t.Cutter.Height); err != nil {
			return err
		}
		st.Changed(i)
	}
	for i := range w.Sides {
		t.sides[i].stock = st.Seen(i)
	}
	return nil
}

// over is the greatest height of stock over the middle of a cutter: over what lies within its radius less the
// skin on a wall beside it, and the grain of the stack.
func (w *work) over(seen *field.Field, t *tool) *field.Field {
	r := t.Cutter.R - w.skin - 2*w.Pitch
	if r <= w.Pitch/2 {
		return seen
	}
	return field.DiscMax(seen, r)
}

// least is the least of the four nodes about a place: beside a wall the grid's own grain is not to count.
func least(f *field.Field, x, y float64) float64 {
	i, j := int(math.Floor((x-f.X0)/f.DX)), int(math.Floor((y-f.Y0)/f.DY))
	m := math.Inf(1)
	for b := j; b <= j+1; b++ {
		for a := i; a <= i+1; a++ {
			if f.Inside(a, b) {
				m = min(m, float64(f.Z[b*f.NX+a]))
			} else {
				return math.Inf(-1) // beside the bar
			}
		}
	}
	return m
}
