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
	w.even()
	return w
}

// spare is how many times the triangles may come to for a piece of surface to be cut evenly.
const spare = 1.6

// even cuts a piece of surface, out to its flats, as finely everywhere as anywhere where that costs little:
// facets of one size have smaller kinks than those between two sizes.
func (w *wants) even() {
	of := make([]int32, len(w.want))
	for i := range of {
		of[i] = -1
	}
	var stack, piece []int32
	for i := range of {
		if of[i] >= 0 {
			continue
		}
		of[i] = int32(i)
		stack, piece = append(stack[:0], int32(i)), piece[:0]
		most, sum := 0.0, 0.0
		for len(stack) > 0 {
			t := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			piece = append(piece, t)
			n := w.want[t]
			most, sum = max(most, n), sum+math.Ceil(n)*math.Ceil(n)
			for h := 3 * t; h < 3*t+3; h++ {
				if o := w.E.Mate[h]; o >= 0 && of[o/3] < 0 && !w.whole[w.of(h)] && !w.Crease[h] {
					of[o/3] = int32(i)
					stack = append(stack, o/3)
				}
			}
		}
		if most = math.Ceil(most); most*most*float64(len(piece)) <= spare*sum {
			for _, t := range piece {
				w.want[t] = most
			}
		}
	}
}

// pieces cuts the curves and returns how many triangles that makes.
func (w *wants) pieces() (total int64) {
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
		c.n = w.level(n)
	}
	for t := range w.want {
		total += w.shape(int32(t)).size()
	}
	return total
}

// level is n pieces in whole steps: where all of a piece of surface is cut alike, n itself.
func (w *wants) level(n float64) int32 {
	n *= w.scale
	if w.scale == 1 && n == math.Ceil(n) {
		return int32(min(n, float64(levels[len(levels)-1])))
	}
	return level(n)
}

func (w *wants) shape(t int32) shape {
	return shapeOf([3]int32{w.curves[w.of(3*t)].n, w.curves[w.of(3*t+1)].n, w.curves[w.of(3*t+2)].n})
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
	if w.kink == 0 || r.Short || r.After.KinkDeg <= w.p.KinkDeg {
		return false
	}
	for t, k := range w.left {
		if over := float64(k) / w.kink; over > 1 {
			n := 1.0
			for h := 3 * t; h < 3*t+3; h++ {
				n = max(n, float64(w.curves[w.of(int32(h))].n))
			}
			// the next level at the least, no more than half as many again
			w.want[t] = max(w.want[t], n*min(over, 1.5)+0.01)
		}
	}
	return true
}
