package choose

import (
	"context"
	"math"

	"barwise/geom"
	"barwise/geom/field"
	"barwise/shop/cutter"
)

// balls sorts out which finishing cutters are balls that leave the same: of those, where one fits square to a
// place every smaller one does, for it lies within the larger, also when both are drawn out upward. So which
// fit is found by halving.
func (w *work) balls(ctx context.Context) error {
	var group []int
	for k := range w.finish {
		t := &w.finish[k]
		t.rank = -1
		if t.Cutter.Profile == cutter.Ball(t.Cutter.R) && (len(group) == 0 || t.Allowance == w.finish[group[0]].Allowance) {
			t.rank = len(group)
			group = append(group, k)
		}
	}
	w.fits = make([][]int8, len(w.Sides))
	for side := range w.fits {
		w.fits[side] = make([]int8, len(w.rows))
	}
	const lot = 256
	return field.EachRow(ctx, (len(w.rows)+lot-1)/lot, func(b int) {
		for i := b * lot; i < min(len(w.rows), (b+1)*lot); i++ {
			for side := range w.fits {
				if w.away(side, &w.rows[i]) {
					continue
				}
				lo, hi := 0, len(group) // the first that fits is among lo..hi
				for lo < hi {
					mid := (lo + hi) / 2
					if w.put(&w.finish[group[mid]], side, &w.rows[i], w.tip(&w.finish[group[mid]], side, &w.rows[i])) {
						hi = mid
					} else {
						lo = mid + 1
					}
				}
				w.fits[side][i] = int8(lo)
			}
		}
	})
}

// away reports whether a place faces away from a side.
func (w *work) away(side int, r *row) bool { return r.n.Dot(w.turns[side].Facing()) < -1e-3 }

// tip is where a cutter's tip is that touches a place.
func (w *work) tip(t *tool, side int, r *row) geom.Vec3 {
	n := w.turns[side].ToSide(r.n)
	return touching(t.Cutter.Profile, w.turns[side].ToSide(r.q).Add(n.Mul(t.Allowance)), n)
}

// fit reports whether the cutting end, put to row i, runs into the model nowhere.
func (w *work) fit(t *tool, side, i int, tip geom.Vec3) bool {
	if t.rank >= 0 {
		return t.rank >= int(w.fits[side][i])
	}
	return w.put(t, side, &w.rows[i], tip)
}

// put asks the exact surface.
func (w *work) put(t *tool, side int, r *row, tip geom.Vec3) bool {
	n := w.turns[side].ToSide(r.n)
	f := t.sides[side].exact
	a, b := (tip.X-f.X0)/f.DX, (tip.Y-f.Y0)/f.DY
	x, y := int(math.Floor(a)), int(math.Floor(b))
	if x >= 0 && y >= 0 && x+1 < f.NX && y+1 < f.NY {
		// four nodes about the tip that lie under the touching plane settle most
		gx, gy := 0.0, 0.0
		if n.Z > 0.2 {
			gx, gy = -n.X/n.Z, -n.Y/n.Z
		}
		high, low := math.Inf(-1), math.Inf(1)
		for c := range 4 {
			i, m := x+c&1, y+c>>1
			z := float64(f.Z[m*f.NX+i]) - tip.Z
			high = max(high, z-float64(gx*(float64(i)-a)*f.DX)-float64(gy*(float64(m)-b)*f.DY))
			low = min(low, z)
		}
		if high*max(n.Z, 0.2) <= w.slack {
			return true
		}
		if low > 8*f.DX {
			return false
		}
	}
	return w.ix[side].Height(t.shrunk, tip.X, tip.Y)-t.rise <= tip.Z+1e-6
}

// touching is the tip of a cutter that touches a plane of normal n at q.
func touching(c cutter.Profile, q, n geom.Vec3) geom.Vec3 {
	l := n.XY().Len()
	if l < 1e-9 {
		return q
	}
	m := math.Inf(1)
	if n.Z > 1e-9 {
		m = l / n.Z
	}
	r, h := c.Contact(m)
	return geom.Vec3{X: q.X + float64(n.X*r)/l, Y: q.Y + float64(n.Y*r)/l, Z: q.Z - h}
}
