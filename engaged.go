package barwise

import (
	"context"
	"fmt"
	"math"
	"slices"

	"barwise/engage"
	"barwise/finding"
	"barwise/geom"
	"barwise/job"
	"barwise/path"
	"barwise/report"
)

// What a roughing plan is to keep to: the arc that a hundredth of its cutting may exceed beyond the cap, and the
// part of its cutting that may be over the cap at all.
const (
	mostOverDeg   = 3
	mostOverShare = 0.005
)

// easer replays roughing programs' moves on a finer bar than they were planned on, beside the planning of the
// next ones, and lowers the feed where they engage the cutter over its cap. The path stays as it is, so nothing
// that looks at the bar has to wait.
type easer struct {
	given int
	work  chan easing
	done  chan struct{}
	moves [][]path.Move // by program, in order
	err   error
}

type easing struct {
	cut  cut
	from job.Rough
}

func (r *run) newEaser(ctx context.Context) *easer {
	work := make(chan easing, len(r.steps))
	e := &easer{work: work, done: make(chan struct{})}
	bar := engage.NewBar(r.job.Bar, r.job.Sides, engage.Params{})
	go func() {
		defer close(e.done)
		for w := range work {
			if e.err != nil {
				continue
			}
			p := engage.Params{EntryFeed: w.from.EntryFeed}
			if w.from.Engage < math.Pi {
				p.Cap = w.from.Engage
			}
			res, err := bar.Replay(ctx, w.cut.sideIndex, w.cut.Program, w.cut.cutter, p)
			if err != nil {
				e.err = err
				continue
			}
			moves := w.cut.Moves
			if p.Cap > 0 {
				moves = engage.Ease(w.cut.Start, moves, res, w.from.Feed)
			}
			e.moves = append(e.moves, moves)
		}
	}()
	return e
}

// give hands over the next program.
func (e *easer) give(c cut, from job.Rough) {
	e.work <- easing{c, from}
	e.given++
}

// take waits for all that was given and puts it in place.
func (e *easer) take(cuts []cut) error {
	e.stop()
	if e.err != nil {
		return e.err
	}
	for k, m := range e.moves {
		cuts[k].Moves = m
	}
	return nil
}

// stop waits until nothing is at work any more; more than once is once.
func (e *easer) stop() {
	if e.work != nil {
		close(e.work)
		e.work = nil
	}
	<-e.done
}

// engaged is one roughing program as it was replayed from its text.
type engaged struct {
	program int
	cap     float64
	pitch   float64 // of the fields it began from, mm
	*engage.Result
}

// replayRoughing replays the roughing programs from their text.
func (r *run) replayRoughing(ctx context.Context, progs []replayed) error {
	r.lastRough = -1
	for i, p := range progs {
		if r.isRough(p) {
			r.lastRough = i
		}
	}
	last := r.lastRough
	if last < 0 {
		return nil
	}
	bar := engage.NewBar(r.job.Bar, r.job.Sides, engage.Params{})
	for i, p := range progs[:last+1] {
		r.say("replaying the roughing", i, last+1)
		side := slices.Index(r.job.Sides, p.SideDeg)
		if !r.isRough(p) {
			if err := bar.Cut(ctx, side, p.Program, p.cutter); err != nil {
				return err
			}
			continue
		}
		q := engage.Params{}
		limit := math.Pi
		for _, c := range r.job.Rough {
			if c.Cutter.ID == p.Text.Cutter {
				q.EntryFeed, limit = p.written(c.EntryFeed), c.Engage
			}
		}
		if limit < math.Pi {
			q.Cap = limit
		}
		res, err := bar.Replay(ctx, side, p.Program, p.cutter, q)
		if err != nil {
			return err
		}
		r.engaged = append(r.engaged, engaged{i, limit, bar.Pitch(), res})
	}
	return nil
}

// written is a feed as a text has it: the program's own that is nearest to it, within the rounding of its digits.
func (p replayed) written(feed float64) float64 {
	for _, m := range p.Moves {
		if math.Abs(m.Feed-feed) <= 0.005*feed {
			return m.Feed
		}
	}
	return feed
}

const deg = 180 / math.Pi

// roughingFacts gathers what the replay showed; nil where nothing is roughed.
func (r *run) roughingFacts(progs []replayed) *report.Roughing {
	if len(r.engaged) == 0 {
		return nil
	}
	out := &report.Roughing{}
	for b := range len(r.engaged[0].Histogram) {
		out.Histogram = append(out.Histogram, report.EngageBin{From: float64(b * engage.BinDeg), To: float64((b + 1) * engage.BinDeg)})
	}
	var cut, air, over, passes float64
	for _, e := range r.engaged {
		p := progs[e.program]
		out.Seconds += p.time.Total()
		cut, air, over, passes = cut+e.CutLength, air+e.AirLength, over+e.ShareOver*e.CutLength, passes+float64(e.Passes)
		out.Entry += e.EntryLength
		out.CapDeg = max(out.CapDeg, round(e.cap*deg, 2))
		out.P99Deg, out.MaxDeg = max(out.P99Deg, round(e.P99*deg, 1)), max(out.MaxDeg, round(e.Max*deg, 1))
		out.BoundDeg = max(out.BoundDeg, ceil(deg*engage.Bound(e.P99, p.cutter.R, e.pitch), 1))
		for b, l := range e.Histogram {
			out.Histogram[b].Length = round(out.Histogram[b].Length+l, 2)
		}
		out.Programs = append(out.Programs, report.RoughFacts{File: p.Name, CapDeg: round(e.cap*deg, 2), P99Deg: round(e.P99*deg, 1),
			ShareOver: round(e.ShareOver, 5), AirShare: round(e.AirShare(), 4), MeanPass: round(e.MeanPass, 1), Turns: e.Turns})
		out.Spots = append(out.Spots, r.spots(p, e)...)
	}
	half := 0.0
	for _, b := range out.Histogram {
		if half += b.Length; half >= cut/2 {
			out.P50Deg = b.To
			break
		}
	}
	out.Length, out.Entry, out.Seconds = round(cut, 1), round(out.Entry, 1), round(out.Seconds, 1)
	out.ShareOver, out.AirShare, out.MeanPass = round(over/max(cut, 1e-9), 5), round(air/max(cut+air, 1e-9), 4), round(cut/max(passes, 1), 1)
	return out
}

// mostSpots is how many stretches over the cap are listed for a program.
const mostSpots = 100

func (r *run) spots(p replayed, e engaged) []report.EngageSpot {
	var out []report.EngageSpot
	turn := geom.TurnDeg(p.SideDeg)
	asked := feedAsked(p) / 60
	for _, s := range e.Spots[:min(len(e.Spots), mostSpots)] {
		q := turn.ToPart(s.Point)
		out = append(out, report.EngageSpot{File: p.Name, Line: int(s.Line), Where: point(q.X, q.Y, q.Z), Deg: round(s.Angle*deg, 1), Length: round(s.Length, 3),
			Eased: slowest(p.Moves[s.Move0:s.Move1+1]) < 0.999*asked})
	}
	return out
}

func slowest(moves []path.Move) float64 {
	v := math.Inf(1)
	for _, m := range moves {
		if m.Feed > 0 {
			v = min(v, m.Feed)
		}
	}
	return v
}

// engageFindings says where a roughing program is not as gentle as was asked.
func (r *run) engageFindings(progs []replayed) {
	for _, e := range r.engaged {
		p := progs[e.program]
		if e.cap >= math.Pi || e.P99 <= e.cap+mostOverDeg/deg && e.ShareOver <= mostOverShare {
			continue
		}
		r.findings = append(r.findings, finding.Finding{Code: "engage-over", Severity: finding.Warning, Where: p.Name,
			Text: fmt.Sprintf("%.2f %% of its cutting has more than %.1f° of the rim in stock, a hundredth more than %.1f°; %.1f %% over the cap is allowed, and %d° over it for that hundredth",
				100*e.ShareOver, e.cap*deg, e.P99*deg, 100*mostOverShare, mostOverDeg),
			Hint: "the report lists where; a wider cap, or a smaller cutter where the room is narrow"})
	}
}
