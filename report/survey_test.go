package report

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"reflect"
	"regexp"
	"runtime"
	"strings"
	"testing"
	"unicode/utf8"

	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/patch"
	solid "barwise/geom/mesh/sample"
	"barwise/shop/bar"
)

func readSurvey(t *testing.T) *Survey {
	t.Helper()
	raw, err := os.ReadFile("testdata/survey.json")
	if err != nil {
		t.Fatal(err)
	}
	d := json.NewDecoder(bytes.NewReader(raw))
	d.DisallowUnknownFields()
	s := &Survey{}
	if err := d.Decode(s); err != nil {
		t.Fatal(err)
	}
	return s
}

func pageOf(t *testing.T, p *SurveyPage) string {
	t.Helper()
	var b bytes.Buffer
	if err := p.WriteHTML(&b); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func boxSet(m *mesh.Mesh) *patch.Set { return patch.Cut(m, 1, 1<<20) }

// fullPage has every part that a page may have.
func fullPage(t *testing.T) *SurveyPage {
	t.Helper()
	s := readSurvey(t)
	m := solid.Box(geom.Vec3{X: -9, Y: 24, Z: -9}, geom.Vec3{X: 9, Y: 79.5, Z: 9})
	lie := Lie{Mesh: m, Bar: bar.Bar{Shape: bar.Square, Width: 24, Height: 24, Length: 80, Grip: 18}, StubY: 23.5, Y0: 24, Y1: 79.5,
		Sides: []float64{0, 90, 180, 270}, End: true, Clear: []Clearance{{0, 3}, {90, 3}, {180, 3}, {270, 3}}, Spigot: s.Spigot}
	pics, err := PosePictures(context.Background(), []Lie{lie, lie, lie}, 60)
	if err != nil {
		t.Fatal(err)
	}
	set := boxSet(m)
	u, err := Unroll(context.Background(), set, lie.Sides, true)
	if err != nil {
		t.Fatal(err)
	}
	paint := func(sc Scale, o []Outline, k []Mark) *Map {
		return u.Paint(Paint{Value: func(i int) float64 { return float64(i%7) / 10 }, Scale: sc, Outlines: o, Marks: k})
	}
	loop := []geom.Vec3{{X: -2, Y: 40, Z: 9}, {X: 2, Y: 40, Z: 9}, {X: 0, Y: 44, Z: 9}}
	return &SurveyPage{Survey: s, Lie: &lie, Piece: pics[0], ByGiven: pics[1], ByPose: pics[1:], Maps: SurveyMaps{
		Sound: paint(SoundScale(), s.HoleOutlines([][]geom.Vec3{loop}), s.CrossingMarks()), Reach: paint(ReachScale(lie.Sides, true, "undercut"), nil, s.LeftMarks()),
		Left: paint(LeftScale(0.05), nil, s.LeftMarks()), Facets: paint(FacetScale(), nil, nil), Before: paint(Measured("angle", 0, 1, "over"), nil, nil),
		Thickness: paint(ThicknessScale(0.3), nil, s.ThinMarks())}}
}

// What is written is read back the same, and the sample gives every key that is written.
func TestSurveyJSONGoesRound(t *testing.T) {
	s := readSurvey(t)
	var b bytes.Buffer
	if err := s.WriteJSON(&b); err != nil {
		t.Fatal(err)
	}
	again := &Survey{}
	if err := json.Unmarshal(b.Bytes(), again); err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(s, again) {
		t.Error("what was read back differs")
	}
	keys := regexp.MustCompile(`json:"([a-z0-9_]+)`)
	seen := map[reflect.Type]bool{}
	var walk func(reflect.Type)
	walk = func(ty reflect.Type) {
		for ty.Kind() == reflect.Pointer || ty.Kind() == reflect.Slice {
			ty = ty.Elem()
		}
		if ty.Kind() != reflect.Struct || seen[ty] {
			return
		}
		seen[ty] = true
		for i := range ty.NumField() {
			m := keys.FindStringSubmatch(string(ty.Field(i).Tag))
			if m == nil {
				t.Errorf("%s.%s has no name in JSON", ty, ty.Field(i).Name)
			} else if optional := "source code"; !strings.Contains(b.String(), `"`+m[1]+`":`) && !strings.Contains(optional, m[1]) {
				t.Errorf("the sample does not show %q of %s", m[1], ty)
			}
			walk(ty.Field(i).Type)
		}
	}
	walk(reflect.TypeFor[Survey]())
}

// unlike gives every number of the facts a value of its own that the page's three digits keep apart.
func unlike(v reflect.Value, path string, next *int, want map[string]string) {
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() {
			unlike(v.Elem(), path, next, want)
		}
	case reflect.Slice, reflect.Array:
		for i := range v.Len() {
			unlike(v.Index(i), path, next, want)
		}
	case reflect.Struct:
		for i := range v.NumField() {
			unlike(v.Field(i), path+"."+v.Type().Field(i).Name, next, want)
		}
	case reflect.Float64, reflect.Int:
		*next++
		n := *next + 110
		text := fmt.Sprint(n)
		f := float64(n)
		switch {
		case notShown.MatchString(path):
			return
		case strings.HasSuffix(path, "Share"):
			f, text = float64(*next%89+10)/100, fmt.Sprintf("%d %%", *next%89+10)
		case regexp.MustCompile(`(Given|Best|Compare)\.Seconds`).MatchString(path):
			f *= 60
		}
		if v.Kind() == reflect.Int {
			v.SetInt(int64(n))
		} else {
			v.SetFloat(f)
		}
		want[fmt.Sprintf("%s = %s", path, text)] = text
	case reflect.Bool:
		v.SetBool(true)
	}
}

// Numbers that the page says in other words: a pose's direction and turn are in its Words.
var notShown = regexp.MustCompile(`Thickness\.LeastAt|\.(Score|Dir|Chosen|UnitMM|Severity)$|\.(Given|Best|Compare)\.TurnDeg$|Before\.(ChordLimit|KinkLimit|WidthLimit|CuspUM|CreaseDeg)$|Compare\.Dir`)

func TestPageShowsEveryNumber(t *testing.T) {
	s := readSurvey(t)
	next, want := 0, map[string]string{}
	unlike(reflect.ValueOf(s).Elem(), "", &next, want)
	if len(want) < 150 || next > 880 {
		t.Fatalf("%d numbers, the last %d: the sample is too small or too large", len(want), next)
	}
	s.Model.Closed = false
	page := pageOf(t, &SurveyPage{Survey: s})
	page = regexp.MustCompile(`(?s)<pre>.*</pre>|<style>.*</style>|<[^>]*>`).ReplaceAllString(page, " ")
	page = strings.NewReplacer("\u202f", "", "&#43;", "+").Replace(page)
	has := map[string]bool{}
	for _, m := range regexp.MustCompile(`[0-9]+(\.[0-9]+)?( %)?`).FindAllString(page, -1) {
		has[m], has[strings.TrimSuffix(m, ".0")] = true, true
		has[strings.TrimSuffix(m, " %")] = true
	}
	for path, text := range want {
		if !has[text] {
			t.Errorf("the page does not show %s", path)
		}
	}
}

// One page that needs nothing else, with the user's words escaped and every element closed.
func TestSurveyPageIsWholeAndEscaped(t *testing.T) {
	for name, p := range map[string]*SurveyPage{"full": fullPage(t), "bare": {Survey: readSurvey(t)}, "empty": {Survey: &Survey{}}} {
		s := regexp.MustCompile(`;base64,[^"]*`).ReplaceAllString(pageOf(t, p), ";base64,")
		if m := regexp.MustCompile(`(?i)(src|href)="?(https?:)?//|https?:|url\(|@import|<script|ZgotmplZ|%!|NaN|<no value>`).FindString(s); m != "" {
			t.Errorf("%s: the page holds %q", name, m)
		}
		if name == "full" {
			for _, want := range []string{"Rook &lt;b&gt;&amp; co", "rook &lt;small&gt;.stl", "a hole &lt;3.3 mm across&gt;", "worth cutting after changes",
				"data:image/png;base64,", ">H1</b>", ">X1</b>", ">L3</b>", ">S1</b>", "prefers-color-scheme:dark", "@media print"} {
				if !strings.Contains(s, want) {
					t.Errorf("the page lacks %q", want)
				}
			}
		}
		balanced(t, name, s)
	}
}

// balanced checks that elements close in the order they open. End tags of table parts may be left out
// (HTML living standard, 13.1.2.4).
func balanced(t *testing.T, name, s string) {
	t.Helper()
	s = regexp.MustCompile(`(?s)<style>.*?</style>|<!doctype html>`).ReplaceAllString(s, "")
	open := map[string]bool{"td": true, "th": true, "tr": true, "li": false}
	void := map[string]bool{"meta": true, "img": true, "br": true}
	var stack []string
	for _, m := range regexp.MustCompile(`<(/?)([a-z0-9]+)((?:[^>"]|"[^"]*")*)>`).FindAllStringSubmatch(s, -1) {
		tag := m[2]
		if open[tag] || void[tag] || strings.HasSuffix(m[3], "/") {
			continue
		}
		if m[1] == "" {
			stack = append(stack, tag)
			continue
		}
		if len(stack) == 0 || stack[len(stack)-1] != tag {
			t.Fatalf("%s: </%s> closes %v", name, tag, stack)
		}
		stack = stack[:len(stack)-1]
	}
	if len(stack) > 0 {
		t.Errorf("%s: not closed: %v", name, stack)
	}
}

// The same bytes for any number of cores.
func TestSurveyPageIsTheSameOnAnyCores(t *testing.T) {
	draw := func() string {
		p := fullPage(t)
		p.Maps = SurveyMaps{Reach: p.Maps.Reach, Before: p.Maps.Before} // the rest is drawn the same way
		return pageOf(t, p)
	}
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	one := draw()
	runtime.GOMAXPROCS(5)
	if five := draw(); one != five {
		t.Error("one core and five give other bytes")
	}
}

// The best of these is on the terminal in words, and no line is wider than asked but for a word that is.
func TestSurveyText(t *testing.T) {
	s := readSurvey(t)
	for _, wide := range []int{0, 40, 72, 100} {
		text := SurveyText(s, wide)
		for _, l := range strings.Split(text, "\n") {
			if utf8.RuneCountInString(l) > wide && wide > 0 && len(strings.Fields(l)) > 2 && !strings.HasPrefix(l, "Rook") {
				t.Errorf("at %d columns: %q", wide, l)
			}
		}
		flat := strings.Join(strings.Fields(text), " ")
		for _, want := range []string{"worth cutting after changes", "37.4 mm² under the gallery", "not closed", "the widest is 3.31 mm across", "57 pairs",
			"about 3 times the triangles", "0.424 mm", "21.7 mm³", "24.8 mm would reach", "141 mm² not reached (3.4 %), about 2 h 10 min", "24 mm square, 80.5 mm long", "(61.3 mm² → 0 mm²)", "blocking mesh-open"} {
			if !strings.Contains(flat, want) {
				t.Errorf("at %d columns it lacks %q", wide, want)
			}
		}
	}
	if got := SurveyText(&Survey{Title: "x", Verdict: WorthCutting}, 0); !strings.HasPrefix(got, "x: worth cutting\n") {
		t.Errorf("%q", got)
	}
}

func TestShareKeepsWhatIsMissing(t *testing.T) {
	for v, want := range map[float64]string{0: "0 %", 1: "100 %", 0.99996: "over 99.9 %", 1e-6: "under 0.1 %", 0.384: "38 %", 0.0491: "4.9 %", 0.9935: "99.4 %"} {
		if got := share(v); got != want {
			t.Errorf("%g reads %q, want %q", v, got, want)
		}
	}
}

func TestFigure(t *testing.T) {
	for v, want := range map[float64]string{0: "0", 1234.4: "1\u202f234", 12.345: "12.3", 0.05: "0.05", 999.4: "999", -3.456: "-3.46", 0.00125: "0.00125"} {
		if got := figure(v); got != want {
			t.Errorf("%g reads %q, want %q", v, got, want)
		}
	}
	for v, want := range map[float64][2]float64{7.9: {10, 5}, 5: {5, 5}, 0.3: {0.5, 0.2}, 19: {20, 10}, 1000: {1000, 1000}} {
		if nice(v) != want[0] || math.Abs(niceBelow(v)-want[1]) > 1e-9 {
			t.Errorf("%g: %g and %g, want %v", v, nice(v), niceBelow(v), want)
		}
	}
}
