package finish

import (
	"math"
	"os"
	"runtime"
	"slices"
	"syscall"
	"testing"
	"time"

	"barwise/geom/mesh/ply"
	"barwise/geom/mesh/sample"
	"barwise/plan/cl"
	"barwise/plan/share"
	"barwise/shop/cutter"
)

func BenchmarkDragon(b *testing.B) {
	m := sample.Laid(sample.Dragon(b, ply.Read), 40)
	box := m.Box()
	const r = 0.5
	for _, dir := range []struct {
		name string
		Direction
	}{{"along", Along}, {"across", Across}, {"either", Either}} {
		b.Run(dir.name, func(b *testing.B) {
			for b.Loop() {
				cpu := cpuSeconds()
				t0 := time.Now()
				s := cl.NewSurface(m)
				t1 := time.Now()
				in := Input{Input: share.Input{Surface: s, Mesh: m, Cutter: cutter.Ball(r), YMin: box.Min.Y - r, YMax: box.Max.Y + r, Sides: fourSides(20.6, -21)}}
				out := mustPlan(b, in, Params{Cusp: 0.002, Tolerance: 0.002, Decimals: 3, Direction: dir.Direction})
				b.Logf("box %.1f, cpu %.1f s, adjacency %.2f s, plan %.2f s", box.Size(), cpuSeconds()-cpu, t1.Sub(t0).Seconds(), time.Since(t1).Seconds())
				points, length := 0, 0.0
				for _, o := range out.Sides {
					points += o.Points
					length += o.CutLength
					b.Logf("%g°: %+v", o.Deg, o.Figures)
					up, n, hist := 0.0, 0, [6]float64{}
					for _, p := range o.Passes {
						for k := 1; k < len(p.Points); k++ {
							d := p.Points[k].Sub(p.Points[k-1])
							if d.XY().Len() < 0.0015 && math.Abs(d.Z) > 0.05 {
								up += math.Abs(d.Z)
								n++
								hist[min(5, int(math.Log2(math.Abs(d.Z)+1)*1.5))] += math.Abs(d.Z)
							}
						}
					}
					b.Logf("   upright %.0f mm in %d moves, by size %.0f", up, n, hist)
				}
				b.ReportMetric(float64(points), "points")
				b.ReportMetric(math.Round(length), "mm")
				var ms runtime.MemStats
				runtime.ReadMemStats(&ms)
				b.ReportMetric(float64(ms.Sys>>20), "MB")
			}
		})
	}
}

func cpuSeconds() float64 {
	var u syscall.Rusage
	syscall.Getrusage(syscall.RUSAGE_SELF, &u)
	return float64(u.Utime.Nano()+u.Stime.Nano()) / 1e9
}

// What the ball reaches of the dragon is cut from some side: a long test, for make soak.
func TestDragonIsCovered(t *testing.T) {
	if os.Getenv("BARWISE_SOAK") == "" {
		t.Skip("long: BARWISE_SOAK is not set")
	}
	m := sample.Laid(sample.Dragon(t, ply.Read), 40)
	box := m.Box()
	const r = 0.5
	for _, dir := range []Direction{Along, Either} {
		p := Params{Cusp: 0.002, Tolerance: 0.002, Decimals: 3, Direction: dir}
		in := Input{Input: share.Input{Surface: cl.NewSurface(m), Mesh: m, Cutter: cutter.Ball(r), YMin: box.Min.Y - r, YMax: box.Max.Y + r, Sides: fourSides(20.6, -21)}}
		o := mustPlan(t, in, p)
		caps := sweep(o, r)
		length := 0.0
		for _, s := range o.Sides {
			length += s.CutLength
		}
		var all []float64
		ss := reachable(in, spots(m, 40000, 5))
		over := map[string]int{}
		shown := 0
		for _, s := range ss {
			l := caps.Left(s.p, s.n)
			all = append(all, l*1e3)
			for _, k := range []struct {
				name string
				um   float64
			}{{"1 cusp + tolerance", 4}, {"2 1.5", 6}, {"3 2.5", 10}, {"4 20 um", 20}, {"5 50 um", 50}} {
				if l > k.um/1e3 {
					over[k.name]++
				}
			}
			if l < -p.Tolerance {
				t.Errorf("%v: %.2f um too deep", s.p, -l*1e3)
			}
			if l > 0.01 && shown < 15 {
				shown++
				t.Logf("%.2f normal %.2f left %.1f um", s.p, s.n, l*1e3)
			}
		}
		slices.Sort(all)
		t.Logf("%d spots reachable; over %v; left p50 %.2f p90 %.2f p99 %.2f max %.2f um; cut %.1f m", len(ss), over,
			all[len(all)/2], all[len(all)*9/10], all[len(all)*99/100], all[len(all)-1], length/1e3)
		if over["3 2.5"] > len(ss)/1000 {
			t.Errorf("%d of %d spots are left higher than the tolerance", over["3 2.5"], len(ss))
		}
	}
}
