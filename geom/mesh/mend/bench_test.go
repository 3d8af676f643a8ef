package mend

import (
	"context"
	"math/rand/v2"
	"testing"

	"barwise/geom/mesh"
	"barwise/geom/mesh/sample"
)

// million is a torus of a million triangles.
func million() *mesh.Mesh { return sample.Torus(100, 30, 1000, 500) }

func bench(b *testing.B, m *mesh.Mesh, p Params) {
	var r *Result
	for b.Loop() {
		var err error
		if r, err = Mend(context.Background(), m, p); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(len(m.Triangles))*float64(b.N)/b.Elapsed().Seconds()/1e6, "Mtri/s")
	b.ReportMetric(float64(len(r.Changes)), "changes")
}

func BenchmarkSound(b *testing.B) {
	bench(b, million(), Params{Weld: 1e-3, Duplicates: true, Orient: true, Fill: 10, Specks: 1})
}

// One triangle in a hundred is missing, one in ten turned over, and there are twins.
func BenchmarkBroken(b *testing.B) {
	r := rand.New(rand.NewPCG(1, 1))
	m := without(million(), func(int) bool { return r.IntN(100) == 0 })
	for i := range m.Triangles {
		if r.IntN(10) == 0 {
			m.Triangles[i][0], m.Triangles[i][1] = m.Triangles[i][1], m.Triangles[i][0]
		}
	}
	for range 10_000 {
		m.Triangles = append(m.Triangles, m.Triangles[r.IntN(len(m.Triangles))])
	}
	bench(b, m, Params{Weld: 1e-3, Duplicates: true, Orient: true, Fill: 10, Specks: 1})
}

// No two triangles share a vertex.
func BenchmarkSoup(b *testing.B) {
	m := exploded(million(), 1e-4, rand.New(rand.NewPCG(1, 1)))
	bench(b, m, Params{Weld: 1e-3, Duplicates: true, Orient: true, Fill: 10, Specks: 1})
}

// A gear of 16 000 corners is closed at both ends.
func BenchmarkEnds(b *testing.B) {
	bench(b, wall(gear(2000, 90, 100), 50, 2), Params{Fill: 300})
}
