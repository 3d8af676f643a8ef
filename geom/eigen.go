package geom

import (
	"cmp"
	"math"
	"slices"
)

// Eigen returns the eigenvalues of a symmetric matrix in ascending order, with unit eigenvectors, by
// Jacobi's rotations.
func Eigen(q [3][3]float64) (values [3]float64, axes [3]Vec3) {
	v := [3][3]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}
	for range 30 {
		off := math.Abs(q[0][1]) + math.Abs(q[0][2]) + math.Abs(q[1][2])
		if off <= 1e-18*(math.Abs(q[0][0])+math.Abs(q[1][1])+math.Abs(q[2][2])) {
			break
		}
		for _, jk := range [3][2]int{{0, 1}, {0, 2}, {1, 2}} {
			rotate(&q, &v, jk[0], jk[1])
		}
	}
	order := [3]int{0, 1, 2}
	slices.SortStableFunc(order[:], func(a, b int) int { return cmp.Compare(q[a][a], q[b][b]) })
	for i, k := range order {
		values[i] = q[k][k]
		axes[i] = Vec3{X: v[0][k], Y: v[1][k], Z: v[2][k]}.Unit()
	}
	return values, axes
}

// rotate turns q in the plane of j and k so that q[j][k] becomes 0, and v with it.
func rotate(q, v *[3][3]float64, j, k int) {
	if q[j][k] == 0 {
		return
	}
	theta := (q[k][k] - q[j][j]) / (2 * q[j][k])
	t := 1 / (math.Abs(theta) + math.Sqrt(float64(theta*theta)+1))
	if theta < 0 {
		t = -t
	}
	c := 1 / math.Sqrt(float64(t*t)+1)
	s := float64(t * c)
	for i := range 3 {
		a, b := q[i][j], q[i][k]
		q[i][j], q[i][k] = float64(c*a)-float64(s*b), float64(s*a)+float64(c*b)
	}
	for i := range 3 {
		a, b := q[j][i], q[k][i]
		q[j][i], q[k][i] = float64(c*a)-float64(s*b), float64(s*a)+float64(c*b)
		a, b = v[i][j], v[i][k]
		v[i][j], v[i][k] = float64(c*a)-float64(s*b), float64(s*a)+float64(c*b)
	}
}
