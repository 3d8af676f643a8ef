package bar

import (
	"math"
	"testing"

	"barwise/unit"
)

// Weights of a metre of steel, kg, by size in mm, from the tables of Uyar Çelik for squares of EN 10059
// (uyarcelik.com; a density of 7.85 kg/dm³ is stated there).
var squareKg = map[float64]float64{8: .502, 10: .785, 12: 1.13, 13: 1.33, 14: 1.54, 15: 1.77, 16: 2.01, 18: 2.54, 20: 3.14,
	22: 3.80, 24: 4.52, 25: 4.91, 26: 5.31, 28: 6.15, 30: 7.07, 32: 8.04, 35: 9.62, 40: 12.6, 45: 15.9, 50: 19.6, 55: 23.7,
	60: 28.3, 65: 33.2, 70: 38.5, 75: 44.2, 80: 50.2, 90: 63.6, 100: 78.5}

// The same for rounds of EN 10060; of its lines those whose weight is not a misprint (18 mm is not 20 kg).
var roundKg = map[float64]float64{16: 1.58, 19: 2.23, 20: 2.47, 22: 2.98, 24: 3.55, 25: 3.85, 26: 4.17, 27: 4.49, 28: 4.83,
	30: 5.55, 32: 6.31, 35: 7.55, 36: 7.99, 38: 8.90, 40: 9.86, 42: 10.9, 45: 12.5, 48: 14.2, 50: 15.4, 52: 16.7, 55: 18.7,
	60: 22.2, 63: 24.5, 65: 26.0, 70: 30.2, 75: 34.7, 80: 39.5, 85: 44.5, 90: 49.9, 95: 55.6, 100: 61.7, 105: 68.0, 110: 74.6,
	115: 81.5, 120: 88.8, 125: 96.3, 130: 104}

// Weights of a foot of cold-finished hexagon, lb, by inches across flats, from the stock list of
// K & H Metals (khmetals.com); 1 in there weighs 2.947 lb: 0.2836 lb/in³.
var hexLb = map[string]float64{"1/4 in": .1842, "5/16 in": .2878, "3/8 in": .4145, "7/16 in": .5641, "1/2 in": .7368,
	"5/8 in": 1.151, "11/16 in": 1.393, "3/4 in": 1.658, "13/16 in": 1.946, "7/8 in": 2.257, "15/16 in": 2.590, "1 in": 2.947,
	"1-1/8 in": 3.730, "1-1/4 in": 4.605, "1-3/8 in": 5.572, "1-1/2 in": 6.631, "2 in": 11.79}

// Every size of a published table is listed, with the section that gives the table's weight, and no
// other size claims to be from it.
func TestStandardsAgainstPublishedWeights(t *testing.T) {
	for _, c := range []struct {
		shape  Shape
		source string
		kg     map[float64]float64
	}{{Square, en10059, squareKg}, {Round, en10060, roundKg}} {
		seen := 0
		for _, s := range Standards(c.shape, unit.MM) {
			if s.Source != c.source {
				continue
			}
			want, ok := c.kg[s.Width]
			if !ok {
				continue
			}
			seen++
			if got := s.Bar(1000, 20, Square).Area() * 7.85e-3; math.Abs(got-want) > 0.006*want {
				t.Errorf("%s %s: %.4g kg/m, the table has %g", c.shape, s.Name, got, want)
			}
		}
		if seen != len(c.kg) {
			t.Errorf("%s: %d of the table's %d sizes", c.shape, seen, len(c.kg))
		}
	}
	hex := Standards(Hex, unit.Inch)
	if len(hex) != len(hexLb) {
		t.Errorf("%d hexagons in inches, the stock list has %d", len(hex), len(hexLb))
	}
	for _, s := range hex {
		lb := s.Bar(100, 20, "").Area() / (25.4 * 25.4) * 12 * 0.2836
		if want := hexLb[s.Name]; math.Abs(lb-want) > 2e-3*want {
			t.Errorf("hexagon %s: %.4g lb a foot, the list has %g", s.Name, lb, want)
		}
	}
}

// Lists ascend without repeats, every bar passes its own check, names say the size.
func TestStandardsAreSound(t *testing.T) {
	for _, sys := range []unit.System{unit.MM, unit.Inch} {
		for _, sh := range []Shape{Square, Rect, Hex, Round} {
			l := Standards(sh, sys)
			if len(l) < 15 {
				t.Errorf("%s, %v: %d sizes", sh, sys, len(l))
			}
			seen := map[string]bool{}
			for i, s := range l {
				if f := s.Bar(100, 20, Hex).Check(); len(f) != 0 {
					t.Errorf("%s %s: %v", sh, s.Name, f)
				}
				if i > 0 && s.Width*s.Height < l[i-1].Width*l[i-1].Height || seen[s.Name] || s.Source == "" || s.Shape != sh || s.System != sys {
					t.Errorf("%s %s after %s: %+v", sh, s.Name, l[max(i-1, 0)].Name, s)
				}
				seen[s.Name] = true
				if sh == Rect && s.Height >= s.Width || sh != Rect && s.Height != s.Width {
					t.Errorf("%s %s: %g by %g", sh, s.Name, s.Width, s.Height)
				}
			}
		}
	}
	if l := Standards("octagonal", unit.MM); len(l) != 0 {
		t.Errorf("octagonal: %v", l)
	}
	if CutLength(unit.MM) != 5 || CutLength(unit.Inch) != 6.35 {
		t.Errorf("cut lengths %g, %g", CutLength(unit.MM), CutLength(unit.Inch))
	}
	for name, mm := range map[string]float64{"1-1/8 in": 28.575, "3/8 in": 9.525, "2 in": 50.8, "5/16 in": 7.9375} {
		found := false
		for _, s := range Standards(Square, unit.Inch) {
			found = found || s.Name == name && math.Abs(s.Width-mm) < 1e-12
		}
		if !found {
			t.Errorf("no square of %s, %g mm", name, mm)
		}
	}
}
