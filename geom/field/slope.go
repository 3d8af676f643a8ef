package field

import "math"

// Slope is the gradient at node (i, j), which is on the grid; 0 across its border. Where the two one-sided
// slopes differ as they do only at an edge of the view, the lesser is taken: the node belongs to that piece.
func (f *Field) Slope(i, j int) (gx, gy float64) {
	z := float64(f.Z[j*f.NX+i])
	one := func(a, b float32, h float64) float64 {
		m, p := (z-float64(a))/h, (float64(b)-z)/h
		switch {
		case math.Abs(m-p) <= 1:
			return (m + p) / 2
		case math.Abs(m) < math.Abs(p):
			return m
		}
		return p
	}
	if i > 0 && i+1 < f.NX {
		gx = one(f.Z[j*f.NX+i-1], f.Z[j*f.NX+i+1], f.DX)
	}
	if j > 0 && j+1 < f.NY {
		gy = one(f.Z[(j-1)*f.NX+i], f.Z[(j+1)*f.NX+i], f.DY)
	}
	return gx, gy
}
