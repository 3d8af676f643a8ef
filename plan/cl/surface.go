package cl

import (
	"context"
	"fmt"
	"runtime"
	"sync"
	"sync/atomic"

	"barwise/geom"
	"barwise/geom/field"
	"barwise/geom/mesh"
	"barwise/shop/cutter"
)

// Surface is a mesh made ready to be asked for cutter locations from any side with any cutter. It is
// safe for concurrent use.
type Surface struct {
	mesh *mesh.Mesh
}

// NewSurface works out once what all sides and cutters need of m, in the part frame. The mesh may be
// open, not manifold or degenerate; every triangle counts, from both of its faces.
func NewSurface(m *mesh.Mesh) *Surface { return &Surface{mesh: m} }

// Field returns the exact lowest height of the tip at every node of g so that the cutter stays
// allowance (mm, negative to cut deeper) off the mesh, field.Empty where the cutter misses the mesh.
func (s *Surface) Field(ctx context.Context, t geom.Turn, p cutter.Profile, allowance float64, g field.Grid) (*field.Field, error) {
	grown, rise, ok := p.Grown(allowance)
	if !ok {
		return nil, fmt.Errorf("cutter of radius %g mm: nothing is left of it at an allowance of %g mm", p.R, allowance)
	}
	sh := newShape(grown)
	ix := s.Index(t)
	f := &field.Field{Grid: g, Z: make([]float32, g.Len())}
	var next atomic.Int64
	var wg sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		wg.Go(func() {
			for ctx.Err() == nil {
				j := int(next.Add(1)) - 1
				if j >= g.NY {
					return
				}
				row, seed := f.Row(j), int32(-1)
				for i := range row {
					b, id := ix.descend(&sh, g.X(i), g.Y(j), seed)
					row[i], seed = float32(b.z-rise), id
				}
			}
		})
	}
	wg.Wait()
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	return f, nil
}
