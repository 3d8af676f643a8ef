package pose

import (
	"math"
	"slices"

	"barwise/geom"
	"barwise/plan/place"
	"barwise/shop/bar"
	"barwise/shop/cutter"
)

// turned is a pose as a rotation: rows X, Y and Z of the part frame.
type turned = frame

func rows(m place.Motion) turned { return turned{m.X, m.Y, m.Z} }

// pose takes a rotation apart. turnDeg comes out in [0, period).
func (t turned) pose(period float64) Pose {
	t.y = clean(t.y)
	base := place.Toward(t.y, 0)
	// Z of the pose is −s·X + c·Z of the base
	deg := math.Atan2(-t.z.Dot(base.X), t.z.Dot(base.Z)) * 180 / math.Pi
	if r := math.Round(deg); math.Abs(deg-r) < 1e-7 {
		deg = r
	}
	deg = math.Mod(deg, period)
	if deg < 0 {
		deg += period
	}
	return Pose{t.y, deg + 0} // + 0: no zero with a sign
}

// clean takes the rounding off a direction along an axis or in a plane of them.
func clean(d geom.Vec3) geom.Vec3 {
	for _, c := range [...]*float64{&d.X, &d.Y, &d.Z} {
		if math.Abs(*c) < 1e-9 {
			*c = 0
		}
	}
	return d.Unit()
}

// in is a pose of the model as the body's, out the body's as the model's.
func (b *body) in(t turned) turned {
	return turned{b.turn.to(t.x), b.turn.to(t.y), b.turn.to(t.z)}
}

func (b *body) out(t turned) turned {
	from := func(p geom.Vec3) geom.Vec3 {
		return b.turn.x.Mul(p.X).Add(b.turn.y.Mul(p.Y)).Add(b.turn.z.Mul(p.Z))
	}
	return turned{from(t.x), from(t.y), from(t.z)}
}

// side is the frame of the side of index angle deg.
func (t turned) side(deg float64) frame {
	a := geom.TurnDeg(deg)
	return frame{t.x.Mul(a.Cos).Sub(t.z.Mul(a.Sin)), t.y, t.x.Mul(a.Sin).Add(t.z.Mul(a.Cos))}
}

// onto is the frame of the end side.
func (t turned) onto() frame { return frame{t.x, t.z.Mul(-1), t.y} }

// ruler is what poses are judged against: the model, its samples and its points at one pixel.
type ruler struct {
	*body
	p       *Params
	set     Set
	shape   bar.Shape
	pts     *cloud
	smp     *samples
	cut     *shape
	collars []cutter.Collar
	hull    []geom.Vec3 // what reaches furthest in any direction; of the last ruler all vertices
	few     []geom.Vec3 // of the first look
	middle  geom.Vec3   // of the surface
	steep   float32     // cosine of SteepFrom
}

// collars are what comes down with the cutter and is wider, with the limits of what each can do without;
// need is the one that is the holder.
func collars(c cutter.Cutter) (cs []cutter.Collar, limits []float64, need int) {
	free := c.StickOut <= 0
	if free {
		c.StickOut = math.Inf(1)
	}
	need = -1
	for _, k := range c.Collars() {
		if k.R <= c.R {
			continue
		}
		if need < 0 && k.Z >= c.StickOut {
			need = len(cs)
		}
		cs, limits = append(cs, k), append(limits, k.Z)
	}
	if need < 0 {
		need = len(cs)
		cs, limits = append(cs, cutter.Collar{R: typicalHolder}), append(limits, c.StickOut)
	}
	return cs, limits, need
}

// typicalHolder is the radius of a small collet's nut, mm (common practice, no source): for a cutter that
// has no holder of its own.
const typicalHolder = 8

// bench is one worker's room.
type bench struct {
	v     *view
	best  []touch // of each sample
	got   []uint8
	needs []float32
}

const (
	gotShort = 1 << iota
	gotTouch
	gotHeld
)

func (r *ruler) newBench() *bench {
	return &bench{v: newView(r.radius, r.pts.px, r.collars, len(r.smp.at)), best: make([]touch, len(r.smp.at)), got: make([]uint8, len(r.smp.at))}
}

// judge says what the pose costs.
func (r *ruler) judge(w *bench, t turned) Parts {
	clear(w.got)
	p := Parts{Area: r.area, Size: r.size}
	lo, hi := r.section(t)
	r.fit(t, lo, hi, &p)
	r.hold(w, t, lo, hi, &p)
	if r.set.End {
		w.v.draw(r.pts, t.onto())
		r.touch(w, t.onto(), 0)
	}
	done := make([]bool, len(r.set.Sides))
	for i, deg := range r.set.Sides {
		if done[i] {
			continue
		}
		f := t.side(deg)
		w.v.draw(r.pts, f)
		r.touch(w, f, 0)
		for j := i + 1; j < len(done); j++ {
			if !done[j] && remainder(r.set.Sides[j]-deg-180, 360) == 0 {
				done[j] = true
				r.touch(w, f.back(), 1)
				break
			}
		}
	}
	r.sum(w, &p)
	r.time(&p)
	return p
}

// touch adds what map s of the view touches. Of more than one side a sample keeps the kindest slope and the
// shortest need.
func (r *ruler) touch(w *bench, f frame, s int) {
	for i, p := range r.smp.at {
		if w.got[i]&gotHeld != 0 {
			continue
		}
		n := r.smp.n[i]
		if n.Dot(f.z) < -r.cut.face {
			continue
		}
		t, ok := w.v.touched(s, r.cut, f.to(p), f.to(n))
		switch {
		case t.short:
			w.got[i] |= gotShort
		case !ok:
		case w.got[i]&gotTouch == 0:
			w.got[i] |= gotTouch
			w.best[i] = t
		default:
			w.best[i].cos = max(w.best[i].cos, t.cos)
			w.best[i].need = min(w.best[i].need, t.need)
		}
	}
}

// nearEnd is how far from the held end the model counts as what it is held by, as a share of its length.
const nearEnd = 0.06

// hold finds by what the model is held: the surface near its end toward the stop that faces it, as the
// stop sees it.
func (r *ruler) hold(w *bench, t turned, lo, hi geom.Vec3, p *Parts) {
	zone := lo.Y + max(nearEnd*(hi.Y-lo.Y), r.pts.px)
	floor := lo.Y + r.pts.px
	mid := lo.Add(hi).Mul(0.5)
	in, cover := 0.0, 0.0
	for i, n := range r.smp.n {
		c := -n.Dot(t.y)
		if c <= 0 {
			continue
		}
		cover += c
		s := r.smp.at[i]
		y := s.Dot(t.y)
		if y > zone || r.p.Spigot > 0 && math.Hypot(s.Dot(t.x)-mid.X, s.Dot(t.z)-mid.Z) > r.p.Spigot {
			continue
		}
		in += c
		if c > heldFacing && y <= floor {
			w.got[i] |= gotHeld
		}
	}
	p.Contact = in * r.smp.unit
	p.Lever = (r.middle.Dot(t.y) - lo.Y) / (hi.Y - lo.Y)
	p.Hold = min(1, p.Contact/r.heldBy(cover*r.smp.unit))
}

// heldBy is the area that a hold is a share of.
func (r *ruler) heldBy(cover float64) float64 {
	if r.p.Spigot > 0 {
		return math.Pi * r.p.Spigot * r.p.Spigot
	}
	return max(cover, r.smp.unit)
}

// heldFacing is the least share of a normal toward the stop for a surface to lie on the spigot: within
// 30° of it.
const heldFacing = 0.866

// section returns the box of the model in the part frame, about the body's centre.
func (r *ruler) section(t turned) (lo, hi geom.Vec3) {
	b := geom.EmptyBox()
	for _, q := range r.hull {
		b = b.Grow(t.to(q))
	}
	return b.Min, b.Max
}

// sum adds the samples up.
func (r *ruler) sum(w *bench, p *Parts) {
	var held, missed, short, steep int
	slow := 0.0
	w.needs = w.needs[:0]
	for i, g := range w.got {
		switch {
		case g&gotHeld != 0:
			held++
		case g&gotTouch == 0:
			missed++
			if g&gotShort != 0 {
				short++
			}
		default:
			t := w.best[i]
			if t.cos < r.steep {
				steep++
			}
			slow += slowness(float64(t.cos))
			w.needs = append(w.needs, t.need)
		}
	}
	u := r.smp.unit
	p.Held, p.Missed, p.Shank, p.Steep = float64(held)*u, float64(missed)*u, float64(short)*u, float64(steep)*u
	p.Finish = slow * u / r.perMinute()
	if n := len(w.needs); n > 0 {
		slices.Sort(w.needs)
		p.StickOut = float64(w.needs[n-1-n/200])
	}
}

// perMinute is mm² finished in a minute where it is level.
func (r *ruler) perMinute() float64 { return r.p.stepover() * r.p.Feed * 60 }

// slowness is the factor of time by the cosine of the slope: 1 on the level, one and a half on a wall, for
// passes there are short and go up and down (our own estimate, no source).
func slowness(cos float64) float64 {
	s := 1 - cos
	return 1 + float64(0.5*s*s)
}

// time fills the times, the section being known.
func (r *ruler) time(p *Parts) {
	a := p.Across * p.High
	switch r.shape {
	case bar.Hex:
		a *= math.Sqrt(3) / 2
	case bar.Round:
		a *= math.Pi / 4
	}
	if b := r.p.Bar; b.Width > 0 && b.Shape == r.shape && p.Fits {
		a = b.Area()
	}
	p.Remove = max(0, float64(a*p.Length)-r.volume)
	p.Rough = p.Remove / r.p.Rate / 60
	n := len(r.set.Sides)
	if r.set.End {
		n++
	}
	p.Turns = float64(n) * r.p.TurnTime / 60
	p.Unit = r.area/r.perMinute() + r.size*r.size*r.size/r.p.Rate/60
}

// fit fills the section it needs and whether the given bar has it.
func (r *ruler) fit(t turned, lo, hi geom.Vec3, p *Parts) {
	p.Length, p.Bar = hi.Y-lo.Y, hi.Y-lo.Y+r.p.Extra
	w, h := hi.X-lo.X, hi.Z-lo.Z
	switch r.shape {
	case bar.Hex:
		w = r.hexAcross(t)
		h = w
	case bar.Round:
		w = 2 * r.enclosing(t, lo.Add(hi).Mul(0.5))
		h = w
	case bar.Square:
		w = max(w, h)
		h = w
	}
	p.Fits = true
	b := r.p.Bar
	if b.Shape == r.shape && b.Width > 0 {
		bw, bh := b.Width-2*r.p.Margin, b.Height-2*r.p.Margin
		if r.shape != bar.Rect {
			bh = bw
		}
		p.Scale = min(bw/w, bh/h)
		if b.Length > 0 {
			p.Scale = min(p.Scale, (b.Length-r.p.Extra)/p.Length)
		}
		p.Scale = max(p.Scale, 0)
		p.Fits = p.Scale >= 1-1e-9
	}
	p.Across, p.High = w+2*r.p.Margin, h+2*r.p.Margin
}

// hexAcross is the least width across flats of a hexagon with flats at 0°, 60°, … that holds the model,
// wherever its middle. The hexagon of half width a about c holds it if h(u) − c·u ≤ a for its six directions
// u. By duality the least a is the greatest mean of h over directions that cancel: three opposite pairs and
// two triples at 120°.
func (r *ruler) hexAcross(t turned) float64 {
	var h [6]float64
	for i := range h {
		u := t.side(float64(60 * i)).z
		h[i] = math.Inf(-1)
		for _, q := range r.hull {
			h[i] = max(h[i], q.Dot(u))
		}
	}
	return 2 * max((h[0]+h[3])/2, (h[1]+h[4])/2, (h[2]+h[5])/2, (h[0]+h[2]+h[4])/3, (h[1]+h[3]+h[5])/3)
}

// enclosing is the radius of a circle about the axis that holds the model, within some percent of the least: the
// middle is moved toward the furthest point by ever smaller steps (Bădoiu and Clarkson, 2003), by the few
// points of the first look; the radius is that of all.
func (r *ruler) enclosing(t turned, c geom.Vec3) float64 {
	furthest := func(pts []geom.Vec3, c geom.Vec3) (float64, geom.Vec3) {
		far, at := -1.0, geom.Vec3{}
		for _, q := range pts {
			d := geom.Vec3{X: q.Dot(t.x) - c.X, Z: q.Dot(t.z) - c.Z}
			if l := d.Dot(d); l > far {
				far, at = l, d
			}
		}
		return far, at
	}
	least, best := math.Inf(1), c
	for k := range 60 {
		far, at := furthest(r.few, c)
		if far < least {
			least, best = far, c
		}
		c = c.Add(at.Mul(1 / float64(k+8)))
	}
	far, _ := furthest(r.hull, best)
	return math.Sqrt(far)
}
