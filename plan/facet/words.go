package facet

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"barwise/finding"
	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/unit"
)

// spread takes the quantiles of a value by area.
func spread(value []float32, m *mesh.Mesh, whole float64) Spread {
	order := make([]int32, 0, len(value))
	var zero float64 // area where the value is 0, which need not be sorted
	area := func(t int32) float64 {
		a, b, c := m.Corners(int(t))
		return b.Sub(a).Cross(c.Sub(a)).Len() / 2
	}
	for t, v := range value {
		if v > 0 {
			order = append(order, int32(t))
		} else {
			zero += area(int32(t))
		}
	}
	slices.SortFunc(order, func(a, b int32) int { return cmp.Or(cmp.Compare(value[a], value[b]), cmp.Compare(a, b)) })
	var s Spread
	sum := zero
	for _, t := range order {
		v := float64(value[t])
		before := sum
		sum += area(t)
		for _, q := range []struct {
			at float64
			to *float64
		}{{0.5, &s.Median}, {0.9, &s.P90}, {0.99, &s.P99}} {
			if before < q.at*whole && sum >= q.at*whole {
				*q.to = v
			}
		}
		s.Most = v
	}
	return s
}

// few is the number of triangles that need no thinning: they cost no time.
const few = 50_000

// far is how many times too fine a mesh must be for it to be said.
const far = 8

func (r *Result) judge(p Params) {
	r.Verdict = r.words()
	if r.KinkShare > 0 {
		r.add("facet-shows", finding.Warning, place(r.KinkAt),
			fmt.Sprintf("facets will show on %s of the surface: neighbours meet at up to %.2g°, %.2g° shows on %s material%s (estimate)",
				percent(r.KinkShare), r.KinkDeg.Most, r.KinkLimit, sheen(p), r.among()), r.hint())
	}
	switch {
	case r.OverShare > 0:
		r.add("facet-chord", finding.Warning, place(r.ChordAt),
			fmt.Sprintf("facets lie up to %s off the surface they stand for, the tolerance is %s; on %s of the surface they are past it",
				length(r.ChordMM.Most), length(p.Tolerance), percent(r.OverShare)), r.hint())
	case r.ChordShare > 0:
		r.add("facet-chord", finding.Note, place(r.ChordAt),
			fmt.Sprintf("facets lie up to %s off the surface they stand for, the finish asked for is %s; on %s of the surface they are coarser than it",
				length(r.ChordMM.Most), length(r.ChordAsk), percent(r.ChordShare)), r.hint())
	}
	if r.fine() {
		r.add("facet-fine", finding.Note, "",
			fmt.Sprintf("the mesh is far finer than the finish needs: about %s of its %s triangles would do", count(r.Enough*float64(r.Triangles)), count(float64(r.Triangles))),
			"nothing need be done; a coarser export is planned faster")
	}
	finding.Sort(r.Findings)
}

// among says which facets are lost among cusps.
func (r *Result) among() string {
	if r.stepover == 0 {
		return ""
	}
	return " where facets are wider than four passes, " + length(r.Hidden)
}

func (r *Result) add(code string, s finding.Severity, where, text, hint string) {
	r.Findings = append(r.Findings, finding.Finding{Code: code, Severity: s, Where: where, Text: text, Hint: hint})
}

func (r *Result) hint() string {
	return fmt.Sprintf("export the model with about %s triangles, or ask for refine", count(r.Needed*float64(r.Triangles)))
}

func (r *Result) fine() bool { return r.ShowShare == 0 && r.Triangles > few && r.Enough*far < 1 }

func (r *Result) words() string {
	switch {
	case r.KinkShare > 0:
		s := fmt.Sprintf("facets will show on %s of the surface", percent(r.KinkShare))
		if r.ChordShare > r.KinkShare {
			s += fmt.Sprintf(" and are coarser than the finish on %s", percent(r.ChordShare))
		}
		return s + "; " + needed(r.Needed)
	case r.ChordShare > 0:
		return fmt.Sprintf("the facets are coarser than the finish on %s of the surface; %s", percent(r.ChordShare), needed(r.Needed))
	case r.fine():
		return fmt.Sprintf("no facet will show; the mesh is far finer than needed, about %s triangles would do", count(r.Enough*float64(r.Triangles)))
	}
	return "no facet will show"
}

func sheen(p Params) string {
	if p.Shiny {
		return "shiny"
	}
	return "matt"
}

func place(p geom.Vec3) string {
	return fmt.Sprintf("(%s, %s, %s) mm", unit.Number(p.X, 3), unit.Number(p.Y, 3), unit.Number(p.Z, 3))
}

func percent(share float64) string {
	switch p := 100 * share; {
	case p < 0.1:
		return "less than 0.1 %"
	case p < 9.95:
		return fmt.Sprintf("%.1f %%", p)
	default:
		return fmt.Sprintf("%.0f %%", p)
	}
}

// needed says how many triangles are. Where that is hardly more than there are, they lie in the wrong places.
func needed(f float64) string {
	if f < 1.2 {
		return "a few more triangles are needed where it bends most"
	}
	return "about " + times(f) + " the triangles are needed"
}

func times(f float64) string {
	if f < 9.5 {
		return fmt.Sprintf("%.2g times", f)
	}
	return count(f) + " times"
}

// count rounds to two figures and parts the thousands.
func count(x float64) string {
	if x > 99 {
		p := math.Pow(10, math.Floor(math.Log10(x))-1)
		x = math.Round(x/p) * p
	}
	s := fmt.Sprintf("%.0f", x)
	for i := len(s) - 3; i > 0; i -= 3 {
		s = s[:i] + " " + s[i:]
	}
	return s
}

// length is in µm below a tenth of a millimetre.
func length(mm float64) string {
	if mm < 0.1 {
		return fmt.Sprintf("%.2g µm", 1000*mm)
	}
	return fmt.Sprintf("%.3g mm", mm)
}
