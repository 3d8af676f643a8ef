package rough

import (
	"math"
	"testing"

	"barwise/geom"
	"barwise/geom/field"
	"barwise/geom/field/iso"
	"barwise/path"
	"barwise/shop/cutter"
)

// mill is the slow twin of the stock, cut segment by segment in the order of the passes.
type mill struct {
	f *field.Field
	c cutter.Profile
}

func newMill(in Input, c cutter.Profile, pitch float64) *mill {
	return &mill{replay(in.Seen, pitch, nil, c), c}
}

// highest is the greatest height of stock within r of p.
func (m *mill) highest(p geom.Vec2, r float64) float64 {
	top := math.Inf(-1)
	g := m.f.Grid
	i0, j0 := g.Nearest(geom.Vec2{X: p.X - r, Y: p.Y - r})
	i1, j1 := g.Nearest(geom.Vec2{X: p.X + r, Y: p.Y + r})
	for j := max(j0, 0); j <= min(j1, g.NY-1); j++ {
		for i := max(i0, 0); i <= min(i1, g.NX-1); i++ {
			if math.Hypot(g.X(i)-p.X, g.Y(j)-p.Y) <= r {
				top = max(top, float64(m.f.At(i, j)))
			}
		}
	}
	return top
}

// cut sweeps a segment and returns the volumes taken on its right and on its left, mm³.
func (m *mill) cut(a, b geom.Vec3) (right, left float64) {
	g, r := m.f.Grid, m.c.R
	i0, j0 := g.Nearest(geom.Vec2{X: min(a.X, b.X) - r, Y: min(a.Y, b.Y) - r})
	i1, j1 := g.Nearest(geom.Vec2{X: max(a.X, b.X) + r, Y: max(a.Y, b.Y) + r})
	d := b.XY().Sub(a.XY())
	for j := max(j0, 0); j <= min(j1, g.NY-1); j++ {
		for i := max(i0, 0); i <= min(i1, g.NX-1); i++ {
			q := geom.Vec2{X: g.X(i), Y: g.Y(j)}
			k := j*g.NX + i
			z := float32(max(a.Z, b.Z))
			if m.f.Z[k] <= z || iso.OffSegment(q, a.XY(), b.XY()) > r {
				continue
			}
			v := float64(m.f.Z[k]-z) * g.DX * g.DY
			m.f.Z[k] = z
			if d.Cross(q.Sub(a.XY())) < 0 {
				right += v
			} else {
				left += v
			}
		}
	}
	return right, left
}

func (m *mill) pass(p path.Pass) {
	all := append(append([]geom.Vec3(nil), p.Lead...), p.Points...)
	for i := 1; i < len(all); i++ {
		m.cut(all[i-1], all[i])
	}
}

// Both ways saves lifts, and cuts the same stock.
func TestBothWays(t *testing.T) {
	lifts := func(out *Output) int {
		n := 0
		for _, q := range out.Passes {
			if !q.Follow {
				n++
			}
		}
		return n
	}
	p := params()
	for _, s := range []scene{bossScene(), emptyScene()} {
		in := s.input(0.12, p)
		one := run(t, in, p)
		p := p
		p.BothWays = true
		both := run(t, in, p)
		if a, b := lifts(one), lifts(both); 3*b > 2*a || !near(one.Cut, both.Cut, 0.02) {
			t.Errorf("%s: %d lifts and %g mm one way, %d and %g both ways", s.name, a, one.Cut, b, both.Cut)
		}
		in.Seen = replay(in.Seen, 0.15, both.Passes, p.Cutter.Profile)
		if again := run(t, in, p); again.Cut > 0.005*both.Cut {
			t.Errorf("%s: both ways left %g mm to cut", s.name, again.Cut)
		}
	}
}

// A pass begins clear of stock, or above it and goes down no steeper than the cutter's ramp; a way
// followed on the level meets none.
func TestEntries(t *testing.T) {
	for _, s := range []scene{bossScene(), pocketScene(), slantedScene()} {
		p := params()
		in := s.input(0.12, p)
		out := run(t, in, p)
		m := newMill(in, p.Cutter.Profile, 0.1)
		steepest := math.Tan(p.Cutter.RampDeg * math.Pi / 180)
		for n, q := range out.Passes {
			at := q.Start()
			// a node of the planner's grid and one of this one may differ by half a pitch of both
			if top := m.highest(at.XY(), p.Cutter.R-0.02); top > at.Z+2e-3 {
				t.Fatalf("%s: pass %d begins at %v in stock up to %g", s.name, n, at, top)
			}
			if q.Follow {
				right, left := m.cut(out.Passes[n-1].End(), at)
				if right+left > 0.2 { // what the planner takes for clear may reach 0.17 mm into stock
					t.Errorf("%s: the way to pass %d cuts %g mm³", s.name, n, right+left)
				}
				if out.Passes[n-1].End().Z != at.Z {
					t.Errorf("%s: the way to pass %d is not level", s.name, n)
				}
			}
			all := append(append([]geom.Vec3(nil), q.Lead...), q.Points...)
			for i := 1; i < len(all); i++ {
				a, b := all[i-1], all[i]
				if fall := a.Z - b.Z; fall > steepest*gap(a.XY(), b.XY())+1e-9 {
					t.Errorf("%s: pass %d falls %g from %v to %v", s.name, n, fall, a, b)
				}
			}
			m.pass(q)
		}
	}
}

// Climb milling with a spindle that turns clockwise from above has the stock on the right of the
// motion: so round an island clockwise, and round a pocket counter-clockwise. Judged by what the
// passes take on either side, replayed in order.
func TestClimb(t *testing.T) {
	for _, s := range []scene{bossScene(), pocketScene()} {
		for _, climb := range []bool{true, false} {
			p := params()
			p.Climb = climb
			in := s.input(0.12, p)
			out := run(t, in, p)
			m := newMill(in, p.Cutter.Profile, 0.1)
			right, left := 0.0, 0.0
			for _, q := range out.Passes {
				for i := 1; i < len(q.Lead); i++ {
					m.cut(q.Lead[i-1], q.Lead[i])
				}
				if n := len(q.Lead); n > 0 {
					m.cut(q.Lead[n-1], q.Points[0])
				}
				for i := 1; i < len(q.Points); i++ {
					a, b := q.Points[i-1], q.Points[i]
					n := int(gap(a.XY(), b.XY())/0.2) + 1
					for k := range n {
						r, l := m.cut(a.Lerp(b, float64(k)/float64(n)), a.Lerp(b, float64(k+1)/float64(n)))
						if !q.Full {
							right, left = right+r, left+l
						}
					}
				}
			}
			if !climb {
				right, left = left, right
			}
			// a stepover of 0.8 R takes its strip on one side; the rest is where fronts meet walls
			if left > 0.1*(right+left) {
				t.Errorf("%s, climb %v: %.0f mm³ on the stock's side, %.0f on the other", s.name, climb, right, left)
			}
		}
	}
	// the way round says the same: the enclosed area is signed, positive counter-clockwise
	turns := func(s scene, climb bool) float64 {
		p := params()
		p.Climb = climb
		sum := 0.0
		for _, q := range run(t, s.input(0.12, p), p).Passes {
			if q.Closed && !q.Full {
				for i := 1; i < len(q.Points); i++ {
					sum += q.Points[i-1].XY().Cross(q.Points[i].XY())
				}
			}
		}
		return sum
	}
	if a, b := turns(domeScene(), true), turns(domeScene(), false); a >= 0 || b <= 0 {
		t.Errorf("round an island: signed areas %g climbing, %g not", a, b)
	}
	pit := barScene("pit", 24, 40, -9, func(p geom.Vec2) float64 { return hole(p, -9, 9, 6, 24) }, 30, 8)
	if a, b := turns(pit, true), turns(pit, false); a <= 0 || b >= 0 {
		t.Errorf("round a pocket: signed areas %g climbing, %g not", a, b)
	}
}

// In the open no cut is full width; a slot just wider than the cutter is nothing else.
func TestFullWidth(t *testing.T) {
	p := params()
	if out := run(t, emptyScene().input(0.12, p), p); out.Full > 0 || out.Entries > 0 {
		t.Errorf("an open bar: %g mm of full width, %d entries", out.Full, out.Entries)
	}
	slot := barScene("slot", 24, 40, -9, func(p geom.Vec2) float64 { return hole(p, -8, 8, 20, 23.6) }, 30, 11)
	out := run(t, slot.input(0.12, p), p)
	// 0.2 mm of room across: once along it, at the ramp's 3° 19 mm for a stepdown of 1 mm
	if out.Full < 12 || out.Entries != 1 {
		t.Errorf("a slot: %g mm of full width, %d entries", out.Full, out.Entries)
	}
}

// A hole no wider than the cutter and its allowance is left by a cutter that does not plunge, and said.
func TestTinyPocket(t *testing.T) {
	s := barScene("tiny", 6, 6, -9, func(p geom.Vec2) float64 {
		return max(0, 1.76-math.Hypot(p.X, p.Y-3)) // 0.06 mm of room for the tip
	}, 30, 2)
	p := params()
	out := run(t, s.input(0.03, p), p)
	if len(out.Passes) != 0 || math.Abs(out.Unreached-math.Pi*1.5*1.5) > 2 {
		t.Errorf("%d passes, %g mm² left", len(out.Passes), out.Unreached)
	}
	p.Cutter.Plunges = true
	out = run(t, s.input(0.03, p), p)
	if len(out.Passes) != 1 || out.Unreached > 0.2 {
		t.Errorf("plunging: %d passes, %g mm² left", len(out.Passes), out.Unreached)
	}
}

// Passes along a wall that lies across the grid keep near it: between the bound inside and a pitch and
// the tolerance outside the allowance.
func TestWallIsTight(t *testing.T) {
	s := slantedScene()
	p := params()
	in := s.input(0.12, p)
	out := run(t, in, p)
	sin, cos := math.Sincos(0.4)
	nearest := map[[2]int]float64{} // by level and place along the wall
	along(out.Passes, 0.05, func(q geom.Vec3) {
		if q.Z > 6 {
			return
		}
		// the long wall x' = −5 of the first island
		u := geom.Vec2{X: q.X*cos + (q.Y-24)*sin, Y: (q.Y-24)*cos - q.X*sin}
		d := -5 - u.X - p.Cutter.R - allowance
		if math.Abs(u.Y) > 3 || math.Abs(d) > 1 {
			return
		}
		k := [2]int{int(math.Round(q.Z * 100)), int(math.Floor(u.Y / 0.2))}
		if old, ok := nearest[k]; !ok || d < old {
			nearest[k] = d
		}
	})
	far := 0
	for k, d := range nearest {
		if d < -out.Bound {
			t.Errorf("%g mm inside the allowance at level and place %v", -d, k)
		}
		if d > 0.06 {
			far++
		}
	}
	if len(nearest) < 150 || far > len(nearest)/20 {
		t.Errorf("at %d of %d places the wall pass lies more than half a pitch off", far, len(nearest))
	}
}
