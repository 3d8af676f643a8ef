// Package pose finds how a model lies best in a bar: which of its directions runs along the bar, how it is
// turned about it, and which of its ends is held.
package pose

import (
	"slices"

	"barwise/geom"
	"barwise/plan/place"
	"barwise/shop/bar"
	"barwise/shop/cutter"
)

// Pose is a way to lie, in the sense of place.Toward: Dir is the model direction that comes to point to the
// free end, TurnDeg the turn about the bar's axis after the least rotation that brings it there.
type Pose struct {
	Dir     geom.Vec3
	TurnDeg float64
}

// Set is the sides a bar is cut from.
type Set struct {
	Sides []float64 // index angles, degrees
	End   bool      // and looking along the axis, onto the free end
}

// Even returns n sides, evenly spaced from 0.
func Even(n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = float64(360*i) / float64(n)
	}
	return out
}

// Params says what the model is to be cut from, and with what. Zero values mean the default beside them.
type Params struct {
	Bar    bar.Bar // Shape (square) and a round one's Block. Width > 0: the bar there is, which the model must fit; Length > 0 likewise
	Set    Set     // the sides that Best and Given are for; none: all at which the bar can be held, without the end
	Margin float64 // mm kept to the flats
	Extra  float64 // mm of the bar's length that are not the model: grip, stub, spigot, parting, end allowance
	Spigot float64 // mm, its radius; 0: the model stands on its own base, all of which is held
	Fit    bool    // the model will be scaled to fit the bar: its size is worth something

	Compare []Set // sets to compare; nil: 2, 3, 4 and 6 sides, each without and with the end. Where the bar has not the angles of one the figures are for a square or a hexagonal bar

	Cutter    cutter.Cutter // the finishing cutter, as it is in its holder; no R: a ball of Ø1 on 14 mm of neck
	Cusp      float64       // mm of cusp that sets the finishing stepover; 0.005
	Feed      float64       // mm/s of finishing; 15
	Rate      float64       // mm³/s of roughing, pauses included; 10
	TurnTime  float64       // s to turn the bar and touch off; 180
	Weights   *Weights      // nil: DefaultWeights
	Most      int           // so many of the best; 5
	Given     *Pose         // a pose to be judged beside the found ones
	Dir       *geom.Vec3    // this direction runs along the bar: only the turn is looked for, and Dir is never reversed
	Turn      *float64      // this turn, with Dir: nothing is looked for
	SteepFrom float64       // degrees of slope from which a surface counts as steep; 70
}

// Parts is what a pose costs, each in its own unit. All areas are sums of equal samples, estimates. Reach is
// judged on maps of the model as the sides see it, of 1/448 of the model's greatest extent to a pixel: a cutter
// of a smaller radius counts as that large, which misses a little more than it would, and what of the relief is
// finer than a pixel counts as reached. On the solids of the tests Missed is within 1 % of the surface of what
// the exact tip heights give, on a scan of fine scales up to 3 % below. What the holder's or the shank's
// place is judged by is coarser still: up to 0.6 of its radius too far off counts as near.
type Parts struct {
	Area     float64 // mm² of the whole surface
	Missed   float64 // mm² that the cutter touches from no side, without Held
	Held     float64 // mm² lost to the spigot or the stub
	Steep    float64 // mm² touched only where it stands steeper than SteepFrom to the side
	StickOut float64 // mm from tip to holder that all but 0.5 % of the touched surface can do with, each place from its best side
	Shank    float64 // mm² of Missed that a longer stick-out or a longer neck would reach
	Finish   float64 // min: touched area by stepover and feed, up to half more where it is steep
	Rough    float64 // min: Remove by Rate
	Turns    float64 // min: sides, the end among them, by TurnTime
	Remove   float64 // mm³ of bar that is not model, along the model
	Across   float64 // mm, the section it needs with its margin: across flats, or the diameter; of a rectangular bar along X at index 0
	High     float64 // mm along Z at index 0; Across but for a rectangular bar
	Length   float64 // mm of the model along the bar
	Bar      float64 // mm, Length and Extra
	Contact  float64 // mm² by which the model is held
	Hold     float64 // Contact as a share of the spigot's section or, without one, of what the model covers seen along the axis
	Lever    float64 // how far from the held end the middle of the surface is, as a share of Length
	Scale    float64 // largest times its size that the given bar has room for; 0 without one
	Fits     bool    // Scale is 1 or more, or no bar is given
	Size     float64 // mm, edge of the cube with the model's area: what lengths are compared with
	Unit     float64 // min: finishing the whole area level and roughing Size³: what times are compared with
}

// Minutes is the estimate of the time at the machine.
func (p Parts) Minutes() float64 { return p.Finish + p.Rough + p.Turns }

// MissedShare is Missed as a share of the area.
func (p Parts) MissedShare() float64 { return p.Missed / p.Area }

// Candidate is a pose with what it costs.
type Candidate struct {
	Pose
	Set
	Shape bar.Shape // the section that Across is for
	Parts
	Cost  float64    // points, less is better; see Weights
	On    string     // what it was put square with, in words; "" where it is square with nothing
	Slack [3]float64 // degrees the model may lean to either side before the cost rises by Margin: turned about side 0's X, about the bar's axis, about side 0's Z
}

// Found is the outcome of a search.
type Found struct {
	Best    []Candidate // of Params.Set, best first, no two within 8° of each other
	Given   *Candidate  // Params.Given as it is; nil without
	Compare []Candidate // the best of each set of Params.Compare, in its order
	Tried   int         // poses looked at
}

// Motion returns the turn of a pose.
func (p Pose) Motion() place.Motion { return place.Toward(p.Dir, p.TurnDeg) }

// period is the least turn, in degrees, that takes set and section onto themselves.
func (s Set) period(shape bar.Shape) float64 {
	of := map[bar.Shape]float64{bar.Square: 90, bar.Rect: 180, bar.Hex: 60}[shape]
	for _, p := range [...]float64{60, 90, 120, 180} {
		if of != 0 && remainder(p, of) != 0 {
			continue
		}
		same := true
		for _, d := range s.Sides {
			same = same && slices.ContainsFunc(s.Sides, func(e float64) bool { return remainder(d+p-e, 360) == 0 })
		}
		if same {
			return p
		}
	}
	return 360
}

// mirrored reports whether the sides are their own mirror image about side 0.
func (s Set) mirrored() bool {
	for _, d := range s.Sides {
		if !slices.ContainsFunc(s.Sides, func(e float64) bool { return remainder(d+e, 360) == 0 }) {
			return false
		}
	}
	return true
}

// same reports whether two sets are the same sides.
func (s Set) same(o Set) bool { return s.End == o.End && slices.Equal(s.Sides, o.Sides) }
