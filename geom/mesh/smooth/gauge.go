package smooth

import (
	"context"
	"math"

	"barwise/geom"
	"barwise/geom/mesh"
)

// slim is the height of a triangle, in parts of its longest edge, below which its normal is not trusted:
// its edges count as creases, and it has no chord error of its own.
const slim = 1e-6

// Gauge is how far a mesh departs from the smooth surface that it stands for.
//
// The smooth surface is taken to pass through the vertices. To second order a facet lies
// h = ½ Σ λi λj q_ij off it at barycentric λ, where q = κ·l² for an edge of length l along which the
// surface has the normal curvature κ: l²/8ρ at the middle of an edge, that is ρΔ²/8 for an arc of angle
// Δ, and l²/6ρ in the middle of an equilateral facet of a sphere. The curvatures come from the kinks: the
// normal tilts across edge i by its share t_i of the kink there, and q_k = 2(t_i·H_i + t_j·H_j) with the
// altitudes H over the other two edges. The kink is shared between the two facets as the distances of
// their circumcentres from the edge, which makes q exact on a sphere however it is cut into triangles,
// and on a cylinder of rectangles cut in two.
//
// The curvature of a triangle is then averaged with that of its neighbours, by area, across what is neither
// crease nor the end of a flat: where kinks say nothing, at creases and where four corners are on one circle, the
// neighbours speak.
//
// Errors: on a cylinder the estimate is low by Δ²/48 of itself, 0.3 % at 22°; on a sphere high, by 2 % at 18° and
// 0.7 % at 3°. Where the surface curves unlike in two directions, single triangles are off by 15 % at 10° either way,
// the mean by 1 %. Triangles of no order: on a sphere single ones are off by up to a third, the mean by 1 ‰; on an
// ellipsoid single slivers several times, mostly high, the mean by 5 %. Noise counts as curvature: there it is high.
type Gauge struct {
	M *mesh.Mesh
	E *mesh.Edges

	Normal []geom.Vec3 // unit, per triangle; zero where the triangle is too slim for one
	Kink   []float32   // per half-edge: angle between the two facets, radians, positive where convex; 0 at creases and borders
	Crease []bool      // per half-edge: meant sharp, a border, or next to a triangle without a normal
	Chord  []float32   // per triangle: greatest distance from the smooth surface, file unit or mm, never negative

	crease float64   // radians
	join   []bool    // per half-edge: the triangle's flat ends here tangentially, so the kink is all its neighbour's
	q      []float64 // per half-edge: κ·l² along the edge as its triangle sees it, signed
	bend   []float64 // per half-edge: |2·t·H|, how much the triangle curves across the edge
	flat   []int32   // per triangle: the first triangle of the coplanar region it is in
}

// Look gauges a mesh. A kink of more than creaseDeg is taken as meant. Kinks within what is left of the
// direction of a normal in float32 coordinates count as none.
func Look(ctx context.Context, m *mesh.Mesh, e *mesh.Edges, creaseDeg float64) (*Gauge, error) {
	if e == nil {
		e = m.Edges()
	}
	n := len(m.Triangles)
	g := &Gauge{M: m, E: e, Normal: make([]geom.Vec3, n), Kink: make([]float32, 3*n), Crease: make([]bool, 3*n),
		Chord: make([]float32, n), join: make([]bool, 3*n), q: make([]float64, 3*n), bend: make([]float64, 3*n),
		crease: creaseDeg * math.Pi / 180}
	box := m.Box()
	grain := 0.0
	if n > 0 {
		for _, p := range []geom.Vec3{box.Min, box.Max} {
			grain = max(grain, math.Abs(p.X), math.Abs(p.Y), math.Abs(p.Z))
		}
		grain *= 1.0 / (1 << 23)
	}
	low := make([]float64, n) // least altitude
	g.blocks(ctx, n, func(t int) { g.Normal[t], low[t] = normal(m, t) })
	g.blocks(ctx, n, func(t int) {
		for h := int32(3 * t); h < int32(3*t+3); h++ {
			g.kink(h, grain, low)
		}
	})
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	g.regions(ctx)
	of := make([]bent, n)
	g.blocks(ctx, n, func(t int) { g.bends(t, of) })
	g.blocks(ctx, n, func(t int) { g.chord(t, of) })
	return g, ctx.Err()
}

const block = 2048

// blocks runs f for every i below n, on all processors, and stops early once ctx is done.
func (g *Gauge) blocks(ctx context.Context, n int, f func(i int)) { blocks(ctx, n, block, f) }

func blocks(ctx context.Context, n, size int, f func(i int)) {
	mesh.Parallel((n+size-1)/size, func(k int) {
		if ctx.Err() != nil {
			return
		}
		for i := k * size; i < min(n, (k+1)*size); i++ {
			f(i)
		}
	})
}

// normal returns the unit normal and the least altitude of triangle t.
func normal(m *mesh.Mesh, t int) (geom.Vec3, float64) {
	a, b, c := m.Corners(t)
	n := b.Sub(a).Cross(c.Sub(a))
	twice := n.Len()
	longest := max(b.Sub(a).Len(), c.Sub(b).Len(), a.Sub(c).Len())
	if !(twice > slim*longest*longest) {
		return geom.Vec3{}, 0
	}
	return n.Mul(1 / twice), twice / longest
}

// kink settles half-edge h. Its mate comes to the same values, for they are made of the same numbers.
func (g *Gauge) kink(h int32, grain float64, low []float64) {
	o := g.E.Mate[h]
	if o == mesh.Border {
		g.Crease[h] = true
		return
	}
	a, b := g.E.Ends(h)
	c, _ := g.E.Ends(o)
	n, k := g.Normal[h/3], g.Normal[o/3]
	if a == c || low[h/3] == 0 || low[o/3] == 0 {
		g.Crease[h] = true
		return
	}
	dir := g.M.Vertices[b].Sub(g.M.Vertices[a]).Unit()
	angle := math.Atan2(n.Cross(k).Dot(dir), n.Dot(k))
	switch {
	case math.Abs(angle) > g.crease:
		g.Crease[h] = true
	case math.Abs(angle) > grain*(1/low[h/3]+1/low[o/3]):
		g.Kink[h] = float32(angle)
	}
}

// bends finds how triangle t curves: bend, and its curvature tensor.
func (g *Gauge) bends(t int, of []bent) {
	if g.Normal[t] == (geom.Vec3{}) {
		return
	}
	a, b, c := g.M.Corners(t)
	p := [3]geom.Vec3{a, b, c}
	twice := b.Sub(a).Cross(c.Sub(a)).Len()
	x := &of[t]
	x.weight = twice
	for k := range int32(3) {
		h := int32(3*t) + k
		if g.mute(h) {
			x.weight = hearsay * twice
		}
		if g.Kink[h] == 0 {
			continue
		}
		e := p[(k+1)%3].Sub(p[k])
		l := e.Len()
		high := twice / l
		tilt := 2 * g.tilt(h) / high // 2·t·H by H²
		g.bend[h] = math.Abs(tilt * high * high)
		n := e.Cross(g.Normal[t]).Mul(1 / l)
		x.xx += float64(tilt * n.X * n.X)
		x.yy += float64(tilt * n.Y * n.Y)
		x.zz += float64(tilt * n.Z * n.Z)
		x.xy += float64(tilt * n.X * n.Y)
		x.yz += float64(tilt * n.Y * n.Z)
		x.zx += float64(tilt * n.Z * n.X)
	}
}

// bent is a curvature tensor, 1/mm, with its weight.
type bent struct{ xx, yy, zz, xy, yz, zx, weight float64 }

// hearsay is the weight of a triangle with an edge whose kink says nothing, in parts of its area.
const hearsay = 0.05

// along is e·S·e.
func (x *bent) along(e geom.Vec3) float64 {
	return float64(x.xx*e.X*e.X) + float64(x.yy*e.Y*e.Y) + float64(x.zz*e.Z*e.Z) +
		2*(float64(x.xy*e.X*e.Y)+float64(x.yz*e.Y*e.Z)+float64(x.zx*e.Z*e.X))
}

// chord takes q and the chord error of triangle t from its curvature and that of its neighbours, by
// area: a single triangle of no order says little.
func (g *Gauge) chord(t int, of []bent) {
	if g.Normal[t] == (geom.Vec3{}) || g.still(t) {
		return
	}
	a, b, c := g.M.Corners(t)
	e := [3]geom.Vec3{b.Sub(a), c.Sub(b), a.Sub(c)}
	var q [3]float64
	weight := 0.0
	take := func(x *bent, n geom.Vec3) {
		weight += x.weight
		for k := range e {
			// laid over into its plane at full length
			d := e[k].Sub(n.Mul(n.Dot(e[k])))
			if l := d.Dot(d); l > 0 {
				q[k] += float64(x.weight * x.along(d) * (e[k].Dot(e[k]) / l))
			}
		}
	}
	take(&of[t], g.Normal[t])
	for h := int32(3 * t); h < int32(3*t+3); h++ {
		if o := g.E.Mate[h]; !g.Crease[h] && !g.join[h] && !g.join[o] {
			take(&of[o/3], g.Normal[o/3])
		}
	}
	most := g.turns(t)
	for k := range q {
		// a sliver's curvature knows no bounds, but an edge cannot turn by more than the kinks around
		l := most * e[k].Len()
		q[k] = max(-l, min(q[k]/weight, l))
		g.q[3*t+k] = q[k]
	}
	g.Chord[t] = float32(sagitta(q[0], q[1], q[2]))
}

// turns is the sum of the kinks of triangle t and of that neighbour which has most, radians.
func (g *Gauge) turns(t int) float64 {
	sum := func(t int32) float64 {
		k := g.Kink[3*t : 3*t+3]
		return math.Abs(float64(k[0])) + math.Abs(float64(k[1])) + math.Abs(float64(k[2]))
	}
	most := 0.0
	for h := int32(3 * t); h < int32(3*t+3); h++ {
		if o := g.E.Mate[h]; !g.Crease[h] {
			most = max(most, sum(o/3))
		}
	}
	return sum(int32(t)) + most
}

// still reports whether nothing bends triangle t.
func (g *Gauge) still(t int) bool {
	return g.bend[3*t] == 0 && g.bend[3*t+1] == 0 && g.bend[3*t+2] == 0
}

// mute reports whether the kink at h says nothing of how its triangle curves there: at a crease, and where the
// four corners are nearly on one circle and not those of a rectangle.
func (g *Gauge) mute(h int32) bool {
	if g.Crease[h] {
		return true
	}
	a, b := g.cot(h), g.cot(g.E.Mate[h])
	most := max(math.Abs(a), math.Abs(b))
	return most >= 0.05 && a+b < 0.1*most
}

// tilt is how far the smooth normal in the middle of edge h leans from its triangle's, radians: the
// triangle's share of the kink.
func (g *Gauge) tilt(h int32) float64 {
	o := g.E.Mate[h]
	kink := float64(g.Kink[h])
	switch {
	case g.join[h] && !g.join[o]:
		return 0
	case g.join[o] && !g.join[h]:
		return kink
	}
	return kink * g.share(h)
}

// share is the part of the kink at h that falls to its triangle, as the distances of the two circumcentres
// from the edge. It is half across the diagonal of a rectangle, over which nothing tilts, and, for want of
// better, where the four corners are nearly on one circle: then the surface may curve without a kink.
func (g *Gauge) share(h int32) float64 {
	a, b := g.cot(h), g.cot(g.E.Mate[h])
	if sum, most := a+b, max(math.Abs(a), math.Abs(b)); most >= 0.05 && sum >= 0.1*most {
		return a / sum
	}
	return 0.5
}

// cot is the cotangent of the angle opposite to h: twice the distance of the circumcentre from the
// edge, in edge lengths.
func (g *Gauge) cot(h int32) float64 {
	_, tip := g.E.Ends(mesh.Next(h))
	a, b := g.E.Ends(h)
	u := g.M.Vertices[a].Sub(g.M.Vertices[tip])
	v := g.M.Vertices[b].Sub(g.M.Vertices[tip])
	return u.Dot(v) / u.Cross(v).Len()
}

// sagitta is the greatest of |½ Σ λi λj q_ij| over a triangle whose edges have the heights a, b, c.
func sagitta(a, b, c float64) float64 {
	most := max(math.Abs(a), math.Abs(b), math.Abs(c)) / 8
	// the point where the gradient vanishes
	u, v, w := a*(b+c-a), b*(c+a-b), c*(a+b-c)
	d := float64(u) + float64(v) + float64(w)
	if u*d > 0 && v*d > 0 && w*d > 0 {
		most = max(most, math.Abs(a*b*c/(2*d)))
	}
	return most
}
