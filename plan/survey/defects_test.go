package survey

import (
	"math"
	"slices"
	"strings"
	"testing"

	"barwise/finding"
	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/cross"
	"barwise/geom/mesh/sample"
)

// ball is a sphere about the origin with its poles on the Z axis, the upper one first.
func ball(r float64, n int) *mesh.Mesh {
	return sample.Sphere(geom.Vec3{}, r, n).Map(func(p geom.Vec3) geom.Vec3 { return v(p.X, p.Z, -p.Y) })
}

// keep drops the triangles whose middle f does not want.
func keep(m *mesh.Mesh, f func(geom.Vec3) bool) *mesh.Mesh {
	out := &mesh.Mesh{Vertices: m.Vertices}
	for i, t := range m.Triangles {
		a, b, c := m.Corners(i)
		if f(a.Add(b).Add(c).Mul(1.0 / 3)) {
			out.Triangles = append(out.Triangles, t)
		}
	}
	return out
}

// slab is a box whose faces are grids of nx × ny × nz squares.
func slab(size geom.Vec3, nx, ny, nz int) *mesh.Mesh {
	b := mesh.NewBuilder(0)
	face := func(o, u, w geom.Vec3, nu, nw int) {
		at := func(i, j int) int32 {
			p := o.Add(u.Mul(float64(i) / float64(nu))).Add(w.Mul(float64(j) / float64(nw)))
			const k = 1 << 20 // so that faces meet to the bit
			return b.Vertex(v(math.Round(p.X*k)/k, math.Round(p.Y*k)/k, math.Round(p.Z*k)/k))
		}
		for i := range nu {
			for j := range nw {
				b.Triangle(at(i, j), at(i+1, j), at(i+1, j+1))
				b.Triangle(at(i, j), at(i+1, j+1), at(i, j+1))
			}
		}
	}
	x, y, z := v(size.X, 0, 0), v(0, size.Y, 0), v(0, 0, size.Z)
	face(v(0, 0, 0), y, x, ny, nx)
	face(z, x, y, nx, ny)
	face(v(0, 0, 0), x, z, nx, nz)
	face(y, z, x, nz, nx)
	face(v(0, 0, 0), z, y, nz, ny)
	face(x, y, z, ny, nz)
	m, _ := b.Mesh()
	return m
}

// Holes cut into sound solids are named as what they are.
func TestKindsOfHoles(t *testing.T) {
	wall := slab(v(40, 30, 4), 40, 30, 4)
	cup := slab(v(20, 20, 30), 10, 10, 15)
	between := func(x, lo, hi float64) bool { return x > lo && x < hi }
	for _, c := range []struct {
		name string
		m    *mesh.Mesh
		want HoleKind
		says string
	}{
		{"a window in a wall", keep(wall, func(p geom.Vec3) bool { return !(p.Z == 4 && between(p.X, 10, 16) && between(p.Y, 8, 18)) }),
			HoleWindow, "near (13, 13, 4) mm: a hole 6 × 10 mm, flat, open along 32 edges, 32 mm round: four-sided, like a window left open"},
		{"a slit", keep(wall, func(p geom.Vec3) bool { return !(p.Z == 4 && between(p.X, 10, 30) && between(p.Y, 8, 9)) }),
			HoleSlit, "near (20, 8.5, 4) mm: a hole 1 × 20 mm, flat, open along 42 edges, 42 mm round: a slit"},
		{"no bottom", keep(cup, func(p geom.Vec3) bool { return p.Z != 0 }), HoleBase, "near (10, 10, 0) mm: a hole 20 mm across, flat, open along 40 edges, 80 mm round: a whole face of the model is missing"},
		{"no side", keep(cup, func(p geom.Vec3) bool { return p.X != 20 }), HoleBase, "near (20, 10, 15) mm: a hole 20 × 30 mm"},
		{"a triangle", keep(cup, func(p geom.Vec3) bool { return p != cupTriangle(cup) }), HoleTriangle, "open along 3 edges"},
		{"an eye", keep(ball(20, 72), func(p geom.Vec3) bool { return p.Z < 20*math.Cos(4*math.Pi/36) }), HoleRound, "round, like an eye"},
		{"a cut-off ball", keep(ball(20, 48), func(p geom.Vec3) bool { return p.Z > -10 }), HoleBase, "a whole face"},
		{"a sheet", &mesh.Mesh{Vertices: []geom.Vec3{v(0, 0, 0), v(10, 0, 0), v(10, 10, 0.1), v(0, 10, 0)}, Triangles: [][3]int32{{0, 1, 2}, {0, 2, 3}}}, HoleSheet, "the edge of a sheet"},
		{"a bent hole", keep(ball(20, 48), func(p geom.Vec3) bool { return !(p.X > 8 && math.Abs(p.Z) < 4) }), HoleOther, "bent by"},
	} {
		r := look(t, c.m, mesh.Info{}, Params{UnitMM: 1})
		if len(r.Holes) != 1 {
			t.Errorf("%s: %d holes", c.name, len(r.Holes))
			continue
		}
		h := r.Holes[0]
		text := ""
		for _, f := range r.Findings {
			if f.Code == "mesh-open" {
				text = f.String()
			}
		}
		if h.Kind != c.want || !strings.Contains(text, c.says) {
			t.Errorf("%s: %q, %s", c.name, h.Kind, text)
		}
		length := 0.0
		for i, p := range h.Line {
			length += p.Sub(h.Line[(i+1)%len(h.Line)]).Len()
		}
		if math.Abs(length-h.Length) > 1e-9 || len(h.Line) != h.Edges {
			t.Errorf("%s: the line is %g long, the hole says %g", c.name, length, h.Length)
		}
	}
}

func cupTriangle(m *mesh.Mesh) geom.Vec3 {
	a, b, c := m.Corners(100)
	return a.Add(b).Add(c).Mul(1.0 / 3)
}

// In a mesh in metres everything that is drawn is in millimetres.
func TestDefectsInMillimetres(t *testing.T) {
	mm := mesh.Join(keep(slab(v(40, 30, 4), 8, 6, 1), func(p geom.Vec3) bool { return !(p.Z == 4 && p.X > 10 && p.X < 15 && p.Y > 10 && p.Y < 20) }),
		sample.Box(v(30, 10, 1), v(33, 13, 9)), sample.Box(v(31, 11, 7), v(32, 12, 8)))
	want := look(t, mm, mesh.Info{}, Params{UnitMM: 1})
	got := look(t, mm.Map(func(p geom.Vec3) geom.Vec3 { return p.Mul(1.0 / 1024) }), mesh.Info{}, Params{UnitMM: 1024})
	for _, r := range []*Report{want, got} {
		if len(r.Holes) != 1 || len(r.Crossings) != 1 || len(r.Health.Shells) != 3 {
			t.Fatalf("%+v %+v", r.Holes, r.Crossings)
		}
		h := r.Holes[0]
		if h.At.Sub(v(12.5, 15, 4)).Len() > 1e-9 || math.Abs(h.Across-5) > 1e-9 || math.Abs(h.Along-10) > 1e-9 || math.Abs(h.Area-50) > 1e-9 {
			t.Errorf("%+v", h)
		}
		// the pin stands through the top of the slab: the outline of the pin there
		c := r.Crossings[0]
		length, seen := 0.0, map[[2]geom.Vec3]bool{}
		for _, l := range c.Lines { // an edge of the slab along the pin has a line for the triangles on both sides
			a, b := l[0], l[1]
			if a.X > b.X || a.Y > b.Y {
				a, b = b, a
			}
			if !seen[[2]geom.Vec3{a, b}] {
				length += b.Sub(a).Len()
			}
			seen[[2]geom.Vec3{a, b}] = true
		}
		if c.Kind != CrossOverlap || math.Abs(length-12) > 1e-9 || c.Box.Min.Sub(v(30, 10, 4)).Len() > 1e-9 || c.Box.Max.Sub(v(33, 13, 4)).Len() > 1e-9 {
			t.Errorf("%g mm of %+v", length, c)
		}
		if s := r.Health.Shells; s[2].Inside != 1 || s[1].Inside != -1 || c.Shells != [2]int{0, 1} {
			t.Errorf("%+v", s)
		}
	}
}

// A shell that passes through itself is worth a warning, shells that overlap or touch a note.
func TestCrossings(t *testing.T) {
	b := sample.Box(v(0, 0, 0), v(10, 10, 10))
	pulled := ball(20, 24)
	pulled.Vertices[0] = v(0, 0, -30)
	folded := &mesh.Mesh{Vertices: []geom.Vec3{v(0, 0, 0), v(10, 0, 0), v(0, 10, 0), v(1, 1, 0), v(3, 3, 9)},
		Triangles: [][3]int32{{0, 1, 2}, {2, 1, 3}, {0, 2, 4}, {1, 0, 4}, {2, 3, 4}, {3, 1, 4}}}
	for _, c := range []struct {
		name string
		m    *mesh.Mesh
		code string
		sev  finding.Severity
		kind CrossingKind
		says string
	}{
		{"a pole pulled out on the other side", pulled, "mesh-crosses", finding.Warning, CrossSelf, "shell 1 passes through itself"},
		{"a pin", mesh.Join(b, sample.Box(v(4, 4, 8), v(6, 6, 20))), "mesh-overlap", finding.Note, CrossOverlap, "shells 1 and 2 pass through one another"},
		{"boxes side by side", mesh.Join(b, sample.Box(v(10, 2, 2), v(12, 8, 8))), "mesh-touches", finding.Note, CrossTouch, "shells 1 and 2 touch"},
		{"folded", folded, "mesh-folded", finding.Note, CrossFold, "lie flat"},
	} {
		r := look(t, c.m, mesh.Info{}, Params{UnitMM: 1})
		if len(r.Crossings) == 0 || r.Crossings[0].Kind != c.kind {
			t.Errorf("%s: %+v", c.name, r.Crossings)
			continue
		}
		found := false
		for _, f := range r.Findings {
			if f.Code == c.code {
				found = found || f.Severity == c.sev && strings.Contains(f.Text, c.says) && strings.HasPrefix(f.Where, "near (")
			} else if strings.HasPrefix(f.Code, "mesh-") && slices.Contains([]string{"mesh-crosses", "mesh-overlap"}, f.Code) {
				t.Errorf("%s: %v", c.name, f)
			}
		}
		if !found {
			t.Errorf("%s: %v", c.name, r.Findings)
		}
	}
}

// The same finds at any scale, and a mirror changes nothing but the side.
func TestCrossingsOfTheMirrorImage(t *testing.T) {
	m := ball(20, 24)
	m.Vertices[0] = v(3, 1, -30)
	a := look(t, m, mesh.Info{}, Params{UnitMM: 1})
	b := look(t, sample.Inverted(m.Map(func(p geom.Vec3) geom.Vec3 { return v(-p.X, p.Y, p.Z) })), mesh.Info{}, Params{UnitMM: 1})
	if len(a.Crossings) != 1 || len(b.Crossings) != 1 || a.Crossings[0].Pairs != b.Crossings[0].Pairs {
		t.Fatalf("%+v %+v", a.Crossings, b.Crossings)
	}
	p, q := a.Crossings[0].At, b.Crossings[0].At
	if p.Sub(v(-q.X, q.Y, q.Z)).Len() > 1e-6 {
		t.Errorf("at %v and %v", p, q)
	}
}

// Pieces that do not meet are told from ones that do, also where their boxes overlap.
func TestPieces(t *testing.T) {
	ringed := mesh.Join(keepRing(), ball(2, 12)) // a ball in the hole of a ring
	r := look(t, ringed, mesh.Info{}, Params{UnitMM: 1})
	if c := codes(r); c["mesh-loose"] != finding.Note || len(c) != 2 {
		t.Errorf("%v", r.Findings)
	}
	if _, ok := codes(look(t, mesh.Join(ball(10, 24), ball(10, 20).Map(func(p geom.Vec3) geom.Vec3 { return p.Add(v(5, 1, 2)) })), mesh.Info{}, Params{UnitMM: 1}))["mesh-loose"]; ok {
		t.Error("balls that overlap count as loose")
	}
	nested := look(t, mesh.Join(ball(10, 24), ball(3, 20)), mesh.Info{}, Params{UnitMM: 1})
	if c := codes(nested); c["mesh-inside"] != finding.Note || len(c) != 2 || nested.Health.Shells[1].Inside != 0 {
		t.Errorf("%v", nested.Findings)
	}
}

// A second surface nearly where the first one is, bowed a little.
func TestNearlyACopy(t *testing.T) {
	bowed := ball(10, 24).Map(func(p geom.Vec3) geom.Vec3 { return v(p.X, p.Y, p.Z+0.02*math.Cos(p.X)) })
	r := look(t, mesh.Join(ball(10, 24), bowed), mesh.Info{}, Params{UnitMM: 1})
	if c := codes(r); c["mesh-copy"] != finding.Warning || len(r.Crossings) == 0 || r.Crossings[0].Kind != CrossOverlap {
		t.Errorf("%v", r.Findings)
	}
	r = look(t, mesh.Join(ball(10, 24), ball(9, 24).Map(func(p geom.Vec3) geom.Vec3 { return v(p.X+2, p.Y, p.Z) })), mesh.Info{}, Params{UnitMM: 1})
	if _, ok := codes(r)["mesh-copy"]; ok {
		t.Errorf("%v", r.Findings)
	}
}

// keepRing is a square ring 20 wide with a hole 10 wide, of four bars that meet at 45°.
func keepRing() *mesh.Mesh {
	b := mesh.NewBuilder(0)
	outer := [4]geom.Vec3{v(-10, -10, 0), v(10, -10, 0), v(10, 10, 0), v(-10, 10, 0)}
	quad := func(p, q, r, s geom.Vec3) {
		b.Triangle(b.Vertex(p), b.Vertex(q), b.Vertex(r))
		b.Triangle(b.Vertex(p), b.Vertex(r), b.Vertex(s))
	}
	up := v(0, 0, 2)
	for i := range 4 {
		o, p := outer[i].Sub(v(0, 0, 1)), outer[(i+1)%4].Sub(v(0, 0, 1))
		in, jn := v(o.X/2, o.Y/2, o.Z), v(p.X/2, p.Y/2, p.Z)
		quad(o, p, p.Add(up), o.Add(up))
		quad(jn, in, in.Add(up), jn.Add(up))
		quad(o.Add(up), p.Add(up), jn.Add(up), in.Add(up))
		quad(p, o, in, jn)
	}
	m, _ := b.Mesh()
	return m
}

// The guess of a unit says what it would be otherwise.
func TestGuessIsStated(t *testing.T) {
	r := look(t, sample.Box(v(0, 0, 0), v(2, 1, 1)), mesh.Info{Format: "binary STL"}, Params{})
	want := "binary STL carries no unit; taken as inch by its size of 2 × 1 × 1, which makes its largest measure 50.8 mm (it would be as mm 2 mm, as m 2000 mm)"
	if r.Guess != want {
		t.Errorf("%q", r.Guess)
	}
	if r := look(t, sample.Box(v(0, 0, 0), v(2, 1, 1)), mesh.Info{}, Params{UnitMM: 1}); r.Guess != "" {
		t.Errorf("%q", r.Guess)
	}
}

// What the search found is there as it is, for those who want every pair.
func TestEveryPairIsThere(t *testing.T) {
	r := look(t, mesh.Join(ball(10, 24), ball(10, 20).Map(func(p geom.Vec3) geom.Vec3 { return p.Add(v(5, 1, 2)) })), mesh.Info{}, Params{UnitMM: 1})
	n := 0
	for _, c := range r.Crossings {
		n += c.Pairs
	}
	if r.Cross.Pairs == 0 || n != r.Cross.Pairs || r.Cross.Through != r.Cross.Pairs || r.Cross.List[0].Kind != cross.Through {
		t.Errorf("%d of %+v", n, r.Cross.Pairs)
	}
}
