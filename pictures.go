package barwise

import (
	"context"
	"fmt"
	"image"
	"math"

	"barwise/geom"
	"barwise/proof"
	"barwise/report"
	"barwise/stock"
)

// album draws the piece as the proof's replay goes on.
type album struct {
	r      *run
	progs  []replayed
	err    error
	stages []report.Picture
	piece  *report.Picture
	devmap *report.Picture
	cusps  *report.Picture
}

func newAlbum(r *run) *album { return &album{r: r} }

// after draws the stock as one program leaves it, seen from near the side that was cut.
func (a *album) after(ctx context.Context, i int, st *stock.Stack) {
	if a.err != nil || a.r.noPics {
		return
	}
	caption := fmt.Sprintf("after program %d", i+1)
	if t := a.progs[i].Title; t != "" {
		caption += ": " + t
	}
	b := a.r.job.Bar
	deg := a.progs[i].SideDeg
	if geom.IsEnd(deg) {
		deg = 0 // from above, as every picture is
	}
	cam := a.camera(deg+28, b.Length/2)
	img, err := a.draw(ctx, st, cam, 300, b.Length)
	if err != nil {
		a.err = err
		return
	}
	a.stages = append(a.stages, report.Picture{Name: fmt.Sprintf("after-%02d.png", i+1), Caption: caption, Image: img})
}

// camera looks at the bar's axis at height y from the way index angle deg faces, from a little above
// the free end, with the bar upright.
func (a *album) camera(deg, y float64) stock.Camera {
	f := geom.TurnDeg(deg).Facing()
	s, c := math.Sincos(14 * math.Pi / 180)
	dir := geom.Vec3{X: -f.X * c, Y: -s, Z: -f.Z * c}
	return stock.Camera{At: geom.Vec3{Y: y}, Dir: dir, Up: geom.Vec3{Y: 1}, Width: 1.5 * max(a.r.job.Bar.Width, a.r.job.Bar.Height)}
}

// draw renders at twice the size that is kept.
func (a *album) draw(ctx context.Context, st *stock.Stack, c stock.Camera, w int, tall float64) (img *image.RGBA, err error) {
	h := int(float64(w) * (tall*0.98 + 0.35*c.Width) / c.Width)
	p, err := st.Render(ctx, c, 2*w, 2*h)
	if err != nil {
		return nil, err
	}
	return report.Shade(p, c.Width/float64(2*w)), nil
}

// finish draws the finished piece and the deviation map.
func (a *album) finish(ctx context.Context, res *proof.Result) error {
	if a.err != nil || a.r.noPics {
		return a.err
	}
	p := a.r.placed
	y0, y1 := p.StubY-4, p.Y1
	img, err := a.draw(ctx, res.Stack, a.camera(firstAcross(a.r.job.Sides)+32, (y0+y1)/2), 560, y1-y0)
	if err != nil {
		return err
	}
	a.piece = &report.Picture{Name: "piece.png", Image: img,
		Caption: fmt.Sprintf("The piece as the programs leave it, on its stub. Each hue is one side's cutting; computed at %g mm.", res.Pitch)}
	if m := report.DeviationMap(&res.Map, a.r.job.Sides, a.r.job.Tolerance); m != nil {
		a.devmap = &report.Picture{Name: "deviation.png", Image: m,
			Caption: "What is left on the model's surface, unrolled: one panel a side, free end up; neighbouring panels overlap."}
	}
	if c := a.r.cusps; c != nil && len(c.Places) > 0 {
		var at, n []geom.Vec3
		var h []float64
		for _, p := range c.Places {
			at, n, h = append(at, p.Point), append(n, p.Normal), append(h, p.Height)
		}
		if m := report.CuspMap(at, n, h, c.Each, a.r.job.Sides, c.Asked); m != nil {
			a.cusps = &report.Picture{Name: "cusps.png", Image: m,
				Caption: fmt.Sprintf("The ridges between finishing passes, measured at %d places spread evenly over the surface, unrolled: one panel a side, free end up.", len(c.Places))}
		}
	}
	return nil
}
