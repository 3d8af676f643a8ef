package smooth

import (
	"context"
	"fmt"
	"math"
	"testing"
)

func TestWhere(t *testing.T) {
	m := torus(15, 5, 36, 18)
	g, _ := Look(context.Background(), m, nil, 40)
	s, _ := g.raise(context.Background())
	worst := 0.0
	for h := range g.E.Mate {
		p := m.Vertices[m.Triangles[h/3][h%3]]
		q := v(p.X, p.Y, 0).Unit().Mul(15)
		n := p.Sub(q).Unit()
		worst = max(worst, n.Cross(s.normal[s.sectors.of[h]]).Len())
	}
	fmt.Println("normal error deg", worst*57.3)
	hist := map[int]float64{}
	for i := range s.curves {
		c := &s.curves[i]
		a, b := g.E.Ends(c.h)
		e := m.Vertices[b].Sub(m.Vertices[a])
		x := m.Vertices[a].Lerp(m.Vertices[b], 0.5).Add(c.at(e, 0.5))
		d := offTorus(15, 5)(x)
		kind := 0
		if (b-a)%18 == 0 { kind = 1 } else if math.Abs(e.Z) > 0 && g.Kink[c.h] == 0 { kind = 2 } else if math.Abs(float64(g.Kink[c.h])) < 0.05 { kind = 3 }
		if math.Abs(d) > hist[kind] { hist[kind] = math.Abs(d) }
	}
	fmt.Println(hist)
	w := 0.0
	for t := range m.Triangles {
		p := s.patch(int32(t))
		x := s.point(int32(t), &p, 1./3, 1./3, 1./3)
		w = max(w, math.Abs(offTorus(15, 5)(x)))
	}
	fmt.Println("mid", w)
}
