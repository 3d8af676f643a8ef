package cli

import (
	"fmt"
	"io"
	"os"
	"sync"
	"time"

	"golang.org/x/term"
)

// talk owns the voice on stderr. On a terminal it keeps one line with the stage and the time left; in a
// pipe it says nothing of progress.
type talk struct {
	w    io.Writer
	live bool
	wide int

	mu    sync.Mutex
	shown time.Time
	stage string
	began time.Time
	dirty bool
}

func newTalk(w io.Writer) *talk {
	wide := width(w)
	return &talk{w: w, wide: wide, live: wide > 0 && os.Getenv("TERM") != "dumb"}
}

// width is the number of columns of a terminal; 0 for anything else.
func width(w io.Writer) int {
	f, ok := w.(*os.File)
	if !ok || !term.IsTerminal(int(f.Fd())) {
		return 0
	}
	if cols, _, err := term.GetSize(int(f.Fd())); err == nil && cols > 20 {
		return cols
	}
	return 80
}

// progress shows that done of total of a stage is behind us. It may be called from several goroutines
// and as often as one likes.
func (t *talk) progress(stage string, done, total int) {
	if !t.live {
		return
	}
	t.mu.Lock()
	defer t.mu.Unlock()
	now := time.Now()
	if stage != t.stage {
		t.stage, t.began, t.shown = stage, now, time.Time{}
	}
	if now.Sub(t.shown) < 80*time.Millisecond && done < total {
		return
	}
	t.shown, t.dirty = now, true
	line := stage
	if total > 0 {
		line += fmt.Sprintf("  %3.0f %%", 100*float64(done)/float64(total))
		if spent := now.Sub(t.began); done > 0 && done < total && spent > time.Second {
			left := time.Duration(float64(spent) * float64(total-done) / float64(done))
			line += fmt.Sprintf("  about %d s left", int(left.Seconds())+1)
		}
	}
	if r := []rune(line); len(r) >= t.wide {
		line = string(r[:t.wide-1])
	}
	fmt.Fprintf(t.w, "\r\x1b[K%s", line)
}

// clear takes the progress line away.
func (t *talk) clear() {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.dirty {
		fmt.Fprint(t.w, "\r\x1b[K")
		t.dirty = false
	}
}
