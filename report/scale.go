package report

import (
	"image/color"
	"math"
)

// oklab is a colour whose lightness steps look even: L 0…1, a and b about −0.4…0.4.
type oklab struct{ L, A, B float64 }

// rgb converts to sRGB, clipped. Matrices: Ottosson, 'A perceptual color space for image processing'
// (2020), values from memory; scale_test.go checks white, black and the grey axis.
func (c oklab) rgb() color.RGBA {
	l := c.L + 0.3963377774*c.A + 0.2158037573*c.B
	m := c.L - 0.1055613458*c.A - 0.0638541728*c.B
	s := c.L - 0.0894841775*c.A - 1.2914855480*c.B
	l, m, s = l*l*l, m*m*m, s*s*s
	return color.RGBA{
		encode(4.0767416621*l - 3.3077115913*m + 0.2309699292*s),
		encode(-1.2684380046*l + 2.6097574011*m - 0.3413193965*s),
		encode(-0.0041960863*l - 0.7034186147*m + 1.7076147010*s),
		255,
	}
}

// encode is the sRGB transfer function (IEC 61966-2-1), linear 0…1 to 0…255.
func encode(v float64) uint8 {
	if v <= 0.0031308 {
		v *= 12.92
	} else {
		v = 1.055*math.Pow(v, 1/2.4) - 0.055
	}
	return uint8(math.Round(255 * min(1, max(0, v))))
}

// Within colours a measured quantity from 0 to 1: lightness rises evenly from a deep blue to a pale
// yellow, along the one hue axis that all common kinds of colour vision tell apart.
func Within(t float64) color.RGBA {
	t = min(1, max(0, t))
	a, b := oklab{0.30, -0.01, -0.13}, oklab{0.93, -0.01, 0.13}
	return oklab{a.L + t*(b.L-a.L), a.A + t*(b.A-a.A), a.B + t*(b.B-a.B)}.rgb()
}

// Beyond is the colour of what lies outside the limit.
var Beyond = oklab{0.58, 0.19, 0.08}.rgb()

// sideColour gives each side a hue of its own at one lightness, far from its neighbours', and the
// uncut bar grey.
func sideColour(side int) oklab {
	if side < 0 {
		return oklab{0.74, 0, 0.015}
	}
	hues := [...]float64{75, 250, 330, 160, 20, 290, 205}
	s, c := math.Sincos(hues[side%len(hues)] * math.Pi / 180)
	return oklab{0.80, 0.075 * c, 0.075 * s}
}
