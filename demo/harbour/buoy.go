package main

import (
	"math"

	"barwise/geom"
)

// The buoy is finished with a ball of 2 mm diameter: hollows are well over its radius.
const (
	bay    = 1.4  // radius of hollows between its parts
	panel  = 1.4  // and of those in the panels of its tower
	arris  = 0.25 // of its edges
	floatR = 7.2  // of its hull
)

// six are the ways a hexagonal bar lies.
var six = [6]geom.Turn{geom.TurnDeg(0), geom.TurnDeg(60), geom.TurnDeg(120), geom.TurnDeg(180), geom.TurnDeg(240), geom.TurnDeg(300)}

// buoy is a light buoy in the swell, 40 mm tall and 20 mm across.
func buoy(p geom.Vec3) float64 {
	rho := math.Sqrt(float64(p.X*p.X) + float64(p.Z*p.Z))
	d := join(swell(p, rho), hull(p, rho), bay)
	d = join(d, tower6(p), bay)
	d = join(d, deck(p, rho), bay)
	d = join(d, max(rho-2.7, p.Y-34, 27-p.Y), bay)
	d = join(d, p.Sub(geom.Vec3{Y: 35.5}).Len()-4.5, bay)
	return stand(meet(d, -p.Y, 0.5), p, rho, 5, 7, bay)
}

// swell is the sea it stands in. It falls outward everywhere, so that each wave is open to a side.
func swell(p geom.Vec3, rho float64) float64 {
	const r, fall = 10, 0.45
	wave := math.Sin(float64(6*math.Atan2(p.X, p.Z)) + float64(0.8*rho))
	top := 2.9 + float64(fall*(r-rho)) + float64(0.32*wave)*min(1, rho/5)
	return meet(rho-r, slope(p.Y-top, fall), 0.5)
}

// hull is a drum with sloping shoulders, a rubbing band round it and fenders toward the six sides.
func hull(p geom.Vec3, rho float64) float64 {
	const fall = 1.2
	d := meet(rho-floatR, slope(rho-floatR+float64(fall*(p.Y-10.4)), fall), 0.6)
	d = max(d, p.Y-13.5)
	q := facing(p)
	y := min(max(q.Y, 3), 9.2)
	fender := geom.Vec3{X: q.X, Y: q.Y - y, Z: q.Z - floatR}.Len() - 0.85
	d = join(d, fender, bay)
	return join(d, ring(rho, p.Y, 8.3, floatR, 0.45), bay)
}

// facing is p in the frame of the side of six that it faces most.
func facing(p geom.Vec3) geom.Vec3 {
	best := six[0].ToSide(p)
	for _, s := range six[1:] {
		if q := s.ToSide(p); q.Z > best.Z {
			best = q
		}
	}
	return best
}

// tower6 has six faces that lean in, one toward each side, with two panels sunk in each.
func tower6(p geom.Vec3) float64 {
	const lean = 0.105
	half := func(y float64) float64 { return 4.95 - float64(lean*(y-12)) }
	q := facing(p)
	d := slope(q.Z-half(q.Y), lean)
	// the next face, 60° on: its normal seen from this one
	s, c := math.Sincos(math.Pi / 3)
	d = meet(d, slope(float64(math.Abs(q.X)*s)+float64(q.Z*c)-half(q.Y), lean), arris)
	d = max(d, p.Y-27, 11-p.Y)
	if q.Z < 1 {
		return d
	}
	for _, span := range [...][2]float64{{14.1, 18.5}, {20, 23.5}} {
		if q.Y < span[0]-3 || q.Y > span[1]+3 {
			continue
		}
		floor := half(q.Y) - 0.85
		w := float64(half(q.Y)*(s/c/3)) - 0.7
		out := meet(meet(math.Abs(q.X)-w, span[0]-q.Y, panel), q.Y-span[1], panel)
		d = without(d, meet(slope(out-float64(draft*(q.Z-floor)), draft), slope(floor-q.Z, lean), panel), arris)
	}
	return d
}

// deck is the gallery about the lamp.
func deck(p geom.Vec3, rho float64) float64 {
	const r, fall = 5.7, 0.25
	under := (rho - r - (p.Y - 26.6)) / math.Sqrt2
	top := slope(p.Y-28-float64(fall*(r-rho)), fall)
	return meet(meet(rho-r, top, arris), under, arris)
}
