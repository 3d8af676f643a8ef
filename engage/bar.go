package engage

import (
	"context"
	"math"

	"barwise/geom"
	"barwise/path"
	"barwise/shop/bar"
	"barwise/shop/cutter"
	"barwise/stock"
)

// barNodes is the most nodes that a Bar's fields have together: 4 bytes each, and as much again while it looks.
const barNodes = 16e6

// Bar is the bar as programs leave it, on a finer grid than the proof's, so that what earlier programs
// left does not blur the angles of later ones.
type Bar struct {
	q     Params
	stack *stock.Stack
}

// NewBar returns the uncut bar with the sides of the given index angles.
func NewBar(b bar.Bar, degs []float64, q Params) *Bar {
	if q.Pitch <= 0 {
		q.Pitch = 0.05
	}
	area := 0.0
	for _, d := range degs {
		w := b.Window(d)
		area += (w.X1 - w.X0) * (w.Y1 - w.Y0)
	}
	// whole multiples of a hundredth: nodes then lie on the faces of a bar of whole measures
	q.Pitch = max(q.Pitch, math.Ceil(100*math.Sqrt(area/barNodes))/100)
	return &Bar{q: q, stack: stock.New(b, degs, q.Pitch)}
}

// Pitch is that of the fields.
func (b *Bar) Pitch() float64 { return b.q.Pitch }

// Replay says how a program of a side, by its place among the index angles, engages its cutter, and cuts
// the bar by it. limit is the cap and the entry feed of this program; 0: those of the bar.
func (b *Bar) Replay(ctx context.Context, side int, p path.Program, c cutter.Cutter, limit Params) (*Result, error) {
	q := b.q
	if limit.Cap > 0 {
		q.Cap = limit.Cap
	}
	if limit.EntryFeed > 0 {
		q.EntryFeed = limit.EntryFeed
	}
	res, err := Replay(ctx, b.stack, side, p, c, q)
	if err != nil {
		return nil, err
	}
	return res, b.Cut(ctx, side, p, c)
}

// Cut cuts the bar by a program.
func (b *Bar) Cut(ctx context.Context, side int, p path.Program, c cutter.Cutter) error {
	at := p.Start
	var pts []geom.Vec3
	flush := func() error {
		defer func() { pts = pts[:0] }()
		if len(pts) < 2 {
			return ctx.Err()
		}
		return b.stack.CutMoves(ctx, side, c.Profile, pts)
	}
	for i := range p.Moves {
		m := &p.Moves[i]
		switch {
		case m.Mode == path.Dwell:
			continue
		case m.Cuts() && at.Finite():
			if len(pts) == 0 {
				pts = append(pts, at)
			}
			pts = path.Flatten(pts, at, *m, sagitta)
		default:
			if err := flush(); err != nil {
				return err
			}
		}
		at = m.To
	}
	return flush()
}
