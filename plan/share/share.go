// Package share says which side is answerable for which part of the model's surface.
//
// Everything is in millimetres, in the frame of the side, of the tip of the cutter.
package share

import (
	"context"
	"math"
	"sync"

	"barwise/geom"
	"barwise/geom/field"
	"barwise/geom/mesh"
	"barwise/plan/cl"
	"barwise/shop/cutter"
)

// Side is one side to finish from.
type Side struct {
	Deg        float64 // index angle
	XMin, XMax float64 // where the tip may be, mm of the side frame
	YMin, YMax float64 // the same in y; both 0: Input's. The end side has its own
	ZMin       float64 // lowest tip the cutter's reach allows, mm

	// Floor is the lowest tip height that neck, shank and holder allow at a place, on any grid; nil: none
	// but ZMin. The greatest of the nodes around a place counts. What lies lower goes to a side that
	// reaches it, and no point is emitted below.
	Floor *field.Field
}

// Input is the surface to be shared, with the cutter that cuts it.
type Input struct {
	Surface    *cl.Surface
	Mesh       *mesh.Mesh // what Surface was made of; nil: every drop of the view counts as a wall
	Sides      []Side
	Cutter     cutter.Profile
	Whole      *cutter.Cutter // the cutter with its holder, by which stick-outs are judged; nil: the usual
	Allowance  float64        // mm left on the surface
	YMin, YMax float64        // where the tip may be along the bar, mm
}

// Params says how. Lengths in mm.
type Params struct {
	Overlap float64 // how far a share reaches into its neighbours', on the path; 0: 0.6 R
	Pitch   float64 // of the grid on which shares are decided; 0: R/10, coarser on a large job
	Quick   bool    // the nodes tell near enough who reaches a place, where no path is to be made of it
	Rule    Rule    // by what a place is given to a side
	Cusp    float64 // asked for, and
	Feed    float64 // held, mm/s, by which Compare tells times; 0: 2 µm, 10 mm/s
	Near    float64 // how far about a place the nodes of a floor count, so that a move between two points keeps to it
}

// Set is the surface shared among sides.
type Set struct {
	Input
	Params
	Prof  cutter.Profile // what the exact heights are asked with: the cutter grown by the allowance
	Rise  float64        // its tip above the real cutter's
	Views []*View        // in the order of Sides

	shell  *shell  // nil: unknown
	holder float64 // radius of what holds the cutter, mm
	free   float64 // how far the cutter sticks out anyhow, mm

	once    sync.Once // the vote is counted once, when all sides have looked
	ballot  *ballot   // nil: every place for itself
	compare Comparison

	stubborn bool // merit is used whatever it gains; for tests
}

// View is the work as one side sees it, on the sharing grid. Slices are by node, row after row.
type View struct {
	Side
	Turn   geom.Turn
	Facing geom.Vec3
	Index  *cl.Index
	Field  *field.Field // exact tip heights, not below what the reach allows
	Beyond []bool       // the exact height lies below what the reach allows
	State  []State
	Foot   []bool    // a wall the side is answerable for rises beside the node
	E      []float32 // lowest tip height wanted at nodes of a share
	Hang   []float32 // at a foot: how far down the wall is wanted without a break from its top
	Climb  []float32 // and how far up from its foot

	tops *field.Field // the greatest height of the model within the holder's radius
}

// State is what a node of the sharing grid is to its side.
type State uint8

const (
	Out     State = iota
	Own           // the side is answerable for the touched place
	Wall          // beside a wall the side is answerable for, down to E
	Margin        // overlap, down to the exact surface
	Hanging       // overlap down a wall, down to E
)

// Core reports whether the side is answerable for node k.
func (v *View) Core(k int) bool { return v.State[k] == Own || v.State[k] == Wall }

// Free drops everything but what the side was given.
func (v *View) Free() { *v = View{Side: v.Side, Turn: v.Turn, Facing: v.Facing} }

// New prepares the sharing; Look and Decide do it, side by side.
func New(in Input, p Params) *Set {
	s := &Set{Input: in, Params: p, Prof: in.Cutter}
	if s.Overlap == 0 {
		s.Overlap = 0.6 * in.Cutter.R
	}
	if in.Allowance != 0 {
		if g, rise, ok := in.Cutter.Grown(in.Allowance); ok {
			s.Prof, s.Rise = g, rise
		}
	}
	area := 0.0
	for _, d := range in.Sides {
		if d.YMin == 0 && d.YMax == 0 {
			d.YMin, d.YMax = in.YMin, in.YMax
		}
		area = max(area, (d.XMax-d.XMin)*(d.YMax-d.YMin))
		t := geom.TurnDeg(d.Deg)
		s.Views = append(s.Views, &View{Side: d, Turn: t, Facing: t.Facing()})
	}
	s.body()
	if s.Pitch == 0 {
		s.Pitch = max(in.Cutter.R/10, math.Sqrt(area/6e6))
	}
	if in.Mesh != nil {
		s.shell = newShell(in.Mesh, in.Cutter.R/2)
	}
	return s
}

// All looks from every side and decides every share, without the overlap that Spread adds.
func (s *Set) All(ctx context.Context) error {
	if err := RowsErr(ctx, len(s.Views), func(i int) error { return s.Look(ctx, i) }); err != nil {
		return err
	}
	for i := range s.Views {
		if err := s.Decide(ctx, i); err != nil {
			return err
		}
	}
	return nil
}

// Look draws a side's cutter-location field.
func (s *Set) Look(ctx context.Context, i int) error {
	v := s.Views[i]
	n := 4 * s.Pitch // beyond the limits, so that a wall at a limit is seen as one
	g := field.Cover(v.XMin-n, v.XMax+n, v.YMin-n, v.YMax+n, s.Pitch, s.Pitch)
	f, err := s.Surface.Field(ctx, v.Turn, s.Cutter, s.Allowance, g)
	if err != nil {
		return err
	}
	v.Beyond = make([]bool, g.Len())
	err = Rows(ctx, g.NY, func(j int) {
		for i := range g.NX {
			k := j*g.NX + i
			if low := float32(s.Limit(v, g.X(i), g.Y(j))); f.Z[k] <= low {
				f.Z[k], v.Beyond[k] = low, true
			}
		}
	})
	v.Field = f
	if v.Index == nil {
		v.Index = s.Surface.Index(v.Turn)
	}
	if err == nil {
		s.takeTops(v)
	}
	v.State = make([]State, g.Len())
	v.Foot = make([]bool, g.Len())
	v.E = make([]float32, g.Len())
	v.Hang, v.Climb = make([]float32, g.Len()), make([]float32, g.Len())
	return err
}

// Limit is the lowest tip height that the reach of the cutter allows at a place. The nodes of Floor
// within Near of it count too, so that a move between two samples keeps to it.
func (s *Set) Limit(v *View, x, y float64) float64 {
	f := v.Floor
	if f == nil {
		return v.ZMin
	}
	dx, dy := f.DX/2+s.Near, f.DY/2+s.Near
	return max(v.ZMin, float64(f.MaxAround(x-dx, x+dx, y-dy, y+dy)))
}

// Height is the exact lowest tip height at a place of side v, not below what the reach allows, and
// whether that is what held it up.
func (s *Set) Height(v *View, x, y float64) (z float64, air bool) {
	low := s.Limit(v, x, y)
	if z = v.Index.Height(s.Prof, x, y) - s.Rise; z <= low {
		return low, true
	}
	return z, false
}

// Inside reports whether the tip may be at a place of side v.
func (s *Set) Inside(v *View, x, y float64) bool {
	const slack = 1e-9
	return x >= v.XMin-slack && x <= v.XMax+slack && y >= v.YMin-slack && y <= v.YMax+slack
}
