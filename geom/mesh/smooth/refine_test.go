package smooth

import (
	"context"
	"fmt"
	"math"
	"slices"
	"testing"
	"time"

	"barwise/geom"
	"barwise/geom/mesh"
)

func sortTriangles(ts [][3]int32) {
	for i, t := range ts {
		k := 0
		for j := range t {
			if t[j] < t[k] {
				k = j
			}
		}
		ts[i] = [3]int32{t[k], t[(k+1)%3], t[(k+2)%3]}
	}
	slices.SortFunc(ts, func(a, b [3]int32) int { return slices.Compare(a[:], b[:]) })
}

// furthest samples the mesh itself, corners, edges and inside of every facet.
func furthest(m *mesh.Mesh, off func(geom.Vec3) float64) (worst float64) {
	for t := range m.Triangles {
		a, b, c := m.Corners(t)
		for _, p := range []geom.Vec3{a, a.Lerp(b, 0.5), b.Lerp(c, 0.5), c.Lerp(a, 0.5), a.Add(b).Add(c).Mul(1.0 / 3)} {
			worst = max(worst, math.Abs(off(p)))
		}
	}
	return worst
}

func ellipsoidOff(a, b, c float64) func(p geom.Vec3) float64 {
	return func(p geom.Vec3) float64 {
		f := p.X*p.X/a/a + p.Y*p.Y/b/b + p.Z*p.Z/c/c - 1
		return f / 2 / v(p.X/a/a, p.Y/b/b, p.Z/c/c).Len()
	}
}

func TestTry(t *testing.T) {
	run := func(name string, m *mesh.Mesh, p Params, off func(geom.Vec3) float64) {
		start := time.Now()
		r, err := Refine(context.Background(), m, p)
		if err != nil {
			t.Fatal(err)
		}
		d := time.Since(start)
		e := r.Mesh.Edges()
		g, _ := Look(context.Background(), r.Mesh, e, p.or().CreaseDeg)
		k, ch := 0.0, 0.0
		for _, x := range g.Kink {
			k = max(k, math.Abs(float64(x)))
		}
		for _, x := range g.Chord {
			ch = max(ch, float64(x))
		}
		fmt.Printf("%-14s %7d -> %8d in %v open %d; off %.3f -> %.4f µm; before %.3f µm %.3f° after %.4f µm %.4f° (seen %.4f µm %.4f°) moved %.2f µm capped %d short %v\n", name, len(m.Triangles), len(r.Mesh.Triangles), d.Round(time.Millisecond), e.Open,
			1000*furthest(m, off), 1000*furthest(r.Mesh, off), r.Before.ChordMM*1000, r.Before.KinkDeg, r.After.ChordMM*1000, r.After.KinkDeg, 1000*ch, k*180/math.Pi, r.MovedMM*1000, r.Capped, r.Short)
	}
	sphere := func(p geom.Vec3) float64 { return p.Len() - 20 }
	run("icosphere", icosphere(20, 4), Params{Chord: 0.0015, KinkDeg: 0.1}, sphere)
	run("icosphere3", icosphere(20, 3), Params{Chord: 0.0015}, sphere)
	run("icosphere2", icosphere(20, 2), Params{Chord: 0.0015}, sphere)
	run("scattered", scaled(scattered(2500, 1), 20, 20, 20), Params{Chord: 0.0015, KinkDeg: 0.5}, sphere)
	run("ellipsoid", scaled(icosphere(1, 4), 10, 15, 20), Params{Chord: 0.0015, KinkDeg: 0.3}, ellipsoidOff(10, 15, 20))
	run("scatt.ellips", scaled(scattered(2500, 1), 10, 15, 20), Params{Chord: 0.0015, KinkDeg: 0.5}, ellipsoidOff(10, 15, 20))
	run("torus", torus(15, 5, 96, 48), Params{Chord: 0.0015, KinkDeg: 0.3}, func(p geom.Vec3) float64 {
		return math.Hypot(math.Hypot(p.X, p.Y)-15, p.Z) - 5
	})
	run("cylinder", cylinder(10, 30, 64), Params{Chord: 0.0015, KinkDeg: 0.3}, func(p geom.Vec3) float64 {
		return max(math.Hypot(p.X, p.Y)-10, -p.Z, p.Z-30)
	})
}
