package stock

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"barwise/geom"
	"barwise/shop/bar"
	"barwise/shop/cutter"
)

var (
	hexBar   = bar.Bar{Shape: bar.Hex, Width: 20, Height: 20, Length: 30, Grip: 5}
	roundBar = bar.Bar{Shape: bar.Round, Width: 20, Height: 20, Length: 30, Grip: 5, Block: bar.Hex}
)

// carved is a bar with random cuts from every side.
func carved(t *testing.T, b bar.Bar, degs []float64, pitch float64, seed uint64) *Stack {
	t.Helper()
	s := New(b, degs, pitch)
	r := rand.New(rand.NewPCG(seed, 11))
	for k := range degs {
		if err := s.CutMoves(context.Background(), k, profiles[names[r.IntN(len(names))]], wander(r, 150)); err != nil {
			t.Fatal(err)
		}
	}
	return s
}

// holds is membership in the solid of prisms at row j, side by side: the slow twin. Sides oblique to
// side are asked at mid, the others at x, both of side's frame; side < 0 asks all at x.
func (s *Stack) holds(side, j int, x, mid, z float64) bool {
	turn := geom.TurnDeg(0)
	if side >= 0 {
		turn = s.sides[side].turn
	}
	for k := range s.sides {
		sd := &s.sides[k]
		at := x
		if side >= 0 && math.Mod(sd.deg-s.sides[side].deg+360, 90) != 0 {
			at = mid
		}
		q := sd.turn.ToSide(turn.ToPart(geom.Vec3{X: at, Z: z}))
		i, _ := sd.h.Nearest(geom.Vec2{X: q.X})
		if q.Z > float64(sd.h.At(max(0, min(sd.h.NX-1, i)), j)) {
			return false
		}
	}
	return true
}

func TestSeenAgainstMembership(t *testing.T) {
	hex := []float64{0, 60, 120, 180, 240, 300}
	for seed := range uint64(1) {
		for _, c := range []struct {
			b    bar.Bar
			degs []float64
		}{{square, quarters}, {hexBar, hex}, {roundBar, hex}, {square, []float64{0, 45, 90, 180, 225, 270}}} {
			s := carved(t, c.b, c.degs, 0.2, seed)
			hidden := 0
			for side := range c.degs {
				seen := s.Seen(side)
				sd := &s.sides[side]
				for j := 0; j < seen.NY; j += 19 {
					for i := range sd.cols {
						col := &sd.cols[i]
						if col.w == 0 {
							continue
						}
						got := float64(seen.At(i, j))
						want := math.Inf(-1)
						for u := range 5 {
							x := col.l + 1e-5 + (col.w-2e-5)*float64(u)/4
							for z := col.hi; z >= col.lo; z -= 0.02 {
								if s.holds(side, j, x, col.x, z) {
									want = max(want, z)
									break
								}
							}
						}
						if h := float64(s.Field(side).At(i, j)); got < min(h, col.hi)-0.5 {
							hidden++
						}
						switch {
						case got < want-1e-5:
							t.Fatalf("seed %d, %s side %d, (%d, %d): top %g, but there is stock at %g", seed, c.b.Shape, side, i, j, got, want)
						case got > want+0.021 && !oneCellSliver(s, side, i, j, got):
							t.Fatalf("seed %d, %s side %d, (%d, %d): top %g, but no stock above %g", seed, c.b.Shape, side, i, j, got, want)
						}
					}
				}
			}
			if hidden < 5 {
				t.Errorf("seed %d: only %d columns were lowered from other sides", seed, hidden)
			}
		}
	}
}

// oneCellSliver looks for stock just under z over the whole width of the cell, finely.
func oneCellSliver(s *Stack, side, i, j int, z float64) bool {
	sd := &s.sides[side]
	c := &sd.cols[i]
	for u := range 4001 {
		x := c.l + c.w*float64(u)/4000
		if s.holds(side, j, x, c.x, z-1e-5) {
			return true
		}
	}
	return false
}

// Volume against counting points of the solid of prisms.
func TestVolumeAgainstCounting(t *testing.T) {
	hex := []float64{0, 60, 120, 180, 240, 300}
	for _, c := range []struct {
		b    bar.Bar
		degs []float64
	}{{square, quarters}, {hexBar, hex}, {roundBar, hex}, {roundBar, []float64{0, 45, 90, 135}}} {
		s := carved(t, c.b, c.degs, 0.2, 8)
		const n = 241
		v := &View{bar: c.b}
		sum, cell := 0, 24.0/n
		for j := 3; j < len(s.rows)-3; j += 20 {
			area := 0
			for a := range n {
				for b := range n {
					p := geom.Vec3{X: (float64(a)+0.5)*cell - 12, Y: 15, Z: (float64(b)+0.5)*cell - 12}
					_, _, _, in := v.enter(p, geom.Vec3{Y: 1})
					if in && s.holds(-1, j, p.X, p.X, p.Z) {
						area++
					}
				}
			}
			sum += area
			sec := s.SectionAt(float64(j) * 0.2)
			near(t, string(c.b.Shape)+" area", sec.Area, float64(area)*cell*cell, 0.8)
		}
		if sum == 0 {
			t.Fatal("nothing counted")
		}
	}
}

// ring cuts all round at y from four sides, down to depth z above the axis.
func ring(t *testing.T, s *Stack, y, z float64) {
	t.Helper()
	for k := range 4 {
		pts := []geom.Vec3{{X: -10, Y: y, Z: z}, {X: 10, Y: y, Z: z}}
		if err := s.CutMoves(context.Background(), k, cutter.FlatEnd(1.025), pts); err != nil {
			t.Fatal(err)
		}
	}
}

func TestLoosePiece(t *testing.T) {
	for _, c := range []struct {
		z    float64
		want int
	}{{0.04, 1}, {0.002, 1}, {-0.002, 2}, {-0.02, 2}, {-1, 2}} {
		s := New(square, quarters, 0.1)
		ring(t, s, 20, c.z)
		ps := s.Pieces()
		if len(ps) != c.want {
			t.Errorf("necked to %g: %d pieces, want %d", c.z, len(ps), c.want)
			continue
		}
		sum := 0.0
		for _, p := range ps {
			sum += p.Volume
		}
		near(t, "volume of the pieces", sum, s.Volume(), 1e-3)
		if c.want == 1 {
			continue
		}
		if !ps[0].Joined || ps[1].Joined {
			t.Fatalf("joined: %v %v", ps[0].Joined, ps[1].Joined)
		}
		// nodes within 1.025 of y = 20 fall: the wall stands at 20 ± 1.05
		near(t, "kept", ps[0].Volume, 400*18.95, 1e-3)
		near(t, "loose", ps[1].Volume, 400*8.95, 1e-3)
		want := geom.Box3{Min: geom.Vec3{X: -10, Y: 21.05, Z: -10}, Max: geom.Vec3{X: 10, Y: 30, Z: 10}}
		near(t, "box", ps[1].Box.Min.Sub(want.Min).Len()+ps[1].Box.Max.Sub(want.Max).Len(), 0, 1e-6)
	}
}

// A ring round a core from six sides of a round bar falls off when it is cut in two and undercut:
// here simply parted from six sides at 60°.
func TestLoosePieceOblique(t *testing.T) {
	s := New(roundBar, []float64{0, 60, 120, 180, 240, 300}, 0.1)
	for k := range 6 {
		z := 1.0
		if k == 3 {
			z = -1.3
		}
		pts := []geom.Vec3{{X: -10, Y: 20, Z: z}, {X: 10, Y: 20, Z: z}}
		if err := s.CutMoves(context.Background(), k, cutter.FlatEnd(1), pts); err != nil {
			t.Fatal(err)
		}
		if k == 2 {
			if n := len(s.Pieces()); n != 1 {
				t.Fatalf("half way: %d pieces, want 1", n)
			}
		}
	}
	if n := len(s.Pieces()); n != 2 {
		t.Errorf("parted: %d pieces, want 2", n)
	}
}
