package cross

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"reflect"
	"runtime"
	"testing"
	"time"

	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/sample"
)

func v(x, y, z float64) geom.Vec3 { return geom.Vec3{X: x, Y: y, Z: z} }

func find(t testing.TB, m *mesh.Mesh) *Found {
	t.Helper()
	f, err := Find(context.Background(), m, 0)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// two makes a mesh of two triangles; corners at the same place are one vertex.
func two(c ...geom.Vec3) *mesh.Mesh {
	b := mesh.NewBuilder(2)
	for i := 0; i < len(c); i += 3 {
		b.Triangle(b.Vertex(c[i]), b.Vertex(c[i+1]), b.Vertex(c[i+2]))
	}
	m, _ := b.Mesh()
	return m
}

// Each way that two triangles can lie, by hand.
func TestPairs(t *testing.T) {
	o, x, y := v(0, 0, 0), v(4, 0, 0), v(0, 4, 0)
	for _, c := range []struct {
		name    string
		a, b, c geom.Vec3
		want    Kind
	}{
		{"apart", v(0, 0, 1), v(4, 0, 1), v(0, 4, 1), 0},
		{"boxes meet but not the triangles", v(3, 3, -1), v(3, 3, 1), v(4, 3, 0), 0},
		{"through the middle", v(1, 1, -1), v(1, 1, 1), v(5, 1, 1), Through},
		{"pierced by one edge, its ends beyond", v(1, 1, -1), v(1, 1, 1), v(1, 9, 0), Through},
		{"both lace", v(1, 1, -1), v(1, 1, 1), v(-5, -5, 0), Through},
		{"a corner on the inside", v(1, 1, 0), v(1, 1, 2), v(2, 1, 2), Touch},
		{"a corner on an edge", v(1, 0, 0), v(1, 1, 2), v(2, 1, 2), Touch},
		{"a corner on a corner that is not shared", v(-1, 0, 0), v(1, 0, 0), v(0, 0, 1), Touch},
		{"an edge on the inside", v(1, 1, 0), v(2, 1, 0), v(1, 1, 2), Touch},
		{"an edge across the inside", v(-1, 1, 0), v(5, 1, 0), v(1, 1, 2), Touch},
		{"edge through edge", v(2, 0, -1), v(2, 0, 1), v(2, -3, 0), Touch},
		{"overlapping in the plane", v(1, 1, 0), v(5, 1, 0), v(1, 5, 0), Over},
		{"inside in the plane", v(1, 1, 0), v(2, 1, 0), v(1, 2, 0), Over},
		{"around in the plane", v(-9, -9, 0), v(20, -9, 0), v(-9, 20, 0), Over},
		{"edge on part of an edge in the plane", v(1, 0, 0), v(2, 0, 0), v(1, -3, 0), Touch},
		{"corner on edge in the plane", v(2, 2, 0), v(5, 2, 0), v(2, 5, 0), Touch},
		{"apart in the plane", v(3, 3, 0), v(5, 3, 0), v(3, 5, 0), 0},
		{"duplicate", o, x, y, Over},
		{"duplicate turned over", o, y, x, Over},
		{"shared edge, unfolded", o, y, v(-4, 0, 0), 0},
		{"shared edge, at an angle", o, y, v(4, 0, 1e-300), 0},
		{"shared edge, folded flat", o, y, v(1, 9, 0), Over},
		{"shared edge, folded flat, outside of the other", o, y, v(9, 9, 0), Over},
		{"shared corner, in the plane, apart", o, v(-4, 0, 0), v(0, -4, 0), 0},
		{"shared corner, in the plane, overlapping", o, v(5, 1, 0), v(1, 5, 0), Over},
		{"shared corner, in the plane, edges on one another", o, v(2, 0, 0), v(1, -1, 0), Touch},
		{"shared corner, cutting through", o, v(2, 2, -1), v(2, 2, 1), Through},
		{"shared corner, cutting through the far edge", o, v(9, 9, -1), v(9, 9, 1), Through},
		{"shared corner, the other way", o, v(-2, -2, -1), v(-2, -2, 1), 0},
		{"shared corner, an edge on the inside", o, v(1, 1, 0), v(1, 1, 3), Touch},
		{"shared corner, an edge on an edge", o, v(2, 0, 0), v(2, 0, 3), Touch},
		{"shared corner, a corner on the edge opposite", o, v(2, 2, 0), v(2, 2, 3), Touch},
		{"degenerate", v(1, 1, -1), v(1, 1, 1), v(1, 1, 0), 0},
	} {
		m := two(o, x, y, c.a, c.b, c.c)
		want := 0
		if c.want != 0 {
			want = 1
		}
		f := find(t, m)
		if f.Pairs != want || want == 1 && f.List[0].Kind != c.want {
			t.Errorf("%s: %+v, want %v", c.name, f, c.want)
		}
		if c.name == "degenerate" != (f.Skipped == 1) {
			t.Errorf("%s: %d skipped", c.name, f.Skipped)
		}
	}
}

// soup is a few triangles over few places, so that everything degenerate happens often.
func soup(r *rand.Rand) *mesh.Mesh {
	m := &mesh.Mesh{}
	n, k := 3+r.IntN(9), 2+r.IntN(4)
	tilt := r.IntN(2) == 0
	for range n {
		p := v(float64(r.IntN(k)), float64(r.IntN(k)), float64(r.IntN(k-1)))
		if tilt { // rounded, so that planes and lines are missed by a last place
			p = v(float64(p.X*0.6)-float64(p.Y*0.8), float64(p.X*0.8)+float64(p.Y*0.6), p.Z/3)
		}
		m.Vertices = append(m.Vertices, p)
	}
	for range 2 + r.IntN(10) {
		m.Triangles = append(m.Triangles, [3]int32{int32(r.IntN(n)), int32(r.IntN(n)), int32(r.IntN(n))})
	}
	return m
}

func TestAgainstTheSlowTwin(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	var seen [4]int
	for range 500 {
		m := soup(r)
		list, skipped := slowFind(m)
		f := find(t, m)
		for i := range f.List { // as the two alone are
			p, q, shared := align(m, f.List[i].A, f.List[i].B)
			if k := meet(&p, &q, shared); k != f.List[i].Kind {
				if k != Touch || f.List[i].Kind != Through {
					t.Fatalf("%v became %v", k, f.List[i].Kind)
				}
				f.List[i].Kind = k
			}
		}
		if f.Skipped != skipped || f.Pairs != len(list) || f.Pairs != f.Through+f.Over+f.Touch {
			t.Fatalf("%v %v: %+v, want %v", m.Vertices, m.Triangles, f, list)
		}
		for i, p := range f.List {
			if p.A != list[i].A || p.B != list[i].B || p.Kind != list[i].Kind {
				t.Fatalf("%v %v: pair %+v, want %+v", m.Vertices, m.Triangles, p, list[i])
			}
			seen[p.Kind]++
		}
	}
	if seen[Through] < 150 || seen[Over] < 150 || seen[Touch] < 150 {
		t.Errorf("the input is tame: %v", seen)
	}
}

// Sound solids do not meet themselves.
func TestSoundSolids(t *testing.T) {
	for name, m := range map[string]*mesh.Mesh{
		"box":       sample.Box(v(0, 0, 0), v(1, 2, 3)),
		"torus":     sample.Torus(10, 3, 60, 40),
		"two boxes": mesh.Join(sample.Box(v(0, 0, 0), v(1, 1, 1)), sample.Box(v(2, 0, 0), v(3, 1, 1))),
		"cavity":    mesh.Join(sample.Box(v(0, 0, 0), v(3, 3, 3)), sample.Inverted(sample.Box(v(1, 1, 1), v(2, 2, 2)))),
	} {
		if f := find(t, m); f.Pairs != 0 || f.Skipped != 0 || len(f.Spots) != 0 {
			t.Errorf("%s: %+v", name, f)
		}
	}
}

// Solids broken on purpose, and what is found where.
func TestBrokenSolids(t *testing.T) {
	b := sample.Box(v(0, 0, 0), v(10, 10, 10))
	t.Run("a bar through a box", func(t *testing.T) {
		f := find(t, mesh.Join(b, sample.Box(v(4, 4, -5), v(6, 7, 15))))
		// it goes in at z = 0 and out at z = 10: two rings, each the outline of the bar
		if f.Through == 0 || f.Over != 0 || len(f.Spots) != 1 {
			t.Fatalf("%+v", f)
		}
		length := 0.0
		for _, p := range f.List {
			if p.Kind == Through {
				length += p.Q.Sub(p.P).Len()
			}
			if z := p.P.Z; p.Kind == Through && z != 0 && z != 10 || p.P.Z != p.Q.Z {
				t.Errorf("%+v", p)
			}
		}
		if math.Abs(length-20) > 1e-12 { // 2 × 2·(2 + 3)
			t.Errorf("the lines are %g long, want 20", length)
		}
		if want := (geom.Box3{Min: v(4, 4, 0), Max: v(6, 7, 10)}); f.Spots[0].Box != want {
			t.Errorf("box %v, want %v", f.Spots[0].Box, want)
		}
	})
	t.Run("two boxes face to face", func(t *testing.T) {
		f := find(t, mesh.Join(b, sample.Box(v(10, 2, 2), v(15, 8, 8))))
		if f.Through != 0 || f.Over == 0 {
			t.Errorf("%+v", f)
		}
	})
	t.Run("two far apart", func(t *testing.T) {
		pin := func(x float64) *mesh.Mesh { return sample.Box(v(x, 4, 9), v(x+1, 5, 20)) }
		m := mesh.Join(b, pin(1), b.Map(func(p geom.Vec3) geom.Vec3 { return p.Add(v(50, 0, 0)) }), pin(52), pin(57))
		f := find(t, m)
		if len(f.Spots) != 2 || f.Spots[0].Box.Min.X < 50 || f.Spots[1].Box.Max.X > 3 || f.Spots[0].Pairs <= f.Spots[1].Pairs {
			t.Errorf("%+v", f.Spots)
		}
		for _, s := range f.Spots {
			if s.At.Z != 10 {
				t.Errorf("at %v, the pins go in at z = 10", s.At)
			}
		}
	})
	t.Run("a vertex pulled through", func(t *testing.T) {
		m := sample.Torus(10, 3, 40, 30)
		p := &mesh.Mesh{Vertices: append([]geom.Vec3{}, m.Vertices...), Triangles: m.Triangles}
		p.Vertices[0] = v(10, 0, -4) // from the outer waist down through the floor of the tube
		f := find(t, p)
		if f.Through == 0 || len(f.Spots) != 1 || f.Spots[0].Box.Size().Len() > 3 {
			t.Errorf("%+v", f.Spots)
		}
	})
	t.Run("a triangle folded back", func(t *testing.T) {
		m := two(v(0, 0, 0), v(4, 0, 0), v(0, 4, 0), v(0, 4, 0), v(4, 0, 0), v(1, 1, 0))
		if f := find(t, m); f.Over != 1 {
			t.Errorf("%+v", f)
		}
	})
}

// slab is a box whose faces are grids of unit squares, so that edges lie in the planes of whole numbers.
func slab(lo, hi geom.Vec3) *mesh.Mesh {
	b := mesh.NewBuilder(0)
	square := func(o, u, w geom.Vec3) {
		x := [4]int32{b.Vertex(o), b.Vertex(o.Add(u)), b.Vertex(o.Add(u).Add(w)), b.Vertex(o.Add(w))}
		b.Triangle(x[0], x[1], x[2])
		b.Triangle(x[0], x[2], x[3])
	}
	x, y, z := v(1, 0, 0), v(0, 1, 0), v(0, 0, 1)
	for i := lo.X; i < hi.X; i++ {
		for j := lo.Y; j < hi.Y; j++ {
			square(v(i, j, lo.Z), y, x)
			square(v(i, j, hi.Z), x, y)
		}
		for k := lo.Z; k < hi.Z; k++ {
			square(v(i, lo.Y, k), x, z)
			square(v(i, hi.Y, k), z, x)
		}
	}
	for j := lo.Y; j < hi.Y; j++ {
		for k := lo.Z; k < hi.Z; k++ {
			square(v(lo.X, j, k), z, y)
			square(v(hi.X, j, k), y, z)
		}
	}
	m, _ := b.Mesh()
	return m
}

// lines is the length of the places at which a mesh passes through itself, each counted once.
func lines(f *Found) float64 {
	type key [2]geom.Vec3
	seen := map[key]bool{}
	sum := 0.0
	round := func(p geom.Vec3) geom.Vec3 {
		const k = 1 << 12
		return v(math.Round(p.X*k)+0, math.Round(p.Y*k)+0, math.Round(p.Z*k)+0)
	}
	for _, p := range f.List {
		a, b := round(p.P), round(p.Q)
		if a.X > b.X || a.X == b.X && (a.Y > b.Y || a.Y == b.Y && a.Z > b.Z) {
			a, b = b, a
		}
		if p.Kind == Through && !seen[key{a, b}] {
			seen[key{a, b}] = true
			sum += p.Q.Sub(p.P).Len()
		}
	}
	return sum
}

// Boxes on a grid pass through one another along edges; moved a little they do so in general position.
// Both ways the line is as long.
func TestThroughAlongEdges(t *testing.T) {
	a := slab(v(0, 0, 0), v(6, 6, 6))
	f := find(t, mesh.Join(a, slab(v(2, 2, 3), v(4, 5, 9)))) // comes out of the top: 2 × (2 + 3)
	if l := lines(f); math.Abs(l-10) > 1e-9 {
		t.Errorf("%g long, want 10", l)
	}
	if f := find(t, mesh.Join(a, slab(v(6, 2, 3), v(8, 5, 5)))); f.Through != 0 || f.Over == 0 {
		t.Errorf("side by side: %+v", f)
	}
	if f := find(t, mesh.Join(a, slab(v(6, 6, 2), v(8, 8, 4)))); f.Through != 0 || f.Touch == 0 {
		t.Errorf("edge on edge: %+v", f)
	}
	r := rand.New(rand.NewPCG(5, 5))
	some := 0
	for range 60 {
		in := func() (float64, float64) {
			for {
				// no face in the plane of a face
				lo, hi := float64(r.IntN(12)-3), float64(r.IntN(12)-3)
				if lo < hi && lo != 0 && lo != 6 && hi != 0 && hi != 6 {
					return lo, hi
				}
			}
		}
		var lo, hi geom.Vec3
		lo.X, hi.X = in()
		lo.Y, hi.Y = in()
		lo.Z, hi.Z = in()
		b := slab(lo, hi)
		want := lines(find(t, mesh.Join(a, b.Map(func(p geom.Vec3) geom.Vec3 { return p.Add(v(1e-3, 1.7e-3, 2.9e-3)) }))))
		got := lines(find(t, mesh.Join(a, b)))
		if math.Abs(got-want) > 0.1 {
			t.Fatalf("%v to %v: %g long, a little aside %g", lo, hi, got, want)
		}
		if want > 0 {
			some++
		}
	}
	if some < 15 {
		t.Errorf("only %d meet", some)
	}
}

// An edge of one on an edge of the other: through where the one's sides lie on two sides of the other's
// wedge, and a touch where they lie on one.
func TestEdgesOnEdges(t *testing.T) {
	// a ridge along X with flanks toward the directions of two angles
	ridge := func(b *mesh.Builder, along geom.Vec3, deg1, deg2 float64) {
		s1, c1 := math.Sincos(deg1 * math.Pi / 180)
		s2, c2 := math.Sincos(deg2 * math.Pi / 180)
		o, e := b.Vertex(along), b.Vertex(along.Add(v(4, 0, 0)))
		b.Triangle(o, e, b.Vertex(along.Add(v(2, 3*c1, 3*s1))))
		b.Triangle(e, o, b.Vertex(along.Add(v(2, 3*c2, 3*s2))))
	}
	for _, c := range []struct {
		a1, a2, b1, b2 float64
		want           Kind
	}{
		{10, 190, 60, 240, Through}, {10, 190, 60, 100, Touch}, {10, 190, 200, 300, Touch}, {10, 250, 30, 300, Through},
		{10, 250, 260, 300, Touch}, {10, 250, 30, 200, Touch}, {0, 180, 90, 270, Through}, {0, 180, 30, 60, Touch}, {250, 10, 300, 30, Through},
	} {
		b := mesh.NewBuilder(4)
		ridge(b, v(0, 0, 0), c.a1, c.a2)
		ridge(b, v(1, 0, 0), c.b1, c.b2)
		m, _ := b.Mesh()
		f := find(t, m)
		if (f.Through > 0) != (c.want == Through) || f.Pairs == 0 {
			t.Errorf("%+v: %+v", c, f)
		}
		for _, p := range f.List {
			if p.Kind == Through && (p.P != v(1, 0, 0) || p.Q != v(4, 0, 0)) && (p.Q != v(1, 0, 0) || p.P != v(4, 0, 0)) {
				t.Errorf("%+v: from %v to %v", c, p.P, p.Q)
			}
		}
	}
}

// What is found does not hang on place, direction, handedness or labels.
func TestSymmetries(t *testing.T) {
	m := mesh.Join(sample.Torus(8, 3, 16, 12), sample.Box(v(4, -1, -1), v(13, 2, 1)))
	want := find(t, m)
	if want.Through == 0 {
		t.Fatal("nothing goes through")
	}
	r := rand.New(rand.NewPCG(4, 4))
	perm, order := r.Perm(len(m.Vertices)), r.Perm(len(m.Triangles))
	q := &mesh.Mesh{Vertices: make([]geom.Vec3, len(m.Vertices))}
	for i, k := range perm {
		q.Vertices[k] = m.Vertices[i]
	}
	for _, i := range order {
		x := m.Triangles[i]
		s := r.IntN(3)
		q.Triangles = append(q.Triangles, [3]int32{int32(perm[x[s]]), int32(perm[x[(s+1)%3]]), int32(perm[x[(s+2)%3]])})
	}
	for name, n := range map[string]*mesh.Mesh{
		"relabelled":   q,
		"quarter turn": m.Map(func(p geom.Vec3) geom.Vec3 { return v(-p.Y, p.X, p.Z) }),
		"other axes":   m.Map(func(p geom.Vec3) geom.Vec3 { return v(p.Y, p.Z, p.X) }),
		"mirrored":     m.Map(func(p geom.Vec3) geom.Vec3 { return v(p.X, p.Y, -p.Z) }),
		"inside out":   sample.Inverted(m),
		"scaled":       m.Map(func(p geom.Vec3) geom.Vec3 { return p.Mul(0x1p-30) }),
	} {
		f := find(t, n)
		if f.Through != want.Through || f.Over != want.Over || f.Touch != want.Touch || len(f.Spots) != len(want.Spots) ||
			f.Spots[0].Pairs != want.Spots[0].Pairs {
			t.Errorf("%s: %d %d %d in %d, want %d %d %d in %d", name, f.Through, f.Over, f.Touch, len(f.Spots),
				want.Through, want.Over, want.Touch, len(want.Spots))
		}
	}
}

func TestSameOnOneProcessor(t *testing.T) {
	m := mesh.Join(sample.Torus(8, 3, 100, 60), sample.Torus(8, 3, 90, 70).Map(func(p geom.Vec3) geom.Vec3 { return p.Add(v(1, 0.5, 0.25)) }))
	many := find(t, m)
	full, err := Find(context.Background(), m, 100)
	if err != nil || !full.Full || full.Pairs < 100 {
		t.Fatal(full, err)
	}
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	if one := find(t, m); !reflect.DeepEqual(one, many) || one.Through == 0 {
		t.Error("one and many processors differ")
	}
	if again, _ := Find(context.Background(), m, 100); !reflect.DeepEqual(again, full) {
		t.Error("where the search breaks off differs")
	}
}

// Where nearly everything meets, every pair is found once, up to where the search is broken off.
func TestDense(t *testing.T) {
	r := rand.New(rand.NewPCG(6, 6))
	m := &mesh.Mesh{}
	for i := range int32(700) {
		for range 3 {
			m.Vertices = append(m.Vertices, v(r.Float64(), r.Float64(), r.Float64()))
		}
		m.Triangles = append(m.Triangles, [3]int32{3 * i, 3*i + 1, 3*i + 2})
	}
	n := 0
	for a := range int32(700) {
		for b := range a {
			p, q, shared := align(m, b, a)
			if meet(&p, &q, shared) != 0 {
				n++
			}
		}
	}
	f := find(t, m)
	if f.Pairs != n || f.Full || n < 2*shareBlock {
		t.Errorf("%d pairs, want %d; full %v", f.Pairs, n, f.Full)
	}
	for i := range f.List[1:] {
		if a, b := f.List[i], f.List[i+1]; a.A > b.A || a.A == b.A && a.B >= b.B {
			t.Fatalf("%v before %v", a, b)
		}
	}
	for _, most := range []int{1, 100, shareBlock, shareBlock + 1, n - 1, n} {
		g, err := Find(context.Background(), m, most)
		if err != nil || g.Full != (most < n) || g.Full && (g.Pairs <= most || g.Pairs > most+2*shareBlock) {
			t.Errorf("broken off after %d: %d pairs, full %v, %v", most, g.Pairs, g.Full, err)
		}
	}
}

func TestNothing(t *testing.T) {
	if f := find(t, &mesh.Mesh{}); f.Pairs != 0 || f.Skipped != 0 {
		t.Errorf("%+v", f)
	}
	p := v(3, 3, 3)
	if f := find(t, &mesh.Mesh{Vertices: []geom.Vec3{p, p, p}, Triangles: [][3]int32{{0, 1, 2}, {0, 1, 2}, {0, 0, 0}}}); f.Skipped != 3 || f.Pairs != 0 {
		t.Errorf("%+v", f)
	}
}

// A search with no end in sight stops when asked.
func TestStops(t *testing.T) {
	m := &mesh.Mesh{}
	for i := range 30_000 { // all boxes meet, no triangle does
		z := float64(i) * 1e-6
		m.Vertices = append(m.Vertices, v(0, 0, z), v(1, 0, 1+z), v(0, 1, 2+z))
		n := int32(3 * i)
		m.Triangles = append(m.Triangles, [3]int32{n, n + 1, n + 2})
	}
	ctx, cancel := context.WithTimeout(context.Background(), 50*time.Millisecond)
	defer cancel()
	start := time.Now()
	if _, err := Find(ctx, m, 0); !errors.Is(err, context.DeadlineExceeded) {
		t.Error(err)
	}
	if d := time.Since(start); d > 2*time.Second {
		t.Errorf("stopped after %v", d)
	}
}

func BenchmarkFind(b *testing.B) {
	m := sample.Torus(50, 20, 500, 200) // 200 000 triangles
	for b.Loop() {
		if find(b, m).Pairs != 0 {
			b.Fatal("a torus meets itself")
		}
	}
	b.ReportMetric(float64(b.N)*float64(len(m.Triangles))/b.Elapsed().Seconds()/1e6, "Mtri/s")
}
