package cli

import (
	"fmt"
	"io"
	"path/filepath"
	"strings"
	"unicode/utf8"

	"barwise/finding"
	"barwise/report"
)

// summary is the whole answer in a dozen lines: the verdict, what it rests on, where the pages are.
func summary(w io.Writer, f *report.Facts, dir string) error {
	wide := width(w)
	var b strings.Builder
	row := func(label, format string, a ...any) {
		fmt.Fprintf(&b, "  %-18s %s\n", label, fmt.Sprintf(format, a...))
	}
	fmt.Fprintf(&b, "%s: %s\n", f.Title, f.Verdict)
	row("deepest gouge", "%.2f µm, at most %.2f (%g allowed)", f.Gouge.Max, f.Gouge.Bound, f.Tolerance.Gouge)
	where := "nowhere"
	if f.Area.Unreachable > 0 {
		where = "nowhere within reach"
	}
	row("left on surface", "half under %.2f µm, 99 %% under %.2f, %s over %.2f", f.Leftover.P50, f.Leftover.P99, where, f.Leftover.Bound)
	row("in tolerance", "%.2f %% of %.0f mm² within %g µm", floor2(100*f.AreaInTolerance), f.Area.Judged, f.Tolerance.Surface)
	if f.Area.Unreachable > 0 {
		row("out of reach", "%.2f mm² from these sides with these cutters", f.Area.Unreachable)
	}
	row("at the machine", "%s: cutting %s, travel %s, handling %s", report.Duration(f.Time.Total),
		report.Duration(f.Time.Cutting), report.Duration(f.Time.Travel), report.Duration(f.Time.Handling))
	row("programs", "%d, %d moves", len(f.Programs), f.Moves)
	for _, s := range []finding.Severity{finding.Blocking, finding.Warning, finding.Note} {
		for _, x := range f.Findings {
			if x.Severity == s {
				wrap(&b, x.String(), wide)
			}
		}
	}
	if dir != "" {
		row("report", "%s", filepath.Join(dir, "report.html"))
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// floor2 cuts off after two digits, so that 99.999 never reads as 100.
func floor2(v float64) float64 { return float64(int(v*100)) / 100 }

// wrap writes a finding, broken at blanks to fit a terminal; 0 is no terminal, where a finding stays on
// one line.
func wrap(b *strings.Builder, text string, wide int) {
	const first, more = "  ", "      "
	line := first
	for i, word := range strings.Fields(text) {
		if i > 0 && wide > 0 && utf8.RuneCountInString(line)+1+utf8.RuneCountInString(word) > wide {
			b.WriteString(line + "\n")
			line = more + word
			continue
		}
		if i > 0 {
			line += " "
		}
		line += word
	}
	b.WriteString(line + "\n")
}
