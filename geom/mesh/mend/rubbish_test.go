package mend

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"testing"

	"barwise/finding"
	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/sample"
)

// soak is n, or a hundred times that where time is given.
func soak(n int) int {
	if os.Getenv("BARWISE_SOAK") != "" {
		return 100 * n
	}
	return n
}

// Rubbish: random triangles on few vertices, some in one place. Nothing panics, what was asked for is
// accounted for, and no sound triangle that stands alone on its corners is lost.
func TestRubbish(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 9))
	for n := range soak(1000) {
		m := &mesh.Mesh{}
		k := 3 + r.IntN(12)
		for range k {
			p := v(float64(r.IntN(4)), float64(r.IntN(4)), float64(r.IntN(3)))
			if r.IntN(3) == 0 {
				p = v(4*r.Float64(), 4*r.Float64(), 4*r.Float64())
			}
			m.Vertices = append(m.Vertices, p)
		}
		for range 1 + r.IntN(40) {
			m.Triangles = append(m.Triangles, [3]int32{int32(r.IntN(k)), int32(r.IntN(k)), int32(r.IntN(k))})
		}
		before := slices.Clone(m.Triangles)
		p := Params{Duplicates: r.IntN(2) == 0, Orient: r.IntN(2) == 0, Fill: float64(r.IntN(3)) * 3}
		if r.IntN(2) == 0 {
			p.Weld = 0.1 * r.Float64()
		}
		res := mend(t, m, p)
		if !slices.Equal(before, m.Triangles) {
			t.Fatalf("%d: the input was changed", n)
		}
		if p.Weld > 0 || p.Duplicates {
			continue
		}
		// every triangle is there, turned at most
		if len(res.Mesh.Triangles) < len(m.Triangles) {
			t.Fatalf("%d: %d triangles of %d", n, len(res.Mesh.Triangles), len(m.Triangles))
		}
		for i := range m.Triangles {
			a, b, c := m.Corners(i)
			x, y, z := res.Mesh.Corners(i)
			if a != x || !(b == y && c == z || b == z && c == y) {
				t.Fatalf("%d: triangle %d is another one", n, i)
			}
		}
		if p.Orient && p.Fill > 0 && res.After.OneSided != res.Before.OneSided && !res.Before.OneSided && res.Before.Crowded == 0 {
			t.Fatalf("%d: mending made it one-sided", n)
		}
	}
}

// Whatever the rubbish, triangles that are neither flat nor twins stay, by area, when all is asked for.
func TestRubbishLosesNoArea(t *testing.T) {
	r := rand.New(rand.NewPCG(10, 10))
	for n := range soak(400) {
		m := &mesh.Mesh{}
		k := 4 + r.IntN(20)
		for range k {
			m.Vertices = append(m.Vertices, v(4*r.Float64(), 4*r.Float64(), 4*r.Float64()))
		}
		seen := map[[3]int32]bool{}
		for range 60 {
			t := [3]int32{int32(r.IntN(k)), int32(r.IntN(k)), int32(r.IntN(k))}
			if !repeats(t) && !seen[key(t)] {
				seen[key(t)] = true
				m.Triangles = append(m.Triangles, t)
			}
		}
		res := mend(t, m, Params{Weld: 1e-6, Duplicates: true, Orient: true, Fill: 2})
		if res.After.Area < res.Before.Area*(1-1e-9) {
			t.Fatalf("%d: area %g of %g: %v", n, res.After.Area, res.Before.Area, res.Changes)
		}
	}
}

func TestBadInput(t *testing.T) {
	m := sample.Box(v(0, 0, 0), v(1, 1, 1))
	for name, c := range map[string]struct {
		m *mesh.Mesh
		p Params
	}{
		"weld":  {m, Params{Weld: -1}},
		"fill":  {m, Params{Fill: math.NaN()}},
		"speck": {m, Params{Specks: math.Inf(1)}},
		"index": {&mesh.Mesh{Vertices: m.Vertices, Triangles: [][3]int32{{0, 1, 8}}}, Params{}},
		"minus": {&mesh.Mesh{Vertices: m.Vertices, Triangles: [][3]int32{{0, 1, -1}}}, Params{}},
		"NaN":   {m.Map(func(a geom.Vec3) geom.Vec3 { return v(math.NaN(), 0, 0) }), Params{}},
		"1e30":  {m.Map(func(a geom.Vec3) geom.Vec3 { return a.Mul(1e30) }), Params{}},
	} {
		if _, err := Mend(context.Background(), c.m, c.p); !finding.IsInput(err) {
			t.Errorf("%s: %v", name, err)
		}
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Mend(ctx, m, whole(1)); !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
	if r, err := Mend(context.Background(), &mesh.Mesh{}, whole(1)); err != nil || r.Changed() {
		t.Error(err)
	}
}
