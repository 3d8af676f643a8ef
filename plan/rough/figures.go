package rough

import (
	"barwise/geom"
	"barwise/geom/field/iso"
	"barwise/path"
)

// pass puts a line, which may run back against the sense asked for, on the list with its way in, and cuts the planner's stock by it.
func (w *work) pass(l iso.Line, back bool) {
	lead, l, follow, ok := w.enter(l, back)
	if !ok {
		return
	}
	p := path.Pass{Lead: lead, Closed: l.Closed, Follow: follow}
	if w.slab != nil {
		w.graded(p, l)
		return
	}
	for _, q := range l.Pts {
		p.Points = append(p.Points, geom.Vec3{X: q.X, Y: q.Y, Z: w.z})
	}
	if l.Closed {
		p.Points = append(p.Points, p.Points[0])
	}
	w.put(p)
}

// put measures a pass while it cuts it.
func (w *work) put(p path.Pass) {
	lv := w.lv
	for i := 1; i < len(p.Lead); i++ {
		w.measure(p.Lead[i-1], p.Lead[i])
	}
	if n := len(p.Lead); n > 0 {
		w.measure(p.Lead[n-1], p.Points[0])
	}
	cut, full := lv.Cut, lv.Full
	for i := 1; i < len(p.Points); i++ {
		w.measure(p.Points[i-1], p.Points[i])
	}
	p.Full = lv.Full-full > (lv.Cut-cut)/2
	w.out.Passes = append(w.out.Passes, p)
	w.out.LevelOf = append(w.out.LevelOf, len(w.out.Levels)-1)
	lv.Passes++
	w.tip, w.on = p.End().XY(), true
}

// measure adds a feed move to the level's figures, then cuts it: samples a quarter radius apart look
// for stock on the leading half of the rim.
func (w *work) measure(a, b geom.Vec3) {
	d := b.XY().Sub(a.XY())
	l := d.Len()
	if l == 0 {
		w.sweep(a, b)
		return
	}
	d = d.Mul(1 / l)
	r, inner := 0.93*w.re, w.re-w.slack-float64(0.5*max(w.grid.DX, w.grid.DY))
	n := int(l/(w.p.Cutter.R/4)) + 1
	step := l / float64(n)
	for i := range n {
		c := plus(a.XY(), d, step*(float64(i)+0.5))
		met, sides := false, 0
		for q, u := range rim {
			o := geom.Vec2{X: float64(d.X*u.X) - float64(d.Y*u.Y), Y: float64(d.Y*u.X) + float64(d.X*u.Y)}
			if w.above(plus(c, o, r)) {
				met = true
				w.out.MaxDepth = max(w.out.MaxDepth, w.depthAt(plus(c, o, inner), a.Z+float64((b.Z-a.Z)*(float64(i)+0.5)/float64(n))))
				if q < 2 {
					sides++
				}
			}
		}
		switch {
		case !met:
			w.lv.Air += step
		case sides == 2:
			w.lv.Full += step
			fallthrough
		default:
			w.lv.Cut += step
		}
	}
	w.sweep(a, b)
}

// rim is where measure looks, along and left of the motion in radii: 80° to both sides first.
var rim = [...]geom.Vec2{
	{X: 0.17364818, Y: 0.98480775}, {X: 0.17364818, Y: -0.98480775},
	{X: 0.5, Y: 0.8660254}, {X: 0.5, Y: -0.8660254},
	{X: 0.8660254, Y: 0.5}, {X: 0.8660254, Y: -0.5}, {X: 1, Y: 0},
}
