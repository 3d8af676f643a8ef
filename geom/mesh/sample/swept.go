package sample

import (
	"math"

	"barwise/geom"
)

// Swept is what a ball of radius r has swept, kept in a grid of cells: the slow and separate account of what
// passes leave.
type Swept struct {
	r    float64
	cell map[[3]int32][][2]geom.Vec3
}

// Sweep is a ball of radius r that has swept nothing yet.
func Sweep(r float64) *Swept { return &Swept{r: r, cell: map[[3]int32][][2]geom.Vec3{}} }

// Add sweeps the ball along a line, its middle from a to b.
func (c *Swept) Add(a, b geom.Vec3) {
	n := int(b.Sub(a).Len()/c.r) + 1
	seen := map[[3]int32]bool{}
	for k := range n + 1 {
		if q := c.key(a.Lerp(b, float64(k)/float64(n))); !seen[q] {
			seen[q] = true
			c.cell[q] = append(c.cell[q], [2]geom.Vec3{a, b})
		}
	}
}

func (c *Swept) key(p geom.Vec3) [3]int32 {
	f := func(x float64) int32 { return int32(math.Floor(x / c.r)) }
	return [3]int32{f(p.X), f(p.Y), f(p.Z)}
}

// Left is the height of what is left standing above p in the direction n of the outward normal: the
// cutter's surface met first along n, +Inf where none is met. The ray starts below the surface, so that a
// path that gouges counts as less than 0.
func (c *Swept) Left(p, n geom.Vec3) float64 {
	o := p.Sub(n.Mul(0.2 * c.r))
	best := math.Inf(1)
	k := c.key(p.Add(n.Mul(c.r)))
	for d := range int32(27) {
		for _, s := range c.cell[[3]int32{k[0] + d%3 - 1, k[1] + d/3%3 - 1, k[2] + d/9 - 1}] {
			best = min(best, rayCapsule(o, n, s[0], s[1], c.r))
		}
	}
	return best - 0.2*c.r
}

// rayCapsule is where the ray first meets the capsule: the nearer of cylinder and end balls.
func rayCapsule(o, d, a, b geom.Vec3, r float64) float64 {
	best := min(raySphere(o, d, a, r), raySphere(o, d, b, r))
	ab := b.Sub(a)
	l2 := ab.Dot(ab)
	if l2 == 0 {
		return best
	}
	oa := o.Sub(a)
	// distance² of o + t d from the line, less r²: A t² + 2 B t + C
	A := 1 - ab.Dot(d)*ab.Dot(d)/l2
	B := oa.Dot(d) - ab.Dot(oa)*ab.Dot(d)/l2
	C := oa.Dot(oa) - ab.Dot(oa)*ab.Dot(oa)/l2 - r*r
	if A < 1e-12 || B*B < A*C {
		return best
	}
	t := (-B - math.Sqrt(B*B-A*C)) / A
	if s := oa.Add(d.Mul(t)).Dot(ab); t >= 0 && s >= 0 && s <= l2 {
		best = min(best, t)
	}
	return best
}

func raySphere(o, d, c geom.Vec3, r float64) float64 {
	oc := o.Sub(c)
	b, q := oc.Dot(d), oc.Dot(oc)-r*r
	if b*b < q {
		return math.Inf(1)
	}
	if t := -b - math.Sqrt(b*b-q); t >= 0 {
		return t
	}
	return math.Inf(1)
}
