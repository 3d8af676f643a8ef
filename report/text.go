package report

import (
	"image"
	"image/color"
	"sync"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"
)

var parsedFont = sync.OnceValue(func() *opentype.Font {
	f, err := opentype.Parse(goregular.TTF)
	if err != nil {
		panic(err) // the font is part of the program
	}
	return f
})

// label draws s with its baseline's left end at (x, y); anchor 0, 0.5 or 1 puts that part of its
// width there instead.
func label(img *image.RGBA, x, y int, anchor, size float64, c color.Color, s string) {
	face, err := opentype.NewFace(parsedFont(), &opentype.FaceOptions{Size: size, DPI: 72, Hinting: font.HintingFull})
	if err != nil {
		panic(err)
	}
	d := font.Drawer{Dst: img, Src: image.NewUniform(c), Face: face}
	w := d.MeasureString(s)
	d.Dot = fixed.Point26_6{X: fixed.I(x) - fixed.Int26_6(anchor*float64(w)), Y: fixed.I(y)}
	d.DrawString(s)
}
