package corner

import (
	"context"
	"math"
	"os"
	"testing"

	"barwise/geom/mesh"
	"barwise/geom/mesh/stl"
	"barwise/plan/cl"
	"barwise/plan/share"
	"barwise/shop/cutter"
)

// rook is the demo's model lying along the bar, shared by a ball of radius 0.5 among four sides.
func rook(b *testing.B) *share.Set {
	f, err := os.Open("../../demo/rook.stl")
	if err != nil {
		b.Skip(err)
	}
	defer f.Close()
	st, err := f.Stat()
	if err != nil {
		b.Fatal(err)
	}
	m, _, err := stl.Read(context.Background(), f, st.Size(), mesh.Limits{})
	if err != nil {
		b.Fatal(err)
	}
	box := m.Box()
	in := share.Input{Surface: cl.NewSurface(m), Mesh: m, Cutter: cutter.Ball(0.5), YMin: box.Min.Y + 2, YMax: box.Max.Y + 2}
	half := max(math.Abs(box.Min.X), math.Abs(box.Max.X)) + 2
	for _, d := range []float64{0, 90, 180, 270} {
		in.Sides = append(in.Sides, share.Side{Deg: d, XMin: -half, XMax: half, ZMin: -half})
	}
	s := share.New(in, share.Params{Near: 0.01})
	if err := s.All(context.Background()); err != nil {
		b.Fatal(err)
	}
	return s
}

func BenchmarkRookFind(b *testing.B) {
	s := rook(b)
	for b.Loop() {
		l := find(b, s, fine, before(s, 1.5))
		left, core, area := 0, 0, 0.0
		for i, r := range l.Sides {
			for k, d := range r.Depth {
				if d > 0 {
					left++
				}
				if s.Views[i].Core(k) {
					core++
				}
			}
			area += r.AreaMM2
		}
		b.ReportMetric(100*float64(left)/float64(core), "%left")
		b.ReportMetric(area, "mm2")
	}
}

func BenchmarkRookCreases(b *testing.B) {
	s := rook(b)
	l := find(b, s, fine, before(s, 1.5))
	for b.Loop() {
		f := follow(b, l, 0)
		b.ReportMetric(100*float64(f.Left)/float64(f.LeftAll), "%covered")
		b.ReportMetric(f.CutLength, "mm")
		b.ReportMetric(float64(len(f.Passes)), "passes")
		b.ReportMetric(float64(f.Points), "points")
	}
}
