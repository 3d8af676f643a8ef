package mesh

import "barwise/geom"

// maxEars is the most corners of a polygon that is split exactly where it is not convex: the work may
// grow with the cube of their number, commonly with the square.
const maxEars = 2000

// Split cuts a polygon into triangles: a fan where it is convex, ears where it is not. Corners run
// counter-clockwise seen from outside. A polygon that is not simple is split somehow, each edge of it
// still used once, so that a closed mesh stays closed. One that is not convex and has more than 2000
// corners is fanned all the same.
func Split(vertices []geom.Vec3, corners []int32, emit func(a, b, c int32)) {
	n := len(corners)
	if n < 3 {
		return
	}
	normal := newell(vertices, corners)
	if n > maxEars || convex(vertices, corners, normal) {
		for i := 1; i+1 < n; i++ {
			emit(corners[0], corners[i], corners[i+1])
		}
		return
	}
	left := append([]int32(nil), corners...)
	for at := 0; len(left) > 3; {
		i := ear(vertices, left, at%len(left), normal)
		p, q := (i+len(left)-1)%len(left), (i+1)%len(left)
		emit(left[p], left[i], left[q])
		left = append(left[:i], left[i+1:]...)
		at = i + 1
	}
	emit(left[0], left[1], left[2])
}

func newell(vertices []geom.Vec3, corners []int32) geom.Vec3 {
	var n geom.Vec3
	o := vertices[corners[0]]
	for i := range corners {
		a := vertices[corners[i]].Sub(o)
		b := vertices[corners[(i+1)%len(corners)]].Sub(o)
		n = n.Add(a.Cross(b))
	}
	return n
}

func convex(vertices []geom.Vec3, corners []int32, normal geom.Vec3) bool {
	for i := range corners {
		if turn(vertices, corners, i, normal) < 0 {
			return false
		}
	}
	return true
}

// turn is positive where the polygon bends to the left at corner i.
func turn(vertices []geom.Vec3, c []int32, i int, normal geom.Vec3) float64 {
	n := len(c)
	a, b, d := vertices[c[(i+n-1)%n]], vertices[c[i]], vertices[c[(i+1)%n]]
	return b.Sub(a).Cross(d.Sub(b)).Dot(normal)
}

// ear returns the first corner from at on that can be cut off; the most convex one where none is clean.
func ear(vertices []geom.Vec3, c []int32, at int, normal geom.Vec3) int {
	best, most := at, turn(vertices, c, at, normal)
	for k := range c {
		i := (at + k) % len(c)
		w := turn(vertices, c, i, normal)
		if w > 0 && clear(vertices, c, i, normal) {
			return i
		}
		if w > most {
			best, most = i, w
		}
	}
	return best
}

// clear reports whether no other corner lies in the triangle that cutting off corner i would take.
func clear(vertices []geom.Vec3, c []int32, i int, normal geom.Vec3) bool {
	n := len(c)
	p, q := (i+n-1)%n, (i+1)%n
	t := [3]geom.Vec3{vertices[c[p]], vertices[c[i]], vertices[c[q]]}
	for k := range c {
		if k == p || k == i || k == q || c[k] == c[p] || c[k] == c[q] {
			continue
		}
		in := true
		for e := range t {
			in = in && t[(e+1)%3].Sub(t[e]).Cross(vertices[c[k]].Sub(t[e])).Dot(normal) >= 0
		}
		if in {
			return false
		}
	}
	return true
}
