package report

import (
	"bytes"
	_ "embed"
	"encoding/base64"
	"fmt"
	"html/template"
	"image"
	"image/png"
	"io"
	"math"

	"barwise/finding"
	"barwise/geom"
)

//go:embed page.tmpl
var pageText string

// Picture is a drawing with what it shows, for people who see it and for people who do not.
type Picture struct {
	Name    string // file name in pictures/
	Caption string
	Image   *image.RGBA
}

// Page is what report.html shows: the facts and the pictures.
type Page struct {
	*Facts
	Piece  *Picture  // the finished piece
	Map    *Picture  // the deviation map
	Cusps  *Picture  // height of the ridges that finishing leaves
	Stages []Picture // the piece after each program
}

// Pictures returns all pictures of the page, in its order.
func (p *Page) Pictures() []Picture {
	var out []Picture
	if p.Piece != nil {
		out = append(out, *p.Piece)
	}
	if p.Map != nil {
		out = append(out, *p.Map)
	}
	if p.Cusps != nil {
		out = append(out, *p.Cusps)
	}
	return append(out, p.Stages...)
}

// WriteHTML writes one page that needs nothing else: pictures and styles are inside it.
func (p *Page) WriteHTML(w io.Writer) error {
	t, err := template.New("page").Funcs(template.FuncMap{
		"survey":   func(v string) string { return Verdict(v).Words() },
		"png":      embedPNG,
		"hms":      Duration,
		"side":     geom.SideName,
		"endWords": p.Bar.endWords,
		"f1":       func(v float64) string { return fmt.Sprintf("%.1f", v) },
		"f2":       func(v float64) string { return fmt.Sprintf("%.2f", v) },
		"f3":       func(v float64) string { return fmt.Sprintf("%.3f", v) },
		"g":        func(v float64) string { return fmt.Sprintf("%.4g", v) },
		"pct":      func(v float64) string { return percent(v) },
		"pct2":     func(v float64) string { return fmt.Sprintf("%.2f\u00a0%%", 100*v) },
		"engaged":  func(r *Roughing) template.HTML { return template.HTML(engageDrawing(r)) },
		"thousand": thousands,
		"inc":      func(i int) int { return i + 1 },
		"div":      func(a, b float64) float64 { return a / b },
		"mul":      func(a, b float64) float64 { return a * b },
		"held":     func() template.HTML { return template.HTML(heldDrawing(&p.Bar, &p.Model)) },
		"section":  func() template.HTML { return template.HTML(sectionDrawing(&p.Bar)) },
		"cutter":   func(c Cutter) template.HTML { return template.HTML(cutterDrawing(c)) },
		"hours":    func() template.HTML { return template.HTML(timeDrawing(p.Facts)) },
		"blocking": func() int { return count(p.Findings, finding.Blocking) },
		"warnings": func() int { return count(p.Findings, finding.Warning) },
	}).Parse(pageText)
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

func embedPNG(img *image.RGBA) (template.URL, error) {
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		return "", err
	}
	return template.URL("data:image/png;base64," + base64.StdEncoding.EncodeToString(b.Bytes())), nil
}

func count(fs []finding.Finding, s finding.Severity) int {
	n := 0
	for _, f := range fs {
		if f.Severity == s {
			n++
		}
	}
	return n
}

// Duration writes seconds as a person says them: '1 h 23 min', '4 min 10 s', '12 s'.
func Duration(sec float64) string {
	s := int(math.Round(sec))
	switch {
	case s >= 3600:
		m := (s + 30) / 60
		return fmt.Sprintf("%d h %02d min", m/60, m%60)
	case s >= 60:
		return fmt.Sprintf("%d min %02d s", s/60, s%60)
	}
	return fmt.Sprintf("%d s", s)
}

// percent never rounds up to 100: a part that is missing stays visible.
func percent(v float64) string {
	s := fmt.Sprintf("%.2f %%", math.Floor(v*1e4)/100)
	if v == 1 {
		s = "100 %"
	}
	return s
}

func thousands(n int) string {
	s := fmt.Sprint(n)
	for i := len(s) - 3; i > 0; i -= 3 {
		s = s[:i] + "\u202f" + s[i:]
	}
	return s
}
