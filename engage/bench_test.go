package engage

import (
	"bytes"
	"context"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"barwise/gcode"
	"barwise/shop/bar"
	"barwise/shop/cutter"
)

// BenchmarkPrograms replays program texts, from their names' order, by the flat-3 for those of roughing and
// the ball-1 for the rest, in a square bar of 40 × 40 × 95:
//
//	BARWISE_PROGRAMS=out/dragon/programs go test -run '^$' -bench Programs -benchtime 1x ./engage
func BenchmarkPrograms(b *testing.B) {
	dir := os.Getenv("BARWISE_PROGRAMS")
	if dir == "" {
		b.Skip("BARWISE_PROGRAMS names no folder of program texts")
	}
	files, err := filepath.Glob(filepath.Join(dir, "*.nc"))
	if err != nil || len(files) == 0 {
		b.Fatalf("no programs in %s: %v", dir, err)
	}
	var progs []*gcode.Text
	for _, f := range files {
		data, err := os.ReadFile(f)
		if err != nil {
			b.Fatal(err)
		}
		p, err := gcode.Read(filepath.Base(f), bytes.NewReader(data), gcode.ReadParams{})
		if err != nil {
			b.Fatal(err)
		}
		if strings.Contains(p.Cutter, "flat-3") {
			progs = append(progs, p)
		}
	}
	ctx := context.Background()
	sides := []float64{0, 90, 180, 270}
	for b.Loop() {
		k := NewBar(bar.Bar{Shape: bar.Square, Width: 40, Height: 40, Length: 95, Grip: 22}, sides, Params{Cap: 75 * math.Pi / 180})
		for _, p := range progs {
			side := slices.Index(sides, p.SideDeg)
			res, err := k.Replay(ctx, side, p.Program, cutter.Cutter{Profile: cutter.FlatEnd(1.5)}, Params{EntryFeed: least(p)})
			if err != nil {
				b.Fatal(err)
			}
			b.Logf("%s: %d moves, cut %.0f mm, air %.3f of the way, entries %.0f mm; p50 %.1f° p99 %.1f° max %.1f°, %.3f over in %d spots; mean pass %.1f mm of %d, %d turns, longest air %.1f",
				p.Name, len(p.Moves), res.CutLength, res.AirShare(), res.EntryLength, res.P50/deg, res.P99/deg, res.Max/deg, res.ShareOver, len(res.Spots), res.MeanPass, res.Passes, res.Turns, res.LongestAir)
		}
	}
}

// least is the lowest feed of a program.
func least(p *gcode.Text) float64 {
	f := math.Inf(1)
	for _, m := range p.Moves {
		if m.Feed > 0 {
			f = min(f, m.Feed)
		}
	}
	return f
}
