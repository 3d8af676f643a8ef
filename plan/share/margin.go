package share

import "math"

// Spread adds the overlap: every node within Overlap of the share, measured along the path surface so
// that an edge is not followed by all that lies below it. A drop is followed as far as the overlap
// reaches, the node below it then hangs.
func (s *Set) Spread(v *View) {
	f := v.Field
	rem := make([]float32, f.Len())
	for k := range v.State {
		if v.Core(k) {
			rem[k] = float32(s.Overlap)
		}
	}
	s.crests(v)
	for range 2 {
		for j := 0; j < f.NY; j++ {
			for i := 0; i < f.NX; i++ {
				s.take(v, rem, i, j)
			}
		}
		for j := f.NY - 1; j >= 0; j-- {
			for i := f.NX - 1; i >= 0; i-- {
				s.take(v, rem, i, j)
			}
		}
	}
}

// crests takes the upper node of every wall into the margin: lines must come over it to reach the wall.
func (s *Set) crests(v *View) {
	f := v.Field
	for j := 1; j+1 < f.NY; j++ {
		for i := 1; i+1 < f.NX; i++ {
			if !v.Foot[j*f.NX+i] {
				continue
			}
			for _, o := range Around {
				at := (j+o[1])*f.NX + i + o[0]
				up := float64(f.Z[at]-f.Z[j*f.NX+i]) > steepRise*s.Pitch
				if up && v.State[at] == Out && s.Inside(v, f.X(i+o[0]), f.Y(j+o[1])) {
					v.State[at], v.E[at] = Margin, f.Z[at]
				}
			}
		}
	}
}

// Around are the steps to the eight neighbours of a node.
var Around = [8][2]int{{-1, -1}, {0, -1}, {1, -1}, {-1, 0}, {1, 0}, {-1, 1}, {0, 1}, {1, 1}}

// take lets node (i, j) be reached from its neighbours, if that brings it nearer to the share.
func (s *Set) take(v *View, rem []float32, i, j int) {
	f := v.Field
	at := j*f.NX + i
	if v.State[at] == Own {
		return
	}
	z := f.Z[at]
	for _, o := range Around {
		a, b := i+o[0], j+o[1]
		if a < 0 || b < 0 || a >= f.NX || b >= f.NY {
			continue
		}
		from := b*f.NX + a
		d := s.Pitch
		if o[0] != 0 && o[1] != 0 {
			d *= math.Sqrt2
		}
		left := float64(rem[from]) - d
		if left <= 0 || !s.Inside(v, f.X(i), f.Y(j)) {
			continue
		}
		drop := float64(v.E[from] - z)
		if r := float32(float64(rem[from]) - math.Hypot(d, drop)); r > 0 && !v.Beyond[at] {
			if r > rem[at] && v.State[at] != Wall {
				rem[at], v.State[at], v.E[at] = r, Margin, z
			}
			continue
		}
		if drop <= 0 || v.State[at] == Margin || v.State[at] == Wall {
			continue
		}
		if e := max(v.E[from]-float32(left), z); v.State[at] == Out || e < v.E[at] {
			v.State[at], v.E[at] = Hanging, e
		}
	}
}
