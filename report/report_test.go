package report

import (
	"bytes"
	"encoding/json"
	"image/color"
	"math"
	"regexp"
	"strings"
	"testing"

	"barwise/finding"
	"barwise/proof"
	"barwise/stock"
)

// lightness is CIE 1976 L* of an sRGB colour (CIE 15, IEC 61966-2-1), another road than the one the
// scale was made on.
func lightness(c color.RGBA) float64 {
	lin := func(v uint8) float64 {
		s := float64(v) / 255
		if s <= 0.04045 {
			return s / 12.92
		}
		return math.Pow((s+0.055)/1.055, 2.4)
	}
	y := 0.2126*lin(c.R) + 0.7152*lin(c.G) + 0.0722*lin(c.B)
	if y <= 216.0/24389 {
		return y * 24389 / 27
	}
	return 116*math.Cbrt(y) - 16
}

// The scale must read in grey too: lightness rises all the way, in steps that stay near even.
func TestScaleRisesEvenly(t *testing.T) {
	const n = 32
	span := lightness(Within(1)) - lightness(Within(0))
	if span < 55 {
		t.Errorf("lightness spans %.1f, at least 55 is wanted to read it in grey", span)
	}
	for i := range n {
		step := lightness(Within(float64(i+1)/n)) - lightness(Within(float64(i)/n))
		if step < 0.4*span/n || step > 1.8*span/n {
			t.Errorf("step %d rises by %.2f, the mean step is %.2f", i, step, span/n)
		}
	}
	if Within(-3) != Within(0) || Within(7) != Within(1) {
		t.Error("the scale does not end at its ends")
	}
}

func TestGreyAxis(t *testing.T) {
	for _, c := range []struct {
		in   oklab
		want color.RGBA
	}{{oklab{0, 0, 0}, color.RGBA{0, 0, 0, 255}}, {oklab{1, 0, 0}, color.RGBA{255, 255, 255, 255}}} {
		if got := c.in.rgb(); got != c.want {
			t.Errorf("%v is %v, want %v", c.in, got, c.want)
		}
	}
	g := oklab{0.6, 0, 0}.rgb()
	if max(g.R, g.G, g.B)-min(g.R, g.G, g.B) > 1 {
		t.Errorf("a grey came out as %v", g)
	}
}

func TestDuration(t *testing.T) {
	for s, want := range map[float64]string{0.4: "0 s", 59.6: "1 min 00 s", 125: "2 min 05 s", 3600: "1 h 00 min", 7199: "2 h 00 min", 9660: "2 h 41 min"} {
		if got := Duration(s); got != want {
			t.Errorf("%g s reads %q, want %q", s, got, want)
		}
	}
}

func TestPercentNeverRoundsUpToAll(t *testing.T) {
	for v, want := range map[float64]string{1: "100 %", 0.999999: "99.99 %", 0.5: "50.00 %"} {
		if got := percent(v); got != want {
			t.Errorf("%g reads %q, want %q", v, got, want)
		}
	}
}

func sample() *Facts {
	return &Facts{
		Title: "Rook <b>", Job: "rook.yaml", Verdict: "not proven",
		Gouge: Bounded{Max: 1.25, Bound: 1.31}, Leftover: Spread{P50: 0.5, P99: 2, Max: 3, Bound: 4.5},
		AreaInTolerance: 0.999,
		Time:            Time{Total: 100, Cutting: 80, Travel: 20, ByProgram: map[string]float64{"01.nc": 100}},
		Findings:        []finding.Finding{{Code: "left-over", Severity: finding.Blocking, Where: "<x>", Text: "a & b", Hint: "do"}},
		Programs:        []Program{{File: "01.nc", SideDeg: 90, Cutter: "ball-1", Lines: 12}},
		Cutters:         []Cutter{{ID: "ball-1", DC: 1, StickOut: 20, Outline: [][2]float64{{0, 0}, {0.5, 0.5}, {0.5, 25}}}},
		Bar:             Bar{Shape: "hexagonal", Width: 24, Height: 24, Length: 80, Grip: 20, Stub: 25, Sides: []float64{0, 60}},
		Model:           Model{Y0: 30, Y1: 78, Spigot: 6},
		Cautions:        []Caution{{Text: "wear eye protection", Source: "ANSI Z87.1"}},
	}
}

// The keys a script may count on.
func TestJSONKeys(t *testing.T) {
	var b bytes.Buffer
	if err := sample().WriteJSON(&b); err != nil {
		t.Fatal(err)
	}
	var m map[string]any
	if err := json.Unmarshal(b.Bytes(), &m); err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{"verdict", "gouge_um.max", "gouge_um.bound", "leftover_um.p50", "leftover_um.p99", "leftover_um.max",
		"leftover_um.bound", "area_in_tolerance", "moves", "cut_length_mm", "time_s.total", "time_s.cutting", "time_s.travel", "time_s.by_program"} {
		var v any = m
		for _, k := range strings.Split(path, ".") {
			v = v.(map[string]any)[k]
		}
		if v == nil {
			t.Errorf("report.json has no %s", path)
		}
	}
	f := m["findings"].([]any)[0].(map[string]any)
	for _, k := range []string{"code", "severity", "where", "text", "hint"} {
		if _, ok := f[k].(string); !ok {
			t.Errorf("a finding has no %s", k)
		}
	}
}

// One page that needs nothing else, with the user's words escaped and every number in place.
func TestPageIsWholeAndEscaped(t *testing.T) {
	pic := &stock.Picture{W: 4, H: 4, Depth: make([]float32, 16), Normal: make([][3]float32, 16), Side: make([]int8, 16)}
	p := &Page{Facts: sample(), Stages: []Picture{{Name: "a.png", Caption: "after 1", Image: Shade(pic, 0.1)}}}
	var b bytes.Buffer
	if err := p.WriteHTML(&b); err != nil {
		t.Fatal(err)
	}
	s := b.String()
	for _, want := range []string{"Rook &lt;b&gt;", "&lt;x&gt;", "a &amp; b", "1.25 µm", "data:image/png;base64,", "wear eye protection", "99.90 %", "24 mm across"} {
		if !strings.Contains(s, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	if m := regexp.MustCompile(`(src|href)="(https?:)?//[^"]*"|ZgotmplZ|%!`).FindString(s); m != "" {
		t.Errorf("the page holds %q", m)
	}
}

// A patch over tolerance and one out of reach must be seen in their own colours, in the right panel.
func TestDeviationMapShowsWhatIsWrong(t *testing.T) {
	m := &proof.Map{
		Point:     [][3]float32{{0, 10, 5}, {5, 20, 0}, {0, 30, 5}, {0, 40, -5}},
		Normal:    [][3]float32{{0, 0, 1}, {1, 0, 0}, {0, 0, 1}, {0, 0, -1}},
		Deviation: []float32{0.002, 0.5, 0.001, 9},
		Area:      []float32{4, 4, 4, 4},
		Side:      []int16{0, 1, 0, 2},
		Class:     []proof.Class{proof.InTolerance, proof.Left, proof.Unreachable, proof.Excluded},
	}
	img := DeviationMap(m, []float64{0, 90}, 0.01)
	count := map[color.RGBA]int{}
	half := map[color.RGBA][2]int{}
	b := img.Bounds()
	for y := 0; y < b.Dy()-80; y++ { // above the legend
		for x := 0; x < b.Dx(); x++ {
			c := img.RGBAAt(x, y)
			count[c]++
			h := half[c]
			h[min(1, 2*x/b.Dx())]++
			half[c] = h
		}
	}
	if count[Beyond] == 0 || count[NoReach] == 0 || count[Within(0.2)] == 0 {
		t.Errorf("a patch is missing: over %d, out of reach %d, within %d pixels", count[Beyond], count[NoReach], count[Within(0.2)])
	}
	if half[Beyond][0] > 0 || half[NoReach][1] > 0 {
		t.Errorf("patches stand in the wrong panel: %v, %v", half[Beyond], half[NoReach])
	}
}
