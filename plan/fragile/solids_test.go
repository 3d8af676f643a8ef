package fragile

import (
	"context"
	"math"
	"testing"

	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/shop/material"
)

func v(x, y, z float64) geom.Vec3 { return geom.Vec3{X: x, Y: y, Z: z} }

// loft is the closed solid through polygons of equally many corners, each (u, v) = (Z, X) at its height
// y, counter-clockwise seen from +Y.
func loft(ys []float64, ps [][]geom.Vec2) *mesh.Mesh {
	m := &mesh.Mesh{}
	n := len(ps[0])
	for i, y := range ys {
		for _, p := range ps[i] {
			m.Vertices = append(m.Vertices, v(p.Y, y, p.X))
		}
	}
	tri := func(a, b, c int) { m.Triangles = append(m.Triangles, [3]int32{int32(a), int32(b), int32(c)}) }
	for k := 1; k < n-1; k++ {
		top := (len(ys) - 1) * n
		tri(0, k+1, k)
		tri(top, top+k, top+k+1)
	}
	for r := range len(ys) - 1 {
		for k := range n {
			a, b := r*n+k, r*n+(k+1)%n
			tri(a, b, b+n)
			tri(a, b+n, a+n)
		}
	}
	return m
}

func ngon(r float64, n int) []geom.Vec2 {
	out := make([]geom.Vec2, n)
	for k := range n {
		s, c := math.Sincos(2 * math.Pi * (float64(k) + 0.25) / float64(n))
		out[k] = geom.Vec2{X: r * c, Y: r * s}
	}
	return out
}

func moved(p []geom.Vec2, d geom.Vec2) []geom.Vec2 {
	out := make([]geom.Vec2, len(p))
	for i := range p {
		out[i] = p[i].Add(d)
	}
	return out
}

func quad(w, h float64) []geom.Vec2 {
	return []geom.Vec2{{X: -w / 2, Y: -h / 2}, {X: w / 2, Y: -h / 2}, {X: w / 2, Y: h / 2}, {X: -w / 2, Y: h / 2}}
}

// rod stands from y0 to y1 with one section.
func rod(y0, y1 float64, p []geom.Vec2) *mesh.Mesh {
	return loft([]float64{y0, y1}, [][]geom.Vec2{p, p})
}

// block is a box of space, lo and hi corners in multiples of a unit.
type block struct{ lo, hi [3]int }

// union is the closed solid of blocks on a grid of 'unit' mm: faces between full and empty cells.
func union(unit float64, bs ...block) *mesh.Mesh {
	full := func(c [3]int) bool {
		for _, b := range bs {
			in := true
			for k := range 3 {
				in = in && c[k] >= b.lo[k] && c[k] < b.hi[k]
			}
			if in {
				return true
			}
		}
		return false
	}
	m := &mesh.Mesh{}
	index := map[[3]int]int32{}
	vert := func(c [3]int) int32 {
		i, ok := index[c]
		if !ok {
			i = int32(len(m.Vertices))
			index[c] = i
			m.Vertices = append(m.Vertices, v(float64(c[0])*unit, float64(c[1])*unit, float64(c[2])*unit))
		}
		return i
	}
	done := map[[3]int]bool{}
	for _, b := range bs {
		for x := b.lo[0]; x < b.hi[0]; x++ {
			for y := b.lo[1]; y < b.hi[1]; y++ {
				for z := b.lo[2]; z < b.hi[2]; z++ {
					c := [3]int{x, y, z}
					if done[c] {
						continue
					}
					done[c] = true
					for k := range 3 {
						for _, s := range [2]int{0, 1} {
							o := c
							o[k] += 2*s - 1
							if full(o) {
								continue
							}
							p := c
							p[k] += s
							i, j := (k+1)%3, (k+2)%3
							q, r, t := p, p, p
							q[i]++
							r[i]++
							r[j]++
							t[j]++
							a, b, c, d := vert(p), vert(q), vert(r), vert(t)
							if s == 0 {
								b, d = d, b
							}
							m.Triangles = append(m.Triangles, [3]int32{a, b, c}, [3]int32{a, c, d})
						}
					}
				}
			}
		}
	}
	return m
}

// stuff is a made-up material of modulus e GPa.
func stuff(e float64) material.Material {
	return material.Material{ID: "stuff", Modulus: material.Figure{Value: e, Estimate: true}, Strength: material.Figure{Value: 100, Estimate: true}}
}

func judge(t testing.TB, m *mesh.Mesh, p Params) *Result {
	t.Helper()
	r, err := Judge(context.Background(), m, nil, nil, p)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func near(t *testing.T, what string, got, want, part float64) {
	t.Helper()
	if !(math.Abs(got-want) <= part*math.Abs(want)) {
		t.Errorf("%s: %v, want %v within %v of it", what, got, want, part)
	}
}
