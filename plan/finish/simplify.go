package finish

import "math"

// trace is a stretch of path over one straight line in plan, sample by sample: u along the line in
// units of the last decimal, z the exact tip height in mm. air marks samples that stand above the
// surface because nothing lower is wanted there.
type trace struct {
	u   []int
	z   []float64
	air []bool
}

func (t *trace) add(u int, z float64, air bool) {
	t.u, t.z, t.air = append(t.u, u), append(t.z, z), append(t.air, air)
}

func (t *trace) len() int { return len(t.u) }

func (t *trace) reset() { t.u, t.z, t.air = t.u[:0], t.z[:0], t.air[:0] }

// steepWindow bounds how far a tolerance square to the surface may be stretched upright.
const steepWindow = 10

// windows returns the heights between which the path may pass at every sample: from a tenth of the
// tolerance below the exact height to the tolerance above it, square to the surface along the line. A
// window always holds a representable height.
func (w *work) windows(t *trace, lo, hi []float64) ([]float64, []float64) {
	lo, hi = lo[:0], hi[:0]
	n := t.len()
	slope := func(a, b int) float64 {
		return math.Abs(t.z[b]-t.z[a]) / (float64(t.u[b]-t.u[a]) * w.unit)
	}
	for i := range n {
		m := math.Inf(1)
		if i > 0 {
			m = slope(i-1, i)
		}
		if i+1 < n {
			m = min(m, slope(i, i+1))
		}
		m = min(m, steepWindow)
		sec := math.Sqrt(1 + float64(m*m))
		l := t.z[i] - float64(w.p.Tolerance/10*sec)
		h := t.z[i] + float64(w.p.Tolerance*sec)
		if t.air[i] {
			l, h = t.z[i], t.z[i]+float64(20*w.p.Tolerance) // nothing may go below what the reach allows
		}
		lo, hi = append(lo, l), append(hi, max(h, float64(w.up(l))/w.inv))
	}
	return lo, hi
}

// up is the lowest representable height not below z, in units.
func (w *work) up(z float64) int { return int(math.Ceil(float64(z*w.inv) - 1e-7)) }

// nearest is the representable coordinate nearest to x, in units.
func (w *work) nearest(x float64) int { return int(math.Floor(float64(x*w.inv) + 0.5)) }

// down is the highest representable height not above z, in units.
func (w *work) down(z float64) int { return int(math.Floor(float64(z*w.inv) + 1e-7)) }

// simplify returns the fewest samples, greedily, and their heights in units, whose polyline passes
// through every window. From a fixed start the slopes that pass all windows so far are a cone; the
// chord ends at the last sample at which the cone holds a representable height.
func (w *work) simplify(t *trace, lo, hi []float64) (at []int, z []int) {
	n := t.len()
	if n == 0 {
		return nil, nil
	}
	start := w.up(t.z[0])
	if float64(start)/w.inv > hi[0] {
		start = w.up(lo[0])
	}
	at, z = append(at, 0), append(z, start)
	for i := 0; i < n-1; {
		z0 := float64(z[len(z)-1]) / w.inv
		low, high := math.Inf(-1), math.Inf(1)
		end, endZ := -1, 0
		for k := i + 1; k < n; k++ {
			dt := float64(t.u[k]-t.u[i]) * w.unit
			low, high = max(low, (lo[k]-z0)/dt), min(high, (hi[k]-z0)/dt)
			if low > high {
				break
			}
			a, b := z0+float64(low*dt), z0+float64(high*dt)
			if v := w.up(max(a, min(t.z[k], b))); float64(v)/w.inv <= b+1e-10 {
				end, endZ = k, v
			} else if v = w.down(b); float64(v)/w.inv >= a-1e-10 {
				end, endZ = k, v
			}
		}
		if end < 0 { // cannot be: the next window holds a representable height and nothing stands between
			end, endZ = i+1, w.up(t.z[i+1])
		}
		at, z = append(at, end), append(z, endZ)
		i = end
	}
	return at, z
}
