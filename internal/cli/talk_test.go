package cli

import (
	"bytes"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"pgregory.net/rapid"
)

// TestTalk: a pipe hears nothing of progress; a terminal gets one line, never longer than it is wide,
// that is taken away again.
func TestTalk(t *testing.T) {
	var b bytes.Buffer
	quiet := newTalk(&b)
	quiet.progress("roughing", 1, 4)
	quiet.clear()
	if b.Len() > 0 {
		t.Errorf("into a pipe: %q", &b)
	}
	live := &talk{w: &b, live: true, wide: 40}
	live.progress("roughing with a cutter of a very long name indeed", 1, 4)
	live.began = time.Now().Add(-10 * time.Second)
	live.shown = time.Time{}
	live.stage = "proving"
	live.progress("proving", 1, 4)
	live.clear()
	lines := strings.Split(b.String(), "\r\x1b[K")
	if len(lines) != 4 || lines[0] != "" || lines[3] != "" {
		t.Fatalf("on a terminal: %q", lines)
	}
	for _, l := range lines {
		if utf8.RuneCountInString(l) >= 40 {
			t.Errorf("%q is wider than 39", l)
		}
	}
	// a quarter took 10 s: 30 s are left
	if !strings.HasPrefix(lines[2], "proving   25 %  about 3") {
		t.Errorf("%q names no part or no time left", lines[2])
	}
	b.Reset()
	live.clear()
	if b.Len() > 0 {
		t.Errorf("cleared twice: %q", &b)
	}
}

// TestWrap: breaking at blanks loses nothing, and fits.
func TestWrap(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := strings.Join(rapid.SliceOfN(rapid.StringMatching(`[a-zµ°0-9,;:.]{1,12}`), 1, 40).Draw(t, "words"), " ")
		wide := rapid.SampledFrom([]int{0, 30, 80}).Draw(t, "wide")
		var b strings.Builder
		wrap(&b, text, wide)
		if got := strings.Join(strings.Fields(b.String()), " "); got != text {
			t.Fatalf("%q became %q", text, got)
		}
		lines := strings.Split(strings.TrimSuffix(b.String(), "\n"), "\n")
		for _, l := range lines {
			if wide > 0 && utf8.RuneCountInString(l) > wide {
				t.Fatalf("%q is wider than %d", l, wide)
			}
		}
		if wide == 0 && len(lines) != 1 {
			t.Fatalf("%d lines without a terminal", len(lines))
		}
	})
}
