package rough

import (
	"math"

	"barwise/geom"
)

// openZones enters every zone that holds wanted stock and no clear room, by a helix in its widest
// place. Each is tried once.
func (w *work) openZones() bool {
	label, zones := w.zones()
	if len(zones) == 0 {
		return false
	}
	type seen struct {
		clear, shut bool
		k           int
		d           float64
	}
	at := make([]seen, len(zones)+1)
	off := float32(w.aloof())
	far, reach := w.re*w.re, w.re*w.re
	for k, l := range label {
		if l == 0 || w.wall.g[k] < off {
			continue
		}
		at[l].clear = at[l].clear || w.stock.d2[k] >= far
		at[l].shut = at[l].shut || w.stock.d2[k] < reach
	}
	any := false
	for l := range at {
		if at[l].clear || w.opened[int32(l)] {
			at[l].shut = false
		}
		any = any || at[l].shut
	}
	if !any {
		return false
	}
	room := w.scratch
	if !room.toSet(func(k int) bool { return w.wall.g[k] < off }) {
		return false
	}
	for k, l := range label {
		if at[l].shut && room.d2[k] > at[l].d {
			at[l].k, at[l].d = k, room.d2[k]
		}
	}
	pitch := max(w.grid.DX, w.grid.DY)
	least := 0.25 * w.p.Cutter.DC()
	if w.p.Cutter.Plunges {
		least = 0.1 * w.p.Cutter.DC()
	}
	least = max(least, 2*pitch)
	made := false
	for l := 1; l < len(at); l++ {
		if !at[l].shut {
			continue
		}
		w.opened[int32(l)] = true
		r := min(w.p.Helix, math.Sqrt(at[l].d)-pitch)
		if r < least {
			continue
		}
		nx := w.grid.NX
		made = w.bore(geom.Vec2{X: w.grid.X(at[l].k % nx), Y: w.grid.Y(at[l].k / nx)}, r) || made
	}
	return made
}

// bore goes down a helix of radius r and once round it on the level, all of it way in, and walks on.
func (w *work) bore(c geom.Vec2, r float64) bool {
	circle := w.circle(c, r)
	if !w.p.Climb {
		circle = circle.Reversed()
	}
	w.on = false
	lead, ok := w.ramp(circle)
	if !ok {
		return false
	}
	if len(lead) > 0 {
		w.lv.Entries++
	}
	n := len(circle.Pts)
	for i := range n + 1 {
		q := circle.Pts[i%n]
		if i > 0 {
			w.slab.cut(circle.Pts[i-1], q)
		}
		if i > 0 || len(lead) == 0 {
			lead = append(lead, geom.Vec3{X: q.X, Y: q.Y, Z: w.z})
		}
	}
	p := circle.Pts[0]
	w.walk(p, heading([]geom.Vec2{circle.Pts[n-1], p}, 0), lead)
	return true
}
