package cl

import (
	"context"
	"encoding/binary"
	"math"
	"os"
	"testing"
	"time"

	"barwise/geom"
	"barwise/geom/field"
	"barwise/shop/cutter"
)

// dragonGrid is n × n nodes at lo + (i + ½)·px over the mesh, px a part of its greater extent in x and y:
// the rays of the peer that the figures in docs/performance.md are measured against.
func dragonGrid(box geom.Box3, n int) field.Grid {
	e := max(box.Size().X, box.Size().Y)
	px := e / float64(n)
	return field.Grid{X0: box.Min.X + px/2, Y0: box.Min.Y + px/2, DX: px, DY: px, NX: n, NY: n}
}

func BenchmarkDragonBallField(b *testing.B) {
	m := openMesh(b, "dragon.ply", 100)
	g := dragonGrid(m.Box(), 4000)
	b.ResetTimer()
	var adjacency, adjacencyCPU time.Duration
	start := cpuTime()
	for b.Loop() {
		t0, c0 := time.Now(), cpuTime()
		s := NewSurface(m)
		adjacency += time.Since(t0)
		adjacencyCPU += cpuTime() - c0
		if _, err := s.Field(context.Background(), geom.TurnDeg(0), cutter.Ball(0.5), 0, g); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(g.Len())*float64(b.N)/b.Elapsed().Seconds()/1e6, "Mpoints/s")
	b.ReportMetric(1000*(cpuTime()-start).Seconds()/float64(b.N), "ms-cpu")
	b.ReportMetric(1000*adjacencyCPU.Seconds()/float64(b.N), "ms-adjacency-cpu")
	b.ReportMetric(1000*adjacency.Seconds()/float64(b.N), "ms-adjacency")
}

// TestDragonAgainstPeer compares with a float32 field written by a ray tracer that descends on the mesh
// grown by the ball: BARWISE_PEER_FIELD names the file, n × n heights of the tip, −1 for none. Its rays
// start at float32 places, some nanometres off the nodes, and its arithmetic is float32 too; on walls a
// nanometre aside is a micrometre of height. So where the two differ by more than 1 µm, the index, which
// works by other formulas, must agree with the field at the node, and must reach the peer's height within
// one float32 step, 8 nm at 64 to 128 mm, of the peer's own ray.
func TestDragonAgainstPeer(t *testing.T) {
	name := os.Getenv("BARWISE_PEER_FIELD")
	if name == "" {
		t.Skip("BARWISE_PEER_FIELD does not name a field")
	}
	raw, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	n := int(math.Sqrt(float64(len(raw) / 4)))
	m := openMesh(t, "dragon.ply", 100)
	box := m.Box()
	g := dragonGrid(box, n)
	p := cutter.Ball(0.5)
	s := NewSurface(m)
	f, err := s.Field(context.Background(), geom.TurnDeg(0), p, 0, g)
	if err != nil {
		t.Fatal(err)
	}
	ix := s.Index(geom.TurnDeg(0))
	e := max(float32(box.Size().X), float32(box.Size().Y))
	ray := func(lo float64, i int) float64 { return float64(float32(lo) + (float32(i)+0.5)*(e/float32(n))) }
	hits, higher, lower := 0, 0, 0
	for k, z := range f.Z {
		got, peer := float64(z), float64(math.Float32frombits(binary.LittleEndian.Uint32(raw[4*k:])))
		if peer == -1 {
			peer = math.Inf(-1)
		} else {
			hits++
		}
		if got == peer || math.Abs(got-peer) <= 1e-3 {
			continue
		}
		if got < peer {
			lower++
		} else {
			higher++
		}
		i, j := k%n, k/n
		atNode, atRay := ix.Height(p, g.X(i), g.Y(j)), ix.Height(p, ray(box.Min.X, i), ray(box.Min.Y, j))
		t.Logf("node (%.7f, %.7f): field %.6f, index %.6f; at the ray (%.7f, %.7f): peer %.6f, index %.6f",
			g.X(i), g.Y(j), got, atNode, ray(box.Min.X, i), ray(box.Min.Y, j), peer, atRay)
		if math.Abs(got-atNode) > 1e-4 && got != atNode {
			t.Errorf("field and index differ")
		}
		for a := range 16 {
			sn, cs := math.Sincos(float64(a) * math.Pi / 8)
			atRay = max(atRay, ix.Height(p, ray(box.Min.X, i)+8e-6*cs, ray(box.Min.Y, j)+8e-6*sn))
		}
		if atRay < peer-1e-3 {
			t.Errorf("the peer's ray was stopped higher, at %v, than the index is anywhere near it, at %v", peer, atRay)
		}
	}
	t.Logf("%d points, %d hit by the peer; higher by more than 1 µm: %d, lower: %d", len(f.Z), hits, higher, lower)
}

// TestDragonFieldAgainstIndex holds the patches against the tree on the open mesh itself, from odd angles
// and with every cutter, on a coarse grid.
func TestDragonFieldAgainstIndex(t *testing.T) {
	m := openMesh(t, "dragon.ply", 100)
	s := NewSurface(m)
	for k, deg := range []float64{0, 90, 135, 180, 270} {
		turn := geom.TurnDeg(deg)
		ix := s.Index(turn)
		for name, p := range cutters() {
			box := m.Map(turn.ToSide).Box()
			g := field.Grid{X0: box.Min.X - 1.2, Y0: box.Min.Y - 1.1, DX: 1.97, DY: 1.213 + 0.01*float64(k)}
			g.NX, g.NY = int((box.Size().X+2.5)/g.DX), int((box.Size().Y+2.5)/g.DY)
			f, err := s.Field(context.Background(), turn, p, 0, g)
			if err != nil {
				t.Fatal(err)
			}
			bad := 0
			for j := range g.NY {
				for i := range g.NX {
					got := float64(f.At(i, j))
					if ok, _ := agrees(ix, p, g.X(i), g.Y(j), got, 1e-5); ok {
						continue
					}
					if bad++; bad < 4 {
						t.Logf("%s from %v° at (%v, %v): field %v, index %v", name, deg, g.X(i), g.Y(j), got, ix.Height(p, g.X(i), g.Y(j)))
					}
				}
			}
			if bad > 0 {
				t.Errorf("%s from %v°: %d of %d points differ", name, deg, bad, g.Len())
			}
		}
	}
}

// BenchmarkDragonFields takes one field of each cutter, at the pitch of a roughing and a finishing field.
func BenchmarkDragonFields(b *testing.B) {
	m := openMesh(b, "dragon.ply", 100)
	s := NewSurface(m)
	deg := math.Pi / 180
	for _, c := range []struct {
		name      string
		p         cutter.Profile
		allowance float64
		n         int
	}{
		{"ball Ø1", cutter.Ball(0.5), 0, 4000},
		{"flat Ø3 allowance 0.2", cutter.FlatEnd(1.5), 0.2, 1000},
		{"flat Ø3", cutter.FlatEnd(1.5), 0, 1000},
		{"ball Ø6", cutter.Ball(3), 0, 2000},
		{"bull Ø3 corner 0.5", cutter.Bull(1.5, 0.5), 0, 2000},
		{"cone 30° to Ø3", cutter.Cone(1.5, 15*deg, 0), 0, 2000},
		{"tapered ball Ø1 to Ø3", cutter.TaperedBall(1.5, 0.5, 5*deg), 0, 2000},
	} {
		b.Run(c.name, func(b *testing.B) {
			g := dragonGrid(m.Box(), c.n)
			start := cpuTime()
			for b.Loop() {
				if _, err := s.Field(context.Background(), geom.TurnDeg(0), c.p, c.allowance, g); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(g.Len())*float64(b.N)/b.Elapsed().Seconds()/1e6, "Mpoints/s")
			b.ReportMetric(1000*(cpuTime()-start).Seconds()/float64(b.N), "ms-cpu")
		})
	}
}

// BenchmarkDragonIndex asks for single heights along rows, as a raster pass does.
func BenchmarkDragonIndex(b *testing.B) {
	m := openMesh(b, "dragon.ply", 100)
	s := NewSurface(m)
	start := time.Now()
	ix := s.Index(geom.TurnDeg(0))
	build := time.Since(start)
	p := cutter.Ball(0.5)
	i := 0
	for b.Loop() {
		x, y := 5+float64(i%9000)*0.01, 5+float64(i/9000%60)
		ix.Height(p, x, y)
		i++
	}
	b.ReportMetric(float64(build.Milliseconds()), "ms-build")
}
