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
// grown by the ball: BARWISE_PEER_FIELD names the file, n × n heights of the tip, −1 for none. No height
// may be lower by more than 1 µm; where one is higher by more, the index must agree with us.
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
	g := dragonGrid(m.Box(), n)
	p := cutter.Ball(0.5)
	s := NewSurface(m)
	f, err := s.Field(context.Background(), geom.TurnDeg(0), p, 0, g)
	if err != nil {
		t.Fatal(err)
	}
	ix := s.Index(geom.TurnDeg(0))
	var higher, lower, wrong, hits int
	var within int
	var mostHigher, mostLower float64
	for k, z := range f.Z {
		peer := float64(math.Float32frombits(binary.LittleEndian.Uint32(raw[4*k:])))
		got := float64(z)
		if peer == -1 {
			peer = math.Inf(-1)
		} else {
			hits++
		}
		d := got - peer
		switch {
		case got == peer || math.Abs(d) <= 1e-3:
			within++
			continue
		case d < 0:
			lower++
			mostLower = max(mostLower, -d)
		default:
			higher++
			if !math.IsInf(d, 1) {
				mostHigher = max(mostHigher, d)
			}
		}
		x, y := g.X(k%n), g.Y(k/n)
		if h := ix.Height(p, x, y); math.Abs(h-got) > 1e-4 && h != got {
			wrong++
			if wrong <= 20 {
				t.Errorf("at (%v, %v): field %v, index %v, peer %v", x, y, got, h, peer)
			}
		} else if d < 0 && lower <= 20 {
			t.Logf("lower at (%v, %v): field %v, index %v, peer %v", x, y, got, h, peer)
		}
	}
	t.Logf("%d points, %d hit by the peer; within 1 µm: %d (%.4f %%); higher: %d (most %.6f mm); lower: %d (most %.6f mm); field and index differ at %d of those",
		len(f.Z), hits, within, 100*float64(within)/float64(len(f.Z)), higher, mostHigher, lower, mostLower, wrong)
}
