package finish

import (
	"context"
	"math"
	"runtime"
	"sync"
	"sync/atomic"

	"barwise/geom"
)

// depthWeight is how much of the score comes from how near the spindle a place lies, against how kindly
// it slopes: where two sides see a place alike (a shoulder square to the bar), the one with the shorter
// way down gets it. Both sides give scores by one formula, so that no place is passed on for ever.
const depthWeight = 0.25

// blend is how much better another side's score must be before a place is given up to it. It is above
// the noise of normals taken from the grid: where two sides are about equal, both cut.
const blend = 0.05

// reachGap is how much an exact height may differ, in mm square to the surface, for two sides to be
// touching at one and the same place.
const reachGap = 0.003

// steepRise is the rise over run between neighbouring nodes from which what lies between them is
// looked at as a wall.
const steepRise = 3

// rows runs f for every row, on all cores; f may write only what belongs to its row.
func rows(ctx context.Context, n int, f func(j int)) error {
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

// rowsErr is rows for what can fail; the error of the lowest number counts.
func rowsErr(ctx context.Context, n int, f func(i int) error) error {
	errs := make([]error, n)
	if err := rows(ctx, n, func(i int) { errs[i] = f(i) }); err != nil {
		return err
	}
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

// score says how well a side of facing d reaches the place c with outward normal n.
func (w *work) score(d, n, c geom.Vec3) float64 {
	return n.Dot(d) + float64(depthWeight*c.Dot(d))/w.ref
}

// decide marks the nodes side i is answerable for.
func (w *work) decide(ctx context.Context, i int) error {
	v := w.views[i]
	if err := rows(ctx, v.f.NY, func(j int) { w.ownRow(i, j) }); err != nil {
		return err
	}
	// walls are found from the free node's side, so that each row writes only itself
	if err := rows(ctx, v.f.NY, func(j int) { w.wallRow(i, j) }); err != nil {
		return err
	}
	return ctx.Err()
}

func (w *work) inside(v *view, x, y float64) bool {
	const slack = 1e-9
	return x >= v.XMin-slack && x <= v.XMax+slack && y >= w.in.YMin-slack && y <= w.in.YMax+slack
}

func (w *work) ownRow(i, j int) {
	v := w.views[i]
	f := v.f
	for k := range f.NX {
		z := f.Z[j*f.NX+k]
		x, y := f.X(k), f.Y(j)
		if v.beyond[j*f.NX+k] || !w.inside(v, x, y) {
			continue
		}
		gx, gy := f.Slope(k, j)
		n := geom.Vec3{X: -gx, Y: -gy, Z: 1}.Unit()
		if !w.given(i, geom.Vec3{X: x, Y: y, Z: float64(z)}, n) {
			v.state[j*f.NX+k] = own
			v.e[j*f.NX+k] = z
		}
	}
}

// given reports whether another side cuts, and scores better at, the place that the cutter at tip
// touches with outward normal n, both in the frame of side i.
func (w *work) given(i int, tip, n geom.Vec3) bool {
	v := w.views[i]
	q := v.turn.ToPart(w.touch(tip, n))
	np := v.turn.ToPart(n)
	mine := w.score(v.facing, np, q)
	for j, o := range w.views {
		if j == i || np.Dot(o.facing) < -0.02 || w.score(o.facing, np, q) <= mine+blend {
			continue
		}
		if w.reaches(o, q, np) {
			return true
		}
	}
	return false
}

// touch returns the point of the cutter's surface, at tip, whose outward normal is −n: where it
// touches a surface of normal n.
func (w *work) touch(tip, n geom.Vec3) geom.Vec3 {
	r, h, u := w.contact(n)
	return geom.Vec3{X: tip.X - float64(r*u.X), Y: tip.Y - float64(r*u.Y), Z: tip.Z + h}
}

// contact returns the radius and height at which the cutter touches a surface of normal n, and the
// plan direction of n. The real cutter is used: an allowance moves the surface, not the cutter.
func (w *work) contact(n geom.Vec3) (r, h float64, u geom.Vec2) {
	s := n.XY().Len()
	if s < 1e-12 {
		return 0, 0, geom.Vec2{}
	}
	m := math.Inf(1)
	if n.Z > 1e-9 {
		m = s / n.Z
	}
	r, h = w.in.Cutter.Contact(m)
	return r, h, n.XY().Mul(1 / s)
}

// reaches reports whether side o's cutter, within its limits, touches the place q of outward normal n
// (part frame): its tip there must not lie below the exact surface. For a ball both sides' cutters
// then stand at one and the same place, whatever the error of n.
func (w *work) reaches(o *view, q, n geom.Vec3) bool {
	q, n = o.turn.ToSide(q), o.turn.ToSide(n)
	r, h, u := w.contact(n)
	tip := geom.Vec3{X: q.X + float64(r*u.X), Y: q.Y + float64(r*u.Y), Z: q.Z - h}
	if !w.inside(o, tip.X, tip.Y) || tip.Z < w.limit(o, tip.X, tip.Y) {
		return false
	}
	f := o.f
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
	high := max(over(z00, -dx, -dy), over(z10, f.DX-dx, -dy), over(z01, -dx, f.DY-dy), over(z11, f.DX-dx, f.DY-dy))
	if high*max(nz, 0.2) <= reachGap {
		return true
	}
	if min(z00, z10, z01, z11) > tip.Z+8*w.pitch {
		return false
	}
	z, _ := w.height(o, tip.X, tip.Y)
	return (z-tip.Z)*max(nz, 0.05) <= reachGap
}

// wallRow looks for walls down to the nodes of row j: a higher neighbour by steepRise marks one. The
// cutter stands at the lower node, in the free, and is asked at heights along the wall whether another
// side has the place. The wall is kept down to the lowest place that has no other side.
func (w *work) wallRow(i, j int) {
	v := w.views[i]
	f := v.f
	if j == 0 || j+1 >= f.NY {
		return
	}
	for k := 1; k+1 < f.NX; k++ {
		at := j*f.NX + k
		x, y := f.X(k), f.Y(j)
		if !w.inside(v, x, y) {
			continue
		}
		z := f.Z[at]
		top := z
		var n geom.Vec3
		for _, s := range [4][2]int{{-1, 0}, {1, 0}, {0, -1}, {0, 1}} {
			b := f.Z[at+s[1]*f.NX+s[0]]
			if rise := float64(b - z); rise > steepRise*w.pitch {
				top = max(top, b)
				n.X -= float64(float64(s[0]) * min(rise, 20*w.pitch))
				n.Y -= float64(float64(s[1]) * min(rise, 20*w.pitch))
			}
		}
		if top == z {
			continue
		}
		low, climb, hang, ok := w.wallFoot(i, geom.Vec3{X: x, Y: y, Z: float64(z)}, float64(top), n.Unit())
		if !ok {
			continue
		}
		v.foot[at], v.climb[at], v.hang[at] = true, float32(climb), float32(hang)
		if v.state[at] != own {
			v.state[at], v.e[at] = wall, float32(low)
		}
	}
}

// wallFoot looks up a wall from tip.Z to top for places that only side i, or it best, cuts. low is where
// they begin; climb is how far they go up from tip.Z and hang how far down from top, either without a
// break that is worth parting a line for; what lies between is hung.
func (w *work) wallFoot(i int, tip geom.Vec3, top float64, n geom.Vec3) (low, climb, hang float64, ok bool) {
	step := max(w.pitch, (top-tip.Z)/64)
	gap := leastDrop*w.p.Overlap + step
	climb, hang = tip.Z, top
	open := false // a place that does not hang together with tip.Z has been met
	for z := tip.Z + step; z < top-float64(0.5*step); z += step {
		at := tip
		at.Z = z
		if w.given(i, at, n) || !w.touches(i, at, n) || w.open(i, at, n) {
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
func (w *work) touches(i int, tip, n geom.Vec3) bool {
	c := w.in.Cutter
	if w.shell == nil || c.Round != c.R {
		return true
	}
	tip.Z += c.R
	t := w.views[i].turn
	return w.shell.near(t.ToPart(tip), t.ToPart(n.Mul(-1)), c.R+w.in.Allowance+float64(1.5*w.pitch))
}

// open reports whether some other side sees that there is no wall beside tip: the cutter can be moved
// into it by two nodes. So the drop is one of the view, over something that stands out above.
func (w *work) open(i int, tip, n geom.Vec3) bool {
	v := w.views[i]
	q := v.turn.ToPart(w.touch(tip.Sub(n.Mul(2*w.pitch)), n))
	np := v.turn.ToPart(n)
	for j, o := range w.views {
		if j != i && np.Dot(o.facing) >= -0.02 && w.reaches(o, q, np) {
			return true
		}
	}
	return false
}
