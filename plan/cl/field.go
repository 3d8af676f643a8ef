package cl

import (
	"context"
	"fmt"
	"math"

	"barwise/geom"
	"barwise/geom/field"
	"barwise/shop/cutter"
)

// Field returns the exact lowest height of the tip at every node of g so that the cutter stays
// allowance (mm, negative to cut deeper) off the mesh, field.Empty where the cutter misses the mesh.
// See the package comment for what exact means.
func (s *Surface) Field(ctx context.Context, t geom.Turn, p cutter.Profile, allowance float64, g field.Grid) (*field.Field, error) {
	if err := checkGrid(g); err != nil {
		return nil, err
	}
	grown, rise, ok := p.Grown(allowance)
	if !ok || !(grown.R > 0) || math.IsInf(grown.R, 1) {
		return nil, fmt.Errorf("cutter of radius %g mm: nothing is left of it at an allowance of %g mm", p.R, allowance)
	}
	j := &job{ctx: ctx, surface: s, turn: t, shape: newShape(grown), grid: g, z: make([]float32, g.Len()), perX: 1 / g.DX, perY: 1 / g.DY}
	j.verts = make([]geom.Vec3, len(s.mesh.Vertices))
	inChunks(len(j.verts), 16384, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			v := t.ToSide(s.mesh.Vertices[i])
			v.Z -= rise
			j.verts[i] = v
		}
	})
	j.layTiles()
	j.sort()
	if err := eachOf(ctx, len(j.tiles), j.newDrawer, (*drawer).tile); err != nil {
		return nil, err
	}
	return &field.Field{Grid: g, Z: j.z}, nil
}

func checkGrid(g field.Grid) error {
	if g.NX < 0 || g.NY < 0 || g.NX > maxSide || g.NY > maxSide {
		return fmt.Errorf("grid of %d by %d nodes: a side may have 0 to %d", g.NX, g.NY, maxSide)
	}
	if !(g.DX > 0) || !(g.DY > 0) || math.IsInf(g.DX+g.DY, 0) || g.X0-g.X0 != 0 || g.Y0-g.Y0 != 0 {
		return fmt.Errorf("grid from (%g, %g) by (%g, %g) mm: pitches must be positive and all finite", g.X0, g.Y0, g.DX, g.DY)
	}
	return nil
}

// maxSide keeps tile numbers within 16 bits.
const maxSide = 1 << 20

// job is one call of Field.
type job struct {
	ctx      context.Context
	surface  *Surface
	turn     geom.Turn
	shape    shape
	grid     field.Grid
	z        []float32
	perX     float64 // columns and rows per mm
	perY     float64
	verts    []geom.Vec3 // turned; lowered by what the allowance raises the tip
	slack    float64     // mm by which patches are drawn too large
	tileSize int
	tilesX   int
	tilesY   int
	tiles    []rect
	spans    []span
	stars    []int32 // vertices by tile, those that face up first
	starAt   []int32 // tile k's: stars[starAt[2k]:starAt[2k+1]] face up, then to starAt[2k+2] the rest
}

// rect is a rectangle of nodes, ends included.
type rect struct{ i0, i1, j0, j1 int }

// span is the rectangle of tiles a star may draw on, ends included; x0 > x1 for none.
type span struct {
	x0, x1, y0, y1 int16
	up             bool
}

// layTiles cuts the grid into squares that fit a core's cache, at least sixteen where the grid is not
// tiny. They depend on the grid alone, so that results do not depend on the number of cores.
func (j *job) layTiles() {
	g := j.grid
	size := 512
	for size > 64 && (g.NX/size)*(g.NY/size) < 16 {
		size /= 2
	}
	for g.NX/size > 4096 || g.NY/size > 4096 {
		size *= 2
	}
	j.tileSize = size
	j.tilesX, j.tilesY = (g.NX+size-1)/size, (g.NY+size-1)/size
	for y := range j.tilesY {
		for x := range j.tilesX {
			j.tiles = append(j.tiles, rect{x * size, min((x+1)*size, g.NX) - 1, y * size, min((y+1)*size, g.NY) - 1})
		}
	}
}

// sort puts every star in the lists of the tiles it may reach.
func (j *job) sort() {
	if len(j.tiles) == 0 {
		return
	}
	const chunk = 4096
	n := len(j.verts)
	chunks := (n + chunk - 1) / chunk
	keys := 2 * len(j.tiles)
	j.spans = make([]span, n)
	counts := make([]int32, chunks*keys)
	extents := make([]float64, chunks)
	inChunks(n, chunk, func(lo, hi int) {
		count := counts[lo/chunk*keys:][:keys]
		extent := 0.0
		for v := lo; v < hi; v++ {
			j.spans[v] = j.reach(int32(v), &extent)
			j.eachTile(v, func(key int) { count[key]++ })
		}
		extents[lo/chunk] = extent
	})
	for _, e := range extents {
		j.slack = max(j.slack, e)
	}
	j.slack = float64(slackPart*j.slack) + float64(normalPart*j.shape.rad)
	j.starAt = make([]int32, keys+1)
	sum := int32(0)
	for k := range keys {
		j.starAt[k] = sum
		for c := range chunks {
			counts[c*keys+k], sum = sum, sum+counts[c*keys+k]
		}
	}
	j.starAt[keys] = sum
	j.stars = make([]int32, sum)
	inChunks(n, chunk, func(lo, hi int) {
		at := counts[lo/chunk*keys:][:keys]
		for v := lo; v < hi; v++ {
			j.eachTile(v, func(key int) {
				j.stars[at[key]] = int32(v)
				at[key]++
			})
		}
	})
}

// slackPart is the slack as a share of the largest coordinate, normalPart as a share of the radius: well
// above what the rounding of points and of kept normals moves a patch's border by, far below what matters.
const (
	slackPart  = 1e-10
	normalPart = 2e-7
)

func (j *job) eachTile(v int, f func(key int)) {
	sp := &j.spans[v]
	down := 1
	if sp.up {
		down = 0
	}
	for y := sp.y0; y <= sp.y1; y++ {
		for x := sp.x0; x <= sp.x1; x++ {
			f(2*(int(y)*j.tilesX+int(x)) + down)
		}
	}
}

// zone is where all that star v needs to draw lies: within half of (x, y), not above top. sure is 1 where
// all its facets face up, −1 where all face down, else 0.
func (j *job) zone(v int32) (x, y, half, top float64, sure int) {
	at, st := &j.verts[v], &j.surface.stars[v]
	x, y = at.X, at.Y
	radius, r := float64(st.radius), j.shape.rad
	half, top = radius+float64(r*(1+1e-6)), at.Z+radius
	if st.kind == loose {
		return
	}
	axis := j.turn.ToSide(geom.Vec3{X: float64(st.axis[0]), Y: float64(st.axis[1]), Z: float64(st.axis[2])})
	sin, chord := float64(st.sin), float64(st.chord)
	switch {
	case axis.Z > sin:
		sure = 1
	case axis.Z < -sin:
		sure = -1
		axis = axis.Mul(-1) // it can only be touched from within
	default:
		return
	}
	if j.shape.ball {
		// the ball touches with normals no farther than chord from the axis
		x += float64(r * axis.X)
		y += float64(r * axis.Y)
		half = min(half, radius+float64(r*(chord+1e-6)))
		lean := math.Sqrt(max(0, 1-float64(axis.Z*axis.Z)))
		top = at.Z + float64(radius*min(1, lean+sin)) - float64(r*(1-min(1, axis.Z+chord))) + float64(1e-6*r)
	}
	return
}

// reach works out the tiles that star v may draw on, and whether any of its facets may face up.
func (j *job) reach(v int32, extent *float64) span {
	s := j.surface
	if s.start[v] == s.start[v+1] {
		return span{x0: 1}
	}
	at := &j.verts[v]
	*extent = max(*extent, math.Abs(at.X), math.Abs(at.Y), math.Abs(at.Z))
	x, y, half, _, sure := j.zone(v)
	return j.span(x-half, x+half, y-half, y+half, sure >= 0 && s.stars[v].kind != loose)
}

func (j *job) span(x0, x1, y0, y1 float64, up bool) span {
	g := &j.grid
	i0, i1 := ceilIn(float64((x0-g.X0)*j.perX)-1e-3, 0, g.NX-1), floorIn(float64((x1-g.X0)*j.perX)+1e-3, 0, g.NX-1)
	j0, j1 := ceilIn(float64((y0-g.Y0)*j.perY)-1e-3, 0, g.NY-1), floorIn(float64((y1-g.Y0)*j.perY)+1e-3, 0, g.NY-1)
	if i0 > i1 || j0 > j1 {
		return span{x0: 1}
	}
	t := j.tileSize
	return span{int16(i0 / t), int16(i1 / t), int16(j0 / t), int16(j1 / t), up}
}

// ceilIn is the least integer ≥ x within [lo, hi], lo ≥ 0; hi+1 where there is none.
func ceilIn(x float64, lo, hi int) int {
	if !(x > float64(lo)) {
		return lo
	}
	if x > float64(hi) {
		return hi + 1
	}
	i := int(x)
	if float64(i) < x {
		i++
	}
	return i
}

// floorIn is the greatest integer ≤ x within [lo, hi], lo ≥ 0; lo−1 where there is none.
func floorIn(x float64, lo, hi int) int {
	if !(x < float64(hi)) {
		return hi
	}
	if x < float64(lo) {
		return lo - 1
	}
	return int(x)
}
