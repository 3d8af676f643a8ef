package barwise_test

import (
	"math"
	"strings"
	"testing"

	"barwise"
	"barwise/geom"
	"barwise/geom/mesh"
)

// TestQuarterTurn: the model turned by 90° in the bar, and the sides worked in the turned order, gives
// the same programs, each for the next side. lay.turn: positive turns what faces side 0 toward side 90.
func TestQuarterTurn(t *testing.T) {
	m := around(askewRadius, askewMiddle)
	a := plan(t, m, askewFoot(t))
	b := plan(t, m, replace(t, askewFoot(t), "along: +y", "along: +y, turn: 90 deg")+"sides: [90, 180, 270, 0]\n")
	if err := sameMoves(t, a, held{}, b, held{}, 90); err != nil {
		t.Error(err)
	}
	for i, p := range a.Facts.Programs {
		q := b.Facts.Programs[i]
		if math.Abs(p.CutLength-q.CutLength) > 0.2 || math.Abs(p.AirLength-q.AirLength) > 0.2 || math.Abs(p.Seconds-q.Seconds) > 0.1 {
			t.Errorf("%s cuts %g mm and %g in air in %g s; %s %g and %g in %g s", p.File, p.CutLength, p.AirLength, p.Seconds, q.File, q.CutLength, q.AirLength, q.Seconds)
		}
	}
	sameResult(t, a, b)
}

// TestMirror: the mirrored model leaves the mirror image. Cutters turn one way and roughing keeps to
// climb, so the programs of roughing are not mirrored; rasters are, 90 for 270. They run along the bar: the
// way along it at one x, and how high the tip is on it, tell them; what leads from one line to the next, or onto the
// first, does not. Which way of passes is the fastest may be a tie, so it is said.
func TestMirror(t *testing.T) {
	m := around(askewRadius, askewMiddle)
	mirrored := &mesh.Mesh{}
	for _, v := range m.Vertices {
		mirrored.Vertices = append(mirrored.Vertices, geom.Vec3{X: -v.X, Y: v.Y, Z: v.Z})
	}
	for _, c := range m.Triangles {
		mirrored.Triangles = append(mirrored.Triangles, [3]int32{c[0], c[2], c[1]})
	}
	raster := replace(t, askewFoot(t), "feed: 1200", "feed: 1200, passes: raster")
	a, b := plan(t, m, raster), plan(t, mirrored, raster)
	sameResult(t, a, b)
	type along struct{ way, height float64 }
	finish := func(o *barwise.Outcome) map[float64]along {
		out := map[float64]along{}
		for i, p := range o.Facts.Programs {
			if !strings.Contains(p.File, "finish") {
				continue
			}
			var s along
			for _, m := range steps(t, o.Texts[i].Data) {
				if d := math.Abs(m.to.Y - m.from.Y); m.feed && m.from.X == m.to.X {
					s.way, s.height = s.way+d, s.height+d*(m.from.Z+m.to.Z)/2
				}
			}
			s.height /= s.way
			out[p.SideDeg] = s
		}
		return out
	}
	fa, fb := finish(a), finish(b)
	if len(fa) != 4 || len(fb) != 4 {
		t.Fatalf("finished sides: %v and %v", fa, fb)
	}
	for deg, want := range fa {
		got := fb[math.Mod(360-deg, 360)]
		if math.Abs(got.way-want.way) > 0.01*want.way || math.Abs(got.height-want.height) > 0.1 {
			t.Errorf("finishing side %g runs %g mm along the bar, %g mm high; its mirror image %g and %g", deg, want.way, want.height, got.way, got.height)
		}
	}
	if math.Abs(fa[90].height-fa[270].height) < 0.3 {
		t.Errorf("on sides 90 and 270 the tip is %g and %g mm high: too much alike to tell them apart", fa[90].height, fa[270].height)
	}
}

// askewFoot is the askew model's job on a foot of its own. A spigot that is added has facets that do not
// turn with the model, and places on its diagonals, which are worth the same from two sides, would fall to
// either by those.
func askewFoot(t testing.TB) string {
	return replace(t, askewJob, "along: +y", "along: +y, spigot: none")
}

// sameResult wants two jobs to leave the same, up to what a grid that is not symmetric about the axis
// makes of it.
func sameResult(t *testing.T, a, b *barwise.Outcome) {
	t.Helper()
	fa, fb := a.Facts, b.Facts
	if fa.Verdict != fb.Verdict {
		t.Errorf("verdicts %q and %q", fa.Verdict, fb.Verdict)
	}
	if math.Abs(fa.Bar.Left-fb.Bar.Left) > 0.002*fa.Bar.Volume {
		t.Errorf("%g and %g mm³ are left", fa.Bar.Left, fb.Bar.Left)
	}
	if math.Abs(fa.Leftover.P50-fb.Leftover.P50) > 1 || math.Abs(fa.Leftover.P99-fb.Leftover.P99) > 5 {
		t.Errorf("left-over %+v and %+v", fa.Leftover, fb.Leftover)
	}
	if math.Abs(fa.Area.Judged-fb.Area.Judged) > 0.01*fa.Area.Judged {
		t.Errorf("%g and %g mm² are judged", fa.Area.Judged, fb.Area.Judged)
	}
}

// TestBars takes the bell out of bars of every shape, each held in its own way, to a verdict.
func TestBars(t *testing.T) {
	m := around(bellRadius, straight)
	for _, c := range []struct {
		name, bar string
		sides     int
		volume    float64 // closed forms: across flats a, hexagon a²·√3/2
	}{
		{"rectangular", "bar: {shape: rectangular, width: 11, height: 9, length: 24, grip: 5}", 4, 11 * 9 * 24},
		{"hexagonal", "bar: {shape: hexagonal, size: 10, length: 24, grip: 5}", 6, 100 * math.Sqrt(3) / 2 * 24},
		{"round, square block", "bar: {shape: round, size: 10, length: 24, grip: 5}", 4, math.Pi * 25 * 24},
		{"round, hexagonal block", "bar: {shape: round, size: 10, length: 24, grip: 5, block: hexagonal}", 6, math.Pi * 25 * 24},
	} {
		// the wedge gives every side its share; by merit a side may have none that is worth its seams
		o := plan(t, m, replace(t, askewJob, "bar: {size: 10, length: 24, grip: 5}", c.bar, "end: 2", "end: 2, spigot: {diameter: 3}")+"shares: wedge\n")
		f := o.Facts
		if o.Blocked() || f.AreaInTolerance < 0.999 || f.Gouge.Bound > 30 {
			t.Errorf("%s: %s, %g in tolerance, gouge at most %g µm: %v", c.name, f.Verdict, f.AreaInTolerance, f.Gouge.Bound, f.Findings)
		}
		if len(f.Programs) != 2*c.sides || len(f.Bar.Sides) != c.sides {
			t.Errorf("%s: %d programs, %v sides; want roughing and finishing on %d", c.name, len(f.Programs), f.Bar.Sides, c.sides)
		}
		if math.Abs(f.Bar.Volume-c.volume) > 0.1 || math.Abs(f.Bar.Removed+f.Bar.Left-c.volume) > 0.2 {
			t.Errorf("%s: bar of %g mm³, %g removed, %g left; want %g", c.name, f.Bar.Volume, f.Bar.Removed, f.Bar.Left, c.volume)
		}
	}
}
