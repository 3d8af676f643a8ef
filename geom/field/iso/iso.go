// Package iso follows lines of equal value through a field.
package iso

import (
	"math"

	"barwise/geom"
	"barwise/geom/field"
)

// Line is a polyline in plan, mm. A closed one does not repeat its first point. Greater values lie on its
// right.
type Line struct {
	Pts    []geom.Vec2
	Closed bool
}

type crossing struct{ in, out int32 }

// Tracer joins the crossings of the cells of one grid into lines; it keeps its memory from call to call
// and is not safe for concurrent use. Edge 2k goes from node k to the next in its row, edge 2k+1 to the
// one above.
type Tracer struct {
	grid   field.Grid
	next   []int32
	headed []bool // an edge that some crossing comes out at
	segs   map[int][]crossing
	band   []int32
}

// NewTracer returns a tracer for fields on a grid.
func NewTracer(g field.Grid) *Tracer {
	t := &Tracer{grid: g, next: make([]int32, 2*g.Len()), headed: make([]bool, 2*g.Len()), band: make([]int32, g.Len())}
	for i := range t.next {
		t.next[i] = -1
	}
	return t
}

// outside is the band of a node whose cells are left out.
const outside = math.MinInt32

// Lines returns the lines where value, by node, is first, first + step, …, a slice for each; step 0 means
// first alone. It is marching squares (Lorensen and Cline, 1987, in the plane) with linear interpolation:
// on a field of second derivative k a line lies off by up to k·pitch²/(8·slope). Cells with a corner
// outside use are left out, and lines end there; use may be nil. A value on a line to the last bit counts
// as above it, so that neighbouring cells agree.
func (t *Tracer) Lines(value func(k int) float64, use func(k int) bool, first, step float64) [][]Line {
	nx, ny := t.grid.NX, t.grid.NY
	t.bands(value, use, first, step)
	t.segs = map[int][]crossing{}
	most := -1
	for j := range ny - 1 {
		low, high := t.band[j*nx:(j+1)*nx], t.band[(j+1)*nx:(j+2)*nx]
		for i := range nx - 1 {
			a, b, c, d := low[i], low[i+1], high[i+1], high[i]
			if a == b && b == c && c == d {
				continue
			}
			if a == outside || b == outside || c == outside || d == outside {
				continue
			}
			k := j*nx + i
			v := [4]float64{value(k), value(k + 1), value(k + 1 + nx), value(k + nx)}
			bands := [4]int32{a, b, c, d}
			for n := min(a, b, c, d); n < max(a, b, c, d); n++ {
				t.cell(int(n), k, v, bands, first+float64(float64(n)*step))
			}
			most = max(most, int(max(a, b, c, d))-1)
		}
	}
	out := make([][]Line, most+1)
	for n := range out {
		out[n] = t.join(t.segs[n], value, first+float64(float64(n)*step))
	}
	return out
}

// bands tells between which lines every node lies: most cells have all corners in one.
func (t *Tracer) bands(value func(k int) float64, use func(k int) bool, first, step float64) {
	for k := range t.band {
		if use != nil && !use(k) {
			t.band[k] = outside
			continue
		}
		v := value(k)
		switch {
		case !(v >= first):
			t.band[k] = 0
		case step == 0:
			t.band[k] = 1
		default:
			t.band[k] = 1 + int32(min((v-first)/step, 1e6))
		}
	}
}

// cell files the crossings of one cell. Going round counter-clockwise, a run of high corners lies
// between the edge before its first corner and the edge after its last: from the one to the other the
// high side is on the right. High is told by the bands alone, so that neighbours agree to the last bit.
func (t *Tracer) cell(n, k int, v [4]float64, band [4]int32, iso float64) {
	e := [4]int32{int32(2 * k), int32(2*(k+1) + 1), int32(2 * (k + t.grid.NX)), int32(2*k + 1)}
	code := 0
	for i := range band {
		if int(band[i]) > n {
			code |= 1 << i
		}
	}
	add := func(in, out int) { t.segs[n] = append(t.segs[n], crossing{e[in], e[out]}) }
	if code == 5 || code == 10 {
		high := (v[0]+v[1]+v[2]+v[3])/4 >= iso
		switch {
		case code == 5 && !high:
			add(3, 0)
			add(1, 2)
		case code == 5:
			add(1, 0)
			add(3, 2)
		case !high:
			add(0, 1)
			add(2, 3)
		default:
			add(0, 3)
			add(2, 1)
		}
		return
	}
	first, last := -1, -1
	for i := range 4 {
		if code&(1<<i) == 0 {
			continue
		}
		if code&(1<<((i+3)%4)) == 0 {
			first = i
		}
		if code&(1<<((i+1)%4)) == 0 {
			last = i
		}
	}
	add((first+3)%4, last)
}

func (t *Tracer) join(segs []crossing, value func(k int) float64, iso float64) []Line {
	for _, s := range segs {
		t.next[s.in], t.headed[s.out] = s.out, true
	}
	var out []Line
	// lines that end at the edge of what is used begin where nothing leads in
	for pass := range 2 {
		for _, s := range segs {
			if t.next[s.in] < 0 || pass == 0 && t.headed[s.in] {
				continue
			}
			l := Line{Closed: pass == 1}
			e := s.in
			for e >= 0 {
				l.add(t.point(e, value, iso))
				e, t.next[e] = t.next[e], -1
				if e == s.in {
					break
				}
			}
			if n := len(l.Pts); l.Closed && n > 1 && l.Pts[0] == l.Pts[n-1] {
				l.Pts = l.Pts[:n-1]
			}
			if len(l.Pts) > 1 {
				out = append(out, l)
			}
		}
	}
	for _, s := range segs {
		t.next[s.in], t.headed[s.out] = -1, false
	}
	return out
}

func (l *Line) add(p geom.Vec2) {
	if n := len(l.Pts); n == 0 || l.Pts[n-1] != p {
		l.Pts = append(l.Pts, p)
	}
}

func (t *Tracer) point(e int32, value func(k int) float64, iso float64) geom.Vec2 {
	k, g := int(e/2), t.grid
	i, j := k%g.NX, k/g.NX
	p := geom.Vec2{X: g.X(i), Y: g.Y(j)}
	if e%2 == 0 {
		p.X += float64(g.DX * fraction(value(k), value(k+1), iso))
	} else {
		p.Y += float64(g.DY * fraction(value(k), value(k+g.NX), iso))
	}
	return p
}

func fraction(a, b, iso float64) float64 {
	if math.IsInf(a, 0) || math.IsInf(b, 0) || a == b {
		return 0.5
	}
	return max(0, min(1, (iso-a)/(b-a)))
}

// Length is the length of a line, mm.
func (l Line) Length() float64 {
	sum := 0.0
	for i := 1; i < len(l.Pts); i++ {
		sum += l.Pts[i].Sub(l.Pts[i-1]).Len()
	}
	if n := len(l.Pts); l.Closed && n > 0 {
		sum += l.Pts[0].Sub(l.Pts[n-1]).Len()
	}
	return sum
}

// From returns a closed line begun at its point i.
func (l Line) From(i int) Line {
	return Line{append(append(make([]geom.Vec2, 0, len(l.Pts)), l.Pts[i:]...), l.Pts[:i]...), l.Closed}
}

// Reversed returns a line run the other way; greater values are then on its left.
func (l Line) Reversed() Line {
	out := Line{make([]geom.Vec2, len(l.Pts)), l.Closed}
	for i, p := range l.Pts {
		out.Pts[len(l.Pts)-1-i] = p
	}
	return out
}

// Simplify drops points that lie within tol mm of the chord that replaces them (Douglas and Peucker,
// 1973). A closed line keeps its first point and the one farthest from it.
func (l Line) Simplify(tol float64) Line {
	pts := l.Pts
	if l.Closed {
		pts = append(append(make([]geom.Vec2, 0, len(pts)+1), pts...), pts[0])
	}
	n := len(pts)
	if n < 3 {
		return l
	}
	keep := make([]bool, n)
	keep[0], keep[n-1] = true, true
	type span struct{ a, b int }
	stack := []span{{0, n - 1}}
	for len(stack) > 0 {
		s := stack[len(stack)-1]
		stack = stack[:len(stack)-1]
		far, at := tol, -1
		if pts[s.a] == pts[s.b] {
			far = 0 // a loop: split it where it is farthest
		}
		for i := s.a + 1; i < s.b; i++ {
			if d := OffSegment(pts[i], pts[s.a], pts[s.b]); d > far {
				far, at = d, i
			}
		}
		if at >= 0 {
			keep[at] = true
			stack = append(stack, span{s.a, at}, span{at, s.b})
		}
	}
	out := Line{Closed: l.Closed}
	for i, k := range keep {
		if k && !(l.Closed && i == n-1) {
			out.Pts = append(out.Pts, pts[i])
		}
	}
	return out
}

// OffSegment is the distance of p from the segment ab, mm.
func OffSegment(p, a, b geom.Vec2) float64 {
	d, q := b.Sub(a), p.Sub(a)
	l2 := d.Dot(d)
	if l2 == 0 {
		return q.Len()
	}
	t := max(0, min(1, q.Dot(d)/l2))
	return q.Sub(d.Mul(t)).Len()
}
