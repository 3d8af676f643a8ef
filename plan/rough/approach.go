package rough

import "barwise/geom"

// approach finds the way to the start of a pass: from the last one through the cleared room, or from a
// place so clear of stock that the cutter can be let down there; false where there is none. Where stock
// stands before the start it is met at a slant, under the cap unless forced.
func (w *work) approach(p, u geom.Vec2, forced bool) (lead []geom.Vec3, follow, ok bool) {
	clear := !w.touches(p, w.clearance())
	if clear && w.reach(p) {
		return nil, true, true
	}
	if clear && w.airy(p) {
		return nil, false, true
	}
	q, down, found := w.aside(p, u, clear, false)
	if !found && forced && !clear {
		q, down, found = w.aside(p, u, clear, true)
	}
	if !found {
		return nil, false, clear
	}
	return []geom.Vec3{{X: q.X, Y: q.Y, Z: w.z}}, !down, true
}

// aside looks for a place beside the start of a pass, clear of stock, from which a straight line leads on
// to it: one that the tip reaches on the level, else one where it can be let down.
func (w *work) aside(p, u geom.Vec2, clear, rude bool) (q geom.Vec2, down, ok bool) {
	n := geom.Vec2{X: -u.Y, Y: u.X}
	if !w.p.Climb {
		n = n.Mul(-1)
	}
	r := w.p.Cutter.R
	for _, down := range [2]bool{false, true} {
		if !down && (clear || !w.on) {
			continue
		}
		for _, off := range [...]float64{0.2, 0.35, 0.6, 1, 1.5} {
			for _, back := range [...]float64{1, 0.5, 0, 2, -0.5, -1} {
				q := plus(plus(p, n, off*r), u, -back*r)
				if w.wallAt(q) < 0 || w.touches(q, w.clearance()) || down && !w.airy(q) || !w.clearWay(q, p) ||
					clear && w.hits(q, p) || !clear && !rude && w.steep(q, p) {
					continue
				}
				if down || w.reach(q) {
					return q, down, true
				}
			}
		}
	}
	return q, false, false
}

// steep reports that the cap would be passed on the straight way from a to b.
func (w *work) steep(a, b geom.Vec2) bool {
	d := b.Sub(a)
	l := d.Len()
	if l == 0 {
		return false
	}
	u := d.Mul(1 / l)
	n := int(l/(w.p.Cutter.R*stride)) + 1
	for i := 1; i <= n; i++ {
		if w.slab.arc(plus(a, d, float64(i)/float64(n)), u) > w.hard {
			return true
		}
	}
	return false
}

// hits reports stock on the straight way from a to b.
func (w *work) hits(a, b geom.Vec2) bool {
	n := int(gap(a, b)/(w.p.Cutter.R/4)) + 1
	for i := 0; i <= n; i++ {
		if w.touches(plus(a, b.Sub(a), float64(i)/float64(n)), w.close()) {
			return true
		}
	}
	return false
}
