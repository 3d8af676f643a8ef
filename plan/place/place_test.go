package place

import (
	"context"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"barwise/finding"
	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/ply"
	"barwise/geom/mesh/sample"
	"barwise/shop/bar"
)

func v(x, y, z float64) geom.Vec3 { return geom.Vec3{X: x, Y: y, Z: z} }

func square(w, length, grip float64) bar.Bar {
	return bar.Bar{Shape: bar.Square, Width: w, Height: w, Length: length, Grip: grip}
}

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.12g, want %.12g within %g", what, got, want, tol)
	}
}

// A box of 2 × 3 × 4 with its corner off the origin, in every position: it lies against the free end,
// centred, volume kept.
func TestPlaceBox(t *testing.T) {
	m := sample.Box(v(5, 6, 7), v(7, 9, 11))
	for along, want := range map[string]geom.Vec3{"+x": v(3, 2, 4), "-x": v(3, 2, 4), "+y": v(2, 3, 4), "-y": v(2, 3, 4), "+z": v(2, 4, 3), "-z": v(2, 4, 3)} {
		p, err := Place(context.Background(), m, Params{Bar: square(6, 30, 10), Along: along, EndAllowance: 1})
		if err != nil {
			t.Fatal(along, err)
		}
		if p.Box.Size() != want {
			t.Errorf("%s: size %v, want %v", along, p.Box.Size(), want)
		}
		if p.Y1 != 29 || p.Y0 != 29-want.Y || p.StubY != p.Y0+DefaultEmbed || p.Spigot != nil {
			t.Errorf("%s: y %g to %g, stub %g", along, p.Y0, p.Y1, p.StubY)
		}
		near(t, "volume", p.Mesh.Health().Volume, 24, 1e-9)
		near(t, "contact", p.Contact, want.X*want.Z, 1e-12)
		near(t, "clear 0", p.Clear[0].MM, 3-want.Z/2, 1e-12)
		near(t, "clear 90", p.Clear[1].MM, 3-want.X/2, 1e-12)
	}
}

// What faces side 0 comes to face the side of the turn's index angle.
func TestTurn(t *testing.T) {
	m := sample.Box(v(-1, 0, -1), v(1, 4, 1))
	m.Vertices = append(m.Vertices, v(0, 2, 2.5))
	for i, tr := range m.Triangles {
		if tr == [3]int32{4, 5, 7} { // a peak on the face z = 1
			m.Triangles = append(append(m.Triangles[:i:i], [3]int32{4, 5, 8}, [3]int32{5, 7, 8}, [3]int32{7, 4, 8}), m.Triangles[i+1:]...)
			break
		}
	}
	for _, deg := range []float64{0, 90, 180, 270, 37} {
		p, err := Place(context.Background(), m, Params{Bar: square(10, 30, 10), TurnDeg: deg})
		if err != nil {
			t.Fatal(err)
		}
		peak := p.To.Apply(v(0, 2, 2.5)).Sub(p.To.Apply(v(0, 2, 0)))
		want := geom.TurnDeg(deg).Facing().Mul(2.5)
		near(t, "peak", peak.Sub(want).Len(), 0, 1e-12)
		near(t, "volume", p.Mesh.Health().Volume, m.Health().Volume, 1e-9)
	}
}

func TestScaleHeightFit(t *testing.T) {
	m := sample.Box(v(0, 0, 0), v(2, 4, 1))
	for _, c := range []struct {
		p    Params
		want float64
	}{
		{Params{UnitMM: 2}, 2},
		{Params{UnitMM: 2, Scale: 1.5}, 3},
		{Params{UnitMM: 2, Height: 10}, 2.5},
		{Params{UnitMM: 2, Fit: true}, 5},                        // 10 mm across
		{Params{Fit: true, Margin: 1}, 4},                        // 8 mm across
		{Params{Fit: true, Margin: 1, ShiftX: 1}, 3},             // 6 mm across
		{Params{Fit: true, Margin: 1, EndAllowance: 38.5}, 3},    // 12 mm long: 50.5 with the embedding
		{Params{Fit: true, Margin: 1, Along: "+z"}, 2},           // 4 along Z: 8 mm
		{Params{Fit: true, Margin: 1, Along: "-x", Stand: 2}, 2}, // 4 across X
	} {
		c.p.Bar = square(10, 60, 10)
		p, err := Place(context.Background(), m, c.p)
		if err != nil {
			t.Errorf("%+v: %v", c.p, err)
			continue
		}
		near(t, "scale", p.Scale, c.want, 1e-12)
		if p.LeastClear < c.p.Margin-1e-9 || p.StubY < 10 {
			t.Errorf("%+v: clear %g, stub %g", c.p, p.LeastClear, p.StubY)
		}
	}
}

// A regular hexagonal prism with its flats to a hexagonal bar's: it fits at the ratio of the widths,
// off centre too. A triangle's least circle, for a round bar, is the circumscribed one: side/√3.
func TestFitHexAndRound(t *testing.T) {
	hex := prism(6, 2, 10, 30, v(3, 0, -1)) // circumradius 2: √3·2 across flats
	p, err := Place(context.Background(), hex, Params{Bar: bar.Bar{Shape: bar.Hex, Width: 12, Height: 12, Length: 60, Grip: 10}, Fit: true})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "hex", p.Scale, min(12/(2*math.Sqrt(3)), 50.5/10), 1e-9)
	tri := prism(3, 2, 10, 10, v(-5, 0, 2))
	p, err = Place(context.Background(), tri, Params{Bar: bar.Bar{Shape: bar.Round, Width: 9, Height: 9, Length: 60, Grip: 10}, Fit: true})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "round", p.Scale, 4.5/2, 1e-9)
	near(t, "clear", p.LeastClear, 0, 1e-9)
}

// prism stands on y = 0 about c, one corner of its section at deg from +Z.
func prism(n int, r, h, deg float64, c geom.Vec3) *mesh.Mesh {
	m := &mesh.Mesh{}
	for _, y := range []float64{0, h} {
		m.Vertices = append(m.Vertices, c.Add(v(0, y, 0)))
		for k := range n {
			s, co := math.Sincos((deg + 360*float64(k)/float64(n)) * math.Pi / 180)
			m.Vertices = append(m.Vertices, c.Add(v(r*s, y, r*co)))
		}
	}
	top := int32(n + 1)
	for k := range int32(n) {
		a, b := 1+k, 1+(k+1)%int32(n)
		m.Triangles = append(m.Triangles, [3]int32{0, b, a}, [3]int32{top, top + a, top + b},
			[3]int32{a, b, top + b}, [3]int32{a, top + b, top + a})
	}
	return m
}

func TestEnclosingAgainstEveryTriple(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	for range 200 {
		pts := make([]geom.Vec2, 1+r.IntN(12))
		for i := range pts {
			pts[i] = geom.Vec2{X: float64(r.IntN(9)), Y: float64(r.IntN(9))}
		}
		_, got := enclosing(hull(pts))
		// the least circle is on two or three of the points
		want := math.Inf(1)
		try := func(c geom.Vec2) {
			far := 0.0
			for _, q := range pts {
				far = max(far, q.Sub(c).Len())
			}
			want = min(want, far)
		}
		for i := range pts {
			for j := range i + 1 {
				try(pts[i].Add(pts[j]).Mul(0.5))
				for k := range j {
					c, _ := circle(pts[i], pts[j], pts[k])
					try(c)
				}
			}
		}
		near(t, "radius", got, want, 1e-9)
	}
}

func TestRefusals(t *testing.T) {
	m := sample.Box(v(-4, 0, -4), v(4, 20, 4))
	for _, c := range []struct {
		name string
		p    Params
		code string
		says []string
	}{
		{"too wide", Params{Bar: square(6, 60, 10)}, "model-too-large", []string{"1 mm beyond", "scale of 0.75"}},
		{"too long", Params{Bar: square(12, 25, 10)}, "model-too-large", []string{"20 mm long", "29.5 mm long", "0.775"}},
		{"margin", Params{Bar: square(8.2, 60, 10), Margin: 0.5}, "model-too-large", []string{"0.1 mm", "0.5 mm"}},
		{"round", Params{Bar: bar.Bar{Shape: bar.Round, Width: 8, Height: 8, Length: 60}}, "model-too-large", []string{"round"}},
		{"misses", Params{Bar: square(40, 60, 10), ShiftX: 10, Gap: 5, Spigot: &Spigot{Radius: 3}}, "spigot-misses", []string{"onto the axis"}},
		{"no gap", Params{Bar: square(12, 60, 10), Spigot: &Spigot{Radius: 3}}, "spigot-gap", nil},
		{"gap and no spigot", Params{Bar: square(12, 60, 10), Gap: 3}, "spigot-gap", nil},
		{"axis", Params{Bar: square(12, 60, 10), Along: "up"}, "placement", []string{"+x"}},
		{"two sizes", Params{Bar: square(12, 60, 10), Scale: 1, Fit: true}, "placement", nil},
		{"NaN", Params{Bar: square(12, 60, 10), Scale: math.NaN()}, "placement", nil},
		{"nothing fits", Params{Bar: square(12, 60, 10), Fit: true, Margin: 7}, "model-too-large", nil},
	} {
		_, err := Place(context.Background(), m, c.p)
		e, ok := err.(*finding.InputError)
		if !ok || e.Code != c.code {
			t.Errorf("%s: %v, want %s", c.name, err, c.code)
			continue
		}
		for _, s := range c.says {
			if !strings.Contains(e.Error(), s) {
				t.Errorf("%s: %q lacks %q", c.name, e, s)
			}
		}
	}
}

// The scale an error names does fit.
func TestTheScaleNamedFits(t *testing.T) {
	r := rand.New(rand.NewPCG(2, 2))
	for range 100 {
		f := func(a, b float64) float64 { return a + (b-a)*r.Float64() }
		m := prism(3+r.IntN(5), f(1, 20), f(1, 60), f(0, 360), v(f(-9, 9), 0, f(-9, 9)))
		p := Params{Bar: bar.Bar{Shape: []bar.Shape{bar.Square, bar.Hex, bar.Round}[r.IntN(3)], Width: 20, Height: 20, Length: 60, Grip: 20}, Fit: true}
		fit, err := Place(context.Background(), m, p)
		if err != nil {
			t.Fatal(err)
		}
		p.Fit, p.Scale = false, fit.Scale*1.001
		if _, err := Place(context.Background(), m, p); err == nil {
			t.Errorf("%+v: a larger scale than the largest fits", p)
		}
	}
}

// The Stanford dragon laid in a bar hangs on a spigot in every position, or says why not.
func TestDragon(t *testing.T) {
	m := sample.Dragon(t, ply.Read)
	for _, along := range Axes() {
		p, err := Place(context.Background(), m, Params{Bar: square(40, 130, 20), Along: along, Fit: true, Margin: 0.5, Gap: 6, EndAllowance: 1, Spigot: &Spigot{Radius: 4, Fillet: 1}})
		if finding.IsInput(err) {
			t.Logf("%s: %v", along, err)
			continue
		}
		if err != nil {
			t.Fatal(err)
		}
		if p.LeastClear < 0.5-1e-9 || p.StubY < 20 || p.Spigot.Share <= 0 || p.Spigot.Share > 1 || p.ModelTriangles != len(m.Triangles) {
			t.Errorf("%s: %+v", along, p)
		}
		end := v(0.01, p.Spigot.To-0.01, 0.02)
		model := &mesh.Mesh{Vertices: p.Mesh.Vertices, Triangles: p.Mesh.Triangles[:p.ModelTriangles]}
		t.Logf("%s: scale %.4g, spigot %+v, contact %.3g mm², end winds %.3f, %v", along, p.Scale, *p.Spigot, p.Contact, model.Winding(end), p.Findings)
		if p.Spigot.Share == 1 && !model.Inside(end) {
			t.Errorf("%s: the spigot's end is not inside the model", along)
		}
	}
	fits, err := Smallest(context.Background(), m, Params{Bar: bar.Bar{Grip: 20}, Dir: v(0, -1, 0.2), Height: 40, Margin: 0.5},
		SmallestParams{Shapes: []bar.Shape{bar.Square, bar.Rect, bar.Hex, bar.Round}, FreeTurn: true})
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range fits {
		if _, err := Place(context.Background(), m, f.Params); err != nil {
			t.Errorf("%s %s: %v", f.Standard.Shape, f.Standard.Name, err)
		}
		t.Logf("%s %s turned by %g, %.4g mm long: needs %.4g by %.4g, clear %.3g; %s lacks %.3g", f.Standard.Shape, f.Standard.Name,
			f.Params.TurnDeg, f.Length.Total, f.NeedX, f.NeedZ, f.LeastClear, f.Next.Name, f.Lacks)
	}
}
