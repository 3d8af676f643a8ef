package corner

import (
	"context"
	"math"
	"testing"

	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/plan/cl"
	"barwise/plan/share"
	"barwise/shop/cutter"
)

// The solids are made here from closed forms; vertices lie on the exact surface.

// ground is a height field over [x0,x1]×[y0,y1] with straight lines between the given stations, closed
// below at bottom.
func ground(xs, ys []float64, bottom float64, z func(x, y float64) float64) *mesh.Mesh {
	m := &mesh.Mesh{}
	nx, ny := len(xs), len(ys)
	top := func(i, j int) int32 { return int32(2 * (j*nx + i)) }
	for j := range ny {
		for i := range nx {
			m.Vertices = append(m.Vertices, geom.Vec3{X: xs[i], Y: ys[j], Z: z(xs[i], ys[j])}, geom.Vec3{X: xs[i], Y: ys[j], Z: bottom})
		}
	}
	quad := func(a, b, c, d int32) {
		m.Triangles = append(m.Triangles, [3]int32{a, b, c}, [3]int32{a, c, d})
	}
	for j := range ny - 1 {
		for i := range nx - 1 {
			a, b, c, d := top(i, j), top(i+1, j), top(i+1, j+1), top(i, j+1)
			quad(a, b, c, d)
			quad(d+1, c+1, b+1, a+1)
		}
	}
	for i := range nx - 1 {
		a, b := top(i, 0), top(i+1, 0)
		quad(a+1, b+1, b, a)
		a, b = top(i, ny-1), top(i+1, ny-1)
		quad(b+1, a+1, a, b)
	}
	for j := range ny - 1 {
		a, b := top(0, j), top(0, j+1)
		quad(b+1, a+1, a, b)
		a, b = top(nx-1, j), top(nx-1, j+1)
		quad(a+1, b+1, b, a)
	}
	return m
}

// vee is a groove along x whose flanks lean half from upright; its bottom lies at z = 0, its rims at top.
func vee(halfDeg, long, top, wide float64) *mesh.Mesh {
	k := 1 / math.Tan(halfDeg*math.Pi/180)
	return ground([]float64{-long / 2, long / 2}, []float64{-wide, -top / k, 0, top / k, wide}, -4, func(_, y float64) float64 {
		return min(math.Abs(y)*k, top)
	})
}

// scene is a share of a mesh looked at from some sides, decided.
func scene(t testing.TB, m *mesh.Mesh, r, pitch float64, degs ...float64) *share.Set {
	t.Helper()
	b := m.Box()
	half := max(math.Abs(b.Min.X), math.Abs(b.Max.X), math.Abs(b.Min.Z), math.Abs(b.Max.Z)) + 2
	in := share.Input{Surface: cl.NewSurface(m), Mesh: m, Cutter: cutter.Ball(r), YMin: b.Min.Y - 2, YMax: b.Max.Y + 2}
	for _, d := range degs {
		in.Sides = append(in.Sides, share.Side{Deg: d, XMin: -half, XMax: half, ZMin: -half})
	}
	s := share.New(in, share.Params{Pitch: pitch, Near: 0.01})
	if err := s.All(context.Background()); err != nil {
		t.Fatal(err)
	}
	return s
}

// before is a ball that went before within the limits of the small cutter.
func before(s *share.Set, r float64) Earlier {
	return Earlier{Cutter: cutter.Ball(r), Sides: s.Sides, YMin: s.YMin, YMax: s.YMax}
}

func find(t testing.TB, s *share.Set, p Params, large ...Earlier) *Left {
	t.Helper()
	l, err := Find(context.Background(), s, large, p)
	if err != nil {
		t.Fatal(err)
	}
	return l
}
