package reach

import (
	"context"
	"math"
	"slices"

	"barwise/geom"
	"barwise/geom/field"
	"barwise/plan/cl"
	"barwise/shop/bar"
	"barwise/shop/cutter"
)

// A tip that visits only nodes stops up to a pitch short of a wall, and a hair above the bottom of a
// crease. So tips are added between nodes: as near to every wall as the exact surface lets the cutter
// come, and where the two flanks of a crease meet.

// halvings of a cell bring a tip to within a 32nd of the pitch of a wall.
const halvings = 5

// betweenTips is what may stand between two tips up a slope, mm.
const betweenTips = 0.002

// creaseBend is the least change of slope from one cell to the next but one that counts as a crease.
const creaseBend = 0.15

// edges is the search for tips between the nodes of one cut on one side.
type edges struct {
	w       *predictor
	c       *Cut
	ix      *cl.Index
	exact   *field.Field
	low     *field.Field
	allowed *field.Field
	grown   cutter.Profile
	rise    float64
	room    bar.Window
	step    float64 // mm between tips up a slope
}

// between returns tips between the nodes of allowed, those of cut k on one side.
func (w *predictor) between(ctx context.Context, k, side int, allowed *field.Field) ([]geom.Vec3, error) {
	c, t := &w.Cuts[k], &w.cuts[k][side]
	e := &edges{w: w, c: c, ix: w.index(side), exact: t.exact, low: t.low(), allowed: allowed, room: w.rooms[k][side]}
	e.step = math.Sqrt(8 * c.Cutter.R * betweenTips)
	e.grown, e.rise, _ = c.Cutter.Grown(c.allowance())
	rows := make([][]geom.Vec3, allowed.NY)
	err := field.EachRow(ctx, allowed.NY, func(j int) {
		if j > 0 && j+1 < allowed.NY {
			rows[j] = e.row(j)
		}
	})
	return slices.Concat(rows...), err
}

// row is the tips between row j and the next.
func (e *edges) row(j int) []geom.Vec3 {
	var out []geom.Vec3
	f := e.allowed
	for i := 1; i+1 < f.NX; i++ {
		for _, d := range [2][2]int{{1, 0}, {0, 1}} {
			a, b := f.Z[j*f.NX+i], f.Z[(j+d[1])*f.NX+i+d[0]]
			if e.apart(a, b, max(e.step, steepRise*f.DX)) {
				if e.othersShare(a, i, j) || e.othersShare(b, i+d[0], j+d[1]) {
					continue
				}
				foot := min(a, b)
				pa := geom.Vec3{X: f.X(i), Y: f.Y(j), Z: float64(a)}
				pb := geom.Vec3{X: f.X(i + d[0]), Y: f.Y(j + d[1]), Z: float64(b)}
				out = e.split(out, pa, pb, foot, halvings)
			} else {
				if q, ok := e.crease(i, j, d[0], d[1]); ok {
					out = append(out, q)
				}
			}
		}
	}
	return out
}

// othersShare reports whether a node is left out though the cutter would touch something there.
func (e *edges) othersShare(z float32, i, j int) bool {
	if z != field.Forbidden {
		return false
	}
	x, y, f := e.exact.X(i), e.exact.Y(j), e.low
	return e.exact.At(i, j) > f.MaxAround(x-f.DX/2, x+f.DX/2, y-f.DY/2, y+f.DY/2)
}

// apart reports whether two tips differ by more than rise; one of them may be Forbidden.
func (e *edges) apart(a, b float32, rise float64) bool {
	switch {
	case a == b:
		return false
	case a == field.Forbidden || b == field.Forbidden:
		return true
	}
	return math.Abs(float64(a-b)) > rise
}

// split adds tips between a and b until neighbours are near in height, or near enough in place. foot is how
// low a tip goes where it touches nothing beneath it.
func (e *edges) split(out []geom.Vec3, a, b geom.Vec3, foot float32, depth int) []geom.Vec3 {
	if depth == 0 || !e.apart(float32(a.Z), float32(b.Z), e.step) {
		return out
	}
	m := a.Lerp(b, 0.5)
	m.Z = e.tip(m.X, m.Y, foot)
	out = e.split(out, a, m, foot, depth-1)
	if !math.IsInf(m.Z, 1) {
		out = append(out, m)
	}
	return e.split(out, m, b, foot, depth-1)
}

// tip is where the tip goes at a place, +Inf for nowhere.
func (e *edges) tip(x, y float64, foot float32) float64 {
	if !e.inside(x, y) {
		return math.Inf(1)
	}
	z, floor := e.height(x, y)
	switch {
	case z > floor:
		return z + e.c.Cusp/3
	case foot != field.Forbidden:
		return max(floor, float64(foot))
	}
	return math.Inf(1)
}

// height is the exact tip height at a place and the floor there.
func (e *edges) height(x, y float64) (z, floor float64) {
	f := e.low
	return e.ix.Height(e.grown, x, y) - e.rise, float64(f.MaxAround(x-f.DX/2, x+f.DX/2, y-f.DY/2, y+f.DY/2))
}

func (e *edges) inside(x, y float64) bool {
	const slack = 1e-9
	r := &e.room
	return x >= r.X0-slack && x <= r.X1+slack && y >= r.Y0-slack && y <= r.Y1+slack
}

// crease finds the bottom of a crease across the cell from a node to its next in x or y.
func (e *edges) crease(i, j, di, dj int) (geom.Vec3, bool) {
	f := e.exact
	k, step := j*f.NX+i, dj*f.NX+di
	if k+2*step >= len(f.Z) || di == 1 && i+2 >= f.NX {
		return geom.Vec3{}, false
	}
	for n := -1; n <= 2; n++ {
		if e.allowed.Z[k+n*step] == field.Forbidden {
			return geom.Vec3{}, false
		}
	}
	left, right := float64(f.Z[k]-f.Z[k-step]), float64(f.Z[k+2*step]-f.Z[k+step])
	if p := f.DX; right-left < creaseBend*p || math.Abs(left) > steepRise*p || math.Abs(right) > steepRise*p {
		return geom.Vec3{}, false
	}
	m := (float64(f.Z[k+step]-f.Z[k]) - right) / (left - right)
	if !(m > 0.02 && m < 0.98) {
		return geom.Vec3{}, false
	}
	q := geom.Vec3{X: f.X(i) + float64(m*float64(di)*f.DX), Y: f.Y(j) + float64(m*float64(dj)*f.DX)}
	z, floor := e.height(q.X, q.Y)
	q.Z = z + e.c.Cusp/3
	return q, z > floor
}
