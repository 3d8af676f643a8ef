package share

import (
	"context"
	"math"
	"math/rand"
	"testing"

	"barwise/geom"
	"barwise/geom/mesh/sample"
	"barwise/plan/cl"
	"barwise/shop/cutter"
)

// On a ball about the axis four sides share by planes at 45°: a place belongs to the side it faces.
func TestSquareBarGivesWedges(t *testing.T) {
	const r = 0.5
	m := sample.Ellipsoid(geom.Vec3{X: 5, Y: 5, Z: 5}, 120)
	in := Input{Surface: cl.NewSurface(m), Mesh: m, Cutter: cutter.Ball(r), Sides: []Side{{Deg: 0, XMin: -6, XMax: 6, ZMin: -6}, {Deg: 90, XMin: -6, XMax: 6, ZMin: -6}, {Deg: 180, XMin: -6, XMax: 6, ZMin: -6}, {Deg: 270, XMin: -6, XMax: 6, ZMin: -6}}, YMin: -6, YMax: 6}
	w := New(in, Params{Near: 0.002})
	for i := range w.Views {
		if err := w.Look(context.Background(), i); err != nil {
			t.Fatal(err)
		}
	}
	for i, v := range w.Views {
		if err := w.Decide(context.Background(), i); err != nil {
			t.Fatal(err)
		}
		w.Spread(v)
		f := v.Field
		for j := range f.NY {
			for k := range f.NX {
				at := j*f.NX + k
				z := float64(f.Z[at])
				c := geom.Vec3{X: f.X(k), Y: f.Y(j), Z: z + r}
				if z <= v.ZMin || math.Abs(c.Len()-5.5) > 0.01 {
					continue // not on the sphere
				}
				a := math.Abs(c.X) - c.Z // past the 45° plane; parts that vote are 0.3 mm wide
				if math.Hypot(c.X, c.Z) < 1 {
					continue // about the poles all sides see alike
				}
				if got := v.State[at]; a < -0.3 && got != Own || a > 0.5 && got == Own {
					t.Fatalf("side %d: place %.3f, %.2f mm past the plane: state %d", i, c, a, got)
				}
			}
		}
	}
}

// The nearest point of a triangle, against a fine sampling of it, and the search in cells against all.
func TestShellAgainstAll(t *testing.T) {
	r := rand.New(rand.NewSource(5))
	m := sample.Ellipsoid(geom.Vec3{X: 2, Y: 3, Z: 1}, 12)
	s := newShell(m, 0.3)
	for range 300 {
		p := geom.Vec3{X: 5*r.Float64() - 2.5, Y: 7*r.Float64() - 3.5, Z: 3*r.Float64() - 1.5}
		u := geom.Vec3{X: r.NormFloat64(), Y: r.NormFloat64(), Z: r.NormFloat64()}.Unit()
		d := 0.2 + r.Float64()
		want := false
		for i := range m.Triangles {
			a, b, c := m.Corners(i)
			q := closest(p, a, b, c)
			for range 5 { // no point of the triangle is nearer
				x, y := r.Float64(), r.Float64()
				if x+y > 1 {
					x, y = 1-x, 1-y
				}
				if o := a.Add(b.Sub(a).Mul(x)).Add(c.Sub(a).Mul(y)); o.Sub(p).Len() < q.Sub(p).Len()-1e-9 {
					t.Fatalf("%v of triangle %d is nearer to %v than %v", o, i, p, q)
				}
			}
			l := q.Sub(p).Len()
			want = want || l <= d && q.Sub(p).Dot(u) >= leastCos*l
		}
		if got := s.near(p, u, d); got != want {
			t.Fatalf("near %v towards %v within %g: %v", p, u, d, got)
		}
	}
}
