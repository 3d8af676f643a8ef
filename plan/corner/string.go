package corner

import (
	"cmp"
	"math"
	"slices"

	"barwise/geom"
)

// bridge is how far apart, in pitches, the ends of two creases may be to be one, and sameWay the least
// cosine between their directions there.
const (
	bridge  = 10
	sameWay = 0.8
)

// strings joins what was found of creases end to end where they go on, straightest first, drops what is too
// short, and turns the rays evenly from one to the next. The longest comes first.
func (l *Left) strings(found [][]ray, cs []chain) []*ribbon {
	var parts []*ribbon
	for k, rays := range found {
		if len(rays) > 1 {
			closed := cs[k].closed && len(rays) == len(cs[k].nodes)
			parts = append(parts, &ribbon{rays: smooth(rays, closed), closed: closed})
		}
	}
	parts = l.splice(parts)
	gap := spacing(l.set.Cutter, l.params.Cusp)
	var out []*ribbon
	for _, b := range parts {
		crisp := false
		for _, q := range b.rays {
			crisp = crisp || q.crisp
		}
		if crisp && length(b.rays) >= max(longEnough*gap, 8*l.set.Pitch) {
			b.rays = smooth(b.rays, b.closed)
			l.calm(b.rays, b.closed)
			b.rays = fan(smooth(b.rays, b.closed), b.closed)
			out = append(out, b)
		}
	}
	slices.SortStableFunc(out, func(a, b *ribbon) int { return cmp.Compare(length(b.rays), length(a.rays)) })
	return out
}

// tail is an end of an open part: where it is, and which way the crease would go on.
type tail struct {
	part int
	last bool
	at   geom.Vec2
	on   geom.Vec2
}

// seam is two tails that go on in each other; the greater fit comes first.
type seam struct {
	a, b int
	fit  float64
}

// splice joins ends that go on in each other, the best fitting first, each once and never to a ring.
func (l *Left) splice(parts []*ribbon) []*ribbon {
	most := bridge * l.set.Pitch
	var tails []tail
	cells := map[[2]int32][]int{}
	cell := func(p geom.Vec2) [2]int32 {
		return [2]int32{int32(math.Floor(p.X / most)), int32(math.Floor(p.Y / most))}
	}
	for k, b := range parts {
		if b.closed {
			continue
		}
		first, last := b.rays[0], b.rays[len(b.rays)-1]
		tails = append(tails, tail{k, false, first.at, first.along.Mul(-1)}, tail{k, true, last.at, last.along})
	}
	for k, t := range tails {
		cells[cell(t.at)] = append(cells[cell(t.at)], k)
	}
	var seams []seam
	for k, t := range tails {
		c := cell(t.at)
		for d := range 9 {
			for _, q := range cells[[2]int32{c[0] + int32(d%3) - 1, c[1] + int32(d/3) - 1}] {
				if q > k && tails[q].part != t.part {
					if f := fit(t, tails[q], most); f > 0 {
						seams = append(seams, seam{k, q, f})
					}
				}
			}
		}
	}
	slices.SortFunc(seams, func(p, q seam) int {
		return cmp.Or(cmp.Compare(q.fit, p.fit), cmp.Compare(p.a, q.a), cmp.Compare(p.b, q.b))
	})
	mate := make([]int, len(tails))
	for k := range mate {
		mate[k] = -1
	}
	group := make([]int, len(parts))
	for k := range group {
		group[k] = k
	}
	root := func(k int) int {
		for group[k] != k {
			k = group[k]
		}
		return k
	}
	for _, s := range seams {
		i, j := root(tails[s.a].part), root(tails[s.b].part)
		if mate[s.a] < 0 && mate[s.b] < 0 && i != j {
			mate[s.a], mate[s.b] = s.b, s.a
			group[i] = j
		}
	}
	return thread(parts, tails, mate)
}

// thread puts joined parts together, from an end of each string; tails of part k stand side by side.
func thread(parts []*ribbon, tails []tail, mate []int) []*ribbon {
	var out []*ribbon
	for _, b := range parts {
		if b.closed {
			out = append(out, b)
		}
	}
	done := make([]bool, len(tails))
	for k := range tails {
		if mate[k] >= 0 || done[k] {
			continue
		}
		b := &ribbon{}
		for at := k; at >= 0; {
			p := *parts[tails[at].part]
			p.rays = slices.Clone(p.rays)
			if tails[at].last {
				turnRound(&p)
			}
			b.rays = append(b.rays, p.rays...)
			done[at], done[at^1] = true, true
			at = mate[at^1]
		}
		out = append(out, b)
	}
	return out
}

// fit says how well a tail goes on in another, 0 for not at all.
func fit(a, b tail, most float64) float64 {
	d := b.at.Sub(a.at)
	gap, turn := d.Len(), -a.on.Dot(b.on)
	if gap > most || turn < sameWay || gap > most/4 && d.Dot(a.on) < sameWay*gap {
		return 0
	}
	return turn * (2 - gap/most)
}

func turnRound(b *ribbon) {
	slices.Reverse(b.rays)
	for k := range b.rays {
		b.rays[k].along, b.rays[k].across = b.rays[k].along.Mul(-1), b.rays[k].across.Mul(-1)
	}
}

// smooth drops rays that go back and takes directions from the exact points about each.
func smooth(rays []ray, closed bool) []ray {
	out := rays[:1:1]
	for _, r := range rays[1:] {
		last := &out[len(out)-1]
		if d := r.at.Sub(last.at); d.Dot(last.along) > 0.3*d.Len() && d.Len() > 1e-3 {
			out = append(out, r)
		}
	}
	n := len(out)
	at := func(k int) geom.Vec2 {
		if closed {
			return out[(k%n+n)%n].at
		}
		return out[min(max(k, 0), n-1)].at
	}
	for k := range out {
		var t geom.Vec2
		for q := 1; q <= 2*tangents; q++ {
			if d := at(k + q).Sub(at(k - q)); d.Len() > 0 {
				t = t.Add(d.Mul(1 / d.Len()))
			}
		}
		if t.Len() > 0 {
			t = t.Mul(1 / t.Len())
			out[k].along, out[k].across = t, geom.Vec2{X: -t.Y, Y: t.X}
		}
	}
	return out
}

// aroundSharp and aroundHollow are how far a lane in a crease may pass beside it, in tolerances: there that
// much is left at most, in a hollow it leaves next to nothing.
const (
	aroundSharp  = 0.75
	aroundHollow = 5
)

// calm takes the tremble out of a crease, within that of where it was found: it is the mesh's.
func (l *Left) calm(rays []ray, closed bool) {
	n := len(rays)
	pts, tube := make([]geom.Vec2, n), make([]float64, n)
	for k, r := range rays {
		pts[k], tube[k] = r.at, aroundHollow*l.params.Tolerance
		if r.sharp {
			tube[k] = aroundSharp * l.params.Tolerance
		}
	}
	taut(pts, closed, 250, func(k int) float64 { return tube[k] })
	for k := range rays {
		rays[k].found, rays[k].at = rays[k].at, pts[k]
	}
}

// taut takes the tremble out of a line and leaves its bends: steps toward the middle of the neighbours
// and, a little longer, back again, which keep what is longer than about twenty points (Taubin's low pass).
// No point goes farther than tube(k) from where it was; 0 holds it.
func taut(pts []geom.Vec2, closed bool, rounds int, tube func(k int) float64) {
	n := len(pts)
	if n < 3 {
		return
	}
	from, cur, next := append([]geom.Vec2(nil), pts...), append([]geom.Vec2(nil), pts...), make([]geom.Vec2, n)
	for r := range 2 * rounds {
		step := 0.5
		if r%2 == 1 {
			step = -0.51
		}
		for k := range n {
			next[k] = cur[k]
			t := tube(k)
			if t == 0 || !closed && (k == 0 || k == n-1) {
				continue
			}
			mid := cur[(k+n-1)%n].Add(cur[(k+1)%n]).Mul(0.5)
			p := cur[k].Add(mid.Sub(cur[k]).Mul(step))
			if d := p.Sub(from[k]); d.Len() > t {
				p = from[k].Add(d.Mul(t / d.Len()))
			}
			next[k] = p
		}
		cur, next = next, cur
	}
	copy(pts, cur)
}

// widest is the greatest angle between neighbouring rays, radians.
const widest = 6 * math.Pi / 180

// fan puts rays between those that stand more than widest apart, so that the outside of a bend is
// covered.
func fan(rays []ray, closed bool) []ray {
	var out []ray
	for k, r := range rays {
		out = append(out, r)
		if k+1 == len(rays) && !closed {
			break
		}
		next := rays[(k+1)%len(rays)]
		turn := math.Atan2(r.along.Cross(next.along), r.along.Dot(next.along))
		n := int(math.Abs(turn) / widest)
		for q := 1; q <= n; q++ {
			t := float64(q) / float64(n+1)
			s, c := math.Sincos(turn * t)
			m := ray{at: r.at.Add(next.at.Sub(r.at).Mul(t)), found: r.found.Add(next.found.Sub(r.found).Mul(t)), crisp: r.crisp}
			m.along = geom.Vec2{X: float64(r.along.X*c) - float64(r.along.Y*s), Y: float64(r.along.X*s) + float64(r.along.Y*c)}
			m.across = geom.Vec2{X: -m.along.Y, Y: m.along.X}
			out = append(out, m)
		}
	}
	return out
}

// once takes stops away that an earlier ribbon has, to half a spacing.
func (l *Left) once(lines []*ribbon) {
	gap := spacing(l.set.Cutter, l.params.Cusp)
	size := gap / 2
	taken := map[[3]int32]bool{}
	key := func(p geom.Vec3) [3]int32 {
		return [3]int32{int32(math.Floor(p.X / size)), int32(math.Floor(p.Y / size)), int32(math.Floor(p.Z / size))}
	}
	for _, b := range lines {
		var mine []geom.Vec3
		visit := func(s *stop) {
			if !s.ok {
				return
			}
			if taken[key(s.tip)] {
				s.ok = false
				return
			}
			mine = append(mine, s.tip)
		}
		for k := range b.rays {
			visit(&b.middle[k])
			for side := range 2 {
				for j := range b.lanes[k][side] {
					visit(&b.lanes[k][side][j])
				}
			}
		}
		for _, p := range mine {
			for d := range 27 {
				q := p.Add(geom.Vec3{X: float64(d%3-1) * size, Y: float64(d/3%3-1) * size, Z: float64(d/9-1) * size})
				taken[key(q)] = true
			}
		}
	}
}
