// Package cusp measures the ridges that finishing passes leave between them on a model's surface.
//
// It stands on places spread evenly over the surface. At each it cuts the surface by the plane across the
// nearest pass and goes along that section to either side, asking at every step how far the surface lies from
// the nearest sweep and which pass that sweep is of. Where the nearest pass changes there is the crest of a
// ridge, and between two crests there is a valley, where the pass runs. The height at a place is that of the
// crest on its side, along the normal, over the mean of the two valleys.
//
// Distances from sweeps are exact for balls and for level moves; a move sweeps its cutter with everything above
// it. What no ball can take does not count as a cusp: at crests higher than asked the best that a ball in the
// surface's own hollow could do is taken off. Its place is found by pushing the ball out of the surface, which
// ends near the best place and no nearer, so a cusp in a hollow is, if anything, told too low.
//
// Lengths are mm.
package cusp

import (
	"context"
	"fmt"
	"math"
	"slices"

	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/path"
	"barwise/shop/cutter"
)

// Program is one program of finishing, in the frame of its side, and its cutter.
type Program struct {
	path.Program
	Cutter cutter.Cutter
}

// Params is how to look.
type Params struct {
	Cusp    float64 // height asked for; it must be given
	Places  int     // 0: 12000
	Touched float64 // a valley farther from the surface than this is no pass on it; 0: three times Cusp, 0.005 at least
	Reach   float64 // longest way from a place to a crest; 0: 2.5 times the spacing that Cusp asks for on a plane
	// Skip, where set, tells of surface that is not judged; part frame.
	Skip func(geom.Vec3) bool
}

// Place is one place with a ridge.
type Place struct {
	Point   geom.Vec3 // part frame
	Normal  geom.Vec3 // outward, smoothed over half a spacing
	Height  float64   // of the ridge
	Spacing float64   // of the two passes, along the surface
	// Pair is the height that the spacing and the section's curvature κ ask for: R − √(R² − w²/4) + κw²/8. It
	// knows nothing of distances from sweeps. It is 0 where the cutter is no ball.
	Pair    float64
	Program int // whose pass is nearest
}

// Result is what was measured.
type Result struct {
	Asked         float64
	P50, P99, Max float64 // of Height over the places
	Where         geom.Vec3
	Pair50        float64 // of Pair
	Pair99        float64
	Places        []Place
	// The places that have no ridge to judge: not touched by any pass, with no pass on their side within
	// reach (the rim of a share or of the model), in a hollow that no ball reaches into, and skipped.
	Untouched, Rim, Hollow, Skipped int
	Each                            float64 // mm² of surface that a place stands for
}

// Measure measures the ridges on the target, in the part frame, its triangles counter-clockwise from outside.
func Measure(ctx context.Context, target *mesh.Mesh, programs []Program, q Params) (*Result, error) {
	if !(q.Cusp > 0) || math.IsInf(q.Cusp, 1) {
		return nil, fmt.Errorf("cusps: a height of %g mm is asked for, it must be above 0", q.Cusp)
	}
	if q.Places <= 0 {
		q.Places = 12000
	}
	if q.Touched <= 0 {
		q.Touched = max(3*q.Cusp, 0.005)
	}
	s := &scene{q: q, m: target}
	if err := s.index(ctx, programs); err != nil {
		return nil, err
	}
	s.edges = target.Edges()
	spots := s.spread()
	found := make([]verdict, len(spots))
	const chunk = 64
	err := eachChunk(ctx, len(spots), chunk, func() func(i int) {
		w := s.worker()
		return func(i int) { found[i] = w.place(spots[i]) }
	})
	if err != nil {
		return nil, err
	}
	r := &Result{Asked: q.Cusp, Each: s.area / float64(max(1, len(spots)))}
	r.sum(found)
	return r, nil
}

// sum sorts out what was found.
func (r *Result) sum(found []verdict) {
	var all, pair []float64
	for i := range found {
		switch v := &found[i]; v.what {
		case untouched:
			r.Untouched++
		case rim:
			r.Rim++
		case hollow:
			r.Hollow++
		case skipped:
			r.Skipped++
		default:
			r.Places = append(r.Places, v.Place)
			all = append(all, v.Height)
			if v.Pair > 0 {
				pair = append(pair, v.Pair)
			}
			if v.Height > r.Max {
				r.Max, r.Where = v.Height, v.Point
			}
		}
	}
	slices.Sort(all)
	slices.Sort(pair)
	r.P50, r.P99 = at(all, 0.5), at(all, 0.99)
	r.Pair50, r.Pair99 = at(pair, 0.5), at(pair, 0.99)
}

// at is the value that share of the sorted values do not exceed.
func at(sorted []float64, share float64) float64 {
	if len(sorted) == 0 {
		return 0
	}
	return sorted[min(len(sorted)-1, int(math.Ceil(share*float64(len(sorted))))-1)]
}

// spot is a place to look at.
type spot struct {
	p   geom.Vec3
	tri int32
}

// spread lays places evenly by area: one in each of as many equal stretches of the running sum of the
// triangles' areas, within its triangle by the fractions of multiples of two numbers that fill a square evenly.
func (s *scene) spread() []spot {
	sum := make([]float64, len(s.m.Triangles)+1)
	for i := range s.m.Triangles {
		sum[i+1] = sum[i] + s.cross(int32(i)).Len()/2
	}
	s.area = sum[len(sum)-1]
	if !(s.area > 0) {
		return nil
	}
	out := make([]spot, 0, s.q.Places)
	t := 0
	for i := range s.q.Places {
		_, jitter := math.Modf(0.5 + float64(float64(i)*0.6180339887498949)) // lest a mesh's own order comes through
		want := s.area * (float64(i) + jitter) / float64(s.q.Places)
		for t+1 < len(s.m.Triangles) && sum[t+1] <= want {
			t++
		}
		_, u := math.Modf(0.5 + float64(float64(i)*0.7548776662466927))
		_, v := math.Modf(0.5 + float64(float64(i)*0.5698402909980532))
		if u+v > 1 {
			u, v = 1-u, 1-v
		}
		a, b, c := s.m.Corners(t)
		out = append(out, spot{a.Add(b.Sub(a).Mul(u)).Add(c.Sub(a).Mul(v)), int32(t)})
	}
	return out
}

// cross is twice the area vector of a triangle.
func (s *scene) cross(t int32) geom.Vec3 {
	a, b, c := s.m.Corners(int(t))
	return b.Sub(a).Cross(c.Sub(a))
}
