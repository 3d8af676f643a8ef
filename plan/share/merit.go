package share

import (
	"math"

	"barwise/geom"
	"barwise/geom/field"
	"barwise/shop/cutter"
)

// Rule says by what a place is given to a side.
type Rule uint8

// ByMerit gives a place to the side that cuts it at the least cost: time, slope and stick-out. ByWedge
// gives it to the side whose index angle is nearest to the place's angle about the axis, whatever it faces.
// By either, what that side cannot reach goes to the next that can.
const (
	ByMerit Rule = iota
	ByWedge
)

// The weights of merit. A cost of 1 is the time that a square millimetre of level ground takes.
const (
	// rasterLoss is what lines parted by halves lose on a slope: they stand between once and twice as
	// close as the cusp asks, evenly in the logarithm, so 1/ln 2 times on average.
	rasterLoss = 1/math.Ln2 - 1
	// slowZ is the acceleration of the spindle's axis, as a part of that of the others; common practice
	// for small machines, no source.
	slowZ = 0.5
	// steepWeight is what a wall costs beyond its time: the cutter leans on its whole side there and bends
	// away from it, and the wall shows its passes.
	steepWeight = 2
	// stickWeight is what it costs to stick out twice as long as a cutter does anyhow: a beam bends eight
	// times as much then, but only the longest of all places says how the cutter must be held.
	stickWeight = 0.25
	// nearWeight is what each free stick-out of depth costs below that: of two sides that see a place
	// alike the one with the shorter way down has it.
	nearWeight = 0.1
	// freeStick is how far a cutter sticks out anyhow, in diameters.
	freeStick = 4
)

// A seam costs time too: both sides cut the overlap, and every line on either side ends there.
const (
	endTime   = 0.04 // s to end a line and begin the next: from and to 10 mm/s at 400 mm/s², about
	pieceTime = 2    // s to lift, travel and come down again for each part of a share that stands alone
)

// Figures that Params may leave open.
const (
	usualCusp   = 2e-3 // mm
	usualFeed   = 10   // mm/s held
	usualHolder = 8    // mm, radius
)

// topPitch is that of the fields of what stands about a place, mm.
const topPitch = 0.5

// timeOn is the time that a square millimetre of surface takes on a slope of cosine c, against level
// ground: the passes stand closer than they need, and half of them run uphill, where the slower Z axis
// holds back what bends along the way: speed goes with the root of acceleration.
func timeOn(c float64) float64 {
	c = min(max(c, 0), 1)
	sin := math.Sqrt(1 - float64(c*c))
	held := math.Sqrt(max(1, sin/slowZ))
	return (1 + float64(rasterLoss*sin*sin)) * (1 + held) / 2
}

// steepOn is what a slope of cosine c costs beyond its time.
func steepOn(c float64) float64 {
	u := 1 - min(max(c, 0), 1)
	return steepWeight * u * u
}

// stickCost is what a stick-out of l mm costs.
func (s *Set) stickCost(l float64) float64 {
	return (stickWeight*max(0, l-s.free) + nearWeight*l) / s.free
}

// cost says what it costs side o to cut the place q of outward normal n (part frame). It asks nothing of
// whether the side reaches the place. It is the same whichever side asks.
func (s *Set) cost(o *View, q, n geom.Vec3) float64 {
	c := n.Dot(o.Facing)
	return timeOn(c) + steepOn(c) + s.stickCost(s.stick(o, q, n))
}

// wedge says how far a place is from the middle of a side's wedge, 0 at best: 1 − the cosine of the angle
// about the axis. A side that looks along the axis has no angle; it is compared by what it faces.
func wedge(o *View, q, n geom.Vec3) float64 {
	if o.Turn.End {
		return 1 - n.Dot(o.Facing)
	}
	const core = 0.5 // mm about the axis where the angle of a place says little
	r := math.Hypot(q.X, q.Z)
	return 1 - (float64(q.X*o.Facing.X)+float64(q.Z*o.Facing.Z))/max(r, core)
}

// worth is the score of side i at a place by the rule in force, without the vote: the greater the better.
func (s *Set) worth(i int, q, n geom.Vec3) float64 {
	if s.Rule == ByWedge {
		return -wedge(s.Views[i], q, n)
	}
	return -s.cost(s.Views[i], q, n)
}

// stick is how far the cutter must stick out to touch the place q: from its tip to the greatest height
// that the model has within the holder's radius.
func (s *Set) stick(o *View, q, n geom.Vec3) float64 {
	if o.tops == nil {
		return 0
	}
	t := s.tipAt(o, q, n)
	f := o.tops
	a, b := (t.X-f.X0)/f.DX, (t.Y-f.Y0)/f.DY
	a, b = min(max(a, 0), float64(f.NX-1)-1e-9), min(max(b, 0), float64(f.NY-1)-1e-9)
	i, j := int(a), int(b)
	a, b = a-float64(i), b-float64(j)
	i1, j1 := min(i+1, f.NX-1), min(j+1, f.NY-1)
	lo := float64(float64(f.Z[j*f.NX+i])*(1-a)) + float64(float64(f.Z[j*f.NX+i1])*a)
	hi := float64(float64(f.Z[j1*f.NX+i])*(1-a)) + float64(float64(f.Z[j1*f.NX+i1])*a)
	top := float64(lo*(1-b)) + float64(hi*b)
	if math.IsNaN(top) || math.IsInf(top, 0) {
		return 0
	}
	return max(0, top-t.Z)
}

// tipAt is where the tip of side o's cutter stands when it touches the place q of outward normal n.
func (s *Set) tipAt(o *View, q, n geom.Vec3) geom.Vec3 {
	q, n = o.Turn.ToSide(q), o.Turn.ToSide(n)
	r, h, u := s.contact(n)
	return geom.Vec3{X: q.X + float64(r*u.X), Y: q.Y + float64(r*u.Y), Z: q.Z - h}
}

// takeTops keeps the greatest height of the model within the holder's radius. A tip stands as high as the
// model at its highest places; where the reach does not go nothing is known, and nothing stands up.
func (s *Set) takeTops(v *View) {
	f := v.Field
	n := max(1, int(topPitch/f.DX))
	g := field.Grid{X0: f.X0, Y0: f.Y0, DX: float64(n) * f.DX, DY: float64(n) * f.DY, NX: (f.NX-1)/n + 1, NY: (f.NY-1)/n + 1}
	low := field.New(g, field.Empty)
	for j := range f.NY {
		row := low.Row(min((j+n/2)/n, g.NY-1))
		for i := range f.NX {
			if k := j*f.NX + i; !v.Beyond[k] {
				c := min((i+n/2)/n, g.NX-1)
				row[c] = max(row[c], f.Z[k])
			}
		}
	}
	v.tops = field.DiscMax(low, s.holder)
}

// body sets what is known of the cutter above its flutes.
func (s *Set) body() {
	s.holder, s.free = usualHolder, freeStick*2*s.Cutter.R
	if s.Whole != nil {
		s.holder, s.free = holderRadius(*s.Whole), max(s.free, s.Whole.LCF)
	}
}

func holderRadius(c cutter.Cutter) float64 {
	r := 0.0
	for _, h := range c.Holder {
		r = max(r, h.R)
	}
	if r == 0 {
		r = usualHolder
	}
	return r
}
