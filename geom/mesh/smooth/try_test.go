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
	w := s.wants(Params{Chord: 0.0015, KinkDeg: 0.5, Most: 1e7, CreaseDeg: 40})
	r, _ := w.make(context.Background())
	g2, _ := Look(context.Background(), r.Mesh, nil, 40)
	for h, k := range g2.Kink {
		if math.Abs(float64(k))*180/math.Pi > 8 {
			f := r.From[h/3]
			o := g2.E.Mate[h]
			f2 := r.From[o/3]
			fmt.Printf("h %d kink %.2f f %d %d", h, k*180/math.Pi, f, f2)
			for _, f := range []int32{f, f2} {
				fmt.Printf(" [want %.2f shape %v", w.want[f], w.shape(f))
				for h := 3 * f; h < 3*f+3; h++ {
					c := s.curves[s.of[h]]
					a, b := g.E.Ends(h)
					fmt.Printf(" (n %d whole %v rise %.5f L %.4f)", c.n, w.whole[s.of[h]], c.rise, g.M.Vertices[a].Sub(g.M.Vertices[b]).Len())
				}
				fmt.Printf("]")
			}
			for _, x := range []int{h / 3, int(o / 3)} {
				a, b, c := r.Mesh.Corners(x)
				fmt.Printf(" tri %.4f %.4f %.4f", a.Sub(b).Len(), b.Sub(c).Len(), c.Sub(a).Len())
			}
			fmt.Println()
		}
	}
}
