package place

import (
	"cmp"
	"math"
	"slices"

	"barwise/geom"
)

// span is a stretch of y in which a sample of the spigot's section is inside the model.
type span struct{ lo, hi float64 }

// samples covers the spigot's section evenly: the sunflower lattice of the disc, a grid on the square,
// with the rim sampled too. None lies on the axes, where models like to have edges.
func (s Spigot) samples() []geom.Vec2 {
	var out []geom.Vec2
	if s.Square {
		const n = 13
		for i := range n {
			for j := range n {
				x, z := (2*float64(i)/(n-1)-1)*s.Radius, (2*float64(j)/(n-1)-1)*s.Radius
				out = append(out, geom.Vec2{X: float64(x) + float64(1e-5*s.Radius), Y: float64(z) + float64(1.7e-5*s.Radius)})
			}
		}
		return out
	}
	const inner, rim = 128, 48
	golden := math.Pi * (3 - math.Sqrt(5))
	for k := range inner {
		r := s.Radius * math.Sqrt((float64(k)+0.5)/inner)
		sn, c := math.Sincos(float64(float64(k)*golden) + 0.1)
		out = append(out, geom.Vec2{X: r * c, Y: r * sn})
	}
	for k := range rim {
		sn, c := math.Sincos(2*math.Pi*(float64(k)+0.37)/rim + 0.01)
		out = append(out, geom.Vec2{X: s.Radius * c, Y: s.Radius * sn})
	}
	return out
}

// outline returns n points, a multiple of four, on the outline of the section grown by out; of a square
// half of them on its four rounded corners.
func (s Spigot) outline(out float64, n int) []geom.Vec2 {
	pts := make([]geom.Vec2, 0, n)
	for k := range n {
		if !s.Square {
			sn, c := math.Sincos(2*math.Pi*(float64(k)+0.37)/float64(n) + 0.01)
			pts = append(pts, geom.Vec2{X: (s.Radius + out) * c, Y: (s.Radius + out) * sn})
			continue
		}
		turn := geom.TurnDeg(90 * float64(k%4))
		j, half := k/4, n/8
		p := geom.Vec2{X: s.Radius + out, Y: s.Radius * (2*(float64(j)+0.37)/float64(half) - 1)}
		if j >= half {
			sn, c := math.Sincos(math.Pi / 2 * (float64(j-half) + 0.37) / float64(n/4-half))
			p = geom.Vec2{X: s.Radius + float64(out*c), Y: s.Radius + float64(out*sn)}
		}
		pts = append(pts, geom.Vec2{X: float64(p.X*turn.Cos) - float64(p.Y*turn.Sin), Y: float64(p.X*turn.Sin) + float64(p.Y*turn.Cos)})
	}
	return pts
}

// crossing is where a line along Y passes the model's surface: up +1 going in, −1 coming out.
type crossing struct {
	y  float64
	in int
}

// probe returns for each point (x, z) the stretches of y inside the model.
func (o *Placed) probe(pts []geom.Vec2) [][]span {
	order := make([]int, len(pts))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(i, j int) int { return cmp.Or(cmp.Compare(pts[i].X, pts[j].X), cmp.Compare(i, j)) })
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, p := range pts {
		lo, hi = min(lo, p.Y), max(hi, p.Y)
	}
	hits := make([][]crossing, len(pts))
	for i := range o.ModelTriangles {
		a, b, c := o.Mesh.Corners(i)
		if min(a.Z, b.Z, c.Z) > hi || max(a.Z, b.Z, c.Z) < lo {
			continue
		}
		from, far := min(a.X, b.X, c.X), max(a.X, b.X, c.X)
		k, _ := slices.BinarySearchFunc(order, from, func(i int, x float64) int { return cmp.Compare(pts[i].X, x) })
		for ; k < len(order) && pts[order[k]].X <= far; k++ {
			if x, ok := cross(a, b, c, pts[order[k]]); ok {
				hits[order[k]] = append(hits[order[k]], x)
			}
		}
	}
	out := make([][]span, len(pts))
	for k, hs := range hits {
		slices.SortFunc(hs, func(a, b crossing) int { return cmp.Or(cmp.Compare(a.y, b.y), cmp.Compare(b.in, a.in)) })
		depth, from := 0, 0.0
		for _, h := range hs {
			was := depth
			if depth += h.in; was <= 0 && depth > 0 {
				from = h.y
			} else if was > 0 && depth <= 0 {
				out[k] = append(out[k], span{from, h.y})
			}
		}
	}
	return out
}

// cross meets the line along Y through p with a triangle. An edge belongs to the triangle on one side
// of it only, whichever way it is walked: the rule looks at the ends in a fixed order.
func cross(a, b, c geom.Vec3, p geom.Vec2) (crossing, bool) {
	v := [3]geom.Vec3{a, b, c}
	odd := false
	for k := range v {
		s, e := v[k], v[(k+1)%3]
		if s.Z > e.Z || s.Z == e.Z && s.X > e.X {
			s, e = e, s
		}
		if s.Z > p.Y || e.Z <= p.Y {
			continue
		}
		x := s.X + float64((e.X-s.X)*((p.Y-s.Z)/(e.Z-s.Z)))
		if x > p.X {
			odd = !odd
		}
	}
	if !odd {
		return crossing{}, false
	}
	n := b.Sub(a).Cross(c.Sub(a))
	if n.Y == 0 {
		return crossing{}, false
	}
	y := a.Y - (float64((p.X-a.X)*n.X)+float64((p.Y-a.Z)*n.Z))/n.Y
	y = min(max(y, min(a.Y, b.Y, c.Y)), max(a.Y, b.Y, c.Y))
	if n.Y < 0 {
		return crossing{y, 1}, true
	}
	return crossing{y, -1}, true
}
