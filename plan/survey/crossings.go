package survey

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"barwise/finding"
	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/cross"
)

// Crossing is one place where the surface meets itself. Lengths are mm, in the frame of the model's file.
type Crossing struct {
	Kind      CrossingKind
	Pairs     int // pairs of triangles
	At        geom.Vec3
	Box       geom.Box3
	Shells    [2]int         // the two, the lower number first; equal where a shell meets itself
	Triangles [2]int32       // two that meet at At
	Lines     [][2]geom.Vec3 // where triangles pass through one another
}

// CrossingKind is how the surface meets itself.
type CrossingKind string

// The kinds of crossing, worst first.
const (
	CrossSelf    CrossingKind = "crosses" // a shell passes through itself
	CrossFold    CrossingKind = "folded"  // parts of a shell lie flat on one another
	CrossOverlap CrossingKind = "overlap" // two shells pass through one another
	CrossTouch   CrossingKind = "touches" // shells, or parts of one, meet without passing through
)

var rank = map[CrossingKind]int{CrossSelf: 0, CrossFold: 1, CrossOverlap: 2, CrossTouch: 3}

// maxSpots is how many places of one kind are named one by one.
const maxSpots = 4

// crossings finds where the surface meets itself, for each pair of shells apart.
func (r *Report) crossings(ctx context.Context, m *mesh.Mesh) error {
	found, err := cross.Find(ctx, m, 0)
	if err != nil {
		return err
	}
	r.Cross = found
	of := r.Health.ShellOf
	groups := map[[2]int][]cross.Pair{}
	for _, p := range found.List {
		if sameCorners(m, p) {
			continue // counted as duplicates
		}
		k := [2]int{int(of[p.A]), int(of[p.B])}
		if k[0] > k[1] {
			k[0], k[1] = k[1], k[0]
		}
		groups[k] = append(groups[k], p)
	}
	for k, list := range groups {
		r.spots(m, k, list)
	}
	slices.SortFunc(r.Crossings, func(a, b Crossing) int {
		return cmp.Or(cmp.Compare(rank[a.Kind], rank[b.Kind]), cmp.Compare(b.Pairs, a.Pairs),
			cmp.Compare(a.Triangles[0], b.Triangles[0]), cmp.Compare(a.Triangles[1], b.Triangles[1]))
	})
	return nil
}

func sameCorners(m *mesh.Mesh, p cross.Pair) bool {
	a, b := m.Triangles[p.A], m.Triangles[p.B]
	slices.Sort(a[:])
	slices.Sort(b[:])
	return a == b
}

// spots adds the places where two shells, or one, meet.
func (r *Report) spots(m *mesh.Mesh, shells [2]int, list []cross.Pair) {
	mm := r.UnitMM
	spots := cross.Spots(m, list)
	for _, s := range spots {
		c := Crossing{Pairs: s.Pairs, At: s.At.Mul(mm), Shells: shells, Triangles: s.Triangles,
			Box: geom.Box3{Min: s.Box.Min.Mul(mm), Max: s.Box.Max.Mul(mm)}}
		own := shells[0] == shells[1]
		switch {
		case s.Through > 0 && own:
			c.Kind = CrossSelf
		case s.Through > 0:
			c.Kind = CrossOverlap
		case s.Over > 0 && own:
			c.Kind = CrossFold
		default:
			c.Kind = CrossTouch
		}
		for _, k := range s.List {
			if p := &list[k]; p.Kind == cross.Through {
				c.Lines = append(c.Lines, [2]geom.Vec3{p.P.Mul(mm), p.Q.Mul(mm)})
			}
		}
		r.Crossings = append(r.Crossings, c)
	}
}

// meets puts the crossings into words.
func (r *Report) meets() {
	r.copies()
	atLeast := ""
	if r.Cross.Full {
		atLeast = "at least "
	}
	for kind, w := range words {
		var places []*Crossing
		for i := range r.Crossings {
			if r.Crossings[i].Kind == kind {
				places = append(places, &r.Crossings[i])
			}
		}
		rest := 0
		for i, c := range places {
			if i >= w.most {
				rest += c.Pairs
				continue
			}
			r.add(w.code, w.severity, "near "+place(c.At), fmt.Sprintf(w.text, c.names(), fmt.Sprintf("%s%d pairs of triangles within %s mm",
				atLeast, c.Pairs, size(c.Box.Size(), 1))), w.hint)
		}
		if n := len(places) - w.most; n > 0 {
			r.add(w.code, w.severity, fmt.Sprintf("%d more places", n), fmt.Sprintf("%s%d pairs of triangles meet there too", atLeast, rest), w.hint)
		}
	}
}

// copies warns of shells that are nearly another one that they meet: as large and in the same place.
func (r *Report) copies() {
	seen := map[[2]int]bool{}
	for i := range r.Crossings {
		k := r.Crossings[i].Shells
		a, b := &r.Health.Shells[k[0]], &r.Health.Shells[k[1]]
		near := nearly * a.Box.Size().Len()
		if k[0] == k[1] || seen[k] || math.Abs(a.Area-b.Area) > nearly*a.Area ||
			a.Box.Min.Sub(b.Box.Min).Len() > near || a.Box.Max.Sub(b.Box.Max).Len() > near {
			continue
		}
		seen[k] = true
		r.add("mesh-copy", finding.Warning, "near "+place(b.Box.Centre()), fmt.Sprintf("shell %d is nearly a copy of shell %d", k[1]+1, k[0]+1),
			"delete one of them: the outermost of both is cut")
	}
}

// nearly is how far, in parts of its size, a shell may be off another one and count as a copy of it.
const nearly = 0.01

// names names the shells of a crossing as the report counts them, from 1.
func (c *Crossing) names() string {
	if c.Shells[0] == c.Shells[1] {
		return fmt.Sprintf("shell %d", c.Shells[0]+1)
	}
	return fmt.Sprintf("shells %d and %d", c.Shells[0]+1, c.Shells[1]+1)
}

var words = map[CrossingKind]struct {
	code     string
	severity finding.Severity
	most     int
	text     string
	hint     string
}{
	CrossSelf: {"mesh-crosses", finding.Warning, maxSpots, "%s passes through itself: %s",
		"cut as it is, as the outermost of what is there; mend it in the program the model comes from where the place matters"},
	CrossFold: {"mesh-folded", finding.Note, 1, "parts of %s lie flat on one another: %s", "cut as it is"},
	CrossOverlap: {"mesh-overlap", finding.Note, maxSpots, "%s pass through one another: %s",
		"cut as one solid; the volume counts what they have in common twice"},
	CrossTouch: {"mesh-touches", finding.Note, 1, "parts of %s touch: %s", "cut as it is"},
}
