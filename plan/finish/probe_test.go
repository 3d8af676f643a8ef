package finish

import (
	"context"
	"math"
	"slices"
	"testing"

	"barwise/plan/cl"
	"barwise/shop/cutter"
)

func TestProbe(t *testing.T) {
	m := dragon(t, 40)
	box := m.Box()
	const r = 0.5
	in := Input{Surface: cl.NewSurface(m), Mesh: m, Cutter: cutter.Ball(r), YMin: box.Min.Y - r, YMax: box.Max.Y + r, Sides: fourSides(20.6, -21)}
	w := newWork(in, Params{Cusp: 0.002, Tolerance: 0.002, Decimals: 3}.defaults(in.Cutter))
	for i := range w.views {
		w.look(context.Background(), i)
	}
	for i, v := range w.views {
		w.decide(context.Background(), i)
		n := [5]int{}
		for _, s := range v.state {
			n[s]++
		}
		a := w.pitch * w.pitch
		t.Logf("side %d: own %.0f wall %.0f margin %.0f hanging %.0f mm² plan", i, float64(n[1])*a, float64(n[2])*a, float64(n[3])*a, float64(n[4])*a)
		al, _ := w.demand(v)
		var ideal float64
		show := func(name string, d []float32) {
			var q []float64
			sum := 0.0
			for k, x := range d {
				if v.state[k] == own && x > 0 {
					q = append(q, float64(x)/w.level())
					sum += a / float64(x)
				}
			}
			slices.Sort(q)
			t.Logf("   %s: deciles %.2f %.2f %.2f %.2f %.2f %.2f %.2f; length %.0f", name, q[len(q)/20], q[len(q)/10], q[len(q)/4], q[len(q)/2], q[3*len(q)/4], q[9*len(q)/10], q[19*len(q)/20], sum)
		}
		plain := make([]float32, len(al))
		for j := 1; j+1 < v.f.NY; j++ {
			for i := 1; i+1 < v.f.NX; i++ {
				at := j*v.f.NX + i
				if v.state[at] == own {
					gx, gy := gradient(v.f, i, j)
					plain[at] = float32(stepover(in.Cutter, w.p.Cusp, gy, gx))
					ideal += a * math.Sqrt(1+gx*gx+gy*gy) / w.level()
				}
			}
		}
		t.Logf("   ideal %.0f", ideal)
		show("plain", plain)
		show("demand", al)
		show("least plain", least(plain, v.f.NX, 1, 2))
		for _, ly := range w.layers(v) {
			c := [8]int{}
			for _, x := range ly.need {
				c[x]++
			}
			l := 0.0
			for k := 1; k < 8; k++ {
				l += float64(c[k]) * a / (float64(ly.gap(k-1)) * w.unit)
			}
			t.Logf("   layer %d s0 %d levels %d: %v length about %.0f", ly.dir, ly.s0, ly.levels, c, l)
		}
	}
}
