package pose

import (
	"context"
	"math"
	"testing"

	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/ply"
	"barwise/geom/mesh/sample"
)

func BenchmarkSearchDrilled(b *testing.B) {
	m := crossDrilled()
	for b.Loop() {
		if _, err := Search(context.Background(), m, Params{}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkDraw(b *testing.B) {
	by, err := newBody(crossDrilled())
	if err != nil {
		b.Fatal(err)
	}
	px := 2 * by.radius / float64(usual.climbPixels)
	c, _ := by.cloud(context.Background(), px)
	v := newView(by.radius, px, nil, 1)
	f := turned{geom.Vec3{X: 1}, geom.Vec3{Y: 1}, geom.Vec3{Z: 1}}.by(0, 33).by(1, 71)
	for b.Loop() {
		v.draw(c, f)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(len(c.x)), "ns/point")
}

// dragon is the Stanford dragon, 60 mm across, with its vertices put together in cubes until 200 000 triangles are left.
func dragon(tb testing.TB) *mesh.Mesh {
	m := sample.Dragon(tb, ply.Read)
	b := m.Box()
	k := 60 / max(b.Size().X, b.Size().Y, b.Size().Z)
	m = m.Map(func(p geom.Vec3) geom.Vec3 { return p.Sub(b.Centre()).Mul(k) })
	for cube := 0.1; ; cube *= 1.05 {
		seen := map[[3]int]int32{}
		out := &mesh.Mesh{}
		to := make([]int32, len(m.Vertices))
		for i, v := range m.Vertices {
			at := [3]int{int(math.Floor(v.X / cube)), int(math.Floor(v.Y / cube)), int(math.Floor(v.Z / cube))}
			j, ok := seen[at]
			if !ok {
				j = int32(len(out.Vertices))
				seen[at] = j
				out.Vertices = append(out.Vertices, v)
			}
			to[i] = j
		}
		for _, t := range m.Triangles {
			if a, b, c := to[t[0]], to[t[1]], to[t[2]]; a != b && b != c && c != a {
				out.Triangles = append(out.Triangles, [3]int32{a, b, c})
			}
		}
		if len(out.Triangles) <= 200_000 {
			return out
		}
	}
}

// The whole search, with all comparisons:
//
//	make meshes && BARWISE_MESHES=.meshes go test -run '^$' -bench SearchDragon -benchtime 1x ./plan/pose
func BenchmarkSearchDragon(b *testing.B) {
	m := dragon(b)
	b.ResetTimer()
	b.Logf("%d triangles", len(m.Triangles))
	for b.Loop() {
		f, err := Search(context.Background(), m, Params{})
		if err != nil {
			b.Fatal(err)
		}
		for _, c := range append(f.Best, f.Compare...) {
			b.Logf("%d sides, end %v: %.2f points, %.1f %% missed along (%.3f, %.3f, %.3f) turned %.1f", len(c.Sides), c.End, c.Cost, 100*c.MissedShare(), c.Dir.X, c.Dir.Y, c.Dir.Z, c.TurnDeg)
		}
	}
}

func BenchmarkSearchOneSet(b *testing.B) {
	m := tower(0.3)
	for b.Loop() {
		if _, err := Search(context.Background(), m, one(Set{Sides: Even(4)})); err != nil {
			b.Fatal(err)
		}
	}
}
