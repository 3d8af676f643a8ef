package proof

import (
	"math"

	"barwise/geom"
	"barwise/path"
)

// sagitta is how far a chord may stand off the arc it stands for, mm. It enters the gouge's bound.
const sagitta = 1e-4

// chain is a program as straight pieces: piece i goes from pts[i] to pts[i+1] and belongs to move
// of[i+1] of the program; of is −1 where the piece is not motion that can be judged.
type chain struct {
	index int // place in the run
	prog  *Program
	side  int
	turn  geom.Turn
	pts   []geom.Vec3
	of    []int32
	arcs  bool
}

func newChain(index int, p *Program, side int) *chain {
	c := &chain{index: index, prog: p, side: side, turn: geom.TurnDeg(p.SideDeg)}
	c.pts = append(make([]geom.Vec3, 0, len(p.Moves)+1), p.Start)
	c.of = append(make([]int32, 0, len(p.Moves)+1), -1)
	at := p.Start
	for i := range p.Moves {
		m := &p.Moves[i]
		if m.Mode == path.Dwell {
			continue
		}
		id := int32(i)
		if !at.Finite() || !m.To.Finite() {
			id = -1
		} else if m.Mode == path.ArcCW || m.Mode == path.ArcCCW {
			c.flatten(at, m, id)
		}
		c.pts, c.of = append(c.pts, m.To), append(c.of, id)
		at = m.To
	}
	return c
}

// flatten appends the points of an arc or helix between its ends, chords of sagitta or less.
func (c *chain) flatten(from geom.Vec3, m *path.Move, id int32) {
	c.arcs = true
	// (u, v) span the plane so that u × v is the axis that the arc is seen from
	split := func(p geom.Vec3) (u, v, w float64) {
		switch m.Plane {
		case path.PlaneXZ:
			return p.Z, p.X, p.Y
		case path.PlaneYZ:
			return p.Y, p.Z, p.X
		}
		return p.X, p.Y, p.Z
	}
	join := func(u, v, w float64) geom.Vec3 {
		switch m.Plane {
		case path.PlaneXZ:
			return geom.Vec3{X: v, Y: w, Z: u}
		case path.PlaneYZ:
			return geom.Vec3{X: w, Y: u, Z: v}
		}
		return geom.Vec3{X: u, Y: v, Z: w}
	}
	cu, cv, _ := split(m.Centre)
	u0, v0, w0 := split(from)
	u1, v1, w1 := split(m.To)
	u0, v0, u1, v1 = u0-cu, v0-cv, u1-cu, v1-cv
	r0, r1 := math.Hypot(u0, v0), math.Hypot(u1, v1)
	a0 := math.Atan2(v0, u0)
	sweep := math.Atan2(v1, u1) - a0
	if m.Mode == path.ArcCCW {
		if sweep <= 1e-9 {
			sweep += 2 * math.Pi
		}
	} else if sweep >= -1e-9 {
		sweep -= 2 * math.Pi
	}
	r := max(r0, r1)
	n := 1
	if r > sagitta {
		// sagitta = r(1 − cos(step/2))
		n = int(math.Ceil(math.Abs(sweep) / (2 * math.Acos(1-sagitta/r))))
	}
	for k := 1; k < n; k++ {
		f := float64(k) / float64(n)
		s, co := math.Sincos(a0 + float64(sweep*f))
		rr := r0 + float64((r1-r0)*f)
		c.pts = append(c.pts, join(cu+float64(rr*co), cv+float64(rr*s), w0+float64((w1-w0)*f)))
		c.of = append(c.of, id)
	}
}

// feed reports whether piece i is motion at feed.
func (c *chain) feed(i int) bool {
	id := c.of[i+1]
	return id >= 0 && c.prog.Moves[id].Mode != path.Rapid
}

// place names the text line of piece i, at point p of the side frame.
func (c *chain) place(i int, p geom.Vec3) Place {
	out := Place{Program: c.prog.Name, SideDeg: c.prog.SideDeg, Point: c.turn.ToPart(p)}
	if id := c.of[i+1]; id >= 0 {
		out.Line = c.prog.Moves[id].Line
	}
	return out
}
