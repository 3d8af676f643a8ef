package finish

import "math"

// spread adds the overlap: every node within Overlap of the share, measured along the path surface so
// that an edge is not followed by all that lies below it. A drop is followed as far as the overlap
// reaches, the node below it then hangs.
func (w *work) spread(v *view) {
	f := v.f
	rem := make([]float32, f.Len())
	for k, s := range v.state {
		if s == own || s == wall {
			rem[k] = float32(w.p.Overlap)
		}
	}
	w.crests(v)
	for range 2 {
		for j := 0; j < f.NY; j++ {
			for i := 0; i < f.NX; i++ {
				w.take(v, rem, i, j)
			}
		}
		for j := f.NY - 1; j >= 0; j-- {
			for i := f.NX - 1; i >= 0; i-- {
				w.take(v, rem, i, j)
			}
		}
	}
}

// crests takes the upper node of every wall into the margin: lines must come over it to reach the wall.
func (w *work) crests(v *view) {
	f := v.f
	for j := 1; j+1 < f.NY; j++ {
		for i := 1; i+1 < f.NX; i++ {
			if !v.foot[j*f.NX+i] {
				continue
			}
			for _, o := range around {
				at := (j+o[1])*f.NX + i + o[0]
				up := float64(f.Z[at]-f.Z[j*f.NX+i]) > steepRise*w.pitch
				if up && v.state[at] == out && w.inside(v, f.X(i+o[0]), f.Y(j+o[1])) {
					v.state[at], v.e[at] = margin, f.Z[at]
				}
			}
		}
	}
}

var around = [8][2]int{{-1, -1}, {0, -1}, {1, -1}, {-1, 0}, {1, 0}, {-1, 1}, {0, 1}, {1, 1}}

// take lets node (i, j) be reached from its neighbours, if that brings it nearer to the share.
func (w *work) take(v *view, rem []float32, i, j int) {
	f := v.f
	at := j*f.NX + i
	if v.state[at] == own {
		return
	}
	z := f.Z[at]
	for _, o := range around {
		a, b := i+o[0], j+o[1]
		if a < 0 || b < 0 || a >= f.NX || b >= f.NY {
			continue
		}
		from := b*f.NX + a
		d := w.pitch
		if o[0] != 0 && o[1] != 0 {
			d *= math.Sqrt2
		}
		left := float64(rem[from]) - d
		if left <= 0 || !w.inside(v, f.X(i), f.Y(j)) {
			continue
		}
		drop := float64(v.e[from] - z)
		if r := float32(float64(rem[from]) - math.Hypot(d, drop)); r > 0 && !v.beyond[at] {
			if r > rem[at] && v.state[at] != wall {
				rem[at], v.state[at], v.e[at] = r, margin, z
			}
			continue
		}
		if drop <= 0 || v.state[at] == margin || v.state[at] == wall {
			continue
		}
		if e := max(v.e[from]-float32(left), z); v.state[at] == out || e < v.e[at] {
			v.state[at], v.e[at] = hanging, e
		}
	}
}
