package main

import (
	"math"

	"barwise/geom"
)

// The bollard is finished with a ball of 1/32 in diameter, 0.397 mm radius: hollows are well over it.
const (
	nook   = 0.8  // radius of hollows between small parts
	barrel = 5.75 // radius of its post
	plate  = 11.4 // half the width of its foot
	inch   = 25.4
)

// bollard is a mooring post on a riveted foot with a cross-bar and a few turns of rope, 1 3/4 in tall over a spigot of 1/4 in.
func bollard(p geom.Vec3) float64 {
	rho := math.Sqrt(float64(p.X*p.X) + float64(p.Z*p.Z))
	d := join(foot(p), max(rho-barrel, p.Y-36, 3-p.Y), 2)
	d = join(d, rope(p, rho), nook)
	d = join(d, crossbar(p), 1.2)
	d = join(d, head(p, rho), 2)
	return stand(meet(d, -p.Y, 0.4), p, rho, 8, inch/4, 0.8)
}

// foot is a square with its corners rounded, its top falling to all four sides, rivets in its rims.
func foot(p geom.Vec3) float64 {
	const fall, rim = 0.45, 4.6
	a, b := math.Abs(p.X), math.Abs(p.Z)
	down := func(x float64) float64 { return slope(p.Y-rim-float64(fall*(plate-x)), fall) }
	d := meet(meet(a-plate, b-plate, 3), meet(down(a), down(b), 0.6), 0.45)
	// rivets, on the side that p faces
	x, z := a, b
	if a > b {
		x, z = b, a
	}
	if z > plate-3 {
		x -= min(max(6.2*math.Round(x/6.2), 0), 6.2)
		d = join(d, geom.Vec3{X: x, Y: p.Y - 2.5, Z: z - plate + 0.45}.Len()-1.25, nook)
	}
	return d
}

// rope lies in turns about the post, of three strands each. Its middle is inside the post, so that
// nothing is behind it, and its strands fade where it turns away.
func rope(p geom.Vec3, rho float64) float64 {
	const thick, apart, first, turns = 1.3, 2.35, 12.4, 4
	n := min(max(math.Round((p.Y-first)/apart), 0), turns-1)
	one := func(n float64) float64 {
		y := p.Y - first - float64(apart*n)
		x := rho - barrel + 0.1
		if d := max(math.Abs(y), math.Abs(x)) - thick; d > 2 {
			return d
		}
		lay := math.Cos(float64(3*math.Atan2(y, x)) + float64(15*math.Atan2(p.X, p.Z)) + n)
		t := min(max(x/thick, 0), 1)
		return math.Sqrt(float64(x*x)+float64(y*y)) - thick + float64(0.115*t*t)*(1-lay)
	}
	d := one(n)
	if n > 0 {
		d = join(d, one(n-1), nook)
	}
	if n < turns-1 {
		d = join(d, one(n+1), nook)
	}
	return d
}

// crossbar goes through the post toward the sides 90° and 270°.
func crossbar(p geom.Vec3) float64 {
	const at, long = 26.3, 10.1
	x, y := math.Abs(p.X), p.Y-at
	d := max(math.Sqrt(float64(y*y)+float64(p.Z*p.Z))-1.5, x-long)
	return join(d, geom.Vec3{X: x - long, Y: y, Z: p.Z}.Len()-2.05, nook)
}

// head is a lip that keeps a line from slipping off, with a dome on it.
func head(p geom.Vec3, rho float64) float64 {
	out, y := max(rho-6.4, 0), p.Y-36
	lip := math.Sqrt(float64(out*out)+float64(y*y)) - 2.6
	const dome = 7
	return join(lip, p.Sub(geom.Vec3{Y: 1.75*inch - dome}).Len()-dome, 2)
}
