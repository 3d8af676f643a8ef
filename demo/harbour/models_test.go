package main

import (
	"bytes"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"runtime"
	"strings"
	"testing"

	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/stl"
	"barwise/plan/cl"
	"barwise/shop/cutter"
)

// wanted is what a model is to be: mm.
type wanted struct {
	foot, top float64 // y of its ends
	far       float64 // at most so far from the axis
	volume    [2]float64
	sides     int     // of the bar it is cut from
	ball      float64 // radius of the ball that finishes it
	tolerance float64 // of its job
}

var wants = map[string]wanted{
	// volumes: between the solids of revolution that the drawing lies in and about
	"rook":    {-6, 56, 12, [2]float64{8000, 10500}, 4, 0.5, 0.010},
	"buoy":    {-7, 40, 10, [2]float64{4000, 5500}, 6, 1, 0.015},
	"bollard": {-6.35, 44.45, 15, [2]float64{8500, 11500}, 4, 25.4 / 64, 0.0127},
}

// coarse is a cell that is quick and still finds every part, mm.
const coarse = 0.45

func each(t *testing.T, do func(t *testing.T, m model, w wanted)) {
	if len(models) != len(wants) {
		t.Fatalf("%d models, %d are wanted", len(models), len(wants))
	}
	for _, m := range models {
		t.Run(m.name, func(t *testing.T) { do(t, m, wants[m.name]) })
	}
}

// soak skips what takes long.
func soak(t *testing.T) {
	if os.Getenv("BARWISE_SOAK") == "" {
		t.Skip("long: BARWISE_SOAK is not set")
	}
}

func TestModelsAreSolids(t *testing.T) {
	each(t, func(t *testing.T, m model, w wanted) { size(t, m.extract(coarse), w, 0.1) })
}

func size(t *testing.T, s *mesh.Mesh, w wanted, off float64) {
	t.Helper()
	h := s.Health()
	if !h.Closed || len(h.Shells) != 1 {
		t.Errorf("not one closed surface: %+v", h)
	}
	if h.Volume < w.volume[0] || h.Volume > w.volume[1] {
		t.Errorf("%.0f mm³, %.0f to %.0f are wanted", h.Volume, w.volume[0], w.volume[1])
	}
	if b := h.Box; math.Abs(b.Min.Y-w.foot) > off || math.Abs(b.Max.Y-w.top) > off {
		t.Errorf("y from %.4f to %.4f, want %g to %g", b.Min.Y, b.Max.Y, w.foot, w.top)
	}
	far := 0.0
	for _, v := range s.Vertices {
		far = max(far, math.Hypot(v.X, v.Z))
	}
	if far > w.far+1e-3 || far < w.far-1 {
		t.Errorf("%.3f mm from the axis, up to %g are wanted", far, w.far)
	}
}

func TestSameOnOneProcessor(t *testing.T) {
	each(t, func(t *testing.T, m model, _ wanted) {
		many := m.extract(coarse)
		defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
		if one := m.extract(coarse); !reflect.DeepEqual(one, many) {
			t.Error("the meshes differ")
		}
	})
}

// The command writes what extract makes, and nothing where it is asked for what is not there.
func TestCommand(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "new", "b.stl")
	if err := run("buoy", path, coarse); err != nil {
		t.Fatal(err)
	}
	got, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	var want bytes.Buffer
	if err := stl.Write(&want, models[1].extract(coarse), "buoy pawn, mm"); err != nil || !bytes.Equal(got, want.Bytes()) {
		t.Error("the file is not the mesh's", err)
	}
	for name, err := range map[string]error{
		"bouy":    run("bouy", filepath.Join(dir, "x.stl"), 0),
		"of 2 mm": run("rook", filepath.Join(dir, "x.stl"), 2),
	} {
		if err == nil || !strings.Contains(err.Error(), name) || !strings.Contains(err.Error(), "allowed") {
			t.Errorf("asked for %q: %v", name, err)
		}
	}
	if all, _ := filepath.Glob(filepath.Join(dir, "*")); len(all) != 1 {
		t.Errorf("left behind: %v", all)
	}
}

// As they are shipped: no edge or vertex where a surface touches itself, no handles but the real ones.
func TestFullModels(t *testing.T) {
	soak(t)
	each(t, func(t *testing.T, m model, w wanted) {
		s := m.extract(m.cell)
		size(t, s, w, 0.005)
		if h := s.Health(); h.Crowded+h.Pinched+h.Duplicates+h.Degenerate != 0 || h.Shells[0].Euler != 2 {
			t.Errorf("touches itself, or has handles: %+v", h)
		}
		if n := len(s.Triangles); n < 150_000 || n > 300_000 {
			t.Errorf("%d triangles, 150 000 to 300 000 are wanted", n)
		}
		near(t, m, s)
		reaches(t, s, w)
	})
}

// Vertices lie on the surface; the middles of facets as near as chords do: c²/8r.
func near(t *testing.T, m model, s *mesh.Mesh) {
	off := make([]float64, len(s.Triangles))
	mesh.Parallel(len(s.Triangles)/1000+1, func(k int) {
		for i := k * 1000; i < min((k+1)*1000, len(off)); i++ {
			a, b, c := s.Corners(i)
			p := a.Add(b).Add(c).Mul(1.0 / 3)
			off[i] = math.Abs(m.shape(p)) / gradient(m.shape, p).Len()
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
	for _, v := range s.Vertices {
		worst = max(worst, math.Abs(m.shape(v)))
	}
	if worst > 1e-4 {
		t.Errorf("a vertex lies %.6f mm off", worst)
	}
}

// chords is how far facets themselves may lie off, mm.
const chords = 0.002

// reaches holds that the ball, coming straight down from one of the sides, comes to every vertex: the
// exact tip height beside the vertex, along its normal, is no higher than touching.
func reaches(t *testing.T, m *mesh.Mesh, w wanted) {
	s := cl.NewSurface(m)
	ball := cutter.Ball(w.ball)
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
	left := make([]float64, len(m.Vertices))
	for i := range left {
		left[i] = math.Inf(1)
	}
	for side := range w.sides {
		turn := geom.TurnDeg(float64(side * 360 / w.sides))
		ix := s.Index(turn)
		const chunk = 500
		mesh.Parallel(len(left)/chunk+1, func(k int) {
			for v := k * chunk; v < min((k+1)*chunk, len(left)); v++ {
				p, n := turn.ToSide(m.Vertices[v]), turn.ToSide(normals[v]).Unit()
				if n.Z < -0.01 || left[v] < 0.005 {
					continue
				}
				for _, o := range off {
					at := p.Add(n.Mul(w.ball + o))
					up := ix.Height(ball, at.X, at.Y) - (at.Z - w.ball)
					// how far the surface of a ball lifted by up stays from p
					r := at.Add(geom.Vec3{Z: max(up, 0)}).Sub(p).Len() - w.ball
					left[v] = min(left[v], r)
				}
			}
		})
	}
	bad, worst := 0, 0.0
	var where geom.Vec3
	for v, l := range left {
		if m.Vertices[v].Y < w.foot+0.5 {
			continue // the spigot's end is inside the stub
		}
		if l > w.tolerance+chords {
			bad++
		}
		if l > worst {
			worst, where = l, m.Vertices[v]
		}
	}
	if bad > 0 {
		t.Errorf("%d of %d vertices are not reached within %.4f mm, the worst by %.4f mm at (%.2f, %.2f, %.2f)", bad, len(left), w.tolerance+chords, worst, where.X, where.Y, where.Z)
	}
	t.Logf("worst %.4f mm at (%.2f, %.2f, %.2f)", worst, where.X, where.Y, where.Z)
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
		models[0].extract(models[0].cell)
	}
}
