package share

import (
	"context"
	"math"
	"runtime"
	"sync"
	"sync/atomic"

	"barwise/geom"
)

// blend is how much better another side's score must be before a place is given up to it. It is above
// the noise of normals taken from the grid: where two sides are about equal, both cut. Where the vote
// tells them apart it counts the more, and is worth about the same in millimetres.
const (
	blend     = 0.05
	voteBlend = 0.2
)

// voteWeight is what a place's vote is worth in its score: more than any two costs differ by.
const voteWeight = 4

// reachGap is how much an exact height may differ, in mm square to the surface, for two sides to be
// touching at one and the same place.
const reachGap = 0.003

// LeastDrop is the drop, in overlaps, from which a line is parted rather than led down and up again.
const LeastDrop = 2

// steepRise is the rise over run between neighbouring nodes from which what lies between them is
// looked at as a wall.
const steepRise = 3

// Rows runs f for every row, on all cores; f may write only what belongs to its row.
func Rows(ctx context.Context, n int, f func(j int)) error {
	var next atomic.Int64
	var wg sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), max(n, 1)) {
		wg.Add(1)
		go func() {
			defer wg.Done()
			for ctx.Err() == nil {
				j := int(next.Add(1)) - 1
				if j >= n {
					return
				}
				f(j)
			}
		}()
	}
	wg.Wait()
	return ctx.Err()
}

// RowsErr is rows for what can fail; the error of the lowest number counts.
func RowsErr(ctx context.Context, n int, f func(i int) error) error {
	errs := make([]error, n)
	if err := Rows(ctx, n, func(i int) { errs[i] = f(i) }); err != nil {
		return err
	}
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

// Decide marks the nodes side i is answerable for.
func (s *Set) Decide(ctx context.Context, i int) error {
	v := s.Views[i]
	s.once.Do(s.vote)
	if err := Rows(ctx, v.Field.NY, func(j int) { s.ownRow(i, j) }); err != nil {
		return err
	}
	// walls are found from the free node's side, so that each row writes only itself
	if err := Rows(ctx, v.Field.NY, func(j int) { s.wallRow(i, j) }); err != nil {
		return err
	}
	return ctx.Err()
}

func (s *Set) ownRow(i, j int) {
	v := s.Views[i]
	f := v.Field
	vote := make([]float64, len(s.Views))
	for k := range f.NX {
		z := f.Z[j*f.NX+k]
		x, y := f.X(k), f.Y(j)
		if v.Beyond[j*f.NX+k] || !s.Inside(v, x, y) {
			continue
		}
		gx, gy := f.Slope(k, j)
		n := geom.Vec3{X: -gx, Y: -gy, Z: 1}.Unit()
		if !s.given(i, geom.Vec3{X: x, Y: y, Z: float64(z)}, n, vote) {
			v.State[j*f.NX+k] = Own
			v.E[j*f.NX+k] = z
		}
	}
}

// given reports whether another side cuts, and scores better at, the place that the cutter at tip
// touches with outward normal n, both in the frame of side i. A score is what the vote about the place
// gives a side, and its worth there; both are functions of the place, whichever side asks. vote is scratch.
func (s *Set) given(i int, tip, n geom.Vec3, vote []float64) bool {
	v := s.Views[i]
	q := v.Turn.ToPart(s.touch(tip, n))
	np := v.Turn.ToPart(n)
	clear(vote)
	if s.ballot != nil {
		s.ballot.votes(q.Sub(np.Mul(s.Allowance)), np, vote)
	}
	if vote[i] > 1-1e-6 {
		return false
	}
	mine := s.worth(i, q, np)
	tried := -1
	// the side that most of the vote is for mostly has the place
	for j, o := range s.Views {
		if j != i && vote[j] > 0.5 {
			tried = j
			if s.better(j, i, q, np, mine, vote) && s.reaches(o, q, np) {
				return true
			}
		}
	}
	for j, o := range s.Views {
		if j != i && j != tried && s.better(j, i, q, np, mine, vote) && s.reaches(o, q, np) {
			return true
		}
	}
	return false
}

// better reports whether side j scores clearly better than side i, whose worth is mine, at a place.
func (s *Set) better(j, i int, q, n geom.Vec3, mine float64, vote []float64) bool {
	if n.Dot(s.Views[j].Facing) < leastFacing {
		return false
	}
	ahead, least := float64(voteWeight*(vote[j]-vote[i])), blend
	if vote[i] > 0 || vote[j] > 0 {
		least = voteBlend
	}
	// no worth is better than that of a side that faces the place, −1 at most
	return ahead-mine > least && ahead+s.worth(j, q, n)-mine > least
}

// touch returns the point of the cutter's surface, at tip, whose outward normal is −n: where it
// touches a surface of normal n.
func (s *Set) touch(tip, n geom.Vec3) geom.Vec3 {
	r, h, u := s.contact(n)
	return geom.Vec3{X: tip.X - float64(r*u.X), Y: tip.Y - float64(r*u.Y), Z: tip.Z + h}
}

// contact returns the radius and height at which the cutter touches a surface of normal n, and the
// plan direction of n. The real cutter is used: an allowance moves the surface, not the cutter.
func (s *Set) contact(n geom.Vec3) (r, h float64, u geom.Vec2) {
	flat := n.XY().Len()
	if flat < 1e-12 {
		return 0, 0, geom.Vec2{}
	}
	m := math.Inf(1)
	if n.Z > 1e-9 {
		m = flat / n.Z
	}
	r, h = s.Cutter.Contact(m)
	return r, h, n.XY().Mul(1 / flat)
}

// reaches reports whether side o's cutter, within its limits, touches the place q of outward normal n
// (part frame): its tip there must not lie below the exact surface. For a ball both sides' cutters
// then stand at one and the same place, whatever the error of n.
func (s *Set) reaches(o *View, q, n geom.Vec3) bool {
	tip := s.tipAt(o, q, n)
	n = o.Turn.ToSide(n)
	if !s.Inside(o, tip.X, tip.Y) || tip.Z < s.Limit(o, tip.X, tip.Y) {
		return false
	}
	f := o.Field
	a, b := (tip.X-f.X0)/f.DX, (tip.Y-f.Y0)/f.DY
	i, j := int(math.Floor(a)), int(math.Floor(b))
	if i < 0 || j < 0 || i+1 >= f.NX || j+1 >= f.NY {
		return false
	}
	z00, z10 := float64(f.Z[j*f.NX+i]), float64(f.Z[j*f.NX+i+1])
	z01, z11 := float64(f.Z[(j+1)*f.NX+i]), float64(f.Z[(j+1)*f.NX+i+1])
	// clearly free: the path surface lies below the touching plane at all four nodes around
	nz := max(n.Z, 0)
	gx, gy := 0.0, 0.0
	if n.Z > 0.2 {
		gx, gy = -n.X/n.Z, -n.Y/n.Z
	}
	dx, dy := (a-float64(i))*f.DX, (b-float64(j))*f.DY
	over := func(z, x, y float64) float64 { return z - tip.Z - float64(gx*x) - float64(gy*y) }
	a00, a10, a01, a11 := over(z00, -dx, -dy), over(z10, f.DX-dx, -dy), over(z01, -dx, f.DY-dy), over(z11, f.DX-dx, f.DY-dy)
	if max(a00, a10, a01, a11)*max(nz, 0.2) <= reachGap {
		return true
	}
	if min(z00, z10, z01, z11) > tip.Z+8*s.Pitch {
		return false
	}
	if s.Quick {
		return min(a00, a10, a01, a11)*max(nz, 0.2) <= reachGap
	}
	z, _ := s.Height(o, tip.X, tip.Y)
	return (z-tip.Z)*max(nz, 0.05) <= reachGap
}

// wallRow looks for walls down to the nodes of row j: a higher neighbour by steepRise marks one. The
// cutter stands at the lower node, in the free, and is asked at heights along the wall whether another
// side has the place. The wall is kept down to the lowest place that has no other side.
func (s *Set) wallRow(i, j int) {
	v := s.Views[i]
	f := v.Field
	if j == 0 || j+1 >= f.NY {
		return
	}
	for k := 1; k+1 < f.NX; k++ {
		at := j*f.NX + k
		x, y := f.X(k), f.Y(j)
		if !s.Inside(v, x, y) {
			continue
		}
		z := f.Z[at]
		top := z
		var n geom.Vec3
		for _, d := range [4][2]int{{-1, 0}, {1, 0}, {0, -1}, {0, 1}} {
			b := f.Z[at+d[1]*f.NX+d[0]]
			if rise := float64(b - z); rise > steepRise*s.Pitch {
				top = max(top, b)
				n.X -= float64(float64(d[0]) * min(rise, 20*s.Pitch))
				n.Y -= float64(float64(d[1]) * min(rise, 20*s.Pitch))
			}
		}
		if top == z {
			continue
		}
		low, climb, hang, ok := s.wallFoot(i, geom.Vec3{X: x, Y: y, Z: float64(z)}, float64(top), n.Unit())
		if !ok {
			continue
		}
		v.Foot[at], v.Climb[at], v.Hang[at] = true, float32(climb), float32(hang)
		if v.State[at] != Own {
			v.State[at], v.E[at] = Wall, float32(low)
		}
	}
}

// wallFoot looks up a wall from tip.Z to top for places that only side i, or it best, cuts. low is where
// they begin; climb is how far they go up from tip.Z and hang how far down from top, either without a
// break that is worth parting a line for; what lies between is hung.
func (s *Set) wallFoot(i int, tip geom.Vec3, top float64, n geom.Vec3) (low, climb, hang float64, ok bool) {
	step := max(s.Pitch, (top-tip.Z)/64)
	gap := LeastDrop*s.Overlap + step
	climb, hang = tip.Z, top
	vote := make([]float64, len(s.Views))
	open := false // a place that does not hang together with tip.Z has been met
	for z := tip.Z + step; z < top-float64(0.5*step); z += step {
		at := tip
		at.Z = z
		if s.given(i, at, n, vote) || !s.touches(i, at, n) || s.open(i, at, n) {
			continue
		}
		if !ok {
			low, ok = z-step, true
		}
		if !open && z-climb <= gap {
			climb = z
			continue
		}
		if !open {
			open, hang = true, z-step
		}
	}
	if top-climb <= gap { // not worth parting at all
		hang = climb
	}
	return low, climb, hang, ok
}

// touches reports whether the model comes as near to the cutter at tip as it does where the cutter,
// one node away, touches a wall of normal n. Only a ball is looked at; other cutters are taken to touch.
func (s *Set) touches(i int, tip, n geom.Vec3) bool {
	c := s.Cutter
	if s.shell == nil || c.Round != c.R {
		return true
	}
	tip.Z += c.R
	t := s.Views[i].Turn
	return s.shell.near(t.ToPart(tip), t.ToPart(n.Mul(-1)), c.R+s.Allowance+float64(1.5*s.Pitch))
}

// open reports whether some other side sees that there is no wall beside tip: the cutter can be moved
// into it by two nodes. So the drop is one of the view, over something that stands out above.
func (s *Set) open(i int, tip, n geom.Vec3) bool {
	v := s.Views[i]
	q := v.Turn.ToPart(s.touch(tip.Sub(n.Mul(2*s.Pitch)), n))
	np := v.Turn.ToPart(n)
	for j, o := range s.Views {
		if j != i && np.Dot(o.Facing) >= leastFacing && s.reaches(o, q, np) {
			return true
		}
	}
	return false
}
