package fragile

import (
	"context"
	"math"
	"math/rand"
	"reflect"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	"barwise/finding"
	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/patch"
	"barwise/geom/mesh/sample"
	"barwise/geom/mesh/thick"
	"barwise/shop/material"
)

// Section moments against closed forms: rectangle w³h/12, regular polygon A R² (2 + cos 2π/n)/12, right
// triangle b³h/36 with the product −b²h²/72, all off the axis.
func TestSectionMoments(t *testing.T) {
	off := geom.Vec2{X: 3, Y: -11}
	n, r := 7.0, 2.5
	area := n / 2 * r * r * math.Sin(2*math.Pi/n)
	in := area * r * r * (2 + math.Cos(2*math.Pi/n)) / 12
	tri := []geom.Vec2{{}, {X: 6}, {Y: 3}}
	for _, c := range []struct {
		p                    []geom.Vec2
		area, zz, xx, xz     float64
		centroidZ, centroidX float64
	}{
		{quad(5, 2), 10, 125.0 * 2 / 12, 8.0 * 5 / 12, 0, 0, 0},
		{ngon(r, 7), area, in, in, 0, 0, 0},
		{tri, 9, 6 * 6 * 6 * 3 / 36.0, 3 * 3 * 3 * 6 / 36.0, -6 * 6 * 3 * 3 / 72.0, 2, 1},
	} {
		res := judge(t, rod(0, 10, moved(c.p, off)), Params{Material: stuff(1)})
		for _, s := range res.Sections {
			for _, f := range [][2]float64{{s.Area, c.area}, {s.IXX, c.zz}, {s.IZZ, c.xx}, {s.IXZ, c.xz},
				{s.Centroid.Y, c.centroidZ + off.X}, {s.Centroid.X, c.centroidX + off.Y}} {
				if math.Abs(f[0]-f[1]) > 1e-9 {
					t.Fatalf("section %+v, want area %v, ∫z² %v, ∫x² %v, ∫xz %v", s, c.area, c.zz, c.xx, c.xz)
				}
			}
		}
	}
}

// A tube has the moments of the disc less those of the bore: π(R⁴ − r⁴)/4, to the facets' error.
func TestTubeMoments(t *testing.T) {
	outer, bore := rod(0, 10, ngon(4, 300)), sample.Inverted(rod(-1, 11, ngon(3, 300)))
	r := judge(t, mesh.Join(outer, bore), Params{Material: stuff(1)})
	s := r.Sections[len(r.Sections)/2]
	near(t, "area", s.Area, math.Pi*7, 1e-3)
	near(t, "moment", s.IXX, math.Pi*(256-81)/4, 1e-3)
	if s.Parts != 1 {
		t.Errorf("%d parts", s.Parts)
	}
}

// σ = M c/I for 10 N at 20 mm: 3×3 on its diagonal 62.85 MPa, its weakest way; 4×4 the same by a³; round
// 3 75.45, round 2 254.65 and round 4 31.83; from 16 F L·…/(π d³) and a³/(6√2).
func TestStress(t *testing.T) {
	for _, c := range []struct {
		p    []geom.Vec2
		want float64
	}{
		{quad(3, 3), 62.85}, {quad(4, 4), 18.75 * math.Sqrt2},
		{ngon(1.5, 400), 75.45}, {ngon(1, 400), 254.65}, {ngon(2, 400), 31.83},
	} {
		r := judge(t, rod(-3, 24, c.p), Params{Material: stuff(1), ForceN: 10, Limit: 0.1})
		for _, s := range r.Sections {
			if lever := 24 - s.Y; lever > 0.5 {
				near(t, "stress", s.Stress*20/lever, c.want, 4e-4)
			}
		}
		if r.Weakest == nil || r.Weakest.Y > 0.1 {
			t.Errorf("weakest %+v, want it at the held end", r.Weakest)
		}
	}
}

// Bending in any plane: |T⁻¹ρ| is the greatest of M·c/I over planes turned in small steps.
func TestWeakestWay(t *testing.T) {
	p := []geom.Vec2{{X: 0, Y: 0}, {X: 5, Y: 0.5}, {X: 6, Y: 2}, {X: 1, Y: 3}}
	l := loop{p: p}
	l.measure()
	r := region{loops: []loop{l}}
	if !r.settle() {
		t.Fatal("no region")
	}
	best := 0.0
	for k := range 20000 {
		s, c := math.Sincos(math.Pi * float64(k) / 20000)
		det := r.uu*r.vv - r.uv*r.uv
		// the curvature of a moment in the plane (c, s), and the strain it gives each corner
		ku, kv := (r.vv*c-r.uv*s)/det, (r.uu*s-r.uv*c)/det
		for _, q := range p {
			best = max(best, math.Abs(ku*(q.X-r.c.X)+kv*(q.Y-r.c.Y)))
		}
	}
	near(t, "modulus", r.modulus, best, 1e-6)
}

func wavy(n int) *mesh.Mesh {
	var ys []float64
	var ps [][]geom.Vec2
	for i := range n + 1 {
		y := 30 * float64(i) / float64(n)
		p := ngon(4+math.Sin(y/3), n)
		for k := range p {
			p[k] = p[k].Mul(1 + 0.15*math.Sin(3*2*math.Pi*float64(k)/float64(n)+y/5))
		}
		ys, ps = append(ys, y), append(ps, moved(p, geom.Vec2{X: math.Sin(y / 7), Y: 0.4 * math.Cos(y/4)}))
	}
	return loft(ys, ps)
}

// The sections' areas times their step are the solid's volume.
func TestVolume(t *testing.T) {
	m := wavy(80)
	want := m.HealthWith(m.Edges()).Volume
	r := judge(t, m, Params{Material: stuff(1)})
	near(t, "volume", r.Volume, want, 1e-4)
	if r.Loose != 0 || r.Open != 0 {
		t.Errorf("loose %v, open %v", r.Loose, r.Open)
	}
	// two pieces: what is not joined is named
	two := mesh.Join(m, m.Map(func(p geom.Vec3) geom.Vec3 { return p.Add(v(40, 5, 0)) }))
	r = judge(t, two, Params{Material: stuff(1)})
	near(t, "volume", r.Volume, 2*want, 1e-3)
	near(t, "loose", r.Loose, want, 1e-3)
	if !has(r, "not-joined") {
		t.Error("loose piece without a finding")
	}
}

func has(r *Result, code string) bool {
	for _, f := range r.Findings {
		if f.Code == code {
			return true
		}
	}
	return false
}

// branchy is a body with a mast, arms on two sides and a hanging part.
func branchy() *mesh.Mesh {
	return union(0.5, block{[3]int{-8, 0, -6}, [3]int{8, 30, 6}}, block{[3]int{8, 20, -6}, [3]int{20, 30, 6}},
		block{[3]int{14, 6, 0}, [3]int{16, 20, 2}}, block{[3]int{-2, 30, 1}, [3]int{1, 60, 3}},
		block{[3]int{-30, 10, 2}, [3]int{-8, 13, 4}}, block{[3]int{2, 16, 6}, [3]int{4, 18, 24}})
}

// Mirrors, quarter turns and shifts along the bar change no figure.
func TestSymmetry(t *testing.T) {
	p := Params{Material: stuff(1), ForceN: 1, Limit: 0.5, Tolerance: 0.1}
	want := judge(t, branchy(), p)
	if len(want.Slender) != 4 {
		t.Fatalf("%d slender parts: %+v", len(want.Slender), want.Slender)
	}
	for name, c := range map[string]struct {
		f      func(geom.Vec3) geom.Vec3
		mirror bool
		stub   float64
	}{
		"quarter turn": {func(q geom.Vec3) geom.Vec3 { return v(q.Z, q.Y, -q.X) }, false, 0},
		"half turn":    {func(q geom.Vec3) geom.Vec3 { return v(-q.X, q.Y, -q.Z) }, false, 0},
		"shift":        {func(q geom.Vec3) geom.Vec3 { return q.Add(v(2, 32, -1)) }, false, 32},
		"mirror":       {func(q geom.Vec3) geom.Vec3 { return v(-q.X, q.Y, q.Z) }, true, 0},
	} {
		m := branchy().Map(c.f)
		if c.mirror {
			m = sample.Inverted(m)
		}
		p.StubY = c.stub
		got := judge(t, m, p)
		near(t, name+" volume", got.Volume, want.Volume, 1e-12)
		if len(got.Slender) != len(want.Slender) || len(got.Findings) != len(want.Findings) {
			t.Fatalf("%s: %d slender parts, want %d", name, len(got.Slender), len(want.Slender))
		}
		for i, s := range got.Slender {
			w := want.Slender[i]
			near(t, name+" bends", s.Bends, w.Bends, 1e-6)
			near(t, name+" length", s.Length, w.Length, 1e-9)
			near(t, name+" stress", s.Stress, w.Stress, 1e-6)
			if s.What != w.What || s.Tip.Sub(c.f(w.Tip)).Len() > 1e-9 {
				t.Errorf("%s: %s at %v, want %s at %v", name, s.What, s.Tip, w.What, c.f(w.Tip))
			}
		}
		for i := range got.Sections {
			near(t, name+" section", got.Sections[i].Stress, want.Sections[i].Stress, 1e-9)
		}
	}
}

// One core or all, the same result to the bit.
func TestSameOnAnyCores(t *testing.T) {
	m := mesh.Join(branchy(), wavy(40).Map(func(p geom.Vec3) geom.Vec3 { return p.Add(v(0, -5, 0)) }))
	p := Params{Material: stuff(1), ForceN: 1, Tolerance: 0.01}
	want := judge(t, m, p)
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	if got := judge(t, m, p); !reflect.DeepEqual(got, want) {
		t.Errorf("%+v, want %+v", got, want)
	}
}

// The sections along the bar are those up to the far end, though a hanging part is farther by the way.
func TestSectionsGoUp(t *testing.T) {
	m := union(0.5, block{[3]int{-6, 0, -6}, [3]int{6, 44, 6}}, block{[3]int{6, 36, -6}, [3]int{20, 40, 6}}, block{[3]int{14, 4, 0}, [3]int{17, 36, 3}})
	r := judge(t, m, Params{Material: stuff(1), ForceN: 1})
	if n := len(r.Sections); n < 400 || r.Sections[n-1].Y < 21.9 {
		t.Fatalf("%d sections up to %v", n, r.Sections[n-1].Y)
	}
	for i, s := range r.Sections {
		if i > 0 && s.Y <= r.Sections[i-1].Y {
			t.Fatalf("section %d is at %v, below the one before", i, s.Y)
		}
		if (s.Y < 18 || s.Y > 20) && math.Abs(s.Area-36) > 1e-9 {
			t.Fatalf("area %v at %v, want 36", s.Area, s.Y)
		}
		near(t, "lever", s.Stress, (22-s.Y)*6*math.Sqrt2/216, map[bool]float64{true: 1e-6, false: 10}[s.Y < 18 || s.Y > 20])
	}
}

// Where the spigot stands alone its own section carries the load; inside the model the model's does.
func TestSpigot(t *testing.T) {
	model := rod(10, 40, quad(12, 12))
	spigot := rod(4, 15, ngon(2, 300))
	m := mesh.Join(model, spigot)
	r := judge(t, m, Params{Material: stuff(1), ForceN: 2, StubY: 6, Triangles: len(model.Triangles)})
	for _, s := range r.Sections {
		want, own := 144.0, false
		if s.Y < 10 {
			want, own = 4*math.Pi, true
		}
		near(t, "area", s.Area, want, 1e-3)
		if s.Spigot != own || s.Parts != 1 {
			t.Errorf("y %v: spigot %v, %d parts", s.Y, s.Spigot, s.Parts)
		}
	}
	// 32 F L/(π d³) with L to the far end
	near(t, "spigot", r.Spigot.Stress, 32*2*(40-r.Spigot.Y)/(math.Pi*64), 1e-3)
	near(t, "model", r.Weakest.Stress, 2*(40-r.Weakest.Y)*6*math.Sqrt2/1728, 1e-6)
	if math.Abs(r.Spigot.Y-6) > 0.1 || math.Abs(r.Weakest.Y-10) > 0.1 {
		t.Errorf("weakest at %v and %v, want them at the feet", r.Spigot.Y, r.Weakest.Y)
	}
	p := Params{Material: stuff(1), ForceN: 20, StubY: 6, Triangles: len(model.Triangles)}
	if r = judge(t, m, p); !has(r, "weak-section") {
		t.Errorf("20 N at 34 mm on a spigot of 4 mm, 108 MPa of 100: %v", r.Findings)
	}
}

// A wall of 0.6 mm on a stout block, 10 mm long and 5 high, is one place: both faces, nothing else.
func TestThinWall(t *testing.T) {
	m := union(0.2, block{[3]int{-40, 0, -40}, [3]int{40, 40, 40}}, block{[3]int{-25, 40, 0}, [3]int{25, 65, 3}})
	set := patch.Cut(m, 0.4, 1<<20)
	th, err := thick.Measure(context.Background(), m, set, thick.Params{Most: 4})
	if err != nil {
		t.Fatal(err)
	}
	r, err := Judge(context.Background(), m, th, set, Params{Material: stuff(2), Limit: 1, ForceN: 3, Tolerance: 0.005})
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Thin) != 1 {
		t.Fatalf("%+v", r.Thin)
	}
	w := r.Thin[0]
	near(t, "least", w.Least, 0.6, 1e-6)
	near(t, "area", w.Area, 2*10*5, 1e-9)
	near(t, "below", r.Below, 2*10*5, 1e-9)
	near(t, "height", w.Extent, 5, 1e-9)
	near(t, "stress", w.Stress, 6*3/0.36, 1e-6)          // 6 F h/(b t²), b = h
	near(t, "bends", w.Bends, 4*3*25/(2000*0.216), 1e-6) // F h³/(3 E b t³/12), b = h
	if w.What != "wall" || !has(r, "thin-wall") {
		t.Errorf("%+v, %v", w, r.Findings)
	}
	if r.Least != float64(float32(w.Least)) && math.Abs(r.Least-0.6) > 1e-6 {
		t.Errorf("least %v", r.Least)
	}
}

// The limit by the material: 6 F·safety/t² is its strength.
func TestLimits(t *testing.T) {
	m := material.Material{Strength: material.Figure{Value: 40}, Kc1: material.Figure{Value: 250}, Mc: material.Figure{Value: 0.25}, Brittle: true}
	f := SideForce(m)
	// 1 + 0.003·250·0.03^−0.25
	if math.Abs(f.Value-2.80) > 1e-9 {
		t.Errorf("force %v, want 2.80", f)
	}
	l := ThinLimit(m, f.Value)
	if got := 6 * f.Value * 3 / (l.Value * l.Value); math.Abs(got-40) > 1 {
		t.Errorf("limit %v: stress %v three times over, want 40", l, got)
	}
	for _, g := range []Figure{f, l, SideForce(material.Material{}), ThinLimit(material.Material{}, 1)} {
		if !strings.Contains(g.Source, "estimate, no source") || !(g.Value > 0) {
			t.Errorf("%+v is not marked as an estimate", g)
		}
	}
}

// A ring is held from one foot only; a sharp needle is loaded where it has a section.
func TestRingAndNeedle(t *testing.T) {
	ring := union(0.5, block{[3]int{-8, 0, -6}, [3]int{8, 40, 6}}, block{[3]int{8, 30, 0}, [3]int{20, 33, 3}},
		block{[3]int{8, 8, 0}, [3]int{20, 11, 3}}, block{[3]int{17, 8, 0}, [3]int{20, 33, 3}})
	r := judge(t, ring, Params{Material: stuff(1), ForceN: 1})
	for _, s := range r.Slender {
		if !s.Tip.Finite() || !(s.Bends > 0) || math.IsInf(s.Bends, 0) {
			t.Errorf("%+v", s)
		}
	}
	m := loft([]float64{0, 20}, [][]geom.Vec2{ngon(2, 60), ngon(1e-7, 60)})
	r = judge(t, m, Params{Material: stuff(1), ForceN: 1, Limit: 1})
	s := r.Slender[0]
	if s.Tip.Y > 19 || s.Tip.Y < 17.9 || !(s.Bends > 0 && s.Bends < 5) || r.Weakest.Stress > 1000 {
		t.Errorf("needle loaded at %v, bends %v, stress %v", s.Tip, s.Bends, r.Weakest.Stress)
	}
}

// Meshes that are no solid are judged as far as they go, and said so.
func TestOpenMesh(t *testing.T) {
	m := wavy(40)
	m = &mesh.Mesh{Vertices: m.Vertices, Triangles: m.Triangles[500:]}
	r := judge(t, m, Params{Material: stuff(1)})
	if r.Open == 0 || !has(r, "section-open") {
		t.Errorf("open %d, %v", r.Open, r.Findings)
	}
	for _, m := range []*mesh.Mesh{
		{Vertices: []geom.Vec3{{}, {X: 1, Y: 5}, {Y: 3, Z: 2}}, Triangles: [][3]int32{{0, 1, 2}}},
		{Vertices: []geom.Vec3{{}, {X: 1, Y: 5}, {Y: 3}}, Triangles: [][3]int32{{0, 1, 2}, {2, 1, 0}}},
		sample.Inverted(rod(0, 5, quad(2, 2))),
	} {
		judge(t, m, Params{})
	}
}

func TestBadInput(t *testing.T) {
	ok := rod(0, 5, quad(2, 2))
	for _, c := range []struct {
		m *mesh.Mesh
		p Params
	}{
		{ok, Params{StubY: 5}}, {ok, Params{StubY: math.NaN()}}, {&mesh.Mesh{}, Params{}}, {ok, Params{Limit: -1}}, {ok, Params{ForceN: math.NaN()}},
		{ok, Params{Tolerance: math.Inf(1)}}, {ok, Params{Step: -1}},
		{ok.Map(func(q geom.Vec3) geom.Vec3 { return v(math.NaN(), q.Y, q.Z) }), Params{}},
	} {
		if _, err := Judge(context.Background(), c.m, nil, nil, c.p); !finding.IsInput(err) {
			t.Errorf("%+v: %v", c.p, err)
		}
	}
	if _, err := Judge(context.Background(), ok, make([]float32, 3), patch.Cut(ok, 1, 100), Params{}); err == nil || finding.IsInput(err) {
		t.Errorf("thicknesses of another surface: %v", err)
	}
}

func TestCancel(t *testing.T) {
	m := wavy(400)
	ctx, stop := context.WithCancel(context.Background())
	go func() { time.Sleep(30 * time.Millisecond); stop() }()
	from := time.Now()
	if _, err := Judge(ctx, m, nil, nil, Params{Step: 0.01}); err != context.Canceled {
		t.Errorf("error %v", err)
	}
	if d := time.Since(from); d > 2*time.Second {
		t.Errorf("stopped after %v", d)
	}
}

func BenchmarkJudge(b *testing.B) {
	m := wavy(320)
	set := patch.Cut(m, 0.4, 200_000)
	th, err := thick.Measure(context.Background(), m, set, thick.Params{Most: 4})
	if err != nil {
		b.Fatal(err)
	}
	b.Logf("%d triangles, %d patches", len(m.Triangles), set.Len())
	for b.Loop() {
		if _, err := Judge(context.Background(), m, th, set, Params{Material: stuff(1), Limit: 3}); err != nil {
			b.Fatal(err)
		}
	}
}

// Triangles anywhere, with corners on planes, on each other and in a line, are judged without a fault,
// and no figure is anything but a number.
func TestSoup(t *testing.T) {
	rng := rand.New(rand.NewSource(1))
	for range 60 {
		m := &mesh.Mesh{}
		for range 4 + rng.Intn(20) {
			m.Vertices = append(m.Vertices, v(float64(rng.Intn(9)), float64(rng.Intn(9))*1.5, float64(rng.Intn(9))))
		}
		for range 1 + rng.Intn(80) {
			n := int32(len(m.Vertices))
			m.Triangles = append(m.Triangles, [3]int32{rng.Int31n(n), rng.Int31n(n), rng.Int31n(n)})
		}
		set := patch.Cut(m, 0.8, 20_000)
		th, err := thick.Measure(context.Background(), m, set, thick.Params{Most: 4})
		if err != nil {
			t.Fatal(err)
		}
		for i, g := range th {
			if !(g >= 0 && g <= 4) {
				t.Fatalf("patch %d is %v thick", i, g)
			}
		}
		r, err := Judge(context.Background(), m, th, set, Params{Material: stuff(1), StubY: -1, Step: 0.25})
		if err != nil {
			t.Fatal(err)
		}
		bad := func(f ...float64) bool {
			return slices.ContainsFunc(f, func(x float64) bool { return math.IsNaN(x) || math.IsInf(x, 0) || x < 0 })
		}
		for _, s := range r.Slender {
			if bad(s.Length, s.Thick, s.Slenderness, s.Bends, s.Own, s.Stress) {
				t.Fatalf("%+v", s)
			}
		}
		for _, s := range r.Sections {
			if bad(s.Area, s.IXX, s.IZZ, s.Stress) {
				t.Fatalf("%+v", s)
			}
		}
		for _, s := range r.Thin {
			if bad(s.Least, s.Mostly, s.Area, s.Extent, s.Stress, s.Bends) {
				t.Fatalf("%+v", s)
			}
		}
	}
}
