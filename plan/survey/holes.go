package survey

import (
	"fmt"
	"math"

	"barwise/finding"
	"barwise/geom"
	"barwise/geom/mesh"
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

// HoleKind is what a hole looks like, in words.
type HoleKind string

// The kinds of hole, told apart by outline, flatness and place on the model.
const (
	HoleTriangle HoleKind = "one triangle is missing"
	HoleSlit     HoleKind = "a slit, like a seam that was not joined"
	HoleSheet    HoleKind = "the edge of a sheet without thickness"
	HoleBase     HoleKind = "a whole face of the model is missing, like a base that was not closed"
	HoleRound    HoleKind = "round, like an eye or a bore left open"
	HoleWindow   HoleKind = "four-sided, like a window left open"
	HoleOther    HoleKind = "of no plain shape"
)

// What tells the kinds apart. A circle fills π/4 = 0.785 of the rectangle around it, a rectangle all of
// it, a right triangle half.
const (
	slitRatio   = 0.1  // across in parts of along below which a hole is a slit
	sheetShare  = 0.9  // of a shell's area that its only loop goes round, from which on it is a sheet
	baseShare   = 0.25 // of the box's outline as the hole faces, from which on it may be a missing base
	baseOff     = 0.01 // of the box's diagonal that a base may lie behind the model's utmost
	flatRatio   = 0.005
	nearlyRatio = 0.05
	bentRatio   = 0.15 // an eye follows the head it is in
	roundFrom   = 0.7
	roundTo     = 0.87
	windowFrom  = 0.9
	convexFrom  = 0.75 // of the convex outline that a round or four-sided hole takes up
)

// holes makes the drawn loops; lengths of r.Health are mm by now.
func (r *Report) holes(m *mesh.Mesh) {
	for i := range r.Health.Loops {
		l := &r.Health.Loops[i]
		h := Hole{At: l.Centre, Normal: l.Normal, Edges: l.Edges, Length: l.Length, Across: l.Across, Along: l.Along,
			Flat: l.Flat, Area: l.Area, Shell: l.Shell, Line: make([]geom.Vec3, len(l.Path))}
		for k, v := range l.Path {
			h.Line[k] = m.Vertices[v].Mul(r.UnitMM)
		}
		h.Kind = r.kind(m, l, &h)
		r.Holes = append(r.Holes, h)
	}
}

func (r *Report) kind(m *mesh.Mesh, l *mesh.Loop, h *Hole) HoleKind {
	shell := &r.Health.Shells[h.Shell]
	// of the convex outline, so that an edge in zigzag along a row of triangles counts as the line it
	// follows; NaN for a line without width, which no comparison takes
	filled := l.Outline / (l.Across * l.Along)
	switch {
	case shell.Loops == 1 && shell.Euler == 1 && h.Area >= sheetShare*shell.Area:
		return HoleSheet
	case h.Edges <= 3:
		return HoleTriangle
	case h.Across < slitRatio*h.Along:
		return HoleSlit
	case r.base(m, h):
		return HoleBase
	case h.Flat > bentRatio*h.Along || h.Area < convexFrom*l.Outline:
		return HoleOther
	case filled >= windowFrom:
		return HoleWindow
	case filled >= roundFrom && filled <= roundTo:
		return HoleRound
	}
	return HoleOther
}

// base reports whether the hole is nearly flat, large, and the model has nothing beyond it.
func (r *Report) base(m *mesh.Mesh, h *Hole) bool {
	s, n := r.Health.Box.Size(), h.Normal
	outline := float64(math.Abs(n.X)*s.Y*s.Z) + float64(math.Abs(n.Y)*s.Z*s.X) + float64(math.Abs(n.Z)*s.X*s.Y)
	if h.Area < baseShare*outline || h.Flat > nearlyRatio*h.Along {
		return false
	}
	utmost := math.Inf(-1)
	for _, t := range m.Triangles {
		for _, v := range t {
			utmost = max(utmost, m.Vertices[v].Dot(n))
		}
	}
	return float64(utmost*r.UnitMM)-h.At.Dot(n) <= baseOff*s.Len()
}

// text says how large a hole is and what it looks like.
func (h *Hole) text() string {
	across := three(h.Across) + " mm across"
	if h.Along > 1.25*h.Across {
		across = three(h.Across) + " × " + three(h.Along) + " mm"
	}
	flat := "flat"
	switch {
	case h.Flat > nearlyRatio*h.Along:
		flat = fmt.Sprintf("bent by %.2g mm", h.Flat)
	case h.Flat > flatRatio*h.Along:
		flat = "nearly flat"
	}
	return fmt.Sprintf("a hole %s, %s, open along %d edges, %.4g mm round: %s", across, flat, h.Edges, h.Length, h.Kind)
}

// three writes a length to three figures, and to whole millimetres above.
func three(x float64) string {
	if x >= 100 {
		return fmt.Sprintf("%.0f", x)
	}
	return fmt.Sprintf("%.3g", x)
}

// open names the boundary loops.
func (r *Report) open(p Params) {
	if len(r.Holes) == 0 {
		return
	}
	sev, hint := finding.Blocking, "close the holes in the program the model comes from or with 'mend: {fill: ...}', or accept the mesh as it is with 'accept: open'"
	if p.AcceptOpen {
		sev, hint = finding.Warning, "accepted as it is: the surface is cut where there is one, and the holes stay as the bar leaves them"
	}
	for i := range r.Holes {
		if i == p.MaxLoops {
			total := 0.0
			for _, h := range r.Holes[i:] {
				total += h.Length
			}
			r.add("mesh-open", sev, fmt.Sprintf("%d more loops", len(r.Holes)-i),
				fmt.Sprintf("the surface is open there too, along %.4g mm in all", total), hint)
			break
		}
		h := &r.Holes[i]
		r.add("mesh-open", sev, fmt.Sprintf("loop %d near %s", i+1, place(h.At)), h.text(), hint)
	}
}
