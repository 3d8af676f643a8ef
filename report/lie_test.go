package report

import (
	"context"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"testing"

	"golang.org/x/image/font"
	"golang.org/x/image/font/opentype"

	"barwise/geom"
	solid "barwise/geom/mesh/sample"
	"barwise/shop/bar"
)

// lies are bars long and short, thick and thin, with all lengths in or out.
func lies() []Lie {
	var out []Lie
	for _, b := range []bar.Bar{
		{Shape: bar.Square, Width: 24, Height: 24, Length: 80, Grip: 18},
		{Shape: bar.Rect, Width: 40, Height: 12, Length: 300, Grip: 30},
		{Shape: bar.Hex, Width: 25.4, Height: 25.4, Length: 45, Grip: 12},
		{Shape: bar.Round, Width: 101.6, Height: 101.6, Length: 60, Grip: 15, Block: bar.Square},
	} {
		for _, spigot := range []*SpigotFacts{nil, {Shape: "cylindrical", Across: 6}} {
			l := Lie{Bar: b, StubY: b.Grip + 0.5, Sides: b.Angles(), End: spigot != nil, Y1: b.Length - 0.25, Spigot: spigot}
			l.Y0 = l.StubY - 0.5
			if spigot != nil {
				l.Y0 = l.StubY + 4
			}
			r := 0.45 * min(b.Width, b.Height)
			l.Mesh = solid.Box(geom.Vec3{X: -r, Y: l.Y0, Z: -0.7 * r}, geom.Vec3{X: r, Y: l.Y1, Z: 0.7 * r})
			for i, f := range b.Flats() {
				l.Clear = append(l.Clear, Clearance{f.Deg, 10.01 + float64(i)})
			}
			if b.Shape == bar.Round {
				l.Clear = []Clearance{{0, 10.01}}
			}
			out = append(out, l)
		}
	}
	return out
}

// words are a drawing's texts with the room they take, by the width that a wide sans serif needs: Go
// Regular's and an eighth more (DejaVu Sans against it: 1.06 to 1.12, measured by eye).
type word struct {
	text string
	box  box
}

func wordsOf(t *testing.T, svg string) (out []word, w, h float64) {
	t.Helper()
	num := func(e xml.StartElement, name string) float64 {
		for _, a := range e.Attr {
			if a.Name.Local == name {
				v, err := strconv.ParseFloat(a.Value, 64)
				if err != nil {
					t.Fatal(err)
				}
				return v
			}
		}
		return 0
	}
	str := func(e xml.StartElement, name string) string {
		for _, a := range e.Attr {
			if a.Name.Local == name {
				return a.Value
			}
		}
		return ""
	}
	d := xml.NewDecoder(strings.NewReader(svg))
	var in *xml.StartElement
	for {
		tok, err := d.Token()
		if errors.Is(err, io.EOF) {
			return out, w, h
		}
		if err != nil {
			t.Fatal(err)
		}
		switch e := tok.(type) {
		case xml.StartElement:
			if e.Name.Local == "svg" {
				if _, err := fmt.Sscanf(str(e, "viewBox"), "0 0 %f %f", &w, &h); err != nil {
					t.Fatal(err)
				}
			}
			in = &e
		case xml.CharData:
			if in == nil || in.Name.Local != "text" || strings.TrimSpace(string(e)) == "" {
				continue
			}
			size := 12.5
			if str(*in, "class") == "small" {
				size = 11.5
			}
			face, err := opentype.NewFace(parsedFont(), &opentype.FaceOptions{Size: size, DPI: 72})
			if err != nil {
				t.Fatal(err)
			}
			wide := 1.125 * float64(font.MeasureString(face, string(e))) / 64
			x, y := num(*in, "x"), num(*in, "y")
			switch str(*in, "text-anchor") {
			case "middle":
				x -= wide / 2
			case "end":
				x -= wide
			}
			out = append(out, word{string(e), box{x, y - 0.75*size, x + wide, y + 0.22*size}})
		case xml.EndElement:
			in = nil
		}
	}
}

// Every figure is in the drawing, whole, and on no other one.
func TestDrawingsKeepTheirWordsApart(t *testing.T) {
	for _, l := range lies() {
		for name, svg := range map[string]string{"section": l.clearDrawing(), "lengths": l.lengthDrawing()} {
			name = fmt.Sprintf("%s %g %s, spigot %v", l.Bar.Shape, l.Bar.Width, name, l.Spigot != nil)
			words, w, h := wordsOf(t, svg)
			for i, a := range words {
				if b := a.box; b.x0 < 0 || b.y0 < 0 || b.x1 > w || b.y1 > h {
					t.Errorf("%s: %q is cut off: %.1f of %g by %g", name, a.text, b, w, h)
				}
				for _, b := range words[:i] {
					if a.box.meets(b.box) > 0 {
						t.Errorf("%s: %q is on %q", name, a.text, b.text)
					}
				}
			}
			if strings.Contains(svg, "NaN") || strings.Contains(svg, "Inf") {
				t.Errorf("%s: %s", name, svg)
			}
		}
		for _, c := range l.Clear {
			if !strings.Contains(l.clearDrawing(), ">"+mm(c.MM)+"<") {
				t.Errorf("%v: clearance %g is not drawn", l.Bar, c.MM)
			}
		}
	}
}

// The lengths in a drawing sum to the bar's.
func TestLengthsSumToTheBar(t *testing.T) {
	for _, l := range lies() {
		sum, at := 0.0, 0.0
		for _, s := range l.spans() {
			if math.Abs(s.from-at) > 1e-9 {
				t.Errorf("%v: %s begins at %g, what is before it ends at %g", l.Bar, s.name, s.from, at)
			}
			sum, at = sum+s.to-s.from, s.to
			if !strings.Contains(l.lengthDrawing(), ">"+mm(s.to-s.from)+"<") {
				t.Errorf("%v: %s is not drawn", l.Bar, s.name)
			}
		}
		if math.Abs(sum-l.Bar.Length) > 1e-9 {
			t.Errorf("%v: lengths sum to %g", l.Bar, sum)
		}
	}
}

// The section's outline has the section's area, the hull that of the box's shadow, the silhouette that of
// its side.
func TestOutlinesMeasure(t *testing.T) {
	area := func(ps []geom.Vec2) float64 {
		a := 0.0
		for i, p := range ps {
			a += p.Cross(ps[(i+1)%len(ps)]) / 2
		}
		return math.Abs(a)
	}
	for _, l := range lies() {
		if got, want := area(outlineOf(l.Bar)), l.Bar.Area(); math.Abs(got-want) > 2e-3*want {
			t.Errorf("%v: outline of %g mm², section %g mm²", l.Bar, got, want)
		}
		r := 0.45 * min(l.Bar.Width, l.Bar.Height)
		if got, want := area(l.hull()), 2*r*1.4*r; math.Abs(got-want) > 1e-6*want {
			t.Errorf("%v: hull of %g mm², want %g", l.Bar, got, want)
		}
		lo, hi := l.silhouette(1000)
		sum := 0.0
		for j := range lo {
			if hi[j] > lo[j] {
				sum += (hi[j] - lo[j]) * l.Bar.Length / 1000
			}
		}
		if want := 2 * r * (l.Y1 - l.Y0); math.Abs(sum-want) > 0.01*want {
			t.Errorf("%v: silhouette of %g mm², want %g", l.Bar, sum, want)
		}
	}
}

// Poses are drawn to one scale, at the width asked for, with the model where its corner looks project.
func TestPosePictures(t *testing.T) {
	ls := lies()[:2]
	short := ls[0]
	short.Bar.Length, short.Mesh = 60, solid.Box(geom.Vec3{X: -8, Y: 20, Z: -8}, geom.Vec3{X: 8, Y: 59, Z: 8})
	ls = append(ls, short)
	pics, err := PosePictures(context.Background(), ls, 150)
	if err != nil {
		t.Fatal(err)
	}
	for i, p := range pics {
		if p.Rect != pics[0].Rect || p.Rect.Dx() != 150 {
			t.Errorf("picture %d is %v", i, p.Rect)
		}
		if near(p, heldTint, 2) < 100 {
			t.Errorf("picture %d shows no grip", i)
		}
		if near(p, cutBlue, 4) < 20 {
			t.Errorf("picture %d shows no arrows", i)
		}
	}
	stoneAt := func(i int) (top, low int) {
		p := pics[i]
		top, low = -1, -1
		for y := range p.Rect.Dy() {
			for x := range p.Rect.Dx() {
				c := p.RGBAAt(x, y)
				if c.A == 255 && c.R > c.B+18 && c.R > 120 && c.G > c.B+5 {
					if top < 0 {
						top = y
					}
					low = y
				}
			}
		}
		return top, low
	}
	// heights of the pictures' models: from the far corner's top to the near corner's foot, tilt 16°
	top, low := stoneAt(2)
	l := short
	e := l.extent()
	for _, o := range ls {
		b := o.extent()
		e = box{min(e.x0, b.x0), min(e.y0, b.y0), max(e.x1, b.x1), max(e.y1, b.y1)}
	}
	hiY, loY := math.Inf(-1), math.Inf(1)
	for _, v := range l.Mesh.Vertices {
		y := l.look().to(v).Y
		hiY, loY = max(hiY, y), min(loY, y)
	}
	px := 150 / (e.x1 - e.x0)
	if want := (e.y1 - hiY) * px; math.Abs(float64(top)-want) > 2.5 {
		t.Errorf("the model begins at row %d, want %.1f", top, want)
	}
	if want := (e.y1 - loY) * px; math.Abs(float64(low)-want) > 2.5 {
		t.Errorf("the model ends at row %d, want %.1f", low, want)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := PosePictures(ctx, ls, 150); !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
}
