package light

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"limitans/fault"
)

// The bounds of a spectrum that can be weighed.
const (
	// mostGapNM: A(λ) falls from 0.40 to 0.22 within 5 nm; a coarser spectrum
	// than this hides where the light stands.
	mostGapNM        = 20
	fewestSamples    = 5
	mostSamples      = 5000
	mostSpectrumText = 1 << 20 // octets
)

// Spectrum is how the power of a light is spread over wavelength, in any unit
// per nanometre. A sample stands for the band that reaches half way to its
// neighbours; the bands at the ends are as wide outwards as inwards.
type Spectrum struct {
	wavelengthNM, perNM, widthNM []float64
}

// NewSpectrum makes a spectrum from 5 to 5000 wavelengths in nm (300 to 1400,
// rising, gaps of at most 20) and the spectral power at each, which is not
// negative and not zero everywhere. Light outside the wavelengths counts as none.
func NewSpectrum(wavelengthNM, powerPerNM []float64) (Spectrum, error) {
	wrong := func(what, expected string) (Spectrum, error) {
		return Spectrum{}, &fault.Error{Code: fault.Invalid, Where: "spectrum", What: what, Expected: expected}
	}
	n := len(wavelengthNM)
	if n != len(powerPerNM) {
		return wrong(fmt.Sprintf("%d wavelengths and %d powers", n, len(powerPerNM)), "one power per wavelength")
	}
	if n < fewestSamples || n > mostSamples {
		return wrong(fmt.Sprintf("%d samples", n), fmt.Sprintf("%d to %d", fewestSamples, mostSamples))
	}
	s := Spectrum{append([]float64{}, wavelengthNM...), append([]float64{}, powerPerNM...), make([]float64, n)}
	sum := 0.0
	for i, nm := range s.wavelengthNM {
		if !(nm >= ShortestNM && nm <= LongestNM) {
			return wrong(fmt.Sprintf("%g nm has no weight", nm), fmt.Sprintf("%d to %d nm", ShortestNM, LongestNM))
		}
		if i > 0 && !(nm > s.wavelengthNM[i-1] && nm-s.wavelengthNM[i-1] <= mostGapNM) {
			return wrong(fmt.Sprintf("%g nm follows %g nm", nm, s.wavelengthNM[i-1]), fmt.Sprintf("rising wavelengths, at most %d nm apart", mostGapNM))
		}
		if p := s.perNM[i]; !(p >= 0 && p <= math.MaxFloat32) {
			return wrong(fmt.Sprintf("power %g at %g nm", p, nm), "a power that is not negative")
		}
		sum += s.perNM[i]
	}
	for i := range s.widthNM {
		left, right := max(0, i-1), min(n-1, i+1)
		s.widthNM[i] = (s.wavelengthNM[right] - s.wavelengthNM[left]) / 2
		if left == i || right == i {
			s.widthNM[i] *= 2
		}
	}
	if !(sum > 0) {
		return wrong("there is no light in it", "a power above zero somewhere")
	}
	return s, nil
}

// Total is the power over all wavelengths, in the spectrum's own unit.
func (s Spectrum) Total() float64 {
	sum := 0.0
	for i, p := range s.perNM {
		sum += p * s.widthNM[i]
	}
	return sum
}

// Weighted is the power weighed by a hazard function over the samples from one
// wavelength in nm to another, both included: Σ P(λ)·w(λ)·Δλ.
func (s Spectrum) Weighted(h Hazard, fromNM, toNM float64) (float64, error) {
	sum := 0.0
	for i, nm := range s.wavelengthNM {
		w, err := h.Weight(nm)
		if err != nil {
			return math.NaN(), err
		}
		if nm >= fromNM && nm <= toNM {
			sum += s.perNM[i] * w * s.widthNM[i]
		}
	}
	return sum, nil
}

// fineWeighted is the same on a grid of half a nanometre with power linear
// between samples: the distance to [Spectrum.Weighted] over [Spectrum.Total]
// tells what the coarseness of the samples may hide.
func (s Spectrum) fineWeighted(h Hazard, fromNM, toNM float64) (weighted, total float64, err error) {
	const step = 0.5
	for i := 1; i < len(s.wavelengthNM); i++ {
		a, b := s.wavelengthNM[i-1], s.wavelengthNM[i]
		pieces := int(math.Ceil((b - a) / step))
		width := (b - a) / float64(pieces)
		for k := range pieces {
			share := (float64(k) + 0.5) / float64(pieces)
			nm, p := a+(b-a)*share, s.perNM[i-1]+(s.perNM[i]-s.perNM[i-1])*share
			w, err := h.Weight(nm)
			if err != nil {
				return math.NaN(), math.NaN(), err
			}
			total += p * width
			if nm >= fromNM && nm <= toNM {
				weighted += p * w * width
			}
		}
	}
	return weighted, total, nil
}

// LongPass is the spectrum behind an ideal filter that takes everything below a
// wavelength in nm and nothing from there on. NotMeasurable when nothing is left.
func (s Spectrum) LongPass(edgeNM float64) (Spectrum, error) {
	out := Spectrum{s.wavelengthNM, append([]float64{}, s.perNM...), s.widthNM}
	for i, nm := range s.wavelengthNM {
		if nm < edgeNM {
			out.perNM[i] = 0
		}
	}
	if !(out.Total() > 0) {
		return Spectrum{}, &fault.Error{Code: fault.NotMeasurable, Where: "filter", What: fmt.Sprintf("a long-pass filter at %g nm leaves nothing of this light", edgeNM)}
	}
	return out, nil
}

// Luminous efficacy of the 2° observer, a Gaussian that comes within 3 % for
// broad light: 683·1.019·exp(−285.4(λ−0.559)²) lm/W, λ in µm (from memory).
const (
	lumenPerWattPeak   = 683
	photopicHeight     = 1.019
	photopicSharpness  = 285.4
	photopicCentreUM   = 0.559
	photopicErrorShare = 0.03
)

// LumensPerWatt is the luminous efficacy of the light in lm/W, within 3 % for
// broad spectra (a Gaussian stands for V(λ)).
func (s Spectrum) LumensPerWatt() float64 {
	sum := 0.0
	for i, nm := range s.wavelengthNM {
		u := nm/1000 - photopicCentreUM
		sum += s.perNM[i] * s.widthNM[i] * photopicHeight * math.Exp(-photopicSharpness*u*u)
	}
	return lumenPerWattPeak * sum / s.Total()
}

// ParseSpectrum reads a table of wavelength in nm and spectral power, one pair a
// line, separated by comma, semicolon, tab or blanks, with a point as decimal
// mark. Lines that are empty or begin with # are passed over, and so is one line
// of headings before the first number. A semicolon or tab may stand with a
// decimal comma. Text of more than 1 MiB is TooLarge, a line that is no pair
// Malformed.
func ParseSpectrum(text string) (Spectrum, error) {
	if len(text) > mostSpectrumText {
		return Spectrum{}, &fault.Error{Code: fault.TooLarge, Where: "spectrum", What: fmt.Sprintf("%d octets", len(text)), Expected: fmt.Sprintf("at most %d", mostSpectrumText)}
	}
	var nm, power []float64
	headed := false
	for number, line := range strings.Split(strings.TrimPrefix(text, "\ufeff"), "\n") {
		line = strings.TrimSpace(line)
		if line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		a, b, ok := pair(line)
		if !ok {
			if len(nm) == 0 && !headed {
				headed = true
				continue
			}
			return Spectrum{}, &fault.Error{
				Code: fault.Malformed, Where: fmt.Sprintf("spectrum, line %d", number+1), What: fmt.Sprintf("%.40q is no pair of numbers", line),
				Expected: "wavelength in nm and power, for example 450, 0.82",
			}
		}
		nm, power = append(nm, a), append(power, b)
	}
	s, err := NewSpectrum(nm, power)
	if f, is := err.(*fault.Error); is {
		named := *f
		named.Code = fault.Malformed // the file is wrong, not the one who named it
		return s, &named
	}
	return s, err
}

// pair reads two numbers from a line.
func pair(line string) (a, b float64, ok bool) {
	for _, separator := range []string{";", "\t", ","} {
		if left, right, cut := strings.Cut(line, separator); cut {
			if separator != "," {
				left, right = strings.ReplaceAll(left, ",", "."), strings.ReplaceAll(right, ",", ".")
			}
			return twoNumbers(left, right)
		}
	}
	if f := strings.Fields(line); len(f) == 2 {
		return twoNumbers(f[0], f[1])
	}
	return 0, 0, false
}

func twoNumbers(left, right string) (a, b float64, ok bool) {
	a, okA := plainNumber(left)
	b, okB := plainNumber(right)
	return a, b, okA && okB
}

// plainNumber reads a decimal number and nothing that only programs write.
func plainNumber(text string) (float64, bool) {
	text = strings.TrimSpace(text)
	if strings.ContainsAny(text, "xXpP_") {
		return 0, false
	}
	v, err := strconv.ParseFloat(text, 64)
	return v, err == nil && !math.IsNaN(v) && !math.IsInf(v, 0)
}
