package smooth

import (
	"context"
	"fmt"
	"math"
	"testing"
)

func TestWhere(t *testing.T) {
	m := cylinder(10, 30, 64)
	g, _ := Look(context.Background(), m, nil, 40)
	s, _ := g.raise(context.Background())
	for i, c := range s.curves {
		a, b := g.E.Ends(c.h)
		e := g.M.Vertices[b].Sub(g.M.Vertices[a])
		if i < 5 || i > 60 && i < 66 || (c.rise == 0) != (e.X == 0 && e.Y == 0) && !g.Crease[c.h] && e.Z != 0 {
			fmt.Println(i, a, b, c.rise, "crease", g.Crease[c.h], "speaks", s.speaks(c.h), "q", g.q[c.h], "l", e.Len())
		}
	}
	w := s.wants(Params{Chord: 0.0015, KinkDeg: 0.3, Most: 1e7, CreaseDeg: 40})
	r, _ := w.make(context.Background())
	g2, _ := Look(context.Background(), r.Mesh, nil, 40)
	n := 0
	for h, k := range g2.Kink {
		if math.Abs(float64(k))*180/math.Pi > 1 && n < 20 {
			n++
			f := r.From[h/3]
			fmt.Println(h, k*180/math.Pi, f, g.M.Triangles[f], w.shape(f), w.want[f], g.M.Triangles[r.From[g2.E.Mate[h]/3]])
		}
	}
}
