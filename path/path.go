// Package path holds what a cutter does: passes before they are linked, moves after.
//
// Points are the cutter's tip in the frame of the side, mm; feeds are mm/s.
package path

import "barwise/geom"

// Mode is the kind of a move.
type Mode uint8

// Rapid is positioning at the machine's own rate; Line is straight at a feed; ArcCW and ArcCCW are
// circular or helical at a feed, seen from the positive end of the axis across the plane.
const (
	Rapid Mode = iota
	Line
	ArcCW
	ArcCCW
	Dwell
)

// Plane is the plane of an arc.
type Plane uint8

// PlaneXY is G17, PlaneXZ is G18, PlaneYZ is G19.
const (
	PlaneXY Plane = iota
	PlaneXZ
	PlaneYZ
)

// Move is one motion. It begins where the one before it ended.
type Move struct {
	To      geom.Vec3 // end of the tip
	Feed    float64   // mm/s along the path; 0 for Rapid
	Centre  geom.Vec3 // arcs: a point on the arc's axis
	Seconds float64   // Dwell: how long
	Line    int32     // line of the program text it was read from, from 1; 0 where it was planned
	Mode    Mode
	Plane   Plane
}

// Pass is one unbroken stretch of cutting, as a strategy makes it.
type Pass struct {
	Lead   []geom.Vec3 // way into the material, cut at the entry feed; may be empty
	Points []geom.Vec3 // cut at the cutting feed
	Closed bool        // the last point joins the first
	Follow bool        // may be reached from the pass before it by a straight feed move from end to start
	Full   bool        // engages the cutter over its full width
	// Ease is the share of the cutting feed, 0..1, kept on the way to each point; nil: all of it.
	Ease []float32
}

// Start returns the first point the tip must reach.
func (p Pass) Start() geom.Vec3 {
	if len(p.Lead) > 0 {
		return p.Lead[0]
	}
	return p.Points[0]
}

// End returns the last point.
func (p Pass) End() geom.Vec3 { return p.Points[len(p.Points)-1] }

// Program is one cutter's work on one side, in the order it is run.
type Program struct {
	Name       string    // file name without a folder
	Title      string    // what it does, for a reader
	SideDeg    float64   // index angle of the side, or geom.EndDeg
	Cutter     string    // the cutter's name in the job
	Tool       int       // the number called by T
	SpindleRPM float64   // 0 where none was set
	Start      geom.Vec3 // where the tip is before the first move
	Moves      []Move
}
