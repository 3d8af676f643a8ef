package mend

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/sample"
)

func v(x, y, z float64) geom.Vec3 { return geom.Vec3{X: x, Y: y, Z: z} }

func mend(t *testing.T, m *mesh.Mesh, p Params) *Result {
	t.Helper()
	r, err := Mend(context.Background(), m, p)
	if err != nil {
		t.Fatal(err)
	}
	if len(r.New) != len(r.Mesh.Triangles) || len(r.Turned) != len(r.Mesh.Triangles) {
		t.Fatalf("%d triangles, %d and %d marks", len(r.Mesh.Triangles), len(r.New), len(r.Turned))
	}
	return r
}

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.12g, want %.12g within %g", what, got, want, tol)
	}
}

// whole is everything asked for at once.
func whole(width float64) Params {
	return Params{Weld: 1e-3, Duplicates: true, Orient: true, Fill: width}
}

// sound checks that the mesh is a closed, clean, outward solid of one shell with an Euler number.
func sound(t *testing.T, what string, r *Result, euler int) {
	t.Helper()
	h := r.After
	if !h.Closed || h.Crowded != 0 || h.Flipped != 0 || h.Pinched != 0 || h.Duplicates != 0 || h.Degenerate != 0 || len(h.Loops) != 0 || h.Volume <= 0 {
		t.Errorf("%s: not sound: %+v; %v; %v", what, h, r.Changes, r.Left)
		return
	}
	if len(h.Shells) != 1 || h.Shells[0].Euler != euler {
		t.Errorf("%s: %d shells, χ %d, want %d", what, len(h.Shells), h.Shells[0].Euler, euler)
	}
}

// A box of 2 × 3 × 4 without one of its faces: the window is closed to exactly the volume 24 and the
// area 52 it had.
func TestWindowInABox(t *testing.T) {
	b := sample.Box(v(-1, 2, 3), v(1, 5, 7))
	for face := range 6 {
		open := &mesh.Mesh{Vertices: b.Vertices}
		for i, tr := range b.Triangles {
			if i/2 != face {
				open.Triangles = append(open.Triangles, tr)
			}
		}
		r := mend(t, open, Params{Fill: 4.5})
		sound(t, "box", r, 2)
		near(t, "volume", r.After.Volume, 24, 0)
		near(t, "area", r.After.Area, 52, 1e-12)
		if len(r.Changes) != 1 || r.Changes[0].Kind != Fill || r.Changes[0].Count != 2 || len(r.Changes[0].Loop) != 4 {
			t.Errorf("%+v", r.Changes)
		}
	}
}

// A sound mesh comes back itself, whatever is asked for.
func TestSoundMeshIsLeftAlone(t *testing.T) {
	box := sample.Box(v(0, 0, 0), v(4, 4, 4))
	for name, m := range map[string]*mesh.Mesh{
		"box":    box,
		"sphere": sample.Icosphere(20, 3),
		"torus":  sample.Torus(10, 3, 40, 24),
		"cavity": mesh.Join(box, sample.Inverted(sample.Box(v(1, 1, 1), v(3, 3, 3)))),
		"two":    mesh.Join(box, sample.Box(v(10, 0, 0), v(11, 1, 1))),
		"touch":  mesh.Join(box, sample.Box(v(4, 0, 0), v(8, 4, 4))),
	} {
		r := mend(t, m, Params{Weld: 0.5, Duplicates: true, Specks: 0.5, Orient: true, Fill: 100})
		if r.Mesh != m || r.Changed() || len(r.Left) != 0 || r.After != r.Before {
			t.Errorf("%s: %v %v", name, r.Changes, r.Left)
		}
		if slices.Contains(r.New, true) || slices.Contains(r.Turned, true) {
			t.Errorf("%s: marked", name)
		}
	}
}

// An open mesh for which nothing is asked comes back itself too.
func TestNothingAskedNothingDone(t *testing.T) {
	m := without(sample.Icosphere(5, 1), func(i int) bool { return i == 7 })
	if r := mend(t, m, Params{}); r.Mesh != m || r.Changed() || len(r.Left) > 0 {
		t.Errorf("%+v", r)
	}
}

// Triangles are taken out of a sphere of radius 20 here and there. What closes them lies between the
// sphere's own facets and the chords of the hole, no deeper than the sagitta d²/8R of a hole d wide, so
// the volume falls by no more than area times that; Euler number 2.
func TestHolesInASphere(t *testing.T) {
	m := sample.Icosphere(20, 4)
	r := rand.New(rand.NewPCG(1, 1))
	full := m.Health().Volume
	for _, n := range []int{1, 3, 10, 60} {
		gone := map[int]bool{}
		for range n {
			gone[r.IntN(len(m.Triangles))] = true
		}
		res := mend(t, without(m, func(i int) bool { return gone[i] }), Params{Fill: 10})
		sound(t, "sphere", res, 2)
		d := 0.0
		for _, c := range res.Changes {
			s := c.Box.Size().Len()
			d += c.Area * s * s / (8 * 20)
		}
		near(t, "volume", res.After.Volume, full, d)
		if res.After.Volume > full+1e-9*full {
			t.Errorf("volume grew by %g", res.After.Volume-full)
		}
	}
}

// Whole regions are taken out of spheres and tori: caps beyond a plane, of many sizes. The volume of a
// sphere cut by a plane is that of the cap, πh²(3R − h)/3; the facets' own error is measured by the
// whole sphere's.
func TestCaps(t *testing.T) {
	m := sample.Icosphere(20, 4)
	facets := 4.0/3*math.Pi*8000 - m.Health().Volume
	for _, z := range []float64{19, 15, 8, 0, -10} {
		low := math.Inf(1)
		open := without(m, func(i int) bool {
			a, b, c := m.Corners(i)
			return max(a.Z, b.Z, c.Z) > z
		})
		for _, l := range open.Health().Loops {
			low = min(low, l.Box.Min.Z)
		}
		r := mend(t, open, Params{Fill: 41})
		sound(t, "cut sphere", r, 2)
		// the border runs between low and z
		cap := func(z float64) float64 { h := 20 - z; return math.Pi * h * h * (60 - h) / 3 }
		got := 4.0/3*math.Pi*8000 - r.After.Volume
		if got < cap(z)-1 || got > cap(low)+facets+1 {
			t.Errorf("cut at %g: lost %g, caps are %g and %g", z, got, cap(z), cap(low))
		}
	}
	ring := sample.Torus(10, 3, 60, 30)
	open := without(ring, func(i int) bool { a, _, _ := ring.Corners(i); return a.X > 0 && math.Abs(a.Y) < 2 })
	r := mend(t, open, Params{Fill: 8})
	// with two holes closed a cut torus is a ball
	sound(t, "cut torus", r, 2)
	hole := without(ring, func(i int) bool { a, _, _ := ring.Corners(i); return a.X > 12 && math.Abs(a.Y) < 2 })
	sound(t, "torus with a hole", mend(t, hole, Params{Fill: 8}), 0)
}

// A strip one quad wide is missing most of the way round a torus: a crack with far more edges than all
// triangulations are compared for. Closed, its surface lies within the sagitta of the tube's polygon,
// r(1 − cos(2π/k)), over its own area, and it adds as much area as the strip had.
func TestLongCrack(t *testing.T) {
	m := sample.Torus(10, 3, 400, 60)
	gone := func(i int) bool { row, col := i/2/60, i/2%60; return col == 7 && row > 3 && row < 390 }
	// the strip is 2·3·sin(π/60) wide, and twice that is what it is measured as
	if r := mend(t, without(m, gone), Params{Fill: 1.9 * 6 * math.Sin(math.Pi/60)}); r.Changed() || len(r.Left) != 1 {
		t.Errorf("%v", r.Changes)
	}
	r := mend(t, without(m, gone), Params{Fill: 2 * 6 * math.Sin(math.Pi/60)})
	sound(t, "crack", r, 0)
	h := m.Health()
	area := h.Area - without(m, gone).Health().Area
	near(t, "area", r.After.Area, h.Area, 0.02*area)
	near(t, "volume", r.After.Volume, h.Volume, area*3*(1-math.Cos(2*math.Pi/60)))
	if n := len(r.Changes); n != 1 || r.Changes[0].Count < 4*mostOptimal-60 {
		t.Errorf("%d fills: %v", n, r.Changes)
	}
}

// A crack all the way round leaves two borders facing each other, which no cap closes as it was: wider
// than asked, both are listed.
func TestCrackAllRound(t *testing.T) {
	m := sample.Torus(10, 3, 40, 24)
	r := mend(t, without(m, func(i int) bool { return i/2%24 == 7 }), Params{Fill: 3})
	if r.Changed() || len(r.Left) != 2 {
		t.Errorf("%v %v", r.Changes, r.Left)
	}
}

// The ends of a gear's wall are closed exactly: volume area·h by the shoelace formula, no triangle
// without area though corners lie in one line.
func TestEndsOfAGear(t *testing.T) {
	for _, n := range []int{3, 8, 40, 300} {
		p := gear(n, 8, 10)
		open := wall(p, 5, 2)
		for name, f := range map[string]func(geom.Vec3) geom.Vec3{
			"upright": func(a geom.Vec3) geom.Vec3 { return a },
			"tilted":  func(a geom.Vec3) geom.Vec3 { return tilted(a).Add(v(100, -30, 7)) },
		} {
			r := mend(t, open.Map(f), Params{Fill: 21})
			sound(t, name, r, 2)
			near(t, name+" volume", r.After.Volume, 5*shoelace(p), 1e-9*5*shoelace(p))
			near(t, name+" area", r.After.Area, open.Health().Area+2*shoelace(p), 1e-8*shoelace(p))
		}
	}
}

// tilted turns about two axes by arctangents of 3/4 and 5/12.
func tilted(a geom.Vec3) geom.Vec3 {
	a = geom.TurnDeg(math.Atan2(3, 4) * 180 / math.Pi).ToSide(a)
	c, s := 12.0/13, 5.0/13
	return v(c*a.X-s*a.Y, s*a.X+c*a.Y, a.Z)
}

// A tube whose two ends are missing has two loops at each end; the ring between them closes it. With
// walls of a gear outside and a hexagon and a triangle inside: volume = h·(A − a − b) by the shoelace
// formula, two handles, so Euler number −2.
func TestEndsOfATube(t *testing.T) {
	outer := gear(12, 8, 10)
	small := func(x, y, r float64, n int) []geom.Vec2 {
		var p []geom.Vec2
		for i := range n {
			s, c := math.Sincos(2*math.Pi*float64(i)/float64(n) + 0.1)
			p = append(p, geom.Vec2{X: x + r*c, Y: y + r*s})
		}
		return p
	}
	a, b := small(-3, 0.5, 2, 6), small(3, 1, 3, 3)
	m := mesh.Join(wall(outer, 5, 1), sample.Inverted(wall(a, 5, 1)), sample.Inverted(wall(b, 5, 1)))
	area := shoelace(outer) - shoelace(a) - shoelace(b)
	for name, m := range map[string]*mesh.Mesh{"upright": m, "tilted": m.Map(tilted)} {
		r := mend(t, m, Params{Fill: 21, Orient: true})
		sound(t, name, r, -2)
		near(t, name, r.After.Volume, 5*area, 1e-9*area)
		if len(r.Changes) != 6 {
			t.Errorf("%s: %v", name, r.Changes)
		}
	}
	// asked for holes narrower than the tube, the bores are closed and the rims stay
	r := mend(t, m, Params{Fill: 7})
	if n := len(r.After.Loops); n != 2 || len(r.Left) != 2 {
		t.Errorf("%d loops, %v", n, r.Left)
	}
}

func TestHoleWiderThanAskedStays(t *testing.T) {
	m := without(sample.Icosphere(20, 3), func(i int) bool { return i < 4 })
	r := mend(t, m, Params{Fill: 1})
	if r.Changed() || len(r.Left) != 1 || r.Left[0].Kind != "hole" || !strings.Contains(r.Left[0].Text, "at most 1 was asked for") {
		t.Errorf("%v %v", r.Changes, r.Left)
	}
	// texts are in mm where the unit is known: an inch is 25.4 mm
	if r := mend(t, m, Params{Fill: 1, UnitMM: 25.4}); !strings.Contains(r.Left[0].Text, "at most 25.4 mm was asked for") {
		t.Error(r.Left[0].Text)
	}
	if len(r.Left[0].Loop) != m.Health().Loops[0].Edges {
		t.Errorf("%d places of the loop", len(r.Left[0].Loop))
	}
}

// The border of a sheet is no hole: closing it would lay a skin on its back.
func TestSheetStaysOpen(t *testing.T) {
	one := &mesh.Mesh{Vertices: []geom.Vec3{{}, {X: 1}, {Y: 1}}, Triangles: [][3]int32{{0, 1, 2}}}
	disc := mend(t, wall(gear(8, 8, 10), 5, 1), Params{Fill: 30}).Mesh
	plate := without(disc, func(i int) bool { a, b, c := disc.Corners(i); return max(a.Z, b.Z, c.Z) > 0 })
	for name, m := range map[string]*mesh.Mesh{"one": one, "plate": plate, "washer": washer()} {
		r := mend(t, m, Params{Fill: 100, Duplicates: true, Orient: true})
		if len(r.Left) != 1 || r.Left[0].Kind != "hole" || !strings.Contains(r.Left[0].Text, "sheet") {
			t.Errorf("%s: %v %v", name, r.Changes, r.Left)
		}
	}
	if r := mend(t, washer(), Params{Fill: 100}); len(r.Changes) != 1 || r.Changes[0].Count != 30 {
		t.Errorf("the hole in a washer: %v", r.Changes)
	}
}

// washer is a flat ring of 32 corners outside and inside.
func washer() *mesh.Mesh {
	m := &mesh.Mesh{}
	for i := range 32 {
		s, c := math.Sincos(2 * math.Pi * float64(i) / 32)
		m.Vertices = append(m.Vertices, v(5*c, 5*s, 0), v(2*c, 2*s, 0))
	}
	for i := range int32(32) {
		a, b, c, d := 2*i, (2*i+2)%64, (2*i+3)%64, 2*i+1
		m.Triangles = append(m.Triangles, [3]int32{a, b, c}, [3]int32{a, c, d})
	}
	return m
}

// Four boxes round one edge, two of them solid and touching at it: four triangles meet there. Turned at
// random, both come back, 2·24 in volume.
func TestBoxesThatTouchAtAnEdge(t *testing.T) {
	m, _ := mesh.Join(sample.Box(v(0, 0, 0), v(2, 3, 4)), sample.Box(v(2, 3, 0), v(4, 6, 4))).Weld()
	if n := m.Health().Crowded; n != 1 {
		t.Fatalf("%d crowded edges", n)
	}
	r := rand.New(rand.NewPCG(12, 12))
	for range 50 {
		bad := &mesh.Mesh{Vertices: m.Vertices, Triangles: slices.Clone(m.Triangles)}
		for i := range bad.Triangles {
			if r.IntN(3) == 0 {
				bad.Triangles[i][1], bad.Triangles[i][2] = bad.Triangles[i][2], bad.Triangles[i][1]
			}
		}
		res := mend(t, bad, Params{Orient: true})
		near(t, "volume", res.After.Volume, 48, 1e-9)
		if !same(res.Mesh, m) || !res.After.Closed {
			t.Fatalf("not as it was: %v %v", res.Changes, res.Left)
		}
	}
}

// Triangles turned over at random are turned back, all of them and no other.
func TestTurnedTriangles(t *testing.T) {
	r := rand.New(rand.NewPCG(2, 2))
	for name, m := range map[string]*mesh.Mesh{"sphere": sample.Icosphere(20, 3), "torus": sample.Torus(10, 3, 40, 24), "box": sample.Box(v(0, 0, 0), v(1, 2, 3))} {
		for _, share := range []float64{0.01, 0.3, 0.5, 0.9, 1} {
			bad := &mesh.Mesh{Vertices: m.Vertices, Triangles: slices.Clone(m.Triangles)}
			n := 0
			for i := range bad.Triangles {
				if r.Float64() < share {
					bad.Triangles[i][1], bad.Triangles[i][2] = bad.Triangles[i][2], bad.Triangles[i][1]
					n++
				}
			}
			res := mend(t, bad, Params{Orient: true})
			if !same(res.Mesh, m) {
				t.Errorf("%s, %g turned: not as it was", name, share)
			}
			turned := 0
			for i := range bad.Triangles {
				if res.Turned[i] {
					turned++
				}
			}
			if turned != n || n > 0 && (len(res.Changes) != 1 || res.Changes[0].Count != n) {
				t.Errorf("%s: %d turned, %d marked, %v", name, n, turned, res.Changes)
			}
		}
	}
}

// Shells in one another: a box of side 10 with a cavity of side 6 and a solid of side 2 in that has
// volume 1000 − 216 + 8, whether given right, inside out as a whole, or with its outside turned.
func TestShellsInOneAnother(t *testing.T) {
	big, mid, small := sample.Box(v(0, 0, 0), v(10, 10, 10)), sample.Box(v(2, 2, 2), v(8, 8, 8)), sample.Box(v(4, 4, 4), v(6, 6, 6))
	in := sample.Inverted
	for name, m := range map[string]*mesh.Mesh{
		"right":          mesh.Join(big, in(mid), small),
		"inside out":     in(mesh.Join(big, in(mid), small)),
		"outside turned": mesh.Join(in(big), in(mid), small),
		"other order":    mesh.Join(in(small), mid, in(big)),
	} {
		r := mend(t, m, Params{Orient: true})
		near(t, name, r.After.Volume, 1000-216+8, 1e-9)
		if len(r.Left) > 0 {
			t.Errorf("%s: %v", name, r.Left)
		}
	}
	// a solid in a solid may be meant: it is told and left
	r := mend(t, mesh.Join(big, mid), Params{Orient: true})
	if r.Changed() || len(r.Left) != 1 || r.Left[0].Kind != "nested" {
		t.Errorf("%v %v", r.Changes, r.Left)
	}
	// beside each other, overlapping boxes are not in one another
	r = mend(t, mesh.Join(in(big), in(sample.Box(v(5, 5, 5), v(9, 9, 20)))), Params{Orient: true})
	near(t, "apart", r.After.Volume, 1000+16*15, 1e-9)
}

// An open bowl that is nearly a sphere is turned by the volume it nearly holds; a sheet is not.
func TestOpenShells(t *testing.T) {
	m := sample.Icosphere(20, 3)
	bowl := without(m, func(i int) bool { a, _, _ := m.Corners(i); return a.Z > 15 })
	r := mend(t, sample.Inverted(bowl), Params{Orient: true})
	if !same(r.Mesh, bowl) {
		t.Error("a bowl inside out was not turned")
	}
	dish := sample.Inverted(without(m, func(i int) bool { a, _, _ := m.Corners(i); return a.Z > -10 }))
	if r := mend(t, dish, Params{Orient: true}); r.Changed() {
		t.Errorf("a dish was changed: %v", r.Changes)
	}
}

// A Möbius strip of n quads with a half turn: one border, one side. It is told and left alone.
func TestMoebius(t *testing.T) {
	m := &mesh.Mesh{}
	const n = 30
	for i := range n {
		s, c := math.Sincos(2 * math.Pi * float64(i) / n)
		hs, hc := math.Sincos(math.Pi * float64(i) / n)
		for _, w := range []float64{-1, 1} {
			m.Vertices = append(m.Vertices, v((5+w*hc)*c, (5+w*hc)*s, w*hs))
		}
	}
	for i := range int32(n) {
		a, b, c, d := 2*i, 2*i+1, 2*i+2, 2*i+3
		if i == n-1 {
			c, d = 1, 0
		}
		m.Triangles = append(m.Triangles, [3]int32{a, c, d}, [3]int32{a, d, b})
	}
	r := mend(t, m, Params{Orient: true, Fill: 100})
	if r.Mesh != m || len(r.Left) != 2 || r.Left[0].Kind != "one-sided" || r.Left[1].Kind != "hole" {
		t.Errorf("%v %v", r.Changes, r.Left)
	}
}
