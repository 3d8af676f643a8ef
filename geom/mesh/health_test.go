package mesh_test

import (
	"math"
	"math/rand/v2"
	"reflect"
	"runtime"
	"testing"

	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/sample"
)

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.12g, want %.12g within %g", what, got, want, tol)
	}
}

// Closed forms: a box has the volume and the area of its measures; the polyhedral torus of n × k has
// V − E + F = 0 and one handle (Euler, Poincaré); a genus-0 surface has χ = 2.
func TestHealthOfSoundSolids(t *testing.T) {
	b := sample.Box(v(-1, 2, 3), v(1, 5, 7)) // 2 × 3 × 4
	for _, c := range []struct {
		name         string
		m            *mesh.Mesh
		shells       int
		euler        int
		genus        int
		volume, area float64
		verts, edges int
	}{
		{"box", b, 1, 2, 0, 24, 52, 8, 18},
		{"torus", sample.Torus(10, 3, 40, 24), 1, 0, 1, torusVolume(10, 3, 40, 24), 0, 960, 2880},
		{"two boxes apart", mesh.Join(b, sample.Box(v(10, 0, 0), v(11, 1, 1))), 2, 2, 0, 25, 58, 16, 36},
		{"box with a cavity", mesh.Join(sample.Box(v(0, 0, 0), v(4, 4, 4)), sample.Inverted(sample.Box(v(1, 1, 1), v(3, 3, 3)))), 2, 2, 0, 56, 120, 16, 36},
	} {
		h := c.m.Health()
		if !h.Closed || h.Flipped != 0 || h.Crowded != 0 || h.Pinched != 0 || h.Duplicates != 0 || h.Degenerate != 0 || len(h.Loops) != 0 || h.OneSided {
			t.Errorf("%s: not sound: %+v", c.name, h)
		}
		if len(h.Shells) != c.shells || h.Vertices != c.verts || h.Edges != c.edges {
			t.Errorf("%s: %d shells, %d vertices, %d edges; want %d, %d, %d", c.name, len(h.Shells), h.Vertices, h.Edges, c.shells, c.verts, c.edges)
		}
		for _, s := range h.Shells {
			if s.Euler != c.euler || s.Genus() != c.genus || !s.Closed {
				t.Errorf("%s: shell %+v, want χ %d, genus %d", c.name, s, c.euler, c.genus)
			}
		}
		near(t, c.name+" volume", h.Volume, c.volume, 1e-9*c.volume)
		if c.area > 0 {
			near(t, c.name+" area", h.Area, c.area, 1e-9*c.area)
		}
	}
	// a fine torus comes near the smooth one: V = 2π²Rr², A = 4π²Rr (Pappus)
	h := sample.Torus(10, 3, 400, 300).Health()
	near(t, "smooth torus volume", h.Volume, 2*math.Pi*math.Pi*10*9, 0.0005*2*math.Pi*math.Pi*90)
	near(t, "smooth torus area", h.Area, 4*math.Pi*math.Pi*10*3, 0.0005*4*math.Pi*math.Pi*30)
}

// torusVolume is that of the polyhedron: each slice between two sections is a prismatoid whose volume
// follows from the section polygon by Pappus with the chord for the arc.
func torusVolume(big, small float64, n, k int) float64 {
	area := float64(k) / 2 * small * small * math.Sin(2*math.Pi/float64(k))
	// every slice sweeps the section about the axis by 2π/n along chords: sin in place of the angle;
	// the section's corners lie in planes through the axis, so volume = Σ A·ρ·sin
	return area * big * float64(n) * math.Sin(2*math.Pi/float64(n))
}

func TestHealthDoesNotDependOnPlaceOrOrder(t *testing.T) {
	m := sample.Torus(5, 2, 30, 20)
	want := m.Health()
	r := rand.New(rand.NewPCG(1, 2))
	perm := r.Perm(len(m.Vertices))
	p := &mesh.Mesh{Vertices: make([]geom.Vec3, len(m.Vertices))}
	for i, k := range perm {
		p.Vertices[k] = m.Vertices[i]
	}
	for _, i := range r.Perm(len(m.Triangles)) {
		tr := m.Triangles[i]
		s := r.IntN(3)
		p.Triangles = append(p.Triangles, [3]int32{int32(perm[tr[s]]), int32(perm[tr[(s+1)%3]]), int32(perm[tr[(s+2)%3]])})
	}
	turn := geom.TurnDeg(90)
	for name, q := range map[string]*mesh.Mesh{
		"relabelled":   p,
		"quarter turn": m.Map(turn.ToSide),
		"shifted":      m.Map(func(a geom.Vec3) geom.Vec3 { return a.Add(v(100, -50, 25)) }),
		"mirrored":     sample.Inverted(m.Map(func(a geom.Vec3) geom.Vec3 { return v(-a.X, a.Y, a.Z) })),
	} {
		h := q.Health()
		near(t, name+" volume", h.Volume, want.Volume, 1e-9*want.Volume)
		near(t, name+" area", h.Area, want.Area, 1e-9*want.Area)
		if !h.Closed || h.Edges != want.Edges || h.Vertices != want.Vertices || h.Shells[0].Euler != 0 {
			t.Errorf("%s: %+v", name, h)
		}
	}
}

func TestHealthOfDefects(t *testing.T) {
	b := sample.Box(v(0, 0, 0), v(1, 1, 1))
	t.Run("hole", func(t *testing.T) {
		h := without(b, 0, 1).Health() // the whole face z = 0
		if h.Closed || len(h.Loops) != 1 || h.Shells[0].Loops != 1 {
			t.Fatalf("%+v", h)
		}
		l := h.Loops[0]
		near(t, "length", l.Length, 4, 1e-12)
		if l.Edges != 4 || l.Box.Max.Z != 0 || l.Box.Size() != v(1, 1, 0) {
			t.Errorf("%+v", l)
		}
		if h.Shells[0].Euler != 1 { // a disc
			t.Errorf("χ %d, want 1", h.Shells[0].Euler)
		}
	})
	t.Run("two holes that touch at a corner", func(t *testing.T) {
		// triangle 0 has corners 0 2 3, triangle 8 has 0 4 6: they share vertex 0 only. With the two fans
		// there taken apart what is left is a disc, whose one boundary runs round both holes
		h := without(b, 0, 8).Health()
		if len(h.Loops) != 1 || h.Loops[0].Edges != 6 || h.Shells[0].Euler != 1 || h.Pinched != 1 || h.PinchedAt != v(0, 0, 0) {
			t.Errorf("%+v", h)
		}
	})
	t.Run("open cylinder", func(t *testing.T) {
		m := without(sample.Torus(10, 3, 40, 24))
		m.Triangles = m.Triangles[2*24:] // one ring of quads gone
		h := m.Health()
		if len(h.Loops) != 2 || h.Loops[0].Edges != 24 || h.Shells[0].Euler != 0 || h.Shells[0].Loops != 2 {
			t.Errorf("%+v", h)
		}
	})
	t.Run("inside out", func(t *testing.T) {
		h := sample.Inverted(b).Health()
		if !h.Closed || h.Flipped != 0 || h.Volume != -1 {
			t.Errorf("%+v", h)
		}
	})
	t.Run("one triangle turned over", func(t *testing.T) {
		m := without(b)
		m.Triangles[5][1], m.Triangles[5][2] = m.Triangles[5][2], m.Triangles[5][1]
		h := m.Health()
		if h.Closed || h.Flipped != 3 || h.Turned != 1 || h.OneSided || len(h.Loops) != 0 {
			t.Errorf("%+v", h)
		}
	})
	t.Run("duplicate", func(t *testing.T) {
		m := without(b)
		m.Triangles = append(m.Triangles, m.Triangles[3])
		h := m.Health()
		if h.Duplicates != 1 || h.Crowded != 3 || h.Closed {
			t.Errorf("%+v", h)
		}
	})
	t.Run("sheet of two sides", func(t *testing.T) {
		m := &mesh.Mesh{Vertices: []geom.Vec3{v(0, 0, 0), v(1, 0, 0), v(0, 1, 0)}, Triangles: [][3]int32{{0, 1, 2}, {0, 2, 1}}}
		h := m.Health()
		if h.Duplicates != 1 || h.Volume != 0 || !h.Closed {
			t.Errorf("%+v", h)
		}
	})
	t.Run("two boxes on one edge", func(t *testing.T) {
		m, _ := mesh.Join(b, sample.Box(v(1, 1, 0), v(2, 2, 1))).Weld()
		h := m.Health()
		if !h.Closed || h.Crowded != 1 || len(h.Shells) != 2 || h.Shells[0].Euler != 2 || h.CrowdedAt != v(1, 1, 0.5) {
			t.Errorf("%+v", h)
		}
		near(t, "volume", h.Volume, 2, 1e-12)
	})
	t.Run("two boxes on one face", func(t *testing.T) {
		m, _ := mesh.Join(b, sample.Box(v(1, 0, 0), v(2, 1, 1))).Weld()
		h := m.Health()
		if !h.Closed || len(h.Shells) != 2 || h.Duplicates == 0 {
			t.Errorf("%+v", h)
		}
	})
	t.Run("two boxes on one corner", func(t *testing.T) {
		m, _ := mesh.Join(b, sample.Box(v(1, 1, 1), v(2, 2, 2))).Weld()
		h := m.Health()
		if !h.Closed || h.Pinched != 1 || h.PinchedAt != v(1, 1, 1) || len(h.Shells) != 2 || h.Vertices != 15 {
			t.Errorf("%+v", h)
		}
	})
	t.Run("Möbius strip", func(t *testing.T) {
		m := &mesh.Mesh{}
		const n = 20
		for i := range n {
			a := 2 * math.Pi * float64(i) / n
			s, c := math.Sincos(a)
			hs, hc := math.Sincos(a / 2)
			for _, w := range []float64{-0.3, 0.3} {
				m.Vertices = append(m.Vertices, v((1+w*hc)*c, (1+w*hc)*s, w*hs))
			}
		}
		for i := range int32(n) {
			a, b, c, d := 2*i, 2*i+1, 2*i+2, 2*i+3
			if i == n-1 {
				c, d = 1, 0
			}
			m.Triangles = append(m.Triangles, [3]int32{a, b, d}, [3]int32{a, d, c})
		}
		h := m.Health()
		if !h.OneSided || len(h.Loops) != 1 || h.Shells[0].Euler != 0 {
			t.Errorf("one-sided %v, %d loops, χ %d", h.OneSided, len(h.Loops), h.Shells[0].Euler)
		}
	})
	t.Run("repeated corner and needle", func(t *testing.T) {
		m := without(b)
		m.Vertices = append(m.Vertices, v(0.5, 0, 0)) // on the edge 0–1 of the faces z = 0 and y = 0
		m.Triangles = append(m.Triangles, [3]int32{0, 0, 1}, [3]int32{0, 8, 1})
		h := m.Health()
		if h.Degenerate != 2 {
			t.Errorf("%d degenerate, want 2", h.Degenerate)
		}
	})
	t.Run("nothing", func(t *testing.T) {
		h := (&mesh.Mesh{}).Health()
		if h.Closed || h.Triangles != 0 || len(h.Shells) != 0 {
			t.Errorf("%+v", h)
		}
	})
}

// slowMates pairs edges by a map, where no more than two triangles meet.
func slowMates(m *mesh.Mesh) []int32 {
	type key [2]int32
	use := map[key][]int32{}
	out := make([]int32, 3*len(m.Triangles))
	for i, tr := range m.Triangles {
		for c := range tr {
			k := key{tr[c], tr[(c+1)%3]}
			if k[0] > k[1] {
				k[0], k[1] = k[1], k[0]
			}
			use[k] = append(use[k], int32(3*i+c))
		}
	}
	for _, hs := range use {
		out[hs[0]] = mesh.Border
		if len(hs) == 2 {
			out[hs[0]], out[hs[1]] = hs[1], hs[0]
		}
	}
	return out
}

func TestEdgesAgainstTheSlowTwin(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	for range 50 {
		m := sample.Torus(5, 2, 3+r.IntN(20), 3+r.IntN(20))
		for range r.IntN(10) { // holes, and triangles turned over
			k := r.IntN(len(m.Triangles))
			m.Triangles = append(m.Triangles[:k], m.Triangles[k+1:]...)
			j := r.IntN(len(m.Triangles))
			m.Triangles[j][0], m.Triangles[j][1] = m.Triangles[j][1], m.Triangles[j][0]
		}
		if got, want := m.Edges().Mate, slowMates(m); !reflect.DeepEqual(got, want) {
			t.Fatalf("mates differ: %v, want %v", got, want)
		}
	}
}

// Random triangles over few vertices: anything may happen but a crash, and what is counted agrees
// with counting by a map.
func TestHealthOfAnything(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	for range 2000 {
		m := &mesh.Mesh{}
		n := 1 + r.IntN(7)
		for range n {
			m.Vertices = append(m.Vertices, v(float64(r.IntN(3)), float64(r.IntN(3)), float64(r.IntN(3))))
		}
		for range r.IntN(20) {
			m.Triangles = append(m.Triangles, [3]int32{int32(r.IntN(n)), int32(r.IntN(n)), int32(r.IntN(n))})
		}
		h := m.Health()
		balance := map[[2]int32]int{}
		uses := map[[2]int32]int{}
		for _, tr := range m.Triangles {
			if tr[0] == tr[1] || tr[1] == tr[2] || tr[2] == tr[0] {
				continue
			}
			for c := range tr {
				a, b := tr[c], tr[(c+1)%3]
				if a < b {
					balance[[2]int32{a, b}]++
					uses[[2]int32{a, b}]++
				} else {
					balance[[2]int32{b, a}]--
					uses[[2]int32{b, a}]++
				}
			}
		}
		closed, crowded := len(m.Triangles) > 0, 0
		for k, u := range uses {
			if balance[k] != 0 {
				closed = false
			}
			if u > 2 {
				crowded++
			}
		}
		if h.Closed != closed || h.Crowded != crowded || h.Edges != len(uses) {
			t.Fatalf("%v: closed %v crowded %d edges %d, want %v %d %d", m.Triangles, h.Closed, h.Crowded, h.Edges, closed, crowded, len(uses))
		}
		loops := 0
		for _, l := range h.Loops {
			loops += l.Edges
		}
		if open := m.Edges().Open; loops != open {
			t.Fatalf("%v: loops have %d edges, %d are open", m.Triangles, loops, open)
		}
	}
}

// A fan of many triangles around one vertex must not cost the square of their number.
func TestEdgesOfAFan(t *testing.T) {
	const n = 300_000
	m := &mesh.Mesh{Vertices: []geom.Vec3{v(0, 0, 1), v(0, 0, -1)}}
	for i := range n {
		s, c := math.Sincos(2 * math.Pi * float64(i) / n)
		m.Vertices = append(m.Vertices, v(c, s, 0))
	}
	for i := range int32(n) {
		a, b := 2+i, 2+(i+1)%n
		m.Triangles = append(m.Triangles, [3]int32{0, a, b}, [3]int32{1, b, a})
	}
	h := m.Health()
	if !h.Closed || h.Shells[0].Euler != 2 {
		t.Errorf("closed %v χ %d", h.Closed, h.Shells[0].Euler)
	}
	near(t, "volume", h.Volume, 2*math.Pi/3, 1e-6) // two cones: π/3 each
}

func TestSameOnOneProcessor(t *testing.T) {
	m := sample.Torus(5, 2, 300, 200)
	m.Triangles = m.Triangles[7:]
	many := m.Health()
	w := m.Winding(v(5, 0, 0.5))
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	if one := m.Health(); !reflect.DeepEqual(one, many) {
		t.Errorf("%+v\n%+v", one, many)
	}
	if m.Winding(v(5, 0, 0.5)) != w {
		t.Error("winding differs")
	}
}

func TestWinding(t *testing.T) {
	m := sample.Torus(5, 2, 60, 40)
	for _, c := range []struct {
		p    geom.Vec3
		want float64
	}{{v(5, 0, 0), 1}, {v(0, 0, 0), 0}, {v(0, -5, 1), 1}, {v(9, 0, 0), 0}} {
		near(t, "winding", m.Winding(c.p), c.want, 1e-9)
		near(t, "winding inverted", sample.Inverted(m).Winding(c.p), -c.want, 1e-9)
	}
}

func TestHealthScale(t *testing.T) {
	m := without(sample.Torus(5, 2, 30, 20), 3)
	a := m.Health()
	a.Scale(2)
	b := m.Map(func(p geom.Vec3) geom.Vec3 { return p.Mul(2) }).Health()
	near(t, "area", a.Area, b.Area, 1e-9)
	near(t, "volume", a.Volume, b.Volume, 1e-9)
	near(t, "mean edge", a.MeanEdge, b.MeanEdge, 1e-9)
	near(t, "loop", a.Loops[0].Length, b.Loops[0].Length, 1e-9)
	if a.Box != b.Box || a.Loops[0].Box != b.Loops[0].Box || a.Shells[0].Box != b.Shells[0].Box {
		t.Error("boxes differ")
	}
}

func BenchmarkHealth(b *testing.B) {
	m := sample.Torus(50, 20, 1000, 400) // 800 000 triangles
	for b.Loop() {
		if !m.Health().Closed {
			b.Fatal("open")
		}
	}
	b.ReportMetric(float64(b.N)*float64(len(m.Triangles))/b.Elapsed().Seconds()/1e6, "Mtri/s")
}

func BenchmarkEdges(b *testing.B) {
	m := sample.Torus(50, 20, 1000, 400)
	for b.Loop() {
		m.Edges()
	}
	b.ReportMetric(float64(b.N)*float64(len(m.Triangles))/b.Elapsed().Seconds()/1e6, "Mtri/s")
}

func BenchmarkWeld(b *testing.B) {
	m := sample.Torus(50, 20, 1000, 400)
	for b.Loop() {
		m.Weld()
	}
	b.ReportMetric(float64(b.N)*float64(len(m.Triangles))/b.Elapsed().Seconds()/1e6, "Mtri/s")
}
