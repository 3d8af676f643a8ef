package stock

import (
	"context"
	"math"

	"barwise/geom"
)

// Camera looks at the stock along parallel rays, in the part frame.
type Camera struct {
	At    geom.Vec3 // what lies in the middle of the picture
	Dir   geom.Vec3 // the way the camera looks
	Up    geom.Vec3 // shown upward; need not be square to Dir
	Width float64   // mm across the picture
}

// Picture is what a camera sees, row after row from the top: pixel (x, y) is at y·W + x.
type Picture struct {
	W, H   int
	Depth  []float32    // mm along Dir from the plane through At; +Inf where there is nothing
	Normal [][3]float32 // outward, in the frame of the camera: right, up, toward it
	Side   []int8       // side whose cut is seen, −1 the bar's own skin, −2 nothing
}

// axes returns the camera's right, up and backward directions.
func (c Camera) axes() (right, up, back geom.Vec3) {
	back = c.Dir.Unit().Mul(-1)
	right = c.Up.Cross(back).Unit()
	return right, back.Cross(right), back
}

// Render draws a w×h picture on all cores. It returns only the error of ctx.
func (v *View) Render(ctx context.Context, c Camera, w, h int) (*Picture, error) {
	p := &Picture{W: w, H: h, Depth: make([]float32, w*h), Normal: make([][3]float32, w*h), Side: make([]int8, w*h)}
	right, up, back := c.axes()
	dir := back.Mul(-1)
	far := v.bar.Length + v.bar.Width + v.bar.Height + c.At.Len()
	px := c.Width / float64(w)
	err := eachBand(ctx, 0, h-1, func(y0, y1 int) error {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		for y := y0; y <= y1; y++ {
			for x := range w {
				o := c.At.Add(right.Mul((float64(x) + 0.5 - float64(w)/2) * px)).
					Add(up.Mul((float64(h)/2 - float64(y) - 0.5) * px)).Add(back.Mul(far))
				k := y*w + x
				hit, ok := v.Hit(o, dir)
				if !ok {
					p.Depth[k], p.Side[k] = float32(math.Inf(1)), -2
					continue
				}
				p.Depth[k], p.Side[k] = float32(hit.T-far), int8(hit.Side)
				p.Normal[k] = [3]float32{float32(hit.N.Dot(right)), float32(hit.N.Dot(up)), float32(hit.N.Dot(back))}
			}
		}
		return nil
	})
	return p, err
}

// Render draws a picture of the stock as it is now.
func (s *Stack) Render(ctx context.Context, c Camera, w, h int) (*Picture, error) {
	return s.View().Render(ctx, c, w, h)
}
