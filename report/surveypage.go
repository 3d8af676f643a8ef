package report

import (
	"bytes"
	"cmp"
	_ "embed"
	"encoding/base64"
	"fmt"
	"html/template"
	"image"
	"image/color"
	"image/png"
	"io"
	"maps"
	"math"
	"slices"
	"strings"

	"barwise/finding"
	"barwise/geom"
)

//go:embed survey.tmpl
var surveyText string

// SurveyPage is what survey.html shows: the facts and the pictures. Every picture may be left out.
type SurveyPage struct {
	*Survey
	Maps    SurveyMaps
	Lie     *Lie          // the lie the page is about, for the drawings beside the bars
	Piece   *image.RGBA   // the same as PosePictures draws it
	ByPose  []*image.RGBA // of Poses.Best
	ByGiven *image.RGBA   // of Poses.Given
}

// SurveyMaps are the maps of a survey page.
type SurveyMaps struct {
	Sound     *Map // boundary loops, crossings and what was mended
	Reach     *Map // which side reaches what, and why the rest is not reached
	Left      *Map // height of the stock left
	Facets    *Map // angle between facets
	Before    *Map // the same before refining
	Thickness *Map
}

// WriteHTML writes one page that needs nothing else: pictures and styles are inside it.
func (p *SurveyPage) WriteHTML(w io.Writer) error {
	uris, err := p.encode()
	if err != nil {
		return err
	}
	var facts strings.Builder
	if err := p.Survey.WriteJSON(&facts); err != nil {
		return err
	}
	t, err := template.New("survey").Funcs(template.FuncMap{
		"png": func(img *image.RGBA) template.URL { return uris[img] },
		"hms": Duration, "thousand": thousands, "fig": figure, "share": share, "minutes": minutes,
		"f1": func(v float64) string { return fmt.Sprintf("%.1f", v) },
		"f2": func(v float64) string { return fmt.Sprintf("%.2f", v) },
		"g":  func(v float64) string { return fmt.Sprintf("%.4g", v) },
		"pc": func(v float64) template.CSS { return template.CSS(fmt.Sprintf("%.2f%%", 100*v)) },
		"css": func(c color.RGBA) template.CSS {
			return template.CSS(fmt.Sprintf("#%02x%02x%02x", c.R, c.G, c.B))
		},
		"inc": func(i int) int { return i + 1 }, "at": place, "sides": sidesWords, "some": some, "times": times,
		"tones": tonesCSS, "ticks": ticksOf, "key": func(title string, m *Map) keyed { return keyed{title, m} },
		"clearances": func() template.HTML { return template.HTML(p.Lie.clearDrawing()) },
		"lengths":    func() template.HTML { return template.HTML(p.Lie.lengthDrawing()) },
		"picture": func(list []*image.RGBA, i int) *image.RGBA {
			if i < len(list) {
				return list[i]
			}
			return nil
		},
		"round":    func(v float64) int { return int(math.Round(v)) },
		"facts":    func() string { return facts.String() },
		"blocking": func() int { return count(p.Findings, finding.Blocking) },
		"stages":   p.stages, "most": p.mostLeft, "div": func(a, b float64) float64 { return a / max(b, 1e-9) },
	}).Parse(surveyText)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := t.Execute(&b, p); err != nil {
		return err
	}
	_, err = w.Write(b.Bytes())
	return err
}

// keyed is a map with the name it has on the page.
type keyed struct {
	Title string
	*Map
}

// images lists every picture of the page in its order.
func (p *SurveyPage) images() []*image.RGBA {
	out := []*image.RGBA{p.Piece, p.ByGiven}
	out = append(out, p.ByPose...)
	for _, m := range p.Maps.list() {
		for _, q := range m.Panels {
			out = append(out, q.Image)
		}
	}
	return out
}

func (m *SurveyMaps) list() []*Map {
	var out []*Map
	for _, q := range []*Map{m.Sound, m.Reach, m.Left, m.Facets, m.Before, m.Thickness} {
		if q != nil {
			out = append(out, q)
		}
	}
	return out
}

// encode makes the pictures' data addresses, on all cores: there may be forty of them.
func (p *SurveyPage) encode() (map[*image.RGBA]template.URL, error) {
	images := p.images()
	data, errs := make([]template.URL, len(images)), make([]error, len(images))
	inParallel(len(images), func(i, _ int) {
		if images[i] == nil {
			return
		}
		var b bytes.Buffer
		enc := png.Encoder{CompressionLevel: png.BestSpeed}
		if errs[i] = enc.Encode(&b, images[i]); errs[i] == nil {
			data[i] = template.URL("data:image/png;base64," + base64.StdEncoding.EncodeToString(b.Bytes()))
		}
	})
	out := map[*image.RGBA]template.URL{}
	for i, img := range images {
		if errs[i] != nil {
			return nil, errs[i]
		}
		out[img] = data[i]
	}
	return out, nil
}

// Pictures returns the maps as single pictures with their keys, for files beside the page.
func (p *SurveyPage) Pictures() []Picture {
	var out []Picture
	if p.Piece != nil {
		out = append(out, Picture{"lie.png", "The model as it lies in its bar.", p.Piece})
	}
	for _, q := range []struct {
		name, caption string
		m             *Map
	}{{"surface.png", "Where the surface is open, crosses itself or was mended.", p.Maps.Sound},
		{"reach.png", "Which side reaches what.", p.Maps.Reach}, {"left.png", "How high stock stays on the surface.", p.Maps.Left},
		{"facets.png", "How much facets stand out.", p.Maps.Facets}, {"facets-before.png", "How much facets stood out before refining.", p.Maps.Before},
		{"thickness.png", "Thickness of the model.", p.Maps.Thickness}} {
		if q.m != nil {
			out = append(out, Picture{q.name, q.caption, q.m.Whole()})
		}
	}
	return out
}

// markName is the label that a place has on maps and in tables.
func markName(kind string, i int) string { return fmt.Sprintf("%s%d", kind, i+1) }

func vec3(p [3]float64) geom.Vec3 { return geom.Vec3{X: p[0], Y: p[1], Z: p[2]} }

// HoleOutlines are the boundary loops with the labels that the table of holes has; loops are in its
// order, placed.
func (s *Survey) HoleOutlines(loops [][]geom.Vec3) []Outline {
	var out []Outline
	for i, l := range loops {
		out = append(out, Outline{Label: markName("H", i), Path: l, Closed: true})
	}
	return out
}

// CrossingMarks are the places where the surface crosses itself.
func (s *Survey) CrossingMarks() []Mark {
	var out []Mark
	if s.Crossings != nil {
		for i, c := range s.Crossings.Spots {
			out = append(out, Mark{markName("X", i), vec3(c.At)})
		}
	}
	return out
}

// LeftMarks are the worst places of what is left.
func (s *Survey) LeftMarks() []Mark {
	var out []Mark
	if s.Reach != nil {
		for i, c := range s.Reach.Worst {
			out = append(out, Mark{markName("L", i), vec3(c.At)})
		}
	}
	return out
}

// ThinMarks are the thin places and the slender parts.
func (s *Survey) ThinMarks() []Mark {
	var out []Mark
	if s.Thickness != nil {
		for i, c := range s.Thickness.Places {
			out = append(out, Mark{markName("T", i), vec3(c.At)})
		}
	}
	for i, c := range s.Slender {
		out = append(out, Mark{markName("S", i), vec3(c.At)})
	}
	return out
}

// ReachScale is the scale of the map of reach: first one swatch for every side, then one for the end if
// it is cut and not among the sides, then one for every reason why surface is not reached. A value is a swatch's number.
func ReachScale(sides []float64, end bool, reasons ...string) Scale {
	var sw []Swatch
	fromEnd := Swatch{"reached from the end", oklab{0.96, 0, 0}.rgb()}
	for i, d := range sides {
		if geom.IsEnd(d) {
			sw = append(sw, fromEnd)
			continue
		}
		sw = append(sw, Swatch{fmt.Sprintf("reached from side %g°", d), Reached(i)})
	}
	if end {
		sw = append(sw, fromEnd)
	}
	var shown []int
	for i, r := range reasons {
		shown = append(shown, len(sw))
		sw = append(sw, Swatch{r, Unreached(i)})
	}
	return Classes("What reaches the surface, or why nothing does", sw, shown...)
}

// LeftScale is the scale for the height of stock that stays, mm, against what is allowed.
func LeftScale(limit float64) Scale {
	return Against("Height of the stock that stays", limit, false, "mm", 4)
}

// FacetScale is the scale for how much facets stand out, in parts of what shows.
func FacetScale() Scale {
	return Against("How much facets stand out: from 1 on they show, or are coarser than the finish", 1, false, "", 2)
}

// ThicknessScale is the scale for thickness, mm, against the least that the material bears.
func ThicknessScale(limit float64) Scale {
	return Against("Thickness, measured inward from the surface", limit, true, "mm", 2)
}

// SoundScale is the scale for the state of the surface: 0 as read, 1 made by mending.
func SoundScale() Scale {
	return Classes("The surface", []Swatch{{"as read", stone.rgb()}, {"made by mending", Unreached(1)}}, 1)
}

// tonesCSS is a measured scale as a style's background.
func tonesCSS() template.CSS {
	var stops []string
	for i := range 17 {
		c := Within(float64(i) / 16)
		stops = append(stops, fmt.Sprintf("#%02x%02x%02x", c.R, c.G, c.B))
	}
	return template.CSS("linear-gradient(90deg," + strings.Join(stops, ",") + ")")
}

type tick struct {
	At   float64
	Text string
}

func ticksOf(s Scale) []tick {
	if !s.measured() {
		return nil
	}
	at, text := s.ticks()
	out := make([]tick, len(at))
	for i := range at {
		out[i] = tick{at[i], text[i]}
	}
	return out
}

// place writes a place of the part frame.
func place(p [3]float64) string {
	f := func(v float64) string { return strings.Replace(fmt.Sprintf("%.1f", v+0), "-", "−", 1) }
	return f(p[0]) + ", " + f(p[1]) + ", " + f(p[2])
}

// share says a part of the whole: never 'all' where something is missing, nor 'none' where something is there.
func share(v float64) string {
	switch {
	case v <= 0:
		return "0 %"
	case v < 0.001:
		return "under 0.1 %"
	case v >= 1:
		return "100 %"
	case v > 0.999:
		return "over 99.9 %"
	case v < 0.1 || v > 0.99:
		return fmt.Sprintf("%.1f %%", math.Floor(float64(v*1000)+0.5)/10)
	}
	return fmt.Sprintf("%.0f %%", v*100)
}

// minutes writes a time as whole minutes, for columns.
func minutes(sec float64) string {
	if sec <= 0 {
		return "–"
	}
	return thousands(int(math.Ceil(sec / 60)))
}

// sidesWords says from where a lie is cut.
func sidesWords(sides []float64, end bool) string {
	var t []string
	for _, d := range sides {
		if geom.IsEnd(d) {
			end = true
			continue
		}
		t = append(t, fmt.Sprintf("%g°", d))
	}
	s := strings.Join(t, " ")
	if end {
		s += " + end"
	}
	return s
}

// times says how many times the triangles are needed.
func times(v float64) string {
	if v <= 1 {
		return "enough"
	}
	return figure(v) + " times"
}

// some writes a figure, or a dash where there is none.
func some(v float64) string {
	if v == 0 {
		return "–"
	}
	return figure(v)
}

// stages lists the seconds by stage, the longest first.
func (p *SurveyPage) stages() []tick {
	var out []tick
	for _, k := range slices.Sorted(maps.Keys(p.Stages)) {
		out = append(out, tick{p.Stages[k], k})
	}
	slices.SortStableFunc(out, func(a, b tick) int { return cmp.Compare(b.At, a.At) })
	return out
}

// mostLeft is the greatest area not reached of the compared poses.
func (p *SurveyPage) mostLeft() float64 {
	m := 0.0
	if p.Poses != nil {
		for _, c := range p.Poses.Compare {
			m = max(m, c.NotTouch)
		}
	}
	return m
}
