package stock

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"testing"

	"barwise/geom"
	"barwise/geom/field"
	"barwise/shop/bar"
	"barwise/shop/cutter"
)

var profiles = map[string]cutter.Profile{
	"flat":         cutter.FlatEnd(1.5),
	"ball":         cutter.Ball(1.2),
	"bull":         cutter.Bull(1.5, 0.4),
	"cone":         cutter.Cone(1.2, 0.5, 0),
	"cone tipped":  cutter.Cone(1.2, 0.3, 0.2),
	"tapered ball": cutter.TaperedBall(1.5, 0.4, 0.2),
	"ball cut off": cutter.TaperedBall(0.9, 1.2, 0),
	"bull tapered": {R: 1.5, Flat: 0.4, Round: 0.3, Half: 0.3},
}

var names = []string{"flat", "ball", "bull", "cone", "cone tipped", "tapered ball", "ball cut off", "bull tapered"}

// sampled is the slow twin of a sweep: the move in equal steps, each a stamp of the profile, and five
// times again between the neighbours of the best: what is convex has its minimum there.
func sampled(p cutter.Profile, a, b geom.Vec3, x, y float64) float64 {
	best, at, lo, hi := math.Inf(1), 0.0, 0.0, 1.0
	const n = 100
	for range 6 {
		step := (hi - lo) / n
		for k := 0; k <= n; k++ {
			u := lo + float64(k)*step
			q := a.Lerp(b, u)
			r := math.Hypot(x-q.X, y-q.Y)
			if r > p.R && r < p.R+1e-8 {
				r = p.R // on the rim but for rounding
			}
			if z := q.Z + p.Height(r); z < best {
				best, at = z, u
			}
		}
		lo, hi = max(0, at-step), min(1, at+step)
	}
	return best
}

func someMoves(r *rand.Rand) [][2]geom.Vec3 {
	out := [][2]geom.Vec3{
		{{X: 0.03, Y: 5.01, Z: 2}, {X: 0.03, Y: 5.01, Z: 2}},       // no length
		{{X: 0.03, Y: 5.01, Z: 2}, {X: 0.03, Y: 5.01, Z: -1}},      // straight down
		{{X: 0.03, Y: 5.01, Z: -1}, {X: 0.03, Y: 5.01, Z: 2}},      // straight up
		{{X: -1, Y: 5, Z: 2}, {X: 2, Y: 5, Z: 2}},                  // along x
		{{X: 1, Y: 4, Z: 2}, {X: 1, Y: 6, Z: 3}},                   // along y, rising
		{{X: 1, Y: 4, Z: 2}, {X: -1, Y: 6, Z: 1.9}},                // shallow
		{{X: 1, Y: 4, Z: 2}, {X: 1.01, Y: 4.01, Z: -2}},            // steep
		{{X: 2.9, Y: -0.5, Z: 2}, {X: 4, Y: 1, Z: 1}},              // over the rim of the grid
		{{X: 1, Y: 4, Z: 2}, {X: 1 + 1e-13, Y: 4 + 1e-13, Z: 1.5}}, // straight down but for rounding
	}
	for range 12 {
		v := func() geom.Vec3 {
			return geom.Vec3{X: r.Float64()*4 - 2, Y: r.Float64()*4 + 3, Z: r.Float64()*3 - 1}
		}
		out = append(out, [2]geom.Vec3{v(), v()})
	}
	return out
}

// Every node against the sampled twin.
func TestSweepIsTheMinimum(t *testing.T) {
	small := bar.Bar{Shape: bar.Square, Width: 6, Height: 6, Length: 10}
	for _, name := range names {
		p := profiles[name]
		for n, m := range someMoves(rand.New(rand.NewPCG(1, 2))) {
			s := New(small, []float64{0}, 0.2)
			s.Cut(0, p, m[0], m[1])
			f := s.Field(0)
			cut := 0
			for j := range f.NY {
				for i := range f.NX {
					x, y := f.X(i), f.Y(j)
					d := distance(m[0], m[1], x, y)
					got, want := float64(f.At(i, j)), math.Inf(1)
					if d < p.R+1e-7 {
						want = sampled(p, m[0], m[1], x, y)
					}
					switch {
					case d > p.R+1e-8:
						if !math.IsInf(got, 1) {
							t.Fatalf("%s, move %d, node (%g, %g): cut to %g, out of reach", name, n, x, y, got)
						}
					case d > p.R-2e-3 && math.IsInf(want, 1):
						// too short a chord for the samples
					default:
						cut++
						// at the rim of a ball heights hang on the radius by √(2Rδ), δ the last step
						if tol := 2e-6 + 1e-4*max(0, (d-p.R+0.01)/0.01); !(math.Abs(got-want) <= tol) {
							t.Fatalf("%s, move %d %v, node (%g, %g): got %.9g, sampled %.9g", name, n, m, x, y, got, want)
						}
					}
				}
			}
			if cut < 3 {
				t.Fatalf("%s, move %d: only %d nodes compared", name, n, cut)
			}
		}
	}
}

func distance(a, b geom.Vec3, x, y float64) float64 {
	d := b.XY().Sub(a.XY())
	q := geom.Vec2{X: x, Y: y}.Sub(a.XY())
	t := 0.0
	if l := d.Dot(d); l > 0 {
		t = max(0, min(1, q.Dot(d)/l))
	}
	return q.Sub(d.Mul(t)).Len()
}

func wander(r *rand.Rand, n int) []geom.Vec3 {
	q := geom.Vec3{X: 0, Y: 15, Z: 8}
	pts := []geom.Vec3{q}
	dir := r.Float64() * 7
	for len(pts) < n {
		dir += r.NormFloat64() * 0.8
		l := 0.4
		switch r.IntN(8) {
		case 0:
			l = 0
		case 1:
			l = 3
		case 2: // straight down or up
			pts = append(pts, geom.Vec3{X: q.X, Y: q.Y, Z: q.Z + r.Float64() - 0.5})
			q = pts[len(pts)-1]
		}
		q = geom.Vec3{X: q.X + l*math.Cos(dir), Y: q.Y + l*math.Sin(dir), Z: q.Z + float64(r.IntN(3)-1)*0.2*l}
		if math.Abs(q.X) > 10 || math.Abs(q.Y-15) > 15 {
			dir += math.Pi
			q.X, q.Y = max(-10, min(10, q.X)), max(0, min(30, q.Y))
		}
		q.Z = max(0, min(10, q.Z))
		pts = append(pts, q)
	}
	return pts
}

func TestCutMovesIsCutOneByOne(t *testing.T) {
	for seed := range uint64(6) {
		for _, name := range names {
			p := profiles[name]
			pts := wander(rand.New(rand.NewPCG(seed, 7)), 300)
			slow, fast := New(square, quarters, 0.13), New(square, quarters, 0.13)
			for k := range pts[1:] {
				slow.Cut(2, p, pts[k], pts[k+1])
			}
			if err := fast.CutMoves(context.Background(), 2, p, pts); err != nil {
				t.Fatal(err)
			}
			compare(t, fmt.Sprint(name, " seed ", seed), fast.Field(2), slow.Field(2), 2e-6)
		}
	}
}

func compare(t *testing.T, what string, got, want *field.Field, tol float64) {
	t.Helper()
	if got.Grid != want.Grid {
		t.Fatalf("%s: grids differ", what)
	}
	for k := range got.Z {
		a, b := float64(got.Z[k]), float64(want.Z[k])
		if a != b && !(math.Abs(a-b) <= tol) {
			t.Fatalf("%s: node (%d, %d): got %.9g, want %.9g", what, k%got.NX, k/got.NX, a, b)
		}
	}
}

func TestSameBytesOnAnyCores(t *testing.T) {
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(0))
	pts := wander(rand.New(rand.NewPCG(3, 3)), 2000)
	var first *Stack
	var firstSeen *field.Field
	var firstVolume float64
	var firstPic *Picture
	for _, n := range []int{1, 2, 7} {
		runtime.GOMAXPROCS(n)
		s := New(square, quarters, 0.1)
		if err := s.CutMoves(context.Background(), 1, cutter.Ball(0.7), pts); err != nil {
			t.Fatal(err)
		}
		if err := s.CutMoves(context.Background(), 0, cutter.Ball(0.7), pts); err != nil {
			t.Fatal(err)
		}
		pic, err := s.Render(context.Background(), Camera{At: geom.Vec3{Y: 15}, Dir: geom.Vec3{X: -1, Y: -0.7, Z: -1}, Up: geom.Vec3{Z: 1}, Width: 50}, 60, 40)
		if err != nil {
			t.Fatal(err)
		}
		if first == nil {
			first, firstSeen, firstVolume, firstPic = s, s.Seen(3), s.Volume(), pic
			continue
		}
		same := slices.Equal(s.Field(0).Z, first.Field(0).Z) && slices.Equal(s.Field(1).Z, first.Field(1).Z) &&
			slices.Equal(s.Seen(3).Z, firstSeen.Z) && s.Volume() == firstVolume &&
			slices.Equal(pic.Depth, firstPic.Depth) && slices.Equal(pic.Normal, firstPic.Normal)
		if !same {
			t.Fatalf("GOMAXPROCS %d gives other bytes than 1", n)
		}
	}
}

// A quarter turn of the bar with its sides relabelled changes nothing; neither does a mirror.
func TestSymmetry(t *testing.T) {
	pts := wander(rand.New(rand.NewPCG(5, 5)), 400)
	p := profiles["bull"]
	a := New(square, []float64{0, 90, 180, 270}, 0.1)
	b := New(square, []float64{90, 180, 270, 0}, 0.1)
	for k := range 4 {
		part := pts[k*100 : k*100+100]
		for _, s := range []*Stack{a, b} {
			if err := s.CutMoves(context.Background(), k, p, part); err != nil {
				t.Fatal(err)
			}
		}
	}
	for k := range 4 {
		compare(t, fmt.Sprint("turned, seen ", k), b.Seen(k), a.Seen(k), 0)
	}
	near(t, "turned volume", b.Volume(), a.Volume(), 1e-6)
	sa, sb := a.SectionAt(15), b.SectionAt(15)
	near(t, "turned area", sb.Area, sa.Area, 1e-9)
	near(t, "turned IXX", sb.IXX, sa.IZZ, 1e-6)
	near(t, "turned IXZ", sb.IXZ, -sa.IXZ, 1e-6)
	// +Z of a is +X of b, and +X of a is −Z of b
	near(t, "turned centroid", sb.Centroid.X, sa.Centroid.Y, 1e-9)
	near(t, "turned centroid", sb.Centroid.Y, -sa.Centroid.X, 1e-9)

	m := New(square, quarters, 0.1)
	mirror := []int{0, 3, 2, 1}
	for k := range 4 {
		var q []geom.Vec3
		for _, v := range pts[k*100 : k*100+100] {
			q = append(q, geom.Vec3{X: -v.X, Y: v.Y, Z: v.Z})
		}
		if err := m.CutMoves(context.Background(), mirror[k], p, q); err != nil {
			t.Fatal(err)
		}
	}
	near(t, "mirrored volume", m.Volume(), a.Volume(), 1e-4)
	sm := m.SectionAt(15)
	near(t, "mirrored area", sm.Area, sa.Area, 1e-4)
	near(t, "mirrored centroid", sm.Centroid.X, -sa.Centroid.X, 1e-4)
	near(t, "mirrored IXZ", sm.IXZ, -sa.IXZ, 1e-2)
	for k := range 4 {
		f, g := a.Field(k), m.Field(mirror[k])
		for j := range f.NY {
			for i := range f.NX {
				if d := math.Abs(float64(f.At(i, j)) - float64(g.At(f.NX-1-i, j))); d > 1e-6 {
					t.Fatalf("mirrored field %d differs by %g at (%d, %d)", k, d, i, j)
				}
			}
		}
	}
}
