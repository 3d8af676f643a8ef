package place

import (
	"cmp"
	"context"
	"math"
	"math/rand/v2"
	"reflect"
	"runtime"
	"slices"
	"strings"
	"testing"

	"barwise/finding"
	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/sample"
	"barwise/shop/bar"
	"barwise/unit"
)

func hullOf(m *mesh.Mesh, dir geom.Vec3) section {
	_, pts := look(m, Toward(dir, 0))
	return newSection(hull(pts))
}

// The least bar for known sections, any turn: a circle of radius r needs 2r of every shape; an
// equilateral triangle of side a a square of a·cos 15°; a regular hexagon of circumradius ρ a square of
// 2ρ·cos 15° and a hexagon of √3ρ; a cube of edge a on its diagonal shows a hexagon of ρ = a√(2/3), so a
// hexagon of a√2; a strip a × b a square of (a + b)/√2 where that is less than a. A square of side a in a
// hexagon: across its flats it measures a at 0°, and a(sin 60° + cos 60°) across both others; at 15°
// a(cos 15° + sin 15°) twice, which is less, and a·√2, which is more.
func TestLeastBarInClosedForm(t *testing.T) {
	y := v(0, 1, 0)
	cos15 := math.Cos(math.Pi / 12)
	for _, c := range []struct {
		name string
		s    section
		sh   bar.Shape
		want float64
	}{
		{"circle in square", hullOf(prism(720, 3, 1, 7, geom.Vec3{X: 4}), y), bar.Square, 6},
		{"circle in hexagon", hullOf(prism(720, 3, 1, 7, geom.Vec3{X: 4}), y), bar.Hex, 6},
		{"triangle in square", hullOf(prism(3, 2, 1, 11, geom.Vec3{}), y), bar.Square, 2 * math.Sqrt(3) * cos15},
		{"hexagon in square", hullOf(prism(6, 2, 1, 20, geom.Vec3{}), y), bar.Square, 4 * cos15},
		{"hexagon in hexagon", hullOf(prism(6, 2, 1, 20, geom.Vec3{}), y), bar.Hex, 2 * math.Sqrt(3)},
		{"cube on its diagonal", hullOf(sample.Box(v(0, 0, 0), v(5, 5, 5)), v(1, 1, 1)), bar.Hex, 5 * math.Sqrt2},
		{"cube on its diagonal in square", hullOf(sample.Box(v(0, 0, 0), v(5, 5, 5)), v(1, -1, 1)), bar.Square, 2 * 5 * math.Sqrt(2./3) * cos15},
		{"strip in square", hullOf(sample.Box(v(0, 0, 0), v(10, 1, 2)), y), bar.Square, 12 / math.Sqrt2},
		{"oblong in square", hullOf(sample.Box(v(0, 0, 0), v(10, 1, 8)), y), bar.Square, 10},
		{"square in hexagon", hullOf(sample.Box(v(0, 0, 0), v(4, 1, 4)), y), bar.Hex, 4 * (math.Sqrt(3) + 1) / 2},
		{"line in square", hullOf(sample.Box(v(0, 0, 0), v(4, 1, 0)), y), bar.Square, 4 / math.Sqrt2},
	} {
		deg, got := c.s.least(c.sh, bounds(c.sh, 0, 0))
		near(t, c.name, got, c.want, 1e-4*c.want)
		// the turn named needs that much
		q := search{section: c.s}
		x, _ := q.across(c.sh, deg)
		near(t, c.name+" at its turn", x, got, 1e-9)
		if half := period(c.sh) / 2; deg < -half-1e-9 || deg > half+1e-9 {
			t.Errorf("%s: a turn of %g", c.name, deg)
		}
	}
}

// Twin: every turn in steps of 0.02° needs at least as much, and the best of them hardly more, the
// slope being no more than the section's diameter. The hexagon's duality is held against the centre
// that Place finds.
func TestLeastBarAgainstEveryTurn(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 7))
	for range 25 {
		pts := make([]geom.Vec2, 3+r.IntN(20))
		for i := range pts {
			pts[i] = geom.Vec2{X: 10 * r.Float64(), Y: 4 * r.Float64()}
		}
		s := newSection(hull(pts))
		q := search{section: s}
		for _, sh := range []bar.Shape{bar.Square, bar.Hex} {
			deg, got := s.least(sh, bounds(sh, 0, 0))
			const step = 0.02
			brute, first := math.Inf(1), 0.0
			for d := -period(sh) / 2; d <= period(sh)/2; d += step {
				if x, _ := q.across(sh, d); x < brute {
					brute, first = x, d
				}
			}
			if got > brute+1e-9 || got < brute-11*step*math.Pi/180 {
				t.Errorf("%s: %g at %g°, every turn has %g at %g°", sh, got, deg, brute, first)
			}
			x, _ := q.across(sh, deg)
			near(t, "at its turn", x, got, 1e-9)
		}
		// rectangular: how far beyond a bar 8 by 3
		deg, got := s.least(bar.Rect, bounds(bar.Rect, 8, 3))
		brute := math.Inf(1)
		for d := -90.0; d <= 90; d += 0.02 {
			x, z := q.across(bar.Rect, d)
			brute = min(brute, max(x-8, z-3))
		}
		if got > brute+1e-9 || got < brute-11*0.02*math.Pi/180 {
			t.Errorf("rectangular: %g at %g°, every turn has %g", got, deg, brute)
		}
	}
}

// Mirrored, turned or shifted the section needs the same bar.
func TestLeastBarOfMovedSections(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 8))
	for range 50 {
		pts := make([]geom.Vec2, 3+r.IntN(9))
		for i := range pts {
			pts[i] = geom.Vec2{X: 10 * r.Float64(), Y: 4 * r.Float64()}
		}
		for _, sh := range []bar.Shape{bar.Square, bar.Hex} {
			s := newSection(hull(pts))
			_, want := s.least(sh, bounds(sh, 0, 0))
			turn := geom.TurnDeg(360 * r.Float64())
			for name, move := range map[string]func(geom.Vec2) geom.Vec2{
				"mirrored": func(p geom.Vec2) geom.Vec2 { return geom.Vec2{X: -p.X, Y: p.Y} },
				"quarter":  func(p geom.Vec2) geom.Vec2 { return geom.Vec2{X: -p.Y, Y: p.X} },
				"turned": func(p geom.Vec2) geom.Vec2 {
					return geom.Vec2{X: p.X*turn.Cos - p.Y*turn.Sin, Y: p.X*turn.Sin + p.Y*turn.Cos}
				},
				"shifted": func(p geom.Vec2) geom.Vec2 { return p.Add(geom.Vec2{X: 3, Y: -7}) },
			} {
				var moved []geom.Vec2
				for _, p := range pts {
					moved = append(moved, move(p))
				}
				_, got := newSection(hull(moved)).least(sh, bounds(sh, 0, 0))
				near(t, string(sh)+" "+name, got, want, 1e-9)
			}
		}
	}
}

// A cylinder of diameter 17 and length 30 with a margin of 1 mm, in every list: the size by hand from
// the lists, the length by hand from its parts.
func TestSmallestForACylinder(t *testing.T) {
	m := prism(720, 8.5, 30, 0, v(3, 1, 2))
	p := Params{Bar: bar.Bar{Grip: 20}, Margin: 1, Gap: 5, Stand: 2, EndAllowance: 2, Back: 0.5, Spigot: &Spigot{Radius: 3, Fillet: 1}}
	fits, err := Smallest(context.Background(), m, p, SmallestParams{Parting: 1.5})
	if err != nil {
		t.Fatal(err)
	}
	// 20 + 2 + 5 + 30 + 2.5 + 1.5 = 61
	want := []struct {
		name, next string
		length     float64
		lacks      float64
	}{
		{"20 mm", "18 mm", 65, 1}, {"3/4 in", "5/8 in", 63.5, 19 - 15.875},
		{"19 mm", "17 mm", 65, 2}, {"3/4 in", "11/16 in", 63.5, 19 - 17.4625},
		{"19 mm", "18 mm", 65, 1}, {"3/4 in", "11/16 in", 63.5, 19 - 17.4625},
	}
	if len(fits) != len(want) {
		t.Fatalf("%d fits", len(fits))
	}
	for i, f := range fits {
		w := want[i]
		if f.Standard.Name != w.name || f.Next == nil || f.Next.Name != w.next {
			t.Errorf("%s: %s after %v, want %s after %s", f.Standard.Shape, f.Standard.Name, f.Next, w.name, w.next)
			continue
		}
		near(t, "length", f.Params.Bar.Length, w.length, 1e-9)
		near(t, "lacks", f.Lacks, w.lacks, 1e-3)
		near(t, "need", f.NeedX, 19, 1e-3)
		near(t, "model", f.ModelVolume, math.Pi*8.5*8.5*30, 1)
		near(t, "volume", f.Volume, f.Params.Bar.Area()*w.length, 1e-9)
		near(t, "clear", f.LeastClear, f.Standard.Width/2-8.5, 1e-3)
		l := f.Length
		near(t, "sum", l.Grip+l.Stand+l.Gap+l.Model+l.End+l.Parting+l.Spare, w.length, 1e-9)
		if f.Params.TurnDeg != 0 || len(f.Clear) != max(len(f.Params.Bar.Flats()), 1) || f.Spigot == nil || f.Spigot.PieceFillet != 1 {
			t.Errorf("%+v", f)
		}
		area := 0.0
		for k, a := range f.Hull {
			area += a.Cross(f.Hull[(k+1)%len(f.Hull)]) / 2
		}
		near(t, "hull", area, math.Pi*8.5*8.5, 0.1)
	}
}

// A blade 30 × 4 across lies on a square's diagonal when it may turn: (30 + 4)/√2 = 24.04 mm, so 25 mm in
// place of 30, turned by 45°. The larger sizes are not turned without need.
func TestSmallestTurns(t *testing.T) {
	m := sample.Box(v(-15, 0, -2), v(15, 40, 2))
	p := Params{Bar: bar.Bar{Grip: 20}, TurnDeg: 3}
	fits, err := Smallest(context.Background(), m, p, SmallestParams{Shapes: []bar.Shape{bar.Square, bar.Rect}, Systems: []unit.System{unit.MM}, FreeTurn: true})
	if err != nil {
		t.Fatal(err)
	}
	if f := fits[0]; f.Standard.Name != "25 mm" || f.Params.TurnDeg != 45 {
		t.Errorf("%s turned by %g", f.Standard.Name, f.Params.TurnDeg)
	}
	if f := fits[1]; f.Standard.Name != "30 × 5 mm" || f.Params.TurnDeg != 0 {
		t.Errorf("%s turned by %g", f.Standard.Name, f.Params.TurnDeg)
	}
	near(t, "lacks", fits[0].Lacks, 34/math.Sqrt2-24, 1e-9)
	p.TurnDeg = 90
	fits, err = Smallest(context.Background(), m, p, SmallestParams{Shapes: []bar.Shape{bar.Square, bar.Rect}, Systems: []unit.System{unit.MM}})
	if err != nil {
		t.Fatal(err)
	}
	if f := fits[0]; f.Standard.Name != "30 mm" || f.Params.TurnDeg != 90 || f.Next.Name != "28 mm" || f.Lacks != 2 {
		t.Errorf("%s turned by %g, %v lacks %g", f.Standard.Name, f.Params.TurnDeg, f.Next, f.Lacks)
	}
	if f := fits[1]; f.Params.Bar.Width != 5 || f.Params.Bar.Height != 30 {
		t.Errorf("on edge: %+v", f.Params.Bar)
	} else if f.Next.Name != "15 × 10 mm" || f.Lacks != 15 { // of equal area, narrower
		t.Errorf("on edge after %v, which lacks %g", f.Next, f.Lacks)
	}
}

// What Smallest finds Place does not refuse, and Place does refuse the next smaller size and the next
// shorter length; no turn in steps of a degree holds the model in a smaller size of the list.
func TestSmallestAgainstPlace(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 9))
	f := func(a, b float64) float64 { return a + (b-a)*r.Float64() }
	shapes := []bar.Shape{bar.Square, bar.Rect, bar.Hex, bar.Round}
	ctx := context.Background()
	found := 0
	for range 40 {
		m := prism(3+r.IntN(5), f(2, 20), f(10, 60), f(0, 360), v(f(-9, 9), 0, f(-9, 9)))
		s := f(0.2, 1)
		m = m.Map(func(p geom.Vec3) geom.Vec3 { return v(p.X, p.Y, s*p.Z) })
		p := Params{Bar: bar.Bar{Grip: f(10, 30)}, Dir: direction(r), TurnDeg: f(0, 360), Margin: f(0, 1), EndAllowance: f(0, 3), Stand: f(0, 2)}
		if r.IntN(2) == 0 {
			p.Gap, p.Spigot = 5, &Spigot{Radius: f(0.5, 8), Fillet: f(0, 1), Square: r.IntN(2) == 0}
		}
		if r.IntN(3) == 0 {
			p.ShiftX, p.ShiftZ = f(-2, 2), f(-2, 2)
		}
		want := SmallestParams{Shapes: shapes, FreeTurn: r.IntN(2) == 0}
		fits, err := Smallest(ctx, m, p, want)
		if finding.IsInput(err) {
			continue
		}
		if err != nil {
			t.Fatal(err)
		}
		for _, fit := range fits {
			found++
			q := fit.Params
			o, err := Place(ctx, m, q)
			if err != nil {
				t.Errorf("%s %s is refused: %v", fit.Standard.Shape, fit.Standard.Name, err)
				continue
			}
			h := o.Hull()
			for i, a := range fit.Hull {
				if j := slices.IndexFunc(h, func(b geom.Vec2) bool { return a.Sub(b).Len() < 1e-9 }); j < 0 {
					t.Errorf("corner %d of the hull, %v, is not one of the placed model", i, a)
				}
			}
			if o.LeastClear < p.Margin-1e-6 || o.StubY < p.Bar.Grip+p.Stand-1e-6 || math.Abs(o.LeastClear-fit.LeastClear) > 0 || len(q.Bar.Check()) > 0 {
				t.Errorf("clear %g, stub %g, %v", o.LeastClear, o.StubY, q.Bar.Check())
			}
			q.Bar.Length -= bar.CutLength(fit.Standard.System)
			if _, err := Place(ctx, m, q); !finding.IsInput(err) {
				t.Errorf("%s %s: a bar of %g mm does", fit.Standard.Shape, fit.Standard.Name, q.Bar.Length)
			}
			if fit.Next == nil {
				continue
			}
			if fit.Lacks <= 0 {
				t.Errorf("%s lacks %g", fit.Next.Name, fit.Lacks)
			}
			smaller := func(s bar.Standard, turn float64) error {
				q := fit.Params
				q.TurnDeg = turn
				q.Bar.Width, q.Bar.Height = s.Width, s.Height
				_, err := Place(ctx, m, q)
				return err
			}
			if err := smaller(*fit.Next, fit.Params.TurnDeg); !finding.IsInput(err) || strings.Contains(err.Error(), "bar's length") {
				t.Errorf("%s after %s: %v", fit.Next.Name, fit.Standard.Name, err)
			}
			if want.FreeTurn && p.ShiftX == 0 {
				for d := 0.0; d < 180; d += 3 {
					if err := smaller(*fit.Next, d); err == nil {
						t.Errorf("%s %s does when turned by %g", fit.Next.Shape, fit.Next.Name, d)
						break
					}
				}
			}
		}
	}
	if found < 120 {
		t.Errorf("only %d fits to look at", found)
	}
}

func TestSmallestRefusals(t *testing.T) {
	m := sample.Box(v(-4, 0, -4), v(4, 20, 4))
	b := bar.Bar{Grip: 20}
	for _, c := range []struct {
		p    Params
		w    SmallestParams
		code string
	}{
		{Params{Bar: b, Fit: true}, SmallestParams{}, "placement"},
		{Params{Bar: b, Scale: 30}, SmallestParams{}, "model-too-large"},
		{Params{Bar: b}, SmallestParams{Step: -1}, "placement"},
		{Params{Bar: b}, SmallestParams{Parting: math.NaN()}, "placement"},
		{Params{Bar: bar.Bar{Grip: math.Inf(1)}}, SmallestParams{}, "placement"},
		{Params{Bar: b, ShiftX: 20, Gap: 5, Spigot: &Spigot{Radius: 3}}, SmallestParams{}, "spigot-misses"},
	} {
		_, err := Smallest(context.Background(), m, c.p, c.w)
		if e, ok := err.(*finding.InputError); !ok || e.Code != c.code {
			t.Errorf("%+v %+v: %v, want %s", c.p, c.w, err, c.code)
		}
	}
	if _, err := Smallest(context.Background(), &mesh.Mesh{}, Params{Bar: b}, SmallestParams{}); !finding.IsInput(err) {
		t.Errorf("an empty mesh: %v", err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Smallest(ctx, m, Params{Bar: b}, SmallestParams{}); err != context.Canceled {
		t.Errorf("cancelled: %v", err)
	}
}

// A point is on the hull unless some three others hold it between them: every triple is tried. Points
// enough that those well inside are left out early, on a grid so that many lie in line.
func TestHullAgainstEveryTriple(t *testing.T) {
	r := rand.New(rand.NewPCG(6, 6))
	for round := range 6 {
		pts := make([]geom.Vec2, 70)
		for i := range pts {
			pts[i] = geom.Vec2{X: r.Float64(), Y: r.Float64()}
			if round%2 == 0 {
				pts[i] = geom.Vec2{X: float64(r.IntN(9)), Y: float64(r.IntN(9))}
			}
		}
		slices.SortFunc(pts, func(a, b geom.Vec2) int { return cmp.Or(cmp.Compare(a.X, b.X), cmp.Compare(a.Y, b.Y)) })
		pts = slices.Compact(pts)
		if round == 5 { // and all in line
			for i := range pts {
				pts[i].Y = 2 * pts[i].X
			}
		}
		want := map[geom.Vec2]bool{}
		for _, p := range pts {
			held := false
			for i, a := range pts {
				for j, b := range pts[:i] {
					for _, c := range pts[:j] {
						if a == p || b == p || c == p {
							continue
						}
						x, y, z := b.Sub(a).Cross(p.Sub(a)), c.Sub(b).Cross(p.Sub(b)), a.Sub(c).Cross(p.Sub(c))
						flat := x == 0 && y == 0 && z == 0 // in line: between the outer two
						if flat {
							lo, hi := min(a.X, b.X, c.X), max(a.X, b.X, c.X)
							held = held || p.X > lo && p.X < hi || lo == hi && p.Y > min(a.Y, b.Y, c.Y) && p.Y < max(a.Y, b.Y, c.Y)
							continue
						}
						held = held || min(x, y, z) >= 0 || max(x, y, z) <= 0
					}
				}
			}
			if !held {
				want[p] = true
			}
		}
		got := hull(pts)
		for _, p := range got {
			if !want[p] {
				t.Errorf("round %d: %v is not on the hull", round, p)
			}
		}
		if len(got) != len(want) {
			t.Errorf("round %d: %d points, want %d", round, len(got), len(want))
		}
	}
}

// Outlines of a cone, in closed form: the radius falls in proportion; and of two boxes apart.
func TestOutline(t *testing.T) {
	m := prism(360, 5, 10, 0, geom.Vec3{})
	m.Vertices[362] = v(0, 10, 0)
	for i := 362; i < len(m.Vertices); i++ {
		m.Vertices[i] = v(1e-9*m.Vertices[i].X, 10, 1e-9*m.Vertices[i].Z)
	}
	p, err := Place(context.Background(), m, Params{Bar: square(20, 60, 10), ShiftX: 2, EndAllowance: 1})
	if err != nil {
		t.Fatal(err)
	}
	for _, deg := range []float64{0, 90, 180, 270, 30} {
		o := p.Outline(deg)
		at := geom.TurnDeg(deg).ToSide(v(2, 0, 0)).X
		for i := range o.Lo {
			r := 5 * (59 - o.Y[i]) / 10
			near(t, "Hi", o.Hi[i], at+r, 2e-3)
			near(t, "Lo", o.Lo[i], at-r, 2e-3)
		}
		if o.Y[0] != p.Y0 || math.Abs(o.Y[len(o.Lo)]-p.Y1) > 1e-12 || !slices.IsSorted(o.Y) {
			t.Errorf("%g to %g", o.Y[0], o.Y[len(o.Lo)])
		}
	}
	two := mesh.Join(sample.Box(v(-1, 0, -1), v(1, 2, 1)), sample.Box(v(-2, 6, -1), v(3, 8, 1)))
	p, err = Place(context.Background(), two, Params{Bar: square(20, 60, 10)})
	if err != nil {
		t.Fatal(err)
	}
	o := p.Outline(0)
	for i := range o.Lo {
		mid := (o.Y[i]+o.Y[i+1])/2 - p.Y0
		switch {
		case mid < 2:
			near(t, "lower", o.Hi[i]-o.Lo[i], 2, 1e-12)
		case mid > 6:
			near(t, "upper", o.Hi[i]-o.Lo[i], 5, 1e-12)
		case mid > 2.1 && mid < 5.9:
			if o.Lo[i] != 0 || o.Hi[i] != -1 {
				t.Errorf("slice at %g is not empty", mid)
			}
		}
	}
}

// The same on one processor and on all.
func TestSmallestOnOneProcessor(t *testing.T) {
	m := sample.Sphere(geom.Vec3{}, 10, 48)
	p := Params{Bar: bar.Bar{Grip: 20}, Dir: v(1, 2, 3), Gap: 5, Spigot: &Spigot{Radius: 3, Fillet: 1}}
	want := SmallestParams{Shapes: []bar.Shape{bar.Square, bar.Rect, bar.Hex, bar.Round}, FreeTurn: true}
	all, err := Smallest(context.Background(), m, p, want)
	if err != nil {
		t.Fatal(err)
	}
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	one, err := Smallest(context.Background(), m, p, want)
	if err != nil {
		t.Fatal(err)
	}
	if len(all) != 8 || !reflect.DeepEqual(all, one) {
		t.Errorf("%d fits, on one processor %d others", len(all), len(one))
	}
}

// A ball of 100 000 triangles in every list, any turn.
func BenchmarkSmallest(b *testing.B) {
	m := sample.Sphere(geom.Vec3{}, 10, 320)
	p := Params{Bar: bar.Bar{Grip: 20}, Dir: v(1, 2, 3), Gap: 5, Spigot: &Spigot{Radius: 3, Fillet: 1}}
	want := SmallestParams{Shapes: []bar.Shape{bar.Square, bar.Rect, bar.Hex, bar.Round}, FreeTurn: true}
	for b.Loop() {
		if _, err := Smallest(context.Background(), m, p, want); err != nil {
			b.Fatal(err)
		}
	}
}
