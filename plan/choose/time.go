package choose

import (
	"math"
	"math/bits"

	"barwise/geom/field"
	"barwise/shop/cutter"
)

// stepover is the spacing on the surface that leaves the cusp on a plane: w = 2√(2ρh − h²); on level ground a
// flat bottom may step by 0.8 of its width, if that is more.
func (u *Use) stepover(nz float64) float64 {
	c := u.Cutter
	h := min(u.Cusp, c.Round)
	w := 2 * math.Sqrt(float64(2*c.Round*h)-float64(h*h))
	if c.Flat > 0 && nz > 1-1e-6 {
		w = max(w, 1.6*c.Flat)
	}
	return w
}

// held is the feed that the machine keeps on a path of radius ρ in an upright plane: what the control takes
// in blocks as long as the path tolerance δ allows, √(8δρ), and what the axes can bend, √(aρ).
func (p *Params) held(feed, rho float64) float64 {
	m := &p.Machine
	v := feed
	if m.BlockRate > 0 {
		v = min(v, m.BlockRate*math.Sqrt(8*p.PathTolerance*rho))
	}
	if a := m.Accel[2]; a > 0 {
		v = min(v, math.Sqrt(a*rho))
	}
	return v
}

// bend is the radius, mm, of the tip's path at a node: of the sharper of those along x and y; at least r, for a
// tip rolls round an edge on an arc of its own radius.
func bend(f *field.Field, i, j int, r float64) float64 {
	if i < 1 || j < 1 || i+1 >= f.NX || j+1 >= f.NY {
		return r
	}
	k := j*f.NX + i
	one := func(d int, p float64) float64 {
		a, b, c := float64(f.Z[k-d]), float64(f.Z[k]), float64(f.Z[k+d])
		g := (c - a) / (2 * p)
		q := 1 + float64(g*g)
		return float64(q*math.Sqrt(q)) * p * p / math.Abs(a-2*b+c)
	}
	rho := min(one(1, f.DX), one(f.NX, f.DY))
	if !(rho > r) { // NaN beside nothing
		return r
	}
	return rho
}

// perVolume is the seconds that roughing takes for a mm³.
func (u *Use) perVolume() float64 { return 1 / (u.ae() * u.Stepdown * u.Feed * roughPart) }

// handling is the seconds that a cutter on the sides of a mask takes to be put in and worked round: each cutter
// begins on the side that lies up.
func (p *Params) handling(sides uint64) float64 {
	return p.Machine.ToolChange + float64(float64(max(0, bits.OnesCount64(sides)-1))*p.Machine.Turn)
}

// limp is how far the end of a cutter gives under a side load, up to a factor that is the same for all: a
// cantilever of steps, Σ (z₂³ − z₁³)/d⁴ over flutes, neck and shank, z from the tip. Flutes count as full.
func limp(c *cutter.Cutter, stickOut float64) float64 {
	out, from := 0.0, 0.0
	part := func(to, d float64) {
		if to = min(to, stickOut); to > from {
			out += (float64(to*to*to) - float64(from*from*from)) / (d * d * d * d)
			from = to
		}
	}
	d := c.DC()
	part(c.LCF, d)
	if c.DN > 0 && c.LU > c.LCF {
		part(c.LU, c.DN)
	}
	if c.DMM > 0 {
		d = c.DMM
	}
	part(stickOut, d)
	return out
}
