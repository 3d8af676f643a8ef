package mend

import (
	"cmp"
	"fmt"
	"slices"

	"barwise/geom"
)

// listed is how many changes of a kind are told one by one; the rest are summed in one more.
const listed = 64

// specks drops shells, joined across edges, whose box has a diagonal below the length asked for. It
// never drops the greater part of the area: then the length is wrong, or the mesh is not welded.
func (w *work) specks() error {
	if w.p.Specks == 0 {
		return nil
	}
	label, shells := w.shells()
	total, small := 0.0, 0.0
	var drop []int32
	for i := range shells {
		total += shells[i].area
		if shells[i].box.Size().Len() < w.p.Specks {
			drop = append(drop, int32(i))
			small += shells[i].area
		}
	}
	if len(drop) == 0 {
		return nil
	}
	if small >= total/2 {
		var p patch
		for _, i := range drop {
			p.count++
			p.point(shells[i].at)
			p.box = p.box.Union(shells[i].box)
		}
		w.leave(p.left("speck", fmt.Sprintf("%s smaller than %s kept: they are %.0f %% of the surface; give a smaller length, or weld first",
			many(p.count, "shell"), w.long(w.p.Specks), 100*small/total)))
		return nil
	}
	slices.SortStableFunc(drop, func(a, b int32) int { return cmp.Compare(shells[b].area, shells[a].area) })
	gone := make([]bool, len(shells))
	var rest patch
	for n, i := range drop {
		s := shells[i]
		gone[i] = true
		if n < listed {
			w.change(s.change(Speck, fmt.Sprintf("a loose shell of %s, %s across, dropped", many(s.count, "triangle"), w.long(s.box.Size().Len()))))
			continue
		}
		rest.point(s.at)
		rest.count, rest.area, rest.box = rest.count+s.count, rest.area+s.area, rest.box.Union(s.box)
	}
	if rest.count > 0 {
		w.change(rest.change(Speck, fmt.Sprintf("%d more loose shells, of %s together, dropped", len(drop)-listed, many(rest.count, "triangle"))))
	}
	w.keep(func(i int) bool { return !gone[label[i]] })
	return nil
}

// shells labels the triangles by the shell they belong to, in the order of their first triangles.
func (w *work) shells() (label []int32, shells []patch) {
	p := newParity(len(w.t))
	w.edges().each(func(_, _ int32, hs []half) {
		for _, h := range hs[1:] {
			p.join(hs[0].h/3, h.h/3, false)
		}
	})
	label = make([]int32, len(w.t))
	of := make([]int32, len(w.t))
	for i, t := range w.t {
		r, _ := p.find(int32(i))
		if of[r] == 0 {
			shells = append(shells, patch{})
			of[r] = int32(len(shells))
		}
		label[i] = of[r] - 1
		w.triangle(&shells[label[i]], t)
	}
	return label, shells
}

// caster counts how often closed pieces lie around a point, by the triangles above it. It looks along
// a direction in which no model has edges by design.
type caster struct {
	w     *work
	lo    geom.Vec2
	size  geom.Vec2 // of a cell
	n     int       // cells each way
	start []int32
	tri   []int32
}

// slanted drops the height along the direction.
func slanted(p geom.Vec3) geom.Vec2 {
	return geom.Vec2{X: p.X - float64(0.070710678*p.Z), Y: p.Y - float64(0.031830989*p.Z)}
}

func newCaster(w *work, ts []int32) *caster {
	c := &caster{w: w, n: 1}
	for c.n*c.n < len(ts) && c.n < 1024 {
		c.n *= 2
	}
	box := geom.EmptyBox()
	for _, t := range ts {
		for _, v := range w.t[t] {
			p := slanted(w.v[v])
			box = box.Grow(geom.Vec3{X: p.X, Y: p.Y})
		}
	}
	c.lo = box.Min.XY()
	s := box.Size().XY()
	c.size = geom.Vec2{X: max(s.X/float64(c.n), 1e-300), Y: max(s.Y/float64(c.n), 1e-300)}
	c.start = make([]int32, c.n*c.n+1)
	for _, t := range ts {
		c.cells(t, func(k int) { c.start[k+1]++ })
	}
	for k := range c.n * c.n {
		c.start[k+1] += c.start[k]
	}
	c.tri = make([]int32, c.start[c.n*c.n])
	at := slices.Clone(c.start)
	for _, t := range ts {
		c.cells(t, func(k int) {
			c.tri[at[k]] = t
			at[k]++
		})
	}
	return c
}

func (c *caster) cells(t int32, f func(k int)) {
	b := geom.EmptyBox()
	for _, v := range c.w.t[t] {
		p := slanted(c.w.v[v])
		b = b.Grow(geom.Vec3{X: p.X, Y: p.Y})
	}
	x0, y0 := c.cell(b.Min.XY())
	x1, y1 := c.cell(b.Max.XY())
	for y := y0; y <= y1; y++ {
		for x := x0; x <= x1; x++ {
			f(y*c.n + x)
		}
	}
}

func (c *caster) cell(p geom.Vec2) (x, y int) {
	q := p.Sub(c.lo)
	return min(max(int(q.X/c.size.X), 0), c.n-1), min(max(int(q.Y/c.size.Y), 0), c.n-1)
}

// inside reports whether p lies inside; the pieces need not face one way. ok is false where p lies too
// near to an edge or a surface to tell.
func (c *caster) inside(p geom.Vec3) (in, ok bool) {
	q := slanted(p)
	x, y := c.cell(q)
	k := y*c.n + x
	for _, t := range c.tri[c.start[k]:c.start[k+1]] {
		var s [3]float64
		var z [3]float64
		scale := 0.0
		for i := range 3 {
			a, b := c.w.v[c.w.t[t][i]], c.w.v[c.w.t[t][(i+1)%3]]
			u, v := slanted(a).Sub(q), slanted(b).Sub(q)
			s[i] = u.Cross(v)
			z[i] = c.w.v[c.w.t[t][(i+2)%3]].Z - p.Z
			scale = max(scale, u.Dot(u))
		}
		eps := 1e-13 * scale
		if s[0] > eps && s[1] > eps && s[2] > eps || s[0] < -eps && s[1] < -eps && s[2] < -eps {
			up := (float64(s[0]*z[0]) + float64(s[1]*z[1]) + float64(s[2]*z[2])) / (s[0] + s[1] + s[2])
			if up > 0 {
				in = !in
			}
			continue
		}
		if (s[0] >= -eps && s[1] >= -eps && s[2] >= -eps) || (s[0] <= eps && s[1] <= eps && s[2] <= eps) {
			return false, false
		}
	}
	return in, true
}
