package barwise_test

import (
	"context"
	"errors"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	"barwise"
)

// TestCancelEverywhere cancels in every stage a run speaks of: it ends within a second, with the
// context's error, and no goroutine goes on.
func TestCancelEverywhere(t *testing.T) {
	j := load(t, around(bellRadius, straight), askewJob+"sides: [0, 180]\n")
	var mu sync.Mutex
	var stages []string
	seen := map[string]bool{}
	o := barwise.Options{NoPictures: true, Say: func(stage string, _, _ int) {
		mu.Lock()
		defer mu.Unlock()
		if !seen[stage] {
			seen[stage] = true
			stages = append(stages, stage)
		}
	}}
	if _, err := barwise.Plan(context.Background(), j, o); err != nil {
		t.Fatal(err)
	}
	if len(stages) < 6 {
		t.Fatalf("stages: %v", stages)
	}
	for _, stage := range stages {
		before := runtime.NumGoroutine()
		ctx, cancel := context.WithCancel(context.Background())
		var asked time.Time
		var once sync.Once
		_, err := barwise.Plan(ctx, j, barwise.Options{NoPictures: stage != "drawing", Say: func(s string, _, _ int) {
			if s == stage {
				once.Do(func() { asked = time.Now(); cancel() })
			}
		}})
		if took := time.Since(asked); !errors.Is(err, context.Canceled) || took > time.Second {
			t.Errorf("%s: %v after %v", stage, err, took)
		}
		cancel()
		for range 50 {
			if runtime.NumGoroutine() <= before {
				break
			}
			time.Sleep(10 * time.Millisecond)
		}
		if n := runtime.NumGoroutine(); n > before {
			t.Errorf("%s: %d goroutines, %d before", stage, n, before)
		}
	}
}

// TestCancelledWrite: an outcome that is not wanted any more is not written.
func TestCancelledWrite(t *testing.T) {
	j := load(t, around(bellRadius, straight), askewJob+"sides: [0, 180]\n")
	o, err := barwise.Plan(context.Background(), j, barwise.Options{NoPictures: true})
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if err := o.Write(ctx, filepath.Join(dir, "out"), false); !errors.Is(err, context.Canceled) {
		t.Errorf("error %v", err)
	}
	if left, err := os.ReadDir(dir); err != nil || len(left) > 0 {
		t.Errorf("%v left behind, %v", left, err)
	}
}

// TestSmallBallOfTheTrade: a ball of 1/32 in at 10 000 a minute and 40 in/min, two edges, takes
// 0.002 in a tooth (common practice, no source); a stepover of 0.002 in leaves cusps of 0.81 µm
// (computed: R − √(R² − s²/4), R = 1/64 in). The written programs say F and S.
func TestSmallBallOfTheTrade(t *testing.T) {
	text := `units: in
model: model.stl
model_units: mm
material: tooling-board
machine: {like: small-mill, arcs: false}
bar: {size: 0.4, length: 1, grip: 0.2}
lay: {along: +y}
rough: {cutter: flat-3}
finish: {cutter: ball-1-32in, spindle: 10000, feed: 40, STEP}
tolerance: 60 um
`
	m := around(bellRadius, straight)
	asked := load(t, m, replace(t, text, "STEP", "stepover: 0.002")).Finish[0]
	if math.Abs(asked.Cusp*1000-0.81) > 0.005 {
		t.Errorf("a stepover of 0.002 in leaves cusps of %g µm, want 0.81", asked.Cusp*1000)
	}
	o := plan(t, m, replace(t, text, "STEP", "cusp: 30 um"))
	n := 0
	for i, p := range o.Facts.Programs {
		if p.Cutter != "ball-1-32in" {
			continue
		}
		n++
		if math.Abs(p.ChipLoad-0.002*25.4) > 1e-5 || p.FeedAsked != 40*25.4 || p.SpindleRPM != 10000 {
			t.Errorf("%s: %g mm a tooth, F%g, S%g; want 0.0508, 1016, 10000", p.File, p.ChipLoad, p.FeedAsked, p.SpindleRPM)
		}
		if s := string(o.Texts[i].Data); !strings.Contains(s, "\nS10000 M3\n") || !strings.Contains(s, " F1016\n") || !strings.Contains(s, "\nG17 G21 ") {
			t.Errorf("%s has no S10000, F1016 or G21", p.File)
		}
	}
	if n != 4 {
		t.Errorf("%d programs with the ball, want 4", n)
	}
}

// TestZeroOfTheTrade: a square bar is worked about its axis, with Z zero half its size above the floor
// of the vise it lies on (common practice, no source). The widest part of the bell, 3.2 mm from the axis
// of a 10 mm bar, so lies 8.2 mm above the floor on every side.
func TestZeroOfTheTrade(t *testing.T) {
	m := around(bellRadius, straight)
	for _, c := range []struct {
		hold  string
		above float64 // Z0 above the floor
	}{{"", 5}, {"hold: {zero: axis}\n", 5}, {"hold: {zero: top}\n", 10}} {
		j := load(t, m, askewJob+c.hold)
		o, err := barwise.Plan(context.Background(), j, barwise.Options{NoPictures: true})
		if err != nil {
			t.Fatal(err)
		}
		for i, p := range o.Facts.Programs {
			if p.Cutter != "ball-3" {
				continue
			}
			if f := j.Floor(p.SideDeg); math.Abs(f+5) > 1e-9 {
				t.Errorf("%sside %g: the floor is at %g from the axis, want -5", c.hold, p.SideDeg, f)
			}
			top := math.Inf(-1)
			for _, s := range steps(t, o.Texts[i].Data) {
				// the widest place is 4 mm above the bell's foot, at y 16
				if s.feed && math.Abs(s.to.X) < 0.4 && math.Abs(s.to.Y-16) < 1 {
					top = max(top, s.to.Z)
				}
			}
			if math.Abs(top+c.above-8.2) > 0.06 {
				t.Errorf("%s%s: the tip runs at Z%.3f over the widest place, want %.3f", c.hold, p.File, top, 8.2-c.above)
			}
		}
	}
}

// TestOneLineModel: another model in the same job makes another piece; everything else follows.
func TestOneLineModel(t *testing.T) {
	small := around(func(y, deg float64) float64 { return 0.9 * bellRadius(y, deg) }, straight)
	a, b := plan(t, around(bellRadius, straight), askewJob), plan(t, small, askewJob)
	if b.Blocked() || b.Facts.Bar.Left >= a.Facts.Bar.Left {
		t.Errorf("%s, %g mm³ left of the smaller piece and %g of the larger", b.Facts.Verdict, b.Facts.Bar.Left, a.Facts.Bar.Left)
	}
}
