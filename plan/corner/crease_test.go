package corner

import (
	"context"
	"math"
	"reflect"
	"runtime"
	"testing"

	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/sample"
	"barwise/plan/share"
)

func follow(t testing.TB, l *Left, i int) *Follow {
	t.Helper()
	f, err := l.Creases(context.Background(), i)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// gap3 is how far q is from the segment from a to b.
func gap3(q, a, b geom.Vec3) float64 {
	d := b.Sub(a)
	t := 0.0
	if l := d.Dot(d); l > 0 {
		t = min(max(q.Sub(a).Dot(d)/l, 0), 1)
	}
	return q.Sub(a.Lerp(b, t)).Len()
}

// stands is how far a place is from what a ball of radius r sweeps along passes: the slow account of what
// they leave; negative where they cut into it.
func stands(f *Follow, r float64, q geom.Vec3) float64 {
	best := math.Inf(1)
	up := geom.Vec3{Z: r}
	for _, p := range f.Passes {
		for k := 1; k < len(p.Points); k++ {
			best = min(best, gap3(q, p.Points[k-1].Add(up), p.Points[k].Add(up))-r)
		}
	}
	return best
}

// In a groove the crease is a straight line at r/sin β above the bottom. After the large ball, which stands
// √(R² + (R cot β − t)²) − R off the flank t from the bottom, and the passes along the crease, no more
// than the cusp and the tolerance is left, and nothing is cut into.
func TestGrooveFollowed(t *testing.T) {
	const r, R, long = 0.5, 1.5, 4.0
	p := Params{Cusp: 0.004, Tolerance: 0.002, Decimals: 4}
	for _, half := range []float64{45, 65} {
		s := scene(t, vee(half, long, 3, 8), r, 0.05, 0)
		l := find(t, s, p, before(s, R))
		f := follow(t, l, 0)
		sin, cos := math.Sincos(half * math.Pi / 180)
		if f.Creases != 1 || len(f.Passes) > 2 {
			t.Errorf("%g°: %d creases in %d passes, want one", half, f.Creases, len(f.Passes))
		}
		crease := false
		for _, p := range f.Passes {
			for k := 1; k < len(p.Points); k++ {
				a, b := p.Points[k-1], p.Points[k]
				if a.Z < r/sin-r-1e-3 {
					t.Fatalf("%g°: a tip %g high, the crease is %g", half, a.Z, r/sin-r)
				}
				crease = crease || math.Abs(a.X) > 1.8 && math.Abs(b.X) > 1.8 && a.X*b.X < 0 &&
					math.Hypot(a.Y, a.Z-r/sin+r) < 2e-3 && math.Hypot(b.Y, b.Z-r/sin+r) < 2e-3
			}
		}
		if !crease {
			t.Errorf("%g°: no straight move along the crease", half)
		}
		worst := 0.0
		for x := -1.9; x <= 1.9; x += 0.13 {
			for u := r*cos/sin + 0.001; u < R*cos/sin+0.3; u += 0.007 {
				large := math.Hypot(R, max(0, R*cos/sin-u)) - R
				for _, q := range []geom.Vec3{{X: x, Y: u * sin, Z: u * cos}, {X: x, Y: -u * sin, Z: u * cos}} {
					d := stands(f, r, q)
					if d < -p.Tolerance/2 {
						t.Fatalf("%g°: %v is cut into by %g", half, q, -d)
					}
					worst = max(worst, min(large, d))
				}
			}
		}
		if worst > 1.1*p.Cusp+p.Tolerance {
			t.Errorf("%g°: %.4f mm left, cusp %g", half, worst, p.Cusp)
		}
		t.Logf("%g°: %+v, worst %.5f", half, f.FollowFigures, worst)
	}
}

// A hemisphere of radius S on a plane: the ball touches both on a circle of radius √(S² + 2Sr) round it,
// tip on the plane. It is followed in one piece all the way round.
func TestHemisphereFollowed(t *testing.T) {
	const r, R, S = 0.5, 1.5, 3.0
	m := mesh.Join(sample.Sphere(geom.Vec3{}, S, 160), sample.Box(geom.Vec3{X: -7, Y: -7, Z: -4}, geom.Vec3{X: 7, Y: 7, Z: 0}))
	s := scene(t, m, r, 0.05, 0)
	l := find(t, s, fine, before(s, R))
	f := follow(t, l, 0)
	want := math.Sqrt(S*S + 2*S*r)
	round := 0.0
	for _, p := range f.Passes {
		for k := 1; k < len(p.Points); k++ {
			a, b := p.Points[k-1], p.Points[k]
			if a.Z < 0 && a.XY().Len() < 6.9 || a.XY().Len() < want-0.004 && a.Z < 0.001 {
				t.Fatalf("a tip at %v, %g from the middle; on the plane it is %g at least", a, a.XY().Len(), want)
			}
			// a chord of the outline stands S(1 − cos(π/160)) = 0.6 µm inside
			if a.Z < 0.004 && b.Z < 0.004 && math.Abs(a.XY().Len()-want) < 0.002 && math.Abs(b.XY().Len()-want) < 0.002 {
				round += math.Abs(math.Atan2(a.XY().Cross(b.XY()), a.XY().Dot(b.XY())))
			}
		}
	}
	if round < 0.98*2*math.Pi {
		t.Errorf("%.4f rad of the circle are followed", round)
	}
	// what the large ball touches on plane and sphere begins at its own circle: √(S² + 2SR)
	out, worst := math.Sqrt(S*S+2*S*R), 0.0
	for a := 0.01; a < 2*math.Pi; a += 0.7 {
		sin, cos := math.Sincos(a)
		for d := want + 0.002; d < out+0.2; d += 0.011 {
			q := geom.Vec3{X: d * cos, Y: d * sin}
			x := max(0, out-d)
			worst = max(worst, min(math.Hypot(R, x)-R, stands(f, r, q)))
		}
	}
	if worst > 1.1*0.002+0.01 {
		t.Errorf("%.4f mm left on the plane", worst)
	}
	t.Logf("%d passes, %+v, worst %.4f", len(f.Passes), f.FollowFigures, worst)
}

// Two cylinders of one radius that cross at right angles: their creases lie over the diagonals, where the
// offset cylinders meet, at the height of either.
func TestCylindersFollowed(t *testing.T) {
	const r, R, S = 0.5, 1.5, 3.0
	m := mesh.Join(cylinder(S, 8, 240), cylinder(S, 8, 240).Map(func(p geom.Vec3) geom.Vec3 { return geom.Vec3{X: p.Y, Y: -p.X, Z: p.Z} }))
	s := scene(t, m, r, 0.05, 0)
	l := find(t, s, fine, before(s, R))
	f := follow(t, l, 0)
	var on [4]float64
	for _, p := range f.Passes {
		for k := 1; k < len(p.Points); k++ {
			a, b := p.Points[k-1], p.Points[k]
			lies := func(q geom.Vec3) bool {
				x := math.Abs(q.X)
				return math.Abs(x-math.Abs(q.Y)) < 0.003 && math.Abs(q.Z-math.Sqrt((S+r)*(S+r)-x*x)+r) < 0.004
			}
			if lies(a) && lies(b) {
				quarter := 0
				if a.X < 0 {
					quarter++
				}
				if a.Y < 0 {
					quarter += 2
				}
				on[quarter] += b.Sub(a).XY().Len()
			}
		}
	}
	// from a turn of 18° on: the two normals (x/(S+r), 0, c) and (0, x/(S+r), c) stand 18° apart in the plane
	// across at about x = 0.8; up to where the ball comes down beside the cylinders' ends at 45°, beyond 2.4
	for q, d := range on {
		if d < (2.4-0.9)*math.Sqrt2 {
			t.Errorf("quarter %d: %.3f mm of the crease are followed", q, d)
		}
	}
	t.Logf("%.2f, %d passes, %+v", on, len(f.Passes), f.FollowFigures)
}

// An inside corner of three square faces. The large ball leaves a rounded seam along each edge, (R − r)(√2 − 1)
// deep, and (R − r)(√3 − 1) in the corner; the upright seam stands up to the walls' top.
func TestBoxCorner(t *testing.T) {
	const r, R, top = 0.5, 1.5, 4.0
	m := mesh.Join(sample.Box(geom.Vec3{X: -6, Y: -6, Z: -4}, geom.Vec3{X: 6, Y: 6, Z: 0}),
		sample.Box(geom.Vec3{X: 2, Y: -6, Z: -4}, geom.Vec3{X: 6, Y: 6, Z: top}),
		sample.Box(geom.Vec3{X: -6, Y: 3, Z: -4}, geom.Vec3{X: 6, Y: 6, Z: top}))
	s := scene(t, m, r, 0.05, 0)
	p := Params{Cusp: 0.004, Tolerance: 0.002, Decimals: 4}
	l := find(t, s, p, before(s, R))
	g := l.Sides[0]
	if want := (R - r) * (math.Sqrt(3) - 1); g.DepthMax > want+0.002 || g.DepthMax < want-0.03 { // no node in the very corner
		t.Errorf("%.4f deep, want %.4f", g.DepthMax, want)
	}
	f := follow(t, l, 0)
	for _, p := range f.Passes {
		for _, q := range p.Points {
			// beside the walls up to where the ball rolls over their edge
			if min(q.X, q.Y) > -6 && (q.Z < -1e-9 || q.Z < top-r && (q.X > 2-r+1e-3 || q.Y > 3-r+1e-3)) {
				t.Fatalf("a tip at %v", q)
			}
		}
	}
	large := func(q geom.Vec3) float64 {
		d := geom.Vec3{X: max(R-(2-q.X), 0), Y: max(R-(3-q.Y), 0), Z: max(R-q.Z, 0)}
		return d.Len() - R
	}
	worst, covered, n := 0.0, 0, 0
	check := func(q geom.Vec3) {
		before := large(q)
		if before < p.Worth || before < 0.004 {
			return
		}
		n++
		d := stands(f, r, q)
		if d < -p.Tolerance/2 {
			t.Fatalf("%v is cut into by %g", q, -d)
		}
		if d <= 1.1*p.Cusp+p.Tolerance {
			covered++
		}
		worst = max(worst, min(before, d))
	}
	for a := -5.0; a < 1.499; a += 0.17 {
		for z := r + 0.001; z < R; z += 0.031 {
			check(geom.Vec3{X: 2, Y: a + 1, Z: z})
			check(geom.Vec3{X: a, Y: 3, Z: z})
			check(geom.Vec3{X: 2 - z, Y: a + 1, Z: 0})
			check(geom.Vec3{X: a, Y: 3 - z, Z: 0})
		}
	}
	for z := R; z < top-r; z += 0.13 { // the upright seam
		for u := r + 0.001; u < R; u += 0.031 {
			check(geom.Vec3{X: 2, Y: 3 - u, Z: z})
			check(geom.Vec3{X: 2 - u, Y: 3, Z: z})
		}
	}
	t.Logf("%d passes, %+v; %d of %d places clean, worst %.4f", len(f.Passes), f.FollowFigures, covered, n, worst)
	if float64(covered) < 0.97*float64(n) {
		t.Errorf("%d of %d places clean", covered, n)
	}
}

// Everything a pass touches stays in the region, overlap included; on a convex body there is nothing.
func TestNothingToFollow(t *testing.T) {
	s := scene(t, sample.Icosphere(4, 3), 0.5, 0.1, 0)
	f := follow(t, find(t, s, fine, before(s, 1.5)), 0)
	if len(f.Passes) > 0 || f.Creases > 0 {
		t.Errorf("%+v", f.FollowFigures)
	}
}

// cylinder lies along y, closed at both ends.
func cylinder(r, half float64, n int) *mesh.Mesh {
	m := &mesh.Mesh{Vertices: []geom.Vec3{{Y: -half}, {Y: half}}}
	for k := range n {
		sin, cos := math.Sincos(2 * math.Pi * (float64(k) + 0.5) / float64(n))
		m.Vertices = append(m.Vertices, geom.Vec3{X: r * sin, Y: -half, Z: r * cos}, geom.Vec3{X: r * sin, Y: half, Z: r * cos})
	}
	for k := range n {
		a, b := int32(2+2*k), int32(2+2*((k+1)%n))
		m.Triangles = append(m.Triangles, [3]int32{a, a + 1, b + 1}, [3]int32{a, b + 1, b}, [3]int32{0, a, b}, [3]int32{1, b + 1, a + 1})
	}
	return m
}

// What creases cover is taken out of the region and of the share, and no more; the same comes out on one
// core as on all.
func TestTakeAndRestrict(t *testing.T) {
	m := vee(45, 6, 3, 8)
	run := func() (*share.Set, *Left, *Follow) {
		s := scene(t, m, 0.5, 0.05, 0)
		l := find(t, s, fine, before(s, 1.5))
		return s, l, follow(t, l, 0)
	}
	s, l, f := run()
	old := runtime.GOMAXPROCS(1)
	_, one, g := run()
	runtime.GOMAXPROCS(old)
	if !reflect.DeepEqual(f, g) || !reflect.DeepEqual(l.Sides, one.Sides) {
		t.Error("one core gives something else")
	}
	if f.Left < f.LeftAll*98/100 {
		t.Errorf("%d of %d nodes covered", f.Left, f.LeftAll)
	}
	was := append([]bool(nil), l.Sides[0].Mask...)
	area := l.Sides[0].AreaMM2
	l.Take(0, f)
	v, n := s.Views[0], 0
	for k, m := range l.Sides[0].Mask {
		if m && !was[k] {
			t.Fatalf("node %d came in", k)
		}
		// the crease and its lanes: nothing of them away from the groove's ends
		if x, y := v.Field.X(k%v.Field.NX), v.Field.Y(k/v.Field.NX); m && math.Abs(x) < 2.5 && math.Abs(y) < 2 {
			n++
		}
	}
	if n > 0 || l.Sides[0].AreaMM2 != area {
		t.Errorf("%d nodes stay in the region; area %g, before %g", n, l.Sides[0].AreaMM2, area)
	}
	l.Restrict(0)
	for k, m := range l.Sides[0].Mask {
		if v.Core(k) && !m {
			t.Fatalf("node %d stays in the share", k)
		}
	}
}
