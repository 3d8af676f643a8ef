package engage

import (
	"context"
	"math"
	"math/rand/v2"
	"reflect"
	"runtime"
	"testing"

	"barwise/geom"
	"barwise/geom/field"
	"barwise/path"
	"barwise/shop/cutter"
)

const deg = math.Pi / 180

// block is stock 10 high over [x0,x1]×[y0,y1].
func block(x0, x1, y0, y1, pitch float64) *field.Field {
	f := field.New(field.Cover(-30, 30, -30, 30, pitch, pitch), field.Empty)
	for j := range f.NY {
		for i := range f.NX {
			if x, y := f.X(i), f.Y(j); x > x0 && x < x1 && y > y0 && y < y1 {
				f.Z[j*f.NX+i] = 10
			}
		}
	}
	return f
}

func mill(p cutter.Profile) cutter.Cutter { return cutter.Cutter{Profile: p} }

// prog begins at the first point and feeds to the others.
func prog(pts ...geom.Vec3) path.Program {
	p := path.Program{Start: pts[0]}
	for _, q := range pts[1:] {
		p.Moves = append(p.Moves, path.Move{To: q, Feed: 10, Mode: path.Line})
	}
	return p
}

// lift goes over to q by rapids.
func lift(p *path.Program, q geom.Vec3) {
	at := p.Moves[len(p.Moves)-1].To
	for _, to := range []geom.Vec3{{X: at.X, Y: at.Y, Z: 20}, {X: q.X, Y: q.Y, Z: 20}, q} {
		p.Moves = append(p.Moves, path.Move{To: to, Mode: path.Rapid})
	}
}

func feed(p *path.Program, q ...geom.Vec3) {
	for _, to := range q {
		p.Moves = append(p.Moves, path.Move{To: to, Feed: 10, Mode: path.Line})
	}
}

func circle(p *path.Program, centre geom.Vec3) {
	at := p.Moves[len(p.Moves)-1].To
	p.Moves = append(p.Moves, path.Move{To: at, Centre: centre, Mode: path.ArcCCW, Feed: 10})
}

func over(t *testing.T, f *field.Field, p path.Program, c cutter.Profile, q Params) *Result {
	t.Helper()
	r, err := Over(context.Background(), f, p, mill(c), q)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.9g, want %.9g ± %g", what, got, want, tol)
	}
}

// only returns the greatest angle of one move.
func only(r *Result, move int) float64 { return float64(r.ByMove[move]) }

// A slot is the whole half facing the motion; a pass ae beside it is cos φ = 1 − ae/R, whichever side the
// stock is on.
func TestSlotAndStraightWall(t *testing.T) {
	f := block(-20, 20, -20, 20, 0.05)
	for _, r := range []float64{0.5, 1.5, 3} {
		for _, share := range []float64{0.02, 0.1, 0.45, 1, 1.3, 1.9} {
			for _, side := range []float64{1, -1} {
				ae := share * r
				p := prog(geom.Vec3{X: -25, Z: 5}, geom.Vec3{X: 25, Z: 5})
				lift(&p, geom.Vec3{X: -15, Y: side * ae, Z: 5})
				feed(&p, geom.Vec3{X: 15, Y: side * ae, Z: 5})
				res := over(t, f, p, cutter.FlatEnd(r), Params{})
				near(t, "slot", only(res, 0), math.Pi, 1e-6)
				near(t, "wall", only(res, 4), math.Acos(1-ae/r), 0.05*deg)
			}
		}
	}
}

// In a round hole and round an island, the path's radius ρ: a rim point at θ from the side that the stock
// is on is ρ² + R² ± 2ρR cos θ, squared, from the middle; the stock begins at ρ ± (R − ae).
func TestRoundHoleAndIsland(t *testing.T) {
	f := block(-20, 20, -20, 20, 0.05)
	for _, c := range []struct{ r, rho, ae float64 }{{1.5, 6, 0.3}, {1.5, 3, 0.6}, {2, 4, 1.5}, {0.5, 2, 0.1}, {1.5, 1.6, 0.2}} {
		for _, in := range []bool{true, false} {
			sign := 1.0
			cos := (sq(c.rho+c.r-c.ae) - sq(c.rho) - sq(c.r)) / (2 * c.rho * c.r)
			if !in {
				if c.rho < c.r+c.ae {
					continue // no island is left
				}
				sign = -1
				cos = (sq(c.rho) + sq(c.r) - sq(c.rho-c.r+c.ae)) / (2 * c.rho * c.r)
			}
			first := c.rho - sign*c.ae
			p := prog(geom.Vec3{X: first, Z: 20}, geom.Vec3{X: first, Z: 5})
			circle(&p, geom.Vec3{})
			lift(&p, geom.Vec3{X: c.rho, Z: 5})
			circle(&p, geom.Vec3{})
			if in { // the middle is cleared first, so that only the outside counts
				p.Moves = append(path.Program{Moves: clearing(first, c.r)}.Moves, p.Moves...)
			}
			res := over(t, f, p, cutter.FlatEnd(c.r), Params{})
			hist := loopAngles(res)
			near(t, "arc", hist, math.Acos(cos), 0.45*deg)
		}
	}
}

func sq(x float64) float64 { return x * x }

// clearing plunges all over the disc of radius rho.
func clearing(rho, r float64) []path.Move {
	var out []path.Move
	for x := -rho; x <= rho; x += r / 2 {
		for y := -rho; y <= rho; y += r / 2 {
			if math.Hypot(x, y) <= rho {
				out = append(out, path.Move{To: geom.Vec3{X: x, Y: y, Z: 20}}, path.Move{To: geom.Vec3{X: x, Y: y, Z: 5}, Mode: path.Line, Feed: 10}, path.Move{To: geom.Vec3{X: x, Y: y, Z: 20}})
			}
		}
	}
	return out
}

// loopAngles is the greatest angle of the last move, a circle.
func loopAngles(r *Result) float64 { return only(r, len(r.ByMove)-1) }

// The wall of the stock before the program is off by no more than Bound says, and on the node's own line
// by nothing that it does not.
func TestBound(t *testing.T) {
	rnd := rand.New(rand.NewPCG(1, 2))
	const r = 1.5
	for range 60 {
		pitch := 0.05 + 0.15*rnd.Float64()
		ae := 0.2 + 2*rnd.Float64()
		a := rnd.Float64() * 2 * math.Pi
		u := geom.Vec2{X: math.Cos(a), Y: math.Sin(a)}
		f := field.New(field.Cover(-12, 12, -12, 12, pitch, pitch), field.Empty)
		for j := range f.NY {
			for i := range f.NX {
				if u.Cross(geom.Vec2{X: f.X(i), Y: f.Y(j)}) > 0 { // stock on the left of the line along u
					f.Z[j*f.NX+i] = 10
				}
			}
		}
		side := geom.Vec2{X: -u.Y, Y: u.X}.Mul(ae - r)
		at := func(s float64) geom.Vec3 {
			q := side.Add(u.Mul(s))
			return geom.Vec3{X: q.X, Y: q.Y, Z: 5}
		}
		res := over(t, f, prog(at(-6), at(-5), at(5)), cutter.FlatEnd(r), Params{})
		phi := math.Acos(1 - ae/r)
		near(t, "wall by the grid", only(res, 1), phi, Bound(phi, r, pitch)+0.05*deg)
	}
	// R 1.5, cos φ = 1 − ae/R: a wall 0.0354 mm off at φ = 60° (ae 0.75) makes acos(1 − 0.7854/1.5)
	near(t, "bound", Bound(60*deg, 1.5, 0.05), math.Acos(1-(0.75+0.05/math.Sqrt2)/1.5)-60*deg, math.Abs(math.Acos(1-(0.75-0.05/math.Sqrt2)/1.5)-60*deg)-(math.Acos(1-(0.75+0.05/math.Sqrt2)/1.5)-60*deg)+1e-9)
}

// Motion where all is cut takes nothing, off the bar neither; a rapid counts nowhere. All of the way at a
// feed is cutting, entry or air.
func TestAirAndConservation(t *testing.T) {
	f := block(-20, 20, -20, 20, 0.05)
	p := prog(geom.Vec3{X: -25, Z: 5}, geom.Vec3{X: 25, Z: 5}, geom.Vec3{X: -25, Z: 5}, geom.Vec3{X: -25, Y: 25, Z: 5}, geom.Vec3{X: 25, Y: 25, Z: 5})
	res := over(t, f, p, cutter.FlatEnd(1.5), Params{})
	// the rim is in the bar from the front's coming, at x = −21.5, to its widest place's leaving, at 20
	near(t, "cut", res.CutLength, 41.5, 0.26)
	near(t, "air", res.AirLength, 50+50+25+50-res.CutLength, 1e-9)
	if res.ByMove[1] != -1 || res.ByMove[3] != -1 {
		t.Errorf("angles %v of ways cut before", res.ByMove)
	}
	near(t, "pass", res.MeanPass, res.CutLength, 1e-9)
	// again, through text rounded to a micron
	lift(&p, geom.Vec3{X: -25, Y: 0.001, Z: 5})
	feed(&p, geom.Vec3{X: 25, Y: 0.001, Z: 5})
	more := over(t, f, p, cutter.FlatEnd(1.5), Params{})
	near(t, "cut again", more.CutLength, res.CutLength, 1e-9)
	sum := 0.0
	for _, l := range more.Histogram {
		sum += l
	}
	near(t, "histogram", sum, more.CutLength, 1e-9)
}

// A helix and a lead at the entry feed are entries; a level move at the entry feed later in the pass is not.
func TestEntries(t *testing.T) {
	f := block(-20, 20, -20, 20, 0.05)
	p := prog(geom.Vec3{X: 1, Z: 11}, geom.Vec3{X: 1, Z: 10.5})
	const turns = 6
	for k := range turns {
		p.Moves = append(p.Moves, path.Move{To: geom.Vec3{X: 1, Z: 10.5 - 5.5*float64(k+1)/turns}, Mode: path.ArcCCW, Feed: 4})
	}
	p.Moves = append(p.Moves, path.Move{To: geom.Vec3{X: 1, Z: 5}, Mode: path.ArcCCW, Feed: 4})
	p.Moves = append(p.Moves, path.Move{To: geom.Vec3{X: 10, Z: 5}, Mode: path.Line, Feed: 10}, path.Move{To: geom.Vec3{X: 15, Z: 5}, Mode: path.Line, Feed: 4})
	res := over(t, f, p, cutter.FlatEnd(1.5), Params{EntryFeed: 4, Cap: 90 * deg})
	near(t, "entry", res.EntryLength, turns*math.Hypot(2*math.Pi, 5.5/turns)-math.Hypot(2*math.Pi, 5.5/turns)*0.5/5.5*turns+2*math.Pi, 2*math.Pi)
	near(t, "slot after it", res.CutLength, 14, 0.3)
	near(t, "over", res.ShareOver, 0.97, 0.03) // at first it leaves its own hole
	if len(res.Spots) != 1 || res.Passes != 1 {
		t.Errorf("%d spots in %d passes, want one of each", len(res.Spots), res.Passes)
	}
	near(t, "spot", res.Spots[0].Length, res.CutLength, 0.6)
	all := over(t, f, p, cutter.FlatEnd(1.5), Params{})
	if all.EntryLength >= res.EntryLength || all.ShareOver != 0 {
		t.Errorf("without an entry feed: entries %g mm of %g, share over a full slot %g", all.EntryLength, res.EntryLength, all.ShareOver)
	}
}

// wander is a program over the block: level runs at few levels, ramps, lifts, arcs, short pieces.
func wander(rnd *rand.Rand, n int) path.Program {
	p := prog(geom.Vec3{X: -8, Y: -8, Z: 6}, geom.Vec3{X: -7, Y: -8, Z: 6})
	at := p.Moves[0].To
	for range n {
		to := geom.Vec3{X: max(-9, min(9, at.X+4*rnd.Float64()-2)), Y: max(-9, min(9, at.Y+4*rnd.Float64()-2)), Z: at.Z}
		m := path.Move{To: to, Feed: 10, Mode: path.Line}
		switch rnd.IntN(8) {
		case 0:
			m.To.Z = float64(4 + rnd.IntN(3))
		case 1:
			m.Mode, m.Feed = path.Rapid, 0
			m.To.Z = float64(4 + rnd.IntN(3))
		case 2:
			m.Mode = path.ArcCW
			m.Centre = at.Add(to).Mul(0.5)
		case 3:
			m.To = at.Lerp(to, 0.02)
		}
		p.Moves = append(p.Moves, m)
		at = m.To
	}
	return p
}

// Every look against the slowest twin: the rim at 2000 directions, held against every disc of every earlier
// way a thousandth of a millimetre apart or as many as show.
func TestLooksAgainstDiscs(t *testing.T) {
	const r = 1.3
	f := block(-6, 7.3, -7.1, 6, 0.05)
	checked, worst := 0, 0.0
	for seed := range uint64(4) {
		p := wander(rand.New(rand.NewPCG(seed, 3)), 60)
		w := newWays(p, cutter.FlatEnd(r))
		s := &scene{ways: w, seen: f, step: 0.4, rings: rings(w.prof), entry: entrySpots(r)}
		looks, err := s.all(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		for n := range looks {
			o := &looks[n]
			if o.down || n%3 != 0 {
				continue
			}
			me := &w.list[o.piece]
			c := me.at(float64(o.at))
			var discs []geom.Vec2
			for k := range int(o.piece) {
				e := &w.list[k]
				if !e.feed || e.off2(c.X, c.Y) > 4*r*r {
					continue
				}
				m := int(e.l/0.004) + 1
				for i := 0; i <= m; i++ {
					q := e.at(float64(i) / float64(m))
					if q.Z <= c.Z+hair && q.XY().Sub(c.XY()).Len() < 2*r {
						discs = append(discs, q.XY())
					}
				}
			}
			in := 0
			const rim = 720
			for i := range rim {
				a := (float64(i)+0.5)*math.Pi/rim - math.Pi/2
				d := geom.Vec2{X: me.ux*math.Cos(a) - me.uy*math.Sin(a), Y: me.ux*math.Sin(a) + me.uy*math.Cos(a)}.Mul(r)
				q := c.XY().Add(d)
				i, j := f.Nearest(q)
				stock := float64(f.At(i, j)) > c.Z+hair
				for _, e := range discs {
					if !stock {
						break
					}
					if v := q.Sub(e); v.Dot(v) <= sq(r-1e-6) {
						stock = false
					}
				}
				if stock {
					in++
				}
			}
			if me.l == 0 {
				in = 0
			}
			checked++
			diff := math.Abs(float64(in)*math.Pi/rim - float64(o.angle))
			worst = max(worst, diff)
			// arcs thinner than a ray may be missed
			if diff > math.Pi/rays+math.Pi/rim {
				t.Fatalf("seed %d, piece %d at %v: %g°, disc by disc %g°", seed, o.piece, c, float64(o.angle)/deg, float64(in)*180/rim)
			}
		}
	}
	if checked < 200 {
		t.Errorf("only %d looks checked", checked)
	}
	t.Logf("%d looks, worst %.2f°", checked, worst/deg)
}

// Mirrored, turned by a quarter and shifted by whole cells, a program engages its cutter alike; on one core
// and on all of them to the bit.
func TestSymmetry(t *testing.T) {
	f := block(-6, 7.3, -7.1, 6, 0.05)
	p := wander(rand.New(rand.NewPCG(9, 3)), 300)
	want := over(t, f, p, cutter.FlatEnd(1.3), Params{Cap: 60 * deg})
	runtime.GOMAXPROCS(1)
	again := over(t, f, p, cutter.FlatEnd(1.3), Params{Cap: 60 * deg})
	runtime.GOMAXPROCS(runtime.NumCPU())
	if !reflect.DeepEqual(want, again) {
		t.Error("one core gives another result")
	}
	for name, to := range map[string]func(geom.Vec3) geom.Vec3{
		"mirrored": func(q geom.Vec3) geom.Vec3 { return geom.Vec3{X: -q.X, Y: q.Y, Z: q.Z} },
		"turned":   func(q geom.Vec3) geom.Vec3 { return geom.Vec3{X: -q.Y, Y: q.X, Z: q.Z} },
		"shifted":  func(q geom.Vec3) geom.Vec3 { return geom.Vec3{X: q.X + 3, Y: q.Y - 2, Z: q.Z} },
	} {
		g := field.New(f.Grid, field.Empty)
		for j := range f.NY {
			for i := range f.NX {
				q := to(geom.Vec3{X: f.X(i), Y: f.Y(j)})
				if a, b := g.Nearest(q.XY()); g.Inside(a, b) {
					g.Z[b*g.NX+a] = f.At(i, j)
				}
			}
		}
		m := path.Program{Start: to(p.Start)}
		for _, v := range p.Moves {
			v.To, v.Centre = to(v.To), to(v.Centre)
			if name == "mirrored" && v.IsArc() {
				v.Mode = path.ArcCW + path.ArcCCW - v.Mode
			}
			m.Moves = append(m.Moves, v)
		}
		got := over(t, g, m, cutter.FlatEnd(1.3), Params{Cap: 60 * deg})
		near(t, name+": cut", got.CutLength, want.CutLength, 0.01*want.CutLength)
		near(t, name+": entries", got.EntryLength, want.EntryLength, 0.02*want.EntryLength)
		near(t, name+": p50", got.P50, want.P50, 0.5*deg)
		near(t, name+": over", got.ShareOver, want.ShareOver, 0.005)
	}
}

// A ball in a slot shallower than its radius has the whole half in stock, and beside the slot the strip that
// it takes at the stock's top, where its section is widest.
func TestBallInASlot(t *testing.T) {
	f := block(-20, 20, -20, 20, 0.05)
	const r, depth = 2.0, 1.5
	p := prog(geom.Vec3{X: -25, Z: 10 - depth}, geom.Vec3{X: 25, Z: 10 - depth})
	lift(&p, geom.Vec3{X: -15, Y: 0.4, Z: 10 - depth})
	feed(&p, geom.Vec3{X: 15, Y: 0.4, Z: 10 - depth})
	res := over(t, f, p, cutter.Ball(r), Params{})
	near(t, "slot", only(res, 0), math.Pi, 1e-6)
	// every section of radius ρ cuts a strip 0.4 wide off a wall of its own: the least section has the most;
	// the lowest asked is a twelfth of the rim's height up
	low := math.Sqrt(r*r - sq(r-r/12))
	near(t, "beside", only(res, 4), math.Acos(1-0.4/low), 0.1*deg+math.Pi/rays)
}

// Over the cap the feed is lowered to keep the chip; the path stays, and what comes out is its own fixed point.
func TestEase(t *testing.T) {
	f := block(-20, 20, -20, 20, 0.05)
	p := prog(geom.Vec3{X: -25, Z: 5}, geom.Vec3{X: 25, Z: 5})
	lift(&p, geom.Vec3{X: -25, Y: 0.3, Z: 5})
	feed(&p, geom.Vec3{X: 0, Y: 0.3, Z: 5}, geom.Vec3{X: 5, Y: 1.2, Z: 5}, geom.Vec3{X: 25, Y: 1.2, Z: 5})
	limit := 50 * deg
	res := over(t, f, p, cutter.FlatEnd(1.5), Params{Cap: limit})
	if len(res.Spots) != 2 {
		t.Fatalf("%d spots, want the slot and the rise to 1.2 mm", len(res.Spots))
	}
	out := Ease(p.Start, p.Moves, res, 10)
	length := func(moves []path.Move) (all, slow float64) {
		at := p.Start
		for _, m := range moves {
			all += m.Length(at)
			if m.Mode == path.Line && m.Feed < 10 {
				slow += m.Length(at)
			}
			at = m.To
		}
		return all, slow
	}
	was, _ := length(p.Moves)
	is, slow := length(out)
	near(t, "length", is, was, 1e-9)
	near(t, "slow", slow, res.Spots[0].Length+res.Spots[1].Length, 0.1)
	// the slot, and a straight cut of 1.2 mm behind a rise of at most a right angle
	for _, m := range out {
		if m.Mode == path.Line && m.Feed < 10 {
			lo, hi := 10*math.Sin(limit), 10*math.Sin(limit)/math.Sin(math.Acos(1-1.2/1.5))
			if m.To.Y == 0 {
				hi = lo
			}
			if m.Feed < lo-1e-9 || m.Feed > hi+1e-9 {
				t.Errorf("feed %g to %v, want %g to %g", m.Feed, m.To, lo, hi)
			}
		}
	}
	p.Moves = out
	again := over(t, f, p, cutter.FlatEnd(1.5), Params{Cap: limit})
	if twice := Ease(p.Start, p.Moves, again, 10); len(twice) > len(out)+4 {
		t.Errorf("%d moves after a second time, %d after the first", len(twice), len(out))
	}
	near(t, "cut", again.CutLength, res.CutLength, 0.3)
}
