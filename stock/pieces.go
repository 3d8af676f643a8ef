package stock

import (
	"cmp"
	"context"
	"slices"

	"barwise/geom"
)

// Piece is a part of the stock that hangs together.
type Piece struct {
	Volume float64   // mm³
	Box    geom.Box3 // part frame
	Joined bool      // to the grip: it reaches into y ≤ Bar.Grip
}

// run is a stretch of a column that hangs together, of one row.
type run struct {
	rect
	area  float64
	row   int32
	col   int32
	where int32 // index in the forest
}

// forest joins runs that touch: over an area across columns and rows, not at an edge only.
type forest struct {
	parent []int32
	runs   []run
}

func newForest() *forest { return &forest{} }

func (f *forest) find(a int32) int32 {
	for f.parent[a] != a {
		f.parent[a] = f.parent[f.parent[a]]
		a = f.parent[a]
	}
	return a
}

func (f *forest) join(a, b int32) {
	a, b = f.find(a), f.find(b)
	if a != b {
		f.parent[max(a, b)] = min(a, b)
	}
}

// roots returns the first run of every piece, in order.
func (f *forest) roots() []int32 {
	var out []int32
	for i, p := range f.parent {
		if int32(i) == p {
			out = append(out, p)
		}
	}
	return out
}

// runsOf returns the runs of row j, column after column, each from the top down.
func (c *slicer) runsOf(j int, out []run) []run {
	for i := range c.at.cols {
		first := len(out)
		for _, r := range c.column(i, j) {
			a := float64((r.xb - r.xa) * (r.zb - r.za) * r.share)
			if n := len(out); n > first {
				if q := &out[n-1]; q.za == r.zb && min(q.xb, r.xb)-max(q.xa, r.xa) > thin {
					// the hull of the widths: a run that narrows still counts as touching where its
					// wider part would; within one cell across
					q.za, q.xa, q.xb = r.za, min(q.xa, r.xa), max(q.xb, r.xb)
					q.area += a
					continue
				}
			}
			out = append(out, run{rect: r, area: a, row: int32(j), col: int32(i)})
		}
	}
	return out
}

// add appends the runs of one row and joins them among each other; it returns where they begin.
func (f *forest) add(runs []run) int {
	first := len(f.runs)
	for _, r := range runs {
		r.where = int32(len(f.runs))
		f.runs = append(f.runs, r)
		f.parent = append(f.parent, r.where)
	}
	rs := f.runs[first:]
	a := 0
	for b := 0; b < len(rs); {
		c := rs[b].col
		e := b
		for e < len(rs) && rs[e].col == c {
			e++
		}
		if a < b && rs[a].col == c-1 {
			f.touch(rs[a:b], rs[b:e], false)
		}
		a, b = b, e
	}
	return first
}

// touch joins the runs of two columns, both from the top down, that share a stretch of height, and of
// width too where both lie in the same column.
func (f *forest) touch(p, q []run, width bool) {
	for i, j := 0, 0; i < len(p) && j < len(q); {
		if min(p[i].zb, q[j].zb)-max(p[i].za, q[j].za) > thin &&
			(!width || min(p[i].xb, q[j].xb)-max(p[i].xa, q[j].xa) > thin) {
			f.join(p[i].where, q[j].where)
		}
		if p[i].za > q[j].za {
			i++
		} else {
			j++
		}
	}
}

// across joins two neighbouring rows.
func (f *forest) across(p, q []run) {
	for i, j := 0, 0; i < len(p) && j < len(q); {
		switch {
		case p[i].col < q[j].col:
			i++
		case p[i].col > q[j].col:
			j++
		default:
			c, i0, j0 := p[i].col, i, j
			for i < len(p) && p[i].col == c {
				i++
			}
			for j < len(q) && q[j].col == c {
				j++
			}
			f.touch(p[i0:i], q[j0:j], true)
		}
	}
}

// Pieces returns the parts that what is left has fallen into, those joined to the grip first, then
// the largest. It works on the full grid: a bridge of any thickness over 1 nm holds, and a gap between
// two sides' cuts of as little parts. Boxes are exact to half a pitch.
func (s *Stack) Pieces() []Piece {
	b := s.base()
	rows := make([][]run, len(b.rows))
	_ = eachBand(context.Background(), 0, len(b.rows)-1, func(j0, j1 int) error {
		c := b.newSlicer(0)
		for j := j0; j <= j1; j++ {
			c.setRow(j)
			rows[j] = c.runsOf(j, nil)
		}
		return nil
	})
	f := newForest()
	prev := 0
	for j := range rows {
		first := f.add(rows[j])
		if j > 0 {
			f.across(f.runs[prev:first], f.runs[first:])
		}
		prev = first
	}
	return b.collect(f)
}

func (s *Stack) collect(f *forest) []Piece {
	index := map[int32]int{}
	var out []Piece
	t, g := s.sides[0].turn, &s.sides[0].h.Grid
	for i := range f.runs {
		r := &f.runs[i]
		root := f.find(int32(i))
		k, ok := index[root]
		if !ok {
			k = len(out)
			index[root] = k
			out = append(out, Piece{Box: geom.EmptyBox()})
		}
		y0, y1 := max(0, g.Y(int(r.row))-g.DY/2), min(s.Bar.Length, g.Y(int(r.row))+g.DY/2)
		p := &out[k]
		p.Volume += float64(r.area * s.rows[r.row])
		p.Joined = p.Joined || y0 <= s.Bar.Grip
		for _, x := range [2]float64{r.xa, r.xb} {
			p.Box = p.Box.Grow(t.ToPart(geom.Vec3{X: x, Y: y0, Z: r.za})).Grow(t.ToPart(geom.Vec3{X: x, Y: y1, Z: r.zb}))
			if t.Sin != 0 {
				p.Box = p.Box.Grow(t.ToPart(geom.Vec3{X: x, Y: y0, Z: r.zb})).Grow(t.ToPart(geom.Vec3{X: x, Y: y1, Z: r.za}))
			}
		}
	}
	slices.SortStableFunc(out, func(a, b Piece) int {
		if a.Joined != b.Joined {
			if a.Joined {
				return -1
			}
			return 1
		}
		return cmp.Or(cmp.Compare(b.Volume, a.Volume), cmp.Compare(a.Box.Min.Y, b.Box.Min.Y),
			cmp.Compare(a.Box.Min.X, b.Box.Min.X), cmp.Compare(a.Box.Min.Z, b.Box.Min.Z))
	})
	return out
}
