package cross

import (
	"math/big"

	"barwise/geom"
	"barwise/geom/mesh"
)

// The slow twin: in rational numbers one triangle is clipped by the half-spaces that bound the other,
// which leaves what they have in common, corner by corner; its kind is read off that.

type rvec [3]*big.Rat

func rational(v geom.Vec3) rvec {
	return rvec{new(big.Rat).SetFloat64(v.X), new(big.Rat).SetFloat64(v.Y), new(big.Rat).SetFloat64(v.Z)}
}

func (a rvec) sub(b rvec) (c rvec) {
	for i := range c {
		c[i] = new(big.Rat).Sub(a[i], b[i])
	}
	return c
}

func (a rvec) dot(b rvec) *big.Rat {
	s := new(big.Rat)
	for i := range a {
		s.Add(s, new(big.Rat).Mul(a[i], b[i]))
	}
	return s
}

func (a rvec) cross(b rvec) (c rvec) {
	for i := range c {
		j, k := (i+1)%3, (i+2)%3
		c[i] = new(big.Rat).Sub(new(big.Rat).Mul(a[j], b[k]), new(big.Rat).Mul(a[k], b[j]))
	}
	return c
}

func (a rvec) zero() bool { return a[0].Sign() == 0 && a[1].Sign() == 0 && a[2].Sign() == 0 }

// clip keeps the part of a convex polygon (or segment, or point) where n·(x − o) ≥ 0.
func clip(poly []rvec, n, o rvec) []rvec {
	var out []rvec
	for i, a := range poly {
		b := poly[(i+1)%len(poly)]
		da, db := n.dot(a.sub(o)), n.dot(b.sub(o))
		if da.Sign() >= 0 {
			out = append(out, a)
		}
		if da.Sign()*db.Sign() < 0 {
			t := new(big.Rat).Quo(da, new(big.Rat).Sub(da, db))
			var x rvec
			for k := range x {
				d := new(big.Rat).Sub(b[k], a[k])
				x[k] = d.Mul(d, t).Add(d, a[k])
			}
			out = append(out, x)
		}
	}
	return out
}

func walls(q [3]rvec) (normals, origins []rvec) {
	n := q[1].sub(q[0]).cross(q[2].sub(q[0]))
	for i := range 3 {
		normals = append(normals, n.cross(q[(i+1)%3].sub(q[i])))
		origins = append(origins, q[i])
	}
	return normals, origins
}

func slowMeet(m *mesh.Mesh, a, b int) Kind {
	var p, q [3]rvec
	for i := range 3 {
		p[i], q[i] = rational(m.Vertices[m.Triangles[a][i]]), rational(m.Vertices[m.Triangles[b][i]])
	}
	n := q[1].sub(q[0]).cross(q[2].sub(q[0]))
	minus := rvec{}.neg(n)
	poly := clip(clip(p[:], n, q[0]), minus, q[0])
	normals, origins := walls(q)
	for i := range normals {
		poly = clip(poly, normals[i], origins[i])
	}
	if len(poly) == 0 {
		return 0
	}
	var shared []rvec
	for _, v := range m.Triangles[a] {
		for _, w := range m.Triangles[b] {
			if v == w {
				shared = append(shared, rational(m.Vertices[v]))
			}
		}
	}
	beyond := len(shared) == 0
	for _, x := range poly {
		switch len(shared) {
		case 1:
			beyond = beyond || !x.sub(shared[0]).zero()
		case 2:
			beyond = beyond || !x.sub(shared[0]).cross(shared[1].sub(shared[0])).zero()
		case 3:
			beyond = true
		}
	}
	if !beyond {
		return 0
	}
	far := poly[0]
	for _, x := range poly {
		for _, y := range poly {
			if !x.sub(poly[0]).cross(y.sub(poly[0])).zero() {
				return Over
			}
		}
		if d := x.sub(poly[0]); d.dot(d).Cmp(far.sub(poly[0]).dot(far.sub(poly[0]))) > 0 {
			far = x
		}
	}
	// a segment: its far end from one corner, and from there the other far end
	near := far
	for _, x := range poly {
		if d := x.sub(far); d.dot(d).Cmp(near.sub(far).dot(near.sub(far))) > 0 {
			near = x
		}
	}
	if near.sub(far).zero() {
		return Touch
	}
	var mid rvec
	for k := range mid {
		mid[k] = new(big.Rat).Mul(new(big.Rat).Add(near[k], far[k]), big.NewRat(1, 2))
	}
	if insideOf(mid, p) && insideOf(mid, q) {
		return Through
	}
	return Touch
}

func (rvec) neg(a rvec) (c rvec) {
	for i := range c {
		c[i] = new(big.Rat).Neg(a[i])
	}
	return c
}

// insideOf tells that x, of the plane of t, lies strictly inside t.
func insideOf(x rvec, t [3]rvec) bool {
	normals, origins := walls(t)
	for i := range normals {
		if normals[i].dot(x.sub(origins[i])).Sign() <= 0 {
			return false
		}
	}
	return true
}

func slowDegenerate(m *mesh.Mesh, a int) bool {
	t := m.Triangles[a]
	p, q, r := rational(m.Vertices[t[0]]), rational(m.Vertices[t[1]]), rational(m.Vertices[t[2]])
	return q.sub(p).cross(r.sub(p)).zero()
}

// slowFind looks at all pairs.
func slowFind(m *mesh.Mesh) (list []Pair, skipped int) {
	bad := make([]bool, len(m.Triangles))
	for i := range bad {
		if bad[i] = slowDegenerate(m, i); bad[i] {
			skipped++
		}
	}
	for a := range m.Triangles {
		for b := a + 1; b < len(m.Triangles); b++ {
			if bad[a] || bad[b] {
				continue
			}
			if k := slowMeet(m, a, b); k != 0 {
				list = append(list, Pair{A: int32(a), B: int32(b), Kind: k})
			}
		}
	}
	return list, skipped
}
