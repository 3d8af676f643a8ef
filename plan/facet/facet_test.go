package facet

import (
	"context"
	"encoding/json"
	"math"
	"math/rand/v2"
	"reflect"
	"runtime"
	"strings"
	"testing"

	"barwise/finding"
	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/sample"
	"barwise/geom/mesh/smooth"
)

func measure(t *testing.T, m *mesh.Mesh, p Params) *Result {
	t.Helper()
	r, err := Measure(context.Background(), m, p)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := json.Marshal(r); err != nil {
		t.Fatal(err)
	}
	return r
}

func codes(r *Result) map[string]finding.Severity {
	out := map[string]finding.Severity{}
	for _, f := range r.Findings {
		out[f.Code] = f.Severity
	}
	return out
}

// sunk is how far each triangle really lies off a surface, searched over the triangle.
func sunk(m *mesh.Mesh, off func(geom.Vec3) float64) []float64 {
	out := make([]float64, len(m.Triangles))
	const n = 12
	for t := range m.Triangles {
		a, b, c := m.Corners(t)
		for i := range n + 1 {
			for j := range n + 1 - i {
				u, w := float64(i)/n, float64(j)/n
				p := a.Mul(1 - u - w).Add(b.Mul(u)).Add(c.Mul(w))
				out[t] = max(out[t], math.Abs(off(p)))
			}
		}
	}
	return out
}

// The estimate against the distance from the true surface, triangle by triangle, at several densities: where
// single triangles may lie and where the mean does. It must close in as the mesh gets finer. Bounds from
// the orders of the errors stated at smooth.Gauge, rounded up from what was measured.
func TestChordAgainstClosedForms(t *testing.T) {
	sphere := func(p geom.Vec3) float64 { return p.Len() - 20 }
	wall := func(p geom.Vec3) float64 { return math.Hypot(p.X, p.Y) - 10 }
	ring := func(p geom.Vec3) float64 { return math.Hypot(math.Hypot(p.X, p.Y)-15, p.Z) - 5 }
	for _, c := range []struct {
		name         string
		m            *mesh.Mesh
		off          func(geom.Vec3) float64
		least, most  float64 // estimate by truth, single triangles
		mean, spread float64
	}{
		{"sphere of 128", octasphere(20, 4), sphere, 1, 1.03, 1.016, 0.01},
		{"sphere of 512", octasphere(20, 8), sphere, 1, 1.01, 1.006, 0.005},
		{"sphere of 2048", octasphere(20, 16), sphere, 0.999, 1.01, 1.003, 0.003},
		{"sphere of 8192", octasphere(20, 32), sphere, 0.999, 1.01, 1.0025, 0.003},
		{"tube of 16", tube(10, 30, 16, 3), wall, 0.996, 1, 0.997, 0.002},
		{"tube of 64", tube(10, 30, 64, 3), wall, 0.9997, 1.0001, 0.9998, 0.0002},
		{"torus of 36 by 18", sample.Torus(15, 5, 36, 18), ring, 0.92, 1.1, 1, 0.003},
		{"torus of 72 by 36", sample.Torus(15, 5, 72, 36), ring, 0.96, 1.03, 1, 0.004},
		{"torus of 36 by 36", sample.Torus(15, 5, 36, 36), ring, 0.85, 1.12, 1, 0.008},
		{"torus of 72 by 72", sample.Torus(15, 5, 72, 72), ring, 0.92, 1.07, 1, 0.002},
	} {
		r := measure(t, c.m, Params{})
		var got, want float64
		for i, x := range sunk(c.m, c.off) {
			e := float64(r.Chord[i])
			if q := e / x; q < c.least || q > c.most {
				t.Fatalf("%s: triangle %d is estimated %.3g off and is %.3g, %.4f of it", c.name, i, e, x, q)
			}
			got += e
			want += x
		}
		if math.Abs(got/want-c.mean) > c.spread {
			t.Errorf("%s: the mean is %.4f of the truth, want %.4f", c.name, got/want, c.mean)
		}
	}
}

// Closed forms for single figures: the kink of an n-sided tube is 360°/n, its chord error ρ(1 − cos π/n).
func TestTube(t *testing.T) {
	for _, n := range []int{12, 100, 720} {
		r := measure(t, tube(10, 30, n, 5), Params{Cusp: 0.001, KinkDeg: 1})
		step := 360 / float64(n)
		if math.Abs(r.KinkDeg.Most-step) > 1e-4 || math.Abs(r.KinkDeg.Median-step) > 1e-4 {
			t.Errorf("%d sides: kink %+v, want %.4f", n, r.KinkDeg, step)
		}
		chord := 10 * (1 - math.Cos(math.Pi/float64(n)))
		if math.Abs(r.ChordMM.Most/chord-1) > 0.01 || math.Abs(r.ChordMM.P90/r.ChordMM.Most-1) > 1e-5 {
			t.Errorf("%d sides: chord %+v, want %.6f", n, r.ChordMM, chord)
		}
		want := max(1, chord/0.001, step*step)
		if math.Abs(r.Needed/want-1) > 0.01 {
			t.Errorf("%d sides: %.3f times are needed, want %.3f", n, r.Needed, want)
		}
		area := 30 * 2 * float64(n) * 10 * math.Sin(math.Pi/float64(n))
		if math.Abs(r.AreaMM2/area-1) > 1e-9 {
			t.Errorf("%d sides: area %g, want %g", n, r.AreaMM2, area)
		}
		if share := r.KinkShare; share != 0 && math.Abs(share-1) > 1e-9 || (share > 0) != (step > 1) {
			t.Errorf("%d sides: kinks show on %g of it", n, share)
		}
	}
}

// A sphere cut into equilateral triangles needs N = 16π/(6√3)·ρ/ε = 4.84 ρ/ε of them: the sagitta of one of
// edge l is l²/6ρ and its area √3/4·l².
func TestTrianglesOfASphere(t *testing.T) {
	for _, ask := range []float64{0.1, 0.01, 0.001} {
		r := measure(t, octasphere(20, 40), Params{Cusp: ask, KinkDeg: 90})
		got := r.Enough * float64(r.Triangles)
		// an octahedron's triangles are right-angled where four meet, and need more: by area up to 1.3
		if want := 4.84 * 20 / ask; got < want || got > 1.3*want {
			t.Errorf("%g mm: %.0f triangles, want from %.0f up to a third more", ask, got, want)
		}
	}
	six := hexagons(20, 0.5)
	r := measure(t, six, Params{Cusp: 0.001, KinkDeg: 90})
	got := r.Enough * float64(r.Triangles)
	if want := 4.84 * 20 / 0.001 * r.AreaMM2 / (4 * math.Pi * 400); math.Abs(got/want-1) > 0.05 {
		t.Errorf("equilateral: %.0f triangles, want %.0f", got, want)
	}
}

// hexagons is a cap of a sphere in nearly equilateral triangles of edge l.
func hexagons(r, l float64) *mesh.Mesh {
	return grid(24, 24, func(x, y float64) geom.Vec3 {
		p := v(l*(24*x-12*y-6), l*math.Sqrt(3)/2*(24*y-12), 0)
		p.Z = math.Sqrt(r*r - p.X*p.X - p.Y*p.Y)
		return p
	})
}

// Nothing is flatter than a flat.
func TestFlats(t *testing.T) {
	lean := func(p geom.Vec3) geom.Vec3 {
		return v(0.36*p.X+0.48*p.Y-0.8*p.Z, -0.8*p.X+0.6*p.Y, 0.48*p.X+0.64*p.Y+0.6*p.Z)
	}
	r := rand.New(rand.NewPCG(1, 1))
	plate := grid(20, 20, func(x, y float64) geom.Vec3 { return v(90*x, 70*y, 5) })
	for i, p := range plate.Vertices { // of no order within the plane
		if p.X > 0 && p.X < 90 && p.Y > 0 && p.Y < 70 {
			plate.Vertices[i] = v(p.X+1.5*r.Float64(), p.Y+1.2*r.Float64(), p.Z)
		}
	}
	for name, m := range map[string]*mesh.Mesh{
		"box": sample.Box(v(1, 2, 3), v(11, 5, 4)), "leaning box": sample.Box(v(1, 2, 3), v(11, 5, 4)).Map(lean),
		"plate": plate, "leaning plate": plate.Map(lean),
		"leaning plate in float32": plate.Map(lean).Map(func(p geom.Vec3) geom.Vec3 {
			return v(float64(float32(p.X)), float64(float32(p.Y)), float64(float32(p.Z)))
		}),
	} {
		res := measure(t, m, Params{Cusp: 1e-6, Tolerance: 1e-6, Shiny: true})
		if res.ChordMM.Most != 0 || res.KinkDeg.Most != 0 || res.ShowShare != 0 || res.Needed != 1 || len(res.Findings) != 0 || res.Verdict != "no facet will show" {
			t.Errorf("%s: %+v", name, res)
		}
	}
}

// Half a surface is coarse: a share is a share of the area, and what is needed is needed there.
func TestShares(t *testing.T) {
	coarse, fine := tube(10, 30, 36, 3), tube(10, 10, 3600, 3)
	m := mesh.Join(coarse, fine)
	r := measure(t, m, Params{Cusp: 0.005, Tolerance: 0.01, KinkDeg: 1})
	want := measure(t, coarse, Params{}).AreaMM2 / (measure(t, coarse, Params{}).AreaMM2 + measure(t, fine, Params{}).AreaMM2)
	for _, s := range []float64{r.KinkShare, r.ChordShare, r.ShowShare, r.OverShare} {
		if math.Abs(s-want) > 1e-9 || math.Abs(want-0.75) > 0.001 {
			t.Errorf("share %.6f, want %.6f", s, want)
		}
	}
	// of 100 for the kink and (38 µm / 5 µm) for the chord the kink wins, in 216 triangles of 21 816
	if needed := (216*100.0 + 21600) / 21816; math.Abs(r.Needed-needed) > 0.01*needed {
		t.Errorf("%.4f times are needed, want %.4f", r.Needed, needed)
	}
	if c := codes(r); c["facet-shows"] != finding.Warning || c["facet-chord"] != finding.Warning || len(c) != 2 {
		t.Errorf("%v", r.Findings)
	}
	if !strings.HasPrefix(r.Verdict, "facets will show on 75 % of the surface; about 2 times the triangles are needed") {
		t.Error(r.Verdict)
	}
	for _, p := range []geom.Vec3{r.KinkAt, r.ChordAt} {
		if d := math.Hypot(p.X, p.Y); d < 9.9 || d > 10 {
			t.Errorf("the worst is at %v", p)
		}
	}
	shows := 0
	for i, s := range r.Shows {
		if s != (i < len(coarse.Triangles)) {
			t.Fatalf("triangle %d shows: %v", i, s)
		}
		if s {
			shows++
		}
	}
	if r := measure(t, m, Params{Triangles: len(coarse.Triangles), KinkDeg: 1}); math.Abs(r.KinkShare-1) > 1e-12 || len(r.Kink) != shows || r.ChordShare != 0 {
		t.Errorf("of the first tube %g shows, of %d triangles", r.KinkShare, len(r.Kink))
	}
}

// What a cusp asks for and a tolerance does not is a note; shiny material shows less of a kink.
func TestFindings(t *testing.T) {
	m := tube(10, 30, 720, 3) // 0.5° and 95 nm
	if r := measure(t, m, Params{Cusp: 0.005}); len(r.Findings) != 0 || r.Verdict != "no facet will show" {
		t.Errorf("matt: %s %v", r.Verdict, r.Findings)
	}
	m = m.Map(func(p geom.Vec3) geom.Vec3 { return p.Mul(3) }) // 286 nm
	if r := measure(t, m, Params{Cusp: 0.005}); len(r.Findings) != 0 {
		t.Errorf("matt: %v", r.Findings)
	}
	r := measure(t, m, Params{Cusp: 0.005, Shiny: true})
	if c := codes(r); c["facet-shows"] != finding.Warning || len(c) != 1 || !strings.Contains(r.Findings[0].Text, "shiny") {
		t.Errorf("shiny: %v", r.Findings)
	}
	if r := measure(t, m, Params{Cusp: 0.0002, Tolerance: 0.01}); codes(r)["facet-chord"] != finding.Note || len(r.Findings) != 1 || !strings.Contains(r.Verdict, "coarser than the finish on 100 %") {
		t.Errorf("cusp: %s %v", r.Verdict, r.Findings)
	}
	if r := measure(t, m, Params{Cusp: 0.01, Tolerance: 0.0002}); codes(r)["facet-chord"] != finding.Warning || len(r.Findings) != 1 {
		t.Errorf("tolerance: %v", r.Findings)
	}
	fine := sample.Torus(15, 5, 400, 200)
	r = measure(t, fine, Params{Cusp: 0.05, KinkDeg: 20})
	if c := codes(r); c["facet-fine"] != finding.Note || len(c) != 1 || !strings.Contains(r.Verdict, "far finer") {
		t.Errorf("fine: %s %v", r.Verdict, r.Findings)
	}
	// a meant edge is none of the facets'
	if r := measure(t, sample.Box(v(0, 0, 0), v(1, 1, 1)), Params{CreaseDeg: 91}); r.KinkDeg.Most != 90 {
		t.Errorf("a box has a kink of %g°", r.KinkDeg.Most)
	}
	for _, p := range []Params{{Cusp: -1}, {Tolerance: math.NaN()}, {CreaseDeg: -4}, {Triangles: -1}} {
		if _, err := Measure(context.Background(), m, p); !finding.IsInput(err) {
			t.Errorf("%+v: %v", p, err)
		}
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Measure(ctx, m, Params{}); err == nil {
		t.Error("went on after it was cancelled")
	}
	if r := measure(t, &mesh.Mesh{}, Params{}); r.ShowShare != 0 || len(r.Findings) != 0 {
		t.Errorf("nothing: %+v", r)
	}
}

// Refining mends what is measured.
func TestRefineImproves(t *testing.T) {
	for name, m := range map[string]*mesh.Mesh{"sphere": octasphere(20, 12), "torus": sample.Torus(15, 5, 48, 24)} {
		p := Params{Cusp: 0.002, Tolerance: 0.005, KinkDeg: 1}
		before := measure(t, m, p)
		f, err := smooth.Refine(context.Background(), m, smooth.Params{Chord: 0.001, KinkDeg: 0.7})
		if err != nil {
			t.Fatal(err)
		}
		after := measure(t, f.Mesh, p)
		if before.ShowShare < 0.99 || after.ShowShare > 0 || after.Needed != 1 || after.ChordMM.Most > 0.0015 || after.KinkDeg.Most > 1 {
			t.Errorf("%s: before %.3f shows, after %.4f; %+v %+v", name, before.ShowShare, after.ShowShare, after.KinkDeg, after.ChordMM)
		}
		// as many were needed as it took, within the steps of the cutting
		if q := float64(after.Triangles) / float64(before.Triangles) / before.Needed; q < 0.7 || q > 4 {
			t.Errorf("%s: %.3g times were needed, %d became %d", name, before.Needed, before.Triangles, after.Triangles)
		}
	}
}

// Mirrored, turned and scaled models are judged alike; any number of processors says the same.
func TestSymmetry(t *testing.T) {
	m := sample.Torus(15, 5, 30, 17)
	p := Params{Cusp: 0.005}
	want := measure(t, m, p)
	for name, in := range map[string]*mesh.Mesh{
		"mirrored": sample.Inverted(m.Map(func(p geom.Vec3) geom.Vec3 { return v(-p.X, p.Y, p.Z) })),
		"turned":   m.Map(func(p geom.Vec3) geom.Vec3 { return v(p.Z, p.Y, -p.X) }),
		"inverted": sample.Inverted(m),
	} {
		got := measure(t, in, p)
		for i := range want.Chord {
			if math.Abs(float64(got.Chord[i]-want.Chord[i])) > 1e-6 || math.Abs(float64(got.Kink[i]-want.Kink[i])) > 1e-4 {
				t.Fatalf("%s: triangle %d: %g mm %g°, want %g %g", name, i, got.Chord[i], got.Kink[i], want.Chord[i], want.Kink[i])
			}
		}
	}
	double := measure(t, m.Map(func(p geom.Vec3) geom.Vec3 { return p.Mul(2) }), p)
	if math.Abs(double.ChordMM.Most-2*want.ChordMM.Most) > 1e-6 || math.Abs(double.KinkDeg.Most-want.KinkDeg.Most) > 1e-5 || math.Abs(double.AreaMM2-4*want.AreaMM2) > 1e-6 {
		t.Errorf("twice as large: %+v, want twice %+v", double.ChordMM, want.ChordMM)
	}
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	if one := measure(t, m, p); !reflect.DeepEqual(one, want) {
		t.Error("one processor says otherwise")
	}
}

func BenchmarkMeasure(b *testing.B) {
	m := sample.Torus(50, 20, 1000, 500)
	for b.Loop() {
		if _, err := Measure(context.Background(), m, Params{Cusp: 0.005}); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.N)*float64(len(m.Triangles))/b.Elapsed().Seconds()/1e6, "Mtri/s")
}

// Facets of a ball of radius ρ with edges e have kinks of about e/(ρ√3) and a width of about that times ρ.
// Where that is less than four passes they are lost among cusps, unless the surface is to shine.
func TestNarrowFacetsAreLostAmongCusps(t *testing.T) {
	m := sample.Icosphere(5, 4) // 5 120 facets, edges of about 0.35 mm, kinks of about 2°
	measure := func(p Params) *Result {
		t.Helper()
		r, err := Measure(context.Background(), m, p)
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	if r := measure(Params{Tolerance: 0.1}); r.KinkShare < 0.99 {
		t.Errorf("with no word on passes facets show on %.2f of the surface, want all", r.KinkShare)
	}
	wide := measure(Params{Tolerance: 0.1, Stepover: 0.02})
	narrow := measure(Params{Tolerance: 0.1, Stepover: 0.3})
	if wide.KinkShare < 0.99 || narrow.KinkShare != 0 || narrow.Hidden != 1.2 {
		t.Errorf("with passes 0.02 and 0.3 mm apart facets show on %.2f and %.2f, want all and none", wide.KinkShare, narrow.KinkShare)
	}
	if r := measure(Params{Tolerance: 0.1, Stepover: 0.3, Shiny: true}); r.KinkShare < 0.99 || r.Hidden != 0 {
		t.Errorf("on what is to shine they show on %.2f, want all", r.KinkShare)
	}
}
