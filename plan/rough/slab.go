package rough

import (
	"math"

	"barwise/geom"
	"barwise/geom/field"
)

// slab is the stock of one level as distances from its outline: how far inside stock every node lies,
// mm, negative in the clear. What the cutter has cleared is a union of capsules, and the distance from
// its path less its radius is exact outside of them, so between nodes the outline of a cut is known to
// about pitch²/(8R), some micrometres; only the outline of the stock as it came is known no better
// than half a pitch of its grid.
type slab struct {
	grid       field.Grid
	perX, perY float64
	r          float64 // radius of the cutter at the level
	phi        []float32
	reach      float32     // nodes farther from a cut than this are not touched by it
	rim        []geom.Vec2 // from one side of the motion to the other, for a motion along x
	undo       []undone
	record     bool
	want       []bool // nodes whose clearing counts
}

type undone struct {
	k   int32
	old float32
}

// hair is the depth into stock from which it counts: a rim that runs along a clean wall must not, mm.
const hair = 0.008

// rimStep is the angle between two samples of the rim; crossings between them are interpolated.
const rimStep = math.Pi / 36

func newSlab(g field.Grid, r float64) *slab {
	s := &slab{grid: g, perX: 1 / g.DX, perY: 1 / g.DY, r: r, phi: make([]float32, g.Len()), want: make([]bool, g.Len())}
	s.reach = float32(2.5 * max(g.DX, g.DY))
	for q := 0; q <= int(math.Round(math.Pi/rimStep)); q++ {
		sin, cos := math.Sincos(-math.Pi/2 + float64(float64(q)*rimStep))
		s.rim = append(s.rim, geom.Vec2{X: r * cos, Y: r * sin})
	}
	return s
}

// at is the depth inside stock at a point, by bilinear interpolation; far outside off the grid.
func (s *slab) at(x, y float64) float64 {
	x, y = (x-s.grid.X0)*s.perX, (y-s.grid.Y0)*s.perY
	if x < 0 || y < 0 {
		return -s.r
	}
	i, j := int(x), int(y)
	if i >= s.grid.NX-1 || j >= s.grid.NY-1 {
		return -s.r
	}
	x, y = x-float64(i), y-float64(j)
	row := s.phi[j*s.grid.NX+i:]
	a, b := float64(row[0]), float64(row[1])
	c, d := float64(row[s.grid.NX]), float64(row[s.grid.NX+1])
	a += float64(x * (b - a))
	c += float64(x * (d - c))
	return a + float64(y*(c-a))
}

// arc is the engagement angle at c for a motion along the unit vector u: the arc of the rim that stands
// in stock in the half that faces the motion.
func (s *slab) arc(c, u geom.Vec2) float64 {
	sum, last := 0.0, 0.0
	for q, o := range s.rim {
		v := s.at(c.X+(float64(o.X*u.X)-float64(o.Y*u.Y)), c.Y+(float64(o.X*u.Y)+float64(o.Y*u.X))) - hair
		if q > 0 {
			switch {
			case v > 0 && last > 0:
				sum++
			case v > 0:
				sum += v / (v - last)
			case last > 0:
				sum += last / (last - v)
			}
		}
		last = v
	}
	return sum * rimStep
}

// meets reports stock on the rim all round c, or anywhere within r of it that a node shows.
func (s *slab) meets(c geom.Vec2, r float64) bool {
	k := r / s.r
	for _, o := range s.rim {
		if s.at(c.X+float64(o.X*k), c.Y+float64(o.Y*k)) > hair || s.at(c.X-float64(o.X*k), c.Y-float64(o.Y*k)) > hair {
			return true
		}
	}
	return s.holds(c, r)
}

// holds reports a node in stock within r of c.
func (s *slab) holds(c geom.Vec2, r float64) bool {
	g := s.grid
	j0, j1 := max(int(math.Ceil((c.Y-r-g.Y0)*s.perY)), 0), min(int(math.Floor((c.Y+r-g.Y0)*s.perY)), g.NY-1)
	for j := j0; j <= j1; j++ {
		dy := g.Y(j) - c.Y
		h := math.Sqrt(max(0, float64(r*r)-float64(dy*dy)))
		i0, i1 := max(int(math.Ceil((c.X-h-g.X0)*s.perX)), 0), min(int(math.Floor((c.X+h-g.X0)*s.perX)), g.NX-1)
		for i := i0; i <= i1; i++ {
			if s.phi[j*g.NX+i] > hair {
				return true
			}
		}
	}
	return false
}

// cut clears the capsule from a to b and returns how many wanted nodes it took out of stock.
func (s *slab) cut(a, b geom.Vec2) int {
	g := s.grid
	far := s.r + float64(s.reach)
	d := b.Sub(a)
	l2 := d.Dot(d)
	inv := 0.0
	if l2 > 0 {
		inv = 1 / l2
	}
	i0, i1 := max(int((min(a.X, b.X)-far-g.X0)*s.perX), 0), min(int((max(a.X, b.X)+far-g.X0)*s.perX)+1, g.NX-1)
	j0, j1 := max(int((min(a.Y, b.Y)-far-g.Y0)*s.perY), 0), min(int((max(a.Y, b.Y)+far-g.Y0)*s.perY)+1, g.NY-1)
	taken, low := 0, -s.reach
	for j := j0; j <= j1; j++ {
		qy := g.Y(j) - a.Y
		row := s.phi[j*g.NX : (j+1)*g.NX]
		for i := i0; i <= i1; i++ {
			old := row[i]
			if old <= low {
				continue
			}
			qx := g.X(i) - a.X
			t := (float64(qx*d.X) + float64(qy*d.Y)) * inv
			t = min(max(t, 0), 1)
			ex, ey := qx-float64(t*d.X), qy-float64(t*d.Y)
			e2 := float64(ex*ex) + float64(ey*ey)
			if e2 >= far*far {
				continue
			}
			v := float32(math.Sqrt(e2) - s.r)
			if v >= old {
				continue
			}
			if s.record {
				s.undo = append(s.undo, undone{int32(j*g.NX + i), old})
			}
			if old > hair && v <= hair && s.want[j*g.NX+i] {
				taken++
			}
			row[i] = v
		}
	}
	return taken
}

// begin makes cuts revocable until keep or revoke.
func (s *slab) begin() { s.record, s.undo = true, s.undo[:0] }
func (s *slab) keep()  { s.record = false }
func (s *slab) revoke() {
	for n := len(s.undo) - 1; n >= 0; n-- {
		s.phi[s.undo[n].k] = s.undo[n].old
	}
	s.record = false
}

// load sets the slab to what stands above the level w is at, in the heights given. With merge it only
// takes away: what was cleared lower down is clear here too.
func (s *slab) load(w *work, left []float32, merge bool) {
	h := float32(w.z + w.cusp)
	half := 0.5 * float64(min(s.grid.DX, s.grid.DY))
	in := w.stock
	if !in.toSet(func(k int) bool { return left[k] > h }) {
		for k := range s.phi {
			s.phi[k] = float32(-s.r)
		}
		return
	}
	for k, d2 := range in.d2 {
		if d2 > 0 {
			v := float32(half - math.Sqrt(d2))
			if !merge || v < s.phi[k] {
				s.phi[k] = v
			}
		}
	}
	out := w.scratch
	full := !out.toSet(func(k int) bool { return left[k] <= h })
	for k, d2 := range out.d2 {
		if d2 > 0 {
			v := float32(w.p.Cutter.DC())
			if !full {
				v = float32(math.Sqrt(d2) - half)
			}
			if !merge || v < s.phi[k] {
				s.phi[k] = v
			}
		}
	}
}
