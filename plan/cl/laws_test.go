package cl

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"math"
	"math/rand/v2"
	"runtime"
	"testing"

	"barwise/geom"
	"barwise/geom/field"
	"barwise/geom/mesh"
	"barwise/geom/mesh/sample"
	"barwise/shop/cutter"
)

// testGrid has odd pitches, so that few nodes fall on the samples' own coordinates.
var testGrid = field.Grid{X0: -1.5137, Y0: -1.2229, DX: 0.1907, DY: 0.2113, NX: 37, NY: 33}

// same fails unless two fields agree to rounding.
func same(t *testing.T, what string, got, want *field.Field, tol float64) {
	t.Helper()
	bad := 0
	for k := range got.Z {
		a, b := float64(got.Z[k]), float64(want.Z[k])
		if a == b || math.Abs(a-b) <= tol {
			continue
		}
		if bad++; bad <= 3 {
			t.Errorf("%s: node %d: %v and %v", what, k, a, b)
		}
	}
}

// The law itself: no sampled point of the mesh may reach into the cutter, and the field may exceed what
// the samples ask for by no more than the spacing of the samples allows.
func TestFieldAgainstSamples(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	for mname, m := range sampleMeshes(r) {
		g := field.Grid{X0: -0.61, Y0: -0.57, DX: 0.83, DY: 0.77, NX: 7, NY: 7}
		for pname, p := range cutters() {
			f := mustField(t, m, geom.TurnDeg(0), p, 0, g)
			for j := range g.NY {
				for i := range g.NX {
					want, got := sampled(m, p, g.X(i), g.Y(j), 8), float64(f.At(i, j))
					if got < want-1e-6 {
						t.Fatalf("%s on %s: field %v below the sampled bound %v", pname, mname, got, want)
					}
					// samples lie within 1/8 of an edge of every point; the largest edges are about 3 mm
					if !math.IsInf(want, -1) && got > want+1.2 {
						t.Fatalf("%s on %s: field %v far above the sampled bound %v", pname, mname, got, want)
					}
				}
			}
		}
	}
}

func TestMirrored(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 8))
	for mname, m := range sampleMeshes(r) {
		mirror := &mesh.Mesh{}
		for _, v := range m.Vertices {
			mirror.Vertices = append(mirror.Vertices, geom.Vec3{X: -v.X, Y: v.Y, Z: v.Z})
		}
		for _, c := range m.Triangles {
			mirror.Triangles = append(mirror.Triangles, [3]int32{c[1], c[0], c[2]})
		}
		g := testGrid
		h := g
		h.X0 = -g.X(g.NX - 1)
		for pname, p := range cutters() {
			f, b := mustField(t, m, geom.TurnDeg(0), p, 0, g), mustField(t, mirror, geom.TurnDeg(0), p, 0, h)
			back := field.New(g, field.Empty)
			for j := range g.NY {
				for i := range g.NX {
					back.Z[j*g.NX+i] = b.At(g.NX-1-i, j)
				}
			}
			same(t, pname+" on "+mname+" mirrored", f, back, 2e-6)
		}
	}
}

// A quarter turn about the cutter's axis swaps the axes of the grid.
func TestQuarterTurned(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 10))
	for mname, m := range sampleMeshes(r) {
		turned := m.Map(func(v geom.Vec3) geom.Vec3 { return geom.Vec3{X: -v.Y, Y: v.X, Z: v.Z} })
		g := testGrid
		h := field.Grid{X0: -g.Y(g.NY - 1), Y0: g.X0, DX: g.DY, DY: g.DX, NX: g.NY, NY: g.NX}
		for pname, p := range cutters() {
			f, b := mustField(t, m, geom.TurnDeg(0), p, 0, g), mustField(t, turned, geom.TurnDeg(0), p, 0, h)
			back := field.New(g, field.Empty)
			for j := range g.NY {
				for i := range g.NX {
					back.Z[j*g.NX+i] = b.At(g.NY-1-j, i)
				}
			}
			same(t, pname+" on "+mname+" after a quarter turn", f, back, 2e-6)
		}
	}
}

// Side φ of a mesh is side 0 of the mesh turned.
func TestSides(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 12))
	m := globe(r, geom.Vec3{X: 2, Y: 2, Z: 1}, 1.5, 9, 13, 0.3)
	for _, deg := range []float64{30, 45, 90, 180, 211, 270} {
		turn := geom.TurnDeg(deg)
		g := testGrid
		g.X0 -= 2
		g.DX *= 1.5
		for pname, p := range cutters() {
			same(t, pname, mustField(t, m, turn, p, 0, g), mustField(t, m.Map(turn.ToSide), geom.TurnDeg(0), p, 0, g), 2e-6)
		}
	}
}

func TestShiftedAndRelabelled(t *testing.T) {
	r := rand.New(rand.NewPCG(13, 14))
	for mname, m := range sampleMeshes(r) {
		d := geom.Vec3{X: 16, Y: -8, Z: 4} // powers of two: a shift rounds no more than it must
		order := r.Perm(len(m.Vertices))
		other := &mesh.Mesh{Vertices: make([]geom.Vec3, len(m.Vertices))}
		for i, k := range order {
			other.Vertices[k] = m.Vertices[i].Add(d)
		}
		for _, k := range r.Perm(len(m.Triangles)) {
			c, a := m.Triangles[k], r.IntN(3)
			other.Triangles = append(other.Triangles, [3]int32{int32(order[c[a]]), int32(order[c[(a+1)%3]]), int32(order[c[(a+2)%3]])})
		}
		g, h := testGrid, testGrid
		h.X0, h.Y0 = g.X0+d.X, g.Y0+d.Y
		for pname, p := range cutters() {
			f, b := mustField(t, m, geom.TurnDeg(0), p, 0, g), mustField(t, other, geom.TurnDeg(0), p, 0, h)
			for i := range b.Z {
				b.Z[i] -= float32(d.Z)
			}
			same(t, pname+" on "+mname+" shifted", f, b, 3e-6)
		}
	}
}

// More mesh never lets the cutter lower, whether it shares vertices with the rest or not.
func TestMonotone(t *testing.T) {
	r := rand.New(rand.NewPCG(15, 16))
	for mname, m := range sampleMeshes(r) {
		part := &mesh.Mesh{Vertices: m.Vertices, Triangles: m.Triangles[:len(m.Triangles)/2]}
		for pname, p := range cutters() {
			f, b := mustField(t, part, geom.TurnDeg(0), p, 0, testGrid), mustField(t, m, geom.TurnDeg(0), p, 0, testGrid)
			for k := range f.Z {
				if b.Z[k] < f.Z[k]-1e-6 {
					t.Fatalf("%s on %s: %v with half the triangles, %v with all", pname, mname, f.Z[k], b.Z[k])
				}
			}
		}
	}
}

// clearance is the distance from a point, given by its radius from the axis and its height above the tip,
// to the body of the cutter, by sampling the profile; 0 inside.
func clearance(p cutter.Profile, radius, height float64) float64 {
	if radius <= p.R && height >= p.Height(radius) {
		return 0
	}
	best := math.Inf(1)
	const n = 500
	for i := 0; i <= n; i++ {
		r := p.R * float64(i) / n
		best = min(best, math.Hypot(radius-r, height-p.Height(r)))
	}
	if height > p.Rim() {
		best = min(best, radius-p.R)
	}
	return best
}

// With an allowance δ no sample of the mesh comes nearer to the cutter than δ, and some sample about as
// near. A cutter whose flank ends in a sharp rim keeps a little more, for its grown rim is kept sharp.
func TestAllowance(t *testing.T) {
	r := rand.New(rand.NewPCG(17, 18))
	const delta = 0.15
	m := terrain(r, 5, 4, 0.8)
	var points []geom.Vec3
	const n = 20
	for i := range m.Triangles {
		a, b, c := m.Corners(i)
		for j := 0; j <= n; j++ {
			for k := 0; j+k <= n; k++ {
				points = append(points, a.Mul(float64(n-j-k)/n).Add(b.Mul(float64(j)/n)).Add(c.Mul(float64(k)/n)))
			}
		}
	}
	g := field.Grid{X0: 0.53, Y0: 0.61, DX: 1.43, DY: 1.37, NX: 3, NY: 3}
	for name, p := range cutters() {
		f := mustField(t, m, geom.TurnDeg(0), p, delta, g)
		sharp := p.Half > 0 || p.Round > p.R
		for j := range g.NY {
			for i := range g.NX {
				tip, near := float64(f.At(i, j)), math.Inf(1)
				for _, q := range points {
					d := math.Hypot(q.X-g.X(i), q.Y-g.Y(j))
					if d < p.R+2*delta && q.Z > tip-2*delta {
						near = min(near, clearance(p, d, q.Z-tip))
					}
				}
				if near < delta-2e-3 {
					t.Errorf("%s: a point is only %v from the cutter", name, near)
				}
				if near > delta+5e-3 && !sharp {
					t.Errorf("%s: no point is nearer than %v", name, near)
				}
			}
		}
	}
}

// A ball on a sphere of radius ρ: its centre is ρ + R from the sphere's.
func TestBallOnSphere(t *testing.T) {
	const rings, radius = 200, 1.5
	m := globe(rand.New(rand.NewPCG(1, 1)), geom.Vec3{}, radius, rings, 2*rings, 0)
	for _, ball := range []float64{0.25, 1, 3} {
		g := field.Grid{X0: -radius - ball, Y0: -radius - ball, DX: (radius + ball) / 12.5, DY: (radius + ball) / 11.5, NX: 26, NY: 24}
		f := mustField(t, m, geom.TurnDeg(0), cutter.Ball(ball), 0, g)
		for j := range g.NY {
			for i := range g.NX {
				d := math.Hypot(g.X(i), g.Y(j)) / (radius + ball)
				if d > 0.99 {
					continue
				}
				// the facets lie within a sagitta of the sphere, which slope magnifies
				sagitta := radius * (1 - math.Pow(math.Cos(math.Pi/rings/2), 2)) * 2
				want := (radius+ball)*math.Sqrt(1-d*d) - ball
				if got := float64(f.At(i, j)); got > want+1e-6 || got < want-sagitta/math.Sqrt(1-d*d)-1e-6 {
					t.Errorf("ball %v at %v: %v, want %v less at most %v", ball, d, got, want, sagitta)
				}
			}
		}
	}
}

// A plane of slope σ holds the tip of a bull end of flat radius a and corner c at a·tan σ + c/cos σ − c
// above the plane under the axis, a flat end (c = 0) and a ball (a = 0) included; a cone at the greater of
// its tip and its rim; a tapered ball like its ball up to the flank's slope, then by its rim.
func TestPlanes(t *testing.T) {
	deg := math.Pi / 180
	for _, slope := range []float64{0, 1, 10, 30, 45, 60, 75, 85, 89} {
		s, c, tan := math.Sin(slope*deg), math.Cos(slope*deg), math.Tan(slope*deg)
		for _, turn := range []float64{0, 30, 77, 90, 200} {
			sn, cs := math.Sincos(turn * deg)
			at := func(u, v float64) geom.Vec3 { // u down the slope, v along the level
				return geom.Vec3{X: u*c*cs - v*sn, Y: u*c*sn + v*cs, Z: -u * s}
			}
			m := &mesh.Mesh{Vertices: []geom.Vec3{at(-400, -400), at(400, -400), at(0, 600)}, Triangles: [][3]int32{{0, 1, 2}}}
			above := map[string]float64{
				"flat": 1 * tan,
				"ball": 1/c - 1,
				"bull": 0.7*tan + 0.3/c - 0.3,
				"cone": max(0, 1*tan-1/math.Tan(30*deg)),
			}
			if tan <= 1/math.Tan(15*deg) {
				above["tapered ball"] = 0.4/c - 0.4
			} else {
				above["tapered ball"] = tan - cutters()["tapered ball"].Rim()
			}
			g := field.Grid{X0: -0.3, Y0: -0.2, DX: 0.31, DY: 0.17, NX: 3, NY: 3}
			ix := NewSurface(m).Index(geom.TurnDeg(0))
			for name, rise := range above {
				p := cutters()[name]
				f := mustField(t, m, geom.TurnDeg(0), p, 0, g)
				for j := range g.NY {
					for i := range g.NX {
						want := rise - tan*(g.X(i)*cs+g.Y(j)*sn)
						if got := float64(f.At(i, j)); math.Abs(got-want) > 1e-5 {
							t.Errorf("%s on a slope of %v° facing %v°: field %v, want %v", name, slope, turn, got, want)
						}
						if got := ix.Height(p, g.X(i), g.Y(j)); math.Abs(got-want) > 1e-9 {
							t.Errorf("%s on a slope of %v° facing %v°: index %v, want %v", name, slope, turn, got, want)
						}
					}
				}
			}
		}
	}
}

// An edge of rise m at horizontal distance d: a cone of slope k ≥ m is held at −d·√(k² − m²) from the foot,
// a ball at √(1+m²)·√(R²−d²) − R, a flat end at m·√(R²−d²).
func TestEdges(t *testing.T) {
	for _, m := range []float64{0, 0.2, 1, 1.7} {
		ridge := &mesh.Mesh{
			Vertices:  []geom.Vec3{{X: -50, Z: -50 * m}, {X: 50, Z: 50 * m}, {X: 0, Y: 1e-4, Z: -1e5}, {X: 0, Y: -1e-4, Z: -1e5}},
			Triangles: [][3]int32{{0, 1, 2}, {1, 0, 3}},
		}
		k := 1 / math.Tan(30*math.Pi/180)
		g := field.Grid{X0: -1, Y0: -0.96, DX: 0.4, DY: 0.12, NX: 5, NY: 17}
		for name, held := range map[string]func(d float64) float64{
			"cone": func(d float64) float64 { // up to where the rim takes over
				s := m * d / math.Sqrt(k*k-m*m)
				if d*d+s*s > 1 {
					s = math.Sqrt(1 - d*d)
				}
				return m*s - k*math.Hypot(d, s)
			},
			"ball": func(d float64) float64 { return math.Sqrt((1+m*m)*(1-d*d)) - 1 },
			"flat": func(d float64) float64 { return m * math.Sqrt(1-d*d) },
		} {
			f := mustField(t, ridge, geom.TurnDeg(0), cutters()[name], 0, g)
			for j := range g.NY {
				for i := range g.NX {
					want := m*g.X(i) + held(math.Abs(g.Y(j)))
					if got := float64(f.At(i, j)); math.Abs(got-want) > 1e-5 {
						t.Errorf("%s on an edge of rise %v at (%v, %v): %v, want %v", name, m, g.X(i), g.Y(j), got, want)
					}
				}
			}
		}
	}
}

// Beside an upright wall of height 1 the cutter rests on the wall's upper edge: at 1 − h(d).
func TestWall(t *testing.T) {
	m := sample.Box(geom.Vec3{X: -5, Y: -5, Z: -1}, geom.Vec3{X: 0, Y: 5, Z: 1})
	g := field.Grid{X0: -1, Y0: -1, DX: 0.125, DY: 0.5, NX: 20, NY: 5}
	for name, p := range cutters() {
		f := mustField(t, m, geom.TurnDeg(0), p, 0, g)
		for j := range g.NY {
			for i := range g.NX {
				want := math.Inf(-1)
				if x := g.X(i); x <= p.R {
					want = 1 - p.Height(max(0, x))
				}
				if got := float64(f.At(i, j)); got != want && math.Abs(got-want) > 1e-6 {
					t.Errorf("%s at x = %v: %v, want %v", name, g.X(i), got, want)
				}
			}
		}
	}
}

func TestSameBytesOnAnyNumberOfCores(t *testing.T) {
	r := rand.New(rand.NewPCG(19, 20))
	m := mesh.Join(globe(r, geom.Vec3{X: 2, Y: 2, Z: 1}, 1.5, 40, 60, 0.01), terrain(r, 20, 4, 0.2))
	g := field.Grid{X0: -0.5, Y0: -0.5, DX: 0.025, DY: 0.037, NX: 200, NY: 140}
	run := func(cores int) []byte {
		defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(cores))
		var out bytes.Buffer
		for _, name := range []string{"ball", "bull"} {
			s := NewSurface(m)
			f, err := s.Field(context.Background(), geom.TurnDeg(33), cutters()[name], 0.05, g)
			if err != nil {
				t.Fatal(err)
			}
			ix := s.Index(geom.TurnDeg(33))
			_ = binary.Write(&out, binary.LittleEndian, f.Z)
			for k := range 50 {
				_ = binary.Write(&out, binary.LittleEndian, ix.Height(cutters()[name], float64(k)*0.07, float64(k)*0.05))
			}
		}
		return out.Bytes()
	}
	one := run(1)
	for _, cores := range []int{2, 3, 8} {
		if !bytes.Equal(one, run(cores)) {
			t.Errorf("%d cores give other bytes than one", cores)
		}
	}
}

// Contact's point is on the mesh, holds the tip at the height given, and a ball's centre stands over it
// along the normal.
func TestContact(t *testing.T) {
	r := rand.New(rand.NewPCG(21, 22))
	for mname, m := range sampleMeshes(r) {
		ix := NewSurface(m).Index(geom.TurnDeg(0))
		for pname, p := range cutters() {
			for range 40 {
				x, y := 6*r.Float64()-1, 6*r.Float64()-1
				z, q, n, ok := ix.Contact(p, x, y)
				if ok != !math.IsInf(ix.Height(p, x, y), -1) {
					t.Fatalf("%s on %s: contact and height disagree", pname, mname)
				}
				if !ok {
					continue
				}
				d := math.Hypot(q.X-x, q.Y-y)
				if math.Abs(q.Z-p.Height(min(d, p.R))-z) > 1e-9 || d > p.R+1e-9 {
					t.Fatalf("%s on %s: touches %v, %v from the axis, at %v", pname, mname, q, d, z)
				}
				if math.Abs(n.Len()-1) > 1e-12 || n.Z < 0 {
					t.Fatalf("%s on %s: normal %v", pname, mname, n)
				}
				centre := q.Add(n.Mul(p.R)).Sub(geom.Vec3{X: x, Y: y, Z: z + p.R})
				if pname == "ball" && centre.Len() > 1e-7 {
					t.Fatalf("ball on %s: the normal misses the centre by %v", mname, centre.Len())
				}
				if off := distance(m, q); off > 1e-9 {
					t.Fatalf("%s on %s: the touched point is %v off the mesh", pname, mname, off)
				}
			}
		}
	}
}

// distance from q to the nearest triangle's plane patch, by projection onto every triangle and edge.
func distance(m *mesh.Mesh, q geom.Vec3) float64 {
	best := math.Inf(1)
	for i := range m.Triangles {
		a, b, c := m.Corners(i)
		n := b.Sub(a).Cross(c.Sub(a)).Unit()
		p := q.Sub(n.Mul(q.Sub(a).Dot(n)))
		in := func(a, b geom.Vec3) bool { return b.Sub(a).Cross(p.Sub(a)).Dot(n) >= 0 }
		if in(a, b) && in(b, c) && in(c, a) {
			best = min(best, p.Sub(q).Len())
		}
		for _, e := range [][2]geom.Vec3{{a, b}, {b, c}, {c, a}} {
			d := e[1].Sub(e[0])
			k := 0.0
			if l := d.Dot(d); l > 0 {
				k = min(max(q.Sub(e[0]).Dot(d)/l, 0), 1)
			}
			best = min(best, e[0].Lerp(e[1], k).Sub(q).Len())
		}
	}
	return best
}

func TestOddInput(t *testing.T) {
	nan := math.NaN()
	g := field.Grid{DX: 0.5, DY: 0.5, NX: 9, NY: 9}
	p := cutter.Ball(1)
	one := &mesh.Mesh{Vertices: []geom.Vec3{{X: 1, Y: 1, Z: 1}, {X: 2, Y: 1, Z: 1}, {X: 1, Y: 2, Z: 2}}, Triangles: [][3]int32{{0, 1, 2}}}
	want := mustField(t, one, geom.TurnDeg(0), p, 0, g)
	odd := &mesh.Mesh{
		Vertices:  append(append([]geom.Vec3(nil), one.Vertices...), geom.Vec3{X: nan}, geom.Vec3{Y: math.Inf(1)}, geom.Vec3{X: 1e300, Y: -1e300}),
		Triangles: [][3]int32{{0, 1, 2}, {0, 1, 3}, {1, 2, 4}, {3, 3, 3}},
	}
	same(t, "triangles that are no numbers", mustField(t, odd, geom.TurnDeg(0), p, 0, g), want, 1e-6)
	if h := NewSurface(odd).Index(geom.TurnDeg(0)).Height(p, 1.5, 1.5); math.Abs(h-float64(want.At(3, 3))) > 1e-6 {
		t.Errorf("index %v, field %v", h, want.At(3, 3))
	}
	for _, z := range mustField(t, &mesh.Mesh{}, geom.TurnDeg(0), p, 0, g).Z {
		if z != field.Empty {
			t.Fatalf("an empty mesh holds the cutter at %v", z)
		}
	}
	if _, _, _, ok := NewSurface(&mesh.Mesh{}).Index(geom.TurnDeg(0)).Contact(p, nan, 0); ok {
		t.Error("an empty mesh is touched")
	}
	if f := mustField(t, one, geom.TurnDeg(0), p, 0, field.Grid{DX: 1, DY: 1}); len(f.Z) != 0 {
		t.Error("a grid without nodes has heights")
	}
	s := NewSurface(one)
	if _, err := s.Field(context.Background(), geom.TurnDeg(0), p, -2, g); err == nil {
		t.Error("a cutter shrunk to nothing was accepted")
	}
	if _, err := s.Field(context.Background(), geom.TurnDeg(0), p, 0, field.Grid{DX: nan, DY: 1, NX: 3, NY: 3}); err == nil {
		t.Error("a pitch that is no number was accepted")
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := s.Field(ctx, geom.TurnDeg(0), p, 0, g); !errors.Is(err, context.Canceled) {
		t.Errorf("a cancelled call returned %v", err)
	}
}

// Pitches may differ tenfold and triangles may be far larger or smaller than they.
func TestScales(t *testing.T) {
	r := rand.New(rand.NewPCG(23, 24))
	for name, m := range map[string]*mesh.Mesh{
		"large": sample.Box(geom.Vec3{X: -300, Y: -200, Z: -5}, geom.Vec3{X: 2.2, Y: 2.3, Z: 0.7}),
		"small": globe(r, geom.Vec3{X: 2, Y: 2, Z: 1}, 0.05, 20, 20, 0.1),
		"both":  mesh.Join(terrain(r, 3, 4, 1), globe(r, geom.Vec3{X: 2, Y: 2, Z: 1}, 0.1, 12, 12, 0.2)),
	} {
		for _, g := range []field.Grid{
			{X0: 0.013, Y0: 0.017, DX: 0.4, DY: 0.04, NX: 10, NY: 90},
			{X0: 0.013, Y0: 0.017, DX: 0.033, DY: 0.33, NX: 110, NY: 11},
		} {
			for pname, p := range cutters() {
				f := mustField(t, m, geom.TurnDeg(0), p, 0, g)
				ix := NewSurface(m).Index(geom.TurnDeg(0))
				for j := range g.NY {
					for i := range g.NX {
						got, want := float64(f.At(i, j)), ix.Height(p, g.X(i), g.Y(j))
						if got != want && !(math.Abs(got-want) <= 1e-6) {
							t.Fatalf("%s on %s at (%v, %v): field %v, index %v", pname, name, g.X(i), g.Y(j), got, want)
						}
					}
				}
			}
		}
	}
}
