// Package field holds heights on a regular grid, seen from one side.
package field

import (
	"math"

	"barwise/geom"
)

// Empty is the height where there is nothing.
var Empty = float32(math.Inf(-1))

// Grid is a regular grid of nodes: node (i, j) stands at (X0 + i·DX, Y0 + j·DY), in mm of the side
// frame. The pitches may differ.
type Grid struct {
	X0, Y0, DX, DY float64
	NX, NY         int
}

// Len is the number of nodes.
func (g Grid) Len() int { return g.NX * g.NY }

// X returns the x of column i.
func (g Grid) X(i int) float64 { return g.X0 + float64(float64(i)*g.DX) }

// Y returns the y of row j.
func (g Grid) Y(j int) float64 { return g.Y0 + float64(float64(j)*g.DY) }

// Nearest returns the node nearest to p; it may lie outside the grid.
func (g Grid) Nearest(p geom.Vec2) (i, j int) {
	return int(math.Floor((p.X-g.X0)/g.DX + 0.5)), int(math.Floor((p.Y-g.Y0)/g.DY + 0.5))
}

// Inside reports whether node (i, j) is on the grid.
func (g Grid) Inside(i, j int) bool { return i >= 0 && j >= 0 && i < g.NX && j < g.NY }

// Cover returns the grid of the given pitches whose nodes cover [x0,x1]×[y0,y1], with nodes at whole
// multiples of the pitch so that grids of one pitch share their nodes.
func Cover(x0, x1, y0, y1, dx, dy float64) Grid {
	i0, i1 := math.Floor(x0/dx), math.Ceil(x1/dx)
	j0, j1 := math.Floor(y0/dy), math.Ceil(y1/dy)
	return Grid{X0: i0 * dx, Y0: j0 * dy, DX: dx, DY: dy, NX: int(i1-i0) + 1, NY: int(j1-j0) + 1}
}

// Field is a height at every node of a grid, row after row: node (i, j) is Z[j*NX+i], in mm.
type Field struct {
	Grid
	Z []float32
}

// New returns a field filled with z.
func New(g Grid, z float32) *Field {
	f := &Field{Grid: g, Z: make([]float32, g.Len())}
	for i := range f.Z {
		f.Z[i] = z
	}
	return f
}

// At returns the height at node (i, j), Empty outside the grid.
func (f *Field) At(i, j int) float32 {
	if !f.Inside(i, j) {
		return Empty
	}
	return f.Z[j*f.NX+i]
}

// Row returns the heights of row j, shared with the field.
func (f *Field) Row(j int) []float32 { return f.Z[j*f.NX : (j+1)*f.NX] }

// Clone returns a copy that shares nothing.
func (f *Field) Clone() *Field { return &Field{Grid: f.Grid, Z: append([]float32(nil), f.Z...)} }

// MaxAround returns the greatest height among the nodes within half a pitch of the box
// [x0,x1]×[y0,y1]; Empty where the box misses the grid.
func (f *Field) MaxAround(x0, x1, y0, y1 float64) float32 {
	i0, j0 := f.Nearest(geom.Vec2{X: x0, Y: y0})
	i1, j1 := f.Nearest(geom.Vec2{X: x1, Y: y1})
	i0, j0, i1, j1 = max(i0, 0), max(j0, 0), min(i1, f.NX-1), min(j1, f.NY-1)
	m := Empty
	for j := j0; j <= j1; j++ {
		row := f.Z[j*f.NX:]
		for i := i0; i <= i1; i++ {
			m = max(m, row[i])
		}
	}
	return m
}
