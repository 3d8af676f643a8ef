package finish

import (
	"math/rand"

	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/sample"
)

// sweep is what a ball of radius r sweeps along the passes of all sides, in the part frame.
func sweep(out *Output, r float64) *sample.Swept {
	c := sample.Sweep(r)
	up := geom.Vec3{Z: r}
	for _, s := range out.Sides {
		t := geom.TurnDeg(s.Deg)
		for _, p := range s.Passes {
			for k := 1; k < len(p.Points); k++ {
				c.Add(t.ToPart(p.Points[k-1].Add(up)), t.ToPart(p.Points[k].Add(up)))
			}
		}
	}
	return c
}

type spot struct{ p, n geom.Vec3 }

// spots samples a mesh's surface evenly by area.
func spots(m *mesh.Mesh, n int, seed int64) []spot {
	r := rand.New(rand.NewSource(seed))
	acc := make([]float64, len(m.Triangles))
	sum := 0.0
	for i := range m.Triangles {
		a, b, c := m.Corners(i)
		sum += b.Sub(a).Cross(c.Sub(a)).Len() / 2
		acc[i] = sum
	}
	var out []spot
	for range n {
		x := r.Float64() * sum
		i := 0
		for lo, hi := 0, len(acc); lo < hi; {
			mid := (lo + hi) / 2
			if acc[mid] < x {
				lo = mid + 1
			} else {
				hi = mid
			}
			i = hi
		}
		a, b, c := m.Corners(i)
		u, v := r.Float64(), r.Float64()
		if u+v > 1 {
			u, v = 1-u, 1-v
		}
		out = append(out, spot{a.Add(b.Sub(a).Mul(u)).Add(c.Sub(a).Mul(v)), b.Sub(a).Cross(c.Sub(a)).Unit()})
	}
	return out
}
