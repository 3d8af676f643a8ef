package link

import (
	"math"

	"barwise/geom"
	"barwise/path"
)

// rampLeast is the height of stock under the cutter, mm, from which a straight way down counts as a plunge:
// more than grids are off by.
const rampLeast = 0.05

// down brings the tip from above its start onto a pass: straight, or along the pass where stock stands there
// that the cutter must not be pushed into. Going to and fro above a level pass meets nothing that the pass
// itself does not meet lower down.
func (l *linker) down(pass path.Pass, to geom.Vec3) {
	p := l.p
	if p.Under == nil || !(p.RampDeg > 0 && p.RampDeg <= 80) {
		l.feed(to, p.EntryFeed)
		return
	}
	top := p.Under(to.XY())
	way := append(append([]geom.Vec3{}, pass.Lead...), pass.Points...)
	if top <= to.Z+rampLeast || l.at.Z <= to.Z || !level(way) {
		l.feed(to, p.EntryFeed)
		return
	}
	z := min(top+rampLeast, l.at.Z)
	l.feed(geom.Vec3{X: to.X, Y: to.Y, Z: z}, p.EntryFeed)
	need := (z - to.Z) / math.Tan(p.RampDeg*math.Pi/180)
	way = stretch(way, need/2)
	round := 2 * wayLength(way)
	if round < 1e-3 {
		l.feed(to, p.EntryFeed)
		return
	}
	turns := math.Ceil(need/round - 1e-9)
	slope := (z - to.Z) / (turns * round)
	for range int(turns) {
		for k := 1; k < len(way); k++ {
			z = l.sink(way[k], way[k-1], z, slope, to.Z)
		}
		for k := len(way) - 2; k >= 0; k-- {
			z = l.sink(way[k], way[k+1], z, slope, to.Z)
		}
	}
	l.feed(to, p.EntryFeed)
}

// sink feeds from over a to over b while it goes down by slope for each mm, and no lower than floor.
func (l *linker) sink(b, a geom.Vec3, z, slope, floor float64) float64 {
	z = max(z-slope*b.XY().Sub(a.XY()).Len(), floor)
	l.feed(geom.Vec3{X: b.X, Y: b.Y, Z: z}, l.p.EntryFeed)
	return z
}

func level(way []geom.Vec3) bool {
	for _, q := range way {
		if q.Z != way[0].Z {
			return false
		}
	}
	return len(way) > 1
}

// stretch is the beginning of a way, of the given length where it is long enough.
func stretch(way []geom.Vec3, length float64) []geom.Vec3 {
	for k := 1; k < len(way); k++ {
		d := way[k].Sub(way[k-1]).Len()
		if d >= length && d > 0 {
			return append(append([]geom.Vec3{}, way[:k]...), way[k-1].Lerp(way[k], length/d))
		}
		length -= d
	}
	return way
}

func wayLength(way []geom.Vec3) float64 {
	sum := 0.0
	for k := 1; k < len(way); k++ {
		sum += way[k].Sub(way[k-1]).Len()
	}
	return sum
}
