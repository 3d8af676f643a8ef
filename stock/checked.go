package stock

import (
	"context"
	"math"

	"barwise/geom"
	"barwise/geom/field"
	"barwise/shop/cutter"
)

// grazed is the depth, mm, up to which a node counts as met by nothing: rounding of float32 heights.
const grazed = 1e-5

// tileCells is the side of the squares of nodes whose greatest top is known.
const tileCells = 16

// tops is what is known of the stock's top from one side, kept up to date while that side cuts.
type tops struct {
	*field.Field
	tiles  []float32 // greatest top of each tile of tileCells×tileCells nodes, or more
	nx, ny int       // tiles
	gens   []int     // cuts of every side when this was true
	walk   *walker
	lines  []*line // of every row: what the other sides leave; they do not change while this is true
}

// Removed is what one move took away, or would have.
type Removed struct {
	Volume float64 // mm³ of stock
	Depth  float64 // greatest height of stock above the sweep, mm: the axial depth of cut; 0 in air
	Top    float64 // greatest top of stock met, mm in the side frame; −Inf in air
	Area   float64 // mm² of the view in which stock was met, by cells
	Length float64 // mm of the move in XY
}

// Width is the mean engaged width, mm: area met over length. Behind it lies the move before, so a slot
// reads the cutter's diameter, to a pitch. A move straight down has none: 0.
func (r Removed) Width() float64 {
	if r.Length == 0 {
		return 0
	}
	return r.Area / r.Length
}

func (r *Removed) merge(o Removed) {
	r.Volume += o.Volume
	r.Depth = max(r.Depth, o.Depth)
	r.Top = max(r.Top, o.Top)
	r.Area += o.Area
}

// look brings what is known of the tops of a side up to date.
func (s *Stack) look(i int) *tops {
	sd := &s.sides[i]
	if t := sd.top; t != nil && equal(t.gens, s.gens()) {
		return t
	}
	t := &tops{gens: s.gens(), walk: s.newWalker(i)}
	t.Field, t.lines = s.seen(i, true)
	t.nx, t.ny = (t.NX+tileCells-1)/tileCells, (t.NY+tileCells-1)/tileCells
	t.tiles = make([]float32, t.nx*t.ny)
	for k := range t.tiles {
		t.tiles[k] = field.Empty
	}
	for j := range t.NY {
		tiles := t.tiles[j/tileCells*t.nx:]
		for i, z := range t.Row(j) {
			tiles[i/tileCells] = max(tiles[i/tileCells], z)
		}
	}
	sd.top = t
	return t
}

func equal(a, b []int) bool {
	for i := range a {
		if a[i] != b[i] {
			return false
		}
	}
	return len(a) == len(b)
}

// Look returns the top of what is left in every column of a side, the same as Seen, as it is kept
// while CutChecked works on that side: live, to be read only.
func (s *Stack) Look(side int) *field.Field { return s.look(side).Field }

// CutChecked is CutMoves that also tells for every move k what it met, in out[k] for pts[k]→pts[k+1]:
// out has one element less than pts. Stock a move shares with the move before it counts for the one
// before. Volumes are by the same prisms as Volume, so removed and left add up.
func (s *Stack) CutChecked(ctx context.Context, side int, p cutter.Profile, pts []geom.Vec3, out []Removed) error {
	if len(pts) < 2 {
		return ctx.Err()
	}
	t := s.look(side)
	sd := &s.sides[side]
	sd.gen++
	t.gens[side]++
	j0, j1 := sd.h.NY, -1
	for k := range pts {
		a, b := yRange(&sd.h.Grid, p.R, pts[k], pts[k])
		j0, j1 = min(j0, a), max(j1, b)
	}
	for k := range out {
		out[k] = Removed{Top: math.Inf(-1), Length: pts[k+1].XY().Sub(pts[k].XY()).Len()}
	}
	if j0 > j1 {
		return ctx.Err()
	}
	bands := make([][]banded, j1/bandRows+1)
	err := eachBand(ctx, j0, j1, func(j0, j1 int) (err error) {
		bands[j0/bandRows], err = s.checkBand(ctx, side, p, pts, j0, j1)
		return err
	})
	for _, b := range bands {
		for _, r := range b {
			out[r.move].merge(r.Removed)
		}
	}
	return err
}

// banded is what a move met in one band of rows.
type banded struct {
	move int
	Removed
}

func (s *Stack) checkBand(ctx context.Context, side int, p cutter.Profile, pts []geom.Vec3, j0, j1 int) ([]banded, error) {
	m := newMeter(s, side)
	g := &m.h.Grid
	y0, y1 := g.Y(j0)-p.R-2*touch, g.Y(j1)+p.R+2*touch
	var out []banded
	for k := 0; k+1 < len(pts); k++ {
		if k&255 == 0 && ctx.Err() != nil {
			return out, ctx.Err()
		}
		a, b := pts[k], pts[k+1]
		if a.Y < y0 && b.Y < y0 || a.Y > y1 && b.Y > y1 {
			continue
		}
		w := newSweep(p, a, b)
		reach := w.stretch(g, k > 0, nil)
		got := banded{move: k, Removed: Removed{Top: math.Inf(-1)}}
		r0, r1 := yRange(g, w.r, a, b)
		for j := max(r0, j0); j <= min(r1, j1); j++ {
			m.row(&w, j, &reach, &got.Removed)
		}
		if got.Depth > 0 || got.Volume > 0 {
			out = append(out, got)
		}
	}
	return out, nil
}

// meter cuts row by row and measures what falls.
type meter struct {
	*walker
	h   *field.Field
	top *tops
}

func newMeter(s *Stack, side int) *meter {
	t := s.sides[side].top
	return &meter{walker: t.walk, h: s.sides[side].h, top: t}
}

func (m *meter) row(w *sweep, j int, reach *stretch, got *Removed) {
	g := &m.h.Grid
	dy := g.Y(j) - w.ay
	i0, i1 := reach.all.at(dy, 0, g.NX-1)
	if i0 > i1 {
		return
	}
	u0, v0 := float64(dy*w.uy), float64(dy*w.ux)
	row, tops := m.h.Row(j), m.top.Row(j)
	cells := m.s.rows[j]
	bend := 0.0 // no cutter's height is less than bend·v² beside its way
	if w.form == formBall {
		bend = 1 / (2 * w.r)
	}
	for i := i0; i <= i1; i++ {
		dx := g.X(i) - w.ax
		v := v0 - float64(dx*w.uy)
		if float64(max(row[i], tops[i])) <= w.low+float64(float64(v*v)*bend) {
			continue
		}
		z := float32(w.at(u0+float64(dx*w.ux), v))
		if z < row[i] {
			row[i] = z
		}
		if z >= tops[i] {
			continue
		}
		if d := float64(tops[i]) - float64(max(z, float32(m.at.cols[i].lo))); d > grazed {
			got.Depth = max(got.Depth, d)
			got.Top = max(got.Top, float64(tops[i]))
			got.Area += float64(m.at.cols[i].w * cells)
		}
		m.fall(i, j, z, got)
	}
}

// fall brings the top of column i of row j down to z or below, and counts what was there.
func (m *meter) fall(i, j int, z float32, got *Removed) {
	t, ln := &m.top.Z[j*m.h.NX+i], m.top.lines[j]
	old := float64(*t)
	*t = m.walker.top(ln, i, j, float64(z))
	got.Volume += float64(m.between(ln, i, max(float64(z), m.floor(i, j)), old) * m.s.rows[j])
}

// between is the area, width times height, of what the other sides leave of column i from za to zb, mm².
func (m *meter) between(ln *line, i int, za, zb float64) float64 {
	c := &m.at.cols[i]
	if zb == float64(float32(c.hi)) {
		zb = c.hiMean
	}
	if za == c.lo {
		za = c.loMean
	}
	if zb <= za {
		return 0
	}
	if m.cells == 0 && len(ln.oblique) == 0 {
		return c.w * (zb - za)
	}
	if m.cells > 0 && len(ln.oblique) == 0 {
		if b := m.cell(zb) / blockCells; b == m.cell(za)/blockCells && ln.whole(c, b) {
			return c.w * (zb - za)
		}
	}
	z0, sum := m.z0, 0.0
	if m.cells == 0 {
		z0 = m.h.X0
	}
	for k := int(math.Floor((zb-z0)/m.p + 0.5)); zb > za; k-- {
		bottom := max(za, z0+float64((float64(k)-0.5)*m.p))
		if bottom >= zb {
			continue
		}
		w := c.w
		if m.cells > 0 {
			l, r := ln.width(c, max(0, min(m.cells-1, k)))
			w = max(0, r-l)
		}
		if ln.allows(c.x, (zb+bottom)/2) {
			sum += float64(w * (zb - bottom))
		}
		zb = bottom
	}
	return sum
}

// Met returns what a move of a cutter's shape from a to b would meet, without cutting: a rapid, a
// shank or a holder against the stock (a collar is a flat end of its radius, moved with its own lower
// edge). Volume is not counted. Nodes stand a pitch apart: to be safe between them, ask with a radius
// grown by pitch/√2.
func (s *Stack) Met(side int, p cutter.Profile, a, b geom.Vec3) Removed {
	t := s.look(side)
	out := Removed{Top: math.Inf(-1), Length: b.XY().Sub(a.XY()).Len()}
	w := newSweep(p, a, b)
	g := &t.Grid
	j0, j1 := yRange(g, w.r, a, b)
	i0 := max(0, int(math.Ceil((min(a.X, b.X)-w.r-g.X0)/g.DX-touch)))
	i1 := min(g.NX-1, int(math.Floor((max(a.X, b.X)+w.r-g.X0)/g.DX+touch)))
	if i0 > i1 || j0 > j1 {
		return out
	}
	low := float32(w.low)
	reach := w.stretch(g, false, nil)
	for tj := j0 / tileCells; tj <= j1/tileCells; tj++ {
		for ti := i0 / tileCells; ti <= i1/tileCells; ti++ {
			if t.tiles[tj*t.nx+ti] <= low {
				continue
			}
			for j := max(j0, tj*tileCells); j <= min(j1, tj*tileCells+tileCells-1); j++ {
				s.metRow(&w, &reach, t, side, j, max(i0, ti*tileCells), min(i1, ti*tileCells+tileCells-1), &out)
			}
		}
	}
	return out
}

func (s *Stack) metRow(w *sweep, reach *stretch, t *tops, side, j, i0, i1 int, out *Removed) {
	g := &t.Grid
	dy := g.Y(j) - w.ay
	a, b := reach.all.at(dy, i0, i1)
	row := t.Row(j)
	cols := s.sides[side].cols
	for i := a; i <= b; i++ {
		if float64(row[i]) <= w.low {
			continue
		}
		dx := g.X(i) - w.ax
		z := w.at(float64(dy*w.uy)+float64(dx*w.ux), float64(dy*w.ux)-float64(dx*w.uy))
		if d := float64(row[i]) - max(z, cols[i].lo); d > grazed {
			out.Depth = max(out.Depth, d)
			out.Top = max(out.Top, float64(row[i]))
			out.Area += float64(cols[i].w * s.rows[j])
		}
	}
}
