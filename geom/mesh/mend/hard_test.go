package mend

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/sample"
)

// No corner moves farther than the weld distance, whatever lies how close.
func TestWeldMovesNothingFar(t *testing.T) {
	r := rand.New(rand.NewPCG(21, 21))
	for n := range 200 {
		m := &mesh.Mesh{}
		for i := range int32(30) {
			for range 3 {
				m.Vertices = append(m.Vertices, v(2*r.Float64(), 0.2*r.Float64(), 0.2*r.Float64()))
			}
			m.Triangles = append(m.Triangles, [3]int32{3 * i, 3*i + 1, 3*i + 2})
		}
		const weld = 0.1
		w := &work{ctx: t.Context(), p: Params{Weld: weld}, in: m, v: m.Vertices, t: m.Triangles, box: m.Box()}
		if err := w.weld(); err != nil {
			t.Fatal(err)
		}
		for i, x := range w.t {
			if repeats(x) {
				t.Fatalf("%d: triangle %d lost a corner", n, i)
			}
			for c := range x {
				if d := w.v[x[c]].Sub(m.Vertices[m.Triangles[i][c]]).Len(); d > weld {
					t.Fatalf("%d: a corner moved by %g", n, d)
				}
			}
		}
	}
}

// Along one border vertices are not drawn together, however wide the weld: the open sphere keeps its
// border and its form.
func TestWeldKeepsABorder(t *testing.T) {
	m := sample.Icosphere(20, 3)
	open := without(m, func(i int) bool { a, b, c := m.Corners(i); return max(a.Z, b.Z, c.Z) > 10 })
	h := open.Health()
	for _, d := range []float64{1, 3, 4, 5} {
		r := mend(t, open, Params{Weld: d})
		a := r.After
		if len(a.Loops) != 1 || a.Loops[0].Edges != h.Loops[0].Edges || a.Pinched+a.Crowded+a.Degenerate+a.Duplicates > 0 || math.Abs(a.Area-h.Area) > 1e-9*h.Area {
			t.Errorf("weld %g: %d loops, %d pinched, %d crowded, area %g of %g", d, len(a.Loops), a.Pinched, a.Crowded, a.Area, h.Area)
		}
	}
}

// plate is a rectangle from o along a and b, in n × k quads.
func plate(o, a, b geom.Vec3, n, k int) *mesh.Mesh {
	m := &mesh.Mesh{}
	for i := range n + 1 {
		for j := range k + 1 {
			m.Vertices = append(m.Vertices, o.Add(a.Mul(float64(i)/float64(n))).Add(b.Mul(float64(j)/float64(k))))
		}
	}
	for i := range int32(n) {
		for j := range int32(k) {
			p := i*int32(k+1) + j
			q := p + int32(k+1)
			m.Triangles = append(m.Triangles, [3]int32{p, q, q + 1}, [3]int32{p, q + 1, p + 1})
		}
	}
	return m
}

// Two sheets side by side, one shifted by half its length: each has a corner on the other's edge, and
// the length they share is no border any more. A sheet that only touches another with a corner is left
// alone.
func TestSheetsSideBySide(t *testing.T) {
	a := plate(v(0, 0, 0), v(-1, 0, 0), v(0, -2, 0), 1, 1)
	for _, y := range []float64{-1, 1} {
		b := sample.Inverted(plate(v(0, y, 0), v(1, 0, 0), v(0, -2, 0), 1, 1))
		for name, m := range map[string]*mesh.Mesh{"one way": mesh.Join(a, b), "the other": mesh.Join(sample.Inverted(b), sample.Inverted(a))} {
			r := mend(t, m, Params{Weld: 1e-6, Orient: true})
			border := 0.0
			for _, l := range r.After.Loops {
				border += l.Length
			}
			near(t, name+", border", border, 6+6-2, 1e-12)
			near(t, name+", area", r.After.Area, 4, 1e-12)
			if r.Changes[0].Kind != Split || r.Changes[0].Count != 2 || len(r.After.Shells) != 1 {
				t.Errorf("%s: %v", name, r.Changes)
			}
		}
	}
	c := plate(v(0, -1, 0), v(1, 1, 0), v(1, -1, 0), 1, 1)
	if r := mend(t, mesh.Join(a, c), Params{Weld: 1e-6}); r.Changed() {
		t.Errorf("touching with a corner: %v", r.Changes)
	}
}

// solid makes a mesh of vertices and triangles.
func solid(vs []geom.Vec3, ts ...[3]int32) *mesh.Mesh {
	return &mesh.Mesh{Vertices: vs, Triangles: ts}
}

// A tetrahedron flattened into a plane, one corner on an edge, has nothing in it and goes as a whole.
func TestFlatTetrahedron(t *testing.T) {
	flat := solid([]geom.Vec3{{}, {X: 4}, {X: 2}, {X: 1, Y: 1}}, [3]int32{0, 1, 2}, [3]int32{1, 0, 3}, [3]int32{0, 2, 3}, [3]int32{2, 1, 3})
	m := sample.Icosphere(20, 1)
	r := mend(t, mesh.Join(m, flat), Params{Duplicates: true})
	if !same(r.Mesh, m) || len(r.Left) > 0 {
		t.Errorf("%v %v", r.Changes, r.Left)
	}
}

// A flat triangle whose neighbour cannot be split because the edge that would be drawn is there already,
// on the other side of the solid: it is left and told, and the solid stays as sound as it was.
func TestFlatTriangleThatMustStay(t *testing.T) {
	m := solid([]geom.Vec3{{}, {X: 4}, {X: 2}, {X: 1, Y: 2}, {X: 1, Y: 0.5, Z: -1}, {X: 2.2, Y: 0.5, Z: -1}},
		[3]int32{0, 1, 2}, [3]int32{1, 0, 3},
		[3]int32{0, 2, 4}, [3]int32{2, 3, 4}, [3]int32{3, 0, 4},
		[3]int32{2, 1, 5}, [3]int32{1, 3, 5}, [3]int32{3, 2, 5})
	h := m.Health()
	if !h.Closed || h.Degenerate != 1 || h.Shells[0].Euler != 2 {
		t.Fatalf("the test's own mesh: %+v", h)
	}
	r := mend(t, m, Params{Duplicates: true, Orient: true})
	if a := r.After; !a.Closed || a.Crowded+a.Pinched+a.Duplicates > 0 {
		t.Errorf("%+v", a)
	}
	if !slices.ContainsFunc(r.Left, func(l Left) bool { return l.Kind == "flat" && l.Count == 1 }) {
		t.Errorf("%v", r.Left)
	}
}

// A blade: rings of three vertices, two of them a billionth apart. To draw those together would lay
// its two sides on each other. A sheet with a neck as narrow would be pinched. Both stay whole.
func TestNeedlesThatHoldASurface(t *testing.T) {
	m := &mesh.Mesh{}
	const rings = 5
	for i := range rings {
		z := float64(i)
		m.Vertices = append(m.Vertices, v(0, 0, z), v(0, 1e-9, z), v(1, 0, z))
	}
	for i := range int32(rings - 1) {
		for c := range int32(3) {
			a, b := 3*i+c, 3*i+(c+1)%3
			m.Triangles = append(m.Triangles, [3]int32{b, a, a + 3}, [3]int32{b, a + 3, b + 3})
		}
	}
	e := int32(3 * (rings - 1))
	m.Triangles = append(m.Triangles, [3]int32{0, 1, 2}, [3]int32{e, e + 2, e + 1})
	if h := m.Health(); !h.Closed || h.Shells[0].Euler != 2 || h.Degenerate == 0 {
		t.Fatalf("the test's own mesh: %+v", h)
	}
	r := mend(t, m, Params{Duplicates: true})
	if a := r.After; len(a.Shells) > 0 && (!a.Closed || a.Crowded+a.Pinched > 0) {
		t.Errorf("blade: %+v, %v", a, r.Changes)
	}

	neck := solid([]geom.Vec3{{X: -1, Y: -1}, {X: -1, Y: 1}, {}, {Y: 1e-9}, {X: 1, Y: -1}, {X: 1, Y: 1}, {X: -1}, {X: 1}},
		[3]int32{0, 2, 6}, [3]int32{6, 2, 3}, [3]int32{6, 3, 1}, [3]int32{2, 4, 7}, [3]int32{2, 7, 3}, [3]int32{3, 7, 5})
	if h := neck.Health(); len(h.Shells) != 1 || h.Degenerate != 2 || h.Pinched > 0 {
		t.Fatalf("the test's own sheet: %+v", h)
	}
	if r := mend(t, neck, Params{Duplicates: true}); r.After.Pinched > 0 || len(r.After.Shells) != 1 {
		t.Errorf("neck: %v", r.Changes)
	}
}

// A cube with another one at each edge of its top, so that the top meets the rest only at edges where
// four triangles meet. Turned at random, every triangle comes back; five cubes of volume 1.
func TestTopBetweenCrowdedEdges(t *testing.T) {
	parts := []*mesh.Mesh{sample.Box(v(0, 0, 0), v(1, 1, 1))}
	for _, o := range []geom.Vec3{{X: 1, Z: 1}, {X: -1, Z: 1}, {Y: 1, Z: 1}, {Y: -1, Z: 1}} {
		parts = append(parts, sample.Box(o, o.Add(v(1, 1, 1))))
	}
	m, _ := mesh.Join(parts...).Weld()
	r := rand.New(rand.NewPCG(22, 22))
	for range 50 {
		bad := &mesh.Mesh{Vertices: m.Vertices, Triangles: slices.Clone(m.Triangles)}
		for i := range bad.Triangles {
			if r.IntN(4) == 0 {
				bad.Triangles[i][1], bad.Triangles[i][2] = bad.Triangles[i][2], bad.Triangles[i][1]
			}
		}
		if res := mend(t, bad, Params{Orient: true}); !same(res.Mesh, m) {
			t.Fatalf("not as it was: volume %g, %v", res.After.Volume, res.Changes)
		}
	}
}

// Two blocks back to back, each with its own wall between, turned at random: 2·12.
func TestWallsBackToBack(t *testing.T) {
	m, _ := mesh.Join(
		mend(t, wall([]geom.Vec2{{X: 0, Y: 0}, {X: 2, Y: 0}, {X: 2, Y: 2}, {X: 0, Y: 2}}, 3, 3), Params{Fill: 10}).Mesh,
		mend(t, wall([]geom.Vec2{{X: 2, Y: 0}, {X: 4, Y: 0}, {X: 4, Y: 2}, {X: 2, Y: 2}}, 3, 3), Params{Fill: 10}).Mesh,
	).Weld()
	m = m.Map(tilted)
	r := rand.New(rand.NewPCG(23, 23))
	for range 30 {
		bad := &mesh.Mesh{Vertices: m.Vertices, Triangles: slices.Clone(m.Triangles)}
		for i := range bad.Triangles {
			if r.IntN(4) == 0 {
				bad.Triangles[i][1], bad.Triangles[i][2] = bad.Triangles[i][2], bad.Triangles[i][1]
			}
		}
		res := mend(t, bad, Params{Duplicates: true, Orient: true})
		if !res.After.Closed {
			t.Errorf("open: %v", res.Changes)
		}
		near(t, "volume", res.After.Volume, 24, 1e-9)
	}
}

// A ball in the hole of a ring lies in its box but not in it: inside out, both are turned outward.
func TestBallInARing(t *testing.T) {
	m := mesh.Join(sample.Torus(10, 3, 40, 24), sample.Icosphere(2, 2))
	if r := mend(t, sample.Inverted(m), Params{Orient: true}); !same(r.Mesh, m) || len(r.Left) > 0 {
		t.Errorf("%v %v", r.Changes, r.Left)
	}
}

// A tube of walls inside out, open at both ends, cannot be told inside from outside until it is closed.
func TestTurnedAfterFilling(t *testing.T) {
	p := gear(8, 8, 10)
	r := mend(t, sample.Inverted(wall(p, 1, 1)), Params{Orient: true, Fill: 30})
	sound(t, "gear", r, 2)
	near(t, "volume", r.After.Volume, shoelace(p), 1e-9*shoelace(p))
}

// A rhombic hole under a roof whose valley runs along its short diagonal: the hole has to be closed along
// the long one. The roof's two tents, of height 1 over half the rhombus each, hold 1/3·area; the hole is
// 6 × 2.
func TestHoleUnderAValley(t *testing.T) {
	vs := []geom.Vec3{{Y: -1}, {X: 3}, {Y: 1}, {X: -3}, {X: 1, Z: 1}, {X: -1, Z: 1}}
	roof := solid(vs, [3]int32{0, 1, 4}, [3]int32{1, 2, 4}, [3]int32{2, 0, 4}, [3]int32{0, 2, 5}, [3]int32{2, 3, 5}, [3]int32{3, 0, 5})
	for name, m := range map[string]*mesh.Mesh{"flat": roof, "bent": roof.Map(func(a geom.Vec3) geom.Vec3 { return v(a.X, a.Y, a.Z-0.1*math.Abs(a.X)) })} {
		r := mend(t, m, Params{Fill: 10})
		sound(t, name, r, 2)
		if name == "flat" {
			near(t, name, r.After.Volume, 2, 1e-12)
		}
		if r.Changes[0].Count != 2 {
			t.Errorf("%s: %s", name, r.Changes[0].Text)
		}
	}
}

// Two bands that touch at two vertices, each with a border of four edges: both would be closed along
// the line between those two, where four triangles would meet.
func TestHolesThatShareADiagonal(t *testing.T) {
	vs := []geom.Vec3{{Y: -1}, {Y: 1}, {X: 3, Z: 1}, {X: -3, Z: 1}, {X: 3, Z: -1}, {X: -3, Z: -1}}
	m := solid(vs, [3]int32{0, 4, 2}, [3]int32{4, 1, 2}, [3]int32{0, 3, 5}, [3]int32{5, 3, 1})
	if n := len(m.Health().Loops); n != 2 {
		t.Fatalf("%d loops", n)
	}
	r := mend(t, m, Params{Fill: 10})
	if a := r.After; !a.Closed || a.Crowded > 0 || len(a.Shells) != 2 || a.Shells[0].Euler != 2 || a.Shells[1].Euler != 2 {
		t.Errorf("%+v", a)
	}
}

// The window runs over an edge of a box whose walls are cut fine, so that its border bends and has
// corners in one line: no triangle without area may come of it. The least surface over it cuts the
// edge off: no more is lost than the prism behind it.
func TestWindowOverAnEdge(t *testing.T) {
	var p []geom.Vec2
	for i := range 40 {
		s := float64(i%10) / 10
		p = append(p, [...]geom.Vec2{{X: s}, {X: 1, Y: s}, {X: 1 - s, Y: 1}, {Y: 1 - s}}[i/10])
	}
	m := mend(t, wall(p, 1, 10), Params{Fill: 10}).Mesh
	near(t, "box", m.Health().Volume, 1, 1e-12)
	open := without(m, func(i int) bool {
		a, b, c := m.Corners(i)
		o := a.Add(b).Add(c).Mul(1.0 / 3)
		return o.Z > 0.3 && o.Z < 0.7 && o.X+1-o.Y < 0.3 && max(a.Z, b.Z, c.Z) < 0.95
	})
	r := mend(t, open, Params{Fill: 1})
	sound(t, "box", r, 2)
	near(t, "volume", r.After.Volume, 1, 0.4*0.3*0.3/2+1e-9)
	if r.After.Volume > 1+1e-12 {
		t.Errorf("volume %g", r.After.Volume)
	}
}

// A long crack with ragged lips: teeth stand into it. It is sewn with no more area than what is missing.
func TestRaggedCrack(t *testing.T) {
	m := sample.Torus(10, 3, 400, 60)
	r := rand.New(rand.NewPCG(24, 24))
	gone := map[int]bool{}
	for i := range m.Triangles {
		row, col := i/2/60, i/2%60
		gone[i] = row > 3 && row < 390 && (col == 7 || (col == 8 || col == 6) && r.IntN(3) > 0)
	}
	open := without(m, func(i int) bool { return gone[i] })
	missing := m.Health().Area - open.Health().Area
	res := mend(t, open, Params{Fill: 3, Specks: 0.5})
	if a := res.After; !a.Closed || a.Crowded+a.Duplicates+a.Degenerate > 0 {
		t.Errorf("not sound: %v", res.Left)
	}
	drop := 0.0
	for _, c := range res.Changes {
		if c.Kind == Fill && strings.Contains(c.Text, "fanned") {
			t.Error(c.Text)
		}
		if c.Kind == Speck {
			drop += c.Area
		}
	}
	got := res.After.Area - open.Health().Area + drop
	if got > 1.02*missing+drop || got < 0.9*missing {
		t.Errorf("%g of area for %g missing", got, missing)
	}
}

// A long straight crack round three sides of a square prism has corners in one line by the hundred. No
// triangle without area may come of sewing it; the prism is 1 × 1 × 1 again.
func TestStraightCrack(t *testing.T) {
	var p []geom.Vec2
	for i := range 400 {
		s := float64(i%100) / 100
		p = append(p, [...]geom.Vec2{{X: s}, {X: 1, Y: s}, {X: 1 - s, Y: 1}, {Y: 1 - s}}[i/100])
	}
	m := mend(t, wall(p, 1, 50), Params{Fill: 10}).Mesh
	open := without(m, func(i int) bool { return i/2/400 == 20 && i/2%400 > 30 && i/2%400 < 280 })
	r := mend(t, open, Params{Fill: 0.1})
	sound(t, "prism", r, 2)
	near(t, "volume", r.After.Volume, 1, 1e-4)
}

// Bores in a triangle, whose ends are missing: the three corners outside have to do for the
// ways to all of them. Volume by the shoelace formula, χ = 2 − 2·bores.
func TestManyBores(t *testing.T) {
	outer := []geom.Vec2{{X: -10, Y: -10}, {X: 14, Y: -10}, {X: -10, Y: 14}}
	parts := []*mesh.Mesh{wall(outer, 2, 1)}
	area := shoelace(outer)
	bores := 0
	for y := -8.2; y < 5; y += 2.5 {
		for x := -8.5; x+y < 1; x += 2.3 {
			var p []geom.Vec2
			n := 5 + bores%3
			for k := range n {
				s, c := math.Sincos(2*math.Pi*float64(k)/float64(n) + x)
				p = append(p, geom.Vec2{X: x + c, Y: y + s})
			}
			area -= shoelace(p)
			parts = append(parts, sample.Inverted(wall(p, 2, 1)))
			bores++
		}
	}
	r := mend(t, mesh.Join(parts...), Params{Fill: 30})
	sound(t, "bores", r, 2-2*bores)
	near(t, "volume", r.After.Volume, 2*area, 1e-9*area)
}

// Two open boxes in one another that face the same way are two solids, not a ring: 10·10·5 and 4·4·3.
func TestOpenBoxesInOneAnother(t *testing.T) {
	sq := func(lo, hi float64) []geom.Vec2 {
		return []geom.Vec2{{X: lo, Y: lo}, {X: hi, Y: lo}, {X: hi, Y: hi}, {X: lo, Y: hi}}
	}
	lid := func(m *mesh.Mesh, z float64) *mesh.Mesh {
		full := mend(t, m, Params{Fill: 100}).Mesh
		return without(full, func(i int) bool { a, b, c := full.Corners(i); return min(a.Z, b.Z, c.Z) == z })
	}
	big, small := lid(wall(sq(0, 10), 5, 1), 5), lid(wall(sq(3, 7), 3, 1), 3).Map(func(a geom.Vec3) geom.Vec3 { return a.Add(v(0, 0, 2)) })
	r := mend(t, mesh.Join(big, small), Params{Fill: 11})
	near(t, "solids", r.After.Volume, 500+48, 1e-9)
	r = mend(t, mesh.Join(big, sample.Inverted(small)), Params{Fill: 11})
	near(t, "cup", r.After.Volume, 500-48, 1e-9)
	if len(r.After.Shells) != 1 || !r.After.Closed {
		t.Errorf("a cup has one shell: %d", len(r.After.Shells))
	}
}
