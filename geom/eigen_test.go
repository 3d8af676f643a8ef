package geom

import (
	"math"
	"math/rand/v2"
	"testing"
)

// q·v = λ·v for every pair, the vectors square to each other, the values in order; their sum is the trace.
func TestEigen(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for n := range 200 {
		var q [3][3]float64
		for i := range 3 {
			for j := range i + 1 {
				x := r.NormFloat64()
				if n%4 == 1 && i != j {
					x = 0 // already on its axes
				}
				q[i][j], q[j][i] = x, x
			}
		}
		val, vec := Eigen(q)
		for i, v := range vec {
			got := Vec3{
				X: q[0][0]*v.X + q[0][1]*v.Y + q[0][2]*v.Z,
				Y: q[1][0]*v.X + q[1][1]*v.Y + q[1][2]*v.Z,
				Z: q[2][0]*v.X + q[2][1]*v.Y + q[2][2]*v.Z,
			}
			if d := got.Sub(v.Mul(val[i])).Len(); d > 1e-13 || math.Abs(v.Len()-1) > 1e-15 {
				t.Fatalf("%v: value %g is off by %g, its vector %g long", q, val[i], d, v.Len())
			}
			if j := (i + 1) % 3; math.Abs(v.Dot(vec[j])) > 1e-14 {
				t.Fatalf("%v: %v and %v are not square", q, v, vec[j])
			}
		}
		if trace := q[0][0] + q[1][1] + q[2][2]; math.Abs(val[0]+val[1]+val[2]-trace) > 1e-13 || val[0] > val[1] || val[1] > val[2] {
			t.Fatalf("%v: values %v", q, val)
		}
	}
}
