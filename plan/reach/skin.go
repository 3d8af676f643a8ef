package reach

import (
	"math"
	"sync/atomic"

	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/patch"
)

// skin tells whether some of a surface is near a point: a set of cells, each marked where the surface
// passes through it or one beside it. So all within a cell's edge is near, and nothing beyond two cells'
// diagonals.
type skin struct {
	lo         geom.Vec3
	size       float64
	nx, ny, nz int
	bits       []uint64
}

// mostCells bounds the memory of a skin: 2^28 bits are 32 MB.
const mostCells = 1 << 28

func newSkin(m *mesh.Mesh, size float64) *skin {
	b := m.Box()
	d := b.Size()
	for (d.X/size+5)*(d.Y/size+5)*(d.Z/size+5) > mostCells {
		size *= 1.3
	}
	margin := geom.Vec3{X: 2 * size, Y: 2 * size, Z: 2 * size}
	s := &skin{lo: b.Min.Sub(margin), size: size, nx: int(d.X/size) + 5, ny: int(d.Y/size) + 5, nz: int(d.Z/size) + 5}
	s.bits = make([]uint64, (s.nx*s.ny*s.nz+63)/64)
	const lot = 1024
	mesh.Parallel((len(m.Triangles)+lot-1)/lot, func(block int) {
		last := -1
		for i := block * lot; i < min(len(m.Triangles), (block+1)*lot); i++ {
			a, b, c := m.Corners(i)
			patch.Halve(a, b, c, size, func(a, b, c geom.Vec3) {
				if k, ok := s.cell(a.Add(b).Add(c).Mul(1.0 / 3)); ok && k != last {
					s.mark(k)
					last = k
				}
			})
		}
	})
	return s
}

// mark sets a cell and those beside it.
func (s *skin) mark(k int) {
	for dz := -1; dz <= 1; dz++ {
		for dy := -1; dy <= 1; dy++ {
			row := k + (dz*s.ny+dy)*s.nx
			for n := row - 1; n <= row+1; n++ {
				if bit := uint64(1) << (n & 63); atomic.LoadUint64(&s.bits[n>>6])&bit == 0 {
					atomic.OrUint64(&s.bits[n>>6], bit)
				}
			}
		}
	}
}

func (s *skin) cell(p geom.Vec3) (k int, ok bool) {
	f := func(v float64) int { return int(math.Floor(v / s.size)) }
	x, y, z := f(p.X-s.lo.X), f(p.Y-s.lo.Y), f(p.Z-s.lo.Z)
	if x < 1 || y < 1 || z < 1 || x >= s.nx-1 || y >= s.ny-1 || z >= s.nz-1 {
		return 0, false
	}
	return (z*s.ny+y)*s.nx + x, true
}

// near reports whether the surface passes near p.
func (s *skin) near(p geom.Vec3) bool {
	k, ok := s.cell(p)
	return ok && s.bits[k>>6]>>(k&63)&1 != 0
}
