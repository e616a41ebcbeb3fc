package colour

import "math"

// Difference76 is the distance in CIELAB, √(ΔL² + Δa² + Δb²).
func Difference76(x, y Lab) float64 {
	return math.Hypot(x.L-y.L, math.Hypot(x.A-y.A, x.B-y.B))
}

// DifferenceAB is the distance in the plane of a* and b* alone, √(Δa² + Δb²).
// It leaves lightness out, which in an operating picture is the light's.
func DifferenceAB(x, y Lab) float64 { return math.Hypot(x.A-y.A, x.B-y.B) }

// Difference2000 is CIEDE2000 with all weights 1, after Sharma, Wu and Dalal
// (2005), whose 34 pairs it reproduces to four decimals. Symmetric.
func Difference2000(x, y Lab) float64 {
	seven := func(c float64) float64 { p := math.Pow(c, 7); return math.Sqrt(p / (p + 6103515625)) } // 25⁷
	g := 0.5 * (1 - seven((math.Hypot(x.A, x.B)+math.Hypot(y.A, y.B))/2))
	c1, h1 := polar(x.A*(1+g), x.B)
	c2, h2 := polar(y.A*(1+g), y.B)

	deltaL, deltaC := y.L-x.L, c2-c1
	turn, mean := 0.0, h1+h2 // with a grey colour the other's hue is the mean
	if c1*c2 != 0 {
		turn = h2 - h1
		far := math.Abs(turn) > 180
		switch {
		case far && turn > 180:
			turn -= 360
		case far:
			turn += 360
		}
		switch {
		case far && mean < 360:
			mean = (mean + 360) / 2
		case far:
			mean = (mean - 360) / 2
		default:
			mean /= 2
		}
	}
	deltaH := 2 * math.Sqrt(c1*c2) * sine(turn/2)

	meanL, meanC := (x.L+y.L)/2, (c1+c2)/2
	t := 1 - 0.17*cosine(mean-30) + 0.24*cosine(2*mean) + 0.32*cosine(3*mean+6) - 0.20*cosine(4*mean-63)
	square := (meanL - 50) * (meanL - 50)
	sl := 1 + 0.015*square/math.Sqrt(20+square)
	sc, sh := 1+0.045*meanC, 1+0.015*meanC*t
	around := (mean - 275) / 25
	rt := -2 * seven(meanC) * sine(60*math.Exp(-around*around))
	l, c, h := deltaL/sl, deltaC/sc, deltaH/sh
	return math.Sqrt(math.Max(0, l*l+c*c+h*h+rt*c*h)) // rounding may take a zero below itself
}

// polar is chroma and hue in degrees, 0 to 360; a grey has hue 0.
func polar(a, b float64) (chroma, hue float64) {
	chroma = math.Hypot(a, b)
	if chroma == 0 {
		return 0, 0
	}
	hue = math.Atan2(b, a) * 180 / math.Pi
	if hue < 0 {
		hue += 360
	}
	return chroma, hue
}

func sine(degrees float64) float64   { return math.Sin(degrees * math.Pi / 180) }
func cosine(degrees float64) float64 { return math.Cos(degrees * math.Pi / 180) }

// LuminanceContrast is the ratio (L1 + 0.05)/(L2 + 0.05), lighter over darker, 1
// to 21, of two encoded colours (W3C, Web Content Accessibility Guidelines 2.1
// with the threshold 0.04045). 4.5 is asked for text, 3 for large text and
// graphics (from memory). It is for pages, not for stains.
func LuminanceContrast(x, y RGB) (float64, error) {
	a, err := x.Linear()
	if err != nil {
		return math.NaN(), err
	}
	b, err := y.Linear()
	if err != nil {
		return math.NaN(), err
	}
	luminance := func(c RGB) float64 { return 0.2126*c.R + 0.7152*c.G + 0.0722*c.B }
	light, dark := luminance(a), luminance(b)
	return (math.Max(light, dark) + 0.05) / (math.Min(light, dark) + 0.05), nil
}
