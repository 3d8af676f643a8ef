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

func TestSeenAfterIsAnUpperBound(t *testing.T) {
	s := carved(t, square, quarters, 0.2, 4)
	seen := s.Seen(1)
	if err := s.CutMoves(context.Background(), 1, cutter.Ball(1), wander(rand.New(rand.NewPCG(9, 9)), 200)); err != nil {
		t.Fatal(err)
	}
	s.SeenAfter(1, seen)
	equal, total := 0, 0
	for k, z := range s.Seen(1).Z {
		if seen.Z[k] < z {
			t.Fatalf("node %d: bound %g below the top %g", k, seen.Z[k], z)
		}
		total++
		if seen.Z[k] == z {
			equal++
		}
	}
	if equal*100 < total*95 {
		t.Errorf("the bound holds with equality at %d of %d nodes only", equal, total)
	}
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

// Removed and left make the whole.
func TestConservation(t *testing.T) {
	hex := []float64{0, 60, 120, 180, 240, 300}
	for _, c := range []struct {
		b    bar.Bar
		degs []float64
		tol  float64 // mm³
	}{
		{square, quarters, 1e-3}, {bar.Bar{Shape: bar.Rect, Width: 19.97, Height: 17.31, Length: 29.93}, quarters, 1e-3},
		{hexBar, hex, 12}, {roundBar, quarters, 2},
	} {
		s := New(c.b, c.degs, 0.2)
		whole := s.Volume()
		sum := 0.0
		for k := range c.degs {
			pts := wander(rand.New(rand.NewPCG(uint64(k), 21)), 150)
			out := make([]Removed, len(pts)-1)
			before := s.Volume()
			plain := s.Clone()
			if err := s.CutChecked(context.Background(), k, cutter.Bull(1.5, 0.5), pts, out); err != nil {
				t.Fatal(err)
			}
			if err := plain.CutMoves(context.Background(), k, cutter.Bull(1.5, 0.5), pts); err != nil {
				t.Fatal(err)
			}
			compare(t, "checked", s.Field(k), plain.Field(k), 2e-6)
			compare(t, "looked", s.Look(k), plain.Seen(k), 4e-6)
			one := 0.0
			for _, r := range out {
				one += r.Volume
			}
			if one < 10 {
				t.Errorf("side %d took %g", k, one)
			}
			near(t, "one side", one, before-s.Volume(), c.tol)
			sum += one
		}
		near(t, string(c.b.Shape)+": bar = removed + left", sum+s.Volume(), whole, 4*c.tol)
	}
}

// A slot, a pass beside it, a rapid in air, and one through stock.
func TestCheckedTellsCutsApart(t *testing.T) {
	s := New(square, quarters, 0.05)
	p := cutter.FlatEnd(1.525) // 61 nodes wide: 3.05 mm in cells, too
	pts := []geom.Vec3{
		{X: -12, Y: 15, Z: 20}, {X: -12, Y: 15, Z: 8}, {X: 5, Y: 15, Z: 8}, // air, then a slot 2 deep
		{X: 5, Y: 15, Z: 12}, {X: -8, Y: 16, Z: 12}, // up and over
		{X: -8, Y: 16, Z: 8}, {X: 5, Y: 16, Z: 8}, // 1 mm beside: ae = 1
		{X: 5, Y: 5, Z: 9}, // through stock, 1 deep at its end
	}
	out := make([]Removed, len(pts)-1)
	if err := s.CutChecked(context.Background(), 0, p, pts, out); err != nil {
		t.Fatal(err)
	}
	for _, k := range []int{0, 2, 3} {
		if out[k].Depth != 0 || out[k].Volume != 0 || out[k].Area != 0 || out[k].Width() != 0 {
			t.Errorf("move %d in air: %+v", k, out[k])
		}
	}
	near(t, "slot depth", out[1].Depth, 2, 1e-6)
	near(t, "slot top", out[1].Top, 10, 1e-6)
	near(t, "slot volume", out[1].Volume, 2*(3.05*15+math.Pi*1.525*1.525/2), 0.1)
	near(t, "slot width", out[1].Width()*17, 3.05*15+math.Pi*1.525*1.525/2, 0.05) // the first 2 mm in air
	near(t, "beside, width", out[5].Width(), 1, 0.05)
	near(t, "plunge beside, depth", out[4].Depth, 2, 1e-6)
	near(t, "through stock, depth", out[6].Depth, 1+0.0, 1.0)
	if out[6].Depth < 1 {
		t.Errorf("through stock: depth %g, want at least 1", out[6].Depth)
	}

	dry := s.Met(0, p, geom.Vec3{X: -5, Y: 2, Z: 7}, geom.Vec3{X: 5, Y: 2, Z: 7})
	near(t, "met depth", dry.Depth, 3, 1e-6)
	near(t, "met top", dry.Top, 10, 1e-6)
	if r := s.Met(0, p, geom.Vec3{X: -5, Y: 2, Z: 10}, geom.Vec3{X: 5, Y: 2, Z: 10}); r.Depth != 0 {
		t.Errorf("on the top: %+v", r)
	}
	if r := s.Met(0, p, geom.Vec3{X: -3, Y: 15.5, Z: 8}, geom.Vec3{X: 3, Y: 15.5, Z: 8}); r.Depth != 0 {
		t.Errorf("in the slot: %+v", r)
	}
}

// Met is what CutChecked meets.
func TestMetIsWhatACutMeets(t *testing.T) {
	for _, name := range names {
		s := carved(t, square, quarters, 0.2, 5)
		pts := wander(rand.New(rand.NewPCG(6, 6)), 60)
		found := 0
		for k := range pts[1:] {
			met := s.Met(1, profiles[name], pts[k], pts[k+1])
			out := make([]Removed, 1)
			if err := s.CutChecked(context.Background(), 1, profiles[name], pts[k:k+2], out); err != nil {
				t.Fatal(err)
			}
			near(t, name+" depth", met.Depth, out[0].Depth, 1e-5)
			near(t, name+" area", met.Area, out[0].Area, 0.05)
			if met.Depth > 0.1 {
				found++
			}
		}
		if found == 0 {
			t.Errorf("%s: met nothing", name)
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
