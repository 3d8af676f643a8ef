package place

import (
	"cmp"
	"math"
	"slices"

	"barwise/geom"
	"barwise/shop/bar"
)

// section is a convex section across the bar that can be turned in a bar's: what limits a bar's size
// are sums of support distances, each a sinusoid of the turn between the turns at which a corner of the
// hull takes over from the next (rotating calipers). So the least size is at one of those turns or
// where two of the sums are equal: all are tried, none is sampled.
type section struct {
	hull  []geom.Vec2
	edges []edge // by angle
}

// edge is an edge of the hull: the direction it faces, φ as of a flat, in rad, and the corner that lies
// furthest in the directions next above.
type edge struct {
	rad    float64
	corner geom.Vec2
}

func newSection(hull []geom.Vec2) section {
	s := section{hull: hull}
	for i, p := range hull {
		d := hull[(i+1)%len(hull)].Sub(p)
		if d.Len() > 0 {
			s.edges = append(s.edges, edge{math.Atan2(d.Y, -d.X), p})
		}
	}
	slices.SortFunc(s.edges, func(a, b edge) int { return cmp.Compare(a.rad, b.rad) })
	return s
}

// furthest is the corner furthest in the direction (sin, cos) of rad.
func (s section) furthest(rad float64) geom.Vec2 {
	rad = math.Remainder(rad, 2*math.Pi)
	i, _ := slices.BinarySearchFunc(s.edges, rad, func(e edge, r float64) int { return cmp.Compare(e.rad, r) })
	return s.edges[(i+len(s.edges)-1)%len(s.edges)].corner
}

// bound is one thing that a bar's size must be no less than: weight times the sum of how far the
// section reaches to the flats named, less what is there already.
type bound struct {
	flats  []int
	weight float64
	less   float64
}

// bounds of a bar's section with a free centre. The sides of a square or of a rectangle bound it by two
// widths, those of a hexagon by three and by the two triangles of every other flat: the least r with
// support(i) − c·u(i) ≤ r for some centre c is by linear duality the greatest of these means.
func bounds(sh bar.Shape, width, height float64) []bound {
	if sh == bar.Hex {
		return []bound{{[]int{0, 3}, 1, 0}, {[]int{1, 4}, 1, 0}, {[]int{2, 5}, 1, 0}, {[]int{0, 2, 4}, 2. / 3, 0}, {[]int{1, 3, 5}, 2. / 3, 0}}
	}
	return []bound{{[]int{0, 2}, 1, height}, {[]int{1, 3}, 1, width}}
}

// period is the turn in degrees after which a bar's section is the same.
func period(sh bar.Shape) float64 {
	switch sh {
	case bar.Hex:
		return 60
	case bar.Square:
		return 90
	}
	return 180
}

// wave is cos·Cos + sin·Sin − Less of the turn.
type wave struct{ cos, sin, less float64 }

func (w wave) at(rad float64) float64 {
	s, c := math.Sincos(rad)
	return float64(w.cos*c) + float64(w.sin*s) - w.less
}

// waves are the bounds as functions of the turn near rad.
func (s section) waves(bs []bound, flats []bar.Flat, rad float64) []wave {
	out := make([]wave, len(bs))
	for i, b := range bs {
		w := wave{less: b.less}
		for _, f := range b.flats {
			t := geom.TurnDeg(flats[f].Deg)
			p := s.furthest(flats[f].Deg*math.Pi/180 - rad)
			w.cos += float64(b.weight * (float64(p.X*t.Sin) + float64(p.Y*t.Cos)))
			w.sin += float64(b.weight * (float64(p.Y*t.Sin) - float64(p.X*t.Cos)))
		}
		out[i] = w
	}
	return out
}

// meet appends the turns in [from, to] at which two waves are equal.
func (w wave) meet(o wave, from, to float64, out []float64) []float64 {
	a, b, c := w.cos-o.cos, w.sin-o.sin, w.less-o.less
	r := math.Hypot(a, b)
	if r == 0 || math.Abs(c) > r {
		return out
	}
	mid, off := math.Atan2(b, a), math.Acos(c/r)
	for _, x := range [2]float64{mid - off, mid + off} {
		x += float64(2 * math.Pi * math.Ceil((from-x)/(2*math.Pi)))
		if x >= from && x <= to {
			out = append(out, x)
		}
	}
	return out
}

// least returns the turn in degrees, of least amount, by which the section needs the smallest bar, and
// how far it is beyond the bounds' less there: the size itself where less is 0.
func (s section) least(sh bar.Shape, bs []bound) (deg, size float64) {
	flats := bar.Bar{Shape: sh}.Flats()
	if len(flats) == 0 || len(s.edges) == 0 {
		return 0, 0
	}
	half := period(sh) / 2 * math.Pi / 180
	stops := []float64{-half, 0, half}
	for _, f := range flats {
		for _, e := range s.edges {
			x := math.Remainder(f.Deg*math.Pi/180-e.rad, 2*half)
			stops = append(stops, x)
		}
	}
	slices.Sort(stops)
	type turn struct{ rad, size float64 }
	var tried []turn
	size = math.Inf(1)
	var at []float64
	for i := range len(stops) - 1 {
		from, to := stops[i], stops[i+1]
		ws := s.waves(bs, flats, (from+to)/2)
		at = append(at[:0], from, to)
		for k, w := range ws {
			for _, o := range ws[:k] {
				at = w.meet(o, from, to, at)
			}
		}
		for _, x := range at {
			most := math.Inf(-1)
			for _, w := range ws {
				most = max(most, w.at(x))
			}
			tried = append(tried, turn{x, most})
			size = min(size, most)
		}
	}
	// of turns that do as well but for rounding the one of least amount, then the positive one
	best := math.Inf(1)
	for _, t := range tried {
		if t.size > size+float64(1e-9*(1+math.Abs(size))) {
			continue
		}
		if a, b := math.Abs(t.rad), math.Abs(best); a < b-1e-9 || a < b+1e-9 && t.rad > best {
			best = t.rad
		}
	}
	return best * 180 / math.Pi, size
}

// turned is the hull turned as a model is by TurnDeg.
func (s section) turned(deg float64) []geom.Vec2 {
	t := geom.TurnDeg(deg)
	out := make([]geom.Vec2, len(s.hull))
	for i, p := range s.hull {
		out[i] = geom.Vec2{X: float64(p.X*t.Cos) + float64(p.Y*t.Sin), Y: float64(p.Y*t.Cos) - float64(p.X*t.Sin)}
	}
	return out
}
