package stock

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"barwise/geom"
)

// Rays at an uncut round bar: the quadratic for a cylinder.
func TestRayAtRoundBar(t *testing.T) {
	s := New(roundBar, quarters, 0.1)
	o := geom.Vec3{X: 30, Y: 12, Z: 4}
	d, n, ok := s.Ray(o, geom.Vec3{X: -2})
	x := math.Sqrt(100 - 16)
	if !ok {
		t.Fatal("missed")
	}
	near(t, "distance, in lengths of the direction", d, (30-x)/2, 1e-9)
	near(t, "normal", n.Sub(geom.Vec3{X: x / 10, Z: 0.4}).Len(), 0, 1e-9)
	if _, _, ok := s.Ray(geom.Vec3{X: 30, Y: 12, Z: 10.01}, geom.Vec3{X: -1}); ok {
		t.Error("hit beside the bar")
	}
	if _, _, ok := s.Ray(geom.Vec3{X: 30, Y: 30.01, Z: 4}, geom.Vec3{X: -1}); ok {
		t.Error("hit beyond the end")
	}
	d, n, ok = s.Ray(geom.Vec3{X: 1, Y: 50, Z: 2}, geom.Vec3{Y: -1})
	if !ok || math.Abs(d-20) > 1e-9 || n != (geom.Vec3{Y: 1}) {
		t.Errorf("end: %v %v %v", d, n, ok)
	}
}

// turned sets the fields of a square bar to a cylinder of radius r beyond y = 5, each side answerable
// for 60° to either hand: near its own horizon a sampled field is a chord a pitch wide.
func turned(r, pitch float64) *Stack {
	s := New(square, quarters, pitch)
	for k := range 4 {
		f := s.Field(k)
		for j := range f.NY {
			for i := range f.NX {
				if x := f.X(i); f.Y(j) > 5 {
					f.Z[j*f.NX+i] = float32(math.Sqrt(max(r*r/4, r*r-x*x)))
				}
			}
		}
		s.Changed(k)
	}
	return s
}

func TestRayAtCylinder(t *testing.T) {
	const r = 7.0
	v := turned(r, 0.1).View()
	rng := rand.New(rand.NewPCG(1, 1))
	hits := 0
	for range 4000 {
		target := geom.Vec3{X: rng.NormFloat64() * 3, Y: 8 + 20*rng.Float64(), Z: rng.NormFloat64() * 3}
		d := geom.Vec3{X: rng.NormFloat64(), Y: rng.NormFloat64() * 0.3, Z: rng.NormFloat64()}.Unit()
		o := target.Sub(d.Mul(60))
		a, b, c := d.X*d.X+d.Z*d.Z, o.X*d.X+o.Z*d.Z, o.X*o.X+o.Z*o.Z-r*r
		disc := b*b - a*c
		if disc < 0.3*a*r*r { // grazing
			continue
		}
		want := (-b - math.Sqrt(disc)) / a
		p := o.Add(d.Mul(want))
		if p.Y < 6 || p.Y > 29 {
			continue
		}
		if first := o.Add(d.Mul((5.2 - o.Y) / d.Y)); d.Y > 0 && math.Max(math.Abs(first.X), math.Abs(first.Z)) < 10 {
			continue // comes through the square part
		}
		h, ok := v.Hit(o, d)
		if !ok {
			t.Fatalf("missed from %v along %v", o, d)
		}
		hits++
		near(t, "distance", h.T, want, 0.01)
		if h.Side < 0 {
			t.Fatalf("a cut face taken for the bar's skin at %v", p)
		}
		if n := (geom.Vec3{X: p.X / r, Z: p.Z / r}); h.N.Dot(n) < 0.9995 {
			t.Fatalf("normal %v, want %v", h.N, n)
		}
	}
	if hits < 1000 {
		t.Errorf("only %d hits", hits)
	}
}

// Hit against walking the ray in small steps and asking every side's surface.
func TestRayAgainstSteps(t *testing.T) {
	for seed := range uint64(3) {
		v := carved(t, square, quarters, 0.2, seed+20).View()
		rng := rand.New(rand.NewPCG(seed, 2))
		cut := 0
		for range 400 {
			target := geom.Vec3{X: rng.NormFloat64() * 4, Y: 15 + rng.NormFloat64()*6, Z: rng.NormFloat64() * 4}
			d := geom.Vec3{X: rng.NormFloat64(), Y: rng.NormFloat64(), Z: rng.NormFloat64()}.Unit()
			o := target.Sub(d.Mul(60))
			h, ok := v.Hit(o, d)
			t0, t1, _, in := v.enter(o, d)
			want, found := 0.0, false
			const step = 0.003
			for tt := t0; in && tt <= t1 && !found; tt += step {
				found = true
				for k := range v.sides {
					f := &v.sides[k]
					q := f.turn.ToSide(o.Add(d.Mul(tt)))
					found = found && (!f.cut || q.Z <= f.height(q.X, q.Y)+2e-6)
				}
				want = tt
			}
			if !ok && found || ok && !found && t1-h.T > step {
				t.Fatalf("seed %d: hit %v, steps %v, from %v along %v", seed, ok, found, o, d)
			}
			if ok && found && (h.T > want+1e-5 || h.T < want-step-1e-5) && !thinner(v, o, d, h.T, step) {
				t.Fatalf("seed %d: hit at %g, steps at %g", seed, h.T, want)
			}
			if ok && h.Side >= 0 {
				cut++
			}
		}
		if cut < 20 {
			t.Errorf("seed %d: only %d cut faces", seed, cut)
		}
	}
}

// thinner reports whether the ray leaves the stock again within a step of t.
func thinner(v *View, o, d geom.Vec3, t, step float64) bool {
	for k := range v.sides {
		f := &v.sides[k]
		q := f.turn.ToSide(o.Add(d.Mul(t + step)))
		if q.Z > f.height(q.X, q.Y) {
			return true
		}
	}
	return false
}

// A picture along −Z of an uncut square bar: a rectangle of its width and length, all skin, all flat.
func TestRender(t *testing.T) {
	s := New(square, quarters, 0.1)
	s.Cut(0, profiles["flat"], geom.Vec3{X: -20, Y: 20, Z: 7}, geom.Vec3{X: 20, Y: 20, Z: 7})
	c := Camera{At: geom.Vec3{Y: 15}, Dir: geom.Vec3{Z: -1}, Up: geom.Vec3{Y: 1}, Width: 40}
	p, err := s.Render(context.Background(), c, 400, 400)
	if err != nil {
		t.Fatal(err)
	}
	skin, cut := 0, 0
	for k, side := range p.Side {
		switch side {
		case -1:
			skin++
			if p.Depth[k] != -10 || p.Normal[k] != [3]float32{0, 0, 1} {
				t.Fatalf("skin: depth %g, normal %v", p.Depth[k], p.Normal[k])
			}
		case 0:
			cut++
		}
	}
	near(t, "area seen", float64(skin+cut)*0.01, 600, 0.5)
	near(t, "slot seen", float64(cut)*0.01, 3.1*20, 2.01) // its walls lean over a cell each
	// upright and not mirrored: y grows up, x to the right
	at := func(x, y float64) int { return int((20-(y-15))/0.1)*400 + int((x+20)/0.1) }
	if k := at(3, 20); p.Side[k] != 0 || math.Abs(float64(p.Depth[k])+7) > 1e-5 {
		t.Errorf("slot not where it should be: side %d depth %g", p.Side[k], p.Depth[k])
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := s.Render(ctx, c, 400, 400); err == nil {
		t.Error("a cancelled render returned no error")
	}
	if err := s.CutMoves(ctx, 0, profiles["flat"], wander(rand.New(rand.NewPCG(1, 1)), 10)); err == nil {
		t.Error("a cancelled cut returned no error")
	}
}
