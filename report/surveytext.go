package report

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode/utf8"

	"barwise/finding"
)

// SurveyText says a survey in a few lines for a terminal of width columns; at width 0 every line stays whole.
func SurveyText(s *Survey, width int) string {
	t := &lines{wide: width}
	fmt.Fprintf(&t.Builder, "%s: %s\n", s.Title, s.Verdict.Words())
	for i, f := range s.First {
		if i < 3 {
			t.row([]string{"first", "", ""}[i], "%s", f)
		}
	}
	t.model(s)
	t.surface(s)
	if r := s.Reach; r != nil {
		var parts []string
		for i, c := range r.Classes {
			if i > 0 && c.Share < 5e-5 {
				continue
			}
			parts = append(parts, fmt.Sprintf("%s %s", c.Name, share(c.Share)))
		}
		stock := ""
		if r.LeftMM3 > 0 {
			stock = fmt.Sprintf("; %s mm³ of stock stay, at most %s mm high", figure(r.LeftMM3), figure(r.Deepest))
		}
		t.row("reach", "%s%s", strings.Join(parts, ", "), stock)
		if r.StickOut > 0 {
			t.row("stick-out", "%s mm would reach all that a tip fits into", figure(r.StickOut))
		}
	}
	t.poses(s)
	for _, b := range s.Bars {
		if b.Chosen {
			t.row("bar", "%s, %.4g mm long, %s mm clear at least", b.Title, b.Length, figure(b.Clearance))
		}
	}
	for i, c := range s.Changes {
		if i == 5 {
			t.row("", "… %d more on the page", len(s.Changes)-i)
			break
		}
		text := c.What + ": " + c.Gain
		if c.Now != "" || c.Then != "" {
			text += fmt.Sprintf(" (%s → %s)", c.Now, c.Then)
		}
		t.row([]string{"change", ""}[min(i, 1)], "%s", text)
	}
	t.findings(s.Findings)
	return t.String()
}

// mostNotes is how many notes a terminal is told; the page has all of them.
const mostNotes = 3

func (t *lines) findings(fs []finding.Finding) {
	notes := 0
	for _, sev := range []finding.Severity{finding.Blocking, finding.Warning, finding.Note} {
		for _, f := range fs {
			if f.Severity != sev {
				continue
			}
			if sev == finding.Note {
				if notes++; notes > mostNotes {
					continue
				}
			}
			t.wrap("  ", "      ", f.String())
		}
	}
	if more := notes - mostNotes; more > 0 {
		t.row("", "… %d more note%s on the page", more, plural(more))
	}
}

// lines collects rows of a label and a text.
type lines struct {
	strings.Builder
	wide int
}

func (t *lines) row(label, format string, a ...any) {
	t.wrap(fmt.Sprintf("  %-12s ", label), strings.Repeat(" ", 15), fmt.Sprintf(format, a...))
}

// wrap breaks a text at blanks to fit the width.
func (t *lines) wrap(first, more, text string) {
	line, empty := first, true
	for _, word := range strings.Fields(text) {
		if !empty && t.wide > 0 && utf8.RuneCountInString(line)+1+utf8.RuneCountInString(word) > t.wide {
			t.WriteString(line + "\n")
			line, empty = more, true
		}
		if !empty {
			line += " "
		}
		line, empty = line+word, false
	}
	t.WriteString(line + "\n")
}

func (t *lines) model(s *Survey) {
	m := &s.Model
	closed := "closed"
	if !m.Closed {
		closed = "not closed"
	}
	t.row("model", "%s, %s, %s triangles, %s, %d shell%s", m.File, m.Format, thousands(m.Triangles), closed, m.Shells, plural(m.Shells))
	t.row("size", "%.4g × %.4g × %.4g mm as laid, scale %.4g (unit %s, %s)", m.Size[0], m.Size[1], m.Size[2], m.Scale, m.Unit, m.UnitFrom)
}

func (t *lines) surface(s *Survey) {
	if n := len(s.Holes); n > 0 {
		wide, open := s.Holes[0], 0
		for _, h := range s.Holes {
			if h.Across > wide.Across {
				wide = h
			}
			if !h.Filled {
				open++
			}
		}
		t.row("holes", "%d, of which %d open; the widest is %s mm across at %s mm", n, open, figure(wide.Across), place(wide.At))
	}
	if c := s.Crossings; c != nil && c.Pairs > 0 {
		t.row("crossings", "%s pair%s of triangles pass through one another", thousands(c.Pairs), plural(c.Pairs))
	}
	for i, m := range s.Mends {
		t.row([]string{"mended", ""}[min(i, 1)], "%s: %s", m.Kind, m.Text)
	}
	if f := s.Facets; f != nil && !slices.Contains(s.First[:min(3, len(s.First))], f.Verdict) {
		t.row("facets", "%s", f.Verdict)
	}
	if h := s.Thickness; h != nil {
		more := ""
		if h.AtLeast {
			more = " or more"
		}
		t.row("thinnest", "%s mm%s; %s of the surface under %s mm", figure(h.Least), more, share(h.Share), figure(h.Limit))
	}
}

func (t *lines) poses(s *Survey) {
	p := s.Poses
	if p == nil {
		return
	}
	say := func(label string, f *PoseFacts) {
		t.row(label, "%s: %s; from %s; %s mm² not reached (%s), %s", f.Name, f.Words, sidesWords(f.Sides, f.End), figure(f.NotTouch), share(f.Share), About(f.Seconds))
	}
	if p.Given != nil {
		say("pose", p.Given)
	}
	for i := range p.Best {
		if i == 3 {
			break
		}
		label := ""
		if i == 0 {
			label = "best"
		}
		say(label, &p.Best[i])
	}
}

// About is an estimate of a time, for comparing: to 5 min, or to a tenth of it.
func About(sec float64) string {
	step := 300.0
	for step < sec/20 {
		step *= 2
	}
	return "about " + strings.TrimSuffix(Duration(max(step, math.Round(sec/step)*step)), " 00 s")
}

func plural(n int) string {
	if n == 1 {
		return ""
	}
	return "s"
}
