package tamponade

import (
	"math"
	"strconv"

	"limitans/estimate"
)

// Spreads of the sampled quantities.
const (
	// betweenEyesSD is the spread of exchange between eyes, as a standard
	// deviation of its logarithm, taken between two derivations. The series of
	// 1992 print ± 2 to 9 % beside their means; as standard errors of about 40
	// eyes a group those are spreads of 15 to 55 %. The range of fill on day 4 in
	// 68 eyes with C3F8, 56 to 86 % (Alberti 2016, abstract), is 4.7 standard
	// deviations wide (the expected range of 68 normal values), 6.4 points; the
	// spread of the fill at the end of surgery below makes 4.9 of them, and the
	// other 4.1 are a spread of 16 % (26 points for each unit of the logarithm).
	betweenEyesSD = 0.25
	// betweenSeriesSD is the disagreement of published means and of the fit:
	// 4.8 (middle of the lenses, 1989) against 6.5 days (1992) for the same
	// mixture is ± 0.15 in the logarithm.
	betweenSeriesSD = 0.15
	// unknownLensSD is the spread of the three lens factors' logarithms.
	unknownLensSD = 0.17
	// longGasSD is the uncertainty of a long-acting gas's conductance beside
	// nitrogen's; noHalfLifeSD replaces it for C2F6, for which no half-life of
	// human eyes was found (ours).
	longGasSD    = 0.10
	noHalfLifeSD = 0.25
	// percentSD is how far a mixture misses its share, relative (ours; mixing
	// that is off by more is a mistake and not a spread).
	percentSD = 0.03
	// DefaultFillSD is how well a surgeon knows the fill at the end of surgery,
	// as a share of the cavity (ours; no source).
	DefaultFillSD = 0.05
	// oxygenSD is the spread of the tissue's oxygen tension, mmHg.
	oxygenSD = 4.0
	// pressureSD is the spread of an eye's pressure, mmHg, where it enters the
	// gas's pressure.
	pressureSD = 3.0
	// contactAreaShare of the paths follow the contact-area law. The published
	// stays fit the volume law, two single eyes followed daily the other (ours).
	contactAreaShare = 0.25
)

// rateSpread is the standard deviation of the logarithm of an eye's exchange.
func rateSpread(lens Lens) float64 {
	spread := math.Hypot(betweenEyesSD, betweenSeriesSD)
	if lens == LensUnknown {
		spread = math.Hypot(spread, unknownLensSD)
	}
	return spread
}

// gapOf says what is missing for a mixture, as an addition to a basis.
func gapOf(m Mixture) string {
	if m.Agent == AgentC2F6 {
		return "; no half-life of human eyes was found for C2F6, the value stands on its solubility and diffusion"
	}
	return ""
}

// logNormal is value with the interval of a log-normal spread.
func logNormal(value, spread float64, basis string) estimate.Estimate {
	factor := math.Exp(estimate.Z95 * spread)
	return estimate.Estimate{Value: value, Low: value / factor, High: value * factor, Basis: basis}
}

// number writes a number as short as it can be.
func number(x float64) string { return strconv.FormatFloat(x, 'g', -1, 64) }
