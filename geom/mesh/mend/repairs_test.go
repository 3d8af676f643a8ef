package mend

import (
	"context"
	"math/rand/v2"
	"reflect"
	"runtime"
	"slices"
	"testing"

	"barwise/finding"
	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/sample"
)

// Twins, facing as the first or against it, go, and the solid is as it was.
func TestTwins(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 3))
	for name, m := range map[string]*mesh.Mesh{"sphere": sample.Icosphere(20, 2), "torus": sample.Torus(10, 3, 20, 12), "box": sample.Box(v(0, 0, 0), v(1, 2, 3))} {
		for _, n := range []int{1, 1, 1, 1, 1, 1, 5, 50} {
			bad := &mesh.Mesh{Vertices: m.Vertices, Triangles: slices.Clone(m.Triangles)}
			for range n {
				x := m.Triangles[r.IntN(len(m.Triangles))]
				if r.IntN(2) == 0 {
					x = [3]int32{x[1], x[0], x[2]}
				}
				at := r.IntN(len(bad.Triangles))
				bad.Triangles = slices.Insert(bad.Triangles, at, [3]int32{x[1], x[2], x[0]})
			}
			res := mend(t, bad, Params{Duplicates: true, Orient: true})
			if !same(res.Mesh, m) {
				t.Errorf("%s with %d twins: not as it was: %v", name, n, res.Changes)
			}
			// of two that face opposite ways the one that fits its neighbours stays, without orienting too
			if res := mend(t, bad, Params{Duplicates: true}); n == 1 && !same(res.Mesh, m) {
				t.Errorf("%s: the wrong one of twins stayed: %v", name, res.Changes)
			}
		}
		// every triangle twice, facing both ways: one skin is left
		res := mend(t, mesh.Join(m, sample.Inverted(m)), Params{Weld: 1e-9, Duplicates: true, Orient: true})
		if len(res.Mesh.Triangles) != 2*len(m.Triangles) {
			t.Errorf("%s: closed shells were welded", name)
		}
		both := &mesh.Mesh{Vertices: m.Vertices, Triangles: append(slices.Clone(m.Triangles), sample.Inverted(m).Triangles...)}
		if res := mend(t, both, Params{Duplicates: true, Orient: true}); !same(res.Mesh, m) {
			t.Errorf("%s facing both ways: %v", name, res.Changes)
		}
	}
}

// Two blocks of n × n quads a side that share a wall, each with its own copy: dropping both leaves one
// solid of the two volumes; so does a fin that stands on a face.
func TestSkinsAndFins(t *testing.T) {
	square := []geom.Vec2{{X: 0, Y: 0}, {X: 1, Y: 0}, {X: 2, Y: 0}, {X: 2, Y: 1}, {X: 2, Y: 2}, {X: 1, Y: 2}, {X: 0, Y: 2}, {X: 0, Y: 1}}
	one := mend(t, wall(square, 3, 3), Params{Fill: 10}).Mesh
	up := one.Map(func(a geom.Vec3) geom.Vec3 { return a.Add(v(0, 0, 3)) })
	joined, _ := mesh.Join(one, up).Weld()
	r := mend(t, joined, Params{Duplicates: true, Orient: true})
	sound(t, "two blocks", r, 2)
	near(t, "volume", r.After.Volume, 24, 1e-12)

	fin := &mesh.Mesh{Vertices: append(slices.Clone(one.Vertices), v(3, 0, 1)), Triangles: slices.Clone(one.Triangles)}
	n, e := int32(len(one.Vertices)), one.Triangles[0]
	fin.Triangles = append(fin.Triangles, [3]int32{e[0], e[1], n}, [3]int32{e[1], e[0], n})
	if r := mend(t, fin, Params{Duplicates: true}); !same(r.Mesh, one) {
		t.Errorf("fin: %v", r.Changes)
	}
}

// Triangles with shifted vertices of their own are welded to the solid again: volume within the shift
// times the area, by the divergence theorem.
func TestWeldASoup(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 4))
	for name, m := range map[string]*mesh.Mesh{"sphere": sample.Icosphere(20, 3), "torus": sample.Torus(10, 3, 40, 24)} {
		h := m.Health()
		res := mend(t, exploded(m, 0.01, r), Params{Weld: 0.04})
		sound(t, name, res, h.Shells[0].Euler)
		near(t, name, res.After.Volume, h.Volume, 0.02*h.Area)
		if len(res.Mesh.Vertices) != len(m.Vertices) || len(res.Mesh.Triangles) != len(m.Triangles) {
			t.Errorf("%s: %d vertices, %d triangles", name, len(res.Mesh.Vertices), len(res.Mesh.Triangles))
		}
		if res := mend(t, exploded(m, 0, r), Params{Weld: 1e-9}); !same(res.Mesh, m) {
			t.Errorf("%s: equal vertices not welded", name)
		}
	}
}

// A weld distance above the length of the edges eats no triangle.
func TestWeldEatsNothing(t *testing.T) {
	m := sample.Icosphere(20, 3)
	open := without(m, func(i int) bool { a, _, _ := m.Corners(i); return a.Z > 10 })
	for _, d := range []float64{0.5, 2, 3} {
		r := mend(t, open, Params{Weld: d})
		if len(r.Mesh.Triangles) != len(open.Triangles) {
			t.Errorf("weld %g: %d triangles of %d", d, len(r.Mesh.Triangles), len(open.Triangles))
		}
	}
	_, err := Mend(context.Background(), exploded(sample.Icosphere(1, 4), 0, rand.New(rand.NewPCG(1, 1))), Params{Weld: 1})
	if !finding.IsInput(err) {
		t.Error(err)
	}
}

// A box whose top has one vertex more on each edge than the walls beside it, and whose walls are cut
// at other heights than their neighbours': vertices lie on edges, and splitting those closes it.
func TestVerticesOnEdges(t *testing.T) {
	m := &mesh.Mesh{}
	quad := func(o, a, b geom.Vec3, n, k int) {
		s := int32(len(m.Vertices))
		for i := range n + 1 {
			for j := range k + 1 {
				m.Vertices = append(m.Vertices, o.Add(a.Mul(float64(i)/float64(n))).Add(b.Mul(float64(j)/float64(k))))
			}
		}
		for i := range int32(n) {
			for j := range int32(k) {
				p := s + i*int32(k+1) + j
				q := p + int32(k+1)
				m.Triangles = append(m.Triangles, [3]int32{p, q, q + 1}, [3]int32{p, q + 1, p + 1})
			}
		}
	}
	x, y, z := v(3, 0, 0), v(0, 4, 0), v(0, 0, 5)
	quad(v(0, 0, 0), y, x, 2, 3)
	quad(z, x, y, 3, 4)
	quad(v(0, 0, 0), x, z, 1, 7)
	quad(y, z, x, 5, 2)
	quad(v(0, 0, 0), z, y, 3, 1)
	quad(x, y, z, 5, 2)
	r := mend(t, m, Params{Weld: 1e-6, Duplicates: true})
	sound(t, "box", r, 2)
	near(t, "volume", r.After.Volume, 60, 1e-9)
	near(t, "area", r.After.Area, 2*(12+15+20), 1e-9)
	// the same with every vertex a little off
	rnd := rand.New(rand.NewPCG(5, 5))
	off := m.Map(func(a geom.Vec3) geom.Vec3 {
		return a.Add(v(rnd.Float64(), rnd.Float64(), rnd.Float64()).Mul(1e-4))
	})
	r = mend(t, off, Params{Weld: 1e-3, Duplicates: true})
	sound(t, "box, vertices off", r, 2)
	near(t, "volume", r.After.Volume, 60, 94*1e-3)
}

// Flat triangles go and the surface stays closed and where it was: corners on the edge across, needles
// with two corners on one place or nearly, at random all over.
func TestFlatTriangles(t *testing.T) {
	r := rand.New(rand.NewPCG(6, 6))
	for name, m := range map[string]*mesh.Mesh{"sphere": sample.Icosphere(20, 2), "torus": sample.Torus(10, 3, 20, 12), "box": sample.Box(v(0, 0, 0), v(1, 2, 3))} {
		want := m.Health()
		for _, n := range []int{1, 4, 30} {
			bad := m
			for range n {
				if r.IntN(2) == 0 {
					bad = capped(bad, r)
				} else {
					bad = needled(bad, r)
				}
			}
			h := bad.Health()
			if !h.Closed || h.Degenerate == 0 {
				t.Fatalf("%s: the test's own mesh: closed %v, %d flat", name, h.Closed, h.Degenerate)
			}
			res := mend(t, bad, Params{Duplicates: true})
			sound(t, name, res, want.Shells[0].Euler)
			near(t, name+" volume", res.After.Volume, h.Volume, 1e-6*want.Volume)
			near(t, name+" area", res.After.Area, h.Area, 1e-5*want.Area)
		}
	}
}

// capped puts a vertex on an edge of one triangle only, and a flat triangle between it and the next.
func capped(m *mesh.Mesh, r *rand.Rand) *mesh.Mesh {
	out := &mesh.Mesh{Vertices: slices.Clone(m.Vertices), Triangles: slices.Clone(m.Triangles)}
	for {
		i, c := r.IntN(len(m.Triangles)), r.IntN(3)
		t := m.Triangles[i]
		a, b, d := t[c], t[(c+1)%3], t[(c+2)%3]
		p := m.Vertices[a].Lerp(m.Vertices[b], 0.2+0.6*r.Float64())
		if m.Vertices[b].Sub(m.Vertices[a]).Cross(m.Vertices[d].Sub(m.Vertices[a])).Len() < 1e-3 {
			continue
		}
		n := int32(len(out.Vertices))
		out.Vertices = append(out.Vertices, p)
		out.Triangles[i] = [3]int32{a, n, d}
		out.Triangles = append(out.Triangles, [3]int32{n, b, d}, [3]int32{a, b, n})
		return out
	}
}

// needled splits a vertex in two at one place, or a billionth apart, with two needles between.
func needled(m *mesh.Mesh, r *rand.Rand) *mesh.Mesh {
	out := &mesh.Mesh{Vertices: slices.Clone(m.Vertices), Triangles: slices.Clone(m.Triangles)}
	e := m.Edges()
	h := int32(r.IntN(3 * len(m.Triangles)))
	a, _ := e.Ends(h)
	n := int32(len(out.Vertices))
	out.Vertices = append(out.Vertices, m.Vertices[a].Add(v(r.Float64(), r.Float64(), r.Float64()).Mul(1e-9*float64(r.IntN(2)))))
	// the fan at a from edge h round to another edge goes to the new vertex
	first := h
	steps := 1 + r.IntN(2)
	at := h
	for range steps {
		t := at / 3
		for c, x := range out.Triangles[t] {
			if x == a {
				out.Triangles[t][c] = n
			}
		}
		at = e.Mate[mesh.Prev(at)] // from a, in the next triangle
	}
	_, b := e.Ends(first)
	_, d := e.Ends(at)
	// before: first's mate holds b→a, and at's triangle holds a→d
	out.Triangles = append(out.Triangles, [3]int32{a, b, n}, [3]int32{n, d, a})
	return out
}

func TestRepeatedCorners(t *testing.T) {
	m := sample.Icosphere(5, 1)
	bad := &mesh.Mesh{Vertices: m.Vertices, Triangles: append(slices.Clone(m.Triangles), [3]int32{0, 0, 1}, [3]int32{2, 3, 2}, [3]int32{4, 4, 4})}
	for _, p := range []Params{{Duplicates: true}, {Weld: 1e-3, Duplicates: true, Orient: true, Fill: 3, Specks: 1e-3}} {
		if r := mend(t, bad, p); !same(r.Mesh, m) || len(r.Changes) != 1 {
			t.Errorf("%v", r.Changes)
		}
	}
	if r := mend(t, bad, Params{Weld: 1e-3, Orient: true, Fill: 3}); r.Changed() {
		t.Errorf("%v", r.Changes)
	}
}

func TestSpecks(t *testing.T) {
	m := sample.Icosphere(20, 2)
	bad := m
	for i := range 100 {
		bad = mesh.Join(bad, sample.Icosphere(0.1, 0).Map(func(a geom.Vec3) geom.Vec3 { return a.Add(v(30+float64(i), 0, 0)) }))
	}
	r := mend(t, bad, Params{Specks: 1})
	if !same(r.Mesh, m) || len(r.Changes) != listed+1 || r.Changes[listed].Count != 20*(100-listed) {
		t.Errorf("%d changes, %d triangles", len(r.Changes), len(r.Mesh.Triangles))
	}
	if r := mend(t, bad, Params{Specks: 100}); r.Changed() || len(r.Left) != 1 || r.Left[0].Kind != "speck" {
		t.Errorf("all of it: %v %v", r.Changes, r.Left)
	}
}

// broken is a solid with one of everything wrong with it.
func broken(m *mesh.Mesh, r *rand.Rand) *mesh.Mesh {
	bad := capped(needled(m, r), r)
	bad = without(bad, func(i int) bool { return i%97 == 5 })
	for i := range bad.Triangles {
		if r.IntN(10) == 0 {
			bad.Triangles[i][0], bad.Triangles[i][1] = bad.Triangles[i][1], bad.Triangles[i][0]
		}
	}
	bad.Triangles = append(bad.Triangles, bad.Triangles[3], bad.Triangles[50])
	// a needle narrower than the shift has no form to come back to
	flat := map[int32]bool{}
	w := &work{v: bad.Vertices}
	for _, t := range bad.Triangles {
		if w.flat(t) {
			flat[t[0]], flat[t[1]], flat[t[2]] = true, true, true
		}
	}
	at := func(i int) bool { t := bad.Triangles[i]; return flat[t[0]] || flat[t[1]] || flat[t[2]] }
	soup := exploded(without(bad, at), 1e-4, r)
	rest := without(bad, func(i int) bool { return !at(i) })
	return mesh.Join(soup, rest, sample.Icosphere(0.05, 1))
}

func TestEverythingAtOnce(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 7))
	for name, m := range map[string]*mesh.Mesh{"sphere": sample.Icosphere(20, 3), "torus": sample.Torus(10, 3, 40, 24)} {
		h := m.Health()
		res := mend(t, broken(m, r), Params{Weld: 5e-4, Duplicates: true, Orient: true, Fill: 20, Specks: 1})
		sound(t, name, res, h.Shells[0].Euler)
		near(t, name, res.After.Volume, h.Volume, 0.01*h.Volume)
	}
}

// The same bytes on one processor and many, and with another name for every vertex the same counts.
func TestSameOnAnyNumberOfProcessors(t *testing.T) {
	bad := broken(sample.Icosphere(20, 4), rand.New(rand.NewPCG(8, 8)))
	p := Params{Weld: 5e-4, Duplicates: true, Orient: true, Fill: 20, Specks: 1}
	old := runtime.GOMAXPROCS(1)
	one := mend(t, bad, p)
	runtime.GOMAXPROCS(max(4, old))
	many := mend(t, bad, p)
	runtime.GOMAXPROCS(old)
	if !reflect.DeepEqual(one, many) {
		t.Error("results differ")
	}
}

// Mirrored, turned by a quarter or shifted by a power of two, a mesh mends to the image of its mending:
// as many triangles, the same area and volume, one fill for each.
func TestSymmetry(t *testing.T) {
	m := without(sample.Torus(10, 3, 40, 24), func(i int) bool { return i%31 == 3 || i > 700 && i < 720 })
	p := Params{Weld: 1e-3, Duplicates: true, Orient: true, Fill: 20}
	want := mend(t, m, p)
	sound(t, "torus", want, 0)
	mirror := sample.Inverted(m.Map(func(a geom.Vec3) geom.Vec3 { return v(-a.X, a.Y, a.Z) }))
	for name, q := range map[string]*mesh.Mesh{
		"mirror":  mirror,
		"quarter": m.Map(geom.TurnDeg(90).ToSide),
		"shift":   m.Map(func(a geom.Vec3) geom.Vec3 { return a.Add(v(64, -32, 16)) }),
	} {
		got := mend(t, q, p)
		if len(got.Mesh.Triangles) != len(want.Mesh.Triangles) || len(got.Changes) != len(want.Changes) {
			t.Errorf("%s: %d triangles, %d changes", name, len(got.Mesh.Triangles), len(got.Changes))
		}
		near(t, name+" volume", got.After.Volume, want.After.Volume, 1e-6*want.After.Volume)
	}
	// a power of two changes no digit: the same triangles, at any size
	for _, k := range []float64{1.0 / (1 << 20), 1 << 20} {
		got := mend(t, m.Map(func(a geom.Vec3) geom.Vec3 { return a.Mul(k) }), Params{Weld: 1e-3 * k, Duplicates: true, Orient: true, Fill: 20 * k})
		if !slices.Equal(got.Mesh.Triangles, want.Mesh.Triangles) {
			t.Errorf("%g times as large it mends otherwise", k)
		}
	}
}
