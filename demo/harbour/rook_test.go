package main

import (
	"bytes"
	"math"
	"os"
	"reflect"
	"runtime"
	"sync"
	"testing"

	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/stl"
	"barwise/plan/cl"
	"barwise/shop/cutter"
)

var model = sync.OnceValue(func() *mesh.Mesh { return extract(rook, bounds, cellMM) })

func TestModelIsASolid(t *testing.T) {
	m := model()
	h := m.Health()
	if !h.Closed || h.Crowded+h.Pinched+h.Duplicates+h.Degenerate != 0 || len(h.Shells) != 1 || h.Shells[0].Euler != 2 {
		t.Errorf("not one closed surface without handles: %+v", h)
	}
	if n := len(m.Triangles); n < 150_000 || n > 300_000 {
		t.Errorf("%d triangles, 150 000 to 300 000 are wanted", n)
	}
	b := h.Box
	for what, v := range map[string][2]float64{
		"foot": {b.Min.Y, -6}, "top": {b.Max.Y, 56},
	} {
		if math.Abs(v[0]-v[1]) > 0.005 {
			t.Errorf("%s at %.4f, want %g", what, v[0], v[1])
		}
	}
	far := 0.0
	for _, v := range m.Vertices {
		far = max(far, math.Hypot(v.X, v.Z))
	}
	if far > 12 {
		t.Errorf("%.3f mm from the axis, at most 12 are wanted", far)
	}
}

// Vertices lie on the surface; the middles of facets as near as chords do: c²/8r.
func TestMeshIsNearTheShape(t *testing.T) {
	m := model()
	off := make([]float64, len(m.Triangles))
	mesh.Parallel(len(m.Triangles)/1000+1, func(k int) {
		for i := k * 1000; i < min((k+1)*1000, len(off)); i++ {
			a, b, c := m.Corners(i)
			p := a.Add(b).Add(c).Mul(1.0 / 3)
			off[i] = math.Abs(rook(p)) / gradient(rook, p).Len()
		}
	})
	close, sum := 0, 0.0
	for _, d := range off {
		sum += d
		if d < 0.002 {
			close++
		}
	}
	if share := float64(close) / float64(len(off)); share < 0.75 {
		t.Errorf("%.1f %% of the facets lie within 2 µm, 75 are wanted", 100*share)
	}
	if mean := sum / float64(len(off)); mean > 0.002 {
		t.Errorf("facets lie %.4f mm off in the mean, at most 0.002 is wanted", mean)
	}
	worst := 0.0
	for _, v := range m.Vertices {
		worst = max(worst, math.Abs(rook(v)))
	}
	if worst > 1e-4 {
		t.Errorf("a vertex lies %.6f mm off", worst)
	}
}

// reached is how near the ball has to come, mm: 10 µm, and 2 for the facets' own chords.
const reached = 0.012

// A ball of 1 mm diameter that comes straight down from one of the four sides comes to every vertex: the
// exact tip height beside the vertex, along its normal, is no higher than touching.
func TestEverySurfaceIsReached(t *testing.T) {
	m := model()
	s := cl.NewSurface(m)
	ball := cutter.Ball(0.5)
	// held off by so much: walls along the view are grazed by rounding, and hollow ones by their chords
	off := [...]float64{0.002, 0.005, 0.008}
	normals := make([]geom.Vec3, len(m.Vertices))
	for i := range m.Triangles {
		a, b, c := m.Corners(i)
		n := b.Sub(a).Cross(c.Sub(a))
		for _, v := range m.Triangles[i] {
			normals[v] = normals[v].Add(n)
		}
	}
	step := 4
	if os.Getenv("BARWISE_SOAK") != "" {
		step = 1
	}
	left := make([]float64, len(m.Vertices))
	for i := range left {
		left[i] = math.Inf(1)
	}
	for _, deg := range []float64{0, 90, 180, 270} {
		turn := geom.TurnDeg(deg)
		ix := s.Index(turn)
		const chunk = 500
		mesh.Parallel(len(left)/chunk+1, func(k int) {
			for v := k * chunk; v < min((k+1)*chunk, len(left)); v += step {
				p, n := turn.ToSide(m.Vertices[v]), turn.ToSide(normals[v]).Unit()
				if n.Z < -0.01 || left[v] < 0.005 {
					continue
				}
				for _, o := range off {
					at := p.Add(n.Mul(0.5 + o))
					up := ix.Height(ball, at.X, at.Y) - (at.Z - 0.5)
					// how far the surface of a ball lifted by up stays from p
					r := at.Add(geom.Vec3{Z: max(up, 0)}).Sub(p).Len() - 0.5
					left[v] = min(left[v], r)
				}
			}
		})
	}
	bad, worst := 0, 0.0
	var where geom.Vec3
	for v, l := range left {
		if v%step != 0 || m.Vertices[v].Y < -5.9 {
			continue // the spigot's end is inside the stub
		}
		if l > reached {
			bad++
		}
		if l > worst {
			worst, where = l, m.Vertices[v]
		}
	}
	if bad > 0 {
		t.Errorf("%d of %d vertices are not reached within 12 µm, the worst by %.4f mm at (%.2f, %.2f, %.2f)", bad, len(left), worst, where.X, where.Y, where.Z)
	}
	t.Logf("worst %.4f mm at (%.2f, %.2f, %.2f)", worst, where.X, where.Y, where.Z)
}

func TestSameOnOneProcessor(t *testing.T) {
	many := extract(rook, bounds, 0.5)
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	if one := extract(rook, bounds, 0.5); !reflect.DeepEqual(one, many) {
		t.Error("the meshes differ")
	}
	var a, b bytes.Buffer
	if err := stl.Write(&a, many, "x"); err != nil {
		t.Fatal(err)
	}
	if err := stl.Write(&b, extract(rook, bounds, 0.5), "x"); err != nil || !bytes.Equal(a.Bytes(), b.Bytes()) {
		t.Error("the files differ", err)
	}
}

// The extraction on a sphere: closed, on the surface, volume and area as 4/3·πr³ and 4πr² have it.
func TestExtractSphere(t *testing.T) {
	const r = 5
	m := extract(func(p geom.Vec3) float64 { return p.Len() - r }, geom.Box3{Min: geom.Vec3{X: -6, Y: -6, Z: -6}, Max: geom.Vec3{X: 6, Y: 6, Z: 6}}, 0.25)
	h := m.Health()
	if !h.Closed || h.Shells[0].Euler != 2 {
		t.Errorf("%+v", h)
	}
	if d := h.Volume / (4.0 / 3 * math.Pi * r * r * r); d > 1 || d < 0.998 {
		t.Errorf("volume %.5f of the sphere's", d)
	}
	if d := h.Area / (4 * math.Pi * r * r); d > 1 || d < 0.998 {
		t.Errorf("area %.5f of the sphere's", d)
	}
}

// A join at right angles has the radius asked for: the circle tangent to both walls.
func TestJoinRadius(t *testing.T) {
	for deg := 5.0; deg < 90; deg += 10 {
		s, c := math.Sincos(deg * math.Pi / 180)
		// walls x = 0 and y = 0, the solid below each; the fillet's centre at (r, r)
		const r = 0.75
		x, y := r-r*c, r-r*s
		if d := join(x, y, r); math.Abs(d) > 1e-12 {
			t.Errorf("at %g°: %g off", deg, d)
		}
	}
}

func BenchmarkExtract(b *testing.B) {
	for b.Loop() {
		extract(rook, bounds, cellMM)
	}
}
