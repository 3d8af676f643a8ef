package smooth

import (
	"math"
)

// wants is how finely each triangle is to be cut.
type wants struct {
	*surface
	p     Params
	kink  float64   // radians; 0: none asked
	want  []float64 // per triangle: pieces a side
	whole []bool    // per curve: nothing curves along it
	least []float64 // per curve: pieces that a crease needs for itself
	chain []int32   // pieces there may be, falling
	scale float64   // below 1 where Most is in the way
	left  []float32 // per triangle: the greatest kink in and around it as last made, radians
}

func (s *surface) wants(p Params) *wants {
	w := &wants{surface: s, p: p, kink: p.KinkDeg * math.Pi / 180, scale: 1,
		want: make([]float64, len(s.M.Triangles)), whole: make([]bool, len(s.curves)), least: make([]float64, len(s.curves)),
		left: make([]float32, len(s.M.Triangles))}
	for t := range w.want {
		n := math.Sqrt(float64(s.Chord[t]) / p.Chord)
		for h := 3 * t; h < 3*t+3; h++ {
			w.left[t] = max(w.left[t], float32(math.Abs(float64(s.Kink[h]))))
		}
		if w.kink > 0 {
			n = max(n, float64(w.left[t])/w.kink)
		}
		w.want[t] = max(1, n)
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
	count := map[int32]int64{} // triangles that want so many
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
		for n, k := range count {
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
func (w *wants) pieces() (total int64) {
	w.choose()
	for i := range w.curves {
		c := &w.curves[i]
		c.n = 1
		if w.whole[i] {
			continue
		}
		n := max(w.least[i], w.want[c.h/3])
		if o := w.E.Mate[c.h]; o >= 0 {
			n = max(n, w.want[o/3])
		}
		c.n = upTo(w.chain, n*w.scale)
	}
	for t := range w.want {
		total += w.shape(int32(t)).size()
	}
	return total
}

func (w *wants) shape(t int32) shape {
	return shapeOf(upTo(w.chain, w.want[t]*w.scale), [3]int32{w.curves[w.of(3*t)].n, w.curves[w.of(3*t+1)].n, w.curves[w.of(3*t+2)].n})
}

func (w *wants) of(h int32) int32 { return w.surface.of[h] }

// fit makes the cutting coarser until it is within Most, and reports whether it had to.
func (w *wants) fit() (short bool) {
	w.scale = 1
	if w.pieces() <= int64(w.p.Most) {
		return false
	}
	lo, hi := 0.0, 1.0 // at scale 0 nothing is cut
	for range 24 {
		w.scale = (lo + hi) / 2
		if w.pieces() <= int64(w.p.Most) {
			lo = w.scale
		} else {
			hi = w.scale
		}
	}
	w.scale = lo
	w.pieces()
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
			w.want[t] = max(w.want[t], n*min(over, 1.5)+0.01)
		}
	}
	return true
}
