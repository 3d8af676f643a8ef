package corner

import (
	"context"
	"math"
	"slices"

	"barwise/geom"
	"barwise/geom/field"
	"barwise/plan/share"
)

const (
	// firm and faint are the turns of the path surface across a node, radians, from which a crease begins
	// and down to which it goes on.
	firm  = 18 * math.Pi / 180
	faint = 10 * math.Pi / 180
	// span is over how many nodes each way a turn is seen.
	span = 2
)

// ways are the four lines through a node along which its turn is looked at.
var ways = [4][2]int{{1, 0}, {1, 1}, {0, 1}, {-1, 1}}

// turn is by how much the path surface turns upward at node k along a way, radians; the distance between
// nodes is d mm. 0 at the border.
func turn(f *field.Field, k int, way [2]int) float64 {
	i, j := k%f.NX, k/f.NX
	a, b := span*way[0], span*way[1]
	if !f.Inside(i-a, j-b) || !f.Inside(i+a, j+b) {
		return 0
	}
	d := math.Hypot(float64(a), float64(b)) * f.DX
	z, at := float64(f.Z[k]), b*f.NX+a
	return math.Atan2(float64(f.Z[k+at])-z, d) + math.Atan2(float64(f.Z[k-at])-z, d)
}

// ridge marks the nodes of side v along which the path surface has a crease: where it turns up most, along
// the way of the greatest turn, and what hangs together with a firm one.
func (l *Left) ridge(ctx context.Context, v *share.View, r *Region) ([]bool, error) {
	f := v.Field
	most := make([]float32, f.Len())
	best := make([]int8, f.Len())
	err := field.EachRow(ctx, f.NY, func(j int) {
		for k := j * f.NX; k < (j+1)*f.NX; k++ {
			if !r.Mask[k] {
				continue
			}
			for w := range ways {
				if t := float32(turn(f, k, ways[w])); t > most[k] {
					most[k], best[k] = t, int8(w)
				}
			}
		}
	})
	if err != nil {
		return nil, err
	}
	thin := make([]bool, f.Len())
	var stack []int
	kept := make([]bool, f.Len())
	for k, t := range most {
		if t < faint || !l.about(v, r, k) {
			continue
		}
		w := ways[best[k]]
		at := w[1]*f.NX + w[0]
		if k-at < 0 || k+at >= len(most) {
			continue
		}
		// along the way itself: a neighbour's own greatest may lie along another
		if float32(turn(f, k-at, w)) >= t || float32(turn(f, k+at, w)) > t {
			continue
		}
		thin[k] = true
		if t >= firm {
			kept[k] = true
			stack = append(stack, k)
		}
	}
	for len(stack) > 0 {
		k := stack[len(stack)-1]
		stack = stack[:len(stack)-1]
		i, j := k%f.NX, k/f.NX
		for _, o := range share.Around {
			if f.Inside(i+o[0], j+o[1]) {
				if at := (j+o[1])*f.NX + i + o[0]; thin[at] && !kept[at] {
					kept[at] = true
					stack = append(stack, at)
				}
			}
		}
	}
	return kept, nil
}

// about reports whether something is left at a node or beside it.
func (l *Left) about(v *share.View, r *Region, k int) bool {
	f := v.Field
	i, j := k%f.NX, k/f.NX
	for b := max(j-1, 0); b <= min(j+1, f.NY-1); b++ {
		for a := max(i-1, 0); a <= min(i+1, f.NX-1); a++ {
			if r.Depth[b*f.NX+a] > 0 {
				return true
			}
		}
	}
	return false
}

// skeleton thins a set of nodes to lines one node wide that hang together as before: border nodes are taken
// off, from two sides in turn, where their neighbours stay joined without them.
func skeleton(f *field.Field, m []bool) {
	at := func(i, j int) bool { return f.Inside(i, j) && m[j*f.NX+i] }
	ring := [8][2]int{{0, -1}, {1, -1}, {1, 0}, {1, 1}, {0, 1}, {-1, 1}, {-1, 0}, {-1, -1}}
	for changed := true; changed; {
		changed = false
		for half := range 2 {
			var drop []int
			for k, on := range m {
				if !on {
					continue
				}
				i, j := k%f.NX, k/f.NX
				var p [8]bool
				n, steps := 0, 0
				for q, o := range ring {
					p[q] = at(i+o[0], j+o[1])
				}
				for q := range p {
					if p[q] {
						n++
					}
					if !p[q] && p[(q+1)%8] {
						steps++
					}
				}
				if n < 2 || n > 6 || steps != 1 {
					continue
				}
				a, b := p[0] && p[2] && p[4], p[2] && p[4] && p[6]
				if half == 1 {
					a, b = p[0] && p[2] && p[6], p[0] && p[4] && p[6]
				}
				if !a && !b {
					drop = append(drop, k)
				}
			}
			for _, k := range drop {
				m[k], changed = false, true
			}
		}
	}
}

// chain is a crease from end to end, or once round.
type chain struct {
	nodes  []int
	closed bool
}

// chains walks a skeleton: from ends and forks first, then round what is left. At a fork every branch is
// walked by itself, the fork's node included.
func chains(f *field.Field, m []bool) []chain {
	around := func(k int) []int {
		var out []int
		i, j := k%f.NX, k/f.NX
		for _, o := range [8][2]int{{0, -1}, {-1, 0}, {1, 0}, {0, 1}, {-1, -1}, {1, -1}, {-1, 1}, {1, 1}} {
			a, b := i+o[0], j+o[1]
			if !f.Inside(a, b) || !m[b*f.NX+a] {
				continue
			}
			// a diagonal step counts only where no straight one leads there
			if o[0] != 0 && o[1] != 0 && (m[j*f.NX+a] || m[b*f.NX+i]) {
				continue
			}
			out = append(out, b*f.NX+a)
		}
		return out
	}
	used := map[[2]int]bool{}
	var out []chain
	walk := func(from, to int) chain {
		c := chain{nodes: []int{from}}
		for {
			used[[2]int{from, to}], used[[2]int{to, from}] = true, true
			c.nodes = append(c.nodes, to)
			if to == c.nodes[0] {
				c.nodes, c.closed = c.nodes[:len(c.nodes)-1], true
				return c
			}
			next := around(to)
			if len(next) != 2 {
				return c
			}
			n := next[0]
			if n == from {
				n = next[1]
			}
			if used[[2]int{to, n}] {
				return c
			}
			from, to = to, n
		}
	}
	for pass := range 2 {
		for k, on := range m {
			if !on {
				continue
			}
			next := around(k)
			if pass == 0 && len(next) == 2 {
				continue
			}
			for _, n := range next {
				if !used[[2]int{k, n}] {
					out = append(out, walk(k, n))
				}
			}
		}
	}
	return out
}

// ray is a point of a crease with the directions in plan along it and, to the left, across it.
type ray struct {
	at            geom.Vec2
	found         geom.Vec2 // where the crease was found, before it was calmed
	along, across geom.Vec2
	crisp         bool // the flanks meet at more than a faint angle
	sharp         bool // in a line, not in a hollow
}

// tangents are how many nodes each way a crease's direction is taken from.
const tangents = 4

// rays finds the crease exactly: at every node of a chain the place across it where the touched place
// passes from one flank to the other.
func (l *Left) rays(ctx context.Context, v *share.View, reg *Region, c chain) []ray {
	f, n := v.Field, len(c.nodes)
	pt := func(k int) geom.Vec2 {
		if c.closed {
			k = (k%n + n) % n
		}
		k = c.nodes[min(max(k, 0), n-1)]
		return geom.Vec2{X: f.X(k % f.NX), Y: f.Y(k / f.NX)}
	}
	out := make([]ray, 0, n)
	sc := l.scout(v)
	for k := range n {
		if ctx.Err() != nil {
			return nil
		}
		var mean geom.Vec2
		for q := -2; q <= 2; q++ {
			mean = mean.Add(pt(k + q))
		}
		t := pt(k + tangents).Sub(pt(k - tangents))
		if t.Len() == 0 {
			continue
		}
		t = t.Mul(1 / t.Len())
		r := ray{at: mean.Mul(0.2), along: t, across: geom.Vec2{X: -t.Y, Y: t.X}}
		if sc.snap(&r) {
			out = append(out, r)
		}
	}
	if !c.closed && len(out) > 1 {
		out = sc.extend(reg, out)
	}
	return out
}

// farEnds is how many nodes a chain is lengthened at each end, where the crease goes on.
const farEnds = 8

// extend lengthens a crease at both ends, along its direction there, for as long as something is left.
func (s *scout) extend(r *Region, rays []ray) []ray {
	p, v := s.set.Pitch, s.v
	grow := func(from ray, sign float64) []ray {
		var more []ray
		for range farEnds {
			next := from
			next.at = from.at.Add(from.along.Mul(sign * p))
			i, j := v.Field.Nearest(next.at)
			if !v.Field.Inside(i, j) || !s.about(v, r, j*v.Field.NX+i) || !s.snap(&next) || next.at.Sub(from.at).Len() > 2*p {
				break
			}
			more = append(more, next)
			from = next
		}
		return more
	}
	before, after := grow(rays[0], -1), grow(rays[len(rays)-1], 1)
	slices.Reverse(before)
	return append(append(before, rays...), after...)
}

// snap moves a ray's point across the crease to it; false where there is none.
func (s *scout) snap(r *ray) bool {
	w := 2.5 * s.set.Pitch
	u := r.across
	z := func(t float64) float64 {
		return s.small.Height(r.at.X+float64(t*u.X), r.at.Y+float64(t*u.Y))
	}
	lo, hi := z(-w), z(w)
	if math.IsInf(lo, 0) || math.IsInf(hi, 0) {
		return false
	}
	if lo > hi {
		u, lo, hi = u.Mul(-1), hi, lo
	}
	// the angle of the surface along u where the cutter stands at t
	angle := func(t float64) (float64, float64) {
		z, _, n, ok := s.small.Contact(r.at.X+float64(t*u.X), r.at.Y+float64(t*u.Y))
		if !ok {
			return math.Inf(-1), 0
		}
		return z, math.Atan2(-n.X*u.X-float64(n.Y*u.Y), n.Z)
	}
	_, left := angle(-w)
	if math.IsInf(left, 0) {
		return false
	}
	right := math.Pi / 2
	wall := func(t, z float64) bool { return z-lo > float64(steep*(t+w))+float64(math.Tan(min(left, 1.4))*(t+w)) }
	if zr, a := angle(w); !wall(w, zr) {
		right = a
	}
	if right-left < faint {
		return false
	}
	mid := (left + right) / 2
	a, b := -w, w
	for b-a > 1e-4 {
		t := (a + b) / 2
		if z, g := angle(t); wall(t, z) || g > mid {
			b = t
		} else {
			a = t
		}
	}
	if a == -w || b == w {
		return false
	}
	_, before := angle(a - float64(s.set.Pitch/2))
	zb, after := angle(b + float64(s.set.Pitch/2))
	r.sharp = wall(b+float64(s.set.Pitch/2), zb) || after-before > 0.7*(right-left)
	r.at = r.at.Add(u.Mul(a))
	r.crisp = right-left >= firm
	return true
}

// steep is the rise over run over a few nodes from which a flank counts as a wall.
const steep = 3
