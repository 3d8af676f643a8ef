package reach

import (
	"context"
	"math"

	"barwise/geom"
	"barwise/geom/field"
	"barwise/geom/mesh/patch"
	"barwise/shop/cutter"
)

// judgeChunk is how many patches are judged in one go; sums are taken chunk by chunk, so that they come
// out alike on any number of cores.
const judgeChunk = 1024

// judge says what becomes of every patch once the stack is cut.
func (w *predictor) judge(ctx context.Context, set *patch.Set) (*Prediction, error) {
	n := set.Len()
	p := &Prediction{Stack: w.stack, Left: make([]float32, n), Side: make([]int16, n), Class: make([]Class, n),
		StickOut: make([]float32, n), Reach: make([]float32, n)}
	for i := range w.Sides {
		w.index(i)
	}
	j := w.newJudge(set, p)
	chunks := make([][]SideCut, (n+judgeChunk-1)/judgeChunk)
	err := field.EachRow(ctx, len(chunks), func(k int) {
		chunks[k] = w.table()
		for i := k * judgeChunk; i < min(n, (k+1)*judgeChunk); i++ {
			j.patch(i, chunks[k])
		}
	})
	if err != nil {
		return nil, err
	}
	p.By = w.table()
	for _, c := range chunks {
		for i := range c {
			a, b := &p.By[i], &c[i]
			a.Seen, a.Touched, a.Held = a.Seen+b.Seen, a.Touched+b.Touched, a.Held+b.Held
			a.StickOut, a.Reach = max(a.StickOut, b.StickOut), max(a.Reach, b.Reach)
		}
	}
	for i, c := range p.Class {
		p.Area[c] += set.Area(i)
	}
	if w.Mesh != nil {
		b, err := w.stack.Beyond(ctx, w.Mesh, w.Zone, []float64{0, w.grain(), max(w.Tolerance, w.Pitch)})
		if err != nil {
			return nil, err
		}
		p.Stays = *b
	}
	p.Places = w.places(set, p)
	return p, ctx.Err()
}

// table is an empty SideCut for every cut and side.
func (w *predictor) table() []SideCut {
	out := make([]SideCut, 0, len(w.Cuts)*len(w.Sides))
	for k := range w.Cuts {
		for s := range w.Sides {
			out = append(out, SideCut{Side: s, Cut: k})
		}
	}
	return out
}

// judge holds what patches are judged with.
type judge struct {
	*predictor
	set   *patch.Set
	out   *Prediction
	slack float64                                  // how deep a cutter put to a place may run into the model elsewhere
	shape []struct{ grown, shrunk cutter.Profile } // by cut: as the field was drawn, and smaller by slack
	rise  []struct{ grown, shrunk float64 }
}

func (w *predictor) newJudge(set *patch.Set, p *Prediction) *judge {
	// put to a place in a corner, a cutter runs into the other wall by more than it must leave standing
	j := &judge{predictor: w, set: set, out: p, slack: max(1e-3, w.Tolerance/3)}
	j.shape = make([]struct{ grown, shrunk cutter.Profile }, len(w.Cuts))
	j.rise = make([]struct{ grown, shrunk float64 }, len(w.Cuts))
	for k := range w.Cuts {
		c := &w.Cuts[k]
		j.shape[k].grown, j.rise[k].grown, _ = c.Cutter.Grown(c.allowance())
		j.shape[k].shrunk, j.rise[k].shrunk, _ = c.Cutter.Grown(c.allowance() - j.slack)
	}
	return j
}

// verdict is what one cutter on one side makes of a patch, the better the less.
type verdict uint8

const (
	touches verdict = iota
	heldUp
	tooDeep
	tooLow
	noFit
	away // the patch faces away
)

// need is what a cutter would have to be like.
type need struct{ stickOut, reach float64 }

// patch judges patch i.
func (j *judge) patch(i int, table []SideCut) {
	q, n, area := j.set.Centre(i), j.set.Normal(i), j.set.Area(i)
	p := j.out
	p.Side[i] = -1
	if !j.Zone.Has(q) || j.Buried != nil && j.Buried[i] {
		p.Class[i] = Spared
		return
	}
	best, cos, seenBy, seenCos := away, -2.0, -1, -2.0
	for s, t := range j.turns {
		c := n.Dot(t.Facing())
		if c < -1e-3 {
			continue
		}
		seen := false
		mine := away
		for k := range j.Cuts {
			v, nd := j.try(k, s, q, n)
			row := &table[k*len(j.Sides)+s]
			seen = seen || v < noFit
			mine = min(mine, v)
			switch v {
			case touches:
				row.Touched += area
			case heldUp:
				row.Held += area
				row.StickOut, row.Reach = max(row.StickOut, nd.stickOut), max(row.Reach, nd.reach)
				j.note(i, nd)
			}
		}
		if seen = seen || j.sees(s, q, n); !seen {
			continue
		}
		for k := range j.Cuts {
			table[k*len(j.Sides)+s].Seen += area
		}
		if mine < best || mine == best && c > cos {
			best, cos = mine, c
			p.Side[i] = int16(s)
		}
		if c > seenCos {
			seenBy, seenCos = s, c
		}
	}
	p.Class[i] = [...]Class{Reached, Held, Deep, Low, Narrow, Undercut}[best]
	if best == away && seenBy >= 0 {
		p.Class[i] = Narrow
	}
	if best != heldUp {
		p.StickOut[i], p.Reach[i] = 0, 0
	}
	p.Left[i] = float32(j.left(q, n))
}

// note keeps the least that would do for patch i.
func (j *judge) note(i int, nd need) {
	p := j.out
	if p.StickOut[i] == 0 && p.Reach[i] == 0 || float32(nd.stickOut) < p.StickOut[i] || float32(nd.reach) < p.Reach[i] {
		p.StickOut[i], p.Reach[i] = float32(nd.stickOut), float32(nd.reach)
	}
}

// sees reports whether side s looks onto a place: nothing stands over a point just off it.
func (j *judge) sees(s int, q, n geom.Vec3) bool {
	const off, pin = 0.02, 0.005
	o := j.turns[s].ToSide(q.Add(n.Mul(off)))
	return j.ix[s].Height(cutter.FlatEnd(pin), o.X, o.Y) <= o.Z
}

// try puts the cutter of cut k on side s to a place: with its allowance, square to the surface.
func (j *judge) try(k, s int, q, n geom.Vec3) (verdict, need) {
	c := &j.Cuts[k]
	ns := j.turns[s].ToSide(n)
	qs := j.turns[s].ToSide(q).Add(ns.Mul(c.allowance()))
	nxy := ns.XY().Len()
	slope := math.Inf(1)
	if ns.Z > 1e-9 {
		slope = nxy / ns.Z
	}
	r, h := c.Cutter.Contact(slope)
	u := geom.Vec2{}
	if nxy > 1e-9 {
		u = ns.XY().Mul(1 / nxy)
	}
	best, nd := j.stand(k, s, geom.Vec3{X: qs.X + float64(u.X*r), Y: qs.Y + float64(u.Y*r), Z: qs.Z - h}, ns)
	if f := c.Cutter.Flat; best != touches && f > 0 && nxy < 1e-3 {
		// a level place lies anywhere under a flat end
		for a := -1; a < 8 && best != touches; a++ {
			at := qs
			if a >= 0 {
				sin, cos := math.Sincos(float64(a) * math.Pi / 4)
				at = geom.Vec3{X: qs.X + float64(f*cos), Y: qs.Y + float64(f*sin), Z: qs.Z}
			}
			if v, m := j.stand(k, s, at, ns); v < best {
				best, nd = v, m
			}
		}
	}
	return best, nd
}

// stand is what keeps a tip from a place.
func (j *judge) stand(k, s int, tip, n geom.Vec3) (verdict, need) {
	c, t := &j.Cuts[k], &j.cuts[k][s]
	if !j.fits(k, s, tip, n) {
		return noFit, need{}
	}
	const slack = 1e-6
	if r := &j.rooms[k][s]; tip.X < r.X0-slack || tip.X > r.X1+slack || tip.Y < r.Y0-j.slack || tip.Y > r.Y1+j.slack || tip.Z < c.Lowest[s]-j.slack {
		return tooLow, need{}
	}
	around := func(f interface {
		MaxAround(x0, x1, y0, y1 float64) float32
	}) float64 {
		const half = pitch / 2
		return float64(f.MaxAround(tip.X-half, tip.X+half, tip.Y-half, tip.Y+half))
	}
	if tip.Z < around(t.floor)-j.slack {
		nd := need{}
		for i, l := range c.Cutter.Collars() {
			if m := j.clearOf(t, i, s, l, tip, around); m > l.Z+slack {
				if l.Z >= c.Cutter.StickOut-slack {
					nd.stickOut = max(nd.stickOut, m-(l.Z-c.Cutter.StickOut))
				} else {
					nd.reach = max(nd.reach, m)
				}
			}
		}
		return heldUp, nd
	}
	if t.deep != nil && tip.Z < around(t.deep)-j.slack {
		return tooDeep, need{}
	}
	return touches, need{}
}

// clearOf is how far above the tip collar i must begin.
func (j *judge) clearOf(t *tips, i, s int, l cutter.Collar, tip geom.Vec3, around func(interface {
	MaxAround(x0, x1, y0, y1 float64) float32
}) float64) float64 {
	m := math.Inf(-1)
	if t.tops[i] != nil {
		m = around(t.tops[i]) + j.standing() + j.Clear - tip.Z
	}
	for _, b := range j.Walls[s] {
		if tip.Y-l.R-j.Clear-pitch <= b.Y {
			m = max(m, b.Top+j.Clear-tip.Z)
		}
	}
	return m
}

// fits reports whether the cutting end at tip touches a surface of normal n without running into anything
// else by more than slack. Four nodes about the tip that lie under the touching plane settle most.
func (j *judge) fits(k, s int, tip, n geom.Vec3) bool {
	f := j.cuts[k][s].exact
	a, b := (tip.X-f.X0)/f.DX, (tip.Y-f.Y0)/f.DY
	x, y := int(math.Floor(a)), int(math.Floor(b))
	least := math.Inf(-1) // nothing is known outside the grid
	if x >= 0 && y >= 0 && x+1 < f.NX && y+1 < f.NY {
		gx, gy := 0.0, 0.0
		if n.Z > 0.2 {
			gx, gy = -n.X/n.Z, -n.Y/n.Z
		}
		high, low := math.Inf(-1), math.Inf(1)
		least = math.Inf(1)
		for c := range 4 {
			i, m := x+c&1, y+c>>1
			z := float64(f.Z[m*f.NX+i]) - tip.Z
			over := z - float64(gx*(float64(i)-a)*f.DX) - float64(gy*(float64(m)-b)*f.DY)
			high, least = max(high, over), min(least, over)
			low = min(low, z)
		}
		if high*max(n.Z, 0.2) <= j.slack {
			return true
		}
		if low > 8*f.DX {
			return false
		}
	}
	if !j.Exact || j.Cuts[k].Rough {
		// it may come half a cell aside of a wall, and from a node on one side of a corner to the other
		return least*max(n.Z, 0.2) <= j.slack
	}
	// a cutter smaller by the slack, so that the wall it touches does not count
	return j.ix[s].Height(j.shape[k].shrunk, tip.X, tip.Y)-j.rise[k].shrunk <= tip.Z+1e-6
}
