package path

import (
	"math"

	"barwise/geom"
)

// Arc is the circle or helix of one arc move, told by angles. Its radius runs from R0 to R1 in
// proportion to the angle, for a written arc's two radii differ by the rounding of its numbers.
type Arc struct {
	Centre geom.Vec3 // on the axis; its coordinate along the axis does not count
	Plane  Plane
	R0, R1 float64 // radius at the start and at the end, mm
	Angle  float64 // of the start, from the plane's first axis, radians
	Sweep  float64 // signed: counter-clockwise seen from the positive end of the axis is positive
	Rise   float64 // along the axis from start to end, mm
	from   geom.Vec3
	to     geom.Vec3
}

// Split returns p's coordinates in the plane (u, v) and along its axis (w), right-handed: XY gives
// (x, y, z), XZ gives (z, x, y), YZ gives (y, z, x). So counter-clockwise is from u to v in every
// plane, seen from the positive end of w (NISTIR 6556 §3.5.3).
func (pl Plane) Split(p geom.Vec3) (u, v, w float64) {
	switch pl {
	case PlaneXZ:
		return p.Z, p.X, p.Y
	case PlaneYZ:
		return p.Y, p.Z, p.X
	}
	return p.X, p.Y, p.Z
}

// Join is the inverse of Split.
func (pl Plane) Join(u, v, w float64) geom.Vec3 {
	switch pl {
	case PlaneXZ:
		return geom.Vec3{X: v, Y: w, Z: u}
	case PlaneYZ:
		return geom.Vec3{X: w, Y: u, Z: v}
	}
	return geom.Vec3{X: u, Y: v, Z: w}
}

// IsArc reports whether the move is circular or helical.
func (m Move) IsArc() bool { return m.Mode == ArcCW || m.Mode == ArcCCW }

// Cuts reports whether the move runs at a feed.
func (m Move) Cuts() bool { return m.Mode == Line || m.IsArc() }

// coincident is how near, in mm, two points are held for one: far below what a program can say, above
// what the last digits of a computed point are worth.
const coincident = 1e-9

// Arc returns the arc of a move of mode ArcCW or ArcCCW that begins at from. An end that coincides
// with the start in the plane is a full circle (NISTIR 6556 §3.5.3.2).
func (m Move) Arc(from geom.Vec3) Arc {
	cu, cv, _ := m.Plane.Split(m.Centre)
	su, sv, sw := m.Plane.Split(from)
	eu, ev, ew := m.Plane.Split(m.To)
	a := Arc{
		Centre: m.Centre, Plane: m.Plane, from: from, to: m.To,
		R0:    math.Hypot(su-cu, sv-cv),
		R1:    math.Hypot(eu-cu, ev-cv),
		Angle: math.Atan2(sv-cv, su-cu),
		Rise:  ew - sw,
	}
	if math.Hypot(eu-su, ev-sv) <= coincident {
		a.Sweep = 2 * math.Pi
	} else {
		a.Sweep = math.Atan2(ev-cv, eu-cu) - a.Angle
		if m.Mode == ArcCW {
			a.Sweep = -a.Sweep
		}
		if a.Sweep < 0 {
			a.Sweep += 2 * math.Pi
		}
	}
	if m.Mode == ArcCW {
		a.Sweep = -a.Sweep
	}
	return a
}

// Undecided reports whether the ends are apart and yet lie in one direction from the centre, within
// angle radians: no one can tell then whether a full turn is meant or none.
func (a Arc) Undecided(angle float64) bool {
	u0, v0, _ := a.Plane.Split(a.from)
	u1, v1, _ := a.Plane.Split(a.to)
	turn := math.Abs(a.Sweep)
	return math.Hypot(u1-u0, v1-v0) > coincident && (turn < angle || turn > 2*math.Pi-angle)
}

// At returns the point at t of the way, 0 at the start and 1 at the end, both met exactly.
func (a Arc) At(t float64) geom.Vec3 {
	switch {
	case t <= 0:
		return a.from
	case t >= 1:
		return a.to
	}
	cu, cv, _ := a.Plane.Split(a.Centre)
	_, _, w := a.Plane.Split(a.from)
	r := a.R0 + float64((a.R1-a.R0)*t)
	s, c := math.Sincos(a.Angle + float64(a.Sweep*t))
	return a.Plane.Join(cu+float64(r*c), cv+float64(r*s), w+float64(a.Rise*t))
}

// Radius returns the mean radius, mm.
func (a Arc) Radius() float64 { return (a.R0 + a.R1) / 2 }

// Length returns the length along the helix, mm. Where the radii differ it takes their mean: the
// error is of second order in the difference.
func (a Arc) Length() float64 {
	return math.Hypot(a.Radius()*a.Sweep, a.Rise)
}

// Tangents returns the unit directions of motion at the start and at the end.
func (a Arc) Tangents() (start, end geom.Vec3) {
	return a.tangent(a.Angle), a.tangent(a.Angle + a.Sweep)
}

func (a Arc) tangent(angle float64) geom.Vec3 {
	s, c := math.Sincos(angle)
	r := float64(a.Radius() * a.Sweep)
	return a.Plane.Join(-float64(r*s), float64(r*c), a.Rise).Unit()
}

// Chords returns into how many equal chords the arc must be cut so that none strays from it by more
// than sagitta mm: n = ⌈|sweep| / (2·acos(1 − sagitta/r))⌉, never fewer than one a quarter turn. On a
// helix the distance to the chord is greatest in its middle too, where it is the same sagitta.
func (a Arc) Chords(sagitta float64) int {
	step := math.Pi / 2
	if r := max(a.R0, a.R1); sagitta < r {
		step = min(step, 2*math.Acos(1-max(sagitta, 1e-9*r)/r))
	}
	// The guard keeps a whole number of steps whole.
	return max(1, int(math.Ceil(math.Abs(a.Sweep)/step-1e-9)))
}

// Box returns the smallest box that holds the arc, within the rounding of its numbers.
func (a Arc) Box() geom.Box3 {
	b := geom.EmptyBox().Grow(a.from).Grow(a.to)
	first := math.Ceil(min(a.Angle, a.Angle+a.Sweep) / (math.Pi / 2))
	for k := first; k*math.Pi/2 < max(a.Angle, a.Angle+a.Sweep); k++ {
		b = b.Grow(a.At((float64(k*(math.Pi/2)) - a.Angle) / a.Sweep))
	}
	return b
}

// Length returns the length of the way from from, mm; 0 for a dwell.
func (m Move) Length(from geom.Vec3) float64 {
	switch {
	case m.Mode == Dwell:
		return 0
	case m.IsArc():
		return m.Arc(from).Length()
	}
	return m.To.Sub(from).Len()
}

// Flatten appends to dst the ends of the straight stretches that stand for the move, the last of them
// m.To: a straight move gives one point, a dwell none, an arc as many as keep every chord within
// sagitta mm of it. A chord lies on the side of the arc's centre.
func Flatten(dst []geom.Vec3, from geom.Vec3, m Move, sagitta float64) []geom.Vec3 {
	if m.Mode == Dwell {
		return dst
	}
	if m.IsArc() {
		a := m.Arc(from)
		n := a.Chords(sagitta)
		for i := 1; i < n; i++ {
			dst = append(dst, a.At(float64(i)/float64(n)))
		}
	}
	return append(dst, m.To)
}
