// Package cl computes exact cutter-location surfaces: how low a cutter's tip may go above every point
// of a side so that the cutter stays clear of a triangle mesh.
//
// # The law
//
// A cutter is a body of revolution of profile h(r), the height of its surface above its tip at radius
// r ≤ R, convex and non-decreasing (cutter.Profile). With its tip at (x, y, z) it is clear of a point q of
// the mesh if z ≥ q.z − h(|xy − q|). So the lowest tip height is
//
//	Z(x, y) = max over all points q of all triangles, |xy − q| ≤ R, of q.z − h(|xy − q|)
//
// and −Inf where no point is in reach. Every triangle counts from both of its faces: the result does
// not depend on how a mesh is wound, whether it is closed, or whether it is manifold. For one vertex, edge
// or triangle the expression in q is concave, so an optimum found on a whole line or plane and clamped to
// the element is the element's own: nothing is sampled.
//
// # The elements
//
// The profile is a disc of radius a, an arc of radius c and a flank of slope k (rise per radius), cut off at
// R. Five cutters are special cases; so is every cutter grown by an allowance.
//
//   - Vertex v: Z = v.z − h(d), d the horizontal distance.
//   - Facet of slope m: the plane is touched at the largest radius r with h'(r) ≤ m. The facet's bound is a
//     copy of the facet, moved by r up the slope's own direction away from it and by h(r) down. For a ball
//     the move is R·n − (0, 0, R).
//   - Edge of rise m at distance d from the axis: the touched point lies s up the line from the foot, where
//     m = h'(ρ)·s/ρ with ρ² = d² + s²: on the flank s = m·d/√(k² − m²); on the arc of a ball
//     s = m·√(c² − d²)/√(1 + m²); on the arc of a bull end by Newton's method from a concave equation; on
//     the disc's or the rim's corner s = √(a² − d²), √(R² − d²). Then s is clamped to the segment.
//
// # Two ways to the same heights
//
// Index answers for single points: a tree of boxes is walked down, the more promising branch first, and the
// formulas above decide at the leaves. It is float64 throughout.
//
// Surface.Field draws. Where Z is attained inside an element, the mesh next to it lies below the plane that
// the cutter touches it with. So a facet contributes only its moved copy; an edge only the strip of axes
// that pass between its two facets' copies, and nothing if it bends inward; a vertex only the patch spanned
// by its facets' normals, and nothing if fewer than three of its edges bend outward. Drawn into a z-buffer,
// tile by tile, their total area is about that of the mesh moved out by R, whatever R is. A patch drawn too
// large is still exact, for every value drawn is some element's true bound; one drawn too small would let
// the cutter gouge. So patches are bounded generously, and where the mesh is open, not manifold, degenerate
// or so sharp that its normals span half a turn, whole cylinders and caps are drawn. From within the
// material the same is done for what faces down; nearly all of that is hidden and skipped.
//
// # Errors
//
//   - Values of a field are rounded to the nearest float32: 1.9 nm at most below 64 mm, 3.8 nm below 128 mm,
//     either way.
//   - Patches reach over their borders by a slack of 2·10⁻⁷ R + 10⁻¹⁰ of the largest coordinate (0.1 nm for a
//     Ø1 ball on a 100 mm model). At such a border the greater value wins, so this errs upward, the safe
//     way, and by second order in the slack except on the rim of a disc.
//   - Edges that are upright but for the slack, and facets upright to 10⁻¹² rad, are left to their
//     neighbours: the place of a wall is certain to the slack, either way.
//   - An allowance δ asks for the cutter grown by δ. That is exact but at the rim of a cone or a tapered
//     ball, which is kept sharp where the true parallel surface is round: there the cutter stays up to
//     δ·(1/cos(β/2) − 1) farther off than asked, β the flank's lean: the safe way.
//
// Results do not depend on the number of cores: tiles depend on the grid alone, and the greatest of the
// same values is the same in any order.
package cl
