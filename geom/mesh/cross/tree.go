package cross

import (
	"context"
	"math"

	"barwise/geom"
	"barwise/geom/mesh"
)

// leafSize is how many triangles a leaf holds: about where testing boxes of triangles one by one costs
// as much as a level more of the tree.
const leafSize = 8

// box is float32, rounded outward: it may only find too much.
type box struct{ min, max [3]float32 }

func nothing() box {
	i := float32(math.Inf(1))
	return box{[3]float32{i, i, i}, [3]float32{-i, -i, -i}}
}

func down(x float64) float32 {
	f := float32(x)
	if float64(f) > x {
		f = math.Nextafter32(f, float32(math.Inf(-1)))
	}
	return f
}

func up(x float64) float32 { return -down(-x) }

func (b *box) add(o *box) {
	for k := range 3 {
		b.min[k] = min(b.min[k], o.min[k])
		b.max[k] = max(b.max[k], o.max[k])
	}
}

func (b *box) meets(o *box) bool {
	return b.min[0] <= o.max[0] && o.min[0] <= b.max[0] && b.min[1] <= o.max[1] && o.min[1] <= b.max[1] &&
		b.min[2] <= o.max[2] && o.min[2] <= b.max[2]
}

// tree is a flat hierarchy of boxes over the triangles in the order of a space-filling curve (Morton):
// levels[0] holds the leaves, and node i of a level has the nodes 2i and 2i + 1 of the level before.
type tree struct {
	order  []int32 // triangles
	boxes  []box   // of the triangles, in that order
	levels [][]box
}

// newTree returns what is no tree where ctx has ended.
func newTree(ctx context.Context, m *mesh.Mesh, skip []bool) *tree {
	t := &tree{order: curve(ctx, m, skip)}
	if ctx.Err() != nil {
		return nil
	}
	t.boxes = make([]box, len(t.order))
	leaves := make([]box, (len(t.order)+leafSize-1)/leafSize)
	const block = 512
	mesh.Parallel((len(leaves)+block-1)/block, func(k int) {
		if ctx.Err() != nil {
			return
		}
		for i := k * block; i < min(len(leaves), (k+1)*block); i++ {
			leaves[i] = nothing()
			for j := i * leafSize; j < min(len(t.order), (i+1)*leafSize); j++ {
				t.boxes[j] = boxOf(m, t.order[j])
				leaves[i].add(&t.boxes[j])
			}
		}
	})
	t.levels = [][]box{leaves}
	for len(leaves) > 1 {
		next := make([]box, (len(leaves)+1)/2)
		for i := range next {
			next[i] = leaves[2*i]
			if 2*i+1 < len(leaves) {
				next[i].add(&leaves[2*i+1])
			}
		}
		t.levels = append(t.levels, next)
		leaves = next
	}
	return t
}

func boxOf(m *mesh.Mesh, i int32) box {
	a, b, c := m.Corners(int(i))
	return box{
		[3]float32{down(min(a.X, b.X, c.X)), down(min(a.Y, b.Y, c.Y)), down(min(a.Z, b.Z, c.Z))},
		[3]float32{up(max(a.X, b.X, c.X)), up(max(a.Y, b.Y, c.Y)), up(max(a.Z, b.Z, c.Z))},
	}
}

// curve sorts the triangles that are not skipped along a Morton curve of 2¹⁰ cells a side.
func curve(ctx context.Context, m *mesh.Mesh, skip []bool) []int32 {
	b := m.Box()
	size := b.Size()
	scale := 1023 / max(size.X, size.Y, size.Z, math.SmallestNonzeroFloat64)
	if math.IsInf(scale, 0) {
		scale = 0
	}
	keys := make([]uint64, len(m.Triangles))
	const block = 1 << 13
	mesh.Parallel((len(keys)+block-1)/block, func(k int) {
		if ctx.Err() != nil {
			return
		}
		for i := k * block; i < min(len(keys), (k+1)*block); i++ {
			p, q, r := m.Corners(i)
			c := geom.Vec3{X: (p.X + q.X + r.X) / 3, Y: (p.Y + q.Y + r.Y) / 3, Z: (p.Z + q.Z + r.Z) / 3}.Sub(b.Min).Mul(scale)
			keys[i] = uint64(spread(c.X)|spread(c.Y)<<1|spread(c.Z)<<2)<<32 | uint64(i)
		}
	})
	kept := keys[:0]
	for i, k := range keys {
		if !skip[i] {
			kept = append(kept, k)
		}
	}
	kept = radix(ctx, kept)
	order := make([]int32, len(kept))
	for i, k := range kept {
		order[i] = int32(uint32(k))
	}
	return order
}

// spread puts the ten bits of a cell number three places apart.
func spread(x float64) uint32 {
	v := uint32(min(max(x, 0), 1023))
	v = (v | v<<16) & 0x030000ff
	v = (v | v<<8) & 0x0300f00f
	v = (v | v<<4) & 0x030c30c3
	return (v | v<<2) & 0x09249249
}

// radix sorts by the high halves; equal ones keep their order.
func radix(ctx context.Context, keys []uint64) []uint64 {
	other := make([]uint64, len(keys))
	for shift := 32; shift < 62 && ctx.Err() == nil; shift += 10 {
		var start [1025]int
		for _, k := range keys {
			start[k>>shift&1023+1]++
		}
		for i := range 1024 {
			start[i+1] += start[i]
		}
		for _, k := range keys {
			d := k >> shift & 1023
			other[start[d]] = k
			start[d]++
		}
		keys, other = other, keys
	}
	return keys
}

// each calls f for every leaf from first on whose box meets b.
func (t *tree) each(b *box, first int, f func(leaf int)) {
	type node struct{ level, i int }
	var stack [64]node
	n := 1
	stack[0] = node{len(t.levels) - 1, 0}
	for n > 0 {
		n--
		at := stack[n]
		// the last leaf below the node
		if (at.i+1)<<at.level <= first || !t.levels[at.level][at.i].meets(b) {
			continue
		}
		if at.level == 0 {
			f(at.i)
			continue
		}
		if 2*at.i+1 < len(t.levels[at.level-1]) {
			stack[n] = node{at.level - 1, 2*at.i + 1}
			n++
		}
		stack[n] = node{at.level - 1, 2 * at.i}
		n++
	}
}
