package stock

import (
	"context"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"testing"

	"barwise/geom"
	"barwise/geom/field"
	"barwise/geom/mesh/sample"
	"barwise/shop/bar"
	"barwise/shop/cutter"
)

var withEnd = []float64{0, 90, 180, 270, geom.EndDeg}

// A round hole by a flat end, drilled from the free end: πR² times its depth, wherever the base of the
// sections lies, and of every shape of bar.
func TestHoleInTheEnd(t *testing.T) {
	for _, c := range []struct {
		b    bar.Bar
		degs []float64
	}{
		{square, withEnd}, {square, []float64{geom.EndDeg}}, {square, []float64{geom.EndDeg, 270, 0}},
		{hexBar, []float64{60, 120, geom.EndDeg}}, {roundBar, withEnd}, {roundBar, []float64{45, geom.EndDeg}},
	} {
		s := New(c.b, c.degs, 0.1)
		before := s.Volume()
		near(t, string(c.b.Shape)+" before", before, c.b.Area()*30, 1e-8*before)
		for k := range c.degs {
			if geom.IsEnd(c.degs[k]) {
				s.Cut(k, cutter.FlatEnd(3.02), geom.Vec3{X: 1, Y: -2, Z: 17.03}, geom.Vec3{X: 1, Y: -2, Z: 17.03})
			}
		}
		near(t, string(c.b.Shape)+" hole", before-s.Volume(), math.Pi*3.02*3.02*12.97, 0.1*12.97*3.02)
		// y' = −2 is z = 2 of the part
		in, out := s.SectionAt(25), s.SectionAt(10)
		near(t, "area over the hole", out.Area-in.Area, math.Pi*3.02*3.02, 0.4)
		moved := in.Centroid.Mul(in.Area) // the first moment of what is gone, about the axis
		near(t, "centroid", moved.X, -(out.Area - in.Area), 0.6)
		near(t, "centroid", moved.Y, -2*(out.Area-in.Area), 0.6)
		if p := s.Pieces(); len(p) != 1 || !p[0].Joined || math.Abs(p[0].Volume-s.Volume()) > 1e-3*before {
			t.Errorf("pieces %+v of %g mm³", p, s.Volume())
		}
	}
}

// The same block taken from side 0° and from the end leaves the same: volumes, views, sections.
func TestBlockFromEitherSide(t *testing.T) {
	mill := cutter.FlatEnd(1)
	lay := func(s *Stack, side int, y0, y1, z float64) {
		var pts []geom.Vec3
		for x := -11.0; x <= 11; x += 0.5 {
			pts = append(pts, geom.Vec3{X: x, Y: y0, Z: z}, geom.Vec3{X: x, Y: y1, Z: z})
		}
		if err := s.CutMoves(context.Background(), side, mill, pts); err != nil {
			t.Fatal(err)
		}
	}
	a, b := New(square, withEnd, 0.1), New(square, withEnd, 0.1)
	lay(a, 0, 21.05, 32, 3.05)   // y from 20.05 on, above z = 3.05
	lay(b, 4, -12, -4.05, 20.05) // y' up to −3.05: z from 3.05 on
	near(t, "block", a.Volume(), 20*20*30-20*6.95*9.95, 1e-6*a.Volume())
	near(t, "block from the end", b.Volume(), a.Volume(), 1e-6*a.Volume())
	for k := range withEnd {
		f, g := a.Seen(k), b.Seen(k)
		for n := range f.Z {
			if math.Abs(float64(f.Z[n]-g.Z[n])) > 1e-5 {
				t.Fatalf("side %s, node %d: %g from side 0°, %g from the end", geom.SideName(withEnd[k]), n, f.Z[n], g.Z[n])
			}
		}
	}
	p, q := a.SectionAt(25), b.SectionAt(25)
	near(t, "area", q.Area, p.Area, 1e-4)
	near(t, "centroid", q.Centroid.Sub(p.Centroid).Len(), 0, 1e-4)
	near(t, "moments", math.Abs(q.IXX-p.IXX)+math.Abs(q.IZZ-p.IZZ)+math.Abs(q.IXZ-p.IXZ), 0, 1e-2)
}

// endCarved is a bar with random cuts from every side, the end's from the free end down.
func endCarved(t *testing.T, b bar.Bar, degs []float64, pitch float64, seed uint64) *Stack {
	t.Helper()
	s := New(b, degs, pitch)
	r := rand.New(rand.NewPCG(seed, 12))
	for k, d := range degs {
		pts := wander(r, 150)
		if geom.IsEnd(d) {
			for i := range pts {
				pts[i].Y -= 15
				pts[i].Z = b.Length - 6 + 0.8*(pts[i].Z-8)
			}
		}
		if err := s.CutMoves(context.Background(), k, profiles[names[r.IntN(len(names))]], pts); err != nil {
			t.Fatal(err)
		}
	}
	return s
}

// brick is what is left of one cell of the lattice, x, y, z of the part: the slow twin of a square bar with
// sides at quarter turns and an end.
func (s *Stack) brick(i, j, k int) (lo, hi geom.Vec3, ok bool) {
	p := s.Pitch
	n := int(math.Round(square.Width / 2 / p))
	h := square.Width / 2
	at := func(v int) float64 { return float64(v) * p }
	lo = geom.Vec3{X: max(at(i)-p/2, -h), Y: max(at(j)-p/2, 0), Z: max(at(k)-p/2, -h)}
	hi = geom.Vec3{X: min(at(i)+p/2, h), Y: min(at(j)+p/2, square.Length), Z: min(at(k)+p/2, h)}
	for m := range s.sides {
		f := s.sides[m].h
		switch s.sides[m].deg {
		case 0:
			hi.Z = min(hi.Z, float64(f.At(n+i, j)))
		case 180:
			lo.Z = max(lo.Z, -float64(f.At(n-i, j)))
		case 90: // its x' is −z
			hi.X = min(hi.X, float64(f.At(n-k, j)))
		case 270: // its x' is z
			lo.X = max(lo.X, -float64(f.At(n+k, j)))
		case geom.EndDeg: // its y' is −z
			hi.Y = min(hi.Y, float64(f.At(n+i, n-k)))
		}
	}
	d := hi.Sub(lo)
	return lo, hi, d.X > thin && d.Y > thin && d.Z > thin
}

// Everything a stack says, against all its bricks one by one.
func TestEndAgainstBricks(t *testing.T) {
	for seed, degs := range [][]float64{withEnd, {geom.EndDeg, 180, 90}, {270, geom.EndDeg, 0, 180, 90}} {
		s := endCarved(t, square, degs, 0.4, uint64(seed))
		n := int(math.Round(square.Width / 2 / s.Pitch))
		seen := make([]map[[2]int]float64, len(degs))
		for m := range seen {
			seen[m] = map[[2]int]float64{}
		}
		see := func(m, a, b int, z float64) {
			if old, ok := seen[m][[2]int{a, b}]; !ok || z > old {
				seen[m][[2]int{a, b}] = z
			}
		}
		sum, touched := 0.0, 0
		area := map[int]float64{}
		bricks := map[[3]int][2]geom.Vec3{}
		for j := range s.rows {
			for i := -n; i <= n; i++ {
				for k := -n; k <= n; k++ {
					lo, hi, ok := s.brick(i, j, k)
					if !ok {
						continue
					}
					d := hi.Sub(lo)
					sum += d.X * d.Y * d.Z
					if hi.Y >= float64(j)*s.Pitch {
						area[j] += d.X * d.Z
					}
					bricks[[3]int{i, j, k}] = [2]geom.Vec3{lo, hi}
					for m, deg := range degs {
						switch deg {
						case 0:
							see(m, n+i, j, hi.Z)
						case 180:
							see(m, n-i, j, -lo.Z)
						case 90:
							see(m, n-k, j, hi.X)
						case 270:
							see(m, n+k, j, -lo.X)
						default:
							see(m, n+i, n-k, hi.Y)
							if hi.Y < s.Bar.Length {
								touched++
							}
						}
					}
				}
			}
		}
		near(t, "volume", s.Volume(), sum, 1e-8*sum)
		for j := 0; j < len(s.rows); j += 7 {
			near(t, "area", s.SectionAt(float64(j)*s.Pitch).Area, area[j], 1e-6)
		}
		hidden := 0
		for m := range degs {
			f := s.Seen(m)
			for b := range f.NY {
				for a := range f.NX {
					want, ok := seen[m][[2]int{a, b}]
					if !ok {
						want = math.Inf(-1)
					}
					if got := float64(f.At(a, b)); got != want && !(math.Abs(got-want) <= 1e-5) {
						t.Fatalf("seed %d, side %s, (%d, %d): top %g, the bricks say %g", seed, geom.SideName(degs[m]), a, b, got, want)
					}
					if geom.IsEnd(degs[m]) && want < float64(s.Field(m).At(a, b))-0.5 && want < s.Bar.Length-0.5 {
						hidden++
					}
				}
			}
		}
		if hidden < 10 || touched == 0 {
			t.Errorf("seed %d: only %d columns of the end were lowered from other sides", seed, hidden)
		}
		pieces(t, s, bricks)
	}
}

// pieces holds Pieces against bricks joined where their faces touch.
func pieces(t *testing.T, s *Stack, bricks map[[3]int][2]geom.Vec3) {
	t.Helper()
	seen := map[[3]int]bool{}
	var volumes []float64
	for start := range bricks {
		if seen[start] {
			continue
		}
		v, todo := 0.0, [][3]int{start}
		seen[start] = true
		for len(todo) > 0 {
			c := todo[len(todo)-1]
			todo = todo[:len(todo)-1]
			b := bricks[c]
			d := b[1].Sub(b[0])
			v += d.X * d.Y * d.Z
			for axis := range 3 {
				for _, by := range []int{-1, 1} {
					q := c
					q[axis] += by
					o, ok := bricks[q]
					if !ok || seen[q] || !facesTouch(b, o, axis) {
						continue
					}
					seen[q] = true
					todo = append(todo, q)
				}
			}
		}
		volumes = append(volumes, v)
	}
	got := s.Pieces()
	if len(got) != len(volumes) {
		t.Errorf("%d pieces, the bricks make %d", len(got), len(volumes))
		return
	}
	for _, p := range got {
		best := math.Inf(1)
		for _, v := range volumes {
			best = min(best, math.Abs(v-p.Volume))
		}
		if best > 1e-6 {
			t.Errorf("a piece of %g mm³ is none of the bricks': %v", p.Volume, volumes)
		}
	}
}

func facesTouch(a, b [2]geom.Vec3, axis int) bool {
	over := func(p0, p1, q0, q1 float64, along bool) bool {
		if along {
			return min(p1, q1)-max(p0, q0) > -1e-9
		}
		return min(p1, q1)-max(p0, q0) > thin
	}
	return over(a[0].X, a[1].X, b[0].X, b[1].X, axis == 0) && over(a[0].Y, a[1].Y, b[0].Y, b[1].Y, axis == 1) &&
		over(a[0].Z, a[1].Z, b[0].Z, b[1].Z, axis == 2)
}

// With oblique sides: volume and the view from the end by counting points of the solid of prisms.
func TestEndOfHexAndRound(t *testing.T) {
	hex := []float64{0, 60, 120, 180, 240, 300, geom.EndDeg}
	for _, c := range []struct {
		b    bar.Bar
		degs []float64
	}{{hexBar, hex}, {roundBar, hex}, {roundBar, []float64{45, 135, geom.EndDeg, 225}}} {
		s := endCarved(t, c.b, c.degs, 0.2, 5)
		var end *side
		across := &Stack{Bar: s.Bar, Pitch: s.Pitch, rows: s.rows}
		for k := range s.sides {
			if s.sides[k].turn.End {
				end = &s.sides[k]
			} else {
				across.sides = append(across.sides, s.sides[k])
			}
		}
		const n = 433
		cell := 24.0 / n
		less := 0.0
		for j := 3; j < len(s.rows); j += 20 {
			y, area := float64(j)*s.Pitch, 0
			for a := range n {
				for b := range n {
					x, z := (float64(a)+0.5)*cell-12, (float64(b)+0.5)*cell-12
					i, k := end.h.Nearest(geom.Vec2{X: x, Y: -z})
					if c.b.Has(x, z) && end.h.Inside(i, k) && float64(end.h.At(i, k)) >= y && across.holds(-1, j, x, x, z) {
						area++
					}
				}
			}
			less += across.SectionAt(y).Area - s.SectionAt(y).Area
			near(t, string(c.b.Shape)+" area", s.SectionAt(y).Area, float64(area)*cell*cell, 0.8)
		}
		if less < 5 {
			t.Errorf("%s: the end took %g mm² of these sections", c.b.Shape, less)
		}
		f := s.Seen(2)
		if !end.turn.End || c.degs[2] != geom.EndDeg {
			f = s.Seen(len(c.degs) - 1)
		}
		for k := range f.NY {
			for i := range f.NX {
				x, z, want := f.X(i), -f.Y(k), math.Inf(-1)
				for j := len(s.rows) - 1; j >= 0 && math.IsInf(want, -1); j-- {
					if c.b.Has(x, z) && across.holds(-1, j, x, x, z) {
						want = min(float64(end.h.At(i, k)), float64(j)*s.Pitch+s.Pitch/2, c.b.Length)
						if want <= max(0, float64(j)*s.Pitch-s.Pitch/2)+thin {
							want = math.Inf(-1)
						}
					}
				}
				// the view is of anything in the cell, so never lower than at its node
				if got := float64(f.At(i, k)); got < want-1e-5 {
					t.Fatalf("%s, (%g, %g): the end sees %g, there is stock at %g", c.b.Shape, x, z, got, want)
				}
			}
		}
	}
}

// A disc cut loose: a ring-shaped slot from the end round a core, and the core parted from the sides.
func TestCoreFallsOut(t *testing.T) {
	s := New(square, withEnd, 0.1)
	var ring []geom.Vec3
	for a := range 129 {
		sn, c := math.Sincos(2 * math.Pi * float64(a) / 128)
		ring = append(ring, geom.Vec3{X: 6 * c, Y: 6 * sn, Z: 20})
	}
	if err := s.CutMoves(context.Background(), 4, cutter.FlatEnd(1), ring); err != nil {
		t.Fatal(err)
	}
	if n := len(s.Pieces()); n != 1 {
		t.Fatalf("before parting: %d pieces", n)
	}
	for _, side := range []int{0, 2} {
		pts := []geom.Vec3{{X: -12, Y: 21, Z: -0.1}, {X: 12, Y: 21, Z: -0.1}}
		if err := s.CutMoves(context.Background(), side, cutter.FlatEnd(1.025), pts); err != nil {
			t.Fatal(err)
		}
	}
	p := s.Pieces()
	if len(p) != 3 || !p[0].Joined {
		t.Fatalf("parted: %d pieces, want the bar, the frame and the core", len(p))
	}
	// the core's radius is 5 less what the nodes on the rim take, its height from 22.05 to 30
	near(t, "core", p[2].Volume, math.Pi*25*7.95, 0.03*math.Pi*25*7.95)
	near(t, "core and frame", p[1].Volume+p[0].Volume+p[2].Volume, s.Volume(), 1e-6*s.Volume())
}

// Rays down the axis into a hole, and across the bar through its wall.
func TestRayIntoTheEnd(t *testing.T) {
	s := New(square, withEnd, 0.1)
	s.Cut(4, cutter.Ball(3), geom.Vec3{Z: 21}, geom.Vec3{Z: 21})
	o := geom.Vec3{X: 0.73, Y: 60, Z: -1.1}
	d, n, ok := s.Ray(o, geom.Vec3{Y: -1})
	r2 := 0.73*0.73 + 1.1*1.1
	h := math.Sqrt(9 - r2) // the ball's middle is at y = 24
	if !ok {
		t.Fatal("missed the hole's bottom")
	}
	near(t, "bottom", 60-d, 24-h, 2e-3)
	want := geom.Vec3{X: -0.73, Y: h, Z: 1.1}.Mul(1. / 3)
	near(t, "normal of the bottom", n.Sub(want).Len(), 0, 0.02)
	if d, n, ok = s.Ray(geom.Vec3{X: 40, Y: 28, Z: 1}, geom.Vec3{X: -1}); !ok || math.Abs(d-30) > 1e-9 || n != (geom.Vec3{X: 1}) {
		t.Errorf("the bar's side beside the hole: %g %v %v", d, n, ok)
	}
	if d, _, ok = s.Ray(geom.Vec3{X: 0, Y: 28, Z: 0}, geom.Vec3{X: 1}); !ok || math.Abs(d-3) > 0.1 {
		t.Errorf("from within the hole to its wall: %g %v", d, ok)
	}
	pic, err := s.Render(context.Background(), Camera{At: geom.Vec3{Y: 30}, Dir: geom.Vec3{Y: -1}, Up: geom.Vec3{Z: -1}, Width: 20}, 20, 20)
	if err != nil || pic.Side[10*20+10] != 4 || pic.Side[0] != -1 {
		t.Errorf("picture from the end: side %d in the middle, %d in the corner, %v", pic.Side[10*20+10], pic.Side[0], err)
	}
}

// What stands beyond a model that fills the bar but for its end, before and after the end is cut.
func TestBeyondTheEnd(t *testing.T) {
	m := sample.Box(geom.Vec3{X: -10.1, Y: 0, Z: -10.1}, geom.Vec3{X: 10.1, Y: 22.07, Z: 10.1})
	s := New(square, withEnd, 0.25)
	for i, want := range []float64{400 * 7.93, 400 * 7.93 / 2, 0} {
		if i > 0 {
			var pts []geom.Vec3
			for x := -11.0; x <= 11; x++ {
				y0, y1 := -11.0, -1.12
				if i == 2 {
					y0, y1 = -1.12, 11
				}
				pts = append(pts, geom.Vec3{X: x, Y: y0, Z: 22.07}, geom.Vec3{X: x, Y: y1, Z: 22.07})
			}
			if err := s.CutMoves(context.Background(), 4, cutter.FlatEnd(1), pts); err != nil {
				t.Fatal(err)
			}
		}
		b, err := s.Beyond(context.Background(), m, Zone{}, []float64{0.05})
		if err != nil {
			t.Fatal(err)
		}
		near(t, "beyond", b.Volume[0], want, 0.02*400*7.93)
	}
}

// A clone goes its own way.
func TestCloneWithEnd(t *testing.T) {
	s := New(square, withEnd, 0.25)
	c := s.Clone()
	c.Cut(4, cutter.FlatEnd(3), geom.Vec3{Z: 20}, geom.Vec3{Z: 20})
	if s.Volume() == c.Volume() || s.Volume() != New(square, withEnd, 0.25).Volume() {
		t.Errorf("volumes %g and %g", s.Volume(), c.Volume())
	}
}

// The same cuts a quarter turn on: volumes, pieces and the view from the end turn with them.
func TestEndTurnsWithTheBar(t *testing.T) {
	pts := make([][]geom.Vec3, len(withEnd))
	r := rand.New(rand.NewPCG(4, 12))
	for k, d := range withEnd {
		pts[k] = wander(r, 120)
		if geom.IsEnd(d) {
			for i := range pts[k] {
				pts[k][i].Y -= 15
				pts[k][i].Z = 24 + 0.8*(pts[k][i].Z-8)
			}
		}
	}
	cut := func(quarter int) *Stack {
		s := New(square, withEnd, 0.2)
		for k, d := range withEnd {
			to, moves := (k+quarter)%4, pts[k]
			if geom.IsEnd(d) {
				// what faced side 0° faces side 90°: +Z has come to +X, which is y' to −x'
				to, moves = 4, append([]geom.Vec3(nil), moves...)
				for range quarter {
					for i, p := range moves {
						moves[i] = geom.Vec3{X: -p.Y, Y: p.X, Z: p.Z}
					}
				}
			}
			if err := s.CutMoves(context.Background(), to, cutter.Ball(1.5), moves); err != nil {
				t.Fatal(err)
			}
		}
		return s
	}
	a := cut(0)
	f := a.Seen(4)
	for q := 1; q < 4; q++ {
		b := cut(q)
		near(t, "volume", b.Volume(), a.Volume(), 1e-6*a.Volume())
		if len(a.Pieces()) != len(b.Pieces()) {
			t.Errorf("%d quarters: %d pieces, were %d", q, len(b.Pieces()), len(a.Pieces()))
		}
		g := b.Seen(4)
		for k := range f.NY {
			for i := range f.NX {
				x, y := i, k
				for range q {
					x, y = f.NX-1-y, x
				}
				if d := math.Abs(float64(f.At(i, k) - g.At(x, y))); d > 1e-4 {
					t.Fatalf("%d quarters: (%d, %d) shows %g, (%d, %d) of the turned bar %g", q, i, k, f.At(i, k), x, y, g.At(x, y))
				}
			}
		}
	}
}

// The same bytes on one core and on many.
func TestEndSameOnAnyCores(t *testing.T) {
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(0))
	var first [2]*field.Field
	var volume float64
	for _, n := range []int{1, 2, 7} {
		runtime.GOMAXPROCS(n)
		s := endCarved(t, hexBar, []float64{0, 60, 120, 180, 240, 300, geom.EndDeg}, 0.1, 3)
		seen := [2]*field.Field{s.Seen(6), s.Seen(1)}
		if first[0] == nil {
			first, volume = seen, s.Volume()
			continue
		}
		for k := range seen {
			if !slices.Equal(seen[k].Z, first[k].Z) {
				t.Errorf("%d cores: another view", n)
			}
		}
		if v := s.Volume(); v != volume {
			t.Errorf("%d cores: volume %v, was %v", n, v, volume)
		}
	}
}
