package proof_test

import (
	"context"
	"os"
	"path/filepath"
	"testing"
	"time"

	"barwise/geom"
	"barwise/geom/field"
	"barwise/geom/mesh"
	"barwise/geom/mesh/ply"
	"barwise/path"
	"barwise/plan/cl"
	"barwise/proof"
	"barwise/shop/bar"
	"barwise/shop/cutter"
	"barwise/shop/machine"
)

// dragon reads the open mesh and lays its longest side along Y, 57 mm long, above a stub of 8 mm.
func dragon(tb testing.TB) *mesh.Mesh {
	dir := os.Getenv("BARWISE_MESHES")
	if dir == "" {
		tb.Skip("BARWISE_MESHES is not set")
	}
	f, err := os.Open(filepath.Join(dir, "dragon.ply"))
	if err != nil {
		tb.Skip(err)
	}
	defer f.Close()
	st, _ := f.Stat()
	m, _, err := ply.Read(context.Background(), f, st.Size(), mesh.Limits{})
	if err != nil {
		tb.Fatal(err)
	}
	b := m.Box()
	k := 57 / b.Size().X
	c := b.Centre()
	return m.Map(func(p geom.Vec3) geom.Vec3 {
		p = p.Sub(c).Mul(k)
		return geom.Vec3{X: -p.Y, Y: p.X + 57./2 + 8, Z: p.Z} // a quarter turn about Z
	})
}

// lowest is how deep the synthetic passes go, mm.
const lowest = -18.0

// dragonPrograms are raster passes of a Ø1 ball over the whole dragon from four sides, with exact tips.
func dragonPrograms(tb testing.TB, m *mesh.Mesh) (proof.Setup, []proof.Program, int) {
	ball := cutter.Cutter{ID: "ball1", Profile: cutter.Ball(0.5), Edges: 2, LCF: 42, DMM: 3, OAL: 70, StickOut: 46,
		Plunges: true, RampDeg: 90, Holder: []cutter.Collar{{Z: 0, R: 10}}}
	flat := cutter.Cutter{ID: "flat3", Profile: cutter.FlatEnd(1.5), Edges: 2, LCF: 42, DMM: 3, OAL: 70, StickOut: 46,
		Plunges: true, RampDeg: 90, Holder: []cutter.Collar{{Z: 0, R: 10}}}
	s := cl.NewSurface(m)
	// between two exact tips the way is halved until it stays within 1 µm of the exact height
	var split func(ix *cl.Index, p cutter.Profile, a, b geom.Vec3, depth int, out func(geom.Vec3))
	split = func(ix *cl.Index, p cutter.Profile, a, b geom.Vec3, depth int, out func(geom.Vec3)) {
		mid := a.Lerp(b, 0.5)
		if h := max(ix.Height(p, mid.X, mid.Y), lowest); depth > 0 && h > mid.Z+0.001 {
			mid.Z = h
			split(ix, p, a, mid, depth-1, out)
			split(ix, p, mid, b, depth-1, out)
			return
		}
		out(b)
	}
	var progs []proof.Program
	n := 0
	for _, rough := range []bool{true, false} {
		for _, deg := range []float64{0, 90, 180, 270} {
			c, dx, dy, allow := ball, 0.089, 0.15, 0.0
			if rough {
				c, dx, dy, allow = flat, 1, 0.5, 0.2
			}
			g := field.Cover(-19, 19, 9, 66, dx, dy)
			f, err := s.Field(context.Background(), geom.TurnDeg(deg), c.Profile, allow, g)
			if err != nil {
				tb.Fatal(err)
			}
			p := path.Program{Name: c.ID, SideDeg: deg, SpindleRPM: 10000, Start: geom.Vec3{Z: 30}}
			ix := s.Index(geom.TurnDeg(deg))
			var last geom.Vec3
			line := int32(0)
			add := func(mode path.Mode, q geom.Vec3) {
				line++
				p.Moves = append(p.Moves, path.Move{Mode: mode, To: q, Feed: 20, Line: line})
			}
			for i := range g.NX {
				on := false
				for jj := range g.NY {
					j := jj
					if i%2 == 1 {
						j = g.NY - 1 - jj
					}
					z := f.At(i, j)
					q := geom.Vec3{X: g.X(i), Y: g.Y(j), Z: max(float64(z), lowest)}
					if !on {
						up := q
						up.Z = 25
						add(path.Rapid, up)
						add(path.Line, q)
						on, last = true, q
						continue
					}
					if rough {
						add(path.Line, q)
					} else {
						split(ix, c.Profile, last, q, 5, func(b geom.Vec3) { add(path.Line, b) })
					}
					last = q
				}
				q := p.Moves[len(p.Moves)-1].To
				q.Z = 25
				add(path.Rapid, q)
			}
			n += len(p.Moves)
			progs = append(progs, proof.Program{Program: p, Cutter: c})
		}
	}
	return dragonSetup(m), progs, n
}

func dragonSetup(m *mesh.Mesh) proof.Setup {
	b := bar.Bar{Shape: bar.Square, Width: 40, Height: 40, Length: 70, Grip: 5}
	return proof.Setup{Target: m, Bar: b, Sides: []float64{0, 90, 180, 270}, StubY: 8, Machine: machine.Machine{},
		Tolerance: 0.01, GougeTol: 0.005, Pitch: 0.1, Spacing: 0.3}
}

func BenchmarkJudgeDragon(b *testing.B) {
	m := dragon(b)
	set, progs, n := dragonPrograms(b, m)
	b.ResetTimer()
	for range b.N {
		t := time.Now()
		r, err := proof.Judge(context.Background(), set, progs, nil)
		if err != nil {
			b.Fatal(err)
		}
		d := time.Since(t).Seconds()
		b.ReportMetric(float64(n)/d, "moves/s")
		b.Logf("%d moves in %.2f s: gouge %+v left %+v area %+v in tol %.4f samples %d", n, d, r.Gouge, r.Leftover, r.Area, r.AreaInTolerance, r.Samples)
		for _, f := range r.Findings {
			b.Log(f)
		}
	}
}
