package field

import (
	"math"
	"testing"
)

// A plane has its own slope at every inner node, a cusp that of neither side's jump but the gentler one's,
// and beyond the border nothing is known.
func TestSlope(t *testing.T) {
	f := New(Grid{DX: 0.5, DY: 0.25, NX: 6, NY: 5}, 0)
	for j := range f.NY {
		for i := range f.NX {
			f.Row(j)[i] = float32(3*f.X(i) - 2*f.Y(j))
		}
	}
	if gx, gy := f.Slope(2, 3); math.Abs(gx-3) > 1e-6 || math.Abs(gy+2) > 1e-6 {
		t.Errorf("the plane of slopes 3 and −2 slopes by %g and %g", gx, gy)
	}
	if gx, gy := f.Slope(0, 4); gx != 0 || gy != 0 {
		t.Errorf("on the border %g and %g", gx, gy)
	}
	f.Row(2)[4] = 40 // a wall beside node 3
	if gx, _ := f.Slope(3, 2); math.Abs(gx-3) > 1e-6 {
		t.Errorf("beside a wall the slope is %g, on its own side it is 3", gx)
	}
}
