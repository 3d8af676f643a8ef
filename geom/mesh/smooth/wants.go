package smooth

import (
	"context"
	"math"
	"sync/atomic"
)

// wants is how finely each triangle is to be cut.
type wants struct {
	*surface
	ctx   context.Context
	p     Params
	kink  float64   // radians; 0: none asked
	want  []float64 // per triangle: pieces a side
	n     []int32   // per triangle: pieces a side as they are
	slim  []uint8   // per triangle: bit k where its altitude over edge k is low
	whole []bool    // per curve: nothing curves along it
	least []float64 // per curve: pieces that a crease needs for itself
	chain []int32   // pieces there may be, falling
	scale float64   // below 1 where Most is in the way
	left  []float32 // per triangle: the greatest kink in and around it as last made, radians
}

func (s *surface) wants(ctx context.Context, p Params) *wants {
	w := &wants{surface: s, ctx: ctx, p: p, kink: p.KinkDeg * math.Pi / 180, scale: 1,
		want: make([]float64, len(s.M.Triangles)), n: make([]int32, len(s.M.Triangles)), slim: make([]uint8, len(s.M.Triangles)), whole: make([]bool, len(s.curves)), least: make([]float64, len(s.curves)),
		left: make([]float32, len(s.M.Triangles))}
	for t := range w.want {
		e := float64(s.Chord[t])
		for h := 3 * t; h < 3*t+3; h++ {
			e = max(e, s.curves[s.of[h]].rise)
			w.left[t] = max(w.left[t], float32(math.Abs(float64(s.Kink[h]))))
		}
		n := math.Sqrt(e / p.Chord)
		if w.kink > 0 {
			n = max(n, float64(w.left[t])/w.kink)
		}
		w.want[t] = max(1, n)
		for h := int32(3 * t); h < int32(3*t+3); h++ {
			a, b := s.E.Ends(h)
			if s.altitude(h) < slender*s.M.Vertices[b].Sub(s.M.Vertices[a]).Len() {
				w.slim[t] |= 1 << (h % 3)
			}
		}
	}
	for i := range s.curves {
		c := &s.curves[i]
		w.least[i] = 1
		if s.Crease[c.h] {
			w.least[i] = max(1, math.Sqrt(c.rise/p.Chord))
		}
		w.whole[i] = s.straight(c.h, p.Chord, w.kink) && (s.E.Mate[c.h] < 0 || s.straight(s.E.Mate[c.h], p.Chord, w.kink))
	}
	return w
}

// chain lists the numbers of pieces there may be, each a divisor of the one before, down to 1. So the pieces
// of any two triangles fit together along their edge.
func chain(top int32) (c []int32) {
	for top > 1 {
		c = append(c, top)
		d := int32(2)
		for top%d != 0 {
			d++
		}
		top /= d
	}
	return append(c, 1)
}

// mostPieces of an edge.
const mostPieces = 4096

// choose takes the chain that makes the fewest triangles.
func (w *wants) choose() {
	var count [mostPieces + 1]int64 // triangles that want so many
	most := int32(1)
	see := func(x float64) int32 {
		n := int32(math.Ceil(min(x*w.scale, mostPieces)))
		most = max(most, n)
		return n
	}
	for _, x := range w.want {
		count[see(x)]++
	}
	for _, x := range w.least {
		see(x)
	}
	best := int64(math.MaxInt64)
	for top := most; top <= most+most/3; top++ {
		c := chain(top)
		total := int64(0)
		for n, k := range count[:most+1] {
			if k == 0 {
				continue
			}
			x := int64(upTo(c, float64(n)))
			total += k * x * x
		}
		if total < best {
			w.chain, best = c, total
		}
	}
}

// upTo is the least of the chain that is no less than x; the greatest where none is.
func upTo(c []int32, x float64) int32 {
	for i := len(c) - 1; i > 0; i-- {
		if float64(c[i]) >= x {
			return c[i]
		}
	}
	return c[0]
}

// pieces cuts the curves and returns how many triangles that makes.
func (w *wants) pieces() int64 {
	w.about()
	for pass := 0; pass < 8 && w.needles(); pass++ {
		w.along()
	}
	return w.count()
}

// about is pieces without a look at the needles.
func (w *wants) about() int64 {
	w.choose()
	blocks(w.ctx, len(w.want), block, func(t int) { w.n[t] = upTo(w.chain, w.want[t]*w.scale) })
	w.along()
	return w.count()
}

// count is how many triangles are made.
func (w *wants) count() (total int64) {
	sums := make([]int64, (len(w.want)+block-1)/block)
	blocks(w.ctx, len(w.want), block, func(t int) { sums[t/block] += w.shape(int32(t)).size() })
	for _, n := range sums {
		total += n
	}
	return total
}

// along cuts the curves as finely as the triangles on both sides.
func (w *wants) along() {
	blocks(w.ctx, len(w.curves), block, func(i int) {
		c := &w.curves[i]
		c.n = 1
		if w.whole[i] {
			return
		}
		c.n = max(upTo(w.chain, w.least[i]*w.scale), w.n[c.h/3])
		if o := w.E.Mate[c.h]; o >= 0 {
			c.n = max(c.n, w.n[o/3])
		}
	})
}

// slender is the altitude over an edge, in parts of the edge, below which a triangle is cut as finely as the
// edge: a finer edge makes facets there that are slimmer still, and lean.
const slender = 0.4

// needles cuts slender triangles as finely as their long edges, and reports whether it changed any.
func (w *wants) needles() bool {
	var changed atomic.Bool
	blocks(w.ctx, len(w.n), block, func(t int) {
		for h := int32(3 * t); h < int32(3*t+3); h++ {
			c := &w.curves[w.of(h)]
			if c.n <= w.n[t] || w.slim[t]&(1<<(h%3)) == 0 || w.shape(int32(t)).n == 0 {
				continue
			}
			w.n[t] = c.n
			changed.Store(true)
		}
	})
	return changed.Load()
}

func (w *wants) shape(t int32) shape {
	return shapeOf(w.n[t], [3]int32{w.curves[w.of(3*t)].n, w.curves[w.of(3*t+1)].n, w.curves[w.of(3*t+2)].n})
}

func (w *wants) of(h int32) int32 { return w.surface.of[h] }

// fit makes the cutting coarser until it is within Most, and reports whether it had to.
func (w *wants) fit() (short bool) {
	w.scale = 1
	if w.pieces() <= int64(w.p.Most) {
		return false
	}
	if len(w.want) >= w.p.Most || w.ctx.Err() != nil {
		w.scale = 0
		w.about()
		return true
	}
	lo, hi := 0.0, 1.0 // at scale 0 nothing is cut
	for range 14 {
		w.scale = (lo + hi) / 2
		if w.about() <= int64(w.p.Most) {
			lo = w.scale
		} else {
			hi = w.scale
		}
	}
	for w.scale = lo; w.pieces() > int64(w.p.Most) && w.ctx.Err() == nil; {
		w.scale *= 0.97 // the needles have made it more
	}
	return true
}

// finer asks for more where the kinks of r are too large, and reports whether there are such.
func (w *wants) finer(r *Result) bool {
	if w.kink == 0 || r.After.KinkDeg <= w.p.KinkDeg {
		return false
	}
	for t, k := range w.left {
		if over := float64(k) / w.kink; over > 1 {
			n := 1.0
			for h := 3 * t; h < 3*t+3; h++ {
				n = max(n, float64(w.curves[w.of(int32(h))].n))
			}
			// the next step at the least, no more than half as many again
			w.want[t] = max(w.want[t], float64(n*min(over, 1.5))+0.01)
		}
	}
	return true
}
