package smooth

import (
	"context"
	"math"

	"barwise/geom"
	"barwise/geom/mesh"
)

// work is one mesh being made.
type work struct {
	*wants
	out      *mesh.Mesh
	from     []int32
	shapes   []shape // per triangle
	grids    map[int32]*gridTable
	triangle []int32     // per triangle: its first in the result
	vertex   []int32     // per triangle: its first vertex inside
	piece    []int32     // per half-edge: its first piece in rim
	rim      []geom.Vec3 // normals of the facets at the pieces of each half-edge
}

// gridTable holds what all grids of n pieces share.
type gridTable struct {
	grid *grid        // from n = 2 on
	at   [][2]float64 // barycentric for corners 1 and 2 of the points inside
	w    [][15]float64
}

func newGridTable(n int32) *gridTable {
	g := &gridTable{}
	add := func(j, k, n float64) {
		v, w := j/n, k/n
		g.at = append(g.at, [2]float64{v, w})
		g.w = append(g.w, weights(1-v-w, v, w))
	}
	switch n {
	case 0:
		return g
	case 1:
		add(1, 1, 3)
		return g
	}
	g.grid = newGrid(n)
	for k := int32(1); k < n-1; k++ {
		for j := int32(1); n-j-k > 0; j++ {
			add(float64(j), float64(k), float64(n))
		}
	}
	return g
}

// make makes the mesh as it is wanted.
func (w *wants) make(ctx context.Context) (*Result, error) {
	short := w.fit()
	k := &work{wants: w}
	k.lay()
	m := w.M
	copy(k.out.Vertices, m.Vertices)
	far := make([]moved, (len(w.curves)+block-1)/block+(len(m.Triangles)+small-1)/small)
	blocks(ctx, len(w.curves), block, func(i int) { k.curve(i, &far[i/block]) })
	rest := far[(len(w.curves)+block-1)/block:]
	mesh.Parallel(len(rest), func(b int) {
		var s scratch
		for t := b * small; t < min(len(m.Triangles), (b+1)*small) && ctx.Err() == nil; t++ {
			k.patch(int32(t), &s, &rest[b])
		}
	})
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	k.seams()
	r := &Result{Mesh: k.out, From: k.from, Capped: w.capped, Short: short}
	for _, f := range far {
		if f.by > r.MovedMM {
			r.MovedMM, r.MovedAt = f.by, f.at
		}
	}
	k.figures(r)
	return r, nil
}

// small is how many triangles make a block where each may be cut into a thousand.
const small = 32

// moved is the vertex that stands farthest off its old facet.
type moved struct {
	by float64
	at geom.Vec3
}

func (f *moved) see(off, at geom.Vec3) {
	if by := off.Dot(off); by > f.by*f.by {
		f.by, f.at = math.Sqrt(by), at
	}
}

// lay gives every triangle and curve its place in the result.
func (k *work) lay() {
	m := k.M
	next := int32(len(m.Vertices))
	for i := range k.curves {
		c := &k.curves[i]
		c.base = next
		next += c.n - 1
	}
	k.shapes, k.grids = make([]shape, len(m.Triangles)), map[int32]*gridTable{}
	k.triangle, k.vertex, k.piece = make([]int32, len(m.Triangles)+1), make([]int32, len(m.Triangles)), make([]int32, len(k.E.Mate)+1)
	for t := range m.Triangles {
		s := k.shape(int32(t))
		k.shapes[t] = s
		if k.grids[s.n] == nil {
			k.grids[s.n] = newGridTable(s.n)
		}
		k.vertex[t] = next
		next += s.inside()
		k.triangle[t+1] = k.triangle[t] + int32(s.size())
		for i := range 3 {
			k.piece[3*t+i+1] = k.piece[3*t+i] + s.edge[i]
		}
	}
	n := k.triangle[len(m.Triangles)]
	k.out = &mesh.Mesh{Vertices: make([]geom.Vec3, next), Triangles: make([][3]int32, n)}
	k.from = make([]int32, n)
	k.rim = make([]geom.Vec3, k.piece[len(k.E.Mate)])
}

// curve makes the vertices on one.
func (k *work) curve(i int, far *moved) {
	c := &k.curves[i]
	a, b := k.E.Ends(c.h)
	p := k.M.Vertices[a]
	e := k.M.Vertices[b].Sub(p)
	for j := int32(1); j < c.n; j++ {
		t := float64(j) / float64(c.n)
		at := p.Add(e.Mul(t))
		if c.rise > 0 {
			off := c.at(e, t)
			at = at.Add(off)
			far.see(off, at)
		}
		k.out.Vertices[c.base+j-1] = at
	}
}

// scratch is what one triangle's making takes.
type scratch struct {
	cutter
	id     []int32
	facing []geom.Vec3
}

// patch makes the vertices inside triangle t and its facets.
func (k *work) patch(t int32, s *scratch, far *moved) {
	k.points(t, s, far)
	c := k.split(t, s)
	first := k.triangle[t]
	s.facing = s.facing[:0]
	for i, f := range c.triangles {
		k.out.Triangles[int(first)+i] = [3]int32{s.id[f[0]], s.id[f[1]], s.id[f[2]]}
		k.from[int(first)+i] = t
		s.facing = append(s.facing, s.p[f[1]].Sub(s.p[f[0]]).Cross(s.p[f[2]].Sub(s.p[f[0]])))
	}
	worst := 0.0
	for _, p := range c.pairs {
		if k.Normal[t] == (geom.Vec3{}) {
			break // which way its facets face is left to rounding
		}
		worst = max(worst, sine2(s.facing[p[0]], s.facing[p[1]]))
	}
	k.left[t] = float32(math.Asin(math.Sqrt(min(worst, 1))))
	for i := range 3 {
		at := k.piece[3*t+int32(i)]
		for j, f := range c.rim[i] {
			k.rim[int(at)+j] = s.facing[f]
		}
	}
}

// points numbers the points of triangle t, and makes those inside.
func (k *work) points(t int32, s *scratch, far *moved) {
	tr := k.M.Triangles[t]
	s.id = append(s.id[:0], tr[:]...)
	for i := range int32(3) {
		v := &k.curves[k.of(3*t+i)]
		if k.runs(3*t + i) {
			for j := range v.n - 1 {
				s.id = append(s.id, v.base+j)
			}
		} else {
			for j := v.n - 2; j >= 0; j-- {
				s.id = append(s.id, v.base+j)
			}
		}
	}
	k.fill(t, far)
	for j := range k.shapes[t].inside() {
		s.id = append(s.id, k.vertex[t]+j)
	}
	s.p = s.p[:0]
	for _, id := range s.id {
		s.p = append(s.p, k.out.Vertices[id])
	}
}

// split cuts triangle t.
func (k *work) split(t int32, s *scratch) *cutting {
	sh := k.shapes[t]
	if sh.even() {
		return &k.grids[sh.n].grid.cutting
	}
	s.reset(sh, k.Normal[t])
	switch sh.n {
	case 0:
		s.ladder()
	case 1:
		s.star()
	default:
		s.within(k.grids[sh.n].grid)
	}
	return &s.cutting
}

// runs reports whether half-edge h runs the way of its curve.
func (k *work) runs(h int32) bool {
	c := &k.curves[k.of(h)]
	a, _ := k.E.Ends(h)
	b, _ := k.E.Ends(c.h)
	return a == b
}

// fill makes the vertices inside triangle t.
func (k *work) fill(t int32, far *moved) {
	sh := k.shapes[t]
	if sh.inside() == 0 {
		return
	}
	p, q, r := k.M.Corners(int(t))
	q, r = q.Sub(p), r.Sub(p)
	g := k.grids[sh.n]
	to := k.out.Vertices[k.vertex[t]:]
	pa := k.surface.patch(t)
	control := pa.controls()
	for i, at := range g.at {
		x := p.Add(q.Mul(at[0])).Add(r.Mul(at[1]))
		if !pa.flat {
			off := blend(&g.w[i], &control)
			x = x.Add(off)
			far.see(off, x)
		}
		to[i] = x
	}
}

// sine2 is the square of the sine of the angle between a and b; 1 beyond a right angle, 0 where one is
// nothing.
func sine2(a, b geom.Vec3) float64 {
	l := float64(a.Dot(a)) * b.Dot(b)
	if l == 0 {
		return 0
	}
	if a.Dot(b) < 0 {
		return 1
	}
	x := a.Cross(b)
	return x.Dot(x) / l
}

// seams takes the kinks across old edges into those of the triangles on both sides.
func (k *work) seams() {
	for h := range int32(len(k.E.Mate)) {
		o := k.E.Mate[h]
		if o < h || k.Crease[h] {
			continue
		}
		n := k.piece[h+1] - k.piece[h]
		worst := 0.0
		for i := range n {
			worst = max(worst, sine2(k.rim[k.piece[h]+i], k.rim[k.piece[o]+n-1-i]))
		}
		a := float32(math.Asin(math.Sqrt(min(worst, 1))))
		k.left[h/3], k.left[o/3] = max(k.left[h/3], a), max(k.left[o/3], a)
	}
}

// figures takes before and after.
func (k *work) figures(r *Result) {
	r.Before.Triangles, r.After.Triangles = len(k.M.Triangles), len(r.Mesh.Triangles)
	var before, after float64
	for t, e := range k.Chord {
		n := 1.0
		for _, p := range k.shapes[t].edge {
			if p > 1 && (n == 1 || float64(p) < n) {
				n = float64(p)
			}
		}
		r.Before.ChordMM = max(r.Before.ChordMM, float64(e))
		r.After.ChordMM = max(r.After.ChordMM, float64(e)/(n*n))
		after = max(after, float64(k.left[t]))
	}
	for i := range k.curves {
		c := &k.curves[i]
		r.Before.ChordMM = max(r.Before.ChordMM, c.rise)
		r.After.ChordMM = max(r.After.ChordMM, c.rise/float64(c.n*c.n))
	}
	for _, a := range k.Kink {
		before = max(before, math.Abs(float64(a)))
	}
	r.Before.KinkDeg, r.After.KinkDeg = before*180/math.Pi, after*180/math.Pi
}
