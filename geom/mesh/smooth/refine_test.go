package smooth

import (
	"context"
	"math"
	"math/rand/v2"
	"os"
	"reflect"
	"slices"
	"testing"
	"time"

	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/sample"
)

func sortTriangles(ts [][3]int32) {
	for i, t := range ts {
		k := 0
		for j := range t {
			if t[j] < t[k] {
				k = j
			}
		}
		ts[i] = [3]int32{t[k], t[(k+1)%3], t[(k+2)%3]}
	}
	slices.SortFunc(ts, func(a, b [3]int32) int { return slices.Compare(a[:], b[:]) })
}

// furthest samples the mesh itself: corners, edges and inside of every facet.
func furthest(m *mesh.Mesh, off func(geom.Vec3) float64) (worst float64) {
	for t := range m.Triangles {
		a, b, c := m.Corners(t)
		for _, p := range []geom.Vec3{a, a.Lerp(b, 0.5), b.Lerp(c, 0.5), c.Lerp(a, 0.5), a.Add(b).Add(c).Mul(1.0 / 3)} {
			worst = max(worst, math.Abs(off(p)))
		}
	}
	return worst
}

func offSphere(r float64) func(geom.Vec3) float64 {
	return func(p geom.Vec3) float64 { return p.Len() - r }
}

func offTorus(big, small float64) func(geom.Vec3) float64 {
	return func(p geom.Vec3) float64 { return math.Hypot(math.Hypot(p.X, p.Y)-big, p.Z) - small }
}

// offEllipsoid is right to first order in the distance.
func offEllipsoid(a, b, c float64) func(geom.Vec3) float64 {
	return func(p geom.Vec3) float64 {
		f := p.X*p.X/a/a + p.Y*p.Y/b/b + p.Z*p.Z/c/c - 1
		return f / 2 / v(p.X/a/a, p.Y/b/b, p.Z/c/c).Len()
	}
}

// kink is the greatest between neighbouring facets, by their own normals and no tolerance, degrees.
func kink(m *mesh.Mesh, e *mesh.Edges, crease float64) (worst float64) {
	n := make([]geom.Vec3, len(m.Triangles))
	for i := range n {
		a, b, c := m.Corners(i)
		n[i] = b.Sub(a).Cross(c.Sub(a)).Unit()
	}
	for h, o := range e.Mate {
		if o > int32(h) {
			x, y := n[h/3], n[o/3]
			if a := math.Atan2(x.Cross(y).Len(), x.Dot(y)) * 180 / math.Pi; a <= crease {
				worst = max(worst, a)
			}
		}
	}
	return worst
}

func refine(t *testing.T, m *mesh.Mesh, p Params) *Result {
	t.Helper()
	r, err := Refine(context.Background(), m, p)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// sound checks what holds for every refined mesh: old vertices in their places, each old triangle covered by
// its own, open nowhere that the old one was not, of the same Euler characteristic, and told truly.
func sound(t *testing.T, m *mesh.Mesh, r *Result) *mesh.Edges {
	t.Helper()
	if !slices.Equal(r.Mesh.Vertices[:len(m.Vertices)], m.Vertices) {
		t.Error("old vertices have moved")
	}
	if len(r.From) != len(r.Mesh.Triangles) || r.After.Triangles != len(r.From) || r.Before.Triangles != len(m.Triangles) {
		t.Errorf("%d triangles, %d of them from old ones, figures %+v %+v", len(r.Mesh.Triangles), len(r.From), r.Before, r.After)
	}
	e := r.Mesh.Edges()
	old, now := m.Health(), r.Mesh.HealthWith(e)
	if now.Closed != old.Closed || now.Flipped != 0 || now.Crowded != 0 || len(now.Shells) != len(old.Shells) || len(now.Loops) != len(old.Loops) || now.Vertices != len(r.Mesh.Vertices) {
		t.Errorf("closed %v, %d flipped, %d crowded, %d shells, %d loops, %d vertices used of %d; before closed %v, %d shells, %d loops",
			now.Closed, now.Flipped, now.Crowded, len(now.Shells), len(now.Loops), now.Vertices, len(r.Mesh.Vertices), old.Closed, len(old.Shells), len(old.Loops))
	}
	for i := range now.Shells {
		if i < len(old.Shells) && now.Shells[i].Euler != old.Shells[i].Euler {
			t.Errorf("shell %d: χ %d, before %d", i, now.Shells[i].Euler, old.Shells[i].Euler)
		}
	}
	return e
}

// The figures to reach: the facets themselves within 1.5 µm of a sphere of radius 20 mm, the kink between them
// under 0.1°. The whole, from 5120 triangles to 4.3 million, is for the soak; from 1280 to 0.4° otherwise.
func TestSphere(t *testing.T) {
	k, deg := 3, 0.4
	if os.Getenv("BARWISE_SOAK") != "" {
		k, deg = 4, 0.1
	}
	m := sample.Icosphere(20, k)
	start := time.Now()
	r := refine(t, m, Params{Chord: 0.0015, KinkDeg: deg})
	t.Logf("%d to %d triangles in %v", len(m.Triangles), len(r.Mesh.Triangles), time.Since(start).Round(time.Millisecond))
	e := sound(t, m, r)
	if off := furthest(r.Mesh, offSphere(20)); off > 0.0015 {
		t.Errorf("%.3f µm off the sphere", 1000*off)
	}
	got := kink(r.Mesh, e, 180)
	if got >= deg || math.Abs(got-r.After.KinkDeg) > 1e-4 {
		t.Errorf("kink %.5f°, told as %.5f°", got, r.After.KinkDeg)
	}
	if r.Short || r.Capped != 0 {
		t.Errorf("short %v, capped %d", r.Short, r.Capped)
	}
	// the sagitta of a facet's middle is what the sphere stands off before
	if d := r.MovedMM / r.Before.ChordMM; d < 0.95 || d > 1.05 {
		t.Errorf("moved by %.4f mm, chord error before %.4f", r.MovedMM, r.Before.ChordMM)
	}
}

// The same by chord error alone, from 320 triangles on.
func TestSphereByChord(t *testing.T) {
	for k, most := range []float64{0.01, 0.003, 0.0018, 0.0015, 0.0015} {
		if k < 2 {
			continue // a sphere of 80 triangles turns by 20° a facet: what it stands for is a guess
		}
		m := sample.Icosphere(20, k)
		r := refine(t, m, Params{Chord: 0.0015})
		sound(t, m, r)
		if off := furthest(r.Mesh, offSphere(20)); off > most {
			t.Errorf("%d triangles: %.3f µm off the sphere, want %.1f", len(m.Triangles), 1000*off, 1000*most)
		}
	}
}

// Other surfaces, chord error of 1.5 µm asked: what the facets are off beyond that is the curved surface's own
// error. No source for it: measured, and rounded up; it must be a twentieth of what the facets were off.
func TestOtherSurfaces(t *testing.T) {
	for _, c := range []struct {
		name string
		m    *mesh.Mesh
		off  func(geom.Vec3) float64
		kink float64
		most float64 // mm
	}{
		{"torus", sample.Torus(15, 5, 96, 48), offTorus(15, 5), 1, 0.0005},
		{"coarse torus", sample.Torus(15, 5, 36, 18), offTorus(15, 5), 2, 0.004},
		{"ellipsoid", scaled(sample.Icosphere(1, 4), 10, 15, 20), offEllipsoid(10, 15, 20), 0.7, 0.0017},
		{"sphere without order", scaled(scattered(1200, 1), 20, 20, 20), offSphere(20), 1, 0.0025},
		{"ellipsoid without order", scaled(scattered(1200, 1), 10, 15, 20), offEllipsoid(10, 15, 20), 1.5, 0.016},
	} {
		r := refine(t, c.m, Params{Chord: 0.0015, KinkDeg: c.kink})
		e := sound(t, c.m, r)
		before, after := furthest(c.m, c.off), furthest(r.Mesh, c.off)
		k := kink(r.Mesh, e, 180)
		t.Logf("%s: %d to %d triangles, off %.2f to %.3f µm, kink %.3f to %.3f°, capped %d", c.name, len(c.m.Triangles), len(r.Mesh.Triangles),
			1000*before, 1000*after, r.Before.KinkDeg, k, r.Capped)
		if after > c.most {
			t.Errorf("%s: %.3f µm off after, %.3f before", c.name, 1000*after, 1000*before)
		}
		if k > 1.6*c.kink || math.Abs(k-r.After.KinkDeg) > 1e-3*k {
			t.Errorf("%s: kink %.3f°, told as %.3f, asked %.3f", c.name, k, r.After.KinkDeg, c.kink)
		}
	}
}

// point is the curved surface of triangle f.
func (s *surface) point(f int32, p *patch, u, v, w float64) geom.Vec3 {
	a, b, c := s.M.Corners(int(f))
	return a.Mul(u).Add(b.Mul(v)).Add(c.Mul(w)).Add(p.off(u, v, w))
}

// edgeNormal is the curved surface's normal on edge k of triangle f at x from its start, by differences.
func (s *surface) edgeNormal(f int32, p *patch, k int, x float64) geom.Vec3 {
	const h = 1e-4
	at := func(along, in float64) geom.Vec3 {
		var b [3]float64
		b[k], b[(k+1)%3], b[(k+2)%3] = 1-along-in/2, along-in/2, in
		return s.point(f, p, b[0], b[1], b[2])
	}
	du := at(x+h, 0).Sub(at(x-h, 0))
	dv := at(x, h).Mul(4).Sub(at(x, 0).Mul(3)).Sub(at(x, 2*h))
	return du.Cross(dv).Unit()
}

// The curved surface itself has no kink across the old edges, whatever the facets are like.
func TestSurfaceHasNoKink(t *testing.T) {
	for name, m := range map[string]*mesh.Mesh{
		"sphere": sample.Icosphere(20, 4), "torus": sample.Torus(15, 5, 36, 18), "ellipsoid": scaled(sample.Icosphere(1, 2), 10, 15, 20),
		"without order": scaled(scattered(600, 1), 20, 20, 20), "ellipsoid without order": scaled(scattered(600, 1), 10, 15, 20),
	} {
		g, err := Look(context.Background(), m, nil, 40)
		if err != nil {
			t.Fatal(err)
		}
		s, err := g.raise(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		worst, facets := 0.0, 0.0
		for h, o := range g.E.Mate {
			if o < int32(h) || g.Crease[h] {
				continue
			}
			p, q := s.patch(int32(h/3)), s.patch(o/3)
			for _, x := range []float64{0.1, 0.37, 0.5, 0.8} {
				a, b := s.edgeNormal(int32(h/3), &p, h%3, x), s.edgeNormal(o/3, &q, int(o%3), 1-x)
				worst = max(worst, math.Asin(a.Cross(b).Len())*180/math.Pi)
				if a.Dot(b) < 0 {
					t.Fatalf("%s: folded at half-edge %d", name, h)
				}
			}
			facets = max(facets, math.Abs(float64(g.Kink[h]))*180/math.Pi)
		}
		if worst > 1e-4 {
			t.Errorf("%s: kink of %.6f° across old edges, %.2f° between the facets, %d curves held back", name, worst, facets, s.capped)
		}
	}
}

// Noise must not grow: the refined surface passes through the noisy vertices, and stays about as near to the
// sphere as they are; while the chord error, which is what it is to mend, goes.
func TestNoiseDoesNotGrow(t *testing.T) {
	for _, a := range []float64{0.001, 0.005, 0.02, 0.1} {
		r := rand.New(rand.NewPCG(1, 2))
		m := sample.Icosphere(20, 4)
		for i, p := range m.Vertices {
			m.Vertices[i] = p.Mul(1 + a*(2*r.Float64()-1)/20)
		}
		res := refine(t, m, Params{Chord: 0.001})
		sound(t, m, res)
		before, after := furthest(m, offSphere(20)), furthest(res.Mesh, offSphere(20))
		t.Logf("noise of ±%.0f µm: off %.1f before, %.1f µm after, capped %d", 1000*a, 1000*before, 1000*after, res.Capped)
		if after > before || after > 1.6*a+0.001 {
			t.Errorf("noise of ±%.0f µm: off %.1f before, %.1f µm after", 1000*a, 1000*before, 1000*after)
		}
	}
}

// What is flat is flat afterwards, to the bit, and has no more triangles than its edges ask for.
func TestFlatsStayFlat(t *testing.T) {
	box := sample.Box(v(1, 2, 3), v(11, 5, 4))
	if r := refine(t, box, Params{Chord: 1e-6, KinkDeg: 0.01}); !reflect.DeepEqual(r.Mesh, box) || r.MovedMM != 0 || r.Before.ChordMM != 0 {
		t.Errorf("a box became %d triangles, moved by %g", len(r.Mesh.Triangles), r.MovedMM)
	}
	// leaning, so that its numbers are not round
	lean := box.Map(func(p geom.Vec3) geom.Vec3 {
		return v(0.36*p.X+0.48*p.Y-0.8*p.Z, -0.8*p.X+0.6*p.Y, 0.48*p.X+0.64*p.Y+0.6*p.Z)
	})
	if r := refine(t, lean, Params{Chord: 1e-6, KinkDeg: 0.01}); len(r.Mesh.Triangles) != 12 {
		t.Errorf("a leaning box became %d triangles", len(r.Mesh.Triangles))
	}

	for _, n := range []int{24, 64} {
		m := cylinder(10, 30, n)
		r := refine(t, m, Params{Chord: 0.001, KinkDeg: 0.5})
		sound(t, m, r)
		g, _ := Look(context.Background(), r.Mesh, nil, 40)
		for i := range r.Mesh.Triangles {
			for h := 3 * i; h < 3*i+3; h++ {
				p := r.Mesh.Vertices[r.Mesh.Triangles[i][h%3]]
				if g.Crease[h] && math.Abs(math.Hypot(p.X, p.Y)-10) > 0.001 {
					t.Fatalf("%d sides: the rim is at radius %.6f", n, math.Hypot(p.X, p.Y))
				}
				if c := r.From[i] >= int32(2*n); c && p.Z != 0 && p.Z != 30 {
					t.Fatalf("%d sides: an end is at %v", n, p.Z)
				}
			}
		}
		off := furthest(r.Mesh, func(p geom.Vec3) float64 { return max(math.Hypot(p.X, p.Y)-10, -p.Z, p.Z-30) })
		if off > 0.001 {
			t.Errorf("%d sides: %.3f µm out of the cylinder", n, 1000*off)
		}
		// both ends closed, r²πh within what 1 µm at the radius is
		if vol := r.Mesh.Health().Volume; math.Abs(vol-math.Pi*100*30) > 0.001*2*math.Pi*10*32 {
			t.Errorf("%d sides: volume %.4f, want %.4f", n, vol, math.Pi*100*30)
		}
		if r.After.KinkDeg > 0.5 || r.Capped != 0 {
			t.Errorf("%d sides: kink %.3f, %d capped", n, r.After.KinkDeg, r.Capped)
		}
	}
}

// roundedDisc is a disc with its rims rounded by a quarter circle that leaves flat and wall tangentially.
func roundedDisc(steps, n int) (*mesh.Mesh, func(geom.Vec3) float64) {
	const r, round, h = 20.0, 2.0, 10.0
	var line []geom.Vec2
	for i := range steps + 1 {
		s, c := math.Sincos(math.Pi / 2 * float64(i) / float64(steps))
		line = append(line, geom.Vec2{X: r - round + round*s, Y: round - round*c})
	}
	for i := range steps + 1 {
		s, c := math.Sincos(math.Pi / 2 * float64(i) / float64(steps))
		line = append(line, geom.Vec2{X: r - round + round*c, Y: h - round + round*s})
	}
	off := func(p geom.Vec3) float64 {
		q := math.Hypot(p.X, p.Y)
		x, y := max(q-(r-round), 0), max(round-p.Z, p.Z-(h-round), 0)
		if x == 0 || y == 0 {
			return max(q-r, -p.Z, p.Z-h)
		}
		return math.Hypot(x, y) - round
	}
	return lathe(line, n), off
}

// Flats that run into a fillet tangentially stay flat, although the kink there is no crease.
func TestFlatsBesideFillets(t *testing.T) {
	m, off := roundedDisc(8, 96)
	r := refine(t, m, Params{Chord: 0.001, KinkDeg: 1})
	e := sound(t, m, r)
	flat := 0
	for i, f := range r.From {
		a, b, c := m.Corners(int(f))
		if a.Z == b.Z && b.Z == c.Z {
			flat++
			x, y, z := r.Mesh.Corners(i)
			if x.Z != a.Z || y.Z != a.Z || z.Z != a.Z {
				t.Fatalf("a flat at %g has corners at %v %v %v", a.Z, x.Z, y.Z, z.Z)
			}
		}
	}
	worst := 0.0 // out of the solid, and into it where it curves
	for i := range r.Mesh.Triangles {
		x, y, z := r.Mesh.Corners(i)
		worst = max(worst, math.Abs(off(x.Add(y).Add(z).Mul(1.0/3))))
	}
	if k := kink(r.Mesh, e, 40); flat == 0 || k > 1.6 {
		t.Errorf("%d flat triangles, kink %.3f°, before %.2f", flat, k, r.Before.KinkDeg)
	}
	// before, the chords of the quarter circle are 2·(1 − cos(π/32)) = 9.6 µm off, those of the disc 10.7 µm
	for i, f := range r.From {
		a, b, c := m.Corners(int(f))
		if a.Z == b.Z && b.Z == c.Z {
			continue
		}
		x, y, z := r.Mesh.Corners(i)
		if o := off(x.Add(y).Add(z).Mul(1.0 / 3)); math.Abs(o) > 0.002 {
			t.Fatalf("%.2f µm off at %v", 1000*o, x)
		}
	}
}

// A half ball: the round side keeps to the sphere right to its rim, which stays sharp and in its plane.
func TestHalfBall(t *testing.T) {
	var line []geom.Vec2
	for i := range 25 {
		s, c := math.Sincos(math.Pi / 2 * float64(i) / 24)
		line = append(line, geom.Vec2{X: 20 * c, Y: 20 * s})
	}
	line[24].X = 0
	m := lathe(line, 96)
	m.Triangles = m.Triangles[:len(m.Triangles):len(m.Triangles)]
	m = dropRepeats(m)
	r := refine(t, m, Params{Chord: 0.001})
	sound(t, m, r)
	for i, f := range r.From {
		a, b, c := m.Corners(int(f))
		for _, p := range r.Mesh.Triangles[i] {
			q := r.Mesh.Vertices[p]
			if a.Z == 0 && b.Z == 0 && c.Z == 0 {
				if q.Z != 0 {
					t.Fatalf("the flat has a corner at %v", q)
				}
			} else if math.Abs(q.Len()-20) > 0.0005 {
				t.Fatalf("%.3f µm off the sphere at %v", 1000*(q.Len()-20), q)
			}
		}
	}
}

func dropRepeats(m *mesh.Mesh) *mesh.Mesh {
	out := &mesh.Mesh{Vertices: m.Vertices}
	for _, t := range m.Triangles {
		if t[0] != t[1] && t[1] != t[2] && t[2] != t[0] {
			out.Triangles = append(out.Triangles, t)
		}
	}
	return out
}
