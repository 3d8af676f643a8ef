// Package facet judges a model's facets by the finish that is asked for.
package facet

import (
	"context"
	"fmt"
	"math"

	"barwise/finding"
	"barwise/geom"
	"barwise/geom/mesh"
	"barwise/geom/mesh/smooth"
)

// Kinks that show. What is seen of a kink is a step in shading. On a matt surface the step is about
// tan(θ)·Δ of the brightness at incidence θ, and the eye takes steps of 1 to 2 %: Δ of about 1° (estimate
// from Weber's law; value from memory). A shiny surface turns light by 2Δ and shows the reflections of
// edges broken there; the eye tells lines broken by a fraction of a minute of arc, but a cut and polished
// surface blurs them: 0.1° (estimate; common practice, no source).
const (
	MattKinkDeg  = 1.0
	ShinyKinkDeg = 0.1
)

// LeastChord is the chord error below which no kink shows, mm: a fifth of a wavelength of light, far below
// what a milled surface keeps (estimate).
const LeastChord = 0.0001

// Params says what is asked of the surface.
type Params struct {
	Triangles int     // judge only the first so many triangles, the rest is not the model's; 0: all
	Cusp      float64 // mm, the cusp height asked for; 0: none asked
	Tolerance float64 // mm, how far the surface may be off; 0: none asked
	CreaseDeg float64 // a kink above this is meant; 0: smooth.DefaultCreaseDeg
	Shiny     bool    // the material shines, or will be polished
	Stepover  float64 // mm between the passes that finish it: what is narrower than four of them is lost among their cusps, unless it is Shiny; 0: not known
	KinkDeg   float64 // the kink that shows; 0: by Shiny
}

// Spread tells how a quantity is distributed over the area: half of the area has no more than Median, and
// so on. Most is the greatest of all.
type Spread struct {
	Median float64 `json:"median"`
	P90    float64 `json:"p90"`
	P99    float64 `json:"p99"`
	Most   float64 `json:"most"`
}

// Result is the facets judged.
type Result struct {
	Kink  []float32 `json:"-"` // per triangle: greatest kink to a neighbour, degrees; creases apart
	Chord []float32 `json:"-"` // per triangle: estimated distance from the smooth surface it stands for, mm
	Shows []bool    `json:"-"` // per triangle: its facet will show
	Stand []float32 `json:"-"` // per triangle: how much it stands out; above 1 it shows

	Triangles int     `json:"triangles"`
	AreaMM2   float64 `json:"area_mm2"`
	KinkLimit float64 `json:"kink_limit_deg"`
	ChordAsk  float64 `json:"chord_ask_mm"` // the lesser of cusp and tolerance; 0: neither was asked
	KinkDeg   Spread  `json:"kink_deg"`
	ChordMM   Spread  `json:"chord_mm"`

	KinkShare  float64 `json:"kink_share"`  // share of the area with facets whose kink shows
	ChordShare float64 `json:"chord_share"` // share of the area with more chord error than asked
	ShowShare  float64 `json:"show_share"`  // share with either
	OverShare  float64 `json:"over_share"`  // share with more chord error than the tolerance

	Needed float64 `json:"needed"` // how many times the triangles are needed, placed where they are wanted; never below 1
	Enough float64 `json:"enough"` // the part of the triangles that would do; above 1 where more are needed

	KinkAt  geom.Vec3 `json:"kink_at"` // middle of the edge of the greatest kink
	ChordAt geom.Vec3 `json:"chord_at"`

	Hidden   float64 `json:"hidden_mm"` // facets narrower than this are lost among cusps; 0: none are
	stepover float64 // mm, of passes whose cusps hide facets; 0: none do

	Verdict  string            `json:"verdict"`
	Findings []finding.Finding `json:"findings"`
}

// Measure judges the first triangles of m, which is placed, at its final scale, in mm.
//
// Needed counts each triangle max(1, chord/asked, (kink/limit)²) times and takes the mean: chord error goes
// with the inverse of a facet's area, kink with the inverse of its root.
func Measure(ctx context.Context, m *mesh.Mesh, p Params) (*Result, error) {
	p, err := p.or(len(m.Triangles))
	if err != nil {
		return nil, err
	}
	part := &mesh.Mesh{Vertices: m.Vertices, Triangles: m.Triangles[:p.Triangles]}
	g, err := smooth.Look(ctx, part, nil, p.CreaseDeg)
	if err != nil {
		return nil, err
	}
	r := &Result{Triangles: p.Triangles, Kink: make([]float32, p.Triangles), Chord: g.Chord, Shows: make([]bool, p.Triangles), Stand: make([]float32, p.Triangles), stepover: p.Stepover,
		KinkLimit: p.KinkDeg, ChordAsk: least(p.Cusp, p.Tolerance)}
	if p.Shiny {
		r.stepover = 0
	}
	r.Hidden = r.hidden()
	r.kinks(g)
	r.weigh(part, p)
	r.KinkDeg = spread(r.Kink, part, r.AreaMM2)
	r.ChordMM = spread(r.Chord, part, r.AreaMM2)
	r.judge(p)
	return r, ctx.Err()
}

func (p Params) or(n int) (Params, error) {
	if p.Triangles == 0 || p.Triangles > n {
		p.Triangles = n
	}
	if p.CreaseDeg == 0 {
		p.CreaseDeg = smooth.DefaultCreaseDeg
	}
	if p.KinkDeg == 0 {
		p.KinkDeg = MattKinkDeg
		if p.Shiny {
			p.KinkDeg = ShinyKinkDeg
		}
	}
	if !(p.Stepover >= 0 && p.Cusp >= 0 && p.Tolerance >= 0 && p.CreaseDeg > 0 && p.KinkDeg > 0) || p.Triangles < 0 {
		return p, finding.Bad("facet-params", "facets",
			fmt.Sprintf("cusp %g mm, tolerance %g mm, crease %g°, kink %g°", p.Cusp, p.Tolerance, p.CreaseDeg, p.KinkDeg),
			"give lengths that are not negative and angles above 0")
	}
	return p, nil
}

func least(a, b float64) float64 {
	if a == 0 || b > 0 && b < a {
		return b
	}
	return a
}

// kinks takes the greatest kink of each triangle, and of all.
func (r *Result) kinks(g *smooth.Gauge) {
	worst, at := float32(0), -1
	for h, k := range g.Kink {
		if k < 0 {
			k = -k
		}
		r.Kink[h/3] = max(r.Kink[h/3], float32(float64(k)*180/math.Pi))
		if k > worst {
			worst, at = k, h
		}
	}
	if at >= 0 {
		a, b := g.E.Ends(int32(at))
		r.KinkAt = g.M.Vertices[a].Lerp(g.M.Vertices[b], 0.5)
	}
}

// weigh sums areas and how many triangles are wanted.
func (r *Result) weigh(m *mesh.Mesh, p Params) {
	var kink, chord, shows, over, needed, enough float64
	worst, at := float32(0), -1
	for t := range m.Triangles {
		a, b, c := m.Corners(t)
		area := b.Sub(a).Cross(c.Sub(a)).Len() / 2
		k, e := float64(r.Kink[t]), float64(r.Chord[t])
		r.AreaMM2 += area
		stand := r.stands(k, e)
		byKink := stand > 1
		byChord := r.ChordAsk > 0 && e > r.ChordAsk
		if r.ChordAsk > 0 {
			stand = max(stand, e/r.ChordAsk)
		}
		r.Stand[t] = float32(stand)
		if byKink {
			kink += area
		}
		if byChord {
			chord += area
		}
		if byKink || byChord {
			r.Shows[t] = true
			shows += area
		}
		if p.Tolerance > 0 && e > p.Tolerance {
			over += area
		}
		f := r.times(k, e)
		needed += max(1, f)
		enough += f
		if r.Chord[t] > worst {
			worst, at = r.Chord[t], t
		}
	}
	if at >= 0 {
		a, b, c := m.Corners(at)
		r.ChordAt = a.Add(b).Add(c).Mul(1.0 / 3)
	}
	if r.AreaMM2 > 0 {
		r.KinkShare, r.ChordShare, r.ShowShare, r.OverShare = kink/r.AreaMM2, chord/r.AreaMM2, shows/r.AreaMM2, over/r.AreaMM2
	}
	if n := float64(r.Triangles); n > 0 {
		r.Needed, r.Enough = needed/n, enough/n
	}
}

// stands is by how much a facet of kink k and chord error e stands out by its kink: the least of kink,
// chord error and width, each in parts of what shows. The width of a facet across its bend is w = 8·e/Δ,
// for e = w·Δ/8; one narrower than hideIn passes has too few cusps on it to be told from them.
func (r *Result) stands(k, e float64) float64 {
	s := min(k/r.KinkLimit, e/LeastChord)
	if r.stepover > 0 && k > 0 {
		s = min(s, 8*e/(k*math.Pi/180)/r.hidden())
	}
	return s
}

// hideIn is how many passes a facet has to carry to be seen among their cusps (estimate, no source).
const hideIn = 4

// hidden is the width below which a facet is lost among cusps, mm; 0: none is.
func (r *Result) hidden() float64 { return hideIn * r.stepover }

// times is how many triangles are wanted in the place of one of kink k and chord error e.
func (r *Result) times(k, e float64) float64 {
	// kink and width go with the root of the number, the chord error with the number
	f := min(k*k/(r.KinkLimit*r.KinkLimit), e/LeastChord)
	if r.stepover > 0 && k > 0 {
		w := 8 * e / (k * math.Pi / 180) / r.hidden()
		f = min(f, w*w)
	}
	if r.ChordAsk > 0 {
		f = max(f, e/r.ChordAsk)
	}
	return f
}
