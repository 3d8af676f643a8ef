package reach

import (
	"fmt"
	"math"
	"testing"

	"barwise/geom"
	"barwise/geom/mesh/sample"
	"barwise/shop/bar"
	"barwise/shop/cutter"
)

// standingJob is job with the lowest tip and the walls of the end side, if it is among the sides: jaws and
// stub are level all round.
func standingJob(b bar.Bar, sides []float64, low float64) PredictParams {
	p := job(sample.Cup(10, 64), b, sides, slim(cutter.Ball(1)))
	p.Pitch, p.Exact = 0.25, false
	for i, d := range sides {
		if geom.IsEnd(d) {
			p.Walls[i] = []Wall{{Y: math.Inf(1), Top: 10}}
			for k := range p.Cuts {
				p.Cuts[k].Lowest[i] = low
			}
			if low > 20 {
				p.Cuts[0].Lowest[i] = 26 // what the flat end touches counts too
			}
		}
	}
	return p
}

// The well of a cup: undercut from the sides, reached from the end, too deep for it where its lowest tip
// says so. Its area is half a sphere's and a cylinder's, 2πr² + 2πrh.
func TestPredictFromTheEnd(t *testing.T) {
	square := bar.Bar{Shape: bar.Square, Width: 18, Height: 18, Length: 30, Grip: 8}
	hex := bar.Bar{Shape: bar.Hex, Width: 18, Height: 18, Length: 30, Grip: 8}
	const r = 4.6
	well := 2*math.Pi*r*r + 2*math.Pi*r*0.95
	six := []float64{0, 60, 120, 180, 240, 300}
	for _, c := range []struct {
		b     bar.Bar
		sides []float64
		low   float64
		stays float64 // mm² of the well that nothing reaches
	}{
		{square, quarters, 0, well},
		{square, append([]float64{geom.EndDeg}, quarters...), 12, 0},
		{hex, append(append([]float64(nil), six...), geom.EndDeg), 12, 0},
		// a ball of radius 1 with its tip at 23.1 touches the sphere where its own middle, 1.5 below the sphere's,
		// is 3.6 from that: 1.5·4.6/3.6 below; a cap of height h has the area 2πrh
		{square, append([]float64{geom.EndDeg}, quarters...), 23.1, 2 * math.Pi * r * (r - 1.5*r/3.6)},
	} {
		p := standingJob(c.b, c.sides, c.low)
		name := fmt.Sprintf("%s bar, sides %v, tip to %g", c.b.Shape, c.sides, c.low)
		out, set := predict(t, p)
		undercut, low, other := 0.0, 0.0, 0.0
		for i := range set.Len() {
			q := set.Centre(i)
			if q.Y < 18 || q.Y > 26.55 || math.Hypot(q.X, q.Z) > 5 || out.Class[i] == Reached {
				continue
			}
			switch out.Class[i] {
			case Undercut:
				undercut += set.Area(i)
			case Low:
				low += set.Area(i)
			default:
				other += set.Area(i)
			}
		}
		t.Logf("%s: undercut %.1f, low %.1f, other %.1f mm²; want %.1f of %.1f", name, undercut, low, other, c.stays, well)
		if math.Abs(undercut+low+other-c.stays) > 0.03*well {
			t.Errorf("%s: %.1f mm² of the well are not reached, want %.1f", name, undercut+low+other, c.stays)
		}
		end := len(c.sides) != len(quarters)
		if end && undercut > 1 || !end && low > 1 {
			t.Errorf("%s: undercut %.1f, low %.1f mm²", name, undercut, low)
		}
		// what stays of the well's volume: the whole of it without the end
		if v := out.Stays.Volume[len(out.Stays.Volume)-1]; !end {
			full := 2./3*math.Pi*r*r*r + math.Pi*r*r*0.95
			if v < 0.9*full {
				t.Errorf("%s: %.1f mm³ stay, the well holds %.1f", name, v, full)
			}
		} else if c.stays == 0 && v > 5 {
			t.Errorf("%s: %.1f mm³ stay", name, v)
		}
	}
}
