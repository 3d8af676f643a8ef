package even_test

import (
	"barwise/geom"
	"barwise/geom/mesh/sample"
	"barwise/path"
)

// sweep is what a ball of radius r sweeps along passes.
func sweep(passes []path.Pass, r float64) *sample.Swept {
	s := sample.Sweep(r)
	up := geom.Vec3{Z: r}
	for _, p := range passes {
		for k := 1; k < len(p.Points); k++ {
			s.Add(p.Points[k-1].Add(up), p.Points[k].Add(up))
		}
	}
	return s
}
