package stock

import (
	"context"
	"fmt"
	"math"

	"barwise/geom"
	"barwise/geom/mesh"
)

// Zone is where what stands beyond a model is counted: a stretch of y without some rods about the axis.
type Zone struct {
	Y0, Y1 float64 // mm; Y1 = 0: to the end of the bar
	Rods   []Rod
}

// Rod is a cylinder about the axis, mm.
type Rod struct{ R, Y0, Y1 float64 }

// Has reports whether a point of the part frame is counted.
func (z *Zone) Has(p geom.Vec3) bool {
	if p.Y < z.Y0 || z.Y1 != 0 && p.Y > z.Y1 {
		return false
	}
	for _, r := range z.Rods {
		if p.Y >= r.Y0 && p.Y <= r.Y1 && float64(p.X*p.X)+float64(p.Z*p.Z) <= float64(r.R*r.R) {
			return false
		}
	}
	return true
}

// Beyond is the stock that stands outside a model.
type Beyond struct {
	Off    []float64 // mm, as asked
	Volume []float64 // mm³ of stock no nearer than each of Off to the model's surface
	Spots  []Spot    // what was counted
}

// Spot is one point that stands for the stock about it.
type Spot struct {
	At     geom.Vec3 // part frame
	Volume float64   // mm³
	Off    float64   // mm from the model's surface, no more than the greatest that was asked
}

// Beyond returns the volume of stock outside the closed mesh m, in the part frame, within a zone: all that
// is no nearer than each of off mm to its surface.
//
// It is counted on the lattice of points whose coordinates are whole multiples of the pitch: such a point
// is stock if it is under every side's field and within the bar, and outside where m winds about it not at
// all. For sides at right angles every point of the lattice stands on nodes of all fields, where heights
// are exact, so nothing is rounded to cells: the count errs only as any count of points does, without a
// leaning, by about half a pitch over the rim of what is counted. An oblique side's height is read from the
// line between two nodes. A flat of the model that lies in a plane of the lattice is the exception: the
// thinnest skin on it counts as half a pitch or as nothing. Ask with an off above 0, which leaves skins out.
func (s *Stack) Beyond(ctx context.Context, m *mesh.Mesh, z Zone, off []float64) (*Beyond, error) {
	for _, o := range off {
		if !(o >= 0) || math.IsInf(o, 1) {
			return nil, fmt.Errorf("stock beyond the model: a distance of %g mm, allowed is 0 or more", o)
		}
	}
	b := s.base()
	c := &counter{s: b, zone: &z, off: off, cross: crossings(b, m)}
	for _, o := range off {
		c.far = max(c.far, o)
	}
	c.near = newVicinity(m, max(c.far, 0.01))
	for k := range b.sides {
		if !b.sides[k].turn.End {
			c.probes = append(c.probes, newProbe(&b.sides[0], &b.sides[k]))
			c.across = append(c.across, k)
		}
	}
	c.end = b.newEndRow(&b.sides[0])
	rows := make([][]Spot, len(b.rows))
	err := eachBand(ctx, 0, len(rows)-1, func(j0, j1 int) error {
		for j := j0; j <= j1; j++ {
			if ctx.Err() != nil {
				return ctx.Err()
			}
			rows[j] = c.row(j)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	out := &Beyond{Off: off, Volume: make([]float64, len(off))}
	for _, r := range rows {
		for i := range r {
			for k, o := range off {
				if r[i].Off >= o {
					out.Volume[k] += r[i].Volume
				}
			}
		}
		out.Spots = append(out.Spots, r...)
	}
	return out, nil
}

// counter is one call of Beyond.
type counter struct {
	s      *Stack
	zone   *Zone
	off    []float64
	far    float64 // greatest of off
	cross  *piercings
	near   *vicinity
	probes []probe // of the sides across the axis, seen from side 0
	across []int   // which they are
	end    endRow
}

// row counts row j.
func (c *counter) row(j int) []Spot {
	at := &c.s.sides[0]
	dy, y := c.s.rows[j], at.h.Y(j)
	if dy <= 0 || y < c.zone.Y0 || c.zone.Y1 != 0 && y > c.zone.Y1 {
		return nil
	}
	probes := append([]probe(nil), c.probes...)
	for k := range probes {
		probes[k].row = c.s.sides[c.across[k]].h.Row(j)
	}
	end := c.end
	end.set(c.s, j)
	p := c.s.Pitch
	var out []Spot
	for i := range at.cols {
		col := &at.cols[i]
		if col.w == 0 {
			continue
		}
		x := at.h.X(i)
		lo, hi := col.lo, min(col.hi, float64(at.h.Z[j*at.h.NX+i]))
		list := c.cross.of(i, j)
		for k := int(math.Floor(hi/p + 0.5)); ; k-- {
			z := float64(k) * p
			dz := min(z+p/2, col.hi) - max(z-p/2, lo)
			if z < lo-p/2 || dz <= 0 {
				break
			}
			if n, in := inside(list, z); in {
				// on from the lowest point within
				k = min(k, int(math.Ceil(list[n].z/p)))
				continue
			}
			if !stands(probes, x, z) || end.cut && !end.stands(x, z) {
				continue
			}
			q := at.turn.ToPart(geom.Vec3{X: x, Y: y, Z: z})
			if c.zone.Has(q) {
				d := c.near.within(q, c.far)
				out = append(out, Spot{q, col.w * dy * dz, d})
			}
		}
	}
	return out
}

// stands reports whether every side leaves the point (x, z) of the base side's frame.
func stands(probes []probe, x, z float64) bool {
	for k := range probes {
		q := &probes[k]
		if float64(x*q.sin)+float64(z*q.cos) >= q.heightAt(float64(x*q.cos)-float64(z*q.sin))-thin {
			return false
		}
	}
	return true
}

// heightAt reads the row between its nodes; the nearer node where the other was never cut.
func (q *probe) heightAt(x float64) float64 {
	f := (x - q.x0) / q.p
	k := max(0, min(len(q.row)-1, int(math.Floor(f+1e-6))))
	a := f - float64(k)
	if a < 1e-5 || k+1 >= len(q.row) {
		return float64(q.row[k])
	}
	h0, h1 := float64(q.row[k]), float64(q.row[k+1])
	if math.IsInf(h0+h1, 1) {
		if a > 0.5 {
			return h1
		}
		return h0
	}
	return h0 + float64((h1-h0)*a)
}
