package light

import (
	"fmt"
	"math"
	"strings"

	"limitans/estimate"
	"limitans/fault"
)

// Class is a class of lamp.
type Class int

// The classes.
const (
	// Halogen: a glowing wire, modelled as a black body of 3200 K (2800 to 3400).
	Halogen Class = iota
	// Xenon: an arc, modelled as a black body of 5800 K (5000 to 6500).
	Xenon
	// LightEmittingDiode: white, blue with a yellow phosphor; two bands whose
	// shares differ between makes.
	LightEmittingDiode
	// MetalHalide: lines; a mean weight is known behind a 475 nm filter only.
	MetalHalide
	// MercuryVapour: lines; nothing published was found.
	MercuryVapour
)

var classNames = []string{"halogen", "xenon", "led", "metal-halide", "mercury"}

// String is the class's name.
func (c Class) String() string {
	if c < 0 || int(c) >= len(classNames) {
		return "no lamp"
	}
	return classNames[c]
}

// ParseClass reads the name of a class.
func ParseClass(text string) (Class, error) {
	word := strings.ToLower(strings.TrimSpace(text))
	for i, name := range classNames {
		if word == name {
			return Class(i), nil
		}
	}
	return 0, &fault.Error{Code: fault.Invalid, Where: "lamp", What: fmt.Sprintf("%.40q is no class of lamp", text), Expected: strings.Join(classNames, ", ")}
}

// Source is a light by its spectrum, or by its mean weight alone.
type Source struct {
	name     string
	spectra  []Spectrum // the first is the value, the others its spread
	low      float64    // factor below the spread
	high     float64    // factor above the value
	meanA    estimate.Estimate
	filterNM float64 // edge of a long-pass filter, 0 without
	basis    string
	class    Class
	isClass  bool
}

// Factors by which a modelled lamp may miss a real one. Upwards: the mean weights
// that follow from van den Biesen's minutes over those of the model behind the
// same 475 nm filter, 2.1 to 2.6 for halogen and 1.4 to 1.8 for xenon
// (derived). For diodes nothing was published, and the larger one is taken.
// Downwards: ours.
const (
	halogenUp = 2.6
	xenonUp   = 1.9
	modelDown = 1.3
)

// The visible range that lamps are modelled over, as the fibre passes it, in nm.
const (
	modelFromNM = 380
	modelToNM   = 760
)

// Lamp models a lamp of a class without a filter; add one with
// [Source.LongPass]. A class without a model is Unsupported, except that metal
// halide is known behind a 475 nm filter: its mean weight there is asked for
// after LongPass(475).
func Lamp(c Class) (Source, error) {
	s := Source{name: c.String() + " lamp", low: modelDown, class: c, isClass: true}
	switch c {
	case Halogen:
		s.spectra, s.high = []Spectrum{blackBody(3200), blackBody(2800), blackBody(3400)}, halogenUp
		s.basis = "modelled as a black body of 3200 K (2800 to 3400), 380 to 760 nm; published times show such models too mild by up to 2.6 times (van den Biesen 2000, derived)"
	case Xenon:
		s.spectra, s.high = []Spectrum{blackBody(5800), blackBody(5000), blackBody(6500)}, xenonUp
		s.basis = "modelled as a black body of 5800 K (5000 to 6500), 380 to 760 nm; published times show such models too mild by up to 1.8 times (van den Biesen 2000, derived)"
	case LightEmittingDiode:
		s.spectra, s.high = []Spectrum{diode(0.25), diode(0.1), diode(0.35)}, halogenUp
		s.basis = "modelled as a blue band at 450 nm with 25 % (10 to 35) of the power and a phosphor band at 575 nm (shape from memory, no source); no published check"
	case MetalHalide:
		s.basis = "mean weight behind a 475 nm long-pass filter, from published times of two lamps (van den Biesen 2000, derived)"
	default:
		return Source{}, &fault.Error{
			Code: fault.Unsupported, Where: c.String(), What: "no spectrum of this lamp is published",
			Mend: "give a measured spectrum or the mean aphakic weight from the maker",
		}
	}
	return s, nil
}

// blackBody is Planck's law at a temperature in kelvin, per nanometre, at 1 nm.
func blackBody(kelvin float64) Spectrum {
	const c2 = 1.438776877e7 // second radiation constant, nm·K, CODATA 2018
	return modelled(func(nm float64) float64 { return math.Pow(nm/560, -5) / math.Expm1(c2/(nm*kelvin)) })
}

// diode is a blue band of 22 nm and a phosphor band of 125 nm full width at half
// maximum, the blue with its share of the power.
func diode(blueShare float64) Spectrum {
	band := func(nm, centre, width float64) float64 {
		sd := width / (2 * math.Sqrt(2*math.Ln2))
		u := (nm - centre) / sd
		return math.Exp(-u*u/2) / sd
	}
	return modelled(func(nm float64) float64 { return blueShare*band(nm, 450, 22) + (1-blueShare)*band(nm, 575, 125) })
}

func modelled(perNM func(nm float64) float64) Spectrum {
	var s Spectrum
	for nm := modelFromNM; nm <= modelToNM; nm++ {
		s.wavelengthNM = append(s.wavelengthNM, float64(nm))
		s.perNM = append(s.perNM, perNM(float64(nm)))
		s.widthNM = append(s.widthNM, 1)
	}
	return s
}

// Measured is a light whose spectrum was measured at the tip, after every filter.
// Light outside the spectrum counts as none.
func Measured(s Spectrum) (Source, error) {
	if len(s.wavelengthNM) == 0 {
		return Source{}, &fault.Error{Code: fault.Invalid, Where: "spectrum", What: "there is none"}
	}
	first, last := s.wavelengthNM[0], s.wavelengthNM[len(s.wavelengthNM)-1]
	return Source{
		name: "measured spectrum", spectra: []Spectrum{s}, low: 1, high: 1,
		basis: fmt.Sprintf("from the spectrum given, %g to %g nm, light outside it counted as none; the interval holds the coarseness of the samples, not the instrument's own error", first, last),
	}, nil
}

// MeanAphakicWeight is a light of which only the mean weight under A(λ) is
// known, 0 < mean <= 6, with its interval.
func MeanAphakicWeight(mean estimate.Estimate) (Source, error) {
	if !(mean.Low > 0 && mean.Low <= mean.Value && mean.Value <= mean.High && mean.High <= 6) {
		return Source{}, &fault.Error{Code: fault.Invalid, Where: "mean aphakic weight", What: fmt.Sprintf("%g (%g to %g) cannot be", mean.Value, mean.Low, mean.High), Expected: "above 0, up to 6, inside its interval"}
	}
	return Source{name: "light of known mean weight", meanA: mean, basis: mean.Basis}, nil
}

// String describes the light and its filter.
func (s Source) String() string {
	if s.filterNM > 0 {
		return fmt.Sprintf("%s behind a long-pass filter at %g nm", s.name, s.filterNM)
	}
	return s.name
}

// LongPass puts a filter before the light that takes what is below a wavelength
// in nm (390 to 600). A light known by its mean weight alone has no spectrum to
// filter and is Unsupported.
func (s Source) LongPass(edgeNM float64) (Source, error) {
	if !(edgeNM >= 390 && edgeNM <= 600) {
		return Source{}, &fault.Error{Code: fault.Invalid, Where: "filter", What: fmt.Sprintf("an edge at %g nm is no blue filter", edgeNM), Expected: "390 to 600 nm"}
	}
	if s.filterNM > 0 {
		return Source{}, &fault.Error{Code: fault.Invalid, Where: "filter", What: fmt.Sprintf("there is one at %g nm already", s.filterNM)}
	}
	out := s
	out.filterNM = edgeNM
	if s.isClass && s.class == MetalHalide {
		return out, nil
	}
	if len(s.spectra) == 0 {
		return Source{}, &fault.Error{Code: fault.Unsupported, Where: "filter", What: "what a filter does to a light of unknown spectrum is not known", Mend: "give the mean weight behind the filter"}
	}
	out.spectra = make([]Spectrum, len(s.spectra))
	for i, spectrum := range s.spectra {
		var err error
		if out.spectra[i], err = spectrum.LongPass(edgeNM); err != nil {
			return Source{}, err
		}
	}
	out.basis += fmt.Sprintf("; ideal long-pass filter at %g nm", edgeNM)
	return out, nil
}

// MeanWeight is Σ P·w·Δλ / Σ P·Δλ under a hazard function over the wavelengths
// in nm that a basis counts. A light of known mean weight answers for [Aphakic]
// only and is otherwise missing.
func (s Source) MeanWeight(h Hazard, fromNM, toNM float64) (estimate.Estimate, error) {
	if s.isClass && s.class == MetalHalide {
		return s.metalHalide(h)
	}
	if len(s.spectra) == 0 {
		if h != Aphakic {
			return estimate.Missing("the light's spectrum is not known"), nil
		}
		if !s.meanA.Known() || s.meanA.Value == 0 {
			return estimate.Estimate{}, &fault.Error{Code: fault.Invalid, Where: "light", What: "is not told"}
		}
		return s.meanA, nil
	}
	e := estimate.Estimate{Low: math.Inf(1), High: math.Inf(-1), Basis: s.basis}
	for i, spectrum := range s.spectra {
		weighted, err := spectrum.Weighted(h, fromNM, toNM)
		if err != nil {
			return estimate.Estimate{}, err
		}
		fine, total, err := spectrum.fineWeighted(h, fromNM, toNM)
		if err != nil {
			return estimate.Estimate{}, err
		}
		mean := weighted / spectrum.Total()
		if i == 0 {
			e.Value = mean
		}
		e.Low, e.High = math.Min(e.Low, mean), math.Max(e.High, mean)
		if total > 0 {
			e.Low, e.High = math.Min(e.Low, fine/total), math.Max(e.High, fine/total)
		}
	}
	e.Low, e.High = e.Low/s.low, math.Max(e.High, e.Value*s.high)
	return e, nil
}

// metalHalide answers from van den Biesen's minutes.
func (s Source) metalHalide(h Hazard) (estimate.Estimate, error) {
	if h != Aphakic {
		return estimate.Missing("no spectrum of a metal-halide lamp is published"), nil
	}
	if s.filterNM != vanDenBiesenFilterNM {
		return estimate.Estimate{}, &fault.Error{
			Code: fault.Unsupported, Where: "metal-halide", What: "no spectrum of this lamp is published; its mean weight is known behind a 475 nm long-pass filter only",
			Mend: "give a measured spectrum or the mean aphakic weight",
		}
	}
	rows, err := PublishedExposures()
	if err != nil {
		return estimate.Estimate{}, err
	}
	e := estimate.Estimate{Low: math.Inf(1), High: math.Inf(-1), Basis: s.basis}
	sum, n := 0.0, 0.0
	for _, r := range rows {
		if strings.HasPrefix(r.Source, "metal halide") {
			a, err := r.ImpliedMeanWeight()
			if err != nil {
				return estimate.Estimate{}, err
			}
			sum, n = sum+a, n+1
			e.Low, e.High = math.Min(e.Low, a), math.Max(e.High, a)
		}
	}
	e.Value = sum / n
	return e, nil
}

// LumensPerWatt is the luminous efficacy, for turning a measured flux in lumens
// into power, with its interval; missing without a spectrum.
func (s Source) LumensPerWatt() estimate.Estimate {
	if len(s.spectra) == 0 {
		return estimate.Missing("the light's spectrum is not known")
	}
	e := estimate.Estimate{Value: s.spectra[0].LumensPerWatt(), Basis: s.basis + "; V(λ) as a Gaussian, within 3 %"}
	e.Low, e.High = e.Value, e.Value
	for _, spectrum := range s.spectra[1:] {
		l := spectrum.LumensPerWatt()
		e.Low, e.High = math.Min(e.Low, l), math.Max(e.High, l)
	}
	e.Low, e.High = e.Low*(1-photopicErrorShare), e.High*(1+photopicErrorShare)
	return e
}

// PowerMW is the power of a flux in lumens (above 0, up to 200), in mW.
func (s Source) PowerMW(lumens float64) (estimate.Estimate, error) {
	if !(lumens > 0 && lumens <= 200) {
		return estimate.Estimate{}, &fault.Error{Code: fault.Invalid, Where: "flux", What: fmt.Sprintf("%g lm is no probe's", lumens), Expected: "above 0, up to 200 lm"}
	}
	l := s.LumensPerWatt()
	if !l.Known() {
		return l, nil
	}
	return estimate.Estimate{
		Value: lumens / l.Value * 1000, Low: lumens / l.High * 1000, High: lumens / l.Low * 1000,
		Basis: fmt.Sprintf("%g lm over %.0f lm/W (%.0f to %.0f); %s", lumens, l.Value, l.Low, l.High, l.Basis),
	}, nil
}
