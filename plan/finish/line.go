package finish

import (
	"context"
	"math"
	"sync/atomic"

	"barwise/geom"
	"barwise/geom/field"
	"barwise/plan/share"
)

// maxNodes bounds one field of lines: 32 MB of heights.
const maxNodes = 8 << 20

// A field has a fixed cost, that of looking through the model. idleNodes is how many nodes without use
// are worth another field; fewer than fewNodes are asked one by one.
const (
	idleNodes = 500_000
	fewNodes  = 4_000
)

// segment is one unbroken stretch of a raster line.
type segment struct {
	pts   []geom.Vec3
	cross int // position of the line, units
	level int
	layer int
	// oneWay: it is cut from its first point to its last and not the other way
	oneWay bool
}

// line is one raster line with the stretches of it that are wanted, all in units of the last decimal.
type line struct {
	cross int
	spans [][2]int
}

// raster makes all segments of one layer: level by level, strip by strip.
func (w *work) raster(ctx context.Context, v *share.View, ly *layer, index int, fig *Figures) ([]segment, error) {
	var out []segment
	lo, hi := w.crossRange(v, ly.dir)
	for level := 0; level <= ly.levels; level++ {
		pos, d := ly.lines(level, lo, hi)
		lines := make([]line, len(pos))
		err := share.Rows(ctx, len(pos), func(k int) { lines[k] = line{pos[k], w.spans(v, ly, level, pos[k])} })
		if err != nil {
			return nil, err
		}
		for len(lines) > 0 {
			var n int
			var span [2]int
			if n, span = w.nextStrip(lines); n == 0 {
				lines = lines[1:]
				continue
			}
			segs, err := w.strip(ctx, v, ly, lines[:n], d, span, fig)
			if err != nil {
				return nil, err
			}
			if len(segs) > 0 {
				fig.StepoverMax = max(fig.StepoverMax, float64(ly.gap(level))*w.unit)
				if fig.StepoverMin == 0 || float64(ly.gap(level))*w.unit < fig.StepoverMin {
					fig.StepoverMin = float64(ly.gap(level)) * w.unit
				}
			}
			for k := range segs {
				segs[k].level, segs[k].layer = level, index
			}
			out = append(out, segs...)
			lines = lines[n:]
		}
	}
	return out, nil
}

// crossRange and alongRange are the limits of the tip across and along the lines, in units, inward.
func (w *work) crossRange(v *share.View, d Direction) (lo, hi int) {
	if d == Along {
		return w.up(v.XMin), w.down(v.XMax)
	}
	return w.up(v.YMin), w.down(v.YMax)
}

func (w *work) alongRange(v *share.View, d Direction) (lo, hi int) {
	if d == Along {
		return w.up(v.YMin), w.down(v.YMax)
	}
	return w.up(v.XMin), w.down(v.XMax)
}

// nextStrip counts how many lines, from the first, go into one field, and the range along them; 0 where
// the first has nothing on it.
func (w *work) nextStrip(lines []line) (n int, span [2]int) {
	if len(lines[0].spans) == 0 {
		return 0, span
	}
	span = [2]int{math.MaxInt, math.MinInt}
	step := w.sampleStep()
	empty := 0
	for k, l := range lines {
		if len(l.spans) == 0 {
			if empty++; n > 0 && empty*((span[1]-span[0])/step+3) > idleNodes {
				break
			}
			continue
		}
		a, b := min(span[0], l.spans[0][0]), max(span[1], l.spans[len(l.spans)-1][1])
		if n > 0 && (k+1)*((b-a)/step+3) > maxNodes {
			break
		}
		span, n, empty = [2]int{a, b}, k+1, 0
	}
	return n, span
}

// sampleStep is the spacing of the samples along a line, in units: so fine that between two exact
// heights, on a slope of 60°, the surface of a ball over a point rises by no more than an eighth of
// the tolerance above the chord: p²/(8 R cos²θ).
func (w *work) sampleStep() int {
	p := math.Sqrt(w.round() * w.p.Tolerance / 4)
	return max(1, int(p*w.inv))
}

// round is the radius that bounds how sharply the path surface can bend down.
func (w *work) round() float64 {
	if r := w.in.Cutter.Round; r > 0 {
		return r
	}
	return w.in.Cutter.R / 4
}

// node turns a place on a line into grid coordinates: columns and rows of the sharing grid.
func (w *work) place(dir Direction, cross int, u int) (x, y float64) {
	if dir == Along {
		return float64(cross) / w.inv, float64(u) / w.inv
	}
	return float64(u) / w.inv, float64(cross) / w.inv
}

// spans returns the stretches of a line on which the layer wants the level.
func (w *work) spans(v *share.View, ly *layer, level, cross int) [][2]int {
	f := v.Field
	n, stride, other, c0, u0 := f.NY, f.NX, 1, f.X0, f.Y0
	if ly.dir == Across {
		n, stride, other, c0, u0 = f.NX, 1, f.NX, f.Y0, f.X0
	}
	c := int(math.Floor((float64(cross)/w.inv - c0) / w.pitch))
	if c < 0 || c+1 >= f.Len()/n {
		return nil
	}
	lo, hi := w.alongRange(v, ly.dir)
	half := w.pitch / 2
	if level > 0 {
		half += float64(ly.gap(level)) / w.inv
	}
	want := uint8(1 + level)
	var out [][2]int
	for j := 0; j < n; j++ {
		k := j*stride + c*other
		if ly.need[k] < want && ly.need[k+other] < want {
			continue
		}
		u := u0 + float64(float64(j)*w.pitch)
		a, b := max(w.down(u-half), lo), min(w.up(u+half), hi)
		switch m := len(out); {
		case a >= b:
		case m > 0 && a <= out[m-1][1]:
			out[m-1][1] = max(out[m-1][1], b)
		default:
			out = append(out, [2]int{a, b})
		}
	}
	return out
}

// strip cuts some neighbouring lines, d units apart, from one exact field.
func (w *work) strip(ctx context.Context, v *share.View, ly *layer, lines []line, d int, span [2]int, fig *Figures) ([]segment, error) {
	step := w.sampleStep()
	u0 := floorDiv(span[0], step) * step
	n := (span[1]-u0)/step + 2
	g := field.Grid{
		X0: float64(lines[0].cross) / w.inv, DX: float64(d) / w.inv, NX: len(lines),
		Y0: float64(u0) / w.inv, DY: float64(step) / w.inv, NY: n,
	}
	if ly.dir == Across {
		g.X0, g.Y0, g.DX, g.DY, g.NX, g.NY = g.Y0, g.X0, g.DY, g.DX, g.NY, g.NX
	}
	wanted := 0
	for _, l := range lines {
		for _, p := range l.spans {
			wanted += (p[1]-p[0])/step + 1
		}
	}
	var f *field.Field
	if wanted > fewNodes {
		var err error
		if f, err = w.in.Surface.Field(ctx, v.Turn, w.in.Cutter, w.in.Allowance, g); err != nil {
			return nil, err
		}
	}
	found := make([][]segment, len(lines))
	var asked atomic.Int64
	err := share.Rows(ctx, len(lines), func(k int) {
		c := &tracer{work: w, v: v, ly: ly, cross: lines[k].cross, u0: u0, step: step}
		c.z = make([]float32, n)
		if f == nil {
			c.ask(lines[k].spans)
		} else {
			c.copy(f, k)
		}
		found[k] = c.run(lines[k].spans)
		asked.Add(int64(c.asked))
	})
	fig.ExactHeights += int(asked.Load())
	var out []segment
	for _, s := range found {
		out = append(out, s...)
	}
	return out, err
}

// copy takes the heights of line k from a field of lines.
func (c *tracer) copy(f *field.Field, k int) {
	for j := range c.z {
		if c.ly.dir == Along {
			c.z[j] = f.Z[j*f.NX+k]
		} else {
			c.z[j] = f.Z[k*f.NX+j]
		}
	}
}

// ask asks the heights on the spans of a line, and between those that may be joined, one by one.
func (c *tracer) ask(spans [][2]int) {
	for k, s := range spans {
		lo, hi := s[0], s[1]
		if k+1 < len(spans) && float64(spans[k+1][0]-hi)*c.unit <= c.longestBridge() {
			hi = spans[k+1][0]
		}
		for j := max(0, floorDiv(lo-c.u0, c.step)); j < len(c.z) && c.u0+j*c.step <= hi; j++ {
			x, y := c.place(c.ly.dir, c.cross, c.u0+j*c.step)
			z, _ := c.set.Height(c.v, x, y)
			c.z[j] = float32(z)
			c.asked++
		}
	}
}

func floorDiv(a, b int) int {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}
