package even

import (
	"math"

	"barwise/plan/share"
)

// ground is the share's grid turned so that passes run up its rows: column i across, row j along.
type ground struct {
	nc, nr int
	c0, r0 float64 // place of node (0, 0)
	d      float64 // pitch, mm
	z      []float32
	domain []bool // where passes are to run
	swap   bool   // columns are rows of the view
	steep  float32
}

// wallRise is the rise over run between neighbouring nodes that parts the ground: a line neither crosses
// it nor counts what lies beyond as its neighbour.
const wallRise = 4.0

func newGround(w *work) *ground {
	v, f := w.v, w.v.Field
	in := w.domain()
	g := &ground{nc: f.NX, nr: f.NY, c0: f.X0, r0: f.Y0, d: w.set.Pitch, z: f.Z, domain: in, swap: w.p.Across}
	g.steep = float32(wallRise * g.d)
	if g.swap {
		g.nc, g.nr, g.c0, g.r0 = f.NY, f.NX, f.Y0, f.X0
		g.z, g.domain = make([]float32, f.Len()), make([]bool, f.Len())
		for j := range f.NY {
			for i := range f.NX {
				g.z[i*f.NY+j], g.domain[i*f.NY+j] = v.Field.Z[j*f.NX+i], in[j*f.NX+i]
			}
		}
	}
	return g
}

// place turns coordinates across and along into x and y.
func (g *ground) place(c, r float64) (x, y float64) {
	if g.swap {
		return r, c
	}
	return c, r
}

func (g *ground) col(i int) float64 { return g.c0 + float64(float64(i)*g.d) }
func (g *ground) row(j int) float64 { return g.r0 + float64(float64(j)*g.d) }

// domain says where passes run, and keeps what of it they answer for.
func (w *work) domain() []bool {
	v, f := w.v, w.v.Field
	core, able := make([]bool, f.Len()), make([]bool, f.Len())
	gentle, most := square(math.Tan(w.p.Steepest)), square(math.Tan((w.p.Steepest+math.Pi/2)/2))
	for j := range f.NY {
		for i := range f.NX {
			k := j*f.NX + i
			if v.State[k] != share.Own && v.State[k] != share.Margin || v.Beyond[k] {
				continue
			}
			gx, gy := f.Slope(i, j)
			g2 := float64(gx*gx) + float64(gy*gy)
			able[k] = g2 <= most
			core[k] = v.State[k] == share.Own && g2 <= gentle && (w.p.Keep == nil || w.p.Keep(k))
		}
	}
	over := max(1, int(math.Ceil(overlap*w.level/w.set.Pitch)))
	wide := share.Widen(core, f.NX, over)
	closed := share.Narrow(wide, f.NX, over)
	w.out.Covered = make([]bool, f.Len())
	laid := make([]bool, f.Len())
	for k := range core {
		laid[k] = core[k] || closed[k] && able[k] && v.State[k] == share.Own && (w.p.Keep == nil || w.p.Keep(k))
		w.out.Covered[k] = laid[k] && !v.Foot[k] // passes run by the foot of a wall, but not up it
	}
	margin := share.Widen(core, f.NX, int(math.Ceil(w.set.Overlap/w.set.Pitch))+1)
	in := make([]bool, f.Len())
	for k := range in {
		in[k] = laid[k] || able[k] && (wide[k] || v.State[k] == share.Margin && margin[k])
	}
	return in
}

func square(x float64) float64 { return x * x }

// at returns the height at (c, r), and its slopes across and along, by a cubic through the nodes around
// (Catmull and Rom, 1974) where the ground is even, linear where it is not.
func (g *ground) at(c, r float64) (z, gc, gr float64) {
	a, b := (c-g.c0)/g.d, (r-g.r0)/g.d
	i, j := min(max(int(math.Floor(a)), 0), g.nc-2), min(max(int(math.Floor(b)), 0), g.nr-2)
	u, v := min(max(a-float64(i), 0), 1), min(max(b-float64(j), 0), 1)
	if i == 0 || j == 0 || i+2 >= g.nc || j+2 >= g.nr {
		return g.flat(i, j, u, v)
	}
	var h, s [4]float64
	wu, du := weights(u)
	lo, hi := float32(math.Inf(1)), float32(math.Inf(-1))
	for m := range 4 {
		row := g.z[(j-1+m)*g.nc+i-1:]
		row = row[:4]
		lo, hi = min(lo, row[0], row[1], row[2], row[3]), max(hi, row[0], row[1], row[2], row[3])
		z0, z1, z2, z3 := float64(row[0]), float64(row[1]), float64(row[2]), float64(row[3])
		h[m] = float64(wu[0]*z0) + float64(wu[1]*z1) + float64(wu[2]*z2) + float64(wu[3]*z3)
		s[m] = float64(du[0]*z0) + float64(du[1]*z1) + float64(du[2]*z2) + float64(du[3]*z3)
	}
	if !(hi-lo < 3*g.steep) {
		return g.flat(i, j, u, v)
	}
	wv, dv := weights(v)
	for m := range 4 {
		z += float64(wv[m] * h[m])
		gc += float64(wv[m] * s[m])
		gr += float64(dv[m] * h[m])
	}
	return z, gc / g.d, gr / g.d
}

// flat is at by the four nodes around.
func (g *ground) flat(i, j int, u, v float64) (z, gc, gr float64) {
	k := j*g.nc + i
	z00, z10 := float64(g.z[k]), float64(g.z[k+1])
	z01, z11 := float64(g.z[k+g.nc]), float64(g.z[k+g.nc+1])
	low, high := z00+float64(u*(z10-z00)), z01+float64(u*(z11-z01))
	gc = (float64((1-v)*(z10-z00)) + float64(v*(z11-z01))) / g.d
	return low + float64(v*(high-low)), gc, (high - low) / g.d
}

// weights are those of four values at −1, 0, 1, 2 for the value and the slope at u.
func weights(u float64) (w, d [4]float64) {
	u2 := u * u
	u3 := u2 * u
	w = [4]float64{
		(float64(2*u2) - u - u3) / 2, (float64(3*u3) - float64(5*u2) + 2) / 2,
		(float64(4*u2) - float64(3*u3) + u) / 2, (u3 - u2) / 2}
	d = [4]float64{
		(float64(4*u) - 1 - float64(3*u2)) / 2, (float64(9*u2) - float64(10*u)) / 2,
		(float64(8*u) - float64(9*u2) + 1) / 2, (float64(3*u2) - float64(2*u)) / 2}
	return w, d
}

// open reports whether a line may lead from (c, row j) to (e, row j+1): no wall stands between.
func (g *ground) open(c float64, e float64, j int) bool {
	if j < 0 || j+1 >= g.nr {
		return false
	}
	for _, x := range [2]float64{c, e} {
		i := int(math.Floor((x - g.c0) / g.d))
		if i < 0 || i+1 >= g.nc {
			return false
		}
		k := j*g.nc + i
		z00, z10, z01, z11 := g.z[k], g.z[k+1], g.z[k+g.nc], g.z[k+g.nc+1]
		lo, hi := min(z00, z10, z01, z11), max(z00, z10, z01, z11)
		if !(hi-lo < 1.5*g.steep) {
			return false
		}
	}
	return true
}

// span is a stretch of a row in the domain, between nodes a and b.
type span struct{ a, b float64 }

// spans returns the stretches of every row, from left to right.
func (g *ground) spans() [][]span {
	out := make([][]span, g.nr)
	for j := 1; j+1 < g.nr; j++ {
		for i := 0; i < g.nc; i++ {
			if !g.domain[j*g.nc+i] {
				continue
			}
			k := i
			for k+1 < g.nc && g.domain[j*g.nc+k+1] && abs32(g.z[j*g.nc+k+1]-g.z[j*g.nc+k]) <= g.steep {
				k++
			}
			out[j] = append(out[j], span{g.col(i), g.col(k)})
			i = k
		}
	}
	return out
}

func abs32(x float32) float32 {
	if x < 0 {
		return -x
	}
	return x
}
