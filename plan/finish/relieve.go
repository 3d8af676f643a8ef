package finish

import (
	"context"

	"barwise/geom"
	"barwise/geom/field/iso"
	"barwise/path"
	"barwise/plan/level"
	"barwise/plan/share"
)

// What freeing tall walls leaves on them, mm, and how far its chords may stray, in plan.
const (
	leaveOnWalls = 0.03
	strayOnWalls = 0.012
)

// shortWall is the shortest stretch, mm, for which the cutter comes to a wall: what stands there
// otherwise is lifted over.
const shortWall = 0.4

// relieve frees walls higher than the flutes of what stands on them, level by level from above, with the
// flank of the cutter: the passes that follow may then run on beside them without a lift.
func (w *work) relieve(ctx context.Context, v *share.View, st *standing, fig *Figures) ([]path.Pass, error) {
	if st == nil || w.in.Flutes <= 0 {
		return nil, nil
	}
	levels, err := level.Walls{Flutes: w.in.Flutes, Leave: leaveOnWalls, Skin: thinSkin}.Levels(ctx, w.set, v)
	if err != nil {
		return nil, err
	}
	var out []path.Pass
	for _, lines := range levels {
		var segs []segment
		for _, l := range lines {
			segs = append(segs, w.wallSegments(l, st)...)
		}
		passes, err := w.join(ctx, v, segs, st, fig)
		if err != nil {
			return nil, err
		}
		out = append(out, passes...)
	}
	for _, p := range out {
		fig.WallLength += along(p.Points)
	}
	return out, nil
}

// wallSegments turns a line into segments, leaving out where stock beside the tip stands higher than the
// flutes in spite of the levels above, and where there is none to take.
func (w *work) wallSegments(l level.Line, st *standing) []segment {
	pts := l.Pts
	if l.Closed {
		pts = append(append(make([]geom.Vec2, 0, len(pts)+1), pts...), pts[0])
	}
	var out []segment
	for a := 0; a < len(pts); {
		b := a
		for b < len(pts) && st.above(geom.Vec3{X: pts[b].X, Y: pts[b].Y, Z: l.Z}) <= w.in.Flutes {
			b++
		}
		if line := (iso.Line{Pts: pts[a:b]}); b > a+1 && line.Length() >= shortWall {
			s := segment{oneWay: true}
			for _, p := range line.Simplify(strayOnWalls).Pts {
				s.pts = append(s.pts, w.representable(p, l.Z))
			}
			out = append(out, s)
		}
		a = b + 1
	}
	return out
}

// representable rounds a place to the last decimal of the program, upward in z.
func (w *work) representable(p geom.Vec2, z float64) geom.Vec3 {
	return geom.Vec3{X: float64(w.nearest(p.X)) / w.inv, Y: float64(w.nearest(p.Y)) / w.inv, Z: float64(w.up(z)) / w.inv}
}
