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
	// Least is how far apart points of a pass are at least, mm: one nearer to the last before it is left out,
	// unless the pass ends there, and the way strays from the pass by less than that. A control that reads so
	// many blocks a second all but stands on a shorter one, in the cut.
	Least float64
	// Keep, where set, is the lowest height of the tip at a place at which the cutter, and what stands above it,
	// touches nothing that is to be kept. Passes without a lead are then come onto and left by arcs of radius
	// Roll, mm, at most the cutter's own, in the upright plane of their first and last stretch, where such an
	// arc keeps that and goes no deeper into stock than the pass begins.
	Keep func(p geom.Vec2) float64
	Roll float64
	// Under, where set, is the top of the stock under the body of the cutter at a place, its rim left out; it may
	// be live. RampDeg is then the steepest way down into stock, degrees from level: a level pass that begins in
	// stock is come down to along itself, to and fro. 0 or more than 80: straight down.
	Under   func(p geom.Vec2) float64
	RampDeg float64
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
//   - a level pass that begins in stock is come down to by a ramp along it, where the cutter must not plunge;
//   - a pass marked Follow is reached by a straight feed;
//   - a pass's Ease lowers the feed on the way to each of its points;
//   - points of a pass are left out where they are nearer than Least, but neither its first nor its last;
//   - an arc onto a pass is fed at EntryFeed and begins straight down, one off it is fed at CutFeed and ends
//     straight up, so that the cutter neither turns sharply nor stands while it touches the pass.
//
// A rapid straight up needs no room: the cutter leaves by the column it came down in. Closed passes
// are closed whether or not their first point is repeated at the end.
func Link(passes []path.Pass, free func(a, b geom.Vec2) float64, p Params) []path.Move {
	l := linker{free: free, p: p}
	for _, pass := range passes {
		if len(pass.Points) == 0 {
			continue
		}
		l.cut(l.travel(pass))
	}
	l.leave()
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
	tail  geom.Vec3   // last stretch of the last pass
	deep  float64     // how deep in stock that pass began
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

// travel brings the tip to the start of pass, and returns the pass with the lead that it gave it.
func (l *linker) travel(pass path.Pass) path.Pass {
	to := pass.Start()
	if l.begun && (pass.Follow || l.at.XY() == to.XY() && to.Z <= l.at.Z) {
		if pass.Follow {
			l.feed(to, l.p.CutFeed)
		} else {
			l.down(pass, to)
		}
		return pass
	}
	l.leave()
	if l.p.Keep != nil && len(pass.Lead) == 0 {
		l.deep = l.depth(to)
		pass.Lead = l.onto(pass)
		to = pass.Start()
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
	l.down(pass, to)
	return pass
}

func (l *linker) cut(pass path.Pass) {
	for _, q := range pass.Lead {
		l.feed(q, l.p.EntryFeed)
	}
	for i, q := range pass.Points {
		if i > 0 && i < len(pass.Points)-1 && q.Sub(l.at).Len() < l.p.Least {
			continue
		}
		f := l.p.CutFeed
		if i == 0 && len(pass.Lead) > 0 {
			f = l.p.EntryFeed
		} else if pass.Ease != nil {
			f *= float64(pass.Ease[i])
		}
		l.along(q, f)
	}
	if pass.Closed {
		l.along(pass.Points[0], l.p.CutFeed)
	}
	l.report()
}

// along feeds to a point of a pass.
func (l *linker) along(q geom.Vec3, f float64) {
	if d := q.Sub(l.at); d.Len() >= max(l.p.Least, aim) {
		l.tail = d
	}
	l.feed(q, f)
}

func (l *linker) report() {
	if l.p.Done != nil && len(l.fed) > 0 {
		l.p.Done(l.fed)
	}
	l.fed = l.fed[:0]
}
