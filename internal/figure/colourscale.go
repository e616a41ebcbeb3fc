package figure

import (
	"math"

	"limitans/internal/figure/scene"
)

// The colour scale of thickness: from dark blue over green to pale yellow, in
// the Oklab space (Ottosson 2020; matrices from memory, checked by the test
// that white has L = 1 and no chroma). Lightness rises in proportion to the
// value, so that equal steps look equal and a grey print keeps the order.
const (
	scaleDark, scaleLight     = 0.30, 0.96
	scaleHueFrom, scaleHueTo  = 275.0, 105.0
	scaleChroma               = 0.105
	scaleFromUM, scaleToUM    = 150.0, 550.0 // fixed, so that two scans can be compared by eye
	contourStepUM, tickStepUM = 50.0, 50.0
)

// scaleColour is the colour of a share of the scale, 0 to 1; beyond, that of
// the end.
func scaleColour(t float64) scene.Colour {
	t = min(max(t, 0), 1)
	lightness := scaleDark + t*(scaleLight-scaleDark)
	hue := (scaleHueFrom + t*(scaleHueTo-scaleHueFrom)) * math.Pi / 180
	chroma := scaleChroma * (0.85 + 0.15*math.Sin(math.Pi*t))
	return fromOklab(lightness, chroma*math.Cos(hue), chroma*math.Sin(hue))
}

// fromOklab turns Oklab into sRGB, each channel cut to its range.
func fromOklab(lightness, a, b float64) scene.Colour {
	l := cube(lightness + 0.3963377774*a + 0.2158037573*b)
	m := cube(lightness - 0.1055613458*a - 0.0638541728*b)
	s := cube(lightness - 0.0894841775*a - 1.2914855480*b)
	return scene.Colour{
		R: encode(4.0767416621*l - 3.3077115913*m + 0.2309699292*s),
		G: encode(-1.2684380046*l + 2.6097574011*m - 0.3413193965*s),
		B: encode(-0.0041960863*l - 0.7034186147*m + 1.7076147010*s),
		A: 255,
	}
}

func cube(x float64) float64 { return x * x * x }

// encode is the transfer function of sRGB (IEC 61966-2-1).
func encode(linear float64) uint8 {
	x := min(max(linear, 0), 1)
	if x <= 0.0031308 {
		x *= 12.92
	} else {
		x = 1.055*math.Pow(x, 1/2.4) - 0.055
	}
	return uint8(math.Round(255 * x))
}
