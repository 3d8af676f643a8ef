// Package link turns passes into one program's moves, with lifts no higher than what is in the way.
package link

import (
	"barwise/geom"
	"barwise/path"
)

// Params says how a cutter travels between passes. Heights are of the tip in the side frame, mm;
// feeds are mm/s.
type Params struct {
	Safe        float64 // plane of the full retract: the first move comes from it, the last returns to it
	Clear       float64 // kept above whatever a crossing passes over
	ApproachGap float64 // a rapid ends this far above the start, or above what stands there
	CutFeed     float64
	EntryFeed   float64 // leads, and the last stretch down
	// Done, where set, is told every stretch of the tip at a feed, in order, as soon as it is laid
	// down: a live Obstacle lowers itself by it, so that later rapids may use the room already cut.
	Done func(pts []geom.Vec3)
}

// Link joins passes, in the order given, into moves. free(a, b) is the highest tip height at which
// the cutter or its holder would touch anything along the straight way from a to b; −Inf where
// nothing is there. Link keeps these laws:
//
//   - the first move is a rapid in the plane Safe, over the first start; the last ends in it;
//   - a crossing rapid runs level, at least Clear above free of its way;
//   - a rapid down ends at least ApproachGap above free of its place, and above the start;
//   - what remains down to the start is fed at EntryFeed, as are leads; points are cut at CutFeed;
//   - a pass marked Follow is reached by a straight feed;
//   - a pass's Ease lowers the feed on the way to each of its points.
//
// A rapid straight up needs no room: the cutter leaves by the column it came down in. Closed passes
// are closed whether or not their first point is repeated at the end.
func Link(passes []path.Pass, free func(a, b geom.Vec2) float64, p Params) []path.Move {
	l := linker{free: free, p: p}
	for _, pass := range passes {
		if len(pass.Points) == 0 {
			continue
		}
		l.travel(pass)
		l.cut(pass)
	}
	if l.begun && l.at.Z < p.Safe {
		l.rapid(geom.Vec3{X: l.at.X, Y: l.at.Y, Z: p.Safe})
	}
	return l.moves
}

type linker struct {
	free  func(a, b geom.Vec2) float64
	p     Params
	moves []path.Move
	at    geom.Vec3
	begun bool
	fed   []geom.Vec3 // the stretch at a feed since the last report
}

func (l *linker) rapid(to geom.Vec3) {
	if l.begun && to == l.at {
		return
	}
	l.moves = append(l.moves, path.Move{To: to, Mode: path.Rapid})
	l.at, l.begun = to, true
}

func (l *linker) feed(to geom.Vec3, f float64) {
	if to == l.at {
		return
	}
	if len(l.fed) == 0 {
		l.fed = append(l.fed, l.at)
	}
	l.fed = append(l.fed, to)
	l.moves = append(l.moves, path.Move{To: to, Feed: f, Mode: path.Line})
	l.at = to
}

// travel brings the tip to the start of pass.
func (l *linker) travel(pass path.Pass) {
	to := pass.Start()
	if l.begun && (pass.Follow || l.at.XY() == to.XY() && to.Z <= l.at.Z) {
		f := l.p.CutFeed
		if !pass.Follow {
			f = l.p.EntryFeed
		}
		l.feed(to, f)
		return
	}
	here := l.free(to.XY(), to.XY())
	low := max(to.Z, here) + l.p.ApproachGap
	over := l.p.Safe
	if l.begun {
		// the crossing is as low as its way allows, and Safe is no reason to dive under it
		over = max(l.at.Z, low, l.free(l.at.XY(), to.XY())+l.p.Clear)
		if over > l.p.Safe && l.p.Safe >= max(l.at.Z, low) && l.p.Safe > over-l.p.Clear {
			over = l.p.Safe
		}
		l.rapid(geom.Vec3{X: l.at.X, Y: l.at.Y, Z: over})
	}
	over = max(over, low)
	l.rapid(geom.Vec3{X: to.X, Y: to.Y, Z: over})
	if low < over {
		l.rapid(geom.Vec3{X: to.X, Y: to.Y, Z: low})
	}
	l.feed(to, l.p.EntryFeed)
}

func (l *linker) cut(pass path.Pass) {
	for _, q := range pass.Lead {
		l.feed(q, l.p.EntryFeed)
	}
	for i, q := range pass.Points {
		f := l.p.CutFeed
		if i == 0 && len(pass.Lead) > 0 {
			f = l.p.EntryFeed
		} else if pass.Ease != nil {
			f *= float64(pass.Ease[i])
		}
		l.feed(q, f)
	}
	if pass.Closed {
		l.feed(pass.Points[0], l.p.CutFeed)
	}
	if l.p.Done != nil && len(l.fed) > 0 {
		l.p.Done(l.fed)
	}
	l.fed = l.fed[:0]
}
