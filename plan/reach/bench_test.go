package reach

import (
	"context"
	"math"
	"testing"

	"barwise/geom"
	"barwise/geom/mesh/patch"
	"barwise/geom/mesh/sample"
	"barwise/plan/cl"
	"barwise/shop/cutter"
)

// BenchmarkPredict is the survey's first answer: 200 000 triangles, four sides, two cutters, coarse.
//
//	go test -run '^$' -bench Predict -benchtime 2x ./plan/reach
func BenchmarkPredict(b *testing.B) {
	m := sample.Sphere(geom.Vec3{X: 0.3, Y: 21.5, Z: -0.4}, 8, 448)
	for i, v := range m.Vertices { // bumps, and hollows that a ball of 2 does not enter
		d := v.Sub(geom.Vec3{X: 0.3, Y: 21.5, Z: -0.4})
		m.Vertices[i] = v.Add(d.Mul(0.06 * math.Sin(2.6*d.X) * math.Sin(2.9*d.Y) * math.Cos(2.3*d.Z)))
	}
	p := job(m, thick, quarters, slim(cutter.Ball(0.5)))
	p.Pitch, p.Exact = 0, false
	set := patch.Cut(m, 0.4, 400000)
	b.ResetTimer()
	for b.Loop() {
		out, err := Predict(context.Background(), cl.NewSurface(m), p, set)
		if err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(float64(len(m.Triangles)), "triangles")
		b.ReportMetric(out.Area[Reached], "mm²-reached")
		b.ReportMetric(float64(len(out.Places)), "places")
	}
}
