package engage

import (
	"math"

	"barwise/path"
)

// kind is what a look showed.
type kind uint8

const (
	air kind = iota
	cut
	entry
)

// fine is how many bins of the angle percentiles come from.
const fine = 1800

// teller goes over the looks in order.
type teller struct {
	*ways
	moves []path.Move
	q     Params
	r     float64
	least float64 // angles below it are none
	res   *Result

	hist    [fine]float64
	over    float64
	spot    *Spot // the open one
	stretch float64
	gap     float64 // way in air since the stretch's last cut
	idle    float64 // way in air since the last lift or anything taken
	cutOnce bool    // since the last lift
	lead    bool    // the feed has been the entry feed since the way down
	kinds   []kind  // of each piece's start and end
	passSum float64
	begun   bool
}

func tally(w *ways, looks []look, p path.Program, r float64, q Params) *Result {
	t := &teller{ways: w, moves: p.Moves, q: q, r: r, least: math.Acos(1 - min(graze/r, 2)), res: &Result{Cap: q.Cap}}
	t.res.ByMove = make([]float32, len(p.Moves))
	for i := range t.res.ByMove {
		t.res.ByMove[i] = -1
	}
	t.kinds = make([]kind, 2*len(w.list))
	t.lead = true
	piece, part := 0, 0.0
	for i := range looks {
		o := &looks[i]
		if part >= 1 {
			piece, part = piece+1, 0
		}
		for piece < int(o.piece) && !w.list[piece].feed {
			t.lift()
			piece, part = piece+1, 0
		}
		t.look(o, piece, part)
		piece, part = int(o.piece), o.t1
	}
	t.lift()
	t.finish()
	return t.res
}

// lift ends whatever runs: the way goes on at no feed.
func (t *teller) lift() {
	t.shut()
	t.close()
	t.busy()
	t.lead, t.cutOnce = true, false
}

// busy ends a way in air.
func (t *teller) busy() {
	if t.idle > t.r {
		t.res.LongAir += t.idle
	}
	t.idle = 0
}

// look takes in a look that stands for the path from part of piece on.
func (t *teller) look(o *look, piece int, part float64) {
	res := t.res
	m := &t.moves[t.list[o.piece].move]
	if o.down {
		t.lead = true
	} else if t.lead && !(t.q.EntryFeed > 0 && math.Abs(m.Feed-t.q.EntryFeed) <= 1e-6*t.q.EntryFeed) {
		t.lead = false
	}
	angle := float64(o.angle)
	k := air
	switch {
	case angle < t.least:
	case o.down || t.lead:
		k = entry
	default:
		k = cut
	}
	for i := piece; i <= int(o.piece); i++ {
		if i > piece || part == 0 {
			t.kinds[2*i] = k
		}
		if i < int(o.piece) || o.t1 == 1 {
			t.kinds[2*i+1] = k
		}
		if k != air {
			by := &res.ByMove[t.list[i].move]
			*by = max(*by, o.angle)
			if k == entry {
				*by = math.Pi
			}
		}
	}
	switch k {
	case air:
		res.AirLength += o.len
		t.gap += o.len
		t.idle += o.len
		if t.begun && t.gap > t.r {
			t.close()
		}
	case entry:
		res.EntryLength += o.len
		t.close()
		t.busy()
	case cut:
		t.cut(o, angle)
	}
	if k == cut && angle > t.q.Cap+1e-6 { // looks hold angles to 7 digits
		t.exceed(o, piece, part)
	} else {
		t.shut()
	}
}

func (t *teller) cut(o *look, angle float64) {
	res := t.res
	res.CutLength += o.len
	res.Max = max(res.Max, angle)
	deg := angle * 180 / math.Pi
	res.Histogram[min(int(deg/BinDeg), len(res.Histogram)-1)] += o.len
	t.hist[min(int(deg*10), fine-1)] += o.len
	if t.cutOnce {
		res.LongestAir = max(res.LongestAir, t.idle)
	}
	t.busy()
	t.cutOnce = true
	t.begun, t.gap = true, 0
	t.stretch += o.len
}

// close ends a stretch of cutting.
func (t *teller) close() {
	if t.stretch > 0 {
		t.res.Passes++
		t.passSum += t.stretch
	}
	t.stretch, t.begun, t.gap = 0, false, 0
}

// exceed opens a spot over the cap or lengthens the open one.
func (t *teller) exceed(o *look, piece int, part float64) {
	t.over += o.len
	w := &t.list[o.piece]
	if t.spot == nil {
		a := &t.list[piece]
		t.spot = &Spot{Move0: int(a.move), T0: a.part(part), Line: t.moves[a.move].Line}
	}
	s := t.spot
	s.Move1, s.T1 = int(w.move), w.part(o.t1)
	s.Length += o.len
	if angle := float64(o.angle); angle > s.Angle {
		s.Angle, s.Point = angle, w.at(float64(o.at))
	}
}

// part is the part of the move at part t of the piece.
func (s *way) part(t float64) float64 { return s.t0 + float64((s.t1-s.t0)*t) }

func (t *teller) shut() {
	if t.spot != nil {
		t.res.Spots = append(t.res.Spots, *t.spot)
		t.spot = nil
	}
}

func (t *teller) finish() {
	res := t.res
	if res.Passes > 0 {
		res.MeanPass = t.passSum / float64(res.Passes)
	}
	if res.CutLength > 0 {
		res.ShareOver = t.over / res.CutLength
	}
	res.P50, res.P99 = t.percentile(0.5), t.percentile(0.99)
	for k := 1; k < len(t.list); k++ {
		if t.turns[k] > turn && t.kinds[2*k-1] == cut && t.kinds[2*k] == cut {
			res.Turns++
		}
	}
}

func (t *teller) percentile(share float64) float64 {
	want, acc := share*t.res.CutLength, 0.0
	for i, l := range t.hist {
		if acc += l; l > 0 && acc >= want-1e-9*t.res.CutLength {
			return min(float64(i+1)/fine*math.Pi, t.res.Max)
		}
	}
	return t.res.Max
}
