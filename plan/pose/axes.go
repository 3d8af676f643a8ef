package pose

import (
	"cmp"
	"math"
	"slices"

	"barwise/geom"
)

// axis is a direction the model has of its own; v and −v are the same.
type axis struct {
	v    geom.Vec3
	kind string
	rank int // 0: it shows in the surface; 1: the file's; 2: computed
}

// The kinds of axes.
const (
	ownAxes  = "the model's axes"
	facesOf  = "the model's faces and bores"
	massOf   = "the model's principal axes"
	mostAxes = 20
)

// spread returns n directions, evenly over half the sphere (a lattice along the golden spiral).
func spread(n int) []geom.Vec3 {
	out := make([]geom.Vec3, n)
	turn := math.Pi * (3 - math.Sqrt(5))
	for i := range out {
		z := 1 - (float64(i)+0.5)/float64(n)
		r := math.Sqrt(1 - float64(z*z))
		s, c := math.Sincos(float64(turn * float64(i)))
		out[i] = geom.Vec3{X: r * c, Y: r * s, Z: z}
	}
	return out
}

// axes returns the directions that the model has of its own: those of its file, the normals of its flat
// faces, the axes of its bores, prisms and turned parts, and its principal axes, with what is square to
// two of them.
func (b *body) axes(s *samples) []axis {
	var out []axis
	add := func(v geom.Vec3, kind string, rank int) {
		for i := range out {
			// within 0.2° it is the same one
			if v.Cross(out[i].v).Len() < 0.0035 {
				out[i].rank = min(out[i].rank, rank)
				return
			}
		}
		if len(out) < mostAxes {
			out = append(out, axis{v, kind, rank})
		}
	}
	for _, v := range [...]geom.Vec3{{X: 1}, {Y: 1}, {Z: 1}} {
		add(b.turn.to(v), ownAxes, 1)
	}
	faces := append(s.faces(), s.bores()...)
	slices.SortStableFunc(faces, func(a, b weighed) int { return cmp.Compare(b.w, a.w) })
	faces = faces[:min(len(faces), 8)]
	for _, f := range faces {
		add(f.v, facesOf, 0)
	}
	for i, f := range faces {
		for _, g := range faces[:i] {
			if c := f.v.Cross(g.v); c.Len() > 0.02 {
				add(c.Unit(), facesOf, 0)
			}
		}
	}
	if vs, ok := s.principal(); ok {
		for _, v := range vs {
			add(v, massOf, 2)
		}
	}
	return out
}

type weighed struct {
	v geom.Vec3
	w int
}

// faces finds the directions that at least a fortieth of the area faces within 1°, either way.
func (s *samples) faces() []weighed {
	const cos = 0.99985
	var out []weighed
	for _, d := range s.peaks(func(n, d geom.Vec3) bool { return math.Abs(n.Dot(d)) > 0.9986 }) { // 3°
		sum, count := geom.Vec3{}, 0
		for pass, c := range [...]float64{0.9986, 0.9994, cos} {
			sum, count = geom.Vec3{}, 0
			for _, n := range s.n {
				if t := n.Dot(d); math.Abs(t) > c {
					sum = sum.Add(n.Mul(math.Copysign(1, t)))
					count++
				}
			}
			if count == 0 || pass < 2 && sum.Len() == 0 {
				break
			}
			d = sum.Unit()
		}
		if count*40 >= len(s.n) {
			out = append(out, weighed{d, count})
		}
	}
	return distinct(out)
}

// bores finds the directions that at least a twentieth of the area stands parallel to within 1°, all of it
// not facing one way: axes of bores, prisms, turned parts.
func (s *samples) bores() []weighed {
	var out []weighed
	for _, d := range s.peaks(func(n, d geom.Vec3) bool { return math.Abs(n.Dot(d)) < 0.052 }) {
		count := 0
		for _, sin := range [...]float64{0.052, 0.03, 0.0175} {
			var m [3][3]float64
			count = 0
			for _, n := range s.n {
				if math.Abs(n.Dot(d)) < sin {
					count++
					outer(&m, n, 1)
				}
			}
			val, vec := geom.Eigen(m)
			if count == 0 || val[1] < 0.05*val[2] {
				count = 0
				break
			}
			d = vec[0]
		}
		if count*20 >= len(s.n) {
			out = append(out, weighed{d, count})
		}
	}
	return distinct(out)
}

// peaks returns the directions of a lattice that more samples belong to than to those about them, the
// fullest first.
func (s *samples) peaks(in func(n, d geom.Vec3) bool) []geom.Vec3 {
	lattice := spread(2500) // 2.9° apart
	few := max(1, len(s.n)/1500)
	count := make([]int, len(lattice))
	for i, d := range lattice {
		for k := 0; k < len(s.n); k += few {
			if in(s.n[k], d) {
				count[i]++
			}
		}
	}
	order := make([]int, len(lattice))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(count[b], count[a]) })
	var out []geom.Vec3
	for _, i := range order {
		if len(out) == 24 || count[i]*50*few < len(s.n) {
			break
		}
		near := func(v geom.Vec3) bool { return v.Cross(lattice[i]).Len() < 0.1 }
		if !slices.ContainsFunc(out, near) {
			out = append(out, lattice[i])
		}
	}
	return out
}

// distinct drops what lies within 1° of a heavier one.
func distinct(in []weighed) []weighed {
	slices.SortStableFunc(in, func(a, b weighed) int { return cmp.Compare(b.w, a.w) })
	var out []weighed
	for _, a := range in {
		if !slices.ContainsFunc(out, func(b weighed) bool { return a.v.Cross(b.v).Len() < 0.0175 }) {
			out = append(out, a)
		}
	}
	return out
}

// principal returns the principal axes of the surface; ok is false where two of them are within 5 % and so
// no axes at all.
func (s *samples) principal() (vs [3]geom.Vec3, ok bool) {
	mid := geom.Vec3{}
	for _, p := range s.at {
		mid = mid.Add(p)
	}
	mid = mid.Mul(1 / float64(len(s.at)))
	var m [3][3]float64
	for _, p := range s.at {
		outer(&m, p.Sub(mid), 1)
	}
	val, vec := geom.Eigen(m)
	return vec, val[0] < definite*val[1] && val[1] < definite*val[2]
}

func outer(m *[3][3]float64, n geom.Vec3, k float64) {
	v := [3]float64{n.X, n.Y, n.Z}
	for i := range v {
		for j := range v {
			m[i][j] += float64(k * float64(v[i]*v[j]))
		}
	}
}
