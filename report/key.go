package report

import (
	"fmt"
	"image/color"
	"math"
)

// Scale says what a map's colours mean. It is either measured, a quantity that runs from Lo to Hi, or a
// list of swatches with a name each.
type Scale struct {
	Title    string   // what is shown, with its unit
	Swatches []Swatch // of a measured scale: what is beyond Hi and what has no value, if named
	Lo, Hi   float64  // the ends of a measured scale; equal where the scale is swatches alone
	pick     func(v float64) int
	shown    []bool // of swatches: worth showing through what hides them
	names    bool   // swatches without an order: the key names those that are there
}

// Swatch is a colour with its meaning.
type Swatch struct {
	Name   string
	Colour color.RGBA
}

// tones is the number of colours of a measured scale; swatches follow them in the palette.
const tones = 64

// Measured is a scale of evenly rising lightness from lo to hi. What is above hi takes the colour Beyond
// under the name above; with no such name it takes the colour of hi. NaN is 'not looked at'.
func Measured(title string, lo, hi float64, above string) Scale {
	s := Scale{Title: title, Lo: lo, Hi: hi}
	over := -1
	if above != "" {
		over = len(s.Swatches)
		s.Swatches = append(s.Swatches, Swatch{above, Beyond})
	}
	none := len(s.Swatches)
	s.Swatches = append(s.Swatches, Swatch{NotJudged, notJudged})
	s.shown = make([]bool, len(s.Swatches))
	s.pick = func(v float64) int {
		switch {
		case math.IsNaN(v):
			return tones + none
		case v > hi && over >= 0:
			return tones + over
		}
		return int(min(1, max(0, (v-lo)/(hi-lo)))*(tones-1) + 0.5)
	}
	return s
}

// NotJudged is the name of surface that has no value.
const NotJudged = "not looked at"

var notJudged = oklab{0.80, 0, 0.004}.rgb()

// Against is a scale in steps of a limit: pale and cool where the value is well on the right side of it,
// dark and warm where it is far on the wrong one, so that it reads without colour too. With least true
// the limit is the least that is allowed, otherwise the most. One step is a factor of by, such as 2. NaN
// is 'not looked at'.
func Against(title string, limit float64, least bool, unit string, by float64) Scale {
	s := Scale{Title: title}
	f := func(k float64) string { return figure(limit * math.Pow(by, k)) }
	u := " " + unit
	if unit == "°" {
		u = unit
	}
	if least {
		s.Swatches = []Swatch{
			{"over " + f(2) + u, steps[0]}, {f(1) + " to " + f(2) + u, steps[1]}, {f(0) + ", the limit, to " + f(1) + u, steps[2]},
			{f(-1) + " to " + f(0) + u, steps[3]}, {f(-2) + " to " + f(-1) + u, steps[4]}, {"under " + f(-2) + u, steps[5]},
		}
	} else {
		s.Swatches = []Swatch{
			{"under " + f(-2) + u, steps[0]}, {f(-2) + " to " + f(-1) + u, steps[1]}, {f(-1) + " to " + f(0) + u + ", the limit", steps[2]},
			{f(0) + " to " + f(1) + u, steps[3]}, {f(1) + " to " + f(2) + u, steps[4]}, {"over " + f(2) + u, steps[5]},
		}
	}
	s.Swatches = append(s.Swatches, Swatch{NotJudged, notJudged})
	s.shown = []bool{false, false, false, true, true, true, false}
	s.pick = func(v float64) int {
		if math.IsNaN(v) {
			return tones + 6
		}
		r := v / limit
		if least {
			r = limit / v
			if v <= 0 {
				r = math.Inf(1)
			}
		}
		for k, edge := range [...]float64{1 / (by * by), 1 / by, 1, by, by * by} {
			// what is just at the limit is allowed
			if r <= edge*(1+1e-9) {
				return tones + k
			}
		}
		return tones + 5
	}
	return s
}

// steps go from well inside a limit to far outside it: lightness falls all the way, and hue goes from
// blue to red across the limit.
var steps = [6]color.RGBA{
	oklab{0.945, -0.012, -0.012}.rgb(), oklab{0.86, -0.025, -0.045}.rgb(), oklab{0.77, -0.035, -0.085}.rgb(),
	oklab{0.67, 0.085, 0.115}.rgb(), oklab{0.53, 0.145, 0.085}.rgb(), oklab{0.36, 0.115, 0.045}.rgb(),
}

// Classes is a scale of names. A value is the number of its swatch; anything else is 'not looked at'.
// What is marked shown is drawn as dots over the surface that hides it.
func Classes(title string, sw []Swatch, shown ...int) Scale {
	s := Scale{Title: title, Swatches: append(append([]Swatch(nil), sw...), Swatch{NotJudged, notJudged}), names: true}
	s.shown = make([]bool, len(s.Swatches))
	for _, k := range shown {
		s.shown[k] = true
	}
	s.pick = func(v float64) int {
		if !(v >= 0 && v < float64(len(sw))) {
			return tones + len(sw)
		}
		return tones + int(v)
	}
	return s
}

// Reached gives the colour of surface that side number i of a job reaches; pale, neighbours unlike in
// lightness.
func Reached(i int) color.RGBA {
	hues := [...]float64{85, 250, 165, 320, 50, 285}
	light := [...]float64{0.93, 0.82, 0.89, 0.78, 0.86, 0.80}
	k := ((i % 6) + 6) % 6
	s, c := math.Sincos(hues[k] * math.Pi / 180)
	return oklab{light[k], 0.062 * c, 0.062 * s}.rgb()
}

// Unreached gives colour k, from 0, of surface that is not reached for one reason or another: dark and
// strong beside all of Reached, unlike one another in lightness.
func Unreached(k int) color.RGBA {
	list := [...]oklab{{0.60, 0.165, 0.095}, {0.47, 0.02, -0.17}, {0.34, 0.105, 0.03}, {0.53, -0.085, 0.025}, {0.25, 0.02, -0.06}}
	return list[k%len(list)].rgb()
}

// palette lists the colours that pick's answers stand for.
func (s *Scale) palette() []color.RGBA {
	out := make([]color.RGBA, tones, tones+len(s.Swatches))
	for i := range out {
		out[i] = Within(float64(i) / (tones - 1))
	}
	for _, w := range s.Swatches {
		out = append(out, w.Colour)
	}
	return out
}

// without leaves 'not looked at' out of the key where no patch is; of names it keeps those that are there.
func (s Scale) without(pick []uint8) Scale {
	used := make([]bool, tones+len(s.Swatches))
	for _, k := range pick {
		used[k] = true
	}
	var kept []Swatch
	for i, w := range s.Swatches {
		if used[tones+i] || !s.names && i < len(s.Swatches)-1 {
			kept = append(kept, w)
		}
	}
	s.Swatches = kept
	return s
}

// dots reports whether palette colour k is worth showing through what hides it.
func (s *Scale) dots(k int) bool { return k >= tones && s.shown[k-tones] }

// measured reports whether the scale has a run of tones.
func (s *Scale) measured() bool { return s.Hi > s.Lo }

// ticks are the figures along a measured scale, with their places from 0 to 1.
func (s *Scale) ticks() (at []float64, text []string) {
	step := nice((s.Hi - s.Lo) / 4)
	for v := math.Ceil(s.Lo/step-1e-9) * step; v <= s.Hi+1e-9*step; v += step {
		at = append(at, (v-s.Lo)/(s.Hi-s.Lo))
		text = append(text, figure(v))
	}
	return at, text
}

// nice is the least of 1, 2 and 5 times a power of ten that is not below v.
func nice(v float64) float64 {
	if !(v > 0) || math.IsInf(v, 0) {
		return 1
	}
	p := math.Pow(10, math.Floor(math.Log10(v)))
	for _, k := range [...]float64{1, 2, 5} {
		if k*p >= v*(1-1e-9) {
			return k * p
		}
	}
	return 10 * p
}

// niceBelow is the greatest of 1, 2 and 5 times a power of ten that is not above v.
func niceBelow(v float64) float64 {
	p := math.Pow(10, math.Floor(math.Log10(v)))
	best := p
	for _, k := range [...]float64{2, 5, 10} {
		if k*p <= v*(1+1e-9) {
			best = k * p
		}
	}
	return best
}

// figure writes a number with three digits that count.
func figure(v float64) string {
	if a := math.Abs(v); a >= 1000 {
		return thousands(int(math.Round(v)))
	} else if a < 1e-9 {
		return "0"
	}
	return fmt.Sprintf("%.3g", v)
}
