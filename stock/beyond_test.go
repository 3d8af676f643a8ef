package stock

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/sample"
	"barwise/shop/cutter"
)

// The bar less a box inside it, by the box's own measures. The box's faces lie off the lattice's planes.
func TestBeyondOfAnUncutBar(t *testing.T) {
	lo, hi := geom.Vec3{X: -3.03, Y: 8.07, Z: -4.01}, geom.Vec3{X: 5.13, Y: 21.04, Z: 2.06}
	m := sample.Box(lo, hi)
	d := hi.Sub(lo)
	box := d.X * d.Y * d.Z
	const o = 0.4 // grown by a ball: V + A·o + π·o²·(sum of edges)/4 + 4πo³/3 (Steiner)
	grown := box + 2*(d.X*d.Y+d.Y*d.Z+d.Z*d.X)*o + math.Pi*o*o*(d.X+d.Y+d.Z) + 4*math.Pi/3*o*o*o
	for _, c := range []struct {
		degs  []float64
		pitch float64
	}{{quarters, 0.25}, {nil, 0.25}, {[]float64{0, 60, 120, 180, 240, 300}, 0.25}} {
		s := New(square, c.degs, c.pitch)
		got, err := s.Beyond(context.Background(), m, Zone{}, []float64{0, o})
		if err != nil {
			t.Fatal(err)
		}
		bar := square.Area() * square.Length
		for k, want := range []float64{bar - box, bar - grown} {
			if math.Abs(got.Volume[k]-want) > 0.01*c.pitch*bar {
				t.Errorf("sides %v: %g mm³ farther than %g, want %g", c.degs, got.Volume[k], got.Off[k], want)
			}
		}
	}
}

// Point by point: under every field, in the bar, outside the model by a ray along y, and by the least of
// the distances from all triangles.
func TestBeyondIsTheDefinition(t *testing.T) {
	s := carved(t, square, quarters, 0.25, 3)
	m := sample.Sphere(geom.Vec3{X: 1.03, Y: 14.02, Z: -0.51}, 5.2, 32)
	zone := Zone{Y0: 9, Y1: 19.1, Rods: []Rod{{R: 2.2, Y0: 8, Y1: 11}}}
	off := []float64{0, 0.1, 0.3}
	got, err := s.Beyond(context.Background(), m, zone, off)
	if err != nil {
		t.Fatal(err)
	}
	r := rand.New(rand.NewPCG(5, 5))
	spots := map[geom.Vec3]Spot{}
	for _, p := range got.Spots {
		spots[key(p.At)] = p
	}
	checked := 0
	for range 6000 {
		q := geom.Vec3{X: 0.25 * float64(r.IntN(79)-39), Y: 0.25 * float64(36+r.IntN(41)), Z: 0.25 * float64(r.IntN(79)-39)}
		in := zone.Has(q) && math.Max(math.Abs(q.X), math.Abs(q.Z)) < square.Width/2 && q.Sub(geom.Vec3{X: 1.03, Y: 14.02, Z: -0.51}).Len() > 5.2
		close := false
		for k := range s.sides {
			sd := &s.sides[k]
			v := sd.turn.ToSide(q)
			i, j := sd.h.Nearest(v.XY())
			h := float64(sd.h.At(i, j))
			in = in && v.Z < h
			close = close || math.Abs(v.Z-h) < 1e-5
		}
		sp, has := spots[key(q)]
		if d := q.Sub(geom.Vec3{X: 1.03, Y: 14.02, Z: -0.51}).Len() - 5.2; math.Abs(d) < 0.05 || close {
			continue // within a facet of the sphere, or on a cut
		} else if has && math.Abs(sp.Off-math.Min(d, 0.3)) > 0.05 {
			t.Fatalf("%v is %g from the sphere, not %g", q, d, sp.Off)
		}
		if in != has {
			t.Fatalf("%v: counted %v, by definition %v", q, has, in)
		}
		if has {
			checked++
		}
	}
	if checked < 500 {
		t.Errorf("only %d points met", checked)
	}
}

func key(p geom.Vec3) geom.Vec3 {
	return geom.Vec3{X: math.Round(p.X * 1000), Y: math.Round(p.Y * 1000), Z: math.Round(p.Z * 1000)}
}

// A quarter turn of bar, cuts and model changes nothing, nor does mirroring them in z = 0.
func TestBeyondTurns(t *testing.T) {
	m := sample.Sphere(geom.Vec3{X: 1.03, Y: 14.02, Z: -0.51}, 5.2, 32)
	sum := func(degs []float64, turn float64) []float64 {
		s := New(square, degs, 0.2)
		for k := range degs {
			pts := wander(rand.New(rand.NewPCG(uint64(k), 2)), 60)
			if err := s.CutMoves(context.Background(), k, cutter.Ball(2), pts); err != nil {
				t.Fatal(err)
			}
		}
		v := &mesh.Mesh{Triangles: m.Triangles}
		for _, p := range m.Vertices {
			v.Vertices = append(v.Vertices, geom.TurnDeg(turn).ToPart(p))
		}
		b, err := s.Beyond(context.Background(), v, Zone{Y0: 5}, []float64{0, 0.1, 0.5})
		if err != nil {
			t.Fatal(err)
		}
		return b.Volume
	}
	want, got := sum([]float64{0, 90, 180, 270}, 0), sum([]float64{90, 180, 270, 0}, 90)
	for k := range want {
		if math.Abs(want[k]-got[k]) > 1e-6*want[k] || want[k] <= 0 {
			t.Errorf("%g mm³, turned by a quarter %g", want[k], got[k])
		}
	}
}

// Two shells that overlap are one solid.
func TestBeyondOverlappingShells(t *testing.T) {
	a := sample.Box(geom.Vec3{X: -3.03, Y: 8.07, Z: -4.01}, geom.Vec3{X: 1.13, Y: 21.04, Z: 2.06})
	b := sample.Box(geom.Vec3{X: -0.57, Y: 8.07, Z: -4.01}, geom.Vec3{X: 5.13, Y: 21.04, Z: 2.06})
	both := &mesh.Mesh{Vertices: append(append([]geom.Vec3{}, a.Vertices...), b.Vertices...), Triangles: append([][3]int32{}, a.Triangles...)}
	for _, f := range b.Triangles {
		n := int32(len(a.Vertices))
		both.Triangles = append(both.Triangles, [3]int32{f[0] + n, f[1] + n, f[2] + n})
	}
	whole := sample.Box(geom.Vec3{X: -3.03, Y: 8.07, Z: -4.01}, geom.Vec3{X: 5.13, Y: 21.04, Z: 2.06})
	s := New(square, quarters, 0.2)
	x, err := s.Beyond(context.Background(), both, Zone{}, []float64{0})
	if err != nil {
		t.Fatal(err)
	}
	y, err := s.Beyond(context.Background(), whole, Zone{}, []float64{0})
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(x.Volume[0]-y.Volume[0]) > 1e-6 {
		t.Errorf("%g mm³ beyond two boxes that overlap, %g beyond their union", x.Volume[0], y.Volume[0])
	}
}
