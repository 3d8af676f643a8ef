package report

import (
	"bytes"
	"context"
	"errors"
	"image"
	"image/color"
	"math"
	"math/rand/v2"
	"testing"

	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/patch"
	solid "barwise/geom/mesh/sample"
)

// lump is a box with a smaller one beside its middle, so that no turn takes it to itself.
func lump() *mesh.Mesh {
	return mesh.Join(solid.Box(geom.Vec3{X: -6, Y: 10, Z: -4}, geom.Vec3{X: 6, Y: 40, Z: 4}),
		solid.Box(geom.Vec3{X: 1, Y: 20, Z: 3.5}, geom.Vec3{X: 4, Y: 26, Z: 7}))
}

func unroll(t *testing.T, set *patch.Set, sides []float64, ends bool) *Unrolled {
	t.Helper()
	u, err := Unroll(context.Background(), set, sides, ends)
	if err != nil || u == nil {
		t.Fatalf("%v %v", u, err)
	}
	return u
}

// The drawing of triangles against the plainest way: at every pixel's centre, the nearest of all that
// hold it.
func TestBufferAgainstEveryTriangle(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	f := frame{sideLook(30), -10, 10, 3, 60, 60}
	b := newBuffer(f)
	var tri [][3]geom.Vec3
	for i := range 120 {
		at := func(k float64) float64 { return k * (2*r.Float64() - 1) }
		c := geom.Vec3{X: at(9), Y: at(9), Z: at(9)}
		var v [3]geom.Vec3
		for k := range v {
			v[k] = c.Add(geom.Vec3{X: at(3), Y: at(3), Z: at(3)})
		}
		tri = append(tri, v)
		b.draw(i, v[0], v[1], v[2])
	}
	hit := 0
	for y := range f.h {
		for x := range f.w {
			// the ray from the pixel's centre, in the part frame
			px, py := f.x0+(float64(x)+0.5)/f.pxmm, f.y1-(float64(y)+0.5)/f.pxmm
			o := f.right.Mul(px).Add(f.up.Mul(py))
			best, want := math.Inf(-1), int32(0)
			for i, v := range tri {
				n := v[1].Sub(v[0]).Cross(v[2].Sub(v[0]))
				d := n.Dot(f.eye)
				z := n.Dot(v[0].Sub(o)) / d
				p := o.Add(f.eye.Mul(z))
				in := true
				for k := range v {
					in = in && v[(k+1)%3].Sub(v[k]).Cross(p.Sub(v[k])).Dot(n) >= 0
				}
				if in && z > best {
					best, want = z, int32(i+1)
					if d < 0 {
						want = -want
					}
				}
			}
			if got := b.id[y*f.w+x]; got != want {
				t.Errorf("pixel %d, %d shows %d, want %d", x, y, got, want)
			} else if want != 0 {
				hit++
				if math.Abs(float64(b.depth[y*f.w+x])-best) > 1e-4 {
					t.Errorf("pixel %d, %d is at %g, want %g", x, y, b.depth[y*f.w+x], best)
				}
			}
		}
	}
	if hit < 500 {
		t.Errorf("only %d pixels show anything", hit)
	}
}

// A box seen askew covers the sum of its faces' areas, each by the cosine to the eye.
func TestBufferAreaOfBox(t *testing.T) {
	m := solid.Box(geom.Vec3{X: -3, Y: 0, Z: -5}, geom.Vec3{X: 3, Y: 20, Z: 5})
	for _, l := range []look{sideLook(0), sideLook(37), endLook(0, true), endLook(90, false), cornerLook(32, 16), sideLook(geom.EndDeg)} {
		if x := l.right.Cross(l.up).Sub(l.eye).Len(); x > 1e-12 || math.Abs(l.right.Len()-1) > 1e-12 || math.Abs(l.up.Len()-1) > 1e-12 {
			t.Fatalf("%+v is not right-handed", l)
		}
		const px = 10
		b := newBuffer(frame{l, -25, 30, px, 500, 600})
		for i := range m.Triangles {
			p, q, r := m.Corners(i)
			b.draw(i, p, q, r)
		}
		n := 0
		for _, id := range b.id {
			if id < 0 {
				t.Fatal("a back of a closed box is seen")
			}
			if id > 0 {
				n++
			}
		}
		want := 20*10*math.Abs(l.eye.X) + 6*10*math.Abs(l.eye.Y) + 6*20*math.Abs(l.eye.Z)
		if got := float64(n) / px / px; math.Abs(got-want) > 0.02*want {
			t.Errorf("%+v covers %.2f mm², want %.2f", l, got, want)
		}
	}
}

// A model turned by a quarter shows to the next side what it showed to the side before.
func TestUnrollQuarterTurn(t *testing.T) {
	m := lump()
	sides := []float64{0, 90, 180, 270}
	quarter := geom.TurnDeg(90)
	turned := m.Map(quarter.ToPart) // what faced side 0 faces side 90
	paint := func(m *mesh.Mesh) *Map {
		set := patch.Cut(m, 1, 1<<20)
		return unroll(t, set, sides, false).Paint(Paint{Value: func(i int) float64 { return set.Centre(i).Y }, Scale: Measured("height", 10, 40, "")})
	}
	a, b := paint(m), paint(turned)
	for k := range sides {
		if !bytes.Equal(a.Panels[k].Image.Pix, b.Panels[(k+1)%4].Image.Pix) {
			t.Errorf("side %g of the model is not side %g of the turned one", sides[k], sides[(k+1)%4])
		}
	}
	if bytes.Equal(a.Panels[0].Image.Pix, a.Panels[2].Image.Pix) {
		t.Error("the model looks the same from both sides: the test shows nothing")
	}
}

// Marks stand where the geometry says: x' = x cos φ − z sin φ across, y up.
func TestMarksLandWhereTheyShould(t *testing.T) {
	set := patch.Cut(lump(), 1, 1<<20)
	sides := []float64{0, 90, 180, 270}
	u := unroll(t, set, sides, true)
	half := math.Hypot(4, 7) // the corner of the smaller box is 8.06 from the axis
	half = max(half, math.Hypot(6, 4))
	for _, c := range []struct {
		p      geom.Vec3
		panel  int
		across float64 // mm from the middle
		hidden bool
	}{
		{geom.Vec3{X: -3, Y: 15, Z: 4}, 0, -3, false},
		{geom.Vec3{X: 2.5, Y: 23, Z: 7}, 0, 2.5, false},
		{geom.Vec3{X: 6, Y: 30, Z: 1}, 1, -1, false}, // side 90° faces +X, and x' = −z there
		{geom.Vec3{X: 5, Y: 30, Z: -4}, 2, -5, false},
		{geom.Vec3{X: -6, Y: 30, Z: -2}, 3, -2, false},
		{geom.Vec3{X: 0, Y: 30, Z: 2}, 0, 0, true}, // inside: 2 mm under side 0's face, 4 and more under all others
	} {
		m := u.Paint(Paint{Value: func(int) float64 { return 0 }, Scale: SoundScale(), Marks: []Mark{{"M", c.p}}})
		got := 0
		for k, p := range m.Panels {
			for _, q := range p.Marks {
				got++
				w, h := float64(p.Image.Rect.Dx()), float64(p.Image.Rect.Dy())
				x := (q.X*w-w/2)/m.PxMM - c.across
				y := (h-q.Y*h-panelPad)/m.PxMM + 10 - c.p.Y
				if k != c.panel || q.Hidden != c.hidden {
					t.Errorf("%v is in panel %d, hidden %v; want %d, %v", c.p, k, q.Hidden, c.panel, c.hidden)
				} else if math.Abs(x) > 1.1/m.PxMM || math.Abs(y) > 1.1/m.PxMM {
					t.Errorf("%v is drawn %.3f and %.3f mm off", c.p, x, y)
				}
			}
		}
		if got != 1 {
			t.Errorf("%v has %d marks", c.p, got)
		}
	}
	if u.panels[0].w != even(2*half*u.panels[0].pxmm)+4*panelPad {
		t.Errorf("a panel is %d wide for %g mm", u.panels[0].w, half)
	}
}

// near counts pixels within tol of a colour in every channel.
func near(img *image.RGBA, c color.RGBA, tol int) int {
	n := 0
	for i := 0; i < len(img.Pix); i += 4 {
		d := func(k int, v uint8) bool { e := int(img.Pix[i+k]) - int(v); return e <= tol && e >= -tol }
		if img.Pix[i+3] == 255 && d(0, c.R) && d(1, c.G) && d(2, c.B) {
			n++
		}
	}
	return n
}

// Every class that is on the surface is in its panel and in the key, in the colour the key names.
func TestColoursOfKeyAreInPicture(t *testing.T) {
	set := patch.Cut(lump(), 1, 1<<20)
	u := unroll(t, set, []float64{0, 180}, false)
	sc := ReachScale([]float64{0, 180}, false, "undercut", "narrow")
	value := func(i int) float64 {
		c := set.Centre(i)
		switch {
		case c.Y > 35:
			return 2
		case c.Y < 14:
			return math.NaN()
		case c.Z > 0:
			return 0
		}
		return 1
	}
	m := u.Paint(Paint{Value: value, Scale: sc})
	for k, want := range map[int]bool{0: true, 1: false, 2: true, 3: false, 4: true} {
		if n := near(m.Panels[0].Image, sc.Swatches[k].Colour, 9); n > 200 != want {
			t.Errorf("side 0 shows %d pixels of %s", n, sc.Swatches[k].Name)
		}
	}
	whole := m.Whole()
	for _, s := range m.Scale.Swatches {
		if near(whole, s.Colour, 0) < 200 {
			t.Errorf("the key does not show %s", s.Name)
		}
	}
	all := u.Paint(Paint{Value: func(int) float64 { return 0 }, Scale: sc})
	if got := all.Scale.Swatches; len(got) != 1 || got[0] != sc.Swatches[0] {
		t.Errorf("where one side reaches everything the key names %v", got)
	}
	steps := u.Paint(Paint{Value: func(int) float64 { return 0 }, Scale: LeftScale(1)})
	if n := len(steps.Scale.Swatches); n != 6 {
		t.Errorf("a scale against a limit keeps %d of its 6 steps", n)
	}
	run := u.Paint(Paint{Value: func(i int) float64 { return set.Centre(i).Y }, Scale: Measured("y, mm", 10, 30, "higher")})
	if w := run.Whole(); near(w, Within(0), 0) < 5 || near(w, Within(1), 0) < 5 || near(w, Beyond, 0) < 200 {
		t.Error("the key of a measured scale is not whole")
	}
}

// Surface that no panel sees shows as dots where it is marked worth showing, and not otherwise.
func TestHiddenSurfaceShowsAsDots(t *testing.T) {
	inner := solid.Box(geom.Vec3{X: -3, Y: 20, Z: -2}, geom.Vec3{X: 3, Y: 30, Z: 2})
	m := mesh.Join(solid.Box(geom.Vec3{X: -6, Y: 10, Z: -4}, geom.Vec3{X: 6, Y: 40, Z: 4}), inner)
	set := patch.Cut(m, 1, 1<<20)
	u := unroll(t, set, []float64{0, 90, 180, 270}, true)
	sc := ReachScale([]float64{0}, false, "undercut")
	mp := u.Paint(Paint{Value: func(i int) float64 {
		if set.Of[i] >= 12 {
			return 1
		}
		return 0
	}, Scale: sc})
	for k, wide := range []float64{6 * 10, 4 * 10, 6 * 10, 4 * 10, 6 * 4, 6 * 4} {
		got := float64(near(mp.Panels[k].Image, Unreached(0), 40)) / mp.PxMM / mp.PxMM
		if got < 0.08*wide || got > 0.3*wide {
			t.Errorf("panel %d shows %.1f mm² of dots for %g mm² hidden", k, got, wide)
		}
	}
	swapped := u.Paint(Paint{Value: func(i int) float64 {
		if set.Of[i] >= 12 {
			return 0
		}
		return 1
	}, Scale: sc})
	if n := near(swapped.Panels[0].Image, Reached(0), 9); n > 0 {
		t.Errorf("%d pixels of reached surface show through", n)
	}
}

// A loop is drawn in the panel that sees it, with its mark on it, and the inside behind a hole is not
// taken for the outside.
func TestHoleIsDrawn(t *testing.T) {
	whole := patch.Cut(solid.Box(geom.Vec3{X: -5, Y: 0, Z: -5}, geom.Vec3{X: 5, Y: 20, Z: 5}), 0.4, 1<<20)
	open := &patch.Set{Edge: whole.Edge}
	for i := range whole.Len() {
		if c := whole.Centre(i); c.Z < 5 || math.Abs(c.X) > 2.5 || math.Abs(c.Y-10) > 5 {
			p, q, r := whole.Corners(i)
			open.Corner, open.Of = append(open.Corner, p, q, r), append(open.Of, whole.Of[i])
		}
	}
	loop := []geom.Vec3{{X: -2.5, Y: 5, Z: 5}, {X: 2.5, Y: 5, Z: 5}, {X: 2.5, Y: 15, Z: 5}, {X: -2.5, Y: 15, Z: 5}}
	u := unroll(t, open, []float64{0, 180}, false)
	mp := u.Paint(Paint{Value: func(int) float64 { return 0 }, Scale: SoundScale(), Outlines: []Outline{{"H1", loop, true}}})
	if n := near(mp.Panels[0].Image, lineInk, 4); n < 300 {
		t.Errorf("side 0 shows %d pixels of the loop", n)
	}
	if n := near(mp.Panels[1].Image, lineInk, 30); n > 0 {
		t.Errorf("side 180 shows %d pixels of a loop it cannot see", n)
	}
	if len(mp.Panels[0].Marks) != 1 || mp.Panels[0].Marks[0].Hidden {
		t.Errorf("marks %v", mp.Panels[0].Marks)
	}
	if got, want := float64(near(mp.Panels[0].Image, inside[0], 12))/mp.PxMM/mp.PxMM, 50.0; got < 0.2*want || got > 0.6*want {
		t.Errorf("%.1f mm² of dark hatching for %g mm² of hole", got, want) // half of it is the other tone
	}
}

// Labels keep off each other, off rings and in the picture while there is room.
func TestTagsKeepApart(t *testing.T) {
	p := Panel{Image: image.NewRGBA(image.Rect(0, 0, 440, 760))}
	for i, at := range [][2]float64{{0.5, 0.5}, {0.58, 0.5}, {0.98, 0.2}, {0.02, 0.2}, {0.3, 0.003}, {0.45, 0.03}} {
		p.Marks = append(p.Marks, PlacedMark{Label: markName("L", i), X: at[0], Y: at[1]})
	}
	p.tags()
	w, h := shownWide, shownWide*760/440
	for i, k := range p.Marks {
		a := tagBox(k, w, h, k.Tag)
		if full := (a.x1 - a.x0) * (a.y1 - a.y0); a.meets(box{0, 0, w, h}) < full-1e-6 {
			t.Errorf("%s is cut off", k.Label)
		}
		for j, q := range p.Marks {
			if j > i && a.meets(tagBox(q, w, h, q.Tag)) > 0 {
				t.Errorf("%s is on %s", k.Label, q.Label)
			}
			if a.meets(box{q.X*w - ringR, q.Y*h - ringR, q.X*w + ringR, q.Y*h + ringR}) > 0 {
				t.Errorf("%s is on the ring of %s", k.Label, q.Label)
			}
		}
	}
}

// A scale against a limit reads in grey, and what is allowed is cool and what is not is warm.
func TestAgainstReadsInGrey(t *testing.T) {
	most, least := Against("x", 2, false, "mm", 2), Against("x", 2, true, "mm", 2)
	values := []float64{0.4, 0.9, 1.9, 3.9, 7.9, 8.1}
	for i, v := range values {
		if got := most.pick(v) - tones; got != i {
			t.Errorf("%g is step %d, want %d", v, got, i)
		}
		if got := least.pick(4/v) - tones; got != i {
			t.Errorf("%g is step %d of least, want %d", 4/v, got, i)
		}
		c := steps[i]
		if warm := c.R > c.B; warm != (v > 2) {
			t.Errorf("step %d is %v", i, c)
		}
		if i > 0 && lightness(steps[i-1])-lightness(c) < 7 {
			t.Errorf("step %d is only %.1f darker than the one before", i, lightness(steps[i-1])-lightness(c))
		}
	}
	if most.pick(2)-tones != 2 || least.pick(2)-tones != 2 {
		t.Error("what is just at the limit is not allowed")
	}
	if most.pick(math.NaN())-tones != 6 || least.pick(0)-tones != 5 {
		t.Error("no value, or nothing at all, is not told apart")
	}
}

// What is reached and what is not are told apart by lightness alone; so are neighbouring sides, and the
// reasons for not reaching.
func TestClassesReadInGrey(t *testing.T) {
	for i := range 6 {
		if d := math.Abs(lightness(Reached(i)) - lightness(Reached(i+1))); d < 2.5 {
			t.Errorf("sides %d and %d differ by %.1f", i, i+1, d)
		}
		for k := range 5 {
			if d := lightness(Reached(i)) - lightness(Unreached(k)); d < 12 {
				t.Errorf("side %d is %.1f lighter than reason %d", i, d, k)
			}
		}
	}
	for k := range 5 {
		for j := range k {
			if d := math.Abs(lightness(Unreached(k)) - lightness(Unreached(j))); d < 4 {
				t.Errorf("reasons %d and %d differ by %.1f", j, k, d)
			}
		}
	}
}

func TestUnrollOfNothing(t *testing.T) {
	if u, err := Unroll(context.Background(), &patch.Set{}, []float64{0}, false); u != nil || err != nil {
		t.Errorf("%v %v", u, err)
	}
	set := patch.Cut(lump(), 1, 1<<20)
	if m, err := SurfaceMap(context.Background(), set, nil, false, Paint{}); m != nil || err != nil {
		t.Errorf("%v %v", m, err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Unroll(ctx, set, []float64{0}, false); !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
}

// A disc, wide and flat, and a needle keep to the size of a panel.
func TestPanelsKeepTheirSize(t *testing.T) {
	for _, b := range []geom.Vec3{{X: 100, Y: 2, Z: 100}, {X: 1, Y: 200, Z: 1}, {X: 10, Y: 0, Z: 10}} {
		set := patch.Cut(solid.Box(geom.Vec3{}, b), 5, 1<<20)
		m := unroll(t, set, []float64{0, 60, 120, 180, 240, 300}, true).Paint(Paint{Value: func(int) float64 { return 0 }, Scale: SoundScale()})
		for _, p := range m.Panels {
			if r := p.Image.Rect; r.Dx() > panelWide+2*panelPad+2 || r.Dy() > panelTall+2*panelPad+2 {
				t.Errorf("%v: %s is %v", b, p.Name, r)
			}
		}
		if s := m.BarShare(); s <= 0 || s > 0.34 {
			t.Errorf("%v: the scale bar takes %g", b, s)
		}
	}
}

func BenchmarkUnroll(b *testing.B) {
	set := patch.Cut(solid.Sphere(geom.Vec3{}, 20, 632), 0.4, 400000)
	for b.Loop() {
		if _, err := Unroll(context.Background(), set, []float64{0, 90, 180, 270}, false); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(set.Len()), "patches")
}

func BenchmarkPaint(b *testing.B) {
	set := patch.Cut(solid.Sphere(geom.Vec3{}, 20, 632), 0.4, 400000)
	u, err := Unroll(context.Background(), set, []float64{0, 90, 180, 270}, false)
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		u.Paint(Paint{Value: func(i int) float64 { return float64(i%100) / 100 }, Scale: Measured("x", 0, 1, "")})
	}
}
