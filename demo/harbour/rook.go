package main

import (
	"math"

	"barwise/geom"
)

// Radii of edges, mm. Hollow ones are to be well over the 0.5 of the ball that cuts them: facets are
// chords, and edges do not all meet at right angles.
const (
	hollow = 0.75
	fine   = 0.8
	edge   = 0.27
	// The foot and the crown have long edges; a blunter one stays round in cells of this size.
	rim    = 0.45
	merlon = 0.35
)

// sides are the four ways the bar lies: everything that is not turned faces one of them.
var sides = [4]geom.Turn{geom.TurnDeg(0), geom.TurnDeg(90), geom.TurnDeg(180), geom.TurnDeg(270)}

// rook is the whole model.
func rook(p geom.Vec3) float64 {
	rho := math.Sqrt(float64(p.X*p.X) + float64(p.Z*p.Z))
	d := join(tower(p, rho), base(p, rho), 0.9)
	d = meet(d, -p.Y, rim)
	spigot := meet(rho-4, -6-p.Y, edge)
	return join(d, max(spigot, p.Y-2), 1.2)
}

// shaft is the tower's radius at height y: broad at the foot like an oak's.
func shaft(y float64) float64 {
	t := min(max((38-y)/30, 0), 1.3)
	return 5.2 + float64(2.4*float64(t*t))
}

// slope is the distance from a flank that leans: r is how far outside, k its change a mm.
func slope(r, k float64) float64 { return r / math.Sqrt(1+float64(k*k)) }

// tower is everything turned, with what is cut into it.
func tower(p geom.Vec3, rho float64) float64 {
	d := slope(rho-shaft(p.Y), 0.2)
	d = max(d, p.Y-38)
	d = join(d, ring(rho, p.Y, 23, shaft(23), 0.62), hollow)
	d = frames(p, d)
	d = recesses(p, d)
	d = join(d, gallery(p, rho), 1)
	d = join(d, lantern(p, rho), 1)
	return join(d, crown(p, rho), hollow)
}

// ring is a round moulding about the axis.
func ring(rho, y, at, r, thick float64) float64 {
	a, b := rho-r, y-at
	return math.Sqrt(float64(a*a)+float64(b*b)) - thick
}

// gallery is the balcony: its underside a cone of 45°, its balustrade panels in the rim.
func gallery(p geom.Vec3, rho float64) float64 {
	under := (rho - 8.6 - (p.Y - 36.4)) / math.Sqrt2
	d := meet(meet(rho-8.6, p.Y-39.6, edge), under, edge)
	for _, side := range sides {
		q := side.ToSide(p)
		if q.Z < 2 || math.Abs(p.Y-38) > 3 {
			continue
		}
		for _, x := range [...]float64{-4.75, -2.4, 0, 2.4, 4.75} {
			d = without(d, pane(q, x, 37, 38, 0.82, 8), edge)
		}
	}
	return d
}

// lantern is the lamp room with panes all round.
func lantern(p geom.Vec3, rho float64) float64 {
	d := max(rho-5, p.Y-48, 36-p.Y)
	for _, side := range sides {
		q := side.ToSide(p)
		if q.Z < 1 || math.Abs(p.Y-43) > 5 {
			continue
		}
		for _, x := range [...]float64{-2.25, 0, 2.25} {
			d = without(d, pane(q, x, 41.6, 44, 0.85, 4.3), edge)
		}
	}
	return d
}

// pane is a recess toward the side like an arch, in a round wall: its floor is r from the axis at x and
// turned half way from the side to the wall's own facing, so that no corner of it is tight.
func pane(q geom.Vec3, x, y0, y1, w, r float64) float64 {
	z := math.Sqrt(float64(r*r) - float64(x*x))
	s, c := math.Sincos(math.Atan2(x, z) / 2)
	floor := float64((q.X-x)*s) + float64((q.Z-z)*c)
	return meet(slope(outline(q, x, y0, y1, w)-float64(0.3*(q.Z-z)), 0.3), -floor, 0.78)
}

// crown is the battlement with the roof behind it and the finial.
func crown(p geom.Vec3, rho float64) float64 {
	const out, top = 7.3, 51
	under := (rho - out - (p.Y - 47)) / math.Sqrt2
	d := meet(meet(rho-out, p.Y-top, rim), under, rim)
	// the roof rises from where the merlons end, so that there is nothing behind them to reach
	const rise = 0.62
	roof := slope(p.Y-top+float64(rise*(rho-5)), rise)
	d = join(d, max(rho-6, roof, 47-p.Y), hollow)
	for _, side := range sides {
		q := side.ToSide(p)
		if q.Z < 1.5 || q.Y < 46 {
			continue
		}
		for _, x := range [...]float64{-2.42, 2.42} {
			d = without(d, slot(q, x, 48.9, 4.5), merlon)
		}
	}
	ball := p.Sub(geom.Vec3{Y: 54.85}).Len() - 1.15
	return join(d, ball, 1)
}

// slot is cut straight toward the side, above y and down to z: walls and floor open outward.
func slot(q geom.Vec3, x, y, z float64) float64 {
	d := meet(slope(math.Abs(q.X-x)-1-float64(0.14*(q.Z-z)), 0.14), slope(y-q.Y-float64(draft*(q.Z-5.5)), draft), 0.85)
	return meet(d, z-q.Z, 0.85)
}

// draft is by how much a recess opens outward a mm.
const draft = 0.2

// arch is a recess toward the side: half-width w about x, from y0 up to a round head about y1, its
// floor at z.
func arch(q geom.Vec3, x, y0, y1, w, z float64) float64 {
	return meet(slope(outline(q, x, y0, y1, w)-float64(draft*(q.Z-z)), draft), z-q.Z, fine)
}

// outline is the distance from an arch's outline in the plane of the side. Its lower corners are round.
func outline(q geom.Vec3, x, y0, y1, w float64) float64 {
	a, b := math.Abs(q.X-x), q.Y-y1
	if b > 0 {
		return math.Sqrt(float64(a*a)+float64(b*b)) - w
	}
	return meet(a-w, y0-q.Y, fine)
}

// opening is a door or a window of the shaft.
type opening struct {
	side      int // of sides
	y0, y1, w float64
	deep      float64
	frame     float64 // width of the band around it
}

var openings = []opening{
	{0, 14.4, 17.4, 1.45, 1.3, 1.1},
	{1, 17, 18.6, 1.1, 1.15, 1.05},
	{2, 26.6, 28.2, 1.1, 1.1, 1.05},
	{3, 17, 18.6, 1.1, 1.15, 1.05},
	{3, 29, 30.5, 1, 1.1, 1.05},
	{1, 29, 30.5, 1, 1.1, 1.05},
	{0, 27, 28.6, 1.1, 1.1, 1.05},
}

// floor is the height of an opening's floor over the axis.
func (o opening) floor() float64 { return shaft((o.y0+o.y1)/2) - o.deep }

// foot is where the frame begins; that of an opening near the rock goes down into it.
func (o opening) foot() float64 {
	if o.y0 < 15 {
		return 8
	}
	return o.y0 - o.frame
}

func frames(p geom.Vec3, d float64) float64 {
	for _, o := range openings {
		q := sides[o.side].ToSide(p)
		if q.Z < 1 || q.Y < o.foot()-3 || q.Y > o.y1+5 {
			continue
		}
		band := slope(outline(q, 0, o.foot(), o.y1, o.w+o.frame)+float64(draft*(q.Z-shaft(o.y0))), draft)
		d = join(d, max(meet(band, q.Z-shaft(o.y0)-0.3, edge), 3-q.Z), fine)
	}
	return d
}

func recesses(p geom.Vec3, d float64) float64 {
	for _, o := range openings {
		q := sides[o.side].ToSide(p)
		if q.Z > 1 && q.Y > o.y0-3 && q.Y < o.y1+5 {
			d = without(d, arch(q, 0, o.y0, o.y1, o.w, o.floor()), edge)
		}
	}
	return d
}

// ledges are the rock: stones about the axis, one standing on the other, with a few leaning on them.
var ledges = []stone{
	boulder(11, geom.Vec3{}, 11.6, 5.2, 11, [2]float64{4, 26}),
	boulder(27, geom.Vec3{X: 0.4, Y: 0, Z: -0.3}, 10.2, 9.4, 10, [2]float64{6, 24}),
	boulder(35, geom.Vec3{X: -0.3, Y: 2, Z: 0.3}, 8.9, 11, 9, [2]float64{8, 22}),
	boulder(48, geom.Vec3{Z: 9.2}, 2.6, 7.6, 6, [2]float64{8, 20}),
	boulder(53, geom.Vec3{X: 9, Z: 1.2}, 2.5, 9.4, 6, [2]float64{8, 22}),
	boulder(61, geom.Vec3{X: -9, Z: -1.6}, 2.6, 6.9, 6, [2]float64{8, 22}),
	boulder(74, geom.Vec3{X: 1.4, Z: -9.2}, 2.4, 10.2, 6, [2]float64{8, 22}),
}

// base is the rock, cut off at the foot of the model and within its diameter.
func base(p geom.Vec3, rho float64) float64 {
	if p.Y > 17 {
		return p.Y - 14.5
	}
	d := ledges[0].distance(p)
	for _, s := range ledges[1:] {
		d = join(d, s.distance(p), 0.9)
	}
	if math.Abs(d) < 1 {
		d += 0.09 * noise(p.Mul(0.8))
	}
	return meet(d, rho-11.9, edge)
}
