package link

import (
	"math"
	"slices"

	"barwise/geom"
)

// neighbours is how many near units are tried for each, longest the most units turned or moved over in
// one exchange: they keep 20 000 passes under a second.
const (
	neighbours = 6
	longest    = 1000
)

// improve shortens the travel in place: a unit is moved next to a near one (Or-opt), and where turning
// round is allowed a whole stretch is run backward (2-opt). Every exchange shortens the travel, and
// the rounds are bounded.
func improve(us []unit, at geom.Vec2, p OrderParams) {
	if len(us) == 0 {
		return
	}
	im := improver{us: us, from: at, reverse: p.Reverse, pos: make([]int, len(us))}
	for i := range im.pos {
		im.pos[i] = -1
	}
	ids := 0
	for _, u := range us {
		ids = max(ids, u.id+1)
	}
	im.pos = make([]int, ids)
	im.renumber(0, len(us)-1)
	near := im.nearUnits()
	for round := 0; round < p.Effort; round++ {
		if !im.round(near) {
			return
		}
	}
}

type improver struct {
	us      []unit
	from    geom.Vec2
	pos     []int // place in us by id
	reverse bool
}

func (im *improver) renumber(lo, hi int) {
	for i := lo; i <= hi; i++ {
		im.pos[im.us[i].id] = i
	}
}

// before and after are the places travel comes from and goes to round place i; ok is false past the end.
func (im *improver) before(i int) geom.Vec2 {
	if i == 0 {
		return im.from
	}
	return im.us[i-1].b
}

// link is the travel from p to the unit at place i, nothing past the last.
func (im *improver) link(p geom.Vec2, i int) float64 {
	if i >= len(im.us) {
		return 0
	}
	return gap(p, im.us[i].a)
}

// nearUnits lists by id the ids of units whose ends are near.
func (im *improver) nearUnits() [][]int32 {
	g := newEnds(im.us, false)
	for i := range im.us {
		g.put(end{im.us[i].b, i, true})
	}
	out := make([][]int32, len(im.pos))
	type cand struct {
		id int32
		d  float64
	}
	var cs []cand
	for i, u := range im.us {
		cs = cs[:0]
		for _, q := range [2]geom.Vec2{u.a, u.b} {
			ci, cj := g.cell(q)
			for r := 0; r <= 1; r++ {
				g.ring(ci, cj, r, func(c int) {
					for _, e := range g.cells[c] {
						if e.unit != i && len(cs) < 64 {
							cs = append(cs, cand{int32(im.us[e.unit].id), gap(q, e.at)})
						}
					}
				})
			}
		}
		slices.SortFunc(cs, func(a, b cand) int {
			switch {
			case a.d != b.d:
				if a.d < b.d {
					return -1
				}
				return 1
			}
			return int(a.id - b.id)
		})
		for _, c := range cs {
			if len(out[u.id]) == neighbours {
				break
			}
			if !slices.Contains(out[u.id], c.id) {
				out[u.id] = append(out[u.id], c.id)
			}
		}
	}
	return out
}

func (im *improver) round(near [][]int32) bool {
	better := false
	for id := range near {
		for _, other := range near[id] {
			if im.moveNext(id, int(other)) || im.reverse && im.turn(id, int(other)) {
				better = true
			}
		}
	}
	return better
}

// least is the saving below which an exchange is not worth a rounding argument, mm.
const least = 1e-6

// moveNext takes unit id out of its place and puts it right before or after unit other, either way
// round, where that is shortest.
func (im *improver) moveNext(id, other int) bool {
	i, j := im.pos[id], im.pos[other]
	if i == j || max(i-j, j-i) > longest {
		return false
	}
	u := im.us[i]
	saved := gap(im.before(i), u.a) + im.link(u.b, i+1) - im.link(im.before(i), i+1)
	best, where, flip := math.Inf(1), -1, false
	for _, k := range [2]int{j, j + 1} { // put before the unit at place k
		if k == i || k == i+1 {
			continue
		}
		p := im.before(k)
		base := im.link(p, k)
		for _, f := range [2]bool{false, true} {
			if f && !(im.reverse && u.turns) {
				continue
			}
			v := u
			if f {
				v = u.flip()
			}
			if c := gap(p, v.a) + im.link(v.b, k) - base; c < best {
				best, where, flip = c, k, f
			}
		}
	}
	if where < 0 || best > saved-least {
		return false
	}
	if flip {
		u = u.flip()
	}
	if where > i {
		copy(im.us[i:], im.us[i+1:where])
		im.us[where-1] = u
		im.renumber(i, where-1)
	} else {
		copy(im.us[where+1:i+1], im.us[where:i])
		im.us[where] = u
		im.renumber(where, i)
	}
	return true
}

// turn runs the stretch between two near units backward where that is shorter and all of it may turn.
func (im *improver) turn(id, other int) bool {
	i, j := im.pos[id], im.pos[other]
	if i > j {
		i, j = j, i
	}
	if j-i > longest {
		return false
	}
	for _, w := range [4][2]int{{i, j}, {i + 1, j}, {i, j - 1}, {i + 1, j - 1}} {
		lo, hi := w[0], w[1]
		if lo > hi || !im.shorter(lo, hi) || !im.allTurn(lo, hi) {
			continue
		}
		slices.Reverse(im.us[lo : hi+1])
		for k := lo; k <= hi; k++ {
			im.us[k] = im.us[k].flip()
		}
		im.renumber(lo, hi)
		return true
	}
	return false
}

func (im *improver) shorter(lo, hi int) bool {
	p := im.before(lo)
	now := gap(p, im.us[lo].a) + im.link(im.us[hi].b, hi+1)
	then := gap(p, im.us[hi].b) + im.link(im.us[lo].a, hi+1)
	return then < now-least
}

func (im *improver) allTurn(lo, hi int) bool {
	for _, u := range im.us[lo : hi+1] {
		if !u.turns {
			return false
		}
	}
	return true
}
