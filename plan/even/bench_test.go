package even_test

import (
	"context"
	"math"
	"os"
	"runtime"
	"syscall"
	"testing"

	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/ply"
	"barwise/geom/mesh/sample"
	"barwise/geom/mesh/stl"
	"barwise/motion"
	"barwise/path"
	"barwise/plan/cl"
	"barwise/plan/even"
	"barwise/plan/finish"
	"barwise/plan/link"
	"barwise/plan/share"
	"barwise/shop/catalog"
	"barwise/shop/cutter"
)

// seconds is the time passes take at the machine small-mill, at 1440 mm/min, lifts over what the view shows.
func seconds(b testing.TB, v *share.View, passes []path.Pass) (t *motion.Timeline) {
	m, ok := catalog.Builtin().Machine("small-mill")
	if !ok {
		b.Fatal("no machine small-mill")
	}
	f := v.Field
	top := math.Inf(-1)
	for _, z := range f.Z {
		top = max(top, float64(z))
	}
	free := func(p, q geom.Vec2) float64 {
		n := int(q.Sub(p).Len()/f.DX) + 1
		z := math.Inf(-1)
		for k := range n + 1 {
			i, j := f.Nearest(p.Add(q.Sub(p).Mul(float64(k) / float64(n))))
			z = max(z, float64(f.MaxAround(f.X(i-1), f.X(i+1), f.Y(j-1), f.Y(j+1))))
		}
		return z
	}
	moves := link.Link(passes, free, link.Params{Safe: top + 5, Clear: 0.5, ApproachGap: 0.3, CutFeed: 24, EntryFeed: 8})
	return motion.Plan(geom.Vec3{Z: top + 5}, moves, m)
}

func cpuSeconds() float64 {
	var u syscall.Rusage
	syscall.Getrusage(syscall.RUSAGE_SELF, &u)
	return float64(u.Utime.Nano()+u.Stime.Nano()) / 1e9
}

func rook(b testing.TB) *mesh.Mesh {
	f, err := os.Open("../../demo/rook.stl")
	if err != nil {
		b.Skip(err)
	}
	defer f.Close()
	st, _ := f.Stat()
	m, _, err := stl.Read(context.Background(), f, st.Size(), mesh.Limits{})
	if err != nil {
		b.Fatal(err)
	}
	c := m.Box().Centre()
	return m.Map(func(p geom.Vec3) geom.Vec3 { p = p.Sub(c); return geom.Vec3{X: p.X, Y: p.Z, Z: -p.Y} })
}

// Even passes, joined and completed as finishing does, against the raster: time at the machine. The figures
// and the CPU time are of the even lines alone.
func BenchmarkAgainstRaster(b *testing.B) {
	wavy := func(x, y float64) float64 { return 0.8 * math.Sin(0.5*x) * math.Cos(0.4*y) }
	for _, c := range []struct {
		name  string
		mesh  func() *mesh.Mesh
		sides []float64
	}{
		{"torus", func() *mesh.Mesh { return sample.Ring(9, 4, 300) }, []float64{0, 90, 180, 270}},
		{"wavy", func() *mesh.Mesh { return plate(12, 0.1, wavy) }, []float64{0}},
		{"rook", func() *mesh.Mesh { return rook(b) }, []float64{0, 90, 180, 270}},
		{"dragon", func() *mesh.Mesh { return sample.Laid(sample.Dragon(b, ply.Read), 40) }, []float64{0, 90, 180, 270}},
	} {
		b.Run(c.name, func(b *testing.B) {
			m := c.mesh()
			box := m.Box()
			ctx := context.Background()
			r := 0.5
			half := max(box.Max.X, -box.Min.X, box.Max.Z, -box.Min.Z) + r
			in := share.Input{Surface: cl.NewSurface(m), Mesh: m, Cutter: cutter.Ball(r), YMin: box.Min.Y - r, YMax: box.Max.Y + r}
			if c.name == "wavy" {
				half, in.YMin, in.YMax = 10, -10, 10
			}
			for _, d := range c.sides {
				in.Sides = append(in.Sides, share.Side{Deg: d, XMin: -half, XMax: half, ZMin: -half})
			}
			for b.Loop() {
				p := finish.Params{Cusp: 0.002, Tolerance: 0.002, Decimals: 3}
				t0 := cpuSeconds()
				ras, err := finish.Plan(ctx, finish.Input{Input: in}, p)
				if err != nil {
					b.Fatal(err)
				}
				b.Logf("raster: cpu %.1f s", cpuSeconds()-t0)
				p.Passes = finish.ConstantCusp
				whole, err := finish.Plan(ctx, finish.Input{Input: in}, p)
				if err != nil {
					b.Fatal(err)
				}
				s := share.New(in, share.Params{})
				if err := s.All(ctx); err != nil {
					b.Fatal(err)
				}
				for i, v := range s.Views {
					s.Spread(v)
					t1 := cpuSeconds()
					o, err := even.Plan(ctx, s, v, even.Params{Cusp: 0.002, Tolerance: 0.002, Decimals: 3})
					if err != nil {
						b.Fatal(err)
					}
					cpu := cpuSeconds() - t1
					core, got := 0, 0
					for k := range v.State {
						if v.Core(k) {
							core++
							if o.Covered[k] {
								got++
							}
						}
					}
					te, tr := seconds(b, v, whole.Sides[i].Passes), seconds(b, v, ras.Sides[i].Passes)
					f := ras.Sides[i].Figures
					b.Logf("%g°: raster %.0f s (cut %.0f, %d passes, %.0f mm, %d points), even %.0f s (cut %.0f, cpu %.1f, %.3f of the share covered by lines) %+v", v.Deg,
						tr.Total(), tr.Cutting, f.Passes, f.CutLength, f.Points, te.Total(), te.Cutting, cpu, float64(got)/float64(core), o.Figures)
					v.Free()
					runtime.GC()
				}
			}
		})
	}
}
