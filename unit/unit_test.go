package unit

import (
	"errors"
	"fmt"
	"math"
	"math/big"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// An inch is 25.4 mm exactly (international inch); expected values are worked by hand from it.
func TestParse(t *testing.T) {
	for _, c := range []struct {
		k    *Kind
		text string
		s    System
		want float64
	}{
		{Lengths, "1/8 in", MM, 3.175},
		{Lengths, "1/8", Inch, 3.175},
		{Lengths, `1/8"`, MM, 3.175},
		{Lengths, "1 1/2 in", MM, 38.1},
		{Lengths, "1-1/8", Inch, 28.575},
		{Lengths, "-1 1/2 in", MM, -38.1},
		{Lengths, "1/32 in", MM, 0.79375},
		{Lengths, "0.5 mm", Inch, 0.5},
		{Lengths, ".5", MM, 0.5},
		{Lengths, "5.", MM, 5},
		{Lengths, "+2", MM, 2},
		{Lengths, "  2um ", MM, 0.002},
		{Lengths, "2 µm", MM, 0.002}, // U+00B5
		{Lengths, "2 μm", MM, 0.002}, // U+03BC
		{Lengths, "5 thou", MM, 0.127},
		{Lengths, "0.1", Inch, 2.54},
		{Lengths, "12 MM", MM, 12},
		{Feeds, "1000 mm/min", Inch, 1000.0 / 60},
		{Feeds, "16 mm/s", MM, 16},
		{Feeds, "40 in/min", MM, 1016.0 / 60},
		{Feeds, "40", Inch, 1016.0 / 60},
		{Feeds, "900", MM, 15},
		{Angles, "90 deg", MM, 90},
		{Angles, "90°", MM, 90},
		{Angles, "90", Inch, 90},
		{Angles, "1 rad", MM, 180 / math.Pi},
		{Speeds, "12000 rpm", MM, 12000},
		{Speeds, "12000 /min", MM, 12000},
		{Speeds, "12 krpm", MM, 12000},
		{Times, "1.5 min", MM, 90},
		{Times, "250 ms", MM, 0.25},
		{Accels, "500 mm/s²", MM, 500},
		{Accels, "10 in/s2", MM, 254},
		{Accels, "10", Inch, 254},
		{Surfaces, "100 ft/min", MM, 30.48},
		{Surfaces, "100", Inch, 30.48},
		{Ratios, "45 %", MM, 0.45},
		{Ratios, "45%", MM, 0.45},
		{Ratios, "0.45", MM, 0.45},
	} {
		got, err := c.k.Parse(c.text, c.s)
		if err != nil || got != c.want {
			t.Errorf("%s %q in %s: got %v, %v, want %v", c.k.Name, c.text, c.s, got, err, c.want)
		}
	}
}

func TestParseRefuses(t *testing.T) {
	for _, c := range []struct {
		k          *Kind
		text, says string
	}{
		{Lengths, "", "is empty"},
		{Lengths, "   ", "is empty"},
		{Lengths, "mm", "does not begin with a number"},
		{Lengths, "NaN", "does not begin with a number"},
		{Lengths, "inf", "does not begin with a number"},
		{Lengths, "--2", "does not begin with a number"},
		{Lengths, ".", "does not begin with a number"},
		{Lengths, "1/0 in", "divides by zero"},
		{Lengths, "1 1/0 in", "divides by zero"},
		{Lengths, "1/2.5 in", "not of whole numbers"},
		{Lengths, "1.5/2 in", "unknown unit"},
		{Lengths, "1,5 mm", "decimal mark is a point"},
		{Lengths, "1.5.2 mm", "decimal mark is a point"},
		{Lengths, "1_000", "thousands are not marked"},
		{Lengths, "1e3", `unknown unit "e3"`},
		{Lengths, "0x10", `unknown unit "x10"`},
		{Lengths, "3 furlong", `unknown unit "furlong"`},
		{Lengths, "3 rpm", "is a spindle speed, a length is wanted"},
		{Lengths, "3 mm/min", "is a feed, a length is wanted"},
		{Lengths, "3 mm 4", "unknown unit"},
		{Lengths, "1 2 mm", "unknown unit"},
		{Lengths, strings.Repeat("9", 10000), "too many digits"},
		{Lengths, "1/" + strings.Repeat("9", 10000), "not of whole numbers"},
		{Lengths, "1 " + strings.Repeat("9", 10000) + "/3", "not of whole numbers"},
		{Speeds, "45 %", "is a ratio, a spindle speed is wanted"},
		{Ratios, "45 mm", "is a length, a ratio is wanted"},
	} {
		v, err := c.k.Parse(c.text, MM)
		var e *Error
		if !errors.As(err, &e) {
			t.Errorf("%.40q: got %v, %v, want an Error", c.text, v, err)
			continue
		}
		if !strings.Contains(e.Error(), c.says) || !strings.Contains(e.Allowed, "allowed is") {
			t.Errorf("%.40q: %q does not say %q and what is allowed", c.text, e, c.says)
		}
		if len([]rune(e.Found)) > 60 {
			t.Errorf("%.40q: the message quotes %d characters", c.text, len(e.Found))
		}
	}
}

// The slow obvious twin: any decimal or fraction in any unit equals the same sum done by big.Rat, and
// the result is the nearest float64, whatever the digits.
func TestParseIsExact(t *testing.T) {
	kinds := []*Kind{Lengths, Feeds, Angles, Speeds, Times, Accels, Surfaces}
	rapid.Check(t, func(t *rapid.T) {
		k := rapid.SampledFrom(kinds).Draw(t, "kind")
		u := rapid.SampledFrom(k.Units).Draw(t, "unit")
		name := rapid.SampledFrom(append([]string{u.Name}, u.Aliases...)).Draw(t, "name")
		var text string
		want := new(big.Rat)
		if rapid.Bool().Draw(t, "fraction") {
			w, a, b := rapid.Int64Range(0, 99999).Draw(t, "w"), rapid.Int64Range(0, 999).Draw(t, "a"), rapid.Int64Range(1, 999).Draw(t, "b")
			text = fmt.Sprintf("%d %d/%d %s", w, a, b, name)
			want.Add(new(big.Rat).SetInt64(w), big.NewRat(a, b))
		} else {
			a, d := rapid.Int64Range(0, 1e12).Draw(t, "a"), rapid.IntRange(1, 9).Draw(t, "digits")
			s := fmt.Sprintf("%0*d", d+1, a)
			s = s[:len(s)-d] + "." + s[len(s)-d:]
			text = s + name
			want.SetString(s)
		}
		want.Mul(want, u.Factor)
		nearest, _ := want.Float64()
		got, err := k.Parse(text, MM)
		if strings.HasPrefix(name, "/") || strings.HasPrefix(name, "1/") {
			return // '3/min' and '31/min' read as they stand
		}
		if err != nil || got != nearest {
			t.Fatalf("%q: got %v, %v, want %v", text, got, err, nearest)
		}
	})
}

func TestFormatReadsBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		um := rapid.IntRange(-2_000_000, 2_000_000).Draw(t, "µm")
		l := Length(float64(um) / 1000)
		for _, s := range []System{MM, Inch} {
			got, err := Lengths.Parse(l.In(s), MM)
			if err != nil || math.Abs(got-float64(l)) > 25.4*0.5e-5 { // inches are written to five places
				t.Fatalf("%v in %s is written %q and reads %v, %v", float64(l), s, l.In(s), got, err)
			}
		}
	})
	for _, c := range []struct{ got, want string }{
		{Length(0.002).String(), "2 um"}, {Length(0).String(), "0 mm"}, {Length(28).String(), "28 mm"}, {Length(-0.5).String(), "-0.5 mm"},
		{Length(28.575).In(Inch), "1.125 in"}, {Feed(1016.0 / 60).In(Inch), "40 in/min"}, {Feed(15).String(), "900 mm/min"},
		{Speed(12000).String(), "12000 rpm"}, {Ratio(0.45).String(), "45 %"}, {Number(-0.00001, 3), "0"}, {Number(100, 0), "100"},
	} {
		if c.got != c.want {
			t.Errorf("got %q, want %q", c.got, c.want)
		}
	}
}

func TestLengthOrPart(t *testing.T) {
	p, err := ParseLengthOrPart("45 %", MM)
	if err != nil || p.Of(3) != 1.35 || p.String() != "45 %" {
		t.Errorf("%v of 3: %v, %v", p, p.Of(3), err)
	}
	p, err = ParseLengthOrPart("1/32 in", MM)
	if err != nil || p.Of(3) != 0.79375 {
		t.Errorf("%v, %v", p, err)
	}
	if _, err = ParseLengthOrPart("45 rpm", MM); err == nil || !strings.Contains(err.Error(), "a part such as 45 %") {
		t.Error(err)
	}
}

func FuzzExact(f *testing.F) {
	for _, s := range []string{"1/8 in", "-1 1/2", "2 µm", "1e9", "...", "9/"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		for _, k := range []*Kind{Lengths, Feeds, Speeds} {
			v, err := k.Parse(s, MM)
			if err == nil && (math.IsNaN(v) || math.IsInf(v, 0)) {
				t.Fatalf("%q reads as %v", s, v)
			}
		}
	})
}
