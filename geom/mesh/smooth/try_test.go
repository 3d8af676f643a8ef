package smooth

import (
	"context"
	"fmt"
	"math"
	"testing"
)

func TestWhere(t *testing.T) {
	m := scaled(scattered(2500, 1), 20, 20, 20)
	g, _ := Look(context.Background(), m, nil, 40)
	s, _ := g.raise(context.Background())
	w := s.wants(Params{Chord: 1, KinkDeg: 0.1, Most: 1e8, CreaseDeg: 40})
	for i := range w.want {
		w.want[i] = 16
	}
	w.whole = make([]bool, len(w.whole))
	r, _ := w.make(context.Background())
	g2, _ := Look(context.Background(), r.Mesh, nil, 40)
	type bad struct{ k, off float64 }
	b := make([]bad, len(m.Triangles))
	for h, k := range g2.Kink {
		f := r.From[h/3]
		b[f].k = max(b[f].k, math.Abs(float64(k))*180/math.Pi)
		p := r.Mesh.Vertices[r.Mesh.Triangles[h/3][h%3]]
		b[f].off = max(b[f].off, math.Abs(p.Len()-20)*1000)
	}
	for t, x := range b {
		if x.k > 5 || x.off > 1 {
			a, bb, c := m.Corners(t)
			fmt.Printf("%d kink %.2f off %.2f edges %.4f %.4f %.4f alt %.5f kinks %.4f %.4f %.4f", t, x.k, x.off, bb.Sub(a).Len(), c.Sub(bb).Len(), a.Sub(c).Len(), bb.Sub(a).Cross(c.Sub(a)).Len()/max(bb.Sub(a).Len(), c.Sub(bb).Len(), a.Sub(c).Len()), g.Kink[3*t], g.Kink[3*t+1], g.Kink[3*t+2])
			for h := 3 * t; h < 3*t+3; h++ {
				c := s.curves[s.of[h]]
				fmt.Printf(" [rise %.5f speaks %.5f crease %v q %.4f l2/rho %.4f]", c.rise, s.speaks(int32(h)), g.Crease[h], g.q[h], math.Pow(g.M.Vertices[g.M.Triangles[t][h%3]].Sub(g.M.Vertices[g.M.Triangles[t][(h+1)%3]]).Len(), 2)/20)
			}
			fmt.Println()
		}
	}
}
