package report

import (
	"bytes"
	"encoding/json"
	"image/color"
	"slices"
	"strings"
	"testing"

	"barwise/geom"
	"barwise/geom/mesh/patch"
	"barwise/proof"
)

// The end has a panel of its own: what faces it shows there, where it lies in the end side's frame (+X to the
// right, the part's −Z up), and in no other.
func TestDeviationMapOfTheEnd(t *testing.T) {
	m := &proof.Map{
		Point:     [][3]float32{{6, 30, -4}, {0, 10, 5}},
		Normal:    [][3]float32{{0, 1, 0}, {0, 0, 1}},
		Deviation: []float32{0.5, 0.002},
		Area:      []float32{1, 4},
		Side:      []int16{1, 0},
		Class:     []proof.Class{proof.Left, proof.InTolerance},
	}
	img := DeviationMap(m, []float64{0, geom.EndDeg}, 0.01)
	b := img.Bounds()
	var x, y, n int
	for j := 34; j < b.Dy()-80; j++ {
		for i := range b.Dx() {
			if img.RGBAAt(i, j) == (color.RGBA)(Beyond) {
				x, y, n = x+i, y+j, n+1
			}
		}
	}
	if n == 0 {
		t.Fatal("what is left on the end does not show")
	}
	// the panels lie side by side and are as wide as each other; the end's middle is 3/4 across
	x, y = x/n, y/n
	if x < 3*b.Dx()/4 || y > 34+(b.Dy()-34-74)/2 {
		t.Errorf("it shows at (%d, %d) of %v: to the right of and above the middle of the second panel is its place", x, y, b)
	}
}

func TestEndIsNamed(t *testing.T) {
	set := patch.Cut(lump(), 1, 1<<20)
	u := unroll(t, set, []float64{geom.EndDeg, 90}, true)
	if got := strings.Join(u.names, ", "); got != "end, side 90°, from the stop" {
		t.Errorf("panels %q", got)
	}
	f := sample()
	f.Programs[0].SideDeg = geom.EndDeg
	f.Bar.Sides = []float64{0, geom.EndDeg, 90}
	if s := timeDrawing(f); !strings.Contains(s, "ball-1, end<") || strings.Contains(s, "1e+06") {
		t.Errorf("the drawing of times: %s", s)
	}
	var b bytes.Buffer
	if err := (&Page{Facts: f}).WriteHTML(&b); err != nil {
		t.Fatal(err)
	}
	if p := b.String(); !strings.Contains(p, "<td>end<td>") || !strings.Contains(p, "stand the bar upright") || strings.Contains(p, "e+06") {
		t.Error("the page does not say that a program is for the end, and how the bar stands there")
	}
	if got := sidesWords(f.Bar.Sides, false); got != "0° 90° + end" {
		t.Errorf("sides %q", got)
	}
	b.Reset()
	if err := f.WriteJSON(&b); err != nil {
		t.Fatal(err)
	}
	var back struct {
		Programs []map[string]any `json:"programs"`
		Bar      Bar              `json:"bar"`
	}
	if err := json.Unmarshal(b.Bytes(), &back); err != nil {
		t.Fatal(err)
	}
	if back.Programs[0]["side_deg"] != "end" || back.Programs[0]["lines"] != 12.0 || !slices.Equal(back.Bar.Sides, f.Bar.Sides) {
		t.Errorf("written as %v, sides %v", back.Programs[0], back.Bar.Sides)
	}
	sc := ReachScale(f.Bar.Sides, false)
	if sc.Swatches[1].Name != "reached from the end" || sc.Swatches[2].Name != "reached from side 90°" {
		t.Errorf("swatches %+v", sc.Swatches)
	}
	if firstAcross([]float64{geom.EndDeg, 60}) != 60 || firstAcross([]float64{geom.EndDeg}) != 0 {
		t.Error("the end is taken for a side across the bar")
	}
}
