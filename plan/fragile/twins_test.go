package fragile

import (
	"context"
	"math"
	"slices"
	"testing"

	"barwise/geom"
	"barwise/geom/mesh"
)

func sliced(t *testing.T, m *mesh.Mesh, f frame, step float64) *slicer {
	t.Helper()
	b := m.Box()
	_, _, lo := f.in(b.Min)
	_, _, hi := f.in(b.Max)
	s, err := newSlicer(context.Background(), m, f, len(m.Triangles), lo, hi, step)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// The lists of triangles by plane against a look at every triangle, and the sections' areas against
// counting points of a lattice that the mesh winds about.
func TestSlicesTwin(t *testing.T) {
	m := mesh.Join(wavy(24), branchy().Map(func(p geom.Vec3) geom.Vec3 { return p.Add(v(60, 3, 0)) }))
	for _, f := range []frame{alongX, alongY, alongZ} {
		s := sliced(t, m, f, 0.37)
		for k := range s.n {
			var want, got []int32
			for i := range m.Triangles {
				if _, ok := s.cross(int32(i), s.at(k)); ok {
					want = append(want, int32(i))
				}
			}
			for _, i := range s.list[s.first[k]:s.first[k+1]] {
				if _, ok := s.cross(i, s.at(k)); ok {
					got = append(got, i)
				}
			}
			if !slices.Equal(got, want) {
				t.Fatalf("frame %d plane %d: %d triangles, want %d", f, k, len(got), len(want))
			}
		}
	}
	w := wavy(24)
	s := sliced(t, w, alongY, 3)
	for k := range s.n {
		ls, open := s.loops(k)
		rs := regions(k, ls)
		if len(rs) != 1 || open != 0 {
			t.Fatalf("plane %d: %d regions, %d open", k, len(rs), open)
		}
		const pitch = 0.25
		n := 0
		for u := -7.0 + pitch/3; u < 7; u += pitch {
			for x := -7.0 + pitch/3; x < 7; x += pitch {
				in := w.Winding(s.out(u, x, s.at(k))) > 0.5
				if in != rs[0].holds(geom.Vec2{X: u, Y: x}) {
					t.Fatalf("plane %d: (%v, %v) inside: %v", k, u, x, in)
				}
				if in {
					n++
				}
			}
		}
		near(t, "area by points", float64(n)*pitch*pitch, rs[0].area, 0.03)
	}
}

// Every part hangs by its stiffest way: the greatest least second moment there is, by passing the best
// from neighbour to neighbour until nothing changes. A branch's way ends at the root, and together the
// branches have every part as their own once.
func TestTreeTwin(t *testing.T) {
	ring := union(0.5, block{[3]int{-8, 0, -6}, [3]int{8, 40, 6}}, block{[3]int{8, 30, 0}, [3]int{20, 33, 3}},
		block{[3]int{8, 8, -2}, [3]int{20, 11, 3}}, block{[3]int{17, 8, 0}, [3]int{20, 33, 3}}, block{[3]int{-3, 40, 1}, [3]int{-1, 50, 3}})
	for _, f := range []frame{alongX, alongY, alongZ} {
		b, err := sliced(t, ring, f, 0.2).cut(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		b.hang(b.held())
		best := make([]float64, len(b.parts))
		best[b.root] = b.parts[b.root].least()
		for changed := true; changed; {
			changed = false
			for i, ls := range b.links {
				for _, j := range ls {
					if c := min(best[i], b.parts[j].least()); c > best[j] {
						best[j], changed = c, true
					}
				}
			}
		}
		for i := range b.parts {
			got := math.Inf(1)
			for j := int32(i); j >= 0; j = b.parent[j] {
				got = min(got, b.parts[j].least())
			}
			if b.parent[i] == -2 || got != best[i] {
				t.Fatalf("frame %d part %d: stiffness %v, want %v", f, i, got, best[i])
			}
		}
		own := make([]int, len(b.parts))
		for _, br := range b.branches() {
			for _, i := range br.way[:br.own] {
				own[i]++
			}
			if br.way[len(br.way)-1] != b.root {
				t.Errorf("frame %d: a way ends at %d", f, br.way[len(br.way)-1])
			}
		}
		for i, n := range own {
			if n != 1 {
				t.Errorf("frame %d: part %d is %d branches' own", f, i, n)
			}
		}
	}
}
