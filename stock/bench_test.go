package stock

import (
	"context"
	"fmt"
	"math"
	"testing"

	"barwise/geom"
	"barwise/shop/bar"
	"barwise/shop/cutter"
)

// raster is n moves of about 0.5 mm of a ball's tip to and fro over a 60×30 top at z = 30, lines 0.4 mm
// apart, 0.1 to 0.5 mm deep.
func raster(n int) []geom.Vec3 {
	var pts []geom.Vec3
	x, y, d := 0.5, 1.0, 0.5
	for len(pts) <= n {
		pts = append(pts, geom.Vec3{X: x - 30, Y: y, Z: 29.7 + 0.2*math.Sin(x/2)*math.Cos(y/1.5)})
		if nx := x + d; nx > 59.5 || nx < 0.5 {
			y += 0.4
			d = -d
		} else {
			x = nx
		}
	}
	return pts
}

var block = bar.Bar{Shape: bar.Rect, Width: 60, Height: 60, Length: 30}

// Moves a second by one core or all: 5000 moves of a Ø1 ball at 0.05 mm.
func BenchmarkCutMoves(b *testing.B) {
	pts := raster(5000)
	for _, c := range []struct {
		name string
		p    cutter.Profile
	}{{"ball", cutter.Ball(0.5)}, {"bull", cutter.Bull(0.5, 0.1)}, {"flat", cutter.FlatEnd(0.5)}} {
		b.Run(c.name, func(b *testing.B) {
			s := New(block, []float64{0}, 0.05)
			for b.Loop() {
				b.StopTimer()
				for i := range s.Field(0).Z {
					s.Field(0).Z[i] = uncut
				}
				b.StartTimer()
				if err := s.CutMoves(context.Background(), 0, c.p, pts); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(5000*float64(b.N)/b.Elapsed().Seconds()/1e6, "Mmoves/s")
		})
	}
}

// carvedBar is a 40×40×60 bar at 0.1 mm turned to a wavy column from four sides.
func carvedBar(degs []float64) *Stack {
	shape := bar.Square
	if len(degs) == 6 {
		shape = bar.Hex
	}
	s := New(bar.Bar{Shape: shape, Width: 40, Height: 40, Length: 60, Grip: 8}, degs, 0.1)
	for k := range degs {
		f := s.Field(k)
		for j := range f.NY {
			y := f.Y(j)
			if y < 10 {
				continue
			}
			r := 12 + 4*math.Sin(y/5) + math.Sin(y*2)
			for i := range f.NX {
				x := f.X(i)
				f.Z[j*f.NX+i] = float32(math.Sqrt(max(0, r*r-x*x)) - 1e-3*math.Abs(x))
				if math.Abs(x) > r {
					f.Z[j*f.NX+i] = -1
				}
			}
		}
		s.Changed(k)
	}
	return s
}

func eachBar(b *testing.B, do func(*Stack)) {
	for _, n := range []int{4, 6} {
		var degs []float64
		for k := range n {
			degs = append(degs, 360/float64(n)*float64(k))
		}
		s := carvedBar(degs)
		b.Run(fmt.Sprint(n, "sides"), func(b *testing.B) {
			for b.Loop() {
				do(s)
			}
		})
	}
}

func BenchmarkSeen(b *testing.B) { eachBar(b, func(s *Stack) { s.Seen(0) }) }

func BenchmarkVolume(b *testing.B) { eachBar(b, func(s *Stack) { s.Volume() }) }

func BenchmarkPieces(b *testing.B) { eachBar(b, func(s *Stack) { s.Pieces() }) }

func BenchmarkRender(b *testing.B) {
	c := Camera{At: geom.Vec3{Y: 30}, Dir: geom.Vec3{X: -1, Y: -0.5, Z: -0.8}, Up: geom.Vec3{Z: 1}, Width: 80}
	eachBar(b, func(s *Stack) {
		if _, err := s.Render(context.Background(), c, 800, 800); err != nil {
			b.Fatal(err)
		}
	})
}

func BenchmarkNew(b *testing.B) {
	for b.Loop() {
		New(bar.Bar{Shape: bar.Hex, Width: 40, Height: 40, Length: 60}, []float64{0, 60, 120, 180, 240, 300}, 0.1)
	}
}

// The end's view of the wavy column, and a side's view and the volume where the end has a hole 15 mm deep.
func BenchmarkEnd(b *testing.B) {
	s := carvedBar([]float64{0, 90, 180, 270, geom.EndDeg})
	f := s.Field(4)
	for n := range f.Z {
		f.Z[n] = uncut
	}
	s.Cut(4, cutter.Ball(6), geom.Vec3{Z: 45}, geom.Vec3{Z: 45})
	for _, c := range []struct {
		name string
		do   func()
	}{{"seen from the end", func() { s.Seen(4) }}, {"seen from a side", func() { s.Seen(0) }}, {"volume", func() { s.Volume() }}} {
		b.Run(c.name, func(b *testing.B) {
			for b.Loop() {
				c.do()
			}
		})
	}
}
