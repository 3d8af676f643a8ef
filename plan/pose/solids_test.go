package pose

import (
	"math"

	"barwise/geom"
	"barwise/geom/mesh"
)

// maker puts surfaces together; each faces outward.
type maker struct{ mesh.Mesh }

func (k *maker) vertex(p geom.Vec3) int32 {
	k.Vertices = append(k.Vertices, p)
	return int32(len(k.Vertices) - 1)
}

// quad adds a, b, c, d counter-clockwise seen from outside.
func (k *maker) quad(a, b, c, d geom.Vec3) {
	i, j, l, m := k.vertex(a), k.vertex(b), k.vertex(c), k.vertex(d)
	k.Triangles = append(k.Triangles, [3]int32{i, j, l}, [3]int32{i, l, m})
}

// plate adds the rectangle with middle o and half edges u, v facing u × v, with a round hole of radius r in
// its middle, which goes depth deep and has a flat bottom.
func (k *maker) plate(o, u, v geom.Vec3, r, depth float64) {
	const n = 64
	w := u.Cross(v).Unit()
	uu, vv := u.Unit(), v.Unit()
	down := w.Mul(-depth)
	at := func(i int) (rim, out geom.Vec3) {
		s, c := math.Sincos(2 * math.Pi * (float64(i) + 0.5) / n)
		rim = o.Add(uu.Mul(r * c)).Add(vv.Mul(r * s))
		t := min(u.Len()/math.Abs(c), v.Len()/math.Abs(s))
		return rim, o.Add(uu.Mul(t * c)).Add(vv.Mul(t * s))
	}
	corner := func(a, b geom.Vec3) bool { // whether the outline turns between a and b
		a, b = a.Sub(o), b.Sub(o)
		on := func(p geom.Vec3) bool { return math.Abs(math.Abs(p.Dot(uu))-u.Len()) < 1e-9 }
		return on(a) != on(b)
	}
	for i := range n {
		a, p := at(i)
		b, q := at(i + 1)
		k.quad(a, p, q, b)
		if corner(p, q) {
			m := p.Add(q).Sub(o.Mul(2))
			e := o.Add(u.Mul(math.Copysign(1, m.Dot(u)))).Add(v.Mul(math.Copysign(1, m.Dot(v))))
			k.quad(p, e, q, q)
		}
		k.quad(a, b, b.Add(down), a.Add(down))
		k.quad(a.Add(down), b.Add(down), o.Add(down), o.Add(down))
	}
}

// turn adds the body that a closed outline of (radius, height), counter-clockwise with radius to the right
// and height up, makes about Z.
func (k *maker) turn(outline [][2]float64, n int) {
	at := func(p [2]float64, i int) geom.Vec3 {
		s, c := math.Sincos(2 * math.Pi * float64(i) / float64(n))
		return geom.Vec3{X: p[0] * c, Y: p[0] * s, Z: p[1]}
	}
	for j, p := range outline {
		q := outline[(j+1)%len(outline)]
		if p[0] == 0 && q[0] == 0 {
			continue
		}
		for i := range n {
			k.quad(at(p, i), at(p, i+1), at(q, i+1), at(q, i))
		}
	}
}

func (k *maker) box(lo, hi geom.Vec3) {
	c, h := lo.Add(hi).Mul(0.5), hi.Sub(lo).Mul(0.5)
	x, y, z := geom.Vec3{X: h.X}, geom.Vec3{Y: h.Y}, geom.Vec3{Z: h.Z}
	for _, f := range [][3]geom.Vec3{{x, y, z}, {y, z, x}, {z, x, y}} {
		k.face(c.Add(f[0]), f[1], f[2])
		k.face(c.Sub(f[0]), f[2], f[1])
	}
}

// face is a rectangle with middle o and half edges u, v, facing u × v.
func (k *maker) face(o, u, v geom.Vec3) {
	k.quad(o.Sub(u).Sub(v), o.Add(u).Sub(v), o.Add(u).Add(v), o.Sub(u).Add(v))
}

// crossDrilled is a block 36 × 24 × 24 with bores of Ø6 in two of its faces: three, 20 deep, in the one that faces +Z and
// four, 16 deep, in the one that faces +X. Only a cutter that looks along ±Z and ±X gets down them.
func crossDrilled() *mesh.Mesh {
	k := &maker{}
	x, y, z := geom.Vec3{X: 18}, geom.Vec3{Y: 12}, geom.Vec3{Z: 12}
	k.face(x.Mul(-1), z, y)
	k.face(y, z, x)
	k.face(y.Mul(-1), x, z)
	k.face(z.Mul(-1), y, x)
	for i := range 3 {
		k.plate(geom.Vec3{X: float64(i)*12 - 12, Z: 12}, geom.Vec3{X: 6}, y, 3, 9)
	}
	for i := range 4 {
		k.plate(geom.Vec3{X: 18, Y: float64(i%2)*12 - 6, Z: float64(i/2)*12 - 6}, geom.Vec3{Y: 6}, geom.Vec3{Z: 6}, 3, 9)
	}
	return &k.Mesh
}

// cup is a round cup about Z, its opening up.
func cup() *mesh.Mesh {
	k := &maker{}
	k.turn([][2]float64{{0, 0}, {9, 0}, {9, 26}, {6.5, 26}, {6.5, 4}, {0, 4}}, 96)
	return &k.Mesh
}

// tower is a square tower about Z, 50 high, with blind portholes of Ø4 in its four walls, leaning on a plinth that
// stands lean radians off it. Only a cutter that looks squarely at a wall gets down its portholes.
func tower(lean float64) *mesh.Mesh {
	k := &maker{}
	const half = 5.0
	z := geom.Vec3{Z: half}
	for i := range 4 {
		s, c := math.Round(math.Sin(float64(i)*math.Pi/2)), math.Round(math.Cos(float64(i)*math.Pi/2))
		out, along := geom.Vec3{X: c, Y: s}.Mul(half), geom.Vec3{X: -s, Y: c}.Mul(half)
		for h := half; h < 50; h += 10 {
			depth := 4.0
			if i%2 == 1 {
				depth = 2.5
			}
			k.plate(out.Add(geom.Vec3{Z: h}), along, z, 2, depth)
		}
	}
	k.face(geom.Vec3{Z: 50}, geom.Vec3{X: half}, geom.Vec3{Y: half})
	k.face(geom.Vec3{}, geom.Vec3{Y: half}, geom.Vec3{X: half})
	p := &maker{}
	p.box(geom.Vec3{X: -9, Y: -7, Z: -5}, geom.Vec3{X: 9, Y: 7, Z: 1})
	s, c := math.Sincos(lean)
	return mesh.Join(&k.Mesh, p.Map(func(p geom.Vec3) geom.Vec3 {
		return geom.Vec3{X: c*p.X + s*p.Z, Y: p.Y, Z: c*p.Z - s*p.X}
	}))
}
