package mend

import (
	"slices"
)

// clean drops twins and flat triangles. Dropping flat ones may lay triangles on one another, so twins
// are looked for again.
func (w *work) clean() error {
	if !w.p.Duplicates {
		return nil
	}
	w.twins()
	changed, err := w.flats()
	if err == nil && changed {
		w.twins()
	}
	return err
}

// key names the corners of a triangle whichever way it runs.
func key(t [3]int32) [3]int32 {
	slices.Sort(t[:])
	return t
}

// along reports whether a triangle runs through its corners in ascending order, turned about.
func along(t [3]int32) bool {
	return t[0] < t[1] && t[1] < t[2] || t[1] < t[2] && t[2] < t[0] || t[2] < t[0] && t[0] < t[1]
}

// twins leaves one triangle on every three corners, or none where the triangles on them face both ways
// and the surface is whole without them: a skin between two solids, or a fin.
func (w *work) twins() {
	e := w.edges()
	groups := w.twinGroups(e)
	if len(groups) == 0 {
		return
	}
	drop := w.skins(e, groups)
	gone := map[int32]bool{}
	var p patch
	for i, g := range groups {
		stay := int32(-1)
		if !drop[i] {
			stay = w.best(e, g)
		}
		for _, t := range g {
			if t != stay {
				gone[t] = true
				w.triangle(&p, w.t[t])
			}
		}
	}
	w.keep(func(i int) bool { return !gone[int32(i)] })
	w.change(p.change(Twin, many(p.count, "triangle")+" on the corners of another one dropped"))
}

// twinGroups lists the triangles on the same corners, ascending.
func (w *work) twinGroups(e *edges) [][]int32 {
	var out [][]int32
	seen := map[[3]int32]bool{}
	for i := range int32(len(w.t)) {
		if repeats(w.t[i]) {
			continue
		}
		hs := e.at(w.t[i][0], w.t[i][1])
		if len(hs) < 2 {
			continue
		}
		k := key(w.t[i])
		var g []int32
		for _, h := range hs {
			if key(w.t[h.h/3]) == k {
				g = append(g, h.h/3)
			}
		}
		if len(g) > 1 && !seen[k] {
			seen[k] = true
			out = append(out, g)
		}
	}
	return out
}

// skins tells which groups the surface is whole without. Groups that face both ways and are neighbours
// are one skin; around its rim the other triangles are counted once for each three corners, and where
// most rim edges have an even number of them the skin goes.
func (w *work) skins(e *edges, groups [][]int32) []bool {
	of := map[[3]int32]int{} // skins by their corners
	for i, g := range groups {
		for _, t := range g {
			if along(w.t[t]) != along(w.t[g[0]]) {
				of[key(w.t[t])] = i
				break
			}
		}
	}
	root := make([]int, len(groups))
	for i := range root {
		root[i] = i
	}
	find := func(i int) int {
		for root[i] != i {
			root[i] = root[root[i]]
			i = root[i]
		}
		return i
	}
	votes := make([]int, len(groups))
	isSkin := func(t [3]int32) bool { _, ok := of[key(t)]; return ok }
	for i, g := range groups {
		t := w.t[g[0]]
		if !isSkin(t) {
			continue
		}
		for c := range 3 {
			plain := 0
			for _, k := range w.others(e, t, c) {
				if o, ok := of[k]; ok {
					root[max(find(i), find(o))] = min(find(i), find(o))
				} else {
					plain++
				}
			}
			if plain > 0 {
				votes[i] += 1 - 2*(plain%2)
			}
		}
	}
	sum := make([]int, len(groups))
	for i, v := range votes {
		sum[find(i)] += v
	}
	drop := make([]bool, len(groups))
	for i, g := range groups {
		drop[i] = isSkin(w.t[g[0]]) && sum[find(i)] > 0
	}
	return drop
}

// others lists the corners of the other triangles at edge c of a triangle, each three once.
func (w *work) others(e *edges, t [3]int32, c int) [][3]int32 {
	var out [][3]int32
	for _, h := range e.at(t[c], t[(c+1)%3]) {
		if k := key(w.t[h.h/3]); k != key(t) && !slices.Contains(out, k) {
			out = append(out, k)
		}
	}
	return out
}

// best picks the triangle of a group whose edges run against those of most neighbours, the first of
// equals.
func (w *work) best(e *edges, g []int32) int32 {
	best, most := g[0], 0
	for n, t := range g {
		score := 0
		for c := range 3 {
			a, b := w.t[t][c], w.t[t][(c+1)%3]
			for _, h := range e.at(a, b) {
				if slices.Contains(g, h.h/3) {
					continue
				}
				if from, _ := w.ends(h.h); from == a {
					score--
				} else {
					score++
				}
			}
		}
		if n == 0 || score > most {
			best, most = t, score
		}
	}
	return best
}
