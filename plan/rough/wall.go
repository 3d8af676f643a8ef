package rough

import (
	"math"

	"barwise/geom"
)

// wall is how far every node is from the room that Target or the region forbids.
//
// The forbidden room F of a level is a union of discs at least as large as the cutter's flat (or, for
// a round end, of caps that large a little lower). Nodes tell only which samples are allowed. So F is
// rebuilt as the union of the discs about forbidden nodes that hold no allowed node: a node deep
// enough in F gives the largest such disc. Their outline is smooth, passes through the outermost
// allowed nodes, and differs from F by second order in the pitch on the gouging side; a staircase of
// cells would not. What is forbidden but in no deep disc, a small blob under a round end, gets discs
// of its own.
type wall struct {
	g      []float32 // mm from the wall, positive where the tip may go; exact near the wall
	free   *distances
	power  *distances
	weight []float64
	deep   float64 // least radius of a disc
}

func (a *wall) init(w *work) {
	a.g = make([]float32, w.n)
	a.free, a.power = newDistances(w.grid), newDistances(w.grid)
	a.weight = make([]float64, w.n)
	c := w.p.Cutter
	a.deep = min(c.R/2, max(c.Flat/2, 3*max(w.grid.DX, w.grid.DY)))
}

func (a *wall) find(w *work) {
	z := float32(w.z)
	free := a.free.toSet(func(k int) bool { return w.target[k] <= z })
	shut := false
	if free {
		shut = a.weigh(w, z)
	}
	switch {
	case !free:
		for k := range a.g {
			a.g[k] = float32(-w.p.Cutter.DC())
		}
		return
	case !shut:
		for k := range a.g {
			a.g[k] = float32(math.Inf(1))
		}
	default:
		a.power.power(a.weight)
		a.gauge()
		if a.blobs(w, z) {
			a.power.power(a.weight)
			a.gauge()
		}
		hair := -0.01 * float32(min(w.grid.DX, w.grid.DY))
		for k, t := range w.target {
			if t > z {
				a.g[k] = min(a.g[k], hair)
			}
		}
	}
	a.fence(w)
}

// weigh sets the discs of the deep forbidden nodes; false where nothing is forbidden.
func (a *wall) weigh(w *work, z float32) bool {
	shut := false
	deep2 := a.deep * a.deep
	for k, t := range w.target {
		a.weight[k] = math.Inf(1)
		if !(t > z) || math.IsInf(float64(t), 1) {
			continue
		}
		shut = true
		if d2 := a.free.d2[k]; d2 >= deep2 {
			a.weight[k] = -d2
		}
	}
	return shut
}

// gauge turns powers into distances from the discs.
func (a *wall) gauge() {
	nx := a.power.grid.NX
	dx, dy := a.power.grid.DX, a.power.grid.DY
	share(a.power.grid.NY, len(a.power.at), func(_, lo, hi int) {
		for k := lo * nx; k < hi*nx; k++ {
			if math.IsInf(a.power.d2[k], 1) {
				a.g[k] = float32(math.Inf(1))
				continue
			}
			c := int(a.power.arg[k])
			r := math.Sqrt(-a.weight[c])
			ex, ey := float64(k%nx-c%nx)*dx, float64(k/nx-c/nx)*dy
			a.g[k] = float32(math.Sqrt(float64(ex*ex)+float64(ey*ey)) - r)
		}
	})
}

// blobs gives discs to the forbidden nodes that no deep disc holds; false where there are none.
func (a *wall) blobs(w *work, z float32) bool {
	bare := float32(0.1 * min(w.grid.DX, w.grid.DY))
	any := false
	for k, t := range w.target {
		if t > z && !math.IsInf(float64(t), 1) && a.g[k] > bare {
			a.weight[k] = -a.free.d2[k]
			any = true
		}
	}
	return any
}

// fence keeps the region's limits, which are exact lines.
func (a *wall) fence(w *work) {
	g := w.region
	for j := range w.grid.NY {
		y := w.grid.Y(j)
		fy := min(y-g.YMin, g.YMax-y)
		row := a.g[j*w.grid.NX : (j+1)*w.grid.NX]
		for i := range row {
			x := w.grid.X(i)
			row[i] = min(row[i], float32(min(fy, x-g.XMin, g.XMax-x)))
		}
	}
}

// wallAt is the distance from the wall at a point, by bilinear interpolation; negative off the grid.
func (w *work) wallAt(p geom.Vec2) float64 {
	g := w.grid
	x, y := (p.X-g.X0)/g.DX, (p.Y-g.Y0)/g.DY
	i, j := int(math.Floor(x)), int(math.Floor(y))
	if i < 0 || j < 0 || i >= g.NX-1 || j >= g.NY-1 {
		return -1
	}
	x, y = x-float64(i), y-float64(j)
	k := j*g.NX + i
	a, b := float64(w.wall.g[k]), float64(w.wall.g[k+1])
	c, d := float64(w.wall.g[k+g.NX]), float64(w.wall.g[k+g.NX+1])
	far := w.p.Cutter.DC()
	a, b, c, d = min(a, far), min(b, far), min(c, far), min(d, far)
	return float64((1-y)*(float64((1-x)*a)+float64(x*b))) + float64(y*(float64((1-x)*c)+float64(x*d)))
}

// clearWay reports that the tip may go straight from a to b on the level.
func (w *work) clearWay(a, b geom.Vec2) bool {
	n := int(gap(a, b)/(0.5*min(w.grid.DX, w.grid.DY))) + 1
	for i := 0; i <= n; i++ {
		if w.wallAt(plus(a, b.Sub(a), float64(i)/float64(n))) < 0 {
			return false
		}
	}
	return true
}

func gap(a, b geom.Vec2) float64 {
	d := b.Sub(a)
	return d.Len()
}

// plus returns p + k·d, with the products rounded before they are added.
func plus(p, d geom.Vec2, k float64) geom.Vec2 {
	return geom.Vec2{X: p.X + float64(d.X*k), Y: p.Y + float64(d.Y*k)}
}
