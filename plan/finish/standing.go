package finish

import (
	"math"
	"slices"

	"barwise/geom"
	"barwise/geom/field"
	"barwise/shop/cutter"
)

// standing is what is left of the bar on a side while its passes are laid down one after the other. It
// answers how high stock stands beside a tip: higher than the flutes the neck would rub on it. Lowered
// at its nodes by the swept cutter, never by more than that took.
type standing struct {
	f    *field.Field
	prof cutter.Profile
	beam float64 // radius within which stock counts
}

// thinSkin is how far inside the cutter's rim stock begins to count, mm: a neck stands back by some of it
// and a skin that thin gives way; common practice, no source. Half a cell's diagonal is the grid's own doubt.
const thinSkin = 0.06

func newStanding(seen *field.Field, p cutter.Profile) *standing {
	return &standing{f: seen.Clone(), prof: p, beam: p.R - min(max(thinSkin, 0.71*seen.DX), p.R/2)}
}

// above is how high stock stands above a tip, within its beam; below 0 where none does.
func (s *standing) above(p geom.Vec3) float64 {
	f := s.f
	j0, j1 := max(0, int(math.Ceil((p.Y-s.beam-f.Y0)/f.DY))), min(f.NY-1, int(math.Floor((p.Y+s.beam-f.Y0)/f.DY)))
	top := field.Empty
	for j := j0; j <= j1; j++ {
		dy := f.Y(j) - p.Y
		half := math.Sqrt(max(0, float64(s.beam*s.beam)-float64(dy*dy)))
		i0, i1 := max(0, int(math.Ceil((p.X-half-f.X0)/f.DX))), min(f.NX-1, int(math.Floor((p.X+half-f.X0)/f.DX)))
		if i0 > i1 {
			continue
		}
		for _, z := range f.Z[j*f.NX+i0 : j*f.NX+i1+1] {
			top = max(top, z)
		}
	}
	return float64(top) - p.Z
}

// sweep lowers by one move. The height of the cutter over a node is taken where the way is nearest to it:
// on a slope the cutter passes lower there, so this errs upward.
func (s *standing) sweep(a, b geom.Vec3) {
	f, r := s.f, s.prof.R
	low := float32(min(a.Z, b.Z))
	d := b.Sub(a)
	l2 := float64(d.X*d.X) + float64(d.Y*d.Y)
	i0, i1 := int(math.Ceil((min(a.X, b.X)-r-f.X0)/f.DX)), int(math.Floor((max(a.X, b.X)+r-f.X0)/f.DX))
	j0, j1 := int(math.Ceil((min(a.Y, b.Y)-r-f.Y0)/f.DY)), int(math.Floor((max(a.Y, b.Y)+r-f.Y0)/f.DY))
	i0, j0, i1, j1 = max(i0, 0), max(j0, 0), min(i1, f.NX-1), min(j1, f.NY-1)
	for j := j0; j <= j1; j++ {
		py := f.Y(j) - a.Y
		row := f.Z[j*f.NX : (j+1)*f.NX]
		for i := i0; i <= i1; i++ {
			if row[i] <= low {
				continue
			}
			px := f.X(i) - a.X
			t := 1.0
			if l2 > 0 {
				t = max(0, min(1, (float64(px*d.X)+float64(py*d.Y))/l2))
			}
			ex, ey := px-float64(t*d.X), py-float64(t*d.Y)
			q := float64(ex*ex) + float64(ey*ey)
			if q > r*r {
				continue
			}
			z := a.Z + float64(t*d.Z)
			if l2 == 0 {
				z = min(a.Z, b.Z)
			}
			if h := float32(z + s.prof.Height(math.Sqrt(q))); h < row[i] {
				row[i] = h
			}
		}
	}
}

// overStock lowers what stands by a segment, run backward where reverse says, and returns the segment
// raised to where stock beside it is no higher than the flutes: what roughing could not enter stays there.
// Straight down is allowed, for the end of the cutter meets that bit by bit.
func (w *work) overStock(st *standing, pts []geom.Vec3, reverse bool) []geom.Vec3 {
	if reverse {
		pts = slices.Clone(pts)
		slices.Reverse(pts)
	}
	st.sweep(pts[0], pts[0])
	out := append(make([]geom.Vec3, 0, len(pts)), pts[0])
	for k := 1; k < len(pts); k++ {
		from := len(out) - 1
		out = w.overChord(st, out, pts[k-1], pts[k])
		for i := from + 1; i < len(out); i++ {
			st.sweep(out[i-1], out[i])
		}
	}
	if reverse {
		slices.Reverse(out)
	}
	return out
}

// overChord appends what leads from a, or what stands raised over it, to b.
func (w *work) overChord(st *standing, out []geom.Vec3, a, b geom.Vec3) []geom.Vec3 {
	if a.XY() == b.XY() {
		return append(out, b)
	}
	n := int(b.XY().Sub(a.XY()).Len()/st.f.DX) + 1
	way := make([]geom.Vec3, 0, n)
	raised := out[len(out)-1] != a
	for i := 1; i <= n; i++ {
		q := b
		if i < n {
			m := a.Lerp(b, float64(i)/float64(n))
			q = w.representable(m.XY(), m.Z)
		}
		if high := st.above(q) - w.in.Flutes; high > 0 {
			q.Z, raised = float64(w.up(q.Z+high))/w.inv, true
		}
		way = append(way, q)
	}
	if !raised {
		return append(out, b)
	}
	for _, q := range way {
		if p := out[len(out)-1]; math.Abs(q.Z-p.Z) > st.f.DX {
			out = append(out, knee(p, q)) // up before it goes aside, aside before it goes down
		}
		out = append(out, q)
	}
	return out
}
