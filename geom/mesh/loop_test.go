package mesh_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/sample"
)

// tube is a strip of wall under a closed line, down to the same line k lower along −normal: its upper
// boundary is the line.
func tube(line []geom.Vec3, down geom.Vec3) *mesh.Mesh {
	m := &mesh.Mesh{Vertices: slices.Clone(line)}
	n := int32(len(line))
	for _, p := range line {
		m.Vertices = append(m.Vertices, p.Add(down))
	}
	for i := range n {
		j := (i + 1) % n
		m.Triangles = append(m.Triangles, [3]int32{n + i, n + j, i}, [3]int32{j, i, n + j})
	}
	return m
}

func ring(n int, f func(c, s float64) geom.Vec3) []geom.Vec3 {
	var out []geom.Vec3
	for i := range n {
		s, c := math.Sincos(2 * math.Pi * float64(i) / float64(n))
		out = append(out, f(c, s))
	}
	return out
}

// Closed forms: a regular polygon of n = 2k corners on a circle of radius r is 2r·cos(π/n) across its
// flats, 2nr·sin(π/n) round and n/2·r²·sin(2π/n) in area; the width of a triangle is its least height.
func TestLoopMeasures(t *testing.T) {
	turned := func(p geom.Vec3) geom.Vec3 { // about X by the 3-4-5 triangle, then moved
		return v(p.X+100, float64(p.Y*0.8)-float64(p.Z*0.6)-40, float64(p.Y*0.6)+float64(p.Z*0.8)+7)
	}
	up := v(0, -0.6, 0.8)
	const n = 24
	pi := math.Pi / n
	for _, c := range []struct {
		name                              string
		line                              []geom.Vec3
		length, area, across, along, flat float64
	}{
		{"round", ring(n, func(c, s float64) geom.Vec3 { return v(3*c, 3*s, 0) }),
			2 * n * 3 * math.Sin(pi), n / 2 * 9 * math.Sin(2*pi), 6 * math.Cos(pi), 6 * math.Cos(pi), 0},
		{"window", []geom.Vec3{v(0, 0, 0), v(10, 0, 0), v(10, 6, 0), v(0, 6, 0)}, 32, 60, 6, 10, 0},
		{"window in another order", []geom.Vec3{v(10, 6, 0), v(0, 6, 0), v(0, 3, 0), v(0, 0, 0), v(10, 0, 0)}, 32, 60, 6, 10, 0},
		{"triangle", []geom.Vec3{v(0, 0, 0), v(4, 0, 0), v(0, 3, 0)}, 12, 6, 2.4, 5, 0},
		{"slot", []geom.Vec3{v(0, 0, 0), v(50, 0, 0), v(50, 0.25, 0), v(0, 0.25, 0)}, 100.5, 12.5, 0.25, 50, 0},
		{"L", []geom.Vec3{v(0, 0, 0), v(8, 0, 0), v(8, 2, 0), v(2, 2, 0), v(2, 8, 0), v(0, 8, 0)}, 32, 28, 0, 0, 0},
		// seen from above a square of 2; of its four corners two lie 0.5 above and two below
		{"saddle", []geom.Vec3{v(1, 1, 0.5), v(-1, 1, -0.5), v(-1, -1, 0.5), v(1, -1, -0.5)}, 4 * math.Sqrt(5), 4, 2, 2, 0.5},
	} {
		if c.name == "L" { // its narrowest strip lies across the corner: from (0, 0) to the line x + y = 10
			c.across, c.along = 10/math.Sqrt2, 8*math.Sqrt2
		}
		var line []geom.Vec3
		for _, p := range c.line {
			line = append(line, turned(p))
		}
		h := tube(line, up.Mul(-2)).Health()
		var l *mesh.Loop
		for i := range h.Loops {
			if slices.Contains(h.Loops[i].Path, 0) {
				l = &h.Loops[i]
			}
		}
		if len(h.Loops) != 2 || l == nil || len(l.Path) != len(line) || l.Edges != len(line) || l.Shell != 0 {
			t.Fatalf("%s: %+v", c.name, h.Loops)
		}
		near(t, c.name+" length", l.Length, c.length, 1e-9)
		near(t, c.name+" area", l.Area, c.area, 1e-9)
		near(t, c.name+" across", l.Across, c.across, 1e-9)
		near(t, c.name+" along", l.Along, c.along, 1e-9)
		near(t, c.name+" flat", l.Flat, c.flat, 1e-9)
		near(t, c.name+" normal", l.Normal.Sub(up).Len(), 0, 1e-9)
		outline := c.area
		if c.name == "L" { // the square of 8 without a corner of 6 × 6 / 2
			outline = 46
		}
		near(t, c.name+" outline", l.Outline, outline, 1e-9)
		k := 25.4
		h.Scale(k)
		near(t, c.name+" scaled", l.Across+l.Along+l.Flat+l.Length, (c.across+c.along+c.flat+c.length)*k, 1e-8)
		near(t, c.name+" scaled area", l.Area, c.area*k*k, 1e-7)
	}
}

// A loop's path closes the hole: with a face on it every solid is closed and as large as before.
func TestLoopPathClosesTheHole(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 8))
	for _, m := range []*mesh.Mesh{sample.Torus(10, 3, 40, 24), sample.Box(v(0, 0, 0), v(1, 2, 3)), sample.Inverted(sample.Torus(8, 2, 12, 9))} {
		want := m.Health()
		for range 20 {
			open := without(m, r.IntN(len(m.Triangles)), r.IntN(len(m.Triangles)))
			for _, l := range open.Health().Loops {
				mesh.Split(open.Vertices, l.Path, func(a, b, c int32) { open.Triangles = append(open.Triangles, [3]int32{a, b, c}) })
			}
			h := open.Health()
			if !h.Closed || h.Flipped != 0 || math.Signbit(h.Volume) != math.Signbit(want.Volume) {
				t.Fatalf("closed %v, %d flipped, volume %g of %g", h.Closed, h.Flipped, h.Volume, want.Volume)
			}
		}
	}
}

// Turns and shifts leave what is measured in the plane alone.
func TestLoopDoesNotDependOnPlace(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 9))
	for range 100 {
		line := ring(5+r.IntN(20), func(c, s float64) geom.Vec3 {
			k := 3 + r.Float64()
			return v(2*k*c, k*s, 0.2*r.Float64())
		})
		m := tube(line, v(0, 0, -9))
		a := m.Health().Loops
		b := m.Map(func(p geom.Vec3) geom.Vec3 { return v(p.Z+33, p.X-200, p.Y+5) }).Health().Loops
		for i := range a {
			near(t, "across", b[i].Across, a[i].Across, 1e-9)
			near(t, "along", b[i].Along, a[i].Along, 1e-9)
			near(t, "flat", b[i].Flat, a[i].Flat, 1e-9)
			near(t, "area", b[i].Area, a[i].Area, 1e-9)
		}
		// the slow twin of the width: every direction a thousandth of half a turn apart
		l := a[0]
		u := v(0, 0, 1).Cross(l.Normal)
		if u.Len() < 1e-6 {
			u = v(1, 0, 0)
		}
		u = u.Unit()
		w := l.Normal.Cross(u)
		least := math.Inf(1)
		for k := range 1000 {
			s, c := math.Sincos(math.Pi * float64(k) / 1000)
			lo, hi := math.Inf(1), math.Inf(-1)
			for _, p := range l.Path {
				x := m.Vertices[p].Dot(u.Mul(c).Add(w.Mul(s)))
				lo, hi = min(lo, x), max(hi, x)
			}
			least = min(least, hi-lo)
		}
		if l.Across > least+1e-9 || l.Across < least*0.995 {
			t.Fatalf("across %g, by all directions %g", l.Across, least)
		}
	}
}

// A seam that is open but has no width.
func TestLoopWithoutWidth(t *testing.T) {
	m := &mesh.Mesh{Vertices: []geom.Vec3{v(0, 0, 0), v(1, 0, 0), v(2, 0, 0), v(1, 0, 0)}, Triangles: [][3]int32{{0, 1, 2}, {0, 2, 3}}}
	h := m.Health()
	if l := h.Loops[0]; l.Across != 0 || l.Flat != 0 || l.Area != 0 || l.Along != 2 || l.Normal.Len() != 1 {
		t.Errorf("%+v", l)
	}
}

func inside(h *mesh.Health) []int {
	var out []int
	for _, s := range h.Shells {
		out = append(out, s.Inside)
	}
	return out
}

func TestShellsInside(t *testing.T) {
	cube := func(lo, hi float64) *mesh.Mesh { return sample.Box(v(lo, lo, lo), v(hi, hi, hi)) }
	torusRound := sample.Torus(10, 3, 40, 24)
	opened := without(sample.Torus(10, 3, 40, 24), 0, 1, 2, 3)
	for _, c := range []struct {
		name string
		m    *mesh.Mesh
		want []int
	}{
		{"one in the other", mesh.Join(cube(4, 5), cube(0, 10)), []int{-1, 0}},
		{"four deep", mesh.Join(cube(2, 8), cube(4, 6), cube(0, 10), cube(3, 7)), []int{-1, 0, 1, 2}},
		{"a cavity", mesh.Join(cube(0, 10), sample.Inverted(cube(3, 7)), cube(4, 6)), []int{-1, 0, 1}},
		{"side by side", mesh.Join(cube(0, 10), cube(20, 22)), []int{-1, -1}},
		{"in the hole of a ring", mesh.Join(torusRound, cube(-1, 1)), []int{-1, -1}},
		{"in the ring", mesh.Join(torusRound, cube(-0.5, 0.5).Map(func(p geom.Vec3) geom.Vec3 { return p.Add(v(0, 10, 0)) })), []int{-1, 0}},
		{"halfway out", mesh.Join(cube(0, 10), cube(8, 12)), []int{-1, -1}},
		{"inside, flush with a face", mesh.Join(cube(0, 10), sample.Box(v(3, 3, 0), v(5, 5, 2))), []int{-1, 0}},
		{"outside, on a face", mesh.Join(cube(0, 10), sample.Box(v(3, 3, 10), v(5, 5, 12))), []int{-1, -1}},
		{"in a corner", mesh.Join(cube(0, 10), cube(0, 2)), []int{-1, 0}},
		{"in another corner", mesh.Join(cube(0, 10), sample.Box(v(8, 0, 0), v(10, 2, 2))), []int{-1, 0}},
		{"in a ring with a hole in its skin", mesh.Join(opened, cube(-0.5, 0.5).Map(func(p geom.Vec3) geom.Vec3 { return p.Add(v(0, 10, 0)) })), []int{-1, 0}},
		{"beside a ring with a hole in its skin", mesh.Join(opened, cube(-0.5, 0.5)), []int{-1, -1}},
	} {
		if got := inside(c.m.Health()); !slices.Equal(got, c.want) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}

// Balls in balls at random, on a grid so that rays run through vertices and along edges, against the
// winding number by solid angles.
func TestInsideAgainstSolidAngles(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 12))
	some := 0
	for range 60 {
		type ball struct{ x, y, z, r float64 }
		var balls []ball
		var parts []*mesh.Mesh
		for range 200 {
			b := ball{float64(r.IntN(33) - 16), float64(r.IntN(33) - 16), float64(r.IntN(33) - 16), float64(int(1) << r.IntN(5))}
			ok := true
			for _, o := range balls { // octahedra: the 1-norm is their distance
				d := math.Abs(b.x-o.x) + math.Abs(b.y-o.y) + math.Abs(b.z-o.z)
				ok = ok && (d > b.r+o.r || d < math.Abs(b.r-o.r))
			}
			if ok && len(balls) < 12 {
				balls = append(balls, b)
				o := octahedron().Map(func(p geom.Vec3) geom.Vec3 { return p.Mul(b.r).Add(v(b.x, b.y, b.z)) })
				if r.IntN(3) == 0 {
					o = sample.Inverted(o)
				}
				parts = append(parts, o)
			}
		}
		h := mesh.Join(parts...).Health()
		for i, s := range h.Shells {
			me := parts[s.First/8]
			want, size := -1, math.Inf(1)
			for j, o := range h.Shells {
				if b := parts[o.First/8]; i != j && math.Abs(b.Winding(me.Vertices[0])) > 0.5 && o.Box.Size().X < size {
					want, size = j, o.Box.Size().X
				}
			}
			if s.Inside != want {
				t.Fatalf("shell %d is inside %d, want %d", i, s.Inside, want)
			}
			if want >= 0 {
				some++
			}
		}
	}
	if some < 30 {
		t.Errorf("only %d shells lie inside others", some)
	}
}

func octahedron() *mesh.Mesh {
	return &mesh.Mesh{Vertices: []geom.Vec3{v(1, 0, 0), v(-1, 0, 0), v(0, 1, 0), v(0, -1, 0), v(0, 0, 1), v(0, 0, -1)},
		Triangles: [][3]int32{{0, 2, 4}, {2, 1, 4}, {1, 3, 4}, {3, 0, 4}, {2, 0, 5}, {1, 2, 5}, {3, 1, 5}, {0, 3, 5}}}
}

// More shells than are compared one by one.
func TestInsideOfMany(t *testing.T) {
	parts := []*mesh.Mesh{sample.Box(v(-1, -1, -1), v(31, 31, 31))}
	for i := range 2400 {
		p := v(float64(i%16)*2, float64(i/16%16)*2, float64(i/256)*4)
		parts = append(parts, octahedron().Map(func(q geom.Vec3) geom.Vec3 { return q.Mul(0.5).Add(p) }))
	}
	h := mesh.Join(parts...).Health()
	in := 0
	for _, s := range h.Shells {
		if s.Inside == 0 {
			in++
		} else if s.Inside != -1 {
			t.Fatalf("inside %d", s.Inside)
		}
	}
	if in != 256*8 { // layers z = 0, 4, … 28 of ten lie inside, the last one, 36, and 32 outside
		t.Errorf("%d inside, want %d", in, 256*8)
	}
}

// A shell's number is what its triangles carry.
func TestShellOf(t *testing.T) {
	m := mesh.Join(sample.Box(v(0, 0, 0), v(1, 1, 1)), sample.Torus(30, 5, 20, 10), sample.Box(v(5, 0, 0), v(9, 4, 4)))
	h := m.Health()
	n := make([]int, len(h.Shells))
	for _, s := range h.ShellOf {
		n[s]++
	}
	for i, s := range h.Shells {
		if n[i] != s.Triangles || h.ShellOf[s.First] != int32(i) {
			t.Errorf("shell %d: %d triangles carry its number, %d are its", i, n[i], s.Triangles)
		}
	}
}
