package pose

import "math"

// Weights are what each part of a pose is worth, in points: one point is one percent of the surface left
// uncut. They are our own judgement, no source.
type Weights struct {
	Missed  float64 // for each percent of the area missed
	Steep   float64 // for each percent of the area steep
	Stick   float64 // for a stick-out of Size
	Time    float64 // for a time of Unit
	Section float64 // for a section Size across
	Hold    float64 // for no hold at all, and twice again where it is less than a tenth
	Lever   float64 // for the middle of the surface at the free end
	Scale   float64 // with Fit: for each percent of size lost
}

// DefaultWeights: what stays uncut decides; among poses that reach equally much, time, section, stick-out
// and hold do; steep surfaces are cut as well by the cutter's side, only less kindly.
var DefaultWeights = Weights{Missed: 1, Steep: 0.05, Stick: 4, Time: 6, Section: 3, Hold: 2, Lever: 2, Scale: 0.2}

// Misfit is what a pose costs that does not fit the given bar, in points: more than any that fits.
const Misfit = 1000

// Cost combines the parts:
//
//	Missed·100·missed/area + Steep·100·steep/area + Stick·stick-out/size + Time·minutes/unit
//	+ Section·√(across·high)/size + Hold·(1 − hold + 2·max(0, 1 − 10·hold)) + Lever·lever
//
// and, where a bar is given, Misfit·(2 − scale) for what does not fit it or, with Fit,
// −Scale·100·ln(scale).
func (w Weights) Cost(p Parts, fit bool) float64 {
	c := float64(w.Missed * 100 * p.Missed / p.Area)
	c += float64(w.Steep * 100 * p.Steep / p.Area)
	c += float64(w.Stick * p.StickOut / p.Size)
	c += float64(w.Time * p.Minutes() / p.Unit)
	c += float64(w.Section * math.Sqrt(p.Across*p.High) / p.Size)
	c += float64(w.Hold * (1 - p.Hold + 2*max(0, 1-float64(10*p.Hold))))
	c += float64(w.Lever * p.Lever)
	switch {
	case fit && p.Scale > 0:
		c -= float64(w.Scale * 100 * math.Log(p.Scale))
	case !p.Fits:
		c += float64(Misfit * (2 - p.Scale))
	}
	return c
}
