package thick

import (
	"math"

	"barwise/geom"
)

// query finds the largest ball at one place after another.
type query struct {
	*tree
	most    float64
	facing  float64 // a triangle is opposite where its normal's cosine to the place's is at most this
	cone    float64 // and is met within this cosine of straight across
	stack   []int32
	last    int32 // the triangle that bound the ball before: a good first guess beside it
	centre  geom.Vec3
	reach2  float64 // the ball's radius squared, a little more
	place   geom.Vec3
	normal  geom.Vec3
	diam    float64
	touched int32
}

func newQuery(t *tree, p Params) *query {
	w := p.WedgeDeg * math.Pi / 180
	// two planes at angle w in the solid have normals at π − w; the ball that touches both is met at
	// w/2 from straight across
	return &query{tree: t, most: p.Most, facing: -math.Cos(w), cone: math.Cos(w / 2), last: -1}
}

// at returns the diameter of the largest ball that touches p, on the side away from n.
func (q *query) at(p, n geom.Vec3) float64 {
	q.place, q.normal, q.touched = p, n, -1
	q.shrink(q.most)
	if len(q.nodes) == 0 {
		return q.most
	}
	if q.last >= 0 {
		q.meet(q.last)
	}
	q.stack = append(q.stack[:0], 0)
	for len(q.stack) > 0 {
		i := q.stack[len(q.stack)-1]
		q.stack = q.stack[:len(q.stack)-1]
		nd := &q.nodes[i]
		if nd.faces(n) > q.facing+slack || nd.dist2(q.centre) > q.reach2 || nd.beyond(p, n, q.diam) {
			continue
		}
		if nd.count > 0 {
			for k := nd.first; k < nd.first+nd.count; k++ {
				q.meet(k)
			}
			continue
		}
		l, r := i+1, nd.first
		if q.nodes[l].dist2(q.centre) < q.nodes[r].dist2(q.centre) {
			l, r = r, l
		}
		q.stack = append(q.stack, l, r) // the nearer one is taken first
	}
	q.last = q.touched
	return q.diam
}

// shrink takes a smaller ball.
func (q *query) shrink(d float64) {
	q.diam = d
	q.centre = q.place.Sub(q.normal.Mul(d / 2))
	// boxes are compared by squares: a relative slack, for a tie must not be lost to rounding
	q.reach2 = float64(d*d) / 4 * (1 + 1e-9)
}

func (q *query) meet(k int32) {
	t := &q.tris[k]
	if d := touch(t, q.place, q.normal, q.facing, q.cone, q.diam); d < q.diam {
		q.shrink(d)
		q.touched = k
	} else if d == q.diam {
		q.touched = k
	}
}

// touch returns the diameter of the ball that touches p, away from n, and the triangle; infinite where
// the triangle is no opposite wall, or where its plane leaves room for a ball of more than most.
//
// The balls through p with centres on its normal are nested, so over a flat or straight convex thing
// the diameter has one minimum: for a plane at height h behind p it is 2h/(1 − m·n), met at
// r(m − n); where that is outside the triangle the minimum is on its rim.
func touch(t *tri, p, n geom.Vec3, facing, cone, most float64) float64 {
	mn := t.m.Dot(n)
	if mn > facing {
		return math.Inf(1)
	}
	a := t.a.Sub(p)
	h := t.m.Dot(a)
	d := 2 * h / (1 - mn)
	if d > most {
		return math.Inf(1)
	}
	if h < 0 {
		// in front of the triangle; a little may be rounding
		if h < -1e-9*(1+a.Len()) {
			return math.Inf(1)
		}
		d = 0
	}
	b, c := t.b.Sub(p), t.c.Sub(p)
	at := t.m.Sub(n).Mul(d / 2)
	if inside(a, b, at, t.m) && inside(b, c, at, t.m) && inside(c, a, at, t.m) {
		return d
	}
	return min(rim(a, b, n, cone), rim(b, c, n, cone), rim(c, a, n, cone))
}

func inside(a, b, q, m geom.Vec3) bool {
	return b.Sub(a).Cross(q.Sub(a)).Dot(m) >= 0
}

// rim is the least |q|² / −n·q over the segment a…b within the cone about −n.
func rim(v, w, n geom.Vec3, cone float64) float64 {
	d := w.Sub(v)
	aa, bb, cc := v.Dot(v), v.Dot(d), d.Dot(d)
	al, be := -n.Dot(v), -n.Dot(d)
	// numerator aa + 2·bb·s + cc·s², depth al + be·s; the derivative's root with positive depth
	root := float64(math.Sqrt(cc) * d.Mul(al).Sub(v.Mul(be)).Len())
	s := 0.0
	switch den := float64(cc*al) + root; {
	case al >= 0 && den > 0:
		s = (float64(be*aa) - float64(2*bb*al)) / den
	case be != 0 && cc > 0:
		s = (root - float64(cc*al)) / (cc * be)
	}
	s = min(max(s, 0), 1)
	k2 := cone * cone
	ball := func(s float64) float64 {
		// from the point itself: the polynomials lose their digits where it is near
		q := v.Add(d.Mul(s))
		num, deep := q.Dot(q), -n.Dot(q)
		if !(deep > 0) || float64(deep*deep) < k2*num*(1-1e-9) {
			return math.Inf(1)
		}
		return num / deep
	}
	if f := ball(s); !math.IsInf(f, 1) {
		return f
	}
	// the best place is outside the cone: the rim's passage through the cone, if any, comes next
	qa, qb, qc := float64(be*be)-float64(k2*cc), float64(al*be)-float64(k2*bb), float64(al*al)-float64(k2*aa)
	disc := float64(qb*qb) - float64(qa*qc)
	if !(disc >= 0) || qa == 0 {
		return math.Inf(1)
	}
	sq := math.Sqrt(disc)
	best := math.Inf(1)
	for _, s := range [2]float64{(-qb - sq) / qa, (-qb + sq) / qa} {
		if s >= 0 && s <= 1 {
			best = min(best, ball(s))
		}
	}
	return best
}
