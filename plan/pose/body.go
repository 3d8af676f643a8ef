package pose

import (
	"context"
	"math"

	"barwise/finding"
	"barwise/geom"
	"barwise/geom/mesh"
)

// body is the model about the middle of its box and turned so that its principal axes are X, Y and Z: the
// lattice of directions then lies to the model as it does however the model lies in its file.
type body struct {
	m      *mesh.Mesh
	turn   frame // the turn
	centre geom.Vec3
	radius float64 // of the ball about centre that holds it
	area   float64
	volume float64
	used   []int32 // vertices that triangles use
	size   float64 // mm, edge of the cube of the same area
}

// samples are points that stand for equal areas, with their normals.
type samples struct {
	at, n []geom.Vec3
	unit  float64 // mm² each stands for
}

func newBody(m *mesh.Mesh) (*body, error) {
	if len(m.Triangles) == 0 {
		return nil, mesh.Empty("model")
	}
	for _, v := range m.Vertices {
		if err := mesh.CheckVertex(v, func() string { return "model" }); err != nil {
			return nil, err
		}
	}
	b := &body{turn: upright(m)}
	b.m = m.Map(b.turn.to)
	b.centre = b.m.Box().Centre()
	m = b.m
	seen := make([]bool, len(m.Vertices))
	for i, t := range m.Triangles {
		for _, v := range t {
			if seen[v] {
				continue
			}
			seen[v] = true
			b.used = append(b.used, v)
			b.radius = max(b.radius, m.Vertices[v].Sub(b.centre).Len())
		}
		p, q, r := b.corners(i)
		n := q.Sub(p).Cross(r.Sub(p))
		b.area += n.Len() / 2
		b.volume += p.Dot(n) / 6
	}
	if !(b.area > 0) {
		return nil, finding.Bad("mesh-flat", "model", "the model's triangles have no area", "export it again")
	}
	b.volume = math.Abs(b.volume)
	b.size = math.Sqrt(b.area / 6)
	return b, nil
}

// upright is the turn that brings the model's principal axes to X, Y and Z, each so that more of the surface
// reaches far to its positive side. Of a model without definite ones it is none at all.
func upright(m *mesh.Mesh) frame {
	none := frame{geom.Vec3{X: 1}, geom.Vec3{Y: 1}, geom.Vec3{Z: 1}}
	each := func(f func(mid geom.Vec3, area float64)) {
		for i := range m.Triangles {
			p, q, r := m.Corners(i)
			if a := q.Sub(p).Cross(r.Sub(p)).Len(); a > 0 {
				f(p.Add(q).Add(r).Mul(1.0/3), a)
			}
		}
	}
	sum, mid := 0.0, geom.Vec3{}
	each(func(p geom.Vec3, a float64) {
		sum += a
		mid = mid.Add(p.Mul(a))
	})
	if !(sum > 0) || math.IsInf(sum, 0) {
		return none
	}
	mid = mid.Mul(1 / sum)
	var c [3][3]float64
	each(func(p geom.Vec3, a float64) { outer(&c, p.Sub(mid), a/sum) })
	val, vec := geom.Eigen(c)
	if !(val[0] < definite*val[1] && val[1] < definite*val[2]) {
		return none
	}
	var skew [3]float64
	each(func(p geom.Vec3, a float64) {
		for k, v := range vec {
			d := p.Sub(mid).Dot(v)
			skew[k] += float64(a * float64(d*float64(d*d)))
		}
	})
	for k := range 2 {
		if skew[k] < 0 {
			vec[k] = vec[k].Mul(-1)
		}
	}
	return frame{vec[0], vec[1], vec[0].Cross(vec[1])}
}

// definite is how different two principal moments must be for axes to be told: 5 %.
const definite = 0.95

func (b *body) corners(i int) (p, q, r geom.Vec3) {
	p, q, r = b.m.Corners(i)
	return p.Sub(b.centre), q.Sub(b.centre), r.Sub(b.centre)
}

// sample takes n points: one for every equal step of area along the list of triangles, laid out within a
// triangle by an additive recurrence of the plastic number, so that a large one is covered evenly.
func (b *body) sample(n int) *samples {
	s := &samples{unit: b.area / float64(n)}
	const g = 1.32471795724474602596
	sum, k := 0.0, 0
	for i := range b.m.Triangles {
		p, q, r := b.corners(i)
		c := q.Sub(p).Cross(r.Sub(p))
		l := c.Len()
		sum += l / 2
		for ; k < n && (float64(k)+0.5)*s.unit <= sum; k++ {
			_, u := math.Modf(0.5 + float64(float64(k)/g))
			_, v := math.Modf(0.5 + float64(float64(k)/(g*g)))
			if u+v > 1 {
				u, v = 1-u, 1-v
			}
			s.at = append(s.at, p.Add(q.Sub(p).Mul(u)).Add(r.Sub(p).Mul(v)))
			s.n = append(s.n, c.Mul(1/l))
		}
	}
	return s
}

// cloud is points that cover the surface at less than a pixel's distance, float32 for speed: maps of
// the model are drawn from it. Every vertex is in it, but where more than one falls into a cube of 0.7 of a pixel.
type cloud struct {
	x, y, z []float32
	px      float64
}

func (b *body) cloud(ctx context.Context, px float64) (*cloud, error) {
	c := &cloud{px: px}
	cell := 0.7 * px
	n := int(2*b.radius/cell) + 2
	taken := make([]uint64, (n*n*n+63)/64)
	add := func(p geom.Vec3) {
		i, j, k := int((p.X+b.radius)/cell), int((p.Y+b.radius)/cell), int((p.Z+b.radius)/cell)
		at := (k*n+j)*n + i
		if taken[at/64]&(1<<(at%64)) != 0 {
			return
		}
		taken[at/64] |= 1 << (at % 64)
		c.x, c.y, c.z = append(c.x, float32(p.X)), append(c.y, float32(p.Y)), append(c.z, float32(p.Z))
	}
	for _, v := range b.used {
		add(b.m.Vertices[v].Sub(b.centre))
	}
	edge := 0.95 * px
	for i := range b.m.Triangles {
		if i%4096 == 0 && ctx.Err() != nil {
			return nil, ctx.Err()
		}
		p, q, r := b.corners(i)
		fill(p, q, r, edge*edge, false, add)
	}
	return c, nil
}

// fill halves a triangle at its longest edge until none is longer than the root of edge2 and adds the
// middles of the pieces; a triangle that small to begin with is left to its corners.
func fill(a, b, c geom.Vec3, edge2 float64, piece bool, add func(geom.Vec3)) {
	ab, bc, ca := b.Sub(a), c.Sub(b), a.Sub(c)
	la, lb, lc := ab.Dot(ab), bc.Dot(bc), ca.Dot(ca)
	switch l := max(la, lb, lc); {
	case !(l > edge2):
		if piece {
			add(a.Add(b).Add(c).Mul(1.0 / 3))
		}
	case l == la:
		m := a.Lerp(b, 0.5)
		fill(a, m, c, edge2, true, add)
		fill(m, b, c, edge2, true, add)
	case l == lb:
		m := b.Lerp(c, 0.5)
		fill(a, b, m, edge2, true, add)
		fill(a, m, c, edge2, true, add)
	default:
		m := c.Lerp(a, 0.5)
		fill(a, b, m, edge2, true, add)
		fill(m, b, c, edge2, true, add)
	}
}
