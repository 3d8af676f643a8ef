package barwise_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"barwise"
	"barwise/finding"
	"barwise/job"
)

// TestEditedPrograms edits programs that are proven, one number or line at a time, as a slip of the
// hand would: the proof finds it, says where, and holds the verdict back.
func TestEditedPrograms(t *testing.T) {
	j := load(t, around(bellRadius, straight), askewJob)
	o, err := barwise.Plan(context.Background(), j, barwise.Options{NoPictures: true})
	if err != nil {
		t.Fatal(err)
	}
	if o.Blocked() {
		t.Fatalf("%s before any edit: %v", o.Facts.Verdict, o.Facts.Findings)
	}
	if same := judge(t, j, o.Texts); same.Facts.Verdict != o.Facts.Verdict || same.Facts.Gouge != o.Facts.Gouge || same.Facts.Leftover != o.Facts.Leftover {
		t.Errorf("not edited: %s %+v %+v; planned as %s %+v %+v", same.Facts.Verdict, same.Facts.Gouge, same.Facts.Leftover,
			o.Facts.Verdict, o.Facts.Gouge, o.Facts.Leftover)
	}
	const rough, finish = 0, 4
	for _, c := range []struct {
		name    string
		program int
		edit    func(lines []string) (at int) // changes lines, returns the line number, from 1, or 0
		code    string
		gouge   float64 // µm at least
	}{
		{"a Z half a millimetre too low", finish, func(l []string) int { return onTop(l, -0.5) }, "gouge", 450},
		{"a Z of 0.3 mm too high over a stretch: a missing pass", finish, func(l []string) int {
			at := lower(l, 0)
			for i := at - 1 - len(l)/8; i < at+len(l)/8; i++ {
				lift(l, i, 0.3)
			}
			return 0
		}, "leftover", 0},
		{"a rapid through the bar", rough, func(l []string) int { return before(l, "M5", "G0 X12 Y16\nZ0\nX-12") + 2 }, "rapid-in-stock", 0},
		{"a rapid in place of a feed", rough, func(l []string) int { return firstFeed(l, "G0") }, "rapid-in-stock", 0},
		{"the spindle never started", rough, func(l []string) int {
			for i := range l {
				l[i] = strings.TrimSuffix(l[i], " M3")
			}
			return 0
		}, "spindle-off", 0},
		{"the first rapid as low as the bar's middle", rough, func(l []string) int {
			i := slices.IndexFunc(l, func(s string) bool { return strings.HasPrefix(s, "G0 Z") })
			l[i] = "G0 Z0"
			return 0
		}, "start-low", 0},
		{"the spindle stops half way", finish, func(l []string) int { return halfWay(l, "M5") }, "spindle-off", 0},
		{"the spindle turns backward half way", finish, func(l []string) int { return halfWay(l, "M4") }, "spindle-reverse", 0},
		{"too fast a spindle half way", finish, func(l []string) int { return halfWay(l, "S90000") }, "spindle-range", 0},
		{"into the floor of the vise", rough, func(l []string) int { return before(l, "M5", "G0 X12 Y23\nG1 Z-5.5 F600") + 1 }, "vise", 0},
	} {
		texts := append([]barwise.Text{}, o.Texts...)
		lines := strings.Split(string(texts[c.program].Data), "\n")
		at := c.edit(lines)
		texts[c.program].Data = []byte(strings.Join(lines, "\n"))
		got := judge(t, j, texts)
		if !got.Blocked() || got.Facts.Verdict != "not proven" {
			t.Errorf("%s: %s, %v", c.name, got.Facts.Verdict, got.Facts.Findings)
		}
		f := find(got.Facts.Findings, c.code)
		if f == nil {
			t.Errorf("%s: no finding %s among %v", c.name, c.code, got.Facts.Findings)
			continue
		}
		if at > 0 && !strings.Contains(f.Where, fmt.Sprintf("%s, line %d,", texts[c.program].Name, at)) {
			t.Errorf("%s: found at %q, edited at line %d of %s", c.name, f.Where, at, texts[c.program].Name)
		}
		if got.Facts.Gouge.Max < c.gouge {
			t.Errorf("%s: gouge of %g µm, want %g", c.name, got.Facts.Gouge.Max, c.gouge)
		}
	}
	texts := append([]barwise.Text{}, o.Texts...)
	texts[finish].Data = regexp.MustCompile(`F[0-9.]+`).ReplaceAll(texts[finish].Data, []byte("F30000"))
	fast := judge(t, j, texts)
	if !slices.ContainsFunc(fast.Facts.Findings, func(f finding.Finding) bool { return f.Code == "chip-load" && f.Where == texts[finish].Name }) {
		t.Errorf("a feed of 30 m/min: %v", fast.Facts.Findings)
	}
	texts[finish].Data = bytes.Replace(texts[finish].Data, []byte("(tool 2)"), []byte("(tool 3)"), 1)
	var bad *finding.InputError
	if _, err := barwise.Prove(context.Background(), j, texts, barwise.Options{NoPictures: true}); !errors.As(err, &bad) || bad.Code != "program-tool" {
		t.Errorf("another cutter's number called: %v", err)
	}
	texts = append([]barwise.Text{}, o.Texts...)
	texts[rough].Data = bytes.Replace(texts[rough].Data, []byte("(zero on axis)"), []byte("(zero 3 mm above axis)"), 1)
	if _, err := barwise.Prove(context.Background(), j, texts, barwise.Options{NoPictures: true}); !errors.As(err, &bad) || bad.Code != "program-frame" {
		t.Errorf("another zero than the job's: %v", err)
	}
	if got := judge(t, j, append(append([]barwise.Text{}, o.Texts[:finish]...), o.Texts[finish+1:]...)); find(got.Facts.Findings, "leftover") == nil || !got.Blocked() {
		t.Errorf("one side not finished: %s, %v", got.Facts.Verdict, got.Facts.Findings)
	}
}

func judge(t *testing.T, j *job.Job, texts []barwise.Text) *barwise.Outcome {
	t.Helper()
	o, err := barwise.Prove(context.Background(), j, texts, barwise.Options{NoPictures: true})
	if err != nil {
		t.Fatal(err)
	}
	return o
}

func find(fs []finding.Finding, code string) *finding.Finding {
	for i := range fs {
		if fs[i].Code == code && fs[i].Severity == finding.Blocking {
			return &fs[i]
		}
	}
	return nil
}

// lower moves the Z of the line in the middle of a program, and returns its number.
func lower(lines []string, by float64) int {
	for i := len(lines) / 2; i < len(lines); i++ {
		if lift(lines, i, by) {
			return i + 1
		}
	}
	return 0
}

// onTop moves the Z of the line that ends nearest to x 0, y 17, and returns its number. There, a millimetre
// from the dome's foot, the bell leans by atan(3.2/36/√(1 − 1/36)), 5°, so that a tip that touches and is
// lowered goes in by 0.996 of that, but for the share of a cusp by which it stood off.
func onTop(lines []string, by float64) int {
	best, least, at, on := -1, math.Inf(1), map[byte]float64{}, false
	for i, l := range lines {
		words := strings.Fields(l)
		for _, w := range words {
			if v, err := strconv.ParseFloat(w[1:], 64); err == nil {
				at[w[0]] = v
				if w[0] == 'G' && v < 4 {
					on = v == 1
				}
			}
		}
		x, y := at['X'], at['Y']-17
		if d := math.Hypot(x, y); on && len(words) > 1 && d < least && lift(slices.Clone(lines), i, 0) {
			best, least = i, d
		}
	}
	if best < 0 || !lift(lines, best, by) {
		return 0
	}
	return best + 1
}

// lift adds to the Z word of a line that has one.
func lift(lines []string, i int, by float64) bool {
	k := strings.IndexByte(lines[i], 'Z')
	if k < 0 || strings.Contains(lines[i], "G") {
		return false
	}
	var z float64
	end := strings.IndexByte(lines[i][k:]+" ", ' ') + k
	if _, err := fmt.Sscanf(lines[i][k+1:end], "%g", &z); err != nil {
		return false
	}
	lines[i] = fmt.Sprintf("%sZ%.4f%s", lines[i][:k], z+by, lines[i][end:])
	return true
}

// before puts lines before the one that reads mark, and returns the number of the first of them.
func before(lines []string, mark, text string) int {
	for i, l := range lines {
		if l == mark {
			lines[i] = text + "\n" + l
			return i + 1
		}
	}
	return 0
}

// halfWay puts a line among feed moves in the middle of a program, and returns the number of the move
// behind it: a rapid is told by its G0 at most three lines above.
func halfWay(lines []string, text string) int {
	for i := len(lines) / 2; i < len(lines); i++ {
		if !strings.Contains(strings.Join(lines[i-4:i+1], ""), "G") {
			lines[i] = text + "\n" + lines[i]
			return i + 2
		}
	}
	return 0
}

// firstFeed gives the second feed move of a program another word: the first one still enters beside
// the bar. F stays, for it is allowed in any block.
func firstFeed(lines []string, g string) int {
	for i, l := range lines {
		if strings.HasPrefix(l, "G1 ") {
			lines[i+1] = g + " " + lines[i+1]
			return i + 2
		}
	}
	return 0
}
