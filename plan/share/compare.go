package share

import (
	"math"
	"slices"
)

// Estimate is what sharing by one rule comes to, before a path is planned.
type Estimate struct {
	Time      float64 // s of finishing, seams and lifts counted
	Area      float64 // mm² that some side reaches
	Slope     float64 // degrees from level that 99 % of the area stays under
	Steepest  float64 // degrees, the worst
	Steep     float64 // mm² steeper than 70°
	StickOut  float64 // mm, longest from tip to holder that any place needs
	Seam      float64 // mm of borders between shares
	Pieces    int     // connected parts of shares larger than the cutter's radius squared
	Unreached float64 // mm² that no side reaches, about
}

// Comparison is what the shares taken come to against the fixed wedge.
type Comparison struct {
	Merit, Wedge Estimate
	Taken        Rule // what was asked for; the wedge also where merit does not gain 5 %
}

// Compare tells what sharing by merit gains over the fixed wedge: estimates on the parts of the surface
// that vote, about 0.6 of the cutter's radius wide, by the same cost of a place for both. It is known
// once Decide has run for a side, or asked for after Look has for all; zero where there is no mesh.
func (s *Set) Compare() Comparison {
	s.once.Do(s.vote)
	return s.compare
}

// partSize is how wide the parts of the surface are that vote, in radii of the cutter; mostParts about how
// many there may be, for time.
const (
	partSize  = 0.6
	mostParts = 150_000
)

// clearGain is how much of the wedge's time sharing by merit may take for it to be used: less gain than
// that is within what an estimate is worth.
const clearGain = 0.95

// vote has all sides vote on the surface, by both rules, and keeps the ballot of the one to be used.
func (s *Set) vote() {
	s.compare.Taken = s.Rule
	if s.Mesh == nil || len(s.Views) < 2 {
		return
	}
	area := 0.0
	for i := range s.Mesh.Triangles {
		a, b, c := s.Mesh.Corners(i)
		area += b.Sub(a).Cross(c.Sub(a)).Len() / 2
	}
	c := newCrumbs(s.Mesh, max(partSize*s.Cutter.R, math.Sqrt(2*area/mostParts)))
	merit, wedges := s.count(c)
	// as the time goes, so that what is cheapest counts as measured
	s.compare.Wedge = s.estimate(wedges, func() {
		wedges.cheapest()
		wedges.absorb(s.Cutter.R * s.Cutter.R)
	})
	s.compare.Merit = s.estimate(merit, func() { merit.settle(s.prices()) })
	s.ballot = merit
	if s.Rule == ByWedge || !s.stubborn && s.compare.Merit.Time > clearGain*s.compare.Wedge.Time {
		s.ballot, s.compare.Taken, s.Rule = wedges, ByWedge, ByWedge
	}
	s.ballot.fill()
	s.ballot.soften()
	s.ballot.cost = nil
}

// stepover is the spacing of passes on the surface, and feed what is held on them.
func (s *Set) stepover() (w, feed float64) {
	h, r := s.Cusp, s.Cutter.Round
	if h == 0 {
		h = usualCusp
	}
	if r <= 0 {
		r = s.Cutter.R / 4
	}
	if feed = s.Feed; feed == 0 {
		feed = usualFeed
	}
	return 2 * math.Sqrt(max(float64(2*r*h)-float64(h*h), float64(h*h))), feed
}

// seamCost is what a millimetre of seam costs, in mm² of level ground: both sides cut the overlap, and
// lines end on both sides of it.
func (s *Set) seamCost() float64 {
	_, feed := s.stepover()
	return 2*s.Overlap + float64(2*endTime*feed)
}

func (s *Set) prices() prices {
	w, feed := s.stepover()
	p := prices{seam: s.seamCost(), piece: pieceTime * w * feed, least: 16 * s.Cutter.R * s.Cutter.R}
	for _, v := range s.Views {
		p.facings = append(p.facings, v.Facing)
	}
	return p
}

// estimate settles a ballot and tells what it comes to.
func (s *Set) estimate(b *ballot, settle func()) Estimate {
	reached := make([]bool, len(b.cost))
	for k, c := range b.cost {
		reached[k] = c < outOfReach
	}
	settle()
	var e Estimate
	w, feed := s.stepover()
	type slope struct{ c, area float64 }
	slopes := make([]slope, 0, len(b.label))
	level, seam := 0.0, 0.0
	for k, l := range b.label {
		if l < 0 {
			e.Unreached += b.area[k]
			continue
		}
		p := &b.probe[k]
		at := int(l)
		if !reached[k*b.sides+at] { // cut from the side that does it best of those that can
			at = s.kindest(p, reached[k*b.sides:(k+1)*b.sides])
		}
		o := s.Views[at]
		c := min(max(p.n.Dot(o.Facing), 0), 1)
		slopes = append(slopes, slope{c, b.area[k]})
		e.Area += b.area[k]
		level += float64(timeOn(c) * b.area[k])
		e.StickOut = max(e.StickOut, s.stick(o, p.at.Add(p.n.Mul(s.Allowance)), p.n))
		if c < math.Cos(70*math.Pi/180) {
			e.Steep += b.area[k]
		}
		for _, q := range b.nb[b.start[k]:b.start[k+1]] {
			if m := b.label[q]; m >= 0 && m != l {
				seam += b.tie(k, int(q)) / 2
			}
		}
	}
	e.Seam = seam
	for _, g := range b.pieces() {
		if g.area > s.Cutter.R*s.Cutter.R {
			e.Pieces++
		}
	}
	e.Time = float64((level+float64(s.seamCost()*seam))/(w*feed)) + float64(pieceTime*e.Pieces)
	slices.SortFunc(slopes, func(p, q slope) int {
		switch {
		case p.c < q.c || p.c == q.c && p.area < q.area:
			return -1
		case p == q:
			return 0
		}
		return 1
	})
	sum := 0.0
	deg := func(c float64) float64 { return math.Acos(c) * 180 / math.Pi }
	for i, p := range slopes {
		if i == 0 {
			e.Steepest = deg(p.c)
		}
		if sum += p.area; sum > 0.01*e.Area {
			e.Slope = deg(p.c)
			break
		}
	}
	return e
}

// kindest is the side of those that reach a part that faces it most squarely; the first where none does.
func (s *Set) kindest(p *probe, reached []bool) int {
	best, cos := 0, math.Inf(-1)
	for i, o := range s.Views {
		if c := p.n.Dot(o.Facing); reached[i] && c > cos {
			best, cos = i, c
		}
	}
	return best
}
