package mesh_test

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"barwise/finding"
	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/sample"
)

func TestWeldIsExact(t *testing.T) {
	b := mesh.NewBuilder(0)
	next := math.Nextafter(1, 2)
	zero := math.Copysign(0, -1)
	i := b.Vertex(v(1, 0, 2))
	if b.Vertex(v(1, zero, 2)) != i {
		t.Error("−0 and 0 are two places")
	}
	if b.Vertex(v(next, 0, 2)) == i {
		t.Error("places one bit apart are one")
	}
	if b.Vertex(v(0, 1, 2)) == i || b.Vertex(v(2, 0, 1)) == i {
		t.Error("exchanged coordinates are one place")
	}
}

// A map is the slow twin.
func TestWeldAgainstAMap(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	b := mesh.NewBuilder(0)
	seen := map[geom.Vec3]int32{}
	for range 100_000 {
		p := v(float64(r.IntN(30)), float64(r.IntN(30))/3, -float64(r.IntN(30))*0.1)
		k := b.Vertex(p)
		p = v(p.X+0, p.Y+0, p.Z+0)
		want, ok := seen[p]
		if !ok {
			want = int32(len(seen))
			seen[p] = want
		}
		if k != want {
			t.Fatalf("%v is %d, want %d", p, k, want)
		}
	}
}

func TestWeldDropsCollapsedAndUnused(t *testing.T) {
	soup := &mesh.Mesh{}
	c := sample.Box(v(0, 0, 0), v(1, 1, 1))
	soup.Vertices = append(soup.Vertices, v(50, 50, 50)) // not used
	for i := range c.Triangles {
		p, q, r := c.Corners(i)
		n := int32(len(soup.Vertices))
		soup.Vertices = append(soup.Vertices, p, q, r)
		soup.Triangles = append(soup.Triangles, [3]int32{n, n + 1, n + 2})
	}
	n := int32(len(soup.Vertices))
	soup.Vertices = append(soup.Vertices, v(0, 0, 0), v(0, 0, 0), v(1, 0, 0))
	soup.Triangles = append(soup.Triangles, [3]int32{n, n + 1, n + 2})
	m, collapsed := soup.Weld()
	if collapsed != 1 || len(m.Triangles) != 12 || len(m.Vertices) != 8 {
		t.Errorf("%d collapsed, %d triangles, %d vertices", collapsed, len(m.Triangles), len(m.Vertices))
	}
	if h := m.Health(); !h.Closed || h.Volume != 1 {
		t.Errorf("%+v", h)
	}
	b := mesh.NewBuilder(1)
	b.Vertex(v(9, 9, 9))
	i, j, k := b.Vertex(v(0, 0, 0)), b.Vertex(v(1, 0, 0)), b.Vertex(v(0, 1, 0))
	b.Triangle(i, j, k)
	if m, _ := b.Mesh(); len(m.Vertices) != 3 || m.Vertices[m.Triangles[0][1]] != v(1, 0, 0) {
		t.Errorf("%+v", m)
	}
}

// The pieces of a polygon have its area, none turned over, and use each of its edges once.
func TestSplit(t *testing.T) {
	for name, pts := range map[string][][2]float64{
		"square":  {{0, 0}, {1, 0}, {1, 1}, {0, 1}},
		"arrow":   {{0, 0}, {2, 1}, {0, 2}, {0.8, 1}},
		"comb":    {{0, 0}, {7, 0}, {7, 3}, {6, 3}, {6, 1}, {5, 1}, {5, 3}, {4, 3}, {4, 1}, {3, 1}, {3, 3}, {2, 3}, {2, 1}, {1, 1}, {1, 3}, {0, 3}},
		"spiral":  {{0, 0}, {5, 0}, {5, 5}, {1, 5}, {1, 2}, {3, 2}, {3, 3}, {2, 3}, {2, 4}, {4, 4}, {4, 1}, {0, 1}},
		"in line": {{0, 0}, {1, 0}, {2, 0}, {2, 2}, {1, 2}, {0, 2}, {0, 1}},
	} {
		var vs []geom.Vec3
		var corners []int32
		area := 0.0
		for i, p := range pts {
			q := pts[(i+1)%len(pts)]
			area += (p[0]*q[1] - p[1]*q[0]) / 2
			// on a tilted plane: (x, y) → (x, y·0.6, y·0.8)
			vs = append(vs, v(p[0], p[1]*0.6, p[1]*0.8))
			corners = append(corners, int32(i))
		}
		sum, edges := 0.0, map[[2]int32]int{}
		mesh.Split(vs, corners, func(a, b, c int32) {
			n := vs[b].Sub(vs[a]).Cross(vs[c].Sub(vs[a]))
			w := n.Dot(v(0, -0.8, 0.6)) / 2
			if w < -1e-12 {
				t.Errorf("%s: a piece is turned over", name)
			}
			sum += w
			edges[[2]int32{a, b}]++
			edges[[2]int32{b, c}]++
			edges[[2]int32{c, a}]++
		})
		near(t, name+" area", sum, area, 1e-12)
		for i := range pts {
			if edges[[2]int32{int32(i), int32((i + 1) % len(pts))}] != 1 {
				t.Errorf("%s: edge %d is used %d times", name, i, edges[[2]int32{int32(i), int32((i + 1) % len(pts))}])
			}
		}
	}
}

// Any polygon, also one that crosses itself or repeats corners, leaves its outline as the boundary.
func TestSplitOfAnything(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 3))
	for range 3000 {
		n := 3 + r.IntN(9)
		vs, corners := make([]geom.Vec3, n), make([]int32, n)
		for i := range vs {
			vs[i] = v(float64(r.IntN(4)), float64(r.IntN(4)), float64(r.IntN(2)))
			corners[i] = int32(i)
		}
		balance := map[[2]int32]int{}
		count := 0
		mesh.Split(vs, corners, func(a, b, c int32) {
			count++
			for _, e := range [][2]int32{{a, b}, {b, c}, {c, a}} {
				balance[e]++
				balance[[2]int32{e[1], e[0]}]--
			}
		})
		if count != n-2 {
			t.Fatalf("%d pieces of %d corners", count, n)
		}
		for i := range n {
			balance[[2]int32{int32(i), int32((i + 1) % n)}]--
			balance[[2]int32{int32((i + 1) % n), int32(i)}]++
		}
		for e, k := range balance {
			if k != 0 {
				t.Fatalf("%v: edge %v is left %d", vs, e, k)
			}
		}
	}
}

func TestLimits(t *testing.T) {
	l := mesh.Limits{}.Or()
	if l.Triangles != mesh.DefaultTriangles || l.Bytes != mesh.DefaultBytes {
		t.Errorf("%+v", l)
	}
	if err := l.CheckTriangles(l.Triangles, ""); err != nil {
		t.Error(err)
	}
	err := mesh.Limits{Triangles: 10}.CheckTriangles(2_000_000, "byte 80")
	if !finding.IsInput(err) || !strings.Contains(err.Error(), "0.28 GiB") || !strings.Contains(err.Error(), "at most 10") {
		t.Error(err)
	}
	where := func() string { return "here" }
	for _, bad := range []geom.Vec3{v(math.NaN(), 0, 0), v(0, math.Inf(-1), 0), v(0, 0, 1e30), v(0, -1.1e9, 0)} {
		if err := mesh.CheckVertex(bad, where); !finding.IsInput(err) || !strings.HasPrefix(err.Error(), "here: ") {
			t.Errorf("%v: %v", bad, err)
		}
	}
	if err := mesh.CheckVertex(v(1e9, -1e9, 0), where); err != nil {
		t.Error(err)
	}
}

func BenchmarkSplitComb(b *testing.B) {
	var vs []geom.Vec3
	var c []int32
	add := func(x, y float64) {
		c = append(c, int32(len(vs)))
		vs = append(vs, v(x, y, 0))
	}
	add(-1, -1)
	add(1000, -1)
	for i := 499; i >= 0; i-- {
		add(float64(2*i)+1.5, 0)
		add(float64(2*i)+1, 5)
		add(float64(2*i), 5)
	}
	for b.Loop() {
		mesh.Split(vs, c, func(a, b, c int32) {})
	}
}
