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
	ax, ay := float64((a.X-g.X0)*d.perX), float64((a.Y-g.Y0)*d.perY)
	bx, by := float64((b.X-g.X0)*d.perX), float64((b.Y-g.Y0)*d.perY)
	cx, cy := float64((c.X-g.X0)*d.perX), float64((c.Y-g.Y0)*d.perY)
	overX, overY := float64(d.slack*d.perX), float64(d.slack*d.perY)
	t := &d.clip
	box := rect{
		ceilIn(min(ax, bx, cx)-overX, t.i0, t.i1), floorIn(max(ax, bx, cx)+overX, t.i0, t.i1),
		ceilIn(min(ay, by, cy)-overY, t.j0, t.j1), floorIn(max(ay, by, cy)+overY, t.j0, t.j1),
	}
	if box.i0 > box.i1 || box.j0 > box.j1 {
		return
	}
	left := [2]side{{float64(box.i0), 0}, {float64(box.i0), 0}}
	right := [2]side{{float64(box.i1), 0}, {float64(box.i1), 0}}
	nl, nr := 0, 0
	border := func(px, py, qx, qy float64) {
		dy := qy - py
		if dy == 0 {
			return
		}
		k := (qx - px) / dy
		over := overX + float64(overY*math.Abs(k))
		x := px - float64(py*k)
		if dy > 0 {
			right[nr&1] = side{x + over, k}
			nr++
		} else {
			left[nl&1] = side{x - over, k}
			nl++
		}
	}
	border(ax, ay, bx, by)
	border(bx, by, cx, cy)
	border(cx, cy, ax, ay)
	up := -1 / n.Z
	gx, gy := n.X*up, n.Y*up
	lo, hi := noHeight, -noHeight
	clamp := gx > steep || gx < -steep || gy > steep || gy < -steep
	if clamp {
		lo, hi = min(a.Z, b.Z, c.Z), max(a.Z, b.Z, c.Z)
	}
	z0 := a.Z + float64((g.X0-a.X)*gx) + float64((g.Y0-a.Y)*gy)
	gx, gy = float64(gx*g.DX), float64(gy*g.DY)
	least, most := float64(box.i0), float64(box.i1)
	for j := box.j0; j <= box.j1; j++ {
		y := float64(j)
		l, r := left[0].at+float64(y*left[0].slope), right[0].at+float64(y*right[0].slope)
		if t := left[1].at + float64(y*left[1].slope); t > l {
			l = t
		}
		if t := right[1].at + float64(y*right[1].slope); t < r {
			r = t
		}
		if l < least {
			l = least
		}
		if r > most {
			r = most
		}
		i0, i1 := int(l), int(r)
		if float64(i0) < l {
			i0++
		}
		if i0 > i1 || r < l {
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
