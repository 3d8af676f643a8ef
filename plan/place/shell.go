package place

import (
	"math"

	"barwise/geom"
	"barwise/geom/mesh"
)

// facetSag is how far a facet of a spigot may lie off the true surface, mm: chords around it lie inside
// the cylinder, chords across a fillet outside its hollow.
const facetSag = 0.0003

// ring is the spigot's section at y, grown by out: a circle of Radius + out, or the square with its
// corners rounded by out.
type ring struct{ y, out float64 }

// rings runs from the end in the stub to the end in the model.
func (h *Held) rings(stub float64) []ring {
	a, b := h.StubFillet, h.PieceFillet
	out := []ring{{h.From, a}}
	if a > 0 {
		// a quarter of a circle about (out = a, y = stub + a)
		n := quarter(a)
		for k := range n + 1 {
			s, c := math.Sincos(math.Pi / 2 * float64(k) / float64(n))
			out = append(out, ring{stub + float64(a*(1-c)), a * (1 - s)})
		}
		out[n+1] = ring{stub + a, 0}
	}
	if b > 0 {
		// and about (out = b, y = Meets − b)
		n := quarter(b)
		from := h.Meets - b
		if last := out[len(out)-1]; from > last.y+1e-9 {
			out = append(out, ring{from, 0})
		}
		for k := 1; k <= n; k++ {
			s, c := math.Sincos(math.Pi / 2 * float64(k) / float64(n))
			out = append(out, ring{from + float64(b*s), b * (1 - c)})
		}
		out[len(out)-1] = ring{h.Meets, b}
	}
	return append(out, ring{h.To, b})
}

// quarter is how many chords a quarter of a circle takes.
func quarter(r float64) int {
	return min(max(int(math.Ceil(math.Pi/4/math.Acos(1-min(0.25, facetSag/r)))), 4), 256)
}

// around is how many chords a round spigot takes around it: a multiple of four.
func (h *Held) around() int {
	n := int(math.Ceil(math.Pi / math.Acos(1-min(0.5, facetSag/(h.Radius+max(h.StubFillet, h.PieceFillet))))))
	return min(max(4*((n+3)/4), 32), 1024)
}

// facet is how far facets lie off the true surface at most, mm.
func (h *Held) facet() float64 {
	off := 0.0
	for _, f := range [...]float64{h.StubFillet, h.PieceFillet} {
		if f > 0 {
			off = max(off, f*(1-math.Cos(math.Pi/4/float64(quarter(f)))))
		}
	}
	if h.Square {
		return off
	}
	return max(off, (h.Radius+max(h.StubFillet, h.PieceFillet))*(1-math.Cos(math.Pi/float64(h.around()))))
}

// mesh makes the spigot a shell of its own.
func (h *Held) mesh(stub float64) *mesh.Mesh {
	s := shell{Mesh: &mesh.Mesh{}, h: h, n: h.around()}
	if h.Square {
		s.n, s.corner = 4, 0
		if f := max(h.StubFillet, h.PieceFillet); f > 0 {
			s.corner = quarter(f)
			s.n = 4 * (s.corner + 1)
		}
	}
	rs := h.rings(stub)
	s.vertex(geom.Vec3{Y: h.From})
	for _, r := range rs {
		s.ring(r)
	}
	top := s.vertex(geom.Vec3{Y: h.To})
	for k := range s.n {
		s.triangle(0, s.at(0, k+1), s.at(0, k))
		for r := range len(rs) - 1 {
			s.triangle(s.at(r, k), s.at(r, k+1), s.at(r+1, k+1))
			s.triangle(s.at(r, k), s.at(r+1, k+1), s.at(r+1, k))
		}
		s.triangle(top, s.at(len(rs)-1, k), s.at(len(rs)-1, k+1))
	}
	return s.Mesh
}

// shell is the spigot's mesh in the making. Every ring has n places; at the sharp corners of a square
// several places are one vertex, and what lies between them is left out.
type shell struct {
	*mesh.Mesh
	h      *Held
	n      int
	corner int // chords around a corner of a square
	places []int32
}

func (s *shell) vertex(p geom.Vec3) int32 {
	s.Vertices = append(s.Vertices, p)
	return int32(len(s.Vertices) - 1)
}

func (s *shell) at(ring, k int) int32 { return s.places[ring*s.n+k%s.n] }

func (s *shell) triangle(a, b, c int32) {
	if a != b && b != c && c != a {
		s.Triangles = append(s.Triangles, [3]int32{a, b, c})
	}
}

// ring goes from +X to −Z and on.
func (s *shell) ring(r ring) {
	for k := range s.n {
		switch {
		case !s.h.Square:
			sn, c := math.Sincos(2 * math.Pi * float64(k) / float64(s.n))
			s.places = append(s.places, s.vertex(geom.Vec3{X: (s.h.Radius + r.out) * c, Y: r.y, Z: -(s.h.Radius + r.out) * sn}))
		case r.out == 0 && k%(s.corner+1) > 0:
			s.places = append(s.places, int32(len(s.Vertices)-1))
		default:
			s.places = append(s.places, s.vertex(s.rounded(r, k)))
		}
	}
}

// rounded is place k of a square ring: the corners at (+X, +Z), (+X, −Z), (−X, −Z), (−X, +Z), each a
// quarter turn about its centre.
func (s *shell) rounded(r ring, k int) geom.Vec3 {
	i := k / (s.corner + 1)
	p := geom.Vec3{X: float64(s.h.Radius * [4]float64{1, 1, -1, -1}[i]), Y: r.y, Z: float64(s.h.Radius * [4]float64{1, -1, -1, 1}[i])}
	if s.corner > 0 {
		t := geom.TurnDeg(float64(90*float64(i-1)) + 90*float64(k%(s.corner+1))/float64(s.corner))
		p.X += float64(r.out * t.Cos)
		p.Z -= float64(r.out * t.Sin)
	}
	return p
}
