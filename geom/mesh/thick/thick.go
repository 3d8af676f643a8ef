// Package thick measures how thick a solid is at every place of its surface.
//
// The thickness at a place p with outward normal n is the diameter of the largest ball inside that
// touches p there: the least |q − p|² / (n·(p − q)) over all q of the surface (the ball through q, as in
// the shrinking balls of Ma, Bae and Choi, The Visual Computer 28 (2012)). Of the surface only an
// opposite wall counts, so that a box is not thin along its edges: see Params.WedgeDeg.
//
// Each triangle is met in closed form, and which triangle binds is found by descent through a tree of
// boxes; nothing is sampled but the patches' centres.
package thick

import (
	"context"
	"fmt"
	"math"
	"runtime"
	"sync"
	"sync/atomic"

	"barwise/finding"
	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/patch"
)

// DefaultWedgeDeg is the angle below which two faces that meet are a wall that tapers, not the two sides
// of a corner. At 75° the corners of boxes and of six- and eight-sided bars are no walls, the edge of a
// three-sided bar is one.
const DefaultWedgeDeg = 75

// Params says how far to look.
type Params struct {
	Most float64 // mm: what is thicker counts as Most, and costs little to find out

	// WedgeDeg is the greatest angle between two faces, measured in the solid, at which the one is an
	// opposite wall of the other; 0: DefaultWedgeDeg. So a wedge sharper than this is thin near its edge,
	// as thick as the ball that fits there; one blunter is measured to whatever lies behind it. In a
	// round tip (the end of a blade) the ball of the tip's own curvature does not count either.
	WedgeDeg float64

	Triangles int // only the first so many triangles are the solid; 0: all
}

// Measure returns the wall's thickness at every patch's centre, mm, at most p.Most. It is p.Most also
// where nothing was measured: at a patch without area, and at one of a triangle beyond p.Triangles.
//
// The mesh need not be closed. Where there is no opposite wall (behind a hole, a sheet) the place
// counts as thick; where a triangle faces the wrong way it is no wall for the others, and what is
// measured from it is the gap. Two triangles in one place that face opposite ways are a wall of 0. Where
// shells overlap, a wall of one shell inside another counts. A ball that bulges through a blunt edge
// may meet an opposite wall beyond the air there: the figure is too small then.
//
// The error is ctx's, or a *finding.InputError for p.
func Measure(ctx context.Context, m *mesh.Mesh, s *patch.Set, p Params) ([]float32, error) {
	return measure(ctx, m, s, p, 1)
}

// Gap is Measure of the air: the diameter of the largest ball outside the solid that touches each
// patch's centre, which is how narrow a slot or a pocket is there.
func Gap(ctx context.Context, m *mesh.Mesh, s *patch.Set, p Params) ([]float32, error) {
	return measure(ctx, m, s, p, -1)
}

func measure(ctx context.Context, m *mesh.Mesh, s *patch.Set, p Params, facing float64) ([]float32, error) {
	if !(p.Most > 0) || math.IsInf(p.Most, 0) {
		return nil, finding.Bad("thickness-limit", "most", fmt.Sprintf("thickness up to %g mm, allowed is more than 0", p.Most), "give a finite length")
	}
	if p.WedgeDeg == 0 {
		p.WedgeDeg = DefaultWedgeDeg
	}
	if !(p.WedgeDeg > 0) || p.WedgeDeg >= 180 {
		return nil, finding.Bad("thickness-limit", "wedge", fmt.Sprintf("wedges up to %g°, allowed is more than 0 and less than 180", p.WedgeDeg), "75 is usual")
	}
	n := len(m.Triangles)
	if p.Triangles > 0 {
		n = min(n, p.Triangles)
	}
	tree, err := grow(ctx, m, n, facing)
	if err != nil {
		return nil, err
	}
	out := make([]float32, s.Len())
	const chunk = 256
	var next atomic.Int64
	var wg sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), (s.Len()+chunk-1)/chunk) {
		wg.Go(func() {
			q := newQuery(tree, p)
			for ctx.Err() == nil {
				lo := (int(next.Add(1)) - 1) * chunk
				if lo >= s.Len() {
					return
				}
				for i := lo; i < min(lo+chunk, s.Len()); i++ {
					out[i] = float32(p.Most)
					normal := s.Normal(i)
					if int(s.Of[i]) < n && normal != (geom.Vec3{}) && normal.Finite() {
						out[i] = float32(q.at(s.Centre(i), normal.Mul(facing)))
					}
				}
			}
		})
	}
	wg.Wait()
	return out, ctx.Err()
}
