package mend

import (
	"cmp"
	"context"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/sample"
)

// A simple polygon is cut right where every triangle turns counter-clockwise and their edges are the
// polygon's and pairs of opposite ones: they then cover its inside once and nothing else.
func TestEarsCoverAPolygonOnce(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for n := 8; n < 120; n++ {
		var p []geom.Vec2
		switch n % 4 {
		case 0: // a star-shaped one, spiky
			for i := range n {
				s, c := math.Sincos(2 * math.Pi * (float64(i) + 0.8*r.Float64()) / float64(n))
				d := 1 + 9*r.Float64()
				p = append(p, geom.Vec2{X: d * c, Y: d * s})
			}
		case 1: // a comb
			for i := range n - 2 {
				p = append(p, geom.Vec2{X: float64(n - i), Y: 1 + float64(i%2)*10})
			}
			p = append(p, geom.Vec2{X: 2}, geom.Vec2{X: float64(n) + 1})
		case 2: // a spiral of two and a half turns
			k := n / 2
			for i := range n {
				at, d := float64(i)/float64(k), 0.0
				if i >= k {
					at, d = float64(n-1-i)/float64(n-k-1+btoi(n-k == 1)), 0.8
				}
				s, c := math.Sincos(5 * math.Pi * at)
				p = append(p, geom.Vec2{X: (1 + 5*at - d) * c, Y: (1 + 5*at - d) * s})
			}
			if n < 90 { // too coarse for its turns
				continue
			}
		default: // a strip with corners in one line
			for i := range n / 2 {
				p = append(p, geom.Vec2{X: float64(i)})
			}
			for i := range n - n/2 {
				p = append(p, geom.Vec2{X: float64(n/2-1) * (1 - float64(i)/float64(n-n/2-1+1)), Y: 1})
			}
		}
		ids := make([]int32, len(p))
		for i := range ids {
			ids[i] = int32(i)
		}
		tris, ok := ears(ids, p, goOn)
		if !ok || len(tris) != len(p)-2 {
			t.Fatalf("%d corners: %d triangles, %v", len(p), len(tris), ok)
		}
		once(t, p, tris)
		slices.Reverse(p)
		if _, ok := ears(ids, p, goOn); ok {
			t.Errorf("%d corners: a clockwise one was cut", n)
		}
	}
	if _, ok := ears([]int32{0, 1, 2, 3, 4}, []geom.Vec2{{X: 0, Y: 0}, {X: 4, Y: 0}, {X: 4, Y: 4}, {X: 2, Y: -2}, {X: 0, Y: 4}}, goOn); ok {
		t.Error("a polygon that crosses itself was cut")
	}
}

// Polygons grown at random, a corner at a time, are cut too.
func TestEarsOfGrownPolygons(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 7))
	for range 200 {
		p := []geom.Vec2{{X: 0, Y: 0}, {X: 1, Y: 0}, {X: 0, Y: 1}}
		for tries := 0; len(p) < 60 && tries < 2000; tries++ {
			at := 1 + r.IntN(len(p))
			q := slices.Insert(slices.Clone(p), at, geom.Vec2{X: 6*r.Float64() - 3, Y: 6*r.Float64() - 3})
			if !crosses(q) {
				p = q
			}
		}
		ids := make([]int32, len(p))
		for i := range ids {
			ids[i] = int32(i)
		}
		if shoelace(p) < 0 {
			slices.Reverse(p)
		}
		tris, ok := ears(ids, p, goOn)
		if !ok {
			t.Fatalf("%d corners not cut", len(p))
		}
		once(t, p, tris)
	}
}

func btoi(b bool) int {
	if b {
		return 1
	}
	return 0
}

func goOn() bool { return false }

func once(t *testing.T, p []geom.Vec2, tris [][3]int32) {
	t.Helper()
	edge := map[[2]int32]int{}
	for _, x := range tris {
		if p[x[1]].Sub(p[x[0]]).Cross(p[x[2]].Sub(p[x[0]])) <= 0 {
			t.Fatalf("%d corners: triangle %v turns the other way or is flat", len(p), x)
		}
		for c := range 3 {
			edge[[2]int32{x[c], x[(c+1)%3]}]++
			edge[[2]int32{x[(c+1)%3], x[c]}]--
		}
	}
	for k, n := range edge {
		next := (int(k[0])+1)%len(p) == int(k[1])
		last := (int(k[1])+1)%len(p) == int(k[0])
		if next && n != 1 || last && n != -1 || !next && !last && n != 0 {
			t.Fatalf("%d corners: edge %v counted %d times", len(p), k, n)
		}
	}
}

// The sweep finds a crossing where comparing every edge with every other does.
func TestCrossesAsByComparingAll(t *testing.T) {
	r := rand.New(rand.NewPCG(2, 3))
	found := 0
	for range 3000 {
		p := make([]geom.Vec2, 4+r.IntN(6))
		for i := range p {
			p[i] = geom.Vec2{X: float64(r.IntN(7)), Y: float64(r.IntN(7))}
		}
		slow := false
		for i := range p {
			for j := range p {
				a, b, c, d := p[i], p[(i+1)%len(p)], p[j], p[(j+1)%len(p)]
				side := func(a, b, c geom.Vec2) float64 { return b.Sub(a).Cross(c.Sub(a)) }
				slow = slow || side(a, b, c)*side(a, b, d) < 0 && side(c, d, a)*side(c, d, b) < 0
			}
		}
		if crosses(p) != slow {
			t.Fatalf("%v: %v by comparing all", p, slow)
		}
		if !slow {
			continue
		}
		found++
		ids := []int32{0, 1, 2, 3, 4, 5, 6, 7, 8, 9}
		if _, ok := ears(ids[:len(p)], p, goOn); ok {
			t.Fatalf("%v crosses itself and was cut", p)
		}
	}
	if found < 300 || found > 2900 {
		t.Errorf("%d of 3000 cross", found)
	}
}

// The least area is that found by trying every triangulation, edges that are taken left out.
func TestOptimalAsByTryingAll(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	none := 0
	for range 300 {
		n := 3 + r.IntN(6)
		w := &work{}
		path := make([]int32, n)
		for i := range path {
			path[i] = int32(i)
			w.v = append(w.v, v(r.Float64(), r.Float64(), r.Float64()))
		}
		bars := map[[2]int32]bool{}
		for range r.IntN(2 * n) {
			bars[edgeKey(int32(r.IntN(n)), int32(r.IntN(n)))] = true
		}
		taken := func(a, b int32) bool {
			return bars[edgeKey(a, b)] && (a+1)%int32(n) != b && (b+1)%int32(n) != a
		}
		var least func(i, k int32) float64
		least = func(i, k int32) float64 {
			if k-i < 2 {
				return 0
			}
			if taken(i, k) {
				return math.Inf(1)
			}
			best := math.Inf(1)
			for j := i + 1; j < k; j++ {
				best = min(best, least(i, j)+least(j, k)+w.area([3]int32{i, j, k}))
			}
			return best
		}
		want := least(0, int32(n-1))
		tris, ok := w.optimal(path, taken)
		if ok == math.IsInf(want, 1) {
			t.Fatalf("%d corners: %v, least area %g", n, ok, want)
		}
		if !ok {
			none++
			continue
		}
		got := 0.0
		for _, x := range tris {
			got += w.area(x)
		}
		if len(tris) != n-2 || math.Abs(got-want) > 1e-12 {
			t.Fatalf("%d corners: area %g with %d triangles, want %g", n, got, len(tris), want)
		}
	}
	if none == 0 || none > 200 {
		t.Errorf("%d of 300 cannot be closed", none)
	}
}

// The pairs to weld are those found by comparing all vertices.
func TestPairsAsByComparingAll(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 5))
	for _, scale := range []float64{1, 1e6, 1e-6} {
		for _, weld := range []float64{0.01, 0.1, 0.3} {
			w := &work{ctx: context.Background(), p: Params{Weld: weld * scale}, box: geom.EmptyBox()}
			var ids []int32
			for i := range int32(300) {
				w.v = append(w.v, v(r.Float64()-0.5, 2*r.Float64()-1, float64(r.IntN(3))).Mul(scale))
				w.box = w.box.Grow(w.v[i])
				ids = append(ids, i)
			}
			got, err := w.pairs(ids)
			if err != nil {
				t.Fatal(err)
			}
			n := 0
			for a := range w.v {
				for b := range a {
					if w.v[a].Sub(w.v[b]).Len() <= w.p.Weld {
						n++
					}
				}
			}
			if len(got) != n || n == 0 {
				t.Errorf("scale %g, weld %g: %d pairs, %d by comparing all", scale, weld, len(got), n)
			}
		}
	}
}

// Sorted by digits as by comparing.
func TestNearestFirst(t *testing.T) {
	r := rand.New(rand.NewPCG(6, 7))
	var ps []pair
	for i := range int32(20_000) {
		d := math.Pow(10, float64(r.IntN(20)-15)) * r.Float64()
		if r.IntN(5) == 0 {
			d = float64(r.IntN(3))
		}
		ps = append(ps, pair{d, i, i + 1})
	}
	want := slices.Clone(ps)
	slices.SortStableFunc(want, func(x, y pair) int { return cmp.Compare(x.d, y.d) })
	if got := nearestFirst(ps); !slices.Equal(got, want) {
		t.Error("sorted otherwise")
	}
}

// Inside by counting what lies above is inside by solid angles.
func TestInsideAsBySolidAngles(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	m := sample.Torus(10, 3, 40, 24)
	w := &work{v: m.Vertices, t: slices.Clone(m.Triangles)}
	all := make([]int32, len(w.t))
	for i := range all {
		all[i] = int32(i)
		if r.IntN(2) == 0 { // facing does not matter
			w.t[i][0], w.t[i][1] = w.t[i][1], w.t[i][0]
		}
	}
	c := newCaster(w, all)
	in, told := 0, 0
	for range 500 {
		p := v(26*r.Float64()-13, 26*r.Float64()-13, 6*r.Float64()-3)
		got, ok := c.inside(p)
		if !ok {
			continue
		}
		told++
		if got {
			in++
		}
		if want := math.Abs((&mesh.Mesh{Vertices: m.Vertices, Triangles: m.Triangles}).Winding(p)) > 0.5; got != want {
			t.Fatalf("%v: %v, by solid angles %v", p, got, want)
		}
	}
	if told < 490 || in < 100 || in > 400 {
		t.Errorf("%d inside of %d told", in, told)
	}
}
