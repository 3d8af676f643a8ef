package smooth

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

func TestNoise(t *testing.T) {
	for _, a := range []float64{0.001, 0.005, 0.02, 0.1} {
		r := rand.New(rand.NewPCG(1, 2))
		m := icosphere(20, 4)
		for i, p := range m.Vertices {
			m.Vertices[i] = p.Mul(1 + a*(2*r.Float64()-1)/20)
		}
		rms := func(p *[]float64) (r, m float64) {
			for _, x := range *p {
				r += x * x
				m = max(m, math.Abs(x))
			}
			return math.Sqrt(r / float64(len(*p))), m
		}
		res, err := Refine(context.Background(), m, Params{Chord: 0.0005})
		if err != nil {
			t.Fatal(err)
		}
		// before, sampled at the same places
		var before, after []float64
		g, _ := Look(context.Background(), m, nil, 40)
		for i := range res.Mesh.Triangles {
			x, y, z := res.Mesh.Corners(i)
			p := x.Add(y).Add(z).Mul(1.0 / 3)
			after = append(after, p.Len()-20)
			x, _, _ = m.Corners(int(res.From[i]))
			n := g.Normal[res.From[i]]
			q := p.Mul(x.Dot(n) / p.Dot(n))
			before = append(before, q.Len()-20)
		}
		r1, m1 := rms(&before)
		r2, m2 := rms(&after)
		fmt.Printf("noise ±%.1f µm: rms %.3f -> %.3f max %.3f -> %.3f µm kink %.3f -> %.3f capped %d\n", a*1000, r1*1000, r2*1000, m1*1000, m2*1000, res.Before.KinkDeg, res.After.KinkDeg, res.Capped)
	}
}
