package choose

import (
	"context"
	"math"
	"testing"

	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/patch"
	"barwise/geom/mesh/sample"
	"barwise/plan/cl"
)

// bumpy is a ball with bumps, and hollows that a ball of 2 does not enter: n² triangles.
func bumpy(n int) *mesh.Mesh {
	c := geom.Vec3{X: 0.3, Y: 21.5, Z: -0.4}
	m := sample.Sphere(c, 8, n)
	for i, v := range m.Vertices {
		d := v.Sub(c)
		m.Vertices[i] = v.Add(d.Mul(0.06 * math.Sin(2.6*d.X) * math.Sin(2.9*d.Y) * math.Cos(2.3*d.Z)))
	}
	return m
}

// BenchmarkChoose judges twelve cutters of a small shop on 200 000 triangles from four sides.
//
//	go test -run '^$' -bench Choose -benchtime 2x ./plan/choose
func BenchmarkChoose(b *testing.B) {
	m := bumpy(448)
	p := piece(m, thick, quarters, shop()...)
	p.Samples = 0
	set := patch.Cut(m, 0.4, 400000)
	b.ResetTimer()
	for b.Loop() {
		c, err := Choose(context.Background(), cl.NewSurface(m), p, set)
		if err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(float64(len(m.Triangles)), "triangles")
		b.ReportMetric(float64(len(p.Candidates)), "cutters")
		b.ReportMetric(float64(c.Looked), "sequences")
		b.Logf("%+v", c)
	}
}
