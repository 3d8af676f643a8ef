package cl

import (
	"math"

	"barwise/geom"
)

// side is a border of a triangle on the grid: x = at + row·slope, in columns.
type side struct{ at, slope float64 }

// steep is the slope in mm per mm beyond which a facet's patch is held between its own heights, lest the
// slack carry it away.
const steep = 100

// patch raises the tile to the triangle a b c, counter-clockwise seen from above, in a plane of upward
// normal n. It reaches over its border by the slack.
func (d *drawer) patch(a, b, c geom.Vec3, n geom.Vec3) {
	g := &d.grid
	box := d.box(min(a.X, b.X, c.X)-d.slack, max(a.X, b.X, c.X)+d.slack, min(a.Y, b.Y, c.Y)-d.slack, max(a.Y, b.Y, c.Y)+d.slack)
	if box.i0 > box.i1 || box.j0 > box.j1 {
		return
	}
	left := [2]side{{float64(box.i0), 0}, {float64(box.i0), 0}}
	right := [2]side{{float64(box.i1), 0}, {float64(box.i1), 0}}
	nl, nr := 0, 0
	border := func(p, q geom.Vec3) {
		dy := q.Y - p.Y
		if dy == 0 {
			return
		}
		k := (q.X - p.X) / dy
		over := d.slack * (1 + math.Abs(k))
		x := p.X + float64((g.Y0-p.Y)*k) - g.X0
		k *= g.DY / g.DX
		if dy > 0 {
			right[nr&1] = side{(x + over) / g.DX, k}
			nr++
		} else {
			left[nl&1] = side{(x - over) / g.DX, k}
			nl++
		}
	}
	border(a, b)
	border(b, c)
	border(c, a)
	gx, gy := -n.X/n.Z, -n.Y/n.Z
	lo, hi := noHeight, -noHeight
	clamp := gx > steep || gx < -steep || gy > steep || gy < -steep
	if clamp {
		lo, hi = min(a.Z, b.Z, c.Z), max(a.Z, b.Z, c.Z)
	}
	z0 := a.Z + float64((g.X0-a.X)*gx) + float64((g.Y0-a.Y)*gy)
	gx *= g.DX
	gy *= g.DY
	for j := box.j0; j <= box.j1; j++ {
		y := float64(j)
		l, r := left[0].at+float64(y*left[0].slope), right[0].at+float64(y*right[0].slope)
		if t := left[1].at + float64(y*left[1].slope); t > l {
			l = t
		}
		if t := right[1].at + float64(y*right[1].slope); t < r {
			r = t
		}
		i0, i1 := ceilIn(l, box.i0, box.i1), floorIn(r, box.i0, box.i1)
		if i0 > i1 {
			continue
		}
		z := z0 + float64(y*gy) + float64(float64(i0)*gx)
		row := d.z[j*g.NX+i0 : j*g.NX+i1+1]
		if clamp {
			for i := range row {
				if h := float32(min(max(z+float64(float64(i)*gx), lo), hi)); h > row[i] {
					row[i] = h
				}
			}
			continue
		}
		for i := range row {
			if h := float32(z); h > row[i] {
				row[i] = h
			}
			z += gx
		}
	}
}
