package field

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"barwise/geom"
)

// Forbidden is the height of a node where no tip may stand.
var Forbidden = float32(math.Inf(1))

// sinkBlock is the edge of the squares of nodes whose least height is known, so that those too high to
// matter are passed over at once.
const sinkBlock = 8

// Sink lowers out as far as a cutter does whose tip visits every node of tips: at node q to the least
// tips(p) + h(|q − p|) among the nodes p within r. h is the cutter's profile, convex and non-decreasing,
// asked for 0 ≤ d ≤ r. Where tips is the exact lowest tip height over a model this is the closing of the
// model by the cutter: the stock that no such cutter takes stands between the two.
//
// Nodes of tips must be square, and every node of out must be one of them or lie outside them; the
// pitch of out may be a multiple. Heights of tips are Forbidden where no tip may stand.
//
// The tip visits nodes only, so the result errs upward: more is left. On a plane of slope σ under a ball
// of radius r, square to the plane, by up to p²/(8r)·(1 + 1/cos²σ) and on average a third of that, p the
// pitch of tips; beside an upright wall by up to p sideways, nothing where the wall passes r beside a
// row of nodes.
func Sink(ctx context.Context, out, tips *Field, r float64, h func(d float64) float64) error {
	s, err := newSinker(out, tips, r, h)
	if err != nil {
		return err
	}
	return EachRow(ctx, out.NY, s.row)
}

// sinker is one call of Sink.
type sinker struct {
	out, tips *Field
	ratio     int       // nodes of tips between two of out
	i0, j0    int       // node of tips at out's first
	n         int       // nodes in r
	height    []float32 // by squared distance in nodes
	nx, ny    int       // blocks
	least     []float32 // of each block
	around    []blockAt
}

// blockAt is a block by its place from the one that holds q; near is no more than the squared distance,
// in nodes, of any of its nodes from any place in the middle block.
type blockAt struct{ di, dj, near int }

func newSinker(out, tips *Field, r float64, h func(d float64) float64) (*sinker, error) {
	p := tips.DX
	if tips.DY != p || out.DX != out.DY {
		return nil, fmt.Errorf("sink: pitches of %g by %g and %g by %g mm: cells must be square", tips.DX, tips.DY, out.DX, out.DY)
	}
	whole := func(v float64) (int, bool) {
		k := math.Round(v)
		return int(k), math.Abs(v-k) < 1e-6*(1+math.Abs(k))
	}
	s := &sinker{out: out, tips: tips}
	var ok, okX, okY bool
	s.ratio, ok = whole(out.DX / p)
	s.i0, okX = whole((out.X0 - tips.X0) / p)
	s.j0, okY = whole((out.Y0 - tips.Y0) / p)
	if !ok || !okX || !okY || s.ratio < 1 {
		return nil, fmt.Errorf("sink: nodes of a grid of pitch %g mm are not among those of pitch %g mm", out.DX, p)
	}
	m := r/p + 1e-9
	s.n = int(m)
	s.height = make([]float32, int(m*m)+1)
	for d2 := range s.height {
		s.height[d2] = float32(h(min(r, p*math.Sqrt(float64(d2)))))
	}
	s.blocks()
	reach := s.n/sinkBlock + 1
	for dj := -reach; dj <= reach; dj++ {
		for di := -reach; di <= reach; di++ {
			gap := func(d int) int { return max(0, (max(d, -d)-1)*sinkBlock+1) * min(1, max(d, -d)) }
			near := gap(di)*gap(di) + gap(dj)*gap(dj)
			if near < len(s.height) {
				s.around = append(s.around, blockAt{di, dj, near})
			}
		}
	}
	slices.SortStableFunc(s.around, func(a, b blockAt) int { return cmp.Compare(a.near, b.near) })
	return s, nil
}

func (s *sinker) blocks() {
	t := s.tips
	s.nx, s.ny = (t.NX+sinkBlock-1)/sinkBlock, (t.NY+sinkBlock-1)/sinkBlock
	s.least = make([]float32, s.nx*s.ny)
	for b := range s.least {
		s.least[b] = Forbidden
	}
	for j := range t.NY {
		row, to := t.Row(j), s.least[j/sinkBlock*s.nx:]
		for i, z := range row {
			to[i/sinkBlock] = min(to[i/sinkBlock], z)
		}
	}
}

// row lowers row j of out.
func (s *sinker) row(j int) {
	q, row := s.j0+j*s.ratio, s.out.Row(j)
	if q < -s.n || q > s.tips.NY-1+s.n {
		return
	}
	bj := floorDiv(q, sinkBlock)
	for i, best := range row {
		p := s.i0 + i*s.ratio
		if p < -s.n || p > s.tips.NX-1+s.n {
			continue
		}
		bi := floorDiv(p, sinkBlock)
		for k := range s.around {
			a := &s.around[k]
			x, y := bi+a.di, bj+a.dj
			if x < 0 || y < 0 || x >= s.nx || y >= s.ny {
				continue
			}
			least := s.least[y*s.nx+x]
			if least+s.height[a.near] >= best {
				continue
			}
			// nearer than near by where in its block q lies
			dx, dy := outside(p, x*sinkBlock), outside(q, y*sinkBlock)
			if d2 := dx*dx + dy*dy; d2 < len(s.height) && least+s.height[d2] < best {
				best = s.block(x, y, p, q, best)
			}
		}
		row[i] = best
	}
}

// outside is how many nodes p lies outside the block that begins at a.
func outside(p, a int) int {
	if p < a {
		return a - p
	}
	return max(0, p-a-sinkBlock+1)
}

// block returns the least height at (p, q) that the nodes of a block give, or best.
func (s *sinker) block(x, y, p, q int, best float32) float32 {
	t := s.tips
	i0, i1 := x*sinkBlock, min((x+1)*sinkBlock, t.NX)
	for j := y * sinkBlock; j < min((y+1)*sinkBlock, t.NY); j++ {
		dy := j - q
		dy *= dy
		if dy >= len(s.height) {
			continue
		}
		dx := i0 - p
		for _, z := range t.Z[j*t.NX+i0 : j*t.NX+i1] {
			if z < best {
				if d2 := dx*dx + dy; d2 < len(s.height) {
					best = min(best, z+s.height[d2])
				}
			}
			dx++
		}
	}
	return best
}

func floorDiv(a, b int) int {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}

// SinkAt lowers out as Sink does, by a tip that visits single points, wherever they lie.
func SinkAt(ctx context.Context, out *Field, at []geom.Vec3, r float64, h func(d float64) float64) error {
	pts := slices.Clone(at)
	slices.SortFunc(pts, func(a, b geom.Vec3) int { return cmp.Compare(a.Y, b.Y) })
	return EachRow(ctx, out.NY, func(j int) {
		y := out.Y(j)
		from, _ := slices.BinarySearchFunc(pts, y-r, func(p geom.Vec3, y float64) int { return cmp.Compare(p.Y, y) })
		for _, p := range pts[from:] {
			if p.Y > y+r {
				break
			}
			out.sinkRow(j, p, r, h)
		}
	})
}

func (f *Field) sinkRow(j int, p geom.Vec3, r float64, h func(d float64) float64) {
	y := f.Y(j) - p.Y
	y = float64(y * y)
	half := math.Sqrt(max(0, float64(r*r)-y))
	i0, i1 := int(math.Ceil((p.X-half-f.X0)/f.DX-1e-9)), int(math.Floor((p.X+half-f.X0)/f.DX+1e-9))
	row, low := f.Row(j), float32(p.Z)
	for i := max(i0, 0); i <= min(i1, f.NX-1); i++ {
		if row[i] <= low {
			continue
		}
		x := f.X(i) - p.X
		row[i] = min(row[i], float32(p.Z+h(min(r, math.Sqrt(float64(x*x)+y)))))
	}
}
