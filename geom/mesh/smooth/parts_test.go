package smooth

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/sample"
)

// The weights are exact on a sphere: N. Max 1999, cited in corners. Settling keeps them so.
func TestNormalsOfASphere(t *testing.T) {
	m := scaled(scattered(800, 7), 20, 20, 20)
	g, err := Look(context.Background(), m, nil, 40)
	if err != nil {
		t.Fatal(err)
	}
	s := g.corners()
	for h, i := range s.of {
		a, _ := g.E.Ends(int32(h))
		if d := s.normal[i].Sub(m.Vertices[a].Unit()).Len(); d > 1e-9 {
			t.Fatalf("normal at %v is %v, off by %g", m.Vertices[a], s.normal[i], d)
		}
	}
}

// A cylinder's normals are radial on its wall and along the axis on its ends, also where the wall is cut
// one-sidedly at its rims.
func TestNormalsOfACylinder(t *testing.T) {
	m := cylinder(10, 30, 40)
	g, err := Look(context.Background(), m, nil, 40)
	if err != nil {
		t.Fatal(err)
	}
	s := g.corners()
	for h, i := range s.of {
		a, _ := g.E.Ends(int32(h))
		p := m.Vertices[a]
		want := v(p.X, p.Y, 0).Unit()
		if h/3 >= 80 {
			want = v(0, 0, math.Copysign(1, p.Z-15))
		}
		if d := s.normal[i].Sub(want).Len(); d > 1e-9 {
			t.Fatalf("normal at %v is %v, want %v", p, s.normal[i], want)
		}
	}
}

// cuts makes the cutting of a triangle of that shape.
func cuts(s shape, corners [3]geom.Vec3) (*cutting, []geom.Vec3) {
	var p []geom.Vec3
	p = append(p, corners[:]...)
	for k := range 3 {
		for i := int32(1); i < s.edge[k]; i++ {
			p = append(p, corners[k].Lerp(corners[(k+1)%3], float64(i)/float64(s.edge[k])))
		}
	}
	table := newGridTable(s.n)
	for _, at := range table.at {
		p = append(p, corners[0].Mul(1-at[0]-at[1]).Add(corners[1].Mul(at[0])).Add(corners[2].Mul(at[1])))
	}
	if s.even() {
		return &table.grid.cutting, p
	}
	c := &cutter{}
	c.reset(s, corners[1].Sub(corners[0]).Cross(corners[2].Sub(corners[0])).Unit())
	c.p = p
	switch s.n {
	case 0:
		c.ladder()
	case 1:
		c.star()
	default:
		c.within(table.grid)
	}
	return &c.cutting, p
}

// Every way to cut a triangle covers it once, with no facet over, and pairs and rims are those that a search
// over all edges finds.
func TestCuttings(t *testing.T) {
	corners := [3]geom.Vec3{v(0, 0, 0), v(5, 1, 0), v(2, 4, 0)}
	seen := map[shape]bool{}
	try := func(n int32, e [3]int32) {
		s := shapeOf(n, e)
		if seen[s] {
			return
		}
		seen[s] = true
		c, p := cuts(s, corners)
		if int64(len(c.triangles)) != s.size() || int32(len(p)) != s.border()+s.inside() {
			t.Fatalf("%v: %d triangles, want %d; %d points", s, len(c.triangles), s.size(), len(p))
		}
		area := 0.0
		by := map[[2]int32]int32{}
		for i, f := range c.triangles {
			x := p[f[1]].Sub(p[f[0]]).Cross(p[f[2]].Sub(p[f[0]])).Z / 2
			if x <= 0 {
				t.Fatalf("%v: triangle %v has the area %g", s, f, x)
			}
			area += x
			for k := range 3 {
				by[[2]int32{f[k], f[(k+1)%3]}] = int32(i)
			}
		}
		if math.Abs(area-9) > 1e-9 { // (5·4 − 2·1)/2
			t.Fatalf("%v: area %g, want 9", s, area)
		}
		want, rims := map[[2]int32]bool{}, 0
		for e, i := range by {
			if o, ok := by[[2]int32{e[1], e[0]}]; ok {
				want[[2]int32{min(i, o), max(i, o)}] = true
			} else {
				rims++
			}
		}
		for _, q := range c.pairs {
			key := [2]int32{min(q[0], q[1]), max(q[0], q[1])}
			if !want[key] {
				t.Fatalf("%v: %v is paired, or twice", s, q)
			}
			delete(want, key)
		}
		if len(want) > 0 || int32(rims) != s.border() {
			t.Fatalf("%v: pairs %v are missing; %d pieces on the edges", s, want, rims)
		}
		for k := range 3 {
			for i := range s.edge[k] {
				if got, want := c.rim[k][i], by[[2]int32{s.onEdge(k, i), s.onEdge(k, i+1)}]; got != want {
					t.Fatalf("%v: piece %d of edge %d has triangle %d, want %d", s, i, k, got, want)
				}
			}
		}
	}
	for _, top := range []int32{1, 7, 8, 12, 30} {
		c := chain(top)
		for i, n := range c {
			for _, a := range c[:i+1] {
				for _, b := range c[:i+1] {
					for _, d := range c[:i+1] {
						try(n, [3]int32{a, b, d})
					}
					try(n, [3]int32{1, a, b})
					try(n, [3]int32{a, 1, b})
					try(n, [3]int32{a, b, 1})
				}
				try(n, [3]int32{1, 1, a})
				try(n, [3]int32{1, a, 1})
				try(n, [3]int32{a, 1, 1})
			}
		}
	}
}

// The heights that a triangle's edges speak for give its chord error: against a search over the triangle.
func TestSagitta(t *testing.T) {
	for _, q := range [][3]float64{{1, 1, 1}, {1, 1, 0}, {1, 0.2, 0.3}, {-1, -2, -1.5}, {1, -1, 0.5}, {0, 0, 0}, {2, 1, 1}, {3, 1, 1}} {
		want := 0.0
		const n = 400
		for i := range n + 1 {
			for j := range n + 1 - i {
				u, v := float64(i)/n, float64(j)/n
				w := 1 - u - v
				// edge 0 runs from corner 0 to corner 1
				want = max(want, math.Abs(u*v*q[0]+v*w*q[1]+w*u*q[2])/2)
			}
		}
		if got := sagitta(q[0], q[1], q[2]); got < want-1e-12 || got > want*(1+1e-3) {
			t.Errorf("%v: %g, want %g", q, got, want)
		}
	}
}

// Triangles of no order: how the estimated chord error compares with the distance from the true surface. The
// bounds are those stated at Gauge.
func TestChordWithoutOrder(t *testing.T) {
	for _, c := range []struct {
		name              string
		m                 *mesh.Mesh
		off               func(geom.Vec3) float64
		least, most, mean float64
	}{
		{"sphere", scaled(scattered(1500, 1), 20, 20, 20), offSphere(20), 0.7, 1.4, 0.005},
		{"ellipsoid", scaled(scattered(1500, 1), 10, 15, 20), offEllipsoid(10, 15, 20), 0, 15, 0.06},
	} {
		g, err := Look(context.Background(), c.m, nil, 40)
		if err != nil {
			t.Fatal(err)
		}
		var got, want float64
		for i, e := range g.Chord {
			one := refined(c.m, i)
			x := furthest(one, c.off)
			if q := float64(e) / x; q < c.least || q > c.most {
				t.Errorf("%s: triangle %d is estimated %.3g off, and is %.3g", c.name, i, e, x)
			}
			got, want = got+float64(e), want+x
		}
		if math.Abs(got/want-1) > c.mean {
			t.Errorf("%s: the mean is %.4f of the truth", c.name, got/want)
		}
	}
}

// refined is triangle i of m in flat pieces, to be searched.
func refined(m *mesh.Mesh, i int) *mesh.Mesh {
	a, b, c := m.Corners(i)
	cut, p := cuts(shape{8, [3]int32{8, 8, 8}}, [3]geom.Vec3{a, b, c})
	return &mesh.Mesh{Vertices: p, Triangles: cut.triangles}
}

// No curve rises higher than the kinks speak for, noise or not.
func TestCap(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 4))
	m := sample.Icosphere(20, 3)
	for i, p := range m.Vertices {
		m.Vertices[i] = p.Mul(1 + 0.02*(r.Float64()-0.5))
	}
	g, err := Look(context.Background(), m, nil, 60)
	if err != nil {
		t.Fatal(err)
	}
	s, err := g.raise(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	for i := range s.curves {
		if c := &s.curves[i]; !g.Crease[c.h] && c.rise > 3*s.speaks(c.h)*(1+1e-6) {
			t.Fatalf("a curve rises by %g, the kinks speak for %g", c.rise, s.speaks(c.h))
		}
	}
	if s.capped == 0 {
		t.Error("nothing was held back")
	}
}

// A flat's reach against its closed form: walking stops where the plane ends, not at the far side of a hole.
func TestReach(t *testing.T) {
	m, _ := roundedDisc(8, 96)
	g, err := Look(context.Background(), m, nil, 40)
	if err != nil {
		t.Fatal(err)
	}
	flats, walls := 0, 0
	for h := range int32(len(g.E.Mate)) {
		a, b := g.E.Ends(h)
		p, q := m.Vertices[a], m.Vertices[b]
		if !g.join[h] {
			continue
		}
		switch n := g.Normal[h/3]; {
		case math.Abs(n.Z) > 0.999: // right across the disc of radius 18
			flats++
			if r := g.reach(h); math.Abs(r-36*math.Cos(math.Pi/96)) > 0.02 {
				t.Fatalf("the disc reaches %g", r)
			}
		case p.Z == q.Z: // from the end of one fillet to that of the other
			walls++
			if r := g.reach(h); math.Abs(r-6) > 1e-9 {
				t.Fatalf("the wall reaches %g", r)
			}
		default:
			t.Fatalf("a flat ends between %v and %v", p, q)
		}
	}
	if flats != 192 || walls != 192 {
		t.Errorf("%d and %d flat edges, want 192 each", flats, walls)
	}
	// a torus of an even number of steps has a ring of quads in one plane: narrow, for all its size
	ring := sample.Torus(15, 5, 36, 18)
	g, _ = Look(context.Background(), ring, nil, 40)
	for h, j := range g.join {
		if j {
			t.Fatalf("half-edge %d of a torus ends a flat", h)
		}
	}
}
