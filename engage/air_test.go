package engage

import (
	"context"
	"reflect"
	"runtime"
	"testing"

	"barwise/geom"
	"barwise/path"
	"barwise/shop/bar"
	"barwise/shop/cutter"
	"barwise/stock"
)

var stick = bar.Bar{Shape: bar.Square, Width: 40, Height: 40, Length: 60, Grip: 10}

// comb is lines along x at height z, from x0 to x1, s apart in y, there and back by rapids.
func comb(deg, x0, x1, y0, y1, s, z float64, c cutter.Profile) Run {
	r := Run{Cutter: mill(c)}
	r.SideDeg = deg
	r.Start = geom.Vec3{Z: 50}
	for y := y0; y <= y1+1e-9; y += s {
		r.Moves = append(r.Moves, path.Move{To: geom.Vec3{X: x0, Y: y, Z: 50}}, path.Move{To: geom.Vec3{X: x0, Y: y, Z: z}})
		n := 100
		for i := 1; i <= n; i++ {
			r.Moves = append(r.Moves, path.Move{To: geom.Vec3{X: x0 + (x1-x0)*float64(i)/float64(n), Y: y, Z: z}, Mode: path.Line, Feed: 10})
		}
		r.Moves = append(r.Moves, path.Move{To: geom.Vec3{X: x1, Y: y, Z: 50}})
	}
	return r
}

func airOf(t *testing.T, runs ...Run) []Way {
	t.Helper()
	st := stock.New(stick, []float64{0, 90, 180, 270}, 0.1)
	w, err := Ways(context.Background(), st, runs)
	if err != nil {
		t.Fatal(err)
	}
	return w
}

// Lines 0.09 mm apart, finer than the grid, all cut but for what runs beyond the bar; the same again takes
// nothing, between them half a step aside it takes the cusps of 2 µm, off to the side of the cut a little it does.
func TestFineLinesAreNoAir(t *testing.T) {
	ball := cutter.Ball(0.5)
	const s = 0.09
	one := comb(0, -25, 25, 30, 33, s, 19.9, ball)
	again := comb(0, -25, 25, 30, 33, s, 19.9, ball)
	between := comb(0, -25, 25, 30+s/2, 33-s/2, s, 19.9, ball)
	beside := comb(0, -25, 25, 33+s, 33+s, s, 19.9, ball)
	w := airOf(t, one, again, beside)
	lines := float64(len(one.Moves)/103) * 50
	// over the bar's edge the cutter still bites while the section at the top, 0.3 wide, reaches it
	near(t, "air share", w[0].AirShare(), 10./50, 0.012)
	near(t, "all of it", w[0].Cut+w[0].Air, lines, 1e-6)
	near(t, "again", w[1].Cut, 0, 0)
	near(t, "longest air", w[1].LongestAir, 50, 1e-6)
	near(t, "down", w[1].Down, 0, 0)
	near(t, "beside", w[2].AirShare(), 10./50, 0.012)
	w = airOf(t, one, between)
	near(t, "between", w[1].AirShare(), 10./50, 0.012)
}

// A groove cut from one side is air from the next: the flank of side 90°'s cutter passes where side 0° cut.
func TestOtherSidesCount(t *testing.T) {
	flat := cutter.FlatEnd(2)
	from0 := comb(0, 13, 24, 30, 40, 1, 16, flat) // z from 16 up, x from 11 out to the edge at 20
	// side 90° faces +x: x of the part is its z, z of the part is its −x
	from90 := comb(90, -23, -18.2, 31, 39, 1, 12.1, flat)
	w := airOf(t, from0, from90)
	near(t, "second", w[1].Cut, 0, 0)
	w = airOf(t, from90, from0)
	if w[0].AirShare() > 0.3 || w[1].Cut == 0 {
		t.Errorf("the other way round: %+v", w)
	}
	runtime.GOMAXPROCS(1)
	again := airOf(t, from90, from0)
	runtime.GOMAXPROCS(runtime.NumCPU())
	if !reflect.DeepEqual(w, again) {
		t.Error("one core gives another result")
	}
}
