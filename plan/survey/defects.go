package survey

import (
	"context"

	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/cross"
)

// Hole is one boundary loop, as it is drawn. Lengths are mm, in the frame of the model's file.
type Hole struct {
	Line          []geom.Vec3 // its corners in order; the last joins the first
	At            geom.Vec3   // the middle of the line
	Normal        geom.Vec3   // the way a face over it would face
	Edges         int
	Length        float64 // along the line
	Across, Along float64 // sides of the rectangle around it, across at most along
	Flat          float64 // greatest distance from its best plane
	Area          float64 // mm², that it goes round in that plane
	Kind          HoleKind
	Shell         int // the shell it bounds
}

// HoleKind is what a hole looks like.
type HoleKind string

// The kinds of hole, from its outline, its flatness and its place on the model.
const (
	HoleTriangle HoleKind = "a triangle is missing"
	HoleSlit     HoleKind = "a slit, like a seam that was not joined"
	HoleSheet    HoleKind = "the edge of a sheet without thickness"
	HoleBase     HoleKind = "a side of the model is missing, as a base that was not closed"
	HoleRound    HoleKind = "round, like an eye or a bore left open"
	HoleWindow   HoleKind = "four-sided, like a window left open"
	HoleOther    HoleKind = "of no plain shape"
)

// Crossing is one place where the surface meets itself. Lengths are mm.
type Crossing struct {
	Kind      CrossingKind
	Pairs     int // pairs of triangles
	At        geom.Vec3
	Box       geom.Box3
	Shells    [2]int         // the two, equal where a shell meets itself
	Triangles [2]int32       // two that meet at At
	Lines     [][2]geom.Vec3 // where triangles pass through one another
}

// CrossingKind is how the surface meets itself.
type CrossingKind string

// The kinds of crossing.
const (
	CrossSelf    CrossingKind = "crosses" // a shell passes through itself
	CrossFold    CrossingKind = "folded"  // parts of a shell lie flat on one another
	CrossOverlap CrossingKind = "overlap" // two shells pass through one another
	CrossTouch   CrossingKind = "touch"   // without passing through
)

func (r *Report) cross(ctx context.Context, m *mesh.Mesh) error {
	found, err := cross.Find(ctx, m, 0)
	r.Cross = found
	return err
}
