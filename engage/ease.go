package engage

import (
	"barwise/force"
	"barwise/geom"
	"barwise/path"
)

// Ease returns the moves with the feed lowered where a result was over its cap, so that no chip there is
// thicker than feed, mm/s, makes one at the cap; what is slower already stays as it is. Moves are split
// where a spot begins or ends within them; the path stays the same. start is where the first move begins.
// The moves given are not changed; with no spots they are returned as they are.
func Ease(start geom.Vec3, moves []path.Move, r *Result, feed float64) []path.Move {
	var out []path.Move
	next := 0 // first spot that may touch the move at hand
	for i := range moves {
		m := moves[i]
		for next < len(r.Spots) && r.Spots[next].Move1 < i {
			next++
		}
		if next == len(r.Spots) || r.Spots[next].Move0 > i {
			if out != nil {
				out = append(out, m)
			}
			continue
		}
		if out == nil {
			out = append(make([]path.Move, 0, len(moves)+2*len(r.Spots)), moves[:i]...)
		}
		from := start
		if i > 0 {
			from = moves[i-1].To
		}
		done := 0.0
		for k := next; k < len(r.Spots) && r.Spots[k].Move0 <= i; k++ {
			s := &r.Spots[k]
			a, b := 0.0, 1.0
			if s.Move0 == i {
				a = s.T0
			}
			if s.Move1 == i {
				b = s.T1
			}
			if a > done+sliver {
				out = append(out, upTo(from, m, a))
				done = a
			}
			low := m
			low.Feed = min(m.Feed, float64(feed*force.Kept(s.Angle, r.Cap)))
			if b > 1-sliver {
				b = 1
			}
			if b > done {
				out = append(out, upTo(from, low, b))
				done = b
			}
		}
		if done < 1 {
			out = append(out, m)
		}
	}
	if out == nil {
		return moves
	}
	return out
}

// sliver is a part of a move too short to be a move of its own.
const sliver = 1e-3

// upTo is the move ended at part t of its way from from.
func upTo(from geom.Vec3, m path.Move, t float64) path.Move {
	if t >= 1 {
		return m
	}
	if m.IsArc() {
		m.To = m.Arc(from).At(t)
	} else {
		m.To = from.Lerp(m.To, t)
	}
	return m
}
