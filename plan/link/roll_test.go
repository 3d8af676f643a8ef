package link

import (
	"math"
	"math/rand/v2"
	"reflect"
	"testing"

	"barwise/geom"
	"barwise/path"
)

var nothing = func(a, b geom.Vec2) float64 { return math.Inf(-1) }

func rolled(keep func(geom.Vec2) float64, passes ...path.Pass) []path.Move {
	p := testParams
	p.Keep, p.Roll = keep, 0.5
	return Link(passes, nothing, p)
}

// Over a level plane, and over slopes along the pass, the way onto and off the pass is an arc of radius Roll
// tangent to the plane: its centre stands Roll above the pass's end, square to it, and it ends upright.
func TestRollIsTangent(t *testing.T) {
	for _, deg := range []float64{0, 20, 45, 70, -20, -45, -70} {
		s, c := math.Sincos(deg * math.Pi / 180)
		h := geom.Vec2{X: 0.6, Y: 0.8}
		along := func(d float64) geom.Vec3 { return geom.Vec3{X: h.X * d * c, Y: h.Y * d * c, Z: d * s} }
		slope := func(p geom.Vec2) float64 { return p.Dot(h) * s / c }
		moves := rolled(slope, path.Pass{Points: []geom.Vec3{along(0), along(2), along(7)}})
		at, arcs, cut := moves[0].To, [2]int{}, 0.0
		for i, m := range moves {
			from := at
			at = m.To
			if m.Mode == path.Rapid {
				continue
			}
			if m.To.Sub(from).XY().Len() < 1e-9 && cut == 0 {
				continue // straight down to the arc
			}
			if slope(from.XY()) > from.Z-1e-9 && slope(at.XY()) > at.Z-1e-9 {
				cut += at.Sub(from).Len()
				continue
			}
			end, far := along(0), from
			k, feed := 0, testParams.EntryFeed
			if cut > 0 {
				end, far, k, feed = along(7), at, 1, testParams.CutFeed
			}
			arcs[k]++
			if m.Feed != feed {
				t.Errorf("slope %g: move %d of an arc is fed at %g, want %g", deg, i, m.Feed, feed)
			}
			centre := end.Add(geom.Vec3{X: -h.X * s, Y: -h.Y * s, Z: c}.Mul(0.5))
			if r := far.Sub(centre).Len(); math.Abs(r-0.5) > 1e-9 {
				t.Errorf("slope %g: %v is %g off the arc's centre, want 0.5", deg, far, r)
			}
		}
		if math.Abs(cut-7) > 1e-9 {
			t.Errorf("slope %g: %g mm are cut on the surface, want 7", deg, cut)
		}
		// a turn of 90° less the climb at the one end, and more at the other, in chords of at most 15°
		if want := [2]int{int(math.Ceil((90 + deg) / 15)), int(math.Ceil((90 - deg) / 15))}; arcs != want {
			t.Errorf("slope %g: chords onto and off %v, want %v", deg, arcs, want)
		}
	}
}

// Walls that rise at a pass's ends leave no room: there it is come onto and left straight down and up.
func TestNoRollIntoAWall(t *testing.T) {
	walls := func(p geom.Vec2) float64 {
		if p.X < -0.01 || p.X > 5.01 {
			return 9
		}
		return 0
	}
	pass := path.Pass{Points: []geom.Vec3{{}, {X: 5}}}
	p := testParams
	if got, want := rolled(walls, pass), Link([]path.Pass{pass}, nothing, p); !reflect.DeepEqual(got, want) {
		t.Errorf("between walls %v, want %v", got, want)
	}
	one := rolled(func(p geom.Vec2) float64 { return walls(geom.Vec2{X: max(p.X, 0)}) }, pass)
	if one[0].To.X >= 0 || one[len(one)-1].To.X != 5 {
		t.Errorf("a wall at the end alone: begins at %v, ends at %v", one[0].To, one[len(one)-1].To)
	}
}

// On a surface of random balls, where a ball's tip may go is known in closed form. No arc goes into one by more than
// the hair and what lies between two looks, and most passes get theirs.
func TestRollsKeepOff(t *testing.T) {
	rnd := rand.New(rand.NewPCG(6, 6))
	const r = 0.5
	for trial := range 20 {
		var balls [12][4]float64
		for i := range balls {
			balls[i] = [4]float64{rnd.Float64()*8 - 4, rnd.Float64()*8 - 4, rnd.Float64() - 2, 0.3 + 1.5*rnd.Float64()}
		}
		keep := func(p geom.Vec2) float64 {
			z := -1.0
			for _, b := range balls {
				if h := float64((b[3]+r)*(b[3]+r)) - float64((p.X-b[0])*(p.X-b[0])) - float64((p.Y-b[1])*(p.Y-b[1])); h > 0 {
					z = max(z, b[2]+math.Sqrt(h)-r)
				}
			}
			return z
		}
		var passes []path.Pass
		for k := range 9 {
			var q path.Pass
			y := float64(k) - 4
			for x := -4 + 2*rnd.Float64(); x < 2+2*rnd.Float64(); x += 0.02 {
				q.Points = append(q.Points, geom.Vec3{X: x, Y: y, Z: keep(geom.Vec2{X: x, Y: y})})
			}
			passes = append(passes, q)
		}
		bare := Link(passes, nothing, testParams)
		moves := rolled(keep, passes...)
		if len(moves) < len(bare)+6*9 {
			t.Errorf("trial %d: only %d moves for arcs", trial, len(moves)-len(bare))
		}
		at, on := moves[0].To, map[geom.Vec3]bool{}
		for _, q := range passes {
			for _, v := range q.Points {
				on[v] = true
			}
		}
		for _, m := range moves {
			from := at
			at = m.To
			if m.Mode == path.Rapid || on[from] && on[at] {
				continue
			}
			for k := range 201 {
				q := from.Lerp(at, float64(k)/200)
				room := q.Z + 1
				for _, b := range balls {
					room = min(room, q.Add(geom.Vec3{Z: r}).Sub(geom.Vec3{X: b[0], Y: b[1], Z: b[2]}).Len()-r-b[3])
				}
				// between looks 0.05 mm apart, over balls that leave 0.8 mm or more: s²/8R
				if room < -rollHair-0.05*0.05/8/0.8 {
					t.Fatalf("from %v to %v: at %v the cutter is %g mm in what is kept", from, at, q, -room)
				}
			}
		}
	}
}

// An arc goes no deeper into stock than its pass begins, and the stock it goes through is told.
func TestRollStaysOutOfStock(t *testing.T) {
	block := func(a, b geom.Vec2) float64 {
		if min(a.X, b.X) < -0.1 {
			return 4
		}
		return 0
	}
	p := testParams
	p.Keep, p.Roll = func(geom.Vec2) float64 { return 0 }, 0.5
	told := 0.0
	p.Done = func(pts []geom.Vec3) {
		for i := 1; i < len(pts); i++ {
			told += pts[i].Sub(pts[i-1]).Len()
		}
	}
	moves := Link([]path.Pass{{Points: []geom.Vec3{{}, {X: 5}}}}, block, p)
	if x := moves[0].To.X; x < -0.1 {
		t.Errorf("the pass is come onto from x %g, where stock stands", x)
	}
	if last := moves[len(moves)-1].To; math.Abs(last.X-5.5) > 1e-9 {
		t.Errorf("the pass is left at %v, want x 5.5", last)
	}
	if _, fed := travel(moves); math.Abs(fed-told) > 1e-9 || told < 5+0.5 {
		t.Errorf("fed %g, told %g", fed, told)
	}
}
