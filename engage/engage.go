// Package engage says how the cutter was engaged while a program ran.
//
// It replays moves as read back from text. What the program itself has cut is held exactly: at any moment
// the stock at a level is the stock before the program less the sweeps of all its earlier moves, and a point
// of the cutter's rim is in it or not by the distances from those moves. Only the stock before the program is
// known by a grid, so only where its own rim is cut does the grid count, and Bound says by how much.
//
// The engagement angle is the arc of the cutter's rim, in the half that faces the motion, which stands in
// stock at the tip's level; π is a full slot. For a straight cut of width ae it is φ with cos φ = 1 − ae/R.
// A cutter that is not flat is asked at several heights, each with the radius that it has there; a direction
// counts where any of them is in stock.
//
// Lengths are mm, angles radians, feeds mm/s.
package engage

import (
	"context"
	"math"

	"barwise/force"
	"barwise/geom"
	"barwise/geom/field"
	"barwise/path"
	"barwise/shop/cutter"
	"barwise/stock"
)

// Params is how to look.
type Params struct {
	Cap  float64 // greatest angle asked for; 0: a full slot, which nothing exceeds
	Step float64 // between two looks along the path; 0: a sixth of the cutter's radius, 0.25 at most
	// EntryFeed is the feed of leads. Level motion at it counts as an entry, between the way down and the first
	// move at another feed; nowhere else. 0: only motion that goes down while engaged is an entry.
	EntryFeed float64
	Pitch     float64 // of a Bar's fields; 0: 0.05, coarser where that would be more than its nodes
}

const (
	// hair is how much a column must stand above the tip to count: a floor cut at the same level, rounded.
	hair = 0.01
	// graze is the width of a straight cut below which motion is held to take nothing, mm: the last digits of
	// a program's numbers, and of the places that it was planned on, are no chips.
	graze = 0.005
	// sagitta is how far a chord may stand off the arc that it is looked along for, mm: it turns the half that faces the motion by
	// half its angle, 0.4° on a radius of 4.
	sagitta = 2e-4
	// turn is the change of direction from which on it counts as one.
	turn = 15 * math.Pi / 180
	// BinDeg is the width of a bin of the histogram, degrees.
	BinDeg = 5
)

// Result is how a program engaged its cutter. Lengths are of motion at a feed.
type Result struct {
	Cap         float64
	CutLength   float64     // in stock, entries left out
	AirLength   float64     // in none
	EntryLength float64     // going down while engaged, and leads
	Histogram   [36]float64 // CutLength by angle, bins of BinDeg from 0 to 180°
	P50, P99    float64     // of CutLength, the upper ends of bins of a tenth of a degree
	Max         float64
	ShareOver   float64 // of CutLength over Cap, 0..1
	Spots       []Spot  // where it was over Cap, in order
	MeanPass    float64 // mean length of an unbroken stretch of cutting; way in air no longer than R does not break it
	Passes      int     // stretches
	LongAir     float64 // of AirLength, in ways longer than R
	LongestAir  float64 // longest way in air at a feed, unbroken by a rapid, between two cuts
	Turns       int     // changes of direction by more than 15° at a feed while engaged
	// ByMove is the greatest angle of each move; negative where it is not at a feed or took nothing; π of an entry.
	ByMove []float32
}

// AirShare is the share of the feed's way that takes nothing, 0..1.
func (r *Result) AirShare() float64 {
	if all := r.CutLength + r.AirLength + r.EntryLength; all > 0 {
		return r.AirLength / all
	}
	return 0
}

// Spot is a stretch over the cap. It runs from the part T0 of move Move0 to the part T1 of Move1; parts
// are shares of a move's length.
type Spot struct {
	Move0, Move1 int
	T0, T1       float64
	Line         int32     // of the text, of Move0
	Point        geom.Vec3 // side frame, where the angle is greatest
	Angle        float64   // greatest
	Length       float64
}

// Replay replays a program against the bar as it is before it. The stack is only read; its pitch is the
// grid that Bound speaks of.
func Replay(ctx context.Context, st *stock.Stack, side int, p path.Program, c cutter.Cutter, q Params) (*Result, error) {
	return Over(ctx, st.Seen(side), p, c, q)
}

// Over replays a program against what its side shows before it: the top of what is left in every column.
func Over(ctx context.Context, seen *field.Field, p path.Program, c cutter.Cutter, q Params) (*Result, error) {
	if q.Cap <= 0 {
		q.Cap = math.Pi
	}
	if q.Step <= 0 {
		q.Step = min(c.R/6, 0.25)
	}
	w := newWays(p, c.Profile)
	s := &scene{ways: w, seen: seen, step: q.Step, rings: rings(c.Profile)}
	s.entry = entrySpots(c.R)
	looks, err := s.all(ctx)
	if err != nil {
		return nil, err
	}
	return tally(w, looks, p, c.R, q), nil
}

// Bound is how much, at most, the angle phi of a straight cut is off where the stock before the program is
// cut, by a cutter of radius r on a grid of the given pitch: that stock's wall may stand half a cell's
// diagonal beside where it is. Where two such walls are cut at once, twice that.
func Bound(phi, r, pitch float64) float64 {
	e := pitch / math.Sqrt2
	ae := force.Width(phi, 2*r)
	return max(force.Arc(ae+e, 2*r)-phi, phi-force.Arc(ae-e, 2*r))
}
