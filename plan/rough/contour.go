package rough

import (
	"math"

	"barwise/geom"
	"barwise/geom/field"
)

// line is a polyline on a level. A closed one does not repeat its first point.
type line struct {
	pts    []geom.Vec2
	closed bool
	back   bool // runs against the sense asked for
}

type crossing struct{ in, out int32 }

// tracer joins the crossings of cells into lines. Edge 2k goes from node k to the next in its row,
// edge 2k+1 to the one above.
type tracer struct {
	grid   field.Grid
	next   []int32
	headed []bool // an edge that some crossing comes out at
	segs   map[int][]crossing
	band   []int32
}

func newTracer(g field.Grid) *tracer {
	t := &tracer{grid: g, next: make([]int32, 2*g.Len()), headed: make([]bool, 2*g.Len()), band: make([]int32, g.Len())}
	for i := range t.next {
		t.next[i] = -1
	}
	return t
}

// outside is the band of a node whose cells are left out.
const outside = math.MinInt32

// contours returns the lines where value is first, first + step, … with greater values on the right,
// by marching squares with linear interpolation; step 0 means first alone. Cells with a corner outside
// use are left out; use may be nil.
func (t *tracer) contours(value func(k int) float64, use func(k int) bool, first, step float64) [][]line {
	nx, ny := t.grid.NX, t.grid.NY
	// between which lines a node lies: most cells have all corners in one band
	for k := range t.band {
		v := value(k)
		switch {
		case use != nil && !use(k):
			t.band[k] = outside
		case !(v >= first):
			t.band[k] = 0
		case step == 0:
			t.band[k] = 1
		default:
			t.band[k] = 1 + int32(min((v-first)/step, 1e6))
		}
	}
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
	out := make([][]line, most+1)
	for n := range out {
		iso := first + float64(float64(n)*step)
		out[n] = t.join(t.segs[n], value, iso)
	}
	return out
}

// cell files the crossings of one cell. Going round counter-clockwise, a run of high corners lies
// between the edge before its first corner and the edge after its last: from the one to the other the
// high side is on the right. High is told by the bands alone, so that neighbours agree to the last bit.
func (t *tracer) cell(n, k int, v [4]float64, band [4]int32, iso float64) {
	e := [4]int32{int32(2 * k), int32(2*(k+1) + 1), int32(2 * (k + t.grid.NX)), int32(2*k + 1)}
	code := 0
	for i := range band {
		if int(band[i]) > n {
			code |= 1 << i
		}
	}
	add := func(in, out int) {
		t.segs[n] = append(t.segs[n], crossing{e[in], e[out]})
	}
	switch code {
	case 5, 10:
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
	default:
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
}

func (t *tracer) join(segs []crossing, value func(k int) float64, iso float64) []line {
	for _, s := range segs {
		t.next[s.in], t.headed[s.out] = s.out, true
	}
	var out []line
	// lines that end at the edge of what is used begin where nothing leads in
	for pass := range 2 {
		for _, s := range segs {
			if t.next[s.in] < 0 || pass == 0 && t.headed[s.in] {
				continue
			}
			l := line{closed: pass == 1}
			e := s.in
			for e >= 0 {
				l.add(t.point(e, value, iso))
				e, t.next[e] = t.next[e], -1
				if e == s.in {
					break
				}
			}
			if n := len(l.pts); l.closed && n > 1 && l.pts[0] == l.pts[n-1] {
				l.pts = l.pts[:n-1]
			}
			if len(l.pts) > 1 {
				out = append(out, l)
			}
		}
	}
	for _, s := range segs {
		t.next[s.in], t.headed[s.out] = -1, false
	}
	return out
}

func (l *line) add(p geom.Vec2) {
	if n := len(l.pts); n == 0 || l.pts[n-1] != p {
		l.pts = append(l.pts, p)
	}
}

func (t *tracer) point(e int32, value func(k int) float64, iso float64) geom.Vec2 {
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

func (l line) length() float64 {
	sum := 0.0
	for i := 1; i < len(l.pts); i++ {
		sum += gap(l.pts[i-1], l.pts[i])
	}
	if n := len(l.pts); l.closed && n > 0 {
		sum += gap(l.pts[n-1], l.pts[0])
	}
	return sum
}

// from returns a closed line begun at its point i.
func (l line) from(i int) line {
	return line{append(append(make([]geom.Vec2, 0, len(l.pts)), l.pts[i:]...), l.pts[:i]...), l.closed, l.back}
}

// simplify drops points that lie within tol of the chord that replaces them (Douglas and Peucker,
// 1973). A closed line keeps its first point and the one farthest from it.
func (l line) simplify(tol float64) line {
	pts := l.pts
	if l.closed {
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
			if d := offSegment(pts[i], pts[s.a], pts[s.b]); d > far {
				far, at = d, i
			}
		}
		if at >= 0 {
			keep[at] = true
			stack = append(stack, span{s.a, at}, span{at, s.b})
		}
	}
	out := line{closed: l.closed, back: l.back}
	for i, k := range keep {
		if k && !(l.closed && i == n-1) {
			out.pts = append(out.pts, pts[i])
		}
	}
	return out
}

// offSegment is the distance of p from the segment ab.
func offSegment(p, a, b geom.Vec2) float64 {
	d, q := b.Sub(a), p.Sub(a)
	l2 := d.Dot(d)
	if l2 == 0 {
		return q.Len()
	}
	t := max(0, min(1, q.Dot(d)/l2))
	return plus(q, d, -t).Len()
}

func reversed(l line) line {
	out := line{make([]geom.Vec2, len(l.pts)), l.closed, l.back}
	for i, p := range l.pts {
		out.pts[len(l.pts)-1-i] = p
	}
	return out
}
