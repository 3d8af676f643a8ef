package fragile

import (
	"cmp"
	"math"
	"slices"

	"barwise/geom"
	"barwise/geom/mesh/patch"
)

// cell is a cube of space.
type cell struct{ x, y, z int32 }

func (a cell) cmp(b cell) int {
	return cmp.Or(cmp.Compare(a.y, b.y), cmp.Compare(a.x, b.x), cmp.Compare(a.z, b.z))
}

// thin gathers the patches below the limit into connected places: those whose middles are in cubes of
// space that touch, the cubes being as wide as a patch or the limit, so that both faces of a wall are
// one place.
func (r *Result) thin(thickness []float32, set *patch.Set, p Params) {
	r.Least = math.Inf(1)
	var low []int
	for i, t := range thickness {
		if int(set.Of[i]) >= p.Triangles {
			continue
		}
		if float64(t) < r.Least {
			r.Least, r.LeastAt = float64(t), set.Centre(i)
		}
		if float64(t) < r.Limit.Value {
			low = append(low, i)
			r.Below += set.Area(i)
		}
	}
	if math.IsInf(r.Least, 1) {
		r.Least = 0
	}
	for _, group := range gather(low, set, max(set.Edge, r.Limit.Value)) {
		// less than the square of half the limit is the very corner of something
		if t := r.place(group, thickness, set, p); t.Area >= r.Limit.Value*r.Limit.Value/4 {
			r.Thin = append(r.Thin, t)
		}
	}
	rank := map[string]int{"wall": 0, "edge": 1, "point": 2}
	slices.SortStableFunc(r.Thin, func(a, b Thin) int {
		return cmp.Or(cmp.Compare(rank[a.What], rank[b.What]), cmp.Compare(a.Least, b.Least), -cmp.Compare(a.Area, b.Area))
	})
	if len(r.Thin) > p.Most {
		r.Thin = r.Thin[:p.Most]
	}
}

// gather groups patches by the cells they lie in.
func gather(low []int, set *patch.Set, size float64) [][]int {
	at := make([]cell, len(low))
	index := map[cell]int{}
	var cells []cell
	for i, k := range low {
		c := set.Centre(k)
		at[i] = cell{int32(math.Floor(c.X / size)), int32(math.Floor(c.Y / size)), int32(math.Floor(c.Z / size))}
		if _, ok := index[at[i]]; !ok {
			index[at[i]] = -1
			cells = append(cells, at[i])
		}
	}
	slices.SortFunc(cells, cell.cmp)
	for i, c := range cells {
		index[c] = i
	}
	label := make([]int, len(cells))
	for i := range label {
		label[i] = i
	}
	find := func(i int) int {
		for label[i] != i {
			label[i] = label[label[i]]
			i = label[i]
		}
		return i
	}
	for i, c := range cells {
		for d := range int32(27) {
			if j, ok := index[cell{c.x + d%3 - 1, c.y + d/3%3 - 1, c.z + d/9 - 1}]; ok {
				if a, b := find(i), find(j); a != b {
					label[max(a, b)] = min(a, b)
				}
			}
		}
	}
	groups := make([][]int, len(cells))
	for i, k := range low {
		g := find(index[at[i]])
		groups[g] = append(groups[g], k)
	}
	return slices.DeleteFunc(groups, func(g []int) bool { return len(g) == 0 })
}

// place measures one group.
func (r *Result) place(group []int, thickness []float32, set *patch.Set, p Params) Thin {
	t := Thin{Box: geom.EmptyBox(), Least: math.Inf(1)}
	for _, i := range group {
		a, b, c := set.Corners(i)
		t.Box = t.Box.Grow(a).Grow(b).Grow(c)
		t.Area += set.Area(i)
		if d := float64(thickness[i]); d < t.Least {
			t.Least, t.At = d, set.Centre(i)
		}
	}
	s := t.Box.Size()
	e := []float64{s.X, s.Y, s.Z}
	slices.Sort(e)
	t.Extent = e[1]
	switch strip := t.Area / 2 / e[2]; {
	case e[2] < 2*r.Limit.Value:
		t.What = "point"
	case strip < r.Limit.Value:
		t.What = "edge"
	default:
		t.What = "wall"
	}
	t.Mostly = mostly(group, thickness, set, t.Area)
	if t.What == "wall" && t.Mostly > 0 {
		// a plate of height h and width h: σ = 6 F h/(h t²), δ = F h³/(3 E h t³/12)
		t.Stress = 6 * r.Force.Value / (t.Mostly * t.Mostly)
		if e := p.Material.Modulus.Value * 1000; e > 0 {
			t.Bends = 4 * r.Force.Value * t.Extent * t.Extent / (e * t.Mostly * t.Mostly * t.Mostly)
		}
	}
	return t
}

// mostly is the median of the thickness by area.
func mostly(group []int, thickness []float32, set *patch.Set, area float64) float64 {
	by := slices.Clone(group)
	slices.SortFunc(by, func(a, b int) int { return cmp.Or(cmp.Compare(thickness[a], thickness[b]), cmp.Compare(a, b)) })
	sum := 0.0
	for _, i := range by {
		if sum += set.Area(i); sum >= area/2 {
			return float64(thickness[i])
		}
	}
	return float64(thickness[by[len(by)-1]])
}
