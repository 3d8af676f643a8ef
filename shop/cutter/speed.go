package cutter

import "math"

// RPM is the spindle speed, rev/min, at which an edge at diameter d mm moves at vc m/min:
// n = 1000·vc/(π·d).
func RPM(vc, d float64) float64 { return 1000 * vc / (math.Pi * d) }

// SurfaceSpeed is the speed of an edge at diameter d mm, m/min: vc = π·d·n/1000.
func SurfaceSpeed(rpm, d float64) float64 { return math.Pi * d * rpm / 1000 }

// Feed is the feed, mm/s, of z edges that take fz mm each: vf = n·z·fz, divided by 60 for seconds.
func Feed(rpm float64, z int, fz float64) float64 { return rpm * float64(z) * fz / 60 }

// ToothLoad is fz, mm a tooth, at a feed in mm/s.
func ToothLoad(feed, rpm float64, z int) float64 { return 60 * feed / (rpm * float64(z)) }
