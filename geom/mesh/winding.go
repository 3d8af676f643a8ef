package mesh

import (
	"math"

	"barwise/geom"
)

// Winding returns how many times the mesh winds around p: 1 inside a closed mesh that faces outward, 0
// outside, −1 inside one that is inside out, something between near holes. The solid angles are those
// of van Oosterom and Strackee, IEEE Trans. Biomed. Eng. 30 (1983). It looks at every triangle.
func (m *Mesh) Winding(p geom.Vec3) float64 {
	const block = 1 << 14
	sums := make([]float64, (len(m.Triangles)+block-1)/block)
	Parallel(len(sums), func(k int) {
		sum := 0.0
		for i := k * block; i < min(len(m.Triangles), (k+1)*block); i++ {
			a, b, c := m.Corners(i)
			sum += solidAngle(a.Sub(p), b.Sub(p), c.Sub(p))
		}
		sums[k] = sum
	})
	sum := 0.0
	for _, s := range sums {
		sum += s
	}
	return sum / (4 * math.Pi)
}

func solidAngle(a, b, c geom.Vec3) float64 {
	la, lb, lc := a.Len(), b.Len(), c.Len()
	num := a.Dot(b.Cross(c))
	den := float64(la*lb*lc) + float64(a.Dot(b)*lc) + float64(b.Dot(c)*la) + float64(c.Dot(a)*lb)
	return 2 * math.Atan2(num, den)
}

// Inside reports whether p lies inside the closed mesh.
func (m *Mesh) Inside(p geom.Vec3) bool { return m.Winding(p) > 0.5 }
