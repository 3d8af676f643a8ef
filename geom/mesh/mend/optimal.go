package mend

import (
	"container/heap"
	"math"
	"slices"

	"barwise/geom"
)

// optimal cuts a loop in space into triangles of the least area on the whole, by dynamic programming
// over all triangulations (Klincsek, 1980; Barequet and Sharir, Filling gaps in the boundary of a
// polyhedron, 1995). Edges that the mesh has already are not drawn again; triangles without area are
// taken only where nothing else is left. ok is false where there is no triangulation.
func (w *work) optimal(path []int32, taken func(a, b int32) bool) (tris [][3]int32, ok bool) {
	n := len(path)
	cost := make([]float64, n*n) // of the part from i to k, at i·n + k
	cut := make([]int32, n*n)
	scale := 0.0
	for _, v := range path {
		d := w.v[v].Sub(w.v[path[0]])
		scale = max(scale, d.Dot(d))
	}
	for d := 2; d < n; d++ {
		for i := 0; i+d < n; i++ {
			k := i + d
			best, at := math.Inf(1), int32(-1)
			if d == n-1 || !taken(path[i], path[k]) {
				for j := i + 1; j < k; j++ {
					c := cost[i*n+j] + cost[j*n+k]
					if c >= best {
						continue
					}
					if c += w.price([3]int32{path[i], path[j], path[k]}, scale); c < best {
						best, at = c, int32(j)
					}
				}
			}
			cost[i*n+k], cut[i*n+k] = best, at
		}
	}
	if math.IsInf(cost[n-1], 1) {
		return nil, false
	}
	stack := [][2]int{{0, n - 1}}
	for len(stack) > 0 {
		i, k := stack[len(stack)-1][0], stack[len(stack)-1][1]
		stack = stack[:len(stack)-1]
		if k-i < 2 {
			continue
		}
		j := int(cut[i*n+k])
		tris = append(tris, [3]int32{path[i], path[j], path[k]})
		stack = append(stack, [2]int{i, j}, [2]int{j, k})
	}
	return tris, true
}

// price is the area of a triangle, or more than any area where it is flat.
func (w *work) price(t [3]int32, scale float64) float64 {
	area := w.area(t)
	if area <= 1e-9*scale && w.flat(t) {
		return scale * 1e3
	}
	return area
}

// shrink cuts corners off a loop, the one with the shortest cut first, until most are left: the two
// lips of a long crack are sewn together so. Corners whose triangle would fold back over the one beside
// are left for last; normals are those of the triangles beside path[i]–path[i+1], zero for unknown. rest is
// nil where no corner can be cut any more.
func (w *work) shrink(path []int32, normals []geom.Vec3, most int, taken func(a, b int32) bool) (tris [][3]int32, rest []int32) {
	n := len(path)
	s := &shrinker{w: w, path: path, normals: slices.Clone(normals), taken: taken, next: make([]int32, n), prev: make([]int32, n), turn: make([]int32, n)}
	for i := range n {
		s.next[i], s.prev[i] = int32((i+1)%n), int32((i+n-1)%n)
	}
	for i := range n {
		s.push(int32(i))
	}
	left, at := n, int32(0)
	for left > most && s.heap.Len() > 0 {
		x := heap.Pop(&s.heap).(corner)
		if s.turn[x.i] != x.turn {
			continue
		}
		a, b := s.prev[x.i], s.next[x.i]
		t := [3]int32{path[a], path[x.i], path[b]}
		tris = append(tris, t)
		s.next[a], s.prev[b] = b, a
		s.turn[x.i] = -1
		if s.normals[a] = (geom.Vec3{}); !w.flat(t) {
			s.normals[a] = w.normal(t).Unit()
		}
		s.push(a)
		s.push(b)
		left--
		at = a
	}
	if left > most {
		return nil, nil
	}
	for range left {
		rest = append(rest, path[at])
		at = s.next[at]
	}
	return tris, rest
}

// corner is a corner that may be cut off, with the length of the cut.
type corner struct {
	cost    float64
	i, turn int32
}

type corners []corner

func (c corners) Len() int { return len(c) }
func (c corners) Less(i, j int) bool {
	return c[i].cost < c[j].cost || c[i].cost == c[j].cost && c[i].i < c[j].i
}
func (c corners) Swap(i, j int) { c[i], c[j] = c[j], c[i] }
func (c *corners) Push(x any)   { *c = append(*c, x.(corner)) }
func (c *corners) Pop() any {
	x := (*c)[len(*c)-1]
	*c = (*c)[:len(*c)-1]
	return x
}

type shrinker struct {
	w          *work
	path       []int32
	normals    []geom.Vec3 // beside the edge from i to next[i]
	taken      func(a, b int32) bool
	next, prev []int32
	turn       []int32 // how often corner i was looked at: older entries of the heap are void; −1 when cut
	heap       corners
}

func (s *shrinker) push(i int32) {
	a, b := s.prev[i], s.next[i]
	s.turn[i]++
	t := [3]int32{s.path[a], s.path[i], s.path[b]}
	if s.taken(t[0], t[2]) {
		return
	}
	cost := s.w.v[t[0]].Sub(s.w.v[t[2]]).Len()
	n := s.w.normal(t)
	l := n.Len()
	size := s.w.box.Size().Len()
	if n.Dot(s.normals[a]) < -0.5*l || n.Dot(s.normals[i]) < -0.5*l {
		cost += size
	}
	if s.w.flat(t) {
		cost += 2 * size
	}
	heap.Push(&s.heap, corner{cost, i, s.turn[i]})
}
