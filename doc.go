// Package barwise turns one job file and a mesh into proved programs for every side of a bar that is
// turned by hand.
//
// It is the one place that knows the order of the stages and that maps a Job to each stage's Params.
// Plan makes programs and hands their text to Prove; Prove starts from text alone, so a program edited
// by hand is judged by the very same way.
package barwise

import (
	"runtime"
	"runtime/metrics"
	"sync"
	"time"

	"barwise/finding"
	"barwise/report"
)

// Progress is told how far a stage has come; it may be called from several goroutines.
type Progress func(stage string, done, total int)

// Options are what a caller may say about a run that is not in the job.
type Options struct {
	Say        Progress // nil: nobody is told
	NoPictures bool     // leave out the pictures, which take longer than the rest of a small job
}

// Text is one program as text.
type Text struct {
	Name string // file name without a folder
	Data []byte
}

// Outcome is what a run gives.
type Outcome struct {
	Facts  *report.Facts
	Page   *report.Page
	Survey *SurveyOutcome // what a plan found of the model before it; nil where text was judged
	Texts  []Text         // in the order they are run
}

// Blocked reports whether some finding stands against cutting.
func (o *Outcome) Blocked() bool {
	w, ok := finding.Worst(o.Facts.Findings)
	return ok && w == finding.Blocking
}

// clock measures the stages of a run and the memory it took.
type clock struct {
	mu     sync.Mutex
	stages map[string]float64
	peak   float64
	stop   chan struct{}
}

func newClock() *clock {
	c := &clock{stages: map[string]float64{}, stop: make(chan struct{})}
	go c.watch()
	return c
}

// time runs f as part of a stage.
func (c *clock) time(stage string, f func() error) error {
	began := time.Now()
	err := f()
	c.mu.Lock()
	c.stages[stage] += time.Since(began).Seconds()
	c.mu.Unlock()
	return err
}

// watch samples what the process holds of the system's memory ten times a second.
func (c *clock) watch() {
	t := time.NewTicker(100 * time.Millisecond)
	defer t.Stop()
	for {
		c.sample()
		select {
		case <-t.C:
		case <-c.stop:
			return
		}
	}
}

func (c *clock) sample() {
	s := []metrics.Sample{{Name: "/memory/classes/total:bytes"}, {Name: "/memory/classes/heap/released:bytes"}}
	metrics.Read(s)
	mb := float64(s[0].Value.Uint64()-s[1].Value.Uint64()) / (1 << 20)
	c.mu.Lock()
	c.peak = max(c.peak, mb)
	c.mu.Unlock()
}

// done ends the watch and gives the stages, rounded to 1 ms, and the peak.
func (c *clock) done() (stages map[string]float64, peakMB float64) {
	c.sample()
	close(c.stop)
	c.mu.Lock()
	defer c.mu.Unlock()
	out := make(map[string]float64, len(c.stages))
	for k, v := range c.stages {
		out[k] = float64(int(v*1000+.5)) / 1000
	}
	return out, float64(int(c.peak))
}

// cores is how many sides are planned at once.
func cores() int { return runtime.GOMAXPROCS(0) }
