package barwise

import (
	"fmt"
	"math"

	"barwise/geom"
	"barwise/geom/field"
	"barwise/job"
	"barwise/plan/reach"
	"barwise/plan/rough"
	"barwise/plan/share"
	"barwise/proof"
	"barwise/shop/cutter"
)

// The end side: the bar stands on its stop end in the vise, the face of side 0° toward −Y of the program, and
// is cut from its free end down. What a lying bar has on its floor and along its length, the standing one
// has at the stop and round about: the limits differ, all else is a side like any other.

// endLowest is the lowest tip of a cutter on the end side: its usable reach below the free end of the piece,
// deeper than which the sides do better, and above stub and jaws.
func (r *run) endLowest(c cutter.Cutter) float64 {
	return max(r.placed.Y1-max(c.LU, c.LCF), r.placed.StubY+r.job.Hold.Clearance, r.job.JawTop(geom.EndDeg)+r.job.Hold.Clearance)
}

// endTallest is how tall a wall the end side can meet: from the end of the bar to the lowest tip.
func (r *run) endTallest() float64 {
	t := 0.0
	for _, c := range r.job.Rough {
		t = max(t, r.job.Bar.Length-r.endLowest(c.Cutter))
	}
	for _, c := range r.job.Finish {
		t = max(t, r.job.Bar.Length-r.endLowest(c.Cutter))
	}
	return t
}

// endWalls are level all round: no tip comes below them, but the holder is held to them as well.
func (r *run) endWalls() []reach.Wall {
	return []reach.Wall{{Y: math.Inf(1), Top: max(r.placed.StubY, r.job.JawTop(geom.EndDeg))}}
}

// endRegion is where a roughing cutter's tip may be on the end side, and its lowest level.
func (r *run) endRegion(c cutter.Cutter) (reg rough.Region, bottom float64) {
	w, far := r.job.Bar.Window(geom.EndDeg), over(c)
	return rough.Region{XMin: w.X0 - far, XMax: w.X1 + far, YMin: w.Y0 - far, YMax: w.Y1 + far}, r.endLowest(c)
}

// endShare is the end side as finishing with a cutter takes it.
func (r *run) endShare(c cutter.Cutter, floor *field.Field) share.Side {
	reg, low := r.endRegion(c)
	return share.Side{Deg: geom.EndDeg, XMin: reg.XMin, XMax: reg.XMax, YMin: reg.YMin, YMax: reg.YMax, ZMin: low, Floor: floor}
}

// endVise is what must not be touched where the bar stands: the jaws, whichever faces they grip and wherever
// along them it stands, and the vise's floor at the stop.
func (r *run) endVise() []proof.Block {
	const far = 500.0
	h, w := r.job.Hold, r.job.Bar.Window(geom.EndDeg)
	x, y := max(w.X1+h.JawThickness, h.JawWidth), max(w.Y1+h.JawThickness, h.JawWidth)
	box := func(x, y, z float64) geom.Box3 {
		return geom.Box3{Min: geom.Vec3{X: -x, Y: -y, Z: -far}, Max: geom.Vec3{X: x, Y: y, Z: z}}
	}
	return []proof.Block{
		{Name: "jaws", Box: box(x, y, r.job.JawTop(geom.EndDeg))},
		{Name: "floor of the vise", Box: box(far, far, 0)},
	}
}

// lowestLevel is the lowest level of a roughing cut on a side.
func (r *run) lowestLevel(c job.Rough, deg float64) float64 {
	if geom.IsEnd(deg) {
		return r.endLowest(c.Cutter)
	}
	return max(-c.PastAxis, r.lowest(deg, c.Cutter))
}

// sideWords names a side in a title: 'side 90 deg', or 'end'.
func sideWords(deg float64) string {
	if geom.IsEnd(deg) {
		return geom.SideName(deg)
	}
	return fmt.Sprintf("side %g deg", deg)
}

// sideFile names a side in a file's name: 'side090', or 'end'.
func sideFile(deg float64) string {
	if geom.IsEnd(deg) {
		return geom.SideName(deg)
	}
	return fmt.Sprintf("side%03.0f", deg)
}

// firstAcross is the first of the sides that look across the bar, 0 where there is none.
func firstAcross(sides []float64) float64 {
	for _, d := range sides {
		if !geom.IsEnd(d) {
			return d
		}
	}
	return 0
}
