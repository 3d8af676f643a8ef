package main

import (
	"math"

	"barwise/geom"
)

// Signed distances, mm, negative inside. They need not be true distances away from the surface, only
// fall by no more than about 1 mm a mm.

// join is the union with its hollow edge filled to radius r where the two meet at right angles.
func join(a, b, r float64) float64 {
	u, v := max(r-a, 0), max(r-b, 0)
	return max(r, min(a, b)) - math.Sqrt(float64(u*u)+float64(v*v))
}

// meet is the intersection with its outer edge rounded to radius r.
func meet(a, b, r float64) float64 { return -join(-a, -b, r) }

// without takes b from a; the rim is rounded to radius r.
func without(a, b, r float64) float64 { return meet(a, -b, r) }

// stand puts what stands on y = 0 on a spigot of radius r and the given length, with a fillet under the foot.
func stand(d float64, p geom.Vec3, rho, r, long, fillet float64) float64 {
	return join(d, max(meet(rho-r, -long-p.Y, edge), p.Y-2), fillet)
}

// plane is a half-space: p·n ≤ d.
type plane struct {
	n geom.Vec3
	d float64
}

// stone is a convex boulder, its edges worn.
type stone []plane

// wear is how sharp a stone's edges are, per mm: they lose about 0.7/wear.
const wear = 7

func (s stone) distance(p geom.Vec3) float64 {
	var d [24]float64
	most := math.Inf(-1)
	for i, q := range s {
		d[i] = p.Dot(q.n) - q.d
		most = max(most, d[i])
	}
	if math.Abs(most) > 2 {
		return most
	}
	sum := 0.0
	for _, x := range d[:len(s)] {
		if x > most-3 {
			sum += math.Exp(wear * (x - most))
		}
	}
	return most + math.Log(sum)/wear
}

// lot is a small generator of even numbers from 0 to 1 (SplitMix64, Steele, Lea and Flood 2014).
type lot uint64

func (l *lot) next() float64 {
	*l += 0x9e3779b97f4a7c15
	z := uint64(*l)
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	return float64((z^z>>31)>>11) / (1 << 53)
}

func (l *lot) between(a, b float64) float64 { return a + float64((b-a)*l.next()) }

// boulder is a stone about c, of n sides at radius r, standing from below the ground to height top. One
// beside the axis has no sides toward it and slopes away from it: nothing is behind it.
func boulder(seed uint64, c geom.Vec3, r, top float64, n int, lean [2]float64) stone {
	l := lot(seed)
	var s stone
	out := geom.Vec3{X: c.X, Z: c.Z}
	beside := out.Len() > 3
	out = out.Unit()
	phase := l.next()
	for i := range n {
		az := 2 * math.Pi * (float64(i) + phase + l.between(-0.3, 0.3)) / float64(n)
		up := l.between(lean[0], lean[1]) * math.Pi / 180
		sa, ca := math.Sincos(az)
		su, cu := math.Sincos(up)
		dir := geom.Vec3{X: cu * sa, Y: su, Z: cu * ca}
		if beside && dir.Dot(out) < 0.2 {
			continue
		}
		// tilted faces pass through their radius at half height
		at := c.Add(geom.Vec3{X: r * sa, Y: top / 2, Z: r * ca}).Sub(geom.Vec3{X: sa, Z: ca}.Mul(r * l.between(0, 0.1)))
		s = append(s, plane{dir, at.Dot(dir)})
	}
	if beside {
		s = append(s, plane{out.Mul(-1), 0})
		for _, sign := range [...]float64{-1, 1} {
			flank := geom.Vec3{X: out.Z * sign, Y: l.between(0.1, 0.4), Z: -out.X * sign}.Add(out.Mul(0.15)).Unit()
			s = append(s, plane{flank, c.Add(geom.Vec3{X: out.Z * sign * r, Y: top / 2, Z: -out.X * sign * r}).Dot(flank)})
		}
	}
	// the top falls outward on all its faces, so that there is nothing behind its rim
	tops := 5
	if beside {
		tops = 2
	}
	for i := range tops {
		az, up := 2*math.Pi*(float64(i)+l.between(-0.3, 0.3))/float64(tops), l.between(76, 85)*math.Pi/180
		if beside {
			az, up = math.Atan2(out.X, out.Z)+l.between(-1, 1), l.between(55, 70)*math.Pi/180
		}
		sa, ca := math.Sincos(az)
		su, cu := math.Sincos(up)
		dir := geom.Vec3{X: cu * sa, Y: su, Z: cu * ca}
		s = append(s, plane{dir, c.Add(geom.Vec3{Y: top}).Dot(dir)})
	}
	return s
}

// noise is smooth and even about 0, between −1 and 1, with a wave about 2 long.
func noise(p geom.Vec3) float64 {
	fx, fy, fz := math.Floor(p.X), math.Floor(p.Y), math.Floor(p.Z)
	ix, iy, iz := int64(fx), int64(fy), int64(fz)
	u, v, w := fade(p.X-fx), fade(p.Y-fy), fade(p.Z-fz)
	at := func(dx, dy, dz int64) float64 {
		l := lot(uint64((ix+dx)*73856093) ^ uint64((iy+dy)*19349663) ^ uint64((iz+dz)*83492791))
		return 2*l.next() - 1
	}
	mix := func(a, b, t float64) float64 { return a + float64((b-a)*t) }
	return mix(
		mix(mix(at(0, 0, 0), at(1, 0, 0), u), mix(at(0, 1, 0), at(1, 1, 0), u), v),
		mix(mix(at(0, 0, 1), at(1, 0, 1), u), mix(at(0, 1, 1), at(1, 1, 1), u), v), w)
}

func fade(t float64) float64 { return t * t * t * (t*(t*6-15) + 10) }
