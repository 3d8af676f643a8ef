package smooth

import (
	"context"
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

// Mirrored, turned, moved and relabelled inputs give the same surface.
func TestSymmetry(t *testing.T) {
	disc, _ := roundedDisc(4, 24)
	for name, m := range map[string]*mesh.Mesh{"ellipsoid": scaled(scattered(150, 3), 10, 15, 20), "disc": disc, "torus": sample.Torus(15, 5, 20, 12)} {
		p := Params{Chord: 0.01, KinkDeg: 4}
		want := refine(t, m, p)
		check := func(how string, in *mesh.Mesh, back func(geom.Vec3) geom.Vec3) {
			t.Helper()
			got := refine(t, in, p)
			if len(got.Mesh.Triangles) != len(want.Mesh.Triangles) || got.Capped != want.Capped || math.Abs(got.MovedMM-want.MovedMM) > 1e-9 {
				t.Errorf("%s %s: %d triangles, want %d; %+v", name, how, len(got.Mesh.Triangles), len(want.Mesh.Triangles), got.After)
			}
			if d := apart(got.Mesh.Map(back).Vertices, want.Mesh.Vertices); d > 1e-9 {
				t.Errorf("%s %s: vertices are %g apart", name, how, d)
			}
		}
		mirror := func(p geom.Vec3) geom.Vec3 { return v(-p.X, p.Y, p.Z) }
		check("mirrored", sample.Inverted(m.Map(mirror)), mirror)
		check("turned", m.Map(func(p geom.Vec3) geom.Vec3 { return v(-p.Y, p.X, p.Z) }), func(p geom.Vec3) geom.Vec3 { return v(p.Y, -p.X, p.Z) })
		check("moved", m.Map(func(p geom.Vec3) geom.Vec3 { return v(p.X+8, p.Y-16, p.Z+4) }), func(p geom.Vec3) geom.Vec3 { return v(p.X-8, p.Y+16, p.Z-4) })
		same := func(p geom.Vec3) geom.Vec3 { return p }
		check("inside out", sample.Inverted(m), same)
		check("relabelled", relabelled(m), same)
	}
}

func relabelled(m *mesh.Mesh) *mesh.Mesh {
	r := rand.New(rand.NewPCG(9, 9))
	to := r.Perm(len(m.Vertices))
	out := &mesh.Mesh{Vertices: make([]geom.Vec3, len(m.Vertices))}
	for i, p := range m.Vertices {
		out.Vertices[to[i]] = p
	}
	for _, i := range r.Perm(len(m.Triangles)) {
		t, k := m.Triangles[i], r.IntN(3)
		out.Triangles = append(out.Triangles, [3]int32{int32(to[t[k]]), int32(to[t[(k+1)%3]]), int32(to[t[(k+2)%3]])})
	}
	return out
}

// apart is how far any point of a is from the nearest of b, at most a cell or so.
func apart(a, b []geom.Vec3) (worst float64) {
	type cell [3]int64
	of := func(p geom.Vec3) cell {
		return cell{int64(math.Floor(p.X * 100)), int64(math.Floor(p.Y * 100)), int64(math.Floor(p.Z * 100))}
	}
	by := map[cell][]geom.Vec3{}
	for _, p := range b {
		by[of(p)] = append(by[of(p)], p)
	}
	for _, p := range a {
		c, near := of(p), 1.0
		for i := range int64(27) {
			for _, q := range by[cell{c[0] + i%3 - 1, c[1] + i/3%3 - 1, c[2] + i/9 - 1}] {
				near = min(near, p.Sub(q).Len())
			}
		}
		worst = max(worst, near)
	}
	return worst
}

// Most is kept to, and that it was in the way is said.
func TestMost(t *testing.T) {
	m := sample.Icosphere(20, 3)
	for _, most := range []int{1280, 5000, 20_000, 100_000} {
		r := refine(t, m, Params{Chord: 0.0001, Most: most})
		sound(t, m, r)
		if !r.Short || len(r.Mesh.Triangles) > most || most > 5000 && len(r.Mesh.Triangles) < most/4 {
			t.Errorf("%d triangles of %d, short %v", len(r.Mesh.Triangles), most, r.Short)
		}
	}
	if r := refine(t, m, Params{Chord: 0.0001, Most: 10}); !r.Short || !reflect.DeepEqual(r.Mesh, m) {
		t.Errorf("more than the most became %d triangles, short %v", len(r.Mesh.Triangles), r.Short)
	}
	for _, p := range []Params{{Chord: -1}, {Chord: math.NaN()}, {CreaseDeg: 200}, {KinkDeg: -1}, {Most: -5}, {Chord: math.Inf(1)}} {
		if _, err := Refine(context.Background(), m, p); err == nil {
			t.Errorf("%+v was taken", p)
		}
	}
}

func TestSameOnOneProcessor(t *testing.T) {
	m := scaled(scattered(300, 5), 10, 15, 20)
	many := refine(t, m, Params{Chord: 0.005, KinkDeg: 2})
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	if one := refine(t, m, Params{Chord: 0.005, KinkDeg: 2}); !reflect.DeepEqual(one, many) {
		t.Error("results differ")
	}
}

func TestCancel(t *testing.T) {
	m := sample.Icosphere(20, 6)
	ctx, cancel := context.WithCancel(context.Background())
	time.AfterFunc(20*time.Millisecond, cancel)
	start := time.Now()
	_, err := Refine(ctx, m, Params{Chord: 1e-6})
	if err == nil || time.Since(start) > 2*time.Second {
		t.Errorf("error %v after %v", err, time.Since(start))
	}
}

// Anything goes in without a crash, and what was closed is closed afterwards.
func TestAnything(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	for range 3000 {
		m := &mesh.Mesh{}
		n := 1 + r.IntN(7)
		for range n {
			m.Vertices = append(m.Vertices, v(float64(r.IntN(4)), float64(r.IntN(4)), float64(r.IntN(4))))
		}
		for range r.IntN(20) {
			m.Triangles = append(m.Triangles, [3]int32{int32(r.IntN(n)), int32(r.IntN(n)), int32(r.IntN(n))})
		}
		res := refine(t, m, Params{Chord: 0.01, CreaseDeg: 150, Most: 20_000})
		for _, p := range res.Mesh.Vertices {
			if !p.Finite() {
				t.Fatalf("%v: %v", m, p)
			}
		}
		if was, is := m.Edges(), res.Mesh.Edges(); was.Open == 0 && was.Crowded == 0 && is.Open != 0 {
			t.Fatalf("%v: %d open edges", m, is.Open)
		}
	}
	for _, m := range []*mesh.Mesh{{}, {Vertices: []geom.Vec3{{}, {X: 1}, {Y: 1}}, Triangles: [][3]int32{{0, 1, 2}}}} {
		if res := refine(t, m, Params{}); len(res.Mesh.Triangles) != len(m.Triangles) {
			t.Errorf("%d triangles became %d", len(m.Triangles), len(res.Mesh.Triangles))
		}
	}
}

// A surface with a hole: what does not touch the border is as good as ever. At a border that zigzags, the
// surface is known from one side, at some corners from a single facet: there half of the error may stay.
func TestOpen(t *testing.T) {
	m := sample.Icosphere(20, 3)
	var keep [][3]int32
	for i, tr := range m.Triangles {
		if a, b, c := m.Corners(i); a.Z+b.Z+c.Z > -20 {
			keep = append(keep, tr)
		}
	}
	m, _ = (&mesh.Mesh{Vertices: m.Vertices, Triangles: keep}).Weld()
	r := refine(t, m, Params{Chord: 0.002})
	sound(t, m, r)
	edge := make([]bool, len(m.Vertices))
	e := m.Edges()
	for h, o := range e.Mate {
		if o == mesh.Border {
			a, b := e.Ends(int32(h))
			edge[a], edge[b] = true, true
		}
	}
	before := furthest(m, offSphere(20))
	for i, f := range r.From {
		tr := m.Triangles[f]
		most := 0.002
		if edge[tr[0]] || edge[tr[1]] || edge[tr[2]] {
			most = 0.55 * before
		}
		one := &mesh.Mesh{Vertices: r.Mesh.Vertices, Triangles: r.Mesh.Triangles[i : i+1]}
		if off := furthest(one, offSphere(20)); off > most {
			t.Fatalf("%.2f µm off, %.2f before", 1000*off, 1000*before)
		}
	}
}

func benchmark(b *testing.B, m *mesh.Mesh, p Params) {
	n := 0
	for b.Loop() {
		r, err := Refine(context.Background(), m, p)
		if err != nil {
			b.Fatal(err)
		}
		n = len(r.Mesh.Triangles)
	}
	b.ReportMetric(float64(n), "triangles")
	b.ReportMetric(float64(b.N)*float64(n)/b.Elapsed().Seconds()/1e6, "Mtri/s")
}

func BenchmarkRefineSphere(b *testing.B) {
	benchmark(b, sample.Icosphere(20, 4), Params{Chord: 0.0015, KinkDeg: 0.1})
}

func BenchmarkRefineToAMillion(b *testing.B) {
	benchmark(b, scaled(scattered(2500, 1), 20, 20, 20), Params{Chord: 0.0002, Most: 1_000_000})
}

func BenchmarkLook(b *testing.B) {
	m := sample.Torus(50, 20, 1000, 500) // a million
	e := m.Edges()
	for b.Loop() {
		if _, err := Look(context.Background(), m, e, 40); err != nil {
			b.Fatal(err)
		}
	}
}
