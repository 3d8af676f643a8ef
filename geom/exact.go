package geom

import (
	"math"
	"math/big"
)

// Exact predicates: the sign of a determinant of float64 coordinates, as if it were computed without
// rounding. A floating filter decides nearly always; the rest is decided by expansions, sums of floats
// that do not overlap (Dekker, Numer. Math. 18 (1971); Priest 1991; Shewchuk, Discrete Comput. Geom.
// 18 (1997)), and where a coordinate is so small or large that an expansion could lose a bit, by
// rational numbers. Coordinates must be finite.

// roundoff is the unit roundoff u: a rounded operation has a relative error of at most u.
const roundoff = 1.0 / (1 << 53)

// faint is added to the bounds for products that underflow. Such a product errs by at most 2⁻¹⁰⁷⁵ and is
// multiplied by at most one difference; where none of the products overflows that is below 2³⁴², so
// that 2⁻⁷⁰⁰ is more than all of them.
const faint = 0x1p-700

// Orient2D is 1 where a, b, c turn counter-clockwise, −1 where they turn clockwise and 0 where they lie
// on one line: the sign of (b − a) × (c − a). Exchanging two points changes the sign.
//
// The filter: differences are off by a factor 1 + δ with |δ| ≤ u, so each of the two products has three
// such factors, and the subtraction adds one: |error| ≤ ((1+u)⁴ − 1)·s < 4.5u·s with s the sum of the
// exact products' sizes, itself at most (1−u)⁻⁴ times the computed one. 5u covers both.
func Orient2D(a, b, c Vec2) int {
	l := float64((b.X - a.X) * (c.Y - a.Y))
	r := float64((b.Y - a.Y) * (c.X - a.X))
	det := l - r
	bound := float64(5*roundoff*(math.Abs(l)+math.Abs(r))) + faint
	if det > bound {
		return 1
	}
	if det < -bound {
		return -1
	}
	return orient2DExact(a, b, c)
}

// Orient3D is 1 where d lies on the side of the plane of a, b, c from which they turn counter-clockwise,
// −1 where it lies on the other side, 0 where the four lie in one plane: the sign of
// (b − a) × (c − a) · (d − a). Exchanging two points changes the sign.
//
// The filter: each of the six triple products has three differences, two products and at most three
// sums behind it, eight factors 1 + δ: |error| ≤ ((1+u)⁸ − 1)·s < 8.5u·s, and 9u covers the rounding of
// s as well.
func Orient3D(a, b, c, d Vec3) int {
	bx, by, bz := b.X-a.X, b.Y-a.Y, b.Z-a.Z
	cx, cy, cz := c.X-a.X, c.Y-a.Y, c.Z-a.Z
	dx, dy, dz := d.X-a.X, d.Y-a.Y, d.Z-a.Z
	x1, x2 := float64(by*cz), float64(bz*cy)
	y1, y2 := float64(bz*cx), float64(bx*cz)
	z1, z2 := float64(bx*cy), float64(by*cx)
	det := float64((x1-x2)*dx) + float64((y1-y2)*dy) + float64((z1-z2)*dz)
	size := float64((math.Abs(x1)+math.Abs(x2))*math.Abs(dx)) + float64((math.Abs(y1)+math.Abs(y2))*math.Abs(dy)) +
		float64((math.Abs(z1)+math.Abs(z2))*math.Abs(dz))
	bound := float64(9*roundoff*size) + faint
	if det > bound {
		return 1
	}
	if det < -bound {
		return -1
	}
	return orient3DExact(a, b, c, d)
}

// Coordinates of this size, or 0, make expansions exact: they are whole multiples of 2⁻³⁴⁰, so that
// products of three are multiples of 2⁻¹⁰²⁰, which a float64 still holds, and stay below 2¹⁰⁰⁰.
const (
	least = 0x1p-287
	most  = 0x1p+300
)

func tame(xs ...float64) bool {
	for _, x := range xs {
		if x = math.Abs(x); x != 0 && (x < least || x > most) {
			return false
		}
	}
	return true
}

func orient2DExact(a, b, c Vec2) int {
	if !tame(a.X, a.Y, b.X, b.Y, c.X, c.Y) {
		return orient2DRat(a, b, c)
	}
	bx, by := diff(b.X, a.X), diff(b.Y, a.Y)
	cx, cy := diff(c.X, a.X), diff(c.Y, a.Y)
	var m [16]float64
	return signOf(minor(m[:0], bx, by, cx, cy))
}

func orient3DExact(a, b, c, d Vec3) int {
	if !tame(a.X, a.Y, a.Z, b.X, b.Y, b.Z, c.X, c.Y, c.Z, d.X, d.Y, d.Z) {
		return orient3DRat(a, b, c, d)
	}
	bx, by, bz := diff(b.X, a.X), diff(b.Y, a.Y), diff(b.Z, a.Z)
	cx, cy, cz := diff(c.X, a.X), diff(c.Y, a.Y), diff(c.Z, a.Z)
	dx, dy, dz := diff(d.X, a.X), diff(d.Y, a.Y), diff(d.Z, a.Z)
	var m [16]float64
	var sum, next [192]float64
	s := addTimes(sum[:0], nil, minor(m[:0], by, bz, cy, cz), dx)
	s = addTimes(next[:0], s, minor(m[:0], bz, bx, cz, cx), dy)
	s = addTimes(sum[:0], s, minor(m[:0], bx, by, cx, cy), dz)
	return signOf(s)
}

// pair is a number as the sum of two floats that do not overlap, the small one first.
type pair struct{ lo, hi float64 }

// diff is a − b exactly (Knuth's two-sum).
func diff(a, b float64) pair {
	x := a - b
	bv := a - x
	av := x + bv
	return pair{(a - av) + (bv - b), x}
}

func twoSum(a, b float64) pair {
	x := a + b
	bv := x - a
	av := x - bv
	return pair{(a - av) + (b - bv), x}
}

// product is a·b exactly.
func product(a, b float64) pair {
	x := float64(a * b)
	return pair{math.FMA(a, b, -x), x}
}

// grow adds one float to an expansion in place: components that are zero are dropped, the rest stay in
// ascending size without overlap. The law: the sum of the components grows by exactly b.
func grow(e []float64, b float64) []float64 {
	n := 0
	for _, x := range e {
		s := twoSum(b, x)
		if s.lo != 0 {
			e[n] = s.lo
			n++
		}
		b = s.hi
	}
	e = e[:n]
	if b != 0 {
		e = append(e, b)
	}
	return e
}

func growProduct(e []float64, a, b float64) []float64 {
	if a == 0 || b == 0 {
		return e
	}
	p := product(a, b)
	if p.lo != 0 {
		e = grow(e, p.lo)
	}
	return grow(e, p.hi)
}

// minor is p·s − q·r.
func minor(e []float64, p, q, r, s pair) []float64 {
	for _, x := range [2]float64{p.lo, p.hi} {
		e = growProduct(e, x, s.lo)
		e = growProduct(e, x, s.hi)
	}
	for _, x := range [2]float64{q.lo, q.hi} {
		e = growProduct(e, -x, r.lo)
		e = growProduct(e, -x, r.hi)
	}
	return e
}

// addTimes is s + m·k.
func addTimes(e, s, m []float64, k pair) []float64 {
	e = append(e, s...)
	for _, x := range m {
		e = growProduct(e, x, k.lo)
		e = growProduct(e, x, k.hi)
	}
	return e
}

// signOf an expansion is that of its last, largest, component.
func signOf(e []float64) int {
	if len(e) == 0 {
		return 0
	}
	if e[len(e)-1] > 0 {
		return 1
	}
	return -1
}

func orient2DRat(a, b, c Vec2) int {
	bx, by, cx, cy := ratDiff(b.X, a.X), ratDiff(b.Y, a.Y), ratDiff(c.X, a.X), ratDiff(c.Y, a.Y)
	return new(big.Rat).Mul(bx, cy).Cmp(new(big.Rat).Mul(by, cx))
}

func orient3DRat(a, b, c, d Vec3) int {
	bx, by, bz := ratDiff(b.X, a.X), ratDiff(b.Y, a.Y), ratDiff(b.Z, a.Z)
	cx, cy, cz := ratDiff(c.X, a.X), ratDiff(c.Y, a.Y), ratDiff(c.Z, a.Z)
	sum := new(big.Rat)
	add := func(p, q, r, s *big.Rat, k *big.Rat) {
		m := new(big.Rat).Mul(p, s)
		m.Sub(m, new(big.Rat).Mul(q, r))
		sum.Add(sum, m.Mul(m, k))
	}
	add(by, bz, cy, cz, ratDiff(d.X, a.X))
	add(bz, bx, cz, cx, ratDiff(d.Y, a.Y))
	add(bx, by, cx, cy, ratDiff(d.Z, a.Z))
	return sum.Sign()
}

// ratDiff is a − b; what is not finite counts as 0.
func ratDiff(a, b float64) *big.Rat {
	x, y := new(big.Rat), new(big.Rat)
	x.SetFloat64(a)
	y.SetFloat64(b)
	return x.Sub(x, y)
}
