package stock

import (
	"math"

	"barwise/geom"
)

// blockCells is the number of cells whose least and greatest height a probe knows.
const blockCells = 32

// probe is one side's row of heights as a line of another side's column meets it: at height z of the
// column at x, the side's own coordinates are x·cos − z·sin and x·sin + z·cos.
type probe struct {
	row      []float32
	lo, hi   []float32 // least and greatest of each block; nil where not known
	x0, p    float64
	sin, cos float64
}

func newProbe(from, to *side) probe {
	t := geom.TurnDeg(to.deg - from.deg)
	return probe{x0: to.h.X0, p: to.h.DX, sin: t.Sin, cos: t.Cos}
}

// level reports whether the side looks along the column, so that one height decides it all.
func (q *probe) level() bool { return math.Abs(q.sin) < 1e-9 }

// across reports whether the side looks straight across the column.
func (q *probe) across() bool { return math.Abs(q.cos) < 1e-9 }

func (q *probe) cell(x, z float64) int {
	k := int(math.Floor((float64(x*q.cos)-float64(z*q.sin)-q.x0)/q.p + 0.5))
	return max(0, min(len(q.row)-1, k))
}

// edge is the z at which the column at x crosses x' of the side.
func (q *probe) edge(x, side float64) float64 { return (float64(x*q.cos) - side) / q.sin }

// blocks works out the blocks of the row, into the slices it has.
func (q *probe) blocks() {
	q.lo, q.hi = blocksOf(q.row, q.lo, q.hi)
}

func blocksOf(row, lo, hi []float32) (l, h []float32) {
	lo, hi = lo[:0], hi[:0]
	for a := 0; a < len(row); a += blockCells {
		b := row[a:min(a+blockCells, len(row))]
		mn, mx := b[0], b[0]
		for _, v := range b[1:] {
			if v < mn {
				mn = v
			}
			if v > mx {
				mx = v
			}
		}
		lo, hi = append(lo, mn), append(hi, mx)
	}
	return lo, hi
}

// down returns the greatest z' in [floor, z] that the side allows, −Inf for none.
func (q *probe) down(x, z, floor float64) float64 {
	k, dir := q.cell(x, z), 1
	if q.sin < 0 {
		dir = -1
	}
	base := float64(x * q.sin)
	for z >= floor {
		if q.hi != nil && q.blockStart(k, dir) {
			b := k / blockCells
			exit := q.blockExit(x, b, dir)
			if base+min(float64(z*q.cos), float64(max(exit, floor)*q.cos)) > float64(q.hi[b]) {
				if k = q.nextBlock(b, dir); k < 0 {
					return math.Inf(-1)
				}
				z = min(z, exit) // two sides' edges may coincide but for rounding: never up again
				continue
			}
		}
		exit := q.exit(x, k, dir)
		h := float64(q.row[k])
		if base+float64(z*q.cos) <= h {
			return z
		}
		if q.cos > 0 {
			if c := min(z, (h-base)/q.cos); c >= exit {
				if c < floor {
					return math.Inf(-1)
				}
				return c
			}
		}
		z = min(z, exit)
		k += dir
	}
	return math.Inf(-1)
}

// solid returns the least z' ≥ floor such that the side allows all of [z', z]; it allows z itself.
func (q *probe) solid(x, z, floor float64) float64 {
	k, dir := q.cell(x, z), 1
	if q.sin < 0 {
		dir = -1
	}
	base := float64(x * q.sin)
	for first := true; z > floor; first = false {
		if q.lo != nil && q.blockStart(k, dir) {
			b := k / blockCells
			exit := q.blockExit(x, b, dir)
			if base+max(float64(z*q.cos), float64(max(exit, floor)*q.cos)) <= float64(q.lo[b]) {
				if k = q.nextBlock(b, dir); k < 0 {
					return floor
				}
				z = min(z, exit)
				continue
			}
		}
		exit := q.exit(x, k, dir)
		h := float64(q.row[k])
		if !first && base+float64(z*q.cos) > h {
			return z
		}
		if q.cos < 0 {
			if c := (h - base) / q.cos; c > exit {
				return max(floor, min(z, c))
			}
		}
		z = min(z, exit)
		k += dir
	}
	return floor
}

// exit is the z at which the column leaves cell k going down; the outermost cells have no end.
func (q *probe) exit(x float64, k, dir int) float64 {
	if k+dir < 0 || k+dir >= len(q.row) {
		return math.Inf(-1)
	}
	return q.edge(x, q.x0+float64((float64(k)+0.5*float64(dir))*q.p))
}

func (q *probe) blockStart(k, dir int) bool {
	if dir > 0 {
		return k%blockCells == 0
	}
	return k%blockCells == blockCells-1 || k == len(q.row)-1
}

func (q *probe) blockExit(x float64, b, dir int) float64 {
	if dir > 0 {
		return q.exit(x, min((b+1)*blockCells, len(q.row))-1, dir)
	}
	return q.exit(x, b*blockCells, dir)
}

// nextBlock is the first cell of the block after b, −1 past the last.
func (q *probe) nextBlock(b, dir int) int {
	if dir > 0 {
		if k := (b + 1) * blockCells; k < len(q.row) {
			return k
		}
		return -1
	}
	return b*blockCells - 1
}

// topmost returns the top of what the probes leave of the column at x in [floor, z], −Inf for nothing.
func topmost(ps []probe, x, z, floor float64) float64 {
	for quiet, k := 0, 0; quiet < len(ps); k = (k + 1) % len(ps) {
		n := ps[k].down(x, z, floor)
		if n < floor {
			return math.Inf(-1)
		}
		quiet++
		if n != z {
			z, quiet = n, 1
		}
	}
	return z
}
