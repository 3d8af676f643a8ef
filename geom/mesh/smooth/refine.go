// Package smooth finds the curved surface that the facets of a mesh stand for.
package smooth

import (
	"context"
	"fmt"
	"math"

	"barwise/finding"
	"barwise/geom"
	"barwise/geom/mesh"
)

// Params says how fine a refined mesh is to be. A zero field means the default beside it.
type Params struct {
	CreaseDeg float64 // kinks above this are meant and stay sharp; 40
	Chord     float64 // mm, the greatest distance of a facet from the curved surface; 0.001
	KinkDeg   float64 // the greatest angle between neighbouring facets, creases apart; 0: whatever Chord gives
	Most      int     // the most triangles of the result; 6 million
}

// DefaultCreaseDeg is the kink above which an edge is taken as meant (common practice: 30° to 45°).
const DefaultCreaseDeg = 40

func (p Params) or() Params {
	if p.CreaseDeg == 0 {
		p.CreaseDeg = DefaultCreaseDeg
	}
	if p.Chord == 0 {
		p.Chord = 0.001
	}
	if p.Most == 0 {
		p.Most = 6_000_000
	}
	return p
}

func (p Params) check() error {
	if !(p.CreaseDeg > 0 && p.CreaseDeg < 180 && p.Chord > 0 && p.KinkDeg >= 0) || math.IsInf(p.Chord, 0) || p.Most < 0 {
		return finding.Bad("refine-params", "refine", fmt.Sprintf("crease %g°, chord %g mm, kink %g°, at most %d triangles", p.CreaseDeg, p.Chord, p.KinkDeg, p.Most),
			"give a crease between 0° and 180°, a chord above 0, a kink and a number of triangles that are not negative")
	}
	return nil
}

// Figures tell how smooth a mesh is.
type Figures struct {
	Triangles int     `json:"triangles"`
	ChordMM   float64 `json:"chord_mm"` // the greatest, estimated
	KinkDeg   float64 `json:"kink_deg"` // the greatest, creases apart
}

// Result is a mesh refined. The vertices of the old mesh come first, unmoved.
type Result struct {
	Mesh          *mesh.Mesh
	From          []int32 // per triangle of Mesh: the triangle of the old mesh that it is part of
	Before, After Figures
	MovedMM       float64   // the greatest distance of a new vertex from its old facet
	MovedAt       geom.Vec3 // where
	Capped        int       // edges whose curve was held back, for it strayed further than the kinks speak for, or would have folded a facet
	Short         bool      // Most was in the way: Chord or KinkDeg is not reached
}

// Refine puts smaller facets on the curved surface that m's facets stand for. What was flat stays flat,
// creases stay sharp and are refined as curves through their own tangents, a closed mesh stays closed. Each
// triangle is cut as finely as it needs, neighbours alike along their common edge. The surface has no kink
// along the old edges but at creases, and where a curve was held back.
func Refine(ctx context.Context, m *mesh.Mesh, p Params) (*Result, error) {
	p = p.or()
	if err := p.check(); err != nil {
		return nil, err
	}
	g, err := Look(ctx, m, nil, p.CreaseDeg)
	if err != nil {
		return nil, err
	}
	s, err := g.raise(ctx)
	if err != nil {
		return nil, err
	}
	w := s.wants(ctx, p)
	r, err := w.make(ctx)
	// where facets of unlike size meet, a kink may be left that is somewhat too large: cut those finer
	for try := 0; err == nil && try < 3 && !r.Short && w.finer(r); try++ {
		var more *Result
		if more, err = w.make(ctx); err == nil && (more.Short || more.After.KinkDeg > r.After.KinkDeg) {
			r.Short = more.Short
			break
		} else if err == nil {
			r = more
		}
	}
	if err != nil {
		return nil, err
	}
	return r, ctx.Err()
}
